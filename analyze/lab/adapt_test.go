package lab

import (
	"testing"

	"pgregory.net/rapid"
)

func TestAdaptedToD50(t *testing.T) {
	for _, s := range screenColours {
		c := fromHex(t, s.hex)
		if got := c.Adapted(srgbWhite, screenD50); apart(got, s.d50) > 2e-4 {
			t.Errorf("%s: %v, want %v", s.hex, got, s.d50)
		}
		// CIE's rounded whites, which differ in the fourth figure.
		if got := c.Adapted(D65, D50); apart(got, s.d50) > 0.025 {
			t.Errorf("%s: %v, want %v", s.hex, got, s.d50)
		}
	}
	// The profile holds its figures to 1/65536, so vivid colours differ by up
	// to a hundredth.
	for _, s := range profiled {
		if got := FromSRGB8(s.r, s.g, s.b).Adapted(srgbWhite, iccD50); apart(got, s.d50) > 0.015 {
			t.Errorf("%d %d %d: %v, want %v", s.r, s.g, s.b, got, s.d50)
		}
	}
}

func TestAdaptThereAndBack(t *testing.T) {
	whites := []XYZ{D65, D50, A, C}
	rapid.Check(t, func(t *rapid.T) {
		c := labs().Draw(t, "colour")
		from, to := rapid.SampledFrom(whites).Draw(t, "from"), rapid.SampledFrom(whites).Draw(t, "to")
		if back := c.Adapted(from, to).Adapted(to, from); apart(back, c) > 1e-9 {
			t.Fatalf("%v came back as %v", c, back)
		}
		grey := Lab{L: c.L}
		if got := grey.Adapted(from, to); apart(got, grey) > 1e-9 {
			t.Fatalf("a grey did not stay grey: %v", got)
		}
	})
}

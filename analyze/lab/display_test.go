package lab

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func fromHex(t testing.TB, hex string) Lab {
	t.Helper()
	v, err := strconv.ParseUint(hex[1:], 16, 24)
	if err != nil {
		t.Fatal(err)
	}
	return FromSRGB8(uint8(v>>16), uint8(v>>8), uint8(v))
}

func TestScreenColours(t *testing.T) {
	for _, s := range screenColours {
		got := fromHex(t, s.hex)
		if apart(got, s.d65) > 2e-3 {
			t.Errorf("%s: %v, want %v", s.hex, got, s.d65)
		}
		if got.Hex() != s.hex {
			t.Errorf("%s came back as %s", s.hex, got.Hex())
		}
	}
}

func TestHexRoundTrip(t *testing.T) {
	check := func(r, g, b uint8) {
		r2, g2, b2, outside := FromSRGB8(r, g, b).SRGB8()
		if r2 != r || g2 != g || b2 != b || outside {
			t.Errorf("%d %d %d came back as %d %d %d, outside %v", r, g, b, r2, g2, b2, outside)
		}
	}
	for v := range 256 { // every level of every channel, alone and in grey
		for _, rest := range []uint8{0, 90, 255} {
			check(uint8(v), rest, rest)
			check(rest, uint8(v), rest)
			check(rest, rest, uint8(v))
		}
		check(uint8(v), uint8(v), uint8(v))
	}
	for r := 0; r < 256; r += 17 {
		for g := 0; g < 256; g += 15 {
			for b := 0; b < 256; b += 17 {
				check(uint8(r), uint8(g), uint8(b))
			}
		}
	}
}

func TestLinearRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := labs().Draw(t, "colour")
		if back := FromLinear(c.Linear()); apart(back, c) > 1e-5 {
			t.Fatalf("%v came back as %v", c, back)
		}
		v := rapid.Float64Range(0, 1).Draw(t, "component")
		if back := EncodeSRGB(DecodeSRGB(v)); math.Abs(back-v) > 1e-6 {
			t.Fatalf("component %v came back as %v", v, back)
		}
	})
}

// A colour is outside if and only if a linear component is beyond the screen
// by more than half an encoded step.
func TestOutsideFlag(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := labs().Draw(t, "colour")
		r, g, b := c.Linear()
		want := false
		for _, v := range []float64{r, g, b} {
			e := EncodeSRGB(v) * 255
			want = want || e < -0.5 || e > 255.5
		}
		if _, _, _, outside := c.SRGB8(); outside != want {
			t.Fatalf("%v (linear %v %v %v): outside %v", c, r, g, b, outside)
		}
	})
	for _, tc := range []struct {
		c       Lab
		hex     string
		outside bool
	}{
		{Lab{100, 0, 0}, "#ffffff", false},
		{Lab{0, 0, 0}, "#000000", false},
		{Lab{110, 0, 0}, "#ffffff", true},
		{FromLinear(1.2, -0.1, 0.5), "#ff00bc", true}, // linear .5 encodes to 188
		{Lab{math.NaN(), 0, 0}, "#000000", true},
	} {
		_, _, _, outside := tc.c.SRGB8()
		if outside != tc.outside {
			t.Errorf("%v: outside %v", tc.c, outside)
		}
		if tc.c.Hex() != tc.hex {
			t.Errorf("%v shows as %s, want %s", tc.c, tc.c.Hex(), tc.hex)
		}
	}
}

package draw

import (
	"bytes"
	"encoding/xml"
	"image/png"
	"io"
	"strings"
	"testing"

	"paintout/cmd/internal/plan"
)

func washesFixture(t *testing.T) *plan.WashMixResult {
	t.Helper()
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	r, err := plan.MixWash(plan.Settings{}, "PB29:2,PR101:1", plan.WashAsk{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The page shows each wash in its colour on the ground, and the graded one from
// the first of them to the last.
func TestWashesPage(t *testing.T) {
	r := washesFixture(t)
	var b bytes.Buffer
	if err := WashesPNG(&b, r); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	size := img.Bounds().Size()
	near := func(x, y float64, hex string) {
		t.Helper()
		got := at(img, int(x*float64(size.X)), int(y*float64(size.Y)))
		want := rgb(hex)
		for _, d := range []int{int(got.R) - int(want.R), int(got.G) - int(want.G), int(got.B) - int(want.B)} {
			if d < -3 || d > 3 {
				t.Errorf("at %.2f, %.2f the page is %s, the wash %s", x, y, hexOf(got), hex)
				return
			}
		}
	}
	for i, w := range r.Washes {
		near(0.096+float64(i)*0.1155, 0.6, w.Hex)
	}
	near(0.045, 0.25, r.Washes[0].Hex)
	near(0.955, 0.25, r.Washes[len(r.Washes)-1].Hex)
	near(0.5, 0.4, r.Scale.GroundHex)

	b.Reset()
	if err := WashesSVG(&b, r); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "Washes of 2 ultramarine blue + 1 light red") {
		t.Error("the SVG has no title")
	}
	for d := xml.NewDecoder(&b); ; {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, r := range []*plan.WashMixResult{nil, {}} {
		if err := WashesPNG(io.Discard, r); err == nil {
			t.Errorf("%v is drawn", r)
		}
	}
}

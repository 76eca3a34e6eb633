package inventory

import (
	"math"
	"strings"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

func TestLightfastBand(t *testing.T) {
	for _, c := range []struct {
		words, medium string
		band          int
	}{
		{"ASTM I", "", 1},
		{"I", "oil", 1},
		{"ASTM II; grades differ", "acrylic", 2},
		{"ASTM I to II, by grade", "", 2},
		{"ASTM III in oil, III to IV in watercolour: fugitive, fades in tints", "", 3},
		{"ASTM III in oil, III to IV in watercolour: fugitive, fades in tints", "watercolour", 4},
		{"ASTM I in oil and acrylic; III in watercolour, disputed", "oil", 1},
		{"ASTM I in oil and acrylic; III in watercolour, disputed", "gouache", 3},
		{"not recommended; darkens", "", Fugitive},
		{"fugitive", "oil", Fugitive},
		{"V", "", Fugitive},
		{"excellent", "", 0},
		{"", "", 0},
		{"Vivid, It lasts", "", 0},
	} {
		if got := LightfastBand(c.words, c.medium); got != c.band {
			t.Errorf("%q in %q: %d, want %d", c.words, c.medium, got, c.band)
		}
	}
	for _, p := range Library() {
		if LightfastBand(p.Lightfast, "") == 0 && p.Key() != "PR177" { // whose makers' tests disagree
			t.Errorf("%s: nothing is read from %q", p.Key(), p.Lightfast)
		}
	}
}

// Alizarin crimson is the trade's example of a colour that fades, and
// quinacridone and pyrrole or perylene reds are what is named in its place
// (J. Gurney, Lightfastness and alizarin crimson, 2010, names substitutes of
// that kind). The nearest is found by trying all with other code.
func TestLastingFor(t *testing.T) {
	alizarin := mustFind("PR83").Tube()
	got := LastingFor(alizarin)
	if got == nil {
		t.Fatal("alizarin crimson is not warned of")
	}
	if band := LightfastBand(got.Lightfast, ""); band < 1 || band > 2 {
		t.Errorf("%s in its place has category %d", got.Key(), band)
	}
	if !strings.HasSuffix(got.Family, "red") {
		t.Errorf("%s, a %s, in place of a red", got.Key(), got.Family)
	}
	// By other means: reflectances mixed and read here.
	white := mustFind("PW6").Paint
	look := func(p *optics.Paint) (mass, tint lab.Lab) {
		r := p.Reflectance(optics.Included)
		best := 0.0
		for share := 0.0005; share < 1; share += 0.0005 {
			m := optics.Mix([]*optics.Paint{p, &white}, []float64{share, 1 - share})
			q := m.Reflectance(optics.Included)
			if c := q.Lab(optics.D65); best == 0 || math.Abs(c.L-75) < best {
				best, tint = math.Abs(c.L-75)+1e-12, c
			}
		}
		return r.Lab(optics.D65), tint
	}
	mass, tint := look(&alizarin.Paint)
	for _, p := range Library() {
		m, n := look(&p.Paint)
		if m.L > 65 { // let down otherwise; far from a dark red in any case
			continue
		}
		d := lab.DE00(mass, m) + lab.DE00(tint, n)
		if band := LightfastBand(p.Lightfast, ""); band >= 1 && band <= 2 && d < got.Masstone+got.Tint-0.2 {
			t.Errorf("%s lies %.2f away, nearer than %s: %.2f", p.Key(), d, got.Key(), got.Masstone+got.Tint)
		}
	}
	if LastingFor(mustFind("PB29").Tube()) != nil {
		t.Error("ultramarine is said to fade")
	}
}

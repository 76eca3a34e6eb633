package plan

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/photo"
)

func TestParseFilm(t *testing.T) {
	for s, want := range map[string]float64{
		"brush": 108, "Knife": 500, "150um": 150, "150 µm": 150, "0.3mm": 300, "gouache": 108,
	} {
		if f, err := ParseFilm(s); err != nil || math.Abs(f.Microns-want) > 1e-9 {
			t.Errorf("%q: %v, %v", s, f, err)
		}
	}
	for _, s := range []string{"", "thick", "3", "1um", "2m", "20mm", "NaNum", "watercolour", "-5um"} {
		if f, err := ParseFilm(s); err == nil {
			t.Errorf("%q is read as %v", s, f)
		}
	}
}

// The paint of all piles is what lies on the canvas with the margin, apart from
// piles made larger to be worth mixing; each pile's parts and each tube's piles
// add up.
func TestMeasureOut(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		canvas := photo.Canvas{Width: rapid.Float64Range(100, 2000).Draw(rt, "w"), Height: rapid.Float64Range(100, 2000).Draw(rt, "h")}
		film := Film{"knife", rapid.Float64Range(20, 2000).Draw(rt, "film")}
		left := rapid.Float64Range(0, 100).Draw(rt, "left")
		p := &Plan{Box: Box{Tubes: []Tube{{Name: "white", SizeML: 40}, {Name: "blue", SizeML: 40, LeftML: &left}, {Name: "red"}, {Name: "idle", SizeML: 10}}}}
		shares := rapid.SliceOfN(rapid.Float64Range(0.001, 1), 1, 12).Draw(rt, "shares")
		sum := 0.0
		for _, s := range shares {
			sum += s
		}
		part := rapid.Float64Range(1, 32)
		for i, s := range shares {
			m := Mass{ID: i + 1, Share: s / sum}
			for range 2 {
				m.Recipes = append(m.Recipes, Recipe{Parts: []Part{
					{Tube: "white", Parts: part.Draw(rt, "parts")}, {Tube: "blue", Parts: part.Draw(rt, "parts")}, {Tube: "red", Parts: part.Draw(rt, "parts")},
				}})
			}
			m.Recipes[1].Suggested = true
			p.Masses = append(p.Masses, m)
		}
		p.measureOut(&canvas, film)
		bare := canvas.Width * canvas.Height * film.Microns / 1e6 * 1.3 // mm² × µm is 1e-6 ml
		if p.Quantities.ML < bare-0.06 || p.Quantities.ML > bare+0.5*float64(len(shares))+0.06 {
			rt.Errorf("%.2f ml for %.2f on the canvas and over", p.Quantities.ML, bare)
		}
		need := map[string]float64{}
		for _, m := range p.Masses {
			if want := max(0.5, bare*m.Share); math.Abs(m.ML-want) > 1e-3 {
				rt.Errorf("mass %d: %v ml, want %v", m.ID, m.ML, want)
			}
			for _, r := range m.Recipes {
				total := 0.0
				for _, q := range r.Parts {
					total += q.ML
					if r.Suggested {
						need[q.Tube] += q.ML
					}
				}
				if math.Abs(total-m.ML) > 0.003 {
					rt.Errorf("the parts of mass %d hold %v of %v ml", m.ID, total, m.ML)
				}
			}
		}
		if len(p.Squeeze) != 3 {
			rt.Fatalf("%d tubes to squeeze", len(p.Squeeze))
		}
		for _, s := range p.Squeeze {
			if math.Abs(s.ML-need[s.Tube]) > 0.03 {
				rt.Errorf("%s: %v ml, its piles hold %v", s.Tube, s.ML, need[s.Tube])
			}
			// A bead of so many cm, 7 mm wide.
			if ml := s.BeadCM * math.Pi * 0.35 * 0.35; math.Abs(ml-s.ML) > 0.03 {
				rt.Errorf("a bead of %v cm holds %v ml, not %v", s.BeadCM, ml, s.ML)
			}
			has := map[string]float64{"white": 40, "blue": left}
			switch cap, known := has[s.Tube]; {
			case known != (s.Enough != nil):
				rt.Errorf("%s: enough is %v", s.Tube, s.Enough)
			case known && math.Abs(need[s.Tube]-cap) > 0.03 && *s.Enough != (need[s.Tube] < cap):
				rt.Errorf("%s: %v of %v ml is enough: %v", s.Tube, s.ML, cap, *s.Enough)
			case known && !*s.Enough && !strings.Contains(strings.Join(p.Warnings, " "), s.Tube+" will not do"):
				rt.Errorf("nothing is said of too little %s", s.Tube)
			}
		}
	})
	p := &Plan{Masses: []Mass{{Share: 1}}}
	p.measureOut(nil, Film{"knife", 500})
	p.measureOut(&photo.Canvas{Width: 300, Height: 400}, Film{})
	if p.Quantities != nil || p.Masses[0].ML != 0 {
		t.Error("measured out without a canvas or a film")
	}
}

package recipe

import (
	"context"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// A wash without end of water leaves the paper, undiluted colour in coat on coat
// comes to the masstone, and more water is never darker.
func TestWashLimits(t *testing.T) {
	paper := WhitePaper.Lab(optics.D65)
	if paper.L < 94 || paper.L > 97 || paper.Chroma() > 4 {
		t.Errorf("white paper is %v", paper)
	}
	p := tubesOf(t, "PB29", "PR101", "PY43", "PBk9", "PG7")
	fit := p.WashRange(Washing{})
	if white := fit.Aim(lab.Lab{L: 100}); lab.DE00(white, paper) > 0.02 {
		t.Errorf("a photo's white becomes %v, the paper is %v", white, paper)
	}
	if _, black := p.Wash([]Part{{3, 1}}, 0, Washing{}); fit.Dark.Y > black.XYZ(lab.D65).Y+1e-9 {
		t.Errorf("a photo's black becomes Y %.3f, though undiluted black has %.3f", fit.Dark.Y, black.XYZ(lab.D65).Y)
	}
	for i := range p.Tubes {
		parts := []Part{{i, 1}}
		if _, c := p.Wash(parts, 1e9, Washing{}); lab.DE00(c, paper) > 1e-4 {
			t.Errorf("%s, no colour left: %v, the paper is %v", p.Tubes[i].Name, c, paper)
		}
		_, mass := p.Mix(parts)
		if _, c := p.Wash(parts, 0, Washing{Thickness: 1e5}); lab.DE00(c, mass) > 1e-3 {
			t.Errorf("%s, very thick: %v, the masstone is %v", p.Tubes[i].Name, c, mass)
		}
		series := p.WashSeries(parts, Waters, Washing{}, KnifeError)
		for j := 1; j < len(series); j++ {
			if series[j].Lab.L <= series[j-1].Lab.L {
				t.Errorf("%s with %v of water is darker than with %v", p.Tubes[i].Name, series[j].Water, series[j-1].Water)
			}
			if series[j].Off.P90 <= 0 || math.Abs(series[j].Thickness*(1+series[j].Water)-Undiluted) > 1e-9 {
				t.Errorf("step %d: %+v", j, series[j])
			}
		}
	}
}

// Washes over white and black against layers solved as the differential equation
// of the two fluxes (12 watercolours of Curtis et al., SIGGRAPH 1997, solved with
// SciPy). Their layers have no surface, so that of the film is taken off again.
func TestWashesOfPublishedLayers(t *testing.T) {
	dir, err := filepath.Abs(".")
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]string
	for ; dir != filepath.Dir(dir); dir = filepath.Dir(dir) {
		f, err := os.Open(filepath.Join(dir, "shared/data/reference/curtis1997_km_layer_ode.csv"))
		if err != nil {
			continue
		}
		defer f.Close()
		if rows, err = csv.NewReader(f).ReadAll(); err != nil {
			t.Fatal(err)
		}
		break
	}
	if rows == nil {
		t.Skip("no shared folder with the layers beside the project")
	}
	num := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for _, row := range rows[1:] {
		k, s := num(row[2]), num(row[3])
		p, err := NewPalette([]*inventory.Tube{{Name: row[0], Paint: optics.Paint{K: optics.Flat(k), S: optics.Flat(s)}}}, optics.Included)
		if err != nil {
			t.Fatal(err)
		}
		for col, inside := range map[int]float64{4: 1, 5: 0} {
			ground := optics.DrySurface.Seen(optics.Flat(inside), optics.Included)
			r, _ := p.Wash([]Part{{0, 3}}, 1, Washing{Ground: &ground, Thickness: 2}) // a layer of thickness 1
			// A surface holds back what is darker than 1e-4 inside: the black ground.
			if got := optics.DrySurface.Internal(r[15], optics.Included); math.Abs(got-num(row[col])) > 2e-4 {
				t.Errorf("%s %s over %v: %.6f, by the equation %s", row[0], row[1], inside, got, row[col])
			}
		}
	}
}

// The washes found are those of trying every ratio and dilution by themselves.
func TestWashesEqualBruteForce(t *testing.T) {
	p := tubesOf(t, "PW6", "PB29", "PR101", "PY43")
	aims := []lab.Lab{{L: 70, A: -5, B: -25}, {L: 60, A: 20, B: 25}, {L: 85, A: 0, B: 20}, {L: 40, A: -10, B: 10}}
	got, err := p.Washes(context.Background(), aims, Washing{}, 0)
	if err != nil {
		t.Fatal(err)
	}
	for a, aim := range aims {
		one, two := math.Inf(1), math.Inf(1)
		try := func(best *float64, parts ...Part) {
			for _, n := range append(slices.Clone(Ladder), 0, 48, 64, 96, 128) {
				_, c := p.Wash(parts, float64(n), Washing{})
				*best = min(*best, lab.DE00(aim, c))
			}
		}
		for x := 1; x < 4; x++ {
			try(&one, Part{x, 1})
			for y := x + 1; y < 4; y++ {
				for _, u := range Ladder {
					for _, v := range Ladder {
						try(&two, Part{x, float64(u)}, Part{y, float64(v)})
					}
				}
			}
		}
		for _, w := range got[a] {
			want := one
			if w.Choice == TwoTubes {
				want = two
			}
			if math.Abs(w.Off.Nominal-want) > 1e-9 {
				t.Errorf("aim %d, %s: %.6f, by brute force %.6f", a, w.Choice, w.Off.Nominal, want)
			}
		}
		if n := got[a][0].Off.Nominal; math.Abs(n-min(one, two)) > 1e-9 {
			t.Errorf("aim %d: nearest %.6f, by brute force %.6f", a, n, min(one, two))
		}
	}
}

// A wash read gives back how thick it lay, and a ground the colour asked for.
func TestReadWashAndGround(t *testing.T) {
	p := tubesOf(t, "PB29", "PBr7/burnt sienna")
	rapid.Check(t, func(rt *rapid.T) {
		thick := rapid.Float64Range(0.5, 20).Draw(rt, "thickness")
		water := rapid.Float64Range(0, 40).Draw(rt, "water")
		parts := []Part{{0, 1}, {1, rapid.Float64Range(0.1, 3).Draw(rt, "sienna")}}
		_, seen := p.Wash(parts, water, Washing{Thickness: thick})
		w, left, err := p.ReadWash(parts, water, seen, Washing{})
		if err != nil {
			rt.Fatal(err)
		}
		if math.Abs(w.Thickness/thick-1) > 1e-3 || left > 1e-3 || !w.Read {
			rt.Errorf("a wash %.3f thick was read as %.3f, %.4f left over", thick, w.Thickness, left)
		}
		c := lab.Lab{L: rapid.Float64Range(45, 95).Draw(rt, "L"), A: rapid.Float64Range(-4, 6).Draw(rt, "a"), B: rapid.Float64Range(-4, 14).Draw(rt, "b")}
		g, err := GroundOf(c)
		if err != nil {
			return
		}
		if got := g.Lab(optics.D65); lab.DE00(got, c) > 1e-6 {
			rt.Errorf("a ground of %v shows %v", c, got)
		}
	})
	for _, c := range []lab.Lab{{L: 100}, {L: 5}, {L: 60, A: 60, B: 40}} {
		if _, err := GroundOf(c); err == nil {
			t.Errorf("%v is taken for a ground", c)
		}
	}
	if _, _, err := p.ReadWash([]Part{{0, 1}}, 4, lab.Lab{L: 99}, Washing{}); err == nil {
		t.Error("a wash lighter than its paper is read")
	}
	if _, _, err := p.ReadWash([]Part{{0, 1}}, -1, lab.Lab{L: 60}, Washing{}); err == nil {
		t.Error("less than no water")
	}
}

package plan

import (
	"math"
	"slices"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/recipe"
)

// turned is how far b lies from a round the hue circle of 100, against the clock
// above 0.
func turned(a, b float64) float64 { return math.Mod(b-a+150, 100) - 50 }

// The four unique hues stand where observers put them in the notation: within
// 5RP–10R, 2.5Y–10Y, 10GY–10G and 5B–10PB (from memory of several studies with
// the notation's samples), in that order round the circle.
func TestUniqueHues(t *testing.T) {
	within := map[string][2]float64{"red": {95, 110}, "yellow": {22.5, 30}, "green": {40, 50}, "blue": {65, 80}}
	for _, u := range uniqueHues {
		span := within[u.Name]
		h := u.Hue
		if h < span[0] {
			h += 100
		}
		if h < span[0] || h > span[1] {
			t.Errorf("unique %s stands at %.1f, want %v", u.Name, u.Hue, span)
		}
	}
}

// Every paint of the library lies on the side of its family that its lean says,
// wherever it leans clearly toward a unique hue from another.
func TestLeanIsSeenOnTheWheel(t *testing.T) {
	white, err := inventory.Find("PW6")
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]float64{}
	for _, u := range uniqueHues {
		at[u.Name] = u.Hue
	}
	s := shop{}
	judged := 0
	for _, p := range inventory.Library() {
		home, ok := at[p.Lean.Family]
		to, leans := at[p.Lean.Toward]
		if !ok || !leans || p.Lean.Strength != "clear" {
			continue
		}
		judged++
		k := s.streak(1, p.Tube(), &white.Paint)
		// Judged where LeanOf judges: by the masstone, or in the dark and for
		// blues by the tint.
		q := k.Streak[0]
		if q.Lab.L < darkStart || p.Lean.Family == "blue" {
			q = k.Streak[len(k.Streak)-1]
		}
		if turned(home, q.Hue)*turned(home, to) < 0 {
			t.Errorf("%s is %s, and stands at %.1f beside %.1f", p.Name, p.Lean.Words, q.Hue, home)
		}
	}
	if judged < 15 {
		t.Errorf("only %d paints were judged", judged)
	}
}

// A streak starts at the masstone, grows lighter, and marks its highest chroma.
func TestStreaks(t *testing.T) {
	w := opened(t)
	v := w.Wheel()
	if len(v.Tubes) != len(w.Palette.Tubes) {
		t.Fatalf("%d streaks of %d tubes", len(v.Tubes), len(w.Palette.Tubes))
	}
	for i, k := range v.Tubes {
		_, mass := w.Palette.Mix([]recipe.Part{{Tube: i, Parts: 1}})
		if lab.DE76(k.Streak[0].Lab, mass) > 1e-9 || k.Number != i+1 {
			t.Errorf("%s starts at %v, and its masstone is %v", k.Name, k.Streak[0].Lab, mass)
		}
		for j, q := range k.Streak {
			if j > 0 && q.Lab.L <= k.Streak[j-1].Lab.L {
				t.Errorf("%s grows no lighter at %d", k.Name, j)
			}
			if q.Chroma > k.Streak[k.Tip].Chroma {
				t.Errorf("%s has more chroma at %d than at its tip", k.Name, j)
			}
			n, err := q.Lab.Notation()
			if err != nil || math.Abs(turned(n.Hue, q.Hue)) > 0.01 && n.Chroma > 0.1 || math.Abs(n.Chroma-q.Chroma) > 0.001 {
				t.Errorf("%s at %d is placed at %.2f/%.2f, and is %v", k.Name, j, q.Hue, q.Chroma, n)
			}
		}
		if last := k.Streak[len(k.Streak)-1].Lab.L; k.Kind != White && mass.L < letDownTo-nearlyThat && math.Abs(last-letDownTo) > 0.01 {
			t.Errorf("%s is let down to L* %.2f, want %.0f", k.Name, last, letDownTo)
		}
	}
}

// Joins are what they say: the ladder's nearest to neutral among middle values.
// Ultramarine with burnt umber or burnt sienna is the landscape painter's grey,
// and red with green (common practice, no source).
func TestJoins(t *testing.T) {
	w := opened(t, "PW6", "PB29", "PBr7/burnt umber", "PR254", "PG7", "PY184")
	v := w.Wheel()
	for _, j := range v.Joins {
		at := func(a, b, white float64) lab.Lab {
			parts := []recipe.Part{{Tube: j.A - 1, Parts: a}, {Tube: j.B - 1, Parts: b}}
			if white > 0 {
				parts = append(parts, recipe.Part{Tube: 0, Parts: white})
			}
			_, c := w.Palette.Mix(parts)
			return c
		}
		white := 0.0
		if len(j.Parts) > 2 {
			white = j.Parts[2].Parts
		}
		if c := at(j.Parts[0].Parts, j.Parts[1].Parts, white); lab.DE76(c, j.Lab) > 1e-9 || math.Abs(c.Chroma()-j.Chroma) > 0.006 {
			t.Errorf("%d and %d: %v give %v, and it says %v", j.A, j.B, j.Parts, c, j.Lab)
		}
		for _, a := range recipe.Ladder {
			for _, b := range recipe.Ladder {
				for _, q := range append([]int{0}, recipe.Ladder...) {
					if c := at(float64(a), float64(b), float64(q)); c.L >= joinDark && c.L <= joinLight && c.Chroma() < j.Lab.Chroma()-1e-9 {
						t.Fatalf("%d and %d at %d : %d : %d have C* %.2f, less than %.2f", j.A, j.B, a, b, q, c.Chroma(), j.Lab.Chroma())
					}
				}
			}
		}
		least := slices.MinFunc(j.Path, func(p, q Place) int { return cmpFloat(p.Lab.Chroma(), q.Lab.Chroma()) })
		if lab.DE00(j.Path[j.Middle].Lab, j.Lab) > 0.1 || least.Lab.Chroma() < j.Lab.Chroma()/2-1 {
			t.Errorf("%d and %d: the way passes %v, its middle is %v, and the mix is %v", j.A, j.B, least.Lab, j.Path[j.Middle].Lab, j.Lab)
		}
	}
	for _, p := range [][2]int{{2, 3}, {4, 5}} {
		if v.Tubes[p[0]-1].Opposite != p[1] {
			t.Errorf("%s is greyed by number %d, want %s", v.Tubes[p[0]-1].Name, v.Tubes[p[0]-1].Opposite, v.Tubes[p[1]-1].Name)
		}
	}
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// A wheel of more tubes than it can show says so; one tube, or white alone, is
// a wheel too.
func TestWheelLimits(t *testing.T) {
	var all []string
	for _, p := range inventory.Library() {
		all = append(all, p.Key())
	}
	v := opened(t, all...).Wheel()
	if len(v.Tubes) != MaxWheel || v.Of != len(all) {
		t.Errorf("%d of %d tubes are shown, and it says of %d", len(v.Tubes), len(all), v.Of)
	}
	for _, one := range []string{"PB29", "PW6"} {
		if v := opened(t, one).Wheel(); len(v.Tubes) != 1 || len(v.Joins) != 0 {
			t.Errorf("a wheel of %s has %d tubes and %d joins", one, len(v.Tubes), len(v.Joins))
		}
	}
}

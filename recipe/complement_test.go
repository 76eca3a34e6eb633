package recipe

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"paintout/inventory"
	"paintout/inventory/optics"
)

// tubeOf is the place of a pigment in a palette.
func tubeOf(t testing.TB, p *Palette, code string) int {
	t.Helper()
	i := slices.IndexFunc(p.Tubes, func(x *inventory.Tube) bool { return slices.Contains(x.CI, code) })
	if i < 0 {
		t.Fatalf("no %s in the palette", code)
	}
	return i
}

func complementCodes(p *Palette, list []Complement) (out []string) {
	for _, c := range list {
		if c.Neutral {
			out = append(out, p.Tubes[c.Tube].CI[0])
		}
	}
	return out
}

// Pairs that painters grey with each other (common practice, no source), and
// pairs that they do not.
func TestComplementsOfTheTrade(t *testing.T) {
	p := palette(t, optics.Included, "PW6", "PY184", "PO20", "PR254", "PV19", "PBr7/burnt sienna", "PBr7/burnt umber", "PB29", "PB15:4", "PB36:1", "PG7", "PV23", "PBk9")
	for _, c := range []struct {
		tube      string
		with, not []string
	}{
		{"PR254", []string{"PG7"}, []string{"PY184", "PO20", "PV19", "PBk9", "PW6"}},
		{"PB29", []string{"PBr7/burnt sienna", "PBr7/burnt umber"}, []string{"PB15:4", "PV23", "PBk9"}},
		{"PO20", []string{"PB36:1"}, []string{"PY184", "PR254"}},
		{"PY184", []string{"PV23"}, []string{"PO20", "PG7", "PBk9"}},
	} {
		list, err := p.Complements(tubeOf(t, p, c.tube))
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range list {
			t.Logf("%s: %s", c.tube, x.Words())
		}
		got := complementCodes(p, list)
		for _, w := range c.with {
			if !slices.Contains(got, w) {
				t.Errorf("%s is not greyed by %s, but by %v", c.tube, w, got)
			}
		}
		for _, n := range c.not {
			if slices.Contains(got, n) {
				t.Errorf("%s is called a complement of %s", n, c.tube)
			}
		}
		if !slices.IsSortedFunc(list, func(a, b Complement) int {
			if a.Chroma() < b.Chroma() {
				return -1
			}
			return 1
		}) {
			t.Errorf("%s: out of order", c.tube)
		}
	}
}

// What is said of a complement is so, nothing on the ladder is nearer neutral,
// and it goes both ways.
func TestComplementsByBruteForce(t *testing.T) {
	p := palette(t, optics.Excluded, "PW6", "PR254", "PB29", "PG7", "PBr7/burnt sienna")
	for a := 1; a < len(p.Tubes); a++ {
		list, err := p.Complements(a)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range list {
			middle, dark := math.Inf(1), math.Inf(1)
			each(2, func(parts [3]int) {
				pair := []Part{{a, float64(parts[0])}, {c.Tube, float64(parts[1])}}
				_, m := p.Mix(pair)
				dark = min(dark, m.Chroma())
				if m.L >= midDark && m.L <= midLight {
					middle = min(middle, m.Chroma())
				}
				for _, w := range append(slices.Clone(Ladder), WhiteLadder...) {
					if _, m := p.Mix(append(slices.Clone(pair), Part{0, float64(w)})); m.L >= midDark && m.L <= midLight {
						middle = min(middle, m.Chroma())
					}
				}
			})
			if math.Abs(c.Dark.Lab.Chroma()-dark) > 1e-9 || math.Abs(c.Middle.Lab.Chroma()-middle) > 1e-9 {
				t.Errorf("%s: C* %.3f and %.3f, by brute force %.3f and %.3f", c.Words(), c.Middle.Lab.Chroma(), c.Dark.Lab.Chroma(), middle, dark)
			}
			back, err := p.Complements(c.Tube)
			if err != nil {
				t.Fatal(err)
			}
			if !slices.ContainsFunc(back, func(d Complement) bool {
				return d.Tube == a && math.Abs(d.Chroma()-c.Chroma()) < 1e-9
			}) {
				t.Errorf("%s greys %s but not the other way round", p.Tubes[c.Tube].Name, p.Tubes[a].Name)
			}
		}
	}
}

func TestComplementRefusesGreys(t *testing.T) {
	p := palette(t, optics.Included, "PW6", "PBk9", "PR254")
	for _, tube := range []int{0, 1, -1, 3} {
		if _, err := p.Complements(tube); err == nil {
			t.Errorf("tube %d was taken for a colour", tube)
		}
	}
	if list, err := p.Complements(2); err != nil || len(list) > 0 {
		t.Errorf("black and white grey a red: %v %v", list, err)
	}
	// Without white there is no middle grey to speak of, but a dark one.
	dark := palette(t, optics.Included, "PR254", "PG7")
	list, err := dark.Complements(0)
	if err != nil || len(list) != 1 || list[0].Middle != nil || list[0].Dark.Lab.L > 35 {
		t.Errorf("red and green without white: %+v %v", list, err)
	}
}

func ExamplePalette_Complements() {
	var tubes []*inventory.Tube
	for _, code := range []string{"PW6", "PB29", "PBr7/burnt sienna", "PY184"} {
		p, _ := inventory.Find(code)
		tubes = append(tubes, p.Tube())
	}
	p, _ := NewPalette(tubes, optics.Included)
	list, _ := p.Complements(1)
	for _, c := range list {
		fmt.Println(c.Words())
	}
	// Output:
	// burnt sienna greys it: titanium white 8 to burnt sienna 3 to ultramarine blue 2, chroma 3 at value 6.3; without white burnt sienna 2 to ultramarine blue 3, chroma 3 at value 2.5.
	// bismuth yellow knocks it back, not to neutral: titanium white 12 to bismuth yellow 3 to ultramarine blue 8, chroma 16 at value 6.2; without white bismuth yellow 3 to ultramarine blue 16, chroma 11 at value 3.0.
}

package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

func opened(t testing.TB, only ...string) *Workspace {
	t.Helper()
	t.Setenv("XDG_CONFIG_HOME", t.TempDir()) // no saved box
	w, err := Open(Settings{Only: only})
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// unevenness is how far the largest step exceeds the smallest, and the sum of
// the steps' squares.
func unevenness(c []lab.Lab) (gap, squares float64) {
	lo, hi := math.Inf(1), 0.0
	for i := 1; i < len(c); i++ {
		d := lab.DE00(c[i-1], c[i])
		lo, hi = min(lo, d), max(hi, d)
		squares += d * d
	}
	return hi - lo, squares
}

// Of every choice that keeps the ends and the order, none is more even.
func TestEvenlyIsBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := make([]lab.Lab, rapid.IntRange(2, 11).Draw(t, "colours"))
		for i := range c {
			c[i] = lab.Lab{
				L: rapid.Float64Range(10, 95).Draw(t, "L"),
				A: rapid.Float64Range(-60, 60).Draw(t, "a"),
				B: rapid.Float64Range(-60, 80).Draw(t, "b"),
			}
		}
		n := rapid.IntRange(2, len(c)).Draw(t, "steps")
		got := evenly(c, n)
		if len(got) != n || got[0] != 0 || got[n-1] != len(c)-1 || !slices.IsSorted(got) || len(slices.Compact(slices.Clone(got))) != n {
			t.Fatalf("picked %v of %d, want %d with both ends", got, len(c), n)
		}
		of := func(at []int) []lab.Lab {
			var out []lab.Lab
			for _, i := range at {
				out = append(out, c[i])
			}
			return out
		}
		gap, squares := unevenness(of(got))
		var try func(at []int)
		try = func(at []int) {
			if len(at) == n-1 {
				all := append(slices.Clone(at), len(c)-1)
				if g, s := unevenness(of(all)); g < gap-1e-9 || g < gap+1e-9 && s < squares-1e-6 {
					t.Fatalf("%v has steps %.4f apart (squares %.3f), and %v was picked with %.4f (%.3f)", all, g, s, got, gap, squares)
				}
				return
			}
			for i := at[len(at)-1] + 1; i < len(c)-1; i++ {
				try(append(at, i))
			}
		}
		try([]int{0})
	})
}

// The ladder's ratios of two tubes are the 29 that package recipe counts, with
// either tube alone at the ends, each once and in order.
func TestRatios(t *testing.T) {
	for _, more := range [][]int{nil, recipe.WhiteLadder} {
		all := ratios(more...)
		if len(more) == 0 && len(all) != 29+2 {
			t.Errorf("%d ratios, want 29 and the two ends", len(all))
		}
		for i, r := range all {
			if i > 0 {
				if p := all[i-1]; p[1]*r[0] >= r[1]*p[0] {
					t.Errorf("%v comes before %v", p, r)
				}
			}
			if r[0] > 0 && r[1] > 0 && !onLadder(float64(r[0]), float64(r[1])) {
				t.Errorf("%v is not on the ladder", r)
			}
		}
	}
}

// onLadder tells whether parts, or the same times a whole number, stand on the
// ladder, the last of them also on white's.
func onLadder(parts ...float64) bool {
	for times := 1.0; times <= 32; times++ {
		ok := true
		for i, q := range parts {
			n := int(q * times)
			on := q == 0 || slices.Contains(recipe.Ladder, n)
			if i == len(parts)-1 {
				on = on || slices.Contains(recipe.WhiteLadder, n)
			}
			ok = ok && on && float64(n) == q*times
		}
		if ok {
			return true
		}
	}
	return false
}

// A row's cells are what its parts give, on the ladder, in order from one pile
// to the other, and as even as they say.
func TestRowsAreTrue(t *testing.T) {
	w := opened(t)
	for _, what := range []string{"PB29+PY43", "PY184+PG7", "PB15:4+PW6", "PW6+PB29", "PB15:4", "PY184", "light red", "PBk9"} {
		c, err := w.Chart(what, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range c.Rows {
			paints := make([]*optics.Paint, len(r.Piles))
			for i, pile := range r.Piles {
				var tubes []*optics.Paint
				var parts []float64
				for _, q := range pile.Parts {
					tube, err := w.Resolve(q.Tube)
					if err != nil {
						t.Fatal(err)
					}
					tubes, parts = append(tubes, &tube.Paint), append(parts, q.Parts)
				}
				mixed := optics.Mix(tubes, parts)
				paints[i] = &mixed
			}
			var seen []lab.Lab
			for _, q := range r.Cells {
				m := optics.Mix(paints, q.Parts)
				s := m.Reflectance(w.Palette.Finish)
				got := s.Lab(optics.D65)
				if lab.DE76(got, q.Lab) > 1e-9 || q.Hex != got.Hex() {
					t.Errorf("%s, %s: %v give %v, and the cell says %v", what, r.Name, q.Parts, got, q.Lab)
				}
				if !onLadder(q.Parts...) {
					t.Errorf("%s, %s: %v are not on the ladder", what, r.Name, q.Parts)
				}
				seen = append(seen, q.Lab)
			}
			if gap, _ := unevenness(seen); math.Abs(gap-(r.Most-r.Least)) > 0.011 {
				t.Errorf("%s, %s: steps are %.2f apart, and it says %.2f to %.2f", what, r.Name, gap, r.Least, r.Most)
			}
			t.Logf("%-18s %-30s %2d steps of %.1f to %.1f", what, r.Name, len(r.Cells)-1, r.Least, r.Most)
		}
		// The first row runs from one end to the other.
		cells := c.Rows[0].Cells
		if first, last := cells[0].Parts, cells[len(cells)-1].Parts; first[1] != 0 || last[0] != 0 {
			t.Errorf("%s runs from %v to %v", what, first, last)
		}
	}
}

// A tone keeps the value it starts from: grey of its own value is what sets a
// tone apart from a shade (common practice, no source). A mix of two colours of
// one value is somewhat darker than both: measured up to 1.0 for cadmium orange.
func TestTonesKeepTheirValue(t *testing.T) {
	w := opened(t)
	for _, what := range []string{"PB29", "PB15:4", "PR254", "PG17", "PO20", "PY43"} {
		c, err := w.Chart(what, 0)
		if err != nil {
			t.Fatal(err)
		}
		tones, shades := c.Rows[1].Cells, c.Rows[2].Cells
		for _, q := range tones {
			if math.Abs(q.Value-tones[0].Value) > 1.1 {
				t.Errorf("a tone of %s has value %.1f, and began at %.1f", what, q.Value, tones[0].Value)
			}
		}
		for i := 1; i < len(shades); i++ {
			if shades[i].Value >= shades[i-1].Value {
				t.Errorf("a shade of %s is no darker than the one before: %.2f, %.2f", what, shades[i-1].Value, shades[i].Value)
			}
		}
		if last := tones[len(tones)-1].Lab.Chroma(); last > 6 {
			t.Errorf("the tones of %s end at C* %.1f", what, last)
		}
	}
}

// The mix of a pair is the ladder's most midway one.
func TestPairsAreMidway(t *testing.T) {
	w := opened(t)
	c, err := w.Chart("", 0)
	if err != nil {
		t.Fatal(err)
	}
	n := len(w.Palette.Tubes)
	if len(c.Pairs) != n*(n-1)/2 {
		t.Fatalf("%d pairs of %d tubes", len(c.Pairs), n)
	}
	for _, q := range c.Pairs {
		at := func(a, b float64) (da, db float64) {
			_, p := w.Palette.Mix([]recipe.Part{{Tube: q.A - 1, Parts: a}, {Tube: q.B - 1, Parts: b}})
			return lab.DE00(c.Tubes[q.A-1].Lab, p), lab.DE00(p, c.Tubes[q.B-1].Lab)
		}
		da, db := at(q.Mix.Parts[0], q.Mix.Parts[1])
		for _, a := range recipe.Ladder {
			for _, b := range recipe.Ladder {
				if x, y := at(float64(a), float64(b)); math.Abs(x-y) < math.Abs(da-db)-1e-9 {
					t.Fatalf("%d and %d at %d : %d lie %.2f and %.2f from it, nearer midway than %v", q.A, q.B, a, b, x, y, q.Mix.Parts)
				}
			}
		}
		if q.Tint == nil || q.Tint.Value <= q.Mix.Value || !onLadder(q.Tint.Parts...) {
			if q.A != 1 { // of white with a colour, either end may be white
				t.Errorf("%d and %d: the tint of %v is %v", q.A, q.B, q.Mix, q.Tint)
			}
		}
	}
}

func TestChartRefusals(t *testing.T) {
	for _, q := range []struct {
		only  []string
		what  string
		steps int
		says  string
	}{
		{nil, "PB29+XX9", 0, "XX9"},
		{nil, "no such tube", 0, "no such tube"},
		{nil, "PB29+ultramarine blue", 0, "same tube twice"},
		{nil, "PB29+PY43", 2, "3 to 11"},
		{nil, "PB29+PY43", 12, "3 to 11"},
		{nil, "", 5, "A+B"},
		{nil, "titanium white", 0, "no tints"},
		{[]string{"PB29"}, "", 0, "two tubes"},
	} {
		_, err := opened(t, q.only...).Chart(q.what, q.steps)
		if err == nil || !strings.Contains(err.Error(), q.says) {
			t.Errorf("chart %q in %d steps: %v, want something of %q", q.what, q.steps, err, q.says)
		}
	}
	// A plus sign in a name does not divide it.
	w := opened(t)
	w.Box.Tubes[5].Name = "red+more"
	c, err := w.Chart("red+more+PY43", 4)
	if err != nil || len(c.Rows[0].Cells) != 4 || c.Rows[0].Piles[0].Name != "red+more" {
		t.Errorf("a name with a plus sign: %v", err)
	}
	if c, err = w.Chart("red+more", 0); err != nil || c.Kind != LaddersChart {
		t.Errorf("a name with a plus sign, alone: %v", err)
	}
	if fmt.Sprint(w.Notes) != fmt.Sprint(opened(t).Notes) {
		t.Errorf("notes were left behind: %v", w.Notes)
	}
}

// Of a box too large for a page, tubes that differ are shown, white among them:
// those left out have a like tube there.
func TestSpreadKeepsUnlikeTubes(t *testing.T) {
	w := starter(t)
	var tubes []*inventory.Tube
	for _, p := range inventory.Library() {
		tubes = append(tubes, p.Tube())
	}
	var err error
	if w.Palette, err = recipe.NewPalette(tubes, optics.Included); err != nil {
		t.Fatal(err)
	}
	look := func(of *inventory.Tube) [2]lab.Lab {
		q := tubeOf(of, w.tintWhite(), optics.Included, nil)
		return [2]lab.Lab{q.Lab, q.TintLab}
	}
	apart := func(a, b [2]lab.Lab) (sum float64) {
		for k := range a {
			sum += math.Hypot(math.Hypot(a[k].L-b[k].L, a[k].A-b[k].A), a[k].B-b[k].B)
		}
		return sum
	}
	shown := w.spread(MaxPairs)
	if len(shown) != MaxPairs || !shown[0].White {
		t.Fatalf("%d shown, the first %s", len(shown), shown[0].Name)
	}
	closest := math.Inf(1)
	for i, a := range shown {
		for _, b := range shown[:i] {
			closest = min(closest, apart(look(a), look(b)))
		}
	}
	for _, a := range tubes {
		near := math.Inf(1)
		for _, b := range shown {
			near = min(near, apart(look(a), look(b)))
		}
		if near > closest+1e-9 {
			t.Errorf("%s lies %.1f from any shown tube, and two of those only %.1f apart", a.Name, near, closest)
		}
	}
}

package plan

import (
	"context"
	"math"
	"math/rand"
	"slices"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// outside is how far a point of a*, b* lies beyond a slice's outline; 0 within.
func outside(s *Slice, a, b float64) float64 {
	if s.Holds(a, b) {
		return 0
	}
	best := math.Inf(1)
	for _, ring := range s.Rings {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			dx, dy := q[0]-p[0], q[1]-p[1]
			t := 0.0
			if l := dx*dx + dy*dy; l > 0 {
				t = min(1, max(0, ((a-p[0])*dx+(b-p[1])*dy)/l))
			}
			best = min(best, math.Hypot(a-p[0]-t*dx, b-p[1]-t*dy))
		}
	}
	return best
}

// Mixes of up to three tubes and white, at any parts up to 1 in 32 (of white 1
// in 256), lie in the slice of their value, or within half a unit of a* and b*
// of it.
func TestRandomMixesLieInTheirSlice(t *testing.T) {
	rnd := rand.New(rand.NewSource(11))
	for _, only := range [][]string{
		nil, {"PY184", "PR122", "PB15:4", "PW6"}, {"PW6", "PY43", "PR108", "PBk9"}, {"PW6", "PB29"}, {"PB29", "PY184", "PR254"},
	} {
		w := opened(t, only...)
		v, err := w.Slices(t.Context(), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		p := w.Palette
		tried, beyond, worst := 0, 0, 0.0
		for range 25000 {
			var parts []recipe.Part
			for _, i := range rnd.Perm(len(p.Tubes))[:min(1+rnd.Intn(3), len(p.Tubes))] {
				if !p.Tubes[i].White {
					parts = append(parts, recipe.Part{Tube: i, Parts: math.Exp(rnd.Float64() * math.Log(32))})
				}
			}
			for i, tube := range p.Tubes {
				if tube.White && (rnd.Intn(4) > 0 || len(parts) == 0) {
					parts = append(parts, recipe.Part{Tube: i, Parts: math.Exp(rnd.Float64() * math.Log(256))})
				}
			}
			_, c := p.Mix(parts)
			for k := range v.Slices {
				if s := &v.Slices[k]; math.Abs(s.L-c.L) < 0.1 {
					tried++
					if d := outside(s, c.A, c.B); d > 0 {
						beyond++
						worst = max(worst, d)
					}
				}
			}
		}
		t.Logf("%v: of %d mixes %d lie beyond their slice, the farthest by %.2f", only, tried, beyond, worst)
		if tried < 150 || worst > 0.5 {
			t.Errorf("%v: of %d mixes %d lie beyond their slice, the farthest by %.2f", only, tried, beyond, worst)
		}
	}
}

// What a slice claims, some mix gives: of the squares of five units that lie
// inside, hardly one stays empty when mixes of all parts, touches of 1 in 4096
// among them, are strewn over the slices. And nothing on the ladder comes near
// a point well outside.
func TestSlicesClaimNoMore(t *testing.T) {
	rnd := rand.New(rand.NewSource(5))
	for _, only := range [][]string{
		{"PW6", "PY184", "PR122", "PB15:4"}, {"PW6", "PY43", "PR108", "PBk9"}, {"PW6", "PY184", "PR254", "PB29", "PG7"},
	} {
		w := opened(t, only...)
		v, err := w.Slices(t.Context(), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		const side = 5.0
		type square struct{ slice, a, b int }
		hit := map[square]bool{}
		c := cutter{shop{w.Palette.Finish}, nil, nil}
		for _, sl := range v.Slices {
			c.planes = append(c.planes, sl.L)
		}
		for range 25000 {
			var paints []*optics.Paint
			var parts []float64
			for k, i := range rnd.Perm(len(w.Palette.Tubes) - 1)[:3] {
				paints = append(paints, &w.Palette.Tubes[i+1].Paint)
				parts = append(parts, 1)
				if k > 0 {
					parts[k] = math.Exp(-rnd.Float64() * math.Log(4096))
				}
			}
			q := c.corner(paints, parts, &w.Palette.Tubes[0].Paint)
			for k, at := range q.at {
				if q.hits[k] {
					hit[square{k, int(math.Floor(at[0] / side)), int(math.Floor(at[1] / side))}] = true
				}
			}
		}
		inside, empty := 0, 0
		var out []lab.Lab
		for k := range v.Slices {
			sl := &v.Slices[k]
			for i := -20; i < 20; i++ {
				for j := -20; j < 24; j++ {
					full, edge := true, math.Inf(1)
					for _, q := range [][2]float64{{0, 0}, {0.5, 0}, {1, 0}, {0, 0.5}, {0.5, 0.5}, {1, 0.5}, {0, 1}, {0.5, 1}, {1, 1}} {
						d := outside(sl, side*(float64(i)+q[0]), side*(float64(j)+q[1]))
						full, edge = full && d == 0, min(edge, d)
					}
					if full {
						inside++
						if !hit[square{k, i, j}] {
							empty++
							t.Logf("%v: nothing at value %g, a* %.0f, b* %.0f", only, sl.Value, side*(float64(i)+0.5), side*(float64(j)+0.5))
						}
					} else if edge > 8 && edge < 20 && rnd.Intn(20) == 0 {
						out = append(out, lab.Lab{L: sl.L, A: side * (float64(i) + 0.5), B: side * (float64(j) + 0.5)})
					}
				}
			}
		}
		table, err := w.Palette.Search(t.Context(), out, recipe.SearchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		least := math.Inf(1)
		for i, aim := range out {
			off := table.Recipes(i, 0)[0].Off.Nominal
			least = min(least, off)
			if off < recipe.Indistinct {
				t.Errorf("%v: %v lies outside by 8 or more, and a mix comes within %.2f", only, aim, off)
			}
		}
		t.Logf("%v: of %d squares inside %d are empty; of %d points outside none is nearer than %.2f", only, inside, empty, len(out), least)
		if float64(empty) > 0.02*float64(inside) || inside < 100 {
			t.Errorf("%v: of %d squares inside %d are empty", only, inside, empty)
		}
	}
}

// A whiter, fuller box reaches no less: adding tubes shrinks no slice.
func TestMoreTubesReachMore(t *testing.T) {
	few, err := opened(t, "PW6", "PY43", "PR101", "PB29").Slices(t.Context(), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	more, err := opened(t, "PW6", "PY43", "PR101", "PB29", "PG7").Slices(t.Context(), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range few.Slices {
		for _, u := range more.Slices {
			if u.Value == s.Value && u.Area < s.Area {
				t.Errorf("value %g: %.0f with a tube more, %.0f without", s.Value, u.Area, s.Area)
			}
		}
	}
}

// The landscape painter's earth triad reaches neither blue nor green (common
// practice, no source); what it reaches stands as reached.
func TestAimsInSlices(t *testing.T) {
	w := opened(t, "PW6", "PY43", "PR108", "PBk9")
	aims := []SliceAim{
		{ID: 1, Name: "sky blue", Lab: lab.Lab{L: 65, A: -8, B: -30}, DE00: -1},
		{ID: 2, Name: "leaf", Lab: lab.Lab{L: 50, A: -30, B: 30}, DE00: -1},
		{ID: 3, Name: "sand", Lab: lab.Lab{L: 70, A: 6, B: 24}, DE00: -1},
		{ID: 4, Name: "known", Lab: lab.Lab{L: 50, A: 5, B: 9}, DE00: 0.4},
		{ID: 5, Name: "pitch", Lab: lab.Lab{L: 2}, DE00: -1},
	}
	v, err := w.Slices(t.Context(), aims, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{Out, Out, Reached, Reached, Out} {
		if v.Aims[i].State != want {
			t.Errorf("%s is %s (off by %.1f), want %s", aims[i].Name, v.Aims[i].State, v.Aims[i].DE00, want)
		}
	}
	seen := map[int]bool{}
	for _, s := range v.Slices {
		for _, i := range s.Aims {
			if seen[i] {
				t.Errorf("%s stands in two slices", aims[i].Name)
			}
			seen[i] = true
			if i < 4 && math.Abs(s.Value-v.Aims[i].Value) > 0.5 {
				t.Errorf("%s of value %.1f stands in slice %g", aims[i].Name, v.Aims[i].Value, s.Value)
			}
		}
	}
	if len(seen) != len(aims) {
		t.Errorf("%d of %d aims stand in a slice", len(seen), len(aims))
	}
}

// A colour inside, but in finer parts than the ladder has, is said to be so:
// the 3-tube box of strong tinters leaves gaps between its ladder mixes.
func TestFinerThanTheLadder(t *testing.T) {
	w := opened(t, "PW6", "PY184", "PR122", "PB15:4")
	paints := []*optics.Paint{&w.Palette.Tubes[0].Paint, &w.Palette.Tubes[1].Paint, &w.Palette.Tubes[2].Paint, &w.Palette.Tubes[3].Paint}
	far, at := 0.0, lab.Lab{}
	rnd := rand.New(rand.NewSource(3))
	var aims []SliceAim
	for range 200 {
		c := shop{w.Palette.Finish}.see(paints, 20+40*rnd.Float64(), 32, 8+20*rnd.Float64(), 0.6+rnd.Float64())
		aims = append(aims, SliceAim{Lab: c, DE00: -1})
	}
	v, err := w.Slices(t.Context(), aims, nil)
	if err != nil {
		t.Fatal(err)
	}
	finer := 0
	for _, a := range v.Aims {
		if a.DE00 > far {
			far, at = a.DE00, a.Lab
		}
		switch a.State {
		case Out:
			t.Errorf("%v is a mix, and said to be out (off by %.1f)", a.Lab, a.DE00)
		case Finer:
			finer++
		}
	}
	t.Logf("%d of %d need finer parts; the farthest from the ladder is %.1f at %v", finer, len(aims), far, at)
	if finer == 0 {
		t.Error("none needs finer parts: the test tells nothing")
	}
}

// Of a library, those tubes are sliced that reach farthest, and it is said.
func TestVividTubes(t *testing.T) {
	var all []string
	for _, p := range inventory.Library() {
		all = append(all, p.Key())
	}
	w := opened(t, all...)
	whites, coloured := 0, 0
	var names []string
	for _, tube := range w.vivid(maxCut) {
		if tube.White {
			whites++
		} else {
			coloured++
		}
		names = append(names, tube.Name)
	}
	if whites != 3 || coloured != maxCut {
		t.Errorf("%d whites and %d coloured tubes are kept, want 3 and %d", whites, coloured, maxCut)
	}
	for _, n := range []string{"pyrrole orange", "phthalo green", "quinacridone magenta"} {
		if !slices.Contains(names, n) {
			t.Errorf("%s is left out of %v", n, names)
		}
	}
	if got := opened(t).vivid(maxCut); len(got) != 16 {
		t.Errorf("%d of the starter box's 16 tubes are kept", len(got))
	}
}

func TestSlicesRefuseAndStop(t *testing.T) {
	if _, err := opened(t, "PW6").Slices(t.Context(), nil, nil); err == nil {
		t.Error("white alone is sliced")
	}
	if _, err := opened(t).Slices(t.Context(), []SliceAim{{Name: "x", Lab: lab.Lab{L: math.NaN()}, DE00: -1}}, nil); err == nil {
		t.Error("a colour that is not a number is placed")
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, err := opened(t).Slices(ctx, nil, nil); err == nil {
		t.Error("slicing goes on after it was stopped")
	}
}

package recipe

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// inventedTube is a smooth absorption edge or band, for tests of the search.
func inventedTube(rng *rand.Rand, name string) *inventory.Tube {
	t := &inventory.Tube{Name: name}
	edge, width := 430+240*rng.Float64(), 10+30*rng.Float64()
	rise := rng.IntN(2) == 0
	top, low := math.Pow(10, -1+1.2*rng.Float64()), math.Pow(10, -3+rng.Float64())
	s := math.Pow(10, -1.8+1.2*rng.Float64())
	for i := range t.Paint.K {
		w := 1 / (1 + math.Exp((float64(optics.Wavelength(i))-edge)/width))
		if rise {
			w = 1 - w
		}
		t.Paint.K[i], t.Paint.S[i] = low+(top-low)*w, s
	}
	return t
}

func inventedWhite() *inventory.Tube {
	return &inventory.Tube{Name: "white", White: true, Paint: optics.Paint{K: optics.Flat(0.0006), S: optics.Flat(1)}}
}

// bruteForce tries every choice of parts from the ladder, with no reduction, no
// bound and no shared work, and gives the least ΔE00 of a set.
func bruteForce(tubes []*inventory.Tube, f optics.Finish, aim lab.Lab, set []int, white int) float64 {
	best := math.Inf(1)
	paints := make([]*optics.Paint, 0, 4)
	for _, i := range set {
		paints = append(paints, &tubes[i].Paint)
	}
	whites := []int{0}
	if white >= 0 {
		paints = append(paints, &tubes[white].Paint)
		whites = append(append([]int{}, Ladder...), WhiteLadder...)
	}
	each(len(set), func(parts [3]int) {
		for _, w := range whites {
			amounts := make([]float64, 0, 4)
			for j := range set {
				amounts = append(amounts, float64(parts[j]))
			}
			if white >= 0 {
				amounts = append(amounts, float64(w))
			}
			m := optics.Mix(paints, amounts)
			r := m.Reflectance(f)
			best = min(best, lab.DE00(aim, r.Lab(optics.D65)))
		}
	})
	return best
}

// The search equals brute force, set by set, on random palettes and aims.
func TestSearchEqualsBruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	for round := range 3 {
		tubes := []*inventory.Tube{inventedTube(rng, "a"), inventedTube(rng, "b"), inventedWhite(), inventedTube(rng, "c")}
		finish := optics.Finish(round % 2)
		p, err := NewPalette(tubes, finish)
		if err != nil {
			t.Fatal(err)
		}
		aims := []lab.Lab{
			{L: 30 + 50*rng.Float64(), A: 40*rng.Float64() - 20, B: 40*rng.Float64() - 20},
			{L: 10 + 30*rng.Float64(), A: 10*rng.Float64() - 5, B: 10*rng.Float64() - 5},
		}
		table, err := p.Search(context.Background(), aims, SearchOptions{Slack: math.Inf(1)})
		if err != nil {
			t.Fatal(err)
		}
		for i, set := range table.sets {
			if set.n == 0 {
				continue
			}
			for choice := range 2 {
				white := -1
				if choice == 1 {
					white = 2
				}
				for a, aim := range aims {
					want := bruteForce(tubes, finish, aim, set.tubes[:set.n], white)
					n := table.near[i*table.stride+choice*len(aims)+a]
					if math.Abs(n.de00-want) > 1e-9 {
						t.Errorf("round %d set %v white %v aim %v: %.9f, brute force %.9f", round, set.tubes[:set.n], white, aim, n.de00, want)
					}
					_, colour := p.Mix(table.parts(i, choice, n))
					if d := lab.DE00(aim, colour); math.Abs(d-n.de00) > 1e-9 {
						t.Errorf("the written-out mix is %.9f off, the table says %.9f", d, n.de00)
					}
				}
			}
		}
	}
}

// A finite slack forgets only sets that are worse than the best by more than
// it, whatever the number of processors.
func TestSlackKeepsTheNear(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	var tubes []*inventory.Tube
	for _, n := range []string{"a", "b", "c", "d", "e", "f"} {
		tubes = append(tubes, inventedTube(rng, n))
	}
	tubes = append(tubes, inventedWhite())
	p, err := NewPalette(tubes, optics.Included)
	if err != nil {
		t.Fatal(err)
	}
	aims := []lab.Lab{{L: 60, A: 5, B: 20}, {L: 35, A: -10, B: -5}}
	full, err := p.Search(context.Background(), aims, SearchOptions{Slack: math.Inf(1)})
	if err != nil {
		t.Fatal(err)
	}
	tight, err := p.Search(context.Background(), aims, SearchOptions{Slack: 2})
	if err != nil {
		t.Fatal(err)
	}
	for i, n := range full.near {
		best := full.best[i%len(aims)]
		want := n.de00
		if full.sets[i/full.stride].n == 3 && want > best+2 {
			want = math.Inf(1)
		}
		if got := tight.near[i].de00; got != want {
			t.Fatalf("entry %d: %v with slack, %v without (best %v)", i, got, n.de00, best)
		}
	}
}

// White alone is a mix like any other, whatever a worker looked at before it.
func TestWhiteAloneIsFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	white := inventedWhite()
	for n := range 4 {
		tubes := []*inventory.Tube{white}
		for range n {
			tubes = append(tubes, inventedTube(rng, "t"))
		}
		p, err := NewPalette(tubes, optics.Included)
		if err != nil {
			t.Fatal(err)
		}
		_, colour := p.Mix([]Part{{0, 1}})
		for range 20 {
			aims := []lab.Lab{{L: 40, A: 10, B: 10}, colour}
			table, err := p.Search(context.Background(), aims, SearchOptions{Slack: 2.5})
			if err != nil {
				t.Fatal(err)
			}
			if d := table.Best(1); d > 1e-9 {
				t.Fatalf("%d colours and white: the nearest mix to the white itself is %v off", n, d)
			}
			list := table.Recipes(1, KnifeError)
			if len(list) == 0 || len(list[0].Parts) != 1 {
				t.Fatalf("%d colours and white: recipes for the white itself: %v", n, list)
			}
			if n == 0 && math.IsInf(table.Best(0), 1) {
				t.Fatal("a box of white alone has no mix for a colour")
			}
		}
	}
}

func TestSearchStopsWhenAsked(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	p, err := NewPalette([]*inventory.Tube{inventedTube(rng, "a")}, optics.Included)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := p.Search(ctx, []lab.Lab{{L: 50}}, SearchOptions{}); err == nil {
		t.Error("a cancelled search gave a table")
	}
}

// The palette's range holds every ladder mix.
func TestRangeHoldsEveryMix(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 5))
		tubes := []*inventory.Tube{inventedTube(rng, "a"), inventedTube(rng, "b"), inventedTube(rng, "c"), inventedWhite()}
		p, err := NewPalette(tubes, optics.Included)
		if err != nil {
			t.Fatal(err)
		}
		var parts []Part
		for i := range tubes {
			if w := rapid.SampledFrom(append([]int{0}, Ladder...)).Draw(t, "part"); w > 0 {
				parts = append(parts, Part{i, float64(w)})
			}
		}
		if len(parts) == 0 {
			return
		}
		r, _ := p.Mix(parts)
		y := r.XYZ(optics.D65).Y
		if y < p.Darkest().Y-1e-9 || y > p.Lightest().Y+1e-9 {
			t.Fatalf("a mix of Y %v lies outside %v–%v", y, p.Darkest().Y, p.Lightest().Y)
		}
	})
}

// ISO 18619's two fixed points, with the paint's own white in place of the
// perfect diffuser, and the straight line between.
func TestRangeFitEnds(t *testing.T) {
	f := RangeFit{Dark: lab.XYZ{X: 3, Y: 3.2, Z: 3.5}, Light: lab.XYZ{X: 87, Y: 92, Z: 95}}
	for _, c := range []struct {
		photo lab.Lab
		want  lab.XYZ
	}{{lab.Lab{}, f.Dark}, {lab.Lab{L: 100}, f.Light},
		{lab.FromXYZ(lab.XYZ{X: lab.D65.X / 2, Y: 50, Z: lab.D65.Z / 2}, lab.D65), lab.XYZ{X: 45, Y: 47.6, Z: 49.25}}} {
		if d := lab.DE76(f.Aim(c.photo), lab.FromXYZ(c.want, lab.D65)); d > 1e-9 {
			t.Errorf("%v goes to %v", c.photo, f.Aim(c.photo))
		}
	}
}

// Without white, greys of the photo stay grey: the axis is that of ISO 18619's
// white, D65 here, and only the luminances are the paint's.
func TestRangeFitWithoutWhite(t *testing.T) {
	p := tubesOf(t, "PY43", "PR108", "PBk9")
	f := p.RangeFit()
	for _, l := range []float64{0, 10, 50, 90, 100} {
		if c := f.Aim(lab.Lab{L: l}); c.Chroma() > 1e-6 {
			t.Errorf("a grey of L* %v goes to %v", l, c)
		}
	}
	if light := f.Aim(lab.Lab{L: 100}).XYZ(lab.D65); math.Abs(light.Y-p.Lightest().Y) > 1e-9 {
		t.Errorf("white goes to Y %v, the lightest mix has %v", light.Y, p.Lightest().Y)
	}
}

// The sampled bound against DESIGN's own worked case in one dimension: bias 4
// with standard deviation 2 along lightness at L* 50, where ΔE00 is ΔL*, has
// its 90th percentile near 6.6; for no bias it is 1.645 σ.
func TestBoundCombinesBiasAndSpread(t *testing.T) {
	at := lab.Lab{L: 50}
	s := Spread{{L: 2}}
	if off := s.OffFrom(at, at); math.Abs(off.P90-1.645*2) > 0.1 || math.Abs(off.Expected-2*math.Sqrt(2/math.Pi)) > 0.1 {
		t.Errorf("spread alone: %+v", off)
	}
	none := Spread{}
	if off := none.OffFrom(lab.Lab{L: 54}, at); math.Abs(off.P90-off.Nominal) > 1e-9 || math.Abs(off.Expected-off.Nominal) > 1e-9 {
		t.Errorf("bias alone: %+v", off)
	}
	off := s.OffFrom(lab.Lab{L: 54}, at)
	if off.P90 < 6 || off.P90 > 7 {
		t.Errorf("bias 4 and spread 2: %+v", off)
	}
}

// The cheap bound never exceeds the difference it bounds.
func TestBoundIsSure(t *testing.T) {
	colour := rapid.Custom(func(t *rapid.T) lab.Lab {
		return lab.LCh{
			L: rapid.Float64Range(0, 100).Draw(t, "L"),
			C: rapid.Float64Range(0, 140).Draw(t, "C"),
			H: rapid.Float64Range(0, 360).Draw(t, "h"),
		}.Lab()
	})
	tightest := 0.0
	rng := rand.New(rand.NewPCG(1, 1))
	check := func(p, q lab.Lab) (bound, de float64) {
		return math.Sqrt(apart2(&p, p.Chroma(), &q, q.Chroma())), lab.DE00(p, q)
	}
	rapid.Check(t, func(t *rapid.T) {
		p, q := colour.Draw(t, "p"), colour.Draw(t, "q")
		if b, d := check(p, q); b > d*(1+1e-12)+1e-12 {
			t.Fatalf("%v %v: bound %v above the difference %v", p, q, b, d)
		}
	})
	for range 300000 { // near pairs, the blue corner among them
		p := lab.LCh{L: 100 * rng.Float64(), C: 100 * rng.Float64(), H: 360 * rng.Float64()}.Lab()
		q := lab.Lab{L: p.L + 8*rng.Float64() - 4, A: p.A + 16*rng.Float64() - 8, B: p.B + 16*rng.Float64() - 8}
		b, d := check(p, q)
		if b > d*(1+1e-12)+1e-12 {
			t.Fatalf("%v %v: bound %v above the difference %v", p, q, b, d)
		}
		tightest = max(tightest, b/d)
	}
	t.Logf("the bound reaches %.3f of the difference", tightest)
}

func BenchmarkSearch(b *testing.B) {
	for _, n := range []int{16, 24} {
		b.Run(map[int]string{16: "16tubes12aims", 24: "24tubes12aims"}[n], func(b *testing.B) {
			rng := rand.New(rand.NewPCG(1, 2))
			tubes := []*inventory.Tube{inventedWhite()}
			for len(tubes) < n+1 {
				tubes = append(tubes, inventedTube(rng, "t"))
			}
			p, err := NewPalette(tubes, optics.Included)
			if err != nil {
				b.Fatal(err)
			}
			var aims []lab.Lab
			for range 12 {
				aims = append(aims, lab.Lab{L: 25 + 65*rng.Float64(), A: 30*rng.Float64() - 15, B: 50*rng.Float64() - 20})
			}
			for b.Loop() {
				if _, err := p.Search(context.Background(), aims, SearchOptions{Slack: 2.5}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

package recipe

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// huntTubes are tubes of all kinds: bright and dull, weak and strong.
var huntTubes = []string{"PW6", "PY184", "PV19", "PBr7/burnt sienna", "PB29", "PB15:4", "PG17", "PBk9"}

func palette(t testing.TB, f optics.Finish, codes ...string) *Palette {
	t.Helper()
	p, err := NewPalette(libraryTubes(t, codes...), f)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The trees hold every mix of the ladder once, in the cells they say.
func TestCellsHoldTheLadder(t *testing.T) {
	for m := 1; m <= 3; m++ {
		for w := range 2 {
			tree := cellTrees()[m][w]
			want := 0
			for _, d := range directions[m] {
				if w == 0 {
					want++
				} else {
					want += len(d.whites) - 1
				}
			}
			seen := map[[2]int32]bool{}
			for _, p := range tree.points {
				seen[[2]int32{p.dir, p.white}] = true
			}
			if len(seen) != want || len(tree.points) != want {
				t.Errorf("%d tubes, white %d: %d mixes, %d different, want %d", m, w, len(tree.points), len(seen), want)
			}
			for _, c := range tree.cells {
				for _, p := range tree.points[c.from:c.to] {
					for j, v := range p.beside {
						if v < c.lo[j] || v > c.hi[j] {
							t.Fatalf("%d tubes, white %d: a mix lies outside its cell", m, w)
						}
					}
				}
				if c.left > 0 {
					a, b := tree.cells[c.left], tree.cells[c.right]
					if a.from != c.from || a.to != b.from || b.to != c.to {
						t.Fatalf("%d tubes, white %d: halves do not make the whole", m, w)
					}
				}
			}
		}
	}
}

// A hunt for the nearest mix finds what a search that computes every mix
// finds, in and far out of reach.
func TestHuntEqualsSearch(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 6))
	aims := []lab.Lab{{L: 40, A: 40, B: -50}, {L: 50, A: -90, B: 60}, {L: 60}, {L: 8}, {L: 99, A: -1, B: 2}, {L: 30, A: 0.3, B: -0.2}, {L: 75, A: 10, B: 90}}
	for range 13 {
		aims = append(aims, lab.LCh{L: 15 + 75*rng.Float64(), C: 80 * rng.Float64(), H: 360 * rng.Float64()}.Lab())
	}
	for _, f := range []optics.Finish{optics.Included, optics.Excluded} {
		p := palette(t, f, huntTubes...)
		table, err := p.Search(context.Background(), aims, SearchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		for a, aim := range aims {
			best, ok, err := p.hunt(context.Background(), p.jobs(), math.Inf(1), func() quest { return newNearQuest(aim) }, nil)
			if err != nil || !ok {
				t.Fatal(err, ok)
			}
			if math.Abs(best.score-table.Best(a)) > 1e-9 {
				t.Errorf("shine %v, %s: %.6f, every mix: %.6f", f, text(aim), best.score, table.Best(a))
			}
			if _, c := p.Mix(best.parts()); math.Abs(lab.DE00(aim, c)-best.score) > 1e-9 {
				t.Errorf("shine %v, %s: the written-out mix is %.6f off, not %.6f", f, text(aim), lab.DE00(aim, c), best.score)
			}
		}
	}
}

// A hunt for the highest chroma finds what trying every mix finds.
func TestVividEqualsBruteForce(t *testing.T) {
	p := palette(t, optics.Included, "PW6", "PY184", "PR254", "PV19", "PB29", "PG7", "PBr7/burnt umber")
	var all []lab.Lab
	c := &sums[p.Finish]
	for _, j := range p.jobs() {
		if j.n == 0 {
			_, white := p.Mix([]Part{{int(j.white), 1}})
			all = append(all, white)
			continue
		}
		var k, s optics.Spectrum
		for i := range directions[j.n] {
			d := &directions[j.n][i]
			p.blend(j.set().tubes, d, &k, &s)
			if j.white < 0 {
				all = append(all, lab.FromXYZ(c.of(&k, &s, &noPaint, &noPaint, 0), d65White))
				continue
			}
			w := &p.Tubes[j.white].Paint
			for _, step := range d.whites[1:] {
				all = append(all, lab.FromXYZ(c.of(&k, &s, &w.K, &w.S, step.perTotal), d65White))
			}
		}
	}
	rng := rand.New(rand.NewPCG(4, 4))
	nowhere := 0
	for range 60 {
		hue, l := 360*rng.Float64(), 15+80*rng.Float64()
		width, tall := 1+4*rng.Float64(), 1+5*rng.Float64()
		if rng.IntN(3) == 0 {
			tall = 200
		}
		want := math.Inf(-1)
		for _, m := range all {
			if math.Abs(m.L-l) <= tall && math.Abs(math.Mod(m.Hue()-hue+540, 360)-180) <= width {
				want = max(want, m.Chroma())
			}
		}
		best, ok, err := p.hunt(context.Background(), p.jobs(), 0, func() quest { return newVividQuest(hue, width, l-tall, l+tall) }, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !ok {
			nowhere++
			if !math.IsInf(want, -1) {
				t.Errorf("hue %.1f±%.1f L* %.1f±%.1f: nothing found, there is C* %.3f", hue, width, l, tall, want)
			}
			continue
		}
		if math.Abs(-best.score-want) > 1e-9 {
			t.Errorf("hue %.1f±%.1f L* %.1f±%.1f: C* %.6f, by brute force %.6f", hue, width, l, tall, -best.score, want)
		}
	}
	if nowhere > 30 {
		t.Errorf("%d of 60 windows were empty: the check is weak", nowhere)
	}
}

// What encloses a cell holds all its mixes: XYZ, and any direction of Lab.
func TestEnclosureIsSure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3))
		n := 1 + rng.IntN(3)
		var paints []*optics.Paint
		for range n {
			paints = append(paints, &inventedTube(rng, "a").Paint)
		}
		paints = append(paints, &inventedWhite().Paint)
		m := newMixture(paints...)
		tree := cellTrees()[n][1]
		q := &tree.cells[rng.IntN(len(tree.cells))]
		c := &sums[rng.IntN(2)]
		var e enclosure
		m.enclose(c, q, &e)
		l, a, b := rng.Float64()-0.5, 2*rng.Float64()-1, 2*rng.Float64()-1
		e.curves()
		most := e.most(c, l, a, b)
		for range 20 {
			var at [3]float64
			for j := range at {
				at[j] = q.lo[j] + rng.Float64()*(q.hi[j]-q.lo[j])
			}
			v := m.at(c, &at)
			if v.X < e.vlo.X-1e-9 || v.X > e.vhi.X+1e-9 || v.Y < e.vlo.Y-1e-9 || v.Y > e.vhi.Y+1e-9 || v.Z < e.vlo.Z-1e-9 || v.Z > e.vhi.Z+1e-9 {
				t.Fatalf("%v lies outside %v–%v", v, e.vlo, e.vhi)
			}
			p := lab.FromXYZ(v, d65White)
			if got := l*p.L + a*p.A + b*p.B; got > most+1e-9 {
				t.Fatalf("%v beyond the bound %v", got, most)
			}
		}
	})
}

// The balls hold all colours within their limit.
func TestBallIsSure(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	tight := 0.0
	for range 150 {
		aim := lab.LCh{L: 100 * rng.Float64(), C: 100 * rng.Float64(), H: 360 * rng.Float64()}
		q := newNearQuest(aim.Lab())
		limit := math.Pow(10, -0.5+2*rng.Float64())
		q.open(limit)
		for range 3000 {
			spread := 0.2 + 1.5*rng.Float64()
			p := lab.LCh{
				L: aim.L,
				C: math.Abs(aim.C + spread*limit*(1+0.045*aim.C)*(2*rng.Float64()-1)),
				H: aim.H + spread*limit*60/(1+0.3*aim.C)*(2*rng.Float64()-1),
			}
			if p.C > 250 {
				continue
			}
			colour := p.Lab()
			de := lab.DE00(q.aim, colour)
			if de > limit {
				continue
			}
			b := q.ball[int(p.C/ballStep)]
			dA, dB := q.aim.A-colour.A, q.aim.B-colour.B
			v, u := dA*q.cos+dB*q.sin, dB*q.cos-dA*q.sin
			bound := math.Hypot(b.along*v, b.cross*u)
			if bound > de+1e-9 || math.IsNaN(bound) || math.Abs(u) > b.across+1e-9 {
				t.Fatalf("aim %v limit %v, %v: ΔE00 %v, bound %v, across %v of %v", aim, limit, p, de, bound, u, b.across)
			}
			if de > 0.05 {
				tight = max(tight, bound/de)
			}
		}
	}
	t.Logf("the bound reaches %.2f of the difference", tight)
	if tight < 0.8 {
		t.Errorf("the bound never exceeds %.2f of the difference: the check is weak", tight)
	}
}

// A stopped hunt says so.
func TestHuntStopsWhenAsked(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	p := palette(t, optics.Included, huntTubes...)
	if _, _, err := p.hunt(ctx, p.jobs(), math.Inf(1), func() quest { return newNearQuest(lab.Lab{L: 50}) }, nil); err == nil {
		t.Error("a cancelled hunt gave an answer")
	}
}

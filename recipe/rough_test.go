package recipe

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// withVectors runs f with the processor's instructions, where it has them, and
// without.
func withVectors(t *testing.T, f func(t *testing.T)) {
	defer func() { vectors = hasVectors }()
	for name, v := range map[string]bool{"vectors": true, "plain": false} {
		t.Run(name, func(t *testing.T) {
			if v && !hasVectors {
				t.Skip("this processor has no vector instructions that are known here")
			}
			vectors = v
			f(t)
		})
	}
}

// A rough colour lies within its bounds of the exact one: every ladder mix of
// random paints, some of which absorb nothing or hardly scatter.
func TestRoughIsNear(t *testing.T) {
	withVectors(t, func(t *testing.T) {
		rng := rand.New(rand.NewPCG(2, 71))
		var worst lab.Lab
		var r roughBands
		for round := range 30 {
			finish := optics.Finish(round % 2)
			c := &sums[finish]
			m := 1 + round%3
			var paints [4]*optics.Paint
			for j := range m {
				tube := inventedTube(rng, "")
				for i := range tube.Paint.K {
					switch {
					case round%5 == 1 && rng.IntN(3) == 0:
						tube.Paint.K[i] = 0
					case round%5 == 2 && rng.IntN(3) == 0:
						tube.Paint.S[i] = 1e-8
					case round%5 == 3:
						tube.Paint.K[i] *= 1e4
						tube.Paint.S[i] *= 1e4
					}
				}
				paints[j] = &tube.Paint
			}
			l := &mixesOf[m][round%2]
			mixed := slices.Clone(paints[:m])
			if round%2 == 1 {
				paints[3] = &inventedWhite().Paint
				mixed = append(mixed, paints[3])
			}
			r.set(c, paints[:]...)
			out := make([]float32, 3*l.padded)
			r.rough(out, l, 0, l.padded)
			for i := range l.dir {
				d := &directions[m][l.dir[i]]
				var parts []float64
				for j := range m {
					parts = append(parts, float64(d.parts[j]))
				}
				if round%2 == 1 {
					parts = append(parts, d.whites[l.white[i]].perTotal*float64(d.total))
				}
				paint := optics.Mix(mixed, parts)
				reflectance := paint.Reflectance(finish)
				exact := reflectance.Lab(optics.D65)
				rough := lab.FromXYZ(lab.XYZ{
					X: c.base.X + float64(out[i]), Y: c.base.Y + float64(out[l.padded+i]), Z: c.base.Z + float64(out[2*l.padded+i]),
				}, d65White)
				worst.L = max(worst.L, math.Abs(rough.L-exact.L))
				worst.A = max(worst.A, math.Abs(rough.A-exact.A))
				worst.B = max(worst.B, math.Abs(rough.B-exact.B))
			}
		}
		t.Logf("off by up to %.4f in L*, %.4f in a*, %.4f in b*", worst.L, worst.A, worst.B)
		if worst.L > roughL || worst.A > roughA || worst.B > roughB {
			t.Error("further off than is said")
		}
	})
}

// Neither sieve, net nor the bound for rough colours passes over a colour that
// matters, whatever its rough colour may be.
func TestNothingThatMattersIsPassedOver(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 4))
	random := func(chroma float64) lab.Lab {
		return lab.LCh{L: 5 + 92*rng.Float64(), C: chroma * rng.Float64(), H: 360 * rng.Float64()}.Lab()
	}
	caught, asked := 0, 0
	for range 60 {
		aims := make([]lab.Lab, 1+rng.IntN(100))
		limits := make([]float64, len(aims))
		distances := make([]distance, len(aims))
		for a := range aims {
			aims[a] = random([]float64{15, 60, 120}[rng.IntN(3)])
			limits[a] = []float64{0, 0.5, 3, 12}[rng.IntN(4)] * rng.Float64()
			distances[a] = newDistance(aims[a])
		}
		box := func(a int) (light, ab float64) {
			return 1.75*limits[a] + 1e-6, distances[a].within(limits[a])
		}
		s := newSieve(len(aims))
		s.set(aims, box)
		n := newNet(aims, box)
		for range 2000 {
			a := rng.IntN(len(aims))
			reach := 0.5 + 4*limits[a]
			c := lab.Lab{
				L: aims[a].L + reach*(2*rng.Float64()-1),
				A: aims[a].A + 3*reach*(2*rng.Float64()-1),
				B: aims[a].B + 3*reach*(2*rng.Float64()-1),
			}
			de := lab.DE00(aims[a], c)
			if c.L < 0 || c.L > 100 || c.Chroma() > 150 {
				continue
			}
			// As far off as can be.
			const share = 0.95 // the rest is for the chords of roughCurve
			rough := lab.Lab{
				L: c.L + roughL*share*float64(2*rng.IntN(2)-1),
				A: c.A + roughA*share*float64(2*rng.IntN(2)-1),
				B: c.B + roughB*share*float64(2*rng.IntN(2)-1),
			}
			v := rough.XYZ(d65White)
			if v.X <= 0 || v.Y <= 0 || v.Z <= 0 {
				continue
			}
			q := roughlyOf(&rough)
			bound := math.Sqrt(q.apart2(&aims[a], aims[a].Chroma(), sidesOf(&aims[a], 0)))
			if bound > de+1e-9 {
				t.Fatalf("aim %v, colour %v, roughly %v: bound %v above the difference %v", aims[a], c, rough, bound, de)
			}
			asked++
			if !s.pass(v) {
				caught++
			}
			passed := s.some[a/64]>>(a%64)&1 == 1
			if de <= limits[a] && (!passed || !n.holds(float32(v.X), float32(v.Y), float32(v.Z))) {
				t.Fatalf("aim %v, limit %v, colour %v, roughly %v, %v off: sieve %v, net %v", aims[a], limits[a], c, rough, de, passed, n.holds(float32(v.X), float32(v.Y), float32(v.Z)))
			}
		}
	}
	t.Logf("the sieve caught %d of %d", caught, asked)
	if caught == 0 {
		t.Error("the sieve catches nothing")
	}
}

// The table is the same, to the last bit, with and without vectors and with
// only one processor's work.
func TestSearchIsTheSameEverywhere(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 5))
	tubes := []*inventory.Tube{inventedWhite()}
	for range 6 {
		tubes = append(tubes, inventedTube(rng, "t"))
	}
	p, err := NewPalette(tubes, optics.Included)
	if err != nil {
		t.Fatal(err)
	}
	aims := []lab.Lab{{L: 60, A: 5, B: 20}, {L: 35, A: -10, B: -5}, {L: 75, A: 1, B: -12}}
	defer func() { vectors = hasVectors }()
	for _, o := range []SearchOptions{{Slack: 2}, {Slack: 1, Improving: true}} {
		var first *Table
		for _, v := range []bool{false, hasVectors} {
			vectors = v
			table, err := p.Search(context.Background(), aims, o)
			if err != nil {
				t.Fatal(err)
			}
			if first == nil {
				first = table
			}
			if !slices.Equal(table.near, first.near) || !slices.Equal(table.plain, first.plain) {
				t.Errorf("%+v: vectors %v give another table", o, v)
			}
		}
	}
}

func BenchmarkRough(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	var r roughBands
	l := &mixesOf[3][1]
	out := make([]float32, 3*l.padded)
	r.set(&sums[0], &inventedTube(rng, "").Paint, &inventedTube(rng, "").Paint, &inventedTube(rng, "").Paint, &inventedWhite().Paint)
	for b.Loop() {
		r.rough(out, l, 0, l.padded)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(l.padded), "ns/mix")
}

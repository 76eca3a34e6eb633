package analyze

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
)

// Plain distance in even coordinates must follow CIEDE2000 (itself checked in
// package lab against Sharma, Wu & Dalal's 34 pairs) for the small and middling
// differences that clustering weighs.
func TestEvenFollowsDE00(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	var off, sum float64
	n := 0
	for n < 20000 {
		p := lab.FromLinear(r.Float64()*r.Float64(), r.Float64()*r.Float64(), r.Float64()*r.Float64())
		if p.Chroma() > 60 {
			continue // landscapes stay below
		}
		q := lab.Lab{L: p.L + 8*r.NormFloat64(), A: p.A + 8*r.NormFloat64(), B: p.B + 8*r.NormFloat64()}
		d := lab.DE00(p, q)
		off += math.Abs(math.Sqrt(even(p).dist2(even(q))) - d)
		sum += d
		n++
	}
	t.Logf("mean deviation %.1f %% of the mean ΔE00 %.2f", 100*off/sum, sum/float64(n))
	if off > 0.08*sum {
		t.Errorf("even distances miss ΔE00 by %.1f %% on average", 100*off/sum)
	}
}

func anySamples(t *rapid.T) []sample {
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
	s := make([]sample, rapid.IntRange(1, 300).Draw(t, "n"))
	spread := rapid.Float64Range(0, 1).Draw(t, "spread")
	for i := range s {
		w := math.Ceil(1000 * r.ExpFloat64())
		for c := range 3 {
			s[i].lin[c] = w * (0.5 + spread*(r.Float64()-0.5))
		}
		s[i].w = w
		s[i].p = s[i].point()
	}
	return s
}

// At every level each mass lies whole within one mass of the level before, and
// only one of them has been split.
func TestTreeNests(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tr := grow(anySamples(t))
		if tr.leaves > leafMax {
			t.Fatalf("%d leaves", tr.leaves)
		}
		before := tr.at(1)
		for k := 2; k <= tr.leaves; k++ {
			now := tr.at(k)
			parent := map[int]int{}
			parts := map[int]int{}
			for leaf := range tr.leaves {
				if p, known := parent[now[leaf]]; known && p != before[leaf] {
					t.Fatalf("level %d: node %d lies in two masses of level %d", k, now[leaf], k-1)
				} else if !known {
					parent[now[leaf]] = before[leaf]
					parts[before[leaf]]++
				}
			}
			if len(parent) != k || len(parts) != k-1 {
				t.Fatalf("level %d has %d masses from %d", k, len(parent), len(parts))
			}
			before = now
		}
	})
}

// A refinement round must lower the cost it is meant to lower: compared with
// leaves merged by Ward's rule alone, the settled tree is nearer on average.
func TestSettleImproves(t *testing.T) {
	s := samplesOf(t, counted(t, shoot(300, 200, hills(300, 200), 12), 100))
	cost := func(tr *tree, of []int) (sum float64) {
		m := tr.sums(s, of)
		for i, leaf := range of {
			for n := leaf; n >= 0; n = tr.nodes[n].parent {
				lo, hi := max(tr.nodes[n].from, levelMin), tr.nodes[n].to
				if lo <= hi {
					sum += float64(hi-lo+1) * s[i].w * s[i].p.dist2(m[n].point())
				}
			}
		}
		return sum
	}
	centres := divide(s, leafMax)
	of := make([]int, len(s))
	lloyd(s, centres, of, 12)
	tr := ward(s, of, len(centres))
	before := cost(tr, of)
	tr.settle(s, of, 12)
	if after := cost(tr, of); after >= before {
		t.Errorf("cost went from %g to %g", before, after)
	}
}

func TestWardMergesNearestFirst(t *testing.T) {
	at := func(l, w float64) sample {
		y := luminance(l) * w
		s := sample{mean: mean{w, [3]float64{y, y, y}}}
		s.p = s.point()
		return s
	}
	s := []sample{at(10, 1), at(12, 1), at(50, 1), at(90, 1)}
	tr := ward(s, []int{0, 1, 2, 3}, 4)
	if n := tr.nodes[4]; n.left+n.right != 1 || n.to != 3 {
		t.Errorf("first merge is of %d and %d", n.left, n.right)
	}
	if tr.nodes[0].from != 4 || tr.nodes[6].from != 1 || tr.nodes[6].to != 1 {
		t.Errorf("levels are %+v", tr.nodes)
	}
}

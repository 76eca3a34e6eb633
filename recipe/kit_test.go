package recipe

import (
	"context"
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// The kit and its curve equal brute force over every set of tubes: the smallest
// that keeps each mass within its limit, then the lowest mean; and for each
// number of tubes the lowest worst miss, then mean.
func TestKitEqualsBruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 7))
	for round := range 40 {
		n := 4 + rng.IntN(3)
		var tubes []*inventory.Tube
		for range n - 1 {
			tubes = append(tubes, inventedTube(rng, "t"))
		}
		tubes = append(tubes, inventedWhite())
		p, err := NewPalette(tubes, optics.Included)
		if err != nil {
			t.Fatal(err)
		}
		var aims []lab.Lab
		var shares []float64
		for range 3 {
			// Colours that some mix has, moved a little, and one that none may have.
			var parts []Part
			for i := range tubes {
				if rng.IntN(3) == 0 {
					parts = append(parts, Part{i, float64(1 + rng.IntN(16))})
				}
			}
			if len(parts) == 0 {
				parts = []Part{{rng.IntN(n), 1}}
			}
			_, c := p.Mix(parts)
			c.A += 8*rng.Float64() - 4
			aims, shares = append(aims, c), append(shares, 0.1+rng.Float64())
		}
		tolerance := []float64{0.5, 2, 3, 8}[round%4]
		k, err := p.Kit(context.Background(), aims, KitOptions{Tolerance: tolerance, Shares: shares})
		if err != nil {
			t.Fatal(err)
		}
		full, err := p.Search(context.Background(), aims, SearchOptions{Slack: math.Inf(1)})
		if err != nil {
			t.Fatal(err)
		}
		total := shares[0] + shares[1] + shares[2]
		type outcome struct{ excess, worst, mean float64 }
		judge := func(mask uint) outcome {
			var set []int
			for i := range n {
				if mask>>i&1 == 1 {
					set = append(set, i)
				}
			}
			part := full.Among(set)
			var o outcome
			for a := range aims {
				limit := tolerance
				if full.best[a] > tolerance {
					limit = full.best[a] + KitSlack
				}
				d := part.Best(a)
				o.worst = max(o.worst, d)
				o.mean += shares[a] / total * d
				o.excess = max(o.excess, d-limit)
			}
			return o
		}
		const eps = 1e-5 // misses are counted in millionths
		count, mean := n+1, math.Inf(1)
		worst := make([]outcome, n+1)
		for i := range worst {
			worst[i] = outcome{worst: math.Inf(1), mean: math.Inf(1)}
		}
		for mask := uint(1); mask < 1<<n; mask++ {
			o, m := judge(mask), bits.OnesCount(mask)
			if o.excess <= 1e-6 && (m < count || m == count && o.mean < mean) {
				count, mean = m, o.mean
			}
			for c := m; c <= n; c++ {
				if w := &worst[c]; o.worst < w.worst-eps || math.Abs(o.worst-w.worst) <= eps && o.mean < w.mean {
					*w = o
				}
			}
		}
		if len(k.Tubes) != count || math.Abs(k.Mean-mean) > 1e-4 || !k.Proven {
			t.Errorf("round %d: %d tubes, mean %.5f, proven %v; brute force %d, %.5f", round, len(k.Tubes), k.Mean, k.Proven, count, mean)
		}
		last := math.Inf(1)
		for _, s := range k.Curve {
			w := worst[s.Count]
			if math.Abs(s.Worst-w.worst) > 1e-4 || s.Mean > w.mean+1e-3 {
				t.Errorf("round %d, %d tubes: worst %.5f mean %.5f, brute force %.5f %.5f", round, s.Count, s.Worst, s.Mean, w.worst, w.mean)
			}
			if s.Worst > last+1e-9 {
				t.Errorf("round %d: the curve rises at %d tubes", round, s.Count)
			}
			last = s.Worst
		}
	}
}

// A kit that is given is judged as it stands: each aim's nearest mix of its
// tubes alone, the curve still being that of the whole palette.
func TestGivenKit(t *testing.T) {
	p := palette(t, optics.Included, "PW6", "PY184", "PY43", "PR254", "PV19", "PB29", "PG7", "PBk9")
	rng := rand.New(rand.NewPCG(5, 5))
	var aims []lab.Lab
	for range 5 {
		aims = append(aims, lab.Lab{L: 30 + 50*rng.Float64(), A: 60*rng.Float64() - 30, B: 60*rng.Float64() - 30})
	}
	given := []int{6, 0, 3}
	k, err := p.Kit(context.Background(), aims, KitOptions{Tolerance: 3, Given: given})
	if err != nil {
		t.Fatal(err)
	}
	if len(k.Tubes) != 3 || k.Proven || k.Least || k.Needed != 0 {
		t.Errorf("the given kit came back as %v, proven %v, needed %d", k.Tubes, k.Proven, k.Needed)
	}
	full, err := p.Search(context.Background(), aims, SearchOptions{Slack: math.Inf(1)})
	if err != nil {
		t.Fatal(err)
	}
	part := full.Among(given)
	for i, m := range k.Masses {
		if math.Abs(m.DE00-part.Best(i)) > 1e-9 || math.Abs(m.Best-full.Best(i)) > 1e-9 {
			t.Errorf("aim %d: off by %.4f of %.4f, by the whole table %.4f of %.4f", i, m.DE00, m.Best, part.Best(i), full.Best(i))
		}
	}
	sought, err := p.Kit(context.Background(), aims, KitOptions{Tolerance: 3})
	if err != nil {
		t.Fatal(err)
	}
	for i, s := range sought.Curve {
		if s.Worst != k.Curve[i].Worst || s.Mean != k.Curve[i].Mean {
			t.Errorf("%d tubes: %.4f for the given kit, %.4f for a sought one", s.Count, k.Curve[i].Worst, s.Worst)
		}
	}
}

// Past the size limit a kit still comes out, unproven, that does what it says.
// Tubes to be kept are in it, tubes to be left are not.
func TestKitOfLargeBox(t *testing.T) {
	rng := rand.New(rand.NewPCG(90, 2))
	var tubes []*inventory.Tube
	for range KitBox + 10 {
		tubes = append(tubes, inventedTube(rng, "t"))
	}
	for range 4 {
		tubes = append(tubes, inventedWhite())
	}
	p, err := NewPalette(tubes, optics.Included)
	if err != nil {
		t.Fatal(err)
	}
	aims := []lab.Lab{{L: 62, A: 4, B: 12}, {L: 35, A: -6, B: -9}}
	moved := 0
	k, err := p.Kit(context.Background(), aims, KitOptions{Tolerance: 3, Keep: []int{17, 91}, Leave: []int{3, 92}, Progress: func(done, all int) { moved++ }})
	if err != nil {
		t.Fatal(err)
	}
	if k.Proven || k.Least {
		t.Error("a kit of a box past the size limit is called proven")
	}
	if moved == 0 {
		t.Error("no progress was told")
	}
	if !slices.Contains(k.Tubes, 17) || !slices.Contains(k.Tubes, 91) || slices.Contains(k.Tubes, 3) || slices.Contains(k.Tubes, 92) {
		t.Errorf("kit %v: 17 and 91 are to be kept, 3 and 92 left", k.Tubes)
	}
	for i, m := range k.Masses {
		if _, c := p.Mix(m.Parts); math.Abs(lab.DE00(m.Aim, c)-m.DE00) > 1e-6 || m.DE00 > m.Limit+1e-6 {
			t.Errorf("mass %d: said to be off by %.3f of at most %.3f, its mix by %.3f", i, m.DE00, m.Limit, lab.DE00(m.Aim, c))
		}
		for _, q := range m.Parts {
			if !slices.Contains(k.Tubes, q.Tube) {
				t.Errorf("mass %d is mixed with tube %d, which is not carried", i, q.Tube)
			}
		}
	}
}

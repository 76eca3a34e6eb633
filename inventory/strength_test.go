package inventory

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// actual is the colour of a pile whose tubes are as strong as factors say.
func actual(p *Pile, factor map[*Tube]float64) lab.Lab {
	return p.foretold(func(t *Tube) float64 { return factor[t] })
}

func pileOf(portion, sd float64, tubes []*Tube, parts ...float64) Pile {
	return Pile{Tubes: tubes, Parts: parts, PortionError: portion, SeenSD: sd}
}

var learners = []string{"PB29", "PY184", "PR254", "PG7", "PBk9", "PR101"}

// A reading that agrees with what was foretold changes no factor, and leaves
// no strength less sure than before.
func TestAgreeingReadingChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := mustFind(rapid.SampledFrom(learners).Draw(t, "tube")).Tube()
		w := mustFind("PW6").Tube()
		p := pileOf(rapid.SampledFrom([]float64{0, 0.12}).Draw(t, "knife"), rapid.Float64Range(0.1, 3).Draw(t, "sd"), []*Tube{a, w},
			1, rapid.Float64Range(0.5, 20).Draw(t, "white"))
		p.Seen = actual(&p, map[*Tube]float64{a: 1, w: 1})
		l, err := LearnStrength(p)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range l.Tubes {
			if math.Abs(s.Factor-1) > 1e-6 || s.SD > s.PriorSD {
				t.Fatalf("%s: factor %v, sd %v before and %v after", s.Tube.Name, s.Factor, s.PriorSD, s.SD)
			}
		}
		if l.Surprise > 1e-6 || l.Piles[0].OffAfter > 1e-4 {
			t.Fatalf("surprise %v, %v ΔE00 off", l.Surprise, l.Piles[0].OffAfter)
		}
	})
}

// A tube stronger or weaker than believed is found, the nearer the more piles
// are read: weighed, by a tint alone; by knife, as portions average out.
func TestStrengthIsFoundAsReadingsRepeat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := mustFind(rapid.SampledFrom(learners).Draw(t, "tube")).Tube()
		w := mustFind("PW6").Tube()
		shaped := rapid.Bool().Draw(t, "shape in doubt")
		if !shaped {
			a.Modes, w.Modes = a.Modes[:1], w.Modes[:1]
		}
		true1 := rapid.Float64Range(0.75, 1.35).Draw(t, "factor")
		var piles []Pile
		var last *Learned
		sd := math.Inf(1)
		for range 3 {
			for _, white := range []float64{2, 4, 12} {
				p := pileOf(0, 0.05, []*Tube{a, w}, 1, white)
				p.Seen = actual(&p, map[*Tube]float64{a: true1, w: 1})
				piles = append(piles, p)
			}
			l, err := LearnStrength(piles...)
			if err != nil {
				t.Fatal(err)
			}
			if l.Tubes[0].SD > sd+1e-9 {
				t.Fatalf("more readings, less known: sd %v after %v", l.Tubes[0].SD, sd)
			}
			sd, last = l.Tubes[0].SD, l
		}
		// White's own small doubt is shared with the tube's. Where the paint's
		// hue is in doubt too, it may take a little of the miss.
		got := math.Log(last.Tubes[0].Factor / last.Tubes[1].Factor / true1)
		if shaped && math.Abs(got) > 2*sd || !shaped && math.Abs(got) > 0.01 {
			t.Fatalf("%s: found %.3f times %.3f, sd %.3f", a.Name, math.Exp(got), true1, sd)
		}
		for _, p := range last.Piles {
			if p.OffAfter > 0.1 && (!shaped || p.OffAfter > p.OffBefore/2) {
				t.Fatalf("%s: %.2f ΔE00 off before, still %.2f", a.Name, p.OffBefore, p.OffAfter)
			}
		}
	})
}

// Piles set out by knife, each portion off by its own error: over many trials
// the error left is what the posterior says, and the colour is foretold better
// than before.
func TestStrengthPosteriorIsHonest(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(3, 4))
	sum, n, before, after := 0.0, 0.0, 0.0, 0.0
	for range 150 {
		a, b, w := mustFind("PB29").Tube(), mustFind("PY184").Tube(), mustFind("PW6").Tube()
		for _, q := range []*Tube{a, b, w} {
			q.Modes = q.Modes[:1]
		}
		factor := map[*Tube]float64{}
		for _, q := range []*Tube{a, b, w} {
			factor[q] = math.Exp(q.Modes[0].DK[0] * rng.NormFloat64())
		}
		var piles []Pile
		for _, parts := range [][]float64{{1, 1, 2}, {2, 1, 8}, {1, 4, 1}} {
			p := pileOf(0.12, 0.5, []*Tube{a, b, w}, parts...)
			set := p
			set.Parts = nil
			for _, v := range parts {
				set.Parts = append(set.Parts, v*math.Exp(0.12*rng.NormFloat64()))
			}
			p.Seen = actual(&set, factor)
			p.Seen.L += 0.5 * rng.NormFloat64()
			piles = append(piles, p)
		}
		l, err := LearnStrength(piles...)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range l.Tubes[:2] {
			z := math.Log(s.Factor/factor[s.Tube]) / s.SD
			sum += z * z
			n++
		}
		next := pileOf(0, 1, []*Tube{a, b, w}, 1, 2, 4)
		truth := actual(&next, factor)
		before += lab.DE00(truth, actual(&next, map[*Tube]float64{a: 1, b: 1, w: 1}))
		after += lab.DE00(truth, next.foretold(l.factor))
	}
	if r := math.Sqrt(sum / n); r < 0.85 || r > 1.15 {
		t.Errorf("errors are %.2f times the standard deviations stated", r)
	}
	t.Logf("another mix of the tubes lies %.2f ΔE00 off before, %.2f after three piles", before/150, after/150)
	if after > 0.6*before {
		t.Errorf("another mix of the tubes lies %.2f ΔE00 off before and %.2f after", before/150, after/150)
	}
}

func TestLearnStrengthSurprise(t *testing.T) {
	a, w := mustFind("PB29").Tube(), mustFind("PW6").Tube()
	p := pileOf(0.12, 0.5, []*Tube{a, w}, 1, 4)
	p.Seen = lab.Lab{L: 60, A: 40, B: 30} // a pink: the red was taken for the blue
	l, err := LearnStrength(p)
	if err != nil {
		t.Fatal(err)
	}
	if l.Surprise < 10*float64(l.Degrees) {
		t.Errorf("a pink of ultramarine and white surprises by %.0f only", l.Surprise)
	}
	r := l.Tubes[0].Revised()
	if r.Factor != l.Tubes[0].Factor || math.Abs(r.Paint.K[5]/a.Paint.K[5]/r.Factor-1) > 1e-12 || a.Factor != 0 || r.Modes[0].DK[0] != l.Tubes[0].SD {
		t.Errorf("the revised tube does not carry what was learned: %v", r.Factor)
	}
}

func TestLearnStrengthRefuses(t *testing.T) {
	a, w := mustFind("PB29").Tube(), mustFind("PW6").Tube()
	for says, p := range map[string]Pile{
		"no pile":       {},
		"above 0 ΔE00":  pileOf(0.1, 0, []*Tube{a, w}, 1, 1),
		"names":         pileOf(0.1, 1, []*Tube{a, a}, 1, 1),
		"three numbers": {Tubes: []*Tube{a}, Parts: []float64{1}, SeenSD: 1, Seen: lab.Lab{L: math.NaN()}},
		"0 parts of":    pileOf(0.1, 1, []*Tube{a, w}, 1, 0),
	} {
		var err error
		if p.Tubes == nil {
			_, err = LearnStrength()
		} else {
			_, err = LearnStrength(p)
		}
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("error %v does not say %q", err, says)
		}
	}
}

func BenchmarkLearnStrength(b *testing.B) {
	a, y, w := mustFind("PB29").Tube(), mustFind("PY184").Tube(), mustFind("PW6").Tube()
	p := Pile{Tubes: []*Tube{a, y, w}, Parts: []float64{1, 2, 4}, PortionError: 0.12, SeenSD: 1, Finish: optics.Included}
	p.Seen = actual(&p, map[*Tube]float64{a: 1.2, y: 0.9, w: 1})
	for b.Loop() {
		if _, err := LearnStrength(p); err != nil {
			b.Fatal(err)
		}
	}
}

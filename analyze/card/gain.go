package card

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// soundStep is how far paper may lie from a smooth fall-off, logarithm of the
// light that the file states; more is a shadow, a stain or another surface.
const soundStep = 0.05

// sound is the paper that one smooth fall-off explains, or nil where little of
// it does: the largest such set over trial fits to a few places each (random
// sample consensus, Fischler & Bolles, Commun. ACM 24, 1981), fitted again to
// the whole set.
func (pp *paper) sound(span float64) *paper {
	if pp == nil || len(pp.at) < leastPaper {
		return nil
	}
	n := len(pp.at)
	const unknown = gainTerms + 1
	m := model{origin: pp.at[n/2], span: span}
	rows := make([][unknown]float64, n)
	y := make([]float64, n)
	for i, at := range pp.at {
		b := m.basis(at)
		copy(rows[i][:], b[:])
		rows[i][gainTerms] = 1
		y[i] = logLight(pp.light[i])
	}
	// near lists the places that the fit to some explains.
	near := func(some []int) (out []int) {
		a := mat.NewSymDense(unknown, nil)
		r := mat.NewVecDense(unknown, nil)
		for i := range gainTerms { // priors, for places of the same worth as soundStep
			sd := gainBow
			if i < 2 {
				sd = gainTilt
			}
			a.SetSym(i, i, soundStep*soundStep/(sd*sd))
		}
		for _, k := range some {
			v := mat.NewVecDense(unknown, rows[k][:])
			a.SymRankOne(a, 1, v)
			r.AddScaledVec(r, y[k], v)
		}
		var c mat.Cholesky
		var x mat.VecDense
		if !c.Factorize(a) || c.SolveVecTo(&x, r) != nil {
			return nil
		}
		for i := range rows {
			d := y[i] - mat.Dot(mat.NewVecDense(unknown, rows[i][:]), &x)
			if math.Abs(d) < soundStep {
				out = append(out, i)
			}
		}
		return out
	}
	rng := rand.New(rand.NewPCG(1, 2))
	var best []int
	for range 150 {
		if set := near(rng.Perm(n)[:unknown]); len(set) > len(best) {
			best = set
		}
	}
	for range 4 {
		if set := near(best); len(set) >= len(best) {
			best = set
		}
	}
	if len(best) < leastPaper || 2*len(best) < n {
		return nil
	}
	out := &paper{}
	for _, i := range best {
		out.at, out.light = append(out.at, pp.at[i]), append(out.light, pp.light[i])
	}
	return out
}

// logLight is the mean of the channels' logarithms.
func logLight(v [3]float64) float64 {
	return (math.Log(max(v[0], 1e-4)) + math.Log(max(v[1], 1e-4)) + math.Log(max(v[2], 1e-4))) / 3
}

// tinge is how far the ratios of channels range over the paper, its outermost
// tenths left out, logarithm.
func (pp *paper) tinge() (most float64) {
	for k := range 2 {
		var v []float64
		for _, l := range pp.light {
			v = append(v, math.Log(max(l[2*k], 1e-4)/max(l[1], 1e-4)))
		}
		slices.Sort(v)
		most = max(most, v[len(v)*9/10]-v[len(v)/10])
	}
	return most
}

package inventory

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Pile is a mix as it was set out, and the colour it turned out to have.
type Pile struct {
	Tubes        []*Tube
	Parts        []float64 // by volume, one each, all above 0
	PortionError float64   // standard deviation of a portion as a share of it, 0.12 by knife; 0 weighed
	Finish       optics.Finish
	Seen         lab.Lab // D65, 2° observer
	SeenSD       float64 // standard deviation of Seen, ΔE00; above 0
}

// TubeStrength is what piles say of one tube's tinting strength.
type TubeStrength struct {
	Tube    *Tube
	Factor  float64 // on the strength the tube has now: 1.2 colours a fifth more
	PriorSD float64 // of the factor's natural logarithm before the readings
	SD      float64 // and after them
}

// PileReading sets a pile's reading beside what was and is foretold for it.
type PileReading struct {
	Before, After       lab.Lab // by the strengths as they were, and as they now are; portions as set out
	OffBefore, OffAfter float64 // ΔE00 from the reading
}

// Learned is what piles taught.
type Learned struct {
	Tubes []TubeStrength // in the order in which they first appear
	Piles []PileReading
	// Surprise is how far the readings lie, all together, from what was
	// expected of them before: the squared distance in units of its own
	// standard deviation, of Degrees degrees of freedom. Far above Degrees,
	// something else than strength is wrong: another tube, other parts.
	Surprise float64
	Degrees  int
}

// leastReadingSD keeps a reading from being taken as exact, ΔE00.
const leastReadingSD = 0.02

// LearnStrength updates the tinting strengths of the tubes in some piles from
// the colours that the piles turned out to have. The method is the linearised
// Bayesian update (maximum a posteriori by Gauss–Newton, Laplace's covariance).
// Unknown are, each with the standard deviation that is believed of it, the
// logarithm of every tube's strength (its first Mode: 0.15 calibrated, 0.25
// known by a code), its other Modes, and the logarithm of every portion set
// out; a reading has an error of SeenSD along lightness, chroma and hue as
// CIEDE2000 weighs them. In one pile a portion and a strength cannot be told
// apart, so that the miss is shared out by their variances; what comes back in
// pile after pile is strength. All piles of a session go in together: the
// update starts from the strengths that the tubes have, and a mean of several
// readings of one pile is one reading.
func LearnStrength(piles ...Pile) (*Learned, error) {
	u, err := newStrengthUpdate(piles)
	if err != nil {
		return nil, err
	}
	x := make([]float64, u.n)
	cost := u.cost(x)
	for range 30 {
		next := u.gaussNewton(x)
		// A full step may overshoot where colour is far from linear.
		better := false
		for share := 1.0; share > 1e-3; share /= 2 {
			trial := make([]float64, u.n)
			for i := range trial {
				trial[i] = x[i] + share*(next[i]-x[i])
			}
			if c := u.cost(trial); c < cost {
				better = cost-c > 1e-12*(1+cost)
				x, cost = trial, c
				break
			}
		}
		if !better {
			break
		}
	}
	sd := u.posterior(x)
	out := &Learned{Surprise: 2 * cost, Degrees: 3 * len(piles)}
	for i, t := range u.tubes {
		s := t.Modes[0].DK[0]
		out.Tubes = append(out.Tubes, TubeStrength{Tube: t, Factor: math.Exp(s * x[u.at[i]]), PriorSD: s, SD: s * sd[i]})
	}
	for i := range piles {
		p := &piles[i]
		was, is := p.foretold(func(*Tube) float64 { return 1 }), p.foretold(out.factor)
		out.Piles = append(out.Piles, PileReading{
			Before: was, After: is,
			OffBefore: lab.DE00(was, p.Seen), OffAfter: lab.DE00(is, p.Seen),
		})
	}
	return out, nil
}

// factor is what was learned of a tube; 1 if it was in no pile.
func (l *Learned) factor(t *Tube) float64 {
	for i := range l.Tubes {
		if l.Tubes[i].Tube == t {
			return l.Tubes[i].Factor
		}
	}
	return 1
}

// Revised is the tube with the learned strength, and its first Mode as narrow
// as what is now known of it.
func (s *TubeStrength) Revised() *Tube {
	t := *s.Tube
	t.Paint = t.Paint.Strengthened(s.Factor)
	t.Factor = s.Factor
	if s.Tube.Factor != 0 {
		t.Factor *= s.Tube.Factor
	}
	t.Modes = slices.Clone(t.Modes)
	t.Modes[0] = optics.Mode{DK: optics.Flat(s.SD), DS: optics.Flat(s.SD)}
	return &t
}

// foretold is the pile's colour with every tube strengthened by a factor.
func (p *Pile) foretold(factor func(*Tube) float64) lab.Lab {
	var paints []*optics.Paint
	parts := slices.Clone(p.Parts)
	for i, t := range p.Tubes {
		paints = append(paints, &t.Paint)
		parts[i] *= factor(t)
	}
	m := optics.Mix(paints, parts) // strength multiplies K and S both: it acts as parts do
	s := m.Reflectance(p.Finish)
	return s.Lab(optics.D65)
}

// strengthUpdate is the problem in unknowns of unit variance: every tube's
// modes, strength first, then every pile's portions.
type strengthUpdate struct {
	piles  []Pile
	tubes  []*Tube
	at     []int // per tube: its first unknown
	portAt []int // per pile: its first portion's unknown
	n      int
	metric [][3][3]float64
}

func newStrengthUpdate(piles []Pile) (*strengthUpdate, error) {
	if len(piles) == 0 {
		return nil, errors.New("no pile to learn from: give a mix and its reading")
	}
	u := &strengthUpdate{piles: piles}
	for i := range piles {
		p := &piles[i]
		if len(p.Tubes) == 0 || len(p.Tubes) != len(p.Parts) {
			panic("inventory: a pile needs as many parts as tubes, and at least one")
		}
		for j, t := range p.Tubes {
			if !(p.Parts[j] > 0) || math.IsInf(p.Parts[j], 0) {
				return nil, fmt.Errorf("pile %d: %g parts of %s: parts are numbers above 0", i+1, p.Parts[j], t.Name)
			}
			if slices.Contains(p.Tubes[:j], t) {
				return nil, fmt.Errorf("pile %d names %s twice: add its parts up", i+1, t.Name)
			}
			if len(t.Modes) == 0 || t.Modes[0].DK[0] <= 0 {
				panic("inventory: a tube's first mode is its strength")
			}
			if !slices.Contains(u.tubes, t) {
				u.tubes, u.at = append(u.tubes, t), append(u.at, u.n)
				u.n += len(t.Modes)
			}
		}
		for _, v := range []float64{p.Seen.L, p.Seen.A, p.Seen.B, p.SeenSD, p.PortionError} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fmt.Errorf("pile %d: a reading is three numbers L, a, b and an uncertainty", i+1)
			}
		}
		if p.SeenSD <= 0 || p.PortionError < 0 {
			return nil, fmt.Errorf("pile %d: the uncertainty of a reading is above 0 ΔE00, that of portions not below 0", i+1)
		}
		u.metric = append(u.metric, lab.Steps(p.Seen))
	}
	for i := range piles {
		u.portAt = append(u.portAt, u.n)
		u.n += len(piles[i].Tubes)
	}
	return u, nil
}

// residual is pile i's distance from its reading, in units of the reading's
// error along lightness, chroma and hue.
func (u *strengthUpdate) residual(i int, x []float64) (e [3]float64) {
	p := &u.piles[i]
	paints := make([]optics.Paint, len(p.Tubes))
	with := make([]*optics.Paint, len(p.Tubes))
	parts := slices.Clone(p.Parts)
	for j, t := range p.Tubes {
		paints[j], with[j] = t.Paint, &paints[j]
		at := u.at[slices.Index(u.tubes, t)]
		for m := range t.Modes {
			paints[j] = t.Modes[m].Apply(paints[j], x[at+m])
		}
		parts[j] *= math.Exp(p.PortionError * x[u.portAt[i]+j])
	}
	m := optics.Mix(with, parts)
	s := m.Reflectance(p.Finish)
	c := s.Lab(optics.D65)
	d := [3]float64{c.L - p.Seen.L, c.A - p.Seen.A, c.B - p.Seen.B}
	for r, row := range u.metric[i] {
		e[r] = (row[0]*d[0] + row[1]*d[1] + row[2]*d[2]) / max(p.SeenSD, leastReadingSD)
	}
	return e
}

// cost is half the sum of squares of unknowns and residuals.
func (u *strengthUpdate) cost(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v / 2
	}
	for i := range u.piles {
		for _, v := range u.residual(i, x) {
			sum += v * v / 2
		}
	}
	return sum
}

// slopes gives the residuals and their slopes along each unknown, three rows a
// pile.
func (u *strengthUpdate) slopes(x []float64) (e *mat.VecDense, j *mat.Dense) {
	const h = 1e-4
	e, j = mat.NewVecDense(3*len(u.piles), nil), mat.NewDense(3*len(u.piles), u.n, nil)
	for i := range u.piles {
		for r, v := range u.residual(i, x) {
			e.SetVec(3*i+r, v)
		}
		slope := func(k int) {
			was := x[k]
			x[k] = was + h
			up := u.residual(i, x)
			x[k] = was - h
			down := u.residual(i, x)
			x[k] = was
			for r := range up {
				j.Set(3*i+r, k, (up[r]-down[r])/(2*h))
			}
		}
		for k, t := range u.piles[i].Tubes {
			at := u.at[slices.Index(u.tubes, t)]
			for m := range t.Modes {
				slope(at + m)
			}
			slope(u.portAt[i] + k)
		}
	}
	return e, j
}

// expectedResiduals factors JJᵀ + I, the covariance of the residuals before the
// readings.
func expectedResiduals(j *mat.Dense) *mat.Cholesky {
	n, _ := j.Dims()
	c := mat.NewSymDense(n, nil)
	c.SymOuterK(1, j)
	for i := range n {
		c.SetSym(i, i, c.At(i, i)+1)
	}
	var ch mat.Cholesky
	if !ch.Factorize(c) {
		panic("inventory: residuals have no covariance")
	}
	return &ch
}

// gaussNewton solves the problem linearised at x: Jᵀ(JJᵀ + I)⁻¹(Jx − e).
func (u *strengthUpdate) gaussNewton(x []float64) []float64 {
	e, j := u.slopes(x)
	var aim, half, to mat.VecDense
	aim.MulVec(j, mat.NewVecDense(u.n, x))
	aim.SubVec(&aim, e)
	if err := expectedResiduals(j).SolveVecTo(&half, &aim); err != nil {
		return x // as near singular as readings that say nothing: stay
	}
	to.MulVec(j.T(), &half)
	return to.RawVector().Data
}

// posterior gives the standard deviations left of the strengths, in units of
// the prior's.
func (u *strengthUpdate) posterior(x []float64) []float64 {
	_, j := u.slopes(x)
	c := expectedResiduals(j)
	var out []float64
	for _, at := range u.at {
		var v mat.VecDense
		col := j.ColView(at)
		if err := c.SolveVecTo(&v, col); err != nil {
			out = append(out, 1)
			continue
		}
		out = append(out, math.Sqrt(max(0, 1-mat.Dot(col, &v))))
	}
	return out
}

package optics

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Drawdown is one measured film that hides its ground: a paint alone or mixed
// with known paints, and what was measured.
type Drawdown struct {
	Parts   float64   // parts of the paint being fitted
	With    []*Paint  // the known paints in the film: white, black
	WithOf  []float64 // their parts, one each
	Seen    Spectrum  // measured reflectance
	Finish  Finish    // whether Seen counts the surface's reflection
	Surface Surface   // zero means DrySurface
	Spread  Spectrum  // further standard deviation of Seen, as from extrapolating a film that does not hide; may be zero
}

// FitOptions sets what is believed before the readings are seen. The zero
// value means: nothing known of this paint.
type FitOptions struct {
	// Prior is the paint expected, for instance the library's for the pigment
	// code on the tube; nil for none.
	Prior *Paint
	// Loose widens the prior where the paint on the tube may differ much from
	// it; 1 if zero.
	Loose float64
}

// Fitted is a paint and how well it stands.
type Fitted struct {
	Paint    Paint
	Residual []float64 // per drawdown, root mean square of the misfit in units of the reading's own uncertainty
	// Modes are independent one-sigma steps of (log K, log S) that the
	// readings leave open, largest first. See [Mode].
	Modes []Mode
}

// Mode is a smooth one-sigma step of a paint's constants: K is multiplied by
// exp(DK), S by exp(DS).
type Mode struct{ DK, DS Spectrum }

// Apply moves the paint by t sigmas along the mode.
func (m *Mode) Apply(p Paint, t float64) Paint {
	for i := range p.K {
		p.K[i] *= math.Exp(t * m.DK[i])
		p.S[i] *= math.Exp(t * m.DS[i])
	}
	return p
}

// What a reading is worth: instrument repeatability as a floor, and in
// proportion what Kubelka and Munk's theory itself misses on real mixtures,
// about a tenth of the reflectance.
const (
	readingFloor = 0.0025
	readingShare = 0.10
)

// The prior, in natural logarithms. Scattering is smooth along wavelength and
// is what white tints determine worst, so it is held more tightly than
// absorption, whose edges are sharp. The second differences and readingShare
// were chosen by the leave-one-out error over the whole oil set (48 films:
// mean 2.95, median 2.1 ΔE00; anything from half to twice these values lies
// within 0.1 of that), not by any one test.
const (
	levelS, bendS         = 1.2, 0.05 // no code: level against flatS; second difference a band
	levelK, bendK         = 3.0, 1.0
	codeLevelS, codeBendS = 0.50, 0.04 // with a code: against the library's curve
	codeLevelK, codeBendK = 0.70, 0.25
	flatS, flatK          = 0.10, 0.10
)

// Fit estimates K and S, on the scale of the paints mixed with, from drawdowns
// of masstone and mixtures: a maximum-a-posteriori least-squares fit in log K
// and log S with smoothness along wavelength (Tikhonov regularisation), by
// Gauss–Newton steps with Levenberg's damping. Any number of drawdowns will
// do; a masstone alone leaves the strength at its prior, and the Modes say so.
func Fit(films []Drawdown, o FitOptions) (Fitted, error) {
	if len(films) == 0 {
		return Fitted{}, errors.New("no readings to fit")
	}
	for n, d := range films {
		if err := d.Seen.Valid(); err != nil {
			return Fitted{}, fmt.Errorf("reading %d: %w", n+1, err)
		}
		if !(d.Parts > 0) {
			return Fitted{}, fmt.Errorf("reading %d holds none of the paint", n+1)
		}
	}
	f := newFit(films, o)
	x := f.start()
	cost, grad, hess := f.normal(x)
	damp := 1e-3
	for step := 0; step < 200; step++ {
		next, ok := solveDamped(hess, grad, damp)
		if !ok {
			damp *= 10
			continue
		}
		largest := 0.0
		trial := make([]float64, unknowns)
		for i := range trial {
			d := max(-1.5, min(1.5, next[i]))
			trial[i] = x[i] + d
			largest = max(largest, math.Abs(d))
		}
		c, g, h := f.normal(trial)
		if c <= cost {
			done := largest < 1e-6 || cost-c < 1e-10*(1+cost) && damp <= 1e-3
			x, cost, grad, hess = trial, c, g, h
			damp = max(damp/5, 1e-9)
			if done {
				break
			}
		} else if damp *= 5; damp > 1e9 {
			break
		}
	}
	out := Fitted{Paint: unpack(x)}
	for n := range films {
		r := f.misfit(x, n)
		sum := 0.0
		for _, v := range r {
			sum += v * v
		}
		out.Residual = append(out.Residual, math.Sqrt(sum/Bands))
	}
	out.Modes = openModes(hess)
	return out, nil
}

const unknowns = 2 * Bands // log K then log S

type fit struct {
	films        []Drawdown
	kw, sw       []Spectrum // K and S already in each film from the known paints
	share        []float64  // share of the fitted paint in each film
	meanK, meanS Spectrum   // prior logarithms
	prior        *mat.SymDense
}

func newFit(films []Drawdown, o FitOptions) *fit {
	f := &fit{films: films}
	for _, d := range films {
		if len(d.With) != len(d.WithOf) {
			panic("optics: a drawdown needs as many parts as paints")
		}
		total := d.Parts
		for _, p := range d.WithOf {
			total += p
		}
		var k, s Spectrum
		for j, p := range d.With {
			for i := range k {
				k[i] += d.WithOf[j] / total * p.K[i]
				s[i] += d.WithOf[j] / total * p.S[i]
			}
		}
		f.kw, f.sw, f.share = append(f.kw, k), append(f.sw, s), append(f.share, d.Parts/total)
	}
	loose := o.Loose
	if loose == 0 {
		loose = 1
	}
	lk, bk, ls, bs := levelK, bendK, levelS, bendS
	f.meanK, f.meanS = Flat(math.Log(flatK)), Flat(math.Log(flatS))
	if o.Prior != nil {
		lk, bk, ls, bs = codeLevelK*loose, codeBendK*loose, codeLevelS*loose, codeBendS*loose
		for i := range f.meanK {
			f.meanK[i] = math.Log(max(o.Prior.K[i], 1e-7))
			f.meanS[i] = math.Log(max(o.Prior.S[i], 1e-7))
		}
	}
	f.prior = mat.NewSymDense(unknowns, nil)
	addPrior(f.prior, 0, lk, bk)
	addPrior(f.prior, Bands, ls, bs)
	return f
}

// addPrior adds the precision of a smooth deviation to 31 rows from at: its
// mean and each band lie within level, and second differences within bend.
func addPrior(m *mat.SymDense, at int, level, bend float64) {
	for i := range Bands {
		m.SetSym(at+i, at+i, m.At(at+i, at+i)+1/(level*level*Bands))
	}
	for i := 1; i+1 < Bands; i++ {
		d := [3]float64{1, -2, 1}
		for a := range 3 {
			for b := a; b < 3; b++ {
				r, c := at+i-1+a, at+i-1+b
				m.SetSym(r, c, m.At(r, c)+d[a]*d[b]/(bend*bend))
			}
		}
	}
}

func (f *fit) start() []float64 {
	x := make([]float64, unknowns)
	copy(x, f.meanK[:])
	copy(x[Bands:], f.meanS[:])
	// The masstone, if there is one, already gives K/S: begin there.
	for n, d := range f.films {
		if f.share[n] > 0.999 {
			in := f.surface(n).Inside(d.Seen, d.Finish)
			for i := range in {
				x[i] = math.Log(max(RToKS(in[i]), 1e-5)) + x[Bands+i]
			}
			break
		}
	}
	return x
}

func (f *fit) surface(n int) Surface {
	if s := f.films[n].Surface; s != (Surface{}) {
		return s
	}
	return DrySurface
}

func unpack(x []float64) Paint {
	var p Paint
	for i := range p.K {
		p.K[i], p.S[i] = math.Exp(x[i]), math.Exp(x[Bands+i])
	}
	return p
}

func (d *Drawdown) spread(i int) float64 {
	return math.Hypot(math.Hypot(readingFloor, readingShare*d.Seen[i]), d.Spread[i])
}

func (f *fit) misfit(x []float64, n int) Spectrum {
	p := unpack(x)
	d, s := &f.films[n], f.surface(n)
	var r Spectrum
	for i := range r {
		q := (f.kw[n][i] + f.share[n]*p.K[i]) / (f.sw[n][i] + f.share[n]*p.S[i])
		r[i] = (s.Measured(KSToR(q), d.Finish) - d.Seen[i]) / d.spread(i)
	}
	return r
}

// normal gives half the sum of squares, minus its gradient, and the
// Gauss–Newton matrix at x.
func (f *fit) normal(x []float64) (cost float64, grad []float64, h *mat.SymDense) {
	p := unpack(x)
	h = mat.NewSymDense(unknowns, nil)
	h.CopySym(f.prior)
	dev := make([]float64, unknowns)
	for i := range Bands {
		dev[i], dev[Bands+i] = x[i]-f.meanK[i], x[Bands+i]-f.meanS[i]
	}
	var pd mat.VecDense
	dv := mat.NewVecDense(unknowns, dev)
	pd.MulVec(f.prior, dv)
	cost = mat.Dot(dv, &pd) / 2
	grad = make([]float64, unknowns)
	for i := range grad {
		grad[i] = -pd.AtVec(i)
	}
	for n := range f.films {
		d, sf := &f.films[n], f.surface(n)
		for i := range Bands {
			k := f.kw[n][i] + f.share[n]*p.K[i]
			s := f.sw[n][i] + f.share[n]*p.S[i]
			q := k / s
			in := KSToR(q)
			sd := d.spread(i)
			e := (sf.Measured(in, d.Finish) - d.Seen[i]) / sd
			// dR/dq = −R/√(q² + 2q); dRm/dR from Saunderson.
			den := 1 - sf.K2*in
			g := -in / math.Sqrt(q*(q+2)+1e-12) * (1 - sf.K1) * (1 - sf.K2) / (den * den) / sd
			jk := g * f.share[n] * p.K[i] / s
			js := -g * q * f.share[n] * p.S[i] / s
			cost += e * e / 2
			grad[i] -= jk * e
			grad[Bands+i] -= js * e
			h.SetSym(i, i, h.At(i, i)+jk*jk)
			h.SetSym(Bands+i, Bands+i, h.At(Bands+i, Bands+i)+js*js)
			h.SetSym(i, Bands+i, h.At(i, Bands+i)+jk*js)
		}
	}
	return cost, grad, h
}

func solveDamped(h *mat.SymDense, grad []float64, damp float64) ([]float64, bool) {
	m := mat.NewSymDense(unknowns, nil)
	m.CopySym(h)
	for i := range unknowns {
		m.SetSym(i, i, m.At(i, i)*(1+damp)+1e-12)
	}
	var c mat.Cholesky
	if !c.Factorize(m) {
		return nil, false
	}
	var v mat.VecDense
	if err := c.SolveVecTo(&v, mat.NewVecDense(unknowns, grad)); err != nil {
		return nil, false
	}
	return v.RawVector().Data, true
}

// keptModes is how many directions of the posterior are carried along.
const keptModes = 8

// openModes gives the principal axes of the posterior covariance, which is the
// inverse of the Gauss–Newton matrix, scaled to one sigma.
func openModes(h *mat.SymDense) []Mode {
	var e mat.EigenSym
	if !e.Factorize(h, true) {
		return nil
	}
	values := e.Values(nil) // ascending: the flattest direction first
	var vec mat.Dense
	e.VectorsTo(&vec)
	var out []Mode
	for j := 0; j < keptModes && j < unknowns; j++ {
		sigma := 1 / math.Sqrt(max(values[j], 1e-6))
		var m Mode
		for i := range Bands {
			m.DK[i], m.DS[i] = sigma*vec.At(i, j), sigma*vec.At(Bands+i, j)
		}
		out = append(out, m)
	}
	return out
}

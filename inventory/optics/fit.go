package optics

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"

	"paintout/analyze/lab"
)

// Drawdown is one measured film that hides its ground: a paint alone or mixed
// with known paints, and what was measured.
type Drawdown struct {
	Parts     float64   // parts of the paint being fitted
	With      []*Paint  // the known paints in the film: white, black
	WithOf    []float64 // their parts, one each
	PortionSD float64   // standard deviation of the logarithm of Parts beside the others; 0 where they are exact
	Seen      Spectrum  // measured reflectance; not looked at where Colour is given
	Spread    Spectrum  // further standard deviation of Seen, as from extrapolating a film that does not hide; may be zero
	Finish    Finish    // whether the reading counts the surface's reflection
	Surface   Surface   // zero means DrySurface

	// Colour is a reading of three numbers under Illuminant, for want of a
	// spectrum, and ColourSD what is not known of it beyond Noise.Colour, ΔE00.
	Colour     *lab.Lab
	Illuminant Illuminant
	ColourSD   float64
}

// Noise is what a reading is worth, theory's own error included, as standard
// deviations. Nearly all that the theory misses of a film runs smoothly along
// wavelength: taken as errors of single bands it would average out over them,
// and a fit would believe itself far too much.
type Noise struct {
	Floor  float64 // of a reflectance: repeatability
	Share  float64 // of a reflectance, in proportion: what the theory misses band by band
	Run    float64 // of a reflectance, in proportion: what it misses along wavelength, 80 nm at a stretch
	Colour float64 // of a Lab reading, ΔE00
}

const runBands = 8 // correlation length of Noise.Run

// Scaled is the noise of readings that turn out better or worse than usual.
func (n Noise) Scaled(f float64) Noise {
	return Noise{n.Floor * f, n.Share * f, n.Run * f, n.Colour * f}
}

// Fitted is a paint and how well it stands.
type Fitted struct {
	Paint    Paint
	Spread   *mat.SymDense // covariance of log K, then log S, at the 31 bands: what the readings leave open
	Evidence float64       // log probability of the readings, up to what priors share
	Misfit   float64       // sum of squared residuals in units of the noise
	Free     float64       // number of residuals less the number of unknowns they determine
}

// Average is best, one of several fits of the same readings, with the mean of
// all their paints in log K and log S, each weighed by its odds (natural
// logarithms), and the spread of that mixture (Bayesian model averaging).
func Average(best *Fitted, fits []*Fitted, odds []float64) *Fitted {
	top := math.Inf(-1)
	for _, o := range odds {
		top = max(top, o)
	}
	total := 0.0
	weights := make([]float64, len(fits))
	for i, o := range odds {
		weights[i] = math.Exp(o - top)
		total += weights[i]
	}
	logs := func(p *Paint) (v [unknowns]float64) {
		for b := range p.K {
			v[b], v[Bands+b] = math.Log(p.K[b]), math.Log(p.S[b])
		}
		return v
	}
	var mean [unknowns]float64
	for i, f := range fits {
		for k, v := range logs(&f.Paint) {
			mean[k] += weights[i] / total * v
		}
	}
	out := *best
	out.Spread = mat.NewSymDense(unknowns, nil)
	for i, f := range fits {
		w := weights[i] / total
		if w < 1e-3 {
			continue
		}
		d := logs(&f.Paint)
		for k := range d {
			d[k] -= mean[k]
		}
		for k := range d {
			for j := k; j < unknowns; j++ {
				out.Spread.SetSym(k, j, out.Spread.At(k, j)+w*(f.Spread.At(k, j)+d[k]*d[j]))
			}
		}
	}
	for b := range out.Paint.K {
		out.Paint.K[b], out.Paint.S[b] = math.Exp(mean[b]), math.Exp(mean[Bands+b])
	}
	return &out
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

// ModesOf gives the principal axes of a covariance of log K and log S, scaled
// to one sigma, widest first: at most n, and none below 0.001.
func ModesOf(spread *mat.SymDense, n int) []Mode {
	var e mat.EigenSym
	if !e.Factorize(spread, true) {
		return nil
	}
	values := e.Values(nil) // ascending
	var vec mat.Dense
	e.VectorsTo(&vec)
	var out []Mode
	for c := unknowns - 1; c >= unknowns-n; c-- {
		sigma := math.Sqrt(max(values[c], 0))
		if sigma < 1e-3 {
			break
		}
		var m Mode
		for b := range m.DK {
			m.DK[b], m.DS[b] = sigma*vec.At(b, c), sigma*vec.At(Bands+b, c)
		}
		out = append(out, m)
	}
	return out
}

const unknowns = 2 * Bands // log K, then log S

// fit is one paint's problem. Its unknowns are log K, log S, and for each film
// whose parts are not exact how far they were off.
type fit struct {
	films   []Drawdown
	prior   Prior
	noise   Noise
	knownK  []Spectrum // per film: K and S of the known paints, in parts
	knownS  []Spectrum
	known   []float64       // per film: their parts
	portion []int           // per film: the unknown of its parts; -1 if they are exact
	count   int             // of unknowns
	metric  [][3][3]float64 // per film with a Lab colour: from a Lab step to unit residuals
	weight  [][]float64     // per film with a spectrum: inverse covariance of its bands, by rows
	solve   []float64       // room for a matrix
}

// normal is a point's normal equations: half the sum of squares there, minus
// its gradient, and the upper triangle of the Gauss–Newton matrix by rows.
type normal struct {
	cost       float64
	grad, hess []float64
}

// Fit estimates K and S, on the scale of the paints mixed with, from drawdowns
// of masstone and mixtures, spectra and Lab colours alike: a
// maximum-a-posteriori least-squares fit in log K and log S at 31 bands, with a
// Gaussian prior that is smooth along wavelength, by Gauss–Newton steps with
// Levenberg's damping. Any number of drawdowns will do; a masstone alone leaves
// the strength at its prior, and Spread says so. It errs on readings that are
// no colours and on films without the paint.
func Fit(films []Drawdown, p Prior, n Noise) (*Fitted, error) {
	if len(films) == 0 {
		return nil, errors.New("no readings to fit")
	}
	f := &fit{films: films, prior: p, noise: n, count: unknowns}
	for i := range films {
		d := &films[i]
		if len(d.With) != len(d.WithOf) {
			panic("optics: a drawdown needs as many parts as paints")
		}
		if !(d.Parts > 0) {
			return nil, fmt.Errorf("reading %d holds none of the paint", i+1)
		}
		f.metric, f.weight = append(f.metric, [3][3]float64{}), append(f.weight, nil)
		if c := d.Colour; c != nil {
			if v := c.L + c.A + c.B; math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fmt.Errorf("reading %d is no colour", i+1)
			}
			f.metric[i] = lab.Steps(*c)
		} else if err := d.Seen.Valid(); err != nil {
			return nil, fmt.Errorf("reading %d: %w", i+1, err)
		} else {
			f.weight[i] = n.weight(d)
		}
		var k, s Spectrum
		total := 0.0
		for j, q := range d.With {
			w := d.WithOf[j]
			total += w
			for b := range k {
				k[b] += w * q.K[b]
				s[b] += w * q.S[b]
			}
		}
		f.knownK, f.knownS, f.known = append(f.knownK, k), append(f.knownS, s), append(f.known, total)
		f.portion = append(f.portion, -1)
		if d.PortionSD > 0 && total > 0 {
			f.portion[i] = f.count
			f.count++
		}
	}
	x := f.start()
	m := len(x)
	f.solve = make([]float64, m*m)
	here, there := normal{grad: make([]float64, m), hess: make([]float64, m*m)}, normal{grad: make([]float64, m), hess: make([]float64, m*m)}
	step, trial := make([]float64, m), make([]float64, m)
	f.normal(x, &here)
	damp := 1e-3
	for range 100 {
		if !f.step(&here, damp, step) {
			if damp *= 10; damp > 1e12 {
				break
			}
			continue
		}
		for i := range trial {
			trial[i] = x[i] + max(-1.5, min(1.5, step[i]))
		}
		f.normal(trial, &there)
		if there.cost <= here.cost {
			done := here.cost-there.cost < settled*(1+here.cost)
			x, trial, here, there = trial, x, there, here
			damp = max(damp/5, 1e-9)
			if done {
				break
			}
		} else if damp *= 5; !(damp < 1e12) {
			break
		}
	}
	return f.result(x, &here)
}

// settled ends the steps: what the sum of squares still falls by, as a share.
const settled = 1e-11

func (f *fit) start() []float64 {
	x := make([]float64, f.count)
	copy(x, f.prior.mean[:])
	// A masstone's spectrum already gives K/S: begin there.
	for i := range f.films {
		if d := &f.films[i]; d.Colour == nil && f.known[i] == 0 {
			in := d.surface().Inside(d.Seen, d.Finish)
			for b := range in {
				x[b] = math.Log(max(RToKS(in[b]), 1e-5)) + x[Bands+b]
			}
			break
		}
	}
	return x
}

func (d *Drawdown) surface() Surface {
	if d.Surface != (Surface{}) {
		return d.Surface
	}
	return DrySurface
}

// factor is the Cholesky factor of a normal matrix with its diagonal raised,
// in the fit's own room.
func (f *fit) factor(at *normal, damp float64) (blas64.Triangular, bool) {
	n := len(at.grad)
	copy(f.solve, at.hess)
	for i := range n {
		f.solve[i*n+i] *= 1 + damp
	}
	return lapack64.Potrf(blas64.Symmetric{N: n, Stride: n, Data: f.solve, Uplo: blas.Upper})
}

func (f *fit) step(at *normal, damp float64, to []float64) bool {
	c, ok := f.factor(at, damp)
	if ok {
		copy(to, at.grad)
		x := blas64.Vector{N: len(to), Data: to, Inc: 1}
		blas64.Trsv(blas.Trans, c, x)
		blas64.Trsv(blas.NoTrans, c, x)
	}
	return ok
}

// normal sets up the normal equations at x.
func (f *fit) normal(x []float64, to *normal) {
	n := len(x)
	clear(to.hess)
	clear(to.grad)
	h, grad, cost := to.hess, to.grad, 0.0
	add := func(i, j int, v float64) { h[i*n+j] += v } // i <= j
	var away [unknowns]float64
	for i := range away {
		away[i] = x[i] - f.prior.mean[i]
	}
	prec := f.prior.precision.RawSymmetric() // upper triangle
	for i := range unknowns {
		row := prec.Data[i*prec.Stride : i*prec.Stride+unknowns]
		copy(h[i*n+i:i*n+unknowns], row[i:])
		grad[i] -= row[i] * away[i]
		cost += row[i] * away[i] * away[i] / 2
		for j := i + 1; j < unknowns; j++ {
			grad[i] -= row[j] * away[j]
			grad[j] -= row[j] * away[i]
			cost += row[j] * away[i] * away[j]
		}
	}
	var k, s [Bands]float64
	for b := range k {
		k[b], s[b] = math.Exp(x[b]), math.Exp(x[Bands+b])
	}
	for i := range f.films {
		d := &f.films[i]
		at, m := f.portion[i], 1.0
		if at >= 0 {
			w := 1 / (d.PortionSD * d.PortionSD)
			add(at, at, w)
			grad[at] -= w * x[at]
			cost += w * x[at] * x[at] / 2
			m = math.Exp(x[at])
		}
		seen, jk, js := f.seen(i, &k, &s, m)
		if d.Colour == nil {
			var off, slope Spectrum
			for b := range seen {
				off[b], slope[b] = seen[b]-d.Seen[b], jk[b]+js[b]
			}
			own := 0.0
			for b := range seen {
				// Residual and slope along the parts, weighed by all bands.
				e, g := 0.0, 0.0
				w := (*Spectrum)(f.weight[i][b*Bands:])
				kk := (*Spectrum)(h[b*n:])
				ks := (*Spectrum)(h[b*n+Bands:])
				ss := (*Spectrum)(h[(Bands+b)*n+Bands:])
				for q, v := range w {
					e += v * off[q]
					g += v * slope[q]
					ks[q] += v * jk[b] * js[q]
				}
				for q := b; q < Bands; q++ {
					kk[q] += w[q] * jk[b] * jk[q]
					ss[q] += w[q] * js[b] * js[q]
				}
				cost += e * off[b] / 2
				grad[b] -= jk[b] * e
				grad[Bands+b] -= js[b] * e
				if at >= 0 {
					grad[at] -= slope[b] * e
					add(b, at, jk[b]*g)
					add(Bands+b, at, js[b]*g)
					own += slope[b] * g
				}
			}
			if at >= 0 {
				add(at, at, own)
			}
			continue
		}
		c, da := labSlopes(&seen, d.Illuminant)
		off := [3]float64{c.L - d.Colour.L, c.A - d.Colour.A, c.B - d.Colour.B}
		sigma := math.Hypot(f.noise.Colour, d.ColourSD)
		var full [3][unknowns]float64
		var e, own [3]float64
		for r, row := range f.metric[i] {
			e[r] = (row[0]*off[0] + row[1]*off[1] + row[2]*off[2]) / sigma
			cost += e[r] * e[r] / 2
			for b := range seen {
				u := (row[0]*da[0][b] + row[1]*da[1][b] + row[2]*da[2][b]) / sigma
				full[r][b], full[r][Bands+b] = u*jk[b], u*js[b]
				own[r] += u * (jk[b] + js[b])
			}
			if at >= 0 {
				grad[at] -= own[r] * e[r]
				add(at, at, own[r]*own[r])
			}
		}
		for p := range unknowns {
			u, v, w := full[0][p], full[1][p], full[2][p]
			grad[p] -= u*e[0] + v*e[1] + w*e[2]
			row := (*[unknowns]float64)(h[p*n:])
			for q := p; q < unknowns; q++ {
				row[q] += u*full[0][q] + v*full[1][q] + w*full[2][q]
			}
			if at >= 0 {
				add(p, at, u*own[0]+v*own[1]+w*own[2])
			}
		}
	}
	to.cost = cost
}

// weight is the inverse covariance, by rows, of the bands of a film's spectrum.
func (n Noise) weight(d *Drawdown) []float64 {
	c := mat.NewSymDense(Bands, nil)
	for i, s := range d.Seen {
		if n.Run > 0 {
			for j := i; j < Bands; j++ {
				c.SetSym(i, j, n.Run*n.Run*s*d.Seen[j]*matern(float64(j-i), runBands))
			}
		}
		c.SetSym(i, i, c.At(i, i)+n.Floor*n.Floor+n.Share*n.Share*s*s+d.Spread[i]*d.Spread[i])
	}
	inv := inverse(c)
	out := make([]float64, 0, Bands*Bands)
	for i := range Bands {
		for j := range Bands {
			out = append(out, inv.At(i, j))
		}
	}
	return out
}

// seen is what film i reflects, with its parts of the fitted paint multiplied
// by m, and the slopes along log K and log S at each band.
func (f *fit) seen(i int, k, s *[Bands]float64, m float64) (r, jk, js Spectrum) {
	d := &f.films[i]
	sf := d.surface()
	parts := d.Parts * m
	for b := range r {
		kk, ss := f.knownK[i][b]+parts*k[b], f.knownS[i][b]+parts*s[b]
		q := kk / ss
		in := KSToR(q)
		r[b] = sf.Measured(in, d.Finish)
		// dR∞/dq = −R∞/√(q² + 2q); the rest is Saunderson's slope.
		den := 1 - sf.K2*in
		g := -in / math.Sqrt(q*(q+2)+1e-12) * (1 - sf.K1) * (1 - sf.K2) / (den * den)
		jk[b] = g * parts * k[b] / ss
		js[b] = -g * q * parts * s[b] / ss
	}
	return r, jk, js
}

// labSlopes gives a reflectance's Lab and its slopes along each band.
func labSlopes(r *Spectrum, il Illuminant) (c lab.Lab, d [3]Spectrum) {
	t, w := r.XYZ(il), il.White()
	c = lab.FromXYZ(t, w)
	slope := func(v, white float64) float64 {
		if v /= white; v > 216.0/24389 {
			return math.Pow(v, -2.0/3) / (3 * white)
		}
		return 24389.0 / (27 * 116 * white)
	}
	fx, fy, fz := slope(t.X, w.X), slope(t.Y, w.Y), slope(t.Z, w.Z)
	wx, wy, wz := il.Weights()
	for b := range r {
		d[0][b] = 116 * fy * wy[b]
		d[1][b] = 500 * (fx*wx[b] - fy*wy[b])
		d[2][b] = 200 * (fy*wy[b] - fz*wz[b])
	}
	return c, d
}

func (f *fit) result(x []float64, at *normal) (*Fitted, error) {
	bad := errors.New("the readings lead to no paint; check the parts and the colours")
	out := &Fitted{}
	for b := range out.Paint.K {
		k, s := math.Exp(x[b]), math.Exp(x[Bands+b])
		if !(k > 0) || !(s > 0) || math.IsInf(k, 0) || math.IsInf(s, 0) {
			return nil, bad
		}
		out.Paint.K[b], out.Paint.S[b] = k, s
	}
	n := len(x)
	c, ok := f.factor(at, 0)
	if !ok {
		return nil, bad
	}
	logDet := 0.0
	for i := range n {
		logDet += 2 * math.Log(c.Data[i*n+i])
	}
	if math.IsNaN(logDet) || math.IsInf(logDet, 0) {
		return nil, bad
	}
	out.Evidence = -at.cost + f.prior.logDet/2 - logDet/2
	inv, ok := lapack64.Potri(c)
	if !ok {
		return nil, bad
	}
	out.Spread = mat.NewSymDense(unknowns, nil)
	for i := range unknowns {
		for j := i; j < unknowns; j++ {
			out.Spread.SetSym(i, j, inv.Data[i*n+j])
		}
	}

	// Residuals, and how many unknowns they determine: n − tr(H⁻¹·prior).
	count := 0
	for i := range f.films {
		if f.films[i].Colour == nil {
			count += Bands
		} else {
			count += 3
		}
	}
	determined := float64(n)
	priorCost := 0.0
	for i := range unknowns {
		s := 0.0
		for j := range unknowns {
			p := f.prior.precision.At(i, j)
			determined -= out.Spread.At(i, j) * p
			s += p * (x[j] - f.prior.mean[j])
		}
		priorCost += s * (x[i] - f.prior.mean[i]) / 2
	}
	for i, at := range f.portion {
		if at >= 0 {
			w := 1 / (f.films[i].PortionSD * f.films[i].PortionSD)
			determined -= inv.Data[at*n+at] * w
			priorCost += w * x[at] * x[at] / 2
		}
	}
	out.Misfit, out.Free = 2*(at.cost-priorCost), float64(count)-determined
	return out, nil
}

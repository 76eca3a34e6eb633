package inventory

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Fitting one tube to its readings, spectra and Lab colours alike: a
// maximum-a-posteriori least-squares fit in log K and log S at 31 bands, with
// a Gaussian prior that is smooth along wavelength, and one unknown more for
// each mixed drawdown, how far its parts were off.
//
// The figures below were chosen by three measures together, not by any one:
// leave-one-out over the measured oil films of Geldof et al. (Heritage Science
// 6:17, 2018), and chromatic 1:1 mixes of the two acrylic sets (Berns 2016;
// Okumura 2005) foretold from synthesised masstones and tints with 5 %
// portioning error, each set with the other's paints as prior and with none.

// noise is what a reading is worth. Nearly all that the theory misses of a
// film runs smoothly along wavelength: taken as errors of single bands it
// would average out over them, and the fit would believe itself far too much.
type noise struct {
	floor   float64 // of a reflectance: repeatability
	share   float64 // of a reflectance, in proportion: what the theory misses band by band
	run     float64 // of a reflectance, in proportion: what it misses along wavelength
	colour  float64 // of a Lab reading, ΔE00
	portion float64 // of the parts, natural logarithm
}

const runBands = 8 // correlation length of run

var usualNoise = noise{floor: 0.002, share: 0.01, run: 0.06, colour: 1, portion: 0.05}

// scaled is the noise of readings that turn out better or worse than usual.
func (n noise) scaled(f float64) noise {
	return noise{n.floor * f, n.share * f, n.run * f, n.colour * f, n.portion}
}

const unknowns = 2 * optics.Bands // log K, then log S

// prior is what is believed of a paint before its readings.
type prior struct {
	mean      [unknowns]float64
	precision *mat.SymDense
	logDet    float64 // of the precision
}

// Between one maker's paint and another's of the same code, log K and log S
// differ by a level that both share mostly (tinting strength), and by smooth
// curves: most where the paint is clear, where neither masstone nor tints show
// K or S by itself. Over the nine codes that both acrylic sets hold, levels of
// S lie 0.4 apart (root mean square), single bands 0.3 to 0.9 from there.
const (
	codeLevel, codeLevelTie = 0.6, 0.8 // sd of either level; their correlation
	codeCurveK, codeCurveS  = 1.0, 0.6
	curveBands              = 7 // correlation length
)

// With no code: the level of K anywhere and its slope free to follow an edge;
// S smooth about a level. Over the 39 paints of the two acrylic sets the
// level of log S has a standard deviation of 0.9, and single bands lie 0.7
// from it.
const (
	openLevelK, openBendK  = 3, 1
	openLevelS, openCurveS = 0.9, 0.5
	openK, openS           = 0.1, 0.08
)

// Three numbers a reading cannot tell the shape of S from that of K: S is held
// to a level and a tilt.
const labLevelS, labBendS = 1.2, 0.05

// codeWeightS is how far one maker's S tells another's. Makers of one code lie
// about 0.5 apart in log S, pigments 0.75 from their common mean: alone that
// would make it 0.75²/(0.75² + 0.5²) of the way from the mean to the one known.
// But grades of one code, opaque and transparent, differ much more, and spectra
// say little against a wrong S; less trust foretells 1:1 mixes of the other
// maker's paints better. K, which differs much more between pigments, is taken
// as it is.
const codeWeightS = 0.3

// coded is the prior for a tube of a known code. Colours alone cannot tell K
// from S, so that for them the pair is better left together.
func coded(p *optics.Paint, spectra bool) prior {
	if !spectra {
		return centredOn(p, codePrecision)
	}
	q := *p
	for i := range q.S {
		q.S[i] = openS * math.Pow(max(q.S[i], 1e-7)/openS, codeWeightS)
	}
	return centredOn(&q, codePrecision)
}

func centredOn(p *optics.Paint, precision *mat.SymDense) prior {
	pr := prior{precision: precision}
	for i := range p.K {
		pr.mean[i] = math.Log(max(p.K[i], 1e-7))
		pr.mean[optics.Bands+i] = math.Log(max(p.S[i], 1e-7))
	}
	var c mat.Cholesky
	if !c.Factorize(precision) {
		panic("inventory: a prior is not positive definite")
	}
	pr.logDet = c.LogDet()
	return pr
}

// matern is the Matérn correlation of order 5/2 at a distance in bands, for a
// correlation length in bands.
func matern(d, length float64) float64 {
	a := math.Sqrt(5) * d / length
	return (1 + a + a*a/3) * math.Exp(-a)
}

// curves fills the covariance block of one quantity: a level and smooth
// curves about it.
func curves(c *mat.SymDense, at int, level, curve float64) {
	for i := range optics.Bands {
		for j := i; j < optics.Bands; j++ {
			v := level*level + curve*curve*matern(float64(j-i), curveBands)
			if i == j {
				v += 1e-6
			}
			c.SetSym(at+i, at+j, v)
		}
	}
}

// bends adds the precision of a curve whose level lies within level and whose
// second differences lie within bend.
func bends(m *mat.SymDense, at int, level, bend float64) {
	for i := range optics.Bands {
		m.SetSym(at+i, at+i, m.At(at+i, at+i)+1/(level*level*optics.Bands))
	}
	d := [3]float64{1, -2, 1}
	for i := 0; i+2 < optics.Bands; i++ {
		for a := range 3 {
			for b := a; b < 3; b++ {
				m.SetSym(at+i+a, at+i+b, m.At(at+i+a, at+i+b)+d[a]*d[b]/(bend*bend))
			}
		}
	}
}

func inverse(c *mat.SymDense) *mat.SymDense {
	var ch mat.Cholesky
	if !ch.Factorize(c) {
		panic("inventory: a prior is not positive definite")
	}
	p := mat.NewSymDense(c.SymmetricDim(), nil)
	if err := ch.InverseTo(p); err != nil {
		panic("inventory: " + err.Error())
	}
	return p
}

var (
	codePrecision = func() *mat.SymDense {
		c := mat.NewSymDense(unknowns, nil)
		curves(c, 0, codeLevel, codeCurveK)
		curves(c, optics.Bands, codeLevel, codeCurveS)
		for i := range optics.Bands {
			for j := range optics.Bands {
				c.SetSym(i, optics.Bands+j, codeLevelTie*codeLevel*codeLevel)
			}
		}
		return inverse(c)
	}()
	openPrecision = func() *mat.SymDense {
		c := mat.NewSymDense(unknowns, nil)
		curves(c, 0, 1, 1) // replaced below
		curves(c, optics.Bands, openLevelS, openCurveS)
		p := inverse(c)
		for i := range optics.Bands {
			for j := i; j < optics.Bands; j++ {
				p.SetSym(i, j, 0)
			}
		}
		bends(p, 0, openLevelK, openBendK)
		return p
	}()
	labPrecision = func() *mat.SymDense {
		p := mat.NewSymDense(unknowns, nil)
		bends(p, 0, openLevelK, openBendK)
		bends(p, optics.Bands, labLevelS, labBendS)
		return p
	}()
	whitePrecision = func() *mat.SymDense { // S stays
		p := mat.NewSymDense(unknowns, nil)
		bends(p, 0, 1, 0.1)
		for i := range optics.Bands {
			p.SetSym(optics.Bands+i, optics.Bands+i, 1e8)
		}
		return p
	}()
)

// fitted is a paint and how well it stands.
type fitted struct {
	paint    optics.Paint
	spread   *mat.SymDense // covariance of log K and log S: what the readings leave open
	evidence float64       // log probability of the readings, up to what priors share
	misfit   float64       // sum of squared residuals in units of the noise
	free     float64       // number of residuals less the number of unknowns they determine
}

// fit is one tube's problem.
type fit struct {
	films  []film
	prior  prior
	noise  noise
	knownK []optics.Spectrum // per film: K and S of the known paints, in parts
	knownS []optics.Spectrum
	known  []float64       // per film: their parts
	metric [][3][3]float64 // per film: from a Lab step to unit residuals
	weight [][]float64     // per film with a spectrum: inverse covariance of its bands, by rows
	solve  []float64       // room for a matrix
}

// normal is a point's normal equations: half the sum of squares there, minus
// its gradient, and the upper triangle of the Gauss–Newton matrix by rows.
type normal struct {
	cost       float64
	grad, hess []float64
}

// fitTo fits films, already merged, from a prior.
func fitTo(films []film, p prior, nz noise) (fitted, error) {
	f := &fit{films: films, prior: p, noise: nz}
	for i := range films {
		var k, s optics.Spectrum
		total := 0.0
		for j, q := range films[i].with {
			w := films[i].withOf[j]
			total += w
			for b := range k {
				k[b] += w * q.K[b]
				s[b] += w * q.S[b]
			}
		}
		f.knownK, f.knownS, f.known = append(f.knownK, k), append(f.knownS, s), append(f.known, total)
		f.metric = append(f.metric, unitResiduals(films[i].Colour()))
		f.weight = append(f.weight, nz.weight(films[i].Spectrum))
	}
	x := f.start()
	n := len(x)
	f.solve = make([]float64, n*n)
	here, there := normal{grad: make([]float64, n), hess: make([]float64, n*n)}, normal{grad: make([]float64, n), hess: make([]float64, n*n)}
	step, trial := make([]float64, n), make([]float64, n)
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
			done := here.cost-there.cost < 1e-7*(1+here.cost)
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

func (f *fit) start() []float64 {
	x := make([]float64, unknowns+len(f.films))
	copy(x, f.prior.mean[:])
	// A masstone's spectrum already gives K/S: begin there.
	for i := range f.films {
		if d := &f.films[i]; d.Spectrum != nil && f.known[i] == 0 {
			in := optics.DrySurface.Inside(*d.Spectrum, d.Finish)
			for b := range in {
				x[b] = math.Log(max(optics.RToKS(in[b]), 1e-5)) + x[optics.Bands+b]
			}
			break
		}
	}
	return x
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
	var k, s [optics.Bands]float64
	for b := range k {
		k[b], s[b] = math.Exp(x[b]), math.Exp(x[optics.Bands+b])
	}
	for i := range f.films {
		at := unknowns + i
		w := 1 / (f.noise.portion * f.noise.portion)
		add(at, at, w)
		grad[at] -= w * x[at]
		cost += w * x[at] * x[at] / 2
		seen, jk, js := f.seen(i, &k, &s, math.Exp(x[at]))
		d := &f.films[i]
		if d.Spectrum != nil {
			var off, slope optics.Spectrum
			for b := range seen {
				off[b], slope[b] = seen[b]-d.Spectrum[b], jk[b]+js[b]
			}
			own := 0.0
			for b := range seen {
				// Residual and slope along the parts, weighed by all bands.
				e, g := 0.0, 0.0
				w := (*optics.Spectrum)(f.weight[i][b*optics.Bands:])
				kk := (*optics.Spectrum)(h[b*n:])
				ks := (*optics.Spectrum)(h[b*n+optics.Bands:])
				ss := (*optics.Spectrum)(h[(optics.Bands+b)*n+optics.Bands:])
				for q, v := range w {
					e += v * off[q]
					g += v * slope[q]
					ks[q] += v * jk[b] * js[q]
				}
				for q := b; q < optics.Bands; q++ {
					kk[q] += w[q] * jk[b] * jk[q]
					ss[q] += w[q] * js[b] * js[q]
				}
				cost += e * off[b] / 2
				grad[b] -= jk[b] * e
				grad[optics.Bands+b] -= js[b] * e
				grad[at] -= slope[b] * e
				add(b, at, jk[b]*g)
				add(optics.Bands+b, at, js[b]*g)
				own += slope[b] * g
			}
			add(at, at, own)
			continue
		}
		c, da := labSlopes(&seen, d.Illuminant)
		off := [3]float64{c.L - d.Lab.L, c.A - d.Lab.A, c.B - d.Lab.B}
		sigma := math.Hypot(f.noise.colour, d.Uncertainty)
		var full [3][unknowns]float64
		var e, own [3]float64
		for r, row := range f.metric[i] {
			e[r] = (row[0]*off[0] + row[1]*off[1] + row[2]*off[2]) / sigma
			cost += e[r] * e[r] / 2
			for b := range seen {
				u := (row[0]*da[0][b] + row[1]*da[1][b] + row[2]*da[2][b]) / sigma
				full[r][b], full[r][optics.Bands+b] = u*jk[b], u*js[b]
				own[r] += u * (jk[b] + js[b])
			}
			grad[at] -= own[r] * e[r]
			add(at, at, own[r]*own[r])
		}
		for p := range unknowns {
			u, v, w := full[0][p], full[1][p], full[2][p]
			grad[p] -= u*e[0] + v*e[1] + w*e[2]
			row := (*[unknowns]float64)(h[p*n:])
			for q := p; q < unknowns; q++ {
				row[q] += u*full[0][q] + v*full[1][q] + w*full[2][q]
			}
			add(p, at, u*own[0]+v*own[1]+w*own[2])
		}
	}
	to.cost = cost
}

// weight is the inverse covariance, by rows, of the bands of a spectrum; nil
// for none.
func (n noise) weight(s *optics.Spectrum) []float64 {
	if s == nil {
		return nil
	}
	c := mat.NewSymDense(optics.Bands, nil)
	for i := range s {
		for j := i; j < optics.Bands; j++ {
			c.SetSym(i, j, n.run*n.run*s[i]*s[j]*matern(float64(j-i), runBands))
		}
		c.SetSym(i, i, c.At(i, i)+n.floor*n.floor+n.share*n.share*s[i]*s[i])
	}
	inv := inverse(c)
	out := make([]float64, 0, optics.Bands*optics.Bands)
	for i := range s {
		for j := range s {
			out = append(out, inv.At(i, j))
		}
	}
	return out
}

// seen is what film i reflects, with its parts of the fitted paint multiplied
// by m, and the slopes along log K and log S at each band.
func (f *fit) seen(i int, k, s *[optics.Bands]float64, m float64) (r, jk, js optics.Spectrum) {
	sf := optics.DrySurface
	d := &f.films[i]
	parts := d.Paint * m
	for b := range r {
		kk, ss := f.knownK[i][b]+parts*k[b], f.knownS[i][b]+parts*s[b]
		q := kk / ss
		in := optics.KSToR(q)
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
func labSlopes(r *optics.Spectrum, il optics.Illuminant) (c lab.Lab, d [3]optics.Spectrum) {
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

// unitResiduals gives the matrix that turns a small Lab difference at c into
// lightness, chroma and hue differences weighted as in CIEDE2000, without its
// turn in the blues.
func unitResiduals(c lab.Lab) (m [3][3]float64) {
	t := math.Pow(c.Chroma(), 7)
	g := 0.5 * (1 - math.Sqrt(t/(t+6103515625))) // 25⁷
	a := c.A * (1 + g)
	ch := math.Hypot(a, c.B)
	cos, sin := 1.0, 0.0
	if ch > 1e-6 {
		cos, sin = a/ch, c.B/ch
	}
	l2 := (c.L - 50) * (c.L - 50)
	sl, sc, sh := 1+0.015*l2/math.Sqrt(20+l2), 1+0.045*ch, 1+0.015*ch
	m[0][0] = 1 / sl
	m[1] = [3]float64{0, (1 + g) * cos / sc, sin / sc}
	m[2] = [3]float64{0, -(1 + g) * sin / sh, cos / sh}
	return m
}

func (f *fit) result(x []float64, at *normal) (fitted, error) {
	bad := errors.New("the readings lead to no paint; check the parts and the colours")
	var out fitted
	for b := range out.paint.K {
		k, s := math.Exp(x[b]), math.Exp(x[optics.Bands+b])
		if !(k > 0) || !(s > 0) || math.IsInf(k, 0) || math.IsInf(s, 0) {
			return fitted{}, bad
		}
		out.paint.K[b], out.paint.S[b] = k, s
	}
	n := len(x)
	c, ok := f.factor(at, 0)
	if !ok {
		return fitted{}, bad
	}
	logDet := 0.0
	for i := range n {
		logDet += 2 * math.Log(c.Data[i*n+i])
	}
	if math.IsNaN(logDet) || math.IsInf(logDet, 0) {
		return fitted{}, bad
	}
	out.evidence = -at.cost + f.prior.logDet/2 - logDet/2
	inv, ok := lapack64.Potri(c)
	if !ok {
		return fitted{}, bad
	}
	out.spread = mat.NewSymDense(unknowns, nil)
	for i := range unknowns {
		for j := i; j < unknowns; j++ {
			out.spread.SetSym(i, j, inv.Data[i*n+j])
		}
	}

	// Residuals, and how many unknowns they determine: n − tr(H⁻¹·prior).
	count := 0
	for i := range f.films {
		if f.films[i].Spectrum != nil {
			count += optics.Bands
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
			determined -= out.spread.At(i, j) * p
			s += p * (x[j] - f.prior.mean[j])
		}
		priorCost += s * (x[i] - f.prior.mean[i]) / 2
	}
	w := 1 / (f.noise.portion * f.noise.portion)
	for i := unknowns; i < n; i++ {
		determined -= inv.Data[i*n+i] * w
		priorCost += w * x[i] * x[i] / 2
	}
	out.misfit, out.free = 2*(at.cost-priorCost), float64(count)-determined
	return out, nil
}

// modes gives the principal axes of what a fit leaves open of log K and log S,
// scaled to one sigma, widest first.
func (f *fitted) modes() []optics.Mode {
	var e mat.EigenSym
	if !e.Factorize(f.spread, true) {
		return nil
	}
	values := e.Values(nil) // ascending
	var vec mat.Dense
	e.VectorsTo(&vec)
	var out []optics.Mode
	for c := unknowns - 1; c >= unknowns-keptModes; c-- {
		sigma := math.Sqrt(max(values[c], 0))
		if sigma < 1e-3 {
			break
		}
		var m optics.Mode
		for b := range m.DK {
			m.DK[b], m.DS[b] = sigma*vec.At(b, c), sigma*vec.At(optics.Bands+b, c)
		}
		out = append(out, m)
	}
	return out
}

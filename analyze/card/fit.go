package card

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/interp"
	"gonum.org/v1/gonum/mat"

	"paintout/analyze/lab"
)

// One least-squares fit explains chart and paper together:
//
//   - a monotone curve, the same in all channels, from the light that the file
//     states to light: phones bake a tone curve in. Its knots are the chart's
//     greys, joined by monotone cubics (Fritsch & Butland, SIAM J. Sci. Stat.
//     Comput. 5, 1984) in logarithms;
//   - a smooth gain over the picture, the exponential of a polynomial of second
//     degree: light falls off, and lenses darken corners;
//   - the colours: linear, XYZ = M·(r, g, b), or root-polynomial of second
//     degree, XYZ = M·(r, g, b, √rg, √gb, √rb), which like the linear one does
//     not change with exposure (Finlayson, Mackiewicz & Hurlbert, IEEE Trans.
//     Image Process. 24, 2015).
//
// Residuals are in steps of CIEDE2000; priors are Gaussian.

// Priors, one standard deviation.
const (
	curveBend  = 0.35 // of the logarithm of the curve's slope against sRGB's
	curveTurn  = 0.30 // of its change from knot to knot
	gainTilt   = 0.6  // of the gain's logarithm over half the picture
	gainBow    = 0.25
	paperNoise = 0.012 // of paper's light from place to place, logarithm
	rootTerm   = 0.5   // of a root's coefficient beside the others'
	beyond     = 0.05  // how far a channel cut off at 0 would lie below it, as a share of the largest …
	beyondBy   = 0.06  // … and its spread
	mostOff    = 2.5   // residual from which a patch counts less
)

const gainTerms = 5

// A spotted patch of the chart.
type chartPatch struct {
	light  [3]float64
	at     [2]float64
	weight float64 // 0: not used
	cut    int     // channel that the picture cannot hold, being below 0; −1 for none
}

// model is what takes light in the picture to colour.
type model struct {
	knots  []float64 // logarithms of light
	terms  int       // colours: 3 or 6
	origin [2]float64
	span   float64 // half the longer side of the picture
	p      []float64
	cov    *mat.SymDense // of p
}

// Where parameters stand: slopes of the curve, gain, paper, colours, and what
// was cut off at 0 of patches too strong for the picture's colour space.
func (m *model) slopes() []float64 { return m.p[:len(m.knots)-1] }
func (m *model) gain() []float64 {
	n := len(m.knots) - 1
	return m.p[n : n+gainTerms]
}
func (m *model) paper() int { return len(m.knots) - 1 + gainTerms }
func (m *model) colours() []float64 {
	return m.p[m.paper()+1 : m.paper()+1+3*m.terms]
}
func (m *model) cuts() []float64 { return m.p[m.paper()+1+3*m.terms:] }

// basis is the gain's polynomial at a place.
func (m *model) basis(at [2]float64) [gainTerms]float64 {
	x, y := (at[0]-m.origin[0])/m.span, (at[1]-m.origin[1])/m.span
	return [gainTerms]float64{x, y, x * x, x * y, y * y}
}

// falloff is the logarithm of the gain at a place, 0 at the origin.
func (m *model) falloff(at [2]float64) float64 {
	s := 0.0
	for i, b := range m.basis(at) {
		s += b * m.gain()[i]
	}
	return s
}

// curve is the tone curve of the present parameters.
type curve struct {
	in, out     []float64
	fb          interp.FritschButland
	first, last float64 // slopes of the end pieces
}

func (m *model) curve() *curve {
	c := &curve{in: m.knots, out: make([]float64, len(m.knots))}
	s := m.slopes()
	for i := 1; i < len(c.out); i++ {
		c.out[i] = c.out[i-1] + math.Exp(s[i-1])*(c.in[i]-c.in[i-1])
	}
	// The middle grey stays.
	mid := len(c.out) / 2
	off := c.in[mid] - c.out[mid]
	for i := range c.out {
		c.out[i] += off
	}
	if err := c.fb.Fit(c.in, c.out); err != nil {
		panic("card: " + err.Error()) // knots are distinct and in order
	}
	c.first, c.last = math.Exp(s[0]), math.Exp(s[len(s)-1])
	return c
}

// log is the logarithm of the light that stands behind what the file states.
func (c *curve) log(v float64) float64 {
	l := math.Log(max(v, 1e-4))
	n := len(c.in) - 1
	switch {
	case l <= c.in[0]:
		return c.out[0] + c.first*(l-c.in[0])
	case l >= c.in[n]:
		return c.out[n] + c.last*(l-c.in[n])
	}
	return c.fb.Predict(l)
}

// colour is the colour of light at a place.
func (m *model) colour(c *curve, light [3]float64, at [2]float64) lab.Lab {
	return m.colourCut(c, light, at, -1, 0)
}

// colourCut is colour where a channel that was cut off lies so far below 0,
// as a share of the largest.
func (m *model) colourCut(c *curve, light [3]float64, at [2]float64, cut int, by float64) lab.Lab {
	s := m.falloff(at)
	var v [6]float64
	for k, x := range light {
		v[k] = math.Exp(c.log(x) - s)
	}
	root := func(a, b float64) float64 { return math.Sqrt(max(0, a*b)) }
	if cut >= 0 {
		v[cut] -= by * max(v[0], v[1], v[2])
	}
	v[3], v[4], v[5] = root(v[0], v[1]), root(v[1], v[2]), root(v[0], v[2])
	var t [3]float64
	for k := range t {
		for j := range m.terms {
			t[k] += m.colours()[k*m.terms+j] * v[j]
		}
	}
	return lab.FromXYZ(lab.XYZ{X: t[0], Y: t[1], Z: t[2]}, lab.D65)
}

func stepsBetween(m *[3][3]float64, c, from lab.Lab) (r [3]float64) {
	d := [3]float64{c.L - from.L, c.A - from.A, c.B - from.B}
	for i := range r {
		r[i] = m[i][0]*d[0] + m[i][1]*d[1] + m[i][2]*d[2]
	}
	return r
}

// evidence is what a model is fitted to.
type evidence struct {
	patches [24]chartPatch
	paper   *paper
	metric  [24][3][3]float64
	target  [24]lab.Lab
	huber   [24]float64
	// toned is the curve that paper is seen through, from the round before:
	// paper says how light falls off, and a shadow on it must not bend the curve.
	toned *curve
}

func newEvidence(patches [24]chartPatch, pp *paper) *evidence {
	e := &evidence{patches: patches, paper: pp}
	for i := range Reference {
		e.target[i] = Reference[i].Lab()
		e.metric[i] = lab.Steps(e.target[i])
		e.huber[i] = 1
	}
	return e
}

// residuals lists all residuals in units of their noise; without leaves one
// patch out, −1 none.
func (e *evidence) residuals(m *model, without int, dst []float64) []float64 {
	dst = dst[:0]
	c := m.curve()
	cuts := m.cuts()
	for i := range e.patches {
		q := &e.patches[i]
		by := 0.0
		if q.cut >= 0 {
			by, cuts = cuts[0], cuts[1:]
			dst = append(dst, (by-beyond)/beyondBy)
		}
		w := math.Sqrt(q.weight * e.huber[i])
		if i == without || w == 0 {
			dst = append(dst, 0, 0, 0)
			continue
		}
		r := stepsBetween(&e.metric[i], m.colourCut(c, q.light, q.at, q.cut, by), e.target[i])
		dst = append(dst, w*r[0], w*r[1], w*r[2])
	}
	if e.paper != nil {
		for i, v := range e.paper.light {
			mean := (e.toned.log(v[0]) + e.toned.log(v[1]) + e.toned.log(v[2])) / 3
			d := (mean - m.falloff(e.paper.at[i]) - m.p[m.paper()]) / paperNoise
			dst = append(dst, d)
		}
	}
	s := m.slopes()
	for i, v := range s {
		dst = append(dst, v/curveBend)
		if i > 0 {
			dst = append(dst, (v-s[i-1])/curveTurn)
		}
	}
	for i, v := range m.gain() {
		if i < 2 {
			dst = append(dst, v/gainTilt)
		} else {
			dst = append(dst, v/gainBow)
		}
	}
	if m.terms > 3 {
		size := 0.0
		for k := range 3 {
			size += math.Abs(m.colours()[k*m.terms+k]) / 3
		}
		for k := range 3 {
			for j := 3; j < m.terms; j++ {
				dst = append(dst, m.colours()[k*m.terms+j]/(rootTerm*max(size, 1e-6)))
			}
		}
	}
	if e.paper == nil {
		dst = append(dst, m.p[m.paper()]) // nothing else holds it
	}
	return dst
}

// fit moves the model's parameters to the least sum of squares, by Levenberg
// and Marquardt's method, and sets their covariance.
func (e *evidence) fit(m *model, without, rounds int) {
	n := len(m.p)
	r := e.residuals(m, without, nil)
	cost := sum2(r)
	damp := 1e-3
	var trial []float64
	var jac *mat.Dense
	for round := range rounds {
		jac = e.jacobian(m, without, r, jac)
		var h mat.Dense
		h.Mul(jac.T(), jac)
		grad := mat.NewVecDense(n, nil)
		grad.MulVec(jac.T(), mat.NewVecDense(len(r), r))
		gained := 0.0
		for damp < 1e9 {
			a := mat.NewSymDense(n, nil)
			for i := range n {
				for j := i; j < n; j++ {
					a.SetSym(i, j, h.At(i, j))
				}
				a.SetSym(i, i, h.At(i, i)*(1+damp)+1e-12)
			}
			var ch mat.Cholesky
			var step mat.VecDense
			if !ch.Factorize(a) || ch.SolveVecTo(&step, grad) != nil {
				damp *= 10
				continue
			}
			old := slices.Clone(m.p)
			for i := range m.p {
				m.p[i] -= step.AtVec(i)
			}
			for i := range m.slopes() {
				m.p[i] = max(-1.5, min(1.5, m.p[i]))
			}
			trial = e.residuals(m, without, trial)
			if c := sum2(trial); c < cost {
				gained, cost = cost-c, c
				r, trial = trial, r
				damp = max(damp/8, 1e-9)
				break
			}
			copy(m.p, old)
			damp *= 8
		}
		if gained < 1e-6*(1+cost) || round == rounds-1 {
			break
		}
	}
	if without >= 0 {
		return
	}
	jac = e.jacobian(m, without, r, jac)
	a := mat.NewSymDense(n, nil)
	a.SymOuterK(1, jac.T())
	for i := range n {
		a.SetSym(i, i, a.At(i, i)*(1+1e-9)+1e-12)
	}
	var ch mat.Cholesky
	m.cov = mat.NewSymDense(n, nil)
	if ch.Factorize(a) {
		if err := ch.InverseTo(m.cov); err != nil {
			m.cov.Zero()
		}
	}
}

func sum2(v []float64) (s float64) {
	for _, x := range v {
		s += x * x
	}
	return s
}

func (e *evidence) jacobian(m *model, without int, r []float64, to *mat.Dense) *mat.Dense {
	if to == nil {
		to = mat.NewDense(len(r), len(m.p), nil)
	}
	var off []float64
	for j := range m.p {
		old := m.p[j]
		h := 1e-5 * max(1, math.Abs(old))
		m.p[j] += h
		off = e.residuals(m, without, off)
		m.p[j] = old
		for i := range off {
			to.Set(i, j, (off[i]-r[i])/h)
		}
	}
	return to
}

// start is the model before fitting: no curve, no fall-off, and the linear
// colours that suit the patches.
func (e *evidence) start(terms int, origin [2]float64, span float64) *model {
	m := &model{terms: terms, origin: origin, span: span}
	for i := 23; i >= firstNeutral; i-- {
		q := &e.patches[i]
		if q.weight == 0 {
			continue
		}
		v := logLight(q.light)
		if n := len(m.knots); n == 0 || v > m.knots[n-1]+0.05 {
			m.knots = append(m.knots, v)
		}
	}
	if len(m.knots) < 3 {
		return nil
	}
	// The ends reach as far as any channel of the greys does.
	for i := firstNeutral; i < 24; i++ {
		if q := &e.patches[i]; q.weight > 0 {
			m.knots[0] = min(m.knots[0], math.Log(max(slices.Min(q.light[:]), 1e-4)))
			m.knots[len(m.knots)-1] = max(m.knots[len(m.knots)-1], math.Log(max(slices.Max(q.light[:]), 1e-4)))
		}
	}
	n := len(m.knots) - 1 + gainTerms + 1 + 3*terms
	m.p = make([]float64, n, n+24)
	for i := range e.patches {
		if e.patches[i].cut >= 0 {
			m.p = append(m.p, beyond)
		}
	}
	if e.paper != nil {
		for _, v := range e.paper.light {
			m.p[m.paper()] += logLight(v) / float64(len(e.paper.light))
		}
	}
	a := mat.NewDense(24, 3, nil)
	y := mat.NewDense(24, 3, nil)
	for i := range e.patches {
		q := &e.patches[i]
		x := Reference[i].XYZ
		w := math.Sqrt(q.weight) / (x.Y + 5) // about even steps of lightness
		for k, t := range [3]float64{x.X, x.Y, x.Z} {
			a.Set(i, k, w*q.light[k])
			y.Set(i, k, w*t)
		}
	}
	var c mat.Dense
	if err := c.Solve(a, y); err != nil {
		return nil
	}
	for k := range 3 {
		for j := range 3 {
			m.colours()[k*terms+j] = c.At(j, k)
		}
	}
	return m
}

// shown is each patch's colour by the model.
func (e *evidence) shown(m *model) (out [24]lab.Lab) {
	c := m.curve()
	cuts := m.cuts()
	for i := range e.patches {
		q, by := &e.patches[i], 0.0
		if q.cut >= 0 {
			by, cuts = cuts[0], cuts[1:]
		}
		out[i] = m.colourCut(c, q.light, q.at, q.cut, by)
	}
	return out
}

// solved is a fitted model and how well it stands.
type solved struct {
	model    *model
	evidence *evidence
	shown    [24]lab.Lab // each patch by the fit
	fitted   [24]float64 // ΔE00 of each patch
	leftOut  [24]float64 // foretold from the others
	spread   float64     // of those not cut off: along each of lightness, chroma and hue
}

// solve fits one kind of colours; nil where the chart does not allow it.
func (e *evidence) solve(terms int, origin [2]float64, span float64) *solved {
	m := e.start(terms, origin, span)
	if m == nil {
		return nil
	}
	for i := range e.huber {
		e.huber[i] = 1
	}
	for range 3 {
		e.toned = m.curve()
		e.fit(m, -1, 30)
		for i, c := range e.shown(m) {
			r := stepsBetween(&e.metric[i], c, e.target[i])
			e.huber[i] = 1
			if d := math.Sqrt(sum2(r[:]) / 3); d > mostOff {
				e.huber[i] = mostOff / d
			}
		}
	}
	s := &solved{model: m, evidence: e}
	used := 0.0
	s.shown = e.shown(m)
	for i, q := range e.patches {
		s.fitted[i] = lab.DE00(s.shown[i], e.target[i])
		o := *m
		o.p = slices.Clone(m.p)
		e.fit(&o, i, 4)
		got := e.shown(&o)[i]
		s.leftOut[i] = lab.DE00(got, e.target[i])
		if q.weight > 0 && q.cut < 0 {
			r := stepsBetween(&e.metric[i], got, e.target[i])
			s.spread += e.huber[i] * sum2(r[:]) / 3
			used++
		}
	}
	s.spread = math.Sqrt(s.spread / max(used, 1))
	return s
}

// best fits the chart with linear colours, and with root-polynomial ones where
// they foretell patches that were left out better.
func (e *evidence) best(origin [2]float64, span float64) *solved {
	linear := e.solve(3, origin, span)
	if linear == nil {
		return nil
	}
	if roots := e.solve(6, origin, span); roots != nil && roots.spread < 0.97*linear.spread {
		return roots
	}
	for i := range e.huber { // as the linear fit left them
		e.huber[i] = 1
	}
	return linear
}

// open is what the fit leaves open of a colour, a standard deviation along
// each of lightness, chroma and hue.
func (s *solved) open(light [3]float64, at [2]float64) float64 {
	m := s.model
	from := m.colour(m.curve(), light, at)
	metric := lab.Steps(from)
	j := mat.NewDense(3, len(m.p), nil)
	for i := range m.p {
		old := m.p[i]
		h := 1e-5 * max(1, math.Abs(old))
		m.p[i] += h
		r := stepsBetween(&metric, m.colour(m.curve(), light, at), from)
		m.p[i] = old
		for k := range r {
			j.Set(k, i, r[k]/h)
		}
	}
	var t, v mat.Dense
	t.Mul(j, m.cov)
	v.Mul(&t, j.T())
	return math.Sqrt(max(0, mat.Trace(&v)/3))
}

package recipe

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// Stage is a pile at one time that it was looked at.
type Stage struct {
	// Added is what went in since the stage before, in one measure throughout;
	// for the first stage what the pile was mixed from, and nothing where that is
	// not known.
	Added []Part
	// Reading is the pile's D65 colour then, in the palette's finish; nil where it
	// was not read.
	Reading *lab.Lab
	// Error is the reading's standard deviation along each of L*, a* and b*; 0
	// means [ReadingError].
	Error float64
	// Wet says that the pile was read before it dried. How each of its tubes dries
	// must be known, see [inventory.Tube.WetPaint].
	Wet bool
}

// ReadingError is the standard deviation of a reading by a colorimeter on a dab
// of paint (this project's judgement; thickness, wetness and evenness of the dab
// count more than the instrument).
const ReadingError = 0.5

func (s *Stage) readingError() float64 {
	if s.Error == 0 {
		return ReadingError
	}
	return s.Error
}

// Three parts of the spectrum in which a pile may hold more or less of what
// absorbs than was said, by stray paint on knife and palette: a step of strayK
// in ln K each (this project's judgement).
const strayK = 0.05

var strays = func() (w [3]optics.Spectrum) {
	for i := range optics.Bands {
		at := 2 * float64(i) / (optics.Bands - 1) // the windows peak at 0, 1 and 2
		for j := range w {
			w[j][i] = strayK * max(0, 1-math.Abs(at-float64(j)))
		}
	}
	return w
}()

// pileModel is what is not known of a pile as independent standard normal
// steps: of each of its tubes the Modes, of each portion how much it was, of the
// whole what strayed into it.
type pileModel struct {
	p       *Palette
	stages  []Stage
	tubes   []int // of the palette, in the pile
	first   []int // each tube's first step
	portion float64
	stray   int // the first stray step
	n       int
	read    []float64 // L*, a*, b* of each reading
	noise   []float64 // their standard deviations
	anyWet  bool
}

func newPileModel(p *Palette, stages []Stage, portionError float64) *pileModel {
	m := &pileModel{p: p, stages: stages, portion: portionError}
	portions := 0
	for _, s := range stages {
		for _, q := range s.Added {
			if !slices.Contains(m.tubes, q.Tube) {
				m.tubes = append(m.tubes, q.Tube)
			}
			portions++
		}
		if s.Reading != nil {
			m.read = append(m.read, s.Reading.L, s.Reading.A, s.Reading.B)
			m.anyWet = m.anyWet || s.Wet
			e := s.readingError()
			m.noise = append(m.noise, e, e, e)
		}
	}
	m.n = portions
	for _, t := range m.tubes {
		m.first = append(m.first, m.n)
		m.n += len(p.Tubes[t].Modes)
	}
	m.stray = m.n
	m.n += len(strays)
	return m
}

// paint is tube number j of the pile after the steps z.
func (m *pileModel) paint(j int, z []float64) optics.Paint {
	t := m.p.Tubes[m.tubes[j]]
	return moved(&t.Paint, t.Modes, z[m.first[j]:])
}

// moved takes a step along each mode at once.
func moved(p *optics.Paint, modes []optics.Mode, z []float64) (out optics.Paint) {
	var dk, ds optics.Spectrum
	for k := range modes {
		for i := range dk {
			dk[i] += z[k] * modes[k].DK[i]
			ds[i] += z[k] * modes[k].DS[i]
		}
	}
	for i := range dk {
		out.K[i] = p.K[i] * math.Exp(dk[i])
		out.S[i] = p.S[i] * math.Exp(ds[i])
	}
	return out
}

// heap is an amount of paint: K and S times its volume.
type heap struct{ k, s optics.Spectrum }

func (h *heap) add(p *optics.Paint, amount float64) {
	for i := range h.k {
		h.k[i] += amount * p.K[i]
		h.s[i] += amount * p.S[i]
	}
}

func (h *heap) lab(f optics.Finish) lab.Lab {
	return lab.FromXYZ(sums[f].of(&h.k, &h.s, &noPaint, &noPaint, 0), d65White)
}

// foretell gives the pile at its end after the steps z, dry, and its colour at
// each reading: wet where it was read wet.
func (m *pileModel) foretell(z []float64) (h heap, read []float64) {
	h, read, _ = m.foretellBoth(z)
	return h, read
}

// foretellBoth gives the colours at the readings as they would be dry too.
func (m *pileModel) foretellBoth(z []float64) (h heap, read, dry []float64) {
	paints := make([]optics.Paint, len(m.tubes))
	wet := paints
	for j := range paints {
		paints[j] = m.paint(j, z)
	}
	if m.anyWet {
		wet = make([]optics.Paint, len(m.tubes))
		for j, t := range m.tubes {
			wet[j] = paints[j]
			if d := m.p.Tubes[t].Drying; d != nil {
				wet[j] = d.Wet(paints[j])
			}
		}
	}
	var moist heap
	portion := 0
	for n, s := range m.stages {
		for _, q := range s.Added {
			j := slices.Index(m.tubes, q.Tube)
			amount := q.Parts * math.Exp(m.portion*z[portion])
			h.add(&paints[j], amount)
			moist.add(&wet[j], amount)
			portion++
		}
		if n == 0 {
			for i := range h.k {
				d := 0.0
				for j := range strays {
					d += z[m.stray+j] * strays[j][i]
				}
				h.k[i] *= math.Exp(d)
				moist.k[i] *= math.Exp(d)
			}
		}
		if s.Reading != nil {
			c := h.lab(m.p.Finish)
			dry = append(dry, c.L, c.A, c.B)
			if s.Wet {
				c = moist.lab(m.p.Finish)
			}
			read = append(read, c.L, c.A, c.B)
		}
	}
	return h, read, dry
}

// misfit is twice the negative log of what z has to be likely, about a centre
// and with readings as given.
func (m *pileModel) misfit(z, centre, got, read []float64) float64 {
	sum := 0.0
	for i := range z {
		sum += (z[i] - centre[i]) * (z[i] - centre[i])
	}
	for i := range got {
		d := (got[i] - read[i]) / m.noise[i]
		sum += d * d
	}
	return sum
}

// slope is how the readings follow the steps near a place.
type slope struct {
	jac  *mat.Dense
	chol mat.Cholesky // of J·Jᵀ with the readings' variance on its diagonal
}

// slopeAt computes the slope at z, where the readings are got; false if it has
// none.
func (m *pileModel) slopeAt(z, got []float64) (*slope, bool) {
	s := &slope{jac: mat.NewDense(len(got), m.n, nil)}
	const h = 1e-3
	z = slices.Clone(z)
	for c := range z {
		was := z[c]
		z[c] += h
		_, up := m.foretell(z)
		z[c] = was
		for r := range up {
			s.jac.Set(r, c, (up[r]-got[r])/h)
		}
	}
	var jj mat.SymDense
	jj.SymOuterK(1, s.jac)
	for r := range got {
		jj.SetSym(r, r, jj.At(r, r)+m.noise[r]*m.noise[r])
	}
	return s, s.chol.Factorize(&jj)
}

// next is where z goes by the slope: Gauss and Newton's step, in the form for few
// readings and many unknowns (Tarantola, Inverse Problem Theory, SIAM 2005,
// section 3.2.3).
func (s *slope) next(z, centre, got, read []float64) ([]float64, bool) {
	rhs := mat.NewVecDense(len(read), nil)
	for r := range read {
		v := read[r] - got[r]
		for c := range z {
			v += s.jac.At(r, c) * (z[c] - centre[c])
		}
		rhs.SetVec(r, v)
	}
	var w, step mat.VecDense
	if s.chol.SolveVecTo(&w, rhs) != nil {
		return nil, false
	}
	step.MulVec(s.jac.T(), &w)
	out := make([]float64, len(z))
	for c := range out {
		out[c] = centre[c] + step.AtVec(c)
	}
	return out, true
}

// solve finds the likeliest steps, given where they are centred and what was
// read, by Gauss and Newton's steps, halved where they lead too far.
func (m *pileModel) solve(centre, read []float64) (z []float64, off float64) {
	z = slices.Clone(centre)
	_, got := m.foretell(z)
	off = m.misfit(z, centre, got, read)
	for range 12 {
		s, ok := m.slopeAt(z, got)
		if !ok {
			break
		}
		to, ok := s.next(z, centre, got, read)
		if !ok {
			break
		}
		better := false
		for f := 1.0; f > 0.05; f /= 2 {
			try := slices.Clone(z)
			for c := range try {
				try[c] += f * (to[c] - z[c])
			}
			_, g := m.foretell(try)
			if o := m.misfit(try, centre, g, read); o < off-1e-9 {
				better = off-o > 1e-4*(1+off)
				z, got, off = try, g, o
				break
			}
		}
		if !better {
			break
		}
	}
	return z, off
}

// sample is solve by the slope at the likeliest steps, which serves for places
// near them.
func (g *guess) sample(centre, read []float64) []float64 {
	z, off := g.z, math.Inf(1)
	for n := 0; n < 4 && g.slope != nil; n++ {
		_, got := g.foretell(z)
		o := g.misfit(z, centre, got, read)
		if o < off && off-o < 0.02 {
			return z
		}
		off = o
		to, ok := g.slope.next(z, centre, got, read)
		if !ok {
			break
		}
		z = to
	}
	z, _ = g.solve(centre, read)
	return z
}

// guess is one thing that a pile may be.
type guess struct {
	*pileModel
	z      []float64 // the likeliest steps
	heap   heap
	slope  *slope         // there; nil for none
	paints []optics.Paint // of the palette's tubes, those in the pile after z
	off    float64        // misfit there
	weight float64        // among the guesses
}

func (m *pileModel) guess() *guess {
	g := &guess{pileModel: m}
	var off float64
	g.z, off = m.solve(make([]float64, m.n), m.read)
	var got []float64
	g.heap, got = m.foretell(g.z)
	if s, ok := m.slopeAt(g.z, got); ok {
		g.slope = s
	}
	g.off, g.weight = off, 1
	g.paints = make([]optics.Paint, len(m.p.Tubes))
	for i, t := range m.p.Tubes {
		if j := slices.Index(m.tubes, i); j >= 0 {
			g.paints[i] = m.paint(j, g.z)
		} else {
			g.paints[i] = t.Paint
		}
	}
	return g
}

// chances is how many steps are drawn for one of two tubes to come: for its
// portion, and for its modes, which no tube has more of.
const chances = 16

// draw is the pile as it may be in truth.
type draw struct {
	g    *guess
	z    []float64
	heap heap
	own  []float64 // for tubes not in the pile and portions to come
}

// draws samples what the pile may be, n times, by solving for readings and
// expectations that are off by chance (randomised maximum likelihood: Kitanidis,
// Water Resour. Res. 31:2411, 1995; Oliver, He & Reynolds, ECMOR V, 1996): exact
// where colour follows the steps in a straight line. Chance is fixed.
func draws(guesses []*guess, n int) []draw {
	rng := rand.New(rand.NewPCG(11, 4))
	out := make([]draw, n)
	for i := range out {
		// Guesses take turns by weight.
		at, sum := (float64(i)+0.5)/float64(n), 0.0
		g := guesses[len(guesses)-1]
		for _, c := range guesses {
			if sum += c.weight; at < sum {
				g = c
				break
			}
		}
		centre, read := make([]float64, g.n), slices.Clone(g.read)
		for k := range centre {
			centre[k] = rng.NormFloat64()
		}
		for k := range read {
			read[k] += g.noise[k] * rng.NormFloat64()
		}
		d := draw{g: g}
		d.z = g.sample(centre, read)
		d.heap, _ = g.foretell(d.z)
		d.own = make([]float64, 2*chances)
		for k := range d.own {
			d.own[k] = rng.NormFloat64()
		}
		out[i] = d
	}
	return out
}

// after is the colour of the pile with parts added by a knife, as this draw has
// it.
func (d *draw) after(parts []Part, portionError float64) lab.Lab {
	h := d.heap
	p := d.g.p
	for n, q := range parts {
		chance := d.own[chances*n : chances*(n+1)]
		amount := q.Parts * math.Exp(portionError*chance[0])
		if j := slices.Index(d.g.tubes, q.Tube); j >= 0 {
			pt := d.g.paint(j, d.z)
			h.add(&pt, amount)
			continue
		}
		t := p.Tubes[q.Tube]
		modes := t.Modes[:min(len(t.Modes), chances-1)]
		pt := moved(&t.Paint, modes, chance[1:])
		h.add(&pt, amount)
	}
	return h.lab(p.Finish)
}

// checkStages refuses what no pile is.
func (p *Palette) checkStages(stages []Stage) error {
	if len(stages) == 0 || stages[len(stages)-1].Reading == nil {
		return fmt.Errorf("the pile as it is now has no reading: give its colour")
	}
	wet := slices.ContainsFunc(stages, func(s Stage) bool { return s.Wet })
	if wet && len(stages[0].Added) == 0 && !p.driesKnown() {
		return fmt.Errorf("how these tubes dry is not known, nor what is in the pile: let a dab dry and read that")
	}
	for n, s := range stages {
		if n > 0 && len(s.Added) == 0 {
			return fmt.Errorf("nothing was added between two readings: give what was, or only the last reading")
		}
		if c := s.Reading; c != nil && (!c.Finite() || c.L < 0 || c.L > 100 || c.Chroma() > 200) {
			return fmt.Errorf("a reading of L* %.4g a* %.4g b* %.4g is no colour of paint: give L* from 0 to 100 and a*, b* within about ±128", c.L, c.A, c.B)
		}
		if !(s.Error >= 0 && s.Error <= 30) {
			return fmt.Errorf("a reading's error of %v: give its standard deviation in ΔE00, up to 30; 0 is the usual one", s.Error)
		}
		for _, q := range s.Added {
			if q.Tube < 0 || q.Tube >= len(p.Tubes) {
				return fmt.Errorf("there is no tube number %d among %d", q.Tube, len(p.Tubes))
			}
			if wet && p.Tubes[q.Tube].Drying == nil {
				return fmt.Errorf("how %s dries is not known: let a dab of the pile dry and read that, or measure the tube wet and dry", p.Tubes[q.Tube].Name)
			}
			if !(q.Parts > 0 && q.Parts < 1e9) {
				return fmt.Errorf("%v parts of %s: parts are positive numbers", q.Parts, p.Tubes[q.Tube].Name)
			}
		}
	}
	return nil
}

// driesKnown reports whether every tube was read wet and dry.
func (p *Palette) driesKnown() bool {
	return !slices.ContainsFunc(p.Tubes, func(t *inventory.Tube) bool { return t.Drying == nil })
}

// wetted is the palette before its paints dry.
func (p *Palette) wetted() (*Palette, error) {
	tubes := make([]*inventory.Tube, len(p.Tubes))
	for i, t := range p.Tubes {
		w := *t
		w.Paint = t.Drying.Wet(t.Paint)
		tubes[i] = &w
	}
	return NewPalette(tubes, p.Finish)
}

package card

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"paintout/analyze/lab"
)

// What a colour read by a grey card alone is worth: over 72 rendered cameras
// (three sensors, four lights, tone curves from none to strong, colours
// strengthened or not) the library's paints came out wrong by 1.1 along each
// of lightness, chroma and hue up to C* 15, by 1.8 up to C* 45 and by 2.3 beyond,
// hardly otherwise with lightness (a test of cmd/internal/cardphoto counts
// them). Cameras do more than was rendered, so by a fifth to a quarter more.
const (
	greyAtGrey   = 1.3
	greyAtStrong = 2.6
	greyChroma   = 20 // C* over which it grows
)

// How far paints came out wrong on rendered cards, by a grey card alone and by
// a chart: mean ΔE00 over three sensors in three lights with a tone curve, a
// veil, fall-off, noise and JPEG. A test of package plan renders them.
const TrialGrey, TrialChart = 2.7, 1.3

// greyOnly is that as a standard deviation for a colour.
func greyOnly(c lab.Lab) float64 {
	return quadrature(greyAtGrey, greyAtStrong*(1-math.Exp(-c.Chroma()/greyChroma)))
}

// lit is the reader by a grey card: balance and exposure at the card, and a
// smooth fall-off from there.
type lit struct {
	*balance
	model
}

func (l *lit) colour(light [3]float64, at [2]float64) lab.Lab {
	f := math.Exp(-l.model.falloff(at))
	for k := range light {
		light[k] *= f
	}
	return l.balance.colour(light)
}

func (l *lit) falloff(at [2]float64) float64 { return l.model.falloff(at) }

func (l *lit) doubt(light [3]float64, at [2]float64) float64 {
	c := l.colour(light, at)
	// What the fall-off leaves open, as lightness.
	b := l.basis(at)
	v := mat.NewVecDense(len(b), b[:])
	open := math.Sqrt(max(0, mat.Inner(v, l.cov, v)))
	dl := (c.L + 16) / 3 * open
	return quadrature(greyOnly(c), lab.Steps(c)[0][0]*dl/math.Sqrt(3))
}

// byGrey understands the picture by grey cards, and by paper how the light
// falls off.
func (c *Card) byGrey(greys []Grey, all *paper) error {
	p := c.p
	type spot struct {
		at [2]float64
		s  Sample
		y  float64
	}
	var spots []spot
	for _, g := range greys {
		x, y, err := p.Pixel(g.Place)
		if err != nil {
			return err
		}
		r := usualRadius(p)
		for i := range c.regions {
			q := &c.regions[i]
			if x >= q.box.Min.X && x < q.box.Max.X && y >= q.box.Min.Y && y < q.box.Max.Y {
				r = max(2, int(0.7*q.radius))
			}
		}
		s := sample(p, x, y, r)
		what := "the grey card at " + g.Place.String()
		if err := s.usable(p.Name, what); err != nil {
			return err
		}
		if _, err := balanceOn(p.Name, &s, g); err != nil {
			return err
		}
		c.Warnings = append(c.Warnings, s.faults(what)...)
		refl := g.Reflectance
		if refl == 0 {
			refl = GreyCard
		}
		spots = append(spots, spot{[2]float64{float64(x) + 0.5, float64(y) + 0.5}, s, refl})
	}
	l := &lit{model: model{knots: []float64{0}, p: make([]float64, gainTerms+1), origin: spots[0].at, span: float64(max(p.Width, p.Height)) / 2}}
	pp := all.sound(l.span)
	// Gain, level of the greys, level of the paper: linear in logarithms.
	const unknown = gainTerms + 2
	h, y := mat.NewSymDense(unknown, nil), mat.NewVecDense(unknown, nil)
	add := func(row [unknown]float64, value, sd float64) {
		v := mat.NewVecDense(unknown, row[:])
		h.SymRankOne(h, 1/(sd*sd), v)
		y.AddScaledVec(y, value/(sd*sd), v)
	}
	at := func(place [2]float64, level int) (row [unknown]float64) {
		b := l.basis(place)
		copy(row[:], b[:])
		row[gainTerms+level] = 1
		return row
	}
	logY := func(v [3]float64) float64 { return math.Log(max(spaceOf(p).xyz(v).Y/100, 1e-4)) }
	for _, s := range spots {
		add(at(s.at, 0), logY(s.s.Light)-math.Log(s.y), paperNoise)
	}
	if pp != nil {
		for i, v := range pp.light {
			add(at(pp.at[i], 1), logY(v), paperNoise)
		}
	} else {
		add([unknown]float64{gainTerms + 1: 1}, 0, 1) // nothing else holds it
	}
	for i := range gainTerms {
		sd := gainBow
		if i < 2 {
			sd = gainTilt
		}
		var row [unknown]float64
		row[i] = 1
		add(row, 0, sd)
	}
	var ch mat.Cholesky
	var x mat.VecDense
	inv := mat.NewSymDense(unknown, nil)
	if !ch.Factorize(h) || ch.SolveVecTo(&x, y) != nil || ch.InverseTo(inv) != nil {
		return fmt.Errorf("%s: the light on the card cannot be made out from these places; point at a grey card and nothing else", p.Name)
	}
	for i := range gainTerms {
		l.p[i] = x.AtVec(i)
	}
	l.cov = mat.NewSymDense(gainTerms, nil)
	for i := range gainTerms {
		for j := i; j < gainTerms; j++ {
			l.cov.SetSym(i, j, inv.At(i, j))
		}
	}
	// The greys with the fall-off taken out, together.
	grey := Sample{in: spaceOf(p)}
	for _, s := range spots {
		f := math.Exp(-l.model.falloff(s.at)) / s.y / float64(len(spots))
		for k := range grey.Light {
			grey.Light[k] += f * s.s.Light[k]
		}
	}
	b, err := balanceOn(p.Name, &grey, Grey{Place: greys[0].Place, Reflectance: 1})
	if err != nil {
		return err
	}
	l.balance = b
	c.read = l
	places := "one place"
	if len(spots) > 1 {
		places = fmt.Sprintf("%d places", len(spots))
	}
	c.Method = append(c.Method, fmt.Sprintf("Exposure and white balance come from the grey card, at %s; the camera's tone curve and its colours stay as they are.", places))
	c.warn("without a colour chart in the picture its colours are worth less, since the camera's own rendering stays in them: in trials on rendered cards paints came out %.1f ΔE00 wrong on average by a grey card, %.1f by a chart; lay a 24-patch chart beside the swatches", TrialGrey, TrialChart)
	c.shade(all, pp, l.model.falloff, logY)
	return nil
}

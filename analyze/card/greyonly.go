package card

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"paintout/analyze/lab"
)

// greyOnly is what a colour read by a grey card alone is worth, a standard
// deviation along each of lightness, chroma and hue: the camera's tone curve
// is not known, which shows in colours much lighter or darker than the card,
// nor its colours, which shows in strong ones.
func greyOnly(c, card lab.Lab) float64 {
	return quadrature(1, 0.07*(c.L-card.L), 0.9*math.Sqrt(c.Chroma())/2)
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
	return quadrature(greyOnly(c, l.card), steps(c)[0][0]*dl/math.Sqrt(3))
}

// byGrey understands the picture by grey cards, and by paper how the light
// falls off.
func (c *Card) byGrey(greys []Grey, pp *paper) error {
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
	// Gain, level of the greys, level of the paper: linear in logarithms.
	const n = gainTerms + 2
	logY := func(v [3]float64) float64 { return math.Log(max(xyz(v).Y/100, 1e-4)) }
	var x mat.VecDense
	weight := make([]float64, 0, 100)
	for round := range 4 {
		var rows [][n]float64
		var y []float64
		add := func(at [2]float64, level int, v, sd float64) {
			var r [n]float64
			b := l.basis(at)
			for i := range b {
				r[i] = b[i] / sd
			}
			r[gainTerms+level] = 1 / sd
			rows, y = append(rows, r), append(y, v/sd)
		}
		for _, s := range spots {
			add(s.at, 0, logY(s.s.Light)-math.Log(s.y), paperNoise)
		}
		if pp != nil {
			for i, v := range pp.light {
				w := 1.0
				if round > 0 {
					w = weight[i]
				}
				add(pp.at[i], 1, logY(v), paperNoise/math.Sqrt(w))
			}
		}
		for i := range gainTerms {
			var r [n]float64
			r[i] = 1 / gainBow
			if i < 2 {
				r[i] = 1 / gainTilt
			}
			rows, y = append(rows, r), append(y, 0)
		}
		if pp == nil {
			rows, y = append(rows, [n]float64{n - 1: 1}), append(y, 0)
		}
		a := mat.NewDense(len(rows), n, nil)
		for i := range rows {
			a.SetRow(i, rows[i][:])
		}
		h := mat.NewSymDense(n, nil)
		h.SymOuterK(1, a.T())
		var ch mat.Cholesky
		if !ch.Factorize(h) {
			return fmt.Errorf("%s: the light on the card cannot be made out from these places; point at a grey card and nothing else", p.Name)
		}
		var aty mat.VecDense
		aty.MulVec(a.T(), mat.NewVecDense(len(y), y))
		if err := ch.SolveVecTo(&x, &aty); err != nil {
			return fmt.Errorf("%s: the light on the card cannot be made out from these places (%w); point at a grey card and nothing else", p.Name, err)
		}
		for i := range gainTerms {
			l.p[i] = x.AtVec(i)
		}
		inv := mat.NewSymDense(n, nil)
		if err := ch.InverseTo(inv); err != nil {
			inv.Zero()
		}
		l.cov = mat.NewSymDense(gainTerms, nil)
		for i := range gainTerms {
			for j := i; j < gainTerms; j++ {
				l.cov.SetSym(i, j, inv.At(i, j))
			}
		}
		weight = weight[:0]
		if pp != nil {
			for i, v := range pp.light {
				d := math.Abs(logY(v)-l.model.falloff(pp.at[i])-x.AtVec(n-1)) / paperNoise
				weight = append(weight, min(1, 3/max(d, 1e-9)))
			}
		}
	}
	// The greys with the fall-off taken out, together.
	var all Sample
	for _, s := range spots {
		f := math.Exp(-l.model.falloff(s.at)) / s.y / float64(len(spots))
		for k := range all.Light {
			all.Light[k] += f * s.s.Light[k]
		}
	}
	b, err := balanceOn(p.Name, &all, Grey{Place: greys[0].Place, Reflectance: 1})
	if err != nil {
		return err
	}
	y := 0.0
	for _, s := range spots {
		y += s.y / float64(len(spots))
	}
	b.card = lab.FromXYZ(lab.XYZ{X: y * lab.D65.X, Y: 100 * y, Z: y * lab.D65.Z}, lab.D65)
	b.card.A, b.card.B = 0, 0
	l.balance = b
	c.read = l
	places := "one place"
	if len(spots) > 1 {
		places = fmt.Sprintf("%d places", len(spots))
	}
	c.Method = append(c.Method, fmt.Sprintf("Exposure and white balance come from the grey card, at %s; the camera's tone curve and its colours stay as they are.", places))
	c.warn("without a colour chart in the picture its colours are worth less: the camera's own rendering stays in them; lay a 24-patch chart beside the swatches")
	c.shade(pp, l.model.falloff, logY)
	return nil
}

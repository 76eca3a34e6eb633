package inventory

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Drying says how a paint looks wet beside its dry film: the logarithm of its
// scattering wet less that dry, as a level, a tilt and a bend along wavelength
// (cosines of 0, 1/2 and 1 period over 400–700 nm).
//
// It is kept as scattering, not as a shift of Lab. Drying leaves the pigment,
// and so K, as it is; what changes is what scatters beside it: the medium of an
// acrylic is milky until its water has gone, so that it dries darker, and air
// comes between the grains of a gouache, so that it dries lighter. S adds up by
// parts in a mix as K does, so the wet colour of any mix follows from its
// tubes'. A shift of Lab does not: a strong blue in white takes nearly all of
// the white's shift in light and none of its own, whatever the parts.
type Drying [dryingCurves]float64

const dryingCurves = 3

// Wet is the paint before it dries.
func (d *Drying) Wet(p optics.Paint) optics.Paint {
	for i := range p.S {
		at := math.Pi * (float64(i) + 0.5) / optics.Bands
		p.S[i] *= math.Exp(d[0] + d[1]*math.Cos(at) + d[2]*math.Cos(2*at))
	}
	return p
}

// WetPaint is the tube's paint before it dries; false where no wet reading of
// it was taken.
func (t *Tube) WetPaint() (optics.Paint, bool) {
	if t.Drying == nil {
		return t.Paint, false
	}
	return t.Drying.Wet(t.Paint), true
}

// What is expected of drying before it is read, natural logarithms, and how
// well a wet film can be read, ΔE00 (common practice, no source).
var (
	dryingSD  = Drying{0.7, 0.3, 0.15}
	wetNoise  = 0.5
	mostWetLn = 6.0 // no paint is whiter or clearer by more
)

// dryRows splits readings into those of dry films, in rd, and those of wet
// ones. A tube of which there is no dry reading keeps its wet ones.
func (c *calibration) dryRows() {
	rd := *c.rd
	rd.Tubes = nil
	for _, t := range c.rd.Tubes {
		wet, dry := t, t
		wet.Rows, dry.Rows = nil, nil
		for _, r := range t.Rows {
			if r.Wet {
				wet.Rows = append(wet.Rows, r)
			} else {
				dry.Rows = append(dry.Rows, r)
			}
		}
		if len(dry.Rows) == 0 && len(wet.Rows) > 0 {
			c.warn("%s was read only wet: it is taken as it looks wet; read it dry too, so that dry mixes are foretold", t.Name)
			rd.Tubes = append(rd.Tubes, t)
			continue
		}
		rd.Tubes = append(rd.Tubes, dry)
		if len(wet.Rows) > 0 {
			c.wet = append(c.wet, wet)
		}
	}
	c.rd = &rd
}

// drying finds from wet readings how each fitted tube dries, whites first,
// then blacks, then the others, since a tint dries as its white does too.
func (c *calibration) drying() error {
	rank := func(t *Tube) int {
		switch {
		case t.White:
			return 0
		case blackCodes(t.CI) || t == c.black:
			return 1
		}
		return 2
	}
	tube := func(m MeasuredTube) *Tube { return c.paints[strings.ToLower(m.Name)] }
	wet := slices.DeleteFunc(slices.Clone(c.wet), func(m MeasuredTube) bool { return tube(m) == nil })
	slices.SortStableFunc(wet, func(a, b MeasuredTube) int { return rank(tube(a)) - rank(tube(b)) })
	var onlyDry []string // stand in mixes that were read wet, and were not read wet themselves
	for _, m := range wet {
		t := tube(m)
		for i := range m.Rows {
			if r := &m.Rows[i]; t.White || r.Paint == 0 {
				r.Paint, r.White, r.Black = 1, 0, 0 // the white's own row
			} else if rank(t) == 1 && r.Black > 0 {
				r.Paint, r.Black = r.Paint+r.Black, 0
			}
		}
		films, err := c.films(m)
		if err != nil {
			return err
		}
		dry := MeasuredTube{Name: m.Name, Rows: t.Readings}
		dried, err := c.films(dry)
		if err != nil {
			return err
		}
		for i := range films {
			for _, p := range films[i].with {
				if w := c.tubeOf(p); w != nil && w.Drying == nil && !slices.Contains(onlyDry, w.Name) {
					onlyDry = append(onlyDry, w.Name)
				}
			}
		}
		d := c.dryingOf(&t.Paint, films, dried)
		if d == nil {
			return fmt.Errorf("%s:%d: %s: no drying leads from its dry films to its wet ones; check the rows' state", c.rd.Name, m.Line, m.Name)
		}
		t.Drying = d
		for _, r := range m.Rows {
			r.Line = 0
			t.Readings = append(t.Readings, r)
		}
	}
	for _, name := range onlyDry {
		c.warn("mixes with %s were read wet, but %s by itself was not: how it dries was taken for what the others do; read it wet too", name, name)
	}
	return nil
}

// dryingOf fits the drying of a paint to its wet films: least squares in three
// unknowns with Gaussian priors, by Gauss–Newton steps. Where a film was read
// dry too, it is the difference between the two readings that counts, so that
// what the fit misses of the dry film is not taken for drying.
func (c *calibration) dryingOf(p *optics.Paint, wet, dry []film) *Drying {
	aim := make([]lab.Lab, len(wet))
	for i := range wet {
		aim[i] = wet[i].Colour()
		for k := range dry {
			if f := dry[k]; !f.Wet && sameDrawdown(&wet[i], &f) {
				is, said := f.predicted(p), f.Colour()
				aim[i].L += is.L - said.L
				aim[i].A += is.A - said.A
				aim[i].B += is.B - said.B
				break
			}
		}
		wet[i].with = c.wetPaints(wet[i].with)
	}
	residual := func(d *Drying) (e []float64) {
		q := d.Wet(*p)
		for i := range wet {
			got := wet[i].predicted(&q)
			off := [3]float64{got.L - aim[i].L, got.A - aim[i].A, got.B - aim[i].B}
			for _, row := range lab.Steps(aim[i]) {
				e = append(e, (row[0]*off[0]+row[1]*off[1]+row[2]*off[2])/math.Hypot(wetNoise, wet[i].Uncertainty))
			}
		}
		for k := range d {
			e = append(e, d[k]/dryingSD[k])
		}
		return e
	}
	cost := func(d *Drying) (sum float64) {
		for _, v := range residual(d) {
			sum += v * v
		}
		return sum
	}
	const h = 1e-4
	var d Drying
	least := cost(&d)
	for range 40 {
		e := residual(&d)
		j := mat.NewDense(len(e), dryingCurves, nil)
		for k := range d {
			up, down := d, d
			up[k] += h
			down[k] -= h
			a, b := residual(&up), residual(&down)
			for i := range e {
				j.Set(i, k, (a[i]-b[i])/(2*h))
			}
		}
		var step mat.VecDense
		if err := step.SolveVec(j, mat.NewVecDense(len(e), e)); err != nil {
			return nil
		}
		better := false
		for share := 1.0; share > 1e-3 && !better; share /= 2 {
			next := d
			for k := range next {
				next[k] -= share * step.AtVec(k)
			}
			if v := cost(&next); v < least {
				better = least-v > 1e-10*(1+least)
				d, least = next, v
				break
			}
		}
		if !better {
			break
		}
	}
	for k := range d {
		if d[k] = signif(d[k], 4); !(math.Abs(d[k]) < mostWetLn) {
			return nil
		}
	}
	return &d
}

// wetPaints are paints as they look wet, where that is known.
func (c *calibration) wetPaints(paints []*optics.Paint) []*optics.Paint {
	out := slices.Clone(paints)
	for i, p := range out {
		if t := c.tubeOf(p); t != nil {
			if w, ok := t.WetPaint(); ok {
				out[i] = &w
			}
		}
	}
	return out
}

// tubeOf is the tube that a paint is of; nil where it is none of a tube's.
func (c *calibration) tubeOf(p *optics.Paint) *Tube {
	for _, t := range slices.Concat(c.fitted, c.present.Tubes, []*Tube{c.white, c.black}) {
		if t != nil && &t.Paint == p {
			return t
		}
	}
	return nil
}

// DryingWords says how the tube's masstone dries, by lightness: "dries darker,
// L* 5"; empty where it is not known or not to be seen.
func (t *Tube) DryingWords(f optics.Finish) string {
	w, ok := t.WetPaint()
	if !ok {
		return ""
	}
	wet, dry := w.Reflectance(f), t.Paint.Reflectance(f)
	return DriesWords(wet.Lab(optics.D65), dry.Lab(optics.D65))
}

// DriesWords says how a colour dries; empty where it cannot be told.
func DriesWords(wet, dry lab.Lab) string {
	d := dry.L - wet.L
	switch {
	case lab.DE00(wet, dry) < 0.8: // 50:50 perceptibility, Paravina et al. 2015
		return ""
	case d <= -0.5:
		return fmt.Sprintf("dries darker, by L* %.0f", math.Max(1, -d))
	case d >= 0.5:
		return fmt.Sprintf("dries lighter, by L* %.0f", math.Max(1, d))
	}
	return "dries about as light, of another hue"
}

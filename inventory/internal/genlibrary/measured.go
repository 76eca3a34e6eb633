package main

import (
	"fmt"
	"math"

	"paintout/analyze/lab"
	"paintout/inventory/internal/figures"
	"paintout/inventory/optics"
)

// entry is one paint of the generated table.
type entry struct {
	key        string // code, with the paint's name where the code has several
	provenance string // Measured, Derived, Estimated
	source     string // in a painter's words
	steps      string // what was done to the figures, for the table's comment; empty if nothing
	strengthSD float64
	spread     float64 // ΔE00 between two sources, strengths matched; 0 where there is one
	paint      optics.Paint
}

// tints are the parts of white to one of paint that two paints are compared
// at: masstone, 1:1, 1:4, 1:9, 1:24.
var tints = []float64{0, 1, 4, 9, 24}

func tint(p, white *optics.Paint, parts float64, s optics.Surface) optics.Spectrum {
	m := optics.Mix([]*optics.Paint{p, white}, []float64{1, parts})
	return s.Seen(m.Opaque(), optics.Included)
}

// resurfaceWhite is a set's white under [optics.DrySurface]: the same measured
// reflectance, S = 1.
func resurfaceWhite(w optics.Paint, s optics.Surface) optics.Paint {
	in := optics.DrySurface.Inside(s.Seen(w.Opaque(), optics.Included), optics.Included)
	for i, r := range in {
		w.K[i], w.S[i] = optics.RToKS(r), 1
	}
	return w
}

// resurface brings a paint fitted with another surface onto
// [optics.DrySurface]: its masstone and tints are synthesised with their own
// surface and white, and refitted with the paint itself as prior. What is
// measured with the specular reflection excluded differs from included by k1,
// which both surfaces share, so it makes no difference which is synthesised.
func resurface(p, white *optics.Paint, s optics.Surface) (optics.Paint, error) {
	dry := resurfaceWhite(*white, s)
	var films []optics.Drawdown
	for _, n := range tints {
		films = append(films, optics.Drawdown{
			Parts: 1, With: []*optics.Paint{&dry}, WithOf: []float64{n}, Seen: tint(p, white, n, s),
		})
	}
	fit, err := optics.Fit(films, tableCode.About(p), tableNoise)
	if err != nil {
		return optics.Paint{}, err
	}
	return fit.Paint, nil
}

// What readings and paints are taken for in this table. They are not what a
// painter's own readings are fitted with ([optics.UsualNoise], [optics.OpenPrior]
// and the others): those foretell a mix better from few readings, but here every
// film that there is goes into a fit, and the starter box, the trade's mixes and
// the demonstration were checked with the figures these give. Leave-one-out over
// the oil set misses by a mean of 2.95, a median of 2.1 ΔE00 with them; anything
// from half to twice any of them lies within 0.1 of that.
var (
	tableNoise = optics.Noise{Floor: 0.0025, Share: 0.10}
	tableOpen  = optics.Loosen(optics.Smooth{Level: 3, Bend: 1}, optics.Smooth{Level: 1.2, Bend: 0.05}, 0)
	tableCode  = optics.Loosen(optics.Smooth{Level: 0.70, Bend: 0.25}, optics.Smooth{Level: 0.50, Bend: 0.04}, 0)
	tableLead  = optics.Loosen(optics.Smooth{Level: 1.40, Bend: 0.50}, optics.Smooth{Level: 1.00, Bend: 0.08}, 0)
	openPaint  = optics.Paint{K: optics.Flat(0.10), S: optics.Flat(0.10)}
)

const (
	ofHeavyBody  = "heavy-body acrylic, Berns 2016"
	ofMatteFluid = "matte acrylic, Okumura 2005"
	ofOil        = "oil paint, Geldof and others 2018, its strength put beside titanium white's"
)

// What was done to the figures of the second and third.
const (
	resurfaced = "a matte fluid acrylic, brought from k2 = 0.60 to 0.65"
	rescaled   = "films in zinc white (CC0), divided onto the scale on which titanium white scatters 1"
)

// Where both sets hold a pigment the heavy-body paint is taken: it is a paste
// such as tubes hold, where a matte fluid carries matting agents; and it was
// measured specular included, so that its dark masstones stand on the surface
// reflection k1 instead of on an unknown rest of it. preferFluid are the
// exceptions, pigments whose third measurement, the oil set, the fluid paint
// foretells better (TestChoiceOfSource).
var preferFluid = map[string]bool{"PB28": true}

// sameAs pairs codes that two sets give to what is sold as one paint, for the
// spread between sources; both stay in the library.
var sameAs = map[string]string{"PB36:1": "PB36"}

// sets holds both acrylic sets on one surface, with the white of the library.
type sets struct {
	white        optics.Paint
	heavy, fluid map[string]*optics.Paint // by key
	order        []string                 // keys: heavy-body first, then what the fluid set adds
}

// readSets reads both sets. The raw umber of the fluid set is left out: its
// constants are blacker than bone black with a tint of C* 2, which no raw
// umber is. The white is the fluid set's (L* 97 with the surface counted); the
// heavy-body white would be L* 99.4, which no paint is.
func readSets() (*sets, error) {
	hb, err := figures.HeavyBody()
	if err != nil {
		return nil, err
	}
	mf, err := figures.MatteFluid()
	if err != nil {
		return nil, err
	}
	if hb.Surface != optics.DrySurface {
		return nil, fmt.Errorf("the heavy-body set is fitted with %v, not with DrySurface", hb.Surface)
	}
	s := &sets{heavy: map[string]*optics.Paint{}, fluid: map[string]*optics.Paint{}}
	fluidWhite := mf.Find("PW6", "").Paint
	s.white = resurfaceWhite(fluidWhite, mf.Surface)
	for i := range hb.Paints {
		p := &hb.Paints[i]
		s.heavy[p.Code] = &p.Paint
		s.order = append(s.order, p.Code)
	}
	for i := range mf.Paints {
		p := &mf.Paints[i]
		if p.Code == "PBr7" && p.Name == "raw umber" {
			continue
		}
		key := p.Code
		if p.Code == "PBr7" {
			key += "/" + p.Name
		}
		q := s.white
		if p.Code != "PW6" {
			if q, err = resurface(&p.Paint, &fluidWhite, mf.Surface); err != nil {
				return nil, fmt.Errorf("%s: %w", key, err)
			}
		}
		s.fluid[key] = &q
		if s.heavy[key] == nil {
			s.order = append(s.order, key)
		}
	}
	return s, nil
}

// measured gives the library's entries for the acrylic sets.
func (s *sets) measured(strengthSD float64) []entry {
	var out []entry
	for _, key := range s.order {
		e := entry{key: key, provenance: "Measured", strengthSD: strengthSD}
		h, f := s.heavy[key], s.fluid[key]
		switch {
		case key == "PW6":
			// The strengths of both sets are relative to their whites, so what
			// whites differ by is in them; the sets' mean over all pairs says
			// how well the two whites agree.
			_, pairs := s.pairs()
			e.paint, e.source, e.steps, e.strengthSD = *f, ofMatteFluid, resurfaced, strengthSD/math.Sqrt(float64(len(pairs)))
			a, b := h.Reflectance(optics.Included), f.Reflectance(optics.Included)
			e.spread = lab.DE00(a.Lab(optics.D65), b.Lab(optics.D65))
		case h != nil && f != nil && preferFluid[key]:
			e.paint, e.source, e.steps = *f, ofMatteFluid, resurfaced+"; of two sources nearer to the oil set"
		case h != nil:
			e.paint, e.source = *h, ofHeavyBody
		default:
			e.paint, e.source, e.steps = *f, ofMatteFluid, resurfaced
		}
		other := f
		if twin := sameAs[key]; twin != "" {
			other = s.fluid[twin]
		}
		if h != nil && other != nil && key != "PW6" {
			_, e.spread = matchStrength(h, other, &s.white)
		}
		out = append(out, e)
	}
	return out
}

// matchStrength gives the factor on p's tinting strength that brings its tints
// nearest to q's, and the mean ΔE00 left over masstone and tints.
func matchStrength(p, q, white *optics.Paint) (factor, left float64) {
	off := func(logF float64) (all float64) {
		f := p.Strengthened(math.Exp(logF))
		for _, n := range tints[1:] {
			a, b := tint(&f, white, n, optics.DrySurface), tint(q, white, n, optics.DrySurface)
			all += lab.DE00(a.Lab(optics.D65), b.Lab(optics.D65))
		}
		return all
	}
	at := goldenSection(off, -2, 2)
	a, b := p.Reflectance(optics.Included), q.Reflectance(optics.Included)
	mass := lab.DE00(a.Lab(optics.D65), b.Lab(optics.D65))
	return math.Exp(at), (off(at) + mass) / float64(len(tints))
}

// goldenSection finds where f is least between lo and hi, to 1e-4. A scan
// first brackets the least of several hollows.
func goldenSection(f func(float64) float64, lo, hi float64) float64 {
	const scan = 40
	step, best, at := (hi-lo)/scan, math.Inf(1), lo
	for i := range scan + 1 {
		x := lo + float64(i)*step
		if v := f(x); v < best {
			best, at = v, x
		}
	}
	lo, hi = at-step, at+step
	g := (math.Sqrt(5) - 1) / 2
	for hi-lo > 1e-4 {
		a, b := hi-g*(hi-lo), lo+g*(hi-lo)
		if f(a) < f(b) {
			hi = b
		} else {
			lo = a
		}
	}
	return (lo + hi) / 2
}

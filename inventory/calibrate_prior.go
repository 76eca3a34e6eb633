package inventory

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"paintout/inventory/optics"
)

// belief is something a tube may be before its readings are seen.
type belief struct {
	label  string
	paint  *optics.Paint // the library's; nil for none
	prior  optics.Prior
	weight float64 // log probability
	beside string  // where nothing known was likelier: the library's paint by the tube's code
}

// How likely a tube is like none of the library's paints: with a code, by the
// paint's name alone, or with neither.
const (
	openWithCode    = 0.05
	openWithName    = 0.2
	openWithNeither = 0.5
)

// nearest is how many of the library's paints are tried for a tube of which
// neither code nor name is known.
const nearest = 8

// libraryTube is the library's tube for what stands on a label: the code, or
// several in equal parts; where a code has several paints, the one whose name
// is in the tube's; with no code, a paint of the tube's very name. several is
// set where a code leaves a choice.
func libraryTube(codes []string, name string) (t *Tube, several []*Tube) {
	switch len(codes) {
	case 0:
		if p, err := Find(name); err == nil {
			return p.Tube(), nil
		}
		return nil, nil
	case 1:
		if p, err := Find(paintNamed(codes[0], name)); err == nil {
			return p.Tube(), nil
		}
		for _, p := range library() {
			if p.Code == bareCode(codes[0]) {
				several = append(several, p.Tube())
			}
		}
		return nil, several
	}
	t, err := blend(namedIn(codes, name))
	if err != nil {
		return nil, nil
	}
	return t, nil
}

// believe fits a tube from each thing it may be, and averages the paints by how
// likely each is: the library's paint of its code or name, or nothing known. It
// gives the likeliest belief, and the average. Where the readings alone leave S
// open (Lab colours, tints without a masstone or a masstone without tints)
// nothing known means a paint such as the library's are; with neither code nor
// name the library's nearest paints are then tried too.
func (c *calibration) believe(m MeasuredTube, films []film) (belief, *optics.Fitted, error) {
	spectra, masstone, tint := false, false, false
	for i := range films {
		if films[i].Spectrum != nil {
			spectra = true
			masstone = masstone || films[i].share > 0.999
			tint = tint || films[i].share < 0.95
		}
	}
	beliefs := []belief{{label: "nothing known", prior: optics.OpenPrior()}}
	add := func(label string, p *optics.Paint, weight float64) {
		beliefs = append(beliefs, belief{label: label, paint: p, prior: optics.CodePrior(p, spectra), weight: math.Log(weight)})
	}
	alone := openWithCode
	if !masstone || !tint {
		beliefs[0].prior = c.likeLibrary()
	}
	switch t, several := libraryTube(m.CI, m.Name); {
	case t != nil && len(m.CI) == 0:
		alone = openWithName
		add("the library's "+t.Code()+", by the tube's name", &t.Paint, 1-alone)
	case t != nil:
		add("the library's "+t.Code(), &t.Paint, 1-alone)
	case len(several) > 0:
		for _, t := range several {
			add("the library's "+t.Code(), &t.Paint, (1-alone)/float64(len(several)))
		}
	case !masstone || !tint:
		alone = openWithNeither
		type near struct {
			t   *Tube
			off float64
		}
		var all []near
		for _, p := range c.guides() {
			n := near{t: p.Tube(), off: math.Inf(1)}
			for l := -3.0; l <= 3; l += 0.5 { // as strong beside the white as it may be
				q := n.t.Paint.Strengthened(math.Exp(c.shift + l))
				off := 0.3 * l * l // of as near ones, the less strange strength
				for i := range films {
					off += films[i].off(&q)
				}
				n.off = min(n.off, off)
			}
			all = append(all, n)
		}
		slices.SortStableFunc(all, func(p, q near) int { return cmp.Compare(p.off, q.off) })
		for _, n := range all[:min(nearest, len(all))] {
			beliefs = append(beliefs, belief{
				label: "something like the library's " + n.t.Code(), paint: &n.t.Paint,
				prior: optics.LikePrior(&n.t.Paint), weight: math.Log((1 - alone) / float64(len(all))),
			})
		}
	}
	beliefs[0].weight = math.Log(alone)

	var best belief
	var fit *optics.Fitted
	var failed error
	var fits []*optics.Fitted
	var odds []float64
	films = merged(films)
	for _, b := range beliefs {
		b.prior = b.prior.Shifted(c.shift, c.apart)
		f, err := fitTo(films, b.prior, c.noise)
		if err != nil {
			failed = err
			continue
		}
		fits, odds = append(fits, f), append(odds, f.Evidence+b.weight)
		if fit == nil || f.Evidence+b.weight > fit.Evidence+best.weight {
			best, fit = b, f
		}
	}
	if fit == nil {
		return belief{}, nil, failed
	}
	fit = optics.Average(fit, fits, odds)
	if best.paint == nil && len(m.CI) > 0 && len(beliefs) > 1 {
		best.beside = beliefs[1].label
	}
	return best, fit, nil
}

// guides are the library's paints that may tell of a tube without a code.
func (c *calibration) guides() []*Pigment {
	return slices.DeleteFunc(Library(), func(p *Pigment) bool {
		return slices.ContainsFunc(c.rd.Apart, func(s string) bool { return strings.Contains(p.Source, s) })
	})
}

// likeLibrary is the prior of a paint such as the library's are.
func (c *calibration) likeLibrary() optics.Prior {
	if c.like == nil {
		var of []*optics.Paint
		for _, p := range c.guides() {
			if !p.White {
				of = append(of, &p.Paint)
			}
		}
		p := optics.PaintsPrior(of)
		c.like = &p
	}
	return *c.like
}

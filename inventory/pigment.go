package inventory

import (
	"paintout/inventory/optics"
)

// Pigment is one paint of the library: a pigment as it is usually sold, with
// its optics and what the trade says of it. Pigments of the library are shared
// and not to be changed.
type Pigment struct {
	Code    string   // as on a label: "PB29"
	Name    string   // the paint's usual common name, "ultramarine blue"; unique in the library
	Aliases []string // other names it is sold under

	// Paint is K and S on the scale where titanium white scatters 1, for parts
	// by volume of tube paint, under [optics.DrySurface].
	optics.Paint
	White      bool
	Provenance Provenance
	Source     string  // one line: the measurement, or the neighbour and the steps from it
	StrengthSD float64 // standard deviation of ln tinting strength, this paint against a tube of that code
	// Spread is the mean ΔE00 (D65, specular included) of masstone and tints
	// between two measured sources once their strengths are matched; 0 where
	// there is one source.
	Spread float64

	Family    string // hue family as the trade files it: "earth red", "violet"
	Lean      Lean   // from the spectra, see [LeanOf]
	Opacity   Opacity
	Strength  string // tinting strength: low, medium, high, very high
	Lightfast string // ASTM band and remark
	Caution   string // usual caution; empty if none beyond [GeneralCare]
	FactsFrom string // where opacity, strength, lightfastness and caution are from

	many bool // whether other paints share the code
}

// Key names the pigment without doubt: its code, with the paint's name where
// the code has several paints ("PB29", "PBr7/burnt sienna").
func (p *Pigment) Key() string {
	if p.many {
		return p.Code + "/" + p.Name
	}
	return p.Code
}

// Tube makes a tube of the pigment, named by its common name. Its Modes say
// how far a tube of that code, of whatever maker, may be from the constants:
//
//   - tinting strength first, one sigma of StrengthSD: 0.25 for measured
//     paints, the root mean square of the log factors between the two acrylic
//     sets over the ten pigments both hold; about 0.5 for paints derived from
//     the oil set (the standard deviation over the three pigments that tie its
//     scale) and for estimates (sixteen trials on paints that are measured
//     after all); 0.08 for the white, whose variation is already in the
//     strengths measured beside it.
//   - then level and tilt along wavelength of K and of S with strengths
//     matched, and the position of the absorption's edge where there is one,
//     by provenance, from the same comparisons.
//
// The figures are computed and written by internal/genlibrary; each Mode is
// independent of the others. The tube's Finish and size are not known.
func (p *Pigment) Tube() *Tube {
	sd := shapes[p.Provenance]
	if p.White {
		sd = whiteShape
	}
	sd.Strength = p.StrengthSD
	return &Tube{
		Name:       p.Name,
		CI:         []string{p.Key()},
		Paint:      p.Paint,
		White:      p.White,
		Provenance: p.Provenance,
		Source:     p.Source,
		Modes:      sd.Modes(&p.Paint),
		Opacity:    p.Opacity,
		Strength:   p.Strength,
		Lightfast:  p.Lightfast,
		Caution:    p.Caution,
	}
}

// constants is one row of the generated table.
type constants struct {
	key                string
	provenance         Provenance
	source             string
	strengthSD, spread float64
	paint              optics.Paint
}

package recipe

import (
	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Wet foretells the D65 colour of a mix before it dries, in the palette's
// finish; false unless every tube in it has been read wet and dry. What
// [Palette.Mix] foretells is the dry colour.
func (p *Palette) Wet(parts []Part) (lab.Lab, bool) {
	paints := make([]*optics.Paint, len(parts))
	amounts := make([]float64, len(parts))
	for i, q := range parts {
		w, known := p.Tubes[q.Tube].WetPaint()
		if !known {
			return lab.Lab{}, false
		}
		paints[i], amounts[i] = &w, q.Parts
	}
	m := optics.Mix(paints, amounts)
	r := m.Reflectance(p.Finish)
	return r.Lab(optics.D65), true
}

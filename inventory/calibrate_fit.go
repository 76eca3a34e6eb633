package inventory

import (
	"math"

	"paintout/inventory/optics"
)

// drawdown is the film as [optics.Fit] takes it.
func (f *film) drawdown() optics.Drawdown {
	d := optics.Drawdown{
		Parts: f.Paint, With: f.with, WithOf: f.withOf, PortionSD: optics.PortionSD, Finish: f.Finish,
	}
	if f.Black > 0 {
		d.PortionSD = math.Hypot(d.PortionSD, optics.BlackPortionSD)
	}
	if f.Spectrum != nil {
		d.Seen = *f.Spectrum
	} else {
		d.Colour, d.Illuminant, d.ColourSD = &f.Lab, f.Illuminant, f.Uncertainty
	}
	return d
}

// fitTo fits films, already merged, from a prior.
func fitTo(films []film, p optics.Prior, n optics.Noise) (*optics.Fitted, error) {
	d := make([]optics.Drawdown, len(films))
	for i := range films {
		d[i] = films[i].drawdown()
	}
	return optics.Fit(d, p, n)
}

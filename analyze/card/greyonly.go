package card

import (
	"math"

	"paintout/analyze/lab"
)

// greyOnly is what a colour read by a grey card alone is worth, ΔE00: the
// camera's tone curve is not known, which shows in colours much lighter or
// darker than the card, nor its colours, which shows in strong ones.
func greyOnly(c, card lab.Lab) float64 {
	return quadrature(1, 0.07*(c.L-card.L), 0.9*math.Sqrt(c.Chroma())/2)
}

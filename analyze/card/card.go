// Package card turns a photographed swatch card, or a single pile, into
// colours: CIELAB under D65, each with its uncertainty.
//
// A picture by itself says nothing of a paint's colour: exposure, the colour
// of the light and the camera's own rendering are in it. What undoes them is
// something known in the same light. A grey card gives exposure and white
// balance, see [Spot]; a 24-patch colour chart gives the camera's curve and
// colours too.
//
// All arithmetic is on linear light as package photo reads it. Reflectances
// are fractions of the perfect diffuser, places are in the whole upright
// picture, and differences are CIEDE2000. An uncertainty is one standard
// deviation along each of lightness, chroma and hue, in steps of CIEDE2000: the
// mean distance to expect is 1.6 times that.
package card

import (
	"fmt"
	"math"
	"slices"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
)

// GreyCard is what a photographer's grey card reflects: 18 % (common practice,
// no source).
const GreyCard = 0.18

// Grey is a grey card in the picture.
type Grey struct {
	Place       photo.Point // its middle
	Reflectance float64     // luminous, fraction; 0 means [GreyCard]
}

// A SpotReading is the colour of one place.
type SpotReading struct {
	Lab         lab.Lab // D65
	Uncertainty float64 // one standard deviation, see the package
	Spot, Grey  Sample
	Warnings    []string
}

// Spot reads one place, such as a pile of paint, by a grey card in the same
// light: the card is made neutral (von Kries scaling of the Bradford cone
// responses, ICC.1:2022, annex E) and as light as it is. Balance and exposure
// that p was opened with do not count. What the camera does to colours is not
// known, and the uncertainty says what that costs: see [greyOnly].
//
// It fails where a place lies outside the picture, is burnt out or black.
func Spot(p *photo.Photo, spot photo.Point, grey Grey) (*SpotReading, error) {
	p = p.AsShot()
	r := &SpotReading{}
	var err error
	if r.Grey, err = samplePoint(p, grey.Place); err != nil {
		return nil, err
	}
	if err := r.Grey.usable(p.Name, "the grey card at "+grey.Place.String()); err != nil {
		return nil, err
	}
	b, err := balanceOn(p.Name, &r.Grey, grey)
	if err != nil {
		return nil, err
	}
	if r.Spot, err = samplePoint(p, spot); err != nil {
		return nil, err
	}
	if err := r.Spot.usable(p.Name, "the place "+spot.String()); err != nil {
		return nil, err
	}
	r.Lab = b.colour(r.Spot.Light)
	r.Uncertainty = quadrature(greyOnly(r.Lab), b.noise(&r.Spot), b.noise(&r.Grey))
	r.Warnings = append(r.Grey.faults("the grey card"), r.Spot.faults("the place "+spot.String())...)
	return r, nil
}

// balance makes a grey card in the picture what it is.
type balance struct {
	in    *space
	white lab.XYZ // what the perfect diffuser would be in the picture
}

// largestCast is how far the channels of something grey may lie apart: by
// candle-light read as daylight they are 8 to 1 (CIE illuminant A in sRGB).
const largestCast = 10.0

func balanceOn(name string, s *Sample, g Grey) (*balance, error) {
	y := g.Reflectance
	if y == 0 {
		y = GreyCard
	}
	if !(y >= 0.02 && y <= 1) {
		return nil, fmt.Errorf("%s: a grey card that reflects %g: give its reflectance as a fraction, 0.02 to 1; a photographer's grey card has %.2f", name, y, GreyCard)
	}
	x := s.in.xyz(s.Light)
	b := &balance{in: s.in, white: lab.XYZ{X: x.X / y, Y: x.Y / y, Z: x.Z / y}}
	if lo, hi := slices.Min(s.Light[:]), slices.Max(s.Light[:]); !(lo*largestCast > hi) {
		return nil, fmt.Errorf("%s: the grey card at %s is too strongly coloured to be grey; choose a place on the card", name, g.Place)
	}
	return b, nil
}

// colour is the D65 colour of a light in the picture.
func (b *balance) colour(light [3]float64) lab.Lab {
	return lab.FromXYZ(lab.Adapt(b.in.xyz(light), b.white, lab.D65), lab.D65)
}

// noise is what a sample's own unevenness leaves open.
func (b *balance) noise(s *Sample) float64 {
	c := b.colour(s.Light)
	var d [3]float64
	for k := range d {
		v := s.Light
		v[k] += s.Error[k]
		d[k] = lab.DE00(c, b.colour(v))
	}
	return quadrature(d[:]...) / math.Sqrt(3)
}

package photo

import "math"

// Limits of a spot to balance by. Above the first a channel is clipped (254
// of 255 encoded as sRGB); below the second, 1 % of white, noise and the
// lens's veil outweigh the colour; beyond the third no daylight, lamp or
// sunset explains the cast (common practice, no source).
const (
	clippedLight = 0.991
	darkestSpot  = 0.01
	largestGain  = 5
)

// expose settles white balance and exposure and compiles the converter.
func (p *Photo) expose(s *space, t *yccTables, o Options) error {
	p.plain = s.converter(p.raster, identity, t)
	p.conv = p.plain
	post := identity
	if o.Grey != nil {
		b, m, err := p.balance(o)
		if err != nil {
			return err
		}
		p.Balance = b
		post = m
		p.note("White balance: the spot at %d,%d (radius %d pixels) was made neutral, keeping its lightness.", b.X, b.Y, b.Radius)
	}
	if o.Exposure != 0 {
		p.Exposure = o.Exposure
		f := math.Exp2(o.Exposure)
		post = post.mul(diagonal([3]float64{f, f, f}))
		p.note("Exposure: %+g stops, so light times %.3g.", o.Exposure, f)
	}
	if post != identity {
		p.conv = s.converter(p.raster, post, t)
	}
	return nil
}

// balance finds the matrix that makes the spot neutral at its own luminance:
// von Kries scaling of the Bradford cone responses (ICC.1:2022, annex E.3).
func (p *Photo) balance(o Options) (*Balance, mat3, error) {
	x, y, err := o.Grey.pixel(p.Width, p.Height)
	if err != nil {
		return nil, identity, err
	}
	r := o.GreyRadius
	if r <= 0 {
		r = max(2, max(p.Width, p.Height)/200)
	}
	mean, clipped := p.disc(x, y, r, func(v []float32) bool { return max(v[0], v[1], v[2]) >= clippedLight })
	toXYZ := primariesSRGB.toXYZ()
	spot := toXYZ.apply(mean)
	switch {
	case clipped > 0.05:
		return nil, identity, failure(ErrOption, "the grey spot at %s is burnt out, so its colour is lost; choose a neutral place that is not so light", o.Grey)
	case spot[1] < darkestSpot:
		return nil, identity, failure(ErrOption, "the grey spot at %s is nearly black, so its colour is mostly noise; choose a lighter neutral place", o.Grey)
	}
	from := bradford.apply(spot)
	to := bradford.apply([3]float64{whiteD65[0] * spot[1], spot[1], whiteD65[2] * spot[1]})
	b := &Balance{X: x, Y: y, Radius: r, Spot: mean}
	for k := range b.Gain {
		b.Gain[k] = to[k] / from[k]
		if !(b.Gain[k] > 1.0/largestGain && b.Gain[k] < largestGain) {
			return nil, identity, failure(ErrOption, "the grey spot at %s is too strongly coloured to have been grey; choose a neutral place, such as a road, a rock or white paper in even light", o.Grey)
		}
	}
	m := xyzToSRGB.mul(bradford.inverse()).mul(diagonal(b.Gain)).mul(bradford).mul(toXYZ)
	return b, m, nil
}

package recipe

import "paintout/analyze/lab"

// RangeFit maps a photo's colours into what a box of paint can reach, by black
// point compensation as in ISO 18619: linear scaling of XYZ from the photo's
// encoded black and white to the box's darkest and lightest mix. The standard
// keeps white fixed; paint's white is no perfect diffuser, so here both ends
// move. As in the standard, black lies on the axis of white: the darkest mix
// gives its luminance, not its hue, or every shadow would lean to whatever
// tube happens to be darkest. For the same reason a palette without white gives
// only the luminance of its lightest mix: on the axis of a yellow every grey of
// the photo would be a yellow. Fit once to the whole box, and keep the colours
// to mix fixed while choices of tubes are compared.
type RangeFit struct {
	Dark, Light lab.XYZ // D65, Y = 100 for the perfect diffuser
}

// RangeFit gives the palette's own mapping.
func (p *Palette) RangeFit() RangeFit {
	light := p.light
	if len(p.whites) == 0 {
		light = lab.XYZ{X: lab.D65.X * light.Y / lab.D65.Y, Y: light.Y, Z: lab.D65.Z * light.Y / lab.D65.Y}
	}
	share := p.black.Y / light.Y
	return RangeFit{
		Dark:  lab.XYZ{X: light.X * share, Y: p.black.Y, Z: light.Z * share},
		Light: light,
	}
}

// Aim turns a photo's D65 colour into the colour to mix:
// Y' = Yd + Y/100·(Yl − Yd), and X and Z likewise along the white.
func (f RangeFit) Aim(photo lab.Lab) lab.Lab {
	v := photo.XYZ(lab.D65)
	along := func(v, white, dark, light float64) float64 { return dark + v/white*(light-dark) }
	return lab.FromXYZ(lab.XYZ{
		X: along(v.X, lab.D65.X, f.Dark.X, f.Light.X),
		Y: along(v.Y, lab.D65.Y, f.Dark.Y, f.Light.Y),
		Z: along(v.Z, lab.D65.Z, f.Dark.Z, f.Light.Z),
	}, lab.D65)
}

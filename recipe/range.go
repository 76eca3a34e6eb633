package recipe

import "paintout/analyze/lab"

// RangeFit maps a photo's colours into what a box of paint can reach, by black
// point compensation as in ISO 18619: linear scaling of XYZ from the photo's
// encoded black and white to the box's darkest and lightest mix. The standard
// keeps white fixed; paint's white is no perfect diffuser, so here both ends
// move. As in the standard, black lies on the axis of white: the darkest mix
// gives its luminance, not its hue, or every shadow would lean to whatever
// tube happens to be darkest. Fit once to the whole box, and keep the colours
// to mix fixed while choices of tubes are compared.
type RangeFit struct {
	Dark, Light lab.XYZ // D65, Y = 100 for the perfect diffuser
}

// RangeFit gives the palette's own mapping.
func (p *Palette) RangeFit() RangeFit {
	share := p.black.Y / p.light.Y
	return RangeFit{
		Dark:  lab.XYZ{X: p.light.X * share, Y: p.black.Y, Z: p.light.Z * share},
		Light: p.light,
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

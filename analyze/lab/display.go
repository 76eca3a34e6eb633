package lab

import (
	"math"

	"github.com/lucasb-eyer/go-colorful"
)

// srgbWhite is the white of IEC 61966-2-1, chromaticity x .3127, y .3290:
// linear RGB (1, 1, 1) in the sRGB matrix. Lab values of displayed colours are
// taken against it, so that screen white is exactly L* 100, a* 0, b* 0.
var srgbWhite = func() XYZ {
	x, y, z := colorful.LinearRgbToXyz(1, 1, 1)
	return XYZ{100 * x, 100 * y, 100 * z}
}()

// FromLinear gives the D65 colour of linear-light sRGB, 1 being full scale.
// Components outside [0, 1] are allowed (wide-gamut photos have them).
func FromLinear(r, g, b float64) Lab {
	x, y, z := colorful.LinearRgbToXyz(r, g, b)
	return FromXYZ(XYZ{100 * x, 100 * y, 100 * z}, srgbWhite)
}

// Linear is the inverse of [FromLinear]; colours that a screen cannot show
// come out beyond [0, 1].
func (c Lab) Linear() (r, g, b float64) {
	xyz := c.XYZ(srgbWhite)
	return colorful.XyzToLinearRgb(xyz.X/100, xyz.Y/100, xyz.Z/100)
}

// DecodeSRGB turns an encoded sRGB component in [0, 1] into linear light
// (IEC 61966-2-1).
func DecodeSRGB(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// EncodeSRGB is the inverse of [DecodeSRGB].
func EncodeSRGB(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// FromSRGB8 gives the D65 colour of 8-bit sRGB.
func FromSRGB8(r, g, b uint8) Lab {
	return FromLinear(DecodeSRGB(float64(r)/255), DecodeSRGB(float64(g)/255), DecodeSRGB(float64(b)/255))
}

// SRGB8 gives the nearest 8-bit sRGB by clipping each component, and whether
// the colour lay outside what a screen can show (by more than half a step).
func (c Lab) SRGB8() (r, g, b uint8, outside bool) {
	lr, lg, lb := c.Linear()
	var over [3]bool
	r, over[0] = encode8(lr)
	g, over[1] = encode8(lg)
	b, over[2] = encode8(lb)
	return r, g, b, over[0] || over[1] || over[2]
}

func encode8(linear float64) (uint8, bool) {
	v := EncodeSRGB(linear) * 255
	switch {
	case math.IsNaN(v):
		return 0, true
	case v < 0:
		return 0, v < -0.5
	case v > 255:
		return 255, v > 255.5
	}
	return uint8(v + 0.5), false
}

// Hex is [Lab.SRGB8] written as in CSS, "#5a7d3c".
func (c Lab) Hex() string {
	r, g, b, _ := c.SRGB8()
	const digits = "0123456789abcdef"
	return string([]byte{'#',
		digits[r>>4], digits[r&15], digits[g>>4], digits[g&15], digits[b>>4], digits[b&15]})
}

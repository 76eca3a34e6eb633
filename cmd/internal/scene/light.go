package scene

import "math"

// Sun and sky are coloured separately, in linear sRGB as a camera balanced for
// daylight records them. The unit is the radiance of a white matte surface:
// one that faces the sun squarely shows [sunlight], one that sees the whole sky
// shows [skylight].
var (
	toSun    = sunDirection(23, -104)
	sunlight = rgb{3.20, 2.70, 2.04}
	skylight = rgb{0.40, 0.52, 0.74}
)

// sunDirection points to the sun from its elevation and its azimuth right of
// the view axis, both in degrees.
func sunDirection(elevation, azimuth float64) vec {
	e, a := elevation*math.Pi/180, azimuth*math.Pi/180
	return vec{math.Cos(e) * math.Sin(a), math.Sin(e), math.Cos(e) * math.Cos(a)}
}

// Extinction follows Koschmieder: a black hill at distance d shows
// airlight·(1−e^(−βd)), with β = 3.912/V for the visual range V (H.
// Koschmieder, Beitr. Phys. freien Atm. 12, 1924; 3.912 = −ln 0.02). Here V is
// for green; red and blue go with wavelength to the power −1.2, between large
// haze droplets (0) and clean air (−4), for primaries near 610, 550, 465 nm.
const visualRange = 30000.0 // metres

var extinction = func() rgb {
	beta := 3.912 / visualRange
	return rgb{beta * math.Pow(610./550, -1.2), beta, beta * math.Pow(465./550, -1.2)}
}()

// clearSky is the cloudless sky's radiance in a direction of unit length.
func clearSky(d vec) rgb {
	up := max(d.y, 0)
	low, high := rgb{0.60, 0.73, 0.87}, rgb{0.105, 0.215, 0.46}
	c := high.mix(low, 0.80*math.Exp(-up/0.115)+0.20*math.Exp(-up/0.55))
	toward := d.dot(toSun)
	glow := 1 + 0.30*toward + 0.25*toward*toward
	warm := math.Exp(-up/0.10) * (0.5 + 0.5*toward)
	return c.scale(glow).mul(rgb{1 + 0.16*warm, 1 + 0.06*warm, 1 - 0.08*warm})
}

// airlight is what haze adds in the limit of great distance: the low sky in
// that direction, a little darker and bluer, since clouds shade part of the
// haze in front of a hill.
func airlight(d vec) rgb {
	d.y = 0.02
	return clearSky(d.unit()).mul(rgb{0.71, 0.81, 0.97})
}

// veil is a radiance seen through distance metres of hazy air whose limit is air.
func veil(c, air rgb, distance float64) rgb {
	t := rgb{math.Exp(-extinction.r * distance), math.Exp(-extinction.g * distance), math.Exp(-extinction.b * distance)}
	return rgb{
		c.r*t.r + air.r*(1-t.r),
		c.g*t.g + air.g*(1-t.g),
		c.b*t.b + air.b*(1-t.b),
	}
}

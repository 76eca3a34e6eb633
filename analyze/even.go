package analyze

import (
	"math"

	"paintout/analyze/lab"
)

// point is a colour in even coordinates: CIELAB bent by CIEDE2000's own
// weights, so that plain distance comes near ΔE00 (on landscape photos the two
// differ by about 4 % on average between a pixel and its mass). Lightness is
// the integral of dL*/S_L; chroma, after the boost G near neutral, is the
// integral of dC'/S_C, which is ln(1 + 0.045 C')/0.045; hue angle is kept,
// for along hue the result is already close to C'/S_H. The rotation term for
// blues is left out. The weights are formulas (4), (18) and (19) of Sharma,
// Wu & Dalal, Color Res. Appl. 30:21–30, 2005. Means and sums of squares,
// which ΔE00 itself does not allow, are taken here.
type point [3]float64

func (p point) dist2(q point) float64 {
	x, y, z := p[0]-q[0], p[1]-q[1], p[2]-q[2]
	return x*x + y*y + z*z
}

// evenL is the integral of dL*/S_L from 0, in steps of 1/4 of L*, to L* 110.
var evenL = func() (t [441]float64) {
	for i := 1; i < len(t); i++ {
		l := (float64(i) - 0.5) / 4
		d2 := (l - 50) * (l - 50)
		t[i] = t[i-1] + 0.25/(1+0.015*d2/math.Sqrt(20+d2))
	}
	return
}()

func even(c lab.Lab) point {
	x := min(max(4*c.L, 0), float64(len(evenL)-2))
	i := int(x)
	l := evenL[i] + (evenL[i+1]-evenL[i])*(x-float64(i))

	chroma := math.Sqrt(c.A*c.A + c.B*c.B)
	c2 := chroma * chroma
	c7 := c2 * c2 * c2 * chroma
	a := c.A * (1.5 - 0.5*math.Sqrt(c7/(c7+6103515625))) // 25^7
	cp := math.Sqrt(a*a + c.B*c.B)
	if cp == 0 {
		return point{l, 0, 0}
	}
	r := math.Log1p(0.045*cp) / (0.045 * cp)
	return point{l, r * a, r * c.B}
}

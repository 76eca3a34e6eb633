package lab

import "math"

// Steps gives the matrix that turns a small Lab difference at c into
// lightness, chroma and hue differences weighted as in CIEDE2000
// (CIE 142-2001), without its turn in the blues.
func Steps(c Lab) (m [3][3]float64) {
	t := math.Pow(c.Chroma(), 7)
	g := 0.5 * (1 - math.Sqrt(t/(t+6103515625))) // 25⁷
	a := c.A * (1 + g)
	ch := math.Hypot(a, c.B)
	cos, sin := 1.0, 0.0
	if ch > 1e-6 {
		cos, sin = a/ch, c.B/ch
	}
	l2 := (c.L - 50) * (c.L - 50)
	sl, sc, sh := 1+0.015*l2/math.Sqrt(20+l2), 1+0.045*ch, 1+0.015*ch
	m[0][0] = 1 / sl
	m[1] = [3]float64{0, (1 + g) * cos / sc, sin / sc}
	m[2] = [3]float64{0, -(1 + g) * sin / sh, cos / sh}
	return m
}

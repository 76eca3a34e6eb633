package lab

import "math"

// DE00 is the CIEDE2000 colour difference with kL = kC = kH = 1
// (ISO/CIE 11664-6; formulas numbered as in Sharma, Wu & Dalal, "The
// CIEDE2000 color-difference formula", Color Res. Appl. 30:21–30, 2005).
// It is symmetric, and never below |ΔL*|/1.75.
//
// Hue differences and the sines and cosines of the mean hue come from vector
// products instead of angles, to the same result within rounding.
func DE00(p, q Lab) float64 {
	g := chromaBoost((math.Sqrt(p.A*p.A+p.B*p.B) + math.Sqrt(q.A*q.A+q.B*q.B)) / 2) // (2)–(4)
	a1, a2 := (1+g)*p.A, (1+g)*q.A                                                  // (5)
	c1, c2 := math.Sqrt(a1*a1+p.B*p.B), math.Sqrt(a2*a2+q.B*q.B)                    // (6)
	dL, dC := q.L-p.L, c2-c1                                                        // (8), (9)
	lm, cm := (p.L+q.L)/2, (c1+c2)/2                                                // (12), (13)

	var dH float64       // (7), (10), (11)
	cos, sin := 1.0, 0.0 // of the mean hue (14)
	cc, dot := c1*c2, a1*a2+p.B*q.B
	switch {
	case cc < 1e-60: // the hue of a neutral does not count
		if cm != 0 {
			cos, sin = (a1+a2)/(2*cm), (p.B+q.B)/(2*cm)
		}
	case cc+dot > 1e-4*cc:
		dH = (a1*q.B - a2*p.B) * math.Sqrt(2/(cc+dot))
		cos, sin = a1*c2+a2*c1, p.B*c2+q.B*c1
		norm := 1 / math.Sqrt(cos*cos+sin*sin)
		cos, sin = cos*norm, sin*norm
	default: // hues within a degree of opposite: their angles decide the mean
		h1, h2 := degrees(a1, p.B), degrees(a2, q.B)
		mean, dh := (h1+h2)/2, h2-h1
		if math.Abs(dh) > 180 {
			mean += 180
			dh -= math.Copysign(360, dh)
		}
		dH = 2 * math.Sqrt(cc) * math.Sin(dh*radian/2)
		sin, cos = math.Sincos(mean * radian)
	}

	cos2, sin2 := 2*cos*cos-1, 2*sin*cos
	cos3, sin3 := cos*cos2-sin*sin2, sin*cos2+cos*sin2
	cos4, sin4 := 2*cos2*cos2-1, 2*sin2*cos2
	t := 1 - 0.17*(cos*cos30+sin*sin30) + 0.24*cos2 +
		0.32*(cos3*cos6-sin3*sin6) - 0.20*(cos4*cos63+sin4*sin63) // (15)
	var rT float64
	if cos < -0.5 || sin < 0 { // hues 0–120° are so far from 275° that (16) vanishes, e^-38
		turn := (degrees(cos, sin) - 275) / 25
		dTheta := 30 * math.Exp(-turn*turn)                              // (16)
		rT = -2 * math.Sqrt(power7Share(cm)) * math.Sin(2*dTheta*radian) // (17), (21)
	}
	l50 := (lm - 50) * (lm - 50)
	l := dL / (1 + 0.015*l50/math.Sqrt(20+l50))  // (18)
	c := dC / (1 + 0.045*cm)                     // (19)
	h := dH / (1 + 0.015*cm*t)                   // (20)
	return math.Sqrt(max(0, l*l+c*c+h*h+rT*c*h)) // (22)
}

const radian = math.Pi / 180

// Sines and cosines of the angles in formula (15).
var (
	sin30, cos30 = math.Sincos(30 * radian)
	sin6, cos6   = math.Sincos(6 * radian)
	sin63, cos63 = math.Sincos(63 * radian)
)

// chromaBoost is G, by which CIEDE2000 stretches a* near neutral.
func chromaBoost(meanChroma float64) float64 {
	return 0.5 * (1 - math.Sqrt(power7Share(meanChroma)))
}

// power7Share is C^7 / (C^7 + 25^7).
func power7Share(c float64) float64 {
	c2 := c * c
	c7 := c2 * c2 * c2 * c
	const k = 6103515625 // 25^7
	return c7 / (c7 + k)
}

// DE76 is the plain Euclidean distance in CIELAB, ΔE*ab.
func DE76(p, q Lab) float64 {
	return math.Sqrt((p.L-q.L)*(p.L-q.L) + (p.A-q.A)*(p.A-q.A) + (p.B-q.B)*(p.B-q.B))
}

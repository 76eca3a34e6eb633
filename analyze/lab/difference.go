package lab

import "math"

// DE00 is the CIEDE2000 colour difference with kL = kC = kH = 1
// (ISO/CIE 11664-6; formulas numbered as in Sharma, Wu & Dalal, "The
// CIEDE2000 color-difference formula", Color Res. Appl. 30:21–30, 2005).
// It is symmetric, and never below |ΔL*|/1.75.
func DE00(p, q Lab) float64 {
	c1, c2 := p.Chroma(), q.Chroma()
	g := chromaBoost((c1 + c2) / 2)                      // (2)–(4)
	a1, a2 := (1+g)*p.A, (1+g)*q.A                       // (5)
	cp1, cp2 := math.Hypot(a1, p.B), math.Hypot(a2, q.B) // (6)
	h1, h2 := degrees(a1, p.B), degrees(a2, q.B)         // (7)
	dL, dC := q.L-p.L, cp2-cp1                           // (8), (9)
	var dh float64                                       // (10)
	chromatic := cp1*cp2 != 0
	if chromatic {
		dh = h2 - h1
		if dh > 180 {
			dh -= 360
		} else if dh < -180 {
			dh += 360
		}
	}
	dH := 2 * math.Sqrt(cp1*cp2) * math.Sin(dh*math.Pi/360) // (11)

	lm, cm := (p.L+q.L)/2, (cp1+cp2)/2 // (12), (13)
	hm := h1 + h2                      // (14)
	if chromatic {
		hm /= 2
		if math.Abs(h1-h2) > 180 {
			if h1+h2 < 360 {
				hm += 180
			} else {
				hm -= 180
			}
		}
	}
	rad := math.Pi / 180
	t := 1 - 0.17*math.Cos((hm-30)*rad) + 0.24*math.Cos(2*hm*rad) +
		0.32*math.Cos((3*hm+6)*rad) - 0.20*math.Cos((4*hm-63)*rad) // (15)
	turn := (hm - 275) / 25
	dTheta := 30 * math.Exp(-turn*turn)  // (16)
	rC := 2 * math.Sqrt(power7Share(cm)) // (17)
	l50 := (lm - 50) * (lm - 50)
	sL := 1 + 0.015*l50/math.Sqrt(20+l50) // (18)
	sC := 1 + 0.045*cm                    // (19)
	sH := 1 + 0.015*cm*t                  // (20)
	rT := -math.Sin(2*dTheta*rad) * rC    // (21)
	l, c, h := dL/sL, dC/sC, dH/sH
	return math.Sqrt(max(0, l*l+c*c+h*h+rT*c*h)) // (22)
}

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

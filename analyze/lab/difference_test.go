package lab

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// sharma holds the test pairs of Sharma, Wu & Dalal, Color Res. Appl.
// 30:21–30, 2005, table 1: L*, a*, b* of each colour and their ΔE00.
var sharma = []struct {
	p, q Lab
	want float64
}{
	{Lab{50, 2.6772, -79.7751}, Lab{50, 0, -82.7485}, 2.0425},
	{Lab{50, 3.1571, -77.2803}, Lab{50, 0, -82.7485}, 2.8615},
	{Lab{50, 2.8361, -74.02}, Lab{50, 0, -82.7485}, 3.4412},
	{Lab{50, -1.3802, -84.2814}, Lab{50, 0, -82.7485}, 1},
	{Lab{50, -1.1848, -84.8006}, Lab{50, 0, -82.7485}, 1},
	{Lab{50, -0.9009, -85.5211}, Lab{50, 0, -82.7485}, 1},
	{Lab{50, 0, 0}, Lab{50, -1, 2}, 2.3669},
	{Lab{50, -1, 2}, Lab{50, 0, 0}, 2.3669},
	{Lab{50, 2.49, -0.001}, Lab{50, -2.49, 0.0009}, 7.1792},
	{Lab{50, 2.49, -0.001}, Lab{50, -2.49, 0.001}, 7.1792},
	{Lab{50, 2.49, -0.001}, Lab{50, -2.49, 0.0011}, 7.2195},
	{Lab{50, 2.49, -0.001}, Lab{50, -2.49, 0.0012}, 7.2195},
	{Lab{50, -0.001, 2.49}, Lab{50, 0.0009, -2.49}, 4.8045},
	{Lab{50, -0.001, 2.49}, Lab{50, 0.001, -2.49}, 4.8045},
	{Lab{50, -0.001, 2.49}, Lab{50, 0.0011, -2.49}, 4.7461},
	{Lab{50, 2.5, 0}, Lab{50, 0, -2.5}, 4.3065},
	{Lab{50, 2.5, 0}, Lab{73, 25, -18}, 27.1492},
	{Lab{50, 2.5, 0}, Lab{61, -5, 29}, 22.8977},
	{Lab{50, 2.5, 0}, Lab{56, -27, -3}, 31.903},
	{Lab{50, 2.5, 0}, Lab{58, 24, 15}, 19.4535},
	{Lab{50, 2.5, 0}, Lab{50, 3.1736, 0.5854}, 1},
	{Lab{50, 2.5, 0}, Lab{50, 3.2972, 0}, 1},
	{Lab{50, 2.5, 0}, Lab{50, 1.8634, 0.5757}, 1},
	{Lab{50, 2.5, 0}, Lab{50, 3.2592, 0.335}, 1},
	{Lab{60.2574, -34.0099, 36.2677}, Lab{60.4626, -34.1751, 39.4387}, 1.2644},
	{Lab{63.0109, -31.0961, -5.8663}, Lab{62.8187, -29.7946, -4.0864}, 1.263},
	{Lab{61.2901, 3.7196, -5.3901}, Lab{61.4292, 2.248, -4.962}, 1.8731},
	{Lab{35.0831, -44.1164, 3.7933}, Lab{35.0232, -40.0716, 1.5901}, 1.8645},
	{Lab{22.7233, 20.0904, -46.694}, Lab{23.0331, 14.973, -42.5619}, 2.0373},
	{Lab{36.4612, 47.858, 18.3852}, Lab{36.2715, 50.5065, 21.2231}, 1.4146},
	{Lab{90.8027, -2.0831, 1.441}, Lab{91.1528, -1.6435, 0.0447}, 1.4441},
	{Lab{90.9257, -0.5406, -0.9208}, Lab{88.6381, -0.8985, -0.7239}, 1.5381},
	{Lab{6.7747, -0.2908, -2.4247}, Lab{5.8714, -0.0985, -2.2286}, 0.6377},
	{Lab{2.0776, 0.0795, -1.135}, Lab{0.9033, -0.0636, -0.5514}, 0.9082},
}

func TestDE00Sharma(t *testing.T) {
	if len(sharma) != 34 {
		t.Fatalf("%d pairs, want 34", len(sharma))
	}
	for i, s := range sharma {
		for _, got := range []float64{DE00(s.p, s.q), DE00(s.q, s.p)} {
			if math.Abs(got-s.want) > 0.5e-4+1e-9 { // the table has four decimals
				t.Errorf("pair %d: %.6f, want %.4f", i+1, got, s.want)
			}
		}
	}
}

// plainDE00 is CIEDE2000 written out step by step as in the paper, with angles.
func plainDE00(p, q Lab) float64 {
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

func labs() *rapid.Generator[Lab] {
	return rapid.Custom(func(t *rapid.T) Lab {
		// Round steps make exact neutrals, equal and opposite hues common.
		if rapid.Bool().Draw(t, "round") {
			step := rapid.IntRange(-12, 12)
			return Lab{float64(rapid.IntRange(0, 10).Draw(t, "L")) * 10, float64(step.Draw(t, "a")) * 10, float64(step.Draw(t, "b")) * 10}
		}
		ab := rapid.Float64Range(-128, 128)
		return Lab{rapid.Float64Range(0, 100).Draw(t, "L"), ab.Draw(t, "a"), ab.Draw(t, "b")}
	})
}

func TestDE00Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, q := labs().Draw(t, "p"), labs().Draw(t, "q")
		d := DE00(p, q)
		// The formula jumps where hues are opposite and where the mean hue
		// passes 360°; there rounding may take either side.
		turn := func(c Lab, degrees float64) Lab { p := c.LCh(); p.H += degrees; return p.Lab() }
		nearest := math.Inf(1)
		for _, one := range []float64{0, 1e-10, -1e-10} {
			for _, other := range []float64{0, 2e-10, -2e-10} {
				nearest = min(nearest, math.Abs(d-plainDE00(turn(p, one), turn(q, other))))
			}
		}
		if nearest > 1e-8 {
			t.Fatalf("ΔE00 %v, by angles %v", d, plainDE00(p, q))
		}
		if back := DE00(q, p); math.Abs(d-back) > 1e-12 {
			t.Fatalf("not symmetric: %v and %v", d, back)
		}
		if bound := math.Abs(p.L-q.L) / 1.75; d < bound-1e-9 {
			t.Fatalf("ΔE00 %v below |ΔL|/1.75 = %v", d, bound)
		}
		if self := DE00(p, p); self != 0 {
			t.Fatalf("ΔE00 of a colour with itself is %v", self)
		}
	})
}

func BenchmarkDE00(b *testing.B) {
	colours := []Lab{{52, -10, 31}, {70, -8, -25}, {40, 20, 30}, {85, 3, 12}, {25, -8, 10}, {31, 12, -48}}
	var sum float64
	i := 0
	for b.Loop() {
		sum += DE00(colours[i%6], colours[(i/6)%5])
		i++
	}
	_ = sum
}

func BenchmarkDE00Plain(b *testing.B) {
	colours := []Lab{{52, -10, 31}, {70, -8, -25}, {40, 20, 30}, {85, 3, 12}, {25, -8, 10}, {31, 12, -48}}
	var sum float64
	i := 0
	for b.Loop() {
		sum += plainDE00(colours[i%6], colours[(i/6)%5])
		i++
	}
	_ = sum
}

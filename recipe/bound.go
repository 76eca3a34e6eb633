package recipe

import (
	"math"

	"paintout/analyze/lab"
)

// A sure lower bound of ΔE00, many times cheaper than the difference itself.
//
// With x = ΔC'/S_C and y = ΔH'/S_H the formula is ΔL²/S_L² + x² + y² + R_T·xy,
// and x² + y² + R_T·xy >= (1 − |R_T|/2)(x² + y²). S_H <= S_C, since T <= 1.93;
// ΔC'² + ΔH'² = Δa'² + Δb² >= Δa² + Δb², since a' = (1 + G)a with G >= 0. So
//
//	ΔE00² >= ΔL²/S_L² + (1 − |R_T|/2)/S_C² · (Δa² + Δb²).
//
// S_L depends on the mean L* alone. S_C and R_C grow with the mean C', which is
// at most (1 + G)·C*, and |R_T| <= sin 60°·R_C; where both colours lie on one
// side of a line that keeps the mean hue 75° or more from 275°, see sidesOf,
// Δθ <= 30°·exp(−9) and |R_T| < 2.6e-4. Tables over the mean, rounded to the
// worse side, hold the factors.
var (
	lightFactor  [102]float64 // 1/S_L² by mean L*
	chromaFactor [2][260]float64
)

func init() {
	sl := func(l float64) float64 {
		d := (l - 50) * (l - 50)
		return 1 + 0.015*d/math.Sqrt(20+d)
	}
	for i := range lightFactor {
		worst := max(sl(float64(i)), sl(float64(i)+1))
		lightFactor[i] = 1 / (worst * worst)
	}
	share7 := func(c float64) float64 { return math.Pow(c, 7) / (math.Pow(c, 7) + math.Pow(25, 7)) }
	for i := range chromaFactor[0] {
		lo, hi := float64(i), float64(i)+1
		g := 0.5 * (1 - math.Sqrt(share7(lo))) // falls with chroma
		c := (1 + g) * hi
		sc := 1 + 0.045*c
		rt := math.Sin(math.Pi/3) * 2 * math.Sqrt(share7(c))
		chromaFactor[0][i] = (1 - rt/2) / (sc * sc)
		chromaFactor[1][i] = (1 - 1.5e-4) / (sc * sc)
	}
}

// apart2 is a lower bound of ΔE00² between two colours of chroma pc and qc.
func apart2(p *lab.Lab, pc float64, q *lab.Lab, qc float64) float64 {
	l := int((p.L + q.L) / 2)
	c := int((pc + qc) / 2)
	if p.L+q.L < 0 || l >= len(lightFactor) || c >= len(chromaFactor[0]) {
		return 0
	}
	warm := 0
	if sidesOf(p, 0)&sidesOf(q, 0) != 0 {
		warm = 1
	}
	dL, dA, dB := p.L-q.L, p.A-q.A, p.B-q.B
	return dL*dL*lightFactor[l] + (dA*dA+dB*dB)*chromaFactor[warm][c]
}

// sidesOf tells on which of three lines through the neutrals a colour lies on
// the side away from blue by more than a margin: hues 0–180°, −10–170° and
// 20–200°, for every a' from a* to 1.5a*.
func sidesOf(c *lab.Lab, margin float64) (sides uint8) {
	const cos80, sin80, cos110, sin110 = 0.17364817766693, 0.98480775301221, -0.34202014332567, 0.93969262078591
	lo, hi := min(c.A, 1.5*c.A), max(c.A, 1.5*c.A)
	if c.B > margin {
		sides = 1
	}
	if cos80*lo+sin80*c.B > margin {
		sides |= 2
	}
	if cos110*hi+sin110*c.B > margin {
		sides |= 4
	}
	return sides
}

// roughly is a colour known roughly, made ready for apart2.
type roughly struct {
	l, a, b float64
	chroma  float64 // at most
	sides   uint8   // surely
}

// roughAB is how far a rough colour may lie off in the plane of a* and b*.
const roughAB = 0.34 // √(roughA² + roughB²)

func roughlyOf(q *lab.Lab) roughly {
	return roughly{q.L, q.A, q.B, math.Sqrt(q.A*q.A+q.B*q.B) + roughAB, sidesOf(q, 1.5*roughAB)}
}

// apart2 is a lower bound of ΔE00² between a colour of known chroma and sides
// and any that r may be.
func (r *roughly) apart2(p *lab.Lab, chroma float64, sides uint8) float64 {
	sum := p.L + r.l
	lo, hi := int(max(0, sum-roughL)/2), int((sum+roughL)/2)
	c := int((chroma + r.chroma) / 2)
	if sum < -roughL || hi >= len(lightFactor) || c >= len(chromaFactor[0]) {
		return 0
	}
	dL := max(0, math.Abs(p.L-r.l)-roughL)
	light := dL * dL * min(lightFactor[lo], lightFactor[hi])
	warm := 0
	if sides&r.sides != 0 {
		warm = 1
	}
	dA, dB := p.A-r.a, p.B-r.b
	d := max(0, math.Sqrt(dA*dA+dB*dB)-roughAB)
	return light + d*d*chromaFactor[warm][c]
}

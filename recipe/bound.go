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
// at most (1 + G)·C*, and |R_T| <= sin 60°·R_C; where both colours are yellow
// rather than blue (b* > 0) the mean hue lies below 180° and R_T < 1e-6.
// Tables over the mean, rounded to the worse side, hold the factors.
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
		chromaFactor[1][i] = (1 - 1e-6) / (sc * sc)
	}
}

// apart2 is a lower bound of ΔE00² between two colours of chroma pc and qc.
func apart2(p *lab.Lab, pc float64, q *lab.Lab, qc float64) float64 {
	l := int((p.L + q.L) / 2)
	c := int((pc + qc) / 2)
	if p.L+q.L < 0 || l >= len(lightFactor) || c >= len(chromaFactor[0]) {
		return 0
	}
	yellow := 0
	if p.B > 0 && q.B > 0 {
		yellow = 1
	}
	dL, dA, dB := p.L-q.L, p.A-q.A, p.B-q.B
	return dL*dL*lightFactor[l] + (dA*dA+dB*dB)*chromaFactor[yellow][c]
}

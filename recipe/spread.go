package recipe

import (
	"math"
	"sort"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// KnifeError is the standard deviation of one portion set out with a knife, as
// a share of it: 10–15 % (common practice, no source).
const KnifeError = 0.12

// Off says how far a real mix may lie from a colour, in ΔE00.
type Off struct {
	Nominal  float64 // foretold colour against the aim
	Expected float64 // mean over the spread of tubes and portions
	P90      float64 // nine times in ten within this
}

// Spread is how a mix's D65 Lab moves with each independent one-sigma step of
// what is not known: the tubes' own constants and the portions.
type Spread []lab.Lab

// SpreadOf gives the spread of a mix whose portions have the given relative
// standard deviation (0 when weighed, KnifeError by knife). Each step is half
// the difference between one sigma up and one sigma down.
func (p *Palette) SpreadOf(parts []Part, portionError float64) Spread {
	total := 0.0
	for _, q := range parts {
		total += q.Parts
	}
	// Shares scaled per paint, so that one paint can be exchanged for another.
	var k, s optics.Spectrum
	for _, q := range parts {
		pt, f := &p.Tubes[q.Tube].Paint, q.Parts/total
		for i := range k {
			k[i] += f * pt.K[i]
			s[i] += f * pt.S[i]
		}
	}
	c := &sums[p.Finish]
	var none optics.Spectrum
	moved := func(pt *optics.Paint, f float64, to *optics.Paint, scale float64) lab.Lab {
		kk, ss := k, s
		for i := range kk {
			kk[i] = max(kk[i]+f*(scale*to.K[i]-pt.K[i]), 0)
			ss[i] = max(ss[i]+f*(scale*to.S[i]-pt.S[i]), 1e-9)
		}
		return lab.FromXYZ(c.of(&kk, &ss, &none, &none, 0), d65White)
	}
	var out Spread
	step := func(up, down lab.Lab) {
		out = append(out, lab.Lab{L: (up.L - down.L) / 2, A: (up.A - down.A) / 2, B: (up.B - down.B) / 2})
	}
	for _, q := range parts {
		t := p.Tubes[q.Tube]
		f := q.Parts / total
		for m := range t.Modes {
			up, down := t.Modes[m].Apply(t.Paint, 1), t.Modes[m].Apply(t.Paint, -1)
			step(moved(&t.Paint, f, &up, 1), moved(&t.Paint, f, &down, 1))
		}
		if portionError > 0 && len(parts) > 1 {
			e := math.Exp(portionError)
			step(moved(&t.Paint, f, &t.Paint, e), moved(&t.Paint, f, &t.Paint, 1/e))
		}
	}
	return out
}

// OffFrom foretells the miss of a mix of colour nominal from aim: the mean and
// the 90th percentile of ΔE00 between the aim and the truth, over the spread
// taken as a Gaussian in Lab and sampled at 512 fixed points. Bias and spread
// combine as they do in fact, neither added nor in quadrature.
func (s Spread) OffFrom(nominal, aim lab.Lab) Off {
	off := Off{Nominal: lab.DE00(aim, nominal)}
	l := s.cholesky()
	var d [len(normals)]float64
	sum := 0.0
	for i, z := range normals {
		real := lab.Lab{
			L: min(max(nominal.L+l[0]*z[0], 0), 100),
			A: nominal.A + l[1]*z[0] + l[2]*z[1],
			B: nominal.B + l[3]*z[0] + l[4]*z[1] + l[5]*z[2],
		}
		d[i] = lab.DE00(aim, real)
		sum += d[i]
	}
	sort.Float64s(d[:])
	off.Expected = sum / float64(len(d))
	off.P90 = d[len(d)*9/10]
	return off
}

// cholesky is the lower triangle of the covariance's root, row by row.
func (s Spread) cholesky() (l [6]float64) {
	var ll, la, lb, aa, ab, bb float64
	for _, v := range s {
		ll += v.L * v.L
		la += v.L * v.A
		lb += v.L * v.B
		aa += v.A * v.A
		ab += v.A * v.B
		bb += v.B * v.B
	}
	root := func(v float64) float64 { return math.Sqrt(max(v, 0)) }
	div := func(a, b float64) float64 {
		if b < 1e-12 {
			return 0
		}
		return a / b
	}
	l[0] = root(ll)
	l[1] = div(la, l[0])
	l[2] = root(aa - l[1]*l[1])
	l[3] = div(lb, l[0])
	l[4] = div(ab-l[1]*l[3], l[2])
	l[5] = root(bb - l[3]*l[3] - l[4]*l[4])
	return l
}

// normals are 512 points of the standard normal in three dimensions: the
// additive recurrence of Roberts ("The unreasonable effectiveness of
// quasirandom sequences", 2018), its base the root of x⁴ = x + 1, through the
// inverse normal distribution.
var normals = func() (z [512][3]float64) {
	const g = 1.2207440846057594759
	for i := range z {
		a := 1.0
		for j := range z[i] {
			a /= g
			_, u := math.Modf(0.5 + float64(i+1)*a)
			z[i][j] = math.Sqrt2 * math.Erfinv(2*u-1)
		}
	}
	return z
}()

// Grade says a difference in words. The first two cuts are the 50:50
// perceptibility and acceptability thresholds 0.8 and 1.8 ΔE00 of Paravina et
// al., J. Esthet. Restor. Dent. 27, 2015, measured on dental ceramics.
func Grade(de00 float64) string {
	switch {
	case de00 <= 0.8:
		return "can't tell apart"
	case de00 <= 1.8:
		return "close"
	case de00 <= 4:
		return "shows side by side"
	}
	return "adjust by eye"
}

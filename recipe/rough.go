package recipe

import (
	"math"

	"paintout/inventory/optics"
)

// Most mixes of a search lie nowhere near an aim. A rough colour, to a fraction
// of what an eye can see, is enough to pass over them, and costs a fraction of
// the exact one: single precision, with the processor's approximate square root
// and division where it has them (rough_amd64.s). What is not passed over is
// computed exactly, so that the answer is the same on every processor.

// How far a rough colour may lie off in L*, a* and b*, including the chords of
// roughCurve. The processors' approximations err by 1.5·2⁻¹² at most, a
// reflectance by twice as much, 7.4e-4 of itself, and so do X, Y and Z; at f = 1
// that moves L* by 116·7.4e-4/3 and a* and b* by 500 and 200 times twice as
// much, 0.03, 0.25 and 0.10.
const roughL, roughA, roughB = 0.05, 0.3, 0.15

// ladderMixes are all ladder mixes of so many coloured tubes as amounts beside
// one part of the first: of the second and the third, and of white. Those of
// three stand so that neighbours are like each other, see [cellTree].
type ladderMixes struct {
	amounts    []float32 // three rows, each as long as padded
	padded     int       // a multiple of eight
	dir, white []int32   // as in nearest
}

// mixesOf are those of one to three tubes, [0] without and [1] with white.
var mixesOf = func() (out [4][2]ladderMixes) {
	for m := 1; m <= 3; m++ {
		for tinted := range 2 {
			l := &out[m][tinted]
			for di, d := range directions[m] {
				for wi := range d.whites {
					if (wi > 0) == (tinted == 1) {
						l.dir, l.white = append(l.dir, int32(di)), append(l.white, int32(wi))
					}
				}
			}
			if m == 3 {
				for i, q := range cellTrees()[m][tinted].points {
					l.dir[i], l.white[i] = q.dir, q.white
				}
			}
			l.padded = (len(l.dir) + 7) &^ 7
			l.amounts = make([]float32, 3*l.padded)
			for i, di := range l.dir {
				d := &directions[m][di]
				first := float64(d.parts[0])
				l.amounts[i] = float32(float64(d.parts[1]) / first)
				l.amounts[l.padded+i] = float32(float64(d.parts[2]) / first)
				l.amounts[2*l.padded+i] = float32(d.whites[l.white[i]].perTotal * float64(d.total) / first)
			}
		}
	}
	return out
}()

// roughBand is K and S of four paints at one wavelength, and the weights of the
// reflectance in X, Y and Z.
type roughBand struct {
	paint [4]struct{ k, s float32 }
	sum   [3]float32
}

type roughBands [optics.Bands]roughBand

// vectors says whether to use roughVectors; a test does without.
var vectors = hasVectors

// roughLeave is what roughVectors needs of the surface.
var roughLeave = float32(1 - optics.DrySurface.K2)

// set makes the bands for the mixes of some paints. One that absorbs nothing is
// given a trace of it, or the root of nothing would be no number.
func (r *roughBands) set(c *tristimulus, paints ...*optics.Paint) {
	const trace = 1e-10 // changes a reflectance by 1.4e-5 of itself
	for i := range r {
		b := &r[i]
		*b = roughBand{sum: [3]float32{float32(c.x[i]), float32(c.y[i]), float32(c.z[i])}}
		for j, p := range paints {
			if p != nil {
				b.paint[j].k, b.paint[j].s = float32(max(p.K[i], trace*p.S[i])), float32(p.S[i])
			}
		}
	}
}

// rough gives X, Y and Z, less what the surface adds, of the mixes from…to in
// three rows as long as the mixes' own; from and to are multiples of eight.
func (r *roughBands) rough(out []float32, l *ladderMixes, from, to int) {
	if to <= from {
		return
	}
	n := l.padded
	_, _ = out[2*n+to-1], l.amounts[2*n+to-1]
	if vectors {
		roughVectors(&out[from], &l.amounts[from], &r[0], to-from, n)
		return
	}
	for m := from; m < to; m++ {
		a, b, w := l.amounts[m], l.amounts[n+m], l.amounts[2*n+m]
		var x, y, z float32
		for i := range r {
			p := &r[i]
			k := p.paint[0].k + a*p.paint[1].k + b*p.paint[2].k + w*p.paint[3].k
			s := p.paint[0].s + a*p.paint[1].s + b*p.paint[2].s + w*p.paint[3].s
			v := s / (roughLeave*s + k + float32(math.Sqrt(float64(k*(k+2*s)))))
			x += v * p.sum[0]
			y += v * p.sum[1]
			z += v * p.sum[2]
		}
		out[m], out[n+m], out[2*n+m] = x, y, z
	}
}

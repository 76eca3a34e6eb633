package recipe

import (
	"math"
	"sort"

	"paintout/analyze/lab"
)

// A net holds, of all colours, those that may lie near enough to some aim to
// matter, in small cells. It is coarser than a sieve, knows no aim from
// another, and takes hardly any time to ask.
//
// A cell is an eighth of an octave of Y, and a thirty-second of an octave of X
// and of Z beside Y: the leading bits of their float32.
type net []uint64

const (
	netShift    = 23 - 5              // leaves 5 bits of the fraction
	netY        = (127 - 2) << 5 >> 2 // the cell of Y = 1/4
	netYs       = 10 << 3             // ten octaves
	netX, netXs = 64, 128             // X from a quarter of Y to four times
	netZ, netZs = 192, 256            // Z from 1/64 of Y to four times
)

func netSteps(v float32) int { return int(math.Float32bits(v) >> netShift) }

func netStep(i int) float64 { return float64(math.Float32frombits(uint32(i) << netShift)) }

// holds reports whether a colour may matter; outside of the net any may.
func (n net) holds(x, y, z float32) bool {
	s := netSteps(y)
	i, j, k := uint(s>>2-netY), uint(netSteps(x)-s+netX), uint(netSteps(z)-s+netZ)
	if n == nil || i >= netYs || j >= netXs || k >= netZs {
		return true
	}
	at := (i*netXs+j)*netZs + k
	return n[at>>6]>>(at&63)&1 == 1
}

// netCurves are CIELAB's curve of X, Y and Z at each step from the least that
// the net may ask for.
const netFrom = netY<<2 - netZ

var netCurves = func() (f [3][netYs<<2 + netZs + netXs + 1]float64) {
	for j, white := range [3]float64{d65White.X, d65White.Y, d65White.Z} {
		for i := range f[j] {
			f[j][i] = curveOf(netStep(netFrom+i) / white)
		}
	}
	return f
}()

// newNet makes a net of what lies, roughly, within light of an aim in L* and
// within ab of it in a* and in b*. It is nil where all colours may matter.
func newNet(aims []lab.Lab, box func(a int) (light, ab float64)) net {
	n := make(net, netYs*netXs*netZs/64)
	fx, fy, fz := &netCurves[0], &netCurves[1], &netCurves[2]
	for a, aim := range aims {
		light, ab := box(a)
		if light+ab > 200 {
			return nil
		}
		light, ra, rb := light+roughL, ab+roughA, ab+roughB
		for s := netY<<2 - netFrom; s < (netY+netYs)<<2-netFrom; s++ {
			flo, fhi := fy[s], fy[s+1]
			if 116*fhi-16 < aim.L-light || 116*flo-16 > aim.L+light {
				continue
			}
			// The steps whose f(X) and f(Z) may come within, and one more below.
			x0, x1 := stepsWithin(fx[s-netX:s-netX+netXs+1], flo+(aim.A-ra)/500, fhi+(aim.A+ra)/500)
			z0, z1 := stepsWithin(fz[s-netZ:s-netZ+netZs+1], flo-(aim.B+rb)/200, fhi-(aim.B-rb)/200)
			for j := x0; j < x1; j++ {
				row := (s>>2*netXs + j - (netY-netFrom>>2)*netXs) * netZs
				for k := z0; k < z1; k++ {
					n[(row+k)>>6] |= 1 << ((row + k) & 63)
				}
			}
		}
	}
	return n
}

// stepsWithin gives which steps i from…to of a rising curve have values between
// f[i] and f[i+1] that lie between lo and hi.
func stepsWithin(f []float64, lo, hi float64) (from, to int) {
	from = sort.SearchFloat64s(f[1:], lo)
	to = sort.SearchFloat64s(f, hi)
	return from, min(to, len(f)-1)
}

package recipe

import (
	"math"
	"sort"

	"paintout/analyze/lab"
)

// A sieve tells which aims a mix may matter to, many times cheaper than a look
// at each: the aims stand in three rows of bins, by L*, a* and b*, in every bin
// that a colour within the aim's limit may lie in.
type sieve struct {
	words int
	bins  [3][]uint64 // bits of aims, words to the bin
	some  []uint64    // the aims that the last mix may matter to
	rough lab.Lab     // about its colour
}

const sieveBins = 128

// sieveStart and sieveStep are where the bins of L*, a* and b* begin and how
// wide they are; what lies outside goes to the first or last.
var sieveStart, sieveStep = [3]float64{-14, -128, -128}, [3]float64{1, 2, 2}

func newSieve(aims int) *sieve {
	s := &sieve{words: (aims + 63) / 64}
	for j := range s.bins {
		s.bins[j] = make([]uint64, (sieveBins+1)*s.words)
	}
	s.some = make([]uint64, s.words)
	return s
}

func sieveBin(j int, v float64) int {
	return int(min(max(v-sieveStart[j], 0)/sieveStep[j], sieveBins-1))
}

// set makes the bins: a colour matters to an aim only within a box about it.
func (s *sieve) set(aims []lab.Lab, box func(a int) (light, ab float64)) {
	for j := range s.bins {
		clear(s.bins[j])
	}
	for a, aim := range aims {
		light, ab := box(a)
		word, bit := a/64, uint64(1)<<(a%64)
		for j, v := range [3]float64{aim.L, aim.A, aim.B} {
			r := ab + max(roughA, roughB)
			if j == 0 {
				r = light + roughL
			}
			// Marks where the aim comes in and goes out; summed below.
			s.bins[j][sieveBin(j, v-r)*s.words+word] ^= bit
			s.bins[j][(sieveBin(j, v+r)+1)*s.words+word] ^= bit
		}
	}
	for j := range s.bins {
		for i := s.words; i < len(s.bins[j]); i++ {
			s.bins[j][i] ^= s.bins[j][i-s.words]
		}
	}
}

// pass reports whether a mix may matter to some aim, and leaves which in some;
// v is its colour, roughly.
func (s *sieve) pass(v lab.XYZ) bool {
	fx, fy, fz := roughCurve(v.X*roughWhite.X), roughCurve(v.Y*roughWhite.Y), roughCurve(v.Z*roughWhite.Z)
	s.rough = lab.Lab{L: 116*fy - 16, A: 500 * (fx - fy), B: 200 * (fy - fz)}
	l := s.bins[0][sieveBin(0, s.rough.L)*s.words:]
	a := s.bins[1][sieveBin(1, s.rough.A)*s.words:]
	b := s.bins[2][sieveBin(2, s.rough.B)*s.words:]
	any := uint64(0)
	for i := range s.some {
		m := l[i] & a[i] & b[i]
		s.some[i] = m
		any |= m
	}
	return any != 0
}

var roughWhite = lab.XYZ{X: 1 / d65White.X, Y: 1 / d65White.Y, Z: 1 / d65White.Z}

// The curve is straight below roughFirst, as CIELAB's is below 0.0088.
const (
	roughShift = 52 - 6
	roughFirst = (1023 - 8) << 6 // 2⁻⁸ as the leading bits of a float64
	roughCount = 10 << 6         // up to 4
)

var roughChords = func() (out [roughCount][2]float64) {
	for i := range out {
		lo := math.Float64frombits(uint64(roughFirst+i) << roughShift)
		hi := math.Float64frombits(uint64(roughFirst+i+1) << roughShift)
		slope := (curveOf(hi) - curveOf(lo)) / (hi - lo)
		out[i] = [2]float64{curveOf(lo) - slope*lo, slope}
	}
	return out
}()

// roughCurve is CIELAB's curve of a tristimulus ratio, nearly.
func roughCurve(t float64) float64 {
	i := int(math.Float64bits(max(t, 0))>>roughShift) - roughFirst
	c := &roughChords[min(max(i, 0), roughCount-1)]
	return c[0] + c[1]*t
}

// distance knows how far from an aim in a*, b* a colour must lie to be surely
// further than a limit in ΔE00, by the bound of [apart2].
type distance struct {
	warm  float64      // how far any colour that has no side in common lies in a*, b*, at least
	least [2][]float64 // by whole units of distance in a*, b*: ΔE00 from there on; [1] where the colours have a side in common
}

// mostChroma is a C*ab that no surface has in D65.
const mostChroma = 200

func newDistance(aim lab.Lab) distance {
	d := distance{warm: warmth(aim)}
	c := aim.Chroma()
	n := int(c) + mostChroma + 1
	if !(c+float64(n+1)/2 < float64(len(chromaFactor[0])-1)) {
		return d // too vivid for the table of the bound
	}
	for k := range d.least {
		least := make([]float64, n)
		from := math.Inf(1)
		for i := n - 1; i >= 0; i-- {
			from = min(from, float64(i)*math.Sqrt(chromaFactor[k][int(c+float64(i+1)/2)]))
			least[i] = from
		}
		d.least[k] = least
	}
	return d
}

// within is the distance in a*, b* up to which a colour may lie within limit.
func (d *distance) within(limit float64) float64 {
	if d.least[0] == nil || math.IsInf(limit, 1) {
		return math.Inf(1)
	}
	limit *= 1 + 1e-9
	r := sort.Search(len(d.least[0]), func(i int) bool { return d.least[0][i] > limit })
	if r > 0 && float64(r) < d.warm {
		r = sort.Search(len(d.least[1]), func(i int) bool { return d.least[1][i] > limit })
	}
	return float64(r)
}

// curveOf is CIELAB's curve of a tristimulus ratio.
func curveOf(t float64) float64 {
	return (lab.FromXYZ(lab.XYZ{Y: t}, lab.XYZ{X: 1, Y: 1, Z: 1}).L + 16) / 116
}

// warmth is a distance in a*, b* within which every colour has a side in common
// with an aim, see sidesOf.
func warmth(aim lab.Lab) float64 {
	const cos80, sin80, cos110, sin110 = 0.17364817766693, 0.98480775301221, -0.34202014332567, 0.93969262078591
	lo, hi := min(aim.A, 1.5*aim.A), max(aim.A, 1.5*aim.A)
	// The values that sidesOf asks for change by no more than 1.5 times the way.
	return max(0, aim.B, (cos80*lo+sin80*aim.B)/1.5, (cos110*hi+sin110*aim.B)/1.5)
}

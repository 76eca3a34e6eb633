package card

import (
	"strings"

	"gonum.org/v1/gonum/mat"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
)

// A camera tones the channels of the space that it saves: curves and cut-off
// channels are looked for there.

// space is linear light of some primaries, white D65.
type space struct {
	fromSRGB *mat.Dense // nil: sRGB itself
	toXYZ    *mat.Dense // Y of full scale 100
}

// Chromaticities x, y of red, green and blue: IEC 61966-2-1; SMPTE EG 432-1;
// Adobe RGB (1998) Color Image Encoding, section 4.3.1.1.
var (
	sRGB      = newSpace(nil, [3][2]float64{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}})
	displayP3 = newSpace(sRGB, [3][2]float64{{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}})
	adobeRGB  = newSpace(sRGB, [3][2]float64{{0.64, 0.33}, {0.21, 0.71}, {0.15, 0.06}})
)

// newSpace makes the space of primaries whose sum is D65 (x .3127, y .3290).
func newSpace(srgb *space, p [3][2]float64) *space {
	m := mat.NewDense(3, 3, nil)
	for k, c := range p {
		m.SetCol(k, []float64{c[0] / c[1], 1, (1 - c[0] - c[1]) / c[1]})
	}
	const x, y = 0.3127, 0.3290
	var scale mat.VecDense
	if err := scale.SolveVec(m, mat.NewVecDense(3, []float64{100 * x / y, 100, 100 * (1 - x - y) / y})); err != nil {
		panic("card: " + err.Error()) // primaries are not on a line
	}
	for k := range p {
		for i := range 3 {
			m.Set(i, k, m.At(i, k)*scale.AtVec(k))
		}
	}
	s := &space{toXYZ: m}
	if srgb != nil {
		s.fromSRGB = mat.NewDense(3, 3, nil)
		if err := s.fromSRGB.Solve(m, srgb.toXYZ); err != nil {
			panic("card: " + err.Error())
		}
	}
	return s
}

// spaceOf is the space that a photo's channels were saved in, as far as its
// profile's name tells; sRGB otherwise.
func spaceOf(p *photo.Photo) *space {
	name := strings.ToLower(p.Profile)
	switch {
	case strings.Contains(name, "p3"):
		return displayP3
	case strings.Contains(name, "adobe"):
		return adobeRGB
	}
	return sRGB
}

func apply(m *mat.Dense, v [3]float64) (out [3]float64) {
	d := m.RawMatrix().Data
	for i := range out {
		out[i] = d[3*i]*v[0] + d[3*i+1]*v[1] + d[3*i+2]*v[2]
	}
	return out
}

// light takes linear sRGB into the space.
func (s *space) light(v [3]float64) [3]float64 {
	if s.fromSRGB == nil {
		return v
	}
	return apply(s.fromSRGB, v)
}

// xyz is the tristimulus value of light of the space, full scale Y = 100.
func (s *space) xyz(v [3]float64) lab.XYZ {
	x := apply(s.toXYZ, v)
	return lab.XYZ{X: x[0], Y: x[1], Z: x[2]}
}

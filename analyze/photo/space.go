package photo

import (
	"math"

	"paintout/analyze/lab"
)

// mat3 is a 3 by 3 matrix, row by row.
type mat3 [9]float64

func (a mat3) mul(b mat3) (c mat3) {
	for i := range 3 {
		for j := range 3 {
			c[3*i+j] = a[3*i]*b[j] + a[3*i+1]*b[3+j] + a[3*i+2]*b[6+j]
		}
	}
	return c
}

func (a mat3) apply(v [3]float64) [3]float64 {
	return [3]float64{
		a[0]*v[0] + a[1]*v[1] + a[2]*v[2],
		a[3]*v[0] + a[4]*v[1] + a[5]*v[2],
		a[6]*v[0] + a[7]*v[1] + a[8]*v[2],
	}
}

func (a mat3) inverse() mat3 {
	c := mat3{
		a[4]*a[8] - a[5]*a[7], a[2]*a[7] - a[1]*a[8], a[1]*a[5] - a[2]*a[4],
		a[5]*a[6] - a[3]*a[8], a[0]*a[8] - a[2]*a[6], a[2]*a[3] - a[0]*a[5],
		a[3]*a[7] - a[4]*a[6], a[1]*a[6] - a[0]*a[7], a[0]*a[4] - a[1]*a[3],
	}
	det := a[0]*c[0] + a[1]*c[3] + a[2]*c[6]
	for i := range c {
		c[i] /= det
	}
	return c
}

func diagonal(v [3]float64) mat3 { return mat3{v[0], 0, 0, 0, v[1], 0, 0, 0, v[2]} }

var identity = diagonal([3]float64{1, 1, 1})

// scalar reports whether a is f times the identity, and f.
func (a mat3) scalar() (f float64, ok bool) {
	d := diagonal([3]float64{a[0], a[0], a[0]})
	return a[0], a == d
}

// Chromaticities of red, green, blue and white.
type primaries [4][2]float64

var (
	// IEC 61966-2-1, the same as ITU-R BT.709; white D65.
	primariesSRGB = primaries{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}, {0.3127, 0.3290}}
	// SMPTE EG 432-1 with a D65 white, as ITU-T H.273 code 12 has it.
	primariesP3 = primaries{{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}, {0.3127, 0.3290}}
	// Adobe RGB (1998) Color Image Encoding, section 4.3.1.1.
	primariesAdobe = primaries{{0.64, 0.33}, {0.21, 0.71}, {0.15, 0.06}, {0.3127, 0.3290}}
	// ITU-R BT.2020, table 3.
	primaries2020 = primaries{{0.708, 0.292}, {0.170, 0.797}, {0.131, 0.046}, {0.3127, 0.3290}}
)

// adobeGamma is 2 51/256 (Adobe RGB (1998), section 4.3.4.2).
const adobeGamma = 563.0 / 256

// xyzOf is X, Y, Z of a chromaticity at Y = 1.
func xyzOf(c [2]float64) [3]float64 {
	return [3]float64{c[0] / c[1], 1, (1 - c[0] - c[1]) / c[1]}
}

// toXYZ is the matrix from linear RGB to XYZ, white at Y = 1 (SMPTE RP 177).
func (p primaries) toXYZ() mat3 {
	r, g, b := xyzOf(p[0]), xyzOf(p[1]), xyzOf(p[2])
	m := mat3{r[0], g[0], b[0], r[1], g[1], b[1], r[2], g[2], b[2]}
	return m.mul(diagonal(m.inverse().apply(xyzOf(p[3]))))
}

// bradford takes XYZ to the sharpened cone responses in which whites are
// adapted (ICC.1:2022, annex E.3).
var bradford = mat3{0.8951, 0.2664, -0.1614, -0.7502, 1.7135, 0.0367, 0.0389, -0.0685, 1.0296}

// adaptation is the matrix in XYZ that carries white from to white to.
func adaptation(from, to [3]float64) mat3 {
	f, t := bradford.apply(from), bradford.apply(to)
	return bradford.inverse().mul(diagonal([3]float64{t[0] / f[0], t[1] / f[1], t[2] / f[2]})).mul(bradford)
}

var (
	whiteD65 = xyzOf(primariesSRGB[3])
	// whitePCS is the D50 of ICC.1:2022, 7.2.16.
	whitePCS = [3]float64{0.9642, 1, 0.8249}

	xyzToSRGB = primariesSRGB.toXYZ().inverse()
	// pcsToSRGB takes D50 XYZ to linear sRGB.
	pcsToSRGB = xyzToSRGB.mul(adaptation(whitePCS, whiteD65))
)

// A space says what stored numbers mean as colour. One of three forms is set:
// curves and a matrix; a grid; or a grey function.
type space struct {
	name  string
	curve [3]func(float64) float64 // encoded 0–1 to linear
	m     mat3                     // linear RGB of the space to linear sRGB
	grid  *grid                    // three or four encoded values to linear sRGB
	grey  func(float64) [3]float64 // one encoded value to linear sRGB
}

func matrixSpace(name string, p primaries, curve func(float64) float64) *space {
	m := identity
	if p != primariesSRGB {
		m = xyzToSRGB.mul(adaptation(xyzOf(p[3]), whiteD65)).mul(p.toXYZ())
	}
	return &space{name: name, curve: [3]func(float64) float64{curve, curve, curve}, m: m}
}

func gamma(g float64) func(float64) float64 {
	return func(v float64) float64 { return math.Pow(v, g) }
}

func spaceSRGB() *space { return matrixSpace("sRGB", primariesSRGB, lab.DecodeSRGB) }
func spaceAdobe() *space {
	return matrixSpace("Adobe RGB (1998)", primariesAdobe, gamma(adobeGamma))
}

// linear is linear sRGB of encoded r, g, b.
func (s *space) linear(v [3]float64) [3]float64 {
	switch {
	case s.grid != nil:
		r, g, b := s.grid.at([]float32{float32(v[0]), float32(v[1]), float32(v[2])})
		return [3]float64{float64(r), float64(g), float64(b)}
	case s.grey != nil:
		return [3]float64{s.grey(v[0])[0], s.grey(v[1])[1], s.grey(v[2])[2]}
	}
	return s.m.apply([3]float64{s.curve[0](v[0]), s.curve[1](v[1]), s.curve[2](v[2])})
}

// converter compiles the space for a raster. post is applied to linear sRGB
// afterwards: white balance and exposure.
func (s *space) converter(r *raster, post mat3, table *yccTables) *converter {
	c := &converter{table: table}
	paper := post.apply([3]float64{1, 1, 1})
	c.white = [3]float32{float32(paper[0]), float32(paper[1]), float32(paper[2])}

	switch {
	case r.layout == indexed8:
		c.final = &[3][256]float32{}
		fill := func(i int, v [3]float64, alpha float64) {
			lin := post.apply(s.linear(v))
			for k := range lin {
				c.final[k][i] = float32(lin[k]*alpha + paper[k]*(1-alpha))
			}
		}
		if r.palette == nil {
			for i := range 256 {
				v := table.grey(i)
				fill(i, [3]float64{v, v, v}, 1)
			}
		}
		for i, e := range r.palette {
			fill(i, [3]float64{e[0], e[1], e[2]}, e[3])
		}
		return c
	case r.layout == indexed16:
		c.deep = &[3][]float32{make([]float32, 65536), make([]float32, 65536), make([]float32, 65536)}
		for i := range 65536 {
			v := float64(i) / 65535
			lin := post.apply(s.linear([3]float64{v, v, v}))
			for k := range lin {
				c.deep[k][i] = float32(lin[k])
			}
		}
		return c
	case s.grid != nil:
		c.grid = s.grid
		for k := range c.lut {
			c.lut[k] = margin(func(v float64) float64 { return v }, 1)
		}
		if r.layout == rgb16 || r.layout == nrgba16 {
			c.lut16[0] = curve16(func(v float64) float64 { return v }, 1)
			c.lut16[1], c.lut16[2] = c.lut16[0], c.lut16[0]
		}
		c.setMatrix(post)
		return c
	}

	curve, m := s.curve, s.m
	if s.grey != nil { // a grey profile on pixels stored as three equal values
		m = identity
		for k := range curve {
			curve[k] = func(v float64) float64 { return s.grey(v)[k] }
		}
	}
	total := post.mul(m)
	scale, ok := total.scalar()
	if !ok {
		scale = 1
		c.setMatrix(total)
	}
	if r.layout == rgb16 || r.layout == nrgba16 {
		for k := range curve {
			c.lut16[k] = curve16(curve[k], scale)
		}
		return c
	}
	for k := range curve {
		c.lut[k] = margin(curve[k], scale)
	}
	return c
}

func (c *converter) setMatrix(m mat3) {
	if m == identity {
		return
	}
	c.m = &[9]float32{}
	for i, v := range m {
		c.m[i] = float32(v)
	}
}

// grey is the encoded value 0–1 of luma i; nil tables mean full range.
func (t *yccTables) grey(i int) float64 {
	if t == nil {
		return float64(i) / 255
	}
	return min(1, max(0, float64(t.y[i]-1<<15)/(255<<16)))
}

func margin(curve func(float64) float64, scale float64) *lut8 {
	t := &lut8{}
	for i := range t {
		v := min(1, max(0, float64(i-lutZero)/255))
		t[i] = float32(curve(v) * scale)
	}
	return t
}

func curve16(curve func(float64) float64, scale float64) []float32 {
	t := make([]float32, 65536)
	for i := range t {
		t[i] = float32(curve(float64(i)/65535) * scale)
	}
	return t
}

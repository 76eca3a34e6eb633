package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/kovidgoyal/imaging/prism/meta/icc"

	"paintout/analyze/lab"
)

// maxProfile bounds an embedded profile: press profiles take 0.5–3 MB.
const maxProfile = 16 << 20

// Nearness at which a profile counts as plain sRGB: profiles in the wild round
// the primaries to 16 bits and sample the curve, which moves colours by less
// than a tenth of an 8-bit step's worth of light.
const nearSRGB = 1e-3

// readProfile makes a space of an embedded ICC profile for pictures of n
// channels: 1 (grey), 3 (RGB) or 4 (CMYK). Colours are media-relative
// colorimetric, without black point compensation.
func readProfile(data []byte, n int) (s *space, err error) {
	defer func() {
		if r := recover(); r != nil {
			s, err = nil, errors.New("its tables are damaged")
		}
	}()
	if err := checkProfile(data); err != nil {
		return nil, err
	}
	p, err := icc.NewProfileReader(bytes.NewReader(data)).ReadProfile()
	if err != nil {
		return nil, errors.New("its tables are damaged")
	}
	kind := map[icc.ColorSpace]int{icc.ColorSpaceGray: 1, icc.ColorSpaceRGB: 3, icc.ColorSpaceCMYK: 4}[p.Header.DataColorSpace]
	switch p.Header.DeviceClass {
	case icc.DeviceClassInput, icc.DeviceClassDisplay, icc.DeviceClassOutput, icc.DeviceClassColorSpace:
	default:
		return nil, errors.New("it is not a profile for pictures")
	}
	if kind != n && (kind != 3 || n != 1) {
		return nil, fmt.Errorf("it is for %s pictures", map[int]string{1: "grey", 3: "RGB", 4: "CMYK"}[kind])
	}
	tr, err := p.CreateTransformerToPCS(icc.RelativeColorimetricRenderingIntent, kind, true)
	if err != nil {
		return nil, errors.New("its tables are damaged")
	}
	name, err := p.Description()
	if name = clean(name); err != nil || name == "" {
		name = "unnamed profile"
	}

	isLab := p.Header.ProfileConnectionSpace == icc.ColorSpaceLab
	in, out := make([]float64, 16), make([]float64, 16)
	sound := true                          // so far every colour was one
	pcs := func(v ...float64) [3]float64 { // D50 XYZ
		var x [3]float64
		if kind == 3 {
			x[0], x[1], x[2] = tr.Transform(v[0], v[1], v[2])
		} else {
			copy(in, v)
			tr.TransformGeneral(out, in)
			copy(x[:], out)
		}
		if isLab {
			xyz := lab.Lab{L: x[0], A: x[1], B: x[2]}.XYZ(lab.XYZ{X: whitePCS[0], Y: whitePCS[1], Z: whitePCS[2]})
			x = [3]float64{xyz.X, xyz.Y, xyz.Z}
		}
		if !sane(x) {
			sound, x = false, [3]float64{}
		}
		return x
	}

	switch kind {
	case 1:
		s = &space{name: name, grey: func(v float64) [3]float64 { return pcsToSRGB.apply(pcs(v)) }}
		for i := range 256 {
			s.grey(float64(i) / 255)
		}
	case 3:
		if s = shaper(pcs); s == nil {
			s = &space{name: name, grid: newGrid(3, 33, pcs)}
			break
		}
		s.name = name
		if s.nearly(spaceSRGB()) {
			s = spaceSRGB()
		}
	default:
		s = &space{name: name, grid: newGrid(4, 17, pcs)}
	}
	if !sound {
		return nil, errors.New("its tables are damaged")
	}
	return s, nil
}

// sane reports whether x can be a colour's XYZ, white being about 1: numbers,
// and none a thousand times white.
func sane(x [3]float64) bool {
	return max(math.Abs(x[0]), math.Abs(x[1]), math.Abs(x[2])) < 1e3 // false for NaN, which max passes on
}

// shaper finds the curves and the matrix behind f, where f is a sum of one
// curve per channel (a matrix profile, or tables that amount to one).
func shaper(f func(...float64) [3]float64) *space {
	black := f(0, 0, 0)
	var m mat3
	var axis [3]int // the PCS coordinate each channel moves most
	unit := func(k int, v float64) [3]float64 {
		var e [3]float64
		e[k] = v
		x := f(e[:]...)
		return [3]float64{x[0] - black[0], x[1] - black[1], x[2] - black[2]}
	}
	for k := range 3 {
		x := unit(k, 1)
		for i := range 3 {
			m[3*i+k] = x[i]
			if math.Abs(x[i]) > math.Abs(x[axis[k]]) {
				axis[k] = i
			}
		}
		if math.Abs(x[axis[k]]) < 1e-6 {
			return nil
		}
	}
	s := &space{m: pcsToSRGB.mul(m)}
	for k := range 3 {
		s.curve[k] = func(v float64) float64 { return unit(k, v)[axis[k]] / m[3*axis[k]+k] }
	}
	// A sum of curves is settled by its axes; a lattice of other colours tells
	// whether f is one. 1e-4 of white is below an 8-bit step near black.
	const tolerance = 1e-4
	steps := [...]float64{0, 0.06, 0.23, 0.5, 0.71, 0.9, 1}
	for _, r := range steps {
		for _, g := range steps {
			for _, b := range steps {
				want := f(r, g, b)
				got := m.apply([3]float64{s.curve[0](r), s.curve[1](g), s.curve[2](b)})
				for i := range 3 {
					if !(math.Abs(want[i]-got[i]) <= tolerance) {
						return nil
					}
				}
			}
		}
	}
	return s
}

// nearly reports whether two matrix spaces give the same colours.
func (s *space) nearly(t *space) bool {
	for i := range s.m {
		if math.Abs(s.m[i]-t.m[i]) > nearSRGB {
			return false
		}
	}
	for i := range 256 {
		v := float64(i) / 255
		for k := range 3 {
			// Compared as encoded values, where a step counts the same all along.
			d := lab.EncodeSRGB(s.curve[k](v)) - lab.EncodeSRGB(t.curve[k](v))
			if !(math.Abs(d) <= nearSRGB) {
				return false
			}
		}
	}
	return true
}

// checkProfile looks for sizes that no profile has, before a library trusts
// them: ICC.1:2022, 7.2 and 7.3 (header and tag table), 10.6 (curveType) and
// 10.10 (lut16Type, at most 4096 entries a curve).
func checkProfile(d []byte) error {
	broken := errors.New("it is cut short or damaged")
	if len(d) < 132 || len(d) > maxProfile || string(d[36:40]) != "acsp" {
		return broken
	}
	n := uint64(binary.BigEndian.Uint32(d[128:]))
	end := 132 + 12*n
	if n > 1024 || end > uint64(len(d)) {
		return broken
	}
	for i := range n {
		e := d[132+12*i:]
		at, size := uint64(binary.BigEndian.Uint32(e[4:])), uint64(binary.BigEndian.Uint32(e[8:]))
		if at < end || at+size > uint64(len(d)) {
			return broken
		}
	}
	const maxEntries = 16384
	for _, sig := range []string{"curv\x00\x00\x00\x00", "mft2\x00\x00\x00\x00"} {
		for rest := d; ; rest = rest[4:] {
			at := bytes.Index(rest, []byte(sig))
			if at < 0 {
				break
			}
			rest = rest[at:]
			if sig[0] == 'c' {
				if len(rest) < 12 || binary.BigEndian.Uint32(rest[8:]) > maxEntries {
					return broken
				}
			} else if len(rest) < 52 || binary.BigEndian.Uint16(rest[48:]) > 4096 || binary.BigEndian.Uint16(rest[50:]) > 4096 {
				return broken
			}
		}
	}
	return nil
}

// A grid holds a profile's colours at evenly spaced encoded values, as the
// cube-root-like values of CIELAB (f(X/Xn), f(Y/Yn), f(Z/Zn)), between which
// straight lines are truest; a cube turns them back into light.
type grid struct {
	n, steps int
	stride   [4]int
	node     [][3]float32
}

func newGrid(n, steps int, f func(...float64) [3]float64) *grid {
	g := &grid{n: n, steps: steps}
	total := 1
	for k := n - 1; k >= 0; k-- {
		g.stride[k] = total
		total *= steps
	}
	g.node = make([][3]float32, total)
	v := make([]float64, n)
	for i := range g.node {
		for k := range v {
			v[k] = float64(i/g.stride[k]%steps) / float64(steps-1)
		}
		x := f(v...)
		for k := range x {
			g.node[i][k] = float32(cubeRoot(x[k] / whitePCS[k]))
		}
	}
	return g
}

// cubeRoot and cube are the two branches of CIELAB (CIE 15:2018, 8.2.1).
func cubeRoot(t float64) float64 {
	if t > 216.0/24389 {
		return math.Cbrt(t)
	}
	return (24389.0/27*t + 16) / 116
}

func cube(f float32) float32 {
	if f > 6.0/29 {
		return f * f * f
	}
	return (116*f - 16) * (27.0 / 24389)
}

// gridToSRGB takes cubed grid values to linear sRGB.
var gridToSRGB = func() (m [9]float32) {
	for i, v := range pcsToSRGB.mul(diagonal(whitePCS)) {
		m[i] = float32(v)
	}
	return m
}()

// at interpolates over the simplex that v (n encoded values, 0–1) lies in:
// from the cell's low corner along its axes, largest fraction first.
func (g *grid) at(v []float32) (r, gr, b float32) {
	var frac [4]float32
	var axis [4]int
	base := 0
	for k := range g.n {
		x := v[k] * float32(g.steps-1)
		i := min(max(int(x), 0), g.steps-2)
		base += i * g.stride[k]
		f := x - float32(i)
		j := k
		for ; j > 0 && frac[j-1] < f; j-- {
			frac[j], axis[j] = frac[j-1], axis[j-1]
		}
		frac[j], axis[j] = f, k
	}
	p := &g.node[base]
	w := 1 - frac[0]
	x, y, z := w*p[0], w*p[1], w*p[2]
	for k := range g.n {
		base += g.stride[axis[k]]
		w := frac[k]
		if k+1 < g.n {
			w -= frac[k+1]
		}
		p := &g.node[base]
		x, y, z = x+w*p[0], y+w*p[1], z+w*p[2]
	}
	x, y, z = cube(x), cube(y), cube(z)
	m := &gridToSRGB
	return m[0]*x + m[1]*y + m[2]*z, m[3]*x + m[4]*y + m[5]*z, m[6]*x + m[7]*y + m[8]*z
}

package recipe

import (
	"cmp"
	"math"
	"slices"
	"sync"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// This file lets a search for one colour pass over most of the ladder without
// computing it, and lose nothing: the ladder's mixes of a set lie in a tree of
// cells, and a cell whose every mix is surely too far away is skipped whole.

// ladderPoint is a mix of the ladder as amounts beside one part of the first
// tube: of the second and third coloured tube as far as there are, then of
// white where there is some; unused ones are 0.
type ladderPoint struct {
	beside     [3]float64
	dir, white int32 // as in [nearest]
}

// cell is a box of such amounts that holds some of the ladder's mixes.
type cell struct {
	lo, hi      [3]float64
	from, to    int32 // of cellTree.points
	left, right int32 // the two halves; 0 where there are none
}

// cellTree holds all ladder mixes of so many tubes. Its root is cells[0].
type cellTree struct {
	points []ladderPoint
	cells  []cell
}

// leafPoints is how many mixes are tried one by one.
const leafPoints = 8

// cellTrees are the trees for one to three coloured tubes, [0] without and [1]
// with white.
var cellTrees = sync.OnceValue(func() (out [4][2]*cellTree) {
	for m := 1; m <= 3; m++ {
		for w := range 2 {
			out[m][w] = newCellTree(m, w == 1)
		}
	}
	return out
})

func newCellTree(m int, white bool) *cellTree {
	t := &cellTree{}
	for di := range directions[m] {
		d := &directions[m][di]
		var p ladderPoint
		p.dir = int32(di)
		first := float64(d.parts[0])
		for j := 1; j < m; j++ {
			p.beside[j-1] = float64(d.parts[j]) / first
		}
		if !white {
			t.points = append(t.points, p)
			continue
		}
		for wi, step := range d.whites[1:] {
			p.white = int32(wi + 1)
			p.beside[m-1] = step.perTotal * float64(d.total) / first
			t.points = append(t.points, p)
		}
	}
	t.split(0, int32(len(t.points)))
	return t
}

// split adds the cell of points from…to and all below it.
func (t *cellTree) split(from, to int32) int32 {
	points := t.points[from:to]
	c := cell{from: from, to: to, lo: points[0].beside, hi: points[0].beside}
	for _, p := range points {
		for j, v := range p.beside {
			c.lo[j], c.hi[j] = min(c.lo[j], v), max(c.hi[j], v)
		}
	}
	at := int32(len(t.cells))
	t.cells = append(t.cells, c)
	if len(points) <= leafPoints {
		return at
	}
	// Halve the amount that varies by the greatest factor.
	widest, factor := 0, 0.0
	for j := range c.lo {
		if c.hi[j] > 0 && c.hi[j]/c.lo[j] > factor {
			widest, factor = j, c.hi[j]/c.lo[j]
		}
	}
	slices.SortFunc(points, func(a, b ladderPoint) int {
		return cmp.Or(cmp.Compare(a.beside[widest], b.beside[widest]), cmp.Compare(a.dir, b.dir), cmp.Compare(a.white, b.white))
	})
	middle := from + int32(len(points)/2)
	left := t.split(from, middle)
	right := t.split(middle, to)
	t.cells[at].left, t.cells[at].right = left, right
	return at
}

// mixture is one set of up to three coloured tubes and a white, made ready to
// compute its mixes and to enclose them.
type mixture struct {
	k, s [4]*optics.Spectrum // of each paint; unused ones are all 0
	// The paints after the first by falling K/S, band by band.
	sorted [optics.Bands][3]struct {
		k, s  float64
		which uint8 // place in a cell's amounts
	}
}

var noPaint optics.Spectrum

func newMixture(paints ...*optics.Paint) *mixture {
	m := &mixture{}
	for j := range m.k {
		m.k[j], m.s[j] = &noPaint, &noPaint
	}
	for j, p := range paints {
		m.k[j], m.s[j] = &p.K, &p.S
	}
	for i := range m.sorted {
		o := &m.sorted[i]
		for j := range o {
			o[j].k, o[j].s, o[j].which = m.k[j+1][i], m.s[j+1][i], uint8(j)
		}
		for a := 1; a < len(paints)-1; a++ {
			for b := a; b > 0 && o[b].k*o[b-1].s > o[b-1].k*o[b].s; b-- {
				o[b], o[b-1] = o[b-1], o[b]
			}
		}
	}
	return m
}

// at is the colour of one ladder mix.
func (m *mixture) at(c *tristimulus, beside *[3]float64) lab.XYZ {
	leave := 1 - optics.DrySurface.K2
	k0, k1, k2, k3 := m.k[0], m.k[1], m.k[2], m.k[3]
	s0, s1, s2, s3 := m.s[0], m.s[1], m.s[2], m.s[3]
	a, b, w := beside[0], beside[1], beside[2]
	var x, y, z float64
	for i := range k0 {
		kk := k0[i] + a*k1[i] + b*k2[i] + w*k3[i]
		ss := s0[i] + a*s1[i] + b*s2[i] + w*s3[i]
		r := ss / (leave*ss + kk + math.Sqrt(kk*(kk+2*ss)))
		x += r * c.x[i]
		y += r * c.y[i]
		z += r * c.z[i]
	}
	return lab.XYZ{X: c.base.X + x, Y: c.base.Y + y, Z: c.base.Z + z}
}

// enclosure says between what every mix of a cell lies: reflectance band by
// band (in the form that tristimulus sums), and XYZ.
type enclosure struct {
	lo, hi   optics.Spectrum
	vlo, vhi lab.XYZ
	// CIELAB's curve of X, Y and Z at both ends and half way between, where that
	// is, and its slope there.
	flo, fmid, fhi, middle, slope [3]float64
}

// negativeWeight is what the bands with negative weights, which interpolation
// leaves in the table, could take from X, Y or Z at most.
var negativeWeight = func() (sum float64) {
	x, y, z := optics.D65.Weights()
	for i := range x {
		sum -= min(x[i], 0) + min(y[i], 0) + min(z[i], 0)
	}
	return sum
}()

// enclose bounds the mixes of a cell. In every band K/S of a mix is the ratio
// of two sums that are linear in the amounts, so its greatest value over the
// box takes in full just the paints whose own K/S lies above it, and its least
// value just those below it.
func (m *mixture) enclose(c *tristimulus, q *cell, e *enclosure) {
	leave := 1 - optics.DrySurface.K2
	var lx, ly, lz, hx, hy, hz float64
	var least, more [4]float64
	for j := range q.lo {
		least[j], more[j] = q.lo[j], q.hi[j]-q.lo[j]
	}
	k0, s0 := m.k[0], m.s[0]
	for i := range e.lo {
		o := &m.sorted[i]
		wa, wb, wc := o[0].which&3, o[1].which&3, o[2].which&3
		k := k0[i] + least[wa]*o[0].k + least[wb]*o[1].k + least[wc]*o[2].k
		s := s0[i] + least[wa]*o[0].s + least[wb]*o[1].s + least[wc]*o[2].s
		dka, dsa := more[wa]*o[0].k, more[wa]*o[0].s
		dkb, dsb := more[wb]*o[1].k, more[wb]*o[1].s
		dkc, dsc := more[wc]*o[2].k, more[wc]*o[2].s
		tk, ts := k, s
		if dka*ts > tk*dsa {
			tk, ts = tk+dka, ts+dsa
		}
		if dkb*ts > tk*dsb {
			tk, ts = tk+dkb, ts+dsb
		}
		if dkc*ts > tk*dsc {
			tk, ts = tk+dkc, ts+dsc
		}
		r := ts / (leave*ts + tk + math.Sqrt(tk*(tk+2*ts)))
		e.lo[i] = r
		lx += r * c.x[i]
		ly += r * c.y[i]
		lz += r * c.z[i]
		if dkc*s < k*dsc {
			k, s = k+dkc, s+dsc
		}
		if dkb*s < k*dsb {
			k, s = k+dkb, s+dsb
		}
		if dka*s < k*dsa {
			k, s = k+dka, s+dsa
		}
		r = s / (leave*s + k + math.Sqrt(k*(k+2*s)))
		e.hi[i] = r
		hx += r * c.x[i]
		hy += r * c.y[i]
		hz += r * c.z[i]
	}
	n := negativeWeight
	e.vlo = lab.XYZ{X: c.base.X + lx - n, Y: c.base.Y + ly - n, Z: c.base.Z + lz - n}
	e.vhi = lab.XYZ{X: c.base.X + hx + n, Y: c.base.Y + hy + n, Z: c.base.Z + hz + n}
}

// curves makes the enclosure ready for centre and most.
func (e *enclosure) curves() {
	lo := [3]float64{e.vlo.X / d65White.X, e.vlo.Y / d65White.Y, e.vlo.Z / d65White.Z}
	hi := [3]float64{e.vhi.X / d65White.X, e.vhi.Y / d65White.Y, e.vhi.Z / d65White.Z}
	for j := range lo {
		e.flo[j], e.fhi[j] = labCurve(lo[j]), labCurve(hi[j])
		f := (e.flo[j] + e.fhi[j]) / 2
		e.fmid[j] = f
		if f > labKink {
			e.middle[j], e.slope[j] = f*f*f, 1/(3*f*f)
		} else {
			e.middle[j], e.slope[j] = (116*f-16)/labKappa, labKappa/116
		}
	}
}

// centre is a colour about the middle of the enclosure.
func (e *enclosure) centre() lab.Lab {
	return lab.Lab{L: 116*e.fmid[1] - 16, A: 500 * (e.fmid[0] - e.fmid[1]), B: 200 * (e.fmid[1] - e.fmid[2])}
}

// most is an upper bound of l·L* + a·a* + b·b* over an enclosure. It is a sum
// p·f(X) + q·f(Y) + r·f(Z) with CIELAB's concave f: each f is replaced by a
// tangent where its factor is positive and by a chord where it is negative,
// and what remains is linear in the bands.
func (e *enclosure) most(c *tristimulus, l, a, b float64) float64 {
	sum := -16 * l
	factor := [3]float64{500 * a, 116*l - 500*a + 200*b, -200 * b}
	base := [3]float64{c.base.X / d65White.X, c.base.Y / d65White.Y, c.base.Z / d65White.Z}
	lo := [3]float64{e.vlo.X / d65White.X, e.vlo.Y / d65White.Y, e.vlo.Z / d65White.Z}
	hi := [3]float64{e.vhi.X / d65White.X, e.vhi.Y / d65White.Y, e.vhi.Z / d65White.Z}
	white := [3]float64{d65White.X, d65White.Y, d65White.Z}
	var g [3]float64
	for j, p := range factor {
		at, value, slope := e.middle[j], e.fmid[j], e.slope[j]
		if wide := hi[j] - lo[j]; p < 0 && wide > 1e-9 {
			at, value, slope = lo[j], e.flo[j], (e.fhi[j]-e.flo[j])/wide
		}
		sum += p * (value + slope*(base[j]-at))
		g[j] = p * slope / white[j]
	}
	for i := range e.lo {
		w := g[0]*c.x[i] + g[1]*c.y[i] + g[2]*c.z[i]
		if w > 0 {
			sum += w * e.hi[i]
		} else {
			sum += w * e.lo[i]
		}
	}
	return sum + 1e-9
}

// labCurve is CIELAB's function of a tristimulus ratio, which bends at the ratio
// labEpsilon, where it is labKink (CIE 15:2018, 8.2.1).
func labCurve(t float64) float64 {
	if t > labEpsilon {
		return math.Cbrt(t)
	}
	return (labKappa*t + 16) / 116
}

// labSlope is how steep labCurve is.
func labSlope(t float64) float64 {
	if t > labEpsilon {
		return math.Cbrt(t) / (3 * t)
	}
	return labKappa / 116
}

const labEpsilon, labKappa, labKink = 216.0 / 24389, 24389.0 / 27, 6.0 / 29

package recipe

import (
	"cmp"
	"math"
	"slices"
	"sync"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Surfaces are the colours that surfaces of a kind can show under D65 to the 2°
// observer. Of all reflectances the optimal ones, which are nothing or
// everything with two changes along the spectrum, lie on the boundary
// (Schrödinger, Ann. Phys. 62:603, 1920; MacAdam, J. Opt. Soc. Am. 25:361,
// 1935). With the project's 31 bands the changes may fall inside a band, which
// is then on in part, and the boundary is exact for those bands.
type Surfaces struct{ least, most float64 } // what a band can reflect

// AnySurface reflects anything from nothing to all at each wavelength, and does
// not fluoresce.
var AnySurface = Surfaces{0, 1}

// PaintedSurface is any film with the surface of [optics.DrySurface] in a
// finish: its shine is added to all colours or left out of them.
func PaintedSurface(f optics.Finish) Surfaces {
	k1 := optics.DrySurface.K1
	if f == optics.Excluded {
		return Surfaces{0, 1 - k1}
	}
	return Surfaces{k1, 1}
}

// optimal is a reflectance that is 1 from one place in the spectrum to another
// and 0 elsewhere; places are bands and fractions of one, and to goes on past
// the end of the spectrum round to its start.
type optimal struct {
	from, to float64
	x, z     float64
}

// runs sums the D65 weights from the start of the spectrum through two rounds.
var runs = sync.OnceValue(func() (sum [2*optics.Bands + 1]lab.XYZ) {
	x, y, z := optics.D65.Weights()
	for i := range 2 * optics.Bands {
		j := i % optics.Bands
		sum[i+1] = lab.XYZ{X: sum[i].X + x[j], Y: sum[i].Y + y[j], Z: sum[i].Z + z[j]}
	}
	return sum
})

// run is the weights' sum up to a place.
func run(at float64) lab.XYZ {
	sum := runs()
	i := min(int(at), 2*optics.Bands-1)
	f := at - float64(i)
	a, b := sum[i], sum[i+1]
	return lab.XYZ{X: a.X + f*(b.X-a.X), Y: a.Y + f*(b.Y-a.Y), Z: a.Z + f*(b.Z-a.Z)}
}

// placeOf is the inverse of run in Y.
func placeOf(y float64) float64 {
	sum := runs()
	i, _ := slices.BinarySearchFunc(sum[:], y, func(s lab.XYZ, y float64) int {
		if s.Y < y {
			return -1
		}
		return 1
	})
	i = min(max(i-1, 0), 2*optics.Bands-1)
	return float64(i) + (y-sum[i].Y)/(sum[i+1].Y-sum[i].Y)
}

// sectionOf gives the corners of the solid of AnySurface at one Y, 0 < y < 100,
// counter-clockwise in X and Z. At each corner one of the two changes lies
// between bands. The bands' own chromaticities are convex but for rounding, at
// the red end; the hull mends that.
func sectionOf(y float64) []optimal {
	var all []optimal
	add := func(from, to float64) {
		for from >= optics.Bands {
			from, to = from-optics.Bands, to-optics.Bands
		}
		a, b := run(from), run(to)
		all = append(all, optimal{from, to, b.X - a.X, b.Z - a.Z})
	}
	sum := runs()
	for i := range optics.Bands {
		add(float64(i), placeOf(sum[i].Y+y))
		end := i + optics.Bands
		add(placeOf(sum[end].Y-y), float64(end))
	}
	// Andrew's monotone chain, Inf. Process. Lett. 9:216, 1979.
	slices.SortFunc(all, func(p, q optimal) int { return cmp.Or(cmp.Compare(p.x, q.x), cmp.Compare(p.z, q.z)) })
	var hull []optimal
	for range 2 {
		start := len(hull)
		for _, p := range all {
			for n := len(hull); n >= start+2 && left(&hull[n-2], &hull[n-1], p.x, p.z) <= 0; n-- {
				hull = hull[:n-1]
			}
			hull = append(hull, p)
		}
		hull = hull[:len(hull)-1]
		slices.Reverse(all)
	}
	return hull
}

// left is positive if a point lies to the left of the way from p to q.
func left(p, q *optimal, x, z float64) float64 {
	return (q.x-p.x)*(z-p.z) - (q.z-p.z)*(x-p.x)
}

// optimalAt finds the optimal colour of the highest chroma at a lightness and
// hue (degrees): its chroma and reflectance. Outside the lightness that
// surfaces have, chroma is 0.
func (s Surfaces) optimalAt(l, hue float64) (chroma float64, r optics.Spectrum) {
	white := d65White
	span := s.most - s.least
	y := (lab.Lab{L: l}.XYZ(white).Y - 100*s.least) / span
	if !(y > 1e-6 && y < 100-1e-6) {
		if y > 50 {
			return 0, optics.Flat(s.most)
		}
		return 0, optics.Flat(s.least)
	}
	corners := sectionOf(y)
	at := func(c float64) (x, z float64) {
		v := lab.LCh{L: l, C: c, H: hue}.Lab().XYZ(white)
		return (v.X - white.X*s.least) / span, (v.Z - white.Z*s.least) / span
	}
	// The grey of this lightness lies inside; go out until an edge is crossed.
	outside := func(c float64) (edge int, out bool) {
		x, z := at(c)
		most := 0.0
		for i := range corners {
			p, q := &corners[i], &corners[(i+1)%len(corners)]
			if d := left(p, q, x, z) / math.Hypot(q.x-p.x, q.z-p.z); d < most {
				edge, most, out = i, d, true
			}
		}
		return edge, out
	}
	lo, hi, edge := 0.0, 2.0, 0
	for {
		e, out := outside(hi)
		if out {
			edge = e
			break
		}
		lo, hi = hi, hi+2
	}
	for range 40 {
		mid := (lo + hi) / 2
		if e, out := outside(mid); out {
			hi, edge = mid, e
		} else {
			lo = mid
		}
	}
	// Along an edge both changes stay inside one band each, so reflectance is
	// linear there as colour is.
	p, q := &corners[edge], &corners[(edge+1)%len(corners)]
	x, z := at(lo)
	dx, dz := q.x-p.x, q.z-p.z
	f := 0.5
	if n := dx*dx + dz*dz; n > 0 {
		f = min(max(((x-p.x)*dx+(z-p.z)*dz)/n, 0), 1)
	}
	rp, rq := p.spectrum(), q.spectrum()
	for i := range r {
		r[i] = s.least + span*(rp[i]+f*(rq[i]-rp[i]))
	}
	return lo, r
}

func (o *optimal) spectrum() (r optics.Spectrum) {
	for i := range 2 * optics.Bands {
		on := min(o.to, float64(i+1)) - max(o.from, float64(i))
		r[i%optics.Bands] += min(max(on, 0), 1)
	}
	return r
}

// MaxChroma is the highest C*ab that a surface of this kind can show at a
// lightness L* and CIELAB hue (degrees), D65.
func (s Surfaces) MaxChroma(l, hue float64) float64 {
	c, _ := s.optimalAt(l, hue)
	return c
}

// bandLoss is how far, in ΔE00, published limits lie outside those of bands of
// 10 nm at most: in the lightest yellows, else within 0.5.
const bandLoss = 1.2

// Nearest is the colour nearest c that surfaces of this kind can show, and its
// ΔE00 from c: c itself where they can show it. Beyond their limits it is
// sought over lightness and hue in steps that narrow, so the difference may be
// a few hundredths too great.
func (s Surfaces) Nearest(c lab.Lab) (lab.Lab, float64) {
	lightness := func(share float64) float64 {
		return lab.FromXYZ(lab.XYZ{Y: 100 * share}, d65White).L
	}
	dark, light := lightness(s.least), lightness(s.most)
	try := func(l, hue float64) (lab.Lab, float64) {
		l = min(max(l, dark), light)
		at := lab.LCh{L: l, C: min(c.Chroma(), s.MaxChroma(l, hue)), H: hue}.Lab()
		return at, lab.DE00(c, at)
	}
	l, hue := c.L, c.Hue()
	if l >= dark && l <= light && c.Chroma() <= s.MaxChroma(l, hue)+1e-9 {
		return c, 0
	}
	best, d := try(l, hue)
	for stepL, stepH := 16.0, 16.0; d > 0 && stepL > 0.02; {
		better := false
		for _, m := range [][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {-1, 1}, {1, -1}, {-1, -1}} {
			if at, e := try(l+m[0]*stepL, hue+m[1]*stepH); e < d-1e-9 {
				best, d = at, e
				l, hue = min(max(l+m[0]*stepL, dark), light), hue+m[1]*stepH
				better = true
				break
			}
		}
		if !better {
			stepL, stepH = stepL/2, stepH/2
		}
	}
	return best, d
}

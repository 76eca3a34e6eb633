package scene

import "math"

// film holds the picture before the lens and the sensor: linear radiance at
// oversample² samples a pixel, with depth and the region each sample shows.
type film struct {
	w, h    int     // samples
	f       float64 // focal length in samples
	cx, cy  float64 // where the optical axis meets the film; cy is the horizon
	eye     vec
	pix     []float32 // 3 a sample
	depth   []float32 // distance along z, metres; +Inf for sky
	regions []Region
}

const oversample = 2

func newFilm(w, h int, eye vec) *film {
	w, h = w*oversample, h*oversample
	fm := &film{w: w, h: h, f: focal * float64(w), cx: float64(w) / 2, cy: horizon * float64(h), eye: eye}
	fm.pix = make([]float32, 3*w*h)
	fm.depth = make([]float32, w*h)
	for i := range fm.depth {
		fm.depth[i] = float32(math.Inf(1))
	}
	fm.regions = make([]Region, w*h)
	return fm
}

// project gives the film position of a point with z > 0.
func (fm *film) project(p vec) (x, y float64) {
	return fm.cx + fm.f*(p.x-fm.eye.x)/p.z, fm.cy - fm.f*(p.y-fm.eye.y)/p.z
}

// ray is the direction through a film position, with z = 1.
func (fm *film) ray(x, y float64) vec { return vec{(x - fm.cx) / fm.f, (fm.cy - y) / fm.f, 1} }

func (fm *film) set(i int, z float64, c rgb, r Region) {
	fm.tint(i, c)
	fm.depth[i] = float32(z)
	fm.regions[i] = r
}

// tint changes a sample's colour and nothing else.
func (fm *film) tint(i int, c rgb) {
	fm.pix[3*i], fm.pix[3*i+1], fm.pix[3*i+2] = float32(c.r), float32(c.g), float32(c.b)
}

func (fm *film) get(i int) rgb {
	return rgb{float64(fm.pix[3*i]), float64(fm.pix[3*i+1]), float64(fm.pix[3*i+2])}
}

// cover lays c over the sample by the share alpha if z is nearer.
func (fm *film) cover(i int, z float64, c rgb, alpha float64, r Region) {
	if float32(z) >= fm.depth[i] {
		return
	}
	if alpha > 0.5 {
		fm.depth[i] = float32(z)
		fm.regions[i] = r
	}
	if alpha < 1 {
		c = fm.get(i).mix(c, alpha)
	}
	fm.tint(i, c)
}

// speck paints an ellipse of half-axes a and b samples, its long axis along
// (dx, dy); one smaller than a sample covers it in part.
func (fm *film) speck(x, y, z, a, b, dx, dy float64, c rgb, r Region) {
	alpha := 1.0
	if a < 0.55 {
		alpha *= a / 0.55
		a = 0.55
	}
	if b < 0.55 {
		alpha *= b / 0.55
		b = 0.55
	}
	x0, x1 := int(math.Floor(x-a)), int(math.Floor(x+a))
	y0, y1 := int(math.Floor(y-a)), int(math.Floor(y+a))
	if x1 < 0 || y1 < 0 || x0 >= fm.w || y0 >= fm.h {
		return
	}
	x0, y0, x1, y1 = max(x0, 0), max(y0, 0), min(x1, fm.w-1), min(y1, fm.h-1)
	ia, ib := 1/(a*a), 1/(b*b)
	for j := y0; j <= y1; j++ {
		ey := float64(j) + 0.5 - y
		for i := x0; i <= x1; i++ {
			ex := float64(i) + 0.5 - x
			p, q := ex*dx+ey*dy, ey*dx-ex*dy
			if p*p*ia+q*q*ib <= 1 {
				fm.cover(j*fm.w+i, z, c, alpha, r)
			}
		}
	}
}

// stroke paints a tapering line from (x0, y0) to (x1, y1), full widths w0 to
// w1 in samples, colours c0 to c1.
func (fm *film) stroke(x0, y0, z0, w0 float64, c0 rgb, x1, y1, z1, w1 float64, c1 rgb, r Region) {
	if max(x0, x1) < -2 || min(x0, x1) > float64(fm.w)+2 || max(y0, y1) < 0 || min(y0, y1) >= float64(fm.h) {
		return
	}
	steep := math.Abs(y1-y0) >= math.Abs(x1-x0)
	n := int(math.Ceil(max(math.Abs(y1-y0), math.Abs(x1-x0))))
	if n < 1 {
		n = 1
	}
	// Width across the scan direction, for a slanting line.
	length := math.Hypot(x1-x0, y1-y0)
	wide := 1.0
	if length > 0 {
		wide = length / max(math.Abs(y1-y0), math.Abs(x1-x0))
	}
	for k := range n {
		t := (float64(k) + 0.5) / float64(n)
		x, y, z := lerp(x0, x1, t), lerp(y0, y1, t), lerp(z0, z1, t)
		w := lerp(w0, w1, t) * wide
		c := c0.mix(c1, t)
		if steep {
			fm.span(x-w/2, x+w/2, int(math.Floor(y)), z, c, r, true)
		} else {
			fm.span(y-w/2, y+w/2, int(math.Floor(x)), z, c, r, false)
		}
	}
}

// span covers samples from a to b along row n (or column n), the ends in part.
func (fm *film) span(a, b float64, n int, z float64, c rgb, r Region, row bool) {
	limit, across := fm.w, fm.h
	if !row {
		limit, across = fm.h, fm.w
	}
	if n < 0 || n >= across {
		return
	}
	i0, i1 := max(int(math.Floor(a)), 0), min(int(math.Floor(b)), limit-1)
	for i := i0; i <= i1; i++ {
		alpha := min(b, float64(i+1)) - max(a, float64(i))
		if alpha <= 0 {
			continue
		}
		if row {
			fm.cover(n*fm.w+i, z, c, alpha, r)
		} else {
			fm.cover(i*fm.w+n, z, c, alpha, r)
		}
	}
}

// triangle fills a projected triangle with one colour.
func (fm *film) triangle(a, b, c vec, col rgb, r Region) {
	ax, ay := fm.project(a)
	bx, by := fm.project(b)
	cx, cy := fm.project(c)
	area := (bx-ax)*(cy-ay) - (cx-ax)*(by-ay)
	if area == 0 {
		return
	}
	x0, x1 := max(int(min(ax, bx, cx)), 0), min(int(max(ax, bx, cx)), fm.w-1)
	y0, y1 := max(int(min(ay, by, cy)), 0), min(int(max(ay, by, cy)), fm.h-1)
	for j := y0; j <= y1; j++ {
		py := float64(j) + 0.5
		for i := x0; i <= x1; i++ {
			px := float64(i) + 0.5
			u := ((px-ax)*(cy-ay) - (cx-ax)*(py-ay)) / area
			v := ((bx-ax)*(py-ay) - (px-ax)*(by-ay)) / area
			if u < -1e-9 || v < -1e-9 || u+v > 1+1e-9 {
				continue
			}
			fm.cover(j*fm.w+i, a.z+u*(b.z-a.z)+v*(c.z-a.z), col, 1, r)
		}
	}
}

// panel fills the part of a plane that paint accepts; u and v are metres from
// the origin along the unit vectors eu and ev, within [0, w]×[0, h].
func (fm *film) panel(origin, eu, ev vec, w, h float64, r Region, paint func(u, v float64, at vec) (rgb, bool)) {
	n := eu.cross(ev)
	d := n.dot(origin.sub(fm.eye))
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for k := range 4 {
		x, y := fm.project(origin.add(eu.scale(w * float64(k&1))).add(ev.scale(h * float64(k>>1))))
		x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
	}
	for j := max(int(y0), 0); j <= min(int(y1), fm.h-1); j++ {
		for i := max(int(x0), 0); i <= min(int(x1), fm.w-1); i++ {
			ray := fm.ray(float64(i)+0.5, float64(j)+0.5)
			t := d / n.dot(ray)
			if !(t > 0) {
				continue
			}
			at := fm.eye.add(ray.scale(t))
			rel := at.sub(origin)
			u, v := rel.dot(eu), rel.dot(ev)
			if u < 0 || v < 0 || u > w || v > h {
				continue
			}
			if c, ok := paint(u, v, at); ok {
				fm.cover(j*fm.w+i, at.z, c, 1, r)
			}
		}
	}
}

// regionsByPixel takes for each pixel the region most of its samples show, the
// first met where they tie.
func (fm *film) regionsByPixel() []Region {
	w, h := fm.w/oversample, fm.h/oversample
	out := make([]Region, w*h)
	for y := range h {
		for x := range w {
			var votes [regionCount]int
			best := Region(0)
			for j := range oversample {
				for i := range oversample {
					r := fm.regions[(y*oversample+j)*fm.w+x*oversample+i]
					votes[r]++
					if votes[r] > votes[best] {
						best = r
					}
				}
			}
			out[y*w+x] = best
		}
	}
	return out
}

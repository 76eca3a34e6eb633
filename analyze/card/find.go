package card

import (
	"image"
	"math"
	"slices"

	"paintout/analyze/photo"
)

// Finding even places works on a copy of this longer side.
const findSide = 1000

// What counts as an even place of its own: figures from trials on rendered
// cards, in pixels of the copy and steps of cube-rooted light, 0.01 of which
// is about one step of L*.
const (
	leastRadius  = 4    // of the largest disc that fits
	leastCompact = 0.2  // that disc's share of the place's area
	largestPlace = 0.15 // share of the picture
	mostRegions  = 400
	flatLeast    = 0.012 // between neighbours but one: always even
	flatMost     = 0.045 // never even
	mostPaper    = 80    // places of paper that are kept
	darkestPaper = 0.35  // of its light, in a shadow
	widePaper    = 0.35  // of the picture's sides that it spans
	evenFloor    = 0.02  // light that is added first: noise weighs most in channels near 0
)

// A region is an even place of the picture.
type region struct {
	mid    [2]float64 // of the largest disc that fits, pixels of the photo
	radius float64    // of that disc
	box    image.Rectangle
	area   float64 // pixels of the photo
	light  [3]float64
}

// paper is light off one large even surface at many places.
type paper struct {
	at    [][2]float64 // pixels of the photo
	light [][3]float64
}

// survey finds the even places of a picture, the largest first, and the
// lightest large surface in it.
func survey(p *photo.Photo) ([]region, *paper) {
	l := p.Reduced(findSide)
	w, h := l.W, l.H
	scale := float64(p.Width) / float64(w)
	g := slopes(l)
	limit := flatLimit(g)
	label := make([]int32, w*h)
	var spots []int32
	type part struct {
		area   int
		box    image.Rectangle
		light  [3]float64
		bright float64
		edge   bool // reaches the picture's edge
	}
	var parts []part
	for start := range label {
		if label[start] != 0 || g[start] > limit {
			continue
		}
		id := int32(len(parts) + 1)
		pt := part{box: image.Rect(start%w, start/w, start%w+1, start/w+1)}
		label[start] = id
		spots = append(spots[:0], int32(start))
		for len(spots) > 0 {
			i := int(spots[len(spots)-1])
			spots = spots[:len(spots)-1]
			x, y := i%w, i/w
			pt.area++
			pt.box = pt.box.Union(image.Rect(x, y, x+1, y+1))
			for k := range pt.light {
				pt.light[k] += float64(l.Pix[3*i+k])
			}
			for _, j := range [4]int{i - 1, i + 1, i - w, i + w} {
				if j < 0 || j >= w*h || (j == i-1 && x == 0) || (j == i+1 && x == w-1) || label[j] != 0 || g[j] > limit {
					continue
				}
				label[j] = id
				spots = append(spots, int32(j))
			}
		}
		for k := range pt.light {
			pt.light[k] /= float64(pt.area)
		}
		pt.bright = sRGB.xyz(pt.light).Y
		pt.edge = pt.box.Min.X == 0 || pt.box.Min.Y == 0 || pt.box.Max.X == w || pt.box.Max.Y == h
		parts = append(parts, pt)
	}
	depth := depths(label, w, h)
	type core struct{ at, depth int }
	cores := make([]core, len(parts)+1)
	for i, id := range label {
		if d := int(depth[i]); d > cores[id].depth {
			cores[id] = core{i, d}
		}
	}
	var out []region
	lightest := -1
	for i, pt := range parts {
		c := cores[i+1]
		r := float64(c.depth) / 3 // chamfer units
		whole := float64(w * h)
		spans := float64(max(pt.box.Dx(), pt.box.Dy())) > widePaper*float64(max(w, h)) && float64(min(pt.box.Dx(), pt.box.Dy())) > widePaper*float64(min(w, h))
		if spans && float64(pt.area) > 0.02*whole && slices.Max(pt.light[:]) < burntLight && (lightest < 0 || pt.bright > parts[lightest].bright) {
			lightest = i
		}
		if pt.edge || r < leastRadius || math.Pi*r*r < leastCompact*float64(pt.area) || float64(pt.area) > largestPlace*whole {
			continue
		}
		out = append(out, region{
			mid:    [2]float64{(float64(c.at%w) + 0.5) * scale, (float64(c.at/w) + 0.5) * scale},
			radius: r * scale, area: float64(pt.area) * scale * scale, light: pt.light,
			box: image.Rect(int(float64(pt.box.Min.X)*scale), int(float64(pt.box.Min.Y)*scale), int(float64(pt.box.Max.X)*scale), int(float64(pt.box.Max.Y)*scale)),
		})
	}
	slices.SortStableFunc(out, func(a, b region) int { return int(b.area - a.area) })
	if len(out) > mostRegions {
		out = out[:mostRegions]
	}
	for i := range out {
		out[i].centre()
	}
	if lightest < 0 {
		return out, nil
	}
	// A shadow cuts paper in two: large surfaces of the same tinge belong to it,
	// unless they reach the picture's edge where it does not.
	top := parts[lightest]
	same := make([]bool, len(parts)+1)
	for i, pt := range parts {
		same[i+1] = i == lightest || float64(pt.area) > 0.01*float64(w*h) && pt.bright > darkestPaper*top.bright &&
			(top.edge || !pt.edge) && alikeTinge(pt.light, top.light)
	}
	pp := surface(l, label, depth, same, scale)
	for i, v := range pp.light {
		pp.light[i] = spaceOf(p).light(v)
	}
	return out, pp
}

// alikeTinge says whether two lights differ in strength alone, or nearly.
func alikeTinge(a, b [3]float64) bool {
	for k := range 2 {
		if r := a[k] * b[k+1] / (a[k+1] * b[k]); !(r > 0.85 && r < 1.18) {
			return false
		}
	}
	return true
}

// centre moves the middle of a place that fills its box to the box's middle,
// where discs of a long place could lie anywhere along it.
func (r *region) centre() {
	b := r.box
	if r.area > 0.7*float64(b.Dx()*b.Dy()) {
		r.mid = [2]float64{float64(b.Min.X+b.Max.X) / 2, float64(b.Min.Y+b.Max.Y) / 2}
	}
}

// slopes is how steep the picture is at each pixel: the largest difference of
// cube-rooted light over two pixels, after smoothing over 25.
func slopes(l *photo.Linear) []float32 {
	w, h := l.W, l.H
	e := make([]float32, len(l.Pix))
	for i, v := range l.Pix {
		e[i] = float32(math.Cbrt(float64(max(v, 0)) + evenFloor))
	}
	e = boxed(boxed(boxed(boxed(e, w, h, 1), w, h, w), w, h, 1), w, h, w)
	g := make([]float32, w*h)
	for y := range h {
		for x := range w {
			left, right, up, down := max(x-1, 0), min(x+1, w-1), max(y-1, 0), min(y+1, h-1)
			var m float32
			for k := range 3 {
				dx := e[3*(y*w+right)+k] - e[3*(y*w+left)+k]
				dy := e[3*(down*w+x)+k] - e[3*(up*w+x)+k]
				m = max(m, dx*dx+dy*dy)
			}
			g[y*w+x] = float32(math.Sqrt(float64(m)))
		}
	}
	return g
}

// boxed averages each value with its neighbours a step before and after.
func boxed(v []float32, w, h, step int) []float32 {
	out := make([]float32, len(v))
	for i := range w * h {
		at := i % w
		if step != 1 {
			at = i / w
		}
		last := w - 1
		if step != 1 {
			last = h - 1
		}
		a, b := i, i
		if at > 0 {
			a = i - step
		}
		if at < last {
			b = i + step
		}
		for k := range 3 {
			out[3*i+k] = (v[3*a+k] + v[3*i+k] + v[3*b+k]) / 3
		}
	}
	return out
}

// flatLimit sets the slope below which the picture is even by its own noise:
// half of any card is even.
func flatLimit(g []float32) float32 {
	var some []float32
	for i := 0; i < len(g); i += 7 {
		some = append(some, g[i])
	}
	slices.Sort(some)
	return min(max(3*some[len(some)/2], flatLeast), flatMost)
}

// depths is each pixel's distance from the edge of its part, in thirds of a
// pixel: the chamfer distance with steps of 3 and 4 (Borgefors, Comput. Vision
// Graph. Image Process. 34, 1986).
func depths(label []int32, w, h int) []int32 {
	d := make([]int32, w*h)
	near := func(i, x, y, dx, dy int, step int32) {
		if x+dx < 0 || x+dx >= w || y+dy < 0 || y+dy >= h {
			d[i] = min(d[i], 3)
			return
		}
		j := (y+dy)*w + x + dx
		if label[j] != label[i] {
			d[i] = min(d[i], 3)
			return
		}
		d[i] = min(d[i], d[j]+step)
	}
	for y := range h {
		for x := range w {
			i := y*w + x
			if label[i] == 0 {
				continue
			}
			d[i] = math.MaxInt32 / 2
			near(i, x, y, -1, 0, 3)
			near(i, x, y, 0, -1, 3)
			near(i, x, y, -1, -1, 4)
			near(i, x, y, 1, -1, 4)
		}
	}
	for y := h - 1; y >= 0; y-- {
		for x := w - 1; x >= 0; x-- {
			i := y*w + x
			if label[i] == 0 {
				continue
			}
			near(i, x, y, 1, 0, 3)
			near(i, x, y, 0, 1, 3)
			near(i, x, y, 1, 1, 4)
			near(i, x, y, -1, 1, 4)
		}
	}
	return d
}

// surface takes light off parts that are one surface: in each cell of a raster,
// the place farthest from the edge.
func surface(l *photo.Linear, label, depth []int32, same []bool, scale float64) *paper {
	const across = 12
	size := max(l.W, l.H)/across + 1
	cols := l.W/size + 1
	best := make([]int, cols*(l.H/size+1))
	for i := range best {
		best[i] = -1
	}
	for i, v := range label {
		if !same[v] || depth[i] < 3*3 {
			continue
		}
		c := i/l.W/size*cols + i%l.W/size
		if best[c] < 0 || depth[i] > depth[best[c]] {
			best[c] = i
		}
	}
	s := &paper{}
	for _, i := range best {
		if i < 0 || len(s.at) == mostPaper {
			continue
		}
		var v [3]float64
		x0, y0 := i%l.W, i/l.W
		for y := y0 - 2; y <= y0+2; y++ {
			for x := x0 - 2; x <= x0+2; x++ {
				for k := range v {
					v[k] += float64(l.Pix[3*(y*l.W+x)+k]) / 25
				}
			}
		}
		if slices.Max(v[:]) < burntLight*0.98 && slices.Min(v[:]) > drownedLight {
			s.at = append(s.at, [2]float64{(float64(x0) + 0.5) * scale, (float64(y0) + 0.5) * scale})
			s.light = append(s.light, v)
		}
	}
	return s
}

package analyze

import (
	"math"
	"slices"
	"sort"
)

// An accent is a colour that little of the picture comes near, standing in
// patches that a brush could touch, and outside the colours round about: a
// red roof, flowers, a lit window. Distances are in even coordinates, so about
// ΔE00; shares are of the picture. The figures were set by eye on landscape
// photographs, with noise, gradients and edges as the cases to refuse.
const (
	crowdReach    = 5.0  // a colour's company is counted with this standard deviation
	rareShare     = 0.01 // rare is what has no more company than this
	patchStep     = 6.0  // neighbouring pixels of one patch differ by less
	patchPixels   = 8    // smaller patches of the reduced picture are specks
	ringReach     = 0.25 // a patch's surround lies this share of its √pixels outside it,
	ringNear      = 4    // … at least so many pixels
	ringFar       = 24   // … and at most so many; it is a quarter of that thick
	minContrast   = 10.0 // from its surround, vivid in hue or chroma
	minVivid      = 8.0  // … of which so much is not lightness, nor greyness
	farContrast   = 18.0 // or so far from it in all
	minOutside    = 4.0  // beyond nine tenths of its surround in that direction
	noiseContrast = 4.0  // and this many times the noise
	sameAccent    = 10.0 // patches of one accent differ by less
	accentShare   = 1e-4 // an accent covers at least so much
	accentMost    = 0.03 // and at most so much
	minProminence = 4.0  // contrast × √(share in percent)
	minOwn        = 0.5  // so much of an accent must have colours that are its own

	// A small burnt-out patch, the sun or its glint, was brighter than the photo
	// shows, so less contrast than minContrast will do.
	glareFrom     = 0.95 // linear, in every channel
	glareContrast = 6.0
)

// accent is one accent colour as found in the reduced picture.
type accent struct {
	patches    [][]int32 // pixels
	pixels     int
	centre     point
	contrast   float64
	prominence float64
}

// Colours are counted in cubes of even coordinates.
const (
	cubeSide = 2.5
	cubesL   = 34
	cubesAB  = 42
)

func cubeOf(p [3]float32) int {
	l := min(max(int(p[0]/cubeSide)+1, 0), cubesL-1)
	a := min(max(int(p[1]/cubeSide+cubesAB/2), 0), cubesAB-1)
	b := min(max(int(p[2]/cubeSide+cubesAB/2), 0), cubesAB-1)
	return (l*cubesAB+a)*cubesAB + b
}

// company gives, for every cube, the share of the picture near it: Gaussian
// weights of standard deviation crowdReach, 1 at no distance.
func (v *view) company() []float64 {
	d := make([]float64, cubesL*cubesAB*cubesAB)
	one := 1 / float64(len(v.at))
	for _, p := range v.at {
		d[cubeOf(p)] += one
	}
	var g [cubesAB]float64
	for i := range g {
		x := float64(i) * cubeSide / crowdReach
		g[i] = math.Exp(-x * x / 2)
	}
	pass := func(n, stride int, starts func(yield func(int))) {
		line := make([]float64, n)
		starts(func(s int) {
			for i := range n {
				line[i] = d[s+i*stride]
			}
			for i := range n {
				var sum float64
				for j, x := range line {
					if x != 0 {
						sum += x * g[max(i-j, j-i)]
					}
				}
				d[s+i*stride] = sum
			}
		})
	}
	const plane = cubesAB * cubesAB
	pass(cubesAB, 1, func(yield func(int)) {
		for s := 0; s < len(d); s += cubesAB {
			yield(s)
		}
	})
	pass(cubesAB, cubesAB, func(yield func(int)) {
		for l := range cubesL {
			for b := range cubesAB {
				yield(l*plane + b)
			}
		}
	})
	pass(cubesL, plane, func(yield func(int)) {
		for s := range plane {
			yield(s)
		}
	})
	return d
}

// accents finds the accents of the picture, the most prominent first.
func (v *view) accents() []accent {
	company := v.company()
	rare := make([]bool, len(v.at))
	for i, p := range v.at {
		rare[i] = company[cubeOf(p)] < rareShare
	}
	mark := make([]int32, len(v.at))
	var found []accent
	collect := func(patches [][]int32, of []int32, fits func(contrast, vivid float64) bool) {
		clear(mark)
		for i, px := range patches {
			if len(px) < patchPixels || float64(len(px)) > accentMost*float64(len(v.at)) || !v.thick(px, of) {
				continue
			}
			c, contrast, vivid, outside := v.standOut(px, rare, mark, int32(i+1))
			if contrast > noiseContrast*v.noise && outside > minOutside && fits(contrast, vivid) {
				found = append(found, accent{[][]int32{px}, len(px), c, contrast, 0})
			}
		}
	}
	patches, of := v.patches(rare)
	collect(patches, of, func(contrast, vivid float64) bool {
		return contrast >= minContrast && (vivid >= minVivid || contrast >= farContrast)
	})
	copy(rare, v.glare)
	for _, f := range found {
		for _, p := range f.patches[0] {
			rare[p] = false
		}
	}
	patches, of = v.patches(rare)
	collect(patches, of, func(contrast, _ float64) bool { return contrast >= glareContrast })
	sort.SliceStable(found, func(i, j int) bool { return found[i].pixels > found[j].pixels })

	var groups []accent
	for _, f := range found {
		home, near := -1, sameAccent*sameAccent
		for i := range groups {
			if d := groups[i].centre.dist2(f.centre); d < near {
				home, near = i, d
			}
		}
		if home < 0 {
			groups = append(groups, f)
			continue
		}
		g := &groups[home]
		t := float64(f.pixels) / float64(g.pixels+f.pixels)
		for c := range g.centre {
			g.centre[c] += t * (f.centre[c] - g.centre[c])
		}
		g.contrast += t * (f.contrast - g.contrast)
		g.pixels += f.pixels
		g.patches = append(g.patches, f.patches...)
	}
	for i := range groups {
		g := &groups[i]
		g.prominence = g.contrast * math.Sqrt(100*float64(g.pixels)/float64(len(v.at)))
	}
	groups = slices.DeleteFunc(groups, func(g accent) bool {
		share := float64(g.pixels) / float64(len(v.at))
		return share < accentShare || share > accentMost || g.prominence < minProminence
	})
	sort.SliceStable(groups, func(i, j int) bool { return groups[i].prominence > groups[j].prominence })
	return groups
}

// patches joins neighbouring rare pixels of like colour; of gives every pixel
// its patch, numbered from 1.
func (v *view) patches(rare []bool) (patches [][]int32, of []int32) {
	of = make([]int32, len(rare))
	var px []int32
	for i := range rare {
		if !rare[i] || of[i] != 0 {
			continue
		}
		id := int32(len(patches) + 1)
		of[i] = id
		start := len(px)
		px = append(px, int32(i))
		for next := start; next < len(px); next++ {
			p := int(px[next])
			v.around(p, 1, func(q int) {
				if rare[q] && of[q] == 0 && dist2f(v.at[p], v.at[q]) < patchStep*patchStep {
					of[q] = id
					px = append(px, int32(q))
				}
			})
		}
		patches = append(patches, px[start:len(px):len(px)])
	}
	return patches, of
}

func dist2f(p, q [3]float32) float64 {
	x, y, z := float64(p[0]-q[0]), float64(p[1]-q[1]), float64(p[2]-q[2])
	return x*x + y*y + z*z
}

// around calls f for the pixels at most r rows and columns from p.
func (v *view) around(p, r int, f func(q int)) {
	x, y := p%v.w, p/v.w
	for j := max(y-r, 0); j <= min(y+r, v.h-1); j++ {
		for i := max(x-r, 0); i <= min(x+r, v.w-1); i++ {
			if q := j*v.w + i; q != p {
				f(q)
			}
		}
	}
}

// thick reports whether some pixel of the patch has all four neighbours in it.
func (v *view) thick(px, of []int32) bool {
	for _, p := range px {
		x, y, id := int(p)%v.w, int(p)/v.w, of[p]
		if x > 0 && x < v.w-1 && y > 0 && y < v.h-1 &&
			of[p-1] == id && of[p+1] == id && of[int(p)-v.w] == id && of[int(p)+v.w] == id {
			return true
		}
	}
	return false
}

// standOut compares a patch with the ring around it, other rare pixels such as
// the next flower left out: its mean colour, the mean distance of the ring from that, the part of it in the a, b plane (never
// more than the patch's own chroma), and how far the patch lies beyond nine
// tenths of the ring, seen along the line from the ring's mean to its own. The
// blend along the edge between two colours is no further out than they are.
func (v *view) standOut(px []int32, rare []bool, mark []int32, stamp int32) (c point, contrast, vivid, outside float64) {
	for _, p := range px {
		mark[p] = stamp
		for j, x := range v.at[p] {
			c[j] += float64(x) / float64(len(px))
		}
	}
	far := int(min(max(ringReach*math.Sqrt(float64(len(px))), ringNear), ringFar))
	edge, ring := slices.Clone(px), []int32(nil)
	for step := 1; step <= far; step++ {
		inner := edge
		edge = nil
		for _, p := range inner {
			v.around(int(p), 1, func(q int) {
				if mark[q] != stamp {
					mark[q] = stamp
					edge = append(edge, int32(q))
				}
			})
		}
		if step > far-max(far/4, 1) {
			for _, q := range edge {
				if !rare[q] {
					ring = append(ring, q)
				}
			}
		}
	}
	if len(ring) == 0 {
		return c, 0, 0, 0
	}
	var m point
	one := 1 / float64(len(ring))
	for _, q := range ring {
		p := v.at[q]
		r := point{float64(p[0]), float64(p[1]), float64(p[2])}
		contrast += one * math.Sqrt(r.dist2(c))
		for j := range m {
			m[j] += one * r[j]
		}
	}
	vivid = min(math.Hypot(c[1]-m[1], c[2]-m[2]), math.Hypot(c[1], c[2]))
	length := math.Sqrt(c.dist2(m))
	if length == 0 {
		return c, contrast, vivid, 0
	}
	along := make([]float64, len(ring))
	for i, q := range ring {
		for j := range m {
			along[i] += (float64(v.at[q][j]) - m[j]) * (c[j] - m[j]) / length
		}
	}
	slices.Sort(along)
	return c, contrast, vivid, length - along[len(along)*9/10]
}

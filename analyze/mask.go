package analyze

import (
	"math"
	"sync"
)

// Masks are tidied only as far as a painter would: single odd pixels and
// specks take the label around them. Pictures of under tidyFrom pixels are
// left as they are.
const (
	tidyFrom = 64 * 64
	oddBelow = 3 // of eight neighbours, fewer of a pixel's own mass make it odd

	// Specks are smaller than this share of the picture: 14 and 70 pixels of a
	// mask of 1024×683. A value plan is simplified more, as painters do.
	massSpeck  = 2e-5
	valueSpeck = 1e-4
)

// tidy clears odd pixels and specks from a mask of n labels. Labels from keep
// on (accents) are left alone.
func (k *Mask) tidy(n, keep int, speckShare float64) {
	if len(k.Index) < tidyFrom {
		return
	}
	w, h := k.W, k.H
	from := make([]uint8, len(k.Index))
	copy(from, k.Index)
	inStrips(h, func(y0, y1 int) {
		var votes [256]uint8
		for y := max(y0, 1); y < min(y1, h-1); y++ {
			for x := 1; x < w-1; x++ {
				i := y*w + x
				own := from[i]
				around := [8]uint8{from[i-w-1], from[i-w], from[i-w+1], from[i-1], from[i+1], from[i+w-1], from[i+w], from[i+w+1]}
				same := 0
				for _, l := range around {
					if l == own {
						same++
					}
				}
				if same >= oddBelow || int(own) >= keep {
					continue
				}
				best := own
				for _, l := range around {
					if int(l) >= keep {
						continue
					}
					if votes[l]++; votes[l] > votes[best] || (votes[l] == votes[best] && l < best) {
						best = l
					}
				}
				for _, l := range around {
					votes[l] = 0
				}
				k.Index[i] = best
			}
		}
	})

	speck := int32(speckShare*float64(len(k.Index))) + 1
	parts := k.parts()
	border := make(map[int32][]int32)
	for i, p := range parts.of {
		if parts.size[p] >= speck || int(k.Index[i]) >= keep {
			continue
		}
		votes := border[p]
		if votes == nil {
			votes = make([]int32, n)
			border[p] = votes
		}
		x := i % w
		for _, q := range [4]int{i - 1, i + 1, i - w, i + w} {
			if q < 0 || q >= len(k.Index) || (q == i-1 && x == 0) || (q == i+1 && x == w-1) {
				continue
			}
			if parts.of[q] != p && int(k.Index[q]) < keep {
				votes[k.Index[q]]++
			}
		}
	}
	for i, p := range parts.of {
		if votes, small := border[p]; small {
			best := k.Index[i]
			most := int32(0)
			for l, v := range votes {
				if v > most {
					best, most = uint8(l), v
				}
			}
			k.Index[i] = best
		}
	}
}

// parts are the 4-connected patches of a mask.
type parts struct {
	of   []int32 // patch of each pixel
	size []int32 // pixels of each patch
}

func (k *Mask) parts() parts {
	w := k.W
	of := make([]int32, len(k.Index))
	root := make([]int32, 0, 1024)
	find := func(i int32) int32 {
		for root[i] != i {
			root[i] = root[root[i]]
			i = root[i]
		}
		return i
	}
	for i, l := range k.Index {
		left, up := int32(-1), int32(-1)
		if i%w > 0 && k.Index[i-1] == l {
			left = of[i-1]
		}
		if i >= w && k.Index[i-w] == l {
			up = of[i-w]
		}
		switch {
		case left < 0 && up < 0:
			of[i] = int32(len(root))
			root = append(root, of[i])
		case left < 0:
			of[i] = up
		case up < 0 || up == left:
			of[i] = left
		default:
			a, b := find(left), find(up)
			a, b = min(a, b), max(a, b)
			root[b] = a
			of[i] = a
		}
	}
	number := make([]int32, len(root))
	var size []int32
	for i := range root {
		r := find(int32(i))
		if int(r) == i {
			number[i] = int32(len(size))
			size = append(size, 0)
		} else {
			number[i] = number[r]
		}
	}
	for i, p := range of {
		of[i] = number[p]
		size[of[i]]++
	}
	return parts{of, size}
}

// depth gives every pixel three times its distance, in pixels, from the next
// of another mass or from the picture's border, by the chamfer 3-4 (G.
// Borgefors, Comput. Vis. Graph. Image Process. 34:344–371, 1986).
func (k *Mask) depth() []int32 {
	w, h := k.W, k.H
	d := make([]int32, len(k.Index))
	for i := range d {
		d[i] = 3
	}
	step := func(l, m uint8, beyond, cost int32) int32 {
		if l != m {
			return cost
		}
		return beyond + cost
	}
	x := k.Index
	for y := 1; y < h-1; y++ {
		for i := y*w + 1; i < y*w+w-1; i++ {
			l := x[i]
			d[i] = min(step(l, x[i-1], d[i-1], 3), step(l, x[i-w-1], d[i-w-1], 4),
				step(l, x[i-w], d[i-w], 3), step(l, x[i-w+1], d[i-w+1], 4))
		}
	}
	for y := h - 2; y > 0; y-- {
		for i := y*w + w - 2; i > y*w; i-- {
			l := x[i]
			d[i] = min(d[i], step(l, x[i+1], d[i+1], 3), step(l, x[i+w+1], d[i+w+1], 4),
				step(l, x[i+w], d[i+w], 3), step(l, x[i+w-1], d[i+w-1], 4))
		}
	}
	return d
}

// describe sets the label points, patch counts and edges of the masses.
func (k *Mask) describe(masses []Mass, v *view) {
	var parts parts
	var depth []int32
	var wg sync.WaitGroup
	wg.Go(func() { parts = k.parts() })
	wg.Go(func() { depth = k.depth() })
	wg.Wait()
	seen := make([]bool, len(parts.size))
	deepest := make([]int32, len(masses))
	at := make([]int, len(masses))
	for i, l := range k.Index {
		if p := parts.of[i]; !seen[p] {
			seen[p] = true
			masses[l].Components++
		}
		if depth[i] > deepest[l] {
			deepest[l], at[l] = depth[i], i
		}
	}
	for l := range masses {
		if masses[l].Components == 0 {
			at[l] = v.nearest(even(masses[l].Lab))
		}
		masses[l].CX = (float64(at[l]%k.W) + 0.5) / float64(k.W)
		masses[l].CY = (float64(at[l]/k.W) + 0.5) / float64(k.H)
	}
	k.edges(masses, v)
}

// nearest is the pixel nearest to a colour.
func (v *view) nearest(c point) int {
	best, least := 0, math.Inf(1)
	for i, p := range v.at {
		if d := c.dist2(point{float64(p[0]), float64(p[1]), float64(p[2])}); d < least {
			best, least = i, d
		}
	}
	return best
}

// An edge is as hard as the share of the change across edgeFar pixels either
// side of it that happens within edgeNear, seen along the line from the one
// mass's colour to the other's so that noise cancels.
const (
	edgeNear = 2
	edgeFar  = 8
)

func (k *Mask) edges(masses []Mass, v *view) {
	near := make([]float64, len(masses))
	far := make([]float64, len(masses))
	along := make([][3]float32, len(masses)*len(masses)) // unit vectors from mass to mass
	for l := range masses {
		for m := range masses {
			p, q := even(masses[l].Lab), even(masses[m].Lab)
			if d := math.Sqrt(p.dist2(q)); d > 0 {
				for c := range 3 {
					along[l*len(masses)+m][c] = float32((q[c] - p[c]) / d)
				}
			}
		}
	}
	across := func(i, j, step, room int) {
		l, m := int(k.Index[i]), int(k.Index[j])
		if l == m || room < edgeFar {
			return
		}
		u := along[l*len(masses)+m]
		change := func(reach int) float64 {
			p, q := v.at[i-(reach-1)*step], v.at[j+(reach-1)*step]
			return float64((q[0]-p[0])*u[0] + (q[1]-p[1])*u[1] + (q[2]-p[2])*u[2])
		}
		n := change(edgeNear)
		f := max(n, change(edgeFar))
		near[l] += n
		near[m] += n
		far[l] += f
		far[m] += f
	}
	for y := range k.H {
		for x := range k.W {
			i := y*k.W + x
			if x < k.W-1 {
				across(i, i+1, 1, min(x+1, k.W-1-x))
			}
			if y < k.H-1 {
				across(i, i+k.W, k.W, min(y+1, k.H-1-y))
			}
		}
	}
	for l := range masses {
		if far[l] > 0 {
			masses[l].Edge = max(near[l]/far[l], 0)
		}
	}
}

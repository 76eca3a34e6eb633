package card

import (
	"math"
	"slices"
)

// A found chart: where each patch's middle lies in the picture, and how far
// the patches are apart there.
type placed struct {
	mid    [24][2]float64
	radius [24]float64 // that a sample may have
	seen   int         // patches that were found as even places
	misfit float64     // of the patches' colours from the chart's, see order
}

// leastSeen is how many of a chart's patches must be even places of their own:
// the black may run into a black frame, and shine may hide some.
const leastSeen = 17

// findChart looks for the 24-patch chart among the even places: a lattice of
// like places, four by six, whose colours are the chart's in one of the ways
// it can be turned. It returns nil where there is none.
func findChart(regions []region) *placed {
	var best *placed
	near := make([][]int, len(regions))
	for s := range regions {
		near[s] = neighbours(regions, s)
	}
	done := make([][][2][2]float64, len(regions)) // steps of lattices that went through a place
	for s := range regions {
		some := near[s][:min(len(near[s]), 8)]
		for _, a := range some {
			for _, b := range some {
				u, v := minus(regions[a].mid, regions[s].mid), minus(regions[b].mid, regions[s].mid)
				lu, lv := math.Hypot(u[0], u[1]), math.Hypot(v[0], v[1])
				cross := (u[0]*v[1] - u[1]*v[0]) / (lu * lv)
				// Rows run clockwise from columns: a chart is never a mirror image.
				if cross < 0.7 || lu > 1.5*lv || lv > 1.5*lu || known(done[s], u, v) {
					continue
				}
				grid, steps := grow(regions, near, s, u, v)
				for c, r := range grid {
					done[r] = append(done[r], steps[c])
				}
				if len(grid) < leastSeen {
					continue
				}
				if c := fitChart(regions, grid); c != nil && (best == nil || c.seen > best.seen || c.seen == best.seen && c.misfit < best.misfit) {
					best = c
				}
			}
		}
		if best != nil && best.seen >= 23 {
			break
		}
	}
	return best
}

// known says whether a lattice of these steps, or of the same turned by
// quarters, has been followed before.
func known(done [][2][2]float64, u, v [2]float64) bool {
	same := func(a, b [2]float64) bool {
		d := minus(a, b)
		return math.Hypot(d[0], d[1]) < 0.15*math.Hypot(a[0], a[1])
	}
	neg := func(a [2]float64) [2]float64 { return [2]float64{-a[0], -a[1]} }
	for _, s := range done {
		for _, t := range [4][2][2]float64{{u, v}, {v, neg(u)}, {neg(u), neg(v)}, {neg(v), u}} {
			if same(s[0], t[0]) && same(s[1], t[1]) {
				return true
			}
		}
	}
	return false
}

func minus(a, b [2]float64) [2]float64 { return [2]float64{a[0] - b[0], a[1] - b[1]} }

// alike says whether two places may be patches of one chart.
func alike(a, b *region) bool {
	return a.area < 2.2*b.area && b.area < 2.2*a.area
}

// neighbours are the nearest places of about the same size, at most two dozen.
func neighbours(regions []region, s int) []int {
	var near []int
	dist := func(i int) float64 {
		d := minus(regions[i].mid, regions[s].mid)
		return d[0]*d[0] + d[1]*d[1]
	}
	for i := range regions {
		if i != s && alike(&regions[i], &regions[s]) {
			near = append(near, i)
		}
	}
	slices.SortFunc(near, func(a, b int) int {
		if dist(a) < dist(b) {
			return -1
		}
		return 1
	})
	return near[:min(len(near), 24)]
}

type at struct{ x, y int }

// grow follows the lattice of steps u and v from a place on, each step taken
// anew from place to place so that perspective may bend it.
func grow(regions []region, near [][]int, s int, u, v [2]float64) (grid map[at]int, steps map[at][2][2]float64) {
	grid = map[at]int{{0, 0}: s}
	used := map[int]bool{s: true}
	steps = map[at][2][2]float64{{0, 0}: {u, v}}
	queue := []at{{0, 0}}
	for len(queue) > 0 && len(grid) < 64 {
		c := queue[0]
		queue = queue[1:]
		st := steps[c]
		from := &regions[grid[c]]
		for k, d := range [4]at{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			n := at{c.x + d.x, c.y + d.y}
			if _, ok := grid[n]; ok {
				continue
			}
			step, sign := st[k/2], float64(d.x+d.y)
			want := [2]float64{from.mid[0] + sign*step[0], from.mid[1] + sign*step[1]}
			size := math.Hypot(step[0], step[1])
			hit, off := -1, 0.22*size
			for _, i := range near[grid[c]] {
				if used[i] {
					continue
				}
				if e := minus(regions[i].mid, want); math.Hypot(e[0], e[1]) < off {
					hit, off = i, math.Hypot(e[0], e[1])
				}
			}
			if hit < 0 {
				continue
			}
			grid[n], used[hit] = hit, true
			took := minus(regions[hit].mid, from.mid)
			next := st
			for q := range 2 {
				next[k/2][q] = sign * took[q]
			}
			steps[n] = next
			queue = append(queue, n)
		}
	}
	return grid, steps
}

// fitChart tries every window of six by four in a lattice, in the two ways
// each lies along it and upside down.
func fitChart(regions []region, grid map[at]int) *placed {
	var best *placed
	lo, hi := at{math.MaxInt, math.MaxInt}, at{math.MinInt, math.MinInt}
	for c := range grid {
		lo, hi = at{min(lo.x, c.x), min(lo.y, c.y)}, at{max(hi.x, c.x), max(hi.y, c.y)}
	}
	for turn := range 4 {
		w, h := chartColumns, chartRows
		if turn&1 == 1 {
			w, h = h, w
		}
		for y := lo.y - 1; y+h-1 <= hi.y+1; y++ {
			for x := lo.x - 1; x+w-1 <= hi.x+1; x++ {
				var from, to [][2]float64
				var patch []int
				var light [][3]float64
				for i := range Reference {
					p := turned(cell(i), turn)
					if r, ok := grid[at{x + p.x, y + p.y}]; ok {
						from, to = append(from, cell(i)), append(to, regions[r].mid)
						patch, light = append(patch, i), append(light, regions[r].light)
					}
				}
				if len(patch) < leastSeen || best != nil && len(patch) < best.seen {
					continue
				}
				m := order(patch, light)
				if m > mostMisfit || best != nil && len(patch) == best.seen && m >= best.misfit {
					continue
				}
				c, ok := place24(from, to)
				if !ok {
					continue
				}
				c.seen, c.misfit = len(patch), m
				best = c
			}
		}
	}
	return best
}

// turned is a cell of the chart after so many quarter turns, in a window whose
// corner is 0, 0.
func turned(c [2]float64, turn int) at {
	x, y := int(c[0]), int(c[1])
	switch turn {
	case 1:
		return at{chartRows - 1 - y, x}
	case 2:
		return at{chartColumns - 1 - x, chartRows - 1 - y}
	case 3:
		return at{y, chartColumns - 1 - x}
	}
	return at{x, y}
}

// place24 lays all patches out by those that are known.
func place24(from, to [][2]float64) (*placed, bool) {
	m, ok := homography(from, to)
	if !ok {
		return nil, false
	}
	c := &placed{}
	for i := range c.mid {
		p := cell(i)
		if c.mid[i], ok = through(&m, p); !ok {
			return nil, false
		}
		// A patch fills four fifths of its step in every chart; half of it is
		// surely inside.
		r := math.Inf(1)
		for _, d := range [4][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			q, ok := through(&m, [2]float64{p[0] + d[0], p[1] + d[1]})
			if !ok {
				return nil, false
			}
			e := minus(q, c.mid[i])
			r = min(r, math.Hypot(e[0], e[1]))
		}
		c.radius[i] = 0.27 * r
	}
	return c, true
}

// mostMisfit is how far colours may lie from the chart's and still be it: a
// chart the wrong way round comes out near 1.
const mostMisfit = 0.35

// order is how badly lights match the chart's patches as they are ordered: of
// the variance of the patches' cube-rooted colours, the share that no linear
// map of the lights' cube roots explains. Neither exposure, light nor a
// camera's curve changes it much.
func order(patch []int, light [][3]float64) float64 {
	n := len(patch)
	rows := make([][]float64, n)
	var target [3][]float64
	for i, p := range patch {
		rows[i] = []float64{1}
		for _, v := range light[i] {
			rows[i] = append(rows[i], math.Cbrt(max(v, 0)))
		}
		c := Reference[p].XYZ
		for k, v := range [3]float64{c.X, c.Y, c.Z} {
			target[k] = append(target[k], math.Cbrt(v/100))
		}
	}
	worst := 0.0
	// Opponent differences carry the order of colours; lightness that of greys.
	for _, mix := range [3][3]float64{{0, 1, 0}, {1, -1, 0}, {0, 1, -1}} {
		y := make([]float64, n)
		for i := range y {
			for k := range 3 {
				y[i] += mix[k] * target[k][i]
			}
		}
		worst = max(worst, unexplained(rows, y))
	}
	return worst
}

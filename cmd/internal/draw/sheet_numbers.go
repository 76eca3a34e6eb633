package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"paintout/cmd/internal/plan"
)

// spotted is where a mass's number stands on the map, in points.
type spotted struct {
	mass   int // index into Plan.Masses
	x, y   float64
	size   float64
	lead   bool // it stands beside its mass, on a lead
	ax, ay float64
}

const (
	// numberRim is the pale rim about a number and a little air.
	numberRim = 2.2
	// A figure of 14 points is 3.5 mm high. At 65 cm, an arm's length, that is
	// 18 minutes of arc; reading charts put 5 at normal sight (ISO 8596, from
	// memory).
	numberSize  = 14.0
	numberLeast = 9.0
)

// spotNumbers finds each mass's number a place on the map drawn in a: on its
// own mass where there is room, else beside it on a lead; never over another
// number, a lead or an accent, never beyond the edge. Where the figures are too
// many for the map they are set smaller; lost are those that found no room even
// so, of a map as narrow as a ribbon.
func spotNumbers(masses []plan.Mass, pics *plan.Pictures, a area) (out []spotted, lost []int) {
	for size := numberSize; ; size *= 0.92 {
		size = max(size, numberLeast)
		out, lost = spotAt(masses, pics, a, size)
		if len(lost) == 0 || size == numberLeast {
			slices.SortFunc(out, func(a, b spotted) int { return cmp.Compare(a.mass, b.mass) })
			return out, lost
		}
	}
}

func spotAt(masses []plan.Mass, pics *plan.Pictures, a area, size float64) (out []spotted, lost []int) {
	const most = 120 // places across or down; finer steps would not show
	w, h := pics.W, pics.H
	if long := max(w, h); long > most {
		w, h = max(1, w*most/long), max(1, h*most/long)
	}
	idx := sample(pics.Masses, pics.W, pics.H, w, h)
	wide, high := a.x1-a.x0, a.y1-a.y0
	counts := make([]int, len(masses))
	for _, v := range idx {
		counts[v]++
	}
	order := make([]int, len(masses))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(counts[i], counts[j]) })
	anchors := make([][2]float64, len(masses))
	for i, m := range masses {
		anchors[i] = [2]float64{a.x0 + clamp01(m.Anchor[0])*wide, a.y0 + clamp01(m.Anchor[1])*high}
	}

	var boxes []area
	var leads [][2][2]float64
	sums := make([]int32, (w+1)*(h+1))
	for _, i := range order {
		for y := range h {
			line := int32(0)
			for x := range w {
				if int(idx[y*w+x]) == i {
					line++
				}
				sums[(y+1)*(w+1)+x+1] = sums[y*(w+1)+x+1] + line
			}
		}
		// share of a box that lies on the mass.
		share := func(b area) float64 {
			px := func(v, lo, span float64, n int) int {
				return min(n, max(0, int(math.Round((v-lo)/span*float64(n)))))
			}
			x0, x1 := px(b.x0, a.x0, wide, w), px(b.x1, a.x0, wide, w)
			y0, y1 := px(b.y0, a.y0, high, h), px(b.y1, a.y0, high, h)
			if x1 <= x0 || y1 <= y0 {
				return 0
			}
			n := sums[y1*(w+1)+x1] - sums[y1*(w+1)+x0] - sums[y0*(w+1)+x1] + sums[y0*(w+1)+x0]
			return float64(n) / float64((x1-x0)*(y1-y0))
		}
		at := anchors[i]
		bw, bh := textWidth(fmt.Sprint(masses[i].ID), true, size)/2+numberRim, 0.36*size+numberRim
		best, found := spotted{}, math.Inf(-1)
		try := func(x, y float64) {
			s := spotted{mass: i, x: x, y: y, size: size, ax: at[0], ay: at[1]}
			b := area{x - bw, y - bh, x + bw, y + bh}
			if b.x0 < a.x0+1 || b.y0 < a.y0+1 || b.x1 > a.x1-1 || b.y1 > a.y1-1 {
				return
			}
			own := share(b)
			far := math.Hypot(x-at[0], y-at[1])
			score := 100*own - 30*far/math.Hypot(wide, high)
			if own < 0.55 || masses[i].Accent {
				s.lead = true
				score = 25 - far - 20*own
				if at[0] > b.x0-2 && at[0] < b.x1+2 && at[1] > b.y0-2 && at[1] < b.y1+2 {
					score -= 60 // it would hide what it points at
				}
			}
			if score <= found {
				return
			}
			for j, m := range masses {
				if m.Accent && j != i && b.holds(anchors[j]) {
					return
				}
			}
			for _, q := range boxes {
				if b.meets(q) || s.lead && q.crossed(at, [2]float64{x, y}) {
					return
				}
			}
			for _, l := range leads {
				if b.crossed(l[0], l[1]) {
					return
				}
			}
			best, found = s, score
		}
		try(at[0], at[1])
		for y := range h {
			for x := range w {
				try(a.x0+(float64(x)+0.5)/float64(w)*wide, a.y0+(float64(y)+0.5)/float64(h)*high)
			}
		}
		if math.IsInf(found, -1) {
			lost = append(lost, i)
			continue
		}
		out = append(out, best)
		boxes = append(boxes, area{best.x - bw, best.y - bh, best.x + bw, best.y + bh})
		if best.lead {
			leads = append(leads, [2][2]float64{at, {best.x, best.y}})
		}
	}
	return out, lost
}

func (a area) holds(q [2]float64) bool {
	return q[0] > a.x0 && q[0] < a.x1 && q[1] > a.y0 && q[1] < a.y1
}

// drawNumbers sets the numbers, the leads beneath them.
func (p *picture) drawNumbers(masses []plan.Mass, spots []spotted) {
	for _, s := range spots {
		if s.lead {
			p.line(s.ax, s.ay, s.x, s.y, 2.6, paper)
			p.line(s.ax, s.ay, s.x, s.y, 1, ink)
			p.disc(s.ax, s.ay, 2.2, paper)
			p.disc(s.ax, s.ay, 1.4, ink)
		}
	}
	for _, s := range spots {
		p.centred(s.x, s.y+0.36*s.size, fmt.Sprint(masses[s.mass].ID), lettering{size: s.size, bold: true, col: ink, halo: 1.7, rim: paper})
	}
}

// spread sets labels of given widths along a line, each as near the place it
// wants as its neighbours allow: those that would touch share the way evenly.
// wants ascends; the places are of the labels' middles.
func spread(wants, widths []float64, x0, x1 float64) []float64 {
	type group struct {
		first, n  int
		sum, wide float64 // of what each wants of the group's left edge; together
		left      float64
	}
	var groups []group
	settle := func(g *group) { g.left = min(max(g.sum/float64(g.n), x0), max(x0, x1-g.wide)) }
	for i, want := range wants {
		g := group{first: i, n: 1, sum: want - widths[i]/2, wide: widths[i]}
		settle(&g)
		for len(groups) > 0 && groups[len(groups)-1].left+groups[len(groups)-1].wide > g.left {
			p := groups[len(groups)-1]
			groups = groups[:len(groups)-1]
			g = group{first: p.first, n: p.n + g.n, sum: p.sum + g.sum - float64(g.n)*p.wide, wide: p.wide + g.wide}
			settle(&g)
		}
		groups = append(groups, g)
	}
	out := make([]float64, len(wants))
	for _, g := range groups {
		x := g.left
		for i := g.first; i < g.first+g.n; i++ {
			out[i] = x + widths[i]/2
			x += widths[i]
		}
	}
	return out
}

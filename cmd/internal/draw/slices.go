package draw

import (
	"cmp"
	"errors"
	"fmt"
	"image/color"
	"io"
	"math"
	"slices"
	"strings"

	"paintout/analyze/lab"
	"paintout/cmd/internal/plan"
)

// SlicesPNG paints what the tubes reach, value by value, with the picture's
// colours to mix in it, across an A4 page at 200 dots to the inch.
func SlicesPNG(w io.Writer, s *plan.Slices) error {
	p, err := slicesPage(s)
	if err != nil {
		return err
	}
	return p.png(w, screenDPI)
}

// SlicesSVG writes the same page as SlicesPNG.
func SlicesSVG(w io.Writer, s *plan.Slices) error {
	p, err := slicesPage(s)
	if err != nil {
		return err
	}
	return p.svg(w)
}

func slicesPage(s *plan.Slices) (*picture, error) {
	if s == nil || len(s.Slices) == 0 {
		return nil, errors.New("draw: there are no slices to show; make them from a box that reaches some value")
	}
	p := newPicture(a4Long, a4Short, Surround)
	p.title = "What these tubes reach: " + s.Box
	p.desc = slicesWords(s)
	const margin = 22.0
	p.words(margin, 36, "What these tubes reach", strong(19))
	p.words(margin, 51, "A slice for each value: hue runs round (Y yellow, R red, B blue, G green), chroma outward, the middle drawn larger. Filled: some mix gives it. Beyond the outline none does.", plain(8.5))

	outlines, most := sliceOutlines(s)
	cols := 4
	if len(s.Slices)+1 <= 6 {
		cols = 3
	}
	if len(s.Slices)+1 <= 2 {
		cols = 2
	}
	rows := (len(s.Slices) + cols) / cols
	wide, high := (p.w-2*margin)/float64(cols), (p.h-62-24)/float64(rows)
	for i, sl := range s.Slices {
		x, y := margin+wide*float64(i%cols), 62+high*float64(i/cols)
		f := plane{x: x + wide/2, y: y + high/2 + 8, r: min(wide/2-13, high/2-26), most: most}
		drawSlice(p, f, s, sl, outlines[i], x, y, i == 0)
	}
	k := len(s.Slices)
	slicesKey(p, s, area{margin + wide*float64(k%cols) + 10, 62 + high*float64(k/cols) + 6, margin + wide*float64(k%cols+1), 62 + high*float64(k/cols+1)})
	foot := fmt.Sprintf("The tubes span values %s to %s. Surface shine %s. %s", one(s.Darkest), one(s.Lightest), shine(s.Finish), s.Box)
	p.words(margin, p.h-14, clipped(foot, p.w-2*margin, false, 8), plain(8))
	return p, nil
}

// sliceOutlines turns outlines in a*, b* into hue and chroma, and gives the
// highest chroma, of outlines and aims.
func sliceOutlines(s *plan.Slices) (out [][][][2]float64, most float64) {
	for _, sl := range s.Slices {
		var rings [][][2]float64
		for _, ring := range sl.Rings {
			var to [][2]float64
			for i, a := range ring {
				b := ring[(i+1)%len(ring)]
				n := int(math.Hypot(b[0]-a[0], b[1]-a[1])/2) + 1 // straight there, bent here
				for k := range n {
					t := float64(k) / float64(n)
					c := lab.Lab{L: sl.L, A: a[0] + t*(b[0]-a[0]), B: a[1] + t*(b[1]-a[1])}
					if q, err := c.Notation(); err == nil {
						to = append(to, [2]float64{q.Hue, q.Chroma})
						most = max(most, q.Chroma)
					}
				}
			}
			if len(to) > 2 {
				rings = append(rings, to)
			}
		}
		out = append(out, rings)
	}
	for _, a := range s.Aims {
		if q, err := a.Lab.Notation(); err == nil {
			most = max(most, q.Chroma)
		}
	}
	return out, highest(most)
}

// tile is the side of the patches that fill a slice.
const tile = 5.0

func drawSlice(p *picture, f plane, s *plan.Slices, sl plan.Slice, outline [][][2]float64, x, y float64, figures bool) {
	grey := greyOfValue(sl.Value)
	title := fmt.Sprintf("value %g", sl.Value)
	p.box(x+4, y+6, 16, 16, grey)
	p.frame(x+4, y+6, 16, 16, 0.8, ink)
	p.words(x+25, y+18.5, title, strong(12))

	var rings [][][2]float64
	for _, ring := range outline {
		var to [][2]float64
		for _, q := range ring {
			to = append(to, f.at(q[0], q[1]))
		}
		rings = append(rings, to)
	}
	f.draw(p, s.Hues)
	p.fill(grey, rings...)
	for ty := math.Floor((f.y-f.r)/tile) * tile; ty < f.y+f.r; ty += tile {
		for tx := math.Floor((f.x-f.r)/tile) * tile; tx < f.x+f.r; tx += tile {
			var pieces [][][2]float64
			for _, ring := range rings {
				if piece := within(ring, area{tx - 0.15, ty - 0.15, tx + tile + 0.15, ty + tile + 0.15}); len(piece) > 2 {
					pieces = append(pieces, piece)
				}
			}
			if len(pieces) == 0 {
				continue
			}
			hue, chroma := f.of(tx+tile/2, ty+tile/2)
			if c, err := (lab.Notation{Hue: hue, Value: sl.Value, Chroma: chroma}).Lab(); err == nil {
				p.fill(rgb(c.Hex()), pieces...)
			}
		}
	}
	for _, ring := range rings {
		p.stroke(ink, 1.1, 0, append(slices.Clone(ring), ring[0]))
	}
	var taken []area
	for _, u := range s.Hues {
		q := f.at(u.Hue, f.most)
		k := (f.r + 7) / f.r
		x, y := f.x+(q[0]-f.x)*k, f.y+(q[1]-f.y)*k
		p.centred(x, y+3.1, strings.ToUpper(u.Name[:1]), strong(8.5))
		taken = append(taken, area{x - 4, y - 4, x + 4, y + 4})
	}
	if figures {
		for _, n := range f.figures(6) {
			p.note(n, false)
			taken = append(taken, n.area)
		}
	}
	marks(p, f, s, sl, taken)
}

// within cuts a ring to a box (Sutherland & Hodgman, Comm. ACM 17, 1974). What
// falls apart stays joined along the box's edge, which a fill does not show.
func within(ring [][2]float64, a area) [][2]float64 {
	meets := false
	for i := range ring {
		q, r := ring[i], ring[(i+1)%len(ring)]
		if min(q[0], r[0]) < a.x1 && max(q[0], r[0]) > a.x0 && min(q[1], r[1]) < a.y1 && max(q[1], r[1]) > a.y0 {
			meets = true
			break
		}
	}
	if !meets {
		// All within, all without, or round about it.
		if c := [2]float64{(a.x0 + a.x1) / 2, (a.y0 + a.y1) / 2}; !holds(ring, c) {
			return nil
		}
		box := [][2]float64{{a.x0, a.y0}, {a.x1, a.y0}, {a.x1, a.y1}, {a.x0, a.y1}}
		if turn(ring) < 0 {
			slices.Reverse(box)
		}
		return box
	}
	for side := range 4 {
		axis := side % 2
		at := [4]float64{a.x0, a.y0, a.x1, a.y1}[side]
		in := func(q [2]float64) bool {
			if side < 2 {
				return q[axis] >= at
			}
			return q[axis] <= at
		}
		var out [][2]float64
		for i, q := range ring {
			r := ring[(i+1)%len(ring)]
			if in(q) {
				out = append(out, q)
			}
			if in(q) != in(r) {
				t := (at - q[axis]) / (r[axis] - q[axis])
				out = append(out, [2]float64{q[0] + t*(r[0]-q[0]), q[1] + t*(r[1]-q[1])})
			}
		}
		if ring = out; len(ring) == 0 {
			return nil
		}
	}
	return ring
}

func holds(ring [][2]float64, c [2]float64) bool {
	in := false
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		if (p[1] > c[1]) != (q[1] > c[1]) && c[0] < p[0]+(c[1]-p[1])/(q[1]-p[1])*(q[0]-p[0]) {
			in = !in
		}
	}
	return in
}

// turn is twice a ring's signed area.
func turn(ring [][2]float64) float64 {
	sum := 0.0
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		sum += p[0]*q[1] - q[0]*p[1]
	}
	return sum
}

// marks sets the aims of a slice in their places: a disc for one that a mix
// reaches, a square with a cross for one that none does, and by how much.
func marks(p *picture, f plane, s *plan.Slices, sl plan.Slice, taken []area) {
	type spot struct {
		aim  plan.PlacedAim
		x, y float64
	}
	var spots []spot
	for _, i := range sl.Aims {
		q, err := s.Aims[i].Lab.Notation()
		if err != nil {
			continue
		}
		at := f.at(q.Hue, q.Chroma)
		spots = append(spots, spot{s.Aims[i], at[0], at[1]})
		taken = append(taken, area{at[0] - 3.6, at[1] - 3.6, at[0] + 3.6, at[1] + 3.6})
	}
	const size = 8.0
	type place struct {
		x, y float64
		says string
	}
	var places []place
	for _, m := range spots {
		says := fmt.Sprint(m.aim.ID)
		switch m.aim.State {
		case plan.Out:
			says += " out " + one(m.aim.DE00)
		case plan.Finer:
			says += " finer"
		}
		wide := textWidth(says, true, size)
		best, bx, by := math.Inf(1), m.x, m.y
		var box area
		for _, d := range []float64{8, 12, 17, 23, 30, 38} {
			for k := range 16 {
				sn, c := math.Sincos(math.Pi*float64(k)/8 - math.Pi/2)
				x, y := m.x+c*(d+wide/2-2), m.y+sn*d
				b := area{x - wide/2 - 1, y - size/2, x + wide/2 + 1, y + size/2}
				bad := d
				for _, t := range taken {
					if b.meets(t) {
						bad += 100
					}
				}
				if bad < best {
					best, bx, by, box = bad, x, y, b
				}
			}
		}
		taken = append(taken, box)
		places = append(places, place{bx, by, says})
	}
	for i, m := range spots {
		if q := places[i]; math.Hypot(q.x-m.x, q.y-m.y) > 10+textWidth(q.says, true, size)/2 {
			p.stroke(Surround, 2, 0, [][2]float64{{m.x, m.y}, {q.x, q.y}})
			p.line(m.x, m.y, q.x, q.y, 0.6, ink)
		}
	}
	for i, m := range spots {
		aimMark(p, m.aim.State, m.x, m.y, rgb(m.aim.Lab.Hex()))
		q := places[i]
		p.centred(q.x, q.y+0.36*size, q.says, lettering{size, true, ink, 1.5, paper})
	}
}

// aimMark is a disc for what a mix reaches, a triangle for what finer parts
// would, and a crossed square for what lies outside.
func aimMark(p *picture, state string, x, y float64, col color.RGBA) {
	switch state {
	case plan.Reached:
		p.disc(x, y, 4, paper)
		p.disc(x, y, 3.2, ink)
		p.disc(x, y, 2.3, col)
		return
	case plan.Finer:
		for _, q := range []struct {
			r   float64
			col color.RGBA
		}{{6.4, paper}, {5, ink}, {3, col}} {
			p.fill(q.col, [][2]float64{{x, y - q.r}, {x + 0.87*q.r, y + q.r/2}, {x - 0.87*q.r, y + q.r/2}})
		}
		return
	}
	const r = 3.4
	p.box(x-r-0.9, y-r-0.9, 2*r+1.8, 2*r+1.8, paper)
	p.box(x-r, y-r, 2*r, 2*r, ink)
	p.box(x-r+0.9, y-r+0.9, 2*r-1.8, 2*r-1.8, col)
	for _, w := range []float64{1.8, 0.9} {
		c := paper
		if w < 1 {
			c = ink
		}
		p.line(x-r+1, y-r+1, x+r-1, y+r-1, w, c)
		p.line(x-r+1, y+r-1, x+r-1, y-r+1, w, c)
	}
}

// slicesKey explains the marks and lists what is not reached, the worst first.
func slicesKey(p *picture, s *plan.Slices, a area) {
	y := a.y0 + 10
	row := func(state, says string) {
		aimMark(p, state, a.x0+5, y-2.8, Surround)
		for _, l := range wrapped(says, a.x1-a.x0-18, 3, false, 8.5) {
			p.words(a.x0+16, y, l, plain(8.5))
			y += 11
		}
		y += 3
	}
	if len(s.Aims) == 0 {
		for _, l := range wrapped("Give a photo's masses to see which of them lie inside.", a.x1-a.x0, 3, false, 8.5) {
			p.words(a.x0, y, l, plain(8.5))
			y += 11
		}
		return
	}
	row(plan.Reached, "reached: a mix comes close, within "+amount(plan.SliceTolerance)+" ΔE00")
	if slices.ContainsFunc(s.Aims, func(m plan.PlacedAim) bool { return m.State == plan.Finer }) {
		row(plan.Finer, "finer: inside, but in finer parts than a knife sets out; tint a pile in two steps")
	}
	row(plan.Out, "out: no mix gives it; the figure says how far off the nearest is")
	var out []plan.PlacedAim
	for _, m := range s.Aims {
		if m.State == plan.Out {
			out = append(out, m)
		}
	}
	slices.SortStableFunc(out, func(p, q plan.PlacedAim) int { return cmp.Compare(q.DE00, p.DE00) })
	y += 6
	if len(out) == 0 {
		p.words(a.x0, y, "None is out.", strong(10))
		return
	}
	p.words(a.x0, y, fmt.Sprintf("%d of %d are out", len(out), len(s.Aims)), strong(10))
	y += 14
	for i, m := range out {
		if y+22 > a.y1 && i < len(out)-1 {
			p.words(a.x0, y, fmt.Sprintf("and %d more", len(out)-i), plain(8.5))
			return
		}
		says := fmt.Sprintf("%d  %s, value %s: off by %s", m.ID, m.Name, one(m.Value), one(m.DE00))
		for _, l := range wrapped(says, a.x1-a.x0, 2, false, 8.5) {
			p.words(a.x0, y, l, plain(8.5))
			y += 10.5
		}
		y += 2
	}
}

// slicesWords tells what the picture shows to those who cannot see it.
func slicesWords(s *plan.Slices) string {
	var b strings.Builder
	for _, sl := range s.Slices {
		fmt.Fprintf(&b, "Value %g: ", sl.Value)
		for _, i := range sl.Aims {
			m := s.Aims[i]
			state := m.State
			if state == plan.Out {
				state += " by " + one(m.DE00)
			}
			fmt.Fprintf(&b, "%d %s %s, ", m.ID, m.Name, state)
		}
		b.WriteString("; ")
	}
	return strings.TrimRight(b.String(), "; ")
}

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

	"paintout/cmd/internal/plan"
)

// Pages, in points. Pictures lie across an A4 sheet.
const (
	a4Long, a4Short         = 841.89, 595.28
	letterLong, letterShort = 792.0, 612.0
)

// screenDPI suits a screen and a print of A4 at arm's length; printDPI a sheet
// to write on.
const (
	screenDPI = 200
	printDPI  = 300
)

var (
	faint = color.RGBA{120, 120, 120, 255} // rules that must not compete
	mid   = color.RGBA{70, 70, 70, 255}
)

// WheelPNG paints the wheel across an A4 page at 200 dots to the inch.
func WheelPNG(w io.Writer, v *plan.Wheel) error {
	p, err := wheelPage(v)
	if err != nil {
		return err
	}
	return p.png(w, screenDPI)
}

// WheelSVG writes the same page as WheelPNG.
func WheelSVG(w io.Writer, v *plan.Wheel) error {
	p, err := wheelPage(v)
	if err != nil {
		return err
	}
	return p.svg(w)
}

// plane is the plane of hue and chroma: yellow up, red to the right, green to
// the left, blue down; chroma outward. The middle is drawn larger, or earths
// and greys would lie on one spot.
type plane struct {
	x, y, r float64 // the middle, and the radius of the highest chroma
	most    float64 // the highest chroma
}

// stretch is the power of chroma that radius goes by.
const stretch = 0.62

func (f plane) at(hue, chroma float64) [2]float64 {
	s, c := math.Sincos(hue * 2 * math.Pi / 100)
	r := f.r * math.Pow(chroma/f.most, stretch)
	return [2]float64{f.x + r*c, f.y - r*s}
}

// of is the hue and chroma of a point.
func (f plane) of(x, y float64) (hue, chroma float64) {
	dx, dy := x-f.x, f.y-y
	hue = math.Atan2(dy, dx) * 100 / (2 * math.Pi)
	if hue < 0 {
		hue += 100
	}
	return hue, f.most * math.Pow(math.Hypot(dx, dy)/f.r, 1/stretch)
}

// rings are the chromas that are marked.
func (f plane) rings() []float64 {
	var out []float64
	for _, c := range []float64{1, 2, 4, 8, 12, 16, 20, 24, 28, 32} {
		if c < f.most && f.r*(1-math.Pow(c/f.most, stretch)) > 9 {
			out = append(out, c)
		}
	}
	return append(out, f.most)
}

// draw rules the plane: rings of chroma, and the four unique hues as spokes.
func (f plane) draw(p *picture, hues []plan.UniqueHue) {
	for _, c := range f.rings() {
		ring := circle(f.x, f.y, f.r*math.Pow(c/f.most, stretch))
		wide := 0.4
		if c == f.most {
			wide = 0.9
		}
		p.stroke(faint, wide, 0, append(ring, ring[0]))
	}
	for _, u := range hues {
		a, b := f.at(u.Hue, 0.4), f.at(u.Hue, f.most)
		p.line(a[0], a[1], b[0], b[1], 0.7, faint)
	}
	p.line(f.x-3, f.y, f.x+3, f.y, 0.7, mid)
	p.line(f.x, f.y-3, f.x, f.y+3, 0.7, mid)
}

// figuresHue is a hue between blue and red where few paints are: the rings'
// figures stand along it.
const figuresHue = 83.0

// figures say what chroma the rings stand for.
func (f plane) figures(size float64) []*note {
	var out []*note
	for _, c := range f.rings() {
		q, says := f.at(figuresHue, c), amount(c)
		wide := textWidth(says, false, size)
		if c == f.most {
			says = "chroma " + says
			wide = textWidth(says, false, size)
			q[0] += wide / 2
			q[1] += 4
		}
		out = append(out, &note{area{q[0] - wide/2 - 1, q[1] - size/2, q[0] + wide/2 + 1, q[1] + size/2}, says, size})
	}
	return out
}

// note draws a note with a rim of the surround.
func (p *picture) note(n *note, bold bool) {
	p.words(n.x0+1, n.y1-0.15*n.size, n.says, lettering{n.size, bold, ink, 0.18 * n.size, Surround})
}

// highest is the chroma that a plane must reach, an even number.
func highest(of ...float64) float64 {
	most := 8.0
	for _, c := range of {
		most = max(most, 2*math.Ceil(c/2))
	}
	return most
}

// marker is the shape that tells kinds of tube apart.
func marker(kind string, x, y, r float64) [][2]float64 {
	turn := func(n int, from, r float64) [][2]float64 {
		pts := make([][2]float64, n)
		for i := range pts {
			s, c := math.Sincos(from + 2*math.Pi*float64(i)/float64(n))
			pts[i] = [2]float64{x + r*c, y + r*s}
		}
		return pts
	}
	switch kind {
	case plan.Earth:
		return turn(4, math.Pi/4, 1.25*r)
	case plan.Neutral:
		return turn(3, -math.Pi/2, 1.35*r)
	case plan.White:
		return turn(4, 0, 1.35*r)
	}
	return circle(x, y, r)
}

func (p *picture) marker(kind string, x, y, r float64, col color.RGBA) {
	p.fill(ink, marker(kind, x, y, r+0.9))
	p.fill(col, marker(kind, x, y, r))
}

// area is a box on a page.
type area struct{ x0, y0, x1, y1 float64 }

func (a area) meets(b area) bool {
	return a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1
}

// label is a tube's place in the columns beside the wheel.
type label struct {
	tube  int
	to    [2]float64 // what it names
	left  bool
	y     float64
	lines []string
}

func wheelPage(v *plan.Wheel) (*picture, error) {
	if v == nil || len(v.Tubes) == 0 {
		return nil, errors.New("draw: a wheel needs at least one tube")
	}
	p := newPicture(a4Long, a4Short, Surround)
	p.title = "Wheel of " + v.Box
	p.desc = wheelWords(v)
	p.words(wheelMargin, 38, clipped(nameOr(v.Box, "The wheel"), p.w-2*wheelMargin, true, 19), strong(19))
	p.words(wheelMargin, 53, "Hue runs round, chroma outward; the middle is drawn larger. Each streak runs from masstone (its shape) to tint.", plain(8.5))

	var chromas []float64
	for _, t := range v.Tubes {
		for _, q := range t.Streak {
			chromas = append(chromas, q.Chroma)
		}
	}
	f := plane{x: p.w / 2, y: 312, r: 212, most: highest(chromas...)}
	f.draw(p, v.Hues)

	// Where each thing goes is settled before anything is drawn over another.
	var taken []area
	for _, t := range v.Tubes {
		q := f.at(t.Streak[0].Hue, t.Streak[0].Chroma)
		taken = append(taken, area{q[0] - 6, q[1] - 6, q[0] + 6, q[1] + 6})
	}
	hues := hueNames(f, v.Hues, 10)
	var names []area
	for _, h := range hues {
		names = append(names, h.area)
	}
	taken = append(taken, names...)
	figures := f.figures(7)
	for _, n := range figures {
		taken = append(taken, n.area)
	}
	numbers := make([]*note, len(v.Tubes))
	for i, t := range v.Tubes {
		if numbers[i] = numberAt(f, t, taken); numbers[i] != nil {
			taken = append(taken, numbers[i].area)
		}
	}
	labels := wheelLabels(v, f, p.w)
	for _, n := range figures {
		names = append(names, n.area)
	}
	leaders := wheelLeaders(v, f, p.w, labels, numbers, names)

	for _, j := range shownJoins(v) {
		path := make([][2]float64, len(j.Path))
		for i, q := range j.Path {
			path[i] = f.at(q.Hue, q.Chroma)
		}
		p.stroke(mid, 0.8, 3.2, path)
	}
	for _, l := range leaders {
		p.stroke(ink, 0.5, 0, l)
	}
	for _, t := range v.Tubes {
		streak(p, f, t)
	}
	for _, t := range v.Tubes {
		q := t.Streak[0]
		at := f.at(q.Hue, q.Chroma)
		p.marker(t.Kind, at[0], at[1], 4.2, rgb(q.Hex))
	}
	for _, j := range shownJoins(v) {
		at := f.at(j.Path[j.Middle].Hue, j.Path[j.Middle].Chroma)
		cross(p, at[0], at[1], 3)
	}
	for _, t := range v.Tubes {
		lean(p, f, t, v.Hues)
	}
	for _, n := range figures {
		p.note(n, false)
	}
	for _, n := range append(hues, numbers...) {
		if n != nil {
			p.note(n, true)
		}
	}
	wheelColumns(p, v, labels)
	wheelKey(p, v)
	return p, nil
}

// Places on the wheel's page.
const (
	wheelMargin = 20.0
	wheelTop    = 66.0
	wheelBottom = 556.0
	columnWide  = 140.0 // of the columns of names
)

// note is a word or two on the wheel, in a box of its own.
type note struct {
	area
	says string
	size float64
}

// hueNames stand at the ends of their spokes.
func hueNames(f plane, hues []plan.UniqueHue, size float64) []*note {
	var out []*note
	for _, u := range hues {
		says := strings.ToUpper(u.Name)
		q := f.at(u.Hue, f.most)
		dx, dy := (q[0]-f.x)/f.r, (q[1]-f.y)/f.r
		wide := textWidth(says, true, size)
		x, y := q[0]+dx*(6+wide/2), q[1]+dy*(3+0.8*size)
		out = append(out, &note{area{x - wide/2 - 1, y - size/2, x + wide/2 + 1, y + size/2}, says, size})
	}
	return out
}

// numberAt finds a free place for a tube's number by its tip.
func numberAt(f plane, t plan.WheelTube, taken []area) *note {
	const size = 8.5
	s := fmt.Sprint(t.Number)
	tip := t.Streak[t.Tip]
	at := f.at(tip.Hue, tip.Chroma)
	wide := textWidth(s, true, size)
	for _, d := range []float64{11, 15} {
		for _, turn := range []float64{0, 0.6, -0.6, 1.2, -1.2} {
			sn, c := math.Sincos(tip.Hue*2*math.Pi/100 + turn)
			x, y := at[0]+d*c, at[1]-d*sn
			b := area{x - wide/2 - 1, y - size/2, x + wide/2 + 1, y + size/2}
			if !slices.ContainsFunc(taken, b.meets) {
				return &note{b, s, size}
			}
		}
	}
	return nil
}

// shownJoins are the joins to draw: all, or where they are many only those of
// two tubes that grey each other best.
func shownJoins(v *plan.Wheel) []plan.Join {
	if len(v.Joins) <= 12 {
		return v.Joins
	}
	var out []plan.Join
	for _, j := range v.Joins {
		if v.Tubes[j.A-1].Opposite == j.B && v.Tubes[j.B-1].Opposite == j.A {
			out = append(out, j)
		}
	}
	return out
}

// wheelLeaders are the lines from labels to streaks. A leader that would run
// over another streak, a number or a leader is left out where the number tells
// as much.
func wheelLeaders(v *plan.Wheel, f plane, pageW float64, labels []label, numbers []*note, names []area) [][][2]float64 {
	ways := make([][][2]float64, len(v.Tubes))
	for i, t := range v.Tubes {
		for _, q := range t.Streak {
			ways[i] = append(ways[i], f.at(q.Hue, q.Chroma))
		}
	}
	var out [][][2]float64
	clear := func(l label, a, b [2]float64) bool {
		for i, way := range ways {
			if i == l.tube {
				continue
			}
			for k, q := range way {
				room := 5.0
				if k == 0 {
					room = 7
				}
				if fromLine(q, a, b) < room {
					return false
				}
			}
		}
		for i, n := range numbers {
			if n != nil && i != l.tube && n.area.crossed(a, b) {
				return false
			}
		}
		for _, n := range names {
			if n.crossed(a, b) {
				return false
			}
		}
		for _, o := range out {
			if cross2(o[0], o[1], a, b) {
				return false
			}
		}
		return true
	}
	for _, l := range labels {
		a := [2]float64{wheelMargin + columnWide + 3, l.y}
		if !l.left {
			a[0] = pageW - a[0]
		}
		way := ways[l.tube]
		to := [][2]float64{l.to, way[0], way[len(way)/2], way[len(way)-1]}
		i := slices.IndexFunc(to, func(b [2]float64) bool { return clear(l, a, b) })
		if i < 0 {
			if numbers[l.tube] != nil {
				continue
			}
			i = 0
		}
		out = append(out, [][2]float64{a, to[i]})
	}
	return out
}

// fromLine is the distance of a point from a stretch of line.
func fromLine(q, a, b [2]float64) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	t := 0.0
	if d := dx*dx + dy*dy; d > 0 {
		t = min(1, max(0, ((q[0]-a[0])*dx+(q[1]-a[1])*dy)/d))
	}
	return math.Hypot(q[0]-a[0]-t*dx, q[1]-a[1]-t*dy)
}

// cross2 tells whether two stretches of line cross.
func cross2(a, b, c, d [2]float64) bool {
	side := func(p, q, r [2]float64) float64 { return (q[0]-p[0])*(r[1]-p[1]) - (q[1]-p[1])*(r[0]-p[0]) }
	return side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0
}

// crossed tells whether a stretch of line runs through the box.
func (r area) crossed(a, b [2]float64) bool {
	in := func(q [2]float64) bool { return q[0] > r.x0 && q[0] < r.x1 && q[1] > r.y0 && q[1] < r.y1 }
	return in(a) || in(b) ||
		cross2(a, b, [2]float64{r.x0, r.y0}, [2]float64{r.x1, r.y1}) ||
		cross2(a, b, [2]float64{r.x0, r.y1}, [2]float64{r.x1, r.y0})
}

// streak draws a tube's way from masstone to tint, broad to narrow, with a rim
// of ink, and a gap where it lies over another.
func streak(p *picture, f plane, t plan.WheelTube) {
	n := len(t.Streak)
	if n < 2 {
		return
	}
	pts := make([][2]float64, n)
	for i, q := range t.Streak {
		pts[i] = f.at(q.Hue, q.Chroma)
	}
	wide := func(i int) float64 { return 7 - 4*float64(i)/float64(n-1) }
	for k, rim := range []float64{2, 0.8} {
		col := Surround
		if k == 1 {
			col = ink
		}
		rings := [][][2]float64{circle(pts[0][0], pts[0][1], wide(0)/2+rim)}
		for i := 1; i < n; i++ {
			rings = append(rings, tapered(pts[i-1], pts[i], wide(i-1)+2*rim, wide(i)+2*rim)...)
		}
		p.fill(col, rings...)
	}
	for i := 1; i < n; i++ {
		p.fill(rgb(t.Streak[i].Hex), tapered(pts[i-1], pts[i], wide(i-1), wide(i))...)
	}
}

// tapered is a stretch of a streak, its far end round.
func tapered(a, b [2]float64, wa, wb float64) [][][2]float64 {
	d := math.Hypot(b[0]-a[0], b[1]-a[1])
	rings := [][][2]float64{circle(b[0], b[1], wb/2)}
	if d == 0 {
		return rings
	}
	nx, ny := (b[1]-a[1])/d/2, (a[0]-b[0])/d/2
	return append(rings, [][2]float64{{a[0] + nx*wa, a[1] + ny*wa}, {b[0] + nx*wb, b[1] + ny*wb}, {b[0] - nx*wb, b[1] - ny*wb}, {a[0] - nx*wa, a[1] - ny*wa}})
}

func cross(p *picture, x, y, r float64) {
	for _, q := range []struct {
		col  color.RGBA
		wide float64
	}{{Surround, 3.4}, {ink, 1.5}} {
		p.line(x-r, y-r, x+r, y+r, q.wide, q.col)
		p.line(x-r, y+r, x+r, y-r, q.wide, q.col)
	}
}

// lean sets an arrowhead beside a tube's tip, towards the hue it leans to; two
// where it leans clearly.
func lean(p *picture, f plane, t plan.WheelTube, hues []plan.UniqueHue) {
	if t.Toward == "" || t.Kind == plan.Neutral {
		return
	}
	tip := t.Streak[t.Tip]
	i := slices.IndexFunc(hues, func(u plan.UniqueHue) bool { return u.Name == t.Toward })
	if i < 0 {
		return
	}
	turn := 1.0
	if math.Mod(hues[i].Hue-tip.Hue+150, 100)-50 < 0 {
		turn = -1
	}
	at := f.at(tip.Hue, tip.Chroma)
	s, c := math.Sincos(tip.Hue * 2 * math.Pi / 100)
	along := [2]float64{-s * turn, -c * turn} // on the page, where y runs down
	out := [2]float64{c, -s}
	n := 1
	if t.Clearly {
		n = 2
	}
	for k := range n {
		d := 8.5 + 3.4*float64(k)
		x, y := at[0]+along[0]*d, at[1]+along[1]*d
		head := [][2]float64{
			{x - along[0]*3 + out[0]*3.2, y - along[1]*3 + out[1]*3.2},
			{x, y},
			{x - along[0]*3 - out[0]*3.2, y - along[1]*3 - out[1]*3.2},
		}
		p.stroke(Surround, 3, 0, head)
		p.stroke(ink, 1.3, 0, head)
	}
}

// wheelLabels gives every tube a place in one of the columns, so that no leader
// crosses another and none is longer than it need be.
func wheelLabels(v *plan.Wheel, f plane, pageW float64) []label {
	n := len(v.Tubes)
	labels := make([]label, n)
	for i, t := range v.Tubes {
		q := t.Streak[t.Tip]
		labels[i] = label{tube: i, to: f.at(q.Hue, q.Chroma), lines: labelLines(v, t)}
	}
	// Left and right by where the tips lie, no side with more than three fifths
	// once there are many.
	byX := make([]int, n)
	for i := range byX {
		byX[i] = i
	}
	slices.SortStableFunc(byX, func(a, b int) int { return cmp.Compare(labels[a].to[0], labels[b].to[0]) })
	lefts := 0
	for _, l := range labels {
		if l.to[0] < f.x {
			lefts++
		}
	}
	room := max(12, (n*3+4)/5)
	lefts = min(max(lefts, n-room), room)
	for _, i := range byX[:lefts] {
		labels[i].left = true
	}
	for _, left := range []bool{true, false} {
		var side []*label
		for i := range labels {
			if labels[i].left == left {
				side = append(side, &labels[i])
			}
		}
		slices.SortStableFunc(side, func(a, b *label) int { return cmp.Compare(a.to[1], b.to[1]) })
		want := make([]float64, len(side))
		for i, l := range side {
			want[i] = l.to[1]
		}
		ys := shelve(want, min(64, (wheelBottom-wheelTop)/float64(max(1, len(side)))), wheelTop, wheelBottom)
		x := wheelMargin + columnWide
		if !left {
			x = pageW - x
		}
		for i, l := range side {
			l.y = ys[i]
		}
		uncross(side, x)
	}
	return labels
}

// uncross swaps labels whose leaders cross. Each swap shortens the leaders, so
// it ends.
func uncross(side []*label, x float64) {
	long := func(l *label, y float64) float64 { return math.Hypot(l.to[0]-x, l.to[1]-y) }
	for again := true; again; {
		again = false
		for i, a := range side {
			for _, b := range side[i+1:] {
				if long(a, b.y)+long(b, a.y) < long(a, a.y)+long(b, b.y)-1e-9 {
					a.y, b.y = b.y, a.y
					again = true
				}
			}
		}
	}
}

// shelve moves ascending heights apart by at least a pitch, within bounds, each
// as near its own as the others let it.
func shelve(want []float64, pitch, lo, hi float64) []float64 {
	ys := slices.Clone(want)
	at := lo + pitch/2
	for i := range ys {
		ys[i] = max(ys[i], at)
		at = ys[i] + pitch
	}
	at = hi - pitch/2
	for i := len(ys) - 1; i >= 0; i-- {
		ys[i] = min(ys[i], at)
		at = ys[i] - pitch
	}
	return ys
}

// labelLines are what stands under a tube's name.
func labelLines(v *plan.Wheel, t plan.WheelTube) []string {
	lines := []string{strings.TrimSpace(t.Lean)}
	for _, j := range v.Joins {
		if t.Opposite > 0 && (j.A == t.Number && j.B == t.Opposite || j.B == t.Number && j.A == t.Opposite) {
			own, other := j.Parts[0].Parts, j.Parts[1].Parts
			if j.B == t.Number {
				own, other = other, own
			}
			s := fmt.Sprintf("grey with %d, %s : %s", t.Opposite, amount(own), amount(other))
			if len(j.Parts) > 2 {
				s += " and " + amount(j.Parts[2].Parts) + " white"
			}
			lines = append(lines, s)
		}
	}
	return lines
}

func wheelColumns(p *picture, v *plan.Wheel, labels []label) {
	per := map[bool]int{}
	for _, l := range labels {
		per[l.left]++
	}
	most := max(per[true], per[false])
	name, rest, lead := 10.5, 8.0, 11.0
	if most > 13 {
		name, rest, lead = 9, 6.8, 8.6
	}
	for _, l := range labels {
		t := v.Tubes[l.tube]
		lines := l.lines
		code := codeOf(t.CI, t.Name)
		if most > 13 && len(lines) > 1 {
			lines = lines[:1]
			if both := fmt.Sprintf("%s; grey with %d", lines[0], t.Opposite); textWidth(drawable(code+", "+both), false, rest) <= columnWide-14 {
				lines[0] = both
			}
		}
		id := fmt.Sprint(t.Number)
		room := columnWide - 14 - textWidth(id+" ", true, name)
		title, size := shrunk(nameOr(t.Name, t.CI), room, true, name, 0.72*name)
		first := l.y + name*0.36
		if len(lines) > 0 {
			first -= lead * float64(len(lines)) / 2
		}
		all := id + " " + title
		put := func(y float64, s string, st lettering) {
			if l.left {
				p.right(wheelMargin+columnWide-14, y, s, st)
			} else {
				p.words(p.w-wheelMargin-columnWide+14, y, s, st)
			}
		}
		x := wheelMargin + columnWide - 6
		if !l.left {
			x = p.w - x
		}
		p.marker(t.Kind, x, l.y, 3.4, rgb(t.Streak[0].Hex))
		put(first, all, strong(size))
		for k, s := range lines {
			if k == 0 && code != "" && drawable(code) != nameOr(t.Name, t.CI) {
				if both := code + ", " + s; textWidth(both, false, rest) <= columnWide-14 || k == len(lines)-1 {
					s = both
				}
			}
			says, size := shrunk(s, columnWide-14, false, rest, 0.8*rest)
			put(first+lead*float64(k+1), says, plain(size))
		}
	}
}

// wheelKey explains the marks along the foot of the page.
func wheelKey(p *picture, v *plan.Wheel) {
	x, y := wheelMargin, 577.0
	l := plain(8)
	for _, k := range []struct{ kind, says string }{
		{plan.Bright, "bright"}, {plan.Earth, "earth"}, {plan.Neutral, "black, grey"}, {plan.White, "white"},
	} {
		p.marker(k.kind, x+4, y-2.8, 3.4, paper)
		x = p.words(x+12, y, k.says, l) + 12
	}
	for n, says := range []string{"leans slightly", "leans clearly"} {
		for k := range n + 1 {
			at := x + 3 + 3.4*float64(k)
			p.stroke(ink, 1.3, 0, [][2]float64{{at - 3, y - 6}, {at, y - 2.8}, {at - 3, y + 0.4}})
		}
		x = p.words(x+8+3.4*float64(n), y, says, l) + 12
	}
	if len(v.Joins) > 0 {
		p.stroke(mid, 0.8, 3.2, [][2]float64{{x, y - 2.8}, {x + 10, y - 2.8}})
		cross(p, x+14, y-2.8, 2.6)
		p.stroke(mid, 0.8, 3.2, [][2]float64{{x + 18, y - 2.8}, {x + 28, y - 2.8}})
		x = p.words(x+33, y, "two that grey each other, and where", l) + 12
	}
	s := fmt.Sprintf("Tints with %s; surface shine %s.", nameOr(v.White, "white"), shine(v.Finish))
	if v.Of > 0 {
		s = fmt.Sprintf("The first %d of %d tubes. ", len(v.Tubes), v.Of) + s
	}
	p.words(x, y, clipped(s, p.w-wheelMargin-x, false, 8), l)
}

// shine says whether a picture's colours hold the surface's reflection.
func shine(finish string) string {
	if finish == "excluded" {
		return "left out"
	}
	return "included"
}

// wheelWords tells what the picture shows to those who cannot see it.
func wheelWords(v *plan.Wheel) string {
	var b strings.Builder
	for _, t := range v.Tubes {
		fmt.Fprintf(&b, "%d %s: %s.", t.Number, t.Name, strings.Join(labelLines(v, t), ", "))
		b.WriteByte(' ')
	}
	return strings.TrimSpace(b.String())
}

package draw

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"paintout/cmd/internal/plan"
)

// Sheet is one page of a lesson.
type Sheet struct {
	Chart  bool // the chart; else the wheel
	Filled bool // with the colours foretold; else outlines to paint in
	Letter bool // US Letter; else A4
}

// Name is what a file of the sheet may be called: "wheel", "chart-filled".
func (s Sheet) Name() string {
	name := "wheel"
	if s.Chart {
		name = "chart"
	}
	if s.Filled {
		name += "-filled"
	}
	return name
}

// LessonPNG paints a sheet of a lesson upright at 300 dots to the inch.
func LessonPNG(w io.Writer, l *plan.Lesson, s Sheet) error {
	p, err := lessonPage(l, s)
	if err != nil {
		return err
	}
	return p.png(w, printDPI)
}

// LessonSVG writes the same page as LessonPNG.
func LessonSVG(w io.Writer, l *plan.Lesson, s Sheet) error {
	p, err := lessonPage(l, s)
	if err != nil {
		return err
	}
	return p.svg(w)
}

// lessonMargin is what home printers leave blank, and some more.
const lessonMargin = 30.0

// lessonPage is white: what is painted on paper and what is printed beside it
// are then judged on the same ground.
func lessonPage(l *plan.Lesson, s Sheet) (*picture, error) {
	if l == nil || len(l.Tubes) == 0 || len(l.Wheel) == 0 {
		return nil, errors.New("draw: a lesson needs at least one tube of colour")
	}
	if err := checkChart(l.Chart); err != nil {
		return nil, err
	}
	p := newPicture(a4Short, a4Long, paper)
	if s.Letter {
		p.w, p.h = letterShort, letterLong
	}
	title, note, tubes := "Mix the wheel", wheelLessonNote(l), l.Tubes
	if s.Chart {
		title, note, tubes = "Mix the chart: "+chartTitle(l.Chart), chartNote(l.Chart), l.Chart.Tubes
	}
	if s.Filled {
		note = "As foretold, to lay beside what you mixed. " + note
	}
	p.title, p.desc = title+", "+l.Box, note

	x0, x1 := lessonMargin, p.w-lessonMargin
	t, size := shrunk(title, x1-x0, true, 17, 11)
	p.words(x0, 46, t, strong(size))
	y := 72.0
	if s.Filled {
		y = 47
	} else {
		end := p.words(x0, y, "Name", plain(9.5))
		p.line(end+5, y+1.5, x0+0.62*(x1-x0), y+1.5, 0.6, ink)
		end = p.words(x0+0.65*(x1-x0), y, "Date", plain(9.5))
		p.line(end+5, y+1.5, x1, y+1.5, 0.6, ink)
		y += 6
	}
	for _, line := range wrapped(note, x1-x0, 4, false, leastType) {
		y += 13
		p.words(x0, y, line, plain(leastType))
	}

	foot := p.lessonFoot(l, tubes, x0, x1, s.Filled)
	look := blankCells
	if s.Filled {
		look = flatCells
	}
	body := area{x0, y + 14, x1, foot - 10}
	if s.Chart {
		drawChart(p, l.Chart, body, look)
	} else {
		drawLessonWheel(p, l, body, look)
	}
	return p, nil
}

func wheelLessonNote(l *plan.Lesson) string {
	s := "Outer ring: mix the tubes whose numbers stand outside, in these parts."
	if l.White != "" {
		s += fmt.Sprintf(" Next ring: the same with %s, last.", nameOr(l.White, "white"))
	}
	if slices.ContainsFunc(l.Wheel, func(g plan.Segment) bool { return g.Greyed != nil }) {
		s += " Inner ring: the outer one's colour half greyed with the tube whose number stands inside, last."
	}
	return s
}

// lessonFoot sets the key of tubes, the cautions and the standing line at the
// foot of the page, and gives where it begins.
func (p *picture) lessonFoot(l *plan.Lesson, tubes []plan.ChartTube, x0, x1 float64, filled bool) float64 {
	const small = leastType
	var lines []string
	for _, g := range l.Cautions {
		var names, numbers []string
		for _, t := range tubes {
			if slices.Contains(g.Tubes, t.Name) {
				names = append(names, nameOr(t.Name, t.CI))
				numbers = append(numbers, fmt.Sprint(t.Number))
			}
		}
		if len(names) == 0 {
			continue
		}
		says := wrapped(strings.Join(names, ", ")+": "+g.Caution, x1-x0, 4, false, small)
		if len(says) > 3 { // such names would push the caution out of sight
			says = wrapped("Tubes "+strings.Join(numbers, ", ")+": "+g.Caution, x1-x0, 6, false, small)
		}
		lines = append(lines, says...)
	}
	keys := lessonKeys(tubes, (x1-x0)/lessonColumns-8-keyChip)
	const lineH = 11.0
	keyH := 0.0
	for c := range lessonColumns {
		high := 0.0
		for _, k := range column(keys, c) {
			high += k.high()
		}
		keyH = max(keyH, high)
	}
	high := keyH + 17 + float64(len(lines)+1)*lineH
	if len(lines) > 0 {
		high += 14
	}
	top := p.h - 24 - high
	for c := range lessonColumns {
		x, y := x0+(x1-x0)/lessonColumns*float64(c), top
		for _, k := range column(keys, c) {
			if filled {
				p.box(x, y, 15, 9, rgb(k.hex))
			}
			p.frame(x, y, 15, 9, 0.6, mid)
			end := p.words(x+keyChip, y+8, k.number, strong(small))
			for i, line := range k.lines {
				p.words(end+4, y+8+lineH*float64(i), line, plain(small))
			}
			y += k.high()
		}
	}
	y := top + keyH + 8
	p.line(x0, y-4, x1, y-4, 0.6, ink)
	y += 5
	if len(lines) > 0 {
		p.words(x0, y+5, "Mind", strong(small))
		y += 17
	} else {
		y += 4
	}
	for _, s := range lines {
		p.words(x0, y, s, plain(small))
		y += lineH
	}
	p.words(x0, y, clipped(l.Scope, x1-x0, true, small), strong(small))
	return top
}

// lessonKey is what the foot of a sheet says of one tube.
type lessonKey struct {
	number, hex string
	lines       []string // of its name
}

const (
	lessonColumns = 3    // of the key
	keyChip       = 19.0 // a chip of colour and the gap after it
)

func (k *lessonKey) high() float64 { return 2 + 11*float64(len(k.lines)) }

// lessonKeys names tubes in so many points of width: with the code where that
// fits, over two lines where the name is long.
func lessonKeys(tubes []plan.ChartTube, w float64) []lessonKey {
	var out []lessonKey
	for _, t := range tubes {
		k := lessonKey{number: fmt.Sprint(t.Number), hex: t.Hex}
		room := w - 4 - textWidth(k.number, true, leastType)
		name := nameOr(t.Name, t.CI)
		if code := drawable(codeOf(t.CI, t.Name)); code != "" && code != name && textWidth(name+"  "+code, false, leastType) < room {
			name += "  " + code
		}
		if textWidth(name, false, leastType) <= room {
			k.lines = []string{name}
		} else {
			k.lines = wrapped(name, room, 2, false, leastType)
		}
		out = append(out, k)
	}
	return out
}

// column is the part of a list that stands in one column of the key.
func column(keys []lessonKey, c int) []lessonKey {
	rows := (len(keys) + lessonColumns - 1) / lessonColumns
	return keys[min(len(keys), c*rows):min(len(keys), (c+1)*rows)]
}

// partsLines writes parts in a width without setting them smaller: close
// together where they do not fit, and over as many lines as that takes.
func partsLines(parts []float64, w float64) []string {
	says := portions(parts)
	if textWidth(says, true, leastType) <= w {
		return []string{says}
	}
	var lines []string
	line := ""
	for i, q := range parts {
		says := amount(q)
		if i < len(parts)-1 {
			says += ":"
		}
		if line != "" && textWidth(line+says, true, leastType) > w {
			lines = append(lines, line)
			line = ""
		}
		line += says
	}
	return append(lines, line)
}

// drawLessonWheel is three rings of cells, each with a bare strip at its outer
// edge for the parts.
func drawLessonWheel(p *picture, l *plan.Lesson, a area, look cellLook) {
	r := min((a.x1-a.x0)/2-26, (a.y1-a.y0)/2-16)
	cx, cy := (a.x0+a.x1)/2, (a.y0+a.y1)/2
	n := len(l.Wheel)
	// Few colours leave the circle open rather than stretch.
	angle := min(2*math.Pi/float64(n), math.Pi/3)
	rings := [3]wheelRing{}
	for k := range rings {
		// A strip is as high as the ring's longest parts need.
		ring := &rings[k]
		*ring = wheelRing{cx: cx, cy: cy, outer: r * (1 - ringThick*float64(k)), thick: ringThick * r}
		for ring.lines = 1; ring.lines < 3; ring.lines++ {
			if !slices.ContainsFunc(l.Wheel, func(g plan.Segment) bool {
				c := ringCell(&g, k)
				return c != nil && len(partsLines(c.Parts, ring.room(angle))) > ring.lines
			}) {
				break
			}
		}
	}
	for i, g := range l.Wheel {
		from := math.Pi/2 - angle/2 + angle*float64(i)
		to := from + angle
		middle := (from + to) / 2
		var ids []string
		for _, t := range g.Tubes {
			ids = append(ids, fmt.Sprint(t))
		}
		says := strings.Join(ids, "+")
		id := strong(10)
		if len(g.Tubes) > 1 {
			id = plain(9)
		}
		at := func(r float64) (x, y float64) { return cx + r*math.Cos(middle), cy - r*math.Sin(middle) }
		x, y := at(r + 4 + math.Abs(math.Cos(middle))*textWidth(says, id.bold, id.size)/2 + math.Abs(math.Sin(middle))*id.size/2)
		p.centred(x, y+0.36*id.size, says, id)
		for k := range rings {
			if c := ringCell(&g, k); c != nil {
				p.wheelCell(&rings[k], from, to, c, look)
			}
		}
		if g.Greyed != nil {
			x, y := at(r*(1-ringThick*float64(len(rings))) - 7)
			p.centred(x, y+3, fmt.Sprint(g.Opposite), plain(9))
		}
	}
}

// ringThick is a ring of the wheel, as a share of the radius.
const ringThick = 0.235

// wheelRing is where a ring lies, and how many lines its parts take.
type wheelRing struct {
	cx, cy, outer, thick float64
	lines                int
}

const ringLine = 11.5

func (r *wheelRing) strip() float64 { return 0.5 + ringLine*float64(r.lines) }

// room is what the innermost line of the strip has over an angle.
func (r *wheelRing) room(angle float64) float64 {
	return angle*(r.outer-r.strip()+ringLine/2) - 3
}

// ringCell is a segment's cell in a ring, from the outermost, if it has one.
func ringCell(g *plan.Segment, k int) *plan.Cell { return []*plan.Cell{&g.Mix, g.Tint, g.Greyed}[k] }

// wheelCell is one cell of a ring: its parts along the outer edge, and beneath
// them the patch to paint.
func (p *picture) wheelCell(r *wheelRing, from, to float64, c *plan.Cell, look cellLook) {
	gap := 1.2
	patch := sector(r.cx, r.cy, r.outer-r.strip(), r.outer-r.thick+2, from+gap/r.outer, to-gap/r.outer)
	if look == flatCells {
		p.fill(rgb(c.Hex), patch)
	}
	p.stroke(mid, 0.6, 0, append(patch, patch[0]))
	lines := partsLines(c.Parts, r.room(to-from))
	if len(c.Parts) == 1 {
		lines = []string{"masstone"}
	}
	middle := (from + to) / 2
	turn := math.Pi/2 - middle
	below := math.Sin(middle) < -1e-9 // the lower half reads from outside
	if below {
		turn += math.Pi
	}
	for i, says := range lines {
		row := len(lines) - 1 - i // from the patch outward
		if below {
			row = i
		}
		at := r.outer - r.strip() + ringLine*(float64(row)+0.5)
		p.turned(r.cx+at*math.Cos(middle), r.cy-at*math.Sin(middle), turn, says, strong(leastType))
	}
}

// sector is a piece of a ring between two radii and two angles.
func sector(cx, cy, r0, r1, from, to float64) [][2]float64 {
	n := max(2, int((to-from)*24))
	var pts [][2]float64
	for _, side := range []struct{ r, from, to float64 }{{r0, from, to}, {r1, to, from}} {
		for i := range n + 1 {
			s, c := math.Sincos(side.from + (side.to-side.from)*float64(i)/float64(n))
			pts = append(pts, [2]float64{cx + side.r*c, cy - side.r*s})
		}
	}
	return pts
}

// lessonRows is a chart of strings or ladders on a sheet: each row's words stand
// over it, so that its cells have the whole width.
func lessonRows(p *picture, c *plan.Chart, a area, look cellLook) {
	cols := 0
	for _, r := range c.Rows {
		cols = max(cols, len(r.Cells))
	}
	const (
		size, line, gap = 10.5, 11.5, 12.0
		widest, longest = 110.0, 1.6 // of a cell, points; its height to its width
	)
	wide := min(widest, (a.x1-a.x0)/float64(cols))
	room := wide - 4
	y := a.y0
	if c.Kind == plan.StringChart {
		half := wide * float64(cols) / 2
		p.words(a.x0+2, y+9, clipped(pileName(c.Rows[0].Piles[0]), half-10, true, size), strong(size))
		p.right(a.x0+2*half-2, y+9, clipped(pileName(c.Rows[0].Piles[1]), half-10, true, size), strong(size))
		y += 20
	}
	// What a row takes besides its cells.
	heads := make([][][]run, len(c.Rows))
	parts := make([]int, len(c.Rows))
	taken := 0.0
	for i, r := range c.Rows {
		heads[i] = broken(rowWords(r), a.x1-a.x0, leastType)
		for _, q := range r.Cells {
			parts[i] = max(parts[i], len(partsLines(q.Parts, room-3)))
		}
		taken += line*float64(len(heads[i])+parts[i]+1) + 6
	}
	tall := min(longest*wide, (a.y1-y-taken)/float64(len(c.Rows))-gap)
	for i, r := range c.Rows {
		for _, h := range heads[i] {
			p.setRuns(a.x0+2, y+8, h, leastType)
			y += line
		}
		y += 2
		for k, q := range r.Cells {
			x := a.x0 + wide*float64(k)
			if look == flatCells {
				p.box(x+2, y, room, tall, rgb(q.Hex))
			}
			p.frame(x+2, y, room, tall, 0.6, mid)
			at := y + tall + line
			for _, says := range partsLines(q.Parts, room-3) {
				p.centred(x+wide/2, at, says, strong(leastType))
				at += line
			}
			value := "value " + one(q.Value)
			if textWidth(value, false, leastType) > room {
				value = one(q.Value)
			}
			p.centred(x+wide/2, y+tall+line*float64(parts[i]+1), value, plain(leastType))
		}
		y += tall + line*float64(parts[i]+1) + 4 + gap
	}
}

// rowWords names a row, its steps, and what its piles are made of.
func rowWords(r plan.ChartRow) []run {
	says := ""
	if len(r.Cells) > 1 {
		says = "steps " + span(r) + " ΔE00"
	}
	for _, s := range pileWordsOf(r) {
		says += "; " + s
	}
	return []run{{drawable(r.Name), true}, {strings.TrimPrefix(says, "; "), false}}
}

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
		var names []string
		for _, t := range tubes {
			if slices.Contains(g.Tubes, t.Name) {
				names = append(names, nameOr(t.Name, t.CI))
			}
		}
		if len(names) > 0 {
			s := strings.Join(names, ", ") + ": " + g.Caution
			lines = append(lines, wrapped(s, x1-x0, 4, false, small)...)
		}
	}
	cols := 3
	if len(tubes) > 18 {
		cols = 4
	}
	rows := (len(tubes) + cols - 1) / cols
	const rowH, lineH = 13.0, 11.0
	high := float64(rows)*rowH + 13 + float64(len(lines)+1)*lineH
	if len(lines) > 0 {
		high += 14
	}
	top := p.h - 24 - high
	wide := (x1 - x0) / float64(cols)
	for i, t := range tubes {
		x, y := x0+wide*float64(i/rows), top+rowH*float64(i%rows)
		if filled {
			p.box(x, y, 15, 9, rgb(t.Hex))
		}
		p.frame(x, y, 15, 9, 0.6, mid)
		end := p.words(x+19, y+8, fmt.Sprint(t.Number), strong(9))
		name := nameOr(t.Name, t.CI)
		if code := codeOf(t.CI, t.Name); code != "" && drawable(code) != name && textWidth(name+"  "+drawable(code), false, 9) < x+wide-8-end {
			name += "  " + drawable(code)
		}
		says, size := shrunk(name, x+wide-8-end-4, false, 9, 6)
		p.words(end+4, y+8, says, plain(size))
	}
	y := top + float64(rows)*rowH + 10
	p.line(x0, y-6, x1, y-6, 0.6, ink)
	y += 3
	if len(lines) > 0 {
		p.words(x0, y+5, "Mind", strong(9))
		y += 17
	}
	for _, s := range lines {
		p.words(x0, y, s, plain(small))
		y += lineH
	}
	p.words(x0, y, clipped(l.Scope, x1-x0, true, small), strong(small))
	return top
}

// drawLessonWheel is three rings of cells, each with a bare strip at its outer
// edge for the parts.
func drawLessonWheel(p *picture, l *plan.Lesson, a area, look cellLook) {
	r := min((a.x1-a.x0)/2, (a.y1-a.y0)/2) - 16
	cx, cy := (a.x0+a.x1)/2, (a.y0+a.y1)/2
	n := len(l.Wheel)
	// Few colours leave the circle open rather than stretch.
	angle := min(2*math.Pi/float64(n), math.Pi/3)
	thick, strip := 0.235*r, 12.0
	for i, g := range l.Wheel {
		from := math.Pi/2 - angle/2 + angle*float64(i)
		to := from + angle
		middle := (from + to) / 2
		var ids []string
		for _, t := range g.Tubes {
			ids = append(ids, fmt.Sprint(t))
		}
		at := func(r float64) (x, y float64) { return cx + r*math.Cos(middle), cy - r*math.Sin(middle) }
		x, y := at(r + 9)
		id := strong(10)
		if len(g.Tubes) > 1 {
			id = plain(9)
		}
		p.centred(x, y+0.36*id.size, strings.Join(ids, "+"), id)
		outer := r
		for _, c := range []*plan.Cell{&g.Mix, g.Tint, g.Greyed} {
			if c != nil {
				p.wheelCell(cx, cy, outer, thick, strip, from, to, c, look)
			}
			outer -= thick
		}
		if g.Greyed != nil {
			x, y := at(outer - 7)
			p.centred(x, y+3, fmt.Sprint(g.Opposite), plain(9))
		}
	}
}

// wheelCell is one cell of a ring: its parts along the outer edge, and beneath
// them the patch to paint.
func (p *picture) wheelCell(cx, cy, outer, thick, strip, from, to float64, c *plan.Cell, look cellLook) {
	gap := 1.2
	ring := sector(cx, cy, outer-strip, outer-thick+2, from+gap/outer, to-gap/outer)
	if look == flatCells {
		p.fill(rgb(c.Hex), ring)
	}
	p.stroke(mid, 0.6, 0, append(ring, ring[0]))
	r := outer - strip/2
	middle := (from + to) / 2
	turn := math.Pi/2 - middle
	if math.Sin(middle) < -1e-9 { // the lower half reads from outside
		turn += math.Pi
	}
	room := (to-from)*r - 3
	says := portions(c.Parts)
	if len(c.Parts) == 1 {
		says = "masstone"
	}
	if textWidth(says, true, 9) > room {
		says = strings.ReplaceAll(says, " ", "")
	}
	text, size := shrunk(says, room, true, 9, 5)
	p.turned(cx+r*math.Cos(middle), cy-r*math.Sin(middle), turn, text, strong(size))
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

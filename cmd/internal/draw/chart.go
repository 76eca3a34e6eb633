package draw

import (
	"errors"
	"fmt"
	"image/color"
	"io"
	"strings"

	"paintout/cmd/internal/plan"
)

// ChartPNG paints a chart across an A4 page at 200 dots to the inch.
func ChartPNG(w io.Writer, c *plan.Chart) error {
	p, err := chartPage(c)
	if err != nil {
		return err
	}
	return p.png(w, screenDPI)
}

// ChartSVG writes the same page as ChartPNG.
func ChartSVG(w io.Writer, c *plan.Chart) error {
	p, err := chartPage(c)
	if err != nil {
		return err
	}
	return p.svg(w)
}

func checkChart(c *plan.Chart) error {
	if c == nil || len(c.Tubes) == 0 || len(c.Pairs) == 0 && len(c.Rows) == 0 {
		return errors.New("draw: a chart needs tubes and their mixes; make it again")
	}
	return nil
}

// cellLook is how the cells of a chart are shown.
type cellLook int

const (
	pulledCells cellLook = iota // knife-pulls on the surround, the parts beneath or on them
	blankCells                  // outlines to paint in
	flatCells                   // the same outlines, filled as foretold
)

func chartPage(c *plan.Chart) (*picture, error) {
	if err := checkChart(c); err != nil {
		return nil, err
	}
	p := newPicture(a4Long, a4Short, Surround)
	p.title, p.desc = c.Title+", "+c.Box, chartWords(c)
	const margin, top, bottom = 22.0, 72.0, 558.0
	title, size := shrunk(chartTitle(c), p.w-2*margin, true, 19, 13)
	p.words(margin, 38, title, strong(size))
	p.words(margin, 54, clipped(chartNote(c), p.w-2*margin, false, 8.5), plain(8.5))
	drawChart(p, c, area{margin, top, p.w - margin, bottom}, pulledCells)
	foot := fmt.Sprintf("Parts by volume; foretold colours, surface shine %s. %s", shine(c.Finish), c.Box)
	p.words(margin, 579, clipped(foot, p.w-2*margin, false, 8), plain(8))
	return p, nil
}

// chartTitle is the chart's title, in names that can be drawn.
func chartTitle(c *plan.Chart) string {
	switch c.Kind {
	case plan.StringChart:
		return pileName(c.Rows[0].Piles[0]) + " into " + pileName(c.Rows[0].Piles[1])
	case plan.LaddersChart:
		return "Tints, tones and shades of " + pileName(c.Rows[0].Piles[0])
	}
	return c.Title
}

func pileName(q plan.Pile) string {
	code := ""
	if len(q.Parts) == 1 {
		code = q.Parts[0].CI
	}
	return nameOr(q.Name, code)
}

// chartNote says how to read a chart.
func chartNote(c *plan.Chart) string {
	switch c.Kind {
	case plan.PairsChart:
		s := "Above the diagonal, the mix that looks midway between two tubes."
		if c.White != "" {
			s += fmt.Sprintf(" Below it, the same let down midway to %s.", nameOr(c.White, "white"))
		}
		s += " Parts in the order of the numbers"
		if c.White != "" {
			s += ", white last"
		}
		if c.Of > 0 {
			return s + fmt.Sprintf(". %d of %d tubes are shown.", len(c.Tubes), c.Of)
		}
		return s + "."
	case plan.StringChart:
		s := fmt.Sprintf("Visual steps as equal as the parts allow, %s ΔE00. Parts of %s : %s", span(c.Rows[0]), pileName(c.Rows[0].Piles[0]), pileName(c.Rows[0].Piles[1]))
		if c.White != "" {
			s += " : " + nameOr(c.White, "white")
		}
		return s + "."
	}
	return "Each ladder in visual steps as equal as the parts allow, the parts under each; value from 0, black, to 10, white."
}

func span(r plan.ChartRow) string {
	if one(r.Least) == one(r.Most) {
		return one(r.Least)
	}
	return one(r.Least) + " to " + one(r.Most)
}

// portions writes parts, "3 : 1".
func portions(parts []float64) string {
	s := make([]string, len(parts))
	for i, q := range parts {
		s[i] = amount(q)
	}
	return strings.Join(s, " : ")
}

func drawChart(p *picture, c *plan.Chart, a area, look cellLook) {
	if c.Kind == plan.PairsChart {
		drawPairs(p, c, a, look)
		return
	}
	if look != pulledCells {
		lessonRows(p, c, a, look)
		return
	}
	drawRows(p, c, a)
}

// drawPairs is the matrix of all pairs. With names in the first column where
// cells are pulled; sheets carry a key instead.
func drawPairs(p *picture, c *plan.Chart, a area, look cellLook) {
	n := len(c.Tubes)
	first, head := 150.0, 16.0
	if look != pulledCells {
		first = 20
	}
	wide := min(170, (a.x1-a.x0-first)/float64(n))
	high := min(0.8*wide, (a.y1-a.y0-head)/float64(n))
	if look != pulledCells {
		high = min(wide, (a.y1-a.y0-head)/float64(n))
	}
	x := func(i int) float64 { return a.x0 + first + wide*float64(i) }
	y := func(i int) float64 { return a.y0 + head + high*float64(i) }
	name := min(12, 0.42*high)
	for i, t := range c.Tubes {
		id := fmt.Sprint(t.Number)
		p.centred(x(i)+wide/2, a.y0+head-4, id, strong(10.5))
		mid := y(i) + high/2
		if look != pulledCells {
			p.centred(a.x0+first/2-1, mid+3.8, id, strong(10.5))
			continue
		}
		p.words(a.x0, mid+0.36*name, id, strong(name))
		rows, size := 1, name
		if says := drawable(nameOr(t.Name, t.CI)); high > 3*name || textWidth(says, false, name) > first-26 {
			rows, size = 2, min(name, high/2.7)
		}
		says := wrapped(nameOr(t.Name, t.CI), first-26, rows, false, size)
		for k, s := range says {
			p.words(a.x0+18, mid+0.36*size+1.2*size*(float64(k)-float64(len(says)-1)/2), s, plain(size))
		}
	}
	for i, t := range c.Tubes {
		p.cell(look, 31*i, area{x(i), y(i), x(i) + wide, y(i) + high}, rgb(t.Hex), fmt.Sprint(t.Number), true)
	}
	for _, q := range c.Pairs {
		i, j := q.A-1, q.B-1
		p.cell(look, 31*i+j, area{x(j), y(i), x(j) + wide, y(i) + high}, rgb(q.Mix.Hex), portions(q.Mix.Parts), false)
		if q.Tint != nil {
			p.cell(look, 31*j+i, area{x(i), y(j), x(i) + wide, y(j) + high}, rgb(q.Tint.Hex), portions(q.Tint.Parts), false)
		}
	}
}

// cell draws one cell with what is written in it.
func (p *picture) cell(look cellLook, n int, a area, col color.RGBA, says string, bold bool) {
	w, h := a.x1-a.x0, a.y1-a.y0
	if look == pulledCells {
		p.pull(n, a.x0+1, a.y0+1, w-2, h-2, col)
		size := min(13, 0.36*h)
		if textWidth(says, bold, size) > w-7 {
			says = strings.ReplaceAll(says, " ", "")
		}
		text, size := shrunk(says, w-7, bold, size, 4.5)
		p.centred(a.x0+w/2, a.y0+h/2+0.36*size, text, lettering{size: size, bold: bold, col: inkOn(col)})
		return
	}
	// A patch to paint, and a strip beneath that stays bare for the parts.
	const strip = 12.0
	x, y, pw, ph := a.x0+2, a.y0+2, w-4, h-4-strip
	if look == flatCells {
		p.box(x, y, pw, ph, col)
	}
	p.frame(x, y, pw, ph, 0.6, mid)
	if textWidth(says, true, leastType) > w-2 {
		says = strings.ReplaceAll(says, " ", "")
	}
	p.centred(a.x0+w/2, a.y1-3, clipped(says, w-2, true, leastType), strong(leastType))
}

// pull fills a pile pulled with the knife over a box.
func (p *picture) pull(n int, x, y, w, h float64, col color.RGBA) {
	pts := pat(n, w/h)
	for i := range pts {
		pts[i] = [2]float64{x + pts[i][0]*h/100, y + pts[i][1]*h/100}
	}
	p.fill(col, pts)
}

// drawRows is a chart of strings or ladders in pulled cells, a row each.
func drawRows(p *picture, c *plan.Chart, a area) {
	const first = 118.0
	cols := 0
	for _, r := range c.Rows {
		cols = max(cols, len(r.Cells))
	}
	wide := min(110, (a.x1-a.x0-first)/float64(cols))
	head := 0.0
	if c.Kind == plan.StringChart {
		head = 18
		l, r := pileName(c.Rows[0].Piles[0]), pileName(c.Rows[0].Piles[1])
		half := wide * float64(cols) / 2
		p.words(a.x0+first+3, a.y0+11, clipped(l, half-10, true, 10.5), strong(10.5))
		p.right(a.x0+first+2*half-3, a.y0+11, clipped(r, half-10, true, 10.5), strong(10.5))
	}
	text := min(10, 0.13*wide)
	under := 2*text + 8
	high := min(1.25*wide+under+14, (a.y1-a.y0-head)/float64(len(c.Rows)))
	for i, r := range c.Rows {
		y := a.y0 + head + high*float64(i)
		tall := min(high-under-8, 1.25*wide)
		p.rowLabel(r, a.x0, y, first-8, high, text)
		for k, q := range r.Cells {
			x := a.x0 + first + wide*float64(k)
			p.pull(37*i+k, x+1.5, y, wide-3, tall, rgb(q.Hex))
			says, size := shrunk(portions(q.Parts), wide-4, true, text+1, 5)
			p.centred(x+wide/2, y+tall+text+3, says, strong(size))
			value := "value " + one(q.Value)
			if textWidth(value, false, 0.8*text) > wide-4 {
				value = one(q.Value)
			}
			p.centred(x+wide/2, y+tall+2*text+4, value, plain(0.8*text))
		}
	}
}

// rowLabel names a row, and what its piles are made of.
func (p *picture) rowLabel(r plan.ChartRow, x, y, w, h, text float64) {
	size := max(7, min(10.5, text+1))
	at := y + size
	for _, l := range wrapped(r.Name, w, 2, true, size) {
		p.words(x, at, l, strong(size))
		at += 1.15 * size
	}
	small := 0.78 * size
	say := func(s string, n int) {
		for _, l := range wrapped(s, w, n, false, small) {
			if at > y+h-2 {
				return
			}
			p.words(x, at, l, plain(small))
			at += 1.2 * small
		}
	}
	if len(r.Cells) > 1 {
		say("steps "+span(r)+" ΔE00", 2)
	}
	for _, s := range pileWordsOf(r) {
		say(s, 4)
	}
	if r.Note != "" {
		say(r.Note, 5)
	}
}

// pileWordsOf says what those piles of a row are that are mixes themselves.
func pileWordsOf(r plan.ChartRow) []string {
	var out []string
	for _, q := range r.Piles {
		if len(q.Parts) < 2 {
			continue
		}
		var parts []string
		for _, part := range q.Parts {
			parts = append(parts, amount(part.Parts)+" "+nameOr(part.Tube, part.CI))
		}
		kind := "pile"
		if strings.HasPrefix(q.Name, "grey") {
			kind = "grey"
		}
		out = append(out, kind+": "+strings.Join(parts, " + "))
	}
	return out
}

// chartWords tells what a chart shows to those who cannot see it.
func chartWords(c *plan.Chart) string {
	var b strings.Builder
	for _, t := range c.Tubes {
		fmt.Fprintf(&b, "%d %s. ", t.Number, t.Name)
	}
	for _, q := range c.Pairs {
		fmt.Fprintf(&b, "%d and %d: %s. ", q.A, q.B, portions(q.Mix.Parts))
	}
	for _, r := range c.Rows {
		fmt.Fprintf(&b, "%s: ", r.Name)
		for _, q := range r.Cells {
			fmt.Fprintf(&b, "%s value %s, ", portions(q.Parts), one(q.Value))
		}
	}
	return strings.TrimRight(b.String(), ", ")
}

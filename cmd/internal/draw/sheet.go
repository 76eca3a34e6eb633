package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"paintout/cmd/internal/plan"
)

// The sheet for the easel: black on white, for the sun and for a printer
// without colour. Nothing on it is set in less than leastType points, and no
// swatch is smaller than leastSwatch.
const (
	leastType   = 9.0
	leastSwatch = 15.2 * 72 / 25.4 // a shade over 15 mm
	sheetMargin = 25.5             // 9 mm: what home printers leave blank, and some more
	columnGap   = 15.0
	blockGap    = 6.0
	leading     = 1.21 // of type
	highestMap  = 250.0
)

// easel is a plan laid out for the easel.
type easel struct {
	pages    []*easelPage
	warnings []string
}

// easelPage is a page and the cells that its marks were set into, so that a
// check can tell whether each stayed in its own.
type easelPage struct {
	*picture
	cells []cell
}

// cell is a stretch of the page kept for one thing: "title", "map", "photo",
// "values", "kit", "pile 7", "swatch 7", "dab 7", "note", "ladder".
type cell struct {
	area
	what string
}

func (e *easelPage) cell(what string, x0, y0, x1, y1 float64) {
	e.cells = append(e.cells, cell{area{x0, y0, x1, y1}, what})
}

// setting is a way to set a sheet, from roomy to tight.
type setting struct {
	columns      int     // of piles
	text, swatch float64 // points
	picture      float64 // least height of the map
	running      bool    // a mix in running words beside its swatch, not a tube a line
}

var (
	settings = []setting{
		{1, 12, 70, 190, false}, {1, 12, 58, 180, false}, {1, 11, 52, 165, false},
		{2, 10.5, 60, 190, false}, {2, 10, 54, 175, false}, {2, 9.5, 48, 160, false}, {2, 9, leastSwatch, 140, false},
		{2, 9.5, 48, 140, true}, {2, 9, leastSwatch, 118, true},
	}
	// flowing is for plans that need more than a page.
	flowing = []setting{
		{1, 11, 54, 210, false}, {2, 10, 54, 210, false}, {2, 9.5, 48, 190, false}, {2, 9, leastSwatch, 170, false}, {2, 9, leastSwatch, 150, true},
	}
)

// easelSheet lays a plan out: on one page, in the roomiest setting that fits,
// or on as many as it takes. The same plan gives the same pages.
// Its pictures have so many dots to the inch, and widths that are free.
func easelSheet(p *plan.Plan, pics *plan.Pictures, size Paper, free pixelWidths, dpi float64) (*easel, error) {
	if err := check(p, pics); err != nil {
		return nil, err
	}
	t := easelWords(p, pics)
	l := layout{t: t}
	l.w, l.h = size.size()
	fits := false
	for _, s := range settings {
		l.in(s)
		if fits = l.onePage(); fits {
			break
		}
	}
	for i := 0; i < len(flowing) && !fits; i++ {
		l.in(flowing[i])
		for high := highestMap; high >= l.s.picture && !fits; high -= 20 {
			l.manyPages(high)
			fits = len(l.pages) <= 2
		}
	}
	spots, lost := spotNumbers(p.Masses, pics, l.chart)
	l.pages[0].drawNumbers(p.Masses, spots)
	e := &easel{pages: l.pages, warnings: t.letters}
	for _, page := range e.pages {
		page.title, page.desc = t.title+", the sheet for the easel", t.sub
	}
	if len(lost) > 0 {
		var ids []string
		for _, i := range lost {
			ids = append(ids, fmt.Sprint(p.Masses[i].ID))
		}
		e.warnings = append(e.warnings, fmt.Sprintf("The map on the sheet has no room for %s: crop the photo to a fuller shape.", strings.Join(ids, ", ")))
	}
	return e, inlayPictures(e.pages, p, pics, t.steps, free, dpi)
}

// layout sets the words of a sheet in a setting.
type layout struct {
	t     *easelText
	s     setting
	w, h  float64
	pages []*easelPage
	chart area // the map, on the first page

	pileHigh  []float64    // in this setting
	noteLines [][]noteLine // of each note, in any setting
}

// in chooses a setting.
func (l *layout) in(s setting) {
	l.s = s
	l.pileHigh = make([]float64, len(l.t.piles))
	for i := range l.pileHigh {
		l.pileHigh[i] = l.pile(nil, i, 0, 0)
	}
}

func (l *layout) x0() float64 { return sheetMargin }
func (l *layout) x1() float64 { return l.w - sheetMargin }

// bottom is where the last cell of a page must end.
func (l *layout) bottom() float64 { return l.h - sheetMargin }

func (l *layout) page() *easelPage {
	p := &easelPage{picture: newPicture(l.w, l.h, paper)}
	l.pages = append(l.pages, p)
	return p
}

// onePage sets everything on one page, if it fits. The pictures take what
// height is left.
func (l *layout) onePage() bool {
	l.pages = nil
	trial := &easelPage{picture: newPicture(l.w, l.h, paper)}
	y := l.title(trial, sheetMargin)
	foot := l.bottom() - l.ladderHigh() - blockGap
	split := l.balance(0, len(l.t.piles))
	piles := max(l.stack(0, split), l.stack(split, len(l.t.piles)))
	kit := l.kitHigh()
	for high := highestMap; high >= l.s.picture; high -= 5 {
		for columns := range mostKit {
			top := l.arrange(y, high, columns+1)
			notes := l.notes(l.notesBeside(nil, top))
			rest := foot - top.end - blockGap - piles - blockGap - notes.high(notes.balance())
			if top.kitColumns == 0 {
				rest -= kit + blockGap
			}
			if rest >= 0 {
				l.setPage(top, notes, split, piles, rest)
				return true
			}
		}
	}
	return false
}

// setPage sets a page of which everything is known; the height left over goes
// between the piles.
func (l *layout) setPage(top head, notes noteColumns, split int, piles, rest float64) {
	page := l.page()
	l.title(page, sheetMargin)
	l.pictures(page, top)
	l.notesBeside(page, top)
	y := top.end + blockGap
	rows := max(split, len(l.t.piles)-split)
	fill := notes.whole(min(rest, 3*noteHigh))
	rest -= notes.high(fill) - notes.high(notes.balance())
	air := min(18, rest/float64(rows))
	l.pileColumn(page, l.x0(), y, 0, split, air)
	l.pileColumn(page, l.x0()+l.pileWide()+columnGap, y, split, len(l.t.piles), air)
	y += piles + blockGap + air*float64(rows)
	if top.kitColumns == 0 {
		y = l.kitBlock(page, y) + blockGap
	}
	notes.set(page, y, fill)
	l.ladder(page, l.bottom()-l.ladderHigh(), "")
}

// manyPages sets the head, its map as high as asked, and the first piles on one
// page and the rest on as many as they need. Notes fill what the piles of a page
// leave free; those that remain come last.
func (l *layout) manyPages(high float64) {
	l.pages = nil
	page := l.page()
	y := l.title(page, sheetMargin)
	top := l.arrange(y, high, 1)
	l.pictures(page, top)
	beside := l.notesBeside(page, top)
	y = top.end + blockGap
	if top.kitColumns == 0 {
		y = l.kitBlock(page, y) + blockGap
	}
	// Every page keeps a line at its foot for its number; the first has the
	// ladder there.
	foot := l.bottom() - l.ladderHigh() - blockGap
	next := func() {
		page = l.page()
		y = l.runningHead(page, sheetMargin)
		foot = l.bottom()
	}
	for i := 0; i < len(l.t.piles); {
		from := i
		var split int
		for split = i; split < len(l.t.piles) && y+l.stack(i, split+1) <= foot; split++ {
		}
		end := split
		if l.s.columns > 1 {
			for end < len(l.t.piles) && y+l.stack(split, end+1) <= foot {
				end++
			}
		}
		if end == from {
			if y > sheetMargin+40 { // the page has something on it already
				next()
				continue
			}
			split, end = from+1, from+1
		}
		if k := l.balance(from, end); end == len(l.t.piles) && y+l.stack(from, k) <= foot {
			split = k
		}
		l.pileColumn(page, l.x0(), y, from, split, 0)
		l.pileColumn(page, l.x0()+l.pileWide()+columnGap, y, split, end, 0)
		y += max(l.stack(from, split), l.stack(split, end)) + blockGap
		if i = end; i < len(l.t.piles) {
			beside += l.notesBelow(page, beside, y, foot)
			next()
		}
	}
	for beside < len(l.t.notes) {
		n := l.notesBelow(page, beside, y, foot)
		if n == 0 && y <= sheetMargin+40 { // one note is longer than a page
			n = 1
			first, rest := l.notesOf(beside, beside+n).fit(foot - y)
			for first.set(page, y, first.fill); len(rest.lines) > 0; first.set(page, y, first.fill) {
				next()
				first, rest = rest.fit(foot - y)
			}
		}
		if beside += n; beside < len(l.t.notes) {
			next()
		}
	}
	for i, page := range l.pages {
		of := fmt.Sprintf("page %d of %d", i+1, len(l.pages))
		if i == 0 {
			l.ladder(page, l.bottom()-l.ladderHigh(), of)
		} else {
			page.right(l.x1(), sheetMargin+10, of, plain(leastType))
		}
	}
}

// title sets the photo's name and whose tubes the sheet is mixed from, on one
// line if they fit.
func (l *layout) title(p *easelPage, y float64) float64 {
	const size = 17.0
	top := y
	x := l.x0()
	for _, line := range broken([]run{{l.t.title, true}}, l.x1()-l.x0(), size) {
		x = p.setRuns(l.x0(), y+0.85*size, line, size)
		y += leading * size
	}
	if textWidth(l.t.sub, false, leastType) <= l.x1()-x-20 {
		p.right(l.x1(), y-(leading-0.85)*size, l.t.sub, plain(leastType))
	} else {
		for _, line := range broken([]run{{l.t.sub, false}}, l.x1()-l.x0(), leastType) {
			p.setRuns(l.x0(), y+0.8*leastType, line, leastType)
			y += leading * leastType
		}
	}
	p.cell("title", l.x0(), top, l.x1(), y)
	return y + 5
}

func (l *layout) runningHead(p *easelPage, y float64) float64 {
	const size = 11.0
	says := clipped(l.t.title, l.x1()-l.x0()-90, true, size)
	p.words(l.x0(), y+10, says, strong(size))
	p.cell("title", l.x0(), y, l.x1(), y+14)
	return y + 20
}

// head is where the pictures go, and the kit beside them if it fits there.
type head struct {
	chart, photo, values area
	kitAt                area
	kitColumns           int // none where it does not fit there
	end                  float64
}

const (
	captionHigh = 12.5
	kitLeast    = 118.0 // narrowest column of tubes
)

// arrange gives the map the height asked for or as much as the width allows,
// and photo and value plan their places beside or beneath it, whichever gives the
// map that height; and the tubes in so many columns beside them, if they
// fit.
func (l *layout) arrange(y, high float64, columns int) head {
	a := float64(l.t.pics.W) / float64(l.t.pics.H)
	x0, x1 := l.x0(), l.x1()
	const gap = 8.0
	room := x1 - x0 - kitLeast - columnGap
	var t head
	var right float64
	switch {
	case a < 0.85 && 3*a*high+2*gap <= room: // upright: side by side
		t.chart = area{x0, y, x0 + a*high, y + high}
		t.photo = area{t.chart.x1 + gap, y, t.chart.x1 + gap + a*high, y + high}
		t.values = area{t.photo.x1 + gap, y, t.photo.x1 + gap + a*high, y + high}
		right, t.end = t.values.x1, y+high+captionHigh
	case a <= 2: // photo and values one above the other beside the map
		small := func(h float64) float64 { return (h - captionHigh - gap/2) / 2 }
		for a*(high+small(high))+gap > room {
			high--
		}
		s := small(high)
		t.chart = area{x0, y, x0 + a*high, y + high}
		sx := t.chart.x1 + gap
		t.photo = area{sx, y, sx + a*s, y + s}
		t.values = area{sx, y + high - s, sx + a*s, y + high}
		right, t.end = t.photo.x1, y+high+captionHigh
	default: // a wide picture: beneath it
		wide := min(room, high*2*a/3)
		s := (wide - gap) / 2
		t.chart = area{x0, y, x0 + wide, y + wide/a}
		sy := t.chart.y1 + captionHigh + gap/2
		t.photo = area{x0, sy, x0 + s, sy + s/a}
		t.values = area{x0 + s + gap, sy, x0 + wide, sy + s/a}
		right, t.end = t.chart.x1, sy+s/a+captionHigh
	}
	t.kitAt = area{right + columnGap, y, x1, t.end}
	if wide := (t.kitAt.x1 - t.kitAt.x0 - float64(columns-1)*columnGap) / float64(columns); wide < kitLeast-0.1 {
		return t
	}
	if need := l.kit(nil, t.kitAt.x0, y, t.kitAt.x1, columns); need <= max(t.end, y+0.8*highestMap) {
		t.kitColumns, t.kitAt.y1 = columns, need
		t.end = max(t.end, need)
	}
	return t
}

// mostKit is how many columns the tubes beside the pictures may be set in.
const mostKit = 2

func (l *layout) pictures(p *easelPage, t head) {
	for _, q := range []struct {
		area
		what     string
		captions []string
	}{
		{t.chart, "map", []string{"The masses, in the colours to mix", "The masses", "Masses"}},
		{t.photo, "photo", []string{"The photo", "Photo"}},
		{t.values, "values", []string{"In values " + l.t.values, "Values " + l.t.values, "Values"}},
	} {
		if q.what == "values" && l.t.steps == 0 {
			continue
		}
		p.marks = append(p.marks, mark{inlay: &inlay{area: q.area, what: q.what}})
		p.frame(q.x0, q.y0, q.x1-q.x0, q.y1-q.y0, 0.5, ink)
		p.cell(q.what, q.x0, q.y0, q.x1, q.y1)
		wide := q.x1 - q.x0
		for _, says := range q.captions {
			if textWidth(says, false, leastType) <= wide {
				p.words(q.x0, q.y1+10, says, plain(leastType))
				break
			}
		}
	}
	l.chart = t.chart
	if t.kitColumns > 0 {
		l.kit(p, t.kitAt.x0, t.kitAt.y0, t.kitAt.x1, t.kitColumns)
	}
}

// kit sets the tubes to carry in so many columns and gives where they end;
// without a page it only measures.
func (l *layout) kit(p *easelPage, x0, y, x1 float64, columns int) float64 {
	size := min(l.s.text, 10.0)
	top := y
	for _, line := range broken([]run{{l.t.carry, true}}, x1-x0, size+1) {
		if p != nil {
			p.setRuns(x0, y+0.8*(size+1), line, size+1)
		}
		y += leading * (size + 1)
	}
	y += 2
	wide := (x1 - x0 - float64(columns-1)*columnGap) / float64(columns)
	rows := (len(l.t.tubes) + columns - 1) / columns
	end := y
	for c := range columns {
		at, x := y, x0+float64(c)*(wide+columnGap)
		for i := c * rows; i < min(len(l.t.tubes), (c+1)*rows); i++ {
			at = l.kitTube(p, l.t.tubes[i], x, at, x+wide, size)
		}
		end = max(end, at)
	}
	if p != nil {
		p.cell("kit", x0, top, x1, end)
	}
	return end
}

func (l *layout) kitTube(p *easelPage, t easelTube, x0, y, x1, size float64) float64 {
	chip := 0.78 * size
	left, right := x0+chip+5, x1
	if t.volume != "" {
		right -= textWidth(t.volume, false, size) + 6
	}
	name := []run{{t.name, false}}
	if t.code != "" && textWidth(t.name+" "+t.code, false, size) <= right-left {
		name = []run{{t.name + " " + t.code, false}}
	}
	lines := broken(name, right-left, size)
	if p != nil {
		p.box(x0, y+0.1*size, chip, chip, rgb(t.hex))
		p.frame(x0, y+0.1*size, chip, chip, 0.5, ink)
		for i, line := range lines {
			p.setRuns(left, y+(0.82+leading*float64(i))*size, line, size)
		}
		if t.volume != "" {
			p.right(x1, y+0.82*size, t.volume, plain(size))
		}
	}
	return y + leading*size*float64(len(lines))
}

// kitBlock sets the tubes across the page, where they are too many or too long
// for a column beside the pictures.
func (l *layout) kitBlock(p *easelPage, y float64) float64 {
	return l.kit(p, l.x0(), y, l.x1(), 3)
}

func (l *layout) kitHigh() float64 { return l.kitBlock(nil, 0) }

func (l *layout) pileWide() float64 {
	return (l.x1() - l.x0() - float64(l.s.columns-1)*columnGap) / float64(l.s.columns)
}

// stack is the height of piles from one up to another, one beneath the other.
func (l *layout) stack(from, to int) float64 {
	high := 0.0
	for i := from; i < to; i++ {
		high += l.pileHigh[i]
	}
	return high
}

// balance splits piles into two columns, the higher as low as can be; all go into
// one where there is but one.
func (l *layout) balance(from, to int) int {
	if l.s.columns == 1 {
		return to
	}
	high := func(split int) float64 { return max(l.stack(from, split), l.stack(split, to)) }
	split := from
	for split < to && high(split+1) <= high(split) {
		split++
	}
	if split < to && split-from < to-split && high(split+1) <= high(split)+8 {
		split++ // the odd one to the left
	}
	return split
}

func (l *layout) pileColumn(p *easelPage, x, y float64, from, to int, air float64) {
	for i := from; i < to; i++ {
		y += l.pile(p, i, x, y) + air
	}
}

// pile sets one mass and gives its height; without a page it only measures.
// From the left: its number and value, its swatch, an empty box against it for
// the test dab, and the mix.
func (l *layout) pile(p *easelPage, i int, x, y float64) float64 {
	m := l.t.piles[i]
	t, s := l.s.text, l.s.swatch
	wide := l.pileWide()
	lh := leading * t
	pad := 0.42 * t
	if l.s.running {
		pad = 0.34 * t
	}
	left := x + 2.9*t
	dab := s
	if l.s.columns > 1 {
		dab = 0.72 * s
	}
	textX := left + s + dab + 0.75*t
	room := x + wide - textX

	// The name's line runs over swatch and text, or stands over running words.
	nameX := left
	if l.s.running {
		nameX = textX
	}
	nameWide := x + wide - nameX
	if m.volume != "" {
		nameWide -= textWidth(m.volume, true, t) + 6
	}
	name := broken([]run{{m.name, true}}, nameWide, t)
	if k := len(name) - 1; k >= 0 && m.aside != "" && !l.s.running {
		with := append(slices.Clone(name[k]), run{m.aside, false})
		if q := broken(with, nameWide, t); len(q) == 1 {
			name[k] = with
		}
	}
	swatchY, row := y+pad, len(name)
	set := l.inWords
	if !l.s.running {
		swatchY, row = y+pad+lh*float64(len(name))+2, 0
		set = l.list
	}
	baseline := func(n int) float64 { return swatchY + 0.82*t + lh*float64(n) }
	rows := set(p, m, textX, room, row, baseline)
	high := max(s, lh*float64(rows)) // the swatch is as high as what stands beside it
	end := swatchY + high + pad + 1
	if p != nil {
		p.line(x, y, x+wide, y, 0.7, ink)
		p.words(x, y+pad+1.42*t, fmt.Sprint(m.id), strong(1.85*t))
		for k, line := range name {
			p.setRuns(nameX, y+pad+0.8*t+lh*float64(k), line, t)
		}
		if m.volume != "" {
			p.right(x+wide, y+pad+0.8*t, m.volume, strong(t))
		}
		p.words(x, swatchY+s-1.45*t, "value", plain(leastType))
		p.words(x, swatchY+s-0.1*t, m.value, strong(1.25*t))
		p.box(left, swatchY, s, high, rgb(m.hex))
		p.frame(left, swatchY, s, high, 0.7, ink)
		p.frame(left+s, swatchY, dab, high, 0.7, ink)
		p.cell(fmt.Sprint("swatch ", m.id), left, swatchY, left+s, swatchY+high)
		p.cell(fmt.Sprint("dab ", m.id), left+s, swatchY, left+s+dab, swatchY+high)
		p.cell(fmt.Sprint("pile ", m.id), x, y, x+wide, end)
	}
	return end - y
}

// inWords sets a mix as one run of words, from a row on, and gives the row
// after it. Names are kept whole on a line where that takes no more lines.
func (l *layout) inWords(p *easelPage, m easelPile, x, room float64, row int, baseline func(int) float64) int {
	var loose, whole []run
	for i, q := range m.parts {
		tube := q.tube
		if i+1 < len(m.parts) {
			tube += ","
		}
		amount := run{q.amount + tie, true}
		loose = append(loose, amount, run{tube, false})
		whole = append(whole, amount)
		words := strings.Fields(tube)
		for k, word := range words {
			if k+1 < len(words) {
				word += tie
			}
			whole = append(whole, run{word, false})
		}
	}
	mix := broken(whole, room, l.s.text)
	if other := broken(loose, room, l.s.text); len(other) < len(mix) {
		mix = other
	}
	for _, line := range append(mix, broken(m.off, room, l.s.text)...) {
		if p != nil {
			p.setRuns(x, baseline(row), line, l.s.text)
		}
		row++
	}
	return row
}

// list sets a mix a tube a line, and then how far off it is, or beside them
// where one column of piles leaves the room.
func (l *layout) list(p *easelPage, m easelPile, x, room float64, row int, baseline func(int) float64) int {
	t := l.s.text
	amounts, volumes := 0.0, 0.0
	for _, q := range m.parts {
		amounts = max(amounts, textWidth(q.amount, true, t))
		if q.volume != "" {
			volumes = max(volumes, textWidth(q.volume, false, t)+5)
		}
	}
	wide, offX, offWide := room, x, room
	beside := l.s.columns == 1
	if beside {
		wide = 0.56 * room
		offX, offWide = x+wide+columnGap, room-wide-columnGap
	}
	first := row
	for _, q := range m.parts {
		lines := broken([]run{{q.tube, false}}, wide-amounts-0.4*t-volumes, t)
		if p != nil {
			p.right(x+amounts, baseline(row), q.amount, strong(t))
			for k, line := range lines {
				p.setRuns(x+amounts+0.4*t, baseline(row+k), line, t)
			}
			if q.volume != "" {
				p.right(x+wide, baseline(row), q.volume, plain(t))
			}
		}
		row += max(1, len(lines))
	}
	after := row
	if beside {
		row = first
	}
	for _, line := range broken(m.off, offWide, t) {
		if p != nil {
			p.setRuns(offX, baseline(row), line, t)
		}
		row++
	}
	return max(row, after)
}

// noteColumns is sentences set in lines, to be split between two columns.
type noteColumns struct {
	lines []noteLine
	wide  float64
	fill  int // of what fits a page: lines of its first column
}

type noteLine struct {
	runs []run
	gap  float64 // above it, unless it begins a column
}

const (
	noteHigh = leading * leastType
	noteGap  = 3.0
)

// notesBeside sets notes under the tubes, as many as there is room for beside
// the pictures, and says how many; without a page it only counts.
func (l *layout) notesBeside(p *easelPage, t head) int {
	if t.kitColumns == 0 {
		return 0
	}
	x, wide := t.kitAt.x0, t.kitAt.x1-t.kitAt.x0
	top := t.kitAt.y1 + blockGap
	y := top
	for i, note := range l.t.notes {
		lines := broken(note, wide, leastType)
		if y+noteHigh*float64(len(lines)) > t.end {
			if p != nil && i > 0 {
				p.cell("note", x, top, x+wide, y-noteGap)
			}
			return i
		}
		for _, line := range lines {
			if p != nil {
				p.setRuns(x, y+0.82*leastType, line, leastType)
			}
			y += noteHigh
		}
		y += noteGap
	}
	if p != nil && len(l.t.notes) > 0 {
		p.cell("note", x, top, x+wide, y-noteGap)
	}
	return len(l.t.notes)
}

// notesBelow sets notes from one on, as many as there is room for as a whole, and
// says how many.
func (l *layout) notesBelow(p *easelPage, from int, y, foot float64) int {
	n := len(l.t.notes) - from
	for ; n > 0; n-- {
		notes := l.notesOf(from, from+n)
		if free := foot - y - notes.high(notes.balance()); free >= 0 {
			notes.set(p, y, notes.whole(free))
			break
		}
	}
	return n
}

// notes sets those from one on, for two columns.
func (l *layout) notes(from int) noteColumns { return l.notesOf(from, len(l.t.notes)) }

func (l *layout) notesOf(from, to int) noteColumns {
	n := noteColumns{wide: (l.x1() - l.x0() - columnGap) / 2}
	if l.noteLines == nil {
		for _, note := range l.t.notes {
			var lines []noteLine
			for i, line := range broken(note, n.wide, leastType) {
				q := noteLine{runs: line}
				if i == 0 {
					q.gap = noteGap
				}
				lines = append(lines, q)
			}
			l.noteLines = append(l.noteLines, lines)
		}
	}
	for _, lines := range l.noteLines[from:to] {
		n.lines = append(n.lines, lines...)
	}
	return n
}

func (n noteColumns) column(from, to int) float64 {
	high := 0.0
	for i := from; i < to; i++ {
		if i > from {
			high += n.lines[i].gap
		}
		high += noteHigh
	}
	return high
}

// balance is how many lines the first column takes for both to be of nearly one
// height.
func (n noteColumns) balance() int {
	k := 0
	for k < len(n.lines) && n.high(k+1) <= n.high(k) {
		k++
	}
	// Rather between two notes than within one, if that costs little.
	best := k
	for i := range n.lines {
		if n.lines[i].gap > 0 && n.high(i) <= n.high(k)+1.5*noteHigh && (best == k || n.high(i) < n.high(best)) {
			best = i
		}
	}
	return best
}

// whole is like balance, but splits no note where that costs no more height than
// there is to spare.
func (n noteColumns) whole(spare float64) int {
	k := n.balance()
	if k == len(n.lines) || n.lines[k].gap > 0 {
		return k
	}
	best, low := k, n.high(k)+spare
	for i := 1; i <= len(n.lines); i++ {
		if (i == len(n.lines) || n.lines[i].gap > 0) && n.high(i) <= low {
			best, low = i, n.high(i)
		}
	}
	return best
}

func (n noteColumns) high(k int) float64 {
	return max(n.column(0, k), n.column(k, len(n.lines)))
}

// fit parts the lines into those that fill two columns of a height, and the
// rest.
func (n noteColumns) fit(high float64) (first, rest noteColumns) {
	k := 0
	for k < len(n.lines) && n.column(0, k+1) <= high {
		k++
	}
	end := k
	for end < len(n.lines) && n.column(k, end+1) <= high {
		end++
	}
	first, rest = n, n
	first.lines, first.fill = n.lines[:end], k
	rest.lines = n.lines[end:]
	return first, rest
}

func (n noteColumns) set(p *easelPage, y float64, split int) {
	for c, part := range [2][2]int{{0, split}, {split, len(n.lines)}} {
		if part[0] == part[1] {
			continue
		}
		x := sheetMargin + float64(c)*(n.wide+columnGap)
		at := y
		for i := part[0]; i < part[1]; i++ {
			if i > part[0] {
				at += n.lines[i].gap
			}
			p.setRuns(x, at+0.82*leastType, n.lines[i].runs, leastType)
			at += noteHigh
		}
		p.cell("note", x, y, x+n.wide, at)
	}
}

// The ladder: the value scale in eleven greys, and under it each pile's number
// where its value lies.
const (
	rungHigh   = 19.0
	ladderDrop = 9.0
	ladderType = 10.0
	ladderRow  = 11.0
)

func (l *layout) ladderHigh() float64 {
	_, rows := l.onLadder()
	return 13 + rungHigh + ladderDrop + 1 + ladderRow*float64(rows)
}

// hung is a pile's number under the ladder: where its value lies, where the
// number stands, and in which row.
type hung struct {
	id   int
	want float64
	x    float64
	row  int
}

// onLadder hangs the numbers under their values, in two rows where in one they
// would be pushed far aside.
func (l *layout) onLadder() (out []hung, rows int) {
	x0, x1 := l.x0(), l.x1()
	rung := (x1 - x0) / 11
	for _, m := range l.t.plan.Masses {
		v := min(10, max(0, m.AimValue))
		if math.IsNaN(v) {
			v = 0
		}
		out = append(out, hung{id: m.ID, want: x0 + rung*(v+0.5)})
	}
	slices.SortStableFunc(out, func(a, b hung) int { return cmp.Or(cmp.Compare(a.want, b.want), a.id-b.id) })
	for rows = 1; ; rows++ {
		var wants, widths []float64
		for _, q := range out {
			wide := textWidth(fmt.Sprint(q.id), true, ladderType)
			if wide += 4; rows == 2 { // half of it, and the lead of a neighbour that passes
				wide = wide/2 + 2
			}
			wants, widths = append(wants, q.want), append(widths, wide)
		}
		far := 0.0
		for i, x := range spread(wants, widths, x0+4, x1-4) {
			out[i].x, out[i].row = x, i%rows
			far = max(far, math.Abs(x-wants[i]))
		}
		if far <= rung/2 || rows == 2 {
			return out, rows
		}
	}
}

func (l *layout) ladder(p *easelPage, y float64, of string) {
	x0, x1 := l.x0(), l.x1()
	p.cell("ladder", x0, y, x1, y+l.ladderHigh())
	says := "Value, 0 black to 10 white, and where each pile lies on it. Hold it beside a pile and squint."
	if of != "" {
		p.right(x1, y+9, of, plain(leastType))
	}
	p.words(x0, y+9, clipped(says, x1-x0-70, false, leastType), plain(leastType))
	y += 13
	rung := (x1 - x0) / 11
	for v := range 11 {
		g := greyOfValue(float64(v))
		x := x0 + rung*float64(v)
		p.box(x, y, rung, rungHigh, g)
		p.centred(x+rung/2, y+rungHigh/2+4.2, fmt.Sprint(v), lettering{size: 12, bold: true, col: inkOn(g)})
	}
	p.frame(x0, y, x1-x0, rungHigh, 0.7, ink)
	list, _ := l.onLadder()
	for _, q := range list {
		at := y + rungHigh + ladderDrop
		p.line(q.want, y+rungHigh, q.x, at-0.5, 0.6, ink)
		if q.row > 0 {
			p.line(q.x, at-0.5, q.x, at+ladderRow-0.5, 0.6, ink)
		}
		p.centred(q.x, at+ladderRow*float64(q.row)+8.5, fmt.Sprint(q.id), strong(ladderType))
	}
}

// finiteOr is a number as it may be written, or nothing.
func finiteOr(v float64, write func(float64) string) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	return write(v)
}

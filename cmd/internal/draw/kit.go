package draw

import (
	"errors"
	"fmt"
	"image/color"
	"io"
	"math"
	"slices"
	"strings"

	"paintout/cmd/internal/plan"
	"paintout/recipe"
)

// KitPNG paints, across an A4 page at 200 dots to the inch, what any number of
// tubes can do: a row for each number with the best set of tubes, and how far
// off its worst mass and its mean are. Tubes gives the looks, in the order of
// the columns.
func KitPNG(w io.Writer, k *plan.KitPlan, tubes []plan.Tube) error {
	p, err := kitPage(k, tubes)
	if err != nil {
		return err
	}
	return p.png(w, screenDPI)
}

// KitSVG writes the same page as KitPNG.
func KitSVG(w io.Writer, k *plan.KitPlan, tubes []plan.Tube) error {
	p, err := kitPage(k, tubes)
	if err != nil {
		return err
	}
	return p.svg(w)
}

// kitRow is a set of tubes on the page.
type kitRow struct {
	plan.KitStep
	kit bool
}

// kitRows are the curve's sets and, where it is none of them, the kit.
func kitRows(k *plan.KitPlan) []kitRow {
	var rows []kitRow
	at := len(k.Curve)
	found := false
	for i, s := range k.Curve {
		same := len(s.Tubes) == len(k.Tubes) && !slices.ContainsFunc(s.Tubes, func(t string) bool { return !slices.Contains(k.Tubes, t) })
		rows = append(rows, kitRow{s, same})
		found = found || same
		if s.Count <= len(k.Tubes) {
			at = i + 1
		}
	}
	if !found {
		at = min(at, len(rows))
		rows = slices.Insert(rows, at, kitRow{plan.KitStep{Count: len(k.Tubes), Tubes: k.Tubes, Worst: k.Worst, Mean: k.Mean}, true})
	}
	return rows
}

func kitPage(k *plan.KitPlan, tubes []plan.Tube) (*picture, error) {
	if k == nil || len(k.Tubes) == 0 {
		return nil, errors.New("draw: a kit needs tubes; find it again")
	}
	rows := kitRows(k)
	used := map[string]bool{}
	most := 0.0
	for _, r := range rows {
		most = max(most, r.Worst)
		for _, t := range r.Tubes {
			used[t] = true
		}
	}
	var cols []plan.Tube
	for _, t := range tubes {
		if used[t.Name] {
			cols = append(cols, t)
		}
	}
	const margin, top, bottom = 26.0, 178.0, 546.0
	const namesEnd = 62.0  // where the columns begin
	const barsWide = 210.0 // of the misses on the right
	const nameSize = 9.5
	p := newPicture(a4Long, a4Short, Surround)
	p.title, p.desc = "How few tubes will do", kitPageWords(k, rows)
	p.words(margin, 38, "How few tubes will do", strong(19))
	y := 54.0
	for _, l := range wrapped(kitWords(k), p.w-2*margin, 2, false, 9) {
		p.words(margin, y, l, plain(9))
		y += 12
	}
	rowHigh := min(30, (bottom-top)/float64(len(rows)))
	left, right := margin+namesEnd, p.w-margin-barsWide-24
	colWide := min(44, (right-left)/float64(len(cols)))
	end := left + colWide*float64(len(cols))
	barsAt := end + 24
	bands, share := kitScale(most)
	bar := func(v float64) float64 { return barsAt + barsWide*share(v) }
	last := top + rowHigh*float64(len(rows))

	// The words for misses, as bands behind the bars.
	for i := range bands {
		x := barsAt + barsWide*float64(i)/float64(bands)
		if i%2 == 1 {
			p.box(x, top, barsWide/float64(bands), last-top, color.RGBA{184, 184, 184, 255})
		}
		word := recipe.Grade(math.Inf(1))
		if i+1 < len(kitCuts) {
			word = recipe.Grade(kitCuts[i+1])
		}
		for j, l := range wrapped(word, barsWide/float64(bands)-4, 3, false, 8) {
			p.words(x+2, top-26+9.5*float64(j), l, plain(8))
		}
		if i > 0 {
			p.line(x, top-2, x, last, 0.5, ink)
			p.centred(x, last+11, amount(kitCuts[i]), plain(8))
		}
	}
	p.words(barsAt, top-40, "how far off, ΔE00", strong(9))
	p.centred(barsAt, last+11, "0", plain(8))
	p.line(barsAt, top-2, barsAt, last, 1, ink)

	p.words(margin, top-14, "tubes", strong(9))
	for i, t := range cols {
		x := left + colWide*(float64(i)+0.5)
		name, size := shrunk(nameOr(t.Name, t.CI), top-84, false, nameSize, 7)
		high := textWidth(drawable(name), false, size)
		p.turned(x, top-8-high/2, -math.Pi/2, name, plain(size))
	}
	was := map[string]bool{}
	for j, r := range rows {
		y := top + rowHigh*float64(j)
		mid := y + rowHigh/2
		if r.kit {
			p.frame(margin-6, y+1, end-margin+12, rowHigh-2, 2, ink)
			p.words(margin+20, mid+3.5, "the kit", strong(9.5))
		}
		p.words(margin, mid+4.5, fmt.Sprint(r.Count), strong(13))
		for i, t := range cols {
			x := left + colWide*float64(i)
			in := slices.Contains(r.Tubes, t.Name)
			switch {
			case in:
				c := rgb(t.Hex)
				p.pull(1000+i+31*j, x+2, y+3, colWide-4, rowHigh-6, c)
				if j > 0 && !was[t.Name] && (!r.kit || !sameCount(rows, j)) {
					p.centred(x+colWide/2, mid+4, "+", lettering{size: 12, bold: true, col: inkOn(c)})
				}
			case was[t.Name] && (!r.kit || !sameCount(rows, j)):
				p.line(x+colWide/2-3.5, mid, x+colWide/2+3.5, mid, 1.6, ink) // it goes out
			default:
				p.disc(x+colWide/2, mid, 0.9, ink)
			}
		}
		if !r.kit || !sameCount(rows, j) {
			was = map[string]bool{}
			for _, t := range r.Tubes {
				was[t] = true
			}
		}
		p.line(bar(r.Mean), mid, bar(r.Worst), mid, 1, ink)
		p.disc(bar(r.Worst), mid, 4, ink)
		p.fill(ink, diamond(bar(r.Mean), mid, 5))
		p.fill(Surround, diamond(bar(r.Mean), mid, 3.2))
		figure := lettering{size: 9, col: ink, halo: 2, rim: Surround}
		p.words(bar(r.Worst)+7, mid+3.2, figureOf(r.Worst), figure)
		p.right(bar(r.Mean)-7, mid+3.2, figureOf(r.Mean), figure)
	}
	x := margin
	key := func(mark func(x float64), says string) {
		mark(x + 5)
		x = p.words(x+13, 573, says, plain(8.5)) + 14
	}
	key(func(x float64) { p.disc(x, 570, 4, ink) }, "the worst mass")
	key(func(x float64) { p.fill(ink, diamond(x, 570, 5)); p.fill(Surround, diamond(x, 570, 3.2)) }, "the mean by area")
	key(func(x float64) { p.centred(x, 574, "+", strong(12)) }, "comes in against the row above")
	key(func(x float64) { p.line(x-3.5, 570, x+3.5, 570, 1.6, ink) }, "goes out")
	how := "Each row is the best set of so many tubes for the worst mass."
	if !slices.ContainsFunc(k.Curve, func(s plan.KitStep) bool { return !s.Proven }) && len(k.Curve) > 0 {
		how = "Each row is the best set of so many tubes for the worst mass, proven over the ladder of parts."
	}
	p.words(margin, 585, clipped(how, p.w-2*margin, false, 8), plain(8))
	return p, nil
}

// sameCount reports that the row before has as many tubes: the kit beside the
// curve's set of its size.
func sameCount(rows []kitRow, j int) bool { return j > 0 && rows[j-1].Count == rows[j].Count }

func diamond(x, y, r float64) [][2]float64 {
	return [][2]float64{{x, y - r}, {x + r, y}, {x, y + r}, {x - r, y}}
}

// kitPageWords says the page to those who cannot see it.
func kitPageWords(k *plan.KitPlan, rows []kitRow) string {
	var b strings.Builder
	b.WriteString(kitWords(k))
	for _, r := range rows {
		kind := ""
		if r.kit {
			kind = " (the kit)"
		}
		fmt.Fprintf(&b, " %d%s: worst %s, mean %s: %s.", r.Count, kind, figureOf(r.Worst), figureOf(r.Mean), strings.Join(r.Tubes, ", "))
	}
	return b.String()
}

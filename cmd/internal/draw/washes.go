package draw

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"paintout/cmd/internal/plan"
)

// WashesPNG paints a mix's washes on their ground, across an A4 page at 200 dots
// to the inch: one graded without a break, and one for each step.
func WashesPNG(w io.Writer, r *plan.WashMixResult) error {
	p, err := washesPage(r)
	if err != nil {
		return err
	}
	return p.png(w, screenDPI)
}

// WashesSVG writes the same page as WashesPNG.
func WashesSVG(w io.Writer, r *plan.WashMixResult) error {
	p, err := washesPage(r)
	if err != nil {
		return err
	}
	return p.svg(w)
}

func washesPage(r *plan.WashMixResult) (*picture, error) {
	if r == nil || len(r.Washes) < 2 || len(r.Graded) < 2 || len(r.Parts) == 0 {
		return nil, errors.New("draw: washes need a mix and its steps; make them again")
	}
	p := newPicture(a4Long, a4Short, Surround)
	var names []string
	for _, q := range r.Parts {
		name := nameOr(q.Tube, q.CI)
		if len(r.Parts) > 1 {
			name = amount(q.Parts) + " " + name
		}
		names = append(names, name)
	}
	mix := strings.Join(names, " + ")
	p.title = "Washes of " + mix
	p.desc = fmt.Sprintf("From undiluted colour at the left, L* %.0f, to %s parts of water at the right, L* %.0f, over the ground.",
		r.Washes[0].Lab.L, amount(r.Washes[len(r.Washes)-1].Water), r.Washes[len(r.Washes)-1].Lab.L)

	const margin, top, bottom, pad = 22.0, 66.0, 520.0, 14.0
	title, size := shrunk(p.title, p.w-2*margin, true, 19, 13)
	p.words(margin, 36, title, strong(size))
	p.words(margin, 53, "Colour to water by volume, each laid equally wet, dry; beneath each its value.", plain(9))

	sheet := rgb(r.Scale.GroundHex)
	p.box(margin, top, p.w-2*margin, bottom-top, sheet)
	x0, x1 := margin+pad, p.w-margin-pad

	// The graded wash, in bands that overlap a little so that no seam shows.
	const graded = 150.0
	step := (x1 - x0) / float64(len(r.Graded))
	for i, hex := range r.Graded {
		x := x0 + float64(i)*step
		p.box(x, top+pad, min(step+0.6, x1-x), graded, rgb(hex))
	}

	y := top + pad + graded + 22
	n := float64(len(r.Washes))
	const gap = 8.0
	wide := (x1 - x0 - gap*(n-1)) / n
	high := bottom - y - 40
	on := lettering{size: 11, bold: true, col: inkOn(sheet)}
	for i, q := range r.Washes {
		x := x0 + float64(i)*(wide+gap)
		p.box(x, y, wide, high, rgb(q.Hex))
		says := "1 : " + amount(q.Water)
		if q.Water == 0 {
			says = "undiluted"
		}
		p.centred(x+wide/2, y+high+15, says, on)
		p.centred(x+wide/2, y+high+29, "value "+one(q.Value), lettering{size: 9.5, col: inkOn(sheet)})
	}
	for i, line := range wrapped(r.Scale.Words, p.w-2*margin, 3, false, 8.5) {
		p.words(margin, 536+11*float64(i), line, plain(8.5))
	}
	p.words(margin, 579, clipped("Foretold from the figures of opaque paints, surface shine "+shine(r.Finish)+"; without granulation and blooms.", p.w-2*margin, false, 8), plain(8))
	return p, nil
}

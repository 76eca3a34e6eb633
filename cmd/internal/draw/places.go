package draw

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"io"
	"math"

	"paintout/cmd/internal/plan"
)

// Measures of the overview of a swatch card, pixels.
const (
	placesMargin = 28
	placesColumn = 400 // beside the picture: what was read where
	placesRow    = 38
	placesText   = 19.0
)

// PlacesPNG draws a photographed swatch card with what was found in it: the
// chart's patches, and each even place with its number; beside it each
// number's colour as it was read. Places that were named have their names.
func PlacesPNG(w io.Writer, r *plan.MeasureResult) error {
	pic := r.Preview
	b := pic.Bounds()
	rows := placeRows(r)
	perColumn := max(12, (b.Dy()-placesRow)/placesRow)
	columns := (len(rows) + perColumn - 1) / perColumn
	high := b.Dy()
	if columns > 0 {
		high = max(high, (min(len(rows), perColumn)+1)*placesRow)
	}
	c := newCanvas(b.Dx()+2*placesMargin+columns*(placesColumn+placesMargin), high+2*placesMargin)
	draw.Draw(c, image.Rect(placesMargin, placesMargin, placesMargin+b.Dx(), placesMargin+b.Dy()), pic, b.Min, draw.Src)
	scale := float64(b.Dx()) / float64(max(1, r.Width))
	at := func(x, y int) (float64, float64) {
		return placesMargin + (float64(x)+0.5)*scale, placesMargin + (float64(y)+0.5)*scale
	}
	if r.Chart != nil {
		for _, p := range r.Chart.Patches {
			x, y := at(p.X, p.Y)
			rad := max(4, float64(p.Radius)*scale)
			c.ring(x, y, rad, 4, ink)
			c.ring(x, y, rad, 2, paper)
			if !p.Used {
				c.line(x-rad, y-rad, x+rad, y+rad, 2.5, paper)
			}
		}
	}
	named := map[[2]int]string{}
	for i, q := range r.Swatches {
		named[[2]int{q.X, q.Y}] = fmt.Sprint(i + 1)
	}
	for _, q := range r.Places {
		if len(r.Swatches) == 0 {
			c.place(q.Box(), scale, fmt.Sprint(q.Number))
		} else if named[[2]int{q.X, q.Y}] == "" {
			c.place(q.Box(), scale, "")
		}
	}
	for i, q := range r.Swatches {
		c.place(q.Box(), scale, fmt.Sprint(i+1))
	}
	for i, row := range rows {
		x := float64(b.Dx() + 2*placesMargin + i/perColumn*(placesColumn+placesMargin))
		y := float64(placesMargin + (i%perColumn+1)*placesRow)
		c.text(x+34-c.width(row.number, true, placesText), y, row.number, true, placesText, ink)
		c.rect(int(x)+44, int(y)-22, int(x)+98, int(y)+6, rgb(row.hex))
		c.text(x+108, y, c.fitted(row.words, placesColumn-108, false, placesText), false, placesText, ink)
	}
	return c.png(w)
}

type placeRow struct{ number, hex, words string }

func placeRows(r *plan.MeasureResult) (rows []placeRow) {
	for i, q := range r.Swatches {
		rows = append(rows, placeRow{fmt.Sprint(i + 1), q.Hex, q.Drawdown})
	}
	if len(rows) == 0 {
		for _, q := range r.Places {
			words := q.Name
			if len(q.Faults) > 0 {
				words += " !"
			}
			rows = append(rows, placeRow{fmt.Sprint(q.Number), q.Hex, words})
		}
	}
	return rows
}

// place outlines a box of the photo and numbers it.
func (c *canvas) place(box image.Rectangle, scale float64, number string) {
	x0, y0 := placesMargin+float64(box.Min.X)*scale, placesMargin+float64(box.Min.Y)*scale
	x1, y1 := placesMargin+float64(box.Max.X)*scale, placesMargin+float64(box.Max.Y)*scale
	for _, l := range []struct {
		w   float64
		col color.Color
	}{{5, paper}, {2, ink}} {
		h := l.w / 2
		c.line(x0-h, y0, x1+h, y0, l.w, l.col)
		c.line(x0-h, y1, x1+h, y1, l.w, l.col)
		c.line(x0, y0-h, x0, y1+h, l.w, l.col)
		c.line(x1, y0-h, x1, y1+h, l.w, l.col)
	}
	if number != "" {
		c.haloed((x0+x1)/2, (y0+y1)/2, number, min(40, max(16, 0.42*(y1-y0))))
	}
}

// ring is a circle's outline of a width.
func (c *canvas) ring(x, y, r, w float64, col color.Color) {
	const n = 48
	for i := range n {
		a, b := 2*math.Pi*float64(i)/n, 2*math.Pi*(float64(i)+1.05)/n
		c.line(x+r*math.Cos(a), y+r*math.Sin(a), x+r*math.Cos(b), y+r*math.Sin(b), w, col)
	}
}

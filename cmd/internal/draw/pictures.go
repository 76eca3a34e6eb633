package draw

import (
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"slices"

	"paintout/cmd/internal/plan"
)

// MassesPNG repaints the picture in its masses' colours to mix, each outlined
// and carrying its number, at the size of pics.
func MassesPNG(w io.Writer, p *plan.Plan, pics *plan.Pictures) error {
	if err := check(p, pics); err != nil {
		return err
	}
	c := newCanvas(pics.W, pics.H)
	fill(c.RGBA, pics.Masses, colours(p.Masses, func(m plan.Mass) string { return m.AimHex }))
	outline(c.RGBA, pics.Masses, pics.W, pics.H)
	number(c, p.Masses, pics)
	return c.png(w)
}

// MixedPNG repaints the picture as the mixes to try first are foretold to come
// out; a mass without a mix is left as the surround.
func MixedPNG(w io.Writer, p *plan.Plan, pics *plan.Pictures) error {
	if err := check(p, pics); err != nil {
		return err
	}
	return writePNG(w, paletted(pics.Masses, pics.W, pics.H, colours(p.Masses, func(m plan.Mass) string {
		if r := m.First(); r != nil {
			return r.Hex
		}
		return ""
	})))
}

// ValuesPNG shows the picture in so many values, in neutral greys. The plan
// must hold that value plan (2, 3 or 5 steps).
func ValuesPNG(w io.Writer, p *plan.Plan, pics *plan.Pictures, steps int) error {
	if err := check(p, pics); err != nil {
		return err
	}
	v, ok := pics.Values[steps]
	if !ok {
		return fmt.Errorf("draw: the plan of %s has no plan in %d values; it has %v", p.Photo.Path, steps, stepsOf(pics))
	}
	greys := make([]color.RGBA, len(p.ValueSteps[steps]))
	for i, s := range p.ValueSteps[steps] {
		greys[i] = greyOfValue(s.Value)
	}
	return writePNG(w, paletted(v, pics.W, pics.H, greys))
}

// StripPNG is the masses side by side, light to dark, each as wide as its share
// of the picture, accents at the right. It is 1500 by 200 pixels.
func StripPNG(w io.Writer, p *plan.Plan) error {
	const width, height, bar = 1500, 200, 150
	c := newCanvas(width, height)
	for _, b := range strip(p.Masses, width, 32) {
		m := p.Masses[b.Mass]
		c.rect(b.X0, 0, b.X1, bar, rgb(m.AimHex))
		mid := float64(b.X0+b.X1) / 2
		if b.X1-b.X0 > 44 {
			c.centred(mid, bar/2+12, fmt.Sprint(m.ID), true, 34, inkOn(rgb(m.AimHex)))
			c.centred(mid, bar+32, percent(m.Share), false, 20, ink)
		} else {
			c.centred(mid, bar+32, fmt.Sprint(m.ID), true, 20, ink)
		}
	}
	return c.png(w)
}

// band is a mass's stretch of a strip, in pixels.
type band struct{ Mass, X0, X1 int }

// strip shares a width out among the masses, light to dark, none under least.
func strip(masses []plan.Mass, width, least int) []band {
	order := lightFirst(masses)
	total := 0.0
	for _, m := range masses {
		total += max(0, m.Share)
	}
	free := float64(width - least*len(masses))
	bands := make([]band, 0, len(order))
	x, sum := 0, 0.0
	for k, i := range order {
		if total > 0 {
			sum += max(0, masses[i].Share) / total
		} else {
			sum += 1 / float64(len(masses))
		}
		end := least*(k+1) + int(math.Round(free*sum))
		bands = append(bands, band{i, x, end})
		x = end
	}
	return bands
}

// PilesPNG is the palette: value downward on a ladder of greys, cool to warm
// across, every pile with its number, value and name. It is 1600 pixels wide
// and as high as its rows.
func PilesPNG(w io.Writer, p *plan.Plan) error {
	const (
		width, margin, ladder = 1600, 40, 96
		top, rowH, thin       = 84, 132, 40
		size, small           = 40.0, 23.0
	)
	pal := arrange(p.Masses)
	height := top + margin
	for _, r := range pal.Rows {
		if len(r.Spots) == 0 {
			height += thin
		} else {
			height += rowH
		}
	}
	if len(pal.Accents) > 0 {
		height += 64 + rowH*len(pal.Accents)
	}
	c := newCanvas(width, height)
	left := float64(margin + ladder + 16)
	unit := (width - margin - left) / fieldCols
	c.text(left, 58, "cooler", true, 26, ink)
	c.text(width-margin-c.width("warmer", true, 26), 58, "warmer", true, 26, ink)

	piles := func(y int, r row) {
		for _, s := range r.Spots {
			m := p.Masses[s.Mass]
			col := rgb(m.AimHex)
			on := inkOn(col)
			x, wd := left+unit*float64(s.Start), unit*float64(s.Len)
			c.pulled(m.ID, x+3, float64(y+5), wd-6, rowH-10, col)
			mid, inner := x+wd/2, wd-36
			id := fmt.Sprint(m.ID)
			c.text(x+22, float64(y)+49, id, true, size, on)
			c.text(x+34+c.width(id, true, size), float64(y)+47, "value "+one(m.AimValue), false, small, on)
			for k, l := range c.wrapped(m.Name, inner, 2, false, small) {
				c.text(mid-inner/2+4, float64(y)+80+28*float64(k), l, false, small, on)
			}
		}
	}
	y := top
	for _, r := range pal.Rows {
		h := rowH
		if len(r.Spots) == 0 {
			h = thin
		}
		g := greyOfValue(float64(r.Value))
		c.rect(margin, y, margin+ladder, y+h, g)
		if !r.Again {
			c.centred(margin+ladder/2, float64(y+h/2)+11, fmt.Sprint(r.Value), true, 30, inkOn(g))
		}
		piles(y, r)
		y += h
	}
	if len(pal.Accents) > 0 {
		c.text(left, float64(y)+46, "accents, last and small", true, 26, ink)
		y += 64
		for _, r := range pal.Accents {
			piles(y, r)
			y += rowH
		}
	}
	return c.png(w)
}

func colours(masses []plan.Mass, hex func(plan.Mass) string) []color.RGBA {
	out := make([]color.RGBA, len(masses))
	for i, m := range masses {
		out[i] = rgb(hex(m))
	}
	return out
}

// fill paints an index map with its colours.
func fill(dst *image.RGBA, idx []uint8, cols []color.RGBA) {
	for i, v := range idx {
		c := cols[v]
		copy(dst.Pix[4*i:4*i+4], []uint8{c.R, c.G, c.B, 255})
	}
}

// outline draws a thin line where masses meet. Where they are scattered through
// each other, as grass and shadow are, the line follows the one that prevails
// around each place, so that it parts shapes and not specks.
func outline(dst *image.RGBA, masses []uint8, w, h int) {
	prevails := prevailing(masses, w, h, max(1, max(w, h)/700))
	for y := range h {
		for x := range w {
			i := y*w + x
			v := prevails[i]
			if x+1 < w && prevails[i+1] != v || y+1 < h && prevails[i+w] != v {
				q := dst.Pix[4*i : 4*i+3]
				for k := range q {
					q[k] = uint8(int(q[k]) * 2 / 5)
				}
			}
		}
	}
}

// prevailing gives at each place the mass that takes up most of the window of
// side 2r + 1 around it, the lower number where two are equal.
func prevailing(masses []uint8, w, h, r int) []uint8 {
	out, most := make([]uint8, w*h), make([]int32, w*h)
	sums := make([]int32, (w+1)*(h+1)) // of one mass's places above and left
	for v := range int(slices.Max(masses)) + 1 {
		for y := range h {
			line := int32(0)
			for x := range w {
				if int(masses[y*w+x]) == v {
					line++
				}
				sums[(y+1)*(w+1)+x+1] = sums[y*(w+1)+x+1] + line
			}
		}
		for y := range h {
			y0, y1 := max(0, y-r)*(w+1), min(h, y+r+1)*(w+1)
			for x := range w {
				x0, x1 := max(0, x-r), min(w, x+r+1)
				if n := sums[y1+x1] - sums[y1+x0] - sums[y0+x1] + sums[y0+x0]; n > most[y*w+x] {
					most[y*w+x], out[y*w+x] = n, uint8(v)
				}
			}
		}
	}
	return out
}

// number writes each mass's number at its anchor. Where the mass is too small
// to carry it, the number stands beside it on a short lead.
func number(c *canvas, masses []plan.Mass, pics *plan.Pictures) {
	size := math.Max(14, float64(max(pics.W, pics.H))/44)
	type box struct{ x0, y0, x1, y1 float64 }
	var taken []box
	around := func(x, y, w float64) box { return box{x - w/2, y - size*0.6, x + w/2, y + size*0.6} }
	clash := func(b box) (n int) {
		for _, t := range taken {
			if b.x0 < t.x1 && t.x0 < b.x1 && b.y0 < t.y1 && t.y0 < b.y1 {
				n++
			}
		}
		return n
	}
	inside := func(b box) bool { return b.x0 >= 0 && b.y0 >= 0 && b.x1 <= float64(pics.W) && b.y1 <= float64(pics.H) }

	// Large masses first: they have no choice of where to stand.
	var beside []int
	for i, m := range masses {
		x, y := clamp01(m.Anchor[0])*float64(pics.W), clamp01(m.Anchor[1])*float64(pics.H)
		w := c.width(fmt.Sprint(m.ID), true, size) + size*0.4
		b := around(x, y, w)
		own, all := 0, 0
		for py := max(0, int(b.y0)); py < min(pics.H, int(b.y1)); py++ {
			for px := max(0, int(b.x0)); px < min(pics.W, int(b.x1)); px++ {
				all++
				if int(pics.Masses[py*pics.W+px]) == i {
					own++
				}
			}
		}
		if m.Accent || own*2 < all || clash(b) > 0 {
			beside = append(beside, i)
			continue
		}
		x, y = min(max(x, w/2), float64(pics.W)-w/2), min(max(y, size*0.6), float64(pics.H)-size*0.6)
		taken = append(taken, around(x, y, w))
		c.haloed(x, y, fmt.Sprint(m.ID), size)
	}
	for _, i := range beside {
		m := masses[i]
		x, y := clamp01(m.Anchor[0])*float64(pics.W), clamp01(m.Anchor[1])*float64(pics.H)
		w := c.width(fmt.Sprint(m.ID), true, size) + size*0.4
		bx, by, best := x, y, math.MaxInt
		for _, d := range []float64{1.7, 2.6} {
			for k := range 8 {
				a := math.Pi/4*float64(k) - math.Pi/2
				lx, ly := x+d*size*math.Cos(a), y+d*size*math.Sin(a)
				b := around(lx, ly, w)
				n := clash(b)
				if !inside(b) {
					n += 100
				}
				if n < best {
					bx, by, best = lx, ly, n
				}
			}
		}
		c.line(x, y, bx, by, size/5, paper)
		c.line(x, y, bx, by, size/12, ink)
		taken = append(taken, around(bx, by, w))
		c.haloed(bx, by, fmt.Sprint(m.ID), size)
	}
}

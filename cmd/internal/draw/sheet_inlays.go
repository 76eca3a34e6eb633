package draw

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"

	"paintout/cmd/internal/plan"
)

// pixelWidths are those of a document's rasters. The PDF library sorts rasters
// by width and leaves those of one width in the order of chance, so each gets a
// width of its own; a few pixels do not show.
type pixelWidths map[int]bool

func (p pixelWidths) near(w int) int {
	for d := 0; ; d++ {
		for _, v := range [2]int{w - d, w + d} {
			if v > 0 && !p[v] {
				p[v] = true
				return v
			}
		}
	}
}

// inlayPictures encodes the pictures that a layout has set, as fine as a print
// shows them: so many dots to the inch.
func inlayPictures(pages []*easelPage, p *plan.Plan, pics *plan.Pictures, steps int, free pixelWidths, dpi float64) error {
	for _, page := range pages {
		for _, m := range page.marks {
			if m.inlay == nil {
				continue
			}
			n := m.inlay
			w := free.near(min(pics.W, max(1, int(math.Round((n.x1-n.x0)*dpi/72)))))
			h := min(pics.H, max(1, int(math.Round((n.y1-n.y0)*dpi/72))))
			var b bytes.Buffer
			switch n.what {
			case "photo":
				n.kind = "jpeg"
				n.img = shrink(pics.Photo, w, h)
				if err := jpeg.Encode(&b, n.img, &jpeg.Options{Quality: 85}); err != nil {
					return fmt.Errorf("draw: the photo for the sheet: %w", err)
				}
			case "values":
				var greys []color.RGBA
				for _, s := range p.ValueSteps[steps] {
					greys = append(greys, greyOfValue(s.Value))
				}
				n.kind = "png"
				n.img = paletted(sample(pics.Values[steps], pics.W, pics.H, w, h), w, h, greys)
				if err := writePNG(&b, n.img); err != nil {
					return err
				}
			default:
				n.kind = "png"
				n.img = mapOf(p, sample(pics.Masses, pics.W, pics.H, w, h), w, h)
				if err := writePNG(&b, n.img); err != nil {
					return err
				}
			}
			n.data = b.Bytes()
		}
	}
	return nil
}

// mapOf is the masses in their colours to mix, a dark line where they meet.
func mapOf(p *plan.Plan, masses []uint8, w, h int) *image.Paletted {
	cols := colours(p.Masses, func(m plan.Mass) string { return m.AimHex })
	n := len(cols)
	for _, c := range cols[:n] {
		cols = append(cols, color.RGBA{dark(c.R), dark(c.G), dark(c.B), 255})
	}
	prevails := prevailing(masses, w, h, max(1, max(w, h)/250))
	out := make([]uint8, w*h)
	for y := range h {
		for x := range w {
			i := y*w + x
			out[i] = masses[i]
			if v := prevails[i]; x+1 < w && prevails[i+1] != v || y+1 < h && prevails[i+w] != v {
				out[i] += uint8(n)
			}
		}
	}
	return paletted(out, w, h, cols)
}

func dark(v uint8) uint8 { return uint8(int(v) * 2 / 5) }

package draw

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"

	"github.com/disintegration/imaging"

	"paintout/cmd/internal/plan"
)

// The page must open from a phone's files, be sent by mail and stay under 5 MB
// with its text. What is embedded keeps under pictureBytes, before base64 adds
// a third.
const (
	pictureBytes = 3_300_000
	pageLongSide = 1500
)

// spread sets the grey levels that stand for masses and for values apart, so
// that a browser which blurs what a page reads back by a level or two still
// gives the right one.
const (
	massSpread  = 10
	valueSpread = 8
)

type embedded struct {
	photo, masses, values []byte
	w, h                  int
}

// embed makes the page's pictures. Where they would be too large, the photo
// gives up quality first and then all of them size.
func embed(p *plan.Plan, pics *plan.Pictures) (embedded, error) {
	side := pageLongSide
	for {
		for _, quality := range []int{82, 74, 66} {
			e, err := embedAt(pics, side, quality)
			if err != nil {
				return e, err
			}
			if len(e.photo)+len(e.masses)+len(e.values) <= pictureBytes {
				return e, nil
			}
		}
		side = side * 4 / 5
		if side < 200 {
			return embedded{}, fmt.Errorf("draw: the picture of %s does not fit a page; crop it and make the plan again", p.Photo.Path)
		}
	}
}

func embedAt(pics *plan.Pictures, side, quality int) (embedded, error) {
	w, h := pics.W, pics.H
	if long := max(w, h); long > side {
		w, h = max(1, w*side/long), max(1, h*side/long)
	}
	e := embedded{w: w, h: h}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, shrink(pics.Photo, w, h), &jpeg.Options{Quality: quality}); err != nil {
		return e, fmt.Errorf("draw: the photo for the page: %w", err)
	}
	e.photo = bytes.Clone(b.Bytes())

	masses := sample(pics.Masses, pics.W, pics.H, w, h)
	var err error
	if e.masses, err = levels(masses, w, h, massSpread); err != nil {
		return e, err
	}
	// The value plans share one picture: a mixed number, the fewest steps first.
	all := make([]uint8, w*h)
	unit := 1
	for _, n := range stepsOf(pics) {
		v := sample(pics.Values[n], pics.W, pics.H, w, h)
		for i, s := range v {
			all[i] += s * uint8(unit)
		}
		unit *= n
	}
	if unit*valueSpread > 256 {
		return e, fmt.Errorf("draw: %d value plans do not fit one picture; keep to 2, 3 and 5 steps", len(pics.Values))
	}
	e.values, err = levels(all, w, h, valueSpread)
	return e, err
}

// shrink is for looking at: encoded values are resampled as they are.
func shrink(src *image.RGBA, w, h int) image.Image {
	if src.Bounds().Dx() == w && src.Bounds().Dy() == h {
		return src
	}
	return imaging.Resize(src, w, h, imaging.CatmullRom)
}

// sample takes the nearest place of an index map, which cannot be averaged.
func sample(src []uint8, sw, sh, w, h int) []uint8 {
	if sw == w && sh == h {
		return src
	}
	dst := make([]uint8, w*h)
	for y := range h {
		from := src[(2*y+1)*sh/(2*h)*sw:]
		for x := range w {
			dst[y*w+x] = from[(2*x+1)*sw/(2*w)]
		}
	}
	return dst
}

// levels writes an index map as a PNG whose greys stand spread apart.
func levels(idx []uint8, w, h, spread int) ([]byte, error) {
	most := 0
	for _, v := range idx {
		most = max(most, int(v))
	}
	greys := make([]color.RGBA, most+1)
	for i := range greys {
		greys[i] = color.RGBA{uint8(i * spread), uint8(i * spread), uint8(i * spread), 255}
	}
	var b bytes.Buffer
	err := writePNG(&b, paletted(idx, w, h, greys))
	return b.Bytes(), err
}

// paletted is an index map with its colours.
func paletted(idx []uint8, w, h int, cols []color.RGBA) *image.Paletted {
	pal := make(color.Palette, len(cols))
	for i, c := range cols {
		pal[i] = c
	}
	return &image.Paletted{Pix: idx, Stride: w, Rect: image.Rect(0, 0, w, h), Palette: pal}
}

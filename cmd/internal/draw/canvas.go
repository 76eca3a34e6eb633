package draw

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

var (
	ink   = color.RGBA{12, 12, 12, 255}
	paper = color.RGBA{255, 255, 255, 255}
)

// canvas is a picture being made, with a pen for words and shapes. Lengths are
// in pixels; text is placed by its baseline.
type canvas struct {
	*image.RGBA
	faces map[faceKey]font.Face
}

type faceKey struct {
	bold bool
	size float64
}

func newCanvas(w, h int) *canvas {
	c := &canvas{image.NewRGBA(image.Rect(0, 0, w, h)), map[faceKey]font.Face{}}
	draw.Draw(c, c.Bounds(), image.NewUniform(Surround), image.Point{}, draw.Src)
	return c
}

// fonts parses the two embedded faces once.
var fonts = sync.OnceValue(func() [2]*opentype.Font {
	var f [2]*opentype.Font
	for i, ttf := range [][]byte{goregular.TTF, gobold.TTF} {
		var err error
		if f[i], err = opentype.Parse(ttf); err != nil {
			panic("draw: an embedded font does not parse: " + err.Error())
		}
	}
	return f
})

func (c *canvas) face(bold bool, size float64) font.Face {
	k := faceKey{bold, size}
	if f, ok := c.faces[k]; ok {
		return f
	}
	i := 0
	if bold {
		i = 1
	}
	f, err := opentype.NewFace(fonts()[i], &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic("draw: an embedded font gives no face: " + err.Error())
	}
	c.faces[k] = f
	return f
}

func (c *canvas) width(s string, bold bool, size float64) float64 {
	return float64(font.MeasureString(c.face(bold, size), s)) / 64
}

// text writes s from x on, its baseline at y.
func (c *canvas) text(x, y float64, s string, bold bool, size float64, col color.Color) {
	d := font.Drawer{Dst: c.RGBA, Src: image.NewUniform(col), Face: c.face(bold, size),
		Dot: fixed.Point26_6{X: fixed.Int26_6(math.Round(x * 64)), Y: fixed.Int26_6(math.Round(y * 64))}}
	d.DrawString(s)
}

// centred writes s about x.
func (c *canvas) centred(x, y float64, s string, bold bool, size float64, col color.Color) {
	c.text(x-c.width(s, bold, size)/2, y, s, bold, size, col)
}

// haloed writes a label in black with a white halo, which reads on any colour
// and in a black-and-white print. x, y is its middle.
func (c *canvas) haloed(x, y float64, s string, size float64) {
	x -= c.width(s, true, size) / 2
	y += 0.36 * size
	r := math.Max(1.5, size/9)
	for k := range 24 {
		a := 2 * math.Pi * float64(k) / 24
		c.text(x+r*math.Cos(a), y+r*math.Sin(a), s, true, size, paper)
	}
	c.text(x, y, s, true, size, ink)
}

// fitted shortens s to a width, ending in an ellipsis where it must.
func (c *canvas) fitted(s string, w float64, bold bool, size float64) string {
	if c.width(s, bold, size) <= w {
		return s
	}
	r := []rune(s)
	for len(r) > 0 && c.width(string(r)+"…", bold, size) > w {
		r = r[:len(r)-1]
	}
	return strings.TrimRight(string(r), " ,") + "…"
}

// wrapped breaks s into at most n lines of a width.
func (c *canvas) wrapped(s string, w float64, n int, bold bool, size float64) []string {
	var lines []string
	rest := strings.Fields(s)
	for len(rest) > 0 {
		k := 1
		for k < len(rest) && c.width(strings.Join(rest[:k+1], " "), bold, size) <= w {
			k++
		}
		if len(lines) == n-1 {
			k = len(rest)
		}
		lines = append(lines, c.fitted(strings.Join(rest[:k], " "), w, bold, size))
		rest = rest[k:]
	}
	return lines
}

func (c *canvas) rect(x0, y0, x1, y1 int, col color.Color) {
	draw.Draw(c.RGBA, image.Rect(x0, y0, x1, y1), image.NewUniform(col), image.Point{}, draw.Src)
}

// shape fills a closed outline, its edges smoothed.
func (c *canvas) shape(pts [][2]float64, col color.Color) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range pts {
		x0, y0, x1, y1 = min(x0, p[0]), min(y0, p[1]), max(x1, p[0]), max(y1, p[1])
	}
	box := image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x1)), int(math.Ceil(y1))).Intersect(c.Bounds())
	if box.Empty() {
		return
	}
	z := vector.NewRasterizer(box.Dx(), box.Dy())
	to := z.MoveTo
	for _, p := range pts {
		to(float32(p[0]-float64(box.Min.X)), float32(p[1]-float64(box.Min.Y)))
		to = z.LineTo
	}
	z.ClosePath()
	z.Draw(c.RGBA, box, image.NewUniform(col), image.Point{})
}

// line is a straight stroke of a width.
func (c *canvas) line(x0, y0, x1, y1, w float64, col color.Color) {
	d := math.Hypot(x1-x0, y1-y0)
	if d == 0 {
		return
	}
	nx, ny := (y1-y0)/d*w/2, (x0-x1)/d*w/2
	c.shape([][2]float64{{x0 + nx, y0 + ny}, {x1 + nx, y1 + ny}, {x1 - nx, y1 - ny}, {x0 - nx, y0 - ny}}, col)
}

// pulled fills a pile pulled with the knife over the box.
func (c *canvas) pulled(n int, x, y, w, h float64, col color.Color) {
	pts := pat(n, w/h)
	for i := range pts {
		pts[i] = [2]float64{x + pts[i][0]*h/100, y + pts[i][1]*h/100}
	}
	c.shape(pts, col)
}

// png writes the picture.
func (c *canvas) png(w io.Writer) error { return writePNG(w, c.RGBA) }

// writePNG writes a picture; the same picture gives the same bytes.
func writePNG(w io.Writer, img image.Image) error {
	if err := png.Encode(w, img); err != nil {
		return fmt.Errorf("draw: writing a picture: %w", err)
	}
	return nil
}

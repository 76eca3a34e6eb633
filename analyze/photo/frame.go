package photo

import (
	"fmt"
	"image"
	"math"
	"strconv"
	"strings"
)

// A Measure is a length across a picture: pixels, or percent of the side.
type Measure struct {
	Value   float64
	Percent bool
}

func (m Measure) of(side int) float64 {
	if m.Percent {
		return m.Value * float64(side) / 100
	}
	return m.Value
}

func (m Measure) String() string {
	s := strconv.FormatFloat(m.Value, 'f', -1, 64)
	if m.Percent {
		s += "%"
	}
	return s
}

// A Point is a place in the whole upright picture, from its top left corner.
type Point struct{ X, Y Measure }

func (p Point) String() string { return p.X.String() + "," + p.Y.String() }

// A Crop is a part of the whole upright picture.
type Crop struct{ X, Y, W, H Measure }

func (c Crop) String() string {
	return c.X.String() + "," + c.Y.String() + "," + c.W.String() + "," + c.H.String()
}

// A Canvas is a support's width and height in millimetres.
type Canvas struct{ Width, Height float64 }

// String gives the canvas in inches where both sides are whole eighths of one, as
// canvases sold by the inch are, and else in centimetres.
func (c Canvas) String() string {
	inches := func(mm float64) (string, bool) {
		n := math.Round(mm / inch * 8)
		whole, glyph := math.Floor(n/8), eighths[int(n)%8]
		return strconv.FormatFloat(whole, 'f', -1, 64) + glyph, n >= 8 && math.Abs(n*inch/8-mm) < 1e-6
	}
	if w, ok := inches(c.Width); ok {
		if h, ok := inches(c.Height); ok {
			return w + "×" + h + " in"
		}
	}
	cm := func(mm float64) string { return strconv.FormatFloat(math.Round(mm*10)/100, 'f', -1, 64) }
	return cm(c.Width) + "×" + cm(c.Height) + " cm"
}

// ParsePoint reads "x,y": pixels ("1200,800") or percent ("40%,62%").
func ParsePoint(s string) (Point, error) {
	m, err := measures(s, 2)
	if err != nil {
		return Point{}, fmt.Errorf("the place %q %s: write x,y in pixels (1200,800) or percent (40%%,62%%)", clean(s), err)
	}
	return Point{m[0], m[1]}, nil
}

// ParseCrop reads "x,y,w,h": left, top, width and height, each in pixels or,
// with a %, in percent of the picture's side.
func ParseCrop(s string) (Crop, error) {
	m, err := measures(s, 4)
	if err == nil && (m[2].Value == 0 || m[3].Value == 0) {
		err = fmt.Errorf("has no area")
	}
	if err != nil {
		return Crop{}, fmt.Errorf("the crop %q %s: write x,y,width,height in pixels (0,200,3000,2000) or percent (0%%,10%%,100%%,80%%)", clean(s), err)
	}
	return Crop{m[0], m[1], m[2], m[3]}, nil
}

func measures(s string, n int) ([]Measure, error) {
	parts := strings.Split(s, ",")
	if len(parts) != n {
		return nil, fmt.Errorf("has %d numbers where %d are needed", len(parts), n)
	}
	m := make([]Measure, n)
	for i, p := range parts {
		p = strings.TrimSpace(p)
		if q, ok := strings.CutSuffix(p, "%"); ok {
			p, m[i].Percent = strings.TrimSpace(q), true
		}
		v, ok := plainNumber(p)
		if !ok || v > 1e6 || (m[i].Percent && v > 100) {
			return nil, fmt.Errorf("has %q where a number is needed", clean(p))
		}
		m[i].Value = v
	}
	return m, nil
}

// plainNumber reads digits with at most one decimal point.
func plainNumber(s string) (float64, bool) {
	if s == "" || strings.Trim(s, "0123456789.") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

const inch = 25.4 // mm

// eighths are the signs of an inch's, by their number.
var eighths = [8]string{"", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞"}

// length reads digits with at most one decimal point, or a whole number and a
// fraction, as in "9 1/2", "9-1/2" or "9½".
func length(s string) (float64, bool) {
	for i, glyph := range eighths[1:] {
		s = strings.Replace(s, glyph, " "+strconv.Itoa(i+1)+"/8", 1)
	}
	s = strings.TrimSpace(s)
	if v, ok := plainNumber(s); ok {
		return v, true
	}
	whole := 0.0
	if i := strings.LastIndexAny(s, " -"); i >= 0 {
		v, ok := plainNumber(strings.TrimSpace(s[:i]))
		if !ok || v != math.Trunc(v) {
			return 0, false
		}
		whole, s = v, s[i+1:]
	}
	above, below, _ := strings.Cut(s, "/")
	a, oka := plainNumber(above)
	b, okb := plainNumber(below)
	return whole + a/b, oka && okb && a < b
}

// ParseCanvas reads a canvas as width x height: "30x40cm", "12x16in",
// "300x400mm", also with ×, spaces, a decimal comma, a fraction ("9 1/2x12in"), or
// the unit after each side. Sides lie between 1 cm and 20 m.
func ParseCanvas(s string) (Canvas, error) {
	fail := func(why string) (Canvas, error) {
		return Canvas{}, fmt.Errorf("the canvas %q %s: write width x height with a unit, such as 30x40cm, 300x400mm or 12x16in", clean(s), why)
	}
	t := strings.ToLower(strings.Join(strings.Fields(s), " "))
	t = strings.NewReplacer("×", "x", "✕", "x", "*", "x", ",", ".", "⁄", "/", "″", "in", "”", "in", `"`, "in", "inches", "in", "inch", "in").Replace(t)
	a, b, ok := strings.Cut(t, "x")
	if !ok {
		return fail("has no x between its sides")
	}
	side := func(s string) (string, float64) {
		s = strings.TrimSpace(s)
		for unit, mm := range map[string]float64{"cm": 10, "mm": 1, "in": inch} {
			if n, ok := strings.CutSuffix(s, unit); ok {
				return n, mm
			}
		}
		return s, 0
	}
	b, ub := side(b)
	a, ua := side(a)
	if ub == 0 {
		return fail("has no unit")
	}
	if ua == 0 {
		ua = ub
	}
	w, okw := length(a)
	h, okh := length(b)
	if !okw || !okh {
		return fail("is not two numbers")
	}
	c := Canvas{w * ua, h * ub}
	const least, most = 10, 20000
	if min(c.Width, c.Height) < least || max(c.Width, c.Height) > most {
		return fail("is not between 1 cm and 20 m a side")
	}
	return c, nil
}

// rect is the crop in pixels of a picture of w by h.
func (c Crop) rect(w, h int) (image.Rectangle, error) {
	x, y := c.X.of(w), c.Y.of(h)
	r := image.Rect(round(x), round(y), round(x+c.W.of(w)), round(y+c.H.of(h)))
	if r.Empty() || !r.In(image.Rect(0, 0, w, h)) {
		return r, failure(ErrOption, "the crop %s does not fit inside the picture, which is %d×%d pixels upright; choose a part of it", c, w, h)
	}
	return r, nil
}

func round(v float64) int { return int(math.Floor(v + 0.5)) }

// fit is the largest centred part of r with the canvas's proportions.
func (c Canvas) fit(r image.Rectangle) image.Rectangle {
	w, h := float64(r.Dx()), float64(r.Dy())
	if w*c.Height > h*c.Width {
		w = h * c.Width / c.Height
	} else {
		h = w * c.Height / c.Width
	}
	nw, nh := max(1, round(w)), max(1, round(h))
	x, y := r.Min.X+(r.Dx()-nw)/2, r.Min.Y+(r.Dy()-nh)/2
	return image.Rect(x, y, x+nw, y+nh)
}

// pixel is the pixel that p lies in, in a picture of w by h.
func (p Point) pixel(w, h int) (x, y int, err error) {
	fx, fy := p.X.of(w), p.Y.of(h)
	x, y = int(math.Floor(fx)), int(math.Floor(fy))
	// 100 % is the last pixel.
	if p.X.Percent {
		x = min(x, w-1)
	}
	if p.Y.Percent {
		y = min(y, h-1)
	}
	if !(image.Point{x, y}).In(image.Rect(0, 0, w, h)) {
		return 0, 0, failure(ErrOption, "the place %s lies outside the picture, which is %d×%d pixels upright; choose one inside it", p, w, h)
	}
	return x, y, nil
}

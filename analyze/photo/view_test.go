package photo

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"math"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
)

// upright is where pixel x, y of a stored picture of w by h belongs by each
// orientation (Exif 2.32, 4.6.4: which side of the scene row 0 and column 0 are).
func upright(o, x, y, w, h int) (int, int) {
	switch o {
	case 2: // row 0 top, column 0 right
		return w - 1 - x, y
	case 3: // bottom, right
		return w - 1 - x, h - 1 - y
	case 4: // bottom, left
		return x, h - 1 - y
	case 5: // left, top
		return y, x
	case 6: // right, top
		return h - 1 - y, x
	case 7: // right, bottom
		return h - 1 - y, w - 1 - x
	case 8: // left, bottom
		return y, w - 1 - x
	}
	return x, y
}

func TestOrientation(t *testing.T) {
	// Odd sides, so that halved chroma must keep its place when mirrored.
	m := image.NewNRGBA(image.Rect(0, 0, 37, 23))
	for y := range 23 {
		for x := range 37 {
			m.SetNRGBA(x, y, color.NRGBA{uint8(7 * x), uint8(11 * y), uint8(3*x + 5*y), 255})
		}
	}
	deep := image.NewNRGBA64(m.Rect)
	grey := image.NewGray(m.Rect)
	var rgb []byte
	for i := 0; i < len(m.Pix); i += 4 {
		rgb = append(rgb, m.Pix[i:i+3]...)
		grey.Pix[i/4] = m.Pix[i]
		for k := range 4 {
			deep.Pix[2*(i+k)], deep.Pix[2*(i+k)+1] = m.Pix[i+k], byte(i)
		}
	}
	deep.Pix[6] = 100 // and a little alpha
	jpg, pngs, pngDeep, pngGrey := jpegOf(t, m, 90), pngOf(t, m), pngOf(t, deep), pngOf(t, grey)
	web := fixture(t, "lossy.webp")
	clear := fixture(t, "clear.webp")
	for o := 1; o <= 8; o++ {
		exif := exifBlock(le, o, false)
		for name, f := range map[string]struct{ marked, plain []byte }{
			"jpeg, exif first":         {jpegWith(jpg, exifSegment(o), xmpSegment()), jpg},
			"jpeg, xmp first":          {jpegWith(jpg, xmpSegment(), exifSegment(o)), jpg},
			"jpeg, profile in between": {jpegWith(jpg, append(append([][]byte{xmpSegment()}, iccSegments(profileSRGB(), 2)...), exifSegment(o))...), jpg},
			"png":                      {pngWith(pngs, pngChunk("eXIf", exif)), pngs},
			"png 16, alpha":            {pngWith(pngDeep, pngChunk("eXIf", exif)), pngDeep},
			"png grey":                 {pngWith(pngGrey, pngChunk("eXIf", exif)), pngGrey},
			"tiff":                     {tiffFile(be, 37, 23, 3, 8, 2, -1, o, nil, rgb), pngs},
			"webp":                     {webpWith(web, 120, 80, map[string][]byte{"EXIF": exif}), web},
			"webp, exif with prefix":   {webpWith(web, 120, 80, map[string][]byte{"EXIF": append([]byte("Exif\x00\x00"), exif...)}), web},
		} {
			p, plain := mustDecode(t, f.marked, Options{}), mustDecode(t, f.plain, Options{})
			checkTurned(t, fmt.Sprintf("%s, orientation %d", name, o), o, p, plain)
			if (o > 1) != noted(p, "orientation mark") {
				t.Errorf("%s, orientation %d: notes %q", name, o, p.Notes)
			}
		}
		// Alpha planes turn along.
		p := mustDecode(t, clear, Options{})
		q := mustDecode(t, clear, Options{})
		q.raster.orient(o)
		q.Width, q.Height, q.Orientation = q.raster.w, q.raster.h, o
		q.Frame = image.Rect(0, 0, q.Width, q.Height)
		checkTurned(t, fmt.Sprintf("clear webp, orientation %d", o), o, q, p)
	}
	for _, bad := range []int{0, 9, 60000} {
		if p := mustDecode(t, jpegWith(jpg, exifSegment(bad)), Options{}); p.Orientation != 1 || p.Width != 37 {
			t.Errorf("orientation %d: %d, %d wide", bad, p.Orientation, p.Width)
		}
	}
}

func checkTurned(t *testing.T, name string, o int, p, plain *Photo) {
	t.Helper()
	w, h := plain.Size()
	if p.Orientation != o || p.FileWidth != w || p.FileHeight != h {
		t.Errorf("%s: orientation %d, stored as %d×%d", name, p.Orientation, p.FileWidth, p.FileHeight)
	}
	ww, hh := w, h
	if o >= 5 {
		ww, hh = h, w
	}
	if p.Width != ww || p.Height != hh {
		t.Fatalf("%s: %d×%d, want %d×%d", name, p.Width, p.Height, ww, hh)
	}
	a, b := pixels(p), pixels(plain)
	for y := range h {
		for x := range w {
			ux, uy := upright(o, x, y, w, h)
			for k := range 3 {
				if a[3*(uy*ww+ux)+k] != b[3*(y*w+x)+k] {
					t.Fatalf("%s: stored %d,%d is not at %d,%d", name, x, y, ux, uy)
				}
			}
		}
	}
}

// A crop shows what the whole shows there, for each layout and turning.
func TestCropShowsTheSamePixels(t *testing.T) {
	all := samples(t)
	rapid.Check(t, func(r *rapid.T) {
		name := rapid.SampledFrom([]string{"baseline.jpg", "progressive.jpg", "cmyk.jpg", "rgb.png", "clear.png", "deep.png", "palette.png", "rgb.tif", "lossy.webp", "clear.webp"}).Draw(r, "file")
		whole := mustDecode(t, all[name], Options{})
		whole.raster.flipX = rapid.Bool().Draw(r, "mirror")
		x := rapid.IntRange(0, whole.Width-1).Draw(r, "x")
		y := rapid.IntRange(0, whole.Height-1).Draw(r, "y")
		n := rapid.IntRange(1, whole.Width-x).Draw(r, "n")
		row, part := make([]float32, 3*whole.Width), make([]float32, 3*n)
		whole.Row(y, row)
		whole.span(x, y, n, part)
		if !equal(part, row[3*x:3*(x+n)]) {
			r.Fatalf("%s: %d pixels from %d,%d differ from the row's", name, n, x, y)
		}
	})
	p := mustDecode(t, all["rgb.png"], Options{Crop: &Crop{Measure{5, false}, Measure{10, true}, Measure{50, true}, Measure{7, false}}})
	whole := mustDecode(t, all["rgb.png"], Options{})
	if p.Frame != image.Rect(5, 5, 21, 12) || !noted(p, "Cropped to 16×7 of 32×48") {
		t.Errorf("frame %v, %q", p.Frame, p.Notes)
	}
	for y := range 7 {
		for x := range 16 {
			if p.At(x, y, 0) != whole.At(x+5, y+5, 0) {
				t.Fatalf("%d,%d differs", x, y)
			}
		}
	}
	x, y, err := p.Pixel(Point{Measure{10, false}, Measure{50, true}})
	if err == nil {
		t.Errorf("a place below the crop is at %d,%d", x, y)
	}
	wantError(t, err, ErrOption, "cropped away")
	if x, y, err = p.Pixel(Point{Measure{10, false}, Measure{8, false}}); x != 5 || y != 3 || err != nil {
		t.Errorf("%d,%d %v", x, y, err)
	}
	_, _, err = whole.Pixel(Point{Measure{32, false}, Measure{0, false}})
	wantError(t, err, ErrOption, "outside the picture", "32×48")
	if x, y, err := whole.Pixel(Point{Measure{100, true}, Measure{100, true}}); x != 31 || y != 47 || err != nil {
		t.Errorf("the far corner is %d,%d %v", x, y, err)
	}
}

func TestParse(t *testing.T) {
	for s, want := range map[string]Crop{
		"0,200,3000,2000":     {Measure{0, false}, Measure{200, false}, Measure{3000, false}, Measure{2000, false}},
		"0%, 10%, 100%, 80 %": {Measure{0, true}, Measure{10, true}, Measure{100, true}, Measure{80, true}},
		"12.5%,3,50%,40":      {Measure{12.5, true}, Measure{3, false}, Measure{50, true}, Measure{40, false}},
	} {
		if got, err := ParseCrop(s); err != nil || got != want {
			t.Errorf("%q: %v, %v", s, got, err)
		}
	}
	for _, s := range []string{"", "1,2,3", "1,2,3,4,5", "a,b,c,d", "-1,0,5,5", "0,0,0,5", "0,0,101%,5", "NaN,0,1,1", "0x10,0,1,1", "1e3,0,1,1", "0,0,1e999,1", "0,0,9999999,1", "%,1,1,1"} {
		if c, err := ParseCrop(s); err == nil {
			t.Errorf("crop %q was read as %v", s, c)
		} else if !strings.Contains(err.Error(), "write x,y,width,height") || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %q", s, err)
		}
	}
	if p, err := ParsePoint("40%, 62.5"); err != nil || p != (Point{Measure{40, true}, Measure{62.5, false}}) || p.String() != "40%,62.5" {
		t.Errorf("%v %v", p, err)
	}
	if _, err := ParsePoint("40"); err == nil || !strings.Contains(err.Error(), "write x,y") {
		t.Errorf("%v", err)
	}
	for s, want := range map[string]Canvas{
		"30x40cm": {300, 400}, "300x400mm": {300, 400}, "12x16in": {304.8, 406.4}, "30 × 40 CM": {300, 400},
		`12"x16"`: {304.8, 406.4}, "30cm x 40cm": {300, 400}, "30,5x40cm": {305, 400}, "30.5X40.25cm": {305, 402.5}, "9 x 12 inches": {228.6, 304.8},
		"9 1/2 x 12 in": {241.3, 304.8}, "9½×12¾in": {241.3, 323.85}, "9-1/2x12in": {241.3, 304.8}, `5 7⁄8" x 1½"`: {149.225, 38.1},
	} {
		got, err := ParseCanvas(s)
		if err != nil || !near(got.Width, want.Width, 1e-9) || !near(got.Height, want.Height, 1e-9) {
			t.Errorf("%q: %v, %v", s, got, err)
		}
	}
	for _, s := range []string{"", "30x40", "30cm", "0x40cm", "-3x4cm", "axbcm", "30x40x50cm", "30x40furlong", "1e9x2cm", "0.5x0.5cm", "9000x9000cm", "NaNxNaNcm", "9/2x12in", "1/0x12in", "9 1/x12in", "-1/2x12in", "9.5 1/2x12in", "9½½x12in", "3 4x12in"} {
		if c, err := ParseCanvas(s); err == nil {
			t.Errorf("canvas %q was read as %v", s, c)
		} else if !strings.Contains(err.Error(), "30x40cm") || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %q", s, err)
		}
	}
	for c, want := range map[Canvas]string{
		{304.8, 406.4}: "12×16 in", {241.3, 304.8}: "9½×12 in", {304.8, 400}: "30.48×40 cm", {300, 400}: "30×40 cm", {12.7, 254}: "1.27×25.4 cm",
	} {
		if s := c.String(); s != want {
			t.Errorf("%v: %q, not %q", c, s, want)
		}
		if back, err := ParseCanvas(c.String()); err != nil || back.String() != c.String() {
			t.Errorf("%v: %v, %v", c, back, err)
		}
	}
}

func TestCanvas(t *testing.T) {
	data := pngOf(t, drawPatches(t, 50)) // 300×200
	for _, c := range []struct {
		canvas Canvas
		crop   *Crop
		want   image.Rectangle
		note   string
	}{
		{Canvas{400, 300}, nil, image.Rect(16, 0, 283, 200), "267×200 pixels, leaving out 11 %"},
		{Canvas{300, 400}, nil, image.Rect(75, 0, 225, 200), "a canvas of 40×30 cm would keep more"},
		{Canvas{200, 200}, nil, image.Rect(50, 0, 250, 200), "proportions of a canvas of 20×20 cm"},
		{Canvas{600, 100}, nil, image.Rect(0, 75, 300, 125), "300×50"},
		{Canvas{300, 200}, nil, image.Rect(0, 0, 300, 200), ""},
		{Canvas{100, 100}, &Crop{Measure{10, false}, Measure{20, false}, Measure{100, false}, Measure{50, false}}, image.Rect(35, 20, 85, 70), "50×50"},
	} {
		p := mustDecode(t, data, Options{Canvas: &c.canvas, Crop: c.crop})
		if p.Frame != c.want || p.Width != c.want.Dx() || p.Height != c.want.Dy() {
			t.Errorf("%v: %v, %d×%d", c.canvas, p.Frame, p.Width, p.Height)
		}
		if c.note != "" && !noted(p, c.note) || c.note == "" && len(p.Notes) > 1 {
			t.Errorf("%v: notes %q", c.canvas, p.Notes)
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		c := Canvas{rapid.Float64Range(100, 1000).Draw(r, "w"), rapid.Float64Range(100, 1000).Draw(r, "h")}
		in := image.Rect(0, 0, rapid.IntRange(200, 9000).Draw(r, "pw"), rapid.IntRange(200, 9000).Draw(r, "ph"))
		out := c.fit(in)
		if !out.In(in) || out.Empty() {
			r.Fatalf("%v of %v", out, in)
		}
		if out.Dx() != in.Dx() && out.Dy() != in.Dy() {
			r.Fatalf("%v of %v: cut on both sides", out, in)
		}
		if d := float64(out.Dx()) - float64(out.Dy())*c.Width/c.Height; math.Abs(d) > 0.51*max(1, c.Width/c.Height) {
			r.Fatalf("%v of %v: proportions off by %.2f pixels", out, in, d)
		}
	})
	_, err := Decode("a.png", data, Options{Crop: &Crop{Measure{250, false}, Measure{0, false}, Measure{51, false}, Measure{10, false}}})
	wantError(t, err, ErrOption, "a.png", "300×200")
	_, err = Decode("a.png", data, Options{Canvas: &Canvas{}})
	wantError(t, err, ErrOption, "no area")
}

func TestExposure(t *testing.T) {
	for _, data := range [][]byte{pngOf(t, drawPatches(t, 4)), jpegOf(t, drawPatches(t, 8), 90), pngWith(pngOf(t, drawPatches(t, 4)), iccp(profileP3()))} {
		plain := pixels(mustDecode(t, data, Options{}))
		for _, stops := range []float64{1, -2, 0.5} {
			p := mustDecode(t, data, Options{Exposure: stops})
			if p.Exposure != stops || !noted(p, fmt.Sprintf("Exposure: %+g stops", stops)) {
				t.Errorf("%v, %q", p.Exposure, p.Notes)
			}
			for i, v := range pixels(p) {
				if want := float64(plain[i]) * math.Exp2(stops); !near(float64(v), want, 2e-6+2e-6*math.Abs(want)) {
					t.Fatalf("%v stops: %v, want %v", stops, v, want)
				}
			}
		}
	}
	for _, bad := range []float64{11, -11, math.NaN(), math.Inf(1)} {
		_, err := Decode("a.png", pngOf(t, drawPatches(t, 2)), Options{Exposure: bad})
		wantError(t, err, ErrOption, "out of range")
	}
}

func TestBalance(t *testing.T) {
	// A warm cast over greys; the spot is the middle grey.
	m := image.NewNRGBA(image.Rect(0, 0, 300, 100))
	for y := range 100 {
		for x := range 300 {
			c := []color.NRGBA{{180, 150, 110, 255}, {90, 75, 55, 255}, {120, 160, 90, 255}}[x/100]
			m.SetNRGBA(x, y, c)
		}
	}
	for name, data := range map[string][]byte{
		"png": pngOf(t, m), "deep": tiffFile(le, 1, 1, 3, 8, 2, -1, 1, nil, []byte{180, 150, 110}), "p3": pngWith(pngOf(t, m), iccp(profileP3())),
	} {
		at := Point{Measure{50, false}, Measure{50, false}}
		if name == "deep" {
			at = Point{}
		}
		plain := mustDecode(t, data, Options{})
		p := mustDecode(t, data, Options{Grey: &at, GreyRadius: 10})
		x, y, _ := at.pixel(p.Width, p.Height)
		was, is := plain.At(x, y, 10), p.At(x, y, 10)
		before, after := lab.FromLinear(was[0], was[1], was[2]), lab.FromLinear(is[0], is[1], is[2])
		if after.Chroma() > 0.05 || !near(before.L, after.L, 0.01) {
			t.Errorf("%s: %.2f became %.3f", name, before, after)
		}
		if p.Balance == nil || p.Balance.Radius != 10 || p.Balance.Spot != was || !noted(p, "White balance: the spot at") {
			t.Errorf("%s: %+v, %q", name, p.Balance, p.Notes)
		}
	}
	// Von Kries in Bradford cones (ICC.1:2022, annex E): a spot of the colour
	// of illuminant A is carried to D65 as that adaptation carries it.
	a := [3]float64{1.0985, 1, 0.35585}
	lin := xyzToSRGB.apply([3]float64{0.3 * a[0], 0.3, 0.3 * a[2]})
	spot := image.NewNRGBA64(image.Rect(0, 0, 20, 10))
	for i := range 200 {
		v := lin
		if i%20 >= 10 {
			v = [3]float64{0.2, 0.3, 0.1}
		}
		e := func(k int) uint16 { return uint16(65535*lab.EncodeSRGB(max(0, v[k])) + 0.5) }
		spot.SetNRGBA64(i%20, i/20, color.NRGBA64{e(0), e(1), e(2), 65535})
	}
	p := mustDecode(t, pngOf(t, spot), Options{Grey: &Point{Measure{5, false}, Measure{5, false}}, GreyRadius: 2})
	want := xyzToSRGB.mul(adaptation(a, whiteD65)).mul(primariesSRGB.toXYZ()).apply([3]float64{0.2, 0.3, 0.1})
	got := p.At(15, 5, 2)
	for k := range want {
		if !near(got[k], want[k], 2e-3) {
			t.Errorf("beside a spot of illuminant A: %.4f, want %.4f", got, want)
		}
	}

	flat := func(c color.NRGBA) []byte {
		m := image.NewNRGBA(image.Rect(0, 0, 40, 40))
		for i := range 1600 {
			m.SetNRGBA(i%40, i/40, c)
		}
		return pngOf(t, m)
	}
	mid := &Point{Measure{50, true}, Measure{50, true}}
	for _, c := range []struct {
		c    color.NRGBA
		part string
	}{
		{color.NRGBA{255, 240, 200, 255}, "burnt out"}, {color.NRGBA{255, 255, 255, 255}, "burnt out"},
		{color.NRGBA{8, 7, 9, 255}, "nearly black"}, {color.NRGBA{0, 0, 0, 255}, "nearly black"},
		{color.NRGBA{200, 20, 10, 255}, "too strongly coloured"},
	} {
		_, err := Decode("a.png", flat(c.c), Options{Grey: mid})
		wantError(t, err, ErrOption, "a.png", c.part, "choose")
	}
	_, err := Decode("a.png", flat(color.NRGBA{90, 90, 90, 255}), Options{Grey: &Point{Measure{40, false}, Measure{3, false}}})
	wantError(t, err, ErrOption, "outside the picture")
	// A grey spot that is grey already changes nothing to speak of.
	plain, same := mustDecode(t, flat(color.NRGBA{90, 90, 90, 255}), Options{}), mustDecode(t, flat(color.NRGBA{90, 90, 90, 255}), Options{Grey: mid})
	if d := worst8(pixels(plain), pixels(same)); d > 0.01 {
		t.Errorf("a neutral spot moved colours by %.3f", d)
	}
}

// The spot is named in the whole picture, even where it is cropped away.
func TestBalanceOutsideTheCrop(t *testing.T) {
	m := drawPatches(t, 20)
	grey := &Point{Measure{90, false}, Measure{30, false}} // patch 10, 808080, is at 4,1
	p := mustDecode(t, pngOf(t, m), Options{Grey: grey, GreyRadius: 3, Crop: &Crop{Measure{0, false}, Measure{0, false}, Measure{40, false}, Measure{20, false}}})
	if p.Width != 40 || p.Balance.X != 90 {
		t.Errorf("%d wide, %+v", p.Width, p.Balance)
	}
	if d := lab.DE00(lab.FromLinear(p.At(10, 10, 2)[0], p.At(10, 10, 2)[1], p.At(10, 10, 2)[2]), srgb(patches(t)[0])); d > 0.05 {
		t.Errorf("a true grey as the spot moved the first patch by %.3f", d)
	}
}

// A checkerboard of black and white averages to half the light, which is 188
// of 255 encoded, not 128 (IEC 61966-2-1).
func TestCheckerboardIs188(t *testing.T) {
	m := image.NewGray(image.Rect(0, 0, 64, 64))
	for i := range m.Pix {
		if (i%64+i/64)%2 == 0 {
			m.Pix[i] = 255
		}
	}
	p := mustDecode(t, pngOf(t, m), Options{})
	for _, side := range []int{1, 2, 8, 32} {
		img := p.Preview(side).(*image.RGBA)
		for _, v := range img.Pix {
			if v != 188 && v != 255 {
				t.Fatalf("at %d pixels: %d", side, v)
			}
		}
	}
	if v := p.At(32, 32, 20); !near(v[0], 0.5, 0.01) {
		t.Errorf("a spot of it is %v", v)
	}
}

// Reducing keeps the mean light exactly, and every target pixel is the mean
// of what lies under it.
func TestReducedIsTheMean(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		w, h := rapid.IntRange(1, 60).Draw(r, "w"), rapid.IntRange(1, 60).Draw(r, "h")
		side := rapid.IntRange(1, 70).Draw(r, "side")
		src := &Linear{W: w, H: h, Pix: make([]float32, 3*w*h)}
		seed := uint32(rapid.IntRange(1, 1<<20).Draw(r, "noise"))
		for i := range src.Pix {
			seed = seed*1664525 + 1013904223
			src.Pix[i] = float32(seed>>8) / (1 << 24)
		}
		l := Reduce(src, side)
		if max(l.W, l.H) != min(side, max(w, h)) || l.W < 1 || l.H < 1 {
			r.Fatalf("%d×%d to %d is %d×%d", w, h, side, l.W, l.H)
		}
		tx, ty := rapid.IntRange(0, l.W-1).Draw(r, "x"), rapid.IntRange(0, l.H-1).Draw(r, "y")
		var want float64 // brute force over areas, red only
		for y := range h {
			for x := range w {
				cover := func(i, t, n, m int) float64 {
					a, b := float64(t)*float64(n)/float64(m), float64(t+1)*float64(n)/float64(m)
					return max(0, min(b, float64(i+1))-max(a, float64(i)))
				}
				want += cover(x, tx, w, l.W) * cover(y, ty, h, l.H) * float64(src.Pix[3*(y*w+x)])
			}
		}
		want *= float64(l.W) / float64(w) * float64(l.H) / float64(h)
		if got := float64(l.Pix[3*(ty*l.W+tx)]); !near(got, want, 1e-5) {
			r.Fatalf("%d×%d to %d×%d at %d,%d: %v, want %v", w, h, l.W, l.H, tx, ty, got, want)
		}
	})
	// A picture smaller than the limit stays as it is.
	p := mustDecode(t, pngOf(t, drawPatches(t, 4)), Options{})
	if l := p.Reduced(1000); !equal(l.Pix, pixels(p)) || l.W != 24 {
		t.Error("a small picture was changed")
	}
	row := make([]float32, 3*24)
	l := p.Reduced(1000)
	l.Row(9, row)
	if w, h := l.Size(); w != 24 || h != 16 || !equal(row, l.Pix[9*72:10*72]) {
		t.Errorf("size %d×%d", w, h)
	}
}

func TestEncode8(t *testing.T) {
	for i := range 200001 {
		v := -0.2 + 1.4*float64(i)/200000
		want := math.Floor(255*lab.EncodeSRGB(min(1, max(0, v))) + 0.5)
		if got := float64(encode8(float32(v))); got != want {
			// On an edge between steps float32 may fall either side.
			if e := 255*lab.EncodeSRGB(v) - math.Floor(255*lab.EncodeSRGB(v)); !near(e, 0.5, 1e-4) {
				t.Fatalf("%v: %v, want %v", v, got, want)
			}
		}
	}
	if encode8(float32(math.NaN())) != 0 || encode8(float32(math.Inf(1))) != 255 {
		t.Error("not-a-number or infinity")
	}
}

func TestRowsFromManyGoroutines(t *testing.T) {
	for name, data := range samples(t) {
		p := mustDecode(t, data, Options{})
		want := pixels(p)
		var wg sync.WaitGroup
		for range 4 {
			wg.Go(func() {
				row := make([]float32, 3*p.Width)
				for y := range p.Height {
					p.Row(y, row)
					if !equal(row, want[3*p.Width*y:3*p.Width*(y+1)]) {
						t.Errorf("%s: row %d differs", name, y)
						return
					}
				}
			})
		}
		wg.Wait()
	}
}

func TestSpot(t *testing.T) {
	m := image.NewNRGBA(image.Rect(0, 0, 50, 40))
	for i := range 2000 {
		m.SetNRGBA(i%50, i/50, color.NRGBA{uint8(5 * (i % 50)), 0, 0, 255})
	}
	p := mustDecode(t, pngOf(t, m), Options{})
	mean := func(cx, cy, r int) (sum float64) {
		n := 0
		for y := range 40 {
			for x := range 50 {
				if (x-cx)*(x-cx)+(y-cy)*(y-cy) <= r*r {
					sum += light8(uint8(5 * x))
					n++
				}
			}
		}
		return sum / float64(n)
	}
	for _, c := range [][3]int{{25, 20, 0}, {25, 20, 7}, {0, 0, 9}, {49, 39, 30}, {10, 38, 500}} {
		if got := p.At(c[0], c[1], c[2]); !near(got[0], mean(c[0], c[1], c[2]), 1e-6) {
			t.Errorf("%v: %v, want %v", c, got[0], mean(c[0], c[1], c[2]))
		}
	}
	if p.At(-5, 100, 3) != p.At(0, 39, 3) {
		t.Error("a centre outside is not moved to the edge")
	}
	defer func() {
		if recover() == nil {
			t.Error("a row outside did not panic")
		}
	}()
	p.Row(40, make([]float32, 150))
}

func TestSameFileSameAnswer(t *testing.T) {
	for name, data := range samples(t) {
		a, b := mustDecode(t, data, Options{Exposure: 0.3}), mustDecode(t, data, Options{Exposure: 0.3})
		if !equal(a.Reduced(33).Pix, b.Reduced(33).Pix) {
			t.Errorf("%s reads differently the second time", name)
		}
		if !bytes.Equal(a.Preview(20).(*image.RGBA).Pix, b.Preview(20).(*image.RGBA).Pix) {
			t.Errorf("%s looks different the second time", name)
		}
	}
}

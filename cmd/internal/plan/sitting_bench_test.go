package plan

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"sync"
	"testing"

	"paintout/analyze/photo"
	"paintout/inventory"
	"paintout/recipe"
)

// landscape is a JPEG of so many pixels with the colours and the unrest of one:
// sky, ridges, water, grass and a few accents, none of them flat.
func landscape(w, h int) []byte {
	img := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
	noise := func(x, y int) float64 {
		n := uint32(x)*374761393 + uint32(y)*668265263
		n = (n ^ n>>13) * 1274126177
		return float64(n^n>>16)/math.MaxUint32 - 0.5
	}
	for y := range h {
		v := float64(y) / float64(h)
		for x := range w {
			u := float64(x) / float64(w)
			var c [3]float64
			switch ridge := 0.45 + 0.05*math.Sin(9*u) + 0.02*math.Sin(31*u); {
			case v < ridge-0.1*u:
				cloud := max(0, math.Sin(7*u+4*v)*math.Sin(13*v+2*u))
				c = [3]float64{120 + 110*cloud + 60*v, 155 + 80*cloud + 40*v, 200 + 45*cloud}
			case v < ridge+0.08:
				c = [3]float64{96, 108 + 30*u, 128 - 30*u}
			case v < ridge+0.2:
				c = [3]float64{130 + 40*math.Sin(40*v), 140 + 40*math.Sin(40*v), 150}
			default:
				c = [3]float64{70 + 60*u, 84 + 50*u*v, 30 + 20*v}
			}
			if math.Hypot(u-0.7, (v-0.62)*0.7) < 0.01 {
				c = [3]float64{200, 50, 35}
			}
			n := 26 * noise(x/3, y/3)
			var q [3]uint8
			for i := range c {
				q[i] = uint8(min(255, max(0, c[i]+n)))
			}
			yy, cb, cr := color.RGBToYCbCr(q[0], q[1], q[2])
			img.Y[img.YOffset(x, y)] = yy
			img.Cb[img.COffset(x, y)], img.Cr[img.COffset(x, y)] = cb, cr
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 90}); err != nil {
		panic(err)
	}
	return b.Bytes()
}

// bigPhoto is one of 24 megapixels.
var bigPhoto = sync.OnceValue(func() []byte { return landscape(6000, 4000) })

// boxOf24 is the starter box and eight more tubes of the library.
func boxOf24(t testing.TB) *Workspace {
	t.Helper()
	w := starter(t).own()
	tubes := w.Palette.Tubes
	for _, code := range []string{"PY3", "PO62", "PR122", "PV23", "PB60", "PB28", "PG36", "PY42"} {
		p, err := inventory.Find(code)
		if err != nil {
			t.Fatal(err)
		}
		tubes = append(tubes, p.Tube())
	}
	var err error
	if w.Palette, err = recipe.NewPalette(tubes, w.Palette.Finish); err != nil {
		t.Fatal(err)
	}
	w.Box = &inventory.Box{Name: "24 tubes", Tubes: tubes}
	return w
}

func bigSitting(b *testing.B) (*Sitting, *Workspace) {
	b.Helper()
	w := boxOf24(b)
	s, err := NewSitting(context.Background(), "big.jpg", bigPhoto(), photo.Options{}, nil)
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	return s, w
}

// fresh forgets what a sitting has worked out.
func (s *Sitting) fresh() *Sitting {
	q := &Sitting{study: s.study, picture: s.picture, frame: s.frame}
	q.sizes()
	return q
}

// The photo of 24 megapixels, from its file to the first masses.
func BenchmarkSittingOpen(b *testing.B) {
	data, w := bigPhoto(), boxOf24(b)
	b.ResetTimer()
	for b.Loop() {
		s, err := NewSitting(context.Background(), "big.jpg", data, photo.Options{}, nil)
		if err != nil {
			b.Fatal(err)
		}
		s.Look(w, Division{})
	}
}

// Another number of masses, never asked for before: aimed at 50 ms.
func BenchmarkSittingMasses(b *testing.B) {
	s, w := bigSitting(b)
	for i := 0; b.Loop(); i++ {
		q := s.fresh()
		q.Look(w, Division{K: 3 + i%22})
		q.Mask(Division{K: 3 + i%22})
	}
}

// A touched spot with 24 tubes: aimed at 100 ms.
func BenchmarkSittingSpot(b *testing.B) {
	s, w := bigSitting(b)
	s.Look(w, Division{K: 12})
	if _, err := s.atlas(context.Background(), w, nil); err != nil { // the page has it from the masses' mixes
		b.Fatal(err)
	}
	b.ResetTimer()
	for i := 0; b.Loop(); i++ {
		if _, err := s.Spot(context.Background(), w, Division{K: 12}, nil, 0.03+0.94*float64(i*37%100)/100, 0.03+0.94*float64(i*61%100)/100, 0.004, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// A tube taken out of 24, or put in again: aimed at 200 ms.
func BenchmarkSittingTubeOut(b *testing.B) {
	s, w := bigSitting(b)
	d := Division{K: 12}
	if _, err := s.Mixes(context.Background(), w, d, nil, nil); err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for i := 0; b.Loop(); i++ {
		c, err := w.Carry([]string{w.Palette.Tubes[i%24].Name})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := s.Mixes(context.Background(), w, d, c, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// The mixes of twelve masses from 24 tubes, for the first time.
func BenchmarkSittingMixes(b *testing.B) {
	s, w := bigSitting(b)
	for b.Loop() {
		if _, err := s.fresh().Mixes(context.Background(), w, Division{K: 12}, nil, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// The whole picture as 24 tubes can paint it.
func BenchmarkSittingPreview(b *testing.B) {
	s, w := bigSitting(b)
	for b.Loop() {
		if _, err := s.fresh().Preview(context.Background(), w, nil, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// The curve of fewest tubes, of 24 for twelve masses.
func BenchmarkSittingKit(b *testing.B) {
	s, w := bigSitting(b)
	for b.Loop() {
		if _, err := s.fresh().Kit(context.Background(), w, Division{K: 12}, KitAsk{Tolerance: recipe.KitTolerance}, nil); err != nil {
			b.Fatal(err)
		}
	}
}

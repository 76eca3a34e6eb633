package photo

import (
	"bytes"
	"image"
	"image/jpeg"
	"os"
	"testing"
	"time"
)

// benchmarkRow times Row per pixel on a picture of 4000 by 1000.
func benchmarkRow(b *testing.B, r *raster, s *space, table *yccTables) {
	p := &Photo{Width: r.w, Height: r.h, Frame: image.Rect(0, 0, r.w, r.h), raster: r}
	p.conv = s.converter(r, identity, table)
	row := make([]float32, 3*r.w)
	b.ResetTimer()
	for b.Loop() {
		for y := range r.h {
			p.Row(y, row)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(r.w*r.h), "ns/pixel")
}

func noise(pix []byte) {
	seed := uint32(1)
	for i := range pix {
		seed = seed*1664525 + 1013904223
		pix[i] = byte(seed >> 24)
	}
}

func BenchmarkRow(b *testing.B) {
	rect := image.Rect(0, 0, 4000, 1000)
	m420 := image.NewYCbCr(rect, image.YCbCrSubsampleRatio420)
	m444 := image.NewYCbCr(rect, image.YCbCrSubsampleRatio444)
	rgb, deep, grey, cmyk := image.NewRGBA(rect), image.NewRGBA64(rect), image.NewGray(rect), image.NewCMYK(rect)
	for _, pix := range [][]byte{m420.Y, m420.Cb, m420.Cr, m444.Y, m444.Cb, m444.Cr, rgb.Pix, deep.Pix, grey.Pix, cmyk.Pix} {
		noise(pix)
	}
	for i := 3; i < len(rgb.Pix); i += 4 {
		rgb.Pix[i] = 255
	}
	for i := 6; i < len(deep.Pix); i += 8 {
		deep.Pix[i], deep.Pix[i+1] = 255, 255
	}
	p3, err := readProfile(profileP3(), 3)
	if err != nil {
		b.Fatal(err)
	}
	press, err := readProfile(lutProfile("CMYK", 4, 9, ink), 4)
	if err != nil {
		b.Fatal(err)
	}
	for _, c := range []struct {
		name string
		img  image.Image
		s    *space
		flip bool
	}{
		{"YCbCr420", m420, spaceSRGB(), false},
		{"YCbCr420/mirrored", m420, spaceSRGB(), true},
		{"YCbCr420/DisplayP3", m420, p3, false},
		{"YCbCr444", m444, spaceSRGB(), false},
		{"RGB8", rgb, spaceSRGB(), false},
		{"RGB16", deep, spaceSRGB(), false},
		{"Grey", grey, spaceSRGB(), false},
		{"CMYK/profile", cmyk, press, false},
	} {
		b.Run(c.name, func(b *testing.B) {
			r, ok := newRaster(c.img)
			if !ok {
				b.Fatal("no raster")
			}
			r.flipX = c.flip
			benchmarkRow(b, r, c.s, jfif)
		})
	}
}

func BenchmarkTranspose(b *testing.B) {
	m := image.NewYCbCr(image.Rect(0, 0, 6000, 4000), image.YCbCrSubsampleRatio420)
	for b.Loop() {
		r, _ := newRaster(m)
		r.orient(6)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/24e6, "ns/pixel")
}

// BenchmarkOpen reads a photograph of 16 megapixels and reports the time
// against image/jpeg's bare decoding, taken by turns in the same run.
func BenchmarkOpen(b *testing.B) {
	path := shared(b, "photos/seeding.jpg")
	data, err := os.ReadFile(path)
	if err != nil {
		b.Fatal(err)
	}
	var bare, open, rows time.Duration
	for b.Loop() {
		t := time.Now()
		if _, err := jpeg.Decode(bytes.NewReader(data)); err != nil {
			b.Fatal(err)
		}
		bare += time.Since(t)
		t = time.Now()
		p, err := Open(path, Options{})
		if err != nil {
			b.Fatal(err)
		}
		open += time.Since(t)
		t = time.Now()
		row := make([]float32, 3*p.Width)
		for y := range p.Height {
			p.Row(y, row)
		}
		rows += time.Since(t)
	}
	b.ReportMetric(open.Seconds()/bare.Seconds(), "open/bare")
	b.ReportMetric((open+rows).Seconds()/bare.Seconds(), "open+rows/bare")
	b.ReportMetric(float64(bare.Milliseconds())/float64(b.N), "bare-ms")
}

func BenchmarkPreview(b *testing.B) {
	p, err := Open(shared(b, "photos/seeding.jpg"), Options{})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		p.Preview(1600)
	}
}

func BenchmarkHEIC(b *testing.B) {
	data := fixture(b, "full601.heic")
	for b.Loop() {
		if _, err := Decode("a.heic", data, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

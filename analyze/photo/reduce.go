package photo

import (
	"image"
	"math"
	"runtime"
	"sync"

	"paintout/analyze/lab"
)

// A Source is a picture read row by row as linear light, as [Photo] and
// [Linear] are.
type Source interface {
	Size() (w, h int)
	Row(y int, dst []float32)
}

// Linear is a small picture held as linear light, three values a pixel.
type Linear struct {
	W, H int
	Pix  []float32
}

// Size is the width and height in pixels.
func (l *Linear) Size() (w, h int) { return l.W, l.H }

// Row copies row y into dst, which must hold 3·W values.
func (l *Linear) Row(y int, dst []float32) {
	n := 3 * l.W
	copy(dst[:n], l.Pix[y*n:(y+1)*n])
}

// Reduced is a copy whose longer side is at most maxSide pixels (at least 1),
// each pixel the mean of the light that falls on it. Smaller pictures keep
// their size. The same picture gives the same values on any number of cores.
func (p *Photo) Reduced(maxSide int) *Linear { return Reduce(p, maxSide) }

// Reduce is [Photo.Reduced] for any source whose Row is safe for concurrent use.
func Reduce(src Source, maxSide int) *Linear {
	w, h := src.Size()
	tw, th := w, h
	if maxSide = max(1, maxSide); max(w, h) > maxSide {
		if w >= h {
			tw, th = maxSide, max(1, round(float64(h)*float64(maxSide)/float64(w)))
		} else {
			tw, th = max(1, round(float64(w)*float64(maxSide)/float64(h))), maxSide
		}
	}
	l := &Linear{W: tw, H: th, Pix: make([]float32, 3*tw*th)}
	columns := shares(w, tw)
	rows := shares(h, th)
	workers := min(runtime.GOMAXPROCS(0), th)
	var wg sync.WaitGroup
	for k := range workers {
		wg.Go(func() {
			line := make([]float32, 3*w)
			sum := make([]float32, 3*tw)
			held := -1 // the source row in line
			for ty := k * th / workers; ty < (k+1)*th/workers; ty++ {
				clear(sum)
				for y := rows[ty].first; y <= rows[ty].last; y++ {
					if y != held {
						src.Row(y, line)
						held = y
					}
					addRow(sum, line, columns, rows[ty].weight(y))
				}
				copy(l.Pix[3*tw*ty:], sum)
			}
		})
	}
	wg.Wait()
	return l
}

// A share is the run of source pixels under one target pixel: the weights of
// the first, of each one between, and of the last; together 1.
type share struct {
	first, last      int
	head, body, tail float32
}

func (s share) weight(i int) float32 {
	switch i {
	case s.first:
		return s.head
	case s.last:
		return s.tail
	}
	return s.body
}

// shares cuts n pixels into m equal parts, m ≤ n.
func shares(n, m int) []share {
	s := make([]share, m)
	part := float64(n) / float64(m)
	for i := range s {
		// In units of 1/m of a pixel, so that edges are exact.
		a, b := i*n, (i+1)*n
		s[i].first, s[i].last = a/m, (b-1)/m
		s[i].body = float32(1 / part)
		if s[i].first == s[i].last {
			s[i].head = 1
			continue
		}
		s[i].head = float32(float64((s[i].first+1)*m-a) / float64(m) / part)
		s[i].tail = float32(float64(b-s[i].last*m) / float64(m) / part)
	}
	return s
}

// addRow adds weight times the row, averaged over the columns' shares.
func addRow(sum, row []float32, columns []share, weight float32) {
	for i := range columns {
		c := &columns[i]
		d := row[3*c.first : 3*c.last+3]
		r, g, b := c.head*d[0], c.head*d[1], c.head*d[2]
		if c.last > c.first {
			var mr, mg, mb float32
			for d = d[3:]; len(d) >= 6; d = d[3:] {
				mr, mg, mb = mr+d[0], mg+d[1], mb+d[2]
			}
			r += c.body*mr + c.tail*d[0]
			g += c.body*mg + c.tail*d[1]
			b += c.body*mb + c.tail*d[2]
		}
		s := sum[3*i : 3*i+3]
		s[0] += weight * r
		s[1] += weight * g
		s[2] += weight * b
	}
}

// Preview is a copy to look at, in 8-bit sRGB, its longer side at most
// maxSide pixels. It is averaged in linear light; what a screen cannot show
// is clipped.
func (p *Photo) Preview(maxSide int) image.Image { return p.Reduced(maxSide).Image() }

// Image is the picture in 8-bit sRGB; what a screen cannot show is clipped.
func (l *Linear) Image() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, l.W, l.H))
	for i, j := 0, 0; i < len(l.Pix); i, j = i+3, j+4 {
		for k := range 3 {
			img.Pix[j+k] = encode8(l.Pix[i+k])
		}
		img.Pix[j+3] = 255
	}
	return img
}

// encode8 rounds light to the nearest 8-bit sRGB step, by the light at which
// one step turns into the next.
func encode8(v float32) byte {
	// The square root spreads light nearly evenly over the steps, so that the
	// search ends after a step or two.
	if !(v >= edges[0]) {
		return 0
	}
	if v >= edges[254] {
		return 255
	}
	i := int(hint[int(math.Sqrt(float64(v))*float64(len(hint)-1))])
	for i < 255 && v >= edges[i] {
		i++
	}
	return byte(i)
}

var (
	edges [255]float32 // light halfway, as encoded, between steps i and i+1
	hint  [4097]byte   // the step at the light (i/4096)²
)

func init() {
	for i := range edges {
		edges[i] = float32(lab.DecodeSRGB((float64(i) + 0.5) / 255))
	}
	i := 0
	for k := range hint {
		q := float64(k) / float64(len(hint)-1)
		for i < 255 && float32(q*q) >= edges[i] {
			i++
		}
		hint[k] = byte(i)
	}
}

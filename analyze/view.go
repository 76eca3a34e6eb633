package analyze

import (
	"math"
	"runtime"
	"sync"

	"paintout/analyze/lab"
)

// view is the reduced picture in even coordinates, as a half-closed eye takes
// it: freed of single odd pixels by a median over 3×3.
type view struct {
	w, h  int
	raw   [][3]float32
	glare []bool       // burnt out in all channels
	at    [][3]float32 // smoothed
	noise float64      // root mean square distance between a pixel and its smoothed self
}

// inStrips runs f over rows [0, h) in strips on all cores.
func inStrips(h int, f func(y0, y1 int)) {
	n := min(runtime.GOMAXPROCS(0), h)
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() { f(i*h/n, (i+1)*h/n) })
	}
	wg.Wait()
}

func look(s *Small) *view {
	w, h := s.W, s.H
	raw := make([][3]float32, w*h)
	v := &view{glare: make([]bool, w*h), w: w, h: h, raw: raw, at: make([][3]float32, w*h)}
	inStrips(h, func(y0, y1 int) {
		for i := y0 * w; i < y1*w; i++ {
			p := even(lab.FromLinear(float64(s.Pix[3*i]), float64(s.Pix[3*i+1]), float64(s.Pix[3*i+2])))
			raw[i] = [3]float32{float32(p[0]), float32(p[1]), float32(p[2])}
			v.glare[i] = min(s.Pix[3*i], s.Pix[3*i+1], s.Pix[3*i+2]) >= glareFrom
		}
	})
	if w*h < tidyFrom { // every pixel counts
		v.at = raw
		return v
	}
	rowNoise := make([]float64, h)
	inStrips(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			up, down := max(y-1, 0)*w, min(y+1, h-1)*w
			for x := range w {
				l, r := max(x-1, 0), min(x+1, w-1)
				n := [9]*[3]float32{
					&raw[up+l], &raw[up+x], &raw[up+r],
					&raw[y*w+l], &raw[y*w+x], &raw[y*w+r],
					&raw[down+l], &raw[down+x], &raw[down+r],
				}
				var d2 float64
				for c := range 3 {
					m := median9(n[0][c], n[1][c], n[2][c], n[3][c], n[4][c], n[5][c], n[6][c], n[7][c], n[8][c])
					v.at[y*w+x][c] = m
					d := float64(n[4][c] - m)
					d2 += d * d
				}
				rowNoise[y] += d2
			}
		}
	})
	for _, n := range rowNoise {
		v.noise += n
	}
	v.noise = math.Sqrt(v.noise / float64(w*h))
	return v
}

// median9 is the exchange network of J. L. Smith, "Implementing median filters
// in XC4000E FPGAs", Xcell 23, 1996.
func median9(a, b, c, d, e, f, g, h, i float32) float32 {
	b, c = min(b, c), max(b, c)
	e, f = min(e, f), max(e, f)
	h, i = min(h, i), max(h, i)
	a, b = min(a, b), max(a, b)
	d, e = min(d, e), max(d, e)
	g, h = min(g, h), max(g, h)
	b, c = min(b, c), max(b, c)
	e, f = min(e, f), max(e, f)
	h, i = min(h, i), max(h, i)
	d = max(a, d)
	f = min(f, i)
	e, h = min(e, h), max(e, h)
	g = max(d, g)
	e = max(b, e)
	c = min(c, f)
	e = min(e, h)
	e, c = min(e, c), max(e, c)
	e = max(g, e)
	return min(e, c)
}

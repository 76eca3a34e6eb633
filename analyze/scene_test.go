package analyze

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"paintout/analyze/lab"
)

// frame is a picture held in memory.
type frame struct {
	w, h int
	pix  []float32
}

func newFrame(w, h int) *frame { return &frame{w, h, make([]float32, 3*w*h)} }

func (f *frame) Size() (int, int)       { return f.w, f.h }
func (f *frame) Row(y int, d []float32) { copy(d, f.pix[3*f.w*y:3*f.w*(y+1)]) }

func (f *frame) set(x, y int, r, g, b float32) {
	copy(f.pix[3*(y*f.w+x):], []float32{r, g, b})
}

// rgb is a colour in encoded sRGB, 0–255.
type rgb [3]float64

func (c rgb) lab() lab.Lab {
	return lab.FromLinear(lab.DecodeSRGB(c[0]/255), lab.DecodeSRGB(c[1]/255), lab.DecodeSRGB(c[2]/255))
}

// scene draws a picture pixel by pixel.
type scene func(x, y int) rgb

// shoot renders a scene as a camera would: noise of the given standard
// deviation in encoded steps of 8 bits, clipped.
func shoot(w, h int, s scene, noise float64) *frame {
	r := rand.New(rand.NewPCG(uint64(w), uint64(h)))
	var linear [256]float32
	for i := range linear {
		linear[i] = float32(lab.DecodeSRGB(float64(i) / 255))
	}
	f := newFrame(w, h)
	for y := range h {
		for x := range w {
			c := s(x, y)
			for i, v := range c {
				f.pix[3*(y*w+x)+i] = linear[int(min(max(math.Round(v+noise*r.NormFloat64()), 0), 255))]
			}
		}
	}
	return f
}

// hills is a landscape: sky, far hills, a field, each with a gradient.
func hills(w, h int) scene {
	return func(x, y int) rgb {
		u, v := float64(x)/float64(w), float64(y)/float64(h)
		switch {
		case v > 0.62+0.04*math.Sin(9*u+1):
			return rgb{70 + 30*v, 100 + 30*v, 50}
		case v > 0.45+0.05*math.Sin(6*u):
			return rgb{90, 100, 120}
		}
		return rgb{150 + 60*v, 180 + 50*v, 220 + 20*v}
	}
}

// with puts discs of a radius in pixels on a scene.
func (s scene) with(c rgb, radius float64, centres ...[2]float64) scene {
	return func(x, y int) rgb {
		for _, p := range centres {
			if math.Hypot(float64(x)-p[0], float64(y)-p[1]) <= radius {
				return c
			}
		}
		return s(x, y)
	}
}

func flat(c rgb) scene { return func(int, int) rgb { return c } }

// peppered replaces a share of a scene's pixels by extreme ones.
func (s scene) peppered(share float64) scene {
	r := rand.New(rand.NewPCG(5, 6))
	return func(x, y int) rgb {
		if r.Float64() < share {
			return rgb{255 * float64(r.IntN(2)), 255 * float64(r.IntN(2)), 255 * float64(r.IntN(2))}
		}
		return s(x, y)
	}
}

func analyze(t testing.TB, src Source, o Options) *Analysis {
	t.Helper()
	a, err := Analyze(context.Background(), src, o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func (a *Analysis) accentMasses() (list []Mass) {
	for _, m := range a.Masses {
		if m.Accent {
			list = append(list, m)
		}
	}
	return list
}

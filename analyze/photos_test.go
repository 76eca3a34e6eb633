package analyze

import (
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"paintout/analyze/lab"
)

// jpegSource reads an sRGB JPEG as linear light.
type jpegSource struct {
	*image.YCbCr
	linear [256]float32
}

func (s *jpegSource) Size() (int, int) { return s.Rect.Dx(), s.Rect.Dy() }

func (s *jpegSource) Row(y int, dst []float32) {
	for x := range s.Rect.Dx() {
		yi, ci := s.YOffset(x, y), s.COffset(x, y)
		r, g, b := color.YCbCrToRGB(s.Y[yi], s.Cb[ci], s.Cr[ci])
		dst[3*x], dst[3*x+1], dst[3*x+2] = s.linear[r], s.linear[g], s.linear[b]
	}
}

// photos are the real landscapes that lie beside the project, if they do.
func photos(t testing.TB) map[string]*jpegSource {
	t.Helper()
	names := photoNames()
	if len(names) == 0 {
		t.Skip("no shared/photos beside the project; the comparison on real photos is left out")
	}
	decoded.Do(func() {
		for _, name := range names {
			decodedPhotos[filepath.Base(name)] = openJPEG(t, name)
		}
	})
	return decodedPhotos
}

var (
	decoded       sync.Once
	decodedPhotos = map[string]*jpegSource{}
)

func photoNames() []string {
	dir, err := os.Getwd()
	for err == nil {
		if names, _ := filepath.Glob(filepath.Join(dir, "shared", "photos", "*.jpg")); len(names) > 0 {
			return names
		}
		if dir == filepath.Dir(dir) {
			break
		}
		dir = filepath.Dir(dir)
	}
	return nil
}

func openJPEG(t testing.TB, name string) *jpegSource {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := jpeg.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	s := &jpegSource{YCbCr: img.(*image.YCbCr)}
	for i := range s.linear {
		s.linear[i] = float32(lab.DecodeSRGB(float64(i) / 255))
	}
	return s
}

// sampled takes about n pixels of a picture evenly, as CIELAB.
func sampled(src Source, n int) []lab.Lab {
	w, h := src.Size()
	row := make([]float32, 3*w)
	step := max(1, int(math.Sqrt(float64(w)*float64(h)/float64(n))))
	var list []lab.Lab
	for y := step / 2; y < h; y += step {
		src.Row(y, row)
		for x := step / 2; x < w; x += step {
			list = append(list, lab.FromLinear(float64(row[3*x]), float64(row[3*x+1]), float64(row[3*x+2])))
		}
	}
	return list
}

// plainKMeans is the reference: Lloyd's k-means on pixels in CIELAB, the best
// of several starts by greedy k-means++ (D. Arthur & S. Vassilvitskii, SODA
// 2007). It gives the mean and 99th percentile ΔE00 of the pixels against
// their centres.
func plainKMeans(px []lab.Lab, k, starts int) Fit {
	square := func(p, q lab.Lab) float64 {
		l, a, b := p.L-q.L, p.A-q.A, p.B-q.B
		return l*l + a*a + b*b
	}
	least := math.Inf(1)
	var best []lab.Lab
	for start := range starts {
		r := rand.New(rand.NewPCG(11, uint64(start)))
		c := []lab.Lab{px[r.IntN(len(px))]}
		d := make([]float64, len(px))
		for i := range d {
			d[i] = square(px[i], c[0])
		}
		for len(c) < k {
			var total float64
			for _, v := range d {
				total += v
			}
			bestSum, pick := math.Inf(1), 0
			for range 2 + int(math.Log(float64(k))) {
				x, at := r.Float64()*total, 0
				for at < len(px)-1 && x > d[at] {
					x -= d[at]
					at++
				}
				var sum float64
				for i, v := range d {
					sum += min(v, square(px[i], px[at]))
				}
				if sum < bestSum {
					bestSum, pick = sum, at
				}
			}
			c = append(c, px[pick])
			for i := range d {
				d[i] = min(d[i], square(px[i], px[pick]))
			}
		}
		before := math.Inf(1)
		for range 100 {
			sums := make([]lab.Lab, k)
			n := make([]float64, k)
			var cost float64
			for _, p := range px {
				j, near := 0, math.Inf(1)
				for i := range c {
					if s := square(p, c[i]); s < near {
						j, near = i, s
					}
				}
				cost += near
				n[j]++
				sums[j].L += p.L
				sums[j].A += p.A
				sums[j].B += p.B
			}
			for i := range c {
				if n[i] > 0 {
					c[i] = lab.Lab{L: sums[i].L / n[i], A: sums[i].A / n[i], B: sums[i].B / n[i]}
				}
			}
			if cost > before*(1-1e-4) {
				break
			}
			before = cost
		}
		if before < least {
			least, best = before, c
		}
	}
	return against(px, best, square)
}

// against measures pixels against the nearest of the given colours, nearest by
// the given distance.
func against(px, colours []lab.Lab, distance func(p, q lab.Lab) float64) (f Fit) {
	share := make([]int, 20000)
	for _, p := range px {
		j, near := 0, math.Inf(1)
		for i, c := range colours {
			if d := distance(p, c); d < near {
				j, near = i, d
			}
		}
		d := lab.DE00(p, colours[j])
		f.Mean += d / float64(len(px))
		share[int(100*d)]++
	}
	for below := 0; float64(below) < 0.99*float64(len(px)); f.P99 += 0.01 {
		below += share[int(100*f.P99+0.5)]
	}
	return f
}

// On real photos the masses must fit nearly as well as k-means that has
// neither to nest, nor to keep slots for accents, nor to average in linear
// light: within 1.1 times its mean ΔE00 without accents, within 1.2 with them,
// at 12 masses. With -v other numbers are logged too.
func TestAgainstPlainKMeans(t *testing.T) {
	for name, src := range photos(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			px := sampled(src, 20000)
			with := analyze(t, src, Options{})
			t.Logf("own number %d, of them accents %d", len(with.Masses), len(with.accentMasses()))
			for _, k := range []int{6, 8, 12, 18} {
				if k != 12 && !testing.Verbose() {
					continue
				}
				ref := plainKMeans(px, k, 3)
				for _, accents := range []bool{false, true} {
					a := with.WithAccents(k, accents)
					colours := make([]lab.Lab, len(a.Masses))
					for i, m := range a.Masses {
						colours[i] = m.Lab
					}
					nearest := against(px, colours, lab.DE76)
					t.Logf("%2d masses, accents %-5v mean %.2f (%.3f of plain), p99 %.1f (%.2f); against the nearest mass %.3f",
						k, accents, a.Fit.Mean, a.Fit.Mean/ref.Mean, a.Fit.P99, a.Fit.P99/ref.P99, nearest.Mean/ref.Mean)
					limit := 1.1
					if accents {
						limit = 1.2
					}
					if worst := max(a.Fit.Mean, nearest.Mean) / ref.Mean; k == 12 && worst > limit {
						t.Errorf("%d masses, accents %v: %.3f times plain k-means, limit %.1f", k, accents, worst, limit)
					}
				}
			}
		})
	}
}

func TestPhotosNest(t *testing.T) {
	src := photos(t)["life.jpg"] // the one with most accents; scenes cover the rest
	if src == nil {
		t.Skip("no life.jpg among the photos beside the project")
	}
	a := analyze(t, src, Options{K: KMin, MaskSide: 256})
	for k := KMin; k < KMax; k++ {
		a = nests(t, a, k)
	}
}

// The demonstration photo was rendered with a red boat and yellow gorse in it.
func TestDemonstrationPhoto(t *testing.T) {
	const name = "../testdata/marrow-sound.jpg"
	if _, err := os.Stat(name); err != nil {
		t.Skip("the demonstration photo has not been rendered")
	}
	a := analyze(t, openJPEG(t, name), Options{K: 12})
	var red, yellow bool
	for _, m := range a.accentMasses() {
		c := m.Lab.LCh()
		red = red || (c.C > 35 && c.H > 20 && c.H < 60)
		yellow = yellow || (c.C > 35 && c.H > 75 && c.H < 105)
		t.Logf("accent %s, %.2f %% of the picture", m.Lab.Hex(), 100*m.Share)
	}
	if !red || !yellow {
		t.Errorf("red boat found %v, yellow gorse found %v", red, yellow)
	}
	if n := len(a.WithK(0).Masses); n < 6 || n > 16 {
		t.Errorf("left to itself the picture has %d masses", n)
	}
}

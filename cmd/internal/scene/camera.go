package scene

import (
	"image"
	"math"

	"paintout/analyze/lab"
)

const (
	exposure   = 0.96   // linear sensor signal for radiance 1
	saturation = 2.30   // sensor signal at which a photosite is full
	fullWell   = 7000.0 // electrons of a green photosite at signal 1
	readNoise  = 5.0    // electrons, root mean square
)

// siteGain is the share of a green photosite's electrons that red and blue
// sites collect for the same balanced signal.
var siteGain = [3]float64{0.55, 1, 0.65}

// develop turns the film into the photo: lens, sensor, raw conversion, tone.
func develop(fm *film, salt uint32) *image.RGBA {
	w, h := fm.w/oversample, fm.h/oversample
	glare := fm.glare()
	fm.soften()
	raw := make([]float32, w*h)
	// Lens: colours are magnified slightly unlike; corners get less light.
	magnify := [3]float64{1.00035, 1, 0.99970}
	mx, my := float64(w)/2, float64(h)/2
	parallel(h, func(y int) {
		for x := range w {
			ch := bayer(x, y)
			dx, dy := float64(x)+0.5-mx, float64(y)+0.5-my
			m := magnify[ch] * oversample
			v := fm.sample(ch, mx*oversample+dx*m, my*oversample+dy*m)
			v = 0.982*v + 0.018*glare.sample(ch, float64(x)+0.5, float64(y)+0.5)
			r2 := (dx*dx + dy*dy) / (mx*mx + my*my)
			v *= exposure * (1 - 0.30*r2 + 0.04*r2*r2)
			d := dice(hash2(int32(x), int32(y), salt+950))
			raw[y*w+x] = float32(expose(v, ch, &d))
		}
	})
	lin := demosaic(raw, w, h)
	return finish(lin, w, h)
}

// expose reads one photosite of filter colour ch: a signal v with shot noise
// (the electrons' own count, Poisson taken as normal) and read noise, cut off
// where the site is full.
func expose(v float64, ch int, d *dice) float64 {
	full := fullWell * siteGain[ch]
	e := max(v, 0) * full
	e += math.Sqrt(e+readNoise*readNoise) * d.normal()
	return min(e/full, saturation)
}

// bayer is the colour of the filter over a photosite, RGGB.
func bayer(x, y int) int { return x&1 + y&1 }

// soften is the lens's blur: a Gaussian of about 0.62 pixels.
func (fm *film) soften() {
	const sigma = 0.62 * oversample
	var k [7]float32
	sum := float32(0)
	for i := range k {
		k[i] = float32(math.Exp(-sq(float64(i)-3) / (2 * sigma * sigma)))
		sum += k[i]
	}
	for i := range k {
		k[i] /= sum
	}
	parallel(fm.h, func(y int) {
		row := fm.pix[3*y*fm.w : 3*(y+1)*fm.w]
		src := append([]float32(nil), row...)
		for x := range fm.w {
			for c := range 3 {
				v := float32(0)
				for i := range k {
					v += k[i] * src[3*min(max(x+i-3, 0), fm.w-1)+c]
				}
				row[3*x+c] = v
			}
		}
	})
	parallel(fm.w, func(x int) {
		src := make([]float32, 3*fm.h)
		for y := range fm.h {
			copy(src[3*y:3*y+3], fm.pix[3*(y*fm.w+x):])
		}
		for y := range fm.h {
			for c := range 3 {
				v := float32(0)
				for i := range k {
					v += k[i] * src[3*min(max(y+i-3, 0), fm.h-1)+c]
				}
				fm.pix[3*(y*fm.w+x)+c] = v
			}
		}
	})
}

// sample reads one channel between samples.
func (fm *film) sample(ch int, x, y float64) float64 {
	x = clamp(x-0.5, 0, float64(fm.w)-1.001)
	y = clamp(y-0.5, 0, float64(fm.h)-1.001)
	i, j := int(x), int(y)
	u, v := float32(x-float64(i)), float32(y-float64(j))
	p := 3*(j*fm.w+i) + ch
	q := p + 3*fm.w
	a := fm.pix[p] + (fm.pix[p+3]-fm.pix[p])*u
	b := fm.pix[q] + (fm.pix[q+3]-fm.pix[q])*u
	return float64(a + (b-a)*v)
}

// veilGlare is the light the lens scatters widely: the picture, very small.
type veilGlare struct {
	w, h int
	cell float64 // pixels
	pix  []float32
}

func (fm *film) glare() *veilGlare {
	cell := max(fm.w/oversample/24, 4)
	g := &veilGlare{cell: float64(cell)}
	g.w, g.h = fm.w/oversample/cell+1, fm.h/oversample/cell+1
	g.pix = make([]float32, 3*g.w*g.h)
	count := make([]float32, g.w*g.h)
	for y := 0; y < fm.h; y += 2 {
		for x := 0; x < fm.w; x += 2 {
			k := y/oversample/cell*g.w + x/oversample/cell
			for c := range 3 {
				g.pix[3*k+c] += fm.pix[3*(y*fm.w+x)+c]
			}
			count[k]++
		}
	}
	for k, n := range count {
		for c := range 3 {
			g.pix[3*k+c] /= max(n, 1)
		}
	}
	for range 3 { // spread
		src := append([]float32(nil), g.pix...)
		for y := range g.h {
			for x := range g.w {
				for c := range 3 {
					var v float32
					for j := -1; j <= 1; j++ {
						for i := -1; i <= 1; i++ {
							v += src[3*(min(max(y+j, 0), g.h-1)*g.w+min(max(x+i, 0), g.w-1))+c]
						}
					}
					g.pix[3*(y*g.w+x)+c] = v / 9
				}
			}
		}
	}
	return g
}

func (g *veilGlare) sample(ch int, x, y float64) float64 {
	fx := clamp(x/g.cell-0.5, 0, float64(g.w)-1.001)
	fy := clamp(y/g.cell-0.5, 0, float64(g.h)-1.001)
	i, j := int(fx), int(fy)
	u, v := float32(fx-float64(i)), float32(fy-float64(j))
	p := 3*(j*g.w+i) + ch
	q := p + 3*g.w
	a := g.pix[p] + (g.pix[p+3]-g.pix[p])*u
	b := g.pix[q] + (g.pix[q+3]-g.pix[q])*u
	return float64(a + (b-a)*v)
}

// demosaic fills in the two colours each photosite lacks: green first, along
// the direction in which the picture changes less (adaptive colour plane
// interpolation, Hamilton & Adams, US patent 5,629,734, 1997), then the
// differences of red and blue from green, which vary slowly.
func demosaic(raw []float32, w, h int) []float32 {
	// Mirroring at the border keeps each site's filter colour.
	col := func(x int) int { return mirrored(x, w) }
	at := func(x, y int) float32 { return raw[mirrored(y, h)*w+col(x)] }
	green := make([]float32, w*h)
	parallel(h, func(y int) {
		for x := range w {
			c := at(x, y)
			if bayer(x, y) == 1 {
				green[y*w+x] = c
				continue
			}
			l, r, u, d := at(x-1, y), at(x+1, y), at(x, y-1), at(x, y+1)
			bendH, bendV := 2*c-at(x-2, y)-at(x+2, y), 2*c-at(x, y-2)-at(x, y+2)
			gradH, gradV := abs32(l-r)+abs32(bendH), abs32(u-d)+abs32(bendV)
			alongH, alongV := (l+r)/2+bendH/4, (u+d)/2+bendV/4
			switch {
			case gradH < gradV:
				green[y*w+x] = alongH
			case gradV < gradH:
				green[y*w+x] = alongV
			default:
				green[y*w+x] = (alongH + alongV) / 2
			}
		}
	})
	diff := func(x, y int) float32 {
		k := mirrored(y, h)*w + col(x)
		return raw[k] - green[k]
	}
	out := make([]float32, 3*w*h)
	parallel(h, func(y int) {
		for x := range w {
			g := green[y*w+x]
			o := out[3*(y*w+x):]
			o[1] = g
			ch := bayer(x, y)
			if ch != 1 {
				o[ch] = raw[y*w+x]
				o[2-ch] = g + (diff(x-1, y-1)+diff(x+1, y-1)+diff(x-1, y+1)+diff(x+1, y+1))/4
				continue
			}
			beside := g + (diff(x-1, y)+diff(x+1, y))/2
			above := g + (diff(x, y-1)+diff(x, y+1))/2
			if y&1 == 0 { // red beside, blue above and below
				o[0], o[2] = beside, above
			} else {
				o[0], o[2] = above, beside
			}
		}
	})
	return out
}

func mirrored(i, n int) int {
	if i < 0 {
		return -i
	}
	if i >= n {
		return 2*n - 2 - i
	}
	return i
}

func abs32(v float32) float32 { return max(v, -v) }

// finish is the camera's rendering: a little more colour, a tone curve with a
// soft shoulder, sRGB coding, light sharpening.
func finish(lin []float32, w, h int) *image.RGBA {
	im := image.NewRGBA(image.Rect(0, 0, w, h))
	enc := make([]float32, 3*w*h)
	luma := make([]float32, w*h)
	parallel(h, func(y int) {
		for x := range w {
			k := y*w + x
			r, g, b := float64(lin[3*k]), float64(lin[3*k+1]), float64(lin[3*k+2])
			grey := 0.2126*r + 0.7152*g + 0.0722*b
			const more = 1.10
			r, g, b = grey+(r-grey)*more, grey+(g-grey)*more, grey+(b-grey)*more
			for c, v := range [3]float64{r, g, b} {
				enc[3*k+c] = float32(lab.EncodeSRGB(tone(v)))
			}
			luma[k] = 0.299*enc[3*k] + 0.587*enc[3*k+1] + 0.114*enc[3*k+2]
		}
	})
	parallel(h, func(y int) {
		for x := range w {
			k := y*w + x
			var sum float32
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					wt := float32((2 - dx*dx) * (2 - dy*dy))
					sum += wt * luma[min(max(y+dy, 0), h-1)*w+min(max(x+dx, 0), w-1)]
				}
			}
			add := 0.40 * (luma[k] - sum/16)
			p := im.Pix[im.PixOffset(x, y):]
			for c := range 3 {
				p[c] = uint8(clamp(float64(enc[3*k+c]+add), 0, 1)*255 + 0.5)
			}
			p[3] = 255
		}
	})
	return im
}

// tone keeps the lower half of the range nearly straight, deepens the darkest
// tones a little and rolls the highlights off toward saturation.
func tone(v float64) float64 {
	v = max(v, 0)
	v *= (v + 0.010) / (v + 0.022) * 1.06
	const knee = 0.42
	if v <= knee {
		return v
	}
	t := (v - knee) / (1 - knee)
	return knee + (1-knee)*(1-math.Exp(-t*1.02))
}

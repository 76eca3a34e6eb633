// Package cardphoto renders photographs of swatch cards as a phone takes them,
// from the reflectances of what lies on the card: light, lens, sensor, the
// camera's own colours and tone curve, noise and JPEG. Tests use it, since the
// true colour of every swatch is known.
package cardphoto

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"

	"paintout/analyze/card"
	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Patch is a rectangle on the card, millimetres from its top left corner.
type Patch struct {
	X, Y, W, H  float64
	Reflectance optics.Spectrum
	Dab         bool    // a knife's dab with a ragged outline and streaks, not a ruled rectangle
	Shine       float64 // light of a small highlight near its middle, as a share of white
}

// Scene is a card in a light.
type Scene struct {
	W, H    float64         // mm
	Paper   optics.Spectrum // of the card
	Table   optics.Spectrum // around it
	Patches []Patch
	Light   optics.Spectrum // relative power
	// FallX and FallY are how the light falls off across the card's width and
	// height, natural logarithm; Bow adds their square.
	FallX, FallY, Bow float64
	// Tinge is how each channel's light changes across the card's width beside
	// the others, natural logarithm, as by a lamp at one side.
	Tinge [3]float64
	// Shadow darkens everything right of so many mm by the factor ShadowBy;
	// none where ShadowBy is 0.
	Shadow, ShadowBy float64
}

// Camera is a phone and how it is held.
type Camera struct {
	Sensitivity [3]optics.Spectrum
	W, H        int           // pixels
	Corners     [4][2]float64 // where the card's corners come, in shares of the picture: top left, top right, bottom right, bottom left
	Exposure    float64       // signal of the perfect diffuser, full scale 1
	Cast        [3]float64    // error of the camera's own white balance, factors; 0 means 1
	Saturation  float64       // 1: none added
	Curve       float64       // 0: sRGB's; 1: a strong S
	Vignette    float64       // loss of light in the corners of the picture
	Veil        float64       // share of the mean light spread over the picture
	Noise       float64       // of a pixel at full scale, standard deviation
	Quality     int           // of the JPEG; 0: 92
	Salt        uint64
}

// Bell is a curve over wavelength with a peak and unlike flanks, nm.
func Bell(peak, left, right float64) (s optics.Spectrum) {
	for i := range s {
		d := float64(optics.Wavelength(i)) - peak
		w := right
		if d < 0 {
			w = left
		}
		s[i] = math.Exp(-d * d / (2 * w * w))
	}
	return s
}

// Planck is the relative power of a black body, temperature in kelvin.
func Planck(t float64) (s optics.Spectrum) {
	for i := range s {
		l := float64(optics.Wavelength(i)) * 1e-9
		s[i] = math.Pow(560e-9/l, 5) * (math.Exp(0.0143877/(560e-9*t)) - 1) / (math.Exp(0.0143877/(l*t)) - 1)
	}
	return s
}

// LED is a white diode: a blue peak and a broad phosphor.
func LED(blue float64) optics.Spectrum {
	s, b := Bell(575, 48, 62), Bell(452, 10, 12)
	for i := range s {
		s[i] += blue * b[i]
	}
	return s
}

// Phones are three sensors after the general shape that published surveys of
// phone cameras show (peaks near 600, 530 and 460 nm; from memory).
var Phones = [3][3]optics.Spectrum{
	{plus(Bell(600, 34, 42), 0.06, Bell(440, 25, 25)), plus(Bell(533, 40, 42), 0.05, Bell(620, 40, 40)), Bell(460, 28, 30)},
	{plus(Bell(608, 28, 36), 0.10, Bell(530, 40, 30)), plus(Bell(540, 38, 36), 0.10, Bell(470, 30, 25)), plus(Bell(465, 25, 26), 0.06, Bell(540, 30, 30))},
	{plus(Bell(592, 38, 46), 0.03, Bell(450, 20, 20)), Bell(525, 46, 46), plus(Bell(453, 30, 34), 0.03, Bell(600, 40, 40))},
}

func plus(a optics.Spectrum, f float64, b optics.Spectrum) optics.Spectrum {
	for i := range a {
		a[i] += f * b[i]
	}
	return a
}

// Chart lays the 24-patch chart out on black with its upper left corner at x,
// y; pitch is from patch to patch, mm.
func Chart(x, y, pitch float64) []Patch {
	gap := 0.14 * pitch
	out := []Patch{{X: x, Y: y, W: 6*pitch + gap, H: 4*pitch + gap, Reflectance: optics.Flat(0.045)}}
	for i, p := range card.Reference {
		out = append(out, Patch{
			X: x + gap + float64(i%6)*pitch, Y: y + gap + float64(i/6)*pitch,
			W: pitch - gap, H: pitch - gap, Reflectance: p.Reflectance,
		})
	}
	return out
}

// Middle is where the middle of a place on the card, mm, comes in the picture.
func (c *Camera) Middle(s *Scene, x, y float64) (px, py float64) {
	m := c.toPicture(s)
	return project(m, x, y)
}

func (c *Camera) toPicture(s *Scene) [9]float64 {
	var to [4][2]float64
	for i, q := range c.Corners {
		to[i] = [2]float64{q[0] * float64(c.W), q[1] * float64(c.H)}
	}
	return card.Homography([4][2]float64{{0, 0}, {s.W, 0}, {s.W, s.H}, {0, s.H}}, to)
}

func project(m [9]float64, x, y float64) (float64, float64) {
	w := m[6]*x + m[7]*y + m[8]
	return (m[0]*x + m[1]*y + m[2]) / w, (m[3]*x + m[4]*y + m[5]) / w
}

// Photo takes the picture, as JPEG.
func (c *Camera) Photo(s *Scene) []byte {
	raw := c.raw(s)
	ccm := c.colours(s)
	img := image.NewRGBA(image.Rect(0, 0, c.W, c.H))
	rng := rand.New(rand.NewPCG(c.Salt, 7))
	for i := 0; i < c.W*c.H; i++ {
		var v [3]float64
		for k := range v {
			x := raw[3*i+k]
			x += c.Noise * math.Sqrt(max(x, 0)+0.01) * rng.NormFloat64()
			v[k] = min(x, 1)
		}
		for k := range 3 {
			e := 0.0
			for j := range 3 {
				e += ccm[k][j] * v[j]
			}
			img.Pix[4*i+k] = uint8(255*c.toned(e) + 0.5)
		}
		img.Pix[4*i+3] = 255
	}
	q := c.Quality
	if q == 0 {
		q = 92
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: q}); err != nil {
		panic("cardphoto: " + err.Error()) // writing to memory cannot fail
	}
	return b.Bytes()
}

// toned is light as the camera encodes it, 0 to 1.
func (c *Camera) toned(light float64) float64 {
	e := lab.EncodeSRGB(min(max(light, 0), 1))
	e += c.Curve * (0.45*(e*e*(3-2*e)-e) + 0.12*e*(1-e))
	return min(max(e, 0), 1)
}

// signal is what the sensor makes of a reflectance, the perfect diffuser
// giving 1 in each channel before the camera's error of balance.
func (c *Camera) signal(s *Scene, r *optics.Spectrum) (v [3]float64) {
	for k := range v {
		white := 0.0
		for i := range r {
			w := s.Light[i] * c.Sensitivity[k][i]
			v[k] += w * r[i]
			white += w
		}
		v[k] /= white
	}
	return v
}

// colours is the matrix that the maker of the camera would fit: from balanced
// signals to linear sRGB over the chart, greys kept, saturation added.
func (c *Camera) colours(s *Scene) (m [3][3]float64) {
	// Least squares on r−g and b−g, so that greys stay grey.
	for k := range 3 {
		var a [2][2]float64
		var y [2]float64
		for _, p := range card.Reference {
			r := optics.Spectrum(p.Reflectance)
			v := c.signal(s, &r)
			var t [3]float64
			t[0], t[1], t[2] = r.Lab(optics.D65).Linear()
			u := [2]float64{v[0] - v[1], v[2] - v[1]}
			for i := range 2 {
				for j := range 2 {
					a[i][j] += u[i] * u[j]
				}
				y[i] += u[i] * (t[k] - v[1])
			}
		}
		det := a[0][0]*a[1][1] - a[0][1]*a[1][0]
		p, q := (y[0]*a[1][1]-y[1]*a[0][1])/det, (y[1]*a[0][0]-y[0]*a[1][0])/det
		m[k] = [3]float64{p, 1 - p - q, q}
	}
	luma := [3]float64{0.2126, 0.7152, 0.0722}
	var out [3][3]float64
	for j := range 3 {
		grey := 0.0
		for k := range 3 {
			grey += luma[k] * m[k][j]
		}
		for k := range 3 {
			out[k][j] = grey + c.Saturation*(m[k][j]-grey)
		}
	}
	return out
}

// light is each channel's light at a place of the picture.
func (c *Camera) light(s *Scene, back [9]float64, px, py float64) (l [3]float64) {
	x, y := project(back, px, py)
	u, w := x/s.W-0.5, y/s.H-0.5
	all := math.Exp(s.FallX*u + s.FallY*w - s.Bow*(u*u+w*w))
	if s.ShadowBy > 0 && x > s.Shadow {
		all *= s.ShadowBy
	}
	cx, cy := 2*px/float64(c.W)-1, 2*py/float64(c.H)-1
	all *= 1 - c.Vignette*(cx*cx+cy*cy)/2
	for k := range l {
		if l[k] = all; s.Tinge[k] != 0 {
			l[k] *= math.Exp(s.Tinge[k] * u)
		}
	}
	return l
}

// patch is the topmost patch at a place of the card, −1 for bare paper. The one
// that was hit before is tried first, but for the first of all, the chart's
// frame, on which others lie.
func (s *Scene) patch(x, y float64, last int) int {
	if last > 0 && s.Patches[last].covers(x, y) {
		return last
	}
	for i := len(s.Patches) - 1; i >= 0; i-- {
		if s.Patches[i].covers(x, y) {
			return i
		}
	}
	return -1
}

// covers says whether a place has the patch's paint.
func (p *Patch) covers(x, y float64) bool {
	if x < p.X || y < p.Y || x >= p.X+p.W || y >= p.Y+p.H {
		return false
	}
	if !p.Dab {
		return true
	}
	u, v := 2*(x-p.X)/p.W-1, 2*(y-p.Y)/p.H-1
	a := math.Atan2(v, u)
	r := 0.86 + 0.07*math.Sin(3*a+p.X) + 0.05*math.Sin(7*a+p.Y)
	return u*u*u*u+v*v*v*v < r*r*r*r
}

// streak is how the knife's ridges change the light.
func (p *Patch) streak(x, y float64) float64 {
	if !p.Dab {
		return 1
	}
	return 1 + 0.03*math.Sin(4*y+0.5*math.Sin(2*x)+p.X)
}

// raw is the balanced signal of every pixel, a little blurred.
func (c *Camera) raw(s *Scene) []float64 {
	back := invert(c.toPicture(s))
	colours := [][3]float64{c.signal(s, &s.Table), c.signal(s, &s.Paper)}
	for i := range s.Patches {
		colours = append(colours, c.signal(s, &s.Patches[i].Reflectance))
	}
	cast := c.Cast
	for k := range cast {
		if cast[k] == 0 {
			cast[k] = 1
		}
	}
	out := make([]float64, 3*c.W*c.H)
	mean := [3]float64{}
	for py := range c.H {
		last := -1 // the patch that was hit before
		for px := range c.W {
			light := c.light(s, back, float64(px)+0.5, float64(py)+0.5)
			var v [3]float64
			for sub := range 4 {
				x, y := project(back, float64(px)+0.25+0.5*float64(sub&1), float64(py)+0.25+0.5*float64(sub>>1))
				at, shine, streak := 0, 0.0, 1.0
				if x >= 0 && y >= 0 && x < s.W && y < s.H {
					at = 1
					if last = s.patch(x, y, last); last >= 0 {
						p := &s.Patches[last]
						at, streak = last+2, p.streak(x, y)
						if p.Shine > 0 {
							dx, dy := (x-p.X-0.55*p.W)/(0.02*p.W), (y-p.Y-0.55*p.H)/(0.02*p.H)
							shine = p.Shine * math.Exp(-dx*dx-dy*dy)
						}
					}
				}
				for k := range v {
					v[k] += light[k] * (streak*colours[at][k] + shine) / 4
				}
			}
			for k := range v {
				x := c.Exposure * cast[k] * v[k]
				out[3*(py*c.W+px)+k] = x
				mean[k] += x / float64(c.W*c.H)
			}
		}
	}
	for i := range out {
		out[i] = (1-c.Veil)*out[i] + c.Veil*mean[i%3]
	}
	return blurred(out, c.W, c.H)
}

// blurred is the lens's and demosaicing's softness: the binomial 1, 2, 1.
func blurred(v []float64, w, h int) []float64 {
	pass := func(v []float64, step, n, rows, rowStep int) []float64 {
		out := make([]float64, len(v))
		for r := range rows {
			for i := range n {
				a, b := max(i-1, 0), min(i+1, n-1)
				for k := range 3 {
					at := func(i int) float64 { return v[3*(r*rowStep+i*step)+k] }
					out[3*(r*rowStep+i*step)+k] = (at(a) + 2*at(i) + at(b)) / 4
				}
			}
		}
		return out
	}
	return pass(pass(v, 1, w, h, w), w, h, w, 1)
}

func invert(m [9]float64) [9]float64 {
	return [9]float64{
		m[4]*m[8] - m[5]*m[7], m[2]*m[7] - m[1]*m[8], m[1]*m[5] - m[2]*m[4],
		m[5]*m[6] - m[3]*m[8], m[0]*m[8] - m[2]*m[6], m[2]*m[3] - m[0]*m[5],
		m[3]*m[7] - m[4]*m[6], m[1]*m[6] - m[0]*m[7], m[0]*m[4] - m[1]*m[3],
	}
}

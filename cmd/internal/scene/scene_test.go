package scene

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"

	"paintout/analyze/lab"
)

const committed = "../../../testdata/marrow-sound.jpg"

// small is one rendering that several tests look at.
var small = sync.OnceValue(func() *Picture {
	p, err := Render(450, 300, Salt)
	if err != nil {
		panic(err)
	}
	return p
})

func pixel(im *image.RGBA, i int) lab.Lab {
	return lab.FromSRGB8(im.Pix[4*i], im.Pix[4*i+1], im.Pix[4*i+2])
}

// mean is a region's colour averaged in linear light.
func mean(p *Picture, r Region) lab.Lab {
	var sum [3]float64
	n := 0.0
	for i, q := range p.Regions {
		if q != r {
			continue
		}
		for c := range sum {
			sum[c] += lab.DecodeSRGB(float64(p.Image.Pix[4*i+c]) / 255)
		}
		n++
	}
	return lab.FromLinear(sum[0]/n, sum[1]/n, sum[2]/n)
}

func encoded(t *testing.T, p *Picture) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Encode(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestSameBytesOnAnyNumberOfCores(t *testing.T) {
	draw := func(cores int) []byte {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		p, err := Render(96, 64, Salt)
		if err != nil {
			t.Fatal(err)
		}
		return encoded(t, p)
	}
	if !bytes.Equal(draw(1), draw(3)) {
		t.Error("one core and three gave different bytes")
	}
}

func TestTooSmall(t *testing.T) {
	for _, size := range []image.Point{{MinSize - 1, 100}, {100, 0}, {-5, -5}} {
		if p, err := Render(size.X, size.Y, Salt); err == nil || p != nil {
			t.Errorf("Render(%d, %d) = %v, %v; want an error", size.X, size.Y, p, err)
		}
	}
}

// Each ridge is lighter and bluer than the one before it, as air light demands.
func TestHazeByDistance(t *testing.T) {
	p := small()
	ridges := []Region{NearRidge, MiddleRidge, FarRidge, Skyline}
	for i := 1; i < len(ridges); i++ {
		a, b := mean(p, ridges[i-1]), mean(p, ridges[i])
		if b.L < a.L+2 {
			t.Errorf("L* of %v is %.1f, of %v %.1f: want at least 2 more", ridges[i-1], a.L, ridges[i], b.L)
		}
		if b.B > a.B-0.5 {
			t.Errorf("b* of %v is %.1f, of %v %.1f: want at least 0.5 less", ridges[i-1], a.B, ridges[i], b.B)
		}
	}
}

// The visual range is where a black object's contrast against the horizon has
// fallen to 0.02 (Koschmieder 1924).
func TestVisualRange(t *testing.T) {
	air := rgb{0.5, 0.6, 0.7}
	seen := veil(rgb{}, air, visualRange)
	if c := (air.g - seen.g) / air.g; math.Abs(c-0.02) > 1e-4 {
		t.Errorf("contrast at the visual range is %.5f, want 0.02", c)
	}
	if near := veil(rgb{0.1, 0.1, 0.1}, air, 0); near != (rgb{0.1, 0.1, 0.1}) {
		t.Errorf("no air changed the colour to %v", near)
	}
	// Small particles scatter blue most, so a dark hill turns blue.
	blue := veil(rgb{}, rgb{1, 1, 1}, 4000)
	if !(blue.b > blue.g && blue.g > blue.r) {
		t.Errorf("4 km of white air light over black gives %v, want b > g > r", blue)
	}
}

func TestAccentsAreSmallAndVivid(t *testing.T) {
	p := small()
	const vivid = 45 // C*
	total, elsewhere := float64(len(p.Regions)), 0.0
	count := map[Region]float64{}
	for i, r := range p.Regions {
		if c := pixel(p.Image, i); c.Chroma() > vivid {
			count[r]++
			if r != Boat && r != Gorse {
				elsewhere++
			}
		}
	}
	for _, r := range []Region{Boat, Gorse} {
		if share := count[r] / total; share < 0.0005 || share > 0.006 {
			t.Errorf("%.3f %% of the picture is %v above C* %d, want 0.05–0.6", 100*share, r, vivid)
		}
		if share := p.Share(r); share > 0.006 {
			t.Errorf("%v takes %.3f %% of the picture, want at most 0.6", r, 100*share)
		}
	}
	if most := 0.1 * (count[Boat] + count[Gorse]); elsewhere > most {
		t.Errorf("%.0f vivid pixels outside the accents, want at most %.0f", elsewhere, most)
	}
}

// The masses a landscape painter looks for are there, and nothing is lost at
// either end of the range.
func TestComposition(t *testing.T) {
	p := small()
	for _, w := range []struct {
		r      Region
		lo, hi float64
	}{
		{Sky, 0.25, 0.40}, {Meadow, 0.2, 0.4}, {Water, 0.04, 0.15}, {Flats, 0.05, 0.18},
		{Trees, 0.03, 0.12}, {Barn, 0.008, 0.03}, {Track, 0.01, 0.06},
		{NearRidge, 0.01, 0.05}, {MiddleRidge, 0.02, 0.08}, {FarRidge, 0.004, 0.03}, {Skyline, 0.004, 0.03},
	} {
		if s := p.Share(w.r); s < w.lo || s > w.hi {
			t.Errorf("%v takes %.3f of the picture, want %.3f–%.3f", w.r, s, w.lo, w.hi)
		}
	}
	sum := 0.0
	for _, r := range Regions() {
		sum += p.Share(r)
	}
	if math.Abs(sum-1) > 1e-9 {
		t.Errorf("shares add up to %v", sum)
	}
	lost := 0
	for i := 0; i < len(p.Image.Pix); i += 4 {
		q := p.Image.Pix[i : i+3]
		if q[0]+q[1]+q[2] == 0 || q[0] == 255 && q[1] == 255 && q[2] == 255 {
			lost++
		}
	}
	if share := float64(lost) / float64(len(p.Regions)); share > 0.01 {
		t.Errorf("%.2f %% of the pixels are pure black or white, want under 1", 100*share)
	}
	// Cool against warm: the sky is blue, the grass yellow-green and dull.
	if c := mean(p, Sky); c.B > -4 {
		t.Errorf("mean b* of the sky is %.1f, want below −4", c.B)
	}
	if c := mean(p, Meadow).LCh(); c.C < 15 || c.C > 35 || c.H < 90 || c.H > 130 {
		t.Errorf("mean of the meadow is C* %.1f, h %.0f: want 15–35 and 90–130", c.C, c.H)
	}
}

// Foliage is dull: C* from the low teens to 35 in even light.
func TestFoliageReflectance(t *testing.T) {
	for name, c := range map[string]rgb{
		"pasture": pasture, "meadow": meadowed, "rushes": rushes, "leafage": leafage, "marsh": marsh,
		"grass green": grassGreen, "grass blue": grassBlue, "grass olive": grassOlive, "needles": needles,
	} {
		v := lab.FromLinear(c.r, c.g, c.b).LCh()
		if v.C < 10 || v.C > 37 || v.L < 18 || v.L > 50 {
			t.Errorf("%s: L* %.0f C* %.0f, want L* 18–50 and C* 10–37", name, v.L, v.C)
		}
	}
}

// Shot noise has the variance of the mean count of electrons; read noise adds
// its own.
func TestSensorNoise(t *testing.T) {
	for ch := range 3 {
		for _, v := range []float64{0, 0.05, 0.8} {
			d := newDice(1, ch)
			const n = 40000
			var sum, squares float64
			full := fullWell * siteGain[ch]
			for range n {
				e := expose(v, ch, &d) * full
				sum += e
				squares += e * e
			}
			m := sum / n
			variance := squares/n - m*m
			want := v*full + readNoise*readNoise
			if math.Abs(m-v*full) > 4*math.Sqrt(want/n) {
				t.Errorf("channel %d at %.2f: mean %.2f electrons, want %.2f", ch, v, m, v*full)
			}
			if math.Abs(variance/want-1) > 0.04 {
				t.Errorf("channel %d at %.2f: variance %.1f electrons², want %.1f", ch, v, variance, want)
			}
		}
	}
	d := newDice(1, 9)
	if v := expose(50, 1, &d); v != saturation {
		t.Errorf("far too much light reads %v, want %v", v, saturation)
	}
}

// An even sky comes out grained, darker in the corners, and of the same colour.
func TestEvenField(t *testing.T) {
	fm := newFilm(120, 80, vec{})
	for i := range fm.depth {
		fm.tint(i, rgb{0.3, 0.4, 0.5})
	}
	im := develop(fm, 3)
	block := func(x0, y0 int) (m [3]float64, spread float64) {
		var s, s2 float64
		for y := y0; y < y0+12; y++ {
			for x := x0; x < x0+12; x++ {
				i := im.PixOffset(x, y)
				for c := range m {
					m[c] += lab.DecodeSRGB(float64(im.Pix[i+c])/255) / 144
				}
				g := float64(im.Pix[i+1])
				s += g / 144
				s2 += g * g / 144
			}
		}
		return m, math.Sqrt(s2 - s*s)
	}
	middle, grain := block(54, 34)
	corner, _ := block(0, 0)
	if fall := corner[1] / middle[1]; fall < 0.65 || fall > 0.90 {
		t.Errorf("the corner has %.2f of the middle's light, want 0.65–0.90", fall)
	}
	if grain < 0.5 || grain > 4 {
		t.Errorf("grain of %.2f levels, want 0.5–4", grain)
	}
	a, b := lab.FromLinear(middle[0], middle[1], middle[2]).LCh(), lab.FromLinear(0.3, 0.4, 0.5).LCh()
	if math.Abs(a.H-b.H) > 6 {
		t.Errorf("hue turned from %.0f° to %.0f°", b.H, a.H)
	}
}

func TestDemosaicKeepsAnEvenColour(t *testing.T) {
	const w, h = 10, 8
	raw := make([]float32, w*h)
	colour := [3]float32{0.2, 0.5, 0.8}
	for y := range h {
		for x := range w {
			raw[y*w+x] = colour[bayer(x, y)]
		}
	}
	for i, v := range demosaic(raw, w, h) {
		if d := v - colour[i%3]; d > 1e-6 || d < -1e-6 {
			t.Fatalf("pixel %d channel %d is %v, want %v", i/3, i%3, v, colour[i%3])
		}
	}
}

func TestToneRises(t *testing.T) {
	last := -1.0
	for v := 0.0; v <= saturation; v += 0.001 {
		y := tone(v)
		if y <= last || y > 1 {
			t.Fatalf("tone(%.3f) = %v after %v: want it to rise and stay within 1", v, y, last)
		}
		last = y
	}
	if tone(0) != 0 || tone(-1) != 0 {
		t.Error("black is not black")
	}
}

func TestCommittedPicture(t *testing.T) {
	stored, err := os.ReadFile(filepath.FromSlash(committed))
	if err != nil {
		t.Fatalf("%v: write it with go run ./cmd/demoscene -o testdata/marrow-sound.jpg", err)
	}
	if kb := len(stored) / 1000; kb < 300 || kb > 700 {
		t.Errorf("%d kB, want 300–700", kb)
	}
	im, err := jpeg.Decode(bytes.NewReader(stored))
	if err != nil {
		t.Fatal(err)
	}
	if im.Bounds() != image.Rect(0, 0, Width, Height) {
		t.Errorf("it measures %v, want %d×%d", im.Bounds(), Width, Height)
	}
	if y, ok := im.(*image.YCbCr); !ok || y.SubsampleRatio != image.YCbCrSubsampleRatio420 {
		t.Error("its colour is not stored at half resolution (4:2:0)")
	}
	if os.Getenv("PAINTOUT_FULL_SCENE") == "" {
		t.Skip("set PAINTOUT_FULL_SCENE=1 to render the full picture and compare its bytes (half a minute)")
	}
	p, err := Render(Width, Height, Salt)
	if err != nil {
		t.Fatal(err)
	}
	if fresh := encoded(t, p); !bytes.Equal(fresh, stored) {
		t.Errorf("the rendering differs from the stored picture: %s", difference(im, fresh))
	}
}

func difference(stored image.Image, fresh []byte) string {
	im, err := jpeg.Decode(bytes.NewReader(fresh))
	if err != nil {
		return err.Error()
	}
	a, b := stored.(*image.YCbCr), im.(*image.YCbCr)
	if len(a.Y) != len(b.Y) {
		return "another size"
	}
	n, most := 0, 0
	for i := range a.Y {
		if d := int(a.Y[i]) - int(b.Y[i]); d != 0 {
			n++
			most = max(most, d, -d)
		}
	}
	return fmt.Sprintf("%d of %d pixels in lightness, by up to %d levels", n, len(a.Y), most)
}

func TestRegionNames(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range Regions() {
		if s := r.String(); s == "" || seen[s] {
			t.Errorf("region %d is called %q", r, s)
		} else {
			seen[s] = true
		}
	}
	if s := Region(200).String(); s != "region 200" {
		t.Errorf("an unknown region is called %q", s)
	}
}

func BenchmarkRenderSmall(b *testing.B) {
	for b.Loop() {
		if _, err := Render(300, 200, Salt); err != nil {
			b.Fatal(err)
		}
	}
}

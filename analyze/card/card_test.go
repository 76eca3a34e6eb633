package card

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
)

// picture paints a 16-bit picture from linear light and opens it.
func picture(t testing.TB, w, h int, at func(x, y int) [3]float64) *photo.Photo {
	t.Helper()
	img := image.NewNRGBA64(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			v := at(x, y)
			var e [3]uint16
			for k := range e {
				e[k] = uint16(65535*lab.EncodeSRGB(min(max(v[k], 0), 1)) + 0.5)
			}
			img.SetNRGBA64(x, y, color.NRGBA64{R: e[0], G: e[1], B: e[2], A: 65535})
		}
	}
	var buf bytes.Buffer
	if err := png.Encode(&buf, img); err != nil {
		t.Fatal(err)
	}
	p, err := photo.Decode("card.png", buf.Bytes(), photo.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func place(t testing.TB, s string) photo.Point {
	t.Helper()
	p, err := photo.ParsePoint(s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// halves is a picture of two colours side by side.
func halves(t testing.TB, left, right [3]float64) *photo.Photo {
	return picture(t, 40, 20, func(x, _ int) [3]float64 {
		if x < 20 {
			return left
		}
		return right
	})
}

// A colour and a grey card under any light that scales cone responses, at any
// exposure, read as the colour itself: von Kries, exactly.
func TestSpotUndoesLightAndExposure(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		want := lab.Lab{L: rapid.Float64Range(30, 85).Draw(rt, "L"), A: rapid.Float64Range(-20, 20).Draw(rt, "a"), B: rapid.Float64Range(-20, 20).Draw(rt, "b")}
		light := lab.XYZ{X: rapid.Float64Range(80, 110).Draw(rt, "X"), Y: 100, Z: rapid.Float64Range(70, 125).Draw(rt, "Z")}
		gain := rapid.Float64Range(0.4, 1).Draw(rt, "gain")
		under := func(c lab.Lab) (v [3]float64) {
			x := lab.Adapt(c.XYZ(lab.D65), lab.D65, light)
			v[0], v[1], v[2] = lab.FromXYZ(x, lab.D65).Linear()
			for k := range v {
				v[k] *= gain * 0.8
			}
			return v
		}
		a, b := under(lab.FromXYZ(lab.XYZ{X: .18 * lab.D65.X, Y: 18, Z: .18 * lab.D65.Z}, lab.D65)), under(want)
		for _, v := range append(a[:], b[:]...) {
			if v < 0.001 || v > 0.98 {
				rt.Skip("outside what the picture can hold")
			}
		}
		r, err := Spot(halves(t, a, b), place(t, "75%,50%"), Grey{Place: place(t, "25%,50%")})
		if err != nil {
			rt.Fatal(err)
		}
		// 16 bits, and the four digits of the sRGB matrix.
		if d := lab.DE00(r.Lab, want); d > 0.1 {
			rt.Fatalf("%v came back as %v, %.2f away", want, r.Lab, d)
		}
		if len(r.Warnings) > 0 || !(r.Uncertainty >= 1 && r.Uncertainty < 10) {
			rt.Fatalf("uncertainty %v, warnings %q", r.Uncertainty, r.Warnings)
		}
	})
}

func TestSpotRefuses(t *testing.T) {
	grey := [3]float64{.18, .18, .18}
	for _, c := range []struct {
		name, spot, card, want string
		left, right            [3]float64
		reflectance            float64
	}{
		{"outside", "60,10", "25%,50%", "outside the picture", grey, grey, 0},
		{"burnt", "75%,50%", "25%,50%", "burnt out", grey, [3]float64{1, 1, 1}, 0},
		{"burnt card", "75%,50%", "25%,50%", "the grey card at 25%,50% is burnt out", [3]float64{1, 1, 1}, grey, 0},
		{"black", "75%,50%", "25%,50%", "more light", grey, [3]float64{}, 0},
		{"coloured card", "75%,50%", "25%,50%", "too strongly coloured", [3]float64{.5, .2, .02}, grey, 0},
		{"no card", "75%,50%", "25%,50%", "reflects 18", grey, grey, 18},
	} {
		_, err := Spot(halves(t, c.left, c.right), place(t, c.spot), Grey{Place: place(t, c.card), Reflectance: c.reflectance})
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "card.png: ") {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// What is wrong inside a place is named, and glare does not change the colour.
func TestSampleNamesFaults(t *testing.T) {
	base := [3]float64{.2, .1, .05}
	times := func(f float64) [3]float64 { return [3]float64{f * base[0], f * base[1], f * base[2]} }
	for _, c := range []struct {
		name, want string
		at         func(x, y int) [3]float64
		radius     int
		holds      bool // the colour is still base
	}{
		{"even", "", func(x, y int) [3]float64 { return base }, 12, true},
		{"small", "only 5 pixels", func(x, y int) [3]float64 { return base }, 1, true},
		{"shine", "shines in", func(x, y int) [3]float64 {
			if x > 20 && y > 20 {
				return [3]float64{.8, .8, .8}
			}
			return base
		}, 12, true},
		{"burnt", "partly burnt out", func(x, y int) [3]float64 {
			if x > 24 {
				return [3]float64{1, 1, 1}
			}
			return base
		}, 12, true},
		{"shadow", "sides differ by", func(x, y int) [3]float64 {
			if x+y > 42 {
				return times(0.8)
			}
			return base
		}, 12, false},
		{"marks", "not uniform", func(x, y int) [3]float64 { return times(1 + 0.4*math.Sin(float64(x+3*y))) }, 12, false},
		{"drowned", "stronger than the picture's colour space holds", func(x, y int) [3]float64 { return [3]float64{0, .1, .3} }, 12, false},
	} {
		p := picture(t, 40, 40, c.at)
		s := sample(p, 20, 20, c.radius)
		got := strings.Join(s.faults("it"), "; ")
		if c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
		for k := range base {
			if c.holds && math.Abs(s.Light[k]-base[k]) > 0.01*base[k] {
				t.Errorf("%s: light %v, want %v", c.name, s.Light, base)
			}
		}
	}
}

package card

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"encoding/csv"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
)

// shared is a file in the folder beside the project, or skips the test.
func shared(t testing.TB, name string) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for ; ; dir = filepath.Dir(dir) {
		path := filepath.Join(dir, "shared", name)
		if _, err := os.Stat(path); err == nil {
			return path
		}
		if dir == filepath.Dir(dir) {
			t.Skipf("no shared/%s beside the project", name)
		}
	}
}

// The chart's L*, a*, b* under D65 are the published ones (Ohta's
// measurements by ASTM E308, as the open colour-science library 0.4.6 has
// them; that library rounds its white point, hence the tolerance).
func TestReferencePublished(t *testing.T) {
	f, err := os.Open(shared(t, "data/reference/colorchecker24_ohta_xyz_lab_E308.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, r := range rows[1:] {
		if r[1] != "D65" {
			continue
		}
		var v [3]float64
		for k := range v {
			if v[k], err = strconv.ParseFloat(r[5+k], 64); err != nil {
				t.Fatal(err)
			}
		}
		got := Reference[n].Lab()
		if d := lab.DE76(got, lab.Lab{L: v[0], A: v[1], B: v[2]}); d > 0.05 || !strings.HasPrefix(r[0], Reference[n].Name) {
			t.Errorf("%s: %v, published %v, %.3f apart", r[0], got, v, d)
		}
		n++
	}
	if n != 24 {
		t.Errorf("%d patches", n)
	}
}

func TestHomography(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		near := func(x, y float64) [2]float64 {
			return [2]float64{x + rapid.Float64Range(-0.2, 0.2).Draw(rt, "dx"), y + rapid.Float64Range(-0.2, 0.2).Draw(rt, "dy")}
		}
		from := [4][2]float64{near(0, 0), near(1, 0), near(1, 1), near(0, 1)}
		to := [4][2]float64{near(0, 0), near(1, 0), near(1, 1), near(0, 1)}
		m := Homography(from, to)
		for i, p := range from {
			q, ok := through(&m, p)
			if e := minus(q, to[i]); !ok || math.Hypot(e[0], e[1]) > 1e-6 {
				rt.Fatalf("%v went to %v, not %v", p, q, to[i])
			}
		}
	})
}

// anyModel draws a model with a curve, a fall-off and either kind of colours.
func anyModel(rt *rapid.T) *model {
	m := &model{terms: rapid.SampledFrom([]int{3, 6}).Draw(rt, "terms"), span: 500, origin: [2]float64{300, 200}}
	for i := range 6 {
		m.knots = append(m.knots, -4+0.7*float64(i))
	}
	m.p = make([]float64, 5+gainTerms+1+3*m.terms)
	for i := range m.slopes() {
		m.slopes()[i] = rapid.Float64Range(-1.5, 1.5).Draw(rt, "slope")
	}
	for i := range m.gain() {
		m.gain()[i] = rapid.Float64Range(-0.5, 0.5).Draw(rt, "gain")
	}
	for k := range 3 {
		for j := range m.terms {
			m.colours()[k*m.terms+j] = rapid.Float64Range(0, 30).Draw(rt, "colour")
		}
	}
	return m
}

// More light in the file is always more light.
func TestCurveIsMonotone(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := anyModel(rt).curve()
		a := rapid.Float64Range(0.0002, 1.2).Draw(rt, "a")
		b := a * rapid.Float64Range(1.0001, 3).Draw(rt, "times")
		if !(c.log(b) > c.log(a)) {
			rt.Fatalf("light %v becomes e^%v, light %v e^%v", a, c.log(a), b, c.log(b))
		}
	})
}

// Twice the exposure is twice the tristimulus values, with roots as without:
// what root-polynomial colours are for (Finlayson, Mackiewicz & Hurlbert 2015).
func TestColoursKeepWithExposure(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		m := anyModel(rt)
		clear(m.slopes()) // the file's light is light
		c := m.curve()
		times := rapid.Float64Range(0.3, 3).Draw(rt, "times")
		var v, w [3]float64
		for k := range v {
			v[k] = rapid.Float64Range(0.01, 0.3).Draw(rt, "light")
			w[k] = times * v[k]
		}
		at := [2]float64{rapid.Float64Range(0, 600).Draw(rt, "x"), 100}
		a, b := m.colour(c, v, at).XYZ(lab.D65), m.colour(c, w, at).XYZ(lab.D65)
		for _, p := range [][2]float64{{a.X, b.X}, {a.Y, b.Y}, {a.Z, b.Z}} {
			if math.Abs(times*p[0]-p[1]) > 1e-6*(1+p[1]) {
				rt.Fatalf("%v times %v is not %v", times, a, b)
			}
		}
	})
}

// A chart taken by a camera that is exactly a model of either kind, curve and
// fall-off included, comes back exactly.
func TestFitFindsTheModel(t *testing.T) {
	for _, bend := range []float64{0, 0.25} {
		truth := &model{terms: 3, span: 500, origin: [2]float64{300, 200}}
		for i := range 6 {
			truth.knots = append(truth.knots, math.Log(Reference[23-i].XYZ.Y/100))
		}
		truth.p = make([]float64, 5+gainTerms+1+9)
		for i := range truth.slopes() {
			truth.slopes()[i] = bend * (float64(i) - 2) / 2
		}
		copy(truth.gain(), []float64{0.2, -0.1, -0.05, 0.02, 0.03})
		// From linear sRGB.
		copy(truth.colours(), sRGB.toXYZ.RawMatrix().Data)
		c := truth.curve()
		// unlog inverts the curve by halving.
		unlog := func(v float64) float64 {
			lo, hi := 1e-4, 4.0
			for range 60 {
				if mid := math.Sqrt(lo * hi); c.log(mid) < v {
					lo = mid
				} else {
					hi = mid
				}
			}
			return lo
		}
		var patches [24]chartPatch
		for i := range patches {
			p := &patches[i]
			p.at, p.weight, p.cut = [2]float64{200 + 40*float64(i%6), 140 + 40*float64(i/6)}, 1, -1
			x := Reference[i].XYZ
			r, g, b := lab.FromXYZ(x, lab.D65).Linear()
			for k, v := range [3]float64{r, g, b} {
				if v <= 0.002 {
					p.weight = 0 // not a colour that this camera can hold
				}
				p.light[k] = unlog(math.Log(max(v, 0.002)) + truth.falloff(p.at))
			}
		}
		e := newEvidence(patches, nil)
		s := e.best([2]float64{300, 200}, 500)
		if s == nil {
			t.Fatal("no fit")
		}
		for i, p := range patches {
			if p.weight > 0 && s.fitted[i] > 0.35 {
				t.Errorf("bend %g: %s comes back %.2f ΔE00 off", bend, Reference[i].Name, s.fitted[i])
			}
		}
		if bend == 0 && s.spread > 0.25 {
			t.Errorf("left-out patches miss by %.2f", s.spread)
		}
	}
}

// Light keeps its colour on its way into another space.
func TestSpaces(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var v [3]float64
		for k := range v {
			v[k] = rapid.Float64Range(-0.2, 1.2).Draw(rt, "light")
		}
		a := sRGB.xyz(v)
		// White differs in the fifth digit between IEC 61966-2-1 and CIE 15.
		if want := lab.FromLinear(v[0], v[1], v[2]); min(v[0], v[1], v[2]) > 0 && lab.DE76(lab.FromXYZ(a, lab.D65), want) > 0.1 {
			rt.Fatalf("%v is %v, not %v", v, lab.FromXYZ(a, lab.D65), want)
		}
		for _, s := range []*space{displayP3, adobeRGB} {
			b := s.xyz(s.light(v))
			if d := math.Abs(a.X-b.X) + math.Abs(a.Y-b.Y) + math.Abs(a.Z-b.Z); d > 1e-9 {
				rt.Fatalf("%v and %v", a, b)
			}
		}
	})
}

// A colour beyond sRGB in a picture that is not: nothing is cut off, and a grey
// card gives it as it is.
func TestSpotInWideSpace(t *testing.T) {
	want := [3]float64{0.02, 0.5, 0.05} // Display P3
	img := image.NewNRGBA64(image.Rect(0, 0, 40, 20))
	for y := range 20 {
		for x := range 40 {
			v := want
			if x < 20 {
				v = [3]float64{0.18, 0.18, 0.18}
			}
			c := color.NRGBA64{A: 65535}
			for k, to := range []*uint16{&c.R, &c.G, &c.B} {
				*to = uint16(65535*lab.EncodeSRGB(v[k]) + 0.5)
			}
			img.SetNRGBA64(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	// Chunk cICP (PNG third edition): primaries of Display P3, sRGB's curve.
	chunk := append([]byte("cICP"), 12, 13, 0, 1)
	chunk = binary.BigEndian.AppendUint32(append([]byte{0, 0, 0, 4}, chunk...), crc32.ChecksumIEEE(chunk))
	data := append(append(append([]byte{}, b.Bytes()[:33]...), chunk...), b.Bytes()[33:]...)
	p, err := photo.Decode("wide.png", data, photo.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if spaceOf(p) != displayP3 {
		t.Fatalf("profile %q", p.Profile)
	}
	r, err := Spot(p, place(t, "75%,50%"), Grey{Place: place(t, "25%,50%")})
	if err != nil {
		t.Fatal(err)
	}
	truth := lab.FromXYZ(displayP3.xyz(want), lab.D65)
	if d := lab.DE00(r.Lab, truth); d > 0.1 || len(r.Warnings) > 0 {
		t.Errorf("%v, want %v (%.2f apart); %q", r.Lab, truth, d, r.Warnings)
	}
}

// A shadow over a third of the paper is kept out of the fall-off.
func TestSoundPaper(t *testing.T) {
	pp := &paper{}
	for i := range 60 {
		x, y := float64(i%10)*60, float64(i/10)*60
		v := math.Exp(-0.3*x/600 + 0.1*y/360)
		if x >= 420 {
			v *= 0.6
		}
		pp.at, pp.light = append(pp.at, [2]float64{x, y}), append(pp.light, [3]float64{0.8 * v, 0.7 * v, 0.6 * v})
	}
	s := pp.sound(300)
	if s == nil || len(s.at) != 42 {
		t.Fatalf("%+v", s)
	}
	for _, at := range s.at {
		if at[0] >= 420 {
			t.Errorf("%v lies in the shadow", at)
		}
	}
	if (&paper{}).sound(300) != nil || (*paper)(nil).sound(300) != nil {
		t.Error("no paper has no fall-off")
	}
}

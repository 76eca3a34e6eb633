package photo

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"paintout/analyze/lab"
)

// toLab50 is the D50 Lab of linear sRGB, as profile tables give it.
func toLab50(v [3]float64) lab.Lab {
	x := pcsToSRGB.inverse().apply(v)
	return lab.FromXYZ(lab.XYZ{X: x[0], Y: x[1], Z: x[2]}, lab.XYZ{X: whitePCS[0], Y: whitePCS[1], Z: whitePCS[2]})
}

func pixel(p *Photo, x, y int) [3]float64 { return p.At(x, y, 0) }

// The figures are LittleCMS's, from its program transicc 2.14 (Debian), for
// profiles of the same published primaries and curves as those built here.
func TestProfilesAgainstLittleCMS(t *testing.T) {
	f, err := os.Open(shared(t, "data/reference/icc_rgb_to_lab_d50_transicc.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	profiles := map[string]struct {
		data      []byte
		tolerance float64
	}{
		"sRGB":      {profileSRGB(), 0.05},
		"DisplayP3": {profileP3(), 0.05},
		"AdobeRGB":  {profileAdobe(), 0.05},
		"ProPhoto":  {profileProPhoto(), 0.05},
	}
	worst, seen := map[string]float64{}, 0
	for _, row := range rows[1:] {
		name, _, _ := strings.Cut(row[0], "(")
		pr, ok := profiles[name]
		if !ok {
			t.Fatalf("unknown profile %q", row[0])
		}
		var v [6]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(row[i+1], 64); err != nil {
				t.Fatal(err)
			}
		}
		want := lab.Lab{L: v[3], A: v[4], B: v[5]}
		if want.L < 1 && want.Chroma() > 50 {
			continue // ProPhoto's blue: no real colour, ruled by the last digit of a primary
		}
		m := image.NewNRGBA(image.Rect(0, 0, 1, 1))
		m.SetNRGBA(0, 0, color.NRGBA{uint8(v[0]), uint8(v[1]), uint8(v[2]), 255})
		p := mustDecode(t, pngWith(pngOf(t, m), iccp(pr.data)), Options{})
		got := toLab50(pixel(p, 0, 0))
		d := lab.DE00(got, want)
		worst[name] = max(worst[name], d)
		if !(d <= pr.tolerance) {
			t.Errorf("%s %v: got %.3f, want %.3f, off by %.3f", row[0], v[:3], got, want, d)
		}
		seen++
	}
	if seen < 90 {
		t.Errorf("only %d colours checked", seen)
	}
	t.Logf("worst CIEDE2000: %.4v", worst)
}

// Published XYZ of the primaries of linear P3 and Adobe RGB: the D65 matrices
// of Adobe RGB (1998), 4.3.5.3, and of CSS Color 4, section 18 (Display P3).
func TestMatricesOfSpaces(t *testing.T) {
	for _, c := range []struct {
		name string
		p    primaries
		want mat3
	}{
		{"Adobe RGB", primariesAdobe, mat3{0.57667, 0.18556, 0.18823, 0.29734, 0.62736, 0.07529, 0.02703, 0.07069, 0.99134}},
		{"Display P3", primariesP3, mat3{0.48657, 0.26567, 0.19822, 0.22897, 0.69174, 0.07929, 0, 0.04511, 1.04394}},
	} {
		got := c.p.toXYZ()
		for i := range got {
			if !near(got[i], c.want[i], 2e-5) {
				t.Errorf("%s, element %d: %.6f, published %.5f", c.name, i, got[i], c.want[i])
			}
		}
	}
}

// Every carrier of a profile must give the same colours for it.
func TestProfileInEveryFormat(t *testing.T) {
	m := drawPatches(t, 20)
	var rgb []byte
	for i := 0; i < len(m.Pix); i += 4 {
		rgb = append(rgb, m.Pix[i:i+3]...)
	}
	p3 := profileP3()
	s := matrixSpace("", primariesP3, lab.DecodeSRGB)
	want := func(c color.NRGBA) lab.Lab {
		v := s.linear([3]float64{float64(c.R) / 255, float64(c.G) / 255, float64(c.B) / 255})
		return lab.FromLinear(v[0], v[1], v[2])
	}
	files := map[string]struct {
		data       []byte
		mean, most float64
	}{
		"PNG":                 {pngWith(pngOf(t, m), iccp(p3)), 0.01, 0.05},
		"TIFF":                {tiffFile(le, 120, 80, 3, 8, 2, -1, 1, p3, rgb), 0.01, 0.05},
		"JPEG in one piece":   {jpegWith(jpegOf(t, m, 98), iccSegments(p3, 1)...), 0.5, 1.5},
		"JPEG in four pieces": {jpegWith(jpegOf(t, m, 98), iccSegments(p3, 4)...), 0.5, 1.5},
		"WebP":                {webpWith(fixture(t, "lossless.webp"), 120, 80, map[string][]byte{"ICCP": p3}), 0.01, 0.05},
		"HEIC":                {heifWith(fixture(t, "full601.heic"), box("colr", append([]byte("prof"), p3...))), 1, 2.5},
		"HEIC by code":        {heifWith(fixture(t, "full601.heic"), nclx(12, 13, 6, true)), 1, 2.5},
		"PNG by code":         {pngWith(pngOf(t, m), pngChunk("cICP", []byte{12, 13, 0, 1})), 0.01, 0.05},
	}
	for name, f := range files {
		t.Run(name, func(t *testing.T) {
			p := mustDecode(t, f.data, Options{})
			if !strings.HasPrefix(p.Profile, "Display P3") {
				t.Errorf("profile is called %q", p.Profile)
			}
			if len(p.Notes) != 0 {
				t.Errorf("notes: %q", p.Notes)
			}
			checkPatches(t, p, want, f.mean, f.most)
		})
	}
}

func TestOwnSRGBProfileIsPlainSRGB(t *testing.T) {
	m := drawPatches(t, 4)
	plain := mustDecode(t, pngOf(t, m), Options{})
	for name, prof := range map[string][]byte{
		"parametric": profileSRGB(),
		"sampled":    matrixProfile("sRGB sampled", primariesSRGB, tagCurve(lab.DecodeSRGB, 1024)),
	} {
		p := mustDecode(t, pngWith(pngOf(t, m), iccp(prof)), Options{})
		if p.Profile != "sRGB" || len(p.Notes) > 0 {
			t.Errorf("%s: %q, %q", name, p.Profile, p.Notes)
		}
		if a, b := pixels(p), pixels(plain); !equal(a, b) {
			t.Errorf("%s: pixels differ from those without a profile", name)
		}
	}
	// A curve of plain gamma 2.2 is not sRGB's.
	p := mustDecode(t, pngWith(pngOf(t, m), iccp(matrixProfile("2.2", primariesSRGB, tagGamma(2.2)))), Options{})
	if p.Profile == "sRGB" {
		t.Error("gamma 2.2 was taken for sRGB")
	}
}

func equal(a, b []float32) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// A grey profile of gamma 1.8: the light is the value to that power, neutral.
func TestGreyProfile(t *testing.T) {
	prof := iccProfile("mntr", "GRAY", "XYZ ", map[string][]byte{"desc": tagDesc("Grey 1.8"), "wtpt": tagXYZ(whitePCS), "kTRC": tagGamma(1.8)})
	m := image.NewGray(image.Rect(0, 0, 16, 16))
	deep := image.NewGray16(image.Rect(0, 0, 16, 16))
	clear := image.NewNRGBA(image.Rect(0, 0, 16, 16))
	for i := range 256 {
		m.Pix[i] = uint8(i)
		deep.SetGray16(i%16, i/16, color.Gray16{uint16(i * 257)})
		clear.SetNRGBA(i%16, i/16, color.NRGBA{uint8(i), uint8(i), uint8(i), 255})
	}
	clear.SetNRGBA(0, 0, color.NRGBA{})
	grey := jpegOf(t, m, 100)
	files := map[string][]byte{
		"PNG 8":  pngWith(pngOf(t, m), iccp(prof)),
		"PNG 16": pngWith(pngOf(t, deep), iccp(prof)),
		"TIFF":   tiffFile(be, 16, 16, 1, 8, 1, -1, 1, prof, m.Pix),
		"JPEG":   jpegWith(grey, iccSegments(prof, 1)...),
	}
	for name, data := range files {
		p := mustDecode(t, data, Options{})
		if p.Profile != "Grey 1.8" {
			t.Errorf("%s: profile %q, notes %q", name, p.Profile, p.Notes)
		}
		tolerance := 1e-3
		if name == "JPEG" {
			tolerance = 0.02
		}
		for _, i := range []int{0, 64, 128, 200, 255} {
			v := pixel(p, i%16, i/16)
			want := math.Pow(float64(i)/255, 1.8)
			for k := range v {
				if !near(v[k], want, tolerance) {
					t.Errorf("%s, grey %d: %v, want %v", name, i, v, want)
				}
			}
		}
	}
	// An RGB picture cannot use it.
	p := mustDecode(t, pngWith(pngOf(t, drawPatches(t, 4)), iccp(prof)), Options{})
	if p.Profile != "sRGB" || !noted(p, "it is for grey pictures") || !noted(p, "taken as sRGB") {
		t.Errorf("grey profile on RGB: %q, %q", p.Profile, p.Notes)
	}
	// A grey picture with an RGB profile goes along that profile's neutrals.
	p = mustDecode(t, pngWith(pngOf(t, m), iccp(profileAdobe())), Options{})
	if v, want := pixel(p, 8, 8), math.Pow(136.0/255, adobeGamma); !near(v[0], want, 1e-3) || !near(v[1], want, 1e-3) || !near(v[2], want, 1e-3) {
		t.Errorf("RGB profile on grey: %v, want %v", v, want)
	}
}

func noted(p *Photo, part string) bool {
	for _, n := range p.Notes {
		if strings.Contains(n, part) {
			return true
		}
	}
	return false
}

// lutProfile is a profile with a lut16Type table whose colours are f of the
// encoded values, in Lab.
func lutProfile(space string, n, steps int, f func([]float64) lab.Lab) []byte {
	b := []byte("mft2\x00\x00\x00\x00")
	b = append(b, byte(n), 3, byte(steps), 0)
	b = append(b, s15(1, 0, 0, 0, 1, 0, 0, 0, 1)...)
	b = be.AppendUint16(b, 2)
	b = be.AppendUint16(b, 2)
	for range n {
		b = append(b, 0, 0, 0xff, 0xff)
	}
	total := 1
	for range n {
		total *= steps
	}
	v := make([]float64, n)
	for i := range total {
		for k, r := n-1, i; k >= 0; k, r = k-1, r/steps {
			v[k] = float64(r%steps) / float64(steps-1)
		}
		c := f(v)
		// The older 16-bit encoding: 0xff00 is L* 100 (ICC.1:2022, 10.10).
		for _, x := range [...]float64{c.L * 652.8, (c.A + 128) * 256, (c.B + 128) * 256} {
			b = be.AppendUint16(b, uint16(min(65535, max(0, math.Round(x)))))
		}
	}
	for range 3 {
		b = append(b, 0, 0, 0xff, 0xff)
	}
	class := "prtr"
	if space == "RGB " {
		class = "scnr"
	}
	return iccProfile(class, space, "Lab ", map[string][]byte{"desc": tagDesc("table"), "wtpt": tagXYZ(whitePCS), "A2B0": b})
}

// ink is a smooth made-up press: each ink takes away light of its kind.
func ink(v []float64) lab.Lab {
	c, m, y, k := v[0], v[1], v[2], v[3]
	l := 96 - 40*c - 45*m - 8*y - 78*k + 25*c*m + 30*k*(c+m)/2
	return lab.Lab{L: max(8, l), A: (-36*c + 73*m - 5*y) * (1 - 0.8*k), B: (-50*c - 4*m + 90*y) * (1 - 0.8*k)}
}

// A profile's tables, taken through the grid, stay with the tables themselves.
func TestTableProfiles(t *testing.T) {
	rgbTable := lutProfile("RGB ", 3, 17, func(v []float64) lab.Lab {
		s := spaceAdobe().linear([3]float64{v[0], v[1], v[2]})
		return toLab50(s)
	})
	s, err := readProfile(rgbTable, 3)
	if err != nil {
		t.Fatal(err)
	}
	if s.grid == nil {
		t.Fatal("the RGB table was not taken as a grid")
	}
	rng := rand.New(rand.NewPCG(1, 2))
	check := func(name string, s *space, n int, f func([]float64) lab.Lab, mean, most float64) {
		sum, worst := 0.0, 0.0
		const count = 2000
		in := make([]float32, n)
		v := make([]float64, n)
		for range count {
			for k := range v {
				in[k] = float32(rng.IntN(256)) / 255
				v[k] = float64(in[k])
			}
			r, g, b := s.grid.at(in)
			d := lab.DE00(toLab50([3]float64{float64(r), float64(g), float64(b)}), f(v))
			sum, worst = sum+d, max(worst, d)
		}
		if sum/count > mean || worst > most {
			t.Errorf("%s: mean %.3f, worst %.3f; allowed %.2f, %.2f", name, sum/count, worst, mean, most)
		}
		t.Logf("%s: mean %.3f, worst %.3f", name, sum/count, worst)
	}
	// The table itself holds only 17 steps an axis, so that dark colours
	// between them are its own choice: judged against the curve they are coarse.
	check("RGB table", s, 3, func(v []float64) lab.Lab { return toLab50(spaceAdobe().linear([3]float64{v[0], v[1], v[2]})) }, 0.5, 4)

	cmyk, err := readProfile(lutProfile("CMYK", 4, 9, ink), 4)
	if err != nil {
		t.Fatal(err)
	}
	check("CMYK table", cmyk, 4, ink, 0.6, 3)
}

// Debian's ghostscript profiles, by LittleCMS's transicc where it is here.
func TestSystemProfilesAgainstTransicc(t *testing.T) {
	transicc, err := exec.LookPath("transicc")
	if err != nil {
		t.Skip("no transicc (Debian: liblcms2-utils)")
	}
	const dir = "/usr/share/color/icc/ghostscript/"
	rng := rand.New(rand.NewPCG(3, 4))
	for name, c := range map[string]struct {
		n          int
		mean, most float64
	}{
		"srgb.icc": {3, 0.02, 0.1}, "a98.icc": {3, 0.02, 0.1}, "default_rgb.icc": {3, 0.02, 0.1},
		"default_gray.icc": {1, 0.02, 0.1}, "default_cmyk.icc": {4, 0.3, 1.5},
	} {
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(dir + name)
			if err != nil {
				t.Skip("profile not here (Debian: libgs-common)")
			}
			s, err := readProfile(data, c.n)
			if err != nil {
				t.Fatal(err)
			}
			const count = 300
			var in bytes.Buffer
			values := make([][]float64, count)
			for i := range values {
				values[i] = make([]float64, c.n)
				for k := range values[i] {
					values[i][k] = float64(rng.IntN(256))
					scale := 1.0
					if c.n == 4 {
						scale = 100.0 / 255 // transicc takes inks in percent
					}
					fmt.Fprintf(&in, "%.6f\n", values[i][k]*scale)
				}
			}
			cmd := exec.Command(transicc, "-t1", "-c0", "-n", "-i"+dir+name, "-o*Lab")
			cmd.Stdin = &in
			out, err := cmd.Output()
			if err != nil {
				t.Fatal(err)
			}
			numbers := strings.Fields(string(out))
			if len(numbers) < 3*count {
				t.Fatalf("transicc gave %d numbers: %.200q", len(numbers), out)
			}
			sum, worst := 0.0, 0.0
			for i, v := range values {
				var w [3]float64
				for k := range w {
					if w[k], err = strconv.ParseFloat(numbers[3*i+k], 64); err != nil {
						t.Fatal(err)
					}
				}
				var got [3]float64
				switch c.n {
				case 1:
					got = s.linear([3]float64{v[0] / 255, v[0] / 255, v[0] / 255})
				case 3:
					got = s.linear([3]float64{v[0] / 255, v[1] / 255, v[2] / 255})
				case 4:
					r, g, b := s.grid.at([]float32{float32(v[0] / 255), float32(v[1] / 255), float32(v[2] / 255), float32(v[3] / 255)})
					got = [3]float64{float64(r), float64(g), float64(b)}
				}
				d := lab.DE00(toLab50(got), lab.Lab{L: w[0], A: w[1], B: w[2]})
				sum, worst = sum+d, max(worst, d)
			}
			t.Logf("mean %.4f, worst %.4f", sum/count, worst)
			if !(sum/count <= c.mean && worst <= c.most) {
				t.Errorf("mean %.3f, worst %.3f; allowed %.2f, %.2f", sum/count, worst, c.mean, c.most)
			}
		})
	}
}

func TestBrokenProfilesAreNoted(t *testing.T) {
	m := drawPatches(t, 4)
	plain := mustDecode(t, pngOf(t, m), Options{})
	good := profileP3()
	cases := map[string][]byte{
		"empty": {}, "cut": good[:200], "text": []byte(strings.Repeat("not a profile ", 20)),
		"no tags": iccProfile("mntr", "RGB ", "XYZ ", nil),
	}
	huge := bytes.Clone(good)
	be.PutUint32(huge[128:], 1<<31)
	cases["billions of tags"] = huge
	long := bytes.Clone(good)
	copy(long[bytes.Index(long, []byte("para")):], "curv\x00\x00\x00\x00\xff\xff\xff\xff")
	cases["endless curve"] = long
	link := bytes.Clone(good)
	copy(link[12:], "link")
	cases["device link"] = link
	press := bytes.Clone(good)
	copy(press[16:], "CMYK")
	cases["for CMYK"] = press
	for name, prof := range cases {
		p := mustDecode(t, pngWith(pngOf(t, m), iccp(prof)), Options{})
		if p.Profile != "sRGB" || !noted(p, "profile in the file was not used") || !noted(p, "taken as sRGB") {
			t.Errorf("%s: %q, %q", name, p.Profile, p.Notes)
		}
		if !equal(pixels(p), pixels(plain)) {
			t.Errorf("%s: pixels are not those of sRGB", name)
		}
	}
	// A piece missing from a JPEG's profile.
	p := mustDecode(t, jpegWith(jpegOf(t, m, 90), iccSegments(good, 3)[:2]...), Options{})
	if p.Profile != "sRGB" || !noted(p, "cut short or damaged") {
		t.Errorf("piece missing: %q, %q", p.Profile, p.Notes)
	}
}

// Profiles with bytes changed at random may be refused, never worse.
func TestMutantProfiles(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	m := pngOf(t, drawPatches(t, 1))
	for _, good := range [][]byte{profileSRGB(), profileProPhoto()[:2000], lutProfile("RGB ", 3, 3, func(v []float64) lab.Lab { return lab.Lab{L: 100 * v[0]} })} {
		for range 100 {
			bad := bytes.Clone(good)
			for range 1 + rng.IntN(4) {
				bad[rng.IntN(len(bad))] = byte(rng.IntN(256))
			}
			p := mustDecode(t, pngWith(m, iccp(bad)), Options{})
			pixels(p)
		}
	}
}

// PNG's older colour chunks, and which one wins (W3C PNG, third edition).
func TestPNGColourChunks(t *testing.T) {
	m := image.NewNRGBA(image.Rect(0, 0, 1, 1))
	m.SetNRGBA(0, 0, color.NRGBA{200, 100, 50, 255})
	data := pngOf(t, m)
	u32 := func(v ...uint32) (b []byte) {
		for _, x := range v {
			b = be.AppendUint32(b, x)
		}
		return b
	}
	gama := func(v uint32) []byte { return pngChunk("gAMA", u32(v)) }
	chrm := pngChunk("cHRM", u32(31270, 32900, 64000, 33000, 21000, 71000, 15000, 6000)) // Adobe RGB's
	srgbPixel := [3]float64{light8(200), light8(100), light8(50)}
	pow := func(g float64) [3]float64 {
		return [3]float64{math.Pow(200.0/255, g), math.Pow(100.0/255, g), math.Pow(50.0/255, g)}
	}
	adobe := spaceAdobe().m.apply(pow(2.5))
	for name, c := range map[string]struct {
		chunks [][]byte
		want   [3]float64
		notes  int
	}{
		"none":              {nil, srgbPixel, 1},
		"sRGB":              {[][]byte{pngChunk("sRGB", []byte{0})}, srgbPixel, 0},
		"sRGB before gAMA":  {[][]byte{pngChunk("sRGB", []byte{0}), gama(100000)}, srgbPixel, 0},
		"gAMA of sRGB":      {[][]byte{gama(45455)}, srgbPixel, 0},
		"gAMA linear":       {[][]byte{gama(100000)}, pow(1), 1},
		"gAMA 1/1.8":        {[][]byte{gama(55556)}, pow(1.8), 1},
		"gAMA and cHRM":     {[][]byte{gama(40000), chrm}, adobe, 1},
		"cICP before sRGB":  {[][]byte{pngChunk("cICP", []byte{1, 8, 0, 1}), pngChunk("sRGB", []byte{0})}, pow(1), 0},
		"cHRM alone":        {[][]byte{chrm}, srgbPixel, 1},
		"nonsense cHRM":     {[][]byte{gama(45455), pngChunk("cHRM", make([]byte, 32))}, srgbPixel, 1},
		"nonsense gAMA":     {[][]byte{gama(0)}, srgbPixel, 1},
		"iCCP before gAMA":  {[][]byte{iccp(profileSRGB()), gama(100000)}, srgbPixel, 0},
		"unknown cICP code": {[][]byte{pngChunk("cICP", []byte{200, 13, 0, 1})}, srgbPixel, 1},
	} {
		p := mustDecode(t, pngWith(data, c.chunks...), Options{})
		v := pixel(p, 0, 0)
		for k := range v {
			if !near(v[k], c.want[k], 2e-4) {
				t.Errorf("%s: %.4f, want %.4f", name, v, c.want)
				break
			}
		}
		if len(p.Notes) != c.notes {
			t.Errorf("%s: notes %q", name, p.Notes)
		}
	}
	_, err := Decode("hdr.png", pngWith(data, pngChunk("cICP", []byte{9, 16, 0, 1})), Options{})
	wantError(t, err, ErrUnsupported, "hdr.png", "high dynamic range", "export it")
}

// DCF 2.0's optional colour space (CIPA DC-009): Exif says uncalibrated and
// the interoperability index R03.
func TestCameraMarkOfAdobeRGB(t *testing.T) {
	m := drawPatches(t, 20)
	marked := segment(0xe1, append([]byte("Exif\x00\x00"), exifBlock(le, 1, true)...))
	p := mustDecode(t, jpegWith(jpegOf(t, m, 98), marked), Options{})
	if p.Profile != "Adobe RGB (1998)" || !noted(p, "the camera marked the picture as Adobe RGB") {
		t.Errorf("%q, %q", p.Profile, p.Notes)
	}
	s := spaceAdobe()
	checkPatches(t, p, func(c color.NRGBA) lab.Lab {
		v := s.linear([3]float64{float64(c.R) / 255, float64(c.G) / 255, float64(c.B) / 255})
		return lab.FromLinear(v[0], v[1], v[2])
	}, 0.5, 1.5)
	// A profile in the file counts for more.
	p = mustDecode(t, jpegWith(jpegOf(t, m, 98), append(iccSegments(profileP3(), 1), marked)...), Options{})
	if p.Profile != "Display P3 test" {
		t.Errorf("with a profile: %q", p.Profile)
	}
}

func wantError(t testing.TB, err error, reason error, parts ...string) {
	t.Helper()
	if err == nil {
		t.Errorf("no error; want %q", parts)
		return
	}
	if !isReason(err, reason) {
		t.Errorf("reason of %q is not %q", err, reason)
	}
	for _, p := range parts {
		if !strings.Contains(err.Error(), p) {
			t.Errorf("error %q lacks %q", err, p)
		}
	}
	oneSentence(t, err)
}

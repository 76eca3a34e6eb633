package photo

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/image/tiff"

	"paintout/analyze/lab"
)

// Every format shows the same patches. Allowances: none beyond rounding where
// the file keeps the colours; what 8-bit YCbCr and its compression cost where
// it does not.
func TestFormatsShowTheirColours(t *testing.T) {
	m := drawPatches(t, 20)
	var lzw bytes.Buffer
	if err := tiff.Encode(&lzw, m, &tiff.Options{Compression: tiff.Deflate, Predictor: true}); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		data       []byte
		format     string
		mean, most float64
	}{
		"png":              {pngOf(t, m), "PNG", 0.001, 0.01},
		"interlaced png":   {fixture(t, "interlaced.png"), "PNG", 0.001, 0.01},
		"deflated tiff":    {lzw.Bytes(), "TIFF", 0.001, 0.01},
		"baseline jpeg":    {jpegOf(t, m, 95), "JPEG", 0.5, 2},
		"progressive jpeg": {fixture(t, "progressive.jpg"), "JPEG", 0.7, 2.5},
		"lossless webp":    {fixture(t, "lossless.webp"), "WebP", 0.001, 0.01},
		"lossy webp":       {fixture(t, "lossy.webp"), "WebP", 1, 2.5},
		"heic":             {fixture(t, "full601.heic"), "HEIC", 1, 2.5},
		"heic of 42×28":    {fixture(t, "small.heic"), "HEIC", 1, 3},
		"heic 4:4:4":       {fixture(t, "yuv444.heic"), "HEIC", 1, 2.5},
		"heic 10 bits":     {fixture(t, "deep10.heic"), "HEIC", 1, 2.5},
		"heic, limited range BT.709": {heifWith(fixture(t, "limited709.heic"), nclx(1, 13, 1, false)),
			"HEIC", 1.2, 3},
	} {
		t.Run(name, func(t *testing.T) {
			p := mustDecode(t, c.data, Options{})
			if p.Format != c.format || p.Profile != "sRGB" {
				t.Errorf("%q %q", p.Format, p.Profile)
			}
			checkPatches(t, p, srgb, c.mean, c.most)
		})
	}
}

// A lossy WebP's YCbCr is BT.601 in limited range: read as JPEG's, pure red
// comes out greyish. cwebp wrote the patches; dwebp, where it is here, says
// what they are.
func TestLossyWebPAgainstDwebp(t *testing.T) {
	dwebp, err := exec.LookPath("dwebp")
	if err != nil {
		t.Skip("no dwebp (Debian: webp)")
	}
	for _, name := range []string{"lossy.webp", "clear.webp"} {
		out := filepath.Join(t.TempDir(), "out.png")
		if b, err := exec.Command(dwebp, "-quiet", "-nofancy", filepath.Join("testdata", name), "-o", out).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, b)
		}
		data, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		got, want := pixels(mustDecode(t, fixture(t, name), Options{})), pixels(mustDecode(t, data, Options{}))
		if worst := worst8(got, want); worst > 1.5 {
			t.Errorf("%s: worst difference %.2f of 255, encoded", name, worst)
		}
	}
}

// worst8 is the largest difference in 8-bit encoded steps.
func worst8(a, b []float32) (worst float64) {
	if len(a) != len(b) {
		return math.Inf(1)
	}
	for i := range a {
		d := 255 * math.Abs(lab.EncodeSRGB(float64(a[i]))-lab.EncodeSRGB(float64(b[i])))
		worst = max(worst, d)
	}
	return worst
}

// YCbCr pictures come out as Go's own image/jpeg shows them.
func TestJPEGAsGoShowsIt(t *testing.T) {
	for _, data := range [][]byte{jpegOf(t, drawPatches(t, 13), 80), fixture(t, "progressive.jpg")} {
		m, err := jpeg.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		p := mustDecode(t, data, Options{})
		row := make([]float32, 3*p.Width)
		for y := range p.Height {
			p.Row(y, row)
			for x := range p.Width {
				r, g, b, _ := m.At(x, y).RGBA()
				for k, v := range [3]uint32{r, g, b} {
					if want := float32(light8(uint8(v >> 8))); row[3*x+k] != want {
						t.Fatalf("%d,%d: %v, want %v", x, y, row[3*x:3*x+3], want)
					}
				}
			}
		}
	}
}

// The YCbCr tables for BT.709 and BT.2020 against the equations of ITU-T
// H.273 (8.3.3) run forwards: encode exactly, decode within rounding.
func TestYCbCrTables(t *testing.T) {
	for _, c := range []struct {
		kr, kb float64
		full   bool
	}{{0.2126, 0.0722, true}, {0.2126, 0.0722, false}, {0.2627, 0.0593, false}, {0.299, 0.114, false}, {0.299, 0.114, true}} {
		table := newYCCTables(c.kr, c.kb, c.full)
		r := &raster{layout: ycc, w: 1, h: 1}
		s := &space{curve: spaceSRGB().curve, m: identity}
		conv := s.converter(r, identity, table)
		for _, rgb := range [][3]float64{{255, 0, 0}, {0, 255, 0}, {0, 0, 255}, {255, 255, 255}, {0, 0, 0}, {200, 120, 40}, {20, 60, 200}} {
			kg := 1 - c.kr - c.kb
			y := (c.kr*rgb[0] + kg*rgb[1] + c.kb*rgb[2]) / 255
			cb, cr := (rgb[2]/255-y)/(2*(1-c.kb)), (rgb[0]/255-y)/(2*(1-c.kr))
			ys, cs, y0 := 219.0, 224.0, 16.0
			if c.full {
				ys, cs, y0 = 255, 255, 0
			}
			b8 := func(v float64) []byte { return []byte{byte(min(255, max(0, math.Round(v))))} }
			got := make([]float32, 3)
			conv.ycc(got, b8(y0+ys*y), b8(128+cs*cb), b8(128+cs*cr), 0, 0)
			for k := range got {
				if d := 255*lab.EncodeSRGB(float64(got[k])) - rgb[k]; math.Abs(d) > 2.6 {
					t.Errorf("kr %v, full %v: %v comes back off by %.1f", c.kr, c.full, rgb, d)
				}
			}
		}
	}
	// Full range BT.601 is JFIF's own matrix.
	full := newYCCTables(0.299, 0.114, true)
	for i := range 256 {
		for _, d := range [][2]int32{{full.rCr[i], jfif.rCr[i]}, {full.gCb[i], jfif.gCb[i]}, {full.gCr[i], jfif.gCr[i]}, {full.bCb[i], jfif.bCb[i]}} {
			if d[0]-d[1] > 128 || d[1]-d[0] > 128 {
				t.Fatalf("row %d: %d, %d", i, d[0], d[1])
			}
		}
	}
}

// CMYK and YCCK against ImageMagick's reading of the same files, by the same
// plain rule R = (1−C)(1−K).
func TestCMYK(t *testing.T) {
	convert, err := exec.LookPath("convert")
	if err == nil {
		if out, e := exec.Command(convert, "-version").Output(); e != nil || !strings.Contains(string(out), "ImageMagick") {
			err = fmt.Errorf("a stand-in")
		}
	}
	if err != nil {
		t.Skip("no ImageMagick convert (Debian: imagemagick)")
	}
	ycck := fixture(t, "cmyk.jpg")
	at := bytes.Index(ycck, []byte("Adobe"))
	if at < 0 || ycck[at+11] != 2 {
		t.Fatal("cmyk.jpg is not YCCK")
	}
	// The same numbers read as plain CMYK: other colours, but a sound file.
	cmyk := bytes.Clone(ycck)
	cmyk[at+11] = 0
	for name, data := range map[string][]byte{"YCCK": ycck, "CMYK": cmyk} {
		path := filepath.Join(t.TempDir(), name+".jpg")
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		raw, err := exec.Command(convert, path, "-depth", "8", "cmyk:-").Output()
		if err != nil {
			t.Fatal(err)
		}
		p := mustDecode(t, data, Options{})
		if p.Profile != "CMYK" || !noted(p, "only a guess at the press") {
			t.Errorf("%s: %q, %q", name, p.Profile, p.Notes)
		}
		got := pixels(p)
		if len(raw) != 4*len(got)/3 {
			t.Fatalf("%s: ImageMagick gave %d bytes", name, len(raw))
		}
		sum, worst := 0.0, 0.0
		for i := range len(raw) / 4 {
			ink := raw[4*i : 4*i+4]
			for k := range 3 {
				want := (255 - float64(ink[k])) * (255 - float64(ink[3])) / 255
				d := math.Abs(255*lab.EncodeSRGB(float64(got[3*i+k])) - want)
				sum, worst = sum+d, max(worst, d)
			}
		}
		// Chroma is subsampled and ImageMagick smooths it, so edges differ.
		if mean := sum / float64(len(got)); mean > 1.5 {
			t.Errorf("%s: mean difference %.2f of 255 from ImageMagick (worst %.0f)", name, mean, worst)
		}
		// Flat patches do not.
		for i := range 24 {
			x, y := i%6*20+10, i/6*20+10
			j := y*120 + x
			ink := raw[4*j : 4*j+4]
			for k := range 3 {
				want := (255 - float64(ink[k])) * (255 - float64(ink[3])) / 255
				if v := 255 * lab.EncodeSRGB(float64(got[3*j+k])); math.Abs(v-want) > 3.1 {
					t.Errorf("%s patch %d: %.1f, ImageMagick %.1f", name, i, v, want)
				}
			}
		}
	}
	// YCCK came from sRGB by that rule's inverse, so it shows the patches.
	checkPatches(t, mustDecode(t, ycck, Options{}), srgb, 0.8, 2.5)

	// Without Adobe's mark, 255 is full ink: the negative of the file with it.
	bare := append(bytes.Clone(cmyk[:at-4]), cmyk[at+12:]...)
	p, q := mustDecode(t, bare, Options{}), mustDecode(t, cmyk, Options{})
	if !noted(p, "255 was taken as full ink") {
		t.Errorf("notes %q", p.Notes)
	}
	for i := range p.raster.planes[0].pix {
		if p.raster.planes[0].pix[i] != ^q.raster.planes[0].pix[i] {
			t.Fatal("inks are not the other way round")
		}
	}

	// With a press profile its own table decides.
	p = mustDecode(t, jpegWith(ycck, iccSegments(lutProfile("CMYK", 4, 9, ink), 2)...), Options{})
	if p.Profile != "table" || len(p.Notes) != 0 {
		t.Errorf("%q, %q", p.Profile, p.Notes)
	}
	inks := p.raster.planes[0].row(10)[4*10:]
	want := ink([]float64{float64(inks[0]) / 255, float64(inks[1]) / 255, float64(inks[2]) / 255, float64(inks[3]) / 255})
	if got := toLab50(pixel(p, 10, 10)); lab.DE00(got, want) > 1 {
		t.Errorf("press profile: %.1f, want %.1f", got, want)
	}
}

// Half-clear pixels lie over white in linear light: the mean of the light of
// the colour and of the paper, whatever the format.
func TestAlphaOverWhite(t *testing.T) {
	c := color.NRGBA{200, 40, 90, 128}
	want := func(k int) float64 {
		a := 128.0 / 255
		return light8([3]uint8{c.R, c.G, c.B}[k])*a + 1 - a
	}
	m := image.NewNRGBA(image.Rect(0, 0, 3, 2))
	for i := range 6 {
		m.SetNRGBA(i%3, i/3, c)
	}
	m.SetNRGBA(2, 1, color.NRGBA{0, 0, 0, 0}) // nothing there: white
	deep := image.NewNRGBA64(m.Rect)
	for i, v := range m.Pix {
		deep.Pix[2*i], deep.Pix[2*i+1] = v, v
	}
	pal := image.NewPaletted(m.Rect, color.Palette{c, color.NRGBA{}})
	pal.Pix[5] = 1
	pre := make([]byte, 0, 24) // associated alpha, as some TIFFs have it
	for i := 0; i < len(m.Pix); i += 4 {
		a := int(m.Pix[i+3])
		for k := range 3 {
			pre = append(pre, byte((int(m.Pix[i+k])*a+127)/255))
		}
		pre = append(pre, byte(a))
	}
	pre16 := make([]byte, 0, 48)
	for i := 0; i < len(m.Pix); i += 4 {
		a := uint64(m.Pix[i+3]) * 257
		for k := range 3 {
			pre16 = le.AppendUint16(pre16, uint16((uint64(m.Pix[i+k])*257*a+32767)/65535))
		}
		pre16 = le.AppendUint16(pre16, uint16(a))
	}
	for name, f := range map[string]struct {
		data      []byte
		tolerance float64
	}{
		"png 8":              {pngOf(t, m), 1e-4},
		"png 16":             {pngOf(t, deep), 1e-4},
		"png palette":        {pngOf(t, pal), 1e-4},
		"tiff":               {tiffFile(be, 3, 2, 4, 8, 2, 2, 1, nil, m.Pix), 1e-4},
		"tiff associated":    {tiffFile(le, 3, 2, 4, 8, 2, 1, 1, nil, pre), 0.008},
		"tiff associated 16": {tiffFile(le, 3, 2, 4, 16, 2, 1, 1, nil, pre16), 1e-4},
	} {
		p := mustDecode(t, f.data, Options{})
		if !noted(p, "Transparent parts were laid over white") {
			t.Errorf("%s: notes %q", name, p.Notes)
		}
		for k := range 3 {
			if v := pixel(p, 1, 0); !near(v[k], want(k), f.tolerance) {
				t.Errorf("%s: channel %d is %.5f, want %.5f", name, k, v[k], want(k))
			}
			if v := pixel(p, 2, 1); !near(v[k], 1, 1e-6) {
				t.Errorf("%s: a clear pixel is %v", name, v)
			}
		}
	}
	// White paper stays what exposure and balance make of it.
	p := mustDecode(t, pngOf(t, m), Options{Exposure: -1})
	if v := pixel(p, 2, 1); !near(v[0], 0.5, 1e-6) {
		t.Errorf("paper at −1 stop: %v", v)
	}
	// WebP: every other patch is half clear.
	p = mustDecode(t, fixture(t, "clear.webp"), Options{})
	for i, c := range patches(t) {
		w := [3]float64{light8(c.R), light8(c.G), light8(c.B)}
		if i%2 == 1 {
			for k := range w {
				w[k] = w[k]*128/255 + 127.0/255
			}
		}
		if d := lab.DE00(patchLab(p, i), lab.FromLinear(w[0], w[1], w[2])); d > 3 {
			t.Errorf("webp patch %d is off by %.2f", i, d)
		}
	}
	// An opaque picture says nothing of transparency.
	if p := mustDecode(t, pngOf(t, drawPatches(t, 2)), Options{}); noted(p, "Transparent") {
		t.Error("an opaque picture was called transparent")
	}
}

// 16 bits are kept: neighbours one step apart stay apart, and in order.
func TestSixteenBitsKept(t *testing.T) {
	const n = 512
	m := image.NewNRGBA64(image.Rect(0, 0, n, 1))
	grey := image.NewGray16(m.Rect)
	var rgb []byte
	for x := range n {
		v := uint16(30000 + x)
		m.SetNRGBA64(x, 0, color.NRGBA64{v, v + 7, v + 100, 65535})
		grey.SetGray16(x, 0, color.Gray16{v})
		for _, c := range []uint16{v, v + 7, v + 100} {
			rgb = le.AppendUint16(rgb, c)
		}
	}
	light16 := func(v int) float32 { return float32(lab.DecodeSRGB(float64(v) / 65535)) }
	for name, data := range map[string][]byte{
		"png": pngOf(t, m), "tiff": tiffFile(le, n, 1, 3, 16, 2, -1, 1, nil, rgb),
	} {
		for i, v := range pixels(mustDecode(t, data, Options{})) {
			if want := light16(30000 + i/3 + [3]int{0, 7, 100}[i%3]); v != want {
				t.Fatalf("%s: value %d is %v, want %v", name, i, v, want)
			}
		}
	}
	for i, v := range pixels(mustDecode(t, pngOf(t, grey), Options{})) {
		if want := light16(30000 + i/3); v != want {
			t.Fatalf("grey: value %d is %v, want %v", i, v, want)
		}
	}
}

func TestGreyAndPalette(t *testing.T) {
	grey := image.NewGray(image.Rect(0, 0, 256, 1))
	pal := image.NewPaletted(image.Rect(0, 0, 24, 1), nil)
	for i := range 256 {
		grey.Pix[i] = byte(i)
	}
	for i, c := range patches(t) {
		pal.Palette = append(pal.Palette, c)
		pal.Pix[i] = byte(i)
	}
	white := bytes.Clone(grey.Pix) // TIFF's other way: 0 is white
	for i := range white {
		white[i] = ^white[i]
	}
	for name, data := range map[string][]byte{
		"png": pngOf(t, grey), "tiff": tiffFile(be, 256, 1, 1, 8, 1, -1, 1, nil, grey.Pix), "tiff, 0 is white": tiffFile(be, 256, 1, 1, 8, 0, -1, 1, nil, white),
	} {
		for i, v := range pixels(mustDecode(t, data, Options{})) {
			if v != float32(light8(byte(i/3))) {
				t.Fatalf("%s: grey %d is %v", name, i/3, v)
			}
		}
	}
	// A JPEG of one channel keeps its own range.
	flat := image.NewGray(image.Rect(0, 0, 16, 16))
	for i := range flat.Pix {
		flat.Pix[i] = 77
	}
	if v := pixel(mustDecode(t, jpegOf(t, flat, 95), Options{}), 5, 5); !near(v[0], light8(77), 0.003) || v[0] != v[1] || v[1] != v[2] {
		t.Errorf("grey jpeg: %v, want %v", v, light8(77))
	}
	for i, v := range pixels(mustDecode(t, pngOf(t, pal), Options{})) {
		c := patches(t)[i/3]
		if !near(float64(v), light8([3]uint8{c.R, c.G, c.B}[i%3]), 1e-6) {
			t.Fatalf("palette %d: %v", i/3, v)
		}
	}
	// HEIC of one channel, in full range as its stream says.
	p := mustDecode(t, fixture(t, "gray.heic"), Options{})
	for i, c := range patches(t) {
		got := patchLab(p, i)
		// ImageMagick made it grey by Rec. 709 luma of the encoded values.
		luma := 0.2126*float64(c.R) + 0.7152*float64(c.G) + 0.0722*float64(c.B)
		want := lab.FromSRGB8(uint8(luma+0.5), uint8(luma+0.5), uint8(luma+0.5))
		if lab.DE00(got, want) > 2 || got.Chroma() > 0.1 {
			t.Errorf("grey heic, patch %d: %.1f, want %.1f", i, got, want)
		}
	}
}

// TIFFs that the decoder would misread or cannot read are refused by name.
func TestRareTIFFs(t *testing.T) {
	file := tiffFile(le, 4, 4, 3, 8, 2, -1, 1, nil, make([]byte, 48))
	set := func(tag, v uint32) []byte {
		b := bytes.Clone(file)
		// The SamplesPerPixel entry is given another meaning where the tag is new.
		for i := 10; ; i += 12 {
			if got := uint32(le.Uint16(b[i:])); got == tag {
				le.PutUint16(b[i+8:], uint16(v))
				return b
			} else if got == 279 {
				t.Fatalf("no tag %d", tag)
			}
		}
	}
	for _, c := range []struct {
		data []byte
		part string
	}{
		{set(262, 5), "CMYK"}, {set(262, 6), "rare way"}, {set(262, 8), "rare way"}, {set(259, 7), "packed as JPEG"},
	} {
		_, err := Decode("a.tif", c.data, Options{})
		wantError(t, err, ErrUnsupported, "a.tif", c.part, "save it")
	}
	planar := appendIFD(tiffHead(le), le, [][4]uint32{{256, 4, 1, 4}, {257, 4, 1, 4}, {258, 3, 1, 8}, {262, 3, 1, 2}, {277, 3, 1, 3}, {284, 3, 1, 2}})
	_, err := Decode("a.tif", planar, Options{})
	wantError(t, err, ErrUnsupported, "plane of its own")
	float := appendIFD(tiffHead(le), le, [][4]uint32{{256, 4, 1, 4}, {257, 4, 1, 4}, {258, 3, 1, 8}, {262, 3, 1, 1}, {339, 3, 1, 3}})
	_, err = Decode("a.tif", float, Options{})
	wantError(t, err, ErrUnsupported, "rare variant")
}

// Phones put a second picture, or a brightness map, behind the first.
func TestFurtherPicturesAreNoted(t *testing.T) {
	data := jpegOf(t, drawPatches(t, 8), 90)
	p := mustDecode(t, append(jpegWith(data, segment(0xe2, []byte("MPF\x00MM\x00*"))), jpegOf(t, drawPatches(t, 2), 50)...), Options{})
	if p.Width != 48 || !noted(p, "several pictures; the first was read") {
		t.Errorf("%d, %q", p.Width, p.Notes)
	}
	xmp := segment(0xe1, []byte("http://ns.adobe.com/xap/1.0/\x00<x hdrgm:Version=\"1.0\"/>"))
	p = mustDecode(t, jpegWith(data, xmp), Options{})
	if !noted(p, "brightness map") {
		t.Errorf("%q", p.Notes)
	}
}

// The main brand of some phones' and cameras' files is not heic.
func TestHEICByOtherBrands(t *testing.T) {
	data := bytes.Clone(fixture(t, "full601.heic"))
	copy(data[8:], "mif1")
	checkPatches(t, mustDecode(t, data, Options{}), srgb, 1, 2.5)
	_, err := Decode("hdr.heic", heifWith(fixture(t, "full601.heic"), nclx(9, 16, 9, true)), Options{})
	wantError(t, err, ErrUnsupported, "high dynamic range")
}

// A picture turned by the file's own marks comes turned from the decoder, and
// once only.
func TestHEICTurnedOnce(t *testing.T) {
	plain := mustDecode(t, fixture(t, "full601.heic"), Options{})
	turned := mustDecode(t, heifWith(fixture(t, "full601.heic"), box("irot", []byte{3})), Options{})
	if turned.Width != plain.Height || turned.Height != plain.Width || turned.Orientation != 1 {
		t.Fatalf("%d×%d, orientation %d", turned.Width, turned.Height, turned.Orientation)
	}
	if !noted(turned, "was turned") {
		t.Errorf("notes %q", turned.Notes)
	}
	for i := range 24 { // irot 3 is three quarters anticlockwise: one clockwise
		x, y := i%6*20+10, i/6*20+10
		a, b := plain.At(x, y, 3), turned.At(plain.Height-1-y, x, 3)
		for k := range a {
			if !near(a[k], b[k], 0.02) {
				t.Fatalf("patch %d: %v and, turned, %v", i, a, b)
			}
		}
	}
}

// Phones code a large picture as a grid of tiles, and put the colour on the
// tiles; without any mark the video stream's own counts.
func TestHEICGrid(t *testing.T) {
	p3 := matrixSpace("", primariesP3, lab.DecodeSRGB)
	asP3 := func(c color.NRGBA) lab.Lab {
		v := p3.linear([3]float64{float64(c.R) / 255, float64(c.G) / 255, float64(c.B) / 255})
		return lab.FromLinear(v[0], v[1], v[2])
	}
	for name, c := range map[string]struct {
		data    []byte
		profile string
		want    func(color.NRGBA) lab.Lab
	}{
		"stream alone":     {heifGrid(fixture(t, "full601.heic")), "sRGB", srgb},
		"code on tiles":    {heifGrid(fixture(t, "limited709.heic"), nclx(1, 13, 1, false)), "sRGB", srgb},
		"profile on tiles": {heifGrid(fixture(t, "full601.heic"), box("colr", append([]byte("prof"), profileP3()...))), "Display P3 test", asP3},
	} {
		t.Run(name, func(t *testing.T) {
			whole := mustDecode(t, c.data, Options{})
			if whole.Width != 240 || whole.Height != 80 || whole.Profile != c.profile {
				t.Fatalf("%d×%d, %q", whole.Width, whole.Height, whole.Profile)
			}
			for _, x := range []float64{0, 120} { // either tile
				p := mustDecode(t, c.data, Options{Crop: &Crop{Measure{x, false}, Measure{}, Measure{120, false}, Measure{80, false}}})
				checkPatches(t, p, c.want, 1.2, 3)
			}
		})
	}
}

// The same coding as one picture and as tiles shows the same colours, whatever
// range its stream states.
func TestHEICStreamRange(t *testing.T) {
	full := fixture(t, "full601.heic")
	at := bytes.Index(full, []byte("hvcC"))
	config := func(data []byte) []byte { return data[at+4 : at-4+int(be.Uint32(data[at-4:]))] }
	if c := streamColour(config(full)); c == nil || *c != (colourCode{2, 2, 6, true}) {
		t.Fatalf("the stream says %+v", c)
	}
	// One bit of the sequence parameter set is the range.
	var limited []byte
	for i := range 8 * len(config(full)) {
		d := bytes.Clone(full)
		config(d)[i/8] ^= 0x80 >> (i % 8)
		if c := streamColour(config(d)); c != nil && *c == (colourCode{2, 2, 6, false}) {
			limited = d
		}
	}
	if limited == nil {
		t.Fatal("no bit for the range")
	}
	tiles := heifGrid(limited)
	a, b, plain := mustDecode(t, limited, Options{}), mustDecode(t, tiles, Options{}), mustDecode(t, full, Options{})
	for i := range 24 {
		x, y := i%6*20+10, i/6*20+10
		v, w, u := a.At(x, y, 3), b.At(x, y, 3), plain.At(x, y, 3)
		p, q, r := lab.FromLinear(v[0], v[1], v[2]), lab.FromLinear(w[0], w[1], w[2]), lab.FromLinear(u[0], u[1], u[2])
		if d := lab.DE00(p, q); d > 2 {
			t.Errorf("patch %d: one picture %.1f, tiles %.1f", i, p, q)
		}
		if r.L > 20 && r.L < 80 && lab.DE00(p, r) < 0.5 {
			t.Errorf("patch %d: the range made no difference: %.1f", i, p)
		}
	}
}

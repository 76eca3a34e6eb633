package photo

import (
	"bytes"
	"errors"
	"hash/crc32"
	"image"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func isReason(err, reason error) bool { return errors.Is(err, reason) }

// oneSentence checks the form every error has: one line, the file's name, a
// colon, a mend after a semicolon, colon or comma, and no full stop.
func oneSentence(t testing.TB, err error) {
	t.Helper()
	s := err.Error()
	if strings.ContainsAny(s, "\n\r\t") || len(s) > 300 || strings.HasSuffix(s, ".") || strings.Contains(s, "goroutine") {
		t.Errorf("not one plain sentence: %q", s)
	}
	if _, say, ok := strings.Cut(s, ": "); !ok || !strings.ContainsAny(say, ";:") {
		t.Errorf("no mend in %q", s)
	}
}

// samples is one sound file of each kind.
func samples(t testing.TB) map[string][]byte {
	m := drawPatches(t, 8)
	clear := drawPatches(t, 8)
	clear.Pix[3] = 100
	deep := image.NewNRGBA64(m.Rect)
	pal := image.NewPaletted(image.Rect(0, 0, 24, 16), nil)
	for i := range m.Pix {
		deep.Pix[2*i], deep.Pix[2*i+1] = m.Pix[i], m.Pix[i]
	}
	for i, c := range patches(t) {
		pal.Palette = append(pal.Palette, c)
		pal.SetColorIndex(i%24, i/24, uint8(i))
	}
	var rgb []byte
	for i := 0; i < len(m.Pix); i += 4 {
		rgb = append(rgb, m.Pix[i:i+3]...)
	}
	return map[string][]byte{
		"baseline.jpg":    jpegWith(jpegOf(t, m, 90), append(iccSegments(profileP3(), 2), exifSegment(6))...),
		"progressive.jpg": fixture(t, "progressive.jpg"),
		"cmyk.jpg":        fixture(t, "cmyk.jpg"),
		"rgb.png":         pngWith(pngOf(t, m), iccp(profileP3()), pngChunk("eXIf", exifBlock(be, 6, false))),
		"clear.png":       pngOf(t, clear),
		"deep.png":        pngOf(t, deep),
		"palette.png":     pngOf(t, pal),
		"interlaced.png":  fixture(t, "interlaced.png"),
		"rgb.tif":         tiffFile(le, m.Rect.Dx(), m.Rect.Dy(), 3, 8, 2, -1, 6, profileP3(), rgb),
		"lossy.webp":      webpWith(fixture(t, "lossy.webp"), 120, 80, map[string][]byte{"ICCP": profileP3(), "EXIF": exifBlock(le, 6, false)}),
		"clear.webp":      fixture(t, "clear.webp"),
		"lossless.webp":   fixture(t, "lossless.webp"),
		"phone.heic":      heifWith(fixture(t, "full601.heic"), box("colr", append([]byte("prof"), profileP3()...)), box("irot", []byte{1})),
		"deep.heic":       fixture(t, "deep10.heic"),
		"small.heic":      fixture(t, "small.heic"),
		"grid.heic":       heifGrid(fixture(t, "full601.heic"), box("colr", append([]byte("prof"), profileP3()...))),
	}
}

func TestSamplesAreSound(t *testing.T) {
	for name, data := range samples(t) {
		if _, err := Decode(name, data, Options{}); err != nil {
			t.Error(err)
		}
	}
}

// A file cut at any hundredth is an error that names it, and nearly always
// says that it is cut short; what can still be read whole may be read.
func TestTruncated(t *testing.T) {
	for name, data := range samples(t) {
		t.Run(name, func(t *testing.T) {
			cuts, wrong, read := 0, 0, 0
			for i := range 100 {
				n := len(data) * i / 100
				p, err := Decode(name, data[:n], Options{})
				if err == nil {
					read++
					pixels(p)
					continue
				}
				oneSentence(t, err)
				if !strings.HasPrefix(err.Error(), name+": ") {
					t.Errorf("error does not name the file: %q", err)
				}
				switch {
				case errors.Is(err, ErrTruncated):
					cuts++
				case n >= 32:
					wrong++
					t.Logf("cut at %d of %d: %v", n, len(data), err)
				}
			}
			if wrong > 0 || read > 0 {
				t.Errorf("cut at each hundredth: %d said to be cut short, %d other errors, %d read", cuts, wrong, read)
			}
		})
	}
}

// Mutants are errors or pictures, never a panic; and a picture has rows.
func TestMutants(t *testing.T) {
	for name, data := range samples(t) {
		t.Run(name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(7, uint64(len(data))))
			read, count := 0, 200
			if strings.HasSuffix(name, ".heic") && name != "phone.heic" {
				count = 50 // 10 ms each
			}
			for i := range count {
				bad := bytes.Clone(data)
				for range 1 + rng.IntN(8) {
					at := rng.IntN(len(bad))
					if i%2 == 0 { // half of the mutants in the header
						at = rng.IntN(min(len(bad), 200))
					}
					bad[at] = byte(rng.IntN(256))
				}
				if i%4 > 0 {
					mendChecksums(bad) // so that PNGs get past their own guard
				}
				p, err := Decode(name, bad, Options{MaxPixels: 1e6})
				if err != nil {
					oneSentence(t, err)
					continue
				}
				read++
				pixels(p)
			}
			t.Logf("%d of %d read", read, count)
		})
	}
}

// mendChecksums makes the chunks of a PNG agree with their contents again.
func mendChecksums(data []byte) {
	if len(data) < 8 || !bytes.HasPrefix(data, []byte("\x89PNG")) {
		return
	}
	for rest := data[8:]; len(rest) >= 12; {
		n := int(be.Uint32(rest))
		if n > len(rest)-12 {
			return
		}
		be.PutUint32(rest[8+n:], crc32.ChecksumIEEE(rest[4:8+n]))
		rest = rest[12+n:]
	}
}

// A JPEG that lacks its end mark alone is read, and that is said.
func TestNoEndMark(t *testing.T) {
	data := jpegOf(t, drawPatches(t, 8), 90)
	want := pixels(mustDecode(t, data, Options{}))
	for _, cut := range []int{1, 2} {
		p := mustDecode(t, data[:len(data)-cut], Options{})
		if !noted(p, "lacks its end mark") {
			t.Errorf("notes %q", p.Notes)
		}
		if !slices.Equal(pixels(p), want) {
			t.Errorf("other pixels without the last %d bytes", cut)
		}
	}
	_, err := Decode("a.jpg", data[:len(data)-30], Options{})
	wantError(t, err, ErrTruncated)
	fine := fixture(t, "progressive.jpg")
	_, err = Decode("a.jpg", fine[:len(fine)-2], Options{})
	wantError(t, err, ErrTruncated)
}

func FuzzJPEG(f *testing.F) { fuzz(f, ".jpg") }
func FuzzPNG(f *testing.F)  { fuzz(f, ".png") }
func FuzzTIFF(f *testing.F) { fuzz(f, ".tif") }
func FuzzWebP(f *testing.F) { fuzz(f, ".webp") }
func FuzzHEIC(f *testing.F) { fuzz(f, ".heic") }

// fuzz tries files that began as the samples of one kind.
func fuzz(f *testing.F, ext string) {
	for name, data := range samples(f) {
		if filepath.Ext(name) == ext {
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if ext == ".png" {
			data = bytes.Clone(data)
			mendChecksums(data)
		}
		p, err := Decode("fuzz", data, Options{MaxPixels: 1 << 16, Exposure: 0.5, Grey: &Point{Measure{50, true}, Measure{50, true}}})
		if err != nil {
			oneSentence(t, err)
			return
		}
		pixels(p)
		p.Preview(16)
	})
}

// FuzzProfile reads ICC profiles of one, three and four channels: errors, or
// colours that are numbers.
func FuzzProfile(f *testing.F) {
	f.Add(profileP3(), byte(1))
	f.Add(lutProfile("CMYK", 4, 9, ink), byte(2))
	f.Fuzz(func(t *testing.T, data []byte, which byte) {
		n := []int{1, 3, 4}[which%3]
		s, err := readProfile(data, n)
		if err != nil {
			return
		}
		m := image.Image(image.NewGray(image.Rect(0, 0, 3, 1)))
		switch n {
		case 3:
			m = image.NewNRGBA(m.Bounds())
		case 4:
			m = image.NewCMYK(m.Bounds())
		}
		noise(rawPixels(m))
		r, ok := newRaster(m)
		if !ok {
			t.Fatal("no raster")
		}
		row := make([]float32, 9)
		r.span(s.converter(r, identity, jfif), 0, 0, 3, row)
		for _, v := range row {
			if v != v || math.IsInf(float64(v), 0) {
				t.Fatalf("%v", row)
			}
		}
	})
}

func rawPixels(m image.Image) []byte {
	switch m := m.(type) {
	case *image.Gray:
		return m.Pix
	case *image.NRGBA:
		return m.Pix
	case *image.CMYK:
		return m.Pix
	}
	panic("no pixels")
}

// FuzzExif reads the orientation from what a camera wrote.
func FuzzExif(f *testing.F) {
	f.Add(exifBlock(be, 6, false))
	f.Add(exifBlock(le, 8, true))
	f.Add(append([]byte("Exif\x00\x00"), exifBlock(le, 3, true)...))
	f.Fuzz(func(t *testing.T, data []byte) {
		if e := readExif(data); e.orientation < 1 || e.orientation > 8 {
			t.Errorf("orientation %d", e.orientation)
		}
	})
}

// FuzzFrame reads places, crops and canvases as they are typed.
func FuzzFrame(f *testing.F) {
	for _, s := range []string{"1200,800", "40%,62%", "0,200,3000,2000", "0%,10%,100%,80%", "30x40cm", "9 1/2 x 12½ in", "300×400 mm"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if p, err := ParsePoint(s); err == nil {
			if q, err := ParsePoint(p.String()); err != nil || q != p {
				t.Errorf("%q: %v, then %v, %v", s, p, q, err)
			}
		}
		if c, err := ParseCrop(s); err == nil {
			if r, err := c.rect(640, 480); err == nil && (r.Empty() || !r.In(image.Rect(0, 0, 640, 480))) {
				t.Errorf("%q is %v of 640×480", s, r)
			}
		}
		if c, err := ParseCanvas(s); err == nil {
			if !(c.Width > 0 && c.Height > 0) || math.IsInf(c.Width+c.Height, 0) {
				t.Errorf("%q is a canvas of %v", s, c)
			}
			if r := c.fit(image.Rect(0, 0, 640, 480)); r.Empty() || !r.In(image.Rect(0, 0, 640, 480)) {
				t.Errorf("%q fits %v of 640×480", s, r)
			}
		}
	})
}

func TestRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		data   string
		reason error
		parts  []string
	}{
		"empty.jpg":    {"", ErrEmpty, []string{"empty", "copy it again"}},
		"photo.gif":    {"GIF89a\x01\x00\x01\x00\x00\x00\x00", ErrUnsupported, []string{"GIF", "save it as JPEG"}},
		"scan.bmp":     {"BM\x46\x00\x00\x00\x00\x00\x00\x00\x36\x00\x00\x00\x28\x00\x00\x00\x02\x00\x00\x00\x02\x00\x00\x00\x01\x00\x18\x00\x00\x00", ErrUnsupported, []string{"BMP", "save it as JPEG"}},
		"page.pdf":     {"%PDF-1.7\n", ErrUnsupported, []string{"PDF", "save the picture in it"}},
		"clip.mov":     {"\x00\x00\x00\x14ftypqt  \x00\x00\x00\x00qt  ", ErrUnsupported, []string{"film", "save one frame"}},
		"clip.avi":     {"RIFF\x00\x00\x00\x00AVI LIST", ErrUnsupported, []string{"film"}},
		"photo.cr2":    {"II*\x00\x10\x00\x00\x00CR\x02\x00", ErrUnsupported, []string{"raw", "develop it"}},
		"photo.cr3":    {"\x00\x00\x00\x18ftypcrx \x00\x00\x00\x01crx isom", ErrUnsupported, []string{"raw"}},
		"photo.raf":    {"FUJIFILMCCD-RAW 0201", ErrUnsupported, []string{"raw"}},
		"photo.jxl":    {"\xff\x0a\xfa\x1f", ErrUnsupported, []string{"JPEG XL"}},
		"photo.jp2":    {"\x00\x00\x00\x0cjP  \r\n\x87\n", ErrUnsupported, []string{"JPEG 2000"}},
		"work.psd":     {"8BPS\x00\x01", ErrUnsupported, []string{"working file"}},
		"notes.jpg":    {"Morning, from the gate: sky 7, hills 5.\n", ErrNotPicture, []string{"text file"}},
		"photo.svg":    {"<svg xmlns='http://www.w3.org/2000/svg'/>", ErrNotPicture, []string{"text file"}},
		"photos.zip":   {"PK\x03\x04\x14\x00", ErrNotPicture, []string{"archive", "unpack it"}},
		"zeros.jpg":    {strings.Repeat("\x00", 4000), ErrNotPicture, []string{"zeros", "copy it again"}},
		"random.jpg":   {"\x81\x02\x93\xfe\x12\x55\x99", ErrNotPicture, []string{"not a picture"}},
		"big.tif":      {"II+\x00\x08\x00\x00\x00", ErrUnsupported, []string{"BigTIFF"}},
		"lossless.jpg": {"\xff\xd8\xff\xc3\x00\x0b\x08\x00\x10\x00\x10\x01\x01\x11\x00" + "\xff\xda\x00\x08\x01\x01\x00\x00\x3f\x00", ErrUnsupported, []string{"rare variant of JPEG"}},
	} {
		_, err := Decode(name, []byte(c.data), Options{})
		wantError(t, err, c.reason, append(c.parts, name+": ")...)
	}
	_, err := Decode("a.avif", fixture(t, "refused.avif"), Options{})
	wantError(t, err, ErrUnsupported, "a.avif", "AVIF", "save it as JPEG")

	// A raw file that passes for TIFF: a thumbnail first, the picture below it.
	raw := appendIFD(tiffHead(le), le, [][4]uint32{{254, 4, 1, 1}, {256, 4, 1, 160}, {257, 4, 1, 120}, {330, 4, 1, 8}})
	_, err = Decode("photo.nef", raw, Options{})
	wantError(t, err, ErrUnsupported, "raw")
}

func TestOpenErrors(t *testing.T) {
	dir := t.TempDir()
	_, err := Open(filepath.Join(dir, "none.jpg"), Options{})
	wantError(t, err, ErrMissing, "none.jpg", "no such file")
	_, err = Open(dir, Options{})
	wantError(t, err, ErrUnreadable, "folder")
	_, err = Open("/dev/null", Options{})
	wantError(t, err, ErrUnreadable, "not an ordinary file")
	empty := filepath.Join(dir, "empty.png")
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	_, err = Open(empty, Options{})
	wantError(t, err, ErrEmpty, "empty.png")
	if os.Getuid() != 0 {
		locked := filepath.Join(dir, "locked.png")
		if err := os.WriteFile(locked, []byte("x"), 0); err != nil {
			t.Fatal(err)
		}
		_, err = Open(locked, Options{})
		wantError(t, err, ErrUnreadable, "permissions")
	}
	sparse := filepath.Join(dir, "huge.tif")
	f, err := os.Create(sparse)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(f.Truncate(maxFile+1), f.Close()); err != nil {
		t.Skip("no sparse files here:", err)
	}
	_, err = Open(sparse, Options{})
	wantError(t, err, ErrTooLarge, "huge.tif", "over the limit")
}

// Content decides, not the name.
func TestNameDoesNotMatter(t *testing.T) {
	path := filepath.Join(t.TempDir(), "photo.png")
	if err := os.WriteFile(path, jpegOf(t, drawPatches(t, 8), 90), 0o600); err != nil {
		t.Fatal(err)
	}
	p, err := Open(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if p.Format != "JPEG" || p.Name != path {
		t.Errorf("%q %q", p.Format, p.Name)
	}
}

// Sizes are refused by the header alone, before memory is taken.
func TestTooLarge(t *testing.T) {
	huge := map[string][]byte{}
	j := jpegOf(t, drawPatches(t, 4), 90)
	at := bytes.Index(j, []byte("\xff\xc0"))
	be.PutUint16(j[at+5:], 60000)
	be.PutUint16(j[at+7:], 60000)
	huge["jpg"] = j
	p := pngOf(t, drawPatches(t, 4))
	be.PutUint32(p[16:], 60000)
	be.PutUint32(p[20:], 60000)
	huge["png"] = p
	huge["tif"] = tiffFile(le, 60000, 60000, 3, 8, 2, -1, 1, nil, make([]byte, 300))
	huge["heic"] = bytes.Clone(fixture(t, "full601.heic"))
	at = bytes.Index(huge["heic"], []byte("ispe"))
	be.PutUint32(huge["heic"][at+8:], 60000)
	be.PutUint32(huge["heic"][at+12:], 60000)
	w := bytes.Clone(fixture(t, "lossless.webp"))
	at = bytes.Index(w, []byte("VP8L")) + 9 // 14 bits of width − 1, then height − 1
	copy(w[at:], []byte{0xff, 0xff, 0xff, w[at+3] | 0x0f})
	huge["webp"] = w
	for name, data := range huge {
		_, err := Decode("huge."+name, data, Options{})
		wantError(t, err, ErrTooLarge, "huge."+name, "over the limit of 120 million", "save it smaller")
	}
	// The limit can be set, and is exact.
	small := pngOf(t, drawPatches(t, 5)) // 30×20
	if _, err := Decode("a", small, Options{MaxPixels: 600}); err != nil {
		t.Error(err)
	}
	_, err := Decode("a", small, Options{MaxPixels: 599})
	wantError(t, err, ErrTooLarge, "30×20", "0.000599 million")
}

// Pictures within the limit of pixels are refused where reading them would
// take too much memory all the same.
func TestTooMuchMemory(t *testing.T) {
	deep := image.NewNRGBA64(image.Rect(0, 0, 8, 8))
	sized := func(data []byte, kind byte, orientation, w, h int) []byte {
		data = pngWith(data, pngChunk("eXIf", exifBlock(be, orientation, false)))
		be.PutUint32(data[16:], uint32(w))
		be.PutUint32(data[20:], uint32(h))
		data[25] = kind
		return data
	}
	tall := func(rows int) []byte { // 16-bit RGB in one strip
		data := tiffFile(le, 10000, 10000, 3, 16, 2, -1, 1, nil, make([]byte, 300))
		for i := 10; ; i += 12 {
			if le.Uint16(data[i:]) == 278 {
				le.PutUint32(data[i+8:], uint32(rows))
				return data
			}
		}
	}
	for _, c := range []struct {
		name string
		data []byte
		over bool
	}{
		{"deep.png", sized(pngOf(t, deep), 6, 1, 12000, 10000), false},
		{"turned.png", sized(pngOf(t, deep), 6, 6, 12000, 10000), true},
		{"small turned.png", sized(pngOf(t, deep), 6, 6, 8000, 6000), false},
		{"strips.tif", tall(16), false},
		{"strip.tif", tall(10000), true},
	} {
		_, err := Decode(c.name, c.data, Options{})
		if c.over {
			wantError(t, err, ErrTooLarge, c.name, "MB of memory", "save it smaller")
		} else if isReason(err, ErrTooLarge) {
			t.Error(err)
		}
	}
}

// Headers that promise far more than the file can hold are cut short.
func TestShortFileWithLargeHeader(t *testing.T) {
	j := jpegOf(t, drawPatches(t, 4), 90)
	at := bytes.Index(j, []byte("\xff\xc0"))
	be.PutUint16(j[at+5:], 10000)
	be.PutUint16(j[at+7:], 10000)
	_, err := Decode("a.jpg", j, Options{})
	wantError(t, err, ErrTruncated)
	p := pngOf(t, drawPatches(t, 4))
	be.PutUint32(p[16:], 10000)
	be.PutUint32(p[20:], 10000)
	_, err = Decode("a.png", p, Options{})
	wantError(t, err, ErrTruncated)
}

func TestNoArea(t *testing.T) {
	j := jpegOf(t, drawPatches(t, 4), 90)
	at := bytes.Index(j, []byte("\xff\xc0"))
	be.PutUint16(j[at+5:], 0)
	_, err := Decode("a.jpg", j, Options{})
	wantError(t, err, ErrDamaged, "no area")
	p := pngOf(t, drawPatches(t, 4))
	be.PutUint32(p[16:], 0)
	_, err = Decode("a.png", p, Options{})
	wantError(t, err, ErrDamaged, "no area")
}

// A picture in a hundred passes would keep the decoder busy for minutes.
func TestTooManyScans(t *testing.T) {
	data := fixture(t, "progressive.jpg")
	at := bytes.LastIndex(data, []byte("\xff\xda"))
	end := bytes.LastIndex(data, []byte("\xff\xd9"))
	bad := append(bytes.Clone(data[:end]), bytes.Repeat(data[at:end], 150)...)
	_, err := Decode("a.jpg", append(bad, 0xff, 0xd9), Options{})
	wantError(t, err, ErrDamaged, "passes")
}

// A palette index beyond the palette brought down goroutines in libraries
// that convert in parallel; here it is an error or black.
func TestPaletteOutOfRange(t *testing.T) {
	pal := image.NewPaletted(image.Rect(0, 0, 64, 64), nil)
	for _, c := range patches(t) {
		pal.Palette = append(pal.Palette, c)
	}
	for i := range pal.Pix {
		pal.Pix[i] = 200
	}
	var b bytes.Buffer
	if err := png.Encode(&b, pal); err != nil {
		t.Fatal(err)
	}
	p, err := Decode("a.png", b.Bytes(), Options{})
	if err == nil {
		for _, v := range pixels(p) {
			if v != 0 {
				t.Fatalf("a colour out of nowhere: %v", v)
			}
		}
	}
}

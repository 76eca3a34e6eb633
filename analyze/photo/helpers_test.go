package photo

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"paintout/analyze/lab"
)

var be, le = binary.BigEndian, binary.LittleEndian

func mustDecode(t testing.TB, data []byte, o Options) *Photo {
	t.Helper()
	p, err := Decode("test", data, o)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func fixture(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

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

// patches are the colours that every file in testdata shows.
func patches(t testing.TB) (c []color.NRGBA) {
	t.Helper()
	for _, line := range strings.Fields(string(fixture(t, "patches.txt"))) {
		n := color.NRGBA{A: 255}
		if _, err := fmt.Sscanf(line, "%02x%02x%02x", &n.R, &n.G, &n.B); err != nil {
			t.Fatal(err)
		}
		c = append(c, n)
	}
	if len(c) != 24 {
		t.Fatalf("%d patches", len(c))
	}
	return c
}

// patchLab is the mean colour of the middle of patch i.
func patchLab(p *Photo, i int) lab.Lab {
	side := p.Width / 6
	v := p.At(i%6*side+side/2, i/6*side+side/2, side/6)
	return lab.FromLinear(v[0], v[1], v[2])
}

// checkPatches compares each patch with want by CIEDE2000.
func checkPatches(t *testing.T, p *Photo, want func(color.NRGBA) lab.Lab, mean, most float64) {
	t.Helper()
	sum := 0.0
	for i, c := range patches(t) {
		got := patchLab(p, i)
		d := lab.DE00(got, want(c))
		sum += d
		if !(d <= most) {
			t.Errorf("patch %d, %02x%02x%02x: got %.1f, want %.1f, off by %.2f", i, c.R, c.G, c.B, got, want(c), d)
		}
	}
	if sum/24 > mean {
		t.Errorf("mean difference %.2f, allowed %.2f", sum/24, mean)
	}
	t.Logf("mean difference %.3f", sum/24)
}

func srgb(c color.NRGBA) lab.Lab { return lab.FromSRGB8(c.R, c.G, c.B) }

func drawPatches(t testing.TB, side int) *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, 6*side, 4*side))
	for i, c := range patches(t) {
		for y := range side {
			for x := range side {
				m.SetNRGBA(i%6*side+x, i/6*side+y, c)
			}
		}
	}
	return m
}

func pngOf(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func jpegOf(t testing.TB, m image.Image, quality int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// pixels is the whole picture as linear light.
func pixels(p *Photo) []float32 {
	out := make([]float32, 3*p.Width*p.Height)
	for y := range p.Height {
		p.Row(y, out[3*p.Width*y:])
	}
	return out
}

// light8 is the light of an 8-bit sRGB step.
func light8(v uint8) float64 { return lab.DecodeSRGB(float64(v) / 255) }

func near(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance }

// --- containers ---

func pngChunk(kind string, body []byte) []byte {
	b := be.AppendUint32(nil, uint32(len(body)))
	b = append(append(b, kind...), body...)
	return be.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

// pngWith puts chunks after the header of a PNG.
func pngWith(data []byte, chunks ...[]byte) []byte {
	out := bytes.Clone(data[:33])
	for _, c := range chunks {
		out = append(out, c...)
	}
	return append(out, data[33:]...)
}

func iccp(profile []byte) []byte {
	var b bytes.Buffer
	b.WriteString("p\x00\x00")
	z := zlib.NewWriter(&b)
	z.Write(profile)
	z.Close()
	return pngChunk("iCCP", b.Bytes())
}

func segment(marker byte, body []byte) []byte {
	b := []byte{0xff, marker}
	return append(be.AppendUint16(b, uint16(len(body)+2)), body...)
}

// jpegWith puts segments right after the start of a JPEG.
func jpegWith(data []byte, segments ...[]byte) []byte {
	out := bytes.Clone(data[:2])
	for _, s := range segments {
		out = append(out, s...)
	}
	return append(out, data[2:]...)
}

// iccSegments cuts a profile into n JPEG segments, the last one first.
func iccSegments(profile []byte, n int) (s [][]byte) {
	for i := n - 1; i >= 0; i-- {
		body := append([]byte("ICC_PROFILE\x00"), byte(i+1), byte(n))
		s = append(s, segment(0xe2, append(body, profile[i*len(profile)/n:(i+1)*len(profile)/n]...)))
	}
	return s
}

func exifSegment(orientation int) []byte {
	return segment(0xe1, append([]byte("Exif\x00\x00"), exifBlock(be, orientation, false)...))
}

// xmpSegment says an orientation that must not be followed.
func xmpSegment() []byte {
	return segment(0xe1, []byte("http://ns.adobe.com/xap/1.0/\x00<x:xmpmeta xmlns:x='adobe:ns:meta/'><rdf:RDF xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'><rdf:Description xmlns:tiff='http://ns.adobe.com/tiff/1.0/' tiff:Orientation='1'/></rdf:RDF></x:xmpmeta>"))
}

// exifBlock is a TIFF stream with an orientation and, where asked, DCF's mark
// of Adobe RGB.
func exifBlock(order binary.ByteOrder, orientation int, adobe bool) []byte {
	exif := [][4]uint32{{tagColorSpace, 3, 1, 65535}, {tagInteropIFD, 4, 1, 0}}
	main := [][4]uint32{{tagOrientation, 3, 1, uint32(orientation)}}
	if adobe {
		main = append(main, [4]uint32{tagExifIFD, 4, 1, 0})
		const size = 2 + 2*12 + 4
		main[1][3] = 8 + size
		exif[1][3] = 8 + 2*size
	}
	out := tiffHead(order)
	out = appendIFD(out, order, main)
	if adobe {
		out = appendIFD(out, order, exif)
		i := len(out)
		out = appendIFD(out, order, [][4]uint32{{tagInteropIndex, 2, 4, 0}})
		copy(out[i+2+8:], "R03\x00")
	}
	return out
}

func tiffHead(order binary.ByteOrder) []byte {
	out := []byte("MM\x00*\x00\x00\x00\x08")
	if order == binary.ByteOrder(le) {
		out = []byte("II*\x00\x08\x00\x00\x00")
	}
	return out
}

// appendIFD adds entries of tag, type, count and value.
func appendIFD(out []byte, order binary.ByteOrder, entries [][4]uint32) []byte {
	b := make([]byte, 2+12*len(entries)+4)
	order.PutUint16(b, uint16(len(entries)))
	for i, e := range entries {
		p := b[2+12*i:]
		order.PutUint16(p, uint16(e[0]))
		order.PutUint16(p[2:], uint16(e[1]))
		order.PutUint32(p[4:], e[2])
		if e[1] == 3 && e[2] == 1 {
			order.PutUint16(p[8:], uint16(e[3]))
		} else {
			order.PutUint32(p[8:], e[3])
		}
	}
	return append(out, b...)
}

// tiffFile is an uncompressed TIFF of one strip. kind is the photometric
// interpretation; extra, the ExtraSamples value, or −1.
func tiffFile(order binary.ByteOrder, w, h, samples, bits, kind, extra, orientation int, profile, pix []byte) []byte {
	head := 8 + 2 + 16*12 + 4
	bitsAt := head
	body := make([]byte, 0, 2*samples)
	for range samples {
		b := make([]byte, 2)
		order.PutUint16(b, uint16(bits))
		body = append(body, b...)
	}
	pixAt := head + len(body)
	body = append(body, pix...)
	iccAt := head + len(body)
	body = append(body, profile...)
	bitsValue := uint32(bitsAt)
	if samples == 1 {
		bitsValue = uint32(bits)
	}
	e := [][4]uint32{
		{256, 4, 1, uint32(w)}, {257, 4, 1, uint32(h)}, {258, 3, uint32(samples), bitsValue}, {259, 3, 1, 1},
		{262, 3, 1, uint32(kind)}, {273, 4, 1, uint32(pixAt)}, {274, 3, 1, uint32(orientation)},
		{277, 3, 1, uint32(samples)}, {278, 4, 1, uint32(h)}, {279, 4, 1, uint32(len(pix))},
	}
	if samples == 2 {
		panic("two samples do not fit an entry here")
	}
	if extra >= 0 {
		e = append(e, [4]uint32{338, 3, 1, uint32(extra)})
	}
	if profile != nil {
		e = append(e, [4]uint32{tagICC, 7, uint32(len(profile)), uint32(iccAt)})
	}
	out := appendIFD(tiffHead(order), order, e)
	return append(append(out, make([]byte, head-len(out))...), body...)
}

// webpWith wraps a plain WebP in the extended form with further chunks.
func webpWith(data []byte, w, h int, chunks map[string][]byte) []byte {
	body := []byte("WEBP")
	add := func(kind string, b []byte) {
		body = append(body, kind...)
		body = le.AppendUint32(body, uint32(len(b)))
		body = append(body, b...)
		if len(b)%2 == 1 {
			body = append(body, 0)
		}
	}
	flags := byte(0)
	if chunks["ICCP"] != nil {
		flags |= 1 << 5
	}
	if chunks["EXIF"] != nil {
		flags |= 1 << 3
	}
	add("VP8X", []byte{flags, 0, 0, 0, byte(w - 1), byte((w - 1) >> 8), 0, byte(h - 1), byte((h - 1) >> 8), 0})
	if b := chunks["ICCP"]; b != nil {
		add("ICCP", b)
	}
	body = append(body, data[12:]...)
	if b := chunks["EXIF"]; b != nil {
		add("EXIF", b)
	}
	return append(le.AppendUint32([]byte("RIFF"), uint32(len(body))), body...)
}

func box(kind string, body []byte) []byte {
	return append(append(be.AppendUint32(nil, uint32(8+len(body))), kind...), body...)
}

// heifWith gives the one picture of a HEIC file (as heif-enc lays it out)
// further properties.
func heifWith(data []byte, props ...[]byte) []byte {
	var out, meta []byte
	boxes(data, func(kind string, body []byte) {
		if kind != "meta" {
			out = append(out, box(kind, body)...)
			return
		}
		meta = bytes.Clone(body[:4])
		boxes(body[4:], func(kind string, body []byte) {
			if kind == "iprp" {
				var iprp []byte
				count := 0
				boxes(body, func(kind string, body []byte) {
					body = bytes.Clone(body)
					switch kind {
					case "ipco":
						boxes(body, func(string, []byte) { count++ })
						body = append(body, bytes.Join(props, nil)...)
					case "ipma":
						body[10] += byte(len(props))
						for i := range props {
							body = append(body, byte(count+1+i))
						}
					}
					iprp = append(iprp, box(kind, body)...)
				})
				body = iprp
			}
			meta = append(meta, box(kind, body)...)
		})
		out = append(out, box("meta", meta)...)
	})
	at := bytes.Index(out, []byte("iloc")) + 4
	base := out[at+12:]
	be.PutUint32(base, be.Uint32(base)+uint32(len(out)-len(data)))
	return out
}

// heifGrid lays the picture of a HEIC file twice side by side, as phones build
// large pictures of tiles: the picture named in the file is a grid of others,
// and size and turning are its own, the coding is the tiles'.
func heifGrid(data []byte, tileProps ...[]byte) []byte {
	full := func(kind string, version byte, body ...[]byte) []byte {
		return box(kind, append([]byte{version, 0, 0, 0}, bytes.Join(body, nil)...))
	}
	u16 := func(v ...int) (b []byte) {
		for _, x := range v {
			b = be.AppendUint16(b, uint16(x))
		}
		return b
	}
	u32 := func(v int) []byte { return be.AppendUint32(nil, uint32(v)) }
	var hvcC, ispe, coded []byte
	boxes(data, func(kind string, body []byte) {
		switch kind {
		case "mdat":
			coded = body
		case "meta":
			boxes(body[4:], func(kind string, body []byte) {
				if kind == "iprp" {
					boxes(body, func(kind string, body []byte) {
						if kind == "ipco" {
							boxes(body, func(kind string, body []byte) {
								switch kind {
								case "hvcC":
									hvcC = box(kind, body)
								case "ispe":
									ispe = box(kind, body)
								}
							})
						}
					})
				}
			})
		}
	})
	w, h := int(be.Uint32(ispe[12:])), int(be.Uint32(ispe[16:]))
	ftyp := box("ftyp", []byte("heic\x00\x00\x00\x00mif1heic"))
	tile := []byte{2, 0x81, 2} // two properties each, the coding essential
	tile[0] += byte(len(tileProps))
	for i := range tileProps {
		tile = append(tile, byte(4+i))
	}
	ipma := append(append(u32(3), u16(1)...), tile...)
	ipma = append(append(ipma, u16(2)...), tile...)
	ipma = append(append(ipma, u16(3)...), 1, 3)
	props := append([][]byte{hvcC, ispe, full("ispe", 0, u32(2*w), u32(h))}, tileProps...)
	meta := func(at int) []byte {
		item := func(id, method, offset, size int) []byte {
			return append(append(u16(id, method, 0, 1), u32(offset)...), u32(size)...)
		}
		grid := append([]byte{0, 0, 0, 1}, u16(2*w, h)...)
		return full("meta", 0,
			full("hdlr", 0, make([]byte, 4), []byte("pict"), make([]byte, 13)),
			full("pitm", 0, u16(3)),
			full("iloc", 1, []byte{0x44, 0}, u16(3), item(1, 0, at, len(coded)), item(2, 0, at, len(coded)), item(3, 1, 0, len(grid))),
			full("iinf", 0, u16(3), full("infe", 2, u16(1, 0), []byte("hvc1\x00")), full("infe", 2, u16(2, 0), []byte("hvc1\x00")), full("infe", 2, u16(3, 0), []byte("grid\x00"))),
			full("iref", 0, box("dimg", u16(3, 2, 1, 2))),
			box("iprp", append(box("ipco", bytes.Join(props, nil)), full("ipma", 0, ipma)...)),
			box("idat", grid))
	}
	at := len(ftyp) + len(meta(0)) + 8
	return bytes.Join([][]byte{ftyp, meta(at), box("mdat", coded)}, nil)
}

func nclx(prim, transfer, matrix int, full bool) []byte {
	b := []byte{'n', 'c', 'l', 'x', 0, byte(prim), 0, byte(transfer), 0, byte(matrix), 0}
	if full {
		b[10] = 0x80
	}
	return box("colr", b)
}

// --- ICC profiles (ICC.1:2001-04 for version 2, as most pictures carry) ---

// iccProfile lays out a profile of the given colour space and tags.
func iccProfile(class, space, pcs string, tags map[string][]byte) []byte {
	keys := make([]string, 0, len(tags))
	for _, k := range []string{"desc", "wtpt", "rXYZ", "gXYZ", "bXYZ", "rTRC", "gTRC", "bTRC", "kTRC", "A2B0"} {
		if tags[k] != nil {
			keys = append(keys, k)
		}
	}
	head := make([]byte, 128)
	be.PutUint32(head[8:], 0x02400000)
	copy(head[12:], class+space+pcs)
	copy(head[36:], "acsp")
	copy(head[68:], s15(whitePCS[0], whitePCS[1], whitePCS[2]))
	table := be.AppendUint32(nil, uint32(len(keys)))
	var body []byte
	for _, k := range keys {
		table = append(table, k...)
		table = be.AppendUint32(table, uint32(132+12*len(keys)+len(body)))
		table = be.AppendUint32(table, uint32(len(tags[k])))
		body = append(body, tags[k]...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	out := append(append(head, table...), body...)
	be.PutUint32(out, uint32(len(out)))
	return out
}

func s15(v ...float64) (b []byte) {
	for _, x := range v {
		b = be.AppendUint32(b, uint32(int32(math.Round(x*65536))))
	}
	return b
}

func tagXYZ(v [3]float64) []byte {
	return append([]byte("XYZ \x00\x00\x00\x00"), s15(v[0], v[1], v[2])...)
}

func tagDesc(s string) []byte {
	b := be.AppendUint32([]byte("desc\x00\x00\x00\x00"), uint32(len(s)+1))
	return append(append(b, s...), make([]byte, 1+4+4+2+1+67)...)
}

// tagCurve samples f at n places; tagGamma is an exponent in 8.8 fixed point.
func tagCurve(f func(float64) float64, n int) []byte {
	b := be.AppendUint32([]byte("curv\x00\x00\x00\x00"), uint32(n))
	for i := range n {
		b = be.AppendUint16(b, uint16(math.Round(65535*f(float64(i)/float64(n-1)))))
	}
	return b
}

func tagGamma(g float64) []byte {
	return be.AppendUint16([]byte("curv\x00\x00\x00\x00\x00\x00\x00\x01"), uint16(math.Round(g*256)))
}

// tagSRGB is the sRGB curve in parametric form (ICC.1:2022, 10.18, type 3).
func tagSRGB() []byte {
	return append([]byte("para\x00\x00\x00\x00\x00\x03\x00\x00"), s15(2.4, 1/1.055, 0.055/1.055, 1/12.92, 0.04045)...)
}

// matrixProfile is an RGB display profile of published primaries.
func matrixProfile(name string, p primaries, curve []byte) []byte {
	m := adaptation(xyzOf(p[3]), whitePCS).mul(p.toXYZ())
	return iccProfile("mntr", "RGB ", "XYZ ", map[string][]byte{
		"desc": tagDesc(name), "wtpt": tagXYZ(whitePCS),
		"rXYZ": tagXYZ([3]float64{m[0], m[3], m[6]}),
		"gXYZ": tagXYZ([3]float64{m[1], m[4], m[7]}),
		"bXYZ": tagXYZ([3]float64{m[2], m[5], m[8]}),
		"rTRC": curve, "gTRC": curve, "bTRC": curve,
	})
}

// primariesProPhoto are ROMM RGB's (ISO 22028-2, from memory: white D50).
var primariesProPhoto = primaries{{0.7347, 0.2653}, {0.1596, 0.8404}, {0.0366, 0.0001}, {0.3457, 0.3585}}

// romm is ROMM RGB's curve (ISO 22028-2): 1.8, with a straight start.
func romm(v float64) float64 {
	if v < 16.0/512 {
		return v / 16
	}
	return math.Pow(v, 1.8)
}

func profileSRGB() []byte { return matrixProfile("sRGB test", primariesSRGB, tagSRGB()) }
func profileP3() []byte   { return matrixProfile("Display P3 test", primariesP3, tagSRGB()) }
func profileAdobe() []byte {
	return matrixProfile("Adobe RGB test", primariesAdobe, tagGamma(adobeGamma))
}
func profileProPhoto() []byte {
	return matrixProfile("ProPhoto test", primariesProPhoto, tagCurve(romm, 4096))
}

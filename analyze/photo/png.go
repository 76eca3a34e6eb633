package photo

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"

	"paintout/analyze/lab"
)

// pngHeader walks the chunks (W3C PNG, third edition). Colour marks count in
// the order cICP, iCCP, sRGB, gAMA with cHRM, as there.
func pngHeader(data []byte) (*header, error) {
	h := &header{exif: exifFacts{orientation: 1}, channels: 3}
	var cicp, gama, chrm []byte
	var srgb, moving bool
	rest := data[8:]
	for first := true; ; first = false {
		if len(rest) < 12 {
			return nil, errCut
		}
		n := uint64(binary.BigEndian.Uint32(rest))
		kind := string(rest[4:8])
		if first && (kind != "IHDR" || n != 13) {
			return nil, failure(ErrDamaged, "the picture's header is damaged; copy it again, or open it elsewhere and save it as PNG")
		}
		if n+12 > uint64(len(rest)) {
			return nil, errCut
		}
		body := rest[8 : 8+n]
		rest = rest[12+n:]
		switch kind {
		case "IHDR":
			w, hh := binary.BigEndian.Uint32(body), binary.BigEndian.Uint32(body[4:])
			if w > math.MaxInt32 || hh > math.MaxInt32 {
				return nil, failure(ErrDamaged, "the picture's header is damaged; copy it again, or open it elsewhere and save it as PNG")
			}
			h.width, h.height = int(w), int(hh)
			if body[9] == 0 || body[9] == 4 {
				h.channels = 1
			}
			// Deflate packs at most 1032 to 1, so that a short file cannot hold
			// a large picture.
			bits := uint64(body[8]) * map[byte]uint64{0: 1, 2: 3, 3: 1, 4: 2, 6: 4}[body[9]]
			h.packed = pngBytes(body[8], body[9])
			if h.perPixel = h.packed; body[12] == 1 {
				h.perPixel *= 2 // the seven passes of an interlaced one, each a picture
			}
			h.short = uint64(w)*uint64(hh)/8*bits/1032 > uint64(len(data))
		case "iCCP":
			h.profile = inflateProfile(body)
			h.brokenProfile = h.profile == nil
		case "cICP":
			cicp = body
		case "sRGB":
			srgb = true
		case "gAMA":
			gama = body
		case "cHRM":
			chrm = body
		case "eXIf":
			h.exif = readExif(body)
		case "acTL":
			moving = true
		case "IEND":
			if moving {
				h.notes = append(h.notes, "The file holds a moving picture; the first frame was read.")
			}
			return h, h.pngColour(cicp, srgb, gama, chrm)
		}
	}
}

// pngBytes is what image/png takes for a pixel of a bit depth and colour type.
func pngBytes(depth, kind byte) float64 {
	per := map[byte]float64{0: 1, 2: 4, 3: 1, 4: 4, 6: 4}[kind]
	if depth == 16 {
		per *= 2
	}
	return per
}

// inflateProfile unpacks an iCCP chunk; nil where it is damaged.
func inflateProfile(body []byte) []byte {
	_, packed, ok := bytes.Cut(body, []byte{0})
	if !ok || len(packed) < 2 || packed[0] != 0 {
		return nil
	}
	z, err := zlib.NewReader(bytes.NewReader(packed[1:]))
	if err != nil {
		return nil
	}
	p, err := io.ReadAll(io.LimitReader(z, maxProfile+1))
	if err != nil || len(p) > maxProfile {
		return nil
	}
	return p
}

func (h *header) pngColour(cicp []byte, srgb bool, gama, chrm []byte) error {
	if len(cicp) >= 4 {
		s, err := codedSpace(int(cicp[0]), int(cicp[1]))
		if err != nil {
			return err
		}
		if s != nil && cicp[2] == 0 && cicp[3] == 1 {
			h.space, h.profile, h.brokenProfile = s, nil, false
			return nil
		}
	}
	if h.profile != nil || h.brokenProfile {
		return nil
	}
	if srgb {
		h.space = spaceSRGB()
		return nil
	}
	if len(gama) < 4 {
		return nil // primaries without a curve say too little
	}
	g := float64(binary.BigEndian.Uint32(gama)) / 1e5
	if g < 0.1 || g > 2 {
		return nil
	}
	prim := primariesSRGB
	if len(chrm) >= 32 {
		var c primaries
		for i := range 4 {
			k := (i + 3) % 4 // the chunk starts with white
			c[k] = [2]float64{
				float64(binary.BigEndian.Uint32(chrm[8*i:])) / 1e5,
				float64(binary.BigEndian.Uint32(chrm[8*i+4:])) / 1e5,
			}
		}
		if near := c.near(prim); !near {
			if !c.sound() {
				return nil
			}
			prim = c
		}
	}
	// 0.45455 is how files say sRGB that predate the sRGB chunk.
	curve, name := lab.DecodeSRGB, "sRGB"
	if math.Abs(g-0.45455) > 0.005 {
		curve, name = gamma(1/g), fmt.Sprintf("gamma %.3g", 1/g)
	}
	if prim != primariesSRGB {
		name += ", own primaries"
	}
	h.space = matrixSpace(name, prim, curve)
	if name != "sRGB" {
		h.notes = append(h.notes, fmt.Sprintf("The file gives its colours by gamma and primaries instead of a profile (%s), and was read so.", name))
	}
	return nil
}

func (p primaries) near(q primaries) bool {
	for i := range p {
		if math.Abs(p[i][0]-q[i][0]) > 0.001 || math.Abs(p[i][1]-q[i][1]) > 0.001 {
			return false
		}
	}
	return true
}

// sound reports whether the primaries span a triangle that holds their white.
func (p primaries) sound() bool {
	for _, c := range p {
		if c[1] < 1e-4 || c[0] > 1 || c[1] > 1 {
			return false
		}
	}
	side := func(a, b, c [2]float64) float64 {
		return (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0])
	}
	w, whole := p[3], side(p[0], p[1], p[2])
	return whole > 1e-3 && side(p[0], p[1], w) > 0 && side(p[1], p[2], w) > 0 && side(p[2], p[0], w) > 0
}

// codedSpace is the space of ITU-T H.273 code points (tables 2 and 3), as PNG
// and HEIC carry them; nil where they say nothing definite.
func codedSpace(prim, transfer int) (*space, error) {
	if transfer == 16 || transfer == 18 {
		return nil, failure(ErrUnsupported, "this is a high dynamic range picture (PQ or HLG); export it for ordinary screens, as JPEG or PNG")
	}
	var p primaries
	var name string
	switch prim {
	case 1:
		p, name = primariesSRGB, "sRGB"
	case 9:
		p, name = primaries2020, "BT.2020"
	case 12:
		p, name = primariesP3, "Display P3"
	default:
		return nil, nil
	}
	curve := lab.DecodeSRGB
	switch transfer {
	case 1, 6, 13, 14, 15:
		// Stills marked with the video curves are made to be shown like sRGB.
	case 4:
		curve, name = gamma(2.2), name+", gamma 2.2"
	case 5:
		curve, name = gamma(2.8), name+", gamma 2.8"
	case 8:
		curve, name = gamma(1), name+", linear"
	default:
		return nil, nil
	}
	return matrixSpace(name, p, curve), nil
}

func pngPixels(data []byte, _ *header) (image.Image, error) {
	return png.Decode(bytes.NewReader(data))
}

package photo

import (
	"bytes"
	"errors"
	"image"
	"image/jpeg"
	"io"
)

// jpegInks says how a JPEG of four channels stores its inks.
type jpegInks int

const (
	inksAdobe jpegInks = iota // marked by Adobe's APP14: inverted, CMYK or YCCK
	inksPlain                 // no mark: 255 is full ink
)

// endMark ends a picture (EOI).
var endMark = []byte{0xff, 0xd9}

// jpegHeader walks the segments before the picture data (ITU-T T.81, annex B).
func jpegHeader(data []byte) (*header, error) {
	h := &header{exif: exifFacts{orientation: 1}, table: jfif}
	var exif, adobe, several, gain bool
	var chunks [256][]byte // ICC.1:2022, annex B.4
	var count int
	blocks := 0
	for at := 2; ; {
		if at+4 > len(data) {
			return nil, errCut
		}
		if data[at] != 0xff {
			at++ // stray bytes between segments
			continue
		}
		marker := data[at+1]
		if marker == 0xff {
			at++ // fill byte
			continue
		}
		if marker == 0 || marker == 1 || (marker >= 0xd0 && marker <= 0xd8) {
			at += 2
			continue
		}
		if marker == 0xd9 {
			return nil, failure(ErrDamaged, "the file holds no picture data; copy it again from the camera or phone")
		}
		n := int(be16(data[at+2:]))
		if n < 2 {
			return nil, failure(ErrDamaged, "the picture's header is damaged; copy it again, or open it elsewhere and save it as JPEG")
		}
		if at+2+n > len(data) {
			return nil, errCut
		}
		seg := data[at+4 : at+2+n]
		at += 2 + n
		switch {
		case marker == 0xda: // start of scan: the header is over
			if h.channels == 0 {
				return nil, failure(ErrDamaged, "the picture's header is damaged; copy it again, or open it elsewhere and save it as JPEG")
			}
			h.scan = at
			return h, h.jpegFinish(data[at:], blocks, adobe, several, gain, chunks[:], count)
		case marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc:
			if marker > 0xc2 || len(seg) < 6 || seg[0] != 8 {
				return nil, failure(ErrUnsupported, "the picture uses a rare variant of JPEG; open it elsewhere and save it as ordinary JPEG or PNG")
			}
			h.height, h.width = int(be16(seg[1:])), int(be16(seg[3:]))
			h.channels, h.progressive = int(seg[5]), marker == 0xc2
			blocks = (h.width + 7) / 8 * ((h.height + 7) / 8)
			h.perPixel = jpegPerPixel(seg[6:], h.progressive)
		case marker == 0xe1 && bytes.HasPrefix(seg, []byte("Exif\x00\x00")) && !exif:
			h.exif, exif = readExif(seg), true
		case marker == 0xe1 && (bytes.Contains(seg, []byte("hdrgm:")) || bytes.Contains(seg, []byte("HDRGainMap"))):
			gain = true
		case marker == 0xe2 && bytes.HasPrefix(seg, []byte("ICC_PROFILE\x00")) && len(seg) > 14:
			if seg[12] == 0 || chunks[seg[12]] != nil {
				h.brokenProfile = true
			}
			chunks[seg[12]], count = seg[14:], int(seg[13])
		case marker == 0xe2 && bytes.HasPrefix(seg, []byte("MPF\x00")):
			several = true
		case marker == 0xee && bytes.HasPrefix(seg, []byte("Adobe")) && len(seg) >= 12:
			adobe = true
		}
	}
}

// jpegPerPixel is what image/jpeg takes for a pixel: each component's samples
// by the share that it keeps of them; where they come in several passes, their
// coefficients in 32 bits too; and the picture mixed of four inks.
func jpegPerPixel(components []byte, progressive bool) float64 {
	samples, hmax, vmax, n := 0, 1, 1, len(components)/3
	for i := range n {
		h, v := int(components[3*i+1]>>4), int(components[3*i+1]&15)
		samples, hmax, vmax = samples+h*v, max(hmax, h), max(vmax, v)
	}
	per := float64(samples) / float64(hmax*vmax)
	if progressive {
		per *= 5
	}
	if n > 3 {
		per += 4
	}
	return per
}

func (h *header) jpegFinish(scan []byte, blocks int, adobe, several, gain bool, chunks [][]byte, count int) error {
	// A block costs at least one bit in some scan; a hundred scans are far
	// more than any encoder writes.
	const maxScans = 100
	h.short = len(scan)*8 < blocks
	if end := bytes.Index(scan, endMark); end >= 0 {
		scan = scan[:end]
	}
	if bytes.Count(scan, []byte{0xff, 0xda}) >= maxScans {
		return failure(ErrDamaged, "the picture is stored in over %d passes, as no camera does; open it elsewhere and save it as JPEG", maxScans)
	}
	switch h.channels {
	case 1:
	case 3:
		if adobe { // perhaps in RGB, which is mixed from its samples
			h.perPixel += 4
		}
	case 4:
		if !adobe {
			h.inks = inksPlain
			h.notes = append(h.notes, "The file does not say how its four inks are stored; 255 was taken as full ink.")
		}
	default:
		return failure(ErrUnsupported, "the picture has %d colour channels; save it as an RGB JPEG", h.channels)
	}
	for i := 1; i <= count && !h.brokenProfile; i++ {
		if chunks[i] == nil {
			h.brokenProfile = true
		}
		h.profile = append(h.profile, chunks[i]...)
	}
	if h.brokenProfile {
		h.profile = nil
	}
	switch {
	case gain:
		h.notes = append(h.notes, "The file also holds a brightness map for high dynamic range screens, which was left aside.")
	case several:
		h.notes = append(h.notes, "The file holds several pictures; the first was read.")
	}
	return nil
}

func jpegPixels(data []byte, h *header) (image.Image, error) {
	if h.channels == 4 && h.inks == inksPlain {
		// image/jpeg insists on Adobe's mark (here: transform 0), and takes
		// the inks for inverted.
		mark := "\xff\xee\x00\x0eAdobe\x00\x64\x00\x00\x00\x00\x00"
		data = append([]byte(string(data[:2])+mark), data[2:]...)
	}
	img, err := jpeg.Decode(bytes.NewReader(data))
	var rare jpeg.UnsupportedError
	if err != nil && !errors.As(err, &rare) && !bytes.Contains(data[h.scan:], endMark) {
		// Every block of a picture in one pass may be there all the same. One in
		// several would still look whole without its last, finest pass.
		if h.progressive {
			return nil, errCut
		}
		img, err = jpeg.Decode(io.MultiReader(bytes.NewReader(data), bytes.NewReader(endMark)))
		if err != nil {
			return nil, errCut
		}
		h.notes = append(h.notes, "The file lacks its end mark, as after a broken copy, but the picture in it is whole.")
	}
	if err != nil {
		return nil, err
	}
	if m, ok := img.(*image.CMYK); ok && h.inks == inksPlain {
		for i := range m.Pix {
			m.Pix[i] = ^m.Pix[i]
		}
	}
	return img, nil
}

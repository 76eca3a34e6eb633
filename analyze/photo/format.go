package photo

import (
	"bytes"
	"errors"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"unicode/utf8"

	"golang.org/x/image/tiff"
)

// A format is one kind of picture file that is read here.
type format struct {
	name string
	// header reads sizes and colour marks without decoding.
	header func(data []byte) (*header, error)
	// pixels decodes, after the size was checked.
	pixels func(data []byte, h *header) (image.Image, error)
}

// header is what a file says of itself.
type header struct {
	width, height int
	exif          exifFacts
	channels      int    // 1 grey, 3 RGB, 4 CMYK
	profile       []byte // ICC profile, nil where there is none
	brokenProfile bool   // there is one, but not whole
	space         *space // what the file says where it has no profile
	table         *yccTables
	notes         []string
	short         bool // the file has too few bytes for so many pixels

	// Bytes that decoding takes at its height, and that a packed picture (not
	// one in planes) takes decoded, for each pixel; and bytes besides.
	perPixel, packed float64
	besides          int

	inks        jpegInks // JPEG of four channels
	scan        int      // JPEG: where the picture data start
	progressive bool     // JPEG in several passes
	heif        *heif    // HEIC
}

var formats = struct{ jpeg, png, tiff, webp, heic format }{
	format{"JPEG", jpegHeader, jpegPixels},
	format{"PNG", pngHeader, pngPixels},
	format{"TIFF", tiffHeader, tiffPixels},
	format{"WebP", webpHeader, webpPixels},
	format{"HEIC", heicHeader, heicPixels},
}

// sniff tells the format by the content, or says what the file is instead.
func sniff(data []byte) (*format, error) {
	starts := func(s string) bool { return bytes.HasPrefix(data, []byte(s)) }
	at := func(i int, s string) bool { return len(data) > i && bytes.HasPrefix(data[i:], []byte(s)) }
	not := func(what, mend string) error {
		return failure(ErrUnsupported, "%s is not read here; %s", what, mend)
	}
	const (
		asJPEG = "open it in a picture program and save it as JPEG or PNG"
		raw    = "develop it in the camera's program and save it as JPEG or 16-bit TIFF"
	)
	switch {
	case len(data) == 0:
		return nil, failure(ErrEmpty, "the file is empty; copy it again from the camera or phone")
	case starts("\xff\xd8\xff"):
		return &formats.jpeg, nil
	case starts("\x89PNG\r\n\x1a\n"):
		return &formats.png, nil
	case starts("RIFF") && at(8, "WEBP"):
		return &formats.webp, nil
	case starts("FUJIFILMCCD-RAW"), starts("IIRO"), starts("IIRS"), starts("IIU\x00"), starts("II*\x00\x10\x00\x00\x00CR"), starts("\x00MRM"), starts("FOVb"), at(4, "ftypcrx "):
		return nil, not("a camera's raw file", raw)
	case starts("II*\x00"), starts("MM\x00*"):
		return &formats.tiff, nil
	case starts("II+\x00"), starts("MM\x00+"):
		return nil, not("a BigTIFF file", "save it as ordinary TIFF, or as JPEG or PNG")
	case at(4, "ftyp"):
		switch brands := ftypBrands(data); {
		case brands.has("avif", "avis"):
			return nil, not("an AVIF picture", asJPEG)
		case brands.has("heic", "heix", "heim", "heis", "mif1", "msf1"):
			return &formats.heic, nil
		}
		return nil, not("a film", "save one frame of it as JPEG or PNG")
	case starts("GIF8"):
		return nil, not("a GIF picture", asJPEG)
	case starts("BM") && len(data) > 30 && data[6]|data[7]|data[8]|data[9] == 0:
		return nil, not("a BMP picture", asJPEG)
	case starts("\x00\x00\x00\x0cjP  "), starts("\xff\x4f\xff\x51"):
		return nil, not("a JPEG 2000 picture", asJPEG)
	case starts("\x00\x00\x00\x0cJXL "), starts("\xff\x0a"):
		return nil, not("a JPEG XL picture", asJPEG)
	case starts("II\xbc"):
		return nil, not("a JPEG XR picture", asJPEG)
	case starts("8BPS"), starts("gimp xcf"):
		return nil, not("a picture program's working file", "open it there and save a copy as JPEG or PNG")
	case starts("\x76\x2f\x31\x01"), starts("#?RADIANCE"), starts("#?RGBE"):
		return nil, not("a high dynamic range file", "tone it in a picture program and save it as JPEG or 16-bit TIFF")
	case starts("%PDF"), starts("%!PS"):
		return nil, not("a PDF or PostScript document", "save the picture in it as JPEG or PNG")
	case starts("\x1aE\xdf\xa3"), starts("RIFF") && at(8, "AVI "), starts("\x00\x00\x01\xba"), starts("\x00\x00\x01\xb3"), starts("OggS"):
		return nil, not("a film", "save one frame of it as JPEG or PNG")
	case starts("PK\x03\x04"), starts("\x1f\x8b"), starts("7z\xbc\xaf"), starts("Rar!"):
		return nil, failure(ErrNotPicture, "this is a packed archive, not a picture; unpack it and name the picture inside")
	case isText(data):
		return nil, failure(ErrNotPicture, "this is a text file, not a picture; name a JPEG, PNG, TIFF, WebP or HEIC file")
	}
	if bytes.Count(data, []byte{0}) == len(data) {
		return nil, failure(ErrNotPicture, "the file holds nothing but zeros, as after a failed copy; copy it again from the camera or phone")
	}
	return nil, failure(ErrNotPicture, "this is not a picture that is known here; name a JPEG, PNG, TIFF, WebP or HEIC file, or save it as one")
}

func isText(data []byte) bool {
	head := data[:min(len(data), 512)]
	if len(head) < len(data) { // a character may be cut in half
		for i := 0; i < utf8.UTFMax && !utf8.Valid(head); i++ {
			head = head[:len(head)-1]
		}
	}
	return utf8.Valid(head) && !bytes.ContainsFunc(head, func(r rune) bool {
		return r < ' ' && r != '\n' && r != '\r' && r != '\t' && r != '\f'
	})
}

// maxDecoding bounds the memory for reading one picture, its file's bytes
// among it, so that the whole program stays within 1.5 GiB.
const maxDecoding = 1280 << 20

// checkSize is called before any memory is taken for pixels.
func (h *header) checkSize(limit, file int) error {
	if limit <= 0 {
		limit = DefaultMaxPixels
	}
	if h.width <= 0 || h.height <= 0 {
		return failure(ErrDamaged, "the picture has no area (%d×%d pixels); copy it again or save it anew", max(0, h.width), max(0, h.height))
	}
	if n := uint64(h.width) * uint64(h.height); n > uint64(limit) {
		return failure(ErrTooLarge, "the picture has %d×%d pixels (%.4g million), over the limit of %.4g million; save it smaller",
			h.width, h.height, float64(n)/1e6, float64(limit)/1e6)
	}
	per := h.perPixel
	if h.exif.orientation > 4 {
		per = max(per, 2*h.packed) // turned by copying
	}
	if need := per*float64(h.width*h.height) + float64(h.besides+file); need > maxDecoding {
		return failure(ErrTooLarge, "the picture has %d×%d pixels, stored so that reading them takes %.0f MB of memory, over the limit of %d MB; save it smaller, or as JPEG",
			h.width, h.height, need/(1<<20), maxDecoding>>20)
	}
	return nil
}

var errCut = failure(ErrTruncated, "the file is cut short; copy it again from the camera or phone")

// sentence turns a decoder's error into one that a painter can act on.
func sentence(err error) error {
	var f *fault
	var j jpeg.UnsupportedError
	var p png.UnsupportedError
	var t tiff.UnsupportedError
	switch {
	case errors.As(err, &f):
		return err
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
		return errCut
	case errors.As(err, &j), errors.As(err, &p), errors.As(err, &t):
		return failure(ErrUnsupported, "the picture uses a rare variant of its format (%s); open it elsewhere and save it as ordinary JPEG or PNG", clean(err.Error()))
	}
	return failure(ErrDamaged, "%s", damaged(err))
}

package photo

import (
	"bytes"
	"encoding/binary"
	"image"

	"golang.org/x/image/webp"
)

// webpHeader walks the RIFF chunks (RFC 9649).
func webpHeader(data []byte) (*header, error) {
	if len(data) < 12 {
		return nil, errCut
	}
	size := uint64(binary.LittleEndian.Uint32(data[4:])) + 8
	if size > uint64(len(data)) {
		return nil, errCut
	}
	h := &header{exif: exifFacts{orientation: 1}, channels: 3, table: bt601Limited}
	found := false
	for rest := data[12:size]; len(rest) >= 8; {
		kind, n := string(rest[:4]), uint64(binary.LittleEndian.Uint32(rest[4:]))
		if n > uint64(len(rest)-8) {
			return nil, errCut
		}
		body := rest[8 : 8+n]
		rest = rest[min(8+n+n&1, uint64(len(rest))):]
		switch kind {
		case "VP8 ", "VP8L":
			found = true
		case "ICCP":
			h.profile = body
		case "EXIF":
			h.exif = readExif(body)
		case "ANIM", "ANMF":
			return nil, failure(ErrUnsupported, "this is a moving picture; save one frame of it as JPEG or PNG")
		}
	}
	if !found {
		return nil, failure(ErrDamaged, "the file holds no picture data; copy it again, or open it elsewhere and save it as JPEG")
	}
	c, err := webp.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, sentence(err)
	}
	h.width, h.height = c.Width, c.Height
	h.perPixel = 8 // the lossless kind and alpha; the lossy takes 1.5
	return h, nil
}

func webpPixels(data []byte, _ *header) (image.Image, error) {
	return webp.Decode(bytes.NewReader(data))
}

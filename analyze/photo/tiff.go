package photo

import (
	"bytes"
	"image"
	"math"

	"golang.org/x/image/tiff"
)

// tiffHeader reads the first directory (TIFF 6.0).
func tiffHeader(data []byte) (*header, error) {
	d, _, ok := readTIFF(data)
	if !ok || d.lost[tagICC] {
		return nil, errCut
	}
	if d.has(tagDNGVersion) || (d.number(tagNewSubfileType, 0)&1 == 1 && d.has(tagSubIFDs)) ||
		(d.has(tagMake) && d.number(tagCompression, 1) == 34713) {
		return nil, failure(ErrUnsupported, "a camera's raw file is not read here; develop it in the camera's program and save it as JPEG or 16-bit TIFF")
	}
	const plain = "save it as 8- or 16-bit RGB TIFF without compression, or as JPEG or PNG"
	samples := int(d.number(tagSamplesPerPixel, 1))
	photometric := d.number(tagPhotometric, 2)
	switch {
	case photometric == 5:
		return nil, failure(ErrUnsupported, "a TIFF in CMYK is not read here; save it in RGB, or as JPEG")
	case photometric == 6, photometric == 8, photometric > 8:
		return nil, failure(ErrUnsupported, "the TIFF stores its colours in a rare way; %s", plain)
	case samples > 1 && d.number(tagPlanarConfig, 1) == 2:
		return nil, failure(ErrUnsupported, "the TIFF stores each colour in a plane of its own; %s", plain)
	case d.number(tagCompression, 1) == 6, d.number(tagCompression, 1) == 7:
		return nil, failure(ErrUnsupported, "the TIFF is packed as JPEG inside; save it as JPEG itself")
	}
	if _, err := tiff.DecodeConfig(bytes.NewReader(data)); err != nil {
		return nil, sentence(err)
	}
	w, hh := d.number(256, 0), d.number(257, 0)
	if w > math.MaxInt32 || hh > math.MaxInt32 {
		w, hh = math.MaxInt32, math.MaxInt32
	}
	h := &header{width: int(w), height: int(hh), exif: readExif(data), channels: 3}
	bits := float64(d.number(258, 1))
	if photometric < 2 {
		h.channels = 1
	}
	h.packed = 1
	if h.channels == 3 && photometric == 2 {
		h.packed = 4
	}
	if bits > 8 {
		h.packed *= 2
	}
	// A strip or tile is unpacked whole, growing as it goes.
	rows := min(d.number(278, math.MaxInt32), d.number(323, math.MaxInt32), hh)
	h.perPixel = h.packed + 2*float64(max(samples, 1))*bits/8*float64(rows)/float64(max(hh, 1))
	if d.has(tagICC) {
		h.profile = d.tags[tagICC].data
	}
	return h, nil
}

func tiffPixels(data []byte, _ *header) (image.Image, error) {
	return tiff.Decode(bytes.NewReader(data))
}

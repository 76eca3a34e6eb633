package photo

import (
	"bytes"
	"encoding/binary"
)

// TIFF 6.0 and Exif 2.32 (CIPA DC-008) tags that matter for colour and position.
const (
	tagNewSubfileType  = 254
	tagCompression     = 259
	tagPhotometric     = 262
	tagMake            = 271
	tagOrientation     = 274
	tagSamplesPerPixel = 277
	tagPlanarConfig    = 284
	tagSubIFDs         = 330
	tagExifIFD         = 34665
	tagICC             = 34675
	tagColorSpace      = 40961
	tagInteropIFD      = 40965
	tagInteropIndex    = 1
	tagDNGVersion      = 50706
)

// A directory is one TIFF image file directory: tag to raw value.
type directory struct {
	order binary.ByteOrder
	tags  map[uint16]value
	lost  map[uint16]bool // tags whose value lies outside the file
}

type value struct {
	kind uint16
	data []byte
}

// Bytes of one value of each TIFF type 1–12 (TIFF 6.0, section 2).
var typeSize = [...]uint64{0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8}

// readTIFF reads the first directory of a TIFF stream, and a function that
// reads a further one at an offset. Values that point outside data are left
// out; ok is false where there is no directory to read.
func readTIFF(data []byte) (first directory, at func(offset uint32) (directory, bool), ok bool) {
	var order binary.ByteOrder
	switch {
	case bytes.HasPrefix(data, []byte("II*\x00")):
		order = binary.LittleEndian
	case bytes.HasPrefix(data, []byte("MM\x00*")):
		order = binary.BigEndian
	default:
		return directory{}, nil, false
	}
	if len(data) < 8 {
		return directory{}, nil, false
	}
	at = func(offset uint32) (directory, bool) {
		d := directory{order, map[uint16]value{}, map[uint16]bool{}}
		if uint64(offset)+2 > uint64(len(data)) {
			return d, false
		}
		n := int(order.Uint16(data[offset:]))
		rest := data[offset+2:]
		for ; n > 0 && len(rest) >= 12; n, rest = n-1, rest[12:] {
			tag, kind := order.Uint16(rest), order.Uint16(rest[2:])
			if int(kind) >= len(typeSize) || kind == 0 {
				continue
			}
			size := uint64(order.Uint32(rest[4:])) * typeSize[kind]
			v := rest[8:12]
			if size > 4 {
				start := uint64(order.Uint32(v))
				if start+size > uint64(len(data)) {
					d.lost[tag] = true
					continue
				}
				v = data[start:]
			}
			if _, seen := d.tags[tag]; !seen {
				d.tags[tag] = value{kind, v[:size]}
			}
		}
		return d, true
	}
	first, ok = at(order.Uint32(data[4:]))
	return first, at, ok
}

// number is the first whole number of a tag, or def where there is none.
func (d directory) number(tag uint16, def uint32) uint32 {
	v := d.tags[tag]
	switch {
	case v.kind == 1 && len(v.data) >= 1:
		return uint32(v.data[0])
	case v.kind == 3 && len(v.data) >= 2:
		return uint32(d.order.Uint16(v.data))
	case v.kind == 4 && len(v.data) >= 4:
		return d.order.Uint32(v.data)
	}
	return def
}

func (d directory) has(tag uint16) bool { _, ok := d.tags[tag]; return ok }

// orientation is the Orientation tag, 1 to 8; anything else counts as 1.
func (d directory) orientation() int {
	if o := d.number(tagOrientation, 1); o >= 1 && o <= 8 {
		return int(o)
	}
	return 1
}

// exifFacts is what is used of an Exif block.
type exifFacts struct {
	orientation int  // 1–8; pixels are not turned yet
	adobeRGB    bool // the camera's optional colour space of DCF 2.0 (index R03)
}

// readExif reads an Exif block, with or without the "Exif\0\0" before it.
func readExif(data []byte) exifFacts {
	f := exifFacts{orientation: 1}
	data = bytes.TrimPrefix(data, []byte("Exif\x00\x00"))
	d, at, ok := readTIFF(data)
	if !ok {
		return f
	}
	f.orientation = d.orientation()
	if sub, ok := at(d.number(tagExifIFD, ^uint32(0))); ok {
		// 1 means sRGB; 65535, uncalibrated, is made definite by the index.
		if sub.number(tagColorSpace, 1) == 65535 {
			if inter, ok := at(sub.number(tagInteropIFD, ^uint32(0))); ok {
				f.adobeRGB = bytes.HasPrefix(inter.tags[tagInteropIndex].data, []byte("R03"))
			}
		}
	}
	return f
}

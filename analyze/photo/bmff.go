package photo

import (
	"bytes"
	"encoding/binary"
	"math"
)

// brands are the four-letter names in a file type box (ISO/IEC 14496-12, 4.3).
type brands []string

func (b brands) has(names ...string) bool {
	for _, have := range b {
		for _, n := range names {
			if have == n {
				return true
			}
		}
	}
	return false
}

// ftypBrands lists the brands of a file that starts with a file type box,
// the major one first.
func ftypBrands(data []byte) (b brands) {
	if len(data) < 12 {
		return nil
	}
	end := min(uint64(binary.BigEndian.Uint32(data)), uint64(len(data)), 512)
	for i := uint64(8); i+4 <= end; i += 4 {
		if i != 12 { // the minor version
			b = append(b, string(data[i:i+4]))
		}
	}
	return b
}

// boxes calls f for each box of data in turn; it is false where a box says it
// is longer than what is there.
func boxes(data []byte, f func(kind string, body []byte)) bool {
	for len(data) >= 8 {
		size, head := uint64(binary.BigEndian.Uint32(data)), uint64(8)
		kind := string(data[4:8])
		switch size {
		case 0: // to the end
			size = uint64(len(data))
		case 1:
			if len(data) < 16 {
				return false
			}
			size, head = binary.BigEndian.Uint64(data[8:]), 16
		}
		if size < head || size > uint64(len(data)) {
			return false
		}
		f(kind, data[head:size])
		data = data[size:]
	}
	return len(data) == 0
}

// heif is what a HEIF file (ISO/IEC 23008-12) says of its main picture.
type heif struct {
	width, height int    // before its own turning
	itemType      string // of the main picture: hvc1, grid, …
	turned        bool   // irot or imir
	icc           []byte
	coded         *colourCode // nclx, or the video stream's own; nil where neither is told
	redone        bool        // a grid whose tiles the decoder brings to full-range BT.601
	gain          bool        // an HDR gain map is aboard
}

// colourCode holds code points of ITU-T H.273.
type colourCode struct {
	primaries, transfer, matrix int
	full                        bool
}

// readHEIF reads the meta box. cut tells that the file ends too early.
func readHEIF(data []byte) (h heif, cut bool) {
	var meta []byte
	stored := false // the pictures' own bytes
	whole := boxes(data, func(kind string, body []byte) {
		stored = stored || kind == "mdat"
		if kind == "meta" && meta == nil && len(body) >= 4 {
			meta = body[4:]
		}
	})
	if !whole || meta == nil {
		return heif{}, true
	}
	type property struct {
		kind string
		body []byte
	}
	var (
		primary    uint32
		types      = map[uint32]string{}
		tiles      = map[uint32][]uint32{} // pictures made of others
		properties []property
		owned      = map[uint32][]int{}
	)
	boxes(meta, func(kind string, body []byte) {
		r := &byteReader{rest: body}
		version := r.u8()
		r.skip(3)
		switch kind {
		case "idat":
			stored = true
		case "pitm":
			primary = r.id(version > 0)
		case "iinf":
			if version == 0 {
				r.skip(2)
			} else {
				r.skip(4)
			}
			boxes(r.rest, func(kind string, body []byte) {
				e := &byteReader{rest: body}
				v := e.u8()
				e.skip(3)
				if kind == "infe" && v >= 2 {
					id := e.id(v > 2)
					e.skip(2)
					types[id] = string(e.take(4))
				}
			})
		case "iref":
			boxes(r.rest, func(kind string, body []byte) {
				e := &byteReader{rest: body}
				from := e.id(version > 0)
				n := int(e.u16())
				for ; kind == "dimg" && n > 0 && !e.bad; n-- {
					tiles[from] = append(tiles[from], e.id(version > 0))
				}
			})
		case "iprp":
			boxes(body, func(kind string, body []byte) {
				switch kind {
				case "ipco":
					boxes(body, func(kind string, body []byte) {
						properties = append(properties, property{kind, body})
					})
				case "ipma":
					a := &byteReader{rest: body}
					v := a.u8()
					a.skip(2)
					wide := a.u8()&1 == 1
					for n := a.u32(); n > 0 && !a.bad; n-- {
						id := a.id(v > 0)
						for k := a.u8(); k > 0 && !a.bad; k-- {
							index := int(a.u8() & 0x7f)
							if wide {
								index = index<<8 | int(a.u8())
							}
							owned[id] = append(owned[id], index-1)
						}
					}
				}
			})
		}
	})
	h.itemType = types[primary]
	each := func(id uint32, f func(kind string, body []byte)) {
		for _, i := range owned[id] {
			if i >= 0 && i < len(properties) {
				f(properties[i].kind, properties[i].body)
			}
		}
	}
	var marked, stream *colourCode
	colour := func(kind string, body []byte) {
		switch {
		case kind == "colr" && len(body) >= 4 && (string(body[:4]) == "prof" || string(body[:4]) == "rICC"):
			if h.icc == nil {
				h.icc = body[4:]
			}
		case kind == "colr" && len(body) >= 11 && string(body[:4]) == "nclx":
			if marked == nil {
				marked = &colourCode{int(be16(body[4:])), int(be16(body[6:])), int(be16(body[8:])), body[10]&0x80 != 0}
			}
		case kind == "hvcC":
			if stream == nil {
				stream = streamColour(body)
			}
		}
	}
	each(primary, func(kind string, body []byte) {
		switch kind {
		case "ispe":
			if len(body) >= 12 {
				h.width = int(min(binary.BigEndian.Uint32(body[4:]), math.MaxInt32))
				h.height = int(min(binary.BigEndian.Uint32(body[8:]), math.MaxInt32))
			}
		case "irot":
			h.turned = h.turned || (len(body) > 0 && body[0]&3 != 0)
		case "imir":
			h.turned = true
		}
		colour(kind, body)
	})
	if t := tiles[primary]; h.itemType == "grid" && len(t) > 0 {
		own := marked
		marked = nil
		h.itemType = types[t[0]]
		each(t[0], colour)
		// The decoder leaves tiles alone whose stream alone speaks, and says
		// just that; then the grid's own mark counts.
		h.redone = marked != nil || stream == nil || !stream.full || !stream.is601()
		if own != nil {
			marked = own
		}
	}
	if h.coded = marked; marked == nil {
		h.coded = stream
	}
	for _, p := range properties {
		h.gain = h.gain || (p.kind == "auxC" && bytes.Contains(bytes.ToLower(p.body), []byte("hdrgainmap")))
	}
	return h, !stored
}

// is601 reports a matrix of BT.601, or none stated, which is taken for it.
func (c *colourCode) is601() bool { return c.matrix == 2 || c.matrix == 5 || c.matrix == 6 }

// byteReader reads big-endian numbers; past the end it yields zeros and bad.
type byteReader struct {
	rest []byte
	bad  bool
}

func (r *byteReader) take(n int) []byte {
	if n > len(r.rest) {
		r.bad, r.rest = true, nil
		return make([]byte, n)
	}
	b := r.rest[:n]
	r.rest = r.rest[n:]
	return b
}

func (r *byteReader) skip(n int)  { r.take(n) }
func (r *byteReader) u8() byte    { return r.take(1)[0] }
func (r *byteReader) u16() uint16 { return be16(r.take(2)) }
func (r *byteReader) u32() uint32 { return binary.BigEndian.Uint32(r.take(4)) }
func (r *byteReader) id(long bool) uint32 {
	if long {
		return r.u32()
	}
	return uint32(r.u16())
}

// streamColour finds the colour description in the sequence parameter set of
// an HEVC configuration (ISO/IEC 14496-15, 8.3.3; ITU-T H.265, 7.3.2.2 and
// E.2.1). It is nil where the set cannot be followed; one that says nothing
// means limited range.
func streamColour(config []byte) *colourCode {
	r := &byteReader{rest: config}
	r.skip(22)
	for n := r.u8(); n > 0 && !r.bad; n-- {
		kind := r.u8() & 0x3f
		for k := r.u16(); k > 0 && !r.bad; k-- {
			unit := r.take(int(r.u16()))
			if kind == 33 && !r.bad && len(unit) > 2 {
				return sequenceColour(unit[2:])
			}
		}
	}
	return nil
}

func sequenceColour(unit []byte) *colourCode {
	b := &bitReader{}
	zeros := 0
	for _, v := range unit { // take out the emulation prevention bytes
		if zeros >= 2 && v == 3 {
			zeros = 0
			continue
		}
		if zeros++; v != 0 {
			zeros = 0
		}
		b.data = append(b.data, v)
	}
	b.bits(4)
	layers := int(b.bits(3))
	b.bits(1)
	b.skip(96) // general profile, tier and level
	var profile, level [8]bool
	for i := range layers {
		profile[i], level[i] = b.flag(), b.flag()
	}
	if layers > 0 {
		b.skip(2 * (8 - layers))
	}
	for i := range layers {
		if profile[i] {
			b.skip(88)
		}
		if level[i] {
			b.skip(8)
		}
	}
	b.ue()
	if b.ue() == 3 {
		b.bits(1)
	}
	b.ue()
	b.ue()
	if b.flag() {
		b.ues(4)
	}
	b.ues(2)
	pocBits := int(b.ue()) + 4
	from := layers
	if b.flag() {
		from = 0
	}
	b.ues(3 * (layers - from + 1))
	b.ues(6)
	if b.flag() { // scaling lists are on
		if b.flag() {
			b.scalingList()
		}
	}
	b.bits(2)
	if b.flag() {
		b.bits(8)
		b.ues(2)
		b.bits(1)
	}
	if !b.referenceSets() {
		return nil
	}
	if b.flag() {
		for n := b.ue(); n > 0 && !b.bad; n-- {
			b.skip(pocBits + 1)
		}
	}
	b.bits(2)
	c := &colourCode{2, 2, 2, false}
	if b.flag() { // video usability information
		if b.flag() && b.bits(8) == 255 {
			b.skip(32)
		}
		if b.flag() {
			b.bits(1)
		}
		if b.flag() {
			b.bits(3)
			c.full = b.flag()
			if b.flag() {
				c.primaries, c.transfer, c.matrix = int(b.bits(8)), int(b.bits(8)), int(b.bits(8))
			}
		}
	}
	if b.bad {
		return nil
	}
	return c
}

// bitReader reads bits from the high end; past the end it yields zeros and bad.
type bitReader struct {
	data []byte
	at   int
	bad  bool
}

func (b *bitReader) bits(n int) (v uint32) {
	for ; n > 0; n-- {
		v <<= 1
		if b.at>>3 >= len(b.data) {
			b.bad = true
			continue
		}
		v |= uint32(b.data[b.at>>3]>>(7-b.at&7)) & 1
		b.at++
	}
	return v
}

func (b *bitReader) skip(n int) {
	if b.at += n; b.at>>3 > len(b.data) {
		b.bad = true
	}
}

func (b *bitReader) flag() bool { return b.bits(1) == 1 }

// ue is an Exp-Golomb number (H.265, 9.2); se codes take the same bits.
func (b *bitReader) ue() uint32 {
	n := 0
	for n < 32 && !b.bad && !b.flag() {
		n++
	}
	return 1<<n - 1 + b.bits(n)
}

func (b *bitReader) ues(n int) {
	for ; n > 0 && !b.bad; n-- {
		b.ue()
	}
}

func (b *bitReader) scalingList() {
	for size := range 4 {
		step := 1
		if size == 3 {
			step = 3
		}
		for m := 0; m < 6; m += step {
			if !b.flag() {
				b.ue()
				continue
			}
			if size > 1 {
				b.ue()
			}
			b.ues(min(64, 1<<(4+2*size)))
		}
	}
}

// referenceSets passes over the short-term reference picture sets.
func (b *bitReader) referenceSets() bool {
	n := b.ue()
	if n > 64 {
		return false
	}
	last := uint32(0) // pictures in the set before
	for i := uint32(0); i < n && !b.bad; i++ {
		if i > 0 && b.flag() {
			b.bits(1)
			b.ue()
			count := uint32(0)
			for j := uint32(0); j <= last; j++ {
				used := b.flag()
				if used || b.flag() {
					count++
				}
			}
			last = count
			continue
		}
		last = b.ue() + b.ue()
		if last > 32 {
			return false
		}
		for range last {
			b.ue()
			b.bits(1)
		}
	}
	return !b.bad
}

package photo

import (
	"encoding/binary"
	"image"
	"math/bits"
)

// A layout says how samples lie in a raster. 16-bit samples are big-endian, as
// in Go's image package; alpha is never premultiplied.
type layout int

const (
	indexed8  layout = iota // gray, or a palette index
	indexed16               // gray
	ycc                     // planes Y, Cb, Cr and perhaps alpha
	rgb8                    // R, G, B, unused
	nrgba8
	rgb16 // R, G, B, unused
	nrgba16
	cmyk8 // 255 is full ink
)

type plane struct {
	pix    []byte
	stride int // bytes from one row to the next
	size   int // bytes of one element
}

func (p plane) row(y int) []byte { return p.pix[y*p.stride:] }

// A raster is a decoded picture as the decoder left it, upright but perhaps
// mirrored; rows are converted when they are asked for.
type raster struct {
	layout       layout
	w, h         int
	planes       []plane
	sx, sy       uint // chroma of ycc is halved that many times along x and y
	flipX, flipY bool
	palette      []paletteEntry // indexed8 with a palette
	alpha        bool           // some pixel is not opaque
}

// paletteEntry is encoded R, G, B and alpha, 0–1, not premultiplied.
type paletteEntry [4]float64

// newRaster takes over the pixels of a decoder's image, or says that it
// cannot. The image must not be used afterwards.
func newRaster(img image.Image) (*raster, bool) {
	b := img.Bounds()
	r := &raster{w: b.Dx(), h: b.Dy()}
	one := func(pix []byte, stride, size int) { r.planes = []plane{{pix, stride, size}} }
	chroma := func(m *image.YCbCr) bool {
		switch m.SubsampleRatio {
		case image.YCbCrSubsampleRatio444:
		case image.YCbCrSubsampleRatio422:
			r.sx = 1
		case image.YCbCrSubsampleRatio420:
			r.sx, r.sy = 1, 1
		case image.YCbCrSubsampleRatio440:
			r.sy = 1
		case image.YCbCrSubsampleRatio411:
			r.sx = 2
		case image.YCbCrSubsampleRatio410:
			r.sx, r.sy = 2, 1
		default:
			return false
		}
		r.layout = ycc
		r.planes = []plane{{m.Y, m.YStride, 1}, {m.Cb, m.CStride, 1}, {m.Cr, m.CStride, 1}}
		return true
	}
	if b.Min != (image.Point{}) {
		return nil, false
	}
	switch m := img.(type) {
	case *image.YCbCr:
		return r, chroma(m)
	case *image.NYCbCrA:
		if !chroma(&m.YCbCr) {
			return nil, false
		}
		if r.alpha = !m.Opaque(); r.alpha {
			r.planes = append(r.planes, plane{m.A, m.AStride, 1})
		}
	case *image.Gray:
		r.layout = indexed8
		one(m.Pix, m.Stride, 1)
	case *image.Gray16:
		r.layout = indexed16
		one(m.Pix, m.Stride, 2)
	case *image.RGBA:
		r.layout = rgb8
		one(m.Pix, m.Stride, 4)
		if r.alpha = !m.Opaque(); r.alpha {
			r.layout = nrgba8
			unmultiply8(m.Pix)
		}
	case *image.NRGBA:
		r.layout = rgb8
		one(m.Pix, m.Stride, 4)
		if r.alpha = !m.Opaque(); r.alpha {
			r.layout = nrgba8
		}
	case *image.RGBA64:
		r.layout = rgb16
		one(m.Pix, m.Stride, 8)
		if r.alpha = !m.Opaque(); r.alpha {
			r.layout = nrgba16
			unmultiply16(m.Pix)
		}
	case *image.NRGBA64:
		r.layout = rgb16
		one(m.Pix, m.Stride, 8)
		if r.alpha = !m.Opaque(); r.alpha {
			r.layout = nrgba16
		}
	case *image.CMYK:
		r.layout = cmyk8
		one(m.Pix, m.Stride, 4)
	case *image.Paletted:
		r.layout = indexed8
		one(m.Pix, m.Stride, 1)
		r.palette = make([]paletteEntry, len(m.Palette))
		for i, c := range m.Palette {
			cr, cg, cb, ca := c.RGBA()
			e := paletteEntry{0, 0, 0, float64(ca) / 65535}
			if ca > 0 {
				for k, v := range [3]uint32{cr, cg, cb} {
					e[k] = min(1, float64(v)/float64(ca))
				}
			}
			r.palette[i] = e
			r.alpha = r.alpha || ca < 65535
		}
	default:
		return nil, false
	}
	return r, true
}

// unmultiply8 divides the colours of RGBA pixels by their alpha.
func unmultiply8(pix []byte) {
	for i := 0; i+4 <= len(pix); i += 4 {
		if a := uint32(pix[i+3]); a > 0 && a < 255 {
			for k := i; k < i+3; k++ {
				pix[k] = byte(min(255, (uint32(pix[k])*255+a/2)/a))
			}
		}
	}
}

func unmultiply16(pix []byte) {
	for i := 0; i+8 <= len(pix); i += 8 {
		if a := uint64(be16(pix[i+6:])); a > 0 && a < 65535 {
			for k := i; k < i+6; k += 2 {
				v := min(65535, (uint64(be16(pix[k:]))*65535+a/2)/a)
				pix[k], pix[k+1] = byte(v>>8), byte(v)
			}
		}
	}
}

func be16(b []byte) uint16 { return uint16(b[0])<<8 | uint16(b[1]) }

// orient turns the raster upright by Exif orientation o (1–8). Transposed
// pictures are laid anew, so that rows stay contiguous; mirroring is left to
// the moment a row is read, except where it costs nothing.
func (r *raster) orient(o int) {
	r.flipX = o == 2 || o == 3 || o == 6 || o == 7
	r.flipY = o == 3 || o == 4 || o == 7 || o == 8
	if o < 5 {
		return
	}
	// A chroma sample must keep covering the same pixels: mirroring while
	// transposing is exact only where the side divides evenly.
	whole := r.h%(1<<r.sy) == 0
	for i, p := range r.planes {
		w, h := r.w, r.h
		if r.layout == ycc && (i == 1 || i == 2) {
			w, h = (w+1<<r.sx-1)>>r.sx, (h+1<<r.sy-1)>>r.sy
		}
		r.planes[i] = p.transpose(w, h, r.flipX && whole)
	}
	r.flipX = r.flipX && !whole
	r.w, r.h = r.h, r.w
	r.sx, r.sy = r.sy, r.sx
}

// transpose lays a plane of w by h elements column by column, each new row
// reversed where asked.
func (p plane) transpose(w, h int, reverse bool) plane {
	q := plane{make([]byte, w*h*p.size), h * p.size, p.size}
	const tile = 64 // elements: a cache line of bytes
	for y0 := 0; y0 < h; y0 += tile {
		for x0 := 0; x0 < w; x0 += tile {
			y1, x1 := min(y0+tile, h), min(x0+tile, w)
			if p.size > 1 {
				p.turn(q, x0, y0, x1, y1, h, reverse)
				continue
			}
			// Bytes go in squares of eight, then what is left at the edges.
			xe, ye := x0+(x1-x0)&^7, y0+(y1-y0)&^7
			for x := x0; x < xe; x += 8 {
				for y := y0; y < ye; y += 8 {
					p.turn8(q, x, y, h, reverse)
				}
			}
			p.turn(q, xe, y0, x1, y1, h, reverse)
			p.turn(q, x0, ye, xe, y1, h, reverse)
		}
	}
	return q
}

// turn transposes elements x0 ≤ x < x1, y0 ≤ y < y1 one by one.
func (p plane) turn(q plane, x0, y0, x1, y1, h int, reverse bool) {
	for y := y0; y < y1; y++ {
		to := y
		if reverse {
			to = h - 1 - y
		}
		for x := x0; x < x1; x++ {
			copy(q.pix[x*q.stride+to*p.size:][:p.size], p.pix[y*p.stride+x*p.size:])
		}
	}
}

// turn8 transposes the eight by eight bytes at x, y: halves, quarters, then
// single bytes trade places across the diagonal of a square of words.
func (p plane) turn8(q plane, x, y, h int, reverse bool) {
	var a [8]uint64
	src := p.pix[y*p.stride+x:]
	for i := range a {
		a[i] = binary.LittleEndian.Uint64(src[i*p.stride:])
	}
	for i := range 4 {
		t := (a[i]>>32 ^ a[i+4]) & 0x00000000ffffffff
		a[i], a[i+4] = a[i]^t<<32, a[i+4]^t
	}
	for _, i := range [...]int{0, 1, 4, 5} {
		t := (a[i]>>16 ^ a[i+2]) & 0x0000ffff0000ffff
		a[i], a[i+2] = a[i]^t<<16, a[i+2]^t
	}
	for i := 0; i < 8; i += 2 {
		t := (a[i]>>8 ^ a[i+1]) & 0x00ff00ff00ff00ff
		a[i], a[i+1] = a[i]^t<<8, a[i+1]^t
	}
	to := y
	if reverse {
		to = h - 8 - y
		for i := range a {
			a[i] = bits.ReverseBytes64(a[i])
		}
	}
	dst := q.pix[x*q.stride+to:]
	for i := range a {
		binary.LittleEndian.PutUint64(dst[i*q.stride:], a[i])
	}
}

// span writes n pixels of row y from column x on as linear light into dst.
// Row and columns are those of the upright picture.
func (r *raster) span(c *converter, x, y, n int, dst []float32) {
	if r.flipY {
		y = r.h - 1 - y
	}
	if r.flipX {
		x = r.w - x - n
	}
	dst = dst[:3*n]
	p := r.planes[0]
	src := p.row(y)[x*p.size : (x+n)*p.size]
	switch r.layout {
	case indexed8:
		c.indexed8(dst, src)
	case indexed16:
		c.indexed16(dst, src)
	case ycc:
		cy := y >> r.sy
		c.ycc(dst, src, r.planes[1].row(cy), r.planes[2].row(cy), x, r.sx)
		if r.alpha {
			a := r.planes[3].row(y)[x : x+n]
			c.finish(dst)
			c.over(dst, a, 1)
		} else {
			c.finish(dst)
		}
	case rgb8:
		c.rgb8(dst, src)
		c.finish(dst)
	case nrgba8:
		c.rgb8(dst, src)
		c.finish(dst)
		c.over(dst, src[3:], 4)
	case rgb16:
		c.rgb16(dst, src)
		c.finish(dst)
	case nrgba16:
		c.rgb16(dst, src)
		c.finish(dst)
		c.over16(dst, src[6:])
	case cmyk8:
		c.cmyk8(dst, src)
		c.finish(dst)
	}
	if r.flipX {
		for i, j := 0, len(dst)-3; i < j; i, j = i+3, j-3 {
			dst[i], dst[i+1], dst[i+2], dst[j], dst[j+1], dst[j+2] =
				dst[j], dst[j+1], dst[j+2], dst[i], dst[i+1], dst[i+2]
		}
	}
}

package photo

// Encoded RGB is looked up in tables with a margin at either end, so that
// YCbCr colours outside the cube need no clamping: the margin repeats the
// ends. The widest case, limited range BT.2020, needs −292…552.
const (
	lutZero = 320
	lutSize = 1024
)

type lut8 [lutSize]float32

// yccTables hold a YCbCr matrix in 16.16 fixed point.
type yccTables struct {
	y, rCr, gCb, gCr, bCb [256]int32
}

// A converter turns stored samples into linear light. Each pixel passes the
// tables, then the grid (profiles with tables of several dimensions), then
// the matrix, and lies over white where it is not opaque.
type converter struct {
	lut   [3]*lut8
	lut16 [3][]float32     // 65536 entries
	final *[3][256]float32 // indexed8: the whole conversion
	deep  *[3][]float32    // indexed16: likewise, 65536 entries
	table *yccTables       // ycc
	grid  *grid            // nil for matrix profiles
	m     *[9]float32      // nil where the tables say it all
	white [3]float32       // white paper after the matrix
}

func (c *converter) indexed8(dst []float32, src []byte) {
	t := c.final
	for i, v := range src {
		d := dst[3*i : 3*i+3 : 3*i+3]
		d[0], d[1], d[2] = t[0][v], t[1][v], t[2][v]
	}
}

func (c *converter) indexed16(dst []float32, src []byte) {
	r, g, b := c.deep[0], c.deep[1], c.deep[2]
	for len(src) >= 2 && len(dst) >= 3 {
		v := be16(src)
		dst[0], dst[1], dst[2] = r[v], g[v], b[v]
		src, dst = src[2:], dst[3:]
	}
}

func (c *converter) rgb8(dst []float32, src []byte) {
	r, g, b := c.lut[0], c.lut[1], c.lut[2]
	for len(src) >= 4 && len(dst) >= 3 {
		dst[0] = r[lutZero+int(src[0])]
		dst[1] = g[lutZero+int(src[1])]
		dst[2] = b[lutZero+int(src[2])]
		src, dst = src[4:], dst[3:]
	}
}

func (c *converter) rgb16(dst []float32, src []byte) {
	r, g, b := c.lut16[0], c.lut16[1], c.lut16[2]
	for len(src) >= 8 && len(dst) >= 3 {
		dst[0], dst[1], dst[2] = r[be16(src)], g[be16(src[2:])], b[be16(src[4:])]
		src, dst = src[8:], dst[3:]
	}
}

// ycc converts luma with the chroma rows cb and cr, whose samples each cover
// 1<<shift pixels; x is the column of the first luma sample.
func (c *converter) ycc(dst []float32, luma, cb, cr []byte, x int, shift uint) {
	t, r, g, b := c.table, c.lut[0], c.lut[1], c.lut[2]
	const mask = lutSize - 1
	if shift == 1 {
		if x&1 == 1 && len(luma) > 0 {
			c.ycc(dst[:3], luma[:1], cb[x>>1:], cr[x>>1:], 0, 0)
			luma, dst, x = luma[1:], dst[3:], x+1
		}
		cb, cr = cb[x>>1:], cr[x>>1:]
		n := len(luma) / 2
		cb, cr = cb[:n+len(luma)&1], cr[:n+len(luma)&1]
		for i := 0; len(luma) >= 2 && len(dst) >= 6 && i < len(cb) && i < len(cr); i++ {
			u, v := cb[i], cr[i]
			dr, dg, db := t.rCr[v], t.gCb[u]+t.gCr[v], t.bCb[u]
			y := t.y[luma[0]]
			dst[0] = r[((y+dr)>>16+lutZero)&mask]
			dst[1] = g[((y+dg)>>16+lutZero)&mask]
			dst[2] = b[((y+db)>>16+lutZero)&mask]
			y = t.y[luma[1]]
			dst[3] = r[((y+dr)>>16+lutZero)&mask]
			dst[4] = g[((y+dg)>>16+lutZero)&mask]
			dst[5] = b[((y+db)>>16+lutZero)&mask]
			luma, dst = luma[2:], dst[6:]
		}
		if len(luma) == 0 {
			return
		}
		cb, cr, x, shift = cb[n:], cr[n:], 0, 0
	}
	for i, l := range luma {
		k := (x + i) >> shift
		u, v, y := cb[k], cr[k], t.y[l]
		d := dst[3*i : 3*i+3 : 3*i+3]
		d[0] = r[((y+t.rCr[v])>>16+lutZero)&mask]
		d[1] = g[((y+t.gCb[u]+t.gCr[v])>>16+lutZero)&mask]
		d[2] = b[((y+t.bCb[u])>>16+lutZero)&mask]
	}
}

// cmyk8 goes through the profile's grid, or, without one, by the plain rule
// R = (1−C)(1−K) in encoded values.
func (c *converter) cmyk8(dst []float32, src []byte) {
	if c.grid != nil {
		var in [4]float32
		for len(src) >= 4 && len(dst) >= 3 {
			for k := range in {
				in[k] = float32(src[k]) * (1.0 / 255)
			}
			dst[0], dst[1], dst[2] = c.grid.at(in[:])
			src, dst = src[4:], dst[3:]
		}
		return
	}
	for len(src) >= 4 && len(dst) >= 3 {
		k := 255 - int(src[3])
		for i := range 3 {
			dst[i] = c.lut[i][lutZero+((255-int(src[i]))*k+127)/255]
		}
		src, dst = src[4:], dst[3:]
	}
}

// finish applies the grid and the matrix in place.
func (c *converter) finish(dst []float32) {
	if c.grid != nil && c.grid.n == 3 {
		for d := dst; len(d) >= 3; d = d[3:] {
			d[0], d[1], d[2] = c.grid.at(d[:3])
		}
	}
	if m := c.m; m != nil {
		for d := dst; len(d) >= 3; d = d[3:] {
			r, g, b := d[0], d[1], d[2]
			d[0] = m[0]*r + m[1]*g + m[2]*b
			d[1] = m[3]*r + m[4]*g + m[5]*b
			d[2] = m[6]*r + m[7]*g + m[8]*b
		}
	}
}

// over lays pixels over white paper; alpha holds one byte every step bytes.
func (c *converter) over(dst []float32, alpha []byte, step int) {
	for i := 0; 3*i < len(dst); i++ {
		if a := alpha[i*step]; a != 255 {
			c.blend(dst[3*i:3*i+3], float32(a)*(1.0/255))
		}
	}
}

func (c *converter) over16(dst []float32, alpha []byte) {
	for i := 0; 3*i < len(dst); i++ {
		if a := be16(alpha[8*i:]); a != 65535 {
			c.blend(dst[3*i:3*i+3], float32(a)*(1.0/65535))
		}
	}
}

func (c *converter) blend(d []float32, a float32) {
	for k := range d {
		d[k] = d[k]*a + c.white[k]*(1-a)
	}
}

// newYCCTables builds the tables for luma weights kr and kb (ITU-T H.273,
// table 4), in full or limited range (16–235, chroma 16–240).
func newYCCTables(kr, kb float64, full bool) *yccTables {
	const one = 1 << 16
	ys, cs, y0 := 1.0, 1.0, 0.0
	if !full {
		ys, cs, y0 = 255.0/219, 255.0/224, 16
	}
	kg := 1 - kr - kb
	fix := func(v float64) int32 {
		if v < 0 {
			return int32(v*one - 0.5)
		}
		return int32(v*one + 0.5)
	}
	t := &yccTables{}
	for i := range 256 {
		y, c := float64(i)-y0, float64(i)-128
		t.y[i] = fix(y*ys) + one/2
		t.rCr[i] = fix(2 * (1 - kr) * c * cs)
		t.gCb[i] = fix(-2 * (1 - kb) * kb / kg * c * cs)
		t.gCr[i] = fix(-2 * (1 - kr) * kr / kg * c * cs)
		t.bCb[i] = fix(2 * (1 - kb) * c * cs)
	}
	return t
}

// jfif is full-range BT.601 (JFIF, ITU-T T.871), rounded as image/jpeg's users
// expect from color.YCbCrToRGB.
var jfif = func() *yccTables {
	t := &yccTables{}
	for i := range 256 {
		c := int32(i) - 128
		t.y[i] = int32(i) * 0x10101
		t.rCr[i] = 91881 * c
		t.gCb[i] = -22554 * c
		t.gCr[i] = -46802 * c
		t.bCb[i] = 116130 * c
	}
	return t
}()

// bt601Limited is what a lossy WebP holds (RFC 9649 by way of RFC 6386, 9.2).
var bt601Limited = newYCCTables(0.299, 0.114, false)

package draw

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
	"golang.org/x/text/unicode/norm"
)

// picture is a page of marks to be painted as a PNG or written as an SVG: both
// come from the same list, so they agree. Lengths are points, 1/72 inch; y runs
// down; text is placed by its baseline and drawn as outlines of the embedded
// faces, so that it looks the same wherever the page is opened.
type picture struct {
	w, h   float64
	ground color.RGBA
	ids    string // before every id, where an SVG stands in a page with others
	title  string // for those who cannot see it
	desc   string
	marks  []mark
}

// mark is one thing on a page: filled outlines, a stroke, words, or a raster.
type mark struct {
	inlay *inlay
	rings [][][2]float64 // closed outlines; one wound the other way is a hole
	path  [][2]float64   // of a stroke
	wide  float64
	dash  float64 // length of dashes, and of the gaps between; 0 is a whole line
	col   color.RGBA

	words string
	x, y  float64
	turn  float64 // radians, clockwise about x, y
	size  float64
	bold  bool
	halo  float64 // width of a rim in the halo's colour around the letters
	rim   color.RGBA
}

func newPicture(w, h float64, ground color.RGBA) *picture {
	return &picture{w: w, h: h, ground: ground}
}

func (p *picture) fill(col color.RGBA, rings ...[][2]float64) {
	p.marks = append(p.marks, mark{rings: rings, col: col})
}

func (p *picture) box(x, y, w, h float64, col color.RGBA) {
	p.fill(col, [][2]float64{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}})
}

// frame outlines a box, the line centred on its edge.
func (p *picture) frame(x, y, w, h, wide float64, col color.RGBA) {
	p.stroke(col, wide, 0, [][2]float64{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}, {x, y}})
}

func (p *picture) stroke(col color.RGBA, wide, dash float64, path [][2]float64) {
	p.marks = append(p.marks, mark{path: path, col: col, wide: wide, dash: dash})
}

func (p *picture) line(x0, y0, x1, y1, wide float64, col color.RGBA) {
	p.stroke(col, wide, 0, [][2]float64{{x0, y0}, {x1, y1}})
}

func (p *picture) disc(x, y, r float64, col color.RGBA) { p.fill(col, circle(x, y, r)) }

// circle runs the way a box does.
func circle(x, y, r float64) [][2]float64 {
	n := int(min(120, max(12, 8*math.Sqrt(r))))
	pts := make([][2]float64, n)
	for i := range pts {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		pts[i] = [2]float64{x + r*c, y + r*s}
	}
	return pts
}

// lettering is how words look.
type lettering struct {
	size float64
	bold bool
	col  color.RGBA
	halo float64
	rim  color.RGBA
}

func plain(size float64) lettering { return lettering{size: size, col: ink} }
func strong(size float64) lettering {
	return lettering{size: size, bold: true, col: ink}
}

// words writes s from x on and gives where it ends.
func (p *picture) words(x, y float64, s string, l lettering) float64 {
	s = drawable(s)
	if s != "" {
		p.marks = append(p.marks, mark{words: s, x: x, y: y, size: l.size, bold: l.bold, col: l.col, halo: l.halo, rim: l.rim})
	}
	return x + textWidth(s, l.bold, l.size)
}

func (p *picture) centred(x, y float64, s string, l lettering) {
	p.words(x-textWidth(drawable(s), l.bold, l.size)/2, y, s, l)
}

func (p *picture) right(x, y float64, s string, l lettering) {
	p.words(x-textWidth(drawable(s), l.bold, l.size), y, s, l)
}

// turned centres s on x, y, its line of writing turned clockwise by an angle.
func (p *picture) turned(x, y, angle float64, s string, l lettering) {
	s = drawable(s)
	sn, c := math.Sincos(angle)
	dx, dy := -textWidth(s, l.bold, l.size)/2, 0.36*l.size
	p.words(x+dx*c-dy*sn, y+dx*sn+dy*c, s, l)
	p.marks[len(p.marks)-1].turn = angle
}

// typeface is one of the embedded faces, read in its own units.
type typeface struct {
	mu     sync.Mutex
	buf    sfnt.Buffer
	glyphs map[rune]glyph
	id     string
	*sfnt.Font
}

type glyph struct {
	index    sfnt.GlyphIndex // 0 where the face has none
	advance  float64         // in ems
	segments []segment
}

// segment is a step of an outline, in ems.
type segment struct {
	op  sfnt.SegmentOp
	pts [3][2]float64
}

var typefaces = sync.OnceValue(func() [2]*typeface {
	f := fonts()
	return [2]*typeface{{glyphs: map[rune]glyph{}, id: "r", Font: f[0]}, {glyphs: map[rune]glyph{}, id: "b", Font: f[1]}}
})

func faceOf(bold bool) *typeface {
	if bold {
		return typefaces()[1]
	}
	return typefaces()[0]
}

// glyph reads a letter's outline, once.
func (t *typeface) glyph(r rune) glyph {
	t.mu.Lock()
	defer t.mu.Unlock()
	if g, ok := t.glyphs[r]; ok {
		return g
	}
	em := fixed.Int26_6(t.UnitsPerEm())
	var g glyph
	i, err := t.GlyphIndex(&t.buf, r)
	if err == nil && i != 0 {
		g.index = i
		if a, err := t.GlyphAdvance(&t.buf, i, em, font.HintingNone); err == nil {
			g.advance = float64(a) / float64(em)
		}
		segs, err := t.LoadGlyph(&t.buf, i, em, nil)
		if err != nil {
			panic("draw: an embedded font has no outline for " + strconv.QuoteRune(r) + ": " + err.Error())
		}
		for _, s := range segs {
			var out segment
			out.op = s.Op
			for k, a := range s.Args {
				out.pts[k] = [2]float64{float64(a.X) / float64(em), float64(a.Y) / float64(em)}
			}
			g.segments = append(g.segments, out)
		}
	}
	t.glyphs[r] = g
	return g
}

// textWidth is the width of s in the unit of size.
func textWidth(s string, bold bool, size float64) float64 {
	t, w := faceOf(bold), 0.0
	for _, r := range s {
		w += t.glyph(r).advance
	}
	return w * size
}

// drawable is s with accents composed, and without what the faces hold no
// letter for.
func drawable(s string) string {
	t := faceOf(false)
	return strings.Map(func(r rune) rune {
		if r == '\u00a0' || r == '\t' || r == '\n' {
			return ' '
		}
		if unicode.IsControl(r) || t.glyph(r).index == 0 {
			return -1
		}
		return r
	}, norm.NFC.String(s))
}

// nameOr is a name as far as it can be drawn, letters without their marks where
// need be, or the other where little of it can.
func nameOr(name, other string) string {
	if s, _ := spelled(name); s != "" && !strings.Contains(s, "U+") {
		return s
	}
	d := strings.TrimSpace(drawable(name))
	if 2*len([]rune(d)) < len([]rune(strings.TrimSpace(name))) && strings.TrimSpace(drawable(other)) != "" {
		return drawable(other)
	}
	return d
}

// clipped shortens s to a width, ending in an ellipsis where it must.
func clipped(s string, w float64, bold bool, size float64) string {
	s = drawable(s)
	if textWidth(s, bold, size) <= w {
		return s
	}
	r := []rune(s)
	r = r[:min(len(r), 400)]
	for len(r) > 0 && textWidth(string(r)+"…", bold, size) > w {
		r = r[:len(r)-1]
	}
	return strings.TrimRight(string(r), " ,") + "…"
}

// shrunk sets s in a smaller size, down to least, where it is too long for a
// width, and shortens it only then.
func shrunk(s string, w float64, bold bool, size, least float64) (string, float64) {
	s = drawable(s)
	if long := textWidth(s, bold, size); long > w {
		size = max(least, size*w/long)
	}
	return clipped(s, w+1e-9, bold, size), size
}

// wrapped breaks s into at most n lines of a width.
func wrapped(s string, w float64, n int, bold bool, size float64) []string {
	var lines []string
	rest := strings.Fields(drawable(s))
	for len(rest) > 0 {
		k := 1
		for k < len(rest) && textWidth(strings.Join(rest[:k+1], " "), bold, size) <= w {
			k++
		}
		if len(lines) == n-1 {
			k = len(rest)
		}
		lines = append(lines, clipped(strings.Join(rest[:k], " "), w, bold, size))
		rest = rest[k:]
	}
	return lines
}

// png paints the page at so many dots to the inch, and says so in the file.
func (p *picture) png(w io.Writer, dpi int) error {
	k := float64(dpi) / 72
	img := image.NewRGBA(image.Rect(0, 0, int(math.Round(p.w*k)), int(math.Round(p.h*k))))
	draw.Draw(img, img.Bounds(), image.NewUniform(p.ground), image.Point{}, draw.Src)
	b := brush{img: img, k: k}
	for i := range p.marks {
		b.paint(&p.marks[i])
	}
	var buf bytes.Buffer
	e := png.Encoder{CompressionLevel: png.DefaultCompression}
	if err := e.Encode(&buf, img); err != nil {
		return fmt.Errorf("draw: writing a picture: %w", err)
	}
	// pHYs, PNG 1.2 section 4.2.4.2: dots per metre, after the header's chunk.
	const header = 8 + 12 + 13
	chunk := append([]byte("pHYs"), make([]byte, 9)...)
	binary.BigEndian.PutUint32(chunk[4:], uint32(math.Round(float64(dpi)/0.0254)))
	binary.BigEndian.PutUint32(chunk[8:], uint32(math.Round(float64(dpi)/0.0254)))
	chunk[12] = 1
	data := buf.Bytes()
	out := append([]byte{}, data[:header]...)
	out = binary.BigEndian.AppendUint32(out, 9)
	out = append(out, chunk...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
	out = append(out, data[header:]...)
	_, err := w.Write(out)
	return err
}

// brush paints marks on a raster, k pixels to the point.
type brush struct {
	img *image.RGBA
	k   float64
	z   vector.Rasterizer
}

func (b *brush) paint(m *mark) {
	switch {
	case m.inlay != nil:
		b.inlay(m.inlay)
	case m.words != "":
		if m.halo > 0 {
			for i := range 16 {
				s, c := math.Sincos(2 * math.Pi * float64(i) / 16)
				b.letters(m, m.halo*c, m.halo*s, m.rim)
			}
		}
		b.letters(m, 0, 0, m.col)
	case m.path != nil:
		if m.dash == 0 {
			b.outline(strokeRings(m.path, m.wide, true), m.col)
			return
		}
		for _, piece := range dashes(m.path, m.dash) {
			b.outline(strokeRings(piece, m.wide, false), m.col)
		}
	default:
		b.outline(m.rings, m.col)
	}
}

// within gives the pixels that a box of points touches, and readies the
// rasteriser for them.
func (b *brush) within(x0, y0, x1, y1 float64) (image.Rectangle, bool) {
	r := image.Rect(int(math.Floor(x0*b.k)), int(math.Floor(y0*b.k)), int(math.Ceil(x1*b.k)), int(math.Ceil(y1*b.k))).Intersect(b.img.Bounds())
	if r.Empty() {
		return r, false
	}
	b.z.Reset(r.Dx(), r.Dy())
	return r, true
}

func (b *brush) outline(rings [][][2]float64, col color.RGBA) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, ring := range rings {
		for _, q := range ring {
			x0, y0, x1, y1 = min(x0, q[0]), min(y0, q[1]), max(x1, q[0]), max(y1, q[1])
		}
	}
	if !(x1 >= x0) {
		return
	}
	r, ok := b.within(x0, y0, x1, y1)
	if !ok {
		return
	}
	for _, ring := range rings {
		for i, q := range ring {
			x, y := float32(q[0]*b.k-float64(r.Min.X)), float32(q[1]*b.k-float64(r.Min.Y))
			if i == 0 {
				b.z.MoveTo(x, y)
			} else {
				b.z.LineTo(x, y)
			}
		}
		b.z.ClosePath()
	}
	b.z.Draw(b.img, r, image.NewUniform(col), image.Point{})
}

func (b *brush) letters(m *mark, dx, dy float64, col color.RGBA) {
	t := faceOf(m.bold)
	box := m.area()
	r, ok := b.within(box.x0+dx-m.size, box.y0+dy-m.size, box.x1+dx+m.size, box.y1+dy+m.size)
	if !ok {
		return
	}
	sn, cs := math.Sincos(m.turn)
	x := 0.0
	for _, c := range m.words {
		g := t.glyph(c)
		at := func(q [2]float64) (float32, float32) {
			u, v := x+q[0]*m.size, q[1]*m.size
			return float32((m.x+dx+u*cs-v*sn)*b.k - float64(r.Min.X)), float32((m.y+dy+u*sn+v*cs)*b.k - float64(r.Min.Y))
		}
		for i, s := range g.segments {
			ax, ay := at(s.pts[0])
			switch s.op {
			case sfnt.SegmentOpMoveTo:
				if i > 0 {
					b.z.ClosePath()
				}
				b.z.MoveTo(ax, ay)
			case sfnt.SegmentOpLineTo:
				b.z.LineTo(ax, ay)
			case sfnt.SegmentOpQuadTo:
				bx, by := at(s.pts[1])
				b.z.QuadTo(ax, ay, bx, by)
			case sfnt.SegmentOpCubeTo:
				bx, by := at(s.pts[1])
				cx, cy := at(s.pts[2])
				b.z.CubeTo(ax, ay, bx, by, cx, cy)
			}
		}
		if len(g.segments) > 0 {
			b.z.ClosePath()
		}
		x += g.advance * m.size
	}
	b.z.Draw(b.img, r, image.NewUniform(col), image.Point{})
}

// area is the box about a mark's words.
func (m *mark) area() area {
	sn, c := math.Sincos(m.turn)
	wide := textWidth(m.words, m.bold, m.size)
	out := area{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, q := range [4][2]float64{{0, -0.75 * m.size}, {wide, -0.75 * m.size}, {wide, 0.22 * m.size}, {0, 0.22 * m.size}} {
		x, y := m.x+q[0]*c-q[1]*sn, m.y+q[0]*sn+q[1]*c
		out = area{min(out.x0, x), min(out.y0, y), max(out.x1, x), max(out.y1, y)}
	}
	return out
}

// strokeRings is the outline of a stroke: a box a segment, all wound alike,
// with round joints, and round ends if asked.
func strokeRings(path [][2]float64, wide float64, round bool) [][][2]float64 {
	var out [][][2]float64
	for i := 1; i < len(path); i++ {
		p, q := path[i-1], path[i]
		d := math.Hypot(q[0]-p[0], q[1]-p[1])
		if d == 0 {
			continue
		}
		nx, ny := (q[1]-p[1])/d*wide/2, (p[0]-q[0])/d*wide/2
		out = append(out, [][2]float64{{p[0] + nx, p[1] + ny}, {q[0] + nx, q[1] + ny}, {q[0] - nx, q[1] - ny}, {p[0] - nx, p[1] - ny}})
	}
	for i, q := range path {
		if round || i > 0 && i < len(path)-1 {
			out = append(out, circle(q[0], q[1], wide/2))
		}
	}
	return out
}

// dashes cuts a path into pieces as long as the gaps between them.
func dashes(path [][2]float64, dash float64) [][][2]float64 {
	var out [][][2]float64
	var piece [][2]float64
	left, on := dash, true
	for i := 1; i < len(path); i++ {
		p, q := path[i-1], path[i]
		d := math.Hypot(q[0]-p[0], q[1]-p[1])
		done := 0.0
		if on && len(piece) == 0 {
			piece = append(piece, p)
		}
		for d-done > left {
			done += left
			at := [2]float64{p[0] + (q[0]-p[0])*done/d, p[1] + (q[1]-p[1])*done/d}
			if on {
				out = append(out, append(piece, at))
				piece = nil
			} else {
				piece = [][2]float64{at}
			}
			on, left = !on, dash
		}
		left -= d - done
		if on {
			piece = append(piece, q)
		}
	}
	if on && len(piece) > 1 {
		out = append(out, piece)
	}
	return out
}

// svg writes the page. Words are drawn as outlines, each letter kept once, and
// lie on top once more as text without ink, to be found, copied and read out.
func (p *picture) svg(w io.Writer) error {
	var b bytes.Buffer
	const mm = 25.4 / 72
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="%smm" height="%smm" viewBox="0 0 %s %s" role="img" aria-labelledby="%[5]st %[5]sd">
<title id="%[5]st">`,
		num(p.w*mm), num(p.h*mm), num(p.w), num(p.h), p.ids)
	escape(&b, p.title)
	fmt.Fprintf(&b, "</title>\n<desc id=\"%sd\">", p.ids)
	escape(&b, p.desc)
	b.WriteString("</desc>\n<defs>\n")
	p.letterDefs(&b)
	b.WriteString("</defs>\n")
	fmt.Fprintf(&b, "<rect width=\"%s\" height=\"%s\" fill=\"%s\"/>\n", num(p.w), num(p.h), hexOf(p.ground))
	for i := range p.marks {
		p.marks[i].svg(&b, p.ids)
	}
	b.WriteString("<g fill=\"none\" font-family=\"Go,sans-serif\" xml:space=\"preserve\">\n")
	for _, m := range p.marks {
		if m.words == "" {
			continue
		}
		weight := ""
		if m.bold {
			weight = ` font-weight="bold"`
		}
		if m.turn != 0 {
			weight += fmt.Sprintf(` transform="rotate(%s %s %s)"`, num(m.turn*180/math.Pi), num(m.x), num(m.y))
		}
		fmt.Fprintf(&b, `<text x="%s" y="%s" font-size="%s"%s textLength="%s" lengthAdjust="spacingAndGlyphs">`,
			num(m.x), num(m.y), num(m.size), weight, num(textWidth(m.words, m.bold, m.size)))
		escape(&b, m.words)
		b.WriteString("</text>\n")
	}
	b.WriteString("</g>\n</svg>\n")
	_, err := w.Write(b.Bytes())
	return err
}

// letterDefs writes the outline of every letter used, in thousandths of an em,
// in the order of first use.
func (p *picture) letterDefs(b *bytes.Buffer) {
	done := map[string]bool{}
	for _, m := range p.marks {
		t := faceOf(m.bold)
		for _, r := range m.words {
			g := t.glyph(r)
			id := fmt.Sprintf("%s%s%d", p.ids, t.id, g.index)
			if len(g.segments) == 0 || done[id] {
				continue
			}
			done[id] = true
			fmt.Fprintf(b, `<path id="%s" d="`, id)
			for i, s := range g.segments {
				n := 1
				switch s.op {
				case sfnt.SegmentOpMoveTo:
					if i > 0 {
						b.WriteByte('Z')
					}
					b.WriteByte('M')
				case sfnt.SegmentOpLineTo:
					b.WriteByte('L')
				case sfnt.SegmentOpQuadTo:
					n = 2
					b.WriteByte('Q')
				case sfnt.SegmentOpCubeTo:
					n = 3
					b.WriteByte('C')
				}
				for k := range n {
					if k > 0 {
						b.WriteByte(' ')
					}
					fmt.Fprintf(b, "%.0f %.0f", 1000*s.pts[k][0], 1000*s.pts[k][1])
				}
			}
			b.WriteString("Z\"/>\n")
		}
	}
}

func (m *mark) svg(b *bytes.Buffer, ids string) {
	switch {
	case m.inlay != nil:
		m.inlay.svg(b)
	case m.words != "":
		turn := ""
		if m.turn != 0 {
			turn = fmt.Sprintf(" rotate(%s)", num(m.turn*180/math.Pi))
		}
		fmt.Fprintf(b, `<g aria-hidden="true" transform="translate(%s %s)%s scale(%s)" fill="%s"`, num(m.x), num(m.y), turn, strconv.FormatFloat(m.size/1000, 'f', -1, 64), hexOf(m.col))
		b.WriteByte('>')
		if m.halo > 0 {
			fmt.Fprintf(b, `<g fill="%[1]s" stroke="%[1]s" stroke-linejoin="round" stroke-width="%[2]s">`, hexOf(m.rim), num(2000*m.halo/m.size))
			m.uses(b, ids)
			b.WriteString("</g>")
		}
		m.uses(b, ids)
		b.WriteString("</g>\n")
	case m.path != nil:
		cap, dash := "round", ""
		if m.dash > 0 {
			cap, dash = "butt", fmt.Sprintf(` stroke-dasharray="%s"`, num(m.dash))
		}
		fmt.Fprintf(b, `<polyline fill="none" stroke="%s" stroke-width="%s" stroke-linejoin="round" stroke-linecap="%s"%s points="`, hexOf(m.col), num(m.wide), cap, dash)
		for i, q := range m.path {
			if i > 0 {
				b.WriteByte(' ')
			}
			b.WriteString(num(q[0]) + "," + num(q[1]))
		}
		b.WriteString("\"/>\n")
	default:
		fmt.Fprintf(b, `<path fill="%s" d="`, hexOf(m.col))
		for _, ring := range m.rings {
			for i, q := range ring {
				b.WriteByte("ML"[min(i, 1)])
				b.WriteString(num(q[0]) + " " + num(q[1]))
			}
			b.WriteByte('Z')
		}
		b.WriteString("\"/>\n")
	}
}

func (m *mark) uses(b *bytes.Buffer, ids string) {
	t, x := faceOf(m.bold), 0.0
	for _, r := range m.words {
		g := t.glyph(r)
		if len(g.segments) > 0 {
			fmt.Fprintf(b, `<use xlink:href="#%s%s%d" x="%.0f"/>`, ids, t.id, g.index, 1000*x)
		}
		x += g.advance
	}
}

// num writes a length to a hundredth of a point.
func num(v float64) string {
	return strconv.FormatFloat(math.Round(v*100)/100+0, 'f', -1, 64)
}

func escape(b *bytes.Buffer, s string) {
	if err := xml.EscapeText(b, []byte(s)); err != nil {
		panic("draw: a buffer refused text: " + err.Error())
	}
}

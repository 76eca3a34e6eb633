package draw

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"html/template"
	"image"
	"io"
	"math"
	"slices"
	"time"

	"codeberg.org/go-pdf/fpdf"
	xdraw "golang.org/x/image/draw"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"

	"paintout/cmd/internal/plan"
)

// inlay is a raster on a page, encoded as a file would hold it.
type inlay struct {
	area
	what string // "map", "photo" or "values"
	kind string // "png" or "jpeg"
	data []byte
	img  image.Image
}

func (n *inlay) svg(b *bytes.Buffer) {
	fmt.Fprintf(b, `<image x="%s" y="%s" width="%s" height="%s" preserveAspectRatio="none" xlink:href="data:image/%s;base64,%s"/>`+"\n",
		num(n.x0), num(n.y0), num(n.x1-n.x0), num(n.y1-n.y0), n.kind, base64.StdEncoding.EncodeToString(n.data))
}

func (b *brush) inlay(n *inlay) {
	at := image.Rect(int(math.Round(n.x0*b.k)), int(math.Round(n.y0*b.k)), int(math.Round(n.x1*b.k)), int(math.Round(n.y1*b.k)))
	xdraw.ApproxBiLinear.Scale(b.img, at, n.img, n.img.Bounds(), xdraw.Src, nil)
}

// Paper is what a sheet is printed on.
type Paper int

const (
	A4     Paper = iota // 210 × 297 mm, ISO 216
	Letter              // 8.5 × 11 in, ANSI A
	either              // as wide as A4 and as high as Letter: prints on both as it is
)

// ParsePaper reads "a4" or "letter".
func ParsePaper(s string) (Paper, error) {
	switch lower(s) {
	case "a4":
		return A4, nil
	case "letter":
		return Letter, nil
	}
	return A4, fmt.Errorf("paper %q is not known: say a4 or letter", s)
}

// size is the paper's, in points.
func (p Paper) size() (w, h float64) {
	switch p {
	case Letter:
		return letterShort, letterLong
	case either:
		return a4Short, letterLong
	}
	return a4Short, a4Long
}

// Booklet is pages that become one PDF, in the order they were added.
type Booklet struct {
	Title    string
	Warnings []string // what a reader of the pages should know, each once
	pages    []*picture
	widths   pixelWidths
}

// AddSheet adds the sheet of a plan for the easel: one page, or more where its
// masses and names need them.
func (b *Booklet) AddSheet(p *plan.Plan, pics *plan.Pictures, paper Paper) error {
	if b.widths == nil {
		b.widths = pixelWidths{}
	}
	e, err := easelSheet(p, pics, paper, b.widths, printDPI)
	if err != nil {
		return err
	}
	for _, page := range e.pages {
		b.pages = append(b.pages, page.picture)
	}
	b.Warnings = distinct(b.Warnings, e.warnings)
	return nil
}

// easelLeaves are the pages of a plan's sheet as SVG, to stand in one HTML page
// and be printed on either paper.
func easelLeaves(p *plan.Plan, pics *plan.Pictures) ([]template.HTML, error) {
	e, err := easelSheet(p, pics, either, pixelWidths{}, screenDPI)
	if err != nil {
		return nil, err
	}
	var out []template.HTML
	for i, page := range e.pages {
		page.ids = fmt.Sprintf("leaf%d-", i+1)
		var b bytes.Buffer
		if err := page.svg(&b); err != nil {
			return nil, err
		}
		out = append(out, template.HTML(b.String()))
	}
	return out, nil
}

// AddLesson adds a page of a lesson.
func (b *Booklet) AddLesson(l *plan.Lesson, s Sheet) error {
	page, err := lessonPage(l, s)
	if err != nil {
		return err
	}
	b.pages = append(b.pages, page)
	var said []string
	for _, t := range slices.Concat(l.Tubes, l.Chart.Tubes) {
		if whole, changed := spelled(t.Name); changed {
			said = append(said, fmt.Sprintf("On the lesson sheets %s stands for the tube whose name is %s: this type lacks letters of it.", nameOr(t.Name, t.CI), cut(whole)))
		}
	}
	b.Warnings = distinct(b.Warnings, said)
	return nil
}

// Pages is how many there are.
func (b *Booklet) Pages() int { return len(b.pages) }

// pdfDate stands in the file for when it was made, which would make each run's
// bytes differ.
var pdfDate = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// PDF writes the pages. The type is embedded, of each face the letters used,
// and every word can be selected and searched. The same pages give the same
// bytes.
func (b *Booklet) PDF(w io.Writer) error {
	if len(b.pages) == 0 {
		return errors.New("draw: a booklet without pages cannot be written")
	}
	doc := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "pt", Size: fpdf.SizeType{Wd: b.pages[0].w, Ht: b.pages[0].h}})
	doc.SetCatalogSort(true)
	doc.SetCreationDate(pdfDate)
	doc.SetModificationDate(pdfDate)
	doc.SetTitle(b.Title, true)
	doc.SetCreator("paintout", false)
	doc.SetLang("en")
	doc.SetAutoPageBreak(false, 0)
	doc.SetMargins(0, 0, 0)
	// The faces' own bytes are cut up in place, so each document gets its copy.
	doc.AddUTF8FontFromBytes(pdfFace, "", bytes.Clone(goregular.TTF))
	doc.AddUTF8FontFromBytes(pdfFace, "B", bytes.Clone(gobold.TTF))
	pen := pdfPen{Fpdf: doc}
	for _, page := range b.pages {
		doc.AddPageFormat("P", fpdf.SizeType{Wd: page.w, Ht: page.h})
		if page.ground != paper {
			pen.rings(&mark{rings: [][][2]float64{{{0, 0}, {page.w, 0}, {page.w, page.h}, {0, page.h}}}, col: page.ground})
		}
		for i := range page.marks {
			pen.mark(&page.marks[i])
		}
	}
	if err := doc.Output(w); err != nil {
		return fmt.Errorf("draw: writing a PDF: %w", err)
	}
	return nil
}

const pdfFace = "go"

// pdfPen draws marks on the pages of a document.
type pdfPen struct {
	*fpdf.Fpdf
	inlays int
}

func (d *pdfPen) mark(m *mark) {
	switch {
	case m.inlay != nil:
		d.inlays++
		name := fmt.Sprint("inlay ", d.inlays)
		o := fpdf.ImageOptions{ImageType: map[string]string{"png": "PNG", "jpeg": "JPG"}[m.inlay.kind]}
		d.RegisterImageOptionsReader(name, o, bytes.NewReader(m.inlay.data))
		d.ImageOptions(name, m.inlay.x0, m.inlay.y0, m.inlay.x1-m.inlay.x0, m.inlay.y1-m.inlay.y0, false, o, 0, "")
	case m.words != "":
		d.letters(m)
	case m.path != nil:
		d.SetDrawColor(int(m.col.R), int(m.col.G), int(m.col.B))
		d.SetLineWidth(m.wide)
		d.SetLineJoinStyle("round")
		d.SetLineCapStyle("round")
		d.SetDashPattern(nil, 0)
		if m.dash > 0 {
			d.SetLineCapStyle("butt")
			d.SetDashPattern([]float64{m.dash}, 0)
		}
		closed := len(m.path) > 2 && m.path[0] == m.path[len(m.path)-1]
		d.outline(m.path)
		if closed {
			d.ClosePath()
		}
		d.DrawPath("D")
	default:
		d.rings(m)
	}
}

func (d *pdfPen) outline(pts [][2]float64) {
	for i, q := range pts {
		if i == 0 {
			d.MoveTo(q[0], q[1])
		} else {
			d.LineTo(q[0], q[1])
		}
	}
}

func (d *pdfPen) rings(m *mark) {
	d.SetFillColor(int(m.col.R), int(m.col.G), int(m.col.B))
	for _, ring := range m.rings {
		d.outline(ring)
		d.ClosePath()
	}
	d.DrawPath("F")
}

// letters sets words as text; the rim about them is drawn, so that searching
// finds them once.
func (d *pdfPen) letters(m *mark) {
	if m.turn != 0 {
		d.TransformBegin()
		defer d.TransformEnd()
		d.TransformRotate(-m.turn*180/math.Pi, m.x, m.y)
	}
	if m.halo > 0 {
		d.SetDrawColor(int(m.rim.R), int(m.rim.G), int(m.rim.B))
		d.SetFillColor(int(m.rim.R), int(m.rim.G), int(m.rim.B))
		d.SetLineWidth(2 * m.halo)
		d.SetLineJoinStyle("round")
		d.SetDashPattern(nil, 0)
		t, x := faceOf(m.bold), m.x
		for _, r := range m.words {
			g := t.glyph(r)
			at := func(q [2]float64) (float64, float64) { return x + q[0]*m.size, m.y + q[1]*m.size }
			for i, s := range g.segments {
				ax, ay := at(s.pts[0])
				switch s.op {
				case sfnt.SegmentOpMoveTo:
					if i > 0 {
						d.ClosePath()
					}
					d.MoveTo(ax, ay)
				case sfnt.SegmentOpLineTo:
					d.LineTo(ax, ay)
				case sfnt.SegmentOpQuadTo:
					bx, by := at(s.pts[1])
					d.CurveTo(ax, ay, bx, by)
				case sfnt.SegmentOpCubeTo:
					bx, by := at(s.pts[1])
					cx, cy := at(s.pts[2])
					d.CurveBezierCubicTo(ax, ay, bx, by, cx, cy)
				}
			}
			if len(g.segments) > 0 {
				d.ClosePath()
				d.DrawPath("DF")
			}
			x += g.advance * m.size
		}
	}
	style := ""
	if m.bold {
		style = "B"
	}
	d.SetFont(pdfFace, style, m.size)
	d.SetTextColor(int(m.col.R), int(m.col.G), int(m.col.B))
	d.Text(m.x, m.y, m.words)
}

package draw

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"paintout/cmd/internal/plan"
	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// An invented box for the pictures: paints that no one makes, with names that
// a page must survive.
type ownBox struct{ *plan.Workspace }

// edge is a paint that absorbs on one side of a wavelength: strongly, and in
// soft steps.
func edge(nm, width, strong, weak, scatter float64) optics.Paint {
	var p optics.Paint
	for i := range p.K {
		x := 1 / (1 + math.Exp((float64(optics.Wavelength(i))-nm)/width))
		p.K[i] = weak + (strong-weak)*x
		p.S[i] = scatter
	}
	return p
}

// about is a paint that absorbs everywhere but about one wavelength.
func about(nm, width, strong, weak, scatter float64) optics.Paint {
	var p optics.Paint
	for i := range p.K {
		d := (float64(optics.Wavelength(i)) - nm) / width
		p.K[i] = strong - (strong-weak)*math.Exp(-d*d)
		p.S[i] = scatter
	}
	return p
}

func invented(t testing.TB, only ...string) ownBox {
	t.Helper()
	tubes := []*inventory.Tube{
		{Name: "Chalk Wall White", CI: []string{"PW6"}, Paint: edge(380, 10, 0.0008, 0.0008, 1), White: true},
		{Name: "Jaune d’été très clair", CI: []string{"PY184"}, Paint: edge(505, 9, 2.5, 0.003, 0.6), Caution: "Vanadium compound: no dust, no spray."},
		{Name: "Охра степная", CI: []string{"PY43"}, Paint: edge(545, 28, 0.9, 0.06, 0.35), Caution: "Natural earths hold silica and some manganese: no dust."},
		{Name: "Ferry Red", CI: []string{"PR254"}, Paint: edge(595, 9, 2.2, 0.01, 0.3)},
		{Name: `<b>Slack Tide</b> & "Blue"`, CI: []string{"PB29"}, Paint: about(450, 60, 1.2, 0.05, 0.06)},
		{Name: "堰の緑", CI: []string{"PG7"}, Paint: about(505, 45, 4, 0.15, 0.05), Caution: "Low hazard as paint; stains."},
		{Name: "Smithy Black", CI: []string{"PBk9"}, Paint: edge(380, 10, 1.5, 1.5, 0.03)},
	}
	b := &inventory.Box{Name: "Étude — учебная коробка <i>", Tubes: tubes}
	use := tubes
	if len(only) > 0 {
		use = nil
		for _, n := range only {
			use = append(use, b.Tube(n))
		}
	}
	p, err := recipe.NewPalette(use, optics.Included)
	if err != nil {
		t.Fatal(err)
	}
	return ownBox{&plan.Workspace{Box: b, From: "an invented box", Palette: p}}
}

func (b ownBox) chart(t testing.TB, what string) *plan.Chart {
	t.Helper()
	c, err := b.Chart(what, 0)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func (b ownBox) lesson(t testing.TB) *plan.Lesson {
	t.Helper()
	l, err := b.Lesson("", 0)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func (b ownBox) slices(t testing.TB) *plan.Slices {
	t.Helper()
	p, _ := fixture(60, 40, 0)
	aims := plan.AimsOf(p)
	for i := range aims {
		aims[i].DE00 = -1 // the fixture's mixes are made up
	}
	s, err := b.Slices(context.Background(), aims, nil)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

const timeForBrowser = time.Minute

// drawing is one picture under test.
type drawing struct {
	name     string
	page     *picture
	png, svg func(io.Writer) error
	dpi      int
	tubes    []string // names that must stand on it
}

// pictured draws everything there is to draw, of the whole box and of parts of
// it.
func pictured(t testing.TB) []drawing {
	t.Helper()
	var out []drawing
	page := func(p *picture, err error) *picture {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	named := func(tubes []*inventory.Tube) (names []string) {
		for _, tube := range tubes {
			names = append(names, tube.Name)
		}
		return names
	}
	all := invented(t)
	for _, b := range []struct {
		name string
		ownBox
	}{
		{"all", all}, {"one", invented(t, "Ferry Red")},
		{"three", invented(t, "Chalk Wall White", "Jaune d’été très clair", `<b>Slack Tide</b> & "Blue"`)},
	} {
		v := b.Wheel()
		out = append(out, drawing{"wheel-" + b.name, page(wheelPage(v)),
			func(w io.Writer) error { return WheelPNG(w, v) }, func(w io.Writer) error { return WheelSVG(w, v) }, screenDPI, named(b.Palette.Tubes)})
		l := b.lesson(t)
		for _, s := range []Sheet{{}, {Chart: true}, {Filled: true, Letter: true}, {Chart: true, Filled: true, Letter: true}} {
			var tubes []string
			for _, tube := range l.Tubes {
				tubes = append(tubes, tube.Name)
			}
			if s.Chart {
				tubes = nil
				for _, tube := range l.Chart.Tubes {
					tubes = append(tubes, tube.Name)
				}
			}
			out = append(out, drawing{"lesson-" + b.name + "-" + s.Name(), page(lessonPage(l, s)),
				func(w io.Writer) error { return LessonPNG(w, l, s) }, func(w io.Writer) error { return LessonSVG(w, l, s) }, printDPI, tubes})
		}
	}
	for name, c := range map[string]*plan.Chart{
		"pairs": all.chart(t, ""), "string": all.chart(t, "Ferry Red+Охра степная"), "ladders": all.chart(t, "堰の緑"),
	} {
		out = append(out, drawing{"chart-" + name, page(chartPage(c)),
			func(w io.Writer) error { return ChartPNG(w, c) }, func(w io.Writer) error { return ChartSVG(w, c) }, screenDPI, nil})
	}
	s := all.slices(t)
	return append(out, drawing{"slices", page(slicesPage(s)),
		func(w io.Writer) error { return SlicesPNG(w, s) }, func(w io.Writer) error { return SlicesSVG(w, s) }, screenDPI, nil})
}

// Every page is well-formed, has a title, words in plain text and nothing of a
// name taken for markup; every tube is named, by its code where the faces hold
// no letters for its name.
func TestSVGStructure(t *testing.T) {
	for _, d := range pictured(t) {
		var b bytes.Buffer
		if err := d.svg(&b); err != nil {
			t.Fatal(err)
		}
		allowed := map[string]bool{"svg": true, "title": true, "desc": true, "defs": true, "path": true, "rect": true, "g": true, "use": true, "polyline": true, "text": true}
		var words, title strings.Builder
		var stack []string
		ids, uses := map[string]bool{}, map[string]bool{}
		dec := xml.NewDecoder(&b)
		for {
			tok, err := dec.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", d.name, err)
			}
			switch tok := tok.(type) {
			case xml.StartElement:
				if !allowed[tok.Name.Local] {
					t.Fatalf("%s: an element <%s>", d.name, tok.Name.Local)
				}
				stack = append(stack, tok.Name.Local)
				for _, a := range tok.Attr {
					switch a.Name.Local {
					case "id":
						ids[a.Value] = true
					case "href":
						uses[strings.TrimPrefix(a.Value, "#")] = true
					}
					if strings.HasPrefix(a.Name.Local, "on") || strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
						t.Fatalf("%s: <%s %s=%q>", d.name, tok.Name.Local, a.Name.Local, a.Value)
					}
				}
			case xml.EndElement:
				stack = stack[:len(stack)-1]
				words.WriteByte('\n')
			case xml.CharData:
				switch {
				case len(stack) == 0:
				case stack[len(stack)-1] == "text":
					words.Write(tok)
				case stack[len(stack)-1] == "title":
					title.Write(tok)
				}
			}
		}
		if title.Len() == 0 {
			t.Errorf("%s: no title", d.name)
		}
		for id := range uses {
			if !ids[id] {
				t.Errorf("%s: the letter %q is used and not there", d.name, id)
			}
		}
		for _, n := range d.tubes {
			if n == "堰の緑" {
				n = "PG7"
			}
			if !strings.Contains(words.String(), n) {
				t.Errorf("%s: %q is not on the page", d.name, n)
			}
		}
	}
}

// No words lie on other words, and none beyond the page's edge.
func TestWordsKeepApart(t *testing.T) {
	check := func(name string, p *picture) {
		t.Helper()
		var marks []*mark
		for i := range p.marks {
			if p.marks[i].words != "" {
				marks = append(marks, &p.marks[i])
			}
		}
		for i, m := range marks {
			a := m.area()
			if a.x0 < 0 || a.y0 < 0 || a.x1 > p.w || a.y1 > p.h {
				t.Errorf("%s: %q runs off the page", name, m.words)
			}
			if m.turn != 0 {
				continue // its box is larger than it is
			}
			for _, n := range marks[:i] {
				b := n.area()
				const slack = 0.6 // letters do not fill their boxes
				if n.turn == 0 && min(a.x1, b.x1)-max(a.x0, b.x0) > slack && min(a.y1, b.y1)-max(a.y0, b.y0) > slack {
					t.Errorf("%s: %q lies on %q", name, m.words, n.words)
				}
			}
		}
	}
	for _, d := range pictured(t) {
		check(d.name, d.page)
	}
	// The library's first forty, and all of it, which a wheel must cut short.
	for _, n := range []int{16, 40, 70} {
		var tubes []*inventory.Tube
		for _, p := range inventory.Library()[:n] {
			tubes = append(tubes, p.Tube())
		}
		p, err := recipe.NewPalette(tubes, optics.Excluded)
		if err != nil {
			t.Fatal(err)
		}
		w := &plan.Workspace{Box: &inventory.Box{Name: "all", Tubes: tubes}, Palette: p}
		page, err := wheelPage(w.Wheel())
		if err != nil {
			t.Fatal(err)
		}
		check(fmt.Sprint("wheel of ", n), page)
		c, err := w.Chart("", 0)
		if err != nil {
			t.Fatal(err)
		}
		if page, err = chartPage(c); err != nil {
			t.Fatal(err)
		}
		check(fmt.Sprint("pairs of ", n), page)
		l, err := w.Lesson("", 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range []Sheet{{}, {Chart: true, Letter: true}} {
			if page, err = lessonPage(l, s); err != nil {
				t.Fatal(err)
			}
			check(fmt.Sprint("lesson of ", n, s.Name()), page)
		}
		var words strings.Builder
		for _, m := range page.marks {
			words.WriteString(m.words + "\n")
		}
		if n == 70 && !strings.Contains(words.String(), fmt.Sprint(plan.MaxLessonPairs, " of ")) {
			t.Error("a chart of the library does not say that it shows a part of it")
		}
	}
}

// The same picture gives the same bytes; a PNG says its size in dots to the
// inch (PNG, third edition, W3C 2025, 11.3.4.3: pHYs) and is as large as that
// makes it.
func TestPicturesAreDetermined(t *testing.T) {
	first, second := pictured(t), pictured(t)
	for i, d := range first {
		if !strings.HasSuffix(d.name, "all") && d.name != "slices" {
			continue
		}
		for _, q := range [][2]func(io.Writer) error{{d.png, second[i].png}, {d.svg, second[i].svg}} {
			var a, b bytes.Buffer
			if err := errors.Join(q[0](&a), q[1](&b)); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(a.Bytes(), b.Bytes()) {
				t.Errorf("%s: drawn twice, it differs", d.name)
			}
		}
		var b bytes.Buffer
		if err := d.png(&b); err != nil {
			t.Fatal(err)
		}
		at := bytes.Index(b.Bytes(), []byte("pHYs"))
		if at < 0 {
			t.Fatalf("%s says no size", d.name)
		}
		if got := float64(binary.BigEndian.Uint32(b.Bytes()[at+4:])) * 0.0254; math.Abs(got-float64(d.dpi)) > 0.05 {
			t.Errorf("%s says %.1f dots to the inch, want %d", d.name, got, d.dpi)
		}
		img, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := float64(img.Bounds().Dx()), d.page.w/72*float64(d.dpi); math.Abs(got-want) > 1 {
			t.Errorf("%s is %v wide, want %.0f", d.name, got, want)
		}
	}
}

// A browser shows the SVG as the PNG is: the mean difference of a channel,
// edges smoothed differently included, stays small.
func TestSVGLooksLikePNG(t *testing.T) {
	if _, err := os.Stat(chromium); err != nil {
		t.Skip("no browser at " + chromium + ", so the SVGs are not looked at")
	}
	for _, d := range pictured(t) {
		switch d.name {
		case "wheel-all", "lesson-all-wheel-filled":
		default:
			continue
		}
		dir := t.TempDir()
		var b bytes.Buffer
		if err := d.svg(&b); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "p.svg"), b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		// A CSS pixel is 1/96 inch.
		w, h := int(d.page.w/72*96), int(d.page.h/72*96)
		ctx, stop := context.WithTimeout(t.Context(), timeForBrowser)
		out, err := exec.CommandContext(ctx, chromium, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
			"--user-data-dir="+filepath.Join(dir, "profile"), "--screenshot="+filepath.Join(dir, "p.png"),
			fmt.Sprintf("--window-size=%d,%d", w, h), "file://"+filepath.Join(dir, "p.svg")).CombinedOutput()
		stop()
		if err != nil {
			t.Skipf("the browser gives no picture (%v): %.300s", err, out)
		}
		f, err := os.Open(filepath.Join(dir, "p.png"))
		if err != nil {
			t.Skipf("the browser gives no picture: %.300s", out)
		}
		shown, err := png.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		b.Reset()
		if err := d.page.png(&b, 96); err != nil {
			t.Fatal(err)
		}
		own, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		mean := differs(shown, own, w, h)
		t.Logf("%s: mean difference %.2f of 255", d.name, mean)
		if mean > 1.5 {
			t.Errorf("%s: SVG and PNG differ by %.2f of 255 on average", d.name, mean)
		}
	}
}

// differs is the mean absolute difference of 8-bit channels over w × h.
func differs(a, b image.Image, w, h int) float64 {
	sum := 0.0
	for y := range h {
		for x := range w {
			p, q := at(a, x, y), at(b, x, y)
			sum += math.Abs(float64(p.R)-float64(q.R)) + math.Abs(float64(p.G)-float64(q.G)) + math.Abs(float64(p.B)-float64(q.B))
		}
	}
	return sum / float64(3*w*h)
}

// The pictures are what they were when last looked at and found good, within
// what another processor's rounding may change. What differs is left beside as
// NAME.got.png; PAINTOUT_UPDATE=1 takes it over.
func TestPicturesAsLookedAt(t *testing.T) {
	for _, d := range pictured(t) {
		switch d.name {
		case "wheel-all", "wheel-one", "chart-pairs", "chart-string", "chart-ladders", "slices", "lesson-all-wheel", "lesson-all-wheel-filled":
		default:
			continue
		}
		var b bytes.Buffer
		if err := d.page.png(&b, 40); err != nil {
			t.Fatal(err)
		}
		got := bytes.Clone(b.Bytes())
		path := filepath.Join("testdata", d.name+".png")
		if os.Getenv("PAINTOUT_UPDATE") != "" {
			if err := os.WriteFile(path, got, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatalf("%v (PAINTOUT_UPDATE=1 makes it)", err)
		}
		p, err := png.Decode(bytes.NewReader(want))
		if err != nil {
			t.Fatalf("%s: %v", path, err)
		}
		q, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		worst := math.Inf(1)
		if p.Bounds() == q.Bounds() {
			worst = differs(p, q, p.Bounds().Dx(), p.Bounds().Dy())
		}
		if worst > 0.2 {
			to := filepath.Join("testdata", d.name+".got.png")
			if err := os.WriteFile(to, got, 0o644); err != nil {
				t.Fatal(err)
			}
			t.Errorf("%s differs by %.2f of 255 on average: compare with %s", path, worst, to)
		}
	}
}

// A dash pattern covers half of a long line, and its pieces run in order.
func TestDashes(t *testing.T) {
	path := [][2]float64{{0, 0}, {10, 0}, {10, 35}, {-20, 35}}
	long, drawn := 75.0, 0.0
	for _, p := range dashes(path, 2.5) {
		for i := 1; i < len(p); i++ {
			drawn += math.Hypot(p[i][0]-p[i-1][0], p[i][1]-p[i-1][1])
		}
	}
	if math.Abs(drawn-long/2) > 2.5 {
		t.Errorf("%.2f of a line of %.0f is drawn", drawn, long)
	}
}

// Words are measured as they are drawn: no ink of a line lies beyond its width
// by more than a letter's overhang.
func TestTextWidth(t *testing.T) {
	p := newPicture(200, 40, paper)
	end := p.words(20, 28, "Охра été 3 : 16", strong(16))
	var b bytes.Buffer
	if err := p.png(&b, 72); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	left, right := 200, 0
	for y := range 40 {
		for x := range 200 {
			if at(img, x, y).R < 128 {
				left, right = min(left, x), max(right, x)
			}
		}
	}
	if left < 19 || left > 23 || float64(right) > end+1 || float64(right) < end-3 {
		t.Errorf("words from 20 to %.1f have ink from %d to %d", end, left, right)
	}
	if got := drawable("e\u0301te\u0301 堰\u0000"); got != "été " {
		t.Errorf("drawable gives %q", got)
	}
	if got := nameOr("堰の緑", "PG7"); got != "PG7" {
		t.Errorf("nameOr gives %q", got)
	}
}

// On the largest chart long names stand whole, in two lines.
func TestChartKeepsLongNames(t *testing.T) {
	var tubes []*inventory.Tube
	for i, q := range inventory.Library()[:plan.MaxPairs] {
		tube := *q.Tube()
		tube.Name = fmt.Sprintf("benzimidazolone yellow no %d", i+1)
		tubes = append(tubes, &tube)
	}
	p, err := recipe.NewPalette(tubes, optics.Included)
	if err != nil {
		t.Fatal(err)
	}
	b := ownBox{&plan.Workspace{Box: &inventory.Box{Name: "yellows", Tubes: tubes}, From: "an invented box", Palette: p}}
	var out strings.Builder
	if err := ChartSVG(&out, b.chart(t, "")); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(out.String(), "…") {
		t.Error("a name is cut short")
	}
}

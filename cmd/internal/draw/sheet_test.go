package draw

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/disintegration/imaging"
	"pgregory.net/rapid"

	"paintout/analyze/lab"
	"paintout/cmd/internal/plan"
	"paintout/inventory"
)

// trueNames are names that boxes hold: accents, Cyrillic and Greek, marks the
// type lacks, other scripts, markup, very long ones and ones without a space.
var trueNames = []string{
	"titanium white", "Jaune d’été très clair", "Охра степная светлая", "Ώχρα του κάμπου", "Weiß № 2", "žluť říjnová",
	"堰の緑", "đỏ cánh sen ẽ", "қызыл", "🎨 class red", `<b>Slack Tide</b> & "Blue"`, "x̌", "\u00a0", "",
	"Quinacridone-burnt-orange-transparent-hue-number-four-two-and-a-half",
	strings.Repeat("Langername", 20),
	"a rather long name for a tube of paint, as some makers print them in three languages on one label",
}

// drawnPlan makes a plan for a sheet out of nothing but chance.
func drawnPlan(t *rapid.T) (*plan.Plan, *plan.Pictures) {
	n := rapid.IntRange(1, 24).Draw(t, "masses")
	w := rapid.IntRange(30, 160).Draw(t, "wide")
	h := rapid.IntRange(30, 160).Draw(t, "high")
	pics := &plan.Pictures{W: w, H: h, Photo: image.NewRGBA(image.Rect(0, 0, w, h)), Masses: make([]uint8, w*h), Values: map[int][]uint8{}}
	p := &plan.Plan{
		Title: rapid.SampledFrom(append([]string{"hillside", strings.Repeat("long name ", 20)}, trueNames...)).Draw(t, "title"),
		Photo: plan.Photo{Path: "a photo.jpg"}, Finish: "included",
		Box:        plan.Box{Name: rapid.SampledFrom(trueNames).Draw(t, "box")},
		Range:      plan.Range{Fitted: rapid.Bool().Draw(t, "fitted"), PaintBlack: lab.Lab{L: 22}, PaintWhite: lab.Lab{L: 97}},
		Crushed:    rapid.Float64Range(0, 0.2).Draw(t, "crushed"),
		ValueSteps: map[int][]plan.ValueStep{},
	}
	for range rapid.IntRange(1, 24).Draw(t, "tubes") {
		tube := plan.Tube{Name: rapid.SampledFrom(trueNames).Draw(t, "name"), CI: rapid.SampledFrom([]string{"PW6", "PBr7/burnt sienna", "PB15:4", ""}).Draw(t, "ci"), Hex: "#6a2f3c"}
		if rapid.Bool().Draw(t, "cautioned") {
			tube.Caution = rapid.SampledFrom([]string{"Cobalt compound: may make some people allergic; no dust, no spray.", "Natural earths hold silica and some manganese: no dust."}).Draw(t, "caution")
		}
		p.Box.Tubes = append(p.Box.Tubes, tube)
	}
	measured := rapid.Bool().Draw(t, "measured")
	if measured {
		few := false
		p.Quantities = &plan.Quantities{Canvas: "30×40 cm", Thick: 500, ML: 123}
		for i := range p.Box.Tubes {
			q := &plan.Squeeze{Tube: p.Box.Tubes[i].Name, ML: 1234, LeftML: new(float64), Enough: &few}
			p.Box.Tubes[i].Squeeze = q
			p.Squeeze = append(p.Squeeze, *q)
		}
	}
	for i := range n {
		aim := lab.Lab{L: rapid.Float64Range(0, 100).Draw(t, "L"), A: rapid.Float64Range(-40, 40).Draw(t, "a"), B: rapid.Float64Range(-40, 40).Draw(t, "b")}
		m := plan.Mass{
			ID: i + 1, Name: rapid.SampledFrom([]string{"olive", "dark blue-grey, lower left", "darker very dark yellowish olive green, upper middle"}).Draw(t, "colour"),
			Share: 1 / float64(n), Aim: aim, AimHex: aim.Hex(), AimValue: aim.Value(), Temperature: "warmer olive", Accent: rapid.IntRange(0, 5).Draw(t, "accent") == 0,
			Anchor: [2]float64{rapid.Float64Range(0, 1).Draw(t, "x"), rapid.Float64Range(0, 1).Draw(t, "y")},
		}
		if rapid.IntRange(0, 9).Draw(t, "mixed") > 0 {
			r := plan.Recipe{Grade: "shows side by side", DE00: rapid.Float64Range(0, 20).Draw(t, "off"), P90: 12.3, Miss: "too dull, hue off toward yellow-green", Hex: "#123456"}
			for range rapid.IntRange(1, 4).Draw(t, "parts") {
				k := rapid.IntRange(0, len(p.Box.Tubes)-1).Draw(t, "tube")
				p.Box.Tubes[k].UsedIn = append(p.Box.Tubes[k].UsedIn, m.ID)
				r.Parts = append(r.Parts, plan.Part{Tube: p.Box.Tubes[k].Name, CI: p.Box.Tubes[k].CI, Parts: float64(rapid.SampledFrom([]int{1, 3, 24, 256}).Draw(t, "part"))})
			}
			if rapid.Bool().Draw(t, "noted") {
				r.Notes = []string{"Pre-tint in two steps: 1 part into 12 of white, then that into the rest."}
			}
			if measured {
				m.ML = rapid.Float64Range(0.05, 2000).Draw(t, "ml")
				for k := range r.Parts {
					r.Parts[k].ML = m.ML / 3
				}
			}
			m.Recipes = []plan.Recipe{r}
			if r.DE00 > 4 {
				m.Why = "The nearest these tubes come is too dull: the colour asks for chroma 62 at this hue and value, and their mixes give up 21 of it. A single tube nearer this hue would keep more."
			}
		}
		p.Masses = append(p.Masses, m)
	}
	coarse := rapid.IntRange(2, 40).Draw(t, "coarse")
	seed := rapid.Uint32().Draw(t, "pattern")
	for i := range pics.Masses {
		x, y := uint32(i%w/coarse), uint32(i/w/coarse)
		pics.Masses[i] = uint8((x*2654435761 ^ y*40503 ^ seed) >> 7 % uint32(n))
	}
	if rapid.Bool().Draw(t, "valued") {
		v := make([]uint8, w*h)
		for i := range v {
			v[i] = pics.Masses[i] % 3
		}
		pics.Values[3] = v
		p.ValueSteps[3] = []plan.ValueStep{{Value: 8.8}, {Value: 5.1}, {Value: 2.2}}
	}
	return p, pics
}

// Whatever the plan: nothing leaves the page's margins, no words lie on words,
// on a swatch or in a test dab's box, every line stays in its cell, type and
// swatches keep their least size, and every pile is there once with its number,
// value, tubes and parts.
func TestSheetKeepsItsPlaces(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p, pics := drawnPlan(t)
		size := rapid.SampledFrom([]Paper{A4, Letter, either}).Draw(t, "paper")
		e, err := easelSheet(p, pics, size, pixelWidths{}, printDPI)
		if err != nil {
			t.Fatal(err)
		}
		checkSheet(t, e, p, size)
	})
}

type failer interface {
	Errorf(string, ...any)
	Fatalf(string, ...any)
}

func checkSheet(t failer, e *easel, p *plan.Plan, size Paper) {
	w, h := size.size()
	names := namesFor(p)
	piles := map[int]string{} // the words of each pile
	onMap := map[string]int{}
	const slack = 0.3
	for n, page := range e.pages {
		if page.w != w || page.h != h {
			t.Fatalf("page %d measures %.0f × %.0f", n+1, page.w, page.h)
		}
		inside := func(what string, a area) {
			const m = sheetMargin - slack
			if a.x0 < m || a.y0 < m || a.x1 > w-m || a.y1 > h-m {
				t.Errorf("page %d: %s at %.1f leaves the margins", n+1, what, a)
			}
		}
		var blocks []cell
		for _, c := range page.cells {
			inside(c.what, c.area)
			kind, _, _ := strings.Cut(c.what, " ")
			if kind == "swatch" || kind == "dab" {
				if c.y1-c.y0 < 15*72/25.4 || kind == "swatch" && c.x1-c.x0 < 15*72/25.4 || c.x1-c.x0 < 10*72/25.4 {
					t.Errorf("page %d: %s measures %.1f", n+1, c.what, c.area)
				}
				continue
			}
			for _, o := range blocks {
				if overlap(o.area, c.area, slack) {
					t.Errorf("page %d: %s lies on %s", n+1, c.what, o.what)
				}
			}
			blocks = append(blocks, c)
		}
		var words []*mark
		for i := range page.marks {
			m := &page.marks[i]
			if m.words == "" {
				continue
			}
			a := m.area()
			inside(strconv.Quote(m.words), a)
			if m.size < leastType {
				t.Errorf("page %d: %q is set in %.1f points", n+1, m.words, m.size)
			}
			for _, o := range words {
				if overlap(a, o.area(), slack) {
					t.Errorf("page %d: %q lies on %q", n+1, m.words, o.words)
				}
			}
			words = append(words, m)
			for _, c := range page.cells {
				if !overlap(a, c.area, slack) {
					continue
				}
				kind, id, _ := strings.Cut(c.what, " ")
				switch kind {
				case "map":
					onMap[m.words]++
				case "pile":
					k, _ := strconv.Atoi(id)
					piles[k] += " " + m.words
				case "swatch", "dab", "photo", "values":
					t.Errorf("page %d: %q lies on %s", n+1, m.words, c.what)
				}
				if a.x0 < c.x0-slack || a.x1 > c.x1+slack || a.y0 < c.y0-2 || a.y1 > c.y1+2 {
					t.Errorf("page %d: %q at %.1f runs out of %s at %.1f", n+1, m.words, a, c.what, c.area)
				}
			}
		}
	}
	lost := 0
	for i := range p.Masses {
		m := &p.Masses[i]
		says, ok := piles[m.ID]
		if !ok || !strings.HasPrefix(strings.TrimSpace(says), fmt.Sprint(m.ID)) && !strings.Contains(says, fmt.Sprint(" ", m.ID, " ")) {
			t.Fatalf("pile %d is not on the sheet: %q", m.ID, says)
		}
		if !strings.Contains(says, one(m.AimValue)) {
			t.Errorf("pile %d does not say its value, %.1f: %q", m.ID, m.AimValue, says)
		}
		if r := m.First(); r != nil {
			for _, q := range r.Parts {
				if !strings.Contains(squeeze(says), squeeze(names.of(q.Tube))) || len(r.Parts) > 1 && !strings.Contains(says, " "+amount(q.Parts)) {
					t.Errorf("pile %d does not say %g %s: %q", m.ID, q.Parts, names.of(q.Tube), says)
				}
			}
			if !strings.Contains(squeeze(says), squeeze(r.Grade+one(r.DE00))) {
				t.Errorf("pile %d does not say how far off it is: %q", m.ID, says)
			}
		}
		switch onMap[fmt.Sprint(m.ID)] {
		case 1:
		case 0:
			lost++
		default:
			t.Errorf("number %d stands on the map %d times", m.ID, onMap[fmt.Sprint(m.ID)])
		}
	}
	var said []string
	for _, page := range e.pages {
		var b strings.Builder
		for i := range page.marks {
			b.WriteString(page.marks[i].words)
		}
		said = append(said, squeeze(b.String()))
	}
	_, pics := fixture(60, 40, 0) // the words do not go by it, but for the value plan
	for _, note := range easelWords(p, pics).notes {
		var b strings.Builder
		for _, r := range note {
			b.WriteString(r.words)
		}
		if says := squeeze(b.String()); !slices.ContainsFunc(said, func(s string) bool { return strings.Contains(s, says) }) {
			t.Errorf("the sheet does not say, whole on one page: %q", b.String())
		}
	}
	if lost > 0 && !slices.ContainsFunc(e.warnings, func(s string) bool { return strings.Contains(s, "no room") }) {
		t.Errorf("%d numbers are not on the map, and no warning says so: %q", lost, e.warnings)
	}
}

// squeeze takes the spaces out, which lines do not keep.
func squeeze(s string) string { return strings.Join(strings.Fields(s), "") }

// A caution for more names than a page holds goes on over as many as it takes,
// none of it lost.
func TestSheetOfOneEndlessNote(t *testing.T) {
	p, pics := fixture(60, 40, 0)
	for i := range 90 {
		p.Box.Tubes = append(p.Box.Tubes, plan.Tube{Name: fmt.Sprint(i, strings.Repeat(" never-ending", 12)), Caution: "No dust.", UsedIn: []int{1}})
	}
	e, err := easelSheet(p, pics, Letter, pixelWidths{}, printDPI)
	if err != nil {
		t.Fatal(err)
	}
	said := ""
	for _, page := range e.pages[1:] {
		for i := range page.marks {
			if m := &page.marks[i]; m.words != "" {
				if a := m.area(); a.y1 > page.h-sheetMargin+0.3 || a.x1 > page.w-sheetMargin+0.3 {
					t.Errorf("%q leaves the margins", m.words)
				}
				said += m.words
			}
		}
	}
	for i := range 90 {
		if !strings.Contains(squeeze(said), fmt.Sprint(i, "never-ending")) {
			t.Errorf("tube %d is lost", i)
		}
	}
	if !strings.Contains(squeeze(said), squeeze(inventory.CautionScope)) {
		t.Error("the line that defers to the label is lost")
	}
}

func overlap(a, b area, slack float64) bool {
	return min(a.x1, b.x1)-max(a.x0, b.x0) > slack && min(a.y1, b.y1)-max(a.y0, b.y0) > slack
}

// A landscape in the usual number of masses goes on one page, and every number
// is on its map.
func TestSheetIsOnePage(t *testing.T) {
	for _, size := range []Paper{A4, Letter, either} {
		p, pics := fixture(600, 400, 4)
		e, err := easelSheet(p, pics, size, pixelWidths{}, printDPI)
		if err != nil {
			t.Fatal(err)
		}
		if len(e.pages) != 1 || len(e.warnings) > 0 {
			t.Errorf("the sheet of %d masses has %d pages and warns %q", len(p.Masses), len(e.pages), e.warnings)
		}
		checkSheet(t, e, p, size)
		// Most numbers stand on their own mass; accents are pointed at.
		spots, _ := spotNumbers(p.Masses, pics, area{100, 100, 300, 233})
		own := 0
		for _, s := range spots {
			x, y := int((s.x-100)/200*600), int((s.y-100)/133*400)
			if int(pics.Masses[y*600+x]) == s.mass {
				own++
			}
			if p.Masses[s.mass].Accent != s.lead && p.Masses[s.mass].Accent {
				t.Errorf("the accent %d is not pointed at", s.mass+1)
			}
		}
		if own < 10 {
			t.Errorf("only %d of %d numbers stand on their mass", own, len(spots))
		}
	}
}

// All 24 masses and a box of long names: still nothing is lost.
func TestSheetOf24(t *testing.T) {
	for _, size := range []Paper{A4, Letter} {
		p, pics := fixture24()
		e, err := easelSheet(p, pics, size, pixelWidths{}, printDPI)
		if err != nil {
			t.Fatal(err)
		}
		if len(e.pages) != 2 {
			t.Errorf("24 masses take %d pages", len(e.pages))
		}
		checkSheet(t, e, p, size)
	}
}

func fixture24() (*plan.Plan, *plan.Pictures) {
	places := slices.Clone(tarnHollow)
	for i := len(places); i < 24; i++ {
		places = append(places, fixtureMass{name: fmt.Sprint("reeds and water ", i+1), lab: lab.Lab{L: float64(20 + 3*i), A: float64(i%7 - 3), B: float64(i%5*4 - 8)}})
	}
	p, pics := fixtureOf(places, 600, 400, 4)
	for i := range p.Masses {
		for k := range p.Masses[i].Recipes {
			for j := range p.Masses[i].Recipes[k].Parts {
				q := &p.Masses[i].Recipes[k].Parts[j]
				if q.Tube == "Weir Green" {
					q.Tube = "Зелёная плотины, very long in the maker’s own words"
				}
			}
		}
	}
	for i := range p.Box.Tubes {
		if t := &p.Box.Tubes[i]; t.Name == "Weir Green" {
			t.Name = "Зелёная плотины, very long in the maker’s own words"
		}
	}
	return p, pics
}

// What the type has no letters for is put otherwise, and said.
func TestSpelled(t *testing.T) {
	for _, c := range []struct {
		from, to string
		changed  bool
	}{
		{"Jaune d’été", "Jaune d’été", false},
		{"Cafe\u0301", "Café", false}, // composed
		{"Охра степная, ґ", "Охра степная, ґ", false},
		{"Ώχρα", "Ώχρα", false},
		{"đỏ ẽ", "đo e", true}, // no glyph for the marked letters, but for their bases
		{"堰の緑", "U+5830 U+306E U+7DD1", true},
		{"a堰b", "a U+5830 b", true},
		{"🎨 red\t1", "U+1F3A8 red 1", true},
		{"x\u030c\u200d\ufe0f", "x", true},
		{"a\ufffdb", "a?b", true},
	} {
		got, changed := spelled(c.from)
		if got != c.to || changed != c.changed {
			t.Errorf("%q becomes %q (%v), want %q (%v)", c.from, got, changed, c.to, c.changed)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "s")
		got, _ := spelled(s)
		if drawable(got) != got {
			t.Fatalf("%q becomes %q, of which the type has no letters for some", s, got)
		}
	})
}

// Names that are spelt alike stay apart, and what stands for a name is told.
func TestNamesStayApart(t *testing.T) {
	p := &plan.Plan{Box: plan.Box{Tubes: []plan.Tube{{Name: "堰の緑", CI: "PG7"}, {Name: "緑", CI: "PG7"}, {Name: "Ferry Red", CI: "PR254"}}}}
	n := namesFor(p)
	if a, b := n.of("堰の緑"), n.of("緑"); a != "PG7" || b != "U+7DD1" || n.of("Ferry Red") != "Ferry Red" {
		t.Errorf("got %q, %q", a, b)
	}
	if notes := n.about(func(string) bool { return true }); len(notes) != 2 || !strings.Contains(notes[0], "PG7 stands for") {
		t.Errorf("notes %q", notes)
	}
	if notes := n.about(func(name string) bool { return name == "U+7DD1" }); len(notes) != 1 || !strings.Contains(notes[0], "U+7DD1") {
		t.Errorf("of a name that does not stand on the sheet there is word: %q", notes)
	}
	if got := n.in("堰の緑 is strong: add it a touch at a time."); got != "PG7 is strong: add it a touch at a time." {
		t.Errorf("got %q", got)
	}
}

// Lines hold all the letters they were given, none is wider than asked, and what
// is tied stays together where a line can hold it.
func TestBroken(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var runs []run
		var want strings.Builder
		for range rapid.IntRange(1, 5).Draw(t, "runs") {
			r := run{rapid.StringMatching(`[a-zäЖ ]{0,60}`).Draw(t, "words"), rapid.Bool().Draw(t, "bold")}
			want.WriteString(r.words)
			if rapid.Bool().Draw(t, "tied") {
				r.words += tie
			}
			runs = append(runs, r)
		}
		w := rapid.Float64Range(12, 200).Draw(t, "wide")
		var got strings.Builder
		for _, line := range broken(runs, w, 9) {
			p := newPicture(1, 1, paper)
			if end := p.setRuns(0, 0, line, 9); end > w+1e-9 {
				t.Fatalf("%v is %.1f wide, not %.1f", line, end, w)
			}
			for _, r := range line {
				got.WriteString(r.words)
			}
		}
		strip := func(s string) string { return strings.Join(strings.Fields(s), "") }
		if strip(got.String()) != strip(want.String()) {
			t.Fatalf("%q became %q", want.String(), got.String())
		}
	})
	lines := broken([]run{{"3", true}, {"chalk wall white,", false}, {"12" + tie, true}, {"gorse", false}}, textWidth("3 chalk wall white, 12", false, 9)+3, 9)
	if len(lines) != 2 || lines[1][0].words != "12" || lines[1][1].words != "gorse" {
		t.Errorf("the amount is parted from its tube: %v", lines)
	}
}

// Labels keep their order, do not overlap, stay between the ends and move no
// further than they must.
func TestSpread(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		wants := rapid.SliceOfN(rapid.Float64Range(0, 500), 1, 25).Draw(t, "wants")
		slices.Sort(wants)
		widths := make([]float64, len(wants))
		for i := range widths {
			widths[i] = rapid.Float64Range(8, 20).Draw(t, "wide")
		}
		got := spread(wants, widths, 0, 500)
		free := true
		for i := range got {
			lo, hi := got[i]-widths[i]/2, got[i]+widths[i]/2
			if lo < -1e-6 || hi > 500+1e-6 || i > 0 && lo < got[i-1]+widths[i-1]/2-1e-6 {
				t.Fatalf("label %d of %v lies at %v", i, wants, got)
			}
			lo, hi = wants[i]-widths[i]/2, wants[i]+widths[i]/2
			free = free && lo >= 0 && hi <= 500 && (i == 0 || lo >= wants[i-1]+widths[i-1]/2)
		}
		for i := range got {
			if free && math.Abs(got[i]-wants[i]) > 1e-6 {
				t.Fatalf("label %d moved from %v to %v without need", i, wants[i], got[i])
			}
		}
	})
}

// tool finds a program of Debian's poppler-utils.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skip("no " + name + " here (Debian: poppler-utils), so the PDF is not read back")
	}
	return path
}

func runTool(t *testing.T, name string, args ...string) string {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), timeForBrowser)
	defer stop()
	out, err := exec.CommandContext(ctx, tool(t, name), args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return string(out)
}

// sheets are the PDFs that are read back: usual and full, on both papers.
func sheets(t *testing.T) map[string]*Booklet {
	t.Helper()
	out, err := sheetsOnce()
	if err != nil {
		t.Fatal(err)
	}
	return out
}

var sheetsOnce = sync.OnceValues(makeSheets)

func makeSheets() (map[string]*Booklet, error) {
	out := map[string]*Booklet{}
	var err error
	add := func(name string, p *plan.Plan, pics *plan.Pictures, size Paper) {
		b := &Booklet{Title: p.Title}
		err = errors.Join(err, b.AddSheet(p, pics, size))
		out[name] = b
	}
	p, pics := fixture(600, 400, 4)
	add("a4", p, pics, A4)
	add("letter", p, pics, Letter)
	p, pics = fixture24()
	p.Title = "Étude près de l’étang, утро"
	add("24-a4", p, pics, A4)
	p, pics = fixture(300, 420, 4)
	p.Masses = p.Masses[:6]
	for i := range pics.Masses {
		pics.Masses[i] %= 6
	}
	add("6-letter", p, pics, Letter)
	// Several of one size: their rasters must keep their order.
	b := &Booklet{Title: "a class"}
	p, pics = fixture(90, 60, 4)
	for range 4 {
		err = errors.Join(err, b.AddSheet(p, pics, A4))
	}
	out["class"] = b
	return out, err
}

func pdfOf(t *testing.T, b *Booklet) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := b.PDF(&buf); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// A class set of a box whose names the type cannot spell holds them otherwise, and
// says so.
func TestLessonsInABooklet(t *testing.T) {
	l := invented(t).lesson(t)
	b := &Booklet{Title: "a class"}
	for _, s := range []Sheet{{}, {Chart: true}, {Chart: true, Filled: true, Letter: true}} {
		if err := b.AddLesson(l, s); err != nil {
			t.Fatal(err)
		}
	}
	if b.Pages() != 3 || len(b.Warnings) != 1 || !strings.Contains(b.Warnings[0], "PG7 stands for the tube whose name is U+5830 U+306E U+7DD1") {
		t.Errorf("%d pages, warnings %q", b.Pages(), b.Warnings)
	}
	path := filepath.Join(t.TempDir(), "s.pdf")
	if err := os.WriteFile(path, pdfOf(t, b), 0o644); err != nil {
		t.Fatal(err)
	}
	said := runTool(t, "pdftotext", "-layout", path, "-")
	for _, tube := range l.Tubes {
		if name := nameOr(tube.Name, tube.CI); !strings.Contains(said, name) {
			t.Errorf("%q is not found", name)
		}
	}
}

// A sheet from its plan to its bytes.
func BenchmarkSheet(b *testing.B) {
	p, pics := fixture(1400, 933, 4)
	for b.Loop() {
		var sheet Booklet
		if err := sheet.AddSheet(p, pics, A4); err != nil {
			b.Fatal(err)
		}
		if err := sheet.PDF(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}

func TestPDFIsDetermined(t *testing.T) {
	second, err := makeSheets()
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range sheets(t) {
		if a, b := pdfOf(t, b), pdfOf(t, second[name]); !bytes.Equal(a, b) {
			t.Errorf("%s: the same plan gives other bytes (%d and %d)", name, len(a), len(b))
		} else if len(a) > 400_000 {
			t.Errorf("%s: a sheet takes %d bytes", name, len(a))
		}
	}
}

// Poppler finds every number, tube and sentence as text, once, and the type
// embedded as a subset with its letters named (ISO 32000-1, 9.6 to 9.10).
func TestPDFCanBeRead(t *testing.T) {
	for name, b := range sheets(t) {
		path := filepath.Join(t.TempDir(), "s.pdf")
		if err := os.WriteFile(path, pdfOf(t, b), 0o644); err != nil {
			t.Fatal(err)
		}
		said := runTool(t, "pdftotext", "-layout", path, "-")
		have := map[string]int{}
		for _, f := range strings.Fields(said) {
			have[f]++
		}
		want := map[string]int{}
		for _, page := range b.pages {
			for _, m := range page.marks {
				for _, f := range strings.Fields(m.words) {
					want[f]++
				}
			}
		}
		for f, n := range want {
			// Words set close together may be joined: figures on the ladder never are.
			if have[f] < n && strings.Count(said, f) < n {
				t.Errorf("%s: %q is set %d times and found %d times", name, f, n, have[f])
			}
		}
		fonts := strings.Split(strings.TrimSpace(runTool(t, "pdffonts", path)), "\n")
		if len(fonts) != 4 { // two lines of heading, two faces
			t.Errorf("%s: fonts\n%s", name, strings.Join(fonts, "\n"))
		}
		for _, line := range fonts[2:] {
			f := strings.Fields(line)
			if k := len(f); k < 6 || f[k-5] != "yes" || f[k-3] != "yes" { // emb, uni
				t.Errorf("%s: a font is not embedded with its letters named: %s", name, line)
			}
		}
	}
}

// pagesOf renders a PDF by poppler.
func pagesOf(t *testing.T, pdf []byte, dpi int, grey bool) []image.Image {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "s.pdf"), pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	args := []string{"-r", fmt.Sprint(dpi), "-png"}
	if grey {
		args = append(args, "-gray")
	}
	runTool(t, "pdftoppm", append(args, filepath.Join(dir, "s.pdf"), filepath.Join(dir, "p"))...)
	files, err := filepath.Glob(filepath.Join(dir, "p*.png"))
	if err != nil {
		t.Fatal(err)
	}
	var out []image.Image
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, img)
	}
	return out
}

// Rendered by poppler, a page shows what this package's own painter paints of
// the same marks: a pixel a millimetre, on average and in every centimetre.
// Every swatch is exactly its colour.
func TestPDFShowsItsMarks(t *testing.T) {
	t.Parallel()
	const dpi = 144
	for name, b := range sheets(t) {
		if name == "class" {
			continue
		}
		pages := pagesOf(t, pdfOf(t, b), dpi, false)
		if len(pages) != b.Pages() {
			t.Fatalf("%s: %d pages of %d", name, len(pages), b.Pages())
		}
		for i, img := range pages {
			var buf bytes.Buffer
			if err := b.pages[i].png(&buf, dpi); err != nil {
				t.Fatal(err)
			}
			own, err := png.Decode(&buf)
			if err != nil {
				t.Fatal(err)
			}
			const w, h = 210, 297
			p, q := imaging.Resize(img, w, h, imaging.Box), imaging.Resize(own, w, h, imaging.Box)
			mean, worst := differs(p, q, w, h), 0.0
			for y := 0; y+10 <= h; y += 5 {
				for x := 0; x+10 <= w; x += 5 {
					at := image.Rect(x, y, x+10, y+10)
					worst = max(worst, differs(imaging.Crop(p, at), imaging.Crop(q, at), 10, 10))
				}
			}
			t.Logf("%s, page %d: mean difference %.2f of 255, at most %.1f in a centimetre", name, i+1, mean, worst)
			if mean > 3.5 || worst > 16 {
				t.Errorf("%s, page %d: poppler's page differs from the marks by %.2f of 255, %.1f in a centimetre", name, i+1, mean, worst)
			}
		}
	}
	p, pics := fixture(600, 400, 4)
	e, err := easelSheet(p, pics, A4, pixelWidths{}, printDPI)
	if err != nil {
		t.Fatal(err)
	}
	img := pagesOf(t, pdfOf(t, sheets(t)["a4"]), 72, false)[0]
	for _, c := range e.pages[0].cells {
		kind, id, _ := strings.Cut(c.what, " ")
		if kind != "swatch" && kind != "dab" {
			continue
		}
		k, _ := strconv.Atoi(id)
		want := paper
		if kind == "swatch" {
			want = rgb(p.Masses[k-1].AimHex)
		}
		if got := at(img, int((c.x0+c.x1)/2), int((c.y0+c.y1)/2)); got != want {
			t.Errorf("%s shows %v, want %v", c.what, got, want)
		}
	}
}

// Printed in grey, the ladder's rungs and the value plan's steps still tell the
// values they stand for: the grey that poppler makes of each is within a tenth
// of a value of it.
func TestSheetInGrey(t *testing.T) {
	p, pics := fixture(600, 400, 4)
	e, err := easelSheet(p, pics, A4, pixelWidths{}, printDPI)
	if err != nil {
		t.Fatal(err)
	}
	img := pagesOf(t, pdfOf(t, sheets(t)["a4"]), 72, true)[0]
	for _, c := range e.pages[0].cells {
		if c.what != "ladder" {
			continue
		}
		rung := (c.x1 - c.x0) / 11
		for v := range 11 {
			got := labOf(color.RGBAModel.Convert(img.At(int(c.x0+rung*float64(v)+6), int(c.y0+13+rungHigh/2))).(color.RGBA)).Value()
			if math.Abs(got-float64(v)) > 0.1 {
				t.Errorf("rung %d of the ladder prints as value %.2f", v, got)
			}
		}
		return
	}
	t.Error("the sheet has no ladder")
}

// The pages are what they were when last looked at and found good, as poppler
// renders them. What differs is left beside as NAME.got.png; PAINTOUT_UPDATE=1
// takes it over.
func TestSheetsAsLookedAt(t *testing.T) {
	for name, b := range sheets(t) {
		if name == "class" {
			continue
		}
		for i, img := range pagesOf(t, pdfOf(t, b), 45, false) {
			path := filepath.Join("testdata", fmt.Sprintf("sheet-%s-%d.png", name, i+1))
			var got bytes.Buffer
			if err := writePNG(&got, img); err != nil {
				t.Fatal(err)
			}
			if os.Getenv("PAINTOUT_UPDATE") != "" {
				if err := os.WriteFile(path, got.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
				continue
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatalf("%v (PAINTOUT_UPDATE=1 makes it)", err)
			}
			q, err := png.Decode(bytes.NewReader(want))
			if err != nil {
				t.Fatalf("%s: %v", path, err)
			}
			mean := math.Inf(1)
			if q.Bounds() == img.Bounds() {
				mean = differs(img, q, q.Bounds().Dx(), q.Bounds().Dy())
			}
			if mean > 1 { // another version of poppler smooths edges otherwise
				to := strings.TrimSuffix(path, ".png") + ".got.png"
				if err := os.WriteFile(to, got.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
				t.Errorf("%s differs by %.2f of 255 on average: compare with %s", path, mean, to)
			}
		}
	}
}

// tryPrint prints the page: the sheet for the easel and nothing else, at its own
// size on either paper, its words still words.
func tryPrint(t *testing.T, b *browser) {
	tool(t, "pdftotext")
	p, pics := fixture(600, 400, 2)
	b.openPage(t, p, pics, 1000, 800)
	for _, paper := range []struct{ w, h float64 }{{8.5, 11}, {210 / 25.4, 297 / 25.4}} { // inches
		pdf := tell(t, b, chromedp.PrintToPDF(func(o *page.PrintToPDFParams) {
			yes := true
			o.PaperWidth, o.PaperHeight, o.PrintBackground, o.PreferCSSPageSize = paper.w, paper.h, &yes, &yes
		}))
		pages := pagesOf(t, pdf, 72, false)
		if len(pages) != 1 {
			t.Fatalf("on %.1f inches the page prints on %d sheets", paper.h, len(pages))
		}
		path := filepath.Join(t.TempDir(), "p.pdf")
		if err := os.WriteFile(path, pdf, 0o644); err != nil {
			t.Fatal(err)
		}
		said := runTool(t, "pdftotext", "-layout", path, "-")
		if strings.Contains(said, "Squint") || !strings.Contains(said, "How to read it.") {
			t.Errorf("the sheet is not what is printed:\n%s", said)
		}
		fields := strings.Fields(said)
		for i := range p.Masses {
			m := &p.Masses[i]
			if !slices.Contains(fields, fmt.Sprint(m.ID)) || !slices.Contains(fields, one(m.AimValue)) {
				t.Errorf("pile %d or its value is not printed", m.ID)
			}
		}
		// A rung of the ladder is as wide as it was laid out: nothing was scaled.
		black := 0
		for x := range pages[0].Bounds().Dx() {
			if at(pages[0], x, int(letterLong-sheetMargin-ladderDrop-1-ladderRow-rungHigh/2)) == (color.RGBA{0, 0, 0, 255}) {
				black++
			}
		}
		if want := (a4Short - 2*sheetMargin) / 11; math.Abs(float64(black)-want) > 12 { // its figure stands in it
			t.Errorf("the black rung is %d points wide, want about %.0f", black, want)
		}
	}
}

// Cautions stand on the sheet in their own words, with the line that defers to
// label, data sheet and rules, whether or not a tube has one.
func TestEaselCautions(t *testing.T) {
	p, pics := fixture(300, 200, 0)
	say := func() string {
		var s strings.Builder
		for _, n := range easelWords(p, pics).notes {
			for _, r := range n {
				s.WriteString(r.words + " ")
			}
		}
		return s.String()
	}
	if s := say(); !strings.Contains(s, "Weir Green: holds copper; don't sand or burn it") || !strings.Contains(s, inventory.CautionScope) {
		t.Errorf("cautions are missing: %s", s)
	}
	for i := range p.Box.Tubes {
		p.Box.Tubes[i].Caution = ""
	}
	p.Cautions = nil
	if s := say(); !strings.Contains(s, inventory.CautionScope) {
		t.Errorf("the standing line is missing: %s", s)
	}
}

package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"math/rand"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"paintout/analyze/lab"
	"paintout/cmd/internal/plan"
	"paintout/inventory"
)

func pageOf(t *testing.T, p *plan.Plan, pics *plan.Pictures) string {
	t.Helper()
	var b bytes.Buffer
	if err := HTML(&b, p, pics); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// elements reads a page's tags in order, and fails where they do not nest. The
// insides of script and style are left out: they are not marked up.
func elements(t *testing.T, page string) (tags []xml.StartElement, words string) {
	t.Helper()
	page = strings.TrimPrefix(page, "<!doctype html>")
	page = regexp.MustCompile(`(?s)<(script|style)>.*?</(script|style)>`).ReplaceAllString(page, "<$1></$1>")
	d := xml.NewDecoder(strings.NewReader(page))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var text strings.Builder
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return tags, strings.Join(strings.Fields(text.String()), " ")
		}
		if err != nil {
			t.Fatal(err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			tags = append(tags, tok.Copy())
		case xml.CharData:
			text.Write(tok)
		}
	}
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func TestPageStructure(t *testing.T) {
	p, pics := fixture(300, 200, 3)
	page := pageOf(t, p, pics)
	tags, words := elements(t, page)

	ids := map[string]bool{}
	lights, ticks := map[string]bool{}, map[string]bool{}
	for _, e := range tags {
		if id := attr(e, "id"); id != "" {
			if ids[id] {
				t.Errorf("the id %q stands twice", id)
			}
			ids[id] = true
		}
		if v := attr(e, "data-lights"); v != "" {
			lights[v] = true
		}
		if v := attr(e, "data-tick"); v != "" {
			ticks[v] = true
		}
		for _, a := range e.Attr {
			if n := a.Name.Local; n == "style" || strings.HasPrefix(n, "on") {
				t.Errorf("<%s> has %s=, which the page's policy forbids", e.Name.Local, n)
			}
			if n := a.Name.Local; (n == "src" || n == "href") && !strings.HasPrefix(a.Value, "data:image/") && !strings.HasPrefix(a.Value, "#") {
				t.Errorf("<%s %s> leads out of the page: %.60s", e.Name.Local, n, a.Value)
			}
		}
	}
	for _, e := range tags {
		for _, name := range []string{"aria-controls", "aria-labelledby"} {
			if v := attr(e, name); v != "" && !ids[v] {
				t.Errorf("%s names %q, which is not there", name, v)
			}
		}
		if v := attr(e, "href"); strings.HasPrefix(v, "#") && !ids[v[1:]] {
			t.Errorf("a link leads to %q, which is not there", v)
		}
	}
	for i, m := range p.Masses {
		if !lights[fmt.Sprint(i)] || !ticks[fmt.Sprint(m.ID)] || !ids[fmt.Sprint("pile-", m.ID)] {
			t.Errorf("pile %d lacks its pat, its tick or its mix", m.ID)
		}
		for _, want := range []string{m.Name, "value " + one(m.Value), "value " + one(m.AimValue), m.Notation, m.Temperature, percent(m.Share)} {
			if !strings.Contains(words, want) {
				t.Errorf("pile %d: %q is not on the page", m.ID, want)
			}
		}
		for _, r := range m.Recipes {
			for _, q := range r.Parts {
				unit := "parts"
				if q.Parts == 1 {
					unit = "part"
				}
				if want := fmt.Sprintf("%s %s %s %s", amount(q.Parts), unit, q.Tube, q.CI); !strings.Contains(words, want) {
					t.Errorf("pile %d: %q is not on the page", m.ID, want)
				}
			}
			for _, want := range append([]string{r.Grade, "off by " + one(r.DE00), one(r.Expected) + " to be expected", "nine times in ten within " + one(r.P90)}, r.Order...) {
				if !strings.Contains(words, want) {
					t.Errorf("pile %d, %s: %q is not on the page", m.ID, r.Choice, want)
				}
			}
		}
	}
	for _, tube := range p.Box.Tubes {
		if !strings.Contains(words, tube.Name) {
			t.Errorf("the tube %s is not on the page", tube.Name)
		}
	}
	for _, want := range slices.Concat([]string{p.Range.Note, inventory.CautionScope}, inventory.GeneralCare, p.Warnings, p.Cautions) {
		if !strings.Contains(words, want) {
			t.Errorf("%q is not on the page", want)
		}
	}
	for _, n := range []int{2, 3, 5} {
		for _, s := range p.ValueSteps[n] {
			if want := one(s.Value) + " " + percent(s.Share); !strings.Contains(words, want) {
				t.Errorf("%d values: %q is not on the page", n, want)
			}
		}
	}
}

// The policy must let in the page's own script and style, and nothing else.
func TestPagePolicy(t *testing.T) {
	p, pics := fixture(120, 80, 3)
	page := pageOf(t, p, pics)
	policy := regexp.MustCompile(`Content-Security-Policy" content="([^"]*)"`).FindStringSubmatch(page)
	if policy == nil {
		t.Fatal("the page has no policy")
	}
	says := strings.NewReplacer("&#39;", "'", "&#43;", "+").Replace(policy[1])
	for _, tag := range []string{"script", "style"} {
		in := regexp.MustCompile(`(?s)<`+tag+`>(.*?)</`+tag+`>`).FindAllStringSubmatch(page, -1)
		if len(in) != 1 {
			t.Fatalf("the page has %d %s elements, want 1", len(in), tag)
		}
		if want := tag + "-src '" + sourceHash(in[0][1]) + "'"; !strings.Contains(says, want) {
			t.Errorf("the policy %s does not hold %s", says, want)
		}
	}
	if !strings.HasPrefix(says, "default-src 'none'; img-src data:;") || strings.Contains(says, "unsafe") {
		t.Errorf("the policy is too wide: %s", says)
	}
}

func TestPageEscapes(t *testing.T) {
	const nasty = `</textarea></style><script>alert(1)</script><img src=x onerror=alert(2)> "'&{{.P}}`
	p, pics := fixture(120, 80, 3)
	p.Title, p.Photo.Path, p.Photo.Profile, p.Photo.Notes = nasty, nasty, nasty, []string{nasty}
	p.Box.Name, p.Box.From, p.Finish, p.Range.Note = nasty, nasty, nasty, nasty
	p.Warnings, p.Cautions = []string{nasty}, []string{nasty}
	for i := range p.Box.Tubes {
		t := &p.Box.Tubes[i]
		t.Name, t.CI, t.Lean, t.Opacity, t.Source, t.Caution, t.Hex = nasty, nasty, nasty, nasty, nasty, nasty, nasty
	}
	for i := range p.Masses {
		m := &p.Masses[i]
		m.Name, m.Notation, m.Temperature, m.Why, m.Hex, m.AimHex = nasty, nasty, nasty, nasty, nasty, `red;}body{display:none`
		for k := range m.Recipes {
			r := &m.Recipes[k]
			r.Choice, r.Grade, r.Miss, r.Hex, r.Order, r.Notes = nasty, nasty, nasty, nasty, []string{nasty}, []string{nasty}
			for q := range r.Parts {
				r.Parts[q].Tube, r.Parts[q].CI, r.Parts[q].Hex = nasty, nasty, nasty
			}
		}
	}
	clean, cleanPics := fixture(120, 80, 3)
	var over, cleanOver bytes.Buffer
	if err := Overview(&over, []Item{{p, pics, `javascript:alert(3)`}}); err != nil {
		t.Fatal(err)
	}
	if err := Overview(&cleanOver, []Item{{clean, cleanPics, "a/plan.html"}}); err != nil {
		t.Fatal(err)
	}
	for name, pages := range map[string][2]string{
		"plan":     {pageOf(t, p, pics), pageOf(t, clean, cleanPics)},
		"overview": {over.String(), cleanOver.String()},
	} {
		count := func(page string) map[string]int {
			n := map[string]int{}
			tags, _ := elements(t, page)
			for _, e := range tags {
				n[e.Name.Local]++
				for _, a := range e.Attr {
					if strings.HasPrefix(a.Name.Local, "on") || strings.HasPrefix(a.Value, "javascript:") {
						t.Errorf("%s: <%s %s=%q>", name, e.Name.Local, a.Name.Local, a.Value)
					}
				}
			}
			return n
		}
		got, want := count(pages[0]), count(pages[1])
		for _, tag := range []string{"script", "style", "img", "textarea"} {
			if got[tag] != want[tag] {
				t.Errorf("%s: hostile names make %d <%s>, want %d", name, got[tag], tag, want[tag])
			}
		}
		if strings.Contains(pages[0], "body{display:none") {
			t.Errorf("%s: a hostile colour reached the style sheet", name)
		}
	}
}

// A phone must open it: under 5 MB with a noisy photo and 24 ragged masses, and
// also where nothing is left of the picture but noise.
func TestPageSize(t *testing.T) {
	places := append([]fixtureMass{}, tarnHollow...)
	for i := len(places); i < 24; i++ {
		places = append(places, fixtureMass{name: fmt.Sprint("mass ", i+1), lab: lab.Lab{L: float64(20 + 3*i), A: float64(i%7 - 3), B: float64(i%5*4 - 8)}})
	}
	p, pics := fixtureOf(places, 1600, 1067, 25)
	measure := func(what string) {
		page := pageOf(t, p, pics)
		t.Logf("%s: %.2f MB", what, float64(len(page))/1e6)
		if len(page) >= 5_000_000 {
			t.Errorf("%s: the page is %d bytes, want under 5 MB", what, len(page))
		}
	}
	measure("a noisy photo")
	rnd := rand.New(rand.NewSource(1))
	for i := range pics.Masses {
		pics.Masses[i] = uint8(rnd.Intn(24))
		for n, v := range pics.Values {
			v[i] = uint8(rnd.Intn(n))
		}
		for k := range 3 {
			pics.Photo.Pix[4*i+k] = uint8(rnd.Intn(256))
		}
	}
	measure("nothing but noise")
}

func TestSameBytes(t *testing.T) {
	p, pics := fixture(240, 160, 3)
	for name, f := range writers(p, pics) {
		var a, b bytes.Buffer
		if err := errors.Join(f(&a), f(&b)); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a.Bytes(), b.Bytes()) {
			t.Errorf("%s differs from one time to the next", name)
		}
	}
}

// writers is everything the package draws of one plan.
func writers(p *plan.Plan, pics *plan.Pictures) map[string]func(io.Writer) error {
	items := []Item{{p, pics, "one/plan.html"}, {p, pics, "two/plan.html"}, {p, pics, "three/plan.html"}}
	out := map[string]func(io.Writer) error{
		"plan.html":     func(w io.Writer) error { return HTML(w, p, pics) },
		"masses.png":    func(w io.Writer) error { return MassesPNG(w, p, pics) },
		"mixed.png":     func(w io.Writer) error { return MixedPNG(w, p, pics) },
		"strip.png":     func(w io.Writer) error { return StripPNG(w, p) },
		"piles.png":     func(w io.Writer) error { return PilesPNG(w, p) },
		"overview.html": func(w io.Writer) error { return Overview(w, items) },
		"overview.png":  func(w io.Writer) error { return OverviewPNG(w, items) },
	}
	for _, n := range []int{2, 3, 5} {
		out[fmt.Sprintf("values-%d.png", n)] = func(w io.Writer) error { return ValuesPNG(w, p, pics, n) }
	}
	return out
}

// With PAINTOUT_SHOTS naming a folder, everything is left there to be looked at.
func TestLook(t *testing.T) {
	dir := os.Getenv("PAINTOUT_SHOTS")
	if dir == "" {
		t.Skip("set PAINTOUT_SHOTS to a folder to have everything drawn there")
	}
	p, pics := fixture(1500, 1000, 6)
	for name, f := range writers(p, pics) {
		var b bytes.Buffer
		if err := f(&b); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// What reaches a browser as grey levels must come back as the same masses and
// values, also when it blurs what a page reads by a few levels.
func TestMapsComeBack(t *testing.T) {
	p, pics := fixture(300, 200, 3)
	e, err := embed(p, pics)
	if err != nil {
		t.Fatal(err)
	}
	level := func(b []byte) func(i int) int {
		img, err := png.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		return func(i int) int {
			r, _, _, _ := img.At(i%e.w, i/e.w).RGBA()
			return int(r >> 8)
		}
	}
	mass, value := level(e.masses), level(e.values)
	for i := range pics.Masses {
		for _, blur := range []int{-3, 0, 3} {
			if got := (mass(i) + blur + massSpread/2) / massSpread; got != int(pics.Masses[i]) {
				t.Fatalf("place %d: mass %d comes back as %d", i, pics.Masses[i], got)
			}
			mixed := (value(i) + blur + valueSpread/2) / valueSpread
			for _, n := range []int{2, 3, 5} {
				if got := mixed % n; got != int(pics.Values[n][i]) {
					t.Fatalf("place %d in %d values: %d comes back as %d", i, n, pics.Values[n][i], got)
				}
				mixed /= n
			}
		}
	}
}

// A sample keeps every index map's own values and its corners.
func TestSample(t *testing.T) {
	src := []uint8{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16}
	if got := fmt.Sprint(sample(src, 4, 4, 2, 2)); got != "[6 8 14 16]" {
		t.Errorf("4 × 4 to 2 × 2 takes %s", got)
	}
	if got := fmt.Sprint(sample(src, 4, 4, 4, 4)); got != fmt.Sprint(src) {
		t.Errorf("the same size takes %s", got)
	}
}

func TestRefuses(t *testing.T) {
	for name, spoil := range map[string]func(*plan.Plan, *plan.Pictures){
		"no masses":       func(p *plan.Plan, _ *plan.Pictures) { p.Masses = nil },
		"too many masses": func(p *plan.Plan, _ *plan.Pictures) { p.Masses = make([]plan.Mass, maxMasses+1) },
		"no photo":        func(_ *plan.Plan, q *plan.Pictures) { q.Photo = nil },
		"photo of other size": func(_ *plan.Plan, q *plan.Pictures) {
			q.Photo = image.NewRGBA(image.Rect(0, 0, 5, 5))
		},
		"short masses":   func(_ *plan.Plan, q *plan.Pictures) { q.Masses = q.Masses[1:] },
		"unknown mass":   func(_ *plan.Plan, q *plan.Pictures) { q.Masses[7] = 200 },
		"short values":   func(_ *plan.Plan, q *plan.Pictures) { q.Values[3] = q.Values[3][1:] },
		"unknown values": func(_ *plan.Plan, q *plan.Pictures) { q.Values[3][0] = 3 },
	} {
		p, pics := fixture(40, 30, 0)
		spoil(p, pics)
		for what, f := range map[string]func(io.Writer) error{
			"the page": func(w io.Writer) error { return HTML(w, p, pics) },
			"masses":   func(w io.Writer) error { return MassesPNG(w, p, pics) },
			"overview": func(w io.Writer) error { return Overview(w, []Item{{p, pics, "x.html"}}) },
		} {
			var b bytes.Buffer
			if err := f(&b); err == nil || b.Len() > 0 {
				t.Errorf("%s: %s gives error %v and %d bytes", name, what, err, b.Len())
			}
		}
	}
	p, pics := fixture(40, 30, 0)
	if err := ValuesPNG(io.Discard, p, pics, 4); err == nil || !strings.Contains(err.Error(), "[2 3 5]") {
		t.Errorf("four values: %v", err)
	}
	if err := Overview(io.Discard, nil); err == nil {
		t.Error("an overview of nothing is drawn")
	}
}

// A plan without mixes still gives its pages and pictures.
func TestWithoutMixes(t *testing.T) {
	p, pics := fixture(60, 40, 0)
	for i := range p.Masses {
		p.Masses[i].Recipes = nil
	}
	for i := range p.Box.Tubes {
		p.Box.Tubes[i].UsedIn = nil
	}
	for name, f := range writers(p, pics) {
		if err := f(io.Discard); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

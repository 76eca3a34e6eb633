package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"math/rand"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"paintout/analyze/lab"
	"paintout/cmd/internal/plan"
	"paintout/inventory"
)

func pageOf(t *testing.T, p *plan.Plan, pics *plan.Pictures) string {
	t.Helper()
	var b bytes.Buffer
	if err := pageWith(&b, p, pics, nil); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func refs(masses ...int) (out []plan.KitMassRef) {
	for _, m := range masses {
		out = append(out, plan.KitMassRef{Mass: m})
	}
	return out
}

// withKit gives the fixture's plan the few tubes one would carry of its box.
func withKit(p *plan.Plan) {
	name := func(i int) string { return p.Box.Tubes[i].Name }
	names := func(is ...int) []string {
		var out []string
		for _, i := range is {
			out = append(out, name(i))
		}
		return out
	}
	for k := range p.Masses[12].Recipes {
		r := &p.Masses[12].Recipes[k]
		r.DE00, r.Grade = 4.6+float64(k), "adjust by eye"
	}
	p.Kit = &plan.KitPlan{
		Tubes: names(0, 1, 2, 3, 5, 6), Proven: true, Tolerance: 3, Worst: 4.6, Mean: 1.3,
		Blocked: []plan.KitBlocked{{Photo: p.Photo.Path, Mass: 13, Name: "scarlet", DE00: 4.6, Add: "pyrrole orange (PO73)", AddDE00: 1.2}, {Photo: "fen-lode.jpg", Mass: 4, Name: "pale lilac", DE00: 3.4}},
		Curve: []plan.KitStep{
			{Count: 1, Tubes: names(0), Worst: 58.2, Mean: 31.9, In: names(0)},
			{Count: 2, Tubes: names(0, 7), Worst: 44.1, Mean: 14.2, In: names(7)},
			{Count: 3, Tubes: names(0, 2, 5), Worst: 27.3, Mean: 6.1, In: names(2, 5), Out: names(7)},
			{Count: 4, Tubes: names(0, 2, 3, 5), Worst: 12.8, Mean: 3.2, In: names(3)},
			{Count: 5, Tubes: names(0, 1, 3, 5, 7), Worst: 6.4, Mean: 1.9, In: names(1, 7), Out: names(2)},
			{Count: 6, Tubes: names(0, 1, 2, 3, 5, 6), Worst: 4.6, Mean: 1.3, In: names(2, 6), Out: names(7)},
			{Count: 7, Tubes: names(0, 1, 2, 3, 5, 6, 8), Worst: 4.6, Mean: 0.9, In: names(8)},
			{Count: 8, Tubes: names(0, 1, 2, 3, 4, 5, 6, 8), Worst: 4.6, Mean: 0.8, In: names(4)},
			{Count: 9, Tubes: names(0, 1, 2, 3, 4, 5, 6, 7, 8), Worst: 4.6, Mean: 0.7, In: names(7)},
		},
		Uses: []plan.KitUse{
			{Tube: name(0), Masses: refs(1, 2, 3, 4, 5, 6, 8, 10, 11, 14), Says: "White for every pile lighter than value 5"},
			{Tube: name(1), Masses: refs(14), Says: "The only yellow bright enough for the gorse"},
			{Tube: name(2), Masses: refs(1, 6, 7, 8, 10), Says: "The straw and every warm grey"},
			{Tube: name(3), Masses: refs(10, 12, 13), Says: "The accent; a touch warms the browns"},
			{Tube: name(5), Masses: refs(2, 3, 4, 5, 11, 12), Says: "Sky, distance, and the darks with the green"},
			{Tube: name(6), Masses: refs(5, 7, 9), Says: "The tree; it drops the red to near black"},
		},
		Unused: names(7, 8), Cost: "Against the whole box the mean rises from 0.7 to 1.3, and no mass shows side by side that did not before.",
	}
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
	withKit(p)
	p.Masses[4].Recipes[0].Why, p.Masses[4].Recipes[1].Why = "The green is half undone.", "It stays clean."
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
			for v := range strings.FieldsSeq(attr(e, name)) {
				if !ids[v] {
					t.Errorf("%s names %q, which is not there", name, v)
				}
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
	for _, want := range slices.Concat([]string{p.Range.Note, inventory.CautionScope}, inventory.GeneralCare, p.Warnings, p.Cautions,
		[]string{"The green is half undone.", "It stays clean.", "value to mix, 0 black to 10 white"}) {
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

func TestKitOnPage(t *testing.T) {
	p, pics := fixture(60, 40, 0)
	withKit(p)
	p.Kit.Tubes = append(p.Kit.Tubes, "Buoy Orange")
	p.Kit.Uses = append(p.Kit.Uses, plan.KitUse{Tube: "Buoy Orange", Masses: refs(13, 99), Says: "From the library, for the hull"})
	p.Kit.Proven = false
	tags, words := elements(t, pageOf(t, p, pics))
	want := []string{
		"Seven tubes, white included, bring every mass but the two named below within 3 ΔE00 of its colour to mix; the worst is off by 4.6, the mean by area is 1.3. A smaller set may yet be found",
		p.Kit.Cost, "Buoy Orange not in the box From the library, for the hull. For pile 13",
		"13 vermilion: its best mix is off by 4.6, adjust by eye. Pyrrole orange (PO73) would help most: within 1.2.",
		"pale lilac, mass 4 of fen-lode.jpg: its best mix is off by 3.4, shows side by side. No one tube of the library would help.",
		"Leave at home Kiln Brown Smithy Black nothing here needs it Heath Magenta nothing here needs it",
	}
	for i, s := range p.Kit.Curve {
		row := []string{fmt.Sprint(s.Count), one(s.Worst), one(s.Mean)}
		if i > 0 {
			row = append(row, "In: "+strings.Join(s.In, ", ")+".")
		}
		if len(s.Out) > 0 {
			row = append(row, "Out: "+strings.Join(s.Out, ", ")+".")
		}
		want = append(want, strings.Join(append(row, strings.Join(s.Tubes, ", ")+"."), " "))
	}
	// The kit is none of the curve's sets, and has a row of its own.
	want = append(want, fmt.Sprintf("%d the kit %s %s %s.", len(p.Kit.Tubes), one(p.Kit.Worst), one(p.Kit.Mean), strings.Join(p.Kit.Tubes, ", ")))
	for _, u := range p.Kit.Uses {
		want = append(want, u.Says+".")
	}
	squeezed := strings.ReplaceAll(words, " ", "")
	for _, w := range want {
		if !strings.Contains(squeezed, strings.ReplaceAll(w, " ", "")) {
			t.Errorf("%q is not on the page", w)
		}
	}
	for _, e := range tags {
		if attr(e, "href") == "#pile-99" {
			t.Error("a link leads to a pile that is not there")
		}
	}
}

// In the chart a greater miss stands higher, each word has one height, and the
// cuts are those of Paravina et al. (2015) and of the words.
func TestKitChart(t *testing.T) {
	at := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	misses := []float64{40, 9, 4.0001, 4, 1.8, 1.1, 0.8, 0.3, 0}
	var k plan.KitPlan
	for i, m := range misses {
		k.Curve = append(k.Curve, plan.KitStep{Count: i + 1, Worst: m, Mean: m / 3})
	}
	c := chartOfKit(&k)
	var edges []float64
	for i, b := range c.Bands {
		if want := []string{"can't tell apart", "close", "shows side by side", "adjust by eye"}[i]; b.Word != want {
			t.Errorf("band %d says %q, want %q", i, b.Word, want)
		}
		edges = append(edges, at(b.Y))
	}
	for i, q := range c.Points {
		if i > 0 && (at(q.Worst) < at(c.Points[i-1].Worst) || at(q.X) <= at(c.Points[i-1].X)) {
			t.Errorf("%d tubes, off by %g, stand at %s, %s after %s, %s", q.Count, misses[i], q.X, q.Worst, c.Points[i-1].X, c.Points[i-1].Worst)
		}
		if at(q.Mean) < at(q.Worst) {
			t.Errorf("%d tubes: the mean stands above the worst", q.Count)
		}
	}
	for i, want := range map[int]float64{0: edges[3], 3: edges[2], 4: edges[1], 6: edges[0], 8: kitBottom} {
		if got := at(c.Points[i].Worst); math.Abs(got-want) > 0.011 {
			t.Errorf("a miss of %g stands at %g, want %g", misses[i], got, want)
		}
	}
	k.Curve = []plan.KitStep{{Count: 3, Worst: math.Inf(1), Mean: 2}, {Count: 4, Worst: 1.5, Mean: 1}, {Count: 5, Worst: 1.2, Mean: math.NaN()}}
	if c := chartOfKit(&k); c != nil {
		t.Errorf("one point makes a chart of %d", len(c.Points))
	}
	k.Curve = append(k.Curve, plan.KitStep{Count: 6})
	if c := chartOfKit(&k); len(c.Points) != 2 || len(c.Bands) != 2 {
		t.Errorf("two points up to 1.5 make %d points in %d bands", len(c.Points), len(c.Bands))
	}
}

// What is said of the masses is not said of the picture.
func TestReachWords(t *testing.T) {
	p, _ := fixture(60, 40, 0)
	if got := reachWords(p); !strings.HasPrefix(got, "Every mass has a mix within 3 ΔE00 of its colour to mix, on paper. ") {
		t.Errorf("with all mixes near it says %q", got)
	}
	withKit(p)
	p.Within3 = 0.9999
	if got := reachWords(p); !strings.HasPrefix(got, "Masses that cover over 99 % of the picture have a mix within 3 ΔE00 of their colour to mix, on paper; 13 vermilion is off by 4.6. ") {
		t.Errorf("with a far accent it says %q", got)
	}
	p.Masses[0].Recipes, p.Within3 = nil, 0.912
	if got := reachWords(p); !strings.HasPrefix(got, "Masses that cover 91 % of the picture have a mix within 3 ΔE00 of their colour to mix, on paper; 1 pale warm white has no mix, 13 vermilion is off by 4.6. ") {
		t.Errorf("without a mix for the sky it says %q", got)
	}
	for i := range p.Masses {
		p.Masses[i].Recipes = nil
	}
	if got := reachWords(p); got != "" {
		t.Errorf("without mixes it says %q", got)
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
	withKit(p)
	k := p.Kit
	k.Cost, k.Unused, k.Uses[0].Says, k.Blocked[0].Add, k.Blocked[1].Photo = nasty, []string{nasty}, nasty, nasty, nasty
	k.Curve[1].Tubes, k.Curve[1].In, k.Curve[1].Out = []string{nasty}, []string{nasty}, []string{nasty}
	k.Tubes[1], k.Uses[1].Tube = nasty, nasty
	for i := range p.Box.Tubes {
		t := &p.Box.Tubes[i]
		t.Name, t.CI, t.Lean, t.Opacity, t.Source, t.Caution, t.Hex = nasty, nasty, nasty, nasty, nasty, nasty, nasty
	}
	for i := range p.Masses {
		m := &p.Masses[i]
		m.Name, m.Notation, m.Temperature, m.Why, m.Hex, m.AimHex = nasty, nasty, nasty, nasty, nasty, `red;}body{display:none`
		for k := range m.Recipes {
			r := &m.Recipes[k]
			r.Choice, r.Grade, r.Miss, r.Hex, r.Why, r.Order, r.Notes = nasty, nasty, nasty, nasty, nasty, []string{nasty}, []string{nasty}
			for q := range r.Parts {
				r.Parts[q].Tube, r.Parts[q].CI, r.Parts[q].Hex = nasty, nasty, nasty
			}
		}
	}
	clean, cleanPics := fixture(120, 80, 3)
	withKit(clean)
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

// A phone must open it: under 5 MB with 24 masses and nothing left of the
// picture but noise, which no photo can outdo.
func TestPageSize(t *testing.T) {
	t.Parallel()
	places := append([]fixtureMass{}, tarnHollow...)
	for i := len(places); i < 24; i++ {
		places = append(places, fixtureMass{name: fmt.Sprint("mass ", i+1), lab: lab.Lab{L: float64(20 + 3*i), A: float64(i%7 - 3), B: float64(i%5*4 - 8)}})
	}
	p, pics := fixtureOf(places, 1600, 1067, 0)
	rnd := rand.New(rand.NewSource(1))
	for i := range pics.Masses {
		pics.Masses[i] = uint8(rnd.Intn(24))
		for n, v := range pics.Values {
			v[i] = uint8(rnd.Intn(n))
		}
		rnd.Read(pics.Photo.Pix[4*i : 4*i+3])
	}
	page := pageOf(t, p, pics)
	t.Logf("%.2f MB", float64(len(page))/1e6)
	if len(page) >= 5_000_000 {
		t.Errorf("the page is %d bytes, want under 5 MB", len(page))
	}
}

func TestSameBytes(t *testing.T) {
	t.Parallel()
	p, pics := fixture(240, 160, 3)
	withKit(p)
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
		"plan.html":     func(w io.Writer) error { return pageWith(w, p, pics, nil) },
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
			"the page": func(w io.Writer) error { return pageWith(w, p, pics, nil) },
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

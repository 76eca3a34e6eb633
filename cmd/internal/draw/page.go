package draw

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"html/template"
	"io"
	"math"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"strings"

	"paintout/cmd/internal/plan"
	"paintout/inventory"
)

var (
	//go:embed assets/page.html
	pageHTML string
	//go:embed assets/page.css
	pageCSS string
	//go:embed assets/page.js
	pageJS string

	pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
		"percent": percent, "one": one, "amount": amount, "short": short, "lower": strings.ToLower,
		"words": words, "code": codeOf, "ml": plan.MLWords, "list": func(names []string) string { return strings.Join(names, ", ") },
	}).Parse(pageHTML))
)

type pageFacts struct {
	P         *plan.Plan
	Key       string // what a painter's notes on the photo are kept under
	Size      string // of the photo's file
	CSP       string
	CSS       template.CSS
	JS        template.JS
	Photo     template.URL
	MassMap   template.URL
	ValueMap  template.URL
	W, H      int
	Alt       string
	Rows      []pageRow
	Accents   []pageRow
	Piles     []pagePile
	Steps     []pageSteps
	Tubes     []pageTube
	Spare     []string
	Cautions  []string
	Scope     string
	Care      []string
	File      string
	Finish    string
	Reach     string
	Mind      []string
	NoMix     bool
	PileCount int
	Kit       *pageKit
	Wall      []pageHung
	Leaves    []template.HTML // the sheet for the easel, to print
}

type pageRow struct {
	Value string
	Grey  string // class
	Empty bool
	Again bool
	Spots []pageSpot
}

type pageSpot struct {
	At   string // class
	Wide string // of the outline, which is 100 high
	Path string
	Pile *pagePile
}

type pagePile struct {
	plan.Mass
	Index           int
	AimClass        string
	PhotoClass      string
	PathColour      string
	First           *pageMix
	Others          []pageMix
	MarkClass       string
	Beside          string // where the number stands, if not on its mass
	SharePercent    string
	AimHexLiteral   string
	PhotoHexLiteral string
	AimLab          string // L*, a*, b*
	Reach           string // of an accent: whether the kit has it
	Ladder          *pageLadder
}

// pageLadder is a pile's value string.
type pageLadder struct {
	Says  string
	Steps []pageRung
}

type pageRung struct {
	plan.StringPile
	AimClass, Class    string
	Value, DE00, Short string
}

type pageMix struct {
	plan.Recipe
	Class string
	Bars  []pageBar
	Value string
}

type pageBar struct {
	plan.Part
	Amount string
	Unit   string // "part" or "parts"
	Width  string // of 1000
	Ticks  []string
	Colour string
}

type pageSteps struct {
	Steps int
	Bands []pageBand
	Greys string // one grey level a step, for the canvas
}

type pageBand struct {
	Class string
	Wide  string // class, as wide as its share
	Value string
	Share string
}

type pageTube struct {
	plan.Tube
	ID     int
	Class  string
	Path   string
	Streak []stop // masstone to tint
	Says   string // what the kit has it for
	Piles  []int
	Facts  []fact
}

type pageHung struct {
	Title, Says string
	Picture     template.URL
	W, H        string
}

type stop struct{ At, Hex string }

type fact struct{ Name, Says string }

// wallPicture is a picture that the page carries to be looked at, not used.
type wallPicture struct {
	Title string
	pic   *picture
}

// pageWith writes the page that goes to the easel: one file that asks nothing
// of a network or a server, with the photo, its masses and its values inside,
// and pictures hung below what to carry. It returns an error for a plan whose
// pictures do not fit it, and for nothing else but w's own.
func pageWith(w io.Writer, p *plan.Plan, pics *plan.Pictures, wall []wallPicture) error {
	if err := check(p, pics); err != nil {
		return err
	}
	emb, err := embed(p, pics)
	if err != nil {
		return err
	}
	sheet := newSheet()
	f := pageFacts{
		P: p, Key: notesKey(p), Size: photoSize(p), W: emb.w, H: emb.h,
		Photo: dataURI("image/jpeg", emb.photo), MassMap: dataURI("image/png", emb.masses), ValueMap: dataURI("image/png", emb.values),
		JS: template.JS(pageJS), PileCount: len(p.Masses),
	}
	f.Alt = altText(p)

	piles := make([]pagePile, len(p.Masses))
	for i, m := range p.Masses {
		piles[i] = pileOf(i, m, sheet)
		f.NoMix = f.NoMix || piles[i].First == nil
	}
	for _, i := range lightFirst(p.Masses) {
		f.Piles = append(f.Piles, piles[i])
	}
	pal := arrange(p.Masses)
	f.Rows, f.Accents = pageRows(pal.Rows, piles, sheet), pageRows(pal.Accents, piles, sheet)

	for _, n := range stepsOf(pics) {
		s := pageSteps{Steps: n}
		var greys []string
		for _, v := range p.ValueSteps[n] {
			g := greyOfValue(v.Value)
			s.Bands = append(s.Bands, pageBand{Class: sheet.colour(hexOf(g)), Wide: sheet.rule(fmt.Sprintf("flex-grow:%d", 1+int(100*clamp01(v.Share)))), Value: one(v.Value), Share: strings.Replace(percent(v.Share), " %", "\u00a0%", 1)})
			greys = append(greys, strconv.Itoa(int(g.R)))
		}
		s.Greys = strings.Join(greys, " ")
		f.Steps = append(f.Steps, s)
	}

	for i, t := range p.Box.Tubes {
		if len(t.UsedIn) == 0 {
			f.Spare = append(f.Spare, t.Name)
			continue
		}
		f.Tubes = append(f.Tubes, tubeOf(i, t, sheet))
	}
	if f.Leaves, err = easelLeaves(p, pics); err != nil {
		return err
	}
	f.Kit = kitOf(p, piles, sheet)
	for _, a := range p.Accents {
		for i := range f.Piles {
			if f.Piles[i].ID == a.Mass {
				f.Piles[i].Reach = a.Says
			}
		}
	}
	for _, h := range wall {
		var b bytes.Buffer
		if err := h.pic.svg(&b); err != nil {
			return err
		}
		f.Wall = append(f.Wall, pageHung{h.Title, h.pic.desc, dataURI("image/svg+xml", b.Bytes()), amount(h.pic.w), amount(h.pic.h)})
	}
	f.Reach = reachWords(p)
	f.Mind = distinct(p.Warnings, p.Photo.Notes)
	f.Cautions, f.Scope, f.Care = otherCautions(p), inventory.CautionScope, inventory.GeneralCare
	f.File, f.Finish = filepath.Base(p.Photo.Path), finishWords(p.Finish)
	f.CSS = template.CSS(pageCSS + sheet.String())
	f.CSP = fmt.Sprintf("default-src 'none'; img-src data:; style-src '%s'; script-src '%s'; base-uri 'none'; form-action 'none'",
		sourceHash(string(f.CSS)), sourceHash(pageJS))

	var buf bytes.Buffer
	if err := pageTemplate.Execute(&buf, f); err != nil {
		return fmt.Errorf("draw: the page of %s: %w", p.Photo.Path, err)
	}
	_, err = w.Write(buf.Bytes())
	return err
}

func pileOf(i int, m plan.Mass, sheet *sheet) pagePile {
	pp := pagePile{
		Mass: m, Index: i,
		AimClass: sheet.colour(m.AimHex), PhotoClass: sheet.colour(m.Hex),
		PathColour: hexOf(rgb(m.AimHex)),
		MarkClass: sheet.rule(fmt.Sprintf("left:%s%%;top:%s%%",
			amount(100*min(0.97, max(0.03, clamp01(m.Anchor[0])))), amount(100*min(0.96, max(0.04, clamp01(m.Anchor[1])))))),
		SharePercent:  percent(m.Share),
		AimHexLiteral: hexOf(rgb(m.AimHex)), PhotoHexLiteral: hexOf(rgb(m.Hex)),
		AimLab: fmt.Sprintf("%.2f %.2f %.2f", m.Aim.L, m.Aim.A, m.Aim.B),
	}
	if m.Accent { // too small to carry its number
		pp.Beside = "above"
		if m.Anchor[1] < 0.15 {
			pp.Beside = "below"
		}
	}
	if m.String != nil {
		pp.Ladder = ladderOf(m.String, sheet)
	}
	for k := range m.Recipes {
		r := &m.Recipes[k]
		if mix := mixOf(*r, sheet); r == m.First() {
			pp.First = &mix
		} else {
			pp.Others = append(pp.Others, mix)
		}
	}
	return pp
}

func ladderOf(s *plan.MassString, sheet *sheet) *pageLadder {
	out := &pageLadder{Says: s.Says}
	for _, q := range s.Piles {
		out.Steps = append(out.Steps, pageRung{
			StringPile: q, AimClass: sheet.colour(q.AimHex), Class: sheet.colour(q.Mix.Hex), Value: one(q.Value), DE00: one(q.Mix.DE00),
			Short: short(plan.Recipe{Parts: q.Mix.Parts}),
		})
	}
	return out
}

func mixOf(r plan.Recipe, sheet *sheet) pageMix {
	m := pageMix{Recipe: r, Class: sheet.colour(r.Hex), Value: one(r.Lab.Value())}
	most := 0.0
	for _, p := range r.Parts {
		most = max(most, p.Parts)
	}
	for _, p := range r.Parts {
		width := 1000 * p.Parts / most
		b := pageBar{Part: p, Amount: amount(p.Parts), Unit: "parts", Width: amount(max(12, width)), Colour: hexOf(rgb(p.Hex))}
		if p.Parts == 1 {
			b.Unit = "part"
		}
		if most <= 32 {
			for n := 1.0; n < p.Parts; n++ {
				b.Ticks = append(b.Ticks, amount(1000*n/most))
			}
		}
		m.Bars = append(m.Bars, b)
	}
	return m
}

const streakAspect = 6

func tubeOf(i int, t plan.Tube, sheet *sheet) pageTube {
	pt := pageTube{Tube: t, ID: i, Class: sheet.colour(t.Hex), Path: svgPath(pat(100+i, streakAspect)), Piles: t.UsedIn}
	// Only the two ends were foretold; between them the streak is drawn in even
	// steps of Lab, to look at and not to measure.
	const steps = 12
	a, b := t.Lab, t.TintLab
	for k := range steps {
		x := float64(k) / (steps - 1)
		c := a
		c.L += x * (b.L - a.L)
		c.A += x * (b.A - a.A)
		c.B += x * (b.B - a.B)
		pt.Streak = append(pt.Streak, stop{amount(0.04 + 0.9*x), c.Hex()})
	}
	pt.Streak[0].Hex, pt.Streak[steps-1].Hex = hexOf(rgb(t.Hex)), hexOf(rgb(t.TintHex))
	for _, f := range []fact{
		{"Lean", t.Lean}, {"Opacity", t.Opacity}, {"Strength", t.Strength}, {"Lightfastness", t.Lightfast},
		{"Figures", strings.TrimSuffix(t.Provenance+", "+t.Source, ", ")},
	} {
		if f.Says != "" {
			pt.Facts = append(pt.Facts, f)
		}
	}
	return pt
}

func pageRows(rows []row, piles []pagePile, sheet *sheet) []pageRow {
	var out []pageRow
	for _, r := range rows {
		pr := pageRow{Value: strconv.Itoa(r.Value), Grey: sheet.colour(hexOf(greyOfValue(float64(r.Value)))), Empty: len(r.Spots) == 0, Again: r.Again}
		for _, s := range r.Spots {
			aspect := 0.48 * float64(s.Len) // as on a phone; wider screens stretch it a little
			pr.Spots = append(pr.Spots, pageSpot{
				Wide: amount(100 * aspect), Path: svgPath(pat(piles[s.Mass].ID, aspect)),
				At:   sheet.rule(fmt.Sprintf("grid-column:%d/span %d", s.Start+1, s.Len)),
				Pile: &piles[s.Mass],
			})
		}
		out = append(out, pr)
	}
	return out
}

// stepsOf lists the value plans there are, fewest steps first.
func stepsOf(pics *plan.Pictures) []int {
	var steps []int
	for n := range pics.Values {
		steps = append(steps, n)
	}
	sort.Ints(steps)
	return steps
}

// words spells small counts.
func words(n int) string {
	if n >= 0 && n < 13 {
		return [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}[n]
	}
	return strconv.Itoa(n)
}

func altText(p *plan.Plan) string {
	accents := 0
	for _, m := range p.Masses {
		if m.Accent {
			accents++
		}
	}
	s := fmt.Sprintf("The reference photo, %s, in %d masses", p.Title, len(p.Masses)-accents)
	switch accents {
	case 0:
	case 1:
		s += " and an accent"
	default:
		s += " and " + words(accents) + " accents"
	}
	return s + "; each is described among the piles below."
}

// near is the difference, in ΔE00, that the page and the command line count
// masses by: one that shows only side by side.
const near = 3

// reachWords says how much of the picture the mixes reach, of its masses alone:
// how far the picture lies from those is another figure. It is empty where no
// mix was asked for.
func reachWords(p *plan.Plan) string {
	var far []string
	mixed := false
	for _, i := range lightFirst(p.Masses) {
		m := p.Masses[i]
		best := math.Inf(1)
		for _, r := range m.Recipes {
			best = min(best, r.DE00)
		}
		mixed = mixed || len(m.Recipes) > 0
		switch {
		case len(m.Recipes) == 0:
			far = append(far, fmt.Sprintf("%d %s has no mix", m.ID, m.Name))
		case best > near:
			far = append(far, fmt.Sprintf("%d %s is off by %s", m.ID, m.Name, one(best)))
		}
	}
	if !mixed {
		return ""
	}
	s := fmt.Sprintf("Every mass has a mix within %d ΔE00 of its colour to mix, on paper.", near)
	if len(far) > 0 {
		share := percent(p.Within3)
		if p.Within3 > 0.99 {
			share = "over 99 %"
		}
		s = fmt.Sprintf("Masses that cover %s of the picture have a mix within %d ΔE00 of their colour to mix, on paper; %s.",
			share, near, strings.Join(far, ", "))
	}
	return s + " A knife that portions by eye, and tubes that differ in strength, add to that; so each mix says what to expect on the palette and what holds nine times in ten."
}

func finishWords(finish string) string {
	switch finish {
	case "included":
		return "its shine included, as on a matt film in diffuse light"
	case "excluded":
		return "its shine left out, as on gloss tilted out of glare"
	}
	return finish
}

// otherCautions are the plan's cautions that no tube on the page carries.
func otherCautions(p *plan.Plan) []string {
	var out []string
	for _, c := range p.Cautions {
		own := c == inventory.CautionScope
		for _, t := range p.Box.Tubes {
			own = own || len(t.UsedIn) > 0 && c == t.Name+": "+t.Caution
		}
		if !own {
			out = append(out, c)
		}
	}
	return out
}

// codeOf is a tube's colour index code, without the paint's name where the tube
// is called so.
func codeOf(ci, name string) string {
	if code, paint, ok := strings.Cut(ci, "/"); ok && strings.EqualFold(paint, name) {
		return code
	}
	return ci
}

// distinct joins lists of sentences, each once.
func distinct(lists ...[]string) []string {
	var out []string
	for _, l := range lists {
		for _, s := range l {
			if !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	return out
}

// notesKey is the photo's and nothing else's, so that notes are found again
// whatever the next plan of it is made with. Which of its piles each belongs to
// is told on the page, by colour.
func notesKey(p *plan.Plan) string {
	h := sha256.Sum256([]byte(filepath.Base(p.Photo.Path)))
	return hex.EncodeToString(h[:9])
}

// photoSize tells apart photos of one name, however they are cropped.
func photoSize(p *plan.Plan) string {
	return fmt.Sprintf("%d × %d", p.Photo.FileWidth, p.Photo.FileHeight)
}

func sourceHash(s string) string {
	sum := sha256.Sum256([]byte(s))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}

func dataURI(kind string, b []byte) template.URL {
	return template.URL("data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(b))
}

func svgPath(pts [][2]float64) string {
	var b strings.Builder
	for i, q := range pts {
		c := byte('L')
		if i == 0 {
			c = 'M'
		}
		fmt.Fprintf(&b, "%c%.1f %.1f", c, q[0], q[1])
	}
	return b.String() + "Z"
}

func clamp01(x float64) float64 {
	if math.IsNaN(x) {
		return 0.5
	}
	return min(1, max(0, x))
}

// sheet gathers the page's rules that depend on the plan. Every value in it is
// made here from numbers, so nothing a file said can reach the style sheet.
type sheet struct {
	names map[string]string
	rules strings.Builder
}

func newSheet() *sheet { return &sheet{names: map[string]string{}} }

// colour is the class of a swatch of that colour, with ink that reads on it.
func (s *sheet) colour(hex string) string {
	c := rgb(hex)
	return s.rule("background:" + hexOf(c) + ";color:" + hexOf(inkOn(c)))
}

func (s *sheet) rule(decl string) string {
	name, ok := s.names[decl]
	if !ok {
		name = "x" + strconv.Itoa(len(s.names))
		s.names[decl] = name
		fmt.Fprintf(&s.rules, ".%s{%s}\n", name, decl)
	}
	return name
}

func (s *sheet) String() string { return s.rules.String() }

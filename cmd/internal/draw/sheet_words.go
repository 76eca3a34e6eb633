package draw

import (
	"fmt"
	"slices"
	"strings"

	"paintout/cmd/internal/plan"
	"paintout/inventory"
)

// easelText is a plan in the words of its sheet, before any of it has a place.
type easelText struct {
	title, sub string
	values     string // of the value plan's steps
	piles      []easelPile
	carry      string // heading of the tubes
	tubes      []easelTube
	notes      [][]run
	letters    []string // about letters that the type lacks
	steps      int      // of the value plan; 0 where there is none
	plan       *plan.Plan
	pics       *plan.Pictures
}

// easelPile is what the sheet says of one mass.
type easelPile struct {
	id     int
	name   string
	aside  string // said after the name where it fits
	hex    string
	value  string
	volume string // of the whole pile
	parts  []easelPart
	off    []run
}

type easelPart struct{ amount, tube, volume string }

type easelTube struct{ hex, name, code, volume string }

// easelWords writes everything the sheet says, masses in the order to mix them.
func easelWords(p *plan.Plan, pics *plan.Pictures) *easelText {
	names := namesFor(p)
	t := &easelText{plan: p, pics: pics}
	title, changed := spelled(p.Title)
	if changed {
		t.letters = append(t.letters, "The photo's name has letters that this type lacks.")
	}
	if t.title = cut(title); t.title == "" {
		t.title = "Paint plan"
	}
	for _, n := range []int{3, 5, 2} {
		if _, ok := pics.Values[n]; ok {
			t.steps = n
			break
		}
	}
	if t.steps > 0 {
		var values []string
		for _, s := range p.ValueSteps[t.steps] {
			values = append(values, one(s.Value))
		}
		t.values = strings.Join(values, ", ")
	}

	strong := map[string][]int{} // what is said of mixing, and of which piles
	var said []string
	for _, i := range lightFirst(p.Masses) {
		m := &p.Masses[i]
		t.piles = append(t.piles, pileWords(m, names))
		if r := m.First(); r != nil {
			for _, n := range r.Notes {
				if strong[n] == nil {
					said = append(said, n)
				}
				strong[n] = append(strong[n], m.ID)
			}
		}
	}
	t.tubeWords(p, names)
	box, _ := spelled(p.Box.Name)
	if t.sub = cut(box); t.sub == "" {
		t.sub = fmt.Sprintf("%d piles", len(p.Masses))
	}

	note := func(head, says string) {
		if says != "" {
			t.notes = append(t.notes, []run{{head, true}, {says, false}})
		}
	}
	note("How to read it.", "Light to dark, accents last. Number on the map, value, swatch, a box for your dab; then parts by volume in the order to mix, and how far off to expect it, in words and ΔE00 (in brackets: nine times in ten within).")
	t.accentWords(p, names, note)
	if q := p.Quantities; q != nil {
		note("Paint:", fmt.Sprintf("%s, laid %.2g mm thick, take about %s with %.0f %% over. Painters differ twofold in this: squeeze out so much first.", q.Canvas, q.Thick/1000, plan.MLWords(q.ML), 100*q.Margin))
		for _, s := range p.Squeeze {
			if s.Enough != nil && !*s.Enough {
				note("Too little:", names.of(s.Tube)+", "+s.Words()+".")
			}
		}
	}
	for _, i := range lightFirst(p.Masses) {
		if m := p.Masses[i]; m.Why != "" && !m.Accent {
			note(fmt.Sprintf("Pile %d:", m.ID), names.in(m.Why))
		}
	}
	for _, n := range said {
		slices.Sort(strong[n])
		head := "Piles " + numbers(strong[n]) + ":"
		switch k := len(strong[n]); {
		case k == 1:
			head = fmt.Sprintf("Pile %d:", strong[n][0])
		case k > 4:
			head = "In many piles:"
		}
		note(head, names.in(n))
	}
	if p.Crushed >= 0.005 || p.Clipped >= 0.005 {
		var parts []string
		if p.Crushed >= 0.005 {
			parts = append(parts, percent(p.Crushed)+" of it crushed to black")
		}
		if p.Clipped >= 0.005 {
			parts = append(parts, percent(p.Clipped)+" burnt out to white")
		}
		note("The photo", "has "+strings.Join(parts, " and ")+": look at those places on the spot.")
	}
	note("Print and screen", "shift colours; in grey, go by the value figures, and always by the dab in your light. "+fitWords(p))
	t.cautionWords(p, names, note)
	t.letters = append(t.letters, names.about(t.says)...)
	note("Letters.", strings.Join(t.letters, " "))
	return t
}

// says reports whether a tube's name stands anywhere on the sheet.
func (t *easelText) says(name string) bool {
	return slices.ContainsFunc(t.tubes, func(q easelTube) bool { return q.name == name }) ||
		slices.ContainsFunc(t.piles, func(q easelPile) bool {
			return slices.ContainsFunc(q.parts, func(e easelPart) bool { return e.tube == name })
		}) ||
		slices.ContainsFunc(t.notes, func(n []run) bool {
			return slices.ContainsFunc(n, func(r run) bool { return strings.Contains(r.words, name) })
		})
}

func fitWords(p *plan.Plan) string {
	if !p.Range.Fitted {
		return "Swatches are the photo's own colours, in daylight (D65), dry."
	}
	return fmt.Sprintf("Swatches are the photo's colours fitted to the paint's range (L* %.0f to %.0f), in daylight (D65), dry.", p.Range.PaintBlack.L, p.Range.PaintWhite.L)
}

func pileWords(m *plan.Mass, names *naming) easelPile {
	name, _ := spelled(m.Name)
	q := easelPile{id: m.ID, name: cut(name), aside: m.Temperature, hex: m.AimHex, value: finiteOr(m.AimValue, one)}
	if m.Accent {
		q.name += ", accent"
	}
	if m.ML > 0 {
		q.volume = plan.MLWords(m.ML)
	}
	r := m.First()
	if r == nil || len(r.Parts) == 0 {
		q.off = []run{{"No mix was asked for or found.", false}}
		return q
	}
	for _, part := range r.Parts {
		e := easelPart{amount: amount(part.Parts), tube: names.of(part.Tube)}
		if part.ML > 0 && len(r.Parts) > 1 {
			e.volume = strings.Replace(plan.MLWords(part.ML), "under ", "< ", 1) // narrower
		}
		q.parts = append(q.parts, e)
	}
	if len(r.Parts) == 1 {
		q.parts[0].amount = "all"
	}
	grade := r.Grade
	if grade == "" {
		grade = "off by"
	}
	q.off = []run{{grade, false}, {one(r.DE00), true}}
	if finite(r.P90) && r.P90 > 0 {
		q.off = append(q.off, run{"(" + one(r.P90) + ")", false})
	}
	if r.Miss != "" && r.DE00 > acceptable {
		q.off = append(q.off, run{r.Miss, false})
	}
	return q
}

// acceptable is the difference up to which the direction of a miss is not worth
// saying: the 50:50 acceptability threshold, 1.8 ΔE00 (Paravina et al., J. Esthet.
// Restor. Dent. 27, 2015).
const acceptable = 1.8

// tubeWords lists the tubes to carry: the kit's and any other of a first mix.
func (t *easelText) tubeWords(p *plan.Plan, names *naming) {
	list := []string{}
	if p.Kit != nil {
		list = append(list, p.Kit.Tubes...)
	}
	for _, tube := range p.Box.Tubes {
		if len(tube.UsedIn) > 0 {
			list = append(list, tube.Name)
		}
	}
	for i, name := range list {
		if slices.Contains(list[:i], name) {
			continue
		}
		q := easelTube{name: names.of(name)}
		for _, tube := range p.Box.Tubes {
			if tube.Name == name {
				q.hex = tube.Hex
				if code, _ := spelled(codeOf(tube.CI, tube.Name)); code != q.name {
					q.code = cut(code)
				}
				if tube.Squeeze != nil {
					q.volume = plan.MLWords(tube.Squeeze.ML)
				}
			}
		}
		t.tubes = append(t.tubes, q)
	}
	t.carry = fmt.Sprintf("Carry %s tubes", words(len(t.tubes)))
	if len(t.tubes) == 1 {
		t.carry = "Carry one tube"
	}
	if p.Quantities != nil {
		t.carry += ", squeeze out"
	}
}

// accentWords says whether the accents, which carry the picture, are reached.
func (t *easelText) accentWords(p *plan.Plan, names *naming, note func(head, says string)) {
	said := map[int]bool{}
	for _, a := range p.Accents {
		said[a.Mass] = true
		note(fmt.Sprintf("Accent %d:", a.Mass), names.in(a.Says))
	}
	for _, i := range lightFirst(p.Masses) {
		if m := p.Masses[i]; m.Accent && !said[m.ID] && m.Why != "" {
			note(fmt.Sprintf("Accent %d:", m.ID), names.in(m.Why))
		}
	}
}

// cautionWords gives the cautions of the tubes that are used, those of one
// wording together, and always the line that defers to label, data sheet and
// rules.
func (t *easelText) cautionWords(p *plan.Plan, names *naming, note func(head, says string)) {
	var order []string
	of := map[string][]string{}
	for _, tube := range p.Box.Tubes {
		if tube.Caution == "" || len(tube.UsedIn) == 0 && (p.Kit == nil || !slices.Contains(p.Kit.Tubes, tube.Name)) {
			continue
		}
		if of[tube.Caution] == nil {
			order = append(order, tube.Caution)
		}
		of[tube.Caution] = append(of[tube.Caution], names.of(tube.Name))
	}
	for _, c := range order {
		says, _ := spelled(c)
		note("Caution, "+strings.Join(of[c], ", ")+":", says)
	}
	for _, c := range otherCautions(p) {
		if !slices.ContainsFunc(order, func(o string) bool { return strings.HasSuffix(c, ": "+o) }) {
			note("Caution.", names.in(c))
		}
	}
	note("Safety.", inventory.CautionScope)
}

// numbers lists numbers of piles in words, "3, 5 and 7".
func numbers(ids []int) string {
	var s []string
	for _, id := range ids {
		s = append(s, fmt.Sprint(id))
	}
	if n := len(s); n > 1 {
		return strings.Join(s[:n-1], ", ") + " and " + s[n-1]
	}
	return strings.Join(s, "")
}

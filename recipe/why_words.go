package recipe

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"paintout/analyze/lab"
	"paintout/inventory"
)

func (w *Why) tell(format string, a ...any) { w.words = append(w.words, fmt.Sprintf(format, a...)) }

func (w *Why) name(j int) string { return w.Palette.Tubes[w.Tubes[j].Tube].Name }

// names writes the tubes' names in a list.
func (w *Why) names(which []int) string {
	var s []string
	for _, j := range which {
		s = append(s, w.name(j))
	}
	return and(s)
}

// say puts the findings into sentences.
func (w *Why) say(pair *Complement) {
	var leans []string
	for j, t := range w.Tubes {
		leans = append(leans, fmt.Sprintf("%s is %s", w.name(j), article(t.Lean.Words)))
	}
	w.tell("%s.", Capital(strings.Join(leans, "; ")))
	greys := w.greys()
	switch {
	case pair != nil:
		w.sayOpposed(pair)
	case len(greys) > 0 && len(greys) < len(w.Tubes):
		w.sayGrey(greys)
	case w.Verdict == Grey:
		w.tell("The mix is a grey: between them the tubes swallow light of every colour, down to value %.1f without white.", w.bare().Value())
	case w.neighbours():
		w.tell("They are neighbours: what one reflects the other reflects too, so the mix %s.", w.keeps())
	default:
		w.sayColour()
	}
	w.sayMend()
}

// greys lists the tubes that have no hue of their own.
func (w *Why) greys() (out []int) {
	for j, t := range w.Tubes {
		if f := t.Lean.Family; f == "black" || f == "grey" {
			out = append(out, j)
		}
	}
	return out
}

// bare is the mix without white.
func (w *Why) bare() lab.Lab {
	_, c := w.Palette.Mix(w.Parts)
	return c
}

func (w *Why) neighbours() bool {
	for _, a := range w.Tubes {
		for _, b := range w.Tubes {
			if hueApart(a.Lean.TintHue, b.Lean.TintHue) > neighbours {
				return false
			}
		}
	}
	return w.Verdict == Clean
}

// keeps says how much chroma is kept.
func (w *Why) keeps() string {
	if w.Kept > 0.995 {
		return fmt.Sprintf("is the most vivid the box has at its hue (%s)", shownAs(w.Shown.Lab))
	}
	return fmt.Sprintf("keeps %.0f %% of the chroma the box has at its hue (%s)", 100*w.Kept, shownAs(w.Shown.Lab))
}

func shownAs(c lab.Lab) string { return fmt.Sprintf("%s, chroma %.0f", lab.Name(c), c.Chroma()) }

func (w *Why) sayOpposed(pair *Complement) {
	grey := pair.Dark
	if pair.Middle != nil {
		grey = *pair.Middle
	}
	s := "They are complements"
	if a, b := w.Tubes[0].Swallows, w.Tubes[1].Swallows; len(a) > 0 && len(b) > 0 {
		s += fmt.Sprintf(": %s swallows the %s light, %s the %s", w.name(0), span(a), w.name(1), span(b))
		s += ", and between them little of any colour is left"
	}
	w.tell("%s. Together they grey each other: %s, chroma %.0f at value %.1f; without white they go down to value %.1f.", s, grey.words(), grey.Lab.Chroma(), grey.Lab.Value(), pair.Dark.Lab.Value())
	if !w.Chosen && !math.IsNaN(w.Kept) {
		w.tell("In these parts the mix %s.", w.keeps())
	}
}

// sayGrey explains a colour with black or a grey.
func (w *Why) sayGrey(greys []int) {
	black := w.names(greys)
	var rest []int
	for j := range w.Tubes {
		if !slices.Contains(greys, j) {
			rest = append(rest, j)
		}
	}
	colour := w.names(rest)
	if w.Verdict == Grey {
		w.tell("%s swallows a share of light of every colour, and in these parts it drowns %s: the mix is a grey.", Capital(black), colour)
		return
	}
	s := fmt.Sprintf("%s swallows a share of light of every colour: the mix %s", Capital(black), w.keeps())
	if l := w.Tubes[greys[0]].Lean; len(rest) == 1 && l.Toward != "" {
		before := w.Palette.tint(&w.Palette.Tubes[w.Tubes[rest[0]].Tube].Paint, w.Palette.tintWhite())
		if hueApart(before.Hue(), w.Shown.Lab.Hue()) > 6 {
			s += fmt.Sprintf(", and turns toward %s: beside a colour the black acts as the faint %s that its tint shows", hueToward(before, w.Shown.Lab), l.Toward)
		}
	}
	w.tell("%s.", s)
}

// sayColour explains tubes that are neither complements nor neighbours.
func (w *Why) sayColour() {
	living := w.Wanted
	if opposite[living] == "" {
		living = "mix of this hue"
	}
	switch w.Verdict {
	case Clean:
		w.tell("The mix stays clean: it %s.", w.keeps())
		if len(w.Left) > 0 {
			w.tell("%s, and the %s light is left for the mix to live by.", w.swallow(), span(w.Left))
		}
		return
	case Dulled:
		w.tell("The mix comes out somewhat dulled: it %s.", w.keeps())
	default:
		w.tell("The mix goes dull: it %s.", w.keeps())
	}
	taken := false // said already
	if len(w.Shared) > 0 {
		who := "Both"
		if len(w.Tubes) > 2 {
			who = "All three"
		}
		s := fmt.Sprintf("%s swallow the %s light (%s)", who, span(w.Shared), nm(w.Shared))
		switch {
		case len(w.Taken) > 0 && slices.Equal(w.Taken, w.Shared):
			s += ", which " + article(living) + " lives by"
			taken = true
		case overlap(w.Shared, w.Needs):
			s += ", some of which " + article(living) + " lives by"
		}
		w.tell("%s.", s)
	}
	if w.Culprit < 0 {
		return
	}
	who := w.name(w.Culprit)
	if len(w.Taken) > 0 && !taken {
		w.tell("%s swallows the %s light (%s), which %s lives by.", Capital(who), span(w.Taken), nm(w.Taken), article(living))
	}
	if f := w.Tubes[w.Culprit].Lean.Family; strings.HasPrefix(f, "earth") || f == "brown" {
		w.tell("%s is an earth, a colour knocked back from the start: it swallows some of all light.", Capital(who))
	}
	if w.Hidden != "" {
		w.tell("%s, and %s is the complement of %s: a little %s is hidden in %s.", w.leanings(), w.Hidden, w.Wanted, w.Hidden, map[bool]string{true: "it", false: "them"}[len(w.Holders) == 1])
	}
}

// swallow says what each tube swallows.
func (w *Why) swallow() string {
	var s []string
	for j, t := range w.Tubes {
		if len(t.Swallows) > 0 {
			s = append(s, fmt.Sprintf("%s swallows the %s light", w.name(j), span(t.Swallows)))
		}
	}
	return Capital(and(s))
}

// leanings says which tubes lean toward the hidden colour.
func (w *Why) leanings() string {
	var s []string
	for _, j := range w.Holders {
		t := w.Tubes[j].Lean
		toward := t.Toward
		if toward != w.Hidden {
			toward += ", which holds " + w.Hidden
		}
		s = append(s, fmt.Sprintf("%s leans %s", w.name(j), toward))
	}
	return Capital(and(s))
}

// sayMend says what to exchange and what to add.
func (w *Why) sayMend() {
	if s := w.Swap; s != nil {
		w.tell("For a cleaner mix take %s in place of %s: %s keeps %s.", s.In.Name, w.name(s.Out), s.Mix.words(), percent(s.Kept))
	}
	if s := w.LibrarySwap; s != nil {
		lead := "Nothing in the box does better by an exchange of one tube; from the library"
		if w.Swap != nil {
			lead = "From the library"
		}
		w.tell("%s %s in place of %s keeps %s: %s.", lead, s.In.Name, w.name(s.Out), percent(s.Kept), s.Mix.words())
	}
	if w.Swap == nil && w.LibrarySwap == nil && len(w.greys()) == 0 && (w.Verdict == Dull || w.Verdict == Dulled) {
		w.tell("To exchange one tube gains little.")
	}
	if k := w.Knock; k != nil {
		w.tell("To knock it back on purpose add %s, a touch at a time: 1 part to %d of the mix halves its chroma.", w.Palette.Tubes[k.Tube].Name, k.To)
	}
}

func percent(kept float64) string {
	if kept > 1.05 {
		return fmt.Sprintf("%.0f %%, more than any mix in the box", 100*kept)
	}
	return fmt.Sprintf("%.0f %%", 100*min(kept, 1))
}

// span names lights together, and nm gives their wavelengths.
func span(l []Light) string {
	var s []string
	for _, x := range l {
		if x.Name != "" && !slices.Contains(s, x.Name) {
			s = append(s, x.Name)
		}
	}
	if len(s) > 1 && strings.Contains(strings.Join(s, ""), " and ") {
		return strings.Join(s[:len(s)-1], ", ") + ", and " + s[len(s)-1]
	}
	return and(s)
}

func nm(l []Light) string {
	var s []string
	for _, x := range l {
		s = append(s, fmt.Sprintf("%d–%d", x.From, x.To))
	}
	return and(s) + " nm"
}

func overlap(a, b []Light) bool {
	for _, x := range a {
		for _, y := range b {
			if min(x.To, y.To)-max(x.From, y.From) >= 20 {
				return true
			}
		}
	}
	return false
}

// article puts "a" or "an" before words.
func article(s string) string {
	if strings.ContainsAny(s[:1], "aeiou") {
		return "an " + s
	}
	return "a " + s
}

// tintWords explains one tube with white.
func (w *Why) tintWords(whites []Part) {
	p := w.Palette
	t := w.Tubes[0]
	name := w.name(0)
	w.tell("%s is %s.", Capital(name), article(t.Lean.Words))
	_, mass := p.Mix([]Part{{t.Tube, 1}})
	shown := w.Shown
	if !isColour(p.Tubes[t.Tube], p.tintWhite()) {
		if t.Lean.Toward != "" {
			w.tell("White makes greys of it that show a faint %s.", t.Lean.Toward)
		}
		return
	}
	if len(shown.Parts) > 1 && shown.Lab.Chroma() > 1.1*mass.Chroma() {
		w.tell("White opens it up: alone it is %s, and most vivid with some white, %s (%s).", shownAs(mass), shown.words(), shownAs(shown.Lab))
	} else {
		w.tell("White only pales it: it is most vivid alone (%s).", shownAs(mass))
	}
	tint := p.tint(&p.Tubes[t.Tube].Paint, &p.Tubes[whites[0].Tube].Paint)
	s := fmt.Sprintf("Let down to value %.1f it is %s", tint.Value(), shownAs(tint))
	if hueApart(mass.Hue(), tint.Hue()) > 5 && mass.Chroma() > NeutralChroma {
		s += fmt.Sprintf(", its hue moved toward %s", hueToward(mass, tint))
	}
	switch d := lab.Warmth(tint) - lab.Warmth(mass); {
	case d < -0.1:
		s += ", and cooler"
	case d > 0.1:
		s += ", and warmer"
	}
	w.tell("%s.", s)
}

// WhyLine explains in one sentence why a mix is dull; empty where it is not:
// where its chroma is at least half of what its coloured tubes have by
// themselves at its lightness, dark mixes being judged by a tint. It is quick,
// for lists of recipes; [Palette.Why] says more.
func (p *Palette) WhyLine(parts []Part) string {
	white := p.tintWhite()
	_, mix := p.Mix(parts)
	if mix.L < judgeByTint {
		m := p.Paint(parts)
		mix = letDown(&m, white, middleTint, p.Finish)
	}
	type share struct {
		tube   int
		weight float64 // of the absorption
		lab    lab.Lab // by itself, as light as the mix
		lean   inventory.Lean
	}
	var list []share
	total, own := 0.0, 0.0 // over tubes that have a hue
	for _, q := range parts {
		if p.Tubes[q.Tube].White {
			continue
		}
		paint := &p.Tubes[q.Tube].Paint
		s := share{q.Tube, 0, letDown(paint, white, mix.L, p.Finish), inventory.LeanOf(paint, white)}
		for i := range paint.K {
			s.weight += q.Parts * paint.K[i]
		}
		list = append(list, s)
		if s.lean.Family != "black" && s.lean.Family != "grey" {
			total += s.weight
			own += s.weight * s.lab.Chroma()
		}
	}
	if len(list) < 2 || total == 0 || mix.Chroma() >= own/total/2 {
		return ""
	}
	name := func(s *share) string { return p.Tubes[s.tube].Name }
	// The two that cancel most.
	var a, b *share
	most := 0.0
	for i := range list {
		for j := range list[:i] {
			x, y := &list[j], &list[i]
			if c := -x.weight * y.weight * (x.lab.A*y.lab.A + x.lab.B*y.lab.B); c > most {
				most, a, b = c, x, y
			}
		}
	}
	if a != nil {
		c, ok := p.complement(a.tube, b.tube, white)
		primaries := wanted([]Leaning{{Lean: a.lean}, {Lean: b.lean}}, "") != ""
		if mix.Chroma() <= NeutralChroma || ok && c.Neutral && !primaries {
			return fmt.Sprintf("%s and %s are opposites: what one reflects the other swallows, and the mix greys.", Capital(name(a)), name(b))
		}
	}
	for i := range list {
		if f := list[i].lean.Family; (f == "black" || f == "grey") && list[i].weight > 0.2*total {
			return fmt.Sprintf("%s swallows a share of light of every colour and dulls the mix.", Capital(name(&list[i])))
		}
	}
	w := &Why{Palette: p, Culprit: -1}
	for _, s := range list {
		w.Tubes = append(w.Tubes, Leaning{Tube: s.tube, Lean: s.lean})
		i := slices.IndexFunc(parts, func(q Part) bool { return q.Tube == s.tube })
		w.Parts = append(w.Parts, parts[i])
	}
	paint := p.Paint(w.Parts)
	w.Wanted = wanted(w.Tubes, inventory.LeanOf(&paint, white).Family)
	w.look(white)
	if w.Culprit >= 0 {
		w.blame()
	}
	living := w.Wanted
	if opposite[living] == "" {
		living = "mix of this hue"
	}
	switch {
	case w.Hidden != "":
		return fmt.Sprintf("A little %s is hidden in %s, and it is the complement of %s: the mix goes dull.", w.Hidden, w.names(w.Holders), w.Wanted)
	case len(w.Taken) > 0:
		return fmt.Sprintf("%s swallows the %s light, which %s lives by: the mix goes dull.", Capital(w.name(w.Culprit)), span(w.Taken), article(living))
	case a != nil:
		if a.weight*a.lab.Chroma() < b.weight*b.lab.Chroma() {
			a, b = b, a
		}
		return fmt.Sprintf("%s knocks %s back: what one reflects the other swallows in part.", Capital(name(b)), name(a))
	}
	return "Its tubes swallow some of each other's light, which dulls the mix."
}

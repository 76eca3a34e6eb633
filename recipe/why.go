package recipe

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// How clean a mix is, by the chroma it keeps: clean from cleanFrom, dull below
// dullBelow, dulled between (this project's judgement: it sorts the mixes that
// painters call clean and dull as they do). A better tube is worth naming if
// with it the mix keeps swapGain more.
const (
	cleanFrom = 0.75
	dullBelow = 0.5
	swapGain  = 0.10
)

// swapWindow is how far, in degrees, the hue of a mix with another tube may lie
// from the mix it is to replace: the ladder's steps are wide where a mix turns
// from one tube's hue to the other's.
const swapWindow = 6.0

// neighbours are tubes whose tints lie within so many degrees of hue.
const neighbours = 30.0

// middleTint is the L* to which a mix is let down to see what its tubes
// swallow, unless it is lighter by itself.
const middleTint = 60.0

// WhyOptions says where to look for better tubes.
type WhyOptions struct {
	// Library is where a tube to swap is looked for beside the palette; nil for
	// the whole library, an empty list for none. Tubes that are not Advisable are
	// left out.
	Library []*inventory.Tube
	// Progress is as in [ReachOptions].
	Progress func(done, all int)
}

// Why explains what two or three tubes do to each other.
type Why struct {
	Palette *Palette
	Tubes   []Leaning // the coloured tubes, in the order asked
	// Parts is the ratio that is explained, coloured tubes only; Chosen reports
	// that it was not given: of two tubes it is the ratio whose tint lies
	// farthest from the tints of both; of complements, and of three tubes, the one
	// nearest neutral.
	Parts  []Part
	Chosen bool
	Mix    lab.Lab // of the mix as given, white included if any was
	// Shown is the same ratio with as much white as makes it most vivid. As dark
	// paint shows little of its hue, it has white enough to be at least L* 42
	// where the palette has a white.
	Shown  Mixed
	Family string // of the mix's own hue, as [inventory.Lean] has it
	Wanted string // the colour that such tubes are mixed for: violet, green, orange; else Family

	// Kept is the chroma of Shown as a share of the most vivid mix that the
	// palette has at that hue, Best; KeptAtValue as a share of that at the same
	// value too. NaN for a grey.
	Kept, KeptAtValue float64
	Best              *Mixed
	Verdict           Verdict

	Shared  []Light // wavelengths that all the tubes swallow
	Left    []Light // wavelengths that none swallows: the light that is left to see
	Needs   []Light // light the mix lives by: the more it reflects of it, the more vivid it is
	Culprit int     // index into Tubes of what dulls the mix; −1 where none does
	Taken   []Light // of Needs, what the culprit swallows
	// Hidden is the colour that comes in unasked, the complement of Wanted, as
	// painters say it; Holders are the tubes that lean toward it. Empty where
	// nothing is to blame.
	Hidden  string
	Holders []int

	Swap        *Swap // the exchange of one tube within the palette that keeps most
	LibrarySwap *Swap // likewise from the library, where it keeps more than Swap
	Knock       *Knock
	loss        []float64 // of needed light, by tube; in chroma
	words       []string
}

// Leaning is a tube and its lean.
type Leaning struct {
	Tube     int
	Lean     inventory.Lean
	Swallows []Light // by its own tint
}

// Light is a run of wavelengths, nm, and what colour of light it is.
type Light struct {
	From, To int
	Name     string
}

// Verdict says how a mix fares.
type Verdict string

// Verdicts.
const (
	Clean   Verdict = "clean"       // keeps most of the chroma there is at its hue
	Dulled  Verdict = "dulled"      // keeps half to three quarters
	Dull    Verdict = "dull"        // keeps less than half
	Grey    Verdict = "grey"        // has no hue to speak of
	TintOf  Verdict = "tint"        // one tube and white
	Opposed Verdict = "complements" // two tubes that cancel each other
)

// Swap is a mix with one tube exchanged.
type Swap struct {
	Out  int // index into Why.Tubes
	In   *inventory.Tube
	Mix  Mixed
	Kept float64 // as Why.Kept, beside the same best
}

// Knock is how to dull a mix on purpose.
type Knock struct {
	Tube int     // across the wheel from the mix
	To   int     // one part of it to so many of the mix shown
	Lab  lab.Lab // with it: about half the chroma
}

// Words gives the explanation in sentences.
func (w *Why) Words() []string { return w.words }

// Why explains the mix of two or three coloured tubes, or of one with white.
// Amounts may be given or all be 0: then a ratio is chosen, see [Why.Parts].
// White among the parts is let be; a mix is judged by its most vivid tint.
func (p *Palette) Why(ctx context.Context, parts []Part, o WhyOptions) (*Why, error) {
	w := &Why{Palette: p, Kept: math.NaN(), KeptAtValue: math.NaN(), Culprit: -1}
	var err error
	if w.Parts, w.Chosen, err = p.checked(parts); err != nil {
		return nil, err
	}
	white := p.tintWhite()
	var whites []Part
	w.Parts = slices.DeleteFunc(w.Parts, func(q Part) bool {
		if p.Tubes[q.Tube].White {
			whites = append(whites, q)
			return true
		}
		return false
	})
	for _, q := range w.Parts {
		paint := &p.Tubes[q.Tube].Paint
		w.Tubes = append(w.Tubes, Leaning{q.Tube, inventory.LeanOf(paint, white), lights(p.darkBands(paint, white))})
	}
	switch n := len(w.Tubes); {
	case n == 0:
		return nil, fmt.Errorf("white alone explains nothing: name two tubes, or one and white")
	case n > 3:
		return nil, fmt.Errorf("%d tubes at once are too many to explain: name two or three", n)
	case n == 1 && len(whites) == 0:
		return nil, fmt.Errorf("%s alone mixes with nothing: name a second tube, such as %s+%s", p.Tubes[parts[0].Tube].Name, p.Tubes[parts[0].Tube].Name, p.example(parts[0].Tube))
	}
	var pair *Complement
	if len(w.Tubes) == 2 && isColour(p.Tubes[w.Tubes[0].Tube], white) && isColour(p.Tubes[w.Tubes[1].Tube], white) {
		// Two primaries are mixed for what lies between them, however dull.
		if c, ok := p.complement(w.Tubes[0].Tube, w.Tubes[1].Tube, white); ok && c.Neutral && wanted(w.Tubes, "") == "" {
			pair = &c
		}
	}
	if w.Chosen {
		switch {
		case len(w.Tubes) == 1:
			w.Parts[0].Parts = 1
		case pair != nil:
			grey := pair.Dark
			if pair.Middle != nil {
				grey = *pair.Middle
			}
			for i := range w.Parts {
				at := slices.IndexFunc(grey.Parts, func(q Part) bool { return q.Tube == w.Parts[i].Tube })
				w.Parts[i].Parts = grey.Parts[at].Parts
			}
			reduce(w.Parts)
		default:
			p.midway(w.Parts, white)
		}
	}
	as := slices.Concat(w.Parts, whites)
	if w.Chosen {
		as = w.Parts
	}
	_, w.Mix = p.Mix(as)
	w.Shown = p.mostVivid(w.Parts)
	paint := p.Paint(w.Parts)
	lean := inventory.LeanOf(&paint, white)
	w.Family = lean.Family
	w.Wanted = wanted(w.Tubes, w.Family)
	if len(w.Tubes) == 1 {
		w.Verdict = TintOf
		w.tintWords(whites)
		return w, nil
	}
	w.look(white)
	if err := w.judge(ctx, o, pair); err != nil {
		return nil, err
	}
	if pair != nil {
		w.Verdict = Opposed
	}
	if pair == nil {
		w.knock(white)
	}
	w.say(pair)
	return w, nil
}

// checked refuses parts that name no tubes, the same twice, or amounts that
// are not all positive or all 0; chosen reports the latter.
func (p *Palette) checked(parts []Part) (out []Part, chosen bool, err error) {
	if len(parts) == 0 {
		return nil, false, fmt.Errorf("no tubes to explain: name two, such as a yellow and a blue")
	}
	given := 0
	for i, q := range parts {
		if q.Tube < 0 || q.Tube >= len(p.Tubes) {
			return nil, false, fmt.Errorf("there is no tube number %d among %d", q.Tube, len(p.Tubes))
		}
		if slices.ContainsFunc(parts[:i], func(o Part) bool { return o.Tube == q.Tube }) {
			return nil, false, fmt.Errorf("%s is named twice: name each tube once", p.Tubes[q.Tube].Name)
		}
		switch {
		case !(q.Parts >= 0) || math.IsInf(q.Parts, 1):
			return nil, false, fmt.Errorf("%v parts of %s: give a positive number, or none for all", q.Parts, p.Tubes[q.Tube].Name)
		case q.Parts > 0:
			given++
		}
	}
	if given > 0 && given < len(parts) {
		return nil, false, fmt.Errorf("give the parts of all tubes or of none")
	}
	return slices.Clone(parts), given == 0, nil
}

// example is a tube to mix with another, for an error message.
func (p *Palette) example(not int) string {
	for i, t := range p.Tubes {
		if i != not {
			return t.Name
		}
	}
	return "another"
}

// reduce divides whole parts by what they have in common.
func reduce(parts []Part) {
	g := 0
	for _, q := range parts {
		g = gcd(int(q.Parts), g)
	}
	for i := range parts {
		parts[i].Parts /= float64(g)
	}
}

// midway sets the parts to the ladder's ratio whose tint is as unlike the tint
// of either tube as can be: the lesser of the ΔE00 between is greatest. Of three
// tubes it is the ratio whose tint is nearest neutral.
func (p *Palette) midway(parts []Part, white *optics.Paint) {
	own := make([]lab.Lab, len(parts))
	for i, q := range parts {
		own[i] = p.tint(&p.Tubes[q.Tube].Paint, white)
	}
	best := math.Inf(-1)
	at := 0
	list := directions[len(parts)]
	try := slices.Clone(parts)
	for di := range list {
		for j := range try {
			try[j].Parts = float64(list[di].parts[j])
		}
		m := p.Paint(try)
		c := p.tint(&m, white)
		least := math.Inf(1)
		for _, o := range own {
			least = min(least, lab.DE00(c, o))
		}
		if len(parts) == 3 {
			least = -c.Chroma()
		}
		if least > best {
			best, at = least, di
		}
	}
	for j := range parts {
		parts[j].Parts = float64(list[at].parts[j])
	}
}

// tint is a paint let down with white to L* 75 or, where it is nearly as light,
// half way to white: as [inventory.LeanOf] judges it.
func (p *Palette) tint(paint, white *optics.Paint) lab.Lab {
	c := &sums[p.Finish]
	at := func(w float64) lab.Lab {
		return lab.FromXYZ(c.of(&paint.K, &paint.S, &white.K, &white.S, w), d65White)
	}
	l := 75.0
	if mass := at(0).L; mass > l-10 {
		l = (mass + lab.FromXYZ(c.of(&white.K, &white.S, &noPaint, &noPaint, 0), d65White).L) / 2
	}
	w, _ := whiteFor(at, l)
	return at(w)
}

// judgeByTint is the L* below which a colour shows too little of its hue and is
// judged by a tint, as in [inventory.LeanOf].
const judgeByTint = 42.0

// mostVivid adds to a ratio of coloured tubes that much of a white of the
// palette, or none, by which its chroma is highest on the
// ladder, among mixes that are light enough to judge.
func (p *Palette) mostVivid(parts []Part) Mixed {
	_, c := p.Mix(parts)
	best, all := c.Chroma(), parts
	if c.L < judgeByTint {
		best = 0
	}
	for _, step := range stepsOf(parts) {
		for _, w := range p.whites {
			try := slices.Clone(parts)
			for i := range try {
				try[i].Parts *= step.paint
			}
			try = append(try, Part{w, step.white})
			if _, c := p.Mix(try); c.L >= judgeByTint && c.Chroma() > best {
				best, all = c.Chroma(), try
			}
		}
	}
	return p.whole(all)
}

// stepsOf lists the amounts of white for a ratio: those of the ladder, or where
// the ratio is not on it, white to all paint in steps of a fifth or so.
func stepsOf(parts []Part) (out []struct{ paint, white float64 }) {
	for di := range directions[len(parts)] {
		d := &directions[len(parts)][di]
		same := true
		for j, q := range parts {
			same = same && math.Abs(q.Parts/parts[0].Parts*float64(d.parts[0])-float64(d.parts[j])) < 1e-9*float64(d.total)
		}
		if same {
			for _, w := range d.whites[1:] {
				out = append(out, struct{ paint, white float64 }{float64(w.times*d.parts[0]) / parts[0].Parts, float64(w.white)})
			}
			return out
		}
	}
	total := 0.0
	for _, q := range parts {
		total += q.Parts
	}
	for _, a := range Ladder {
		for _, b := range Ladder {
			if gcd(a, b) == 1 {
				out = append(out, struct{ paint, white float64 }{1, total * float64(a) / float64(b)})
			}
		}
	}
	return out
}

// whole writes a mix in whole parts where small numbers do.
func (p *Palette) whole(parts []Part) Mixed {
	parts = slices.Clone(parts)
	for times := 1; times <= 384; times++ {
		ok := true
		for _, q := range parts {
			v := q.Parts * float64(times)
			ok = ok && math.Abs(v-math.Round(v)) < 1e-9 && v >= 1
		}
		if ok {
			for i := range parts {
				parts[i].Parts = math.Round(parts[i].Parts * float64(times))
			}
			reduce(parts)
			break
		}
	}
	m := p.mixed(parts, lab.Lab{})
	m.DE00 = 0
	return m
}

// wanted is what painters mix such tubes for. Earths go by the hue of their
// tints: those of ochres are yellow, those of siennas orange.
func wanted(tubes []Leaning, own string) string {
	has := map[string]bool{}
	for _, t := range tubes {
		f := t.Lean.Family
		if strings.HasPrefix(f, "earth") || f == "brown" {
			switch h := t.Lean.TintHue; {
			case h < 40:
				f = "red"
			case h < 66:
				f = "orange"
			default:
				f = "yellow"
			}
		}
		has[f] = true
	}
	if len(has) == 2 {
		switch {
		case has["red"] && has["blue"]:
			return "violet"
		case has["yellow"] && has["blue"]:
			return "green"
		case has["red"] && has["yellow"]:
			return "orange"
		}
	}
	return own
}

// opposite is the complement on the painter's wheel of red, yellow and blue.
var opposite = map[string]string{"violet": "yellow", "green": "red", "orange": "blue", "red": "green", "blue": "orange", "yellow": "violet"}

// holds reports whether a lean brings in a colour: it goes toward it, or toward
// one that painters mix from it.
func holds(l inventory.Lean, hidden string) bool {
	if l.Toward == "" {
		return false
	}
	return l.Toward == hidden || l.Toward == "green" && (hidden == "yellow" || hidden == "blue")
}

// darkBands marks the bands where a paint swallows light: where its tint
// reflects less than half way between its darkest and its lightest band. A tint
// nearly flat along the spectrum swallows a little of everything, and nothing is
// marked.
func (p *Palette) darkBands(paint, white *optics.Paint) (dark [optics.Bands]bool) {
	c := &sums[p.Finish]
	w, _ := whiteFor(func(w float64) lab.Lab {
		return lab.FromXYZ(c.of(&paint.K, &paint.S, &white.K, &white.S, w), d65White)
	}, middleTint)
	m := optics.Mix([]*optics.Paint{paint, white}, []float64{1, w})
	r := m.Reflectance(p.Finish)
	lo, hi := slices.Min(r[:]), slices.Max(r[:])
	if hi-lo < 0.1 {
		return dark
	}
	for i, v := range r {
		dark[i] = v < (lo+hi)/2
	}
	return dark
}

// colourOfLight names stretches of the spectrum (common practice, no source;
// borders differ by 10 nm from one book to another).
var colourOfLight = []struct {
	to   int
	name string
}{{440, "violet"}, {480, "blue"}, {510, "blue-green"}, {570, "green"}, {590, "yellow"}, {620, "orange"}, {700, "red"}}

// lights names the runs of marked bands; single bands are left out.
func lights(marked [optics.Bands]bool) (out []Light) {
	for i := 0; i < optics.Bands; i++ {
		if !marked[i] {
			continue
		}
		j := i
		for j+1 < optics.Bands && marked[j+1] {
			j++
		}
		if j > i {
			out = append(out, newLight(optics.Wavelength(i), optics.Wavelength(j)))
		}
		i = j
	}
	return out
}

// newLight names a run: the colours of which it has the better half, or that
// make up the better half of it.
func newLight(from, to int) Light {
	l := Light{From: from, To: to}
	start := optics.FirstNM
	var names []string
	for _, c := range colourOfLight {
		common := min(to, c.to) - max(from, start)
		if 2*common >= c.to-start || 2*common >= to-from {
			names = append(names, c.name)
		}
		start = c.to
	}
	switch n := len(names); {
	case n > 2:
		l.Name = names[0] + " to " + names[n-1]
	case n > 0:
		l.Name = and(names)
	}
	return l
}

// and writes "a", "a and b", "a, b and c".
func and(s []string) string {
	switch len(s) {
	case 0:
		return ""
	case 1:
		return s[0]
	}
	out := s[0]
	for _, v := range s[1 : len(s)-1] {
		out += ", " + v
	}
	return out + " and " + s[len(s)-1]
}

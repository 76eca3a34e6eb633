package recipe

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"paintout/analyze/lab"
)

// Wrong says in a painter's words what a pile's colour is beside the one wanted,
// the largest fault first; nothing where the two cannot be told apart.
func Wrong(aim, pile lab.Lab) []string {
	if lab.DE00(aim, pile) <= Indistinct {
		return nil
	}
	dL, dC := pile.L-aim.L, pile.Chroma()-aim.Chroma()
	mean := (pile.Chroma() + aim.Chroma()) / 2
	dh := math.Mod(pile.Hue()-aim.Hue()+540, 360) - 180
	// As CIEDE2000's forerunners weigh chroma and hue (CIE 116, 1995).
	light, vivid := math.Abs(dL), math.Abs(dC)/(1+0.045*mean)
	hue := 2 * math.Sqrt(pile.Chroma()*aim.Chroma()) * math.Abs(math.Sin(dh*math.Pi/360)) / (1 + 0.015*mean)
	// Along the warm–cool axis of a grey one unit of a* and b* is 0.02 or so.
	warmth := lab.Warmth(pile) - lab.Warmth(aim)
	temperature := math.Abs(warmth) / warmthStep

	type fault struct {
		size float64
		word string
	}
	word := func(v float64, up, down string) string {
		if v > 0 {
			return up
		}
		return down
	}
	largest := max(light, vivid, hue)
	var all []fault
	seen := func(size float64) bool { return size > 0.6 && size > 0.4*largest }
	switch {
	case dL < 0 && dC > 0 && seen(light) && seen(vivid):
		all = append(all, fault{max(light, vivid), "too strong: darker and more vivid, as with too little white"})
	case dL > 0 && dC < 0 && seen(light) && seen(vivid):
		all = append(all, fault{max(light, vivid), "too weak: lighter and duller, as with too much white"})
	default:
		if seen(light) {
			all = append(all, fault{light, word(dL, "too light", "too dark")})
		}
		if seen(vivid) {
			all = append(all, fault{vivid, word(dC, "too vivid", "too dull")})
		}
	}
	if seen(hue) && pile.Chroma() >= greyPile {
		// Far round the circle it is its own hue that shows, not the first one on
		// the way there.
		toward := hueToward(aim, pile)
		if math.Abs(dh) > 60 {
			toward = hueNamed(pile.Hue())
		}
		all = append(all, fault{hue, "too " + toward})
	}
	if seen(temperature) && seen(max(hue, vivid)) {
		all = append(all, fault{temperature - 100, word(warmth, "too warm", "too cool")}) // a summary: last
	}
	slices.SortStableFunc(all, func(a, b fault) int { return cmp.Compare(b.size, a.size) })
	var out []string
	for _, f := range all {
		out = append(out, f.word)
	}
	return out
}

// greyPile is the C*ab below which a pile shows no hue to speak of.
const greyPile = 4.0

// warmthStep is a difference in warmth as large as one unit of ΔE00 looks, near
// enough: two CIELAB units along the warm–cool axis of a grey make 0.05.
const warmthStep = 0.04

// touch is the share of a pile below which an addition is no portion any more:
// a sixteenth of a part to ten of the pile.
const touch = 1.0 / 160

// IsTouch reports whether an amount is too little beside a pile to be portioned:
// it goes in as a touch on the knife's tip.
func IsTouch(amount, pile float64) bool { return amount < touch*pile }

// Amount writes parts as a painter says them: "2½", "¾", "about 1/12".
func Amount(parts float64) string {
	whole, rest := math.Modf(parts)
	glyphs := []string{"", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞"}
	eighths := rest * 8
	exact := math.Abs(eighths-math.Round(eighths)) < 1e-9
	switch {
	case whole >= 16:
		return fmt.Sprintf("%.0f", parts)
	case whole == 0 && !exact:
		if rest < 0.23 {
			n := math.Round(1 / rest)
			for _, step := range []float64{5, 10, 50} { // 1/20, 1/50: rounder as it grows
				if n > 4*step {
					n = step * math.Round(1/rest/step)
				}
			}
			return fmt.Sprintf("about 1/%.0f", n)
		}
		if sixteenths := math.Round(rest * 16); math.Abs(sixteenths-rest*16) < 1e-9 {
			return fmt.Sprintf("%.0f/16", sixteenths)
		}
		return fmt.Sprintf("%.2f", parts)
	case !exact:
		return fmt.Sprintf("%.1f", parts)
	}
	g := glyphs[int(math.Round(eighths))%8]
	if whole == 0 {
		return g
	}
	return fmt.Sprintf("%.0f%s", whole, g)
}

// portion writes an amount with its noun.
func portion(v float64) string {
	if s := Amount(v); v > 1 {
		return s + " parts"
	} else {
		return s + " part"
	}
}

// AddWords says what to add, "2½ parts of titanium white and a touch of phthalo
// green (about 1/20 part)".
func (m *Mend) AddWords(a *Amendment) string {
	var s []string
	for _, q := range a.Parts {
		name := m.Palette.Tubes[q.Tube].Name
		if IsTouch(q.Parts, m.Volume*a.Keep) {
			s = append(s, fmt.Sprintf("a touch of %s (%s)", name, portion(q.Parts)))
		} else {
			s = append(s, fmt.Sprintf("%s of %s", portion(q.Parts), name))
		}
	}
	return and(s)
}

// Words says what is wrong with the pile and what to do, in sentences.
func (m *Mend) Words() []string {
	var out []string
	tell := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	off := lab.DE00(m.Aim, m.Reading)
	if wrong := Wrong(m.Aim, m.Reading); len(wrong) > 0 {
		tell("The pile is %s: off by %.1f ΔE00 (%s).", strings.Join(wrong, "; "), off, Grade(off))
	} else {
		tell("The pile can't be told from the colour wanted: off by %.1f ΔE00.", off)
	}
	volume := portion(m.Volume)
	if !m.Known {
		volume = fmt.Sprintf("each %.0f parts of the pile", UnknownPile)
	} else {
		volume = "the " + volume + " in it"
	}
	reaches := func(a *Amendment) string {
		return fmt.Sprintf("off by %.1f then, nine times in ten within %.1f", a.Off.Nominal, a.Off.P90)
	}
	switch m.Verdict {
	case LeavePile:
		if m.Leave.Nominal <= Indistinct {
			tell("Leave it as it is.")
		} else {
			tell("Leave it, or mix it anew: nothing in the box brings it surely nearer.")
		}
	case AddToPile:
		a := &m.Additions[0]
		tell("Add %s to %s: %s.", m.AddWords(a), volume, reaches(a))
	case HalvePile:
		a := &m.Additions[0]
		aside, kept := "half", "the half you keep"
		if a.Keep < 0.5 {
			aside, kept = fmt.Sprintf("%.3g %%", 100*(1-a.Keep)), fmt.Sprintf("the %.3g %% you keep", 100*a.Keep)
			if a.Keep == 0.25 {
				aside, kept = "three quarters", "the quarter you keep"
			}
		}
		if m.Known {
			kept += fmt.Sprintf(" (%s)", portion(m.Volume*a.Keep))
		} else {
			kept += fmt.Sprintf(" (%s)", portion(UnknownPile*a.Keep))
		}
		tell("To put all of it right would make %.1f piles of one: set %s aside first, then add %s to %s: %s.", a.Growth, aside, m.AddWords(a), kept, reaches(a))
	case StartPile:
		why := "what is in it cannot be taken out again"
		if m.Culprit >= 0 {
			why = fmt.Sprintf("there is too much %s in it, which cannot be taken out again", m.Palette.Tubes[m.Culprit].Name)
		}
		still := m.Leave.Nominal
		if len(m.Additions) > 0 {
			still = min(still, m.Additions[0].Off.Nominal)
		}
		tell("Start again: %s. The best addition leaves it off by %.1f, a fresh mix by %.1f.", why, still, m.Fresh.Off.Nominal)
	}
	if m.Verdict == AddToPile || m.Verdict == HalvePile {
		a := &m.Additions[0]
		for _, q := range a.Parts {
			name := m.Palette.Tubes[q.Tube].Name
			switch {
			case IsTouch(q.Parts, m.Volume*a.Keep):
				tell("A touch is less than a knife can portion: draw it out thin at the pile's edge and work it in from there, looking as you go.")
			case m.Palette.Strong(q.Tube):
				tell("%s is strong: put in half of it, look, then the rest.", Capital(name))
			}
		}
	}
	for _, s := range m.Strengths {
		if math.Abs(math.Log(s.Factor)) < 0.05 || math.Abs(math.Log(s.Factor)) < 0.5*s.SD {
			continue
		}
		word := "stronger"
		if s.Factor < 1 {
			word = "weaker"
		}
		tell("By its readings %s is %s than was taken: %.2f times as strong, give or take %.0f %% (before, %.0f %%).", s.Tube.Name, word, s.Factor, 100*s.SD, 100*s.PriorSD)
	}
	return out
}

// MendMethod says how a pile's readings are used.
const MendMethod = "What the pile is made of, and how strong its tubes are, is what makes the readings likeliest, given how far tubes and portions usually stray (maximum a posteriori, Gauss–Newton); the spread is of 96 samples that the readings allow."

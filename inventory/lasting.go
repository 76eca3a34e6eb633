package inventory

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"sync"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Fugitive is a lightfastness worse than any band that ASTM's paint standards
// admit without a warning.
const Fugitive = 5

var bandWord = regexp.MustCompile(`\b(I{1,3}|IV|V)\b`)

// LightfastBand reads a tube's words on lightfastness as an ASTM D4303 category:
// 1 (excellent) to 4, or [Fugitive] where they speak of one that fades or
// darkens badly and give no category; 0 where they say nothing of it. Of several
// categories the worst counts, and of several media the tube's own; where it is
// not given, oil and acrylic.
func LightfastBand(words, medium string) int {
	mine := []string{"oil", "acrylic"}
	if strings.Contains(medium, "watercolour") || strings.Contains(medium, "gouache") {
		mine = []string{"watercolour", "gouache"}
	}
	worst := 0
	for clause := range strings.FieldsFuncSeq(words, func(r rune) bool { return r == ';' || r == ',' }) {
		if of := mediaIn(clause); len(of) > 0 && !slices.ContainsFunc(of, func(m string) bool { return slices.Contains(mine, m) }) {
			continue
		}
		for _, w := range bandWord.FindAllString(clause, -1) {
			worst = max(worst, map[string]int{"I": 1, "II": 2, "III": 3, "IV": 4, "V": Fugitive}[w])
		}
	}
	if worst > 0 {
		return worst
	}
	for _, w := range []string{"fugitive", "poor", "not recommended"} {
		if strings.Contains(strings.ToLower(words), w) {
			return Fugitive
		}
	}
	return 0
}

func mediaIn(clause string) (out []string) {
	for _, m := range []string{"oil", "acrylic", "watercolour", "gouache"} {
		if strings.Contains(clause, m) {
			out = append(out, m)
		}
	}
	return out
}

// poorBand is the category from which a tube is warned about: ASTM's standards
// for artists' paints put I and II on their lists of suitable pigments (D4302,
// from memory).
const poorBand = 3

// Fades reports whether a tube's lightfastness is poor, category III or worse.
func (t *Tube) Fades() bool { return LightfastBand(t.Lightfast, t.Medium) >= poorBand }

// Lasting is a paint of the library that may take the place of one that fades.
type Lasting struct {
	*Pigment
	// Masstone and Tint are its ΔE00 from the tube, opaque, D65, specular
	// included; tints are let down with titanium white as for [LeanOf], to one
	// lightness, so that strengths do not matter.
	Masstone, Tint float64
}

// Words says it in a sentence.
func (l *Lasting) Words() string {
	return fmt.Sprintf("nearest of those that last is %s (%s, %s): %.0f ΔE00 away in masstone, %.0f in a tint", l.Name, l.Key(), l.Lightfast, l.Masstone, l.Tint)
}

// libraryColours are masstone and tint of each pigment of the library.
var libraryColours = sync.OnceValue(func() (out [][2]lab.Lab) {
	for _, p := range library() {
		out = append(out, massAndTint(&p.Paint))
	}
	return out
})

func massAndTint(p *optics.Paint) [2]lab.Lab {
	mass := labOf(p)
	return [2]lab.Lab{mass, letDown(p, &mustFind("PW6").Paint, mass)}
}

// LastingFor is the paint of the library nearest to a tube that fades, by the
// mean difference of masstone and tint, among those of category I and II in the
// tube's medium; nil for a tube that does not fade.
func LastingFor(t *Tube) *Lasting {
	if !t.Fades() {
		return nil
	}
	own := massAndTint(&t.Paint)
	best, least := (*Lasting)(nil), math.Inf(1)
	for i, p := range library() {
		if band := LightfastBand(p.Lightfast, t.Medium); band == 0 || band >= poorBand || p.White {
			continue
		}
		c := libraryColours()[i]
		l := Lasting{p, lab.DE00(own[0], c[0]), lab.DE00(own[1], c[1])}
		if d := l.Masstone + l.Tint; d < least {
			best, least = &l, d
		}
	}
	return best
}

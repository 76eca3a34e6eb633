package inventory

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"sync"
)

//go:generate go run ./internal/genlibrary -to library_table.go

// library is built once: the generated constants joined with the facts of the
// trade, in the order of the facts (white to black, round the hues).
var library = sync.OnceValue(func() []*Pigment {
	table := map[string]*constants{}
	for i := range libraryTable {
		table[libraryTable[i].key] = &libraryTable[i]
	}
	several := map[string]int{}
	for _, f := range tradeFacts {
		several[f.code]++
	}
	white := &table["PW6"].paint
	var out []*Pigment
	for _, f := range tradeFacts {
		p := &Pigment{
			Code: f.code, Name: f.name, Aliases: f.aliases, White: f.family == "white",
			Family: f.family, Opacity: f.opacity, Strength: f.strength,
			Lightfast: f.lightfast, Caution: f.caution, FactsFrom: f.from,
			many: several[f.code] > 1,
		}
		c := table[p.Key()]
		if c == nil {
			panic("inventory: no constants for " + p.Key() + "; run go generate")
		}
		p.Paint, p.Provenance, p.Source = c.paint, c.provenance, c.source
		p.StrengthSD, p.Spread = c.strengthSD, c.spread
		p.Lean = LeanOf(&p.Paint, white)
		out = append(out, p)
	}
	return out
})

// Library lists the pigments known: whites, then yellow round to green, earths
// and blacks. The order is stable; the pigments are shared and not to be
// changed.
func Library() []*Pigment { return slices.Clone(library()) }

// standIns answers for codes that are not in the library by a pigment of the
// same substance or nearly (common practice, no source).
var standIns = map[string]struct{ key, why string }{
	"PB15":   {"PB15:1", "taken for the red shade, as when a label gives no more"},
	"PB15:2": {"PB15:1", "the same red-shade blue, kept from flocculating"},
	"PB15:6": {"PB15:1", "the reddest phthalo blue; expect it redder"},
	"PY1":    {"PY74", "an arylide yellow of much the same hue"},
	"PY65":   {"PY83", "an arylide yellow about as deep"},
	"PR202":  {"PR122", "a quinacridone magenta; expect it bluer"},
	"PR207":  {"PV19", "a quinacridone scarlet; expect it yellower"},
	"PV37":   {"PV23", "a dioxazine violet; expect it redder"},
}

// Find looks a pigment up, ignoring case: by code ("PB29", "pb 29"), by code
// and the paint's name ("PBr7/burnt sienna"), or by name alone ("ultramarine
// blue", "French ultramarine"). A code that has several paints needs the name.
// Some codes that are not in the library get a near relative, marked estimated
// under the asked code, and its Source says for what it stands in. The error
// for an unknown key suggests the nearest.
func Find(key string) (*Pigment, error) {
	asked := strings.Join(strings.Fields(key), " ")
	if asked == "" {
		return nil, fmt.Errorf("no pigment given: write a code such as PB29 or a name such as ultramarine blue")
	}
	code, ok := parseCode(asked)
	if !ok {
		for _, p := range library() {
			if p.named(asked) {
				return p, nil
			}
		}
		return nil, fmt.Errorf("no pigment %q in the library%s", key, suggest(asked))
	}
	code, name, _ := strings.Cut(code, "/")
	var of []*Pigment
	for _, p := range library() {
		if p.Code == code {
			of = append(of, p)
		}
	}
	if len(of) == 0 {
		s, ok := standIns[code]
		if !ok {
			return nil, fmt.Errorf("no pigment %s in the library%s", code, suggest(asked))
		}
		p, err := Find(s.key)
		if err != nil {
			panic(err)
		}
		q := *p
		q.Code, q.Aliases, q.many = code, nil, false
		q.Name = p.Name + " (for " + code + ")"
		q.Provenance = Estimated
		q.Source = fmt.Sprintf("%s stands in: %s; %s", s.key, s.why, p.Source)
		q.StrengthSD = shapes[Estimated].Strength
		q.Spread = 0
		return &q, nil
	}
	if name == "" {
		if len(of) == 1 {
			return of[0], nil
		}
		return nil, fmt.Errorf("%s is the code of several paints: write %s", code, choices(of))
	}
	for _, p := range of {
		if p.named(name) {
			return p, nil
		}
	}
	return nil, fmt.Errorf("no %s called %q: write %s", code, name, choices(of))
}

// named reports whether that is the paint's name or an alias.
func (p *Pigment) named(name string) bool {
	is := func(s string) bool { return strings.EqualFold(s, name) }
	return is(p.Name) || slices.ContainsFunc(p.Aliases, is)
}

func choices(of []*Pigment) string {
	var keys []string
	for _, p := range of {
		keys = append(keys, p.Key())
	}
	return orList(keys)
}

// orList writes "a", "a or b", "a, b or c".
func orList(s []string) string { return joined(s, "or") }

func joined(s []string, word string) string {
	if len(s) < 2 {
		return strings.Join(s, "")
	}
	return strings.Join(s[:len(s)-1], ", ") + " " + word + " " + s[len(s)-1]
}

// suggest names up to three keys spelt much like what was asked.
func suggest(asked string) string {
	type near struct {
		is  string
		far int
	}
	asked = strings.ToLower(asked)
	var all []near
	for _, p := range library() {
		n := near{p.Key() + " (" + p.Name + ")", editDistance(asked, strings.ToLower(p.Key()))}
		for _, name := range append([]string{p.Name, p.Code}, p.Aliases...) {
			name = strings.ToLower(name)
			d := editDistance(asked, name)
			if len(asked) > 3 && strings.Contains(name, asked) {
				d = 1
			}
			n.far = min(n.far, d)
		}
		if n.far <= max(1, len(asked)/3) {
			all = append(all, n)
		}
	}
	if len(all) == 0 {
		return "; give the code printed on the tube, such as PB29"
	}
	slices.SortStableFunc(all, func(a, b near) int { return cmp.Compare(a.far, b.far) })
	var keys []string
	for _, n := range all[:min(3, len(all))] {
		keys = append(keys, n.is)
	}
	return ": did you mean " + orList(keys) + "?"
}

// editDistance is Levenshtein's: insertions, deletions and substitutions.
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			d := diagonal
			if a[i] != b[j] {
				d = 1 + min(diagonal, row[j], row[j+1])
			}
			diagonal, row[j+1] = row[j+1], d
		}
	}
	return row[len(b)]
}

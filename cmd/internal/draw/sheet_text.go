package draw

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"paintout/cmd/internal/plan"
)

func lower(s string) string { return strings.ToLower(strings.TrimSpace(s)) }

// spelled is s in letters that the embedded faces hold, so that none comes out
// as an empty box: accents composed; a letter without its mark where only the
// marked one is missing ("ẽ" as "e"); any other by its number, "U+7DD1". It
// reports whether anything was put in place of a letter.
func spelled(s string) (string, bool) {
	t := faceOf(false)
	has := func(r rune) bool { return t.glyph(r).index != 0 }
	var b strings.Builder
	changed, number := false, false
	for _, r := range norm.NFC.String(s) {
		switch {
		case unicode.IsSpace(r):
			b.WriteByte(' ')
			number = false
			continue
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Variation_Selector, r):
			continue
		case r == unicode.ReplacementChar:
			r = '?'
			changed = true
		case has(r):
			if number {
				b.WriteByte(' ')
			}
			number = false
			b.WriteRune(r)
			continue
		case unicode.Is(unicode.Mn, r):
			changed = true
			continue
		}
		changed = true
		base := ""
		for _, q := range norm.NFKD.String(string(r)) {
			if unicode.Is(unicode.Mn, q) {
				continue
			}
			if !has(q) {
				base = ""
				break
			}
			base += string(q)
		}
		if base != "" {
			b.WriteString(base)
			continue
		}
		if b.Len() > 0 && (number || !strings.HasSuffix(b.String(), " ")) {
			b.WriteByte(' ')
		}
		fmt.Fprintf(&b, "U+%04X", r)
		number = true
	}
	return strings.TrimSpace(b.String()), changed
}

// longestName is how many letters of a tube's or a picture's name a sheet sets;
// a box allows names somewhat longer.
const longestName = 160

// naming gives the tubes of a plan the names that a sheet prints.
type naming struct {
	shown map[string]string
	notes []nameNote // for the names that had to be put otherwise
}

// nameNote tells of a name that is shown otherwise.
type nameNote struct{ shown, says string }

// about gives the notes on those names that stand somewhere.
func (n *naming) about(stands func(name string) bool) []string {
	var out []string
	for _, q := range n.notes {
		if stands(q.shown) {
			out = append(out, q.says)
		}
	}
	return out
}

// namesFor goes by the order of the box, so that the same plan gets the same
// names.
func namesFor(p *plan.Plan) *naming {
	n := &naming{shown: map[string]string{}}
	taken := map[string]bool{}
	add := func(name, ci string) {
		if _, ok := n.shown[name]; ok {
			return
		}
		says, changed := spelled(name)
		code, _ := spelled(codeOf(ci, name))
		lost := strings.Count(says, "U+")
		switch {
		case lost > 0 && 2*lost >= len([]rune(strings.TrimSpace(name))) && code != "" && !taken[code]:
			n.notes = append(n.notes, nameNote{cut(code), fmt.Sprintf("%s stands for the tube whose name is %s.", code, cut(says))})
			says = code
		case changed:
			n.notes = append(n.notes, nameNote{cut(says), fmt.Sprintf("The name of %s has letters that this type lacks.", cut(says))})
		}
		if says == "" {
			says = "tube without a name"
		}
		says = cut(says)
		n.shown[name] = says
		taken[says] = true
	}
	for _, t := range p.Box.Tubes {
		add(t.Name, t.CI)
	}
	for _, m := range p.Masses {
		for _, r := range m.Recipes {
			for _, q := range r.Parts {
				add(q.Tube, q.CI)
			}
		}
	}
	if p.Kit != nil {
		for _, name := range p.Kit.Tubes {
			add(name, "")
		}
	}
	return n
}

func (n *naming) of(name string) string {
	if s, ok := n.shown[name]; ok {
		return s
	}
	s, _ := spelled(name)
	return cut(s)
}

// in puts the printed names into a sentence of the plan's, longest first so
// that no name is taken for the beginning of another.
func (n *naming) in(s string) string {
	var names []string
	for name, says := range n.shown {
		if name != "" && name != says && strings.Contains(s, name) {
			names = append(names, name)
		}
	}
	slices.SortFunc(names, func(a, b string) int {
		if len(a) != len(b) {
			return len(b) - len(a)
		}
		return strings.Compare(a, b)
	})
	var pairs []string
	for _, name := range names {
		pairs = append(pairs, name, n.shown[name])
	}
	s, _ = spelled(strings.NewReplacer(pairs...).Replace(s))
	return s
}

// cut shortens what no painter would write on a tube.
func cut(s string) string {
	if r := []rune(s); len(r) > longestName {
		return strings.TrimSpace(string(r[:longestName])) + "…"
	}
	return s
}

// run is a stretch of words in one face.
type run struct {
	words string
	bold  bool
}

// tie holds two words together on one line: an amount and its tube.
const tie = "\u2060" // word joiner

// broken sets runs into lines of a width, breaking within a word only where it
// is wider than a line by itself. It loses nothing. A run that ends in a tie
// stays on a line with the next word.
func broken(runs []run, w, size float64) [][]run {
	type word struct {
		run
		tied bool
	}
	var all []word
	for _, r := range runs {
		said, tied := strings.CutSuffix(r.words, tie)
		list := strings.Fields(said)
		for i, q := range list {
			for letters := []rune(q); len(letters) > 1 && textWidth(q, r.bold, size) > w; letters = []rune(q) {
				k := 1
				for k < len(letters)-1 && textWidth(string(letters[:k+1]), r.bold, size) <= w {
					k++
				}
				all = append(all, word{run{string(letters[:k]), r.bold}, false})
				q = string(letters[k:])
			}
			if q != "" {
				all = append(all, word{run{q, r.bold}, tied && i == len(list)-1})
			}
		}
	}
	space := textWidth(" ", false, size)
	var lines [][]run
	var line []run
	x := 0.0
	for i := 0; i < len(all); {
		// As many words as are tied together, unless they are too wide for a line.
		n, wide := 1, textWidth(all[i].words, all[i].bold, size)
		for i+n < len(all) && all[i+n-1].tied {
			more := space + textWidth(all[i+n].words, all[i+n].bold, size)
			if wide+more > w {
				break
			}
			wide += more
			n++
		}
		if x > 0 && x+space+wide > w {
			lines = append(lines, line)
			line, x = nil, 0
		}
		if x > 0 {
			x += space
		}
		x += wide
		for _, q := range all[i : i+n] {
			if k := len(line) - 1; k >= 0 && line[k].bold == q.bold {
				line[k].words += " " + q.words
			} else {
				line = append(line, q.run)
			}
		}
		i += n
	}
	if len(line) > 0 {
		lines = append(lines, line)
	}
	return lines
}

// setRuns writes a line and gives where it ends.
func (p *picture) setRuns(x, y float64, line []run, size float64) float64 {
	for i, r := range line {
		if i > 0 {
			x += textWidth(" ", false, size)
		}
		x = p.words(x, y, r.words, lettering{size: size, bold: r.bold, col: ink})
	}
	return x
}

package draw

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"paintout/cmd/internal/plan"
)

// swatch is a named colour for another program.
type swatch struct {
	id   string // for a style sheet
	name string
	hex  string
}

// swatches lists a plan's colours: of every mass the colour to mix, then the
// colours in the photo, then the first mixes as foretold, then the tubes of
// those mixes as they come.
func swatches(p *plan.Plan) []swatch {
	var out []swatch
	order := lightFirst(p.Masses)
	for _, i := range order {
		m := p.Masses[i]
		out = append(out, swatch{fmt.Sprint("mass-", m.ID), fmt.Sprintf("%d %s", m.ID, m.Name), m.AimHex})
	}
	for _, i := range order {
		m := p.Masses[i]
		out = append(out, swatch{fmt.Sprint("photo-", m.ID), fmt.Sprintf("%d in the photo", m.ID), m.Hex})
	}
	for _, i := range order {
		m := &p.Masses[i]
		if r := m.First(); r != nil {
			out = append(out, swatch{fmt.Sprint("mix-", m.ID), fmt.Sprintf("%d mixed: %s", m.ID, short(*r)), r.Hex})
		}
	}
	taken := map[string]bool{}
	for _, t := range p.Box.Tubes {
		if len(t.UsedIn) == 0 && (p.Kit == nil || !slices.Contains(p.Kit.Tubes, t.Name)) {
			continue
		}
		id := "tube-" + identifier(t.Name)
		for n := 2; taken[id]; n++ {
			id = fmt.Sprintf("tube-%s-%d", identifier(t.Name), n)
		}
		taken[id] = true
		out = append(out, swatch{id, t.Name + " as it comes", t.Hex})
	}
	return out
}

// identifier is a name as a style sheet may hold it (CSS Syntax, level 3: letters
// of any script, figures, hyphens).
func identifier(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			b.WriteRune(r)
		} else if s := b.String(); s != "" && !strings.HasSuffix(s, "-") {
			b.WriteByte('-')
		}
	}
	return strings.Trim(b.String(), "-")
}

// oneLine takes from a name what would end a line or a comment of the file it
// stands in.
func oneLine(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == '\u2028' || r == '\u2029' {
			return ' '
		}
		return r
	}, s)
	return strings.NewReplacer("*/", "* /", "</", "< /").Replace(strings.Join(strings.Fields(s), " "))
}

// SwatchesGPL writes a plan's colours as a palette of GIMP, which many painting
// programs read: sRGB, 8 bits a channel, a name for each.
func SwatchesGPL(w io.Writer, p *plan.Plan) error {
	var b bytes.Buffer
	title := oneLine(p.Title)
	if title == "" {
		title = "paint plan"
	}
	fmt.Fprintf(&b, "GIMP Palette\nName: %s\nColumns: %d\n# Colours to mix, colours in the photo, mixes as foretold, tubes as they come.\n", title, min(16, len(p.Masses)))
	for _, s := range swatches(p) {
		c := rgb(s.hex)
		fmt.Fprintf(&b, "%3d %3d %3d\t%s\n", c.R, c.G, c.B, oneLine(s.name))
	}
	_, err := w.Write(b.Bytes())
	return err
}

// SwatchesCSS writes a plan's colours as custom properties of a style sheet:
// --mass-1 is the colour to mix for mass 1, --photo-1 its colour in the photo,
// --mix-1 its first mix as foretold, and --tube-NAME a tube as it comes.
func SwatchesCSS(w io.Writer, p *plan.Plan) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "/* %s: colours to mix, colours in the photo, mixes as foretold, tubes as they come; sRGB */\n:root {\n", oneLine(p.Title))
	for _, s := range swatches(p) {
		fmt.Fprintf(&b, "  --%s: %s; /* %s */\n", s.id, hexOf(rgb(s.hex)), oneLine(s.name))
	}
	b.WriteString("}\n")
	_, err := w.Write(b.Bytes())
	return err
}

// MassesCSV writes a row a mass: share of the picture; colour in the photo and
// colour to mix, each as CIELAB (D65, 2° observer), sRGB and value (0 to 10);
// notation, warmth, where its number stands, as shares of width and height; and
// the paint it takes, in ml, where the canvas was said.
func MassesCSV(w io.Writer, p *plan.Plan) error {
	rows := [][]string{{"mass", "name", "share", "accent", "photo_L", "photo_a", "photo_b", "photo_hex", "photo_value",
		"mix_L", "mix_a", "mix_b", "mix_hex", "mix_value", "notation", "warmth", "temperature", "x", "y", "ml"}}
	for _, m := range p.Masses {
		rows = append(rows, []string{
			strconv.Itoa(m.ID), oneLine(m.Name), figure(m.Share, 5), strconv.FormatBool(m.Accent),
			figure(m.Lab.L, 4), figure(m.Lab.A, 4), figure(m.Lab.B, 4), m.Hex, figure(m.Value, 2),
			figure(m.Aim.L, 4), figure(m.Aim.A, 4), figure(m.Aim.B, 4), m.AimHex, figure(m.AimValue, 2),
			m.Notation, figure(m.Warmth, 3), m.Temperature, figure(m.Anchor[0], 4), figure(m.Anchor[1], 4), volume(m.ML),
		})
	}
	return writeCSV(w, rows)
}

// MixesCSV writes a row for every tube of every mix, the tubes in the order to
// mix them: parts by volume; then of the whole mix its foretold colour (CIELAB,
// D65, 2° observer; sRGB), its difference from the colour to mix, the difference
// to be expected, and what nine mixes in ten stay within (ΔE00); and of the tube
// its ml, where the canvas was said.
func MixesCSV(w io.Writer, p *plan.Plan) error {
	rows := [][]string{{"mass", "mix", "choice", "suggested", "order", "tube", "ci", "parts", "L", "a", "b", "hex", "de00", "expected_de00", "p90_de00", "grade", "ml"}}
	for _, m := range p.Masses {
		for i, r := range m.Recipes {
			for k, q := range r.Parts {
				rows = append(rows, []string{
					strconv.Itoa(m.ID), strconv.Itoa(i + 1), r.Choice, strconv.FormatBool(r.Suggested), strconv.Itoa(k + 1), oneLine(q.Tube), q.CI, amount(q.Parts),
					figure(r.Lab.L, 4), figure(r.Lab.A, 4), figure(r.Lab.B, 4), r.Hex, figure(r.DE00, 3), figure(r.Expected, 3), figure(r.P90, 3), r.Grade, volume(q.ML),
				})
			}
		}
	}
	return writeCSV(w, rows)
}

// volume is in ml, empty where it was not worked out.
func volume(ml float64) string {
	if ml <= 0 {
		return ""
	}
	return figure(ml, 3)
}

// figure writes a number to so many places, empty where there is none.
func figure(v float64, places int) string {
	if !finite(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'f', places, 64)
}

// writeCSV follows RFC 4180, with a line feed for the end of a line.
func writeCSV(w io.Writer, rows [][]string) error {
	c := csv.NewWriter(w)
	if err := c.WriteAll(rows); err != nil {
		return fmt.Errorf("draw: writing CSV: %w", err)
	}
	return nil
}

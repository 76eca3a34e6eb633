package draw

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"paintout/cmd/internal/plan"
)

// Names that would break a file that took them as they are.
func fixtureOfNames() *plan.Plan {
	p, _ := fixture(60, 40, 0)
	p.Title = "Tarn\nHollow */ body{display:none}"
	p.Masses[0].Name = "pale\r\n255 0 0\tred"
	p.Masses[1].Name = `a "quoted", b`
	for i := range p.Box.Tubes {
		if t := &p.Box.Tubes[i]; t.Name == "Weir Green" {
			t.Name = "</style>*/ Жар"
		}
	}
	p.Box.Tubes = append(p.Box.Tubes, plan.Tube{Name: "Gorse yellow!", Hex: "#fefe00", UsedIn: []int{1}})
	return p
}

// readGPL reads a palette by what GIMP's developers say of the format
// (developer.gimp.org, "GIMP Palette file format", from memory): a first line
// "GIMP Palette"; header lines "Name:" and "Columns:"; then a line a colour, three
// numbers 0 to 255 and a name, with "#" for comments. It shares nothing with the
// writer.
func readGPL(t *testing.T, text string) (name string, columns int, colours []string, names []string) {
	t.Helper()
	lines := strings.Split(text, "\n")
	if lines[0] != "GIMP Palette" {
		t.Fatalf("the first line is %q", lines[0])
	}
	for _, l := range lines[1:] {
		switch {
		case strings.HasPrefix(l, "Name:") && name == "":
			name = strings.TrimSpace(l[5:])
		case strings.HasPrefix(l, "Columns:") && columns == 0:
			n, err := strconv.Atoi(strings.TrimSpace(l[8:]))
			if err != nil || n < 0 || n > 255 {
				t.Fatalf("%q: %v", l, err)
			}
			columns = n
		case strings.HasPrefix(l, "#") || l == "":
		default:
			var r, g, b int
			fields := strings.Fields(l)
			if len(fields) < 3 {
				t.Fatalf("a line that is no colour: %q", l)
			}
			for i, v := range []*int{&r, &g, &b} {
				n, err := strconv.Atoi(fields[i])
				if err != nil || n < 0 || n > 255 {
					t.Fatalf("a line that is no colour: %q", l)
				}
				*v = n
			}
			_, rest, _ := strings.Cut(l, "\t")
			colours = append(colours, fmt.Sprintf("#%02x%02x%02x", r, g, b))
			names = append(names, rest)
		}
	}
	return name, columns, colours, names
}

func exported(t *testing.T, f func(io.Writer, *plan.Plan) error, p *plan.Plan) string {
	t.Helper()
	var b bytes.Buffer
	if err := f(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestGPLReadsBack(t *testing.T) {
	p := fixtureOfNames()
	name, columns, got, names := readGPL(t, exported(t, SwatchesGPL, p))
	if !strings.HasPrefix(name, "Tarn Hollow") || columns != len(p.Masses) {
		t.Errorf("name %q, %d columns", name, columns)
	}
	n := len(p.Masses)
	if len(got) != 3*n+9 { // of the ten tubes eight are used, and the one added
		t.Errorf("%d colours, want three for each of %d masses and nine tubes", len(got), n)
	}
	for i, k := range lightFirst(p.Masses) {
		m := &p.Masses[k]
		if got[i] != m.AimHex || got[n+i] != m.Hex || got[2*n+i] != m.First().Hex {
			t.Errorf("mass %d: %s, %s, %s; want %s, %s, %s", m.ID, got[i], got[n+i], got[2*n+i], m.AimHex, m.Hex, m.First().Hex)
		}
		if !strings.HasPrefix(names[i], fmt.Sprint(m.ID, " ")) || !strings.HasPrefix(names[n+i], fmt.Sprint(m.ID, " ")) {
			t.Errorf("mass %d is called %q", m.ID, names[i])
		}
	}
}

// The style sheet is one rule of custom properties (CSS Custom Properties, level
// 1), each name once, whatever the tubes are called.
func TestCSSReadsBack(t *testing.T) {
	p := fixtureOfNames()
	text := exported(t, SwatchesCSS, p)
	if strings.Contains(text, "</") {
		t.Errorf("a name could end a style element:\n%s", text)
	}
	bare := regexp.MustCompile(`(?s)/\*.*?\*/`).ReplaceAllString(text, "")
	rule := regexp.MustCompile(`^\s*:root\s*\{([^{}]*)\}\s*$`).FindStringSubmatch(bare)
	if rule == nil {
		t.Fatalf("not one rule:\n%s", bare)
	}
	got := map[string]string{}
	for d := range strings.SplitSeq(strings.TrimSpace(rule[1]), ";") {
		if strings.TrimSpace(d) == "" {
			continue
		}
		m := regexp.MustCompile(`^\s*(--[\p{L}\p{Nd}-]+):\s*(#[0-9a-f]{6})\s*$`).FindStringSubmatch(d)
		if m == nil {
			t.Fatalf("not a colour: %q", d)
		}
		if got[m[1]] != "" {
			t.Errorf("%s stands twice", m[1])
		}
		got[m[1]] = m[2]
	}
	for i := range p.Masses {
		m := &p.Masses[i]
		for name, want := range map[string]string{"mass": m.AimHex, "photo": m.Hex, "mix": m.First().Hex} {
			if g := got[fmt.Sprintf("--%s-%d", name, m.ID)]; g != want {
				t.Errorf("--%s-%d is %s, want %s", name, m.ID, g, want)
			}
		}
	}
	for name, want := range map[string]string{"--tube-gorse-yellow-2": "#fefe00", "--tube-style-жар": p.Box.Tubes[6].Hex} {
		if got[name] != want {
			t.Errorf("%s is %q, want %s", name, got[name], want)
		}
	}
}

func TestCSVReadsBack(t *testing.T) {
	p := fixtureOfNames()
	read := func(f func(io.Writer, *plan.Plan) error) []map[string]string {
		t.Helper()
		rows, err := csv.NewReader(strings.NewReader(exported(t, f, p))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		var out []map[string]string
		for _, r := range rows[1:] {
			m := map[string]string{}
			for i, v := range r {
				m[rows[0][i]] = v
			}
			out = append(out, m)
		}
		return out
	}
	number := func(s string) float64 {
		t.Helper()
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	masses := read(MassesCSV)
	if len(masses) != len(p.Masses) {
		t.Fatalf("%d rows", len(masses))
	}
	for i, r := range masses {
		m := p.Masses[i]
		if r["mass"] != fmt.Sprint(m.ID) || r["mix_hex"] != m.AimHex || r["photo_hex"] != m.Hex ||
			math.Abs(number(r["mix_L"])-m.Aim.L) > 1e-4 || math.Abs(number(r["photo_b"])-m.Lab.B) > 1e-4 || math.Abs(number(r["share"])-m.Share) > 1e-5 {
			t.Errorf("row %d: %v", i+1, r)
		}
	}
	if masses[1]["name"] != `a "quoted", b` {
		t.Errorf("got %q", masses[1]["name"])
	}
	n := 0
	mixes := read(MixesCSV)
	for _, m := range p.Masses {
		for i, r := range m.Recipes {
			for k, q := range r.Parts {
				row := mixes[n]
				if row["mass"] != fmt.Sprint(m.ID) || row["mix"] != fmt.Sprint(i+1) || row["order"] != fmt.Sprint(k+1) || row["tube"] != oneLine(q.Tube) ||
					number(row["parts"]) != q.Parts || math.Abs(number(row["p90_de00"])-r.P90) > 1e-3 || row["hex"] != r.Hex {
					t.Errorf("row %d: %v", n+1, row)
				}
				n++
			}
		}
	}
	if n != len(mixes) {
		t.Errorf("%d rows for %d parts", len(mixes), n)
	}
}

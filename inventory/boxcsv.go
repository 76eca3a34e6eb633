package inventory

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v4"

	"paintout/inventory/optics"
)

// A box as a table, to be looked at and edited in a spreadsheet: one row for
// each tube, with the columns
//
//	tube,ci,medium,size_ml,left_ml,strength,opacity,tinting,lightfast,white,caution,note,box,finish
//
// An empty cell is what the library says of the code, or nothing; a dash is
// 'none' where the library would have a word. Several codes are joined by +.
// Where tubes have readings or constants of their own, columns readings and
// constants hold them as in a box file, so that nothing is lost on the way.
var boxColumns = []struct{ column, key string }{
	{"tube", "name"}, {"ci", "pigment"}, {"medium", "medium"}, {"size_ml", "size"}, {"left_ml", "left"},
	{"strength", "strength"}, {"opacity", "opacity"}, {"tinting", "tinting"}, {"lightfast", "lightfast"},
	{"white", "white"}, {"caution", "caution"}, {"note", "note"}, {"box", ""}, {"finish", ""},
	{"readings", "readings"}, {"constants", "constants"},
}

// boxSynonyms are other names of those columns.
var boxSynonyms = map[string]string{
	"name": "tube", "pigment": "ci", "pigments": "ci", "code": "ci", "codes": "ci", "size": "size_ml", "left": "left_ml",
	"lightfastness": "lightfast", "notes": "note",
}

// WriteCSV writes the box as a table that [ReadBoxCSV] reads back as the same
// box.
func (b *Box) WriteCSV(w io.Writer) error {
	var rows [][]string
	finish := ""
	if b.Finish != nil {
		finish = b.Finish.String()
	}
	own := false
	for _, t := range b.Tubes {
		row := make([]string, len(boxColumns))
		m := t.node()
		for i, c := range boxColumns {
			for j := 0; j+1 < len(m.Content); j += 2 {
				if m.Content[j].Value != c.key || c.key == "" {
					continue
				}
				s, err := boxCell(c.key, m.Content[j+1])
				if err != nil {
					return fmt.Errorf("tube %q cannot be written as a table: %w", t.Name, err)
				}
				row[i] = s
				own = own || c.key == "readings" || c.key == "constants"
			}
			switch c.column {
			case "box":
				row[i] = b.Name
			case "finish":
				row[i] = finish
			}
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 { // a row without a tube keeps the name
		row := make([]string, len(boxColumns))
		row[12], row[13] = b.Name, finish
		rows = append(rows, row)
	}
	n := len(boxColumns)
	if !own {
		n -= 2
	}
	var head []string
	for _, c := range boxColumns {
		head = append(head, c.column)
	}
	var out bytes.Buffer
	writeRow(&out, head[:n])
	for _, row := range rows {
		writeRow(&out, row[:n])
	}
	_, err := w.Write(out.Bytes())
	return err
}

// boxCell is a value of a box file as a cell.
func boxCell(key string, v *yaml.Node) (string, error) {
	switch {
	case key == "readings" || key == "constants":
		flow(v)
		data, err := yaml.Dump(&yaml.Node{Kind: yaml.DocumentNode, Content: []*yaml.Node{v}}, yaml.WithLineWidth(-1))
		return strings.TrimSpace(string(data)), err
	case v.Kind == yaml.SequenceNode:
		var codes []string
		for _, c := range v.Content {
			codes = append(codes, c.Value)
		}
		return strings.Join(codes, "+"), nil
	case key == "size" || key == "left":
		return strings.TrimSuffix(v.Value, " ml"), nil
	case key == "white":
		return map[string]string{"true": "yes", "false": "no"}[v.Value], nil
	case v.Value == "" || isNone(v.Value):
		return "-" + v.Value, nil
	}
	return v.Value, nil
}

// flow has a node written on one line without comments.
func flow(n *yaml.Node) {
	n.HeadComment, n.LineComment, n.FootComment = "", "", ""
	if n.Kind != yaml.ScalarNode {
		n.Style = yaml.FlowStyle
	}
	for _, c := range n.Content {
		flow(c)
	}
}

// writeRow writes cells as CSV (RFC 4180), in quotes also where # would make
// the row a comment.
func writeRow(out *bytes.Buffer, cells []string) {
	for i, s := range cells {
		if i > 0 {
			out.WriteByte(',')
		}
		if strings.ContainsAny(s, "\",\r\n") || strings.HasPrefix(s, "#") || strings.TrimSpace(s) != s {
			s = `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
		}
		out.WriteString(s)
	}
	out.WriteString("\n")
}

// IsBoxCSV says whether a text is a table of tubes rather than of readings: its
// header has tube or ci, and neither parts nor colours.
func IsBoxCSV(data []byte) bool {
	rd := &reader{out: &Readings{}}
	data, err := rd.decode(data)
	if err != nil || isXML(data) || isCGATS(data) || rd.split(data, true) != nil && rd.head == nil {
		return false
	}
	tube := false
	for _, h := range rd.head {
		key := columnKey(h)
		tube = tube || slices.Contains([]string{"tube", "name", "ci", "pigment"}, key)
		if slices.Contains([]string{"paint_parts", "white_parts", "black_parts", "l", "a", "b"}, key) || wavelengthHead.MatchString(strings.ToLower(h)) {
			return false
		}
	}
	return tube
}

// Changes says what a table of tubes did to a box, by the tubes' names.
type Changes struct {
	Added, Changed, Same []string
	Notes                []string // columns not used and the like
}

// ReadBoxCSV reads a table of tubes into a copy of present, which may be nil:
// a tube of the box takes what the table's columns say of it and keeps what
// they do not speak of, others are added, and tubes that the table does not
// name stay. name stands for the file in errors, which say the line and the
// mend.
func ReadBoxCSV(name string, r io.Reader, present *Box) (*Box, *Changes, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxBoxBytes+1))
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(data) > maxBoxBytes {
		return nil, nil, fmt.Errorf("%s: over %d MiB, too long for a table of tubes", name, maxBoxBytes>>20)
	}
	t := &boxTable{reader: reader{out: &Readings{Name: name}}, r: boxReader{name: name}}
	if err := t.parse(data); err != nil {
		return nil, nil, err
	}
	b := &Box{}
	if present != nil {
		*b = *present
	}
	if err := t.top(b, present != nil); err != nil {
		return nil, nil, err
	}
	list, err := t.revisions(b)
	if err != nil {
		return nil, nil, err
	}
	out, err := t.r.revised(b, list)
	if err != nil {
		if !strings.HasPrefix(err.Error(), name+":") {
			err = fmt.Errorf("%s: %w", name, err)
		}
		return nil, nil, err
	}
	c := &Changes{Notes: append(t.out.Notes, out.Notes...)}
	out.Notes = slices.Concat(b.Notes, out.Notes)
	for _, v := range list {
		if v.of == nil {
			c.Added = append(c.Added, undashed(v.to["name"]))
			continue
		}
		if at := slices.Index(b.Tubes, v.of); sameTube(out.Tubes[at], v.of) {
			out.Tubes[at] = v.of
			c.Same = append(c.Same, v.of.Name)
		} else {
			c.Changed = append(c.Changed, v.of.Name)
		}
	}
	return out, c, nil
}

// boxTable reads a table of tubes.
type boxTable struct {
	reader
	r boxReader
}

func (t *boxTable) parse(data []byte) error {
	data, err := t.decode(data)
	if err != nil {
		return err
	}
	if err := t.split(data, false); err != nil {
		return err
	}
	if t.head == nil {
		return fmt.Errorf("%s: empty; a table of tubes needs a header tube,ci and a row for each", t.out.Name)
	}
	t.col = map[string]int{}
	var unused []string
	for i, h := range t.head {
		key := columnKey(h)
		if s, ok := boxSynonyms[key]; ok {
			key = s
		}
		if key == "" {
			continue
		}
		if !slices.ContainsFunc(boxColumns, func(c struct{ column, key string }) bool { return c.column == key }) {
			if len(key) > 3 {
				var columns []string
				for _, c := range boxColumns {
					columns = append(columns, c.column)
				}
				if near := nearestKey(key, columns); near != "" {
					return t.failf(t.headAt, "unknown column %q; did you mean %s?", clip(h), near)
				}
			}
			unused = append(unused, clip(oneLine(h)))
			continue
		}
		if _, twice := t.col[key]; twice {
			return t.failf(t.headAt, "column %s stands twice; keep one", key)
		}
		t.col[key] = i
	}
	_, tube := t.col["tube"]
	if _, ci := t.col["ci"]; !tube && !ci {
		return t.failf(t.headAt, "no column tube; the header is like tube,ci,medium,size_ml,left_ml,note")
	}
	if len(unused) > 0 {
		if len(unused) > 8 {
			unused = append(unused[:8], "…")
		}
		t.note("columns not used: %s", strings.Join(unused, ", "))
	}
	return nil
}

// top takes the box's own name and finish from the table; a box that is there
// keeps its own.
func (t *boxTable) top(b *Box, there bool) error {
	said := map[string]string{}
	for row, line := range t.lines {
		for _, c := range []string{"box", "finish"} {
			v := strings.TrimSpace(t.cell(row, c))
			if v == "" || v == said[c] {
				continue
			}
			if said[c] != "" {
				return t.failf(line, "the box's %s is %q here and %q above; a table is of one box", strings.Replace(c, "box", "name", 1), clip(v), clip(said[c]))
			}
			said[c] = v
			n := &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: v, Line: line}
			if c == "box" {
				name, err := t.r.text(n, "the box's name", maxNameRunes)
				if err != nil {
					return err
				}
				if !there {
					b.Name = name
				}
				continue
			}
			f, err := optics.ParseFinish(strings.ToLower(v))
			if err != nil {
				return t.failf(line, "%v", err)
			}
			if b.Finish == nil {
				b.Finish = &f
			}
		}
	}
	return nil
}

// revisions are the rows as changes of the box.
func (t *boxTable) revisions(b *Box) ([]revision, error) {
	var out []revision
	for row, line := range t.lines {
		f, any := Fields{}, false
		for _, c := range boxColumns {
			i, ok := t.col[c.column]
			if !ok || c.key == "" {
				continue
			}
			v := strings.TrimSpace(t.at(row, i))
			any = any || v != ""
			if c.column == "size_ml" || c.column == "left_ml" || c.column == "strength" {
				v = strings.ReplaceAll(v, "\u00a0", " ")
				if t.comma != ',' {
					v = strings.Replace(v, ",", ".", 1)
				}
			}
			f[c.key] = v
		}
		if !any {
			continue
		}
		if f["name"] == "" && f["pigment"] == "" {
			return nil, t.failf(line, "a row without a tube; give its name and the pigment code on its label")
		}
		v := revision{to: f, line: line}
		name := undashed(f["name"])
		if name == "" { // the codes are its name
			codes, _ := parseCodes(f["pigment"])
			name = strings.Join(codes, "+")
			f["name"] = name
		}
		v.of = b.Tube(name)
		if v.of != nil {
			delete(f, "name")
			if slices.ContainsFunc(out, func(w revision) bool { return w.of == v.of }) {
				at := slices.IndexFunc(out, func(w revision) bool { return w.of == v.of })
				return nil, t.failf(line, "tube %q stands twice, first on line %d; give each its own name", v.of.Name, out[at].line)
			}
		}
		out = append(out, v)
	}
	return out, nil
}

// WriteReadings writes the readings that the box's tubes hold, as a table that
// [ReadReadings] reads, and says how many there are.
func (b *Box) WriteReadings(w io.Writer) (int, error) {
	type line struct {
		t *Tube
		r *Reading
	}
	var list []line
	black, whiteTube, blackTube, labs, spectra, doubt, wet := false, false, false, false, false, false, false
	for _, t := range b.Tubes {
		for i := range t.Readings {
			r := &t.Readings[i]
			list = append(list, line{t, r})
			black = black || r.Black != 0
			whiteTube, blackTube = whiteTube || r.WhiteTube != "", blackTube || r.BlackTube != ""
			doubt, wet = doubt || r.Uncertainty != 0, wet || r.Wet
			labs, spectra = labs || r.Spectrum == nil, spectra || r.Spectrum != nil
		}
	}
	head := []string{"tube", "ci", "paint_parts", "white_parts"}
	also := func(yes bool, names ...string) {
		if yes {
			head = append(head, names...)
		}
	}
	also(black, "black_parts")
	also(whiteTube, "white")
	also(blackTube, "black")
	also(true, "basis", "specular")
	also(labs, "illuminant", "L", "a", "b")
	also(doubt, "uncertainty")
	also(wet, "state")
	if spectra || len(list) == 0 {
		for i := range optics.Bands {
			head = append(head, strconv.Itoa(optics.Wavelength(i)))
		}
	}
	var out bytes.Buffer
	writeRow(&out, head)
	num := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	for _, l := range list {
		said := map[string]string{
			"tube": l.t.Name, "ci": l.t.Code(), "white": l.r.WhiteTube, "black": l.r.BlackTube,
			"paint_parts": num(l.r.Paint), "white_parts": num(l.r.White), "black_parts": num(l.r.Black),
			"basis": "volume", "specular": map[optics.Finish]string{optics.Included: "in", optics.Excluded: "out"}[l.r.Finish],
		}
		if l.r.Mass {
			said["basis"] = "mass"
		}
		said["state"] = map[bool]string{true: "wet", false: "dry"}[l.r.Wet]
		if l.t.White && l.r.Masstone() { // the white's own row
			said["paint_parts"], said["white_parts"] = "0", num(l.r.Paint)
		}
		if s := l.r.Spectrum; s != nil {
			for i, v := range s {
				said[strconv.Itoa(optics.Wavelength(i))] = num(v)
			}
		} else {
			said["illuminant"] = l.r.Illuminant.String()
			said["L"], said["a"], said["b"] = num(l.r.Lab.L), num(l.r.Lab.A), num(l.r.Lab.B)
			if l.r.Uncertainty != 0 {
				said["uncertainty"] = num(l.r.Uncertainty)
			}
		}
		var row []string
		for _, h := range head {
			row = append(row, said[h])
		}
		writeRow(&out, row)
	}
	_, err := w.Write(out.Bytes())
	return len(list), err
}

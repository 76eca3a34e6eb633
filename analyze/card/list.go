package card

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"paintout/analyze/photo"
)

// A Swatch is one row of a swatch list: where it lies in the picture, and what
// the list says of it.
type Swatch struct {
	Line   int
	Number int         // of a place that was found; 0 where Place is given
	Place  photo.Point // where Number is 0
	Cells  []string    // as the list's Head has them
}

// A List is a table of swatches: a table of readings whose colours are still
// in the picture.
type List struct {
	Name     string
	Comma    rune
	Head     []string // of the columns that are not places
	Swatches []Swatch
}

// Limits of a list: far above any real one.
const (
	maxListBytes   = 1 << 20
	maxListRows    = 1000
	maxListColumns = 100
	maxPlaceNumber = 100000
)

// fromThePhoto are columns that the picture itself fills.
var fromThePhoto = []string{"l", "a", "b", "uncertainty", "illuminant"}

// ParseList reads a swatch list: a table (commas, semicolons or tabs between,
// # before a comment) with a column place, the number of a place that was
// found, or columns x and y, in pixels or with a % in percent of the picture;
// every other column belongs to the readings (tube, ci, paint_parts,
// white_parts and so on) and is kept as it is. Rows that name no tube and no
// parts are passed over, so that a list of all places can be filled in where
// there is something to say. name stands for the file in errors.
func ParseList(name string, data []byte) (*List, error) {
	l := &List{Name: name, Comma: ','}
	failf := func(line int, format string, args ...any) error {
		return fmt.Errorf("%s:%d: %s", name, line, fmt.Sprintf(format, args...))
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	switch {
	case len(data) > maxListBytes:
		return nil, fmt.Errorf("%s: over %d MiB, too long for a list of swatches", name, maxListBytes>>20)
	case !utf8.Valid(data) || bytes.IndexByte(data, 0) >= 0:
		return nil, fmt.Errorf("%s: not a text file in UTF-8; save the table as CSV UTF-8", name)
	}
	if !bytes.Contains(data, []byte("\n")) { // old spreadsheets
		data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	}
	for line := range bytes.Lines(data) {
		if s := strings.TrimSpace(string(line)); s != "" && s[0] != '#' {
			for _, c := range []rune{';', '\t'} {
				if strings.Count(s, string(c)) > strings.Count(s, string(l.Comma)) {
					l.Comma = c
				}
			}
			break
		}
	}
	r := csv.NewReader(bytes.NewReader(data))
	r.Comma, r.Comment, r.FieldsPerRecord = l.Comma, '#', -1
	var keep []int // columns that are not places
	at := map[string]int{}
	headed := false
	for {
		rec, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			line := 0
			if pe := (*csv.ParseError)(nil); errors.As(err, &pe) {
				line = pe.StartLine
			}
			return nil, failf(line, "a quotation mark is out of place; put names that hold one in quotes, and double a quote inside")
		}
		line, _ := r.FieldPos(0)
		for i := range rec {
			rec[i] = strings.TrimSpace(rec[i])
		}
		if !slices.ContainsFunc(rec, func(s string) bool { return s != "" }) {
			continue
		}
		if !headed {
			if headed = true; len(rec) > maxListColumns {
				return nil, failf(line, "%d columns; a list of swatches has at most %d", len(rec), maxListColumns)
			}
			for i, h := range rec {
				key := strings.ToLower(h)
				switch {
				case key == "place" || key == "x" || key == "y" || key == "tube" || strings.HasSuffix(key, "_parts"):
					if _, twice := at[key]; twice {
						return nil, failf(line, "column %s stands twice; keep one", h)
					}
					at[key] = i
				case slices.Contains(fromThePhoto, key):
					return nil, failf(line, "column %s comes from the photo; take it out", h)
				}
				if key != "place" && key != "x" && key != "y" && key != "" && key != "seen" {
					keep = append(keep, i)
					l.Head = append(l.Head, h)
				}
			}
			_, x := at["x"]
			_, y := at["y"]
			_, place := at["place"]
			_, tube := at["tube"]
			if x != y || !x && !place {
				return nil, failf(line, "nothing says where the swatches are; give a column place, or x and y")
			}
			if !tube {
				return nil, failf(line, "no column tube; the header needs tube,ci,paint_parts,white_parts and place, or x,y")
			}
			continue
		}
		cell := func(key string) string {
			i, ok := at[key]
			if !ok || i >= len(rec) {
				return ""
			}
			return rec[i]
		}
		if cell("tube") == "" && cell("paint_parts") == "" && cell("white_parts") == "" && cell("black_parts") == "" {
			continue
		}
		if len(l.Swatches) == maxListRows {
			return nil, failf(line, "more than %d swatches; split the list", maxListRows)
		}
		s := Swatch{Line: line}
		switch x, y, n := cell("x"), cell("y"), cell("place"); {
		case x != "" && y != "":
			if l.Comma != ',' {
				x, y = strings.Replace(x, ",", ".", 1), strings.Replace(y, ",", ".", 1)
			}
			if s.Place, err = photo.ParsePoint(x + "," + y); err != nil {
				return nil, failf(line, "%v", err)
			}
		case x+y != "":
			return nil, failf(line, "x without y, or y without x; give both")
		case n != "":
			if s.Number, err = strconv.Atoi(n); err != nil || s.Number < 1 || s.Number > maxPlaceNumber {
				return nil, failf(line, "place %q is not the number of a place; give one of the overview's numbers, or x and y", short(n))
			}
		default:
			return nil, failf(line, "nothing says where this swatch is; give its place, or x and y")
		}
		for _, i := range keep {
			c := ""
			if i < len(rec) {
				c = rec[i]
			}
			s.Cells = append(s.Cells, c)
		}
		l.Swatches = append(l.Swatches, s)
	}
	if len(l.Swatches) == 0 {
		return nil, fmt.Errorf("%s: no swatches named; give one row for each: tube,ci,paint_parts,white_parts and place, or x,y", name)
	}
	return l, nil
}

func short(s string) string {
	if r := []rune(s); len(r) > 30 {
		return string(r[:30]) + "…"
	}
	return s
}

// Readings is the list with colours in place of places: a table of readings,
// whose rows stand on the same lines. There is one place for each swatch.
// Colours that no table of readings may hold are brought to its limits.
func (l *List) Readings(places []Place) []byte {
	var b bytes.Buffer
	line := 1
	put := func(at int, cells []string) {
		for ; line < at; line++ {
			b.WriteString("\n")
		}
		w := csv.NewWriter(&b)
		w.Comma = l.Comma
		if err := w.Write(cells); err != nil {
			panic("card: " + err.Error()) // the separator is valid and memory takes all
		}
		w.Flush()
		line += strings.Count(strings.Join(cells, ""), "\n") + 1
	}
	put(1, append(slices.Clone(l.Head), "illuminant", "L", "a", "b", "uncertainty"))
	num := func(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100+0, 'f', -1, 64) }
	for i, s := range l.Swatches {
		c := places[i].Lab
		put(s.Line, append(slices.Clone(s.Cells), "D65", num(min(max(c.L, 0), 105)), num(min(max(c.A, -160), 160)), num(min(max(c.B, -160), 160)), num(places[i].Uncertainty)))
	}
	return b.Bytes()
}

// ParsePlace reads where a swatch is: a number of the overview, or x,y.
func ParsePlace(s string) (number int, pt photo.Point, err error) {
	s = strings.TrimSpace(s)
	if strings.Contains(s, ",") {
		pt, err = photo.ParsePoint(s)
		return 0, pt, err
	}
	number, err = strconv.Atoi(s)
	if err != nil || number < 1 || number > maxPlaceNumber {
		return 0, pt, fmt.Errorf("%q is no place: write a number of the overview (3), or x,y in pixels (1200,800) or percent (40%%,62%%)", short(s))
	}
	return number, pt, nil
}

// Swatches reads the colour of each swatch of a list, in its order.
func (c *Card) Swatches(l *List) ([]Place, error) {
	var out []Place
	for _, s := range l.Swatches {
		var q Place
		var err error
		if s.Number > 0 {
			q, err = c.Numbered(s.Number)
		} else {
			q, err = c.At(s.Place)
		}
		if err != nil {
			if s.Line > 0 {
				err = fmt.Errorf("%s:%d: %w", l.Name, s.Line, err)
			}
			return nil, err
		}
		out = append(out, q)
	}
	return out, nil
}

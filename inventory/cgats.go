package inventory

import (
	"bytes"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"paintout/inventory/optics"
)

// CGATS.17 text (ANSI CGATS.17, the text form of ISO 28178): keywords with
// their values, the names of the fields between BEGIN_DATA_FORMAT and
// END_DATA_FORMAT, the values between BEGIN_DATA and END_DATA; cells apart by
// white space, text with spaces in double quotes, # before a comment; further
// tables after the first keep its keywords and fields unless they give their
// own. The standards themselves are not free: the structure and the names of
// keywords and fields are those of Annex J of ANSI CGATS.5 as the documentation
// of public readers gives it, WEIGHTING_FUNCTION and MEASUREMENT_GEOMETRY from
// memory, and the spellings of wavelengths those that instruments write.
//
// Read are SAMPLE_NAME, STRING or SAMPLE_ID (see [sample] for how it names tube
// and parts) or fields TUBE, CI, PAINT_PARTS, WHITE_PARTS, BLACK_PARTS, WHITE,
// BLACK, STATE; LAB_L, LAB_A, LAB_B; reflectances in fields such as SPECTRAL_NM400,
// SPECTRAL_400, SPEC_400, nm400, R_400, 400, percent in SPECTRAL_PCT400 and
// fractions in SPECTRAL_DEC400, or in pairs SPECTRAL_NM, SPECTRAL_PCT or
// SPECTRAL_DEC; and as keywords or fields ILLUMINANT, OBSERVER, SPECULAR, BASIS.
// Where there are no such, the illuminant is that of ILLUMINATION_NAME, of
// WEIGHTING_FUNCTION or of MEASUREMENT_SOURCE, else D50 as ISO 13655 has it for
// graphic arts, with a note; and the geometry tells whether the surface's
// reflection is counted.

// isCGATS says whether a text has a CGATS table in it.
func isCGATS(data []byte) bool {
	for line := range bytes.Lines(data) {
		f := bytes.Fields(line)
		if len(f) > 0 && (bytes.EqualFold(f[0], []byte("BEGIN_DATA_FORMAT")) || bytes.EqualFold(f[0], []byte("BEGIN_DATA"))) {
			return true
		}
	}
	return false
}

const maxKeywords = 500

// cgatsTable is one table of a CGATS file.
type cgatsTable struct {
	words    map[string]string // values of keywords; those of earlier tables count until set again
	fields   []string
	fieldsAt int
	rows     [][]string
	lines    []int
	sets     int // NUMBER_OF_SETS, 0 if not said
	setsAt   int
}

func (rd *reader) cgats(data []byte) error {
	d50 := optics.D50
	rd.light, rd.place = &d50, "a keyword or field"
	tables, err := rd.cgatsTables(data)
	if err != nil {
		return err
	}
	var list []sample
	for i := range tables {
		s, err := rd.cgatsSamples(&tables[i])
		if err != nil {
			return err
		}
		list = append(list, s...)
	}
	if len(list) == 0 {
		return rd.failf(1, "no readings between BEGIN_DATA and END_DATA; export the measurements again")
	}
	return rd.samples(list)
}

func (rd *reader) cgatsTables(data []byte) ([]cgatsTable, error) {
	const (
		inWords = iota
		inFormat
		inData
	)
	var tables []cgatsTable
	t := cgatsTable{words: map[string]string{}}
	place, began, at := inWords, 0, 0
	for line := range strings.Lines(string(data)) {
		at++
		line = strings.TrimRight(line, "\r\n")
		cells, closed := cgatsCells(line, false)
		if !closed {
			return nil, rd.failf(at, "a quotation mark is not closed; put text that holds spaces between two of them")
		}
		if len(cells) == 0 {
			continue
		}
		word := strings.ToUpper(cells[0])
		switch {
		case place == inFormat && word == "END_DATA_FORMAT", place == inData && word == "END_DATA":
			if place == inData {
				if t.sets > 0 && t.sets != len(t.rows) {
					rd.note("line %d says %d samples, but there are %d: is the file whole?", t.setsAt, t.sets, len(t.rows))
				}
				if len(tables) == maxTubes {
					return nil, rd.failf(at, "more than %d tables; split the file by tube", maxTubes)
				}
				tables = append(tables, t)
				t.rows, t.lines, t.sets, t.words = nil, nil, 0, maps.Clone(t.words)
			}
			place = inWords
		case place == inFormat:
			t.fields = append(t.fields, cells...)
			if len(t.fields) > maxReadingsCols {
				return nil, rd.failf(at, "%d fields; a table of readings has at most %d", len(t.fields), maxReadingsCols)
			}
		case place == inData:
			// Values apart by tabs may hold spaces without quotes, or be empty.
			tabbed, _ := cgatsCells(line, true)
			for len(tabbed) > len(t.fields) && tabbed[len(tabbed)-1] == "" {
				tabbed = tabbed[:len(tabbed)-1]
			}
			if len(tabbed) == len(t.fields) {
				cells = tabbed
			}
			// A set may run over several lines.
			if n := len(t.rows); n > 0 && len(t.rows[n-1]) < len(t.fields) && len(t.rows[n-1])+len(cells) <= len(t.fields) {
				t.rows[n-1] = append(t.rows[n-1], cells...)
				continue
			}
			if n := len(t.rows); n > 0 && len(t.rows[n-1]) < len(t.fields) {
				return nil, rd.failf(t.lines[n-1], "%d values for %d fields; each sample needs one for every field, and text with spaces needs quotes", len(t.rows[n-1]), len(t.fields))
			}
			if len(cells) > len(t.fields) {
				return nil, rd.failf(at, "%d values for %d fields; put text that holds spaces in quotes", len(cells), len(t.fields))
			}
			if len(t.rows) == maxReadingsRows {
				return nil, rd.failf(at, "more than %d readings; split the file by tube", maxReadingsRows)
			}
			t.rows, t.lines = append(t.rows, cells), append(t.lines, at)
		case word == "BEGIN_DATA_FORMAT":
			place, began = inFormat, at
			t.fields, t.fieldsAt = cells[1:], at
			if i := slices.IndexFunc(t.fields, func(f string) bool { return strings.EqualFold(f, "END_DATA_FORMAT") }); i >= 0 {
				t.fields, place = t.fields[:i], inWords
			}
		case word == "BEGIN_DATA":
			if len(t.fields) == 0 {
				return nil, rd.failf(at, "no fields before BEGIN_DATA; name them between BEGIN_DATA_FORMAT and END_DATA_FORMAT")
			}
			place, began = inData, at
		case word == "NUMBER_OF_SETS" && len(cells) > 1:
			t.sets, _ = strconv.Atoi(cells[1])
			t.setsAt = at
		case len(cells) > 1:
			v := strings.Join(cells[1:], " ")
			if word == "WEIGHTING_FUNCTION" {
				v += "; " + t.words[word] // one for each function; the newest is found first
			}
			if t.words[word] = v[:min(len(v), maxNameRunes)]; len(t.words) > maxKeywords {
				return nil, rd.failf(at, "more than %d keywords: this is no file of measurements", maxKeywords)
			}
		}
	}
	switch place {
	case inFormat:
		return nil, rd.failf(began, "BEGIN_DATA_FORMAT has no END_DATA_FORMAT; the file is cut short, export it again")
	case inData:
		return nil, rd.failf(began, "BEGIN_DATA has no END_DATA; the file is cut short, export it again")
	}
	for i := range tables {
		t := &tables[i]
		if n := len(t.rows); n > 0 && len(t.rows[n-1]) < len(t.fields) {
			return nil, rd.failf(t.lines[n-1], "%d values for %d fields; each sample needs one for every field, and text with spaces needs quotes", len(t.rows[n-1]), len(t.fields))
		}
	}
	return tables, nil
}

// cgatsCells splits a line at white space, or at tabs alone, outside double
// quotes; a quote within quotes is doubled. A # where a cell would begin starts
// a comment. closed is false if a quote is left open.
func cgatsCells(line string, tabs bool) (cells []string, closed bool) {
	apart := func(c byte) bool { return c == '\t' || !tabs && (c == ' ' || c == '\v' || c == '\f') }
	for i := 0; i < len(line); {
		for i < len(line) && (line[i] == ' ' || !tabs && apart(line[i])) {
			i++
		}
		if i == len(line) || line[i] == '#' {
			break
		}
		var cell strings.Builder
		quoted := line[i] == '"'
		if quoted {
			for i++; ; i++ {
				if i >= len(line) {
					return cells, false
				}
				if line[i] == '"' {
					if i++; i >= len(line) || line[i] != '"' {
						break
					}
				}
				cell.WriteByte(line[i])
			}
		}
		for i < len(line) && !apart(line[i]) {
			cell.WriteByte(line[i])
			i++
		}
		cells = append(cells, strings.TrimSpace(cell.String()))
		if i < len(line) && tabs {
			if i++; i == len(line) {
				cells = append(cells, "")
			}
		}
	}
	return cells, true
}

// cgatsFields gives the columns of a table of readings by the names they have
// here; wavelengths are in cgatsBand.
var cgatsFields = map[string]string{
	"TUBE": "tube", "CI": "ci", "PAINT_PARTS": "paint_parts", "WHITE_PARTS": "white_parts", "BLACK_PARTS": "black_parts",
	"BASIS": "basis", "SPECULAR": "specular", "ILLUMINANT": "illuminant", "OBSERVER": "observer", "WHITE": "white", "BLACK": "black",
	"STATE": "state", "UNCERTAINTY": "uncertainty",
	"LAB_L": "l", "LAB_A": "a", "LAB_B": "b",
}

var cgatsBand = regexp.MustCompile(`^(?:SPECTRAL_(?:NM|PCT|DEC)|SPECTRAL|SPECTRUM|SPEC|NM|R)?_*(\d{3,4}(?:\.\d+)?)(?:_?NM)?$`)

// cgatsSamples reads the samples of a table.
func (rd *reader) cgatsSamples(t *cgatsTable) ([]sample, error) {
	col := map[string]int{}
	type band struct {
		nm float64
		at int
	}
	var bands []band
	var pairs [][2]int // columns of a wavelength and of its reflectance
	var unused []string
	scale, pairNM := 0.0, -1
	name := -1
	names := []string{"SAMPLE_NAME", "STRING", "SAMPLE_ID", "SAMPLEID"} // best first
	rank := len(names)
	for i, f := range t.fields {
		f = strings.ToUpper(f)
		key, known := cgatsFields[f]
		m := cgatsBand.FindStringSubmatch(f)
		switch {
		case known:
			if _, twice := col[key]; twice {
				return nil, rd.failf(t.fieldsAt, "field %s stands twice; keep one", f)
			}
			col[key] = i
		case slices.Contains(names, f):
			if r := slices.Index(names, f); r < rank {
				name, rank = i, r
			}
		case f == "SPECTRAL_NM":
			pairNM = i
		case f == "SPECTRAL_PCT" || f == "SPECTRAL_DEC":
			if pairNM < 0 {
				return nil, rd.failf(t.fieldsAt, "field %s has no SPECTRAL_NM before it to say its wavelength", f)
			}
			pairs = append(pairs, [2]int{pairNM, i})
			pairNM = -1
		case m != nil:
			nm, err := strconv.ParseFloat(m[1], 64)
			if err != nil || nm < 200 || nm > 3000 {
				unused = append(unused, f)
				continue
			}
			bands = append(bands, band{nm, i})
		default:
			unused = append(unused, f)
			continue
		}
		s := 0.0
		if strings.HasPrefix(f, "SPECTRAL_PCT") {
			s = 100
		} else if strings.HasPrefix(f, "SPECTRAL_DEC") {
			s = 1
		}
		if s != 0 && scale != 0 && s != scale {
			return nil, rd.failf(t.fieldsAt, "some spectra are percent (SPECTRAL_PCT) and some fractions (SPECTRAL_DEC) in one table; write one of them")
		}
		scale = max(scale, s)
	}
	if _, tube := col["tube"]; name < 0 && !tube {
		return nil, rd.failf(t.fieldsAt, `no field names the samples; give SAMPLE_NAME, like "ultramarine blue PB29 1:4", or TUBE and PAINT_PARTS`)
	}
	labs := 0
	for _, c := range []string{"l", "a", "b"} {
		if _, ok := col[c]; ok {
			labs++
		}
	}
	switch {
	case labs%3 != 0:
		return nil, rd.failf(t.fieldsAt, "a Lab reading needs all three fields LAB_L, LAB_A and LAB_B")
	case labs == 0 && len(bands)+len(pairs) == 0:
		return nil, rd.failf(t.fieldsAt, "no colours; give LAB_L LAB_A LAB_B, or a field for each wavelength such as SPECTRAL_NM400")
	case len(bands) > 0 && len(pairs) > 0:
		return nil, rd.failf(t.fieldsAt, "wavelengths both in the fields' names and in SPECTRAL_NM; keep one kind")
	}
	if len(unused) > 0 {
		if len(unused) > 8 {
			unused = append(unused[:8], "…")
		}
		rd.note("fields not used: %s", strings.Join(unused, ", "))
	}
	usual := rd.cgatsConditions(t.words, labs > 0)
	var out []sample
	for i, row := range t.rows {
		s := sample{line: t.lines[i], head: t.fieldsAt, said: map[string]string{}, scale: scale}
		if name >= 0 {
			s.name = row[name]
		}
		for key, v := range usual {
			s.said[key] = v
		}
		for key, c := range col {
			if row[c] != "" {
				s.said[key] = row[c]
			}
		}
		s.said["illuminant"] = strings.ToUpper(s.said["illuminant"])
		for _, b := range bands {
			s.nm, s.refl = append(s.nm, b.nm), append(s.refl, row[b.at])
		}
		for _, p := range pairs {
			nm, err := strconv.ParseFloat(strings.Replace(row[p[0]], ",", ".", 1), 64)
			if err != nil || !(nm >= 200 && nm <= 3000) {
				return nil, rd.failf(s.line, "SPECTRAL_NM %q is not a wavelength in nm", clip(row[p[0]]))
			}
			s.nm, s.refl = append(s.nm, nm), append(s.refl, row[p[1]])
		}
		out = append(out, s)
	}
	return out, nil
}

var (
	lightName   = regexp.MustCompile(`\b([Dd](?:50|55|60|65|75)|A|C|F\d{1,2})\b`)
	sourceLight = regexp.MustCompile(`(?i)\billumination(?:_?name)?\s*=\s*([a-z]+\d*)`)
	sourceAngle = regexp.MustCompile(`(?i)\bobserver(?:_?angle)?\s*=\s*(\d+)`)
	weightLight = regexp.MustCompile(`(?i)\billuminant\s*[,=:]\s*([a-z]+\d*)`)
	weightAngle = regexp.MustCompile(`(?i)\bobserver\s*[,=:]\s*(\d+)`)
	onPaper     = regexp.MustCompile(`(?i)\bwhite_?base\s*=\s*paper`)
)

// cgatsConditions gives what the keywords say of all samples of a table, by
// the columns of a table of readings.
func (rd *reader) cgatsConditions(words map[string]string, labs bool) map[string]string {
	said := map[string]string{}
	pick := func(key string, found ...string) {
		for _, f := range found {
			if f = strings.TrimSpace(f); f != "" {
				said[key] = f
				return
			}
		}
	}
	match := func(re *regexp.Regexp, word string) string {
		if m := re.FindStringSubmatch(words[word]); m != nil {
			return m[1]
		}
		return ""
	}
	source := words["MEASUREMENT_SOURCE"]
	pick("illuminant", words["ILLUMINANT"], match(lightName, "ILLUMINATION_NAME"), match(weightLight, "WEIGHTING_FUNCTION"))
	if said["illuminant"] == "" && labs {
		pick("illuminant", match(sourceLight, "MEASUREMENT_SOURCE"))
		if said["illuminant"] == "" && !strings.Contains(source, "=") {
			pick("illuminant", match(lightName, "MEASUREMENT_SOURCE"))
		}
		if il := said["illuminant"]; il != "" {
			rd.note("L,a,b were read under %s, as MEASUREMENT_SOURCE says; a keyword ILLUMINANT would say it for sure", il)
		}
	}
	pick("observer", words["OBSERVER"], words["OBSERVER_ANGLE"], match(weightAngle, "WEIGHTING_FUNCTION"), match(sourceAngle, "MEASUREMENT_SOURCE"))
	pick("basis", words["BASIS"])
	pick("specular", words["SPECULAR"])
	if said["specular"] == "" {
		for _, k := range []string{"MEASUREMENT_GEOMETRY", "DIFFUSE_GEOMETRY", "GEOMETRY", "MEASUREMENT_SOURCE"} {
			if g := geometry(words[k]); g != "" {
				said["specular"] = g
				rd.geometryNote(k, words[k], g)
				break
			}
		}
	}
	if labs && onPaper.MatchString(source) {
		rd.note("L,a,b are relative to the paper (MEASUREMENT_SOURCE): such readings come out too light; measure against the instrument's white")
	}
	return said
}

// geometryNote says what was made of an instrument's geometry.
func (rd *reader) geometryNote(where, words, specular string) {
	s := "counted"
	if specular == "out" {
		s = "left out"
		if angled.MatchString(words) {
			s += " (on a matte film some of it is scattered into the reading)"
		}
	}
	rd.note("%s %q: the surface's reflection was taken as %s", where, clip(oneLine(words)), s)
}

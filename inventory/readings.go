package inventory

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	utf16 "golang.org/x/text/encoding/unicode"
	"gonum.org/v1/gonum/interp"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Reading is one measured drawdown that hides its ground: a tube's paint alone
// (masstone) or with white (a tint), black, or both, and the colour it has.
type Reading struct {
	Paint, White, Black float64 // parts of the tube's own paint, of white and of black
	WhiteTube           string  // which white, by its name in the box; empty means the box's white
	BlackTube           string  // which black; empty means the box's black
	Mass                bool    // parts are by mass, not by volume
	Wet                 bool    // read before it dried

	// Spectrum is the reflectance, 400–700 nm by 10, fractions of the perfect
	// diffuser. Where it is nil, Lab is the colour under Illuminant, 2° observer.
	Spectrum   *optics.Spectrum
	Lab        lab.Lab
	Illuminant optics.Illuminant
	Finish     optics.Finish // whether the surface's own reflection is in the reading
	// Uncertainty is what the instrument is worth, where Lab is given: one
	// standard deviation along each of lightness, chroma and hue, in steps of
	// CIEDE2000, on top of what the theory misses. 0 if not stated.
	Uncertainty float64

	Line int // line of the readings file; 0 if it was not read from one
}

// Masstone says whether the drawdown is the tube's paint alone.
func (r *Reading) Masstone() bool { return r.Paint > 0 && r.White == 0 && r.Black == 0 }

// Colour is the reading's colour under D65 if it is a spectrum, and under its
// own illuminant if it is a Lab reading.
func (r *Reading) Colour() lab.Lab {
	if r.Spectrum != nil {
		return r.Spectrum.Lab(optics.D65)
	}
	return r.Lab
}

// parts describes the drawdown in a painter's words: "masstone", "1 to 4 white".
func (r *Reading) parts() string {
	if r.Masstone() {
		return "masstone"
	}
	s := strconv.FormatFloat(r.Paint, 'g', 4, 64)
	if r.White > 0 {
		s += " to " + strconv.FormatFloat(r.White, 'g', 4, 64) + " white"
	}
	if r.Black > 0 {
		s += " to " + strconv.FormatFloat(r.Black, 'g', 4, 64) + " black"
	}
	return s
}

// MeasuredTube is all readings of one tube.
type MeasuredTube struct {
	Name string
	CI   []string // pigment codes; empty if the file gives none
	Line int      // where the tube first stands
	Rows []Reading
}

// Readings is what a readings file holds.
type Readings struct {
	Name     string // of the file
	Tubes    []MeasuredTube
	Notes    []string // what was assumed while it was read
	Unstated []string // which of illuminant, basis and specular had to be assumed
	Apart    []string // library paints with one of these in their Source tell nothing of tubes without a code
}

// Said is what the painter says of readings whose file does not say it; nil
// where it is not said. What the file states wins.
type Said struct {
	Illuminant *optics.Illuminant // of L,a,b
	Finish     *optics.Finish     // whether the surface's own reflection is in the readings
	Mass       *bool              // parts are by mass, not by volume
}

// Finish is the finish that all readings share, or nil.
func (r *Readings) Finish() *optics.Finish {
	var f *optics.Finish
	for i := range r.Tubes {
		for j := range r.Tubes[i].Rows {
			g := r.Tubes[i].Rows[j].Finish
			if f == nil {
				f = &g
			} else if *f != g {
				return nil
			}
		}
	}
	return f
}

// Limits of a readings file: far above any real one.
const (
	maxReadingsBytes = 4 << 20
	maxReadingsRows  = 5000
	maxReadingsCols  = 2000
	maxTubes         = 500
	maxNameRunes     = 200
	maxUncertainty   = 50.0
)

// How much of the spectrum a file must cover, nm: the ends of 400–700 are held
// from there, and nothing wider than maxStepNM is bridged.
const (
	lastStartNM, firstEndNM = 430.0, 670.0
	maxStepNM               = 25.0
)

// ReadReadings reads a file of measured drawdowns: CGATS.17 text (as ISO 28178
// has it), CxF3 (ISO 17972-1), or a table; which, its content says, not its
// name. For the first two see cgats.go and cxf.go. A table (CSV, commas,
// semicolons or tabs) has one row for each drawdown:
//
//   - tube, ci (may be empty), paint_parts, white_parts, and where used
//     black_parts: by volume unless a column basis says mass;
//   - L, a, b under D65, 2° observer, unless a column illuminant says D50, A or
//     C; or one column per wavelength in nm (400…700), fractions of the perfect
//     diffuser, or percent if any exceeds 1.5;
//   - specular, in or out: whether the surface's reflection is counted;
//   - white and black, to name the white and black used where there are several;
//   - state, wet or dry: paints are fitted to dry films, and wet ones say how a
//     tube dries;
//   - uncertainty, of L,a,b: one standard deviation in steps of CIEDE2000;
//   - observer, 2 or 10 degrees: of L,a,b only those for 2° are read.
//
// The white's own row has paint_parts 0. Columns may stand in any order;
// wavelengths at another step are interpolated to 10 nm. name stands for the
// file in errors, which say the line and the mend.
func ReadReadings(name string, r io.Reader) (*Readings, error) {
	return Said{}.ReadReadings(name, r)
}

// ReadReadings is [ReadReadings] with what the painter says of the file.
func (s Said) ReadReadings(name string, r io.Reader) (*Readings, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxReadingsBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(data) > maxReadingsBytes {
		return nil, fmt.Errorf("%s: over %d MiB, too long for a table of readings; split it by tube", name, maxReadingsBytes>>20)
	}
	rd := &reader{out: &Readings{Name: name}, said: s, tubes: map[string]int{}, last: -1, place: "a column"}
	if data, err = rd.decode(data); err != nil {
		return nil, err
	}
	switch {
	case isXML(data):
		err = rd.cxf(data)
	case isCGATS(data):
		err = rd.cgats(data)
	default:
		d65 := optics.D65
		rd.light = &d65
		if err = rd.table(data); err == nil {
			err = rd.read()
		}
	}
	if err == nil {
		err = rd.settle()
	}
	if err != nil {
		return nil, err
	}
	return rd.out, nil
}

// reader reads one table, or several one after the other, into out.
type reader struct {
	out    *Readings
	said   Said
	light  *optics.Illuminant // of L,a,b where neither file nor painter says it; nil: that is an error
	place  string             // where this kind of file states a thing
	comma  rune
	head   []string
	headAt int
	cells  [][]string
	lines  []int
	col    map[string]int
	nm     []float64 // wavelengths, ascending
	nmCol  []int
	scale  float64 // what a perfect diffuser reads: 1 or 100; 0 until known

	tubes                    map[string]int // places in out.Tubes, by lower-case name
	last                     int            // the tube of the row above
	count                    int            // rows read
	unlit, unbased, unshined int            // rows that do not say illuminant, basis, specular
	masses                   int
	labs                     int     // rows of L,a,b
	highest                  float64 // of their L
	firstLab                 int     // line
}

// how says where things are stated: "a column illuminant and a column basis".
func (rd *reader) how(what ...string) string {
	var s []string
	for _, w := range what {
		s = append(s, rd.place+" "+w)
	}
	return strings.Join(s, " and ")
}

// read takes the present table in.
func (rd *reader) read() error {
	if err := rd.header(); err != nil {
		return err
	}
	return rd.rows()
}

func (rd *reader) failf(line int, format string, args ...any) error {
	return fmt.Errorf("%s:%d: %s", rd.out.Name, line, fmt.Sprintf(format, args...))
}

func (rd *reader) note(format string, args ...any) {
	s := fmt.Sprintf(format, args...)
	if !slices.Contains(rd.out.Notes, s) {
		rd.out.Notes = append(rd.out.Notes, s)
	}
}

// decode brings the text to UTF-8 without a byte order mark.
func (rd *reader) decode(data []byte) ([]byte, error) {
	if len(data) > 1 && (data[0] == 0xff && data[1] == 0xfe || data[0] == 0xfe && data[1] == 0xff) {
		out, err := utf16.UTF16(utf16.LittleEndian, utf16.ExpectBOM).NewDecoder().Bytes(data)
		if err != nil {
			return nil, fmt.Errorf("%s: not readable as UTF-16 text; save the table as CSV UTF-8", rd.out.Name)
		}
		data = out
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if bytes.IndexByte(data, 0) >= 0 {
		return nil, fmt.Errorf("%s: not a text file; export the table as CSV", rd.out.Name)
	}
	if !utf8.Valid(data) {
		rd.note("the file is not UTF-8: accented letters were read as Windows-1252")
		out, err := charmap.Windows1252.NewDecoder().Bytes(data)
		if err != nil {
			return nil, fmt.Errorf("%s: not readable as text; save the table as CSV UTF-8", rd.out.Name)
		}
		data = out
	}
	// Old spreadsheets end lines with a bare carriage return.
	if !bytes.Contains(data, []byte("\n")) {
		data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	}
	return data, nil
}

// table splits a table of readings into cells.
func (rd *reader) table(data []byte) error {
	if err := rd.split(data, true); err != nil {
		return err
	}
	if rd.head == nil {
		return fmt.Errorf("%s: empty; it needs a header tube,ci,paint_parts,white_parts and L,a,b or wavelengths", rd.out.Name)
	}
	if len(rd.cells) == 0 {
		return rd.failf(rd.headAt, "no readings under the header; give one row for each drawdown")
	}
	return nil
}

// split splits the text into cells; the first line that is not empty or a
// comment (#) is the header. plain takes non-breaking spaces for spaces.
func (rd *reader) split(data []byte, plain bool) error {
	rd.comma = ','
	for line := range bytes.Lines(data) {
		s := strings.TrimSpace(string(line))
		if s == "" || strings.HasPrefix(s, "#") {
			continue
		}
		best := 0
		for _, c := range []rune{',', ';', '\t'} {
			if n := strings.Count(s, string(c)); n > best {
				rd.comma, best = c, n
			}
		}
		break
	}
	cr := csv.NewReader(bytes.NewReader(data))
	cr.Comma, cr.Comment, cr.FieldsPerRecord = rd.comma, '#', -1
	for {
		rec, err := cr.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			var pe *csv.ParseError
			if errors.As(err, &pe) {
				return rd.failf(pe.StartLine, "a quotation mark is out of place; put names that hold one or a comma in quotes, and double a quote inside")
			}
			return fmt.Errorf("%s: %w", rd.out.Name, err)
		}
		line, _ := cr.FieldPos(0)
		blank := true
		for i := range rec {
			if plain {
				rec[i] = strings.ReplaceAll(rec[i], "\u00a0", " ")
			}
			rec[i] = strings.TrimSpace(rec[i])
			blank = blank && rec[i] == ""
		}
		if blank {
			continue
		}
		if len(rec) > maxReadingsCols {
			return rd.failf(line, "%d columns; a table of readings has at most %d", len(rec), maxReadingsCols)
		}
		if rd.head == nil {
			rd.head, rd.headAt = rec, line
			continue
		}
		if len(rd.cells) == maxReadingsRows {
			return rd.failf(line, "more than %d readings; split the file by tube", maxReadingsRows)
		}
		for i := len(rd.head); i < len(rec); i++ {
			if rec[i] != "" {
				return rd.failf(line, "%d cells under a header of %d; put a name that holds a %q in quotes", len(rec), len(rd.head), string(rd.comma))
			}
		}
		rd.cells, rd.lines = append(rd.cells, rec), append(rd.lines, line)
	}
	return nil
}

// columnKey is the plain form of a column's name.
func columnKey(h string) string {
	return strings.NewReplacer(" ", "_", "-", "_", "*", "").Replace(strings.ToLower(strings.TrimSpace(h)))
}

var wavelengthHead = regexp.MustCompile(`^(?:r|nm|λ)?[ _]*(\d{3,4}(?:\.\d+)?)[ _]*(?:nm)?$`)

// readingColumns are the columns with a meaning, beside wavelengths.
var readingColumns = []string{"tube", "ci", "paint_parts", "white_parts", "black_parts", "basis", "l", "a", "b", "illuminant", "specular", "white", "black", "observer", "uncertainty", "state"}

func (rd *reader) header() error {
	rd.col, rd.nm, rd.nmCol = map[string]int{}, nil, nil
	var unused []string
	type band struct {
		nm  float64
		col int
	}
	var bands []band
	for i, h := range rd.head {
		key := columnKey(h)
		if key == "" {
			continue
		}
		if m := wavelengthHead.FindStringSubmatch(strings.ToLower(h)); m != nil {
			nm, err := strconv.ParseFloat(m[1], 64)
			if err == nil && nm >= 200 && nm <= 3000 {
				bands = append(bands, band{nm, i})
				continue
			}
		}
		if !slices.Contains(readingColumns, key) {
			unused = append(unused, h)
			continue
		}
		if _, twice := rd.col[key]; twice {
			return rd.failf(rd.headAt, "column %s stands twice; keep one", h)
		}
		rd.col[key] = i
	}
	for _, need := range []string{"tube", "paint_parts"} {
		if _, ok := rd.col[need]; !ok {
			return rd.failf(rd.headAt, "no column %s; the header needs tube,ci,paint_parts,white_parts and L,a,b or wavelengths 400…700", need)
		}
	}
	_, l := rd.col["l"]
	_, a := rd.col["a"]
	_, b := rd.col["b"]
	if l != a || a != b {
		return rd.failf(rd.headAt, "a Lab reading needs all three columns L, a and b")
	}
	if len(bands) == 0 && !l {
		return rd.failf(rd.headAt, "no colours; give columns L,a,b or one for each wavelength 400…700")
	}
	if len(unused) > 0 {
		if len(unused) > 8 {
			unused = append(unused[:8], "…")
		}
		rd.note("columns not used: %s", strings.Join(unused, ", "))
	}
	slices.SortFunc(bands, func(p, q band) int {
		switch {
		case p.nm < q.nm:
			return -1
		case p.nm > q.nm:
			return 1
		}
		return p.col - q.col
	})
	for i, w := range bands {
		if i > 0 && w.nm == bands[i-1].nm {
			return rd.failf(rd.headAt, "wavelength %g nm stands twice; keep one", w.nm)
		}
		rd.nm, rd.nmCol = append(rd.nm, w.nm), append(rd.nmCol, w.col)
	}
	return rd.checkGrid()
}

// checkGrid makes sure that the wavelengths can stand for 400–700 nm.
func (rd *reader) checkGrid() error {
	if len(rd.nm) == 0 {
		return nil
	}
	first, last := rd.nm[0], rd.nm[len(rd.nm)-1]
	if first > lastStartNM || last < firstEndNM {
		return rd.failf(rd.headAt, "wavelengths %g–%g nm; a spectrum must cover %g–%g nm (better 400–700), or give L,a,b instead", first, last, lastStartNM, firstEndNM)
	}
	exact := true
	for i := 0; i < optics.Bands; i++ {
		exact = exact && slices.Contains(rd.nm, float64(optics.Wavelength(i)))
	}
	for i := 1; i < len(rd.nm); i++ {
		if gap := rd.nm[i] - rd.nm[i-1]; gap > maxStepNM && rd.nm[i] > optics.FirstNM && rd.nm[i-1] < optics.LastNM {
			return rd.failf(rd.headAt, "no wavelength between %g and %g nm; steps of up to %g nm can be bridged", rd.nm[i-1], rd.nm[i], maxStepNM)
		}
	}
	if !exact {
		rd.note("wavelengths %g–%g nm in %d steps were interpolated to 400–700 nm by 10", first, last, len(rd.nm)-1)
	}
	if first > optics.FirstNM {
		rd.note("nothing was measured below %g nm: that reading was held down to 400 nm", first)
	}
	if last < optics.LastNM {
		rd.note("nothing was measured above %g nm: that reading was held up to 700 nm", last)
	}
	return nil
}

// resample brings values at rd.nm to the 10 nm grid: a value measured there is
// taken as it is, others come from monotone cubics (Fritsch & Butland, SIAM J.
// Sci. Stat. Comput. 5, 1984), which cannot overshoot.
func (rd *reader) resample(v []float64) optics.Spectrum {
	var s optics.Spectrum
	var fb interp.FritschButland
	fitted := false
	for i := range s {
		nm := float64(optics.Wavelength(i))
		at, exact := slices.BinarySearch(rd.nm, nm)
		switch {
		case exact:
			s[i] = v[at]
		case at == 0:
			s[i] = v[0]
		case at == len(v):
			s[i] = v[len(v)-1]
		default:
			if !fitted {
				if err := fb.Fit(rd.nm, v); err != nil {
					panic("inventory: " + err.Error()) // the grid is sorted and without doubles
				}
				fitted = true
			}
			s[i] = fb.Predict(nm)
		}
	}
	return s
}

func (rd *reader) cell(row int, col string) string {
	i, ok := rd.col[col]
	if !ok {
		return ""
	}
	return rd.at(row, i)
}

func (rd *reader) at(row, col int) string {
	if col >= len(rd.cells[row]) {
		return ""
	}
	return rd.cells[row][col]
}

// number reads a finite number, with a decimal comma where commas do not
// separate cells.
func (rd *reader) number(row int, what, s string) (float64, error) {
	t := strings.TrimSuffix(s, "%")
	if rd.comma != ',' {
		t = strings.Replace(t, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(t), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, rd.failf(rd.lines[row], "%s %q is not a number", what, clip(s))
	}
	return v, nil
}

func (rd *reader) portion(row int, col string) (float64, error) {
	s := rd.cell(row, col)
	if s == "" {
		return 0, nil
	}
	v, err := rd.number(row, col, s)
	if err != nil {
		return 0, err
	}
	if v < 0 || v > 1e6 {
		return 0, rd.failf(rd.lines[row], "%s is %g; parts are positive, or 0 for none", col, v)
	}
	return v, nil
}

// oneLine makes a name of a cell: no line breaks, control characters or runs of
// spaces.
func oneLine(s string) string {
	return strings.Join(strings.FieldsFunc(s, func(c rune) bool {
		return unicode.IsSpace(c) || unicode.IsControl(c) || c == '\u2028' || c == '\u2029' || c == '\ufeff'
	}), " ")
}

// clip shortens a cell for an error.
func clip(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}

func (rd *reader) rows() error {
	values, err := rd.spectra()
	if err != nil {
		return err
	}
	for row, line := range rd.lines {
		r := Reading{Line: line, WhiteTube: oneLine(rd.cell(row, "white")), BlackTube: oneLine(rd.cell(row, "black"))}
		name := oneLine(rd.cell(row, "tube"))
		if len([]rune(name)) > maxNameRunes {
			return rd.failf(line, "the tube's name has over %d letters; shorten it", maxNameRunes)
		}
		codes, odd := parseCodes(rd.cell(row, "ci"))
		if len(odd) > 0 && len(codes) == 0 && !slices.Contains([]string{"-", "–", "?", "n/a", "na", "none", "unknown"}, strings.ToLower(odd[0])) {
			rd.note("line %d: %q is not a pigment code such as PB29; the tube is read as one without a code", line, clip(odd[0]))
		} else if len(odd) > 0 && len(codes) > 0 {
			rd.note("line %d: %q beside %s is not a pigment code; left out", line, clip(odd[0]), strings.Join(codes, "+"))
		}
		if name == "" && len(codes) == 0 && rd.last < 0 {
			return rd.failf(line, "no tube; give its name")
		}
		at := rd.last // a blank name continues the tube above, as in merged cells
		if name == "" && len(codes) > 0 && (rd.last < 0 || !slices.Equal(codes, rd.out.Tubes[rd.last].CI)) {
			name = strings.Join(codes, "+")
		}
		if name != "" {
			var known bool
			if at, known = rd.tubes[strings.ToLower(name)]; !known {
				if len(rd.out.Tubes) == maxTubes {
					return rd.failf(line, "more than %d tubes; split the file", maxTubes)
				}
				at = len(rd.out.Tubes)
				rd.tubes[strings.ToLower(name)] = at
				rd.out.Tubes = append(rd.out.Tubes, MeasuredTube{Name: name, Line: line})
			}
		}
		rd.last = at
		t := &rd.out.Tubes[at]
		switch {
		case len(codes) == 0 || slices.Equal(codes, t.CI):
		case len(t.CI) == 0:
			t.CI = codes
		default:
			return rd.failf(line, "tube %q is %s here and %s above; give two tubes two names", t.Name, strings.Join(codes, "+"), strings.Join(t.CI, "+"))
		}
		if rd.cell(row, "paint_parts") == "" {
			return rd.failf(line, "no paint_parts; write 1 for the masstone, 0 for the white's own row")
		}
		for _, p := range []struct {
			col string
			to  *float64
		}{{"paint_parts", &r.Paint}, {"white_parts", &r.White}, {"black_parts", &r.Black}} {
			if *p.to, err = rd.portion(row, p.col); err != nil {
				return err
			}
		}
		if r.Paint+r.White+r.Black == 0 {
			// The white's own row may leave white_parts out.
			if !whiteCodes(t.CI) && !strings.Contains(strings.ToLower(t.Name), "white") {
				return rd.failf(line, "no paint in this row; give the parts of paint, white and black")
			}
			r.White = 1
		}
		switch basis := strings.ToLower(rd.cell(row, "basis")); basis {
		case "":
			if rd.said.Mass == nil {
				rd.unbased++
			} else {
				r.Mass = *rd.said.Mass
			}
		case "volume", "vol", "v":
		case "mass", "weight", "m", "w", "g":
			r.Mass = true
		default:
			return rd.failf(line, "basis %q; write volume or mass", clip(basis))
		}
		if r.Mass {
			rd.masses++
		}
		switch state := strings.ToLower(rd.cell(row, "state")); state {
		case "", "dry":
		case "wet":
			r.Wet = true
		default:
			return rd.failf(line, "state %q; write dry, or wet for a film read before it dried", clip(state))
		}
		il := rd.cell(row, "illuminant")
		switch {
		case il != "":
			if r.Illuminant, err = optics.ParseIlluminant(strings.ToUpper(il)); err != nil {
				return rd.failf(line, "%v; give the spectra, or L,a,b under one of these", err)
			}
		case rd.said.Illuminant != nil:
			r.Illuminant = *rd.said.Illuminant
		case rd.light != nil:
			r.Illuminant = *rd.light
		}
		switch s := strings.ToLower(rd.cell(row, "specular")); s {
		case "in", "included", "sci", "spin":
		case "out", "excluded", "sce", "spex":
			r.Finish = optics.Excluded
		case "":
			if rd.said.Finish != nil {
				r.Finish = *rd.said.Finish
			} else {
				r.Finish = unstated
				rd.unshined++
			}
		default:
			return rd.failf(line, "specular %q; write in if the surface's reflection is counted, out if not", clip(s))
		}
		if err := rd.colour(row, &r, values[row]); err != nil {
			return err
		}
		if r.Spectrum == nil {
			if err := rd.lit(row, il); err != nil {
				return err
			}
			if s := rd.cell(row, "uncertainty"); s != "" {
				if r.Uncertainty, err = rd.number(row, "uncertainty", s); err != nil {
					return err
				}
				if !(r.Uncertainty >= 0 && r.Uncertainty <= maxUncertainty) {
					return rd.failf(line, "uncertainty is %g; it lies between 0 and %g", r.Uncertainty, maxUncertainty)
				}
			}
			if rd.labs++; rd.labs == 1 {
				rd.firstLab = line
			}
			rd.highest = max(rd.highest, r.Lab.L)
		}
		rd.count++
		t.Rows = append(t.Rows, r)
	}
	return nil
}

// twoDegrees says whether the words, if any, stand for the CIE 1931 observer.
func twoDegrees(observer string) bool {
	s := strings.NewReplacer("_", " ", "-", " ", "°", " ", "degree", " ", "deg", " ").Replace(strings.ToLower(observer))
	return slices.Contains([]string{"", "2", "1931", "cie 1931", "cie 1931 2"}, strings.Join(strings.Fields(s), " "))
}

// lit checks what a row of L,a,b says of light and observer.
func (rd *reader) lit(row int, illuminant string) error {
	if o := rd.cell(row, "observer"); !twoDegrees(o) {
		return rd.failf(rd.lines[row], "L,a,b are for the observer %q; only those for 2° are read: give them for 2°, or the spectra", clip(o))
	}
	if illuminant == "" && rd.said.Illuminant == nil {
		if rd.light == nil {
			return rd.failf(rd.lines[row], "nothing says under which light L,a,b were computed; say so (D50, D65, A or C), or give the spectra")
		}
		rd.unlit++
	}
	return nil
}

// settle decides, once all rows are read, what no single row can say.
func (rd *reader) settle() error {
	if rd.highest > 0 && rd.highest <= 1.5 {
		return rd.failf(rd.firstLab, "L is at most %g; L runs from 0 to 100, a and b to about ±128", rd.highest)
	}
	rd.settleFinish()
	var taken []string
	assume := func(rows int, what, words string) {
		if rows > 0 {
			taken = append(taken, words)
			rd.out.Unstated = append(rd.out.Unstated, what)
		}
	}
	if rd.light != nil {
		assume(rd.unlit, "illuminant", fmt.Sprintf("L,a,b under %v, 2° observer", rd.light))
	}
	assume(rd.unbased, "basis", "parts by volume")
	if len(taken) > 0 {
		rd.note("the file does not say, so this was taken: %s; to be sure add %s", strings.Join(taken, ", "), rd.how(rd.out.Unstated...))
	}
	if rd.unshined > 0 {
		rd.out.Unstated = append(rd.out.Unstated, "specular")
	}
	if rd.masses > 0 {
		if rd.masses < rd.count {
			rd.note("%d of %d rows give parts by mass, the others by volume: mixes of the two are uncertain; measure a set one way", rd.masses, rd.count)
		} else {
			rd.note("parts are by mass: mixes of these tubes with one another are in parts by mass too, and mixes with tubes from elsewhere less certain")
		}
	}
	return nil
}

// unstated marks a reading that does not say its finish until all are read.
const unstated optics.Finish = -1

// surfaceAlone is the least reflectance that a reading with the surface's
// reflection can have: that reflection itself, less a fifth for smoother films.
var surfaceAlone = 0.8 * optics.DrySurface.K1

// A spectrum is too dark also where dimBands of its bands lie below dimBand: far
// enough down that it is no slip of the instrument. (The darkest of the oil
// films of Geldof et al., Heritage Science 6:17, 2018, as measured, has 0.0206.)
var dimBand = 0.6 * optics.DrySurface.K1

const dimBands = 4

// belowSurface says whether a reading is darker than the surface's reflection
// alone, which none can be that counts it: the luminous reflectance, or how
// little it reflects at the darkest band, and that in words.
func (r *Reading) belowSurface() (least float64, how string, dark bool) {
	if r.Spectrum == nil {
		y := r.Lab.XYZ(r.Illuminant.White()).Y / 100
		return y, fmt.Sprintf("%.1f %%", 100*y), y < surfaceAlone
	}
	if y := r.Spectrum.XYZ(optics.D65).Y / 100; y < surfaceAlone {
		return y, fmt.Sprintf("%.1f %%", 100*y), true
	}
	dim, at := 0, 0
	for i, v := range r.Spectrum {
		if v < dimBand {
			dim++
		}
		if v < r.Spectrum[at] {
			at = i
		}
	}
	return r.Spectrum[at], fmt.Sprintf("%.1f %% at %d nm", 100*r.Spectrum[at], optics.Wavelength(at)), dim >= dimBands
}

// settleFinish decides about readings that do not say whether the surface's
// reflection is counted: included, unless some are darker than that reflection
// alone, which only a reading without it can be.
func (rd *reader) settleFinish() {
	if rd.unshined == 0 {
		return
	}
	finish, darkLine, dark, how := optics.Included, 0, 0.0, ""
	for _, t := range rd.out.Tubes {
		for _, r := range t.Rows {
			if r.Finish != unstated {
				continue
			}
			if y, words, yes := r.belowSurface(); yes && (darkLine == 0 || y < dark) {
				finish, darkLine, dark, how = optics.Excluded, r.Line, y, words
			}
		}
	}
	which := "no row says"
	if rd.unshined < rd.count {
		which = fmt.Sprintf("%d rows do not say", rd.unshined)
	}
	if finish == optics.Excluded {
		rd.note("%s whether the surface's reflection is counted: taken as left out (specular out), since line %d reads %s, less than the surface alone reflects; add %s to be sure", which, darkLine, how, rd.how("specular"))
	} else {
		rd.note("%s whether the surface's reflection is counted: taken as counted (specular in); add %s to be sure", which, rd.how("specular"))
	}
	for i := range rd.out.Tubes {
		for j := range rd.out.Tubes[i].Rows {
			if r := &rd.out.Tubes[i].Rows[j]; r.Finish == unstated {
				r.Finish = finish
			}
		}
	}
}

// inPercent is what no fraction of a paint film's reflectance exceeds.
const inPercent = 1.5

// spectra reads the wavelength cells of every row, nil where a row has none,
// as fractions.
func (rd *reader) spectra() ([][]float64, error) {
	out := make([][]float64, len(rd.cells))
	count, faint, percent := 0, 0, false
	for row := range rd.cells {
		var v []float64
		missing := 0.0
		for i, c := range rd.nmCol {
			s := rd.at(row, c)
			if s == "" {
				missing = rd.nm[i]
				continue
			}
			x, err := rd.number(row, fmt.Sprintf("the reading at %g nm", rd.nm[i]), s)
			if err != nil {
				return nil, err
			}
			v = append(v, x)
		}
		if len(v) == 0 {
			continue
		}
		if missing != 0 {
			return nil, rd.failf(rd.lines[row], "no reading at %g nm; fill it in, or leave all wavelengths of the row empty and give L,a,b", missing)
		}
		out[row] = v
		count++
		if slices.Max(v) > inPercent {
			percent = true
		} else {
			faint++
		}
	}
	if rd.scale == 0 && percent {
		for row, v := range out {
			if v != nil && slices.Max(v) <= inPercent && rd.mustBeFraction(row, v) {
				return nil, rd.failf(rd.lines[row], "its reflectances run up to %.3g where other rows are in percent; as percent that would be darker than the row can be: write all rows in percent, or all as fractions", slices.Max(v))
			}
		}
	}
	switch {
	case rd.scale == 1 || rd.scale == 0 && !percent:
		return out, nil
	case rd.scale == 100:
	case 2*faint > count:
		rd.note("read as percent, although %d of %d spectra stay below %g: look for a slipped decimal point in the others", faint, count, inPercent)
	default:
		rd.note("reflectances were read as percent")
	}
	for _, v := range out {
		for i := range v {
			v[i] /= 100
		}
	}
	return out, nil
}

// mostDarkSwing is how many times the darkest band of a film the brightest may
// be, where all are below 1.5 %: there the surface's scattered rest, alike in
// all bands, is most of what is seen (common practice, no source).
const mostDarkSwing = 4

// mustBeFraction says that a row below 1.5 cannot be percent: it holds white,
// counts the surface's reflection of 3 %, or has a colour.
func (rd *reader) mustBeFraction(row int, v []float64) bool {
	white, _ := strconv.ParseFloat(rd.cell(row, "white_parts"), 64)
	paint, err := strconv.ParseFloat(rd.cell(row, "paint_parts"), 64)
	switch strings.ToLower(rd.cell(row, "specular")) {
	case "in", "included", "sci", "spin":
		return true
	case "":
		if rd.said.Finish != nil && *rd.said.Finish == optics.Included {
			return true
		}
	}
	return white > 0 || err == nil && paint == 0 && rd.cell(row, "black_parts") == "" || slices.Max(v) > mostDarkSwing*max(slices.Min(v), 0.05)
}

// labOff is how far a row's Lab may lie from its own spectrum, ΔE00, before
// that is worth a word: instruments with another observer or a coarser sum
// differ by less.
const labOff = 3

func (rd *reader) colour(row int, r *Reading, spectrum []float64) error {
	line := rd.lines[row]
	l, a, b := rd.cell(row, "l"), rd.cell(row, "a"), rd.cell(row, "b")
	hasLab := l != "" || a != "" || b != ""
	var c lab.Lab
	if hasLab {
		for _, p := range []struct {
			name, s string
			to      *float64
			lo, hi  float64
		}{{"L", l, &c.L, 0, 105}, {"a", a, &c.A, -160, 160}, {"b", b, &c.B, -160, 160}} {
			if p.s == "" {
				return rd.failf(line, "no %s; a Lab reading needs L, a and b", p.name)
			}
			v, err := rd.number(row, p.name, p.s)
			if err != nil {
				return err
			}
			if v < p.lo || v > p.hi {
				return rd.failf(line, "%s is %g; it lies between %g and %g: are L, a and b in their own columns?", p.name, v, p.lo, p.hi)
			}
			*p.to = v
		}
	}
	if spectrum == nil {
		if !hasLab {
			return rd.failf(line, "no colour; give L,a,b or all wavelengths")
		}
		r.Lab = c
		return nil
	}
	s := rd.resample(spectrum)
	if err := s.Valid(); err != nil {
		return rd.failf(line, "%v; give fractions 0–1 or percent", err)
	}
	if hasLab {
		if d := lab.DE00(s.Lab(r.Illuminant), c); d > labOff {
			rd.note("line %d: L,a,b lies %.1f ΔE00 from its own spectrum under %v; the spectrum was used", line, d, r.Illuminant)
		}
	}
	for i := range s {
		s[i] = math.Round(s[i]*1e6) / 1e6 // far finer than any instrument
	}
	r.Spectrum, r.Illuminant = &s, optics.D65
	return nil
}

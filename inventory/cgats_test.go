package inventory

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"paintout/inventory/optics"
)

// A set of the evening class on the Marrow Sound (invented): spectra of a
// white, and of a blue alone, with white, and with white and black.
type classFilm struct {
	name, tube, ci      string
	paint, white, black float64
	s                   func(nm float64) float64
}

var classSet = []classFilm{
	{"chalk white PW6", "chalk white", "PW6", 0, 1, 0, func(nm float64) float64 { return 0.93 - 0.5*math.Exp((395-nm)/8) }},
	{"quay blue (PB29) masstone", "quay blue", "PB29", 1, 0, 0, func(nm float64) float64 { return 0.04 + 0.09*math.Exp(-(nm-440)*(nm-440)/2400) }},
	{"quay blue (PB29) 1:4", "quay blue", "PB29", 1, 4, 0, func(nm float64) float64 { return 0.25 + 0.4*math.Exp(-(nm-450)*(nm-450)/4000) }},
	{"quay blue (PB29) 1:4:0.5", "quay blue", "PB29", 1, 4, 0.5, func(nm float64) float64 { return 0.12 + 0.2*math.Exp(-(nm-450)*(nm-450)/4000) }},
}

// readAs reads a file of readings under a name that says nothing of its kind.
func readAs(t testing.TB, s Said, text string) *Readings {
	t.Helper()
	r, err := s.ReadReadings("class.dat", strings.NewReader(text))
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return r
}

// isClassSet compares readings with the set; spectra to the digits written.
func isClassSet(t *testing.T, what string, r *Readings) {
	t.Helper()
	if len(r.Tubes) != 2 || len(r.Tubes[0].Rows) != 1 || len(r.Tubes[1].Rows) != 3 {
		t.Fatalf("%s: %+v", what, r.Tubes)
	}
	rows := append(append([]Reading{}, r.Tubes[0].Rows...), r.Tubes[1].Rows...)
	for i, c := range classSet {
		m := r.Tubes[min(i, 1)]
		if m.Name != c.tube || strings.Join(m.CI, "+") != c.ci || rows[i].Paint != c.paint || rows[i].White != c.white || rows[i].Black != c.black {
			t.Errorf("%s: %s is %q %v %+v", what, c.name, m.Name, m.CI, rows[i])
		}
		if rows[i].Spectrum == nil {
			t.Fatalf("%s: %s has no spectrum", what, c.name)
		}
		for b, v := range rows[i].Spectrum {
			if math.Abs(v-c.s(float64(optics.Wavelength(b)))) > 1e-4 {
				t.Errorf("%s: %s at %d nm is %v, want %.5f", what, c.name, optics.Wavelength(b), v, c.s(float64(optics.Wavelength(b))))
				break
			}
		}
	}
}

// cgatsFile writes the set with spectra in fields named by a format.
func cgatsFile(field string, scale float64, sep string, words ...string) string {
	var b strings.Builder
	b.WriteString("CGATS.17\nORIGINATOR \"the evening class\"\n" + strings.Join(words, "\n") + "\n")
	b.WriteString("NUMBER_OF_FIELDS 38\nBEGIN_DATA_FORMAT\nSAMPLE_ID" + sep + "SAMPLE_NAME")
	for nm := 380; nm <= 730; nm += 10 {
		fmt.Fprintf(&b, sep+field, nm)
	}
	fmt.Fprintf(&b, "\nEND_DATA_FORMAT\nNUMBER_OF_SETS %d\nBEGIN_DATA\n", len(classSet))
	for i, c := range classSet {
		fmt.Fprintf(&b, "%d%s\"%s\"", i+1, sep, c.name)
		for nm := 380; nm <= 730; nm += 10 {
			fmt.Fprintf(&b, "%s%.5f", sep, max(c.s(float64(nm)), 0)*scale)
		}
		b.WriteString("\n")
	}
	b.WriteString("END_DATA\n")
	return b.String()
}

func TestCGATSSpellings(t *testing.T) {
	for _, f := range []string{"SPECTRAL_NM%d", "SPECTRAL_NM_%d", "nm%d", "NM_%d", "SPECTRAL_%d", "R_%d", "SPEC_%d", "SPECTRUM_%d", "%d", "%dNM"} {
		isClassSet(t, f, readAs(t, Said{}, cgatsFile(f, 1, " ")))
	}
	r := readAs(t, Said{}, cgatsFile("SPECTRAL_PCT%d", 100, "\t"))
	isClassSet(t, "percent", r)
	if notes := strings.Join(r.Notes, ";"); strings.Contains(notes, "percent") {
		t.Errorf("stated percent was guessed: %s", notes)
	}
	r = readAs(t, Said{}, cgatsFile("SPECTRAL_DEC%d", 1, "\t"))
	isClassSet(t, "fractions", r)
	r = readAs(t, Said{}, cgatsFile("nm%d", 100, "\t"))
	isClassSet(t, "percent not stated", r)
	if notes := strings.Join(r.Notes, ";"); !strings.Contains(notes, "read as percent") {
		t.Errorf("percent not said: %s", notes)
	}
	// CRLF, a byte order mark, comments, tabs without quotes, decimal commas.
	text := cgatsFile("nm%d", 1, "\t", "# measured indoors", "KEYWORD \"SPECULAR\"", "SPECULAR \"in\"", "BASIS \"volume\"")
	head, data, _ := strings.Cut(text, "BEGIN_DATA\n")
	data = strings.ReplaceAll(strings.ReplaceAll(data, `"`, ""), ".", ",")
	data = strings.Replace(data, "1:4:0,5", "1:4:0.5", 1)
	r = readAs(t, Said{}, "\ufeff"+strings.ReplaceAll(head+"BEGIN_DATA # now\n"+data, "\n", "\r\n"))
	isClassSet(t, "CRLF", r)
	if len(r.Notes) != 0 || len(r.Unstated) != 0 {
		t.Errorf("all was stated, but %v %v", r.Notes, r.Unstated)
	}
	isClassSet(t, "small letters", readAs(t, Said{}, strings.NewReplacer("BEGIN_DATA", "begin_data", "END_DATA", "end_data", "SAMPLE_", "sample_").Replace(cgatsFile("nm%d", 1, " "))))
	// Pairs of wavelength and reflectance, over several lines.
	var b strings.Builder
	b.WriteString("IT8.7/2\nBEGIN_DATA_FORMAT\nSAMPLE_NAME\n")
	for range 36 {
		b.WriteString("SPECTRAL_NM SPECTRAL_PCT\n")
	}
	b.WriteString("END_DATA_FORMAT\nBEGIN_DATA\n")
	for _, c := range classSet {
		fmt.Fprintf(&b, "%q\n", c.name)
		for nm := 380; nm <= 730; nm += 10 {
			fmt.Fprintf(&b, "%d %.4f\n", nm, 100*max(c.s(float64(nm)), 0))
		}
	}
	b.WriteString("END_DATA\n")
	isClassSet(t, "pairs", readAs(t, Said{}, b.String()))
}

// The same fit comes of a set as CSV, CGATS and CxF.
func TestCGATSFitsAsCSV(t *testing.T) {
	var csv strings.Builder
	csv.WriteString("tube,ci,paint_parts,white_parts,black_parts,specular")
	for nm := 380; nm <= 730; nm += 10 {
		fmt.Fprintf(&csv, ",%d", nm)
	}
	for _, c := range classSet {
		fmt.Fprintf(&csv, "\n%s,%s,%g,%g,%g,in", c.tube, c.ci, c.paint, c.white, c.black)
		for nm := 380; nm <= 730; nm += 10 {
			fmt.Fprintf(&csv, ",%.5f", max(c.s(float64(nm)), 0))
		}
	}
	want, _ := calibrated(t, csv.String()+"\n", nil)
	for what, text := range map[string]string{
		"CGATS": cgatsFile("SPECTRAL_NM%d", 1, "\t", `SPECULAR "in"`),
		"CxF":   cxfText(classSet, true),
	} {
		got, _, err := Calibrate(readAs(t, Said{}, text), nil)
		if err != nil {
			t.Fatal(err)
		}
		for i, w := range want.Tubes {
			if got.Tubes[i].Name != w.Name || got.Tubes[i].Paint != w.Paint {
				t.Errorf("%s: %s was fitted otherwise than from CSV", what, w.Name)
			}
		}
	}
}

func TestCGATSConditions(t *testing.T) {
	lab := func(words string) string {
		return "CGATS.17\n" + words + "\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 \"quay blue PB29 1:4\" 50.5 -3 -30\nEND_DATA\n"
	}
	for _, c := range []struct {
		words  string
		light  optics.Illuminant
		finish optics.Finish
		mass   bool
		note   string // in the notes
		not    string // not in them
	}{
		{``, optics.D50, optics.Included, false, "L,a,b under D50, 2° observer, parts by volume", ""},
		{`ILLUMINANT "D65"` + "\n" + `OBSERVER "2"`, optics.D65, optics.Included, false, "taken: parts by volume", "D50"},
		{`ILLUMINATION_NAME "A"`, optics.A, optics.Included, false, "", "under D50"},
		{`WEIGHTING_FUNCTION "ILLUMINANT, D65"` + "\n" + `WEIGHTING_FUNCTION "OBSERVER, 2 degree"`, optics.D65, optics.Included, false, "", "under D50"},
		{`MEASUREMENT_SOURCE "Illumination=D65	ObserverAngle=2	WhiteBase=Abs	Filter=No"`, optics.D65, optics.Included, false, "as MEASUREMENT_SOURCE says", ""},
		{`MEASUREMENT_SOURCE "D65"`, optics.D65, optics.Included, false, "as MEASUREMENT_SOURCE says", ""},
		{`MEASUREMENT_SOURCE "WhiteBase=Paper"`, optics.D50, optics.Included, false, "relative to the paper", ""},
		{`SPECULAR out`, optics.D50, optics.Excluded, false, "", "reflection"},
		{`MEASUREMENT_GEOMETRY "45/0"`, optics.D50, optics.Excluded, false, `"45/0": the surface's reflection was taken as left out`, "no row says"},
		{`MEASUREMENT_GEOMETRY "0°/45°a"`, optics.D50, optics.Excluded, false, "left out", "no row says"},
		{`MEASUREMENT_GEOMETRY "d/8, specular included"`, optics.D50, optics.Included, false, "taken as counted", "no row says"},
		{`MEASUREMENT_GEOMETRY "d/8 SCE"`, optics.D50, optics.Excluded, false, "left out", "no row says"},
		{`MEASUREMENT_GEOMETRY "de:8°"`, optics.D50, optics.Excluded, false, "left out", "no row says"},
		{`DIFFUSE_GEOMETRY "sphere"`, optics.D50, optics.Included, false, "no row says whether the surface's reflection is counted", ""},
		{`BASIS mass`, optics.D50, optics.Included, true, "parts are by mass", "by volume"},
	} {
		r := readAs(t, Said{}, lab(c.words))
		got, notes := r.Tubes[0].Rows[0], strings.Join(r.Notes, "; ")
		if got.Illuminant != c.light || got.Finish != c.finish || got.Mass != c.mass {
			t.Errorf("%s: %+v", c.words, got)
		}
		if !strings.Contains(notes, c.note) || c.not != "" && strings.Contains(notes, c.not) {
			t.Errorf("%s: notes %q; want %q, not %q", c.words, notes, c.note, c.not)
		}
	}
	// What the painter says fills in, and what the file says wins.
	yes, d65, out := true, optics.D65, optics.Excluded
	r := readAs(t, Said{Illuminant: &d65, Finish: &out, Mass: &yes}, lab(""))
	if got := r.Tubes[0].Rows[0]; got.Illuminant != optics.D65 || got.Finish != optics.Excluded || !got.Mass || len(r.Unstated) != 0 {
		t.Errorf("%+v, %v", got, r.Unstated)
	}
	r = readAs(t, Said{Illuminant: &d65, Finish: &out, Mass: &yes}, lab("ILLUMINANT A\nSPECULAR in\nBASIS volume"))
	if got := r.Tubes[0].Rows[0]; got.Illuminant != optics.A || got.Finish != optics.Included || got.Mass {
		t.Errorf("%+v", got)
	}
	if r := readAs(t, Said{}, lab("")); fmt.Sprint(r.Unstated) != "[illuminant basis specular]" {
		t.Errorf("unstated: %v", r.Unstated)
	}
}

func TestSampleNames(t *testing.T) {
	for name, want := range map[string]string{
		"ultramarine blue 1:4":                      "ultramarine blue||1 4 0",
		"ultramarine blue PB29 1:4:0.5":             "ultramarine blue|PB29|1 4 0.5",
		"  phthalo   blue PB15:4 1:9 ":              "phthalo blue|PB15:4|1 9 0",
		"PB15:4 1:9":                                "|PB15:4|1 9 0",
		"PB15:4":                                    "|PB15:4|",
		"burnt sienna (PBr7/burnt sienna) masstone": "burnt sienna|PBr7/burnt sienna|1 0 0",
		"sap green (PG7 + PY110) 2:1":               "sap green|PG7+PY110|2 1 0",
		"sap green PG7+PY110 1,5:1":                 "sap green|PG7+PY110|1.5 1 0",
		"light red (the old tube)":                  "light red (the old tube)||",
		"blue no 3":                                 "blue no 3||",
		"red 1:0":                                   "red||1 0 0",
		"red 10%":                                   "odd",
		"red 1/4":                                   "odd",
		"red 1:4:":                                  "odd",
		"red 1:2:3:4":                               "odd",
		"red 1+4":                                   "odd",
		"":                                          "||",
	} {
		n, ok := parseName(name)
		got := n.tube + "|" + n.codes + "|" + strings.Join(n.parts, " ")
		if !ok {
			got = "odd"
		}
		if got != want {
			t.Errorf("%q is %q, want %q", name, got, want)
		}
	}
}

// Fields of the file's own, several tables, and names that say too little.
func TestCGATSTables(t *testing.T) {
	r := readAs(t, Said{}, `CGATS.17
ILLUMINANT "D65"
SPECULAR "in"
BASIS "volume"
BEGIN_DATA_FORMAT
TUBE	CI	PAINT_PARTS	WHITE_PARTS	BLACK_PARTS	LAB_L	LAB_A	LAB_B
END_DATA_FORMAT
BEGIN_DATA
chalk white	PW6	0	1		97	0	1
quay blue	PB29	1	0		20	12	-30
quay blue	PB29	1	4		50	0	-40
END_DATA
CGATS.17
BEGIN_DATA
gorse	PY83	1	0		70	25	80
END_DATA
ILLUMINANT "D50"
BEGIN_DATA_FORMAT
SAMPLE_ID	LAB_L	LAB_A	LAB_B	DATE
END_DATA_FORMAT
BEGIN_DATA
gorse	71	24	81	1 May
zinc white	96	0	2	1 May
END_DATA
`)
	if len(r.Tubes) != 4 || len(r.Tubes[1].Rows) != 2 || len(r.Tubes[2].Rows) != 2 {
		t.Fatalf("%+v", r.Tubes)
	}
	g := r.Tubes[2].Rows
	if g[0].Illuminant != optics.D65 || g[1].Illuminant != optics.D50 || g[1].Line != 22 || !g[1].Masstone() {
		t.Errorf("%+v", g)
	}
	if z := r.Tubes[3].Rows[0]; z.Paint != 0 || z.White != 1 {
		t.Errorf("a white without parts is %+v", z)
	}
	if got := strings.Join(r.Notes, "; "); got != "fields not used: DATE; samples that give no parts were read as the paint alone: gorse" {
		t.Errorf("notes: %s", got)
	}
}

func TestCGATSErrors(t *testing.T) {
	file := func(fields string, rows ...string) string {
		return "CGATS.17\nBEGIN_DATA_FORMAT\n" + fields + "\nEND_DATA_FORMAT\nBEGIN_DATA\n" + strings.Join(rows, "\n") + "\nEND_DATA\n"
	}
	const labs = "SAMPLE_NAME LAB_L LAB_A LAB_B"
	for _, c := range []struct{ text, want string }{
		{"BEGIN_DATA\n1 2\nEND_DATA\n", "r.txt:1: no fields before BEGIN_DATA"},
		{"BEGIN_DATA_FORMAT\nSAMPLE_ID\n", "r.txt:1: BEGIN_DATA_FORMAT has no END_DATA_FORMAT"},
		{strings.TrimSuffix(file(labs, "a 1 2 3"), "END_DATA\n"), "r.txt:5: BEGIN_DATA has no END_DATA"},
		{file(labs), "r.txt:1: no readings between BEGIN_DATA and END_DATA"},
		{file(labs, "a 1 2", "b 1 2 3"), "r.txt:6: 3 values for 4 fields"},
		{file(labs, "a 1 2 3", "b 1 2"), "r.txt:7: 3 values for 4 fields"},
		{file(labs, "quay blue 1 2 3"), "r.txt:6: 5 values for 4 fields; put text that holds spaces in quotes"},
		{file(labs, `"a 1 2 3`), "r.txt:6: a quotation mark is not closed"},
		{file("SAMPLE_NAME LAB_L LAB_A", "a 1 2"), "r.txt:2: a Lab reading needs all three fields"},
		{file("SAMPLE_NAME RGB_R RGB_G RGB_B", "a 1 2 3"), "r.txt:2: no colours; give LAB_L LAB_A LAB_B"},
		{file("LAB_L LAB_A LAB_B", "1 2 3"), "r.txt:2: no field names the samples"},
		{file("SAMPLE_ID LAB_L LAB_A LAB_B", "17 50 2 3"), `r.txt:6: sample "17" names no tube; name it like "ultramarine blue PB29 1:4"`},
		{file(labs, "A12 50 2 3"), `r.txt:6: sample "A12" names no tube`},
		{file(labs, `"Sample 3 1:4" 50 2 3`), `r.txt:6: sample "Sample 3 1:4" names no tube`},
		{file(labs, `"a 10%" 50 2 3`), `r.txt:6: the parts of sample "a 10%" cannot be read; write paint to white`},
		{file(labs, `"a 0:0" 50 2 3`), "r.txt:6: no paint in this row"},
		{file(labs+" WHITE_PARTS", "a 50 2 3 4"), "r.txt:6: sample \"a\" gives white or black parts but no paint_parts"},
		{file(labs+" PAINT_PARTS", "a 50 2 3 -1"), "r.txt:6: paint_parts is -1"},
		{file(labs, "a fifty 2 3"), `r.txt:6: L "fifty" is not a number`},
		{file(labs, "a 150 2 3"), "r.txt:6: L is 150"},
		{file(labs, "a 0.5 0.2 0.3"), "r.txt:6: L is at most 0.5"},
		{file(labs+" ILLUMINANT", "a 50 2 3 F11"), `r.txt:6: illuminant "F11" is not one of D65, D50, A, C; give the spectra`},
		{file(labs+" OBSERVER", "a 50 2 3 10"), `r.txt:6: L,a,b are for the observer "10"; only those for 2° are read`},
		{file(labs+" SPECULAR", "a 50 2 3 shiny"), `r.txt:6: specular "shiny"`},
		{file(labs+" LAB_L", "a 50 2 3 4"), "r.txt:2: field LAB_L stands twice"},
		{file("SAMPLE_NAME SPECTRAL_PCT", "a 50"), "r.txt:2: field SPECTRAL_PCT has no SPECTRAL_NM before it"},
		{file("SAMPLE_NAME SPECTRAL_NM SPECTRAL_PCT", "a blue 50"), `r.txt:6: SPECTRAL_NM "blue" is not a wavelength`},
		{file("SAMPLE_NAME SPECTRAL_PCT400 SPECTRAL_DEC700", "a 50 0.5"), "r.txt:2: some spectra are percent"},
		{file("SAMPLE_NAME nm500 nm510 nm520", "a 50 50 50"), "r.txt:2: wavelengths 500–520 nm; a spectrum must cover 430–670 nm"},
		{file("SAMPLE_NAME nm500 SPECTRAL_NM SPECTRAL_PCT", "a 50 600 50"), "r.txt:2: wavelengths both"},
		{cgatsFile("nm%d", 1, " ") + "BEGIN_DATA\n1 \"a 1:4\" " + strings.Repeat("0.5 ", 20) + "x " + strings.Repeat("0.5 ", 15) + "\nEND_DATA\n", `the reading at 580 nm "x" is not a number`},
		{strings.Repeat("K v\n", 3) + many("K%d v\n", maxKeywords+1) + file(labs, "a 50 2 3"), "keywords: this is no file of measurements"},
	} {
		_, err := ReadReadings("r.txt", strings.NewReader(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%.200q: %v, want %q", c.text, err, c.want)
		}
	}
}

func many(format string, n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, format, i)
	}
	return b.String()
}

// fuzzReadings is what must hold for any file: an error names the file and
// stays on one line; what is read can be fitted and saved.
func fuzzReadings(t *testing.T, s string) {
	r, err := ReadReadings("f.dat", strings.NewReader(s))
	if err != nil {
		if !strings.HasPrefix(err.Error(), "f.dat:") || strings.ContainsAny(err.Error(), "\r\n") && !strings.ContainsAny(s, "\r\n") {
			t.Errorf("error does not name the file: %v", err)
		}
		return
	}
	n := 0
	for _, m := range r.Tubes {
		n += len(m.Rows)
		for _, row := range m.Rows {
			if row.Paint+row.White+row.Black <= 0 || row.Finish != optics.Included && row.Finish != optics.Excluded {
				t.Errorf("%s: %+v", m.Name, row)
			}
		}
	}
	if n == 0 || n > 8 {
		return
	}
	b, _, err := Calibrate(r, nil)
	if err != nil {
		if !strings.HasPrefix(err.Error(), "f.dat") {
			t.Errorf("error does not name the file: %v", err)
		}
		return
	}
	if _, err := b.encode("box.yaml", nil); err != nil {
		t.Fatal(err)
	}
}

func FuzzReadCGATS(f *testing.F) {
	f.Add(cgatsFile("SPECTRAL_NM%d", 1, "\t", `ILLUMINANT "D50"`))
	f.Add("CGATS.17\nMEASUREMENT_SOURCE \"Illumination=D65 ObserverAngle=2\"\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nNUMBER_OF_SETS 2\nBEGIN_DATA\n1 \"a PB29 1:4\" 50 0 -30\n2 white 97 0 1\nEND_DATA\n")
	f.Add("BEGIN_DATA_FORMAT TUBE PAINT_PARTS LAB_L LAB_A LAB_B BASIS END_DATA_FORMAT\nBEGIN_DATA\na\t1\t50,5\t\t3\tmass\nEND_DATA\n")
	f.Add("BEGIN_DATA_FORMAT\nSTRING SPECTRAL_NM SPECTRAL_DEC\nEND_DATA_FORMAT\nBEGIN_DATA\n\"x\"\"y\" 400 .5 # end\nEND_DATA\nBEGIN_DATA\nEND_DATA")
	f.Fuzz(fuzzReadings)
}

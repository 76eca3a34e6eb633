package inventory

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

const labHead = "tube,ci,paint_parts,white_parts,L,a,b\n"

func read(t testing.TB, csv string) *Readings {
	t.Helper()
	r, err := ReadReadings("r.csv", strings.NewReader(csv))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestReadingsForms(t *testing.T) {
	want := lab.Lab{L: 50.5, A: -10, B: 20}
	for name, csv := range map[string]string{
		"plain":             labHead + "a,PB29,1,4,50.5,-10,20\n",
		"any order":         "b,L,white_parts,A,TUBE,Paint_Parts,ci\n20,50.5,4,-10,a,1,PB29\n",
		"starred":           "Tube,CI,Paint Parts,White-Parts,L*,a*,b*\na,PB29,1,4,50.5,-10,20\n",
		"semicolons":        "tube;ci;paint_parts;white_parts;L;a;b\r\na;PB29;1;4;50,5;-10;20\r\n",
		"tabs":              "tube\tci\tpaint_parts\twhite_parts\tL\ta\tb\na\tPB29\t1\t4\t50.5\t-10\t20\n",
		"byte order mark":   "\ufeff" + labHead + "a,PB29,1,4,50.5,-10,20\n",
		"bare returns":      strings.ReplaceAll(labHead+"a,PB29,1,4,50.5,-10,20\n", "\n", "\r"),
		"comments, blanks":  "# measured in June\n\n" + labHead + "\n# dry\na,PB29,1,4,50.5,-10,20\n,,,,,,\n",
		"trailing commas":   "tube,ci,paint_parts,white_parts,L,a,b,,\na,PB29,1,4,50.5,-10,20,,\n",
		"columns unknown":   "tube,ci,paint_parts,white_parts,L,a,b,date\na,PB29,1,4,50.5,-10,20,2 June\n",
		"code's own way":    labHead + "a,pb 29,1,4,50.5,-10,20\n",
		"illuminant stated": "tube,ci,paint_parts,white_parts,L,a,b,illuminant,specular\na,PB29,1,4,50.5,-10,20,d65,SCI\n",
	} {
		r := read(t, csv)
		if len(r.Tubes) != 1 || len(r.Tubes[0].Rows) != 1 {
			t.Errorf("%s: %+v", name, r.Tubes)
			continue
		}
		m := r.Tubes[0]
		row := m.Rows[0]
		if m.Name != "a" || fmt.Sprint(m.CI) != "[PB29]" || row.Paint != 1 || row.White != 4 || row.Lab != want || row.Finish != optics.Included {
			t.Errorf("%s: %+v", name, m)
		}
	}
	// Names with commas, colons, accents; a blank name continues the tube.
	r := read(t, labHead+"\"blue, deep: bleu céleste\",PB29,1,0,20,10,-30\n,,1,4,50,5,-40\n")
	if len(r.Tubes) != 1 || r.Tubes[0].Name != "blue, deep: bleu céleste" || len(r.Tubes[0].Rows) != 2 {
		t.Errorf("%+v", r.Tubes)
	}
	// Windows-1252 and UTF-16, as old spreadsheets write.
	if r := read(t, labHead+"terre br\xfbl\xe9e,,1,0,20,10,-30\n"); r.Tubes[0].Name != "terre brûlée" {
		t.Errorf("Windows-1252: %q", r.Tubes[0].Name)
	}
	var wide bytes.Buffer
	for _, c := range "\ufeff" + labHead + "é,,1,0,20,10,-30\n" {
		wide.Write([]byte{byte(c), byte(c >> 8)})
	}
	if r := read(t, wide.String()); r.Tubes[0].Name != "é" {
		t.Errorf("UTF-16: %q", r.Tubes[0].Name)
	}
}

func TestReadingsErrors(t *testing.T) {
	for _, c := range []struct{ csv, want string }{
		{"", "empty"},
		{"tube,ci\na,\n", "r.csv:1: no column paint_parts"},
		{"tube,paint_parts\na,1\n", "r.csv:1: no colours"},
		{"tube,paint_parts,L,a\na,1,3,4\n", "all three columns"},
		{labHead, "no readings under the header"},
		{labHead + "a,PB29,one,0,20,1,1\n", `r.csv:2: paint_parts "one" is not a number`},
		{labHead + "a,PB29,-1,0,20,1,1\n", "r.csv:2: paint_parts is -1"},
		{labHead + "a,PB29,,0,20,1,1\n", "r.csv:2: no paint_parts"},
		{labHead + "a,PB29,0,0,20,1,1\n", "r.csv:2: no paint in this row"},
		{labHead + "a,PB29,1,0,120,1,1\n", "r.csv:2: L is 120"},
		{labHead + "a,PB29,1,0,NaN,1,1\n", "r.csv:2: L \"NaN\" is not a number"},
		{labHead + "a,PB29,1,0,20,1,\n", "r.csv:2: no b"},
		{labHead + "a,PB29,1,0,0.2,0.1,0.1\n", "L runs from 0 to 100"},
		{labHead + "a,b,PB29,1,0,20,1,1\n", "r.csv:2: 8 cells under a header of 7"},
		{labHead + "a,PB29,1,0,20,1,1\n\na,PB28,1,0,20,1,1\n", "r.csv:4: tube \"a\" is PB28 here and PB29 above"},
		{labHead + "\"a,PB29,1,0,20,1,1\n", "r.csv:2: a quotation mark"},
		{"tube,tube,paint_parts,L,a,b\na,a,1,2,3,4\n", "column tube stands twice"},
		{"tube,paint_parts,L,a,b,specular\na,1,20,3,4,shiny\n", "r.csv:2: specular \"shiny\""},
		{"tube,paint_parts,L,a,b,basis\na,1,20,3,4,spoons\n", "r.csv:2: basis \"spoons\""},
		{"tube,paint_parts,L,a,b,illuminant\na,1,20,3,4,F2\n", "r.csv:2: illuminant \"F2\""},
		{"tube,paint_parts,500,510,520\na,1,.1,.2,.3\n", "a spectrum must cover 430–670 nm"},
		{"tube,paint_parts,400,450,500,550,600,650,700\na,1,.1,.2,.3,.1,.1,.1,.1\n", "no wavelength between 400 and 450 nm"},
		{"\x00\x01\x02", "not a text file"},
	} {
		_, err := ReadReadings("r.csv", strings.NewReader(c.csv))
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %v, want %q", c.csv, err, c.want)
		}
	}
	if _, err := ReadReadings("r.csv", strings.NewReader(strings.Repeat("x", maxReadingsBytes+1))); err == nil || !strings.Contains(err.Error(), "MiB") {
		t.Errorf("too long: %v", err)
	}
}

// gridTable writes one spectrum at the wavelengths first…last by step.
func gridTable(s func(nm float64) float64, first, last, step int, percent bool) string {
	var head, row strings.Builder
	head.WriteString("tube,ci,paint_parts,white_parts,specular")
	row.WriteString("a,,1,0,in")
	for nm := first; nm <= last; nm += step {
		fmt.Fprintf(&head, ",%d nm", nm)
		v := s(float64(nm))
		if percent {
			v *= 100
		}
		fmt.Fprintf(&row, ",%.4f", v)
	}
	return head.String() + "\n" + row.String() + "\n"
}

// A smooth spectrum with a steep edge, at grids that instruments have, against
// the same at 400–700 nm by 10.
func TestReadingsGrids(t *testing.T) {
	s := func(nm float64) float64 { return 0.06 + 0.75/(1+math.Exp((560-nm)/12)) }
	want := read(t, gridTable(s, 400, 700, 10, false)).Tubes[0].Rows[0].Spectrum.Lab(optics.D65)
	for _, g := range []struct {
		first, last, step int
		percent           bool
		limit             float64
		note              string
	}{
		{400, 700, 10, true, 0.01, "percent"},
		{380, 730, 10, false, 0.01, ""},
		{380, 730, 5, true, 0.01, ""},
		{360, 830, 1, false, 0.01, ""},
		{405, 705, 10, false, 0.3, "interpolated"},
		{400, 700, 20, false, 0.5, "interpolated"},
		{420, 680, 10, false, 0.1, "held"},
	} {
		r := read(t, gridTable(s, g.first, g.last, g.step, g.percent))
		d := lab.DE00(r.Tubes[0].Rows[0].Spectrum.Lab(optics.D65), want)
		t.Logf("%d–%d by %d: %.3f ΔE00; %v", g.first, g.last, g.step, d, r.Notes)
		if d > g.limit {
			t.Errorf("%d–%d by %d: %.3f ΔE00 off", g.first, g.last, g.step, d)
		}
		if !strings.Contains(strings.Join(r.Notes, ";"), g.note) {
			t.Errorf("%d–%d by %d: %v does not say %q", g.first, g.last, g.step, r.Notes, g.note)
		}
	}
}

// Readings that do not say their finish: counted, unless they are darker than
// the surface alone.
func TestReadingsFinishUnstated(t *testing.T) {
	light := read(t, labHead+"a,,1,0,30,10,10\n")
	if f := light.Finish(); f == nil || *f != optics.Included || !strings.Contains(light.Notes[0], "specular in") {
		t.Errorf("%v, %v", f, light.Notes)
	}
	dark := read(t, labHead+"a,,1,0,6,10,-10\na,,1,9,60,10,-10\n")
	if f := dark.Finish(); f == nil || *f != optics.Excluded || !strings.Contains(dark.Notes[0], "line 2 reads 0.7 %") {
		t.Errorf("%v, %v", f, dark.Notes)
	}
	mixed := read(t, "tube,ci,paint_parts,white_parts,L,a,b,specular\na,,1,0,6,10,-10,out\na,,1,9,60,10,-10,in\n")
	if f := mixed.Finish(); f != nil {
		t.Errorf("mixed finishes agree on %v", *f)
	}
}

func FuzzReadReadings(f *testing.F) {
	f.Add(labHead + "a,PB29,1,4,50.5,-10,20\nwhite,PW6,0,1,97,0,1\n")
	f.Add("tube;ci;paint_parts;white_parts;black_parts;basis;illuminant;specular;L;a;b\r\na;PW6+PB29;1;4,5;0;mass;D50;out;50,5;-10;20\r\n")
	f.Add(gridTable(func(nm float64) float64 { return nm / 800 }, 380, 730, 10, true))
	f.Add(labHead + "\"x, y\",PBr7/burnt sienna,1,0,20,10,-30\n,,1,4,50,5,-40\n# end\n")
	f.Add("\ufefftube,paint_parts,l,A,B,white\n\"\n\",1,1,1,1,z\n")
	f.Fuzz(func(t *testing.T, s string) {
		r, err := ReadReadings("f.csv", strings.NewReader(s))
		if err != nil {
			if !strings.HasPrefix(err.Error(), "f.csv:") || strings.ContainsAny(err.Error(), "\r\n") && !strings.ContainsAny(s, "\r\n") {
				t.Errorf("error does not name the file: %v", err)
			}
			return
		}
		n := 0
		for _, m := range r.Tubes {
			n += len(m.Rows)
		}
		if n == 0 || n > 12 {
			return
		}
		b, _, err := Calibrate(r, nil)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "f.csv") {
				t.Errorf("error does not name the file: %v", err)
			}
			return
		}
		for _, tube := range b.Tubes {
			for i := range tube.Paint.K {
				if !(tube.Paint.K[i] > 0) || !(tube.Paint.S[i] > 0) {
					t.Fatalf("%s: K %v, S %v at band %d", tube.Name, tube.Paint.K[i], tube.Paint.S[i], i)
				}
			}
		}
		if _, err := b.encode("box.yaml", nil); err != nil {
			t.Fatal(err)
		}
	})
}

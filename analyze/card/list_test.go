package card

import (
	"encoding/csv"
	"strings"
	"testing"

	"paintout/analyze/lab"
)

func TestParseList(t *testing.T) {
	for name, in := range map[string]string{
		"commas":     "# a card\n\ntube,ci,paint_parts,white_parts,x,y,specular\nquay blue,PB29,1,0,120,40%,out\n,,,,1,2,\nquay blue,,1,4,10,20,out\n",
		"semicolons": "\ufeff# a card\n\ntube;ci;paint_parts;white_parts;x;y;specular\r\nquay blue;PB29;1;0;120;40%;out\r\n;;;;1;2;\nquay blue;;1;4;10,0;20;out\r\n",
	} {
		l, err := ParseList("l.csv", []byte(in))
		if err != nil {
			t.Fatal(name, err)
		}
		if len(l.Swatches) != 2 || strings.Join(l.Head, " ") != "tube ci paint_parts white_parts specular" {
			t.Fatalf("%s: %+v", name, l)
		}
		a, b := l.Swatches[0], l.Swatches[1]
		if a.Line != 4 || b.Line != 6 || a.Place.String() != "120,40%" || b.Place.String() != "10,20" {
			t.Errorf("%s: %+v %+v", name, a, b)
		}
		got := string(l.Readings([]Place{{Lab: lab.Lab{L: 23.456, A: -1}, Uncertainty: 1.5}, {Lab: lab.Lab{L: -1}}}))
		want := "tube,ci,paint_parts,white_parts,specular,illuminant,L,a,b,uncertainty\n\n\nquay blue,PB29,1,0,out,D65,23.46,-1,0,1.5\n\nquay blue,,1,4,out,D65,0,0,0,0\n"
		if l.Comma == ';' {
			want = strings.ReplaceAll(want, ",", ";")
		}
		if got != want {
			t.Errorf("%s:\n%s\nwant\n%s", name, got, want)
		}
	}
	l, err := ParseList("l.csv", []byte("place,tube,ci,paint_parts,white_parts\n3,quay blue,PB29,1,0\n4,,,,\n"))
	if err != nil || len(l.Swatches) != 1 || l.Swatches[0].Number != 3 {
		t.Errorf("%+v, %v", l, err)
	}
}

func TestParseListErrors(t *testing.T) {
	for in, want := range map[string]string{
		"":                              "l.csv: no swatches named",
		"tube,x,y\n":                    "l.csv: no swatches named",
		"tube,ci\nq,PB29\n":             "l.csv:1: nothing says where the swatches are",
		"tube,x\nq,1\n":                 "l.csv:1: nothing says where",
		"x,y\n1,2\n":                    "l.csv:1: no column tube",
		"tube,x,y,L\nq,1,2,3\n":         "l.csv:1: column L comes from the photo",
		"tube,x,y,x\nq,1,2,3\n":         "l.csv:1: column x stands twice",
		"tube,x,y\n\nq,1,\n":            "l.csv:3: x without y",
		"tube,place,x,y\nq,,,\n":        "l.csv:2: nothing says where this swatch is",
		"tube,place\nq,first\n":         "l.csv:2: place \"first\" is not the number",
		"tube,place\nq,0\n":             "l.csv:2: place \"0\" is not the number",
		"tube,x,y\nq,-1,2\n":            "l.csv:2: the place",
		"tube,x,y\n\"q,1,2\n":           "l.csv:2: a quotation mark",
		"tube,x,y\nq\x00,1,2\n":         "not a text file",
		strings.Repeat("a,", 150) + "b": "l.csv:1: 151 columns",
	} {
		if _, err := ParseList("l.csv", []byte(in)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q: %v, want %q", in, err, want)
		}
	}
	for in, want := range map[string]int{"3": 3, " 12 ": 12, "40%,2": 0} {
		if n, _, err := ParsePlace(in); err != nil || n != want {
			t.Errorf("%q: %d, %v", in, n, err)
		}
	}
	for _, in := range []string{"", "x", "0", "-1", "1,", "1.5", "1,2,3"} {
		if _, _, err := ParsePlace(in); err == nil {
			t.Errorf("%q was read as a place", in)
		}
	}
}

// Whatever a list holds, reading it neither panics nor loses a swatch on the
// way to a table of readings.
func FuzzParseList(f *testing.F) {
	f.Add("tube,ci,paint_parts,white_parts,x,y\nquay blue,PB29,1,0,120,40%\n")
	f.Add("place;tube;note\n3;\"quay \"\"blue\"\"\";a, b\n\n# x\n4;;\n")
	f.Add("\ufefftube\tx\ty\r\nq\t1\t2\r\n")
	f.Fuzz(func(t *testing.T, in string) {
		l, err := ParseList("l", []byte(in))
		if err != nil {
			if !strings.HasPrefix(err.Error(), "l:") {
				t.Errorf("%q does not name the list", err)
			}
			return
		}
		out := l.Readings(make([]Place, len(l.Swatches)))
		r := csv.NewReader(strings.NewReader(string(out)))
		r.Comma, r.FieldsPerRecord = l.Comma, -1
		rows, err := r.ReadAll()
		if err != nil || len(rows) != len(l.Swatches)+1 {
			t.Errorf("%d swatches, %d rows, %v", len(l.Swatches), len(rows), err)
		}
	})
}

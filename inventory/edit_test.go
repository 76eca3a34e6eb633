package inventory

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"paintout/inventory/optics"
)

func TestEditTubes(t *testing.T) {
	b := parse(t, sampleBox)
	n, err := b.AddTube(Fields{"name": "rose", "pigment": "PV19", "size": "37 ml", "left": "1 cl", "medium": "oil", "note": "for skies"})
	if err != nil {
		t.Fatal(err)
	}
	if b.Tubes[4] != n || n.Paint != mustFind("PV19").Paint || n.SizeML != 37 || *n.LeftML != 10 || n.Note != "for skies" || n.Medium != "oil" {
		t.Errorf("added %+v", n)
	}
	// Only what is given changes.
	u := *b.Tube("ultramarine")
	n, err = b.EditTube("Ultramarine", Fields{"left": "3"})
	if err != nil {
		t.Fatal(err)
	}
	left := 3.0
	u.LeftML = &left
	if !sameTube(n, &u) || b.Tubes[0] != n {
		t.Errorf("edited %+v\nwant %+v", n, u)
	}
	// A new name, a new code; the strength factor stays on the new colour.
	n, err = b.EditTube("PB29", Fields{"name": "phthalo", "pigment": "PB15:3", "note": ""})
	if err != nil {
		t.Fatal(err)
	}
	if n.Name != "phthalo" || n.Note != "" || n.Paint != mustFind("PB15:3").Paint.Strengthened(1.1) || b.Tube("ultramarine") != nil {
		t.Errorf("renamed %+v", n)
	}
	// A measured tube under another code is fitted to its readings again.
	v := *b.Tube("violet of my own")
	n, err = b.EditTube("violet of my own", Fields{"pigment": "PB29"})
	if err != nil {
		t.Fatal(err)
	}
	if n.Paint == v.Paint || len(n.Readings) != 2 || n.Provenance != Measured || !strings.Contains(n.Source, "starting from the library's PB29") || len(b.Notes) == 0 {
		t.Errorf("fitted again %+v", n)
	}
	// An override and back.
	if n, err = b.EditTube("rose", Fields{"lightfast": "II by the label", "opacity": "opaque"}); err != nil || n.Lightfast != "II by the label" || n.Opacity != Opaque {
		t.Errorf("%v %+v", err, n)
	}
	if n, err = b.EditTube("rose", Fields{"lightfast": "", "opacity": ""}); err != nil || n.Lightfast != mustFind("PV19").Lightfast || n.Opacity != mustFind("PV19").Opacity {
		t.Errorf("%v %+v", err, n)
	}
	out, err := b.RemoveTubes("rose", "white")
	if err != nil || len(out) != 2 || len(b.Tubes) != 3 || b.White() != nil {
		t.Errorf("%v: %d out, %d left", err, len(out), len(b.Tubes))
	}
}

// Only what is given changes, whatever the tube.
func TestEditChangesNothingElse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := boxGen().Draw(t, "box")
		if len(b.Tubes) == 0 {
			return
		}
		i := rapid.IntRange(0, len(b.Tubes)-1).Draw(t, "tube")
		want := &Box{Name: b.Name, Finish: b.Finish, Tubes: slices.Clone(b.Tubes)}
		u := *b.Tubes[i]
		left := 7.5
		u.Note, u.LeftML, u.Medium = "seen: \"dry\"", &left, ""
		want.Tubes[i] = &u
		if _, err := b.EditTube(b.Tubes[i].Name, Fields{"note": u.Note, "left": "7.5 ml", "medium": ""}); err != nil {
			t.Fatal(err)
		}
		same(t, b, want)
	})
}

func TestEditErrors(t *testing.T) {
	b := parse(t, sampleBox)
	before, err := b.encode("b.yaml", nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		f    Fields
		want string
	}{
		{"", Fields{"name": "Ultramarine", "pigment": "PB29"}, `"ultramarine" is in the box already (PB29)`},
		{"", Fields{"name": "x", "pigment": "PB999"}, `tube "x": no pigment PB999`},
		{"", Fields{"name": "x", "pigment": "PBr7"}, "several paints: write PBr7/"},
		{"", Fields{"name": "x", "pigment": "blue"}, `"blue" is not a pigment code`},
		{"", Fields{"name": "x", "pigment": "PB29", "size": "-37"}, "size is -37 ml"},
		{"", Fields{"name": "x", "pigment": "PB29", "left": "-1"}, "left is -1 ml"},
		{"", Fields{"name": "x", "pigment": "PB29", "shade": "red"}, `unknown key "shade"`},
		{"", Fields{"name": "x"}, "give its pigment code"},
		{"", Fields{"name": strings.Repeat("x", 201), "pigment": "PB29"}, "longer than 200"},
		{"white", Fields{"name": "convenience BLUE"}, `"convenience blue" is in the box already (PW6+PB29)`},
		{"white", Fields{"medium": "butter"}, `medium "butter" is not one of oil, acrylic`},
		{"ultramarin", Fields{"left": "1"}, `no tube "ultramarin" in the box: did you mean ultramarine?`},
		{"zzz", Fields{"left": "1"}, `no tube "zzz" in the box; list its tubes`},
	} {
		if c.name == "" {
			_, err = b.AddTube(c.f)
		} else {
			_, err = b.EditTube(c.name, c.f)
		}
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q %v: %v, want %q", c.name, c.f, err, c.want)
		}
	}
	if _, err := b.RemoveTubes("white", "green"); err == nil || !strings.Contains(err.Error(), `no tube "green"`) {
		t.Errorf("removing: %v", err)
	}
	after, err := b.encode("b.yaml", nil)
	if err != nil || !bytes.Equal(before, after) {
		t.Errorf("refused changes left their mark (%v)", err)
	}
}

// A renamed tube keeps the painter's comments.
func TestRenameKeepsComments(t *testing.T) {
	path := filepath.Join(t.TempDir(), "box.yaml")
	if err := os.WriteFile(path, []byte(sampleBox), 0o644); err != nil {
		t.Fatal(err)
	}
	err := UpdateBox(path, func(b *Box) (*Box, error) {
		_, err := b.EditTube("ultramarine", Fields{"name": "French ultramarine"})
		return b, err
	})
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"# The blue bag", "# from the estuary course\n- name: French ultramarine", "# bought in May"} {
		if !strings.Contains(string(data), want) {
			t.Errorf("%q is gone:\n%s", want, data)
		}
	}
}

// Half-written files of runs that were killed go at the next write; others stay.
func TestSweep(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "box.yaml")
	for _, n := range []string{".box.yaml1234567", ".box.yaml.bak7654321", ".box.yaml12", ".box.yaml-kept", ".other.yaml1234567"} {
		if err := os.WriteFile(filepath.Join(dir, n), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := Starter().Save(path); err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if got, want := fmt.Sprint(names), "[.box.yaml-kept .box.yaml.lock .box.yaml12 .other.yaml1234567 box.yaml]"; got != want {
		t.Errorf("left %s, want %s", got, want)
	}
}

func csvOf(t interface{ Fatal(...any) }, b *Box) string {
	var out bytes.Buffer
	if err := b.WriteCSV(&out); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// Export then import is the identity: into nothing, and into the box itself.
func TestBoxCSVIdentity(t *testing.T) {
	for name, b := range map[string]*Box{"starter": Starter(), "sample": parse(t, sampleBox), "none": {Name: "empty, so far"}} {
		got, c, err := ReadBoxCSV("b.csv", strings.NewReader(csvOf(t, b)), nil)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		same(t, got, b)
		if len(c.Added) != len(b.Tubes) {
			t.Errorf("%s: %+v", name, c)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		b := boxGen().Draw(t, "box")
		text := csvOf(t, b)
		got, _, err := ReadBoxCSV("b.csv", strings.NewReader(text), nil)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		same(t, got, b)
		again, c, err := ReadBoxCSV("b.csv", strings.NewReader(text), b)
		if err != nil || len(c.Same) != len(b.Tubes) {
			t.Fatalf("%v %+v\n%s", err, c, text)
		}
		same(t, again, b)
		if IsBoxCSV([]byte(text)) != true {
			t.Fatalf("not taken for a table of tubes:\n%s", text)
		}
	})
}

func TestBoxCSVInto(t *testing.T) {
	b := parse(t, sampleBox)
	// A spreadsheet's semicolons and decimal commas; columns not there leave
	// what is there.
	got, c, err := ReadBoxCSV("b.csv", strings.NewReader("Tube;CI;Left ml;Price\nultramarine;PB29;7,5;11\nrose;PV19;;9\nWHITE;PW6;\n"), b)
	if err != nil {
		t.Fatal(err)
	}
	u := got.Tube("ultramarine")
	if *u.LeftML != 7.5 || u.SizeML != 37 || u.Note == "" || u.Factor != 1.1 || len(got.Tubes) != 5 || got.Name != "field box" {
		t.Errorf("%+v", u)
	}
	if fmt.Sprint(c.Added, c.Changed, c.Same) != "[rose] [ultramarine] [white]" || !slices.Contains(c.Notes, "columns not used: Price") {
		t.Errorf("%+v", c)
	}
	if b.Tube("ultramarine").LeftML == nil || *b.Tube("ultramarine").LeftML != 12 || len(b.Tubes) != 4 {
		t.Error("the present box was changed")
	}
}

func TestBoxCSVErrors(t *testing.T) {
	for _, c := range []struct{ csv, want string }{
		{"", "b.csv: empty"},
		{"colour,size_ml\nblue,37\n", "b.csv:1: no column tube"},
		{"tube,ci,sise_ml\na,PB29,37\n", `b.csv:1: unknown column "sise_ml"; did you mean size_ml?`},
		{"tube,name,ci\na,b,PB29\n", "b.csv:1: column tube stands twice"},
		{"tube,ci\na,PB29\n\nb,PB999\n", `b.csv:4: tube "b": no pigment PB999`},
		{"tube,ci\na,blue\n", `b.csv:2: "blue" is not a pigment code`},
		{"tube,ci\na,PB29+pb29\n", "b.csv:2: pigment code PB29 stands twice"},
		{"tube,ci\na,PB29\nb,PW6\nA,PB28\n", `b.csv:4: tube "A" stands twice, first on line 2`},
		{"tube,ci,size_ml\na,PB29,-37\n", "b.csv:2: size is -37 ml"},
		{"tube,ci,left_ml\na,PB29,some\n", `b.csv:2: left "some" is not a volume`},
		{"tube,ci,medium\na,PB29,butter\n", `b.csv:2: medium "butter"`},
		{"tube,ci,strength\na,PB29,0\n", "b.csv:2: strength is 0"},
		{"tube,ci,white\na,PB29,perhaps\n", `b.csv:2: white "perhaps"`},
		{"tube,ci,note\n,,lost\n", "b.csv:2: a row without a tube"},
		{"tube,ci\na,\n", "b.csv:2: tube \"a\": give its pigment code"},
		{"tube,ci,box\na,PB29,x\nb,PW6,y\n", `b.csv:3: the box's name is "y" here and "x" above`},
		{"tube,ci,finish\na,PB29,shiny\n", `b.csv:2: finish "shiny"`},
		{"tube,ci,readings\na,PB29,*a\n", "b.csv:2: readings are not as they were exported"},
		{"tube,ci,readings\na,PB29,[{parts: 0}]\n", "b.csv:2: a reading"},
		{"tube,ci,constants\na,PB29,{K: [1]}\n", "b.csv:2: K has 1 numbers"},
		{"tube,ci\n\"a,PB29\n", "b.csv:2: a quotation mark"},
	} {
		_, _, err := ReadBoxCSV("b.csv", strings.NewReader(c.csv), nil)
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %v, want %q", c.csv, err, c.want)
		}
	}
}

func TestIsBoxCSV(t *testing.T) {
	for text, want := range map[string]bool{
		"tube,ci\n": true, "\ufeffName;Pigment;Size\n": true, "# mine\n\nci\nPB29\n": true,
		labHead: false, "tube,400,410\n": false, "tube,ci,L,a,b\n": false, "": false, "<CxF/>": false,
		"tube\nBEGIN_DATA\n": false, "size_ml,note\n": false, "\x00": false,
	} {
		if IsBoxCSV([]byte(text)) != want {
			t.Errorf("%q is %v", text, !want)
		}
	}
}

// Readings exported and imported are the same readings, and fit the same tubes.
func TestReadingsIdentity(t *testing.T) {
	m := newMaker(false, optics.Excluded)
	blue := mustFind("PB29").Paint.Strengthened(1.3)
	black := mustFind("PBk9").Paint
	m.film("chalk white", "PW6", &m.white, 0, 1, 0)
	m.film("coal", "PBk9", &black, 1, 0, 0)
	for _, white := range []float64{0, 4, 9} {
		m.film("quay blue", "PB29", &blue, 1, white, 0)
	}
	b, _ := calibrated(t, m.String(), nil)
	// A Lab reading by mass beside the spectra, as a painter may add one.
	b.Tubes[1].Readings = append(b.Tubes[1].Readings, Reading{Paint: 0.3, White: 2.5, Mass: true, Lab: b.Tubes[1].Readings[0].Colour(), Illuminant: optics.D50})
	var out bytes.Buffer
	n, err := b.WriteReadings(&out)
	if err != nil || n != 6 {
		t.Fatalf("%d readings, %v", n, err)
	}
	rd := read(t, out.String())
	for _, note := range rd.Notes {
		if !strings.Contains(note, "by mass") {
			t.Errorf("something had to be assumed: %s", note)
		}
	}
	for i, got := range rd.Tubes {
		want := b.Tubes[i]
		for j := range got.Rows {
			r := got.Rows[j]
			if want.White {
				r.Paint, r.White = r.White, 0
			}
			if fmt.Sprint(unlined([]Reading{r})[0].node()) == "" || !sameTube(&Tube{Readings: []Reading{r}}, &Tube{Readings: want.Readings[j : j+1]}) {
				t.Errorf("%s %d: %+v, want %+v", got.Name, j, r, want.Readings[j])
			}
		}
	}
	b.Tubes[1].Readings = b.Tubes[1].Readings[:len(b.Tubes[1].Readings)-1]
	out.Reset()
	if _, err := b.WriteReadings(&out); err != nil {
		t.Fatal(err)
	}
	again, _ := calibrated(t, out.String(), nil)
	for i := range b.Tubes {
		p, q := again.Tubes[i], b.Tubes[i]
		if p.Name != q.Name || p.Paint != q.Paint {
			t.Errorf("%s came back as %s, or with other constants", q.Name, p.Name)
		}
	}
}

func FuzzReadBoxCSV(f *testing.F) {
	f.Add("tube,ci,medium,size_ml,left_ml,note\nultramarine,PB29,oil,37,20 ml,\"stiff, warm it\"\n")
	f.Add("Name;Pigment;Left\n\"a;b\";PW6+PB29;7,5\n# no\n;PBr7/burnt sienna;\n")
	var out bytes.Buffer
	if err := parse(f, sampleBox).WriteCSV(&out); err != nil {
		f.Fatal(err)
	}
	f.Add(out.String())
	f.Add("tube,ci,caution,white,finish,box\n-,PB29,-,no,in,-\n---,PR101,--,yes,,\n")
	f.Fuzz(func(t *testing.T, s string) {
		IsBoxCSV([]byte(s))
		b, _, err := ReadBoxCSV("f.csv", strings.NewReader(s), nil)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "f.csv:") {
				t.Errorf("error does not name the file: %v", err)
			}
			return
		}
		got, _, err := ReadBoxCSV("f.csv", strings.NewReader(csvOf(t, b)), nil)
		if err != nil {
			t.Fatal(err)
		}
		same(t, got, b)
		if _, err := b.encode("box.yaml", nil); err != nil {
			t.Fatal(err)
		}
	})
}

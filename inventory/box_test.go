package inventory

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"paintout/inventory/optics"
)

func parse(t testing.TB, text string) *Box {
	t.Helper()
	b, err := ParseBox("b.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

const sampleBox = `# The blue bag
box: field box
finish: included
tubes:
  # from the estuary course
  - name: ultramarine
    pigment: PB29 # bought in May
    medium: oil
    size: 37 ml
    left: 1.2 cl
    strength: 1.1
    opacity: transparent
    note: "stiff: warm it"
  - name: convenience blue
    pigment: [PW6, PB29]
  - {name: white, pigment: pw6}
  - name: violet of my own
    readings:
      - {parts: 1, lab: [21.0, 24.1, -30.2], specular: included}
      - {parts: 1, white: 4, lab: [48.9, 22.5, -41.7], specular: included}
`

func TestParseBox(t *testing.T) {
	b := parse(t, sampleBox)
	if b.Name != "field box" || b.Finish == nil || *b.Finish != optics.Included || len(b.Tubes) != 4 {
		t.Fatalf("%+v", b)
	}
	u := b.Tubes[0]
	want := mustFind("PB29").Paint.Strengthened(1.1)
	if u.Paint != want || u.SizeML != 37 || *u.LeftML != 12 || u.Medium != "oil" || u.Note != "stiff: warm it" || u.Opacity != Transparent {
		t.Errorf("%+v", u)
	}
	if c := b.Tubes[1]; c.Provenance != Estimated || !strings.Contains(c.Source, "no proportions") || c.Modes[0].DK[0] <= mustFind("PB29").Tube().Modes[0].DK[0] {
		t.Errorf("two pigments: %+v", c)
	}
	if b.White() != b.Tubes[2] {
		t.Errorf("white is %v", b.White())
	}
	v := b.Tubes[3]
	if v.Provenance != Measured || len(v.Readings) != 2 || len(v.Modes) < 3 {
		t.Errorf("%+v", v)
	}
	s := v.Paint.Reflectance(optics.Included)
	if c := s.Lab(optics.D65); c.L < 19 || c.L > 24 || c.A < 15 || c.B > -20 {
		t.Errorf("the violet came out as %v", c)
	}
}

func TestParseBoxErrors(t *testing.T) {
	tube := func(lines ...string) string {
		return "box: b\ntubes:\n  - name: a\n    " + strings.Join(lines, "\n    ") + "\n"
	}
	row := strings.TrimSuffix(strings.Repeat("0.5, ", 31), ", ")
	for _, c := range []struct{ text, want string }{
		{"", "b.yaml: empty"},
		{"box: [", "b.yaml:"},
		{"- a\n", "not a box file"},
		{"box: b\ntubs: []\n", "b.yaml:2: unknown key \"tubs\" in the box; did you mean tubes?"},
		{"box: b\nbox: c\n", "b.yaml:2: key box stands twice, first on line 1"},
		{"finish: shiny\n", "b.yaml:1: finish \"shiny\""},
		{"box: b\ntubes:\n  - nme: a\n", "b.yaml:3: unknown key \"nme\" in a tube; did you mean name?"},
		{tube("zzz: 1"), "known are caution"},
		{"\x7fELF\x02\x01\x00", "b.yaml: not a text file; a box file is YAML, to be read and written in a text editor"},
		{"box: b\ntubes:\n  - name: terre br\xfbl\xe9e\n", "b.yaml:3: a letter there is not written in UTF-8; save the file as UTF-8 text"},
		{tube("pigmet: PB29"), "b.yaml:4: unknown key \"pigmet\" in a tube; did you mean pigment?"},
		{tube("pigment: blue 29"), "b.yaml:4: \"blue 29\" is not a pigment code"},
		{tube("pigment: PB999"), "b.yaml:3: tube \"a\": no pigment PB999"},
		{tube("pigment: [PB29, pb29]"), "b.yaml:4: pigment code PB29 stands twice"},
		{tube("medium: oil"), "b.yaml:3: tube \"a\": give its pigment code"},
		{tube("pigment: PB29", "size: -37 ml"), "b.yaml:5: size is -37 ml"},
		{tube("pigment: PB29", "size: large"), "b.yaml:5: size \"large\" is not a volume"},
		{tube("pigment: PB29", "strength: 0"), "b.yaml:5: strength is 0"},
		{tube("pigment: PB29", "strength: .nan"), "b.yaml:5: strength \".nan\" is not a number"},
		{tube("pigment: PB29", "medium: butter"), "b.yaml:5: medium \"butter\""},
		{tube("pigment: PB29", "opacity: thick"), "b.yaml:5: opacity \"thick\""},
		{tube("pigment: PB29", "note: \"a\\nb\""), "b.yaml:5: note holds a line break"},
		{tube("pigment: PB29") + "  - name: A\n    pigment: PB28\n", "b.yaml:5: tube \"A\" stands twice, first on line 3"},
		{tube("readings:", "  - {parts: 0, lab: [1, 2, 3]}"), "b.yaml:5: a reading needs parts"},
		{tube("readings:", "  - {parts: 1, lab: [1, 2]}"), "b.yaml:5: lab is three numbers"},
		{tube("readings:", "  - {parts: 1}"), "b.yaml:5: a reading has one colour"},
		{tube("readings:", "  - {parts: 1, spectrum: [0.5, 0.5]}"), "b.yaml:5: spectrum has 2 numbers; it needs 31"},
		{tube("readings:", "  - {parts: 1, spectrum: ["+strings.Replace(row, "0.5", "50", 1)+"]}"), "b.yaml:5: reflectance 50 at 400 nm"},
		{tube("constants:", "  K: ["+row+"]"), "b.yaml:5: constants need both K and S"},
		{tube("constants:", "  K: ["+row+"]", "  S: ["+strings.Replace(row, "0.5", "0", 1)+"]"), "b.yaml:6: S at 400 nm is 0"},
		{tube("constants:", "  K: ["+row+"]", "  S: [1]"), "b.yaml:6: S has 1 numbers; it needs 31"},
		{"box: b\ntubes:\n  - &t {name: a, pigment: PB29}\n  - *t\n", "b.yaml:3: anchors and aliases"},
		{"box: b\n---\nbox: c\n", "keep one box to a file"},
	} {
		_, err := ParseBox("b.yaml", []byte(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q:\n  %v\n  want %q", c.text, err, c.want)
		}
	}
	// A few lines that stand for more than memory holds.
	bomb := "a: &a [x,x,x,x,x,x,x,x,x]\n"
	for c := 'b'; c < 'l'; c++ {
		bomb += fmt.Sprintf("%c: &%c [%s]\n", c, c, strings.TrimSuffix(strings.Repeat("*"+string(c-1)+",", 9), ","))
	}
	if _, err := ParseBox("b.yaml", []byte(bomb)); err == nil {
		t.Error("an alias bomb was read")
	}
	if _, err := ParseBox("b.yaml", []byte(strings.Repeat("#", maxBoxBytes+1))); err == nil || !strings.Contains(err.Error(), "MiB") {
		t.Errorf("too long: %v", err)
	}
	var many strings.Builder
	many.WriteString("tubes:\n")
	for i := range maxTubes + 1 {
		fmt.Fprintf(&many, "  - {name: t%d, pigment: PB29}\n", i)
	}
	if _, err := ParseBox("b.yaml", []byte(many.String())); err == nil || !strings.Contains(err.Error(), "at most 500") {
		t.Errorf("too many: %v", err)
	}
}

func same(t interface {
	Helper()
	Fatalf(string, ...any)
}, got, want *Box) {
	t.Helper()
	if got.Name != want.Name || !reflect.DeepEqual(got.Finish, want.Finish) || len(got.Tubes) != len(want.Tubes) {
		t.Fatalf("%q %v %d tubes, want %q %v %d", got.Name, got.Finish, len(got.Tubes), want.Name, want.Finish, len(want.Tubes))
	}
	for i := range want.Tubes {
		if !sameTube(got.Tubes[i], want.Tubes[i]) {
			t.Fatalf("tube %q changed:\n%+v\n%+v", want.Tubes[i].Name, got.Tubes[i], want.Tubes[i])
		}
	}
}

// A code of several paints takes the one that the tube's name says, as the
// import of readings does, and keeps it when the tube is renamed.
func TestCodeOfSeveralPaintsByName(t *testing.T) {
	b := parse(t, "tubes:\n- {name: Burnt Sienna (old), pigment: PBr7}\n- {name: brown, pigment: [PR101, PBr7/raw umber]}\n")
	tube := b.Tubes[0]
	if want := mustFind("PBr7/burnt sienna"); tube.Code() != "PBr7/burnt sienna" || tube.Paint != want.Paint {
		t.Errorf("%s, from %s", tube.Code(), tube.Source)
	}
	if _, err := b.EditTube(tube.Name, Fields{"name": "the warm one"}); err != nil {
		t.Error(err)
	} else if got := b.Tube("the warm one"); got.Code() != "PBr7/burnt sienna" {
		t.Errorf("renamed: %s", got.Code())
	}
	m := newMaker(false, optics.Included)
	m.film("W", "PW6", &m.white, 0, 1, 0)
	sienna := mustFind("PBr7/burnt sienna").Paint
	m.film("burnt sienna", "PBr7", &sienna, 1, 0, 0)
	c, _ := calibrated(t, m.String(), nil)
	if err := c.Save(filepath.Join(t.TempDir(), "b.yaml")); err != nil {
		t.Error(err)
	}
	if _, err := ParseBox("b.yaml", []byte("tubes:\n- {name: brown, pigment: PBr7}\n")); err == nil || !strings.Contains(err.Error(), "PBr7 is the code of several paints") {
		t.Errorf("%v", err)
	}
}

func TestSaveKeepsAll(t *testing.T) {
	path := filepath.Join(t.TempDir(), "deep", "box.yaml")
	for name, b := range map[string]*Box{"starter": Starter(), "sample": parse(t, sampleBox), "none": {Name: "empty"}} {
		if err := b.Save(path); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		got, err := LoadBox(path)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		same(t, got, b)
	}
	// A calibrated box, to the last digit.
	m := newMaker(false, optics.Excluded)
	blue := mustFind("PB29").Paint.Strengthened(1.3)
	m.film("W", "PW6", &m.white, 0, 1, 0)
	m.film("b", "PB29", &blue, 1, 0, 0)
	m.film("b", "PB29", &blue, 1, 4, 0)
	b, _ := calibrated(t, m.String(), parse(t, sampleBox))
	if err := b.Save(path); err != nil {
		t.Fatal(err)
	}
	got, err := LoadBox(path)
	if err != nil {
		t.Fatal(err)
	}
	same(t, got, b)
	for i := range b.Tubes {
		if b.Tubes[i].Factor == 0 && got.Tubes[i].Paint != b.Tubes[i].Paint {
			t.Errorf("constants of %s lost digits", b.Tubes[i].Name)
		}
	}
}

func TestSaveKeepsComments(t *testing.T) {
	path := filepath.Join(t.TempDir(), "box.yaml")
	if err := os.WriteFile(path, []byte(sampleBox), 0o600); err != nil {
		t.Fatal(err)
	}
	err := UpdateBox(path, func(b *Box) (*Box, error) {
		b.Tubes = append(b.Tubes[:1:1], b.Tubes[2:]...) // one out
		b.Tubes[0].Note = "changed"
		return b, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"# The blue bag", "# from the estuary course", "# bought in May", "note: changed", "specular: included"} {
		if !strings.Contains(string(data), want) {
			t.Errorf("%q is gone:\n%s", want, data)
		}
	}
	if strings.Contains(string(data), "convenience") {
		t.Error("a tube taken out is still there")
	}
	old, err := os.ReadFile(path + ".bak")
	if err != nil || string(old) != sampleBox {
		t.Errorf("the last good copy: %v\n%s", err, old)
	}
	if fi, err := os.Stat(path); err != nil || fi.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", fi.Mode(), err)
	}
}

func TestSaveFollowsLinks(t *testing.T) {
	dir := t.TempDir()
	real := filepath.Join(dir, "kept", "real.yaml")
	link := filepath.Join(dir, "box.yaml")
	if err := os.Symlink(filepath.Join("kept", "real.yaml"), link); err != nil {
		t.Skip(err)
	}
	for range 2 { // to a file that is not there yet, then to one that is
		if err := Starter().Save(link); err != nil {
			t.Fatal(err)
		}
		if _, err := os.Stat(real); err != nil {
			t.Fatal(err)
		}
		if fi, err := os.Lstat(link); err != nil || fi.Mode()&os.ModeSymlink == 0 {
			t.Fatalf("the link is gone: %v", err)
		}
	}
}

func TestLoadBoxTroubles(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "box.yaml")
	if _, err := LoadBox(path); !errors.Is(err, fs.ErrNotExist) || !strings.Contains(err.Error(), path) {
		t.Errorf("missing: %v", err)
	}
	if err := Starter().Save(path); err != nil {
		t.Fatal(err)
	}
	b := Starter()
	b.Name = "second"
	if err := b.Save(path); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte("box: ["), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := LoadBox(path); err == nil || !strings.Contains(err.Error(), "the last good copy is "+path+".bak") {
		t.Errorf("broken: %v", err)
	}
	// A broken file is never kept as the good copy.
	if err := b.Save(path); err != nil {
		t.Fatal(err)
	}
	if _, err := LoadBox(path + ".bak"); err != nil {
		t.Errorf("the copy: %v", err)
	}
	if err := (&Box{Tubes: []*Tube{{Name: "two\nlines"}}}).Save(path); err == nil {
		t.Error("a box that does not read back was saved")
	}
}

// Writers at once lose nothing.
func TestUpdateBoxAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "box.yaml")
	var wg sync.WaitGroup
	const writers = 12
	for i := range writers {
		wg.Go(func() {
			err := UpdateBox(path, func(b *Box) (*Box, error) {
				if b == nil {
					b = &Box{Name: "shared"}
				}
				tube := mustFind("PB29").Tube()
				tube.Name = fmt.Sprint("tube ", i)
				b.Tubes = append(b.Tubes, tube)
				return b, nil
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	b, err := LoadBox(path)
	if err != nil || len(b.Tubes) != writers {
		t.Fatalf("%v: %d tubes of %d", err, len(b.Tubes), writers)
	}
}

func boxGen() *rapid.Generator[*Box] {
	text := rapid.StringMatching(`[A-Za-z0-9é:#,'"{}\[\]&*!|>%@-][ -~é本]{0,12}`)
	word := rapid.Custom(func(t *rapid.T) string { return oneLine(text.Draw(t, "text")) })
	number := func(t *rapid.T, lo, hi float64) float64 { return signif(rapid.Float64Range(lo, hi).Draw(t, "n"), 6) }
	codes := []string{"PB29", "PR254", "PW6", "PBr7/burnt sienna", "PBk9"}
	return rapid.Custom(func(t *rapid.T) *Box {
		b := &Box{Name: oneLine(rapid.String().Draw(t, "box"))}
		if rapid.Bool().Draw(t, "finish stated") {
			f := optics.Finish(rapid.IntRange(0, 1).Draw(t, "finish"))
			b.Finish = &f
		}
		seen := map[string]bool{}
		for range rapid.IntRange(0, 4).Draw(t, "tubes") {
			var tube *Tube
			name := word.Draw(t, "name")
			if name == "" || seen[strings.ToLower(name)] {
				continue
			}
			seen[strings.ToLower(name)] = true
			if rapid.Bool().Draw(t, "library") {
				tube = mustFind(rapid.SampledFrom(codes).Draw(t, "code")).Tube()
			} else {
				tube = &Tube{Provenance: Measured, Source: word.Draw(t, "source")}
				for i := range tube.Paint.K {
					tube.Paint.K[i], tube.Paint.S[i] = number(t, 1e-6, 10), number(t, 1e-3, 3)
				}
				for range rapid.IntRange(0, 2).Draw(t, "modes") {
					var m optics.Mode
					m.DK[3], m.DS[4] = number(t, -1, 1), number(t, -1, 1)
					tube.Modes = append(tube.Modes, m)
				}
				if rapid.Bool().Draw(t, "read") {
					s := optics.Flat(number(t, 0, 1))
					tube.Readings = append(tube.Readings,
						Reading{Paint: 1, Spectrum: &s, Finish: optics.Excluded, Mass: true},
						Reading{Paint: number(t, 0.1, 9), White: number(t, 0, 9), Black: 2, WhiteTube: word.Draw(t, "white tube"), Illuminant: optics.D50, Wet: rapid.Bool().Draw(t, "wet")})
				}
				if rapid.Bool().Draw(t, "dries") {
					tube.Drying = &Drying{number(t, 0.01, 2), -number(t, 0.01, 1), 0}
				}
			}
			tube.Name, tube.Note, tube.Caution = name, word.Draw(t, "note"), word.Draw(t, "caution")
			tube.Medium = rapid.SampledFrom(append([]string{""}, media...)).Draw(t, "medium")
			tube.White = rapid.Bool().Draw(t, "is white")
			if rapid.Bool().Draw(t, "sized") {
				left := number(t, 0, 40)
				tube.SizeML, tube.LeftML = number(t, 1, 300), &left
			}
			if rapid.Bool().Draw(t, "factored") {
				tube.Factor = number(t, 0.1, 8)
				tube.Paint = tube.Paint.Strengthened(tube.Factor)
			}
			b.Tubes = append(b.Tubes, tube)
		}
		return b
	})
}

// What is saved reads back as the same box, and saves again as the same text.
func TestBoxRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := boxGen().Draw(t, "box")
		data, err := b.encode("b.yaml", nil)
		if err != nil {
			t.Fatal(err)
		}
		got, err := ParseBox("b.yaml", data)
		if err != nil {
			t.Fatal(err)
		}
		same(t, got, b)
		again, err := got.encode("b.yaml", data)
		if err != nil || string(again) != string(data) {
			t.Fatalf("%v\n%s\n%s", err, data, again)
		}
	})
}

func FuzzParseBox(f *testing.F) {
	f.Add([]byte(sampleBox))
	f.Add([]byte("tubes:\n  - {name: a, pigment: PB29, white: yes, left: 0}\n"))
	data, err := Starter().encode("b.yaml", nil)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Add([]byte("box: &a [*a]\ntubes: ~\n"))
	row := strings.TrimSuffix(strings.Repeat("0.5, ", 31), ", ")
	f.Add([]byte("tubes:\n- name: a\n  strength: 2\n  constants: {from: derived, K: [" + row + "], S: [" + row + "]}\n  readings: [{parts: 1, spectrum: [" + row + "]}, {parts: 1, state: wet, lab: [50, 0, 0]}]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := ParseBox("f.yaml", data)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "f.yaml:") {
				t.Errorf("error does not name the file: %v", err)
			}
			return
		}
		out, err := b.encode("f.yaml", data)
		if err != nil {
			t.Fatal(err)
		}
		got, err := ParseBox("f.yaml", out)
		if err != nil {
			t.Fatal(err)
		}
		same(t, got, b)
	})
}

package inventory

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
)

func TestParseDrawdownName(t *testing.T) {
	for in, want := range map[string]DrawdownName{
		"ultramarine blue PB29 1:4":   {"ultramarine blue", "PB29", "1", "4", "0"},
		"light red (PR101) 1:0:0.5":   {"light red", "PR101", "1", "0", "0.5"},
		"quay blue masstone":          {"quay blue", "", "1", "0", "0"},
		"titanium white PW6":          {"titanium white", "PW6", "0", "1", "0"},
		"chalk white masstone":        {"chalk white", "", "0", "1", "0"},
		"PB15:4 1:9":                  {"PB15:4", "PB15:4", "1", "9", "0"},
		"  burnt sienna   PBr7 1:2,5": {"burnt sienna", "PBr7", "1", "2.5", "0"},
	} {
		got, err := ParseDrawdownName(in)
		if err != nil || got != want {
			t.Errorf("%q: %+v, %v; want %+v", in, got, err, want)
		}
	}
	for in, want := range map[string]string{
		"":                "names no tube",
		"1:4":             "names no tube",
		"quay blue":       "has no parts; add masstone",
		"quay blue 1:4:":  "cannot be read",
		"quay blue 1/4":   "cannot be read",
		"quay blue PB29":  "has no parts",
		"quay blue 1::4:": "cannot be read",
	} {
		if _, err := ParseDrawdownName(in); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", in, err, want)
		}
	}
}

// A reading that says it is worth little pulls a tube less, and says so again
// when it is exported or its box is saved.
func TestUncertainReadings(t *testing.T) {
	head := "tube,ci,paint_parts,white_parts,basis,specular,L,a,b,uncertainty\nchalk white,PW6,0,1,volume,in,96,-0.5,1.5,\nquay blue,PB29,1,0,volume,in,23,20,-32,\n"
	off := func(uncertainty string) float64 {
		rd, err := ReadReadings("r.csv", strings.NewReader(head+"quay blue,PB29,1,4,volume,in,66,8,-30,"+uncertainty+"\n"))
		if err != nil {
			t.Fatal(err)
		}
		b, rep, err := Calibrate(rd, nil)
		if err != nil {
			t.Fatal(err)
		}
		if len(rep.Tubes) != 2 {
			t.Fatalf("%d tubes", len(rep.Tubes))
		}
		var csv bytes.Buffer
		if _, err := b.WriteReadings(&csv); err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(csv.String(), "uncertainty"); got != (uncertainty != "") {
			t.Errorf("uncertainty %q: exported as\n%s", uncertainty, csv.String())
		}
		again, err := ReadReadings("again.csv", &csv)
		if err != nil {
			t.Fatal(err)
		}
		last := again.Tubes[1].Rows[1]
		if uncertainty == "4" && last.Uncertainty != 4 {
			t.Errorf("uncertainty %v came back", last.Uncertainty)
		}
		path := filepath.Join(t.TempDir(), "box.yaml")
		if err := b.Save(path); err != nil {
			t.Fatal(err)
		}
		saved, err := LoadBox(path)
		if err != nil {
			t.Fatal(err)
		}
		if got := saved.Tube("quay blue").Readings[1].Uncertainty; uncertainty == "4" && got != 4 {
			t.Errorf("uncertainty %v in the box", got)
		}
		return rep.Tubes[1].Rows[1].Residual
	}
	sure, unsure := off(""), off("4")
	if !(unsure > sure) {
		t.Errorf("a sure tint lies %.2f from its fit, an unsure one %.2f", sure, unsure)
	}
	for in, want := range map[string]string{"-1": "lies between 0", "99": "lies between 0", "x": "not a number"} {
		if _, err := ReadReadings("r.csv", strings.NewReader(head+"quay blue,PB29,1,4,volume,in,66,8,-30,"+in+"\n")); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", in, err)
		}
	}
}

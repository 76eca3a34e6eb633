package lab

import (
	"strconv"
	"strings"
	"testing"
)

func TestParseTargetColours(t *testing.T) {
	green := FromSRGB8(0x5a, 0x7d, 0x3c)
	short := FromSRGB8(0xaa, 0xbb, 0xcc)
	for s, want := range map[string]Target{
		"5a7d3c":      {Kind: HexTarget, Lab: green},
		"5A7D3C":      {Kind: HexTarget, Lab: green},
		"#5a7d3c":     {Kind: HexTarget, Lab: green},
		"hex:5a7d3c":  {Kind: HexTarget, Lab: green},
		"HEX: 5a7d3c": {Kind: HexTarget, Lab: green},
		"hex:#5a7d3c": {Kind: HexTarget, Lab: green},
		"#abc":        {Kind: HexTarget, Lab: short},
		"hex:abc":     {Kind: HexTarget, Lab: short},
		"123456":      {Kind: HexTarget, Lab: FromSRGB8(0x12, 0x34, 0x56)},

		"lab:52,-10,31":      {Kind: LabTarget, Lab: Lab{52, -10, 31}},
		"Lab: 52.5 , -10,.5": {Kind: LabTarget, Lab: Lab{52.5, -10, .5}},
		"lab:0,128,-128":     {Kind: LabTarget, Lab: Lab{0, 128, -128}},
		"lab:100,+0,-0":      {Kind: LabTarget, Lab: Lab{100, 0, 0}},

		"notation:5GY 5/4": {Kind: NotationTarget, Lab: atNotation(t, "5GY 5/4")},
		"notation:n 5":     {Kind: NotationTarget, Lab: atNotation(t, "N 5/")},
	} {
		want.Text = s
		got, err := ParseTarget("  " + s + "\t")
		if err != nil || got != want {
			t.Errorf("%q: %+v, %v, want %+v", s, got, err, want)
		}
	}
}

func TestParseTargetPhotos(t *testing.T) {
	for s, want := range map[string]Target{
		"sky.jpg@310,120":           {Path: "sky.jpg", X: 310, Y: 120},
		"sky.jpg@40%,25%":           {Path: "sky.jpg", X: 40, Y: 25, Percent: true},
		"sky.jpg@ 40.5 % , 0%":      {Path: "sky.jpg", X: 40.5, Y: 0, Percent: true},
		"sky.jpg@100%,100%":         {Path: "sky.jpg", X: 100, Y: 100, Percent: true},
		"sky.jpg@0,0":               {Path: "sky.jpg"},
		`C:\photos\x.jpg@3,4`:       {Path: `C:\photos\x.jpg`, X: 3, Y: 4},
		"me@home/a,b@2x.jpg@3,4":    {Path: "me@home/a,b@2x.jpg", X: 3, Y: 4},
		"lab:50,1,1@3,4":            {Path: "lab:50,1,1", X: 3, Y: 4},
		"#abc@3,4":                  {Path: "#abc", X: 3, Y: 4},
		"über die Höhe/été.png@3,4": {Path: "über die Höhe/été.png", X: 3, Y: 4},
	} {
		want.Kind, want.Text = PhotoTarget, s
		got, err := ParseTarget(s)
		if err != nil || got != want {
			t.Errorf("%q: %+v, %v, want %+v", s, got, err, want)
		}
	}
}

func TestParseTargetErrors(t *testing.T) {
	for s, says := range map[string]string{
		"":   "no colour given",
		"  ": "no colour given",

		"5a7d3":      "six hex digits, as in 5a7d3c, and has 5",
		"5a7":        "write all six digits, or #5a7",
		"5":          "six hex digits, as in 5a7d3c, and has 1",
		"#":          "six hex digits, as in 5a7d3c, and has 0",
		"#5a7d":      "six hex digits, as in 5a7d3c, and has 4",
		"#5a7d3c80":  "leave off the last two",
		"#5a7d3g":    "digits are 0–9 and a–f",
		"hex:":       "six hex digits, as in 5a7d3c, and has 0",
		"hex:+5a7d3": "digits are 0–9 and a–f",
		"hex:xyz":    "digits are 0–9 and a–f",
		"olive":      "write a hex colour",
		"5a7d3g":     "write a hex colour",

		"lab:":              "needs three numbers",
		"lab:52,-10":        "needs three numbers",
		"lab:52,5,-10,31,2": "points for decimals",
		"lab:52;-10;31":     "needs three numbers",
		"lab:52,,31":        `"" is not a plain number`,
		"lab:NaN,0,0":       `"NaN" is not a plain number`,
		"lab:50,Inf,0":      `"Inf" is not a plain number`,
		"lab:0x10,0,0":      `"0x10" is not a plain number`,
		"lab:1e2,0,0":       `"1e2" is not a plain number`,
		"lab:--1,0,0":       `"--1" is not a plain number`,
		"lab:-1,0,0":        "L* -1 is outside 0 (black) to 100 (white)",
		"lab:100.5,0,0":     "L* 100.5 is outside",
		"lab:50,129,0":      "from -128 to 128",
		"lab:50,0,-300":     "from -128 to 128",

		"notation:":         "write hue, value and chroma",
		"notation:5GY 5":    "write hue, value and chroma",
		"notation:5XY 5/4":  "R YR Y GY G BG B PB P RP",
		"notation:5Y 2/30":  "no colour is as strong",
		"notation:N 5/3":    "write N 5/",
		"5GY 5/4":           "write notation:5GY 5/4",
		"N5":                "write notation:N5",
		"colour:5GY 5/4":    "no kind of colour that is known",
		"rgb:90,125,60":     "no kind of colour that is known",
		`C:\photos\x.jpg`:   `add the spot, as in C:\photos\x.jpg@40%,25%`,
		"sky.jpg":           "add the spot, as in sky.jpg@40%,25%",
		"sky.heic":          "add the spot",
		"sky.jpg@":          "no spot x,y after its last @",
		"sky.jpg@3":         "no spot x,y after its last @",
		"me@home/sky.jpg":   "no spot x,y after its last @",
		"sky.jpg@3,":        `"3," is not a spot x,y`,
		"sky.jpg@3,4,5":     `"3,4,5" is not a spot x,y`,
		"sky.jpg@NaN,4":     `"NaN,4" is not a spot x,y`,
		"sky.jpg@3,1e999":   `"3,1e999" is not a spot x,y`,
		"sky.jpg@-3,4":      "never negative",
		"sky.jpg@40%,25":    "one coordinate in percent and one in pixels",
		"sky.jpg@140%,25%":  "from 0 to 100",
		"@3,4":              "names no photo before the @",
		" @40%,25%":         "names no photo before the @",
		"sky.jpg@40%%,25%%": "is not a spot x,y",
	} {
		got, err := ParseTarget(s)
		if err == nil || got != (Target{}) || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %+v, %v, want %q", s, got, err, says)
			continue
		}
		if strings.ContainsAny(err.Error(), "\n") {
			t.Errorf("%q: more than one line: %v", s, err)
		}
	}
}

func FuzzParseTarget(f *testing.F) {
	for _, s := range []string{
		"5a7d3c", "#5a7d3c", "#abc", "hex:5a7d3c", "5a7d3", "lab:52,-10,31", "lab:NaN,0,0", "notation:5GY 5/4", "notation:N 5/", "5GY 5/4",
		"sky.jpg@310,120", "sky.jpg@40%,25%", `C:\x.jpg@3,4`, "a@b@1,2", "@", "@,", ":", "#", "hex:\xff", "lab:,,", "rgb:1,2,3", "sky.jpg",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseTarget(s)
		if err != nil {
			if got != (Target{}) || err.Error() == "" {
				t.Fatalf("%q: %+v beside the error %v", s, got, err)
			}
			return
		}
		if back, err := ParseTarget(got.String()); err != nil || back != got {
			t.Fatalf("%q: %+v came back as %+v, %v", s, got, back, err)
		}
		switch got.Kind {
		case HexTarget:
			digits := strings.TrimPrefix(got.Lab.Hex(), "#")
			if again, err := ParseTarget(digits); err != nil || again.Lab != got.Lab {
				t.Fatalf("%q shows as %s, which is %+v, %v", s, digits, again, err)
			}
		case LabTarget, NotationTarget:
			// The strongest colours of the notation lie beyond ±128.
			if c := got.Lab; !c.Finite() || c.L < 0 || c.L > 101 || got.Kind == LabTarget && max(c.A, -c.A, c.B, -c.B) > 128 {
				t.Fatalf("%q is the colour %v", s, c)
			}
		case PhotoTarget:
			if !(got.X >= 0) || !(got.Y >= 0) || got.Percent && max(got.X, got.Y) > 100 || got.Path == "" {
				t.Fatalf("%q: %+v", s, got)
			}
			unit := ""
			if got.Percent {
				unit = "%"
			}
			again, err := ParseTarget(got.Path + "@" + strconv.FormatFloat(got.X, 'f', -1, 64) + unit + "," + strconv.FormatFloat(got.Y, 'f', -1, 64) + unit)
			if err != nil || again.Path != got.Path || again.X != got.X || again.Y != got.Y {
				t.Fatalf("%q: %+v came back as %+v, %v", s, got, again, err)
			}
		default:
			t.Fatalf("%q has no kind: %+v", s, got)
		}
	})
}

package inventory

import (
	"encoding/xml"
	"fmt"
	"strings"
	"testing"

	"paintout/inventory/optics"
)

// cxfText writes a set as CxF3, its elements as the schema CxF3-core 3.0.018
// orders them: tubes and parts in the names, or in tags.
func cxfText(set []classFilm, names bool) string {
	var b strings.Builder
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>
<cc:CxF xmlns:cc="http://colorexchangeformat.com/CxF3-core" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
  <cc:FileInformation>
    <cc:Creator>the evening class on the Marrow Sound</cc:Creator>
    <cc:Tag Name="Basis" Value="volume"/>
  </cc:FileInformation>
  <cc:Resources>
    <cc:ObjectCollection>
`)
	for i, c := range set {
		name, tags := c.name, ""
		if !names {
			name = fmt.Sprintf("Sample %d", i+1)
			tags = fmt.Sprintf(`
        <cc:TagCollection Name="Drawdown">
          <cc:Tag Name="Tube" Value=%q/>
          <cc:Tag Name="CI" Value=%q/>
          <cc:Tag Name="Paint Parts" Value="%g"/>
          <cc:Tag Name="White Parts" Value="%g"/>
          <cc:Tag Name="Black Parts" Value="%g"/>
        </cc:TagCollection>`, c.tube, c.ci, c.paint, c.white, c.black)
		}
		fmt.Fprintf(&b, `      <cc:Object ObjectType="Standard" Name=%q Id="c%d">
        <cc:CreationDate>2024-05-01T10:00:00Z</cc:CreationDate>
        <cc:ColorValues>
          <cc:ReflectanceSpectrum ColorSpecification="CS1" StartWL="380">`, name, i+1)
		for nm := 380; nm <= 730; nm += 10 {
			fmt.Fprintf(&b, " %.5f", max(c.s(float64(nm)), 0))
		}
		fmt.Fprintf(&b, `</cc:ReflectanceSpectrum>
        </cc:ColorValues>%s
      </cc:Object>
`, tags)
	}
	b.WriteString(`      <cc:Object ObjectType="Target" Name="patch" Id="t1">
        <cc:DeviceColorValues><cc:ColorRGB><cc:R>1</cc:R><cc:G>2</cc:G><cc:B>3</cc:B></cc:ColorRGB></cc:DeviceColorValues>
      </cc:Object>
    </cc:ObjectCollection>
    <cc:ColorSpecificationCollection>
      <cc:ColorSpecification Id="CS1">
        <cc:TristimulusSpec><cc:Illuminant>D50</cc:Illuminant><cc:Observer>2_Degree</cc:Observer><cc:Method>E308_Table5</cc:Method></cc:TristimulusSpec>
        <cc:MeasurementSpec>
          <cc:MeasurementType>Spectrum_Reflectance</cc:MeasurementType>
          <cc:GeometryChoice><cc:Sphere>Specular_Included</cc:Sphere></cc:GeometryChoice>
          <cc:WavelengthRange StartWL="380" Increment="10"/>
        </cc:MeasurementSpec>
      </cc:ColorSpecification>
    </cc:ColorSpecificationCollection>
  </cc:Resources>
</cc:CxF>
`)
	return b.String()
}

func TestCxF(t *testing.T) {
	for what, names := range map[string]bool{"names": true, "tags": false} {
		r := readAs(t, Said{}, cxfText(classSet, names))
		isClassSet(t, what, r)
		if f := r.Finish(); f == nil || *f != optics.Included || len(r.Unstated) != 0 {
			t.Errorf("%s: finish %v, unstated %v", what, f, r.Unstated)
		}
		notes := strings.Join(r.Notes, "; ")
		for _, want := range []string{"objects without a measured colour of paint were left out (1): patch", `geometry "Specular_Included": the surface's reflection was taken as counted`} {
			if !strings.Contains(notes, want) {
				t.Errorf("%s: notes %q, want %q", what, notes, want)
			}
		}
		if r.Tubes[1].Rows[0].Line == 0 || !strings.Contains(strings.Split(cxfText(classSet, names), "\n")[r.Tubes[1].Rows[0].Line-1], "<cc:Object") {
			t.Errorf("%s: line %d", what, r.Tubes[1].Rows[0].Line)
		}
	}
	// The prefix is free, and may be left out.
	plain := strings.ReplaceAll(strings.ReplaceAll(cxfText(classSet, true), "xmlns:cc", "xmlns"), "cc:", "")
	isClassSet(t, "no prefix", readAs(t, Said{}, "\n  "+strings.TrimPrefix(plain, `<?xml version="1.0" encoding="UTF-8"?>`)))
	// The same in UTF-16, as some programs write it.
	wide := []byte{0xff, 0xfe}
	for _, c := range strings.Replace(cxfText(classSet, true), "UTF-8", "UTF-16", 1) {
		wide = append(wide, byte(c), byte(c>>8))
	}
	isClassSet(t, "UTF-16", readAs(t, Said{}, string(wide)))
	// Percent, against the schema.
	var percent strings.Builder
	for i, s := range strings.Split(cxfText(classSet, true), "StartWL=\"380\">") {
		if i > 0 {
			values, rest, _ := strings.Cut(s, "<")
			percent.WriteString("StartWL=\"380\">")
			for _, v := range strings.Fields(values) {
				var x float64
				fmt.Sscan(v, &x)
				fmt.Fprintf(&percent, " %.3f", 100*x)
			}
			s = "<" + rest
		}
		percent.WriteString(s)
	}
	r := readAs(t, Said{}, percent.String())
	isClassSet(t, "percent", r)
	if !strings.Contains(strings.Join(r.Notes, ";"), "read as percent") {
		t.Errorf("percent not said: %v", r.Notes)
	}
}

// cxfLab is one object with L*a*b* under the given conditions.
func cxfLab(values, specs string) string {
	return `<CxF xmlns="` + cxfSpace + `"><Resources><ObjectCollection><Object ObjectType="Color" Name="quay blue PB29 1:4" Id="1"><ColorValues>` +
		values + `</ColorValues></Object></ObjectCollection><ColorSpecificationCollection>` + specs + `</ColorSpecificationCollection></Resources></CxF>`
}

func cxfValueText(spec, l, a, b string) string {
	return `<ColorCIELab ColorSpecification="` + spec + `"><L>` + l + `</L><A>` + a + `</A><B>` + b + `</B></ColorCIELab>`
}

func cxfSpecText(id, light, observer, geometry string) string {
	return `<ColorSpecification Id="` + id + `"><TristimulusSpec><Illuminant>` + light + `</Illuminant><Observer>` + observer + `</Observer></TristimulusSpec><MeasurementSpec><GeometryChoice>` + geometry + `</GeometryChoice></MeasurementSpec></ColorSpecification>`
}

func TestCxFConditions(t *testing.T) {
	for _, c := range []struct {
		values, specs string
		light         optics.Illuminant
		l             float64
		finish        optics.Finish
		note          string
	}{
		{cxfValueText("x", "50", "1", "-30"), cxfSpecText("x", "D50", "2_Degree", "<SingleAngle><SingleAngleConfiguration>Annular</SingleAngleConfiguration><IlluminationAngle>45</IlluminationAngle><MeasurementAngle>0</MeasurementAngle></SingleAngle>"),
			optics.D50, 50, optics.Excluded, `geometry "45:0": the surface's reflection was taken as left out`},
		{cxfValueText("x", "50", "1", "-30"), cxfSpecText("x", "D65", "2_Degree", "<Sphere>Specular_Excluded</Sphere>"), optics.D65, 50, optics.Excluded, "taken as left out"},
		{cxfValueText("x", "50", "1", "-30"), cxfSpecText("x", "A", "2_Degree", "<UnknownGeometry>Target</UnknownGeometry>"), optics.A, 50, optics.Included, "no row says whether the surface's reflection is counted"},
		// Of several the first that can be used.
		{cxfValueText("x", "50", "1", "-30") + cxfValueText("y", "51", "1", "-31"), cxfSpecText("x", "D65", "10_Degree", "") + cxfSpecText("y", "D50", "2_Degree", ""), optics.D50, 51, optics.Included, ""},
	} {
		r := readAs(t, Said{}, cxfLab(c.values, c.specs))
		got := r.Tubes[0].Rows[0]
		if got.Illuminant != c.light || got.Lab.L != c.l || got.Finish != c.finish || got.White != 4 {
			t.Errorf("%+v", got)
		}
		if notes := strings.Join(r.Notes, "; "); !strings.Contains(notes, c.note) {
			t.Errorf("notes %q, want %q", notes, c.note)
		}
	}
	// No illuminant is asked for, and may be said.
	d65 := optics.D65
	if r := readAs(t, Said{Illuminant: &d65}, cxfLab(cxfValueText("x", "50", "1", "-30"), "")); r.Tubes[0].Rows[0].Illuminant != optics.D65 {
		t.Errorf("%+v", r.Tubes[0])
	}
}

func TestCxFErrors(t *testing.T) {
	good := cxfText(classSet, true)
	swap := func(from, to string) string {
		if !strings.Contains(good, from) {
			t.Fatalf("no %q to swap", from)
		}
		return strings.ReplaceAll(good, from, to)
	}
	for _, c := range []struct{ text, want string }{
		{"<a/>", `r.cxf:1: this XML is not CxF3 (its root is "a" of "")`},
		{swap("CxF3-core", "v2"), "is not CxF3"},
		{good[:len(good)/2], "the XML is broken here (unexpected EOF)"},
		{swap("</cc:Resources>", "</cc:Res>"), "the XML is broken here"},
		{swap("StartWL=\"380\" Increment=\"10\"", ""), `"chalk white PW6" does not say its wavelengths`},
		{swap("Increment=\"10\"", "Increment=\"0\""), "does not say its wavelengths"},
		{swap("0.13", "ten"), `is not a number`},
		{swap("ReflectanceSpectrum", "EmissiveSpectrum"), "no object has a ReflectanceSpectrum or a ColorCIELab"},
		{swap(`Name="quay blue (PB29) 1:4"`, `Name="12"`), `sample "12" names no tube`},
		{swap(`Name="quay blue (PB29) 1:4"`, `Name="quay blue 25%"`), `the parts of sample "quay blue 25%" cannot be read`},
		{cxfLab(cxfValueText("x", "50", "1", "-30"), ""), "nothing says under which light L,a,b were computed"},
		{cxfLab(cxfValueText("x", "50", "1", "-30"), cxfSpecText("x", "F11", "2_Degree", "")), `illuminant "F11" is not one of`},
		{cxfLab(cxfValueText("x", "50", "1", "-30"), cxfSpecText("x", "D65", "10_Degree", "")), `for the observer "10_Degree"`},
		{cxfLab(`<ColorCIELab><L>50</L></ColorCIELab>`, cxfSpecText("", "D65", "2_Degree", "")), "no a; a Lab reading needs L, a and b"},
		{strings.Repeat("<x>", 9), "is not CxF3"},
		{`<CxF xmlns="` + cxfSpace + `">` + strings.Repeat("<x>", 99), "nested more than 64 deep"},
		// Entities that stand for endless text.
		{"<!DOCTYPE x [<!ENTITY a \"ha\"><!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;\">]>\n" + strings.Replace(good, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n", "", 1), "r.cxf:1: a DOCTYPE or the like is not read"},
		{strings.Replace(good, "chalk white", "&a; white", 1), "the XML is broken here"},
		{strings.Repeat(" ", maxReadingsBytes) + "<x/>", "MiB"},
	} {
		_, err := ReadReadings("r.cxf", strings.NewReader(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%.200q: %v, want %q", c.text, err, c.want)
		}
	}
	// The fixture itself is well formed.
	if err := xml.Unmarshal([]byte(good), new(struct{ XMLName xml.Name })); err != nil {
		t.Fatal(err)
	}
}

func FuzzReadCxF(f *testing.F) {
	f.Add(cxfText(classSet, true))
	f.Add(cxfText(classSet[:2], false))
	f.Add(cxfLab(cxfValueText("x", "50", "1", "-30"), cxfSpecText("x", "D50", "2_Degree", "<Sphere>Specular_Excluded</Sphere>")))
	f.Add("<!DOCTYPE x [<!ENTITY a \"b\">]><CxF xmlns=\"" + cxfSpace + "\">&a;</CxF>")
	f.Fuzz(fuzzReadings)
}

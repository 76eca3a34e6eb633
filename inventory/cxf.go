package inventory

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
)

// CxF3 (ISO 17972-1): XML whose root CxF holds Resources with an
// ObjectCollection of measured samples and a ColorSpecificationCollection of
// the conditions they refer to. The structure is that of the published schema
// CxF3-core, version 3.0.018: an Object's Name; in its ColorValues a
// ReflectanceSpectrum (StartWL; 100 % is 1.0) or a ColorCIELab (L, A, B), each
// naming its ColorSpecification; that one's Illuminant (A, D50, …) and Observer
// (2_Degree, …) in TristimulusSpec, and in MeasurementSpec the WavelengthRange
// (StartWL, Increment) and GeometryChoice (a sphere Specular_Included or
// Specular_Excluded, or a SingleAngle with IlluminationAngle and
// MeasurementAngle).
//
// The Name says tube and parts, as [sample] has it, or Tags of the Object do:
// tube, ci, paint_parts, white_parts, black_parts, white, black, state, and specular
// and basis, which may also stand in FileInformation for the whole file.

const cxfSpace = "http://colorexchangeformat.com/CxF3-core"

// isXML says whether a text is XML.
func isXML(data []byte) bool { return bytes.HasPrefix(bytes.TrimSpace(data), []byte("<")) }

// cxfValue is one colour of an object.
type cxfValue struct {
	spec       string // Id of its ColorSpecification
	start, inc string // attributes of a spectrum
	text       string // of a spectrum
	lab        [3]string
}

type cxfObject struct {
	line    int
	name    string
	kind    string // ObjectType
	tags    map[string]string
	spectra []cxfValue
	labs    []cxfValue
}

// cxfSpec is one set of conditions.
type cxfSpec struct {
	illuminant, observer, start, inc, sphere, lit, seen string
}

// geometry is the specification's geometry in words.
func (s *cxfSpec) geometry() string {
	if s.sphere == "" && s.lit != "" {
		return s.lit + ":" + s.seen
	}
	return s.sphere
}

// cxfFile is what is kept of a CxF file.
type cxfFile struct {
	objects []*cxfObject
	specs   map[string]*cxfSpec
	tags    map[string]string // of FileInformation
}

const maxDepth = 64

// cxfFile reads the XML as a stream. A DOCTYPE, which can define entities that
// stand for endless text, is refused.
func (rd *reader) cxfFile(data []byte) (*cxfFile, error) {
	d := xml.NewDecoder(bytes.NewReader(data))
	d.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil } // it is UTF-8 by now
	f := &cxfFile{specs: map[string]*cxfSpec{}, tags: map[string]string{}}
	var path []string
	var object *cxfObject
	var value *cxfValue
	var spec *cxfSpec
	var text strings.Builder
	under := func(name string) bool { return slices.Contains(path, name) }
	for {
		tok, err := d.Token()
		line, _ := d.InputPos()
		if err == io.EOF {
			break
		}
		var bad *xml.SyntaxError
		if errors.As(err, &bad) {
			return nil, rd.failf(bad.Line, "the XML is broken here (%s); export the file again", oneLine(bad.Msg))
		} else if err != nil {
			return nil, rd.failf(line, "the XML cannot be read: %s", oneLine(err.Error()))
		}
		switch tok := tok.(type) {
		case xml.Directive:
			return nil, rd.failf(line, "a DOCTYPE or the like is not read in a file of measurements; export CxF3 without it")
		case xml.StartElement:
			attr := func(name string) string {
				for _, a := range tok.Attr {
					if a.Name.Local == name {
						return strings.TrimSpace(a.Value)
					}
				}
				return ""
			}
			name := tok.Name.Local
			if len(path) == 0 && (name != "CxF" || tok.Name.Space != cxfSpace) {
				return nil, rd.failf(line, "this XML is not CxF3 (its root is %q of %q); export the measurements as CxF3, CGATS or CSV", clip(name), clip(tok.Name.Space))
			}
			if len(path) == maxDepth {
				return nil, rd.failf(line, "elements are nested more than %d deep: this is no file of measurements", maxDepth)
			}
			if tok.Name.Space != cxfSpace {
				name = "" // somebody's own
			}
			path = append(path, name)
			text.Reset()
			switch {
			case name == "Object" && under("ObjectCollection"):
				if len(f.objects) == maxReadingsRows {
					return nil, rd.failf(line, "more than %d objects; split the file by tube", maxReadingsRows)
				}
				object = &cxfObject{line: line, name: attr("Name"), kind: attr("ObjectType"), tags: map[string]string{}}
				f.objects = append(f.objects, object)
			case name == "Tag" && object != nil:
				object.tags[tagKey(attr("Name"))] = oneLine(attr("Value"))
			case name == "Tag" && under("FileInformation"):
				f.tags[tagKey(attr("Name"))] = oneLine(attr("Value"))
			case object != nil && under("ColorValues") && (name == "ReflectanceSpectrum" || name == "ColorCIELab"):
				value = &cxfValue{spec: attr("ColorSpecification"), start: attr("StartWL"), inc: attr("Increment")}
			case name == "ColorSpecification" && under("ColorSpecificationCollection"):
				spec = &cxfSpec{}
				f.specs[attr("Id")] = spec
			case name == "WavelengthRange" && spec != nil:
				spec.start, spec.inc = attr("StartWL"), attr("Increment")
			}
		case xml.CharData:
			text.Write(tok)
		case xml.EndElement:
			name, s := path[len(path)-1], text.String()
			word := oneLine(s[:min(len(s), 200)])
			switch {
			case name == "Object":
				object = nil
			case name == "ColorSpecification":
				spec = nil
			case value != nil && name == "ReflectanceSpectrum":
				value.text = s
				object.spectra = append(object.spectra, *value)
				value = nil
			case value != nil && name == "ColorCIELab":
				object.labs = append(object.labs, *value)
				value = nil
			case value != nil && (name == "L" || name == "A" || name == "B"):
				value.lab[strings.Index("LAB", name)] = word
			case spec == nil:
			case name == "Illuminant":
				spec.illuminant = strings.ToUpper(word)
			case name == "Observer":
				spec.observer = word
			case name == "IlluminationAngle":
				spec.lit = strings.TrimSuffix(word, ".0")
			case name == "MeasurementAngle":
				spec.seen = strings.TrimSuffix(word, ".0")
			case under("GeometryChoice") && !under("SingleAngle") && !under("MultiAngle"):
				spec.sphere = strings.TrimSpace(spec.sphere + " " + word)
			}
			path = path[:len(path)-1]
			text.Reset()
		}
	}
	return f, nil
}

// tagKey is a tag's name as a table of readings names its columns.
func tagKey(s string) string {
	return strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(oneLine(s)))
}

func (rd *reader) cxf(data []byte) error {
	rd.place = "a tag"
	f, err := rd.cxfFile(data)
	if err != nil {
		return err
	}
	var list []sample
	var empty []string
	for _, o := range f.objects {
		if len(o.spectra)+len(o.labs) == 0 || strings.EqualFold(o.kind, "Substrate") {
			empty = append(empty, clip(oneLine(o.name)))
			continue
		}
		s, err := rd.cxfSample(f, o)
		if err != nil {
			return err
		}
		list = append(list, s)
	}
	if len(empty) > 0 {
		n := len(empty)
		if n > 8 {
			empty = append(empty[:8], "…")
		}
		rd.note("objects without a measured colour of paint were left out (%d): %s", n, strings.Join(empty, ", "))
	}
	if len(list) == 0 {
		return rd.failf(1, "no object has a ReflectanceSpectrum or a ColorCIELab; export the measurements with their spectra")
	}
	return rd.samples(list)
}

// cxfSample takes an object's colour: its first spectrum, else the first of its
// L*a*b* that can be read.
func (rd *reader) cxfSample(f *cxfFile, o *cxfObject) (sample, error) {
	s := sample{line: o.line, head: o.line, name: o.name, said: map[string]string{}}
	for _, c := range readingColumns {
		if slices.Contains([]string{"l", "a", "b", "illuminant", "observer"}, c) {
			continue
		}
		if v := o.tags[c]; v != "" {
			s.said[c] = v
		} else if v := f.tags[c]; v != "" && (c == "specular" || c == "basis") {
			s.said[c] = v
		}
	}
	conditions := func(v cxfValue) *cxfSpec {
		if c := f.specs[v.spec]; c != nil {
			return c
		}
		return &cxfSpec{}
	}
	shine := func(c *cxfSpec) {
		if g := geometry(c.geometry()); g != "" && s.said["specular"] == "" {
			s.said["specular"] = g
			rd.geometryNote("geometry", c.geometry(), g)
		}
	}
	if len(o.labs) > 0 {
		v := o.labs[0]
		for _, w := range o.labs {
			if c := conditions(w); slices.Contains([]string{"D65", "D50", "A", "C"}, c.illuminant) && twoDegrees(c.observer) {
				v = w
				break
			}
		}
		c := conditions(v)
		s.said["l"], s.said["a"], s.said["b"] = v.lab[0], v.lab[1], v.lab[2]
		s.said["illuminant"], s.said["observer"] = c.illuminant, c.observer
		if len(o.spectra) == 0 {
			shine(c)
		}
	}
	if len(o.spectra) == 0 {
		return s, nil
	}
	v := o.spectra[0]
	if len(o.spectra) > 1 {
		rd.note("objects have several spectra, of which the first was read (specification %q)", clip(oneLine(v.spec)))
	}
	c := conditions(v)
	shine(c)
	start, inc := v.start, v.inc
	if start == "" {
		start = c.start
	}
	if inc == "" {
		inc = c.inc
	}
	nm, err1 := strconv.ParseFloat(start, 64)
	step, err2 := strconv.ParseFloat(inc, 64)
	if err1 != nil || err2 != nil || !(nm >= 200 && nm <= 1100 && step >= 0.5 && step <= 100) {
		return s, rd.failf(o.line, "the spectrum of %q does not say its wavelengths: its ColorSpecification needs a WavelengthRange with StartWL and Increment", clip(oneLine(o.name)))
	}
	s.refl = strings.Fields(v.text)
	if len(s.refl) == 0 || len(s.refl) > maxReadingsCols {
		return s, rd.failf(o.line, "the spectrum of %q has %d values; it needs one for each step of its WavelengthRange", clip(oneLine(o.name)), len(s.refl))
	}
	for i := range s.refl {
		s.nm = append(s.nm, nm+float64(i)*step)
	}
	return s, nil
}

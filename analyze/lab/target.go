package lab

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// TargetKind is how a target was given.
type TargetKind int

const (
	HexTarget      TargetKind = iota + 1 // an sRGB colour as in CSS
	LabTarget                            // L*, a*, b* for D65
	NotationTarget                       // hue/value/chroma notation
	PhotoTarget                          // a spot in a photo
)

// Target is a colour that a painter asks for.
type Target struct {
	Kind TargetKind
	Text string // as typed, without surrounding spaces
	Lab  Lab    // the colour (D65), unless Kind is PhotoTarget
	// Of a PhotoTarget: the file and the spot, from the top left corner, in
	// pixels or, if Percent, in percent of the width and the height.
	Path    string
	X, Y    float64
	Percent bool
}

// String is the target as typed; [ParseTarget] reads it back to the same target.
func (t Target) String() string { return t.Text }

// ParseTarget reads a target in one of these forms:
//
//	5a7d3c, hex:5a7d3c, #5a7d3c, #5a3   an sRGB colour
//	lab:52,-10,31                       CIELAB for D65: L* 0–100, a* and b* within ±128
//	notation:5GY 5/4                    as ParseNotation reads it
//	photo.jpg@310,120                   a spot in a photo, in pixels
//	photo.jpg@40%,25%                   the same in percent
//
// Anything with an @ is a photo: the last @ divides path from spot, so a path
// may hold any character. An error says in one sentence what to write instead.
// Whether the file is there and the spot lies inside it is not looked at.
func ParseTarget(s string) (Target, error) {
	t := Target{Text: strings.TrimSpace(s)}
	var err error
	prefix, rest, prefixed := strings.Cut(t.Text, ":")
	prefix = strings.ToLower(strings.TrimSpace(prefix))
	at := strings.LastIndexByte(t.Text, '@')
	switch {
	case t.Text == "":
		return Target{}, fmt.Errorf("no colour given: write %s", targetForms)
	case at >= 0:
		t.Kind, t.Path = PhotoTarget, t.Text[:at]
		err = t.parseSpot(t.Text[at+1:])
	case strings.HasPrefix(t.Text, "#"):
		t.Kind = HexTarget
		t.Lab, err = parseHex(t.Text, t.Text[1:])
	case prefixed && prefix == "hex":
		t.Kind = HexTarget
		t.Lab, err = parseHex(t.Text, strings.TrimPrefix(strings.TrimSpace(rest), "#"))
	case prefixed && prefix == "lab":
		t.Kind = LabTarget
		t.Lab, err = parseLab(t.Text, rest)
	case prefixed && prefix == "notation":
		t.Kind = NotationTarget
		var n Notation
		if n, err = ParseNotation(strings.TrimSpace(rest)); err == nil {
			t.Lab, err = n.Lab()
		}
	case looksLikeFile(t.Text):
		err = fmt.Errorf("%q names a photo but no spot in it: add the spot, as in %s@40%%,25%%", t.Text, t.Text)
	case prefixed:
		err = fmt.Errorf("%q starts with no kind of colour that is known here: write %s", t.Text, targetForms)
	case looksLikeNotation(t.Text):
		err = fmt.Errorf("%q looks like a hue/value/chroma notation: write notation:%s", t.Text, t.Text)
	case !isHex(t.Text):
		err = fmt.Errorf("%q is not a colour: write %s", t.Text, targetForms)
	case len(t.Text) == 3:
		err = fmt.Errorf("%q could be a half-typed colour: write all six digits, or #%s for the short form", t.Text, t.Text)
	default:
		t.Kind = HexTarget
		t.Lab, err = parseHex(t.Text, t.Text)
	}
	if err != nil {
		return Target{}, err
	}
	return t, nil
}

const targetForms = "a hex colour (5a7d3c), lab:52,-10,31, notation:5GY 5/4 or a spot in a photo (photo.jpg@40%,25%)"

func looksLikeNotation(s string) bool {
	_, err := ParseNotation(s)
	return err == nil
}

// looksLikeFile reports whether s ends like the name of a picture.
func looksLikeFile(s string) bool {
	dot := strings.LastIndexByte(s, '.')
	ext := s[dot+1:]
	return dot >= 0 && len(ext) >= 3 && len(ext) <= 5 && ext[0]|0x20 >= 'a' && ext[0]|0x20 <= 'z'
}

func isHex(s string) bool {
	return strings.Trim(s, "0123456789abcdefABCDEF") == ""
}

// parseHex reads the digits of the target text.
func parseHex(text, digits string) (Lab, error) {
	switch {
	case !isHex(digits):
		return Lab{}, fmt.Errorf("%q is not a hex colour: its digits are 0–9 and a–f, six of them, as in 5a7d3c", text)
	case len(digits) == 8:
		return Lab{}, fmt.Errorf("%q has eight hex digits: leave off the last two, the opacity", text)
	case len(digits) == 3:
		d := digits
		digits = string([]byte{d[0], d[0], d[1], d[1], d[2], d[2]})
	case len(digits) != 6:
		return Lab{}, fmt.Errorf("%q should have six hex digits, as in 5a7d3c, and has %d", text, len(digits))
	}
	v, _ := strconv.ParseUint(digits, 16, 32) // six hex digits always parse
	return FromSRGB8(uint8(v>>16), uint8(v>>8), uint8(v)), nil
}

func parseLab(text, list string) (Lab, error) {
	parts := strings.Split(list, ",")
	if len(parts) != 3 {
		return Lab{}, fmt.Errorf("%q needs three numbers, L*, a* and b*, with points for decimals and commas between: write it as lab:52,-10,31", text)
	}
	var v [3]float64
	for i, p := range parts {
		var ok bool
		if v[i], ok = plainNumber(p); !ok {
			return Lab{}, fmt.Errorf("%q: %s is not a plain number: write three, as in lab:52,-10,31", text, quoted(p))
		}
	}
	switch c := (Lab{v[0], v[1], v[2]}); {
	case c.L < 0 || c.L > 100:
		return Lab{}, fmt.Errorf("%q: L* %s is outside 0 (black) to 100 (white)", text, strings.TrimSpace(parts[0]))
	case math.Abs(c.A) > 128 || math.Abs(c.B) > 128:
		return Lab{}, fmt.Errorf("%q: a* and b* run from -128 to 128", text)
	default:
		return c, nil
	}
}

// parseSpot reads "310,120" or "40%,25%".
func (t *Target) parseSpot(spot string) error {
	const mend = "write photo.jpg@310,120 in pixels or photo.jpg@40%,25% of its width and height"
	x, y, found := strings.Cut(spot, ",")
	switch {
	case strings.TrimSpace(t.Path) == "":
		return fmt.Errorf("%q names no photo before the @: %s", t.Text, mend)
	case !found:
		return fmt.Errorf("%q has no spot x,y after its last @: %s", t.Text, mend)
	}
	x, y = strings.TrimSpace(x), strings.TrimSpace(y)
	var inX, inY bool
	x, inX = strings.CutSuffix(x, "%")
	y, inY = strings.CutSuffix(y, "%")
	if inX != inY {
		return fmt.Errorf("%q gives one coordinate in percent and one in pixels: %s", t.Text, mend)
	}
	var okX, okY bool
	t.X, okX = plainNumber(x)
	t.Y, okY = plainNumber(y)
	t.Percent = inX
	switch {
	case !okX || !okY:
		return fmt.Errorf("%q: %s is not a spot x,y: %s", t.Text, quoted(spot), mend)
	case t.X < 0 || t.Y < 0:
		return fmt.Errorf("%q: a spot is counted from the top left corner and never negative: %s", t.Text, mend)
	case t.Percent && (t.X > 100 || t.Y > 100):
		return fmt.Errorf("%q: percent of the width and height run from 0 to 100", t.Text)
	}
	return nil
}

func quoted(s string) string { return strconv.Quote(strings.TrimSpace(s)) }

// plainNumber reads a number written with digits, a sign and a point only, so
// that NaN, Inf and hexadecimal floats are refused.
func plainNumber(s string) (float64, bool) {
	s = strings.TrimSpace(s)
	if strings.Trim(s, "+-.0123456789") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

package inventory

import (
	"math"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Lean says which neighbour a tube's hue moves toward inside its own family.
// 'Red leaning yellow' says what 'warm red' means to one painter and its
// opposite to another.
type Lean struct {
	Family      string  // red, orange, yellow, green, blue, violet; earth yellow, earth red, brown; black, white, grey
	Toward      string  // red, yellow, green or blue; empty in the middle of the family
	Strength    string  // slight or clear; empty in the middle
	MasstoneHue float64 // CIELAB hue of the masstone, degrees (D65, 2°, specular included)
	TintHue     float64 // likewise of a tint, see LeanOf
	Words       string  // "red leaning yellow", "blue leaning slightly green", "middle yellow"
}

// Hue families by CIELAB hue. The centres of red, yellow, green and blue are
// the unique hues, those that hold nothing of their neighbours: CIECAM02 gives
// them as h 20.14, 90, 164.25 and 237.53 (CIE 159:2004), which in CIELAB lie
// near 23, 91, 163 and 260. Orange and violet are centred half way between.
// The borders are where the names change in practice (common practice, no
// source): a magenta is still filed under red, an orange yellow under yellow.
var hueFamilies = []hueFamily{
	{"red", -32, 23, "blue", "yellow"},
	{"orange", 40, 57, "red", "yellow"},
	{"yellow", 66, 91, "red", "green"},
	{"green", 113, 163, "yellow", "blue"},
	{"blue", 213, 260, "green", "red"},
	{"violet", 286, 321.5, "blue", "red"},
}

const (
	middleOf = 4.0  // degrees within which a tube sits in the middle of its family
	clearly  = 12.0 // degrees beyond which it leans clearly
)

// tintLightness is what a tint is let down to, so that weak and strong tubes
// are judged at one value; a masstone lighter than tintDown below it is let
// down half way to white.
const (
	tintLightness = 75.0
	tintDown      = 10.0
)

// judgeByTint is the masstone L* below which a tube shows too little of its
// hue and is judged by its tint. Blues always are: CIELAB's lines of one blue
// hue bend toward violet in dark, strong colours (Hung & Berns, Color Res.
// Appl. 20, 1995), so that a phthalo blue masstone stands at h 299 and its tint
// at 240.
const judgeByTint = 42.0

// LeanOf reads a paint's lean from the colours of its masstone and of a tint
// with white, both opaque, D65, 2° observer, specular included. Tints are let
// down to L* 75, so the answer does not hang on tinting strength. Earths and
// browns are named as such, and greys and blacks (tint below C* 6) by the faint
// hue of their tint.
func LeanOf(p, white *optics.Paint) Lean {
	mass := labOf(p)
	tint := letDown(p, white, mass)
	l := Lean{MasstoneHue: mass.Hue(), TintHue: tint.Hue()}
	switch {
	case mass.L > 90 && mass.Chroma() < 8:
		l.Family = "white"
		return l.say()
	case mass.Chroma() < 8 && tint.Chroma() < 6:
		l.Family = "grey"
		if mass.L < 40 {
			l.Family = "black"
		}
		// A grey has no family centre to lean from: name the unique hue that
		// its tint is nearest, if it shows at all.
		if c := tint.Chroma(); c >= 1 {
			l.Toward, l.Strength = nearestUnique(l.TintHue), "slight"
			if c >= 3 {
				l.Strength = "clear"
			}
		}
		return l.say()
	}
	h := l.MasstoneHue
	if isBlue := h > 213 && h < 320; mass.L < judgeByTint || isBlue {
		h = l.TintHue
	}
	if isEarth(mass, tint, h) {
		// The hue of an earth is its masstone's, dark or not.
		h = l.MasstoneHue
		switch {
		case mass.L >= 45 && h >= 60:
			l.Family = "earth yellow"
			return l.lean(h, 91, "red", "green").say()
		case h < 60 && mass.Chroma() >= 20:
			l.Family = "earth red"
			return l.lean(h, 23, "blue", "yellow").say()
		}
		l.Family = "brown"
		return l.lean(h, 57, "red", "yellow").say()
	}
	f := familyOf(h)
	l.Family = f.name
	return l.lean(h, f.centre, f.before, f.after).say()
}

// isEarth tells the dull yellows, reds and browns of iron oxides from bright
// pigments of those hues, by the sum of the chromas of masstone and tint:
// earths reach 59 on the red side of h 60 and 97 beyond it, bright pigments
// start at 76 and 120.
func isEarth(mass, tint lab.Lab, judgedHue float64) bool {
	h, dull := mass.Hue(), mass.Chroma()+tint.Chroma()
	if h < 20 || h > 95 || judgedHue < 15 || judgedHue > 100 || mass.L > 70 {
		return false
	}
	return dull < 68 || h >= 60 && dull < 108
}

// lean fills in Toward and Strength from the hue's place beside a centre.
func (l Lean) lean(h, centre float64, before, after string) Lean {
	off := math.Mod(h-centre+540, 360) - 180
	if math.Abs(off) < middleOf {
		return l
	}
	l.Toward, l.Strength = after, "slight"
	if off < 0 {
		l.Toward = before
	}
	if math.Abs(off) >= clearly {
		l.Strength = "clear"
	}
	return l
}

func (l Lean) say() Lean {
	switch {
	case l.Family == "white":
		l.Words = "white"
	case l.Toward == "" && (l.Family == "black" || l.Family == "grey"):
		l.Words = "neutral " + l.Family
	case l.Toward == "":
		l.Words = "middle " + l.Family
	case l.Strength == "slight":
		l.Words = l.Family + " leaning slightly " + l.Toward
	default:
		l.Words = l.Family + " leaning " + l.Toward
	}
	return l
}

func labOf(p *optics.Paint) lab.Lab {
	r := p.Reflectance(optics.Included)
	return r.Lab(optics.D65)
}

// letDown is the colour of the paint let down with white to L* 75, or half way
// to white where the masstone is light already.
func letDown(p, white *optics.Paint, mass lab.Lab) lab.Lab {
	aim := tintLightness
	if mass.L > tintLightness-tintDown {
		aim = (mass.L + labOf(white).L) / 2
	}
	mix := func(paint float64) lab.Lab {
		m := optics.Mix([]*optics.Paint{p, white}, []float64{paint, 1 - paint})
		return labOf(&m)
	}
	lo, hi := 0.0, 1.0 // share of paint: lightness falls as it rises
	for range 40 {
		mid := (lo + hi) / 2
		if mix(mid).L > aim {
			lo = mid
		} else {
			hi = mid
		}
	}
	return mix((lo + hi) / 2)
}

type hueFamily struct {
	name          string
	from, centre  float64 // degrees; a family reaches to the next one's from
	before, after string  // the unique hues to either side, by falling and rising hue
}

func familyOf(h float64) hueFamily {
	if h >= 360+hueFamilies[0].from {
		h -= 360
	}
	f := hueFamilies[0]
	for _, next := range hueFamilies {
		if h >= next.from {
			f = next
		}
	}
	return f
}

func nearestUnique(h float64) string {
	best, least := "", math.Inf(1)
	for _, f := range hueFamilies {
		if f.name == "orange" || f.name == "violet" {
			continue
		}
		if d := math.Abs(math.Mod(h-f.centre+540, 360) - 180); d < least {
			best, least = f.name, d
		}
	}
	return best
}

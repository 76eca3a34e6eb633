package lab

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"sync"
)

//go:generate go run ./internal/gen ../../../shared/data/reference/munsell_real_2734.csv

// Notation is a colour in hue/value/chroma notation: what a painter writes as
// "5GY 5/4". The scales are those of the renotation (Newhall, Nickerson &
// Judd, J. Opt. Soc. Am. 33:385–418, 1943; ASTM D1535), seen under CIE
// illuminant C by the 1931 2° observer.
type Notation struct {
	Hue    float64 // place on the hue circle, [0, 100): 5R is 5, 5YR 15, 5Y 25, 5GY 35 … 5RP 95
	Value  float64 // 0 (black) to 10 (white)
	Chroma float64 // 0 (grey) outward; real surface colours reach about 38
}

// NeutralChroma is the chroma below which a colour is written as a neutral,
// "N 5/". It is about one CIELAB unit, the least that can be told from grey.
const NeutralChroma = 0.2

// hueFamilies are the ten families of the hue circle, each 10 steps wide and
// centred on its 5.
var hueFamilies = [10]string{"R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP"}

// String writes hue, value and chroma to one decimal, "5GY 5/4" or
// "4.3PB 4.9/5.6", and colours below [NeutralChroma] as "N 5/".
func (n Notation) String() string {
	if n.Chroma < NeutralChroma {
		return "N " + tenths(n.Value) + "/"
	}
	h := math.Mod(math.Round(n.Hue*10), 1000)
	if h <= 0 { // 0R is written 10RP
		h += 1000
	}
	hue := "no hue"
	if h > 0 {
		family := math.Ceil(h/100) - 1
		hue = tenths(h/10-10*family) + hueFamilies[int(family)]
	}
	return hue + " " + tenths(n.Value) + "/" + tenths(n.Chroma)
}

func tenths(v float64) string {
	return strconv.FormatFloat(math.Round(v*10)/10+0, 'f', -1, 64)
}

var notationForm = regexp.MustCompile(
	`(?i)^\s*(?:N\s*(\d*\.?\d+)\s*(?:/\s*(\d*\.?\d+)?)?|(\d*\.?\d+)\s*([A-Z]+)\s*(\d*\.?\d+)\s*/\s*(\d*\.?\d+))\s*$`)

// ParseNotation reads "5GY 5/4", "2.5 pb 3.2/6.5", "N 5/" or "N5". Case and
// spaces do not matter. The number before the hue letters is 0–10, value 0–10
// and chroma 0–60.
func ParseNotation(s string) (Notation, error) {
	m := notationForm.FindStringSubmatch(s)
	if m == nil {
		return Notation{}, fmt.Errorf("%q is not a hue/value/chroma notation: write hue, value and chroma as in 5GY 5/4, or N 5/ for a grey", s)
	}
	var v [7]float64
	for i, t := range m {
		if i > 0 && i != 4 && t != "" {
			v[i], _ = strconv.ParseFloat(t, 64) // the pattern admits only digits and a point; too many give Inf
		}
	}
	if m[4] == "" {
		if v[2] != 0 {
			return Notation{}, fmt.Errorf("%q gives a neutral a chroma: write N %s/, or name its hue as in 5GY %[2]s/%s", s, m[1], m[2])
		}
		n := Notation{Value: v[1]}
		return n, n.inRange(s)
	}
	family := -1
	for i, f := range hueFamilies {
		if strings.EqualFold(m[4], f) {
			family = i
		}
	}
	if family < 0 {
		return Notation{}, fmt.Errorf("%q names no hue %q: use one of R YR Y GY G BG B PB P RP", s, m[4])
	}
	if v[3] > 10 {
		return Notation{}, fmt.Errorf("%q: the number before %s runs from 0 to 10", s, hueFamilies[family])
	}
	n := Notation{Hue: math.Mod(float64(10*family)+v[3], 100), Value: v[5], Chroma: v[6]}
	return n, n.inRange(s)
}

// inRange names the text s that was read, or else the notation, in its error.
func (n Notation) inRange(s string) error {
	var fault string
	switch {
	case math.IsNaN(n.Hue) || math.IsInf(n.Hue, 0):
		fault = "the hue is not a number"
	case !(n.Value >= 0 && n.Value <= 10):
		fault = "value runs from 0 (black) to 10 (white)"
	case !(n.Chroma >= 0 && n.Chroma <= solidChroma):
		fault = fmt.Sprintf("chroma runs from 0 (grey) to %g", solidChroma)
	default:
		return nil
	}
	if s == "" {
		s = n.String()
	}
	return fmt.Errorf("%q: %s", s, fault)
}

// Lab gives the D65 colour that corresponds to the notation's colour under
// illuminant C (linear Bradford, see [Adapt]).
//
// Inside the renotation the sample colours are reproduced exactly. Between
// them, a* and b* under illuminant C run linearly with L* between values and
// with chroma between samples, and C*ab and hue angle run linearly with hue.
// That agrees with reading the charts of the values above and below and
// interpolating, as ASTM D1535 practises it, to 0.1 in hue and in chroma for 95
// colours in 100 midway between charts. Beyond the last real
// sample of a hue and value (see [RealChroma]) the run goes on straight at the
// mean pace of its last two steps up to value 5, and parallel to the run of the
// value below from value 6 on, whichever foretold withheld last samples better:
// within 0.25 of a chroma step for half of them, 0.6 for 95 in 100.
// Below value 1 and above value 9, where there are no samples, a* and b* keep
// what they are at 1 and 9.
//
// It is an error if the hue is not a number, value is outside 0–10, chroma
// outside 0–60, or the colour would need negative tristimulus values, which no
// light has.
func (n Notation) Lab() (Lab, error) {
	if err := n.inRange(""); err != nil {
		return Lab{}, err
	}
	c := Lab{L: lightnessOfValue(n.Value)}
	if n.Chroma > 0 {
		hue := math.Mod(n.Hue, 100)
		if hue < 0 {
			hue += 100
		}
		c.A, c.B = sectionAt(c.L).at(hue/hueStep, n.Chroma/chromaStep)
	}
	xyz := c.XYZ(C)
	d65 := Adapt(xyz, C, D65)
	if min(xyz.X, xyz.Z, d65.X, d65.Y, d65.Z) < 0 {
		return Lab{}, fmt.Errorf("no colour is as strong as %s: at that hue and value stay near chroma %s", n, tenths(RealChroma(n.Hue, n.Value)))
	}
	return FromXYZ(d65, D65), nil
}

// Notation is the inverse of [Notation.Lab], with the same rules outside the
// renotation. The value is that of the luminance after adaptation to
// illuminant C, so it differs from [Lab.Value] by a hundredth or two for
// landscape colours and by up to 0.1 for the strongest blue of a screen.
//
// It is an error if the colour is not a number, L* is outside 0–100 or C* is
// above 250, where the solid ends.
func (c Lab) Notation() (Notation, error) {
	const hair = 1e-6     // rounding in the caller's arithmetic
	const strongest = 250 // C*ab, about chroma 60, the end of the solid
	if !c.Finite() || c.L < -hair || c.L > 100+hair || c.Chroma() > strongest {
		return Notation{}, fmt.Errorf("the colour L* %.4g a* %.4g b* %.4g has no notation: L* runs from 0 to 100 and C* to %d", c.L, c.A, c.B, strongest)
	}
	xyz := Adapt(c.XYZ(D65), D65, C)
	n := Notation{Value: ValueOfLuminance(xyz.Y)}
	if c.A == 0 && c.B == 0 || n.Value == 0 {
		return n, nil
	}
	under := FromXYZ(xyz, C)
	hue, chroma := sectionAt(under.L).locate(under.A, under.B)
	n.Hue, n.Chroma = hue*hueStep, chroma*chromaStep
	return n, nil
}

// RealChroma is the highest chroma up to which the notation of the given hue
// (on the circle of 100) and value (0–10) lies between real samples of the
// renotation; beyond it the notation is extrapolated. It is 0 for a hue that is
// not a number.
func RealChroma(hue, value float64) float64 {
	s, sec := theSolid(), sectionAt(lightnessOfValue(value))
	at := math.Mod(math.Mod(hue, 100)+100, 100) / hueStep
	if math.IsNaN(at) {
		return 0
	}
	i := int(at) % hueSteps
	last := rings
	for _, h := range []int{i, (i + 1) % hueSteps} {
		if h != i && at == float64(i) {
			continue
		}
		last = min(last, s.real[sec.plane][h])
		if sec.t > 0 {
			last = min(last, s.real[sec.plane+1][h])
		}
	}
	return float64(last) * chromaStep
}

// The colour solid under illuminant C: the renotation with its runs carried on
// outward to chroma 60, in polar form around the neutral.
const (
	hueSteps    = 40  // hues of the table
	hueStep     = 2.5 // of the circle of 100
	chromaStep  = 2.0
	planes      = 9  // values 1–9
	rings       = 31 // chroma 0, 2 … 60
	solidChroma = (rings - 1) * chromaStep
)

type solid struct {
	lightness [planes]float64
	// C*ab and hue angle, radians. Angles grow with hue without a jump, and
	// the last hue repeats the first a turn further on.
	radius, angle [planes][rings][hueSteps + 1]float64
	real          [planes][hueSteps]int // last ring with a real sample
}

// theSolid is built on first use, in about a millisecond.
var theSolid = sync.OnceValue(func() *solid { return newSolid(&renotation) })

func newSolid(table *[hueSteps][planes][]uint16) *solid {
	s := new(solid)
	var below, at [hueSteps][rings]Lab
	for p := range planes {
		y := LuminanceOfValue(float64(p + 1))
		s.lightness[p] = lightnessOfValue(float64(p + 1))
		for h, runs := range table {
			run, to := runs[p], &at[h]
			last := len(run) / 2
			s.real[p][h] = last
			for k := 1; k <= last; k++ {
				cx, cy := float64(run[2*k-2]), float64(run[2*k-1])
				to[k] = FromXYZ(XYZ{cx * y / cy, y, (1e4 - cx - cy) * y / cy}, C)
			}
			two := max(0, last-2)
			pace := 1 / float64(last-two)
			for k := last + 1; k < rings; k++ {
				da, db := (to[last].A-to[two].A)*pace, (to[last].B-to[two].B)*pace
				if p >= 5 {
					da, db = below[h][k].A-below[h][k-1].A, below[h][k].B-below[h][k-1].B
				}
				to[k].A, to[k].B = to[k-1].A+da, to[k-1].B+db
			}
			for k := range rings {
				ring := max(k, 1) // the neutral takes the direction of chroma 2
				s.radius[p][k][h] = to[k].Chroma()
				angle := math.Atan2(to[ring].B, to[ring].A)
				if h > 0 && angle < s.angle[p][k][h-1] {
					angle += 2 * math.Pi
				}
				s.angle[p][k][h] = angle
			}
		}
		for k := range rings {
			s.radius[p][k][hueSteps] = s.radius[p][k][0]
			s.angle[p][k][hueSteps] = s.angle[p][k][0] + 2*math.Pi
		}
		below = at
	}
	return s
}

// lightnessOfValue is L* of a value 0–10.
func lightnessOfValue(v float64) float64 { return 116*labF(LuminanceOfValue(v)/100) - 16 }

// section is the cut through the solid at one lightness: the share t of the
// way from one plane to the next.
type section struct {
	solid *solid
	plane int
	t     float64
}

func sectionAt(lightness float64) section {
	s := theSolid()
	if lightness >= s.lightness[planes-1] {
		return section{s, planes - 1, 0}
	}
	p := 0
	for p < planes-2 && lightness >= s.lightness[p+1] {
		p++
	}
	t := (lightness - s.lightness[p]) / (s.lightness[p+1] - s.lightness[p])
	return section{s, p, max(0, t)}
}

// ring gives a* and b* on ring k at a hue in steps from 10RP, [0, 40).
func (s section) ring(hue float64, k int) (a, b float64) {
	i := int(hue)
	f := hue - float64(i)
	a, b = s.solid.polar(s.plane, k, i, f)
	if s.t > 0 {
		a2, b2 := s.solid.polar(s.plane+1, k, i, f)
		a += s.t * (a2 - a)
		b += s.t * (b2 - b)
	}
	return a, b
}

func (s *solid) polar(plane, k, i int, f float64) (a, b float64) {
	r, th := &s.radius[plane][k], &s.angle[plane][k]
	sin, cos := math.Sincos(th[i] + f*(th[i+1]-th[i]))
	radius := r[i] + f*(r[i+1]-r[i])
	return radius * cos, radius * sin
}

// at gives a* and b* at a hue and a chroma, both in steps of the table.
func (s section) at(hue, chroma float64) (a, b float64) {
	k := min(int(chroma), rings-2)
	u := chroma - float64(k)
	a, b = s.ring(hue, k)
	a2, b2 := s.ring(hue, k+1)
	return a + u*(a2-a), b + u*(b2-b)
}

// locate is the inverse of at. Along one hue, distance from the neutral grows
// with chroma; along one distance, the angle grows with hue. So it finds the
// hue whose point at the wanted distance lies in the wanted direction, by
// regula falsi (Illinois).
func (s section) locate(a, b float64) (hue, chroma float64) {
	distance := math.Hypot(a, b)
	k := min(int(distance/10), rings-2) // about 10 C*ab to a ring
	// miss is how far beyond the wanted direction a hue lies, in radians.
	miss := func(h float64) float64 {
		h = math.Mod(h+2*hueSteps, hueSteps)
		a0, b0 := s.ring(h, k)
		for k > 0 && a0*a0+b0*b0 > distance*distance {
			k--
			a0, b0 = s.ring(h, k)
		}
		a1, b1 := s.ring(h, k+1)
		for k < rings-2 && a1*a1+b1*b1 < distance*distance {
			k++
			a0, b0 = a1, b1
			a1, b1 = s.ring(h, k+1)
		}
		da, db := a1-a0, b1-b0
		d2, along := da*da+db*db, a0*da+b0*db
		u := (math.Sqrt(max(0, along*along-d2*(a0*a0+b0*b0-distance*distance))) - along) / d2
		chroma = float64(k) + u
		pa, pb := a0+u*da, b0+u*db
		return math.Atan2(a*pb-b*pa, a*pa+b*pb)
	}
	const (
		close = 1e-11
		pace  = 2 * math.Pi / hueSteps // radians to a hue step, on average
	)
	lo := math.Atan2(b, a)/pace - 1 // the hue circle starts near h_ab 0
	missLo := miss(lo)
	hi, missHi := lo, missLo
	for missLo*missHi > 0 { // walk until the wanted direction is passed
		lo, missLo = hi, missHi
		hi -= missHi/pace + math.Copysign(0.25, missHi)
		missHi = miss(hi)
	}
	at, off := hi, missHi
	for range 60 {
		if math.Abs(off) < close || missHi == missLo {
			break
		}
		at = hi - missHi*(hi-lo)/(missHi-missLo)
		off = miss(at)
		if off*missHi < 0 {
			lo, missLo = hi, missHi
		} else {
			missLo /= 2
		}
		hi, missHi = at, off
	}
	return math.Mod(at+2*hueSteps, hueSteps), chroma
}

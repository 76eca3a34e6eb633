package plan

import (
	"fmt"
	"math"
	"slices"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// MaxWheel is how many tubes a wheel shows legibly.
const MaxWheel = 40

// Wheel is a box in the plane of hue and chroma, as the hue/value/chroma
// notation has them: there a paint that keeps its hue while it is let down runs
// straight to the middle, so that a hook in its streak is a lean and not a flaw
// of the plane (in CIELAB every blue would hook).
type Wheel struct {
	Box      string      `json:"box"`
	From     string      `json:"from"`
	Finish   string      `json:"finish"`
	White    string      `json:"white"` // what the tints are made with
	Hues     []UniqueHue `json:"unique_hues"`
	Tubes    []WheelTube `json:"tubes"`
	Of       int         `json:"of,omitempty"` // tubes there are, where more than are shown
	Joins    []Join      `json:"complements"`
	Cautions []string    `json:"cautions,omitempty"`
	Warnings []string    `json:"warnings"`
}

// UniqueHue is a hue that holds nothing of its neighbours, and its place on
// the notation's circle of 100.
type UniqueHue struct {
	Name string  `json:"name"`
	Hue  float64 `json:"hue"`
}

// uniqueHues places the four in the notation: CIELAB 23, 91, 163 and 260
// degrees (see [inventory.LeanOf]) at L* 50 and C* 40.
var uniqueHues = func() (out []UniqueHue) {
	for _, u := range []struct {
		name string
		h    float64
	}{{"red", 23}, {"yellow", 91}, {"green", 163}, {"blue", 260}} {
		n, err := lab.LCh{L: 50, C: 40, H: u.h}.Lab().Notation()
		if err != nil {
			panic("plan: a unique hue has no notation: " + err.Error())
		}
		out = append(out, UniqueHue{u.name, round(n.Hue, 1)})
	}
	return out
}()

// Kinds of tube, as a wheel marks them.
const (
	Bright  = "bright"
	Earth   = "earth"   // earths and browns
	Neutral = "neutral" // blacks and greys
	White   = "white"
)

// Place is a colour in the wheel's plane.
type Place struct {
	Hue    float64 `json:"hue"` // 0–100; 5R is 5, 5Y 25, 5G 45, 5B 65, 5P 85
	Value  float64 `json:"value"`
	Chroma float64 `json:"chroma"`
	Lab    lab.Lab `json:"lab"`
	Hex    string  `json:"hex"`
	White  float64 `json:"white"` // parts of white to one of all the rest
}

// WheelTube is a tube's streak.
type WheelTube struct {
	Number   int     `json:"number"`
	Name     string  `json:"name"`
	CI       string  `json:"ci"`
	Kind     string  `json:"kind"`
	Lean     string  `json:"lean"` // in words
	Toward   string  `json:"toward,omitempty"`
	Clearly  bool    `json:"clearly,omitempty"` // whether it leans clearly or slightly
	Streak   []Place `json:"streak"`            // masstone first, then letting down with white
	Tip      int     `json:"tip"`               // the place of the highest chroma
	Opposite int     `json:"opposite"`          // number of the tube that greys it best; 0 for none
	Caution  string  `json:"caution,omitempty"`
}

// Join is two tubes that grey each other: the ladder mix of middle value that
// comes nearest neutral, and the way their mixes take through the plane.
type Join struct {
	A      int     `json:"a"`
	B      int     `json:"b"`
	Parts  []Part  `json:"parts"`
	Lab    lab.Lab `json:"lab"`
	Hex    string  `json:"hex"`
	Value  float64 `json:"value"`
	Chroma float64 `json:"chroma_ab"` // C*ab of the mix
	Path   []Place `json:"path"`      // from A to B
	Middle int     `json:"middle"`    // the mix's place on the path
}

// A mix counts as grey up to this C*ab. It is about what sets the tinged greys
// of [lab.Name] apart from colours.
const greyChroma = 6.0

// Joins are sought among mixes of middle value, where a tinge shows best; with
// much white any mix is nearly neutral, and in the dark too.
const joinDark, joinLight = 45.0, 65.0

const streakPlaces = 21

// A streak ends where the tube is let down to L* 75, or half way to white where
// the masstone is nearly as light; so strong and weak tubes are shown alike.
// It is where [inventory.LeanOf] judges a tint.
const (
	letDownTo  = 75.0
	nearlyThat = 10.0
)

// Wheel lays the workspace's tubes out round the hues.
func (w *Workspace) Wheel() *Wheel {
	tubes := w.Palette.Tubes
	out := &Wheel{Box: w.Box.Name, From: w.From, Finish: w.Palette.Finish.String(), Hues: uniqueHues, Warnings: append([]string{}, w.Notes...)}
	if len(tubes) > MaxWheel {
		out.Of = len(tubes)
		tubes = w.spread(MaxWheel)
		out.Warnings = append(out.Warnings, fmt.Sprintf("%d of %d tubes are shown, those that differ most; choose others with --only.", MaxWheel, out.Of))
	}
	white := w.tintWhite()
	out.White = "the library's titanium white"
	if t := w.ownWhite(); t != nil {
		out.White = t.Name
	} else {
		out.Warnings = append(out.Warnings, "There is no white among the tubes: streaks are let down with the library's titanium white, and mixes are without.")
	}
	s := shop{w.Palette.Finish}
	for i, t := range tubes {
		out.Tubes = append(out.Tubes, s.streak(i+1, t, white))
	}
	out.Cautions = cautions(tubes)
	w.join(out, tubes)
	return out
}

// inPlane puts a colour in the wheel's plane.
func inPlane(c lab.Lab, white float64) Place {
	p := Place{Value: round(c.Value(), 2), Lab: c, Hex: c.Hex(), White: round(white, 4)}
	if n, err := c.Notation(); err == nil {
		p.Hue, p.Chroma = round(n.Hue, 2), round(n.Chroma, 3)
	}
	return p
}

func kindOf(l inventory.Lean, white bool) string {
	switch {
	case white || l.Family == "white":
		return White
	case l.Family == "black" || l.Family == "grey":
		return Neutral
	case l.Family == "brown" || l.Family == "earth red" || l.Family == "earth yellow":
		return Earth
	}
	return Bright
}

func (s shop) streak(n int, t *inventory.Tube, white *optics.Paint) WheelTube {
	l := inventory.LeanOf(&t.Paint, white)
	out := WheelTube{Number: n, Name: t.Name, CI: t.Code(), Kind: kindOf(l, t.White), Lean: l.Words, Toward: l.Toward, Clearly: l.Strength == "clear", Caution: t.Caution}
	if out.Kind == White {
		out.Lean = "white"
		out.Toward = ""
	}
	mass, light := s.alone(&t.Paint), s.alone(white)
	out.Streak = []Place{inPlane(mass, 0)}
	end := letDownTo
	if mass.L > letDownTo-nearlyThat {
		end = (mass.L + light.L) / 2
	}
	if out.Kind == White || end <= mass.L {
		return out
	}
	pair := []*optics.Paint{&t.Paint, white}
	for k := 1; k < streakPlaces; k++ {
		at := s.whiteFor(pair[:1], []float64{1}, white, mass.L+(end-mass.L)*float64(k)/(streakPlaces-1))
		out.Streak = append(out.Streak, inPlane(s.see(pair, 1, at), at))
		if out.Streak[k].Chroma > out.Streak[out.Tip].Chroma {
			out.Tip = k
		}
	}
	return out
}

// whiteFor is the white, in parts, that brings a mix to L* l; 0 where it is as
// light without. White itself must be lighter.
func (s shop) whiteFor(paints []*optics.Paint, parts []float64, white *optics.Paint, l float64) float64 {
	total := 0.0
	for _, q := range parts {
		total += q
	}
	paints, parts = append(slices.Clone(paints), white), append(slices.Clone(parts), 0)
	see := func(share float64) float64 { // of white in the whole
		parts[len(parts)-1] = total * share / (1 - share)
		return s.see(paints, parts...).L
	}
	lo, hi := 0.0, 0.9999
	if see(lo) >= l {
		return 0
	}
	for range 30 {
		if mid := (lo + hi) / 2; see(mid) < l {
			lo = mid
		} else {
			hi = mid
		}
	}
	return total * lo / (1 - lo)
}

// join finds for each tube the one that greys it best.
func (w *Workspace) join(out *Wheel, tubes []*inventory.Tube) {
	s := shop{w.Palette.Finish}
	white := w.ownWhite()
	best := make([]*Join, len(tubes))
	for a := range tubes {
		for b := a + 1; b < len(tubes); b++ {
			if !canGrey(out.Tubes[a]) || !canGrey(out.Tubes[b]) || !opposite(out.Tubes[a], out.Tubes[b]) {
				continue
			}
			j := s.greyest(tubes[a], tubes[b], white)
			if j == nil || j.Chroma > greyChroma {
				continue
			}
			j.A, j.B = a+1, b+1
			for _, i := range []int{a, b} {
				if best[i] == nil || j.Chroma < best[i].Chroma {
					best[i] = j
				}
			}
		}
	}
	for i, j := range best {
		if j == nil {
			continue
		}
		out.Tubes[i].Opposite = j.A + j.B - (i + 1)
		if !slices.ContainsFunc(out.Joins, func(k Join) bool { return k.A == j.A && k.B == j.B }) {
			s.lead(j, tubes[j.A-1], tubes[j.B-1], w.tintWhite(), out.Tubes)
			out.Joins = append(out.Joins, *j)
		}
	}
}

func canGrey(t WheelTube) bool { return t.Kind == Bright || t.Kind == Earth }

// opposite spares the search tubes of neighbouring hues: tints nearer than a
// fifth of the circle never pass the middle.
func opposite(a, b WheelTube) bool {
	d := math.Abs(a.Streak[len(a.Streak)-1].Hue - b.Streak[len(b.Streak)-1].Hue)
	return min(d, 100-d) >= 20
}

// greyest is the ladder mix of two tubes nearest neutral, with white where
// there is some, among mixes of middle value; without white, among all that
// are no lighter.
func (s shop) greyest(a, b, white *inventory.Tube) *Join {
	paints := []*optics.Paint{&a.Paint, &b.Paint}
	dark := joinDark
	if white != nil {
		paints = append(paints, &white.Paint)
	} else {
		dark = 0
	}
	var best *Join
	for _, r := range ratios() {
		if r[0] == 0 || r[1] == 0 {
			continue
		}
		for _, m := range whitened(r[0], r[1]) {
			if m[2] > 0 && white == nil {
				break
			}
			parts := []float64{float64(m[0]), float64(m[1]), float64(m[2])}
			c := s.see(paints, parts[:len(paints)]...)
			if c.L > joinLight {
				break // more white is lighter still
			}
			if c.L < dark || best != nil && c.Chroma() >= best.Chroma {
				continue
			}
			best = &Join{Lab: c, Hex: c.Hex(), Value: round(c.Value(), 2), Chroma: c.Chroma()}
			for i, t := range []*inventory.Tube{a, b, white} {
				if parts[i] > 0 {
					best.Parts = append(best.Parts, Part{Tube: t.Name, CI: t.Code(), Parts: parts[i], Hex: s.alone(&t.Paint).Hex(), White: t.White})
				}
			}
		}
	}
	if best != nil {
		best.Chroma = round(best.Chroma, 2)
	}
	return best
}

// lead draws the way of a join: the ladder's ratios from one tube to the other,
// each let down so that lightness runs evenly from tip to grey to tip.
func (s shop) lead(j *Join, a, b *inventory.Tube, white *optics.Paint, tubes []WheelTube) {
	pa, pb := int(j.Parts[0].Parts), int(j.Parts[1].Parts)
	g := gcd(pa, pb)
	list := ratios()
	j.Middle = slices.Index(list, [2]int{pa / g, pb / g})
	tip := func(n int) float64 { t := tubes[n-1]; return t.Streak[t.Tip].Lab.L }
	la, lb := tip(j.A), tip(j.B)
	paints := []*optics.Paint{&a.Paint, &b.Paint}
	for i, r := range list {
		l := la + (j.Lab.L-la)*float64(i)/float64(j.Middle)
		if i > j.Middle {
			l = j.Lab.L + (lb-j.Lab.L)*float64(i-j.Middle)/float64(len(list)-1-j.Middle)
		}
		parts := []float64{float64(r[0]), float64(r[1])}
		at := s.whiteFor(paints, parts, white, l)
		c := s.see(append(paints, white), append(parts, at)...)
		j.Path = append(j.Path, inPlane(c, at/(parts[0]+parts[1])))
	}
}

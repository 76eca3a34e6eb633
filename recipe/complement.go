package recipe

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// NeutralChroma is the C*ab up to which a mix counts as a grey: about what sets
// tinged greys apart from colours, see [lab.Name].
const NeutralChroma = 6.0

// Greys are looked for among lights of middle value, where a tinge shows best;
// with much white any mix is nearly neutral, and in the dark too.
const midDark, midLight = 45.0, 65.0

// Complement is a tube that brings another toward neutral.
type Complement struct {
	Tube int // index into Palette.Tubes
	// Middle is the ladder mix of the two nearest neutral at L* 45 to 65, with
	// white where it takes some; nil where no mix of the two stands there.
	Middle *Mixed
	// Dark is the one nearest neutral without white: how dark the two go.
	Dark Mixed
	// Neutral reports that the nearer of the two is a grey, within NeutralChroma:
	// the tubes are mixing complements.
	Neutral bool
}

// Chroma is the C*ab of the middle grey, or of the dark one where there is
// none: what complements are ranked by.
func (c *Complement) Chroma() float64 {
	if c.Middle != nil {
		return c.Middle.Lab.Chroma()
	}
	return c.Dark.Lab.Chroma()
}

// Words says it in a sentence.
func (c *Complement) Words() string {
	p := c.Dark.Palette
	s := p.Tubes[c.Tube].Name
	if c.Neutral {
		s += " greys it"
	} else {
		s += " knocks it back, not to neutral"
	}
	if m := c.Middle; m != nil {
		s += fmt.Sprintf(": %s, chroma %.0f at value %.1f", m.words(), m.Lab.Chroma(), m.Lab.Value())
	}
	return s + fmt.Sprintf("; without white %s, chroma %.0f at value %.1f.", c.Dark.words(), c.Dark.Lab.Chroma(), c.Dark.Lab.Value())
}

// Complements ranks the palette's tubes by how near to neutral they bring the
// given one. Only tubes that cancel its colour are listed, not those that
// drown it: the mix must be less than half as chromatic as either tube is by
// itself at the mix's lightness. Blacks, greys and whites cancel nothing and
// are left out. It refuses a tube that is white, grey or black itself.
func (p *Palette) Complements(tube int) ([]Complement, error) {
	if tube < 0 || tube >= len(p.Tubes) {
		return nil, fmt.Errorf("there is no tube number %d among %d", tube, len(p.Tubes))
	}
	white := p.tintWhite()
	if t := p.Tubes[tube]; !isColour(t, white) {
		return nil, fmt.Errorf("%s has no hue to cancel: ask for a colour", t.Name)
	}
	var out []Complement
	for x := range p.Tubes {
		if x == tube || !isColour(p.Tubes[x], white) {
			continue
		}
		if c, ok := p.complement(tube, x, white); ok {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(a, b Complement) int { return cmp.Compare(a.Chroma(), b.Chroma()) })
	return out, nil
}

// isColour reports whether a tube has a hue of its own.
func isColour(t *inventory.Tube, white *optics.Paint) bool {
	f := inventory.LeanOf(&t.Paint, white).Family
	return !t.White && f != "white" && f != "grey" && f != "black"
}

// tintWhite is what tubes are let down with to judge them: the palette's first
// white, or else the library's titanium white.
func (p *Palette) tintWhite() *optics.Paint {
	if len(p.whites) > 0 {
		return &p.Tubes[p.whites[0]].Paint
	}
	t, err := inventory.Find("PW6")
	if err != nil {
		panic("recipe: the library has no titanium white: " + err.Error())
	}
	return &t.Paint
}

// complement looks for the greys of a and b; ok is false where neither cancels
// the other.
func (p *Palette) complement(a, b int, white *optics.Paint) (c Complement, ok bool) {
	c.Tube = b
	middle, dark := math.Inf(1), math.Inf(1)
	var at, deep []Part
	look := func(parts []Part) {
		_, m := p.Mix(parts)
		chroma := m.Chroma()
		if chroma < middle && m.L >= midDark && m.L <= midLight {
			middle, at = chroma, parts
		}
		if chroma < dark && len(parts) == 2 {
			dark, deep = chroma, parts
		}
	}
	for i := range directions[2] {
		d := &directions[2][i]
		for k, step := range d.whites {
			pair := []Part{{a, float64(step.times * d.parts[0])}, {b, float64(step.times * d.parts[1])}}
			if k == 0 {
				look(pair)
				continue
			}
			for _, w := range p.whites {
				look(append(slices.Clone(pair), Part{w, float64(step.white)}))
			}
		}
	}
	c.Dark = p.mixed(deep, lab.Lab{})
	c.Dark.DE00 = 0
	best := c.Dark
	if at != nil {
		m := p.mixed(at, lab.Lab{})
		m.DE00 = 0
		c.Middle, best = &m, m
	}
	c.Neutral = best.Lab.Chroma() <= NeutralChroma
	for _, t := range []int{a, b} {
		alone := letDown(&p.Tubes[t].Paint, white, best.Lab.L, p.Finish)
		if best.Lab.Chroma() >= alone.Chroma()/2 {
			return c, false
		}
	}
	return c, true
}

// letDown is the colour of a paint let down with white to a lightness L*, or
// its masstone where that is as light.
func letDown(p, white *optics.Paint, l float64, f optics.Finish) lab.Lab {
	c := &sums[f]
	at := func(w float64) lab.Lab { return lab.FromXYZ(c.of(&p.K, &p.S, &white.K, &white.S, w), d65White) }
	w, mass := whiteFor(at, l)
	if w == 0 {
		return mass
	}
	return at(w)
}

// whiteFor is the amount of white beside one part that brings a colour to a
// lightness L*; 0 where it is as light without, and the colour without. Beyond
// 1 to 4096 it stops.
func whiteFor(at func(white float64) lab.Lab, l float64) (float64, lab.Lab) {
	mass := at(0)
	if mass.L >= l {
		return 0, mass
	}
	lo, hi := math.Log(1.0/4096), math.Log(4096)
	for range 40 {
		if mid := (lo + hi) / 2; at(math.Exp(mid)).L < l {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Exp(lo), mass
}

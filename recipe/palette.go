// Package recipe finds mixes: which tubes, in how many parts, come nearest a
// colour, and how far off to expect them.
//
// Start from [NewPalette] with the tubes at hand. [Palette.Mix] foretells a
// given mix; [Palette.Search] tries every mix of one, two or three tubes, with
// and without white, over the ladder of parts and returns a [Table] that knows
// the best of each set of tubes for each colour; [Table.Recipes] picks a short
// list from it. Answers are exact over the ladder, never a sample of it.
//
// For the questions of a lesson: [Palette.Reach] says whether a colour can be
// mixed and what would help, [Palette.Why] why a mix stays clean or goes dull,
// [Palette.Complements] what greys a tube, [Palette.ValueString] how to premix
// a colour from light to dark, and [Surfaces] what no paint can show.
package recipe

import (
	"errors"
	"fmt"
	"math"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// Palette is a set of tubes made ready for mixing in one finish. It does not
// change and may be shared.
type Palette struct {
	Tubes  []*inventory.Tube
	Finish optics.Finish

	colours, whites []int // indices into Tubes
	black, light    lab.XYZ
}

// MaxTubes bounds a palette; a search over more would take minutes.
const MaxTubes = 200

// NewPalette prepares tubes for mixing. It refuses an empty list, more than
// MaxTubes, and constants that are not positive numbers.
func NewPalette(tubes []*inventory.Tube, finish optics.Finish) (*Palette, error) {
	if len(tubes) == 0 {
		return nil, errors.New("there are no tubes to mix from: add tubes to the box or name fewer to leave out")
	}
	if len(tubes) > MaxTubes {
		return nil, fmt.Errorf("%d tubes are more than the %d that can be searched: name the ones to use", len(tubes), MaxTubes)
	}
	p := &Palette{Tubes: tubes, Finish: finish}
	for i, t := range tubes {
		for b := range t.Paint.K {
			k, s := t.Paint.K[b], t.Paint.S[b]
			if !(k >= 0 && k < 1e6 && s > 0 && s < 1e6 && k+s > 1e-9) {
				return nil, fmt.Errorf("tube %q has K %v and S %v at %d nm, which no paint has: measure or import it again", t.Name, k, s, optics.Wavelength(b))
			}
		}
		if t.White {
			p.whites = append(p.whites, i)
		} else {
			p.colours = append(p.colours, i)
		}
	}
	p.findRange()
	return p, nil
}

// Part is an amount of one tube in a mix, by volume.
type Part struct {
	Tube  int // index into Palette.Tubes
	Parts float64
}

// Paint blends the parts.
func (p *Palette) Paint(parts []Part) optics.Paint {
	paints := make([]*optics.Paint, len(parts))
	amounts := make([]float64, len(parts))
	for i, q := range parts {
		paints[i], amounts[i] = &p.Tubes[q.Tube].Paint, q.Parts
	}
	return optics.Mix(paints, amounts)
}

// Mix foretells the reflectance and the D65 colour of an opaque film of the
// mix in the palette's finish.
func (p *Palette) Mix(parts []Part) (optics.Spectrum, lab.Lab) {
	m := p.Paint(parts)
	r := m.Reflectance(p.Finish)
	return r, r.Lab(optics.D65)
}

// tristimulus holds what turns K and S into D65 XYZ in one pass. Saunderson's
// correction of 1/(1 + q + √(q²+2q)), q = K/S, is (1−k1)(1−k2)·S over
// (1−k2)·S + K + √(K² + 2KS), plus k1 where shine is included.
type tristimulus struct {
	x, y, z *optics.Spectrum // scaled by (1−k1)(1−k2)
	base    lab.XYZ
}

var sums = func() (t [2]tristimulus) {
	wx, wy, wz := optics.D65.Weights()
	white := optics.D65.White()
	s := optics.DrySurface
	through := (1 - s.K1) * (1 - s.K2)
	x, y, z := *wx, *wy, *wz
	for i := range x {
		x[i] *= through
		y[i] *= through
		z[i] *= through
	}
	t[optics.Excluded] = tristimulus{x: &x, y: &y, z: &z}
	t[optics.Included] = t[optics.Excluded]
	t[optics.Included].base = lab.XYZ{X: s.K1 * white.X, Y: s.K1 * white.Y, Z: s.K1 * white.Z}
	return t
}()

var d65White = optics.D65.White()

// of gives XYZ of k + t·kw, s + t·sw.
func (c *tristimulus) of(k, s, kw, sw *optics.Spectrum, t float64) lab.XYZ {
	leave := 1 - optics.DrySurface.K2
	var x, y, z float64
	for i := range k {
		kk := k[i] + t*kw[i]
		ss := s[i] + t*sw[i]
		r := ss / (leave*ss + kk + math.Sqrt(kk*(kk+2*ss)))
		x += r * c.x[i]
		y += r * c.y[i]
		z += r * c.z[i]
	}
	return lab.XYZ{X: c.base.X + x, Y: c.base.Y + y, Z: c.base.Z + z}
}

// Darkest and Lightest give D65 XYZ of the two ends of what the palette's
// ladder mixes can do.
func (p *Palette) Darkest() lab.XYZ  { return p.black }
func (p *Palette) Lightest() lab.XYZ { return p.light }

// findRange looks at every mix of up to three tubes without white, and at
// every tube alone. A mix with white is never darker than the same without;
// none is lighter than the lightest tube.
func (p *Palette) findRange() {
	c := &sums[p.Finish]
	p.black.Y, p.light.Y = math.Inf(1), math.Inf(-1)
	look := func(v lab.XYZ) {
		if v.Y < p.black.Y {
			p.black = v
		}
		if v.Y > p.light.Y {
			p.light = v
		}
	}
	var none optics.Spectrum
	for _, t := range p.Tubes {
		look(c.of(&t.Paint.K, &t.Paint.S, &none, &none, 0))
	}
	if len(p.colours) == 0 {
		return
	}
	p.subsets(func(set [3]int, m int) {
		// Only sets of dark paints can be darkest; a mix is no darker in any
		// band than the darkest of its tubes there.
		if p.darkestPossible(set, m) >= p.black.Y {
			return
		}
		var k, s optics.Spectrum
		for i := range directions[m] {
			p.blend(set, &directions[m][i], &k, &s)
			look(c.of(&k, &s, &none, &none, 0))
		}
	})
}

func (p *Palette) darkestPossible(set [3]int, m int) float64 {
	c := &sums[p.Finish]
	y := c.base.Y
	for i := range c.y {
		q := 0.0
		for j := range m {
			t := &p.Tubes[set[j]].Paint
			q = max(q, t.K[i]/t.S[i])
		}
		y += c.y[i] / (1 - optics.DrySurface.K2 + q + math.Sqrt(q*(q+2)))
	}
	return y
}

// subsets calls f with every set of one, two or three coloured tubes, in order
// of size and then of place in the palette.
func (p *Palette) subsets(f func(set [3]int, m int)) {
	n := len(p.colours)
	for a := range n {
		f([3]int{p.colours[a], -1, -1}, 1)
	}
	for a := range n {
		for b := a + 1; b < n; b++ {
			f([3]int{p.colours[a], p.colours[b], -1}, 2)
		}
	}
	for a := range n {
		for b := a + 1; b < n; b++ {
			for c := b + 1; c < n; c++ {
				f([3]int{p.colours[a], p.colours[b], p.colours[c]}, 3)
			}
		}
	}
}

// blend sets k and s to the direction's mean constants per part.
func (p *Palette) blend(set [3]int, d *direction, k, s *optics.Spectrum) {
	a := &p.Tubes[set[0]].Paint
	f := float64(d.parts[0]) / float64(d.total)
	for i := range k {
		k[i], s[i] = f*a.K[i], f*a.S[i]
	}
	for j := 1; j < 3 && d.parts[j] > 0; j++ {
		b := &p.Tubes[set[j]].Paint
		f := float64(d.parts[j]) / float64(d.total)
		for i := range k {
			k[i] += f * b.K[i]
			s[i] += f * b.S[i]
		}
	}
}

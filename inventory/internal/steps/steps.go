// Package steps holds the smooth steps by which one paint of a pigment departs
// from another, in logarithms of K and S: everywhere alike, tilted along
// wavelength, and with the absorption's edge moved.
package steps

import (
	"math"

	"paintout/inventory/optics"
)

// SDs are standard deviations of those steps: natural logarithms, apart from
// Edge.
type SDs struct {
	Strength       float64 // K and S together: tinting strength
	LevelK, LevelS float64 // K, S alone at all wavelengths, strength apart
	TiltK, TiltS   float64 // K, S alone, at the ends of the range and opposite in sign
	Edge           float64 // K moved along wavelength, nm
}

// Level is one everywhere.
func Level() optics.Spectrum { return optics.Flat(1) }

// Tilt rises evenly from -1 at 400 to 1 at 700 nm.
func Tilt() (t optics.Spectrum) {
	for i := range t {
		t[i] = 2*float64(i)/(optics.Bands-1) - 1
	}
	return t
}

// Edge is what moving K toward red does to ln K, per nm, and whether K has an
// edge at all: a rise or fall somewhere by a factor of e within 50 nm. Without
// one, a move along wavelength is not told from level and tilt.
func Edge(p *optics.Paint) (step optics.Spectrum, ok bool) {
	for i := range step {
		lo, hi := max(i-1, 0), min(i+1, optics.Bands-1)
		step[i] = -math.Log(p.K[hi]/p.K[lo]) / float64(optics.StepNM*(hi-lo))
		ok = ok || math.Abs(step[i]) > 1.0/50
	}
	return step, ok
}

// Modes are the steps as independent one-sigma modes of a paint, tinting
// strength first; those of no size are left out, except strength.
func (sd SDs) Modes(p *optics.Paint) []optics.Mode {
	scaled := func(s optics.Spectrum, by float64) optics.Spectrum {
		for i := range s {
			s[i] *= by
		}
		return s
	}
	m := []optics.Mode{{DK: optics.Flat(sd.Strength), DS: optics.Flat(sd.Strength)}}
	for _, v := range []struct {
		step optics.Spectrum
		k, s float64
	}{{Level(), sd.LevelK, 0}, {Tilt(), sd.TiltK, 0}, {Level(), 0, sd.LevelS}, {Tilt(), 0, sd.TiltS}} {
		if v.k != 0 || v.s != 0 {
			m = append(m, optics.Mode{DK: scaled(v.step, v.k), DS: scaled(v.step, v.s)})
		}
	}
	if step, ok := Edge(p); ok && sd.Edge != 0 {
		m = append(m, optics.Mode{DK: scaled(step, sd.Edge)})
	}
	return m
}

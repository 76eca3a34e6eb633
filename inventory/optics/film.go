package optics

import (
	"fmt"
	"math"
)

// Paint is what Kubelka and Munk's theory knows of one paint: absorption K
// and scattering S per unit thickness at each band, on a scale where titanium
// white scatters 1. Only ratios matter for opaque films; the scale says how
// far one part of this paint goes beside one part of another, its tinting
// strength.
type Paint struct{ K, S Spectrum }

// Mix blends paints by parts of volume: K and S add in proportion
// (Duncan, J. Oil Colour Chem. Assoc. 32, 1949). Parts are relative, not
// negative, and not all zero.
func Mix(paints []*Paint, parts []float64) Paint {
	if len(paints) != len(parts) {
		panic("optics: as many parts as paints are needed")
	}
	total := 0.0
	for _, p := range parts {
		total += p
	}
	var m Paint
	for j, p := range paints {
		share := parts[j] / total
		for i := range m.K {
			m.K[i] += share * p.K[i]
			m.S[i] += share * p.S[i]
		}
	}
	return m
}

// Strengthened is the paint with its tinting strength multiplied by f.
func (p Paint) Strengthened(f float64) Paint {
	for i := range p.K {
		p.K[i] *= f
		p.S[i] *= f
	}
	return p
}

// KSToR gives the reflectance inside an opaque film, R∞ = 1 + q − √(q² + 2q)
// for q = K/S (Kubelka & Munk, Z. tech. Phys. 12, 1931), in the form that
// loses no digits when q is large.
func KSToR(q float64) float64 { return 1 / (1 + q + math.Sqrt(q*(q+2))) }

// minRInf is the darkest internal reflectance that is told apart: below it the
// surface's own reflection hides any difference.
const minRInf = 1e-4

// RToKS is the inverse of [KSToR]: K/S = (1 − R)²/2R. R is held between 1e-4
// and 1.
func RToKS(r float64) float64 {
	r = min(max(r, minRInf), 1)
	return (1 - r) * (1 - r) / (2 * r)
}

// Opaque gives the reflectance inside a film thick enough to hide what is
// under it.
func (p *Paint) Opaque() Spectrum {
	var r Spectrum
	for i := range r {
		r[i] = KSToR(p.K[i] / p.S[i])
	}
	return r
}

// Film gives the reflectance inside a film of the given thickness over a
// ground whose own internal reflectance is ground, by the hyperbolic solution
// (Kubelka, J. Opt. Soc. Am. 38:448, 1948). Thickness is in the unit that K
// and S are per; 0 is no paint at all.
func (p *Paint) Film(thickness float64, ground *Spectrum) Spectrum {
	var r Spectrum
	for i := range r {
		r[i] = film(p.K[i], p.S[i], thickness, ground[i])
	}
	return r
}

func film(k, s, x, g float64) float64 {
	switch {
	case x <= 0:
		return g
	case s*x < 1e-9: // no scattering: light passes down and up
		return g * math.Exp(-2*k*x)
	case k/s < 1e-9: // no absorption
		return (g + s*x*(1-g)) / (1 + s*x*(1-g))
	}
	a := 1 + k/s
	b := math.Sqrt((k / s) * (k/s + 2))
	coth := 1 / math.Tanh(b*s*x)
	return (1 - g*(a-b*coth)) / (a - g + b*coth)
}

// OpaqueFromTwo gives the reflectance that a film would have if it were thick
// enough to hide, from internal reflectances of one film over two grounds
// (r1 over g1, r2 over g2). The hyperbolic solution is linear in a and
// b·coth(bSX), so two grounds determine a, and R∞ = a − √(a² − 1). Where the
// film already hides, both readings agree and their mean is returned.
func OpaqueFromTwo(r1, g1, r2, g2 float64) float64 {
	if math.Abs(r1-r2) < 1e-4 {
		return (r1 + r2) / 2
	}
	det := (r1+g1)*(r2-g2) - (r2+g2)*(r1-g1)
	if det == 0 {
		return (r1 + r2) / 2
	}
	a := ((1+r1*g1)*(r2-g2) - (1+r2*g2)*(r1-g1)) / det
	if !(a >= 1) {
		return 1
	}
	return a - math.Sqrt(a*a-1)
}

// Finish says what of the surface's own shine reaches the eye.
type Finish int

const (
	// Included counts the specular reflection, as on a matte film in diffuse
	// light or an instrument that measures 'specular included'.
	Included Finish = iota
	// Excluded leaves it out, as on a glossy film tilted out of glare.
	Excluded
)

func (f Finish) String() string {
	if f == Excluded {
		return "excluded"
	}
	return "included"
}

// ParseFinish reads "included" or "excluded" ("in" and "out" for short).
func ParseFinish(s string) (Finish, error) {
	switch s {
	case "included", "in":
		return Included, nil
	case "excluded", "out":
		return Excluded, nil
	}
	return 0, fmt.Errorf("finish %q: write included (matte, diffuse light: the surface's shine is in the colour) or excluded (gloss tilted out of glare)", s)
}

// Surface is the boundary between film and air: K1 is the share of diffuse
// light reflected on the way in, K2 that reflected back on the way out
// (Saunderson, J. Opt. Soc. Am. 32:727, 1942).
type Surface struct{ K1, K2 float64 }

// DrySurface is the boundary used for every paint here, with the figures that
// Berns's artist paint database was fitted with (Proc. Color and Imaging
// Conf. 24, 2016).
var DrySurface = Surface{K1: 0.03, K2: 0.65}

// Measured turns an internal reflectance into what is seen or measured.
func (s Surface) Measured(internal float64, f Finish) float64 {
	r := (1 - s.K1) * (1 - s.K2) * internal / (1 - s.K2*internal)
	if f == Included {
		r += s.K1
	}
	return r
}

// Internal is the inverse of [Surface.Measured], held within [1e-4, 1]: dark
// films read below the surface's own reflection, which no paint can be.
func (s Surface) Internal(measured float64, f Finish) float64 {
	if f == Included {
		measured -= s.K1
	}
	r := measured / ((1-s.K1)*(1-s.K2) + s.K2*measured)
	return min(max(r, minRInf), 1)
}

// Seen applies [Surface.Measured] to every band.
func (s Surface) Seen(internal Spectrum, f Finish) Spectrum {
	for i, r := range internal {
		internal[i] = s.Measured(r, f)
	}
	return internal
}

// Inside applies [Surface.Internal] to every band.
func (s Surface) Inside(measured Spectrum, f Finish) Spectrum {
	for i, r := range measured {
		measured[i] = s.Internal(r, f)
	}
	return measured
}

// Reflectance is what an opaque drawdown of the paint reflects, with
// [DrySurface] in the given finish.
func (p *Paint) Reflectance(f Finish) Spectrum {
	return DrySurface.Seen(p.Opaque(), f)
}

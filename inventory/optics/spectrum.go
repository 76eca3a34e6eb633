// Package optics predicts the colour of paint films from spectra: the CIE
// observer and illuminants, and the two-constant theory of Kubelka and Munk
// with Saunderson's correction for the film's surface.
//
// Start from [Paint], the absorption and scattering of one paint: [Mix] blends
// several by volume, [Paint.Opaque] and [Paint.Film] give what the film
// reflects inside, [Surface.Measured] what an instrument or an eye sees, and
// [Spectrum.Lab] its colour. [Fit] goes the other way, from measured films to
// a Paint, starting from a [Prior].
//
// Spectra run from 400 to 700 nm in 31 bands of 10 nm. Reflectances are
// fractions of the perfect diffuser. Paint is never mixed by averaging
// colours, only by adding K and S.
package optics

import (
	"fmt"
	"math"

	"paintout/analyze/lab"
)

//go:generate go run ./internal/gentables -from ../../../shared/data/reference/cie1931_2deg_D65_D50_A_C_5nm.csv

// The wavelength grid of every Spectrum.
const (
	Bands   = 31
	FirstNM = 400
	StepNM  = 10
	LastNM  = FirstNM + (Bands-1)*StepNM
)

// Spectrum is a quantity at 400, 410, … 700 nm.
type Spectrum [Bands]float64

// Wavelength gives the wavelength of band i in nm.
func Wavelength(i int) int { return FirstNM + i*StepNM }

// Flat is the spectrum that is v at every wavelength.
func Flat(v float64) Spectrum {
	var s Spectrum
	for i := range s {
		s[i] = v
	}
	return s
}

// Illuminant is a CIE standard illuminant.
type Illuminant int

// The illuminants on offer; the zero value is D65.
const (
	D65 Illuminant = iota
	D50
	A
	C
)

var illuminantNames = [...]string{"D65", "D50", "A", "C"}

func (il Illuminant) String() string {
	if il < 0 || int(il) >= len(illuminantNames) {
		return fmt.Sprintf("Illuminant(%d)", int(il))
	}
	return illuminantNames[il]
}

// ParseIlluminant reads "D65", "D50", "A" or "C".
func ParseIlluminant(s string) (Illuminant, error) {
	for i, n := range illuminantNames {
		if n == s {
			return Illuminant(i), nil
		}
	}
	return 0, fmt.Errorf("illuminant %q is not one of D65, D50, A, C", s)
}

// weights turns 31 bands into X, Y, Z under each illuminant; white is the sum,
// the colour of the perfect diffuser.
var weights = func() (w [4]struct {
	x, y, z Spectrum
	white   lab.XYZ
}) {
	for il := range w {
		t := &w[il]
		sum := 0.0
		for i, row := range cieTable {
			power := [...]float64{row.d65, row.d50, row.a, row.c}[il]
			sum += power * row.y
			nodes, coeff := interpolation(cieFirst + i*cieStep)
			for j, n := range nodes {
				t.x[n] += coeff[j] * power * row.x
				t.y[n] += coeff[j] * power * row.y
				t.z[n] += coeff[j] * power * row.z
			}
		}
		for i := range t.x {
			t.x[i] *= 100 / sum
			t.y[i] *= 100 / sum
			t.z[i] *= 100 / sum
			t.white.X += t.x[i]
			t.white.Y += t.y[i]
			t.white.Z += t.z[i]
		}
	}
	return w
}()

// interpolation gives the bands and coefficients that estimate a spectrum at
// nm from its 10 nm samples: the four-point Lagrange polynomial inside, the
// three-point one in the end intervals, as ASTM E308 and E2022 build weights
// for 10 nm data. Beyond 400–700 nm the end value is held, as E308 says for
// measurements that stop short.
func interpolation(nm int) (nodes []int, coeff []float64) {
	if nm <= FirstNM {
		return []int{0}, []float64{1}
	}
	if nm >= LastNM {
		return []int{Bands - 1}, []float64{1}
	}
	pos := float64(nm-FirstNM) / StepNM
	first, n := int(pos)-1, 4
	if first < 0 {
		first, n = 0, 3
	} else if first+4 > Bands {
		first, n = Bands-3, 3
	}
	for j := range n {
		c := 1.0
		for k := range n {
			if k != j {
				c *= (pos - float64(first+k)) / float64(j-k)
			}
		}
		nodes, coeff = append(nodes, first+j), append(coeff, c)
	}
	return nodes, coeff
}

// White is the XYZ of the perfect diffuser under il, 2° observer, Y = 100.
func (il Illuminant) White() lab.XYZ { return weights[il].white }

// Weights gives the band weights that turn a reflectance into X, Y and Z
// under il (2° observer, Y of the perfect diffuser = 100).
func (il Illuminant) Weights() (x, y, z *Spectrum) {
	w := &weights[il]
	return &w.x, &w.y, &w.z
}

// XYZ gives the tristimulus values of a reflectance under il, 2° observer.
func (s *Spectrum) XYZ(il Illuminant) lab.XYZ {
	w := &weights[il]
	var t lab.XYZ
	for i, r := range s {
		t.X += r * w.x[i]
		t.Y += r * w.y[i]
		t.Z += r * w.z[i]
	}
	return t
}

// Lab gives the CIELAB colour of a reflectance under il, against the perfect
// diffuser under il.
func (s *Spectrum) Lab(il Illuminant) lab.Lab {
	return lab.FromXYZ(s.XYZ(il), weights[il].white)
}

// Valid reports an error unless every band is a finite reflectance between
// -0.02 (instrument noise about black) and 1.2 (fluorescence or a poor white
// calibration would lie beyond).
func (s *Spectrum) Valid() error {
	for i, r := range s {
		if math.IsNaN(r) || r < -0.02 || r > 1.2 {
			return fmt.Errorf("reflectance %.4g at %d nm is not a fraction of the perfect diffuser", r, Wavelength(i))
		}
	}
	return nil
}

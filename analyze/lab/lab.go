// Package lab holds colour as CIE 15 defines it: tristimulus values, CIELAB
// and its difference CIEDE2000, with the painter's scales beside them (value,
// hue/value/chroma notation, warm and cool).
//
// Start from [Lab]: [FromXYZ] and [FromLinear] make one, [DE00] compares two,
// [Lab.Hex] shows one, [ParseTarget] reads one from what a painter types.
//
// Conventions, the same in every package of this project: XYZ is scaled so
// that the white's Y is 100; L* runs 0–100 and a*, b* are unscaled float64;
// hue angles are degrees in [0, 360); the observer is the CIE 1931 2° one;
// a Lab value is relative to D65 unless a function says otherwise. Nothing
// here clamps silently: functions that can leave the displayable range say so.
package lab

import (
	"encoding/json"
	"fmt"
	"math"
)

// XYZ is a tristimulus value, Y = 100 for the white it is measured against.
type XYZ struct{ X, Y, Z float64 }

// Lab is a CIELAB colour: L* in 0–100, a* and b* roughly within ±128.
// In JSON it is the array [L, a, b].
type Lab struct{ L, A, B float64 }

// LCh is a CIELAB colour in cylinder form: lightness, chroma, and hue in
// degrees within [0, 360).
type LCh struct{ L, C, H float64 }

// White points of the CIE 1931 2° observer, Y = 100 (CIE 15:2018, table T.3;
// A and C likewise).
var (
	D65 = XYZ{95.047, 100, 108.883}
	D50 = XYZ{96.422, 100, 82.521}
	A   = XYZ{109.850, 100, 35.585}
	C   = XYZ{98.074, 100, 118.232}
)

// The CIELAB function's two branches meet at (6/29)^3 (CIE 15:2018, 8.2.1).
const (
	labEpsilon = 216.0 / 24389
	labKappa   = 24389.0 / 27
)

func labF(t float64) float64 {
	if t > labEpsilon {
		return math.Cbrt(t)
	}
	return (labKappa*t + 16) / 116
}

func labFInverse(f float64) float64 {
	if t := f * f * f; t > labEpsilon {
		return t
	}
	return (116*f - 16) / labKappa
}

// FromXYZ gives the CIELAB colour of xyz against the given white
// (CIE 15:2018, 8.2.1).
func FromXYZ(xyz, white XYZ) Lab {
	fx, fy, fz := labF(xyz.X/white.X), labF(xyz.Y/white.Y), labF(xyz.Z/white.Z)
	return Lab{116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)}
}

// XYZ is the inverse of [FromXYZ].
func (c Lab) XYZ(white XYZ) XYZ {
	fy := (c.L + 16) / 116
	return XYZ{
		labFInverse(fy+c.A/500) * white.X,
		labFInverse(fy) * white.Y,
		labFInverse(fy-c.B/200) * white.Z,
	}
}

// LCh gives lightness, chroma and hue angle; the hue of an exact neutral is 0.
func (c Lab) LCh() LCh {
	return LCh{c.L, c.Chroma(), c.Hue()}
}

// Chroma is C*ab.
func (c Lab) Chroma() float64 { return math.Hypot(c.A, c.B) }

// Hue is h_ab in degrees, [0, 360).
func (c Lab) Hue() float64 { return degrees(c.A, c.B) }

// Lab is the inverse of [Lab.LCh].
func (c LCh) Lab() Lab {
	sin, cos := math.Sincos(c.H * math.Pi / 180)
	return Lab{c.L, c.C * cos, c.C * sin}
}

// Finite reports whether all three coordinates are ordinary numbers.
func (c Lab) Finite() bool {
	s := c.L + c.A + c.B
	return !math.IsNaN(s) && !math.IsInf(s, 0)
}

func degrees(x, y float64) float64 {
	if x == 0 && y == 0 {
		return 0
	}
	h := math.Atan2(y, x) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	if h >= 360 {
		h = 0
	}
	return h
}

// MarshalJSON writes [L, a, b] to four decimals, far below what can be seen.
func (c Lab) MarshalJSON() ([]byte, error) {
	if !c.Finite() {
		return nil, fmt.Errorf("a colour that is not a number cannot be written: %v", [3]float64{c.L, c.A, c.B})
	}
	round := func(v float64) float64 { return math.Round(v*1e4)/1e4 + 0 }
	return json.Marshal([3]float64{round(c.L), round(c.A), round(c.B)})
}

// UnmarshalJSON reads [L, a, b]; null leaves the colour as it is.
func (c *Lab) UnmarshalJSON(b []byte) error {
	var v []*float64 // pointers, so that a null inside does not pass for 0
	if err := json.Unmarshal(b, &v); err != nil {
		return fmt.Errorf("a Lab colour is written [L, a, b]: %w", err)
	}
	if v == nil {
		return nil
	}
	if len(v) != 3 || v[0] == nil || v[1] == nil || v[2] == nil {
		return fmt.Errorf("a Lab colour is written [L, a, b], not %s", b)
	}
	*c = Lab{*v[0], *v[1], *v[2]}
	return nil
}

package lab

// LuminanceOfValue gives Y (0–100, relative to the perfect diffuser) of a
// value on the painter's 0–10 scale, by the quintic of ASTM D1535.
// v is clamped to [0, 10].
func LuminanceOfValue(v float64) float64 {
	v = min(max(v, 0), 10)
	return v * (1.1914 + v*(-0.22533+v*(0.23352+v*(-0.020484+v*0.00081939))))
}

// ValueOfLuminance is the inverse of [LuminanceOfValue]: the value, 0 (black)
// to 10 (white), of Y in 0–100, within 1e-9. Y is clamped to the scale.
func ValueOfLuminance(y float64) float64 {
	top := LuminanceOfValue(10)
	if y <= 0 {
		return 0
	}
	if y >= top {
		return 10
	}
	lo, hi := 0.0, 10.0
	for hi-lo > 1e-10 {
		mid := (lo + hi) / 2
		if LuminanceOfValue(mid) < y {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// Value is the painter's value 0–10 of a colour, from its luminance alone.
func (c Lab) Value() float64 {
	return ValueOfLuminance(100 * labFInverse((c.L+16)/116))
}

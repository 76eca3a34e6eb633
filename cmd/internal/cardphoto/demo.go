package cardphoto

import (
	"fmt"

	"paintout/inventory"
	"paintout/inventory/optics"
)

// Drawdown is one swatch of a card that was laid out: which paint in which
// parts, where it lies and what colour it is.
type Drawdown struct {
	Pigment      string  // key of the library
	Paint, White float64 // parts by volume
	X, Y         float64 // its middle, mm
	Reflectance  optics.Spectrum
}

// Maker is a paint of a pigment of the library as another maker might grind
// it: off by two thirds of what the library leaves open, one way or the other.
func Maker(p *inventory.Pigment) optics.Paint {
	t := p.Tube()
	paint := t.Paint
	for i := range t.Modes {
		paint = t.Modes[i].Apply(paint, 0.67*float64(1-i&1*2))
	}
	return paint
}

// Sheet lays pigments of the library, as [Maker] has them, out on a sheet of white paper, a row for
// each: the white first, then each paint's masstone and its tints with white
// parts. With a chart there is the 24-patch chart above them, else a grey card
// of 18 %, whose middle is returned last.
func Sheet(pigments []string, white string, tints []float64, finish optics.Finish, chart bool) (*Scene, []Drawdown, [2]float64, error) {
	const size, gap, margin = 26.0, 9.0, 22.0
	w, err := inventory.Find(white)
	if err != nil {
		return nil, nil, [2]float64{}, err
	}
	s := &Scene{W: max(2*margin+float64(1+len(tints))*(size+gap), 200), Light: Planck(5200)}
	s.Paper, s.Table = optics.Flat(0.87), optics.Flat(0.12)
	for i := range s.Paper { // a little yellow
		s.Paper[i] -= 0.03 * float64(optics.Bands-i) / optics.Bands
		s.Table[i] += 0.004 * float64(i)
	}
	top, grey := margin, [2]float64{margin + 30, margin + 22}
	if chart {
		s.Patches = Chart(margin, top, 24)
		top += 4*24 + 18
	} else {
		s.Patches = append(s.Patches, Patch{X: margin, Y: top, W: 60, H: 44, Reflectance: optics.Flat(0.18)})
		top += 44 + 18
	}
	var out []Drawdown
	put := func(key string, p *optics.Paint, paint, tint float64, col int) {
		m := *p
		if tint > 0 {
			m = optics.Mix([]*optics.Paint{p, &w.Paint}, []float64{paint, tint})
		}
		x := margin + float64(col)*(size+gap)
		d := Drawdown{Pigment: key, Paint: paint, White: tint, X: x + size/2, Y: top + size/2, Reflectance: m.Reflectance(finish)}
		s.Patches = append(s.Patches, Patch{X: x, Y: top, W: size, H: size, Reflectance: d.Reflectance})
		out = append(out, d)
	}
	put(w.Key(), &w.Paint, 0, 0, 0)
	out[0].White = 1
	top += size + gap
	for _, key := range pigments {
		p, err := inventory.Find(key)
		if err != nil {
			return nil, nil, grey, fmt.Errorf("%s: %w", key, err)
		}
		paint := Maker(p)
		put(p.Key(), &paint, 1, 0, 0)
		for i, t := range tints {
			put(p.Key(), &paint, 1, t, i+1)
		}
		top += size + gap
	}
	s.H = top + margin
	return s, out, grey, nil
}

// Phone is a phone held over a card: a little askew, with that camera's
// sensor.
func Phone(s *Scene, sensor int, wide int) *Camera {
	high := int(float64(wide) * (s.H + 30) / (s.W + 30))
	return &Camera{
		Sensitivity: Phones[sensor], W: wide, H: high,
		Corners:  [4][2]float64{{0.07, 0.05}, {0.94, 0.07}, {0.96, 0.95}, {0.045, 0.96}},
		Exposure: 0.85, Saturation: 1.12, Curve: 0.6, Vignette: 0.18, Veil: 0.015, Noise: 0.012, Salt: 1,
	}
}

package cardphoto

import (
	"math"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// What a grey card alone leaves of a camera's own rendering: the library's
// paints and their tints through 72 cameras (three sensors, four lights, three
// tone curves, colours strengthened or not), without noise or fall-off, by
// Bradford scaling and the card's lightness. Package card states the figures.
func TestGreyCardAlone(t *testing.T) {
	white, err := inventory.Find("PW6")
	if err != nil {
		t.Fatal(err)
	}
	var films []optics.Spectrum
	for _, p := range inventory.Library() {
		films = append(films, p.Paint.Reflectance(optics.Included))
		for _, parts := range []float64{1, 4, 9} {
			m := optics.Mix([]*optics.Paint{&p.Paint, &white.Paint}, []float64{1, parts})
			films = append(films, m.Reflectance(optics.Included))
		}
	}
	card := optics.Flat(0.18)
	var sum, n [3]float64 // to C* 15, to 45, beyond
	mean, count := 0.0, 0.0
	for sensor := range Phones {
		for _, light := range []optics.Spectrum{Planck(3200), Planck(5200), Planck(6500), LED(0.9)} {
			for _, curve := range []float64{0, 0.5, 1} {
				for _, saturation := range []float64{1, 1.2} {
					c := &Camera{Sensitivity: Phones[sensor], Exposure: 0.85, Saturation: saturation, Curve: curve}
					s := &Scene{Light: light}
					ccm := c.colours(s)
					seen := func(r *optics.Spectrum) lab.XYZ {
						v := c.signal(s, r)
						var e [3]float64
						for k := range e {
							for j := range v {
								e[k] += ccm[k][j] * c.Exposure * v[j]
							}
							e[k] = lab.DecodeSRGB(math.Round(255*c.toned(e[k])) / 255)
						}
						return lab.FromLinear(e[0], e[1], e[2]).XYZ(lab.D65)
					}
					g := seen(&card)
					from := lab.XYZ{X: g.X / 0.18, Y: g.Y / 0.18, Z: g.Z / 0.18}
					for i := range films {
						want := films[i].Lab(optics.D65)
						d := lab.DE00(lab.FromXYZ(lab.Adapt(seen(&films[i]), from, lab.D65), lab.D65), want)
						class := 0
						if want.Chroma() > 15 {
							class = 1
						}
						if want.Chroma() > 45 {
							class = 2
						}
						sum[class] += d * d / 3
						n[class]++
						mean += d
						count++
					}
				}
			}
		}
	}
	t.Logf("%.0f readings, %.2f ΔE00 on average", count, mean/count)
	for i, said := range []float64{1.1, 1.8, 2.3} {
		got := math.Sqrt(sum[i] / n[i])
		t.Logf("class %d: %.2f along each of lightness, chroma and hue (%.0f readings)", i, got, n[i])
		if math.Abs(got-said) > 0.15 {
			t.Errorf("class %d misses by %.2f along each of lightness, chroma and hue; %.1f is stated", i, got, said)
		}
	}
}

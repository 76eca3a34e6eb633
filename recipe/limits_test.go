package recipe

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// wyszeckiStiles are optimal colours for D65 and the 2° observer, x, y and Y:
// Wyszecki & Stiles, Color Science, 2nd edition, table II(3.7), as transcribed
// in colour-science's optimal_colour_stimuli (BSD-3).
var wyszeckiStiles = [][3]float64{
	{0.1346, 0.0747, 10}, {0.0391, 0.4074, 10}, {0.0344, 0.7732, 10}, {0.1188, 0.8213, 10}, {0.7035, 0.2965, 10}, {0.5309, 0.2019, 10}, {0.2660, 0.0755, 10},
	{0.1268, 0.1365, 20}, {0.0479, 0.6227, 20}, {0.1664, 0.7941, 20}, {0.6708, 0.3289, 20}, {0.5018, 0.2197, 20}, {0.2935, 0.1164, 20},
	{0.1282, 0.1889, 30}, {0.0819, 0.6020, 30}, {0.2119, 0.7609, 30}, {0.6368, 0.3628, 30}, {0.4504, 0.2212, 30}, {0.3197, 0.1526, 30},
	{0.1360, 0.2324, 40}, {0.1312, 0.7047, 40}, {0.2415, 0.7344, 40}, {0.6041, 0.3954, 40}, {0.4598, 0.2661, 40}, {0.2581, 0.2001, 40},
	{0.1491, 0.2679, 50}, {0.1472, 0.5522, 50}, {0.2991, 0.6851, 50}, {0.5731, 0.4262, 50}, {0.4113, 0.2600, 50}, {0.3042, 0.2200, 50},
	{0.1674, 0.2959, 60}, {0.1873, 0.5730, 60}, {0.2930, 0.6798, 60}, {0.5435, 0.4552, 60}, {0.4138, 0.3005, 60}, {0.2701, 0.2595, 60},
	{0.1916, 0.3164, 70}, {0.2298, 0.5597, 70}, {0.3000, 0.6521, 70}, {0.5148, 0.4825, 70}, {0.4005, 0.3259, 70}, {0.3007, 0.2739, 70},
	{0.2232, 0.3290, 80}, {0.2760, 0.5308, 80}, {0.4080, 0.5750, 80}, {0.4858, 0.5081, 80}, {0.4299, 0.4158, 80}, {0.3307, 0.2866, 80},
	{0.2639, 0.3331, 90}, {0.3059, 0.4486, 90}, {0.4354, 0.5406, 90}, {0.4530, 0.5293, 90}, {0.4215, 0.4700, 90}, {0.3217, 0.3084, 90},
	{0.2875, 0.3320, 95}, {0.3508, 0.4654, 95}, {0.4281, 0.5268, 95}, {0.4031, 0.4751, 95}, {0.3167, 0.3189, 95},
}

// The published limits lie on the boundary found here, at their own lightness,
// within 0.5 ΔE00: bands of 10 nm cut less sharply than light can be cut. Where
// that matters most, in yellows of Y 95, it is 1.2.
func TestOptimalColoursOfTheBooks(t *testing.T) {
	worst, sum := 0.0, 0.0
	for _, w := range wyszeckiStiles {
		x, y, Y := w[0], w[1], w[2]
		c := lab.FromXYZ(lab.XYZ{X: x / y * Y, Y: Y, Z: (1 - x - y) / y * Y}, lab.D65)
		d := math.Inf(1)
		for h := c.Hue() - 2.5; h <= c.Hue()+2.5; h += 0.05 {
			d = min(d, lab.DE00(c, lab.LCh{L: c.L, C: AnySurface.MaxChroma(c.L, h), H: h}.Lab()))
		}
		sum, worst = sum+d, max(worst, d)
		limit := 0.5
		if Y == 95 {
			limit = bandLoss
		}
		if d > limit {
			t.Errorf("x %v y %v Y %v (%s) lies %.2f ΔE00 from the boundary", x, y, Y, text(c), d)
		}
	}
	mean := sum / float64(len(wyszeckiStiles))
	t.Logf("mean %.3f, worst %.3f ΔE00", mean, worst)
	if mean > 0.15 {
		t.Errorf("mean %.3f ΔE00", mean)
	}
}

// beyond asks linear programming how far a surface can go from the grey of
// luminance y in the direction (dx, dz) of X and Z at that luminance.
func beyond(t *testing.T, y, dx, dz float64) float64 {
	t.Helper()
	wx, wy, wz := optics.D65.Weights()
	n := optics.Bands
	// Columns: reflectances, their slacks to 1, and the distance.
	a := mat.NewDense(3+n, 2*n+1, nil)
	b := make([]float64, 3+n)
	for i := range n {
		a.Set(0, i, wx[i])
		a.Set(1, i, wy[i])
		a.Set(2, i, wz[i])
		a.Set(3+i, i, 1)
		a.Set(3+i, n+i, 1)
		b[3+i] = 1
	}
	a.Set(0, 2*n, -dx)
	a.Set(2, 2*n, -dz)
	b[0], b[1], b[2] = d65White.X*y/100, y, d65White.Z*y/100
	c := make([]float64, 2*n+1)
	c[2*n] = -1
	most, _, err := lp.Simplex(c, a, b, 1e-9, nil)
	if err != nil {
		t.Fatal(err)
	}
	return -most
}

// The two-change spectra bound the solid of 31 bands: no reflectance goes
// further by one in ten thousand, by linear programming over all of them.
func TestOptimalEqualsLinearProgramming(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 8))
	for range 60 {
		l, h := 5+92*rng.Float64(), 360*rng.Float64()
		c, r := AnySurface.optimalAt(l, h)
		at := lab.LCh{L: l, C: c, H: h}.Lab().XYZ(d65White)
		y := at.Y
		dx, dz := at.X-d65White.X*y/100, at.Z-d65White.Z*y/100
		if far := beyond(t, y, dx, dz); math.Abs(far-1) > 1e-4 {
			t.Errorf("L* %.1f h %.0f: the limit is %.6f of C* %.2f", l, h, far, c)
		}
		if d := lab.DE76(r.Lab(optics.D65), lab.LCh{L: l, C: c, H: h}.Lab()); d > 1e-3 {
			t.Errorf("L* %.1f h %.0f: the reflectance is %.4f off its colour", l, h, d)
		}
		for i, v := range r {
			if v < -1e-12 || v > 1+1e-12 {
				t.Errorf("L* %.1f h %.0f: reflectance %v at %d nm", l, h, v, optics.Wavelength(i))
			}
		}
	}
}

// Every paint's colours lie inside what a painted surface can show, and a
// colour on the far side of the limit is told from it.
func TestPaintsLieWithinTheLimits(t *testing.T) {
	for _, f := range []optics.Finish{optics.Included, optics.Excluded} {
		s := PaintedSurface(f)
		share := 0.0
		for _, p := range inventory.Library() {
			for _, white := range []float64{0, 1, 4, 16} {
				m := optics.Mix([]*optics.Paint{&p.Paint, &inventory.Library()[0].Paint}, []float64{1, white})
				r := m.Reflectance(f)
				c := r.Lab(optics.D65)
				top := s.MaxChroma(c.L, c.Hue())
				if c.Chroma() > top+1e-6 {
					t.Errorf("%s 1:%v, shine %v: C* %.2f beyond the limit %.2f", p.Key(), white, f, c.Chroma(), top)
				}
				share = max(share, c.Chroma()/top)
			}
		}
		t.Logf("shine %v: paint reaches %.0f %% of the limit at most", f, 100*share)
	}
}

func TestNearestSurface(t *testing.T) {
	inside := lab.Lab{L: 60, A: 20, B: -20}
	if at, d := AnySurface.Nearest(inside); lab.DE76(at, inside) > 1e-9 || d != 0 {
		t.Errorf("%v: %v, %v", inside, at, d)
	}
	white := lab.Lab{L: 100}
	if _, d := AnySurface.Nearest(white); d > 0.1 {
		t.Errorf("white lies %.2f outside", d)
	}
	// A green laser's colour at the lightness of white: no surface is near.
	glowing := lab.LCh{L: 97, C: 140, H: 140}.Lab()
	at, d := AnySurface.Nearest(glowing)
	if d < 4 {
		t.Errorf("a glowing green is %.1f from %s", d, text(at))
	}
	// Nothing on the boundary is nearer, as far as a plain sweep tells.
	sweep := math.Inf(1)
	for l := 60.0; l < 100; l += 2 {
		for h := 110.0; h < 170; h += 3 {
			sweep = min(sweep, lab.DE00(glowing, lab.LCh{L: l, C: AnySurface.MaxChroma(l, h), H: h}.Lab()))
		}
	}
	if d > sweep+0.05 {
		t.Errorf("%.2f ΔE00, but a sweep finds %.2f", d, sweep)
	}
	// Shine takes the darks and strong colours away.
	if _, d := PaintedSurface(optics.Included).Nearest(lab.Lab{L: 5}); d < 5 {
		t.Errorf("black with shine is only %.1f off", d)
	}
	for _, l := range []float64{-1, 0, 100, 130} {
		if c := AnySurface.MaxChroma(l, 50); c != 0 {
			t.Errorf("C* %v at L* %v", c, l)
		}
	}
}

// No surface's chroma comes near what the search's balls take as the most.
func TestNoSurfaceIsBeyondTheBalls(t *testing.T) {
	most := 0.0
	for l := 3.0; l < 100; l += 3 {
		for h := 0.0; h < 360; h += 5 {
			most = max(most, AnySurface.MaxChroma(l, h))
		}
	}
	t.Logf("no surface exceeds C* %.0f", most)
	if most > ballSteps*ballStep-20 {
		t.Errorf("C* %.0f", most)
	}
}

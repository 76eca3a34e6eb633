package analyze

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"paintout/analyze/lab"
)

const accentW, accentH = 720, 480

var accentArea = float64(accentW * accentH)

func radiusOf(share float64) float64 { return math.Sqrt(share * accentArea / math.Pi) }

func TestRedRoofSurvives(t *testing.T) {
	roof := rgb{170, 50, 35}
	s := hills(accentW, accentH).with(roof, radiusOf(0.0015), [2]float64{430, 330})
	for _, noise := range []float64{0, 5, 12} {
		a := analyze(t, shoot(accentW, accentH, s, noise), Options{K: 6})
		got := a.accentMasses()
		if len(a.Masses) != 6 || len(got) != 1 {
			t.Errorf("noise %g: %d masses, %d accents; want 6 and 1", noise, len(a.Masses), len(got))
			continue
		}
		if d := lab.DE00(got[0].Lab, roof.lab()); d > 1+noise/6 {
			t.Errorf("noise %g: the roof came out %s, off by %.1f ΔE00", noise, got[0].Lab.Hex(), d)
		}
		if math.Abs(got[0].Share-0.0015) > 0.0003 {
			t.Errorf("noise %g: the roof has %.3f %% of the picture, want 0.15", noise, 100*got[0].Share)
		}
		if x, y := got[0].CX*accentW, got[0].CY*accentH; math.Hypot(x-430, y-330) > 4 {
			t.Errorf("noise %g: label at %.0f, %.0f", noise, x, y)
		}
		if a.WithAccents(6, false).accentMasses() != nil {
			t.Error("accents kept although none were wanted")
		}
	}
}

func scattered(n int, seed uint64) (at [][2]float64) {
	r := rand.New(rand.NewPCG(seed, 1))
	for range n {
		at = append(at, [2]float64{10 + 700*r.Float64(), 360 + 110*r.Float64()})
	}
	return at
}

// bush is n places close together.
func bush(n int) (at [][2]float64) {
	r := rand.New(rand.NewPCG(2, 1))
	for range n {
		at = append(at, [2]float64{200 + 22*r.NormFloat64(), 400 + 14*r.NormFloat64()})
	}
	return at
}

func TestScatteredFlowersAreOneAccent(t *testing.T) {
	petal := rgb{230, 190, 30}
	a := analyze(t, shoot(accentW, accentH, hills(accentW, accentH).with(petal, 3, scattered(50, 1)...), 4), Options{K: 12})
	got := a.accentMasses()
	if len(got) != 1 {
		t.Fatalf("%d accents, want 1", len(got))
	}
	if d := lab.DE00(got[0].Lab, petal.lab()); d > 2 {
		t.Errorf("off by %.1f ΔE00", d)
	}
	if got[0].Components < 35 {
		t.Errorf("%d of 50 flowers in the mask", got[0].Components)
	}
	if want := 50 * math.Pi * 9 / accentArea; got[0].Share < 0.7*want || got[0].Share > 1.3*want {
		t.Errorf("share %.3f %%, want about %.3f", 100*got[0].Share, 100*want)
	}
}

func TestOtherAccents(t *testing.T) {
	night := flat(rgb{22, 24, 34})
	for _, c := range []struct {
		name  string
		s     scene
		want  []rgb
		noise float64
	}{
		{"lit window", night.with(rgb{250, 200, 110}, 5, [2]float64{200, 300}), []rgb{{250, 200, 110}}, 4},
		{"dark boat on pale water", flat(rgb{180, 190, 200}).with(rgb{20, 20, 25}, 10, [2]float64{200, 300}), []rgb{{20, 20, 25}}, 4},
		{"red and blue", hills(accentW, accentH).
			with(rgb{180, 40, 40}, 8, [2]float64{430, 330}).
			with(rgb{30, 60, 190}, 8, [2]float64{250, 400}), []rgb{{180, 40, 40}, {30, 60, 190}}, 4},
		{"flowering bush", hills(accentW, accentH).with(rgb{225, 190, 40}, 3, bush(40)...), []rgb{{225, 190, 40}}, 4},
		{"sun in its glow", func(x, y int) rgb {
			d := math.Hypot(float64(x-360), float64(y-200))
			if d < 30 {
				return rgb{255, 255, 255}
			}
			return rgb{max(235-0.25*d, 0), max(215-0.3*d, 0), max(180-0.2*d, 0)}
		}, []rgb{{255, 255, 255}}, 2},
	} {
		a := analyze(t, shoot(accentW, accentH, c.s, c.noise), Options{K: 12})
		got := a.accentMasses()
		if len(got) != len(c.want) {
			t.Errorf("%s: %d accents, want %d", c.name, len(got), len(c.want))
			continue
		}
		for _, w := range c.want {
			near := math.Inf(1)
			for _, m := range got {
				near = min(near, lab.DE00(m.Lab, w.lab()))
			}
			if near > 3 {
				t.Errorf("%s: none within 3 ΔE00 of %v (%.1f)", c.name, w, near)
			}
		}
	}
}

func TestNoAccentsInvented(t *testing.T) {
	w, h := float64(accentW), float64(accentH)
	land := hills(accentW, accentH)
	for _, c := range []struct {
		name  string
		s     scene
		noise float64
	}{
		{"flat", flat(rgb{120, 140, 90}), 0},
		{"noise 5", flat(rgb{120, 140, 90}), 5},
		{"noise 20", flat(rgb{120, 140, 90}), 20},
		{"noise 60", flat(rgb{120, 140, 90}), 60},
		{"dark noise", flat(rgb{12, 14, 10}), 12},
		{"landscape", land, 0},
		{"noisy landscape", land, 20},
		{"salt and pepper 1 %", land.peppered(0.01), 3},
		{"salt and pepper 10 %", land.peppered(0.1), 3},
		{"salt and pepper 30 %", land.peppered(0.3), 3},
		{"grey gradient", func(x, y int) rgb {
			v := 255 * (float64(x)/w + float64(y)/h) / 2
			return rgb{v, v, v}
		}, 0},
		{"colour gradient", func(x, y int) rgb { return rgb{255 * float64(x) / w, 90, 255 - 255*float64(x)/w} }, 1},
		{"two-way gradient", func(x, y int) rgb {
			return rgb{255 * float64(x) / w, 255 * float64(y) / h, 255 - 255*float64(x)/w}
		}, 2},
		{"glow", func(x, y int) rgb {
			d := math.Hypot(float64(x)-w/2, float64(y)-h/2) / w
			return rgb{255 - 300*d, 200 - 200*d, 60 + 100*d}
		}, 1},
		{"edge between two", func(x, y int) rgb {
			if float64(x)+0.3*float64(y) < 400 {
				return rgb{200, 60, 40}
			}
			return rgb{40, 60, 200}
		}, 3},
		{"stripes", func(x, y int) rgb {
			if (x/9+y/14)%2 == 0 {
				return rgb{200, 180, 60}
			}
			return rgb{60, 90, 60}
		}, 3},
		{"one large red", land.with(rgb{170, 50, 35}, 100, [2]float64{430, 330}), 3},
		{"thin wire", func(x, y int) rgb {
			if x == 300 {
				return rgb{200, 30, 30}
			}
			return land(x, y)
		}, 3},
	} {
		src := shoot(accentW, accentH, c.s, c.noise)
		sides := []int{accentW}
		if c.noise >= 3 { // averaging changes what noise looks like
			sides = append(sides, 300)
		}
		for _, side := range sides {
			m := newModelOf(t, counted(t, src, side))
			found, _ := m.own(m.view.accents())
			for _, a := range found {
				t.Errorf("%s, masks of %d: accent at %.0f on %d pixels", c.name, side, a.centre, a.pixels)
			}
		}
	}
}

func TestSlots(t *testing.T) {
	h := &hierarchy{levels: make([]int, leafMax), accents: make([]placed, KMax/slotEvery)}
	before := 0
	for k := KMin; k <= KMax; k++ {
		m, a := h.slots(k)
		if m+a != k || a > max(1, k/4) || a < before || a > before+1 {
			t.Errorf("%d: %d masses and %d accents", k, m, a)
		}
		before = a
	}
	// The picture's own number must be one that can be asked for with the same result.
	for flatten := 1; flatten <= leafMax; flatten++ {
		for n := 1; n <= KMax/slotEvery; n++ {
			h := &hierarchy{levels: make([]int, leafMax), accents: make([]placed, n), seen: make([]float64, leafMax)}
			for i := range h.seen {
				h.seen[i] = float64(max(flatten-i-1, 0))
			}
			m, a := h.slots(0)
			if m < 3 {
				continue
			}
			if m2, a2 := h.slots(m + a); fmt.Sprint(m, a) != fmt.Sprint(m2, a2) {
				t.Errorf("own number %d+%d is cut as %d+%d", m, a, m2, a2)
			}
		}
	}
}

// The 0–1 principle: a network that sorts out the median of all 0–1 inputs
// does so for all inputs (Knuth, TAOCP 3, 5.3.4).
func TestMedian9(t *testing.T) {
	for bits := range 512 {
		var v [9]float32
		ones := 0
		for i := range v {
			v[i] = float32(bits >> i & 1)
			ones += bits >> i & 1
		}
		want := float32(0)
		if ones >= 5 {
			want = 1
		}
		if got := median9(v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7], v[8]); got != want {
			t.Fatalf("%v: %g", v, got)
		}
	}
}

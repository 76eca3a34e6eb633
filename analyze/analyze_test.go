package analyze

import (
	"context"
	"math"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
)

func TestMassesProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyFrame(t)
		k := rapid.IntRange(KMin, KMax).Draw(t, "k")
		a, err := Analyze(context.Background(), f, Options{K: k, MaskSide: rapid.IntRange(1, 50).Draw(t, "side")})
		if err != nil {
			t.Fatal(err)
		}
		if len(a.Masses) == 0 || len(a.Masses) > k {
			t.Fatalf("%d masses of %d", len(a.Masses), k)
		}
		var sum float64
		for i, m := range a.Masses {
			sum += m.Share
			if m.ID != i+1 || m.Share <= 0 || m.CX <= 0 || m.CX >= 1 || m.CY <= 0 || m.CY >= 1 || m.Edge < 0 || m.Edge > 1 || m.Temperature == "" {
				t.Fatalf("mass %+v", m)
			}
			if i > 0 && m.Accent == a.Masses[i-1].Accent && m.Lab.L > a.Masses[i-1].Lab.L {
				t.Fatalf("mass %d is lighter than the one before", m.ID)
			}
			if i > 0 && !m.Accent && a.Masses[i-1].Accent {
				t.Fatalf("mass %d comes after an accent", m.ID)
			}
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Fatalf("shares sum to 1 %+g", sum-1)
		}
		if len(a.Mask.Index) != a.Mask.W*a.Mask.H || a.Small.W != a.Mask.W || len(a.Small.Pix) != 3*len(a.Mask.Index) {
			t.Fatal("mask and reduced picture differ in size")
		}
		for _, i := range a.Mask.Index {
			if int(i) >= len(a.Masses) {
				t.Fatalf("mask names mass %d of %d", i, len(a.Masses))
			}
		}
		if a.Fit.Mean < 0 || a.Fit.P99 < 0 || a.Fit.Mean > 100 {
			t.Fatalf("fit %+v", a.Fit)
		}
	})
}

// sceneWithAccents has more to it than KMax masses can hold, and accents.
func sceneWithAccents(w, h int) *frame {
	return shoot(w, h, hills(w, h).
		with(rgb{180, 40, 40}, 7, [2]float64{0.6 * float64(w), 0.7 * float64(h)}).
		with(rgb{30, 60, 190}, 6, [2]float64{0.3 * float64(w), 0.85 * float64(h)}).
		with(rgb{235, 200, 40}, 6, [2]float64{0.8 * float64(w), 0.9 * float64(h)}), 6)
}

// Each mass of k+1 lies whole in one mass of k, and one mass of k is split.
func nests(t *testing.T, a *Analysis, k int) *Analysis {
	t.Helper()
	b := a.WithK(k + 1)
	if len(b.Masses) == len(a.Masses) {
		return b
	}
	parent := map[uint8]uint8{}
	split := map[uint8]int{}
	for i, to := range b.of {
		if p, known := parent[to]; !known {
			parent[to] = a.of[i]
			split[a.of[i]]++
		} else if p != a.of[i] {
			t.Fatalf("a mass of %d lies in two of %d", k+1, k)
		}
	}
	if len(parent) != len(b.Masses) || len(split) != len(a.Masses) || len(parent) != len(split)+1 {
		t.Fatalf("%d masses of %d come from %d of %d", len(parent), k+1, len(split), k)
	}
	return b
}

func TestNumbersNest(t *testing.T) {
	src := sceneWithAccents(480, 320)
	for _, accents := range []bool{true, false} {
		a := analyze(t, src, Options{K: KMin, NoAccents: !accents})
		for k := KMin; k < KMax; k++ {
			if len(a.Masses) != k {
				t.Fatalf("%d masses of %d", len(a.Masses), k)
			}
			a = nests(t, a, k)
		}
		if got := len(a.accentMasses()); (got == 3) != accents {
			t.Errorf("accents %v: %d accents at %d", accents, got, KMax)
		}
	}
}

func TestWithKIsAnalyze(t *testing.T) {
	src := sceneWithAccents(300, 200)
	a := analyze(t, src, Options{K: 14})
	for _, k := range []int{0, 3, 7, 12, 24} {
		b, c := analyze(t, src, Options{K: k}), a.WithK(k)
		if !reflect.DeepEqual(b.Masses, c.Masses) || !reflect.DeepEqual(b.Mask, c.Mask) || b.Fit != c.Fit {
			t.Errorf("%d masses differ when cut again", k)
		}
	}
	if n := len(a.WithK(99).Masses); n != KMax {
		t.Errorf("99 gives %d masses, want %d", n, KMax)
	}
	var wg sync.WaitGroup // cuts of either kind at once
	for k := KMin; k < 12; k++ {
		wg.Go(func() { a.WithAccents(k, k%2 == 0) })
	}
	wg.Wait()
}

// Known flat regions under sensor noise come back within 1 ΔE00, with their
// areas.
func TestFlatRegionsAreRecovered(t *testing.T) {
	colours := []rgb{{225, 230, 235}, {200, 170, 110}, {140, 165, 200}, {95, 120, 60}, {120, 70, 55}, {35, 40, 45}}
	bounds := []int{0, 60, 110, 210, 300, 340, 400} // columns
	src := shoot(400, 300, func(x, y int) rgb {
		i := 0
		for x >= bounds[i+1] {
			i++
		}
		return colours[i]
	}, 5)
	a := analyze(t, src, Options{K: len(colours)})
	auto := a.WithK(0)
	if len(auto.Masses) != len(colours) {
		t.Errorf("left to itself the picture has %d masses, want %d", len(auto.Masses), len(colours))
	}
	for i, c := range colours {
		m := a.Masses[i] // both go from light to dark
		if d := lab.DE00(m.Lab, c.lab()); d > 1 {
			t.Errorf("region %v came out %s, off by %.2f ΔE00", c, m.Lab.Hex(), d)
		}
		want := float64(bounds[i+1]-bounds[i]) / 400
		if math.Abs(m.Share-want) > 0.01 {
			t.Errorf("region %v has %.3f of the picture, want %.3f", c, m.Share, want)
		}
		if x := m.CX * 400; x < float64(bounds[i])+10 || x > float64(bounds[i+1])-10 {
			t.Errorf("label of region %d stands at column %.0f", i, x)
		}
	}
}

func TestOwnNumber(t *testing.T) {
	for _, c := range []struct {
		name     string
		s        scene
		noise    float64
		from, to int
	}{
		{"bare wall", flat(rgb{120, 140, 90}), 0, 1, 1},
		{"noisy wall", flat(rgb{120, 140, 90}), 12, 1, 1},
		{"noisy hills", hills(600, 400), 4, 3, 6},
		{"colour gradient", func(x, y int) rgb { return rgb{255 * float64(x) / 600, 90, 255 - 255*float64(x)/600} }, 1, 6, 12},
	} {
		n := len(analyze(t, shoot(600, 400, c.s, c.noise), Options{}).Masses)
		if n < c.from || n > c.to {
			t.Errorf("%s: %d masses, want %d…%d", c.name, n, c.from, c.to)
		}
	}
}

// Fit is checked against the pixels themselves.
func TestFitIsThePixels(t *testing.T) {
	src := shoot(240, 160, hills(240, 160), 8)
	a := analyze(t, src, Options{K: 9, NoAccents: true})
	var bins []int // occupied, in the order of the histogram
	for i := 0; i < len(src.pix); i += 3 {
		bins = append(bins, binOf(src.pix[i], src.pix[i+1], src.pix[i+2]))
	}
	slices.Sort(bins)
	bins = slices.Compact(bins)
	var sum float64
	share := make([]float64, 10000)
	for i := 0; i < len(src.pix); i += 3 {
		r, g, b := src.pix[i], src.pix[i+1], src.pix[i+2]
		bin, _ := slices.BinarySearch(bins, binOf(r, g, b))
		d := lab.DE00(lab.FromLinear(float64(r), float64(g), float64(b)), a.Masses[a.of[bin]].Lab)
		sum += d
		share[int(100*d)]++
	}
	n := float64(240 * 160)
	p99, below := 0, 0.0
	for below < 0.99*n {
		below += share[p99]
		p99++
	}
	if got := a.Fit.Mean / (sum / n); math.Abs(got-1) > 0.02 {
		t.Errorf("mean is %.3f times the pixels' own", got)
	}
	if got := a.Fit.P99 / (float64(p99) / 100); math.Abs(got-1) > 0.03 {
		t.Errorf("99th percentile is %.3f times the pixels' own", got)
	}
}

func TestSmallestPictures(t *testing.T) {
	grey := func(x, y int) rgb { v := float64(x*16 + y); return rgb{v, v, v} }
	for _, c := range []struct {
		name string
		src  *frame
		k, n int
	}{
		{"one pixel", shoot(1, 1, flat(rgb{200, 100, 50}), 0), 12, 1},
		{"one colour", shoot(90, 70, flat(rgb{200, 100, 50}), 0), 3, 1},
		{"two colours", shoot(80, 80, func(x, y int) rgb {
			if x < 20 {
				return rgb{200, 30, 30}
			}
			return rgb{30, 30, 200}
		}, 0), 12, 2},
		{"three pixels", shoot(3, 1, func(x, y int) rgb { return []rgb{{0, 0, 0}, {255, 255, 255}, {255, 0, 0}}[x] }, 0), 3, 3},
		{"greys", shoot(16, 16, grey, 0), 8, 8},
		{"a column", shoot(1, 300, func(x, y int) rgb { return rgb{float64(y * 255 / 300), 80, 90} }, 0), 5, 5},
		{"black", shoot(20, 20, flat(rgb{}), 0), 0, 1},
	} {
		a := analyze(t, c.src, Options{K: c.k})
		if len(a.Masses) != c.n {
			t.Errorf("%s: %d masses, want %d", c.name, len(a.Masses), c.n)
		}
		if c.k > c.n && !strings.Contains(strings.Join(a.Warnings, ";"), "only") {
			t.Errorf("%s: no word on the fewer masses in %q", c.name, a.Warnings)
		}
		if c.n < c.k && a.Fit.Mean > 1e-9 {
			t.Errorf("%s: fit %+v although every colour has a mass", c.name, a.Fit)
		}
		for _, m := range a.Masses {
			if c.name == "greys" && m.Lab.Chroma() > 0.01 {
				t.Errorf("grey came out with chroma %g", m.Lab.Chroma())
			}
		}
		if _, err := a.ValueSteps(3); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// A colour that sRGB lacks must come through unclipped: Display P3's red is
// linear sRGB (1.2249, −0.0420, −0.0197) (from the primaries of SMPTE EG 432-1).
func TestWideGamut(t *testing.T) {
	f := newFrame(80, 80)
	for y := range 80 {
		for x := range 80 {
			f.set(x, y, 0.2, 0.2, 0.2)
			if x < 40 {
				f.set(x, y, 1.2249, -0.0420, -0.0197)
			}
		}
	}
	a := analyze(t, f, Options{})
	want := lab.FromLinear(1.2249, -0.0420, -0.0197)
	near := math.Inf(1)
	for _, m := range a.Masses {
		near = min(near, lab.DE00(m.Lab, want))
	}
	if near > 0.01 || a.Clipped != 0 {
		t.Errorf("nearest mass is %.2f ΔE00 off, clipped %.2f", near, a.Clipped)
	}
}

func TestBadOptions(t *testing.T) {
	src := shoot(4, 4, flat(rgb{}), 0)
	for _, o := range []Options{{K: 2}, {K: 25}, {K: -1}, {MaskSide: -5}} {
		if _, err := Analyze(context.Background(), src, o); err == nil {
			t.Errorf("%+v is taken", o)
		}
	}
	if _, err := Analyze(context.Background(), src, Options{K: 1000}); err == nil || !strings.Contains(err.Error(), "3…24") {
		t.Errorf("error for 1000 masses: %v", err)
	}
	if _, err := Analyze(context.Background(), newFrame(0, 5), Options{}); err == nil {
		t.Error("a picture without pixels is taken")
	}
}

func TestWarmToCool(t *testing.T) {
	a := analyze(t, sceneWithAccents(300, 200), Options{K: 10})
	order := a.WarmToCool()
	if len(order) != len(a.Masses) {
		t.Fatalf("%d of %d", len(order), len(a.Masses))
	}
	for i := 1; i < len(order); i++ {
		if a.Masses[order[i]].Warmth > a.Masses[order[i-1]].Warmth {
			t.Errorf("%d is warmer than the one before", order[i])
		}
	}
}

func TestWarnings(t *testing.T) {
	a := analyze(t, shoot(200, 100, flat(rgb{120, 140, 90}), 1), Options{K: 12})
	if w := strings.Join(a.Warnings, "; "); !strings.Contains(w, "cannot tell apart") {
		t.Errorf("twelve masses of one colour go without a word: %q", w)
	}
	if a := analyze(t, shoot(200, 100, hills(200, 100), 1), Options{K: 4}); len(a.Warnings) > 0 {
		t.Errorf("warnings on a sound picture: %q", a.Warnings)
	}
}

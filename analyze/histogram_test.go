package analyze

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
)

var probe = newTally()

// binOf is the bin that a tally gives a pixel.
func binOf(r, g, b float32) int {
	probe.add([]float32{r, g, b})
	bin := probe.bins[1]
	probe.slots[bin], probe.cells, probe.bins = 0, probe.cells[:1], probe.bins[:1]
	return int(bin)
}

func counted(t testing.TB, src Source, side int) *census {
	t.Helper()
	c, err := count(context.Background(), src, side, nil)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestFastFFollowsCIELAB(t *testing.T) {
	for x := 1.0 / 4096; x < 60; x *= 1.003 {
		if got, want := float64(fastF(float32(x))), cielabF(x); math.Abs(got-want) > 4e-5*want {
			t.Fatalf("f(%g) = %g, CIE 15:2018 gives %g", x, got, want)
		}
	}
	for _, x := range []float32{-3, -1e-9, 0, 1e-6} {
		if got := float64(fastF(x)); math.Abs(got-16.0/116) > 0.002 {
			t.Errorf("f(%g) = %g, want about 16/116", x, got)
		}
	}
}

// The bin of a pixel must hold its exact CIELAB colour, but for the 0.02 by
// which the table is off at a face.
func TestBinHoldsColour(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		rgb := [3]float32{r.Float32(), r.Float32(), r.Float32()}
		if r.IntN(3) == 0 {
			rgb[r.IntN(3)] *= 0.01
		}
		c := lab.FromLinear(float64(rgb[0]), float64(rgb[1]), float64(rgb[2]))
		bin := binOf(rgb[0], rgb[1], rgb[2])
		l, u, v := bin/(binsA*binsB), bin/binsB%binsA, bin%binsB
		for i, d := range []float64{
			c.L - binSide*float64(l),
			c.A - binSide*float64(u-binsA/2),
			c.B - binSide*float64(v-binsB/2),
		} {
			slack := 0.03
			if i == 0 || c.L < 1 {
				slack = 0.25 // darker than 2^-12 shares a piece
			}
			if math.Abs(d) > binSide/2+slack {
				t.Fatalf("%v → bin centre off by %.3f on axis %d", c, d, i)
			}
		}
	}
}

func anyFrame(t *rapid.T) *frame {
	w, h := rapid.IntRange(1, 40).Draw(t, "w"), rapid.IntRange(1, 40).Draw(t, "h")
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	spread := rapid.Float32Range(0, 1).Draw(t, "spread")
	f := newFrame(w, h)
	for i := range f.pix {
		f.pix[i] = 0.3 + spread*(1.4*r.Float32()-0.5)
	}
	return f
}

func TestHistogramProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyFrame(t)
		c, err := count(context.Background(), f, 16, nil)
		if err != nil {
			t.Fatal(err)
		}
		var n, red int64
		for _, cell := range c.cells {
			n += cell.n
			red += cell.r
		}
		var want float64
		for i := 0; i < len(f.pix); i += 3 {
			want += float64(f.pix[i])
		}
		if n != int64(f.w*f.h) || n != c.pixels {
			t.Fatalf("%d pixels counted of %d", n, f.w*f.h)
		}
		if got := float64(red) / fixedOne; math.Abs(got-want) > 1e-6*float64(n) {
			t.Fatalf("red sums to %g, want %g", got, want)
		}

		// The order of rows must not matter.
		g := newFrame(f.w, f.h)
		for y, from := range rand.New(rand.NewPCG(3, 4)).Perm(f.h) {
			f.Row(from, g.pix[3*f.w*y:])
		}
		d, err := count(context.Background(), g, 16, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(c.cells, d.cells) {
			t.Fatal("another order of rows gives another histogram")
		}
	})
}

// One pixel black, one white: the mean is half the light, which sRGB encodes
// as 188 (IEC 61966-2-1), not 128.
func TestAveragesAreInLinearLight(t *testing.T) {
	f := newFrame(64, 64)
	for y := range 64 {
		for x := range 64 {
			v := float32((x + y) % 2)
			f.set(x, y, v, v, v)
		}
	}
	c := counted(t, f, 32)
	for i, v := range c.small.Pix {
		if v != 0.5 {
			t.Fatalf("reduced sample %d is %g, want 0.5", i, v)
		}
	}
	h := newModelOf(t, c).plain()
	root := h.tree.sums(samplesOf(t, c), make([]int, len(c.cells)))[len(h.tree.nodes)-1]
	if r, g, b, _ := root.lab().SRGB8(); r != 188 || g != 188 || b != 188 {
		t.Errorf("a checkerboard averages to %d %d %d, want 188", r, g, b)
	}
}

func newModelOf(t testing.TB, c *census) *model {
	t.Helper()
	m, err := newModel(context.Background(), c)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func samplesOf(t testing.TB, c *census) []sample { return newModelOf(t, c).samples(nil) }

func TestClippedAndCrushed(t *testing.T) {
	lin := func(v float64) float32 { return float32(lab.DecodeSRGB(v / 255)) }
	f := newFrame(10, 10)
	put := func(from, to int, r, g, b float32) {
		for i := from; i < to; i++ {
			f.set(i%10, i/10, r, g, b)
		}
	}
	put(0, 100, lin(120), lin(90), lin(60))
	put(0, 7, lin(254), lin(200), lin(10))  // clipped: one channel is enough
	put(7, 9, lin(253), lin(253), lin(253)) // not yet
	put(9, 12, 1.05, 0.4, -0.05)            // a wide-gamut red, not clipped
	put(20, 31, lin(2), lin(2), lin(2))     // crushed
	put(40, 45, lin(2), lin(3), lin(2))     // not yet
	a := analyze(t, f, Options{K: 3})
	if math.Abs(a.Clipped-0.07) > 1e-12 || math.Abs(a.Crushed-0.11) > 1e-12 {
		t.Errorf("clipped %g, crushed %g; want 0.07 and 0.11", a.Clipped, a.Crushed)
	}
	if len(a.Warnings) < 2 {
		t.Errorf("want a word on each, got %q", a.Warnings)
	}
}

func TestUnreadablePixels(t *testing.T) {
	nan, inf := float32(math.NaN()), float32(math.Inf(-1))
	f := shoot(120, 90, hills(120, 90), 2)
	for x := range 120 {
		for y := 20; y < 30; y++ {
			f.set(x, y, nan, 0.2, 0.2)
		}
		f.set(x, 50, 0.2, inf, 0.2)
	}
	a := analyze(t, f, Options{K: 4, MaskSide: 60})
	if a.m.census.unreadable != 120*11 || len(a.Warnings) == 0 {
		t.Errorf("%d pixels unreadable, warnings %q", a.m.census.unreadable, a.Warnings)
	}
	for i, v := range a.Small.Pix {
		if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
			t.Fatalf("reduced sample %d is %g", i, v)
		}
	}
	for _, m := range a.Masses {
		if !m.Lab.Finite() {
			t.Errorf("mass %d is %v", m.ID, m.Lab)
		}
	}
	for i := range f.pix {
		f.pix[i] = nan
	}
	if _, err := Analyze(context.Background(), f, Options{}); err == nil {
		t.Error("a picture without one readable pixel should be an error")
	}
}

// What no camera gives must still be survived: huge, negative, mixed.
func TestWildValues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyFrame(t)
		wild := []float32{float32(math.NaN()), float32(math.Inf(1)), -1e30, 1e30, -0.7, 3, 0, 1e-30}
		for range rapid.IntRange(1, 40).Draw(t, "n") {
			f.pix[rapid.IntRange(0, len(f.pix)-1).Draw(t, "at")] = rapid.SampledFrom(wild).Draw(t, "value")
		}
		a, err := Analyze(context.Background(), f, Options{K: 5})
		if err != nil {
			return // nothing readable is left of the smallest pictures
		}
		for _, m := range a.Masses {
			if !m.Lab.Finite() || math.IsNaN(m.Share) || math.IsNaN(m.Warmth) {
				t.Fatalf("mass %+v", m)
			}
		}
	})
}

func TestSameAnswerOnAnyCores(t *testing.T) {
	src := shoot(500, 333, hills(500, 333).with(rgb{180, 50, 40}, 9, [2]float64{300, 200}), 6)
	var first *Analysis
	for _, n := range []int{1, 2, 3, 2} {
		before := runtime.GOMAXPROCS(n)
		a := analyze(t, src, Options{MaskSide: 300})
		runtime.GOMAXPROCS(before)
		if first == nil {
			first = a
			continue
		}
		if !reflect.DeepEqual(a.Masses, first.Masses) || a.Fit != first.Fit ||
			!reflect.DeepEqual(a.Mask, first.Mask) || !reflect.DeepEqual(a.Small, first.Small) {
			t.Fatalf("another answer with GOMAXPROCS %d", n)
		}
	}
}

func TestSmallSize(t *testing.T) {
	for _, c := range [][5]int{{6000, 4000, 1024, 1024, 683}, {100, 50, 1024, 100, 50}, {4000, 1, 100, 100, 1}, {1, 4000, 100, 1, 100}} {
		if w, h := smallSize(c[0], c[1], c[2]); w != c[3] || h != c[4] {
			t.Errorf("%d×%d into %d: %d×%d, want %d×%d", c[0], c[1], c[2], w, h, c[3], c[4])
		}
	}
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	src := shoot(300, 200, hills(300, 200), 0)
	rows := 0
	_, err := Analyze(ctx, src, Options{Progress: func(done, total int) {
		if rows++; done >= 20 {
			cancel()
		}
		if total != 200 {
			t.Errorf("total %d", total)
		}
	}})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	if rows > 100 {
		t.Errorf("went on for %d rows", rows)
	}
}

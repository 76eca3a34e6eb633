package analyze

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
)

func TestValueStepsOfFlatGreys(t *testing.T) {
	values := []float64{8.5, 6, 3.5, 1.5}
	widths := []int{30, 60, 90, 120}
	src := newFrame(120, 60)
	for y := range 60 {
		for x := range 120 {
			i := 0
			for x >= widths[i] {
				i++
			}
			v := float32(lab.LuminanceOfValue(values[i]) / 100)
			src.set(x, y, v, v, v)
		}
	}
	plan, err := analyze(t, src, Options{}).ValueSteps(4)
	if err != nil {
		t.Fatal(err)
	}
	for i, s := range plan.Steps {
		if math.Abs(s.Value-values[i]) > 0.001 || math.Abs(s.Share-0.25) > 1e-12 {
			t.Errorf("step %d is %+v, want value %g on a quarter", i, s, values[i])
		}
		if i > 0 && (plan.Limits[i-1] <= values[i] || plan.Limits[i-1] >= values[i-1]) {
			t.Errorf("limit %g between %g and %g", plan.Limits[i-1], values[i-1], values[i])
		}
	}
	for i, s := range plan.Mask.Index {
		if x := i % 120; x%30 != 0 && x%30 != 29 && int(s) != x/30 {
			t.Fatalf("column %d is step %d", x, s)
		}
	}
}

// The limits must beat every other choice of limits.
func TestValueStepsAreBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		levels := rapid.IntRange(2, 9).Draw(t, "levels")
		n := rapid.IntRange(StepsMin, 4).Draw(t, "steps")
		src := newFrame(12, 12)
		at := make([]float64, levels)
		for i := range at {
			at[i] = rapid.Float64Range(0, 1).Draw(t, "luminance")
		}
		var used []float64
		for i := range 144 {
			y := at[rapid.IntRange(0, levels-1).Draw(t, "pixel")]
			src.set(i%12, i/12, float32(y), float32(y), float32(y))
			used = append(used, valueOf(lightness(y)))
		}
		plan, err := analyzeRapid(t, src).ValueSteps(n)
		if err != nil {
			t.Fatal(err)
		}
		spread := func(limits []float64) (sum float64) {
			groups := map[int][]float64{}
			for _, v := range used {
				g := 0
				for g < len(limits) && v < limits[g] {
					g++
				}
				groups[g] = append(groups[g], v)
			}
			for _, g := range groups {
				var mean float64
				for _, v := range g {
					mean += v / float64(len(g))
				}
				for _, v := range g {
					sum += (v - mean) * (v - mean)
				}
			}
			return sum
		}
		got := spread(plan.Limits)
		best := math.Inf(1)
		var try func(limits []float64)
		try = func(limits []float64) {
			if len(limits) == n-1 {
				best = min(best, spread(limits))
				return
			}
			for v := 9.9; v > 0; v -= 0.5 {
				if len(limits) == 0 || v < limits[len(limits)-1] {
					try(append(limits[:len(limits):len(limits)], v))
				}
			}
		}
		try(nil)
		// Values within one slot are one to the search.
		slack := 144 * math.Pow(10.0/valueSlots, 2)
		if got > best+slack {
			t.Fatalf("limits %v leave %g, others %g", plan.Limits, got, best)
		}
		var sum float64
		for i, s := range plan.Steps {
			sum += s.Share
			if i > 0 && s.Value >= plan.Steps[i-1].Value {
				t.Fatalf("steps %v do not go from light to dark", plan.Steps)
			}
		}
		if math.Abs(sum-1) > 1e-12 || len(plan.Limits) != len(plan.Steps)-1 {
			t.Fatalf("%+v", plan)
		}
	})
}

func analyzeRapid(t *rapid.T, src Source) *Analysis {
	a, err := Analyze(t.Context(), src, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestValueStepsRange(t *testing.T) {
	a := analyze(t, shoot(20, 20, flat(rgb{100, 100, 100}), 0), Options{})
	for _, n := range []int{1, 10, -1} {
		if _, err := a.ValueSteps(n); err == nil {
			t.Errorf("%d steps are taken", n)
		}
	}
	if p, err := a.ValueSteps(5); err != nil || len(p.Steps) != 1 {
		t.Errorf("one grey in five steps: %+v, %v", p, err)
	}
}

func TestValueOf(t *testing.T) {
	for l := 0.0; l <= 100; l += 0.13 {
		if got, want := valueOf(l), (lab.Lab{L: l}).Value(); math.Abs(got-want) > 0.01 {
			t.Fatalf("L* %g: value %g, want %g", l, got, want)
		}
	}
}

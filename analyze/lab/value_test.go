package lab

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestValueTable(t *testing.T) {
	for i, w := range astmValues {
		v := float64(i) / 2
		if y := LuminanceOfValue(v); math.Abs(y-w.y) > 0.5e-4+1e-9 {
			t.Errorf("value %g: Y %.5f, want %.4f", v, y, w.y)
		}
		if l := lightnessOfValue(v); math.Abs(l-w.l) > 0.5e-4+1e-9 {
			t.Errorf("value %g: L* %.5f, want %.4f", v, l, w.l)
		}
		// The table's L* is rounded, which near black is worth 5e-5 of a value.
		if got := (Lab{L: w.l, A: 20, B: -30}).Value(); math.Abs(got-v) > 1e-5 {
			t.Errorf("L* %g: value %.6f, want %g", w.l, got, v)
		}
	}
}

func TestValueRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(0, 10).Draw(t, "value")
		if back := ValueOfLuminance(LuminanceOfValue(v)); math.Abs(back-v) > 1e-9 {
			t.Fatalf("value %v came back as %v", v, back)
		}
	})
	for _, tc := range []struct{ y, v float64 }{{-1, 0}, {0, 0}, {100, 10}, {150, 10}} {
		if got := ValueOfLuminance(tc.y); math.Abs(got-tc.v) > 1e-9 {
			t.Errorf("Y %v: value %v, want %v", tc.y, got, tc.v)
		}
	}
	if LuminanceOfValue(-1) != 0 || LuminanceOfValue(11) != LuminanceOfValue(10) {
		t.Error("values outside 0–10 are not clamped")
	}
}

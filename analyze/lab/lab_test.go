package lab

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// apart is the largest difference in any coordinate.
func apart(p, q Lab) float64 {
	return max(math.Abs(p.L-q.L), math.Abs(p.A-q.A), math.Abs(p.B-q.B))
}

func TestFromXYZ(t *testing.T) {
	for _, s := range testColours {
		if got := FromXYZ(s.xyz, iccD50); apart(got, s.lab) > 1e-3 {
			t.Errorf("%v: %v, want %v", s.xyz, got, s.lab)
		}
	}
}

func TestXYZRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := labs().Draw(t, "colour")
		for _, white := range []XYZ{D65, D50, A, C} {
			if back := FromXYZ(c.XYZ(white), white); apart(back, c) > 1e-9 {
				t.Fatalf("%v came back as %v", c, back)
			}
		}
	})
}

func TestLChRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := labs().Draw(t, "colour")
		p := c.LCh()
		if p.H < 0 || p.H >= 360 || p.C < 0 {
			t.Fatalf("%v has LCh %v", c, p)
		}
		if back := p.Lab(); apart(back, c) > 1e-9 {
			t.Fatalf("%v came back as %v", c, back)
		}
	})
	for _, tc := range []struct {
		a, b, hue float64
	}{{0, 0, 0}, {1, 0, 0}, {0, 1, 90}, {-1, 0, 180}, {0, -1, 270}, {1, math.Copysign(0, -1), 0}, {1, -1e-300, 0}} {
		if got := (Lab{50, tc.a, tc.b}).Hue(); got != tc.hue {
			t.Errorf("hue of a* %v b* %v is %v, want %v", tc.a, tc.b, got, tc.hue)
		}
	}
}

func TestLabJSON(t *testing.T) {
	b, err := json.Marshal(struct{ C Lab }{Lab{52.123456, -10, -0.00001}})
	if want := `{"C":[52.1235,-10,0]}`; err != nil || string(b) != want {
		t.Errorf("%s, %v, want %s", b, err, want)
	}
	if _, err := json.Marshal(Lab{math.NaN(), 0, 0}); err == nil {
		t.Error("a colour that is no number was written")
	}
	c := Lab{1, 2, 3}
	if err := json.Unmarshal([]byte("null"), &c); err != nil || c != (Lab{1, 2, 3}) {
		t.Errorf("null gave %v, %v", c, err)
	}
	for _, bad := range []string{"[1,2]", "[1,2,3,4]", "[1,null,3]", `{"L":1}`, `"#5a7d3c"`, "[]"} {
		if err := json.Unmarshal([]byte(bad), &c); err == nil || !strings.Contains(err.Error(), "[L, a, b]") {
			t.Errorf("%s: error %v", bad, err)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		c := labs().Draw(t, "colour")
		b, err := json.Marshal(c)
		if err != nil {
			t.Fatal(err)
		}
		var back Lab
		if err := json.Unmarshal(b, &back); err != nil || apart(back, c) > 0.5e-4+1e-12 {
			t.Fatalf("%v became %s and came back as %v, %v", c, b, back, err)
		}
	})
}

func TestFinite(t *testing.T) {
	for _, c := range []Lab{{math.NaN(), 0, 0}, {0, math.Inf(1), 0}, {0, math.Inf(1), math.Inf(-1)}} {
		if c.Finite() {
			t.Errorf("%v counts as finite", c)
		}
	}
	if !(Lab{100, -128, 128}).Finite() {
		t.Error("an ordinary colour counts as not finite")
	}
}

func BenchmarkFromXYZ(b *testing.B) {
	colours := [4]XYZ{{20, 21, 12}, {42, 45, 60}, {30, 20, 8}, {3, 4, 2}}
	var sum float64
	i := 0
	for b.Loop() {
		sum += FromXYZ(colours[i&3], D65).A
		i++
	}
	_ = sum
}

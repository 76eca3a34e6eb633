package lab

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The equation as printed (Ou, Luo, Woodcock & Wright 2004).
func TestWarmthEquation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := labs().Draw(t, "colour")
		want := -0.5 + 0.02*math.Pow(c.Chroma(), 1.07)*math.Cos((c.Hue()-50)*math.Pi/180)
		if got := Warmth(c); math.Abs(got-want) > 1e-12*max(1, math.Abs(want)) {
			t.Fatalf("%v: %v, want %v", c, got, want)
		}
		// 0.02 C^1.07 reaches 0.5 at C* 20.24.
		if c.Chroma() < greyChroma && Temperature(c) != "neutral" {
			t.Fatalf("%v of C* %.1f is %s", c, c.Chroma(), Temperature(c))
		}
	})
}

func TestTemperature(t *testing.T) {
	// Common practice, no source: which side a painter puts these on.
	for notation, want := range map[string]string{
		"5R 4/12": "warm", "5YR 6/12": "warm", "10YR 7/8": "warm", "5Y 8/12": "warm", "5YR 4/6": "warm",
		"5B 5/6": "cool", "5PB 7/6": "cool", "7.5PB 3/10": "cool", "5BG 4/6": "cool",
		"N 5/": "neutral", "5PB 6/1": "neutral", "10YR 7/2": "neutral",
	} {
		if got := Temperature(atNotation(t, notation)); got != want {
			t.Errorf("%s is %s, want %s", notation, got, want)
		}
	}
}

func TestTemperatureAmong(t *testing.T) {
	grey := atNotation(t, "N 5/")
	sky, earth := atNotation(t, "5PB 7/6"), atNotation(t, "5YR 4/6")
	for _, tc := range []struct {
		self       Lab
		neighbours []Lab
		weights    []float64
		want       string
	}{
		{grey, []Lab{sky}, nil, "warmer grey"},
		{grey, []Lab{earth}, nil, "cooler grey"},
		{grey, []Lab{sky, earth}, []float64{9, 1}, "warmer grey"},
		{grey, []Lab{sky, earth}, []float64{1, 9}, "cooler grey"},
		{grey, []Lab{grey}, nil, "neutral grey"},
		{grey, nil, nil, "neutral grey"},
		{grey, []Lab{sky}, []float64{0}, "neutral grey"},
		{sky, []Lab{sky}, nil, "cool"},
		{earth, []Lab{earth}, nil, "warm"},
		{atNotation(t, "5PB 8/2.5"), []Lab{earth}, nil, "cooler blue"},
		{atNotation(t, "7.5YR 6/3"), []Lab{sky}, nil, "warmer tan"},
	} {
		if got := TemperatureAmong(tc.self, tc.neighbours, tc.weights); got != tc.want {
			t.Errorf("%v among %v weighing %v: %q, want %q", tc.self, tc.neighbours, tc.weights, got, tc.want)
		}
	}
	// Of any two neutrals that differ at all, one is warmer and the other cooler.
	rapid.Check(t, func(t *rapid.T) {
		p := Lab{rapid.Float64Range(10, 90).Draw(t, "L"), rapid.Float64Range(-9, 9).Draw(t, "a"), rapid.Float64Range(-9, 9).Draw(t, "b")}
		q := Lab{p.L, rapid.Float64Range(-9, 9).Draw(t, "a2"), rapid.Float64Range(-9, 9).Draw(t, "b2")}
		first, _, _ := strings.Cut(TemperatureAmong(p, []Lab{q}, nil), " ")
		second, _, _ := strings.Cut(TemperatureAmong(q, []Lab{p}, nil), " ")
		opposite := map[string]string{"warmer": "cooler", "cooler": "warmer", "neutral": "neutral"}
		if opposite[first] != second {
			t.Fatalf("%v is %s beside %v, which is %s", p, first, q, second)
		}
	})
	defer func() {
		if recover() == nil {
			t.Error("weights of the wrong length pass")
		}
	}()
	TemperatureAmong(grey, []Lab{sky}, []float64{1, 2})
}

func atNotation(t testing.TB, s string) Lab {
	t.Helper()
	n, err := ParseNotation(s)
	if err != nil {
		t.Fatal(err)
	}
	c, err := n.Lab()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

package lab

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The words a painter would let pass for what a landscape shows (common
// practice, no source).
func TestName(t *testing.T) {
	for notation, want := range map[string]string{
		// sky and water
		"5PB 8.1/1": "pale blue-grey", "5PB 8.1/2.5": "pale blue", "2.5PB 7/6": "light blue", "5PB 5/10": "vivid blue",
		"5BG 5/5": "blue-green", "10B 4.5/1.2": "blue-grey", "2.5P 7/3": "lavender", "5YR 8.2/5": "light peach",
		// foliage
		"5GY 4.2/4": "olive green", "5GY 3/3": "dark olive green", "10Y 2.4/3": "very dark olive", "7.5GY 6/8.5": "strong yellow-green",
		"5G 3.5/5": "dark green", "2.5G 1.9/1.5": "green-black", "5Y 7/3": "straw",
		// earth and rock
		"5YR 3.4/5": "dark brown", "7.5YR 6/3": "tan", "10YR 7/3": "sand", "2.5YR 6/13": "bright orange", "10R 4.2/6": "red-brown",
		"10YR 6/1": "light brown-grey", "N 5/": "grey", "N 3/": "dark grey",
		// snow and shade
		"N 9.5/": "white", "7.5PB 9/1": "blue-white", "10YR 9/1": "cream-white", "10YR 9/2.5": "cream", "5PB 2/1": "blue-black", "N 1/": "black",
		// flowers
		"5R 4.2/13": "vivid red", "5RP 7.2/9": "bright pink", "7.5P 4.5/6": "violet", "5Y 8.2/12": "bright yellow",
	} {
		if got := Name(atNotation(t, notation)); got != want {
			t.Errorf("%s is %q, want %q", notation, got, want)
		}
	}
}

func TestNameIsAlwaysPlain(t *testing.T) {
	// Words that are, or are part of, names of paints and pigments.
	pigment := regexp.MustCompile(`ochre|umber|sienna|ultramarine|cobalt|cadmium|cerulean|viridian|phthalo|prussian|alizarin|crimson|madder|vermilion|indigo|lemon|naples|oxide|titan|zinc|lead|ivory|bone|carbon|lamp|magenta|mars`)
	form := regexp.MustCompile(`^[a-z]+(-[a-z]+)?( [a-z]+(-[a-z]+)?){0,3}$`)
	rapid.Check(t, func(t *rapid.T) {
		c := labs().Draw(t, "colour")
		name := Name(c)
		if !form.MatchString(name) || pigment.MatchString(name) || len(name) > 24 {
			t.Fatalf("%v is called %q", c, name)
		}
	})
	if got := Name(Lab{math.NaN(), 0, 0}); got != "no colour" {
		t.Errorf("NaN is called %q", got)
	}
	if got := Name(Lab{L: 130}); got != "white" {
		t.Errorf("L* 130 is called %q", got)
	}
	// Darker never sounds lighter, in greys.
	last := ""
	seen := map[string]bool{}
	for l := 100.0; l >= 0; l-- {
		if name := Name(Lab{L: l}); name != last {
			if seen[name] {
				t.Errorf("%q comes back at L* %v", name, l)
			}
			seen[name], last = true, name
		}
	}
	if len(seen) != len(neutralNames) || strings.Contains(last, "grey") {
		t.Errorf("greys run through %v", seen)
	}
}

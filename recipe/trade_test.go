package recipe

import (
	"math"
	"strconv"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// libraryTubes takes tubes of the library by code.
func libraryTubes(t testing.TB, codes ...string) []*inventory.Tube {
	t.Helper()
	var out []*inventory.Tube
	for _, c := range codes {
		p, err := inventory.Find(c)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, p.Tube())
	}
	return out
}

// everyMix calls f with every ladder mix of all the coloured tubes together,
// without white and with every amount of it.
func everyMix(t testing.TB, f func(parts []Part, c lab.Lab), codes ...string) {
	t.Helper()
	tubes := append(libraryTubes(t, codes...), libraryTubes(t, "PW6")...)
	p, err := NewPalette(tubes, optics.Included)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range directions[len(codes)] {
		for _, w := range d.whites {
			var parts []Part
			for j := range codes {
				parts = append(parts, Part{j, float64(w.times * d.parts[j])})
			}
			if w.white > 0 {
				parts = append(parts, Part{len(codes), float64(w.white)})
			}
			_, c := p.Mix(parts)
			f(parts, c)
		}
	}
}

// bestChroma is the highest C*ab that mixes of the tubes, white free, reach
// within a window of CIELAB hue.
func bestChroma(t testing.TB, from, to float64, codes ...string) (best float64, at lab.Lab) {
	t.Helper()
	everyMix(t, func(_ []Part, c lab.Lab) {
		if h := c.Hue(); h >= from && h <= to && c.Chroma() > best {
			best, at = c.Chroma(), c
		}
	}, codes...)
	return best, at
}

// What every painter finds on the palette, by the library's own constants
// (common practice, no source; the hue windows and factors are this project's
// way of putting it).
func TestTradeFacts(t *testing.T) {
	ratio := func(what string, from, to, atLeast float64, clean, dull [2]string) {
		t.Helper()
		c, ca := bestChroma(t, from, to, clean[:]...)
		d, da := bestChroma(t, from, to, dull[:]...)
		t.Logf("%s: %v reaches C* %.1f %s, %v C* %.1f %s, ratio %.2f", what, clean, c, text(ca), dull, d, text(da), c/d)
		if !(c >= atLeast*d) || c == 0 {
			t.Errorf("%s: ratio %.2f, want at least %.2f", what, c/d, atLeast)
		}
	}
	ratio("violet", 300, 330, 1.8, [2]string{"PR122", "PB29"}, [2]string{"PR254", "PB29"})
	ratio("green", 140, 180, 1.5, [2]string{"PY184", "PB15:4"}, [2]string{"PY83", "PB15:4"})
	ratio("orange", 45, 70, 1, [2]string{"PY83", "PR254"}, [2]string{"PY184", "PR122"})
}

// Mixing complements pass close to neutral in middle lights; near misses do
// not (common practice, no source).
func TestComplementsNeutralise(t *testing.T) {
	nearest := func(codes ...string) (float64, lab.Lab) {
		best, at := math.Inf(1), lab.Lab{}
		everyMix(t, func(_ []Part, c lab.Lab) {
			if c.L >= 45 && c.L <= 75 && c.Chroma() < best {
				best, at = c.Chroma(), c
			}
		}, codes...)
		return best, at
	}
	c, at := nearest("PR254", "PG7")
	t.Logf("PR254 + PG7 pass C* %.1f at %s", c, text(at))
	if c > 6 {
		t.Errorf("PR254 and PG7 pass no nearer neutral than C* %.1f", c)
	}
	m, at := nearest("PR122", "PG7")
	t.Logf("PR122 + PG7 pass C* %.1f at %s", m, text(at))
	if m <= 6 {
		t.Errorf("PR122 and PG7 pass within C* %.1f of neutral", m)
	}
}

// The three primaries together give a dark neutral (common practice, no
// source).
func TestThreePrimariesGiveDarkNeutral(t *testing.T) {
	best, at := math.Inf(1), lab.Lab{}
	var parts []Part
	everyMix(t, func(p []Part, c lab.Lab) {
		if c.L < 35 && c.Chroma() < best {
			best, at, parts = c.Chroma(), c, p
		}
	}, "PR254", "PY83", "PB29")
	t.Logf("C* %.2f at %s, parts %v", best, text(at), parts)
	if best >= 3 {
		t.Errorf("no dark mix of red, yellow and blue is more neutral than C* %.1f", best)
	}
}

func text(c lab.Lab) string {
	trim := func(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }
	h := c.LCh()
	return "(L* " + trim(h.L) + " C* " + trim(h.C) + " h " + trim(h.H) + ")"
}

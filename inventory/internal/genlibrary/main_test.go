package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory/internal/figures"
	"paintout/inventory/internal/steps"
	"paintout/inventory/optics"
)

var once = sync.OnceValues(build)

func built(t *testing.T) *library {
	t.Helper()
	l, err := once()
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// The committed table is what the program makes of the figures. Numbers may
// differ in the last of four digits: other processors fuse other operations.
func TestTableIsCurrent(t *testing.T) {
	want, err := os.ReadFile("../../library_table.go")
	if err != nil {
		t.Fatal(err)
	}
	got, err := built(t).table()
	if err != nil {
		t.Fatal(err)
	}
	a, b := strings.Fields(string(got)), strings.Fields(string(want))
	if len(a) != len(b) {
		t.Fatalf("library_table.go is out of date: %d words made, %d committed; run go generate ./inventory", len(a), len(b))
	}
	for i := range a {
		x, err1 := strconv.ParseFloat(strings.TrimRight(a[i], ",}"), 64)
		y, err2 := strconv.ParseFloat(strings.TrimRight(b[i], ",}"), 64)
		if a[i] != b[i] && (err1 != nil || err2 != nil || math.Abs(x-y) > 2e-3*math.Abs(y)) {
			t.Fatalf("library_table.go is out of date: %s made, %s committed; run go generate ./inventory", a[i], b[i])
		}
	}
}

// Bringing the fluid set onto another surface changes none of its masstones
// and tints visibly (below the 0.8 ΔE00 that half of observers see, Paravina
// et al., J. Esthet. Restor. Dent. 27, 2015).
func TestResurface(t *testing.T) {
	mf, err := figures.MatteFluid()
	if err != nil {
		t.Fatal(err)
	}
	white := &mf.Find("PW6", "").Paint
	dry := resurfaceWhite(*white, mf.Surface)
	worst, sum, n := 0.0, 0.0, 0
	for _, p := range mf.Paints {
		if p.Code == "PW6" {
			continue
		}
		q, err := resurface(&p.Paint, white, mf.Surface)
		if err != nil {
			t.Fatal(err)
		}
		for _, parts := range []float64{0, 0.5, 2, 6, 15, 60} {
			a, b := tint(&p.Paint, white, parts, mf.Surface), tint(&q, &dry, parts, optics.DrySurface)
			d := lab.DE00(a.Lab(optics.D65), b.Lab(optics.D65))
			worst, sum, n = max(worst, d), sum+d, n+1
			if d > 0.5 {
				t.Errorf("%s %s 1:%g moved by %.2f ΔE00", p.Code, p.Name, parts, d)
			}
		}
	}
	t.Logf("mean %.2f, largest %.2f ΔE00", sum/float64(n), worst)
}

// Which acrylic set foretells the measured oil films of the pigments that it
// shares with them (Geldof et al., Heritage Science 6:17, 2018), one strength
// factor free.
func TestChoiceOfSource(t *testing.T) {
	l := built(t)
	for _, c := range shared {
		h, f := l.sets.heavy[c.key], l.sets.fluid[c.key]
		if h == nil || f == nil {
			continue
		}
		hf, h1 := l.oil.factor(h, c.name, c.films)
		ff, f1 := l.oil.factor(f, c.name, c.films)
		t.Logf("%s: heavy-body %.2f ΔE00 (factor %.1f), fluid %.2f (factor %.1f)", c.key, h1, hf, f1, ff)
		if fluid := f1 < h1; fluid != preferFluid[c.key] {
			t.Errorf("%s is taken from the set that foretells the oil films worse", c.key)
		}
	}
}

// The films that the oil pigments are fitted to come back within what the
// theory misses on such mixtures (4 ΔE00 for any film, 2 for the median).
func TestOilFilmsComeBack(t *testing.T) {
	l := built(t)
	var off []float64
	for id := range l.oil.films {
		d := l.oil.foretold([]string{id}, l.oil.paints)
		off = append(off, d)
		if d > 4 {
			t.Errorf("film %s comes back %.2f ΔE00 off", id, d)
		}
	}
	slices.Sort(off)
	median := off[len(off)/2]
	t.Logf("%d films: median %.2f, largest %.2f ΔE00", len(off), median, off[len(off)-1])
	if median > 2 {
		t.Errorf("median %.2f ΔE00", median)
	}
	divisor, sd := l.oil.scale(l.known)
	t.Logf("zinc white's scale over titanium white's: %.1f, sd of the logarithm %.2f", divisor, sd)
	if divisor < 8 || divisor > 20 {
		t.Errorf("divisor %.1f is far from the about 12 that the shared pigments gave before", divisor)
	}
}

// How far paints of one code differ, and that the modes say as much: colours
// drawn from the modes, strengths matched, lie about as far from the library's
// as real other paints do.
func TestSpreads(t *testing.T) {
	l := built(t)
	keys, pairs := l.sets.pairs()
	mean := 0.0
	for i, d := range pairs {
		mean += d.Strength / float64(len(pairs))
		t.Logf("%-7s %s", keys[i], show(d))
	}
	sd := l.shape["Measured"]
	t.Logf("measured: %+v", sd)
	if se := sd.Strength / math.Sqrt(float64(len(pairs))); math.Abs(mean) > 2*se {
		t.Errorf("the sets' strengths differ by %.2f on average (standard error %.2f): they need one scale", mean, se)
	}
	seen, drawn := l.seenAndDrawn(keys, pairs, sd)
	t.Logf("strengths matched, the two sets differ by %.2f ΔE00, draws of the modes by %.2f", seen, drawn)
	if drawn < seen {
		t.Errorf("the modes of measured paints are too narrow")
	}

	trialKeys, astray, err := try(l.known, &l.sets.white)
	if err != nil {
		t.Fatal(err)
	}
	for i, d := range astray {
		t.Logf("%-17s %s", trialKeys[i], show(d))
	}
	sd = l.shape["Estimated"]
	t.Logf("estimated: %+v", sd)
	seen, drawn = l.seenAndDrawn(trialKeys, astray, sd)
	t.Logf("strengths matched, estimates miss by %.2f ΔE00, draws of the modes by %.2f", seen, drawn)
	if drawn < 0.8*seen {
		t.Errorf("the modes of estimates are too narrow")
	}
	// The third measurement, with draws of the modes of derived paints.
	keys = nil
	var oil []departure
	divisor, _ := l.oil.scale(l.known)
	for _, c := range shared {
		p := l.oil.paints[c.name].Strengthened(1 / divisor)
		d := depart(l.known(c.key), &p, &l.sets.white)
		keys, oil = append(keys, c.key), append(oil, d)
		t.Logf("%-7s %s", c.key, show(d))
	}
	seen, drawn = l.seenAndDrawn(keys, oil, l.shape["Derived"])
	t.Logf("strengths matched, oil paints differ by %.2f ΔE00, draws of the modes by %.2f", seen, drawn)
	if drawn < 0.8*seen {
		t.Errorf("the modes of derived paints are too narrow")
	}
}

func show(d departure) string {
	return fmt.Sprintf("strength %+.2f  K level %+.2f tilt %+.2f edge %+.1f nm (left %.2f)  S level %+.2f tilt %+.2f (left %.2f)  matched %.1f ΔE00",
		d.Strength, d.LevelK, d.TiltK, d.Edge, d.restK, d.LevelS, d.TiltS, d.restS, d.matched)
}

// seenAndDrawn gives the mean ΔE00 that departures leave once strengths match,
// and what draws of the modes leave.
func (l *library) seenAndDrawn(keys []string, all []departure, sd steps.SDs) (seen, drawn float64) {
	const draws = 40
	rng := rand.New(rand.NewPCG(1, 2))
	for i, key := range keys {
		p := l.known(key)
		seen += all[i].matched / float64(len(keys))
		modes := sd.Modes(p)
		for range draws {
			q := *p
			for j := range modes {
				q = modes[j].Apply(q, rng.NormFloat64())
			}
			_, left := matchStrength(p, &q, &l.sets.white)
			drawn += left / float64(draws*len(keys))
		}
	}
	return seen, drawn
}

// Cadmium yellows by moving the edge: the colours worked out for them before,
// about (90, -5, 96) and (84, 13, 95) (estimates themselves, from the same
// orange; pure cadmium sulphide's gap of 2.42 eV lies at 512 nm).
func TestCadmiumYellows(t *testing.T) {
	l := built(t)
	for key, want := range map[string]lab.Lab{"PY35": {L: 90, A: -5, B: 96}, "PY37": {L: 84, A: 13, B: 95}} {
		r := l.known(key).Reflectance(optics.Included)
		if d := lab.DE00(r.Lab(optics.D65), want); d > 0.5 {
			t.Errorf("%s: %v, want %v", key, r.Lab(optics.D65), want)
		}
	}
}

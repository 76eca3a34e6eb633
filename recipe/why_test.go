package recipe

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// teaching are the tubes of a mixing lesson: two of each primary, secondaries,
// earths and black.
var teaching = []string{"PW6", "PY184", "PY83", "PY43", "PO20", "PR254", "PV19", "PR122", "PBr7/burnt sienna", "PBr7/burnt umber", "PB29", "PB15:4", "PB36:1", "PG7", "PBk9"}

// why asks for the mix of pigments, "PB29+PY184", in parts of the program's
// choice.
func why(t testing.TB, p *Palette, mix string) *Why {
	t.Helper()
	var parts []Part
	for _, code := range strings.Split(mix, "+") {
		parts = append(parts, Part{tubeOf(t, p, code), 0})
	}
	w, err := p.Why(context.Background(), parts, WhyOptions{})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%s: %s", mix, strings.Join(w.Words(), " "))
	return w
}

// covers reports whether lights hold a wavelength.
func covers(l []Light, nm int) bool {
	return slices.ContainsFunc(l, func(x Light) bool { return x.From <= nm && nm <= x.To })
}

// Why mixes go dull or stay clean as painters teach it (common practice, no
// source), in the terms of their spectra.
func TestWhyOfTheTrade(t *testing.T) {
	p := palette(t, optics.Included, teaching...)
	for _, c := range []struct {
		mix, wanted string
		verdict     Verdict
		hidden      string // painters' third primary
		holder      string // which tube holds it
		takes       int    // a wavelength that the mix lives by and the culprit swallows
		swap        []string
	}{
		{"PR254+PB29", "violet", Dull, "yellow", "PR254", 450, []string{"PR122", "PV19"}},
		{"PR254+PB15:4", "violet", Dull, "yellow", "PR254", 450, []string{"PR122", "PV19"}},
		{"PR122+PB29", "violet", Clean, "", "", 0, nil},
		{"PV19+PB29", "violet", Clean, "", "", 0, nil},
		{"PY83+PB15:4", "green", Dull, "red", "PY83", 520, []string{"PY184"}},
		{"PY184+PB15:4", "green", Clean, "", "", 0, nil},
		{"PY184+PB29", "green", Dull, "red", "PB29", 550, []string{"PB15:4", "PB36:1"}},
		{"PY83+PB29", "green", Dull, "red", "PB29", 550, []string{"PB15:4", "PB36:1", "PY184"}},
		{"PY43+PB29", "green", Dull, "red", "PY43", 520, []string{"PY184", "PB15:4"}},
		{"PY83+PR254", "orange", Clean, "", "", 0, nil},
		{"PY184+PR122", "orange", Dulled, "blue", "PR122", 0, []string{"PY83", "PR254", "PO20"}},
	} {
		w := why(t, p, c.mix)
		if w.Wanted != c.wanted || w.Verdict != c.verdict || w.Hidden != c.hidden {
			t.Errorf("%s: %s for %s, hidden %q; want %s for %s, %q", c.mix, w.Verdict, w.Wanted, w.Hidden, c.verdict, c.wanted, c.hidden)
			continue
		}
		said := strings.Join(w.Words(), " ")
		if c.hidden == "" {
			if w.Culprit >= 0 || w.Swap != nil || strings.Contains(said, "hidden") {
				t.Errorf("%s is clean, and yet %s", c.mix, said)
			}
			continue
		}
		if !slices.ContainsFunc(w.Holders, func(j int) bool { return p.Tubes[w.Tubes[j].Tube].CI[0] == c.holder }) {
			t.Errorf("%s: %s is held by %v", c.mix, c.hidden, w.Holders)
		}
		if c.takes > 0 && !(covers(w.Taken, c.takes) && covers(w.Needs, c.takes) && covers(w.Tubes[w.Culprit].Swallows, c.takes)) {
			t.Errorf("%s: the culprit takes %v of %v, without %d nm", c.mix, w.Taken, w.Needs, c.takes)
		}
		if w.Swap == nil || !slices.Contains(c.swap, w.Swap.In.CI[0]) || w.Swap.Kept < w.Kept+swapGain {
			t.Errorf("%s: swap %+v", c.mix, w.Swap)
		}
		if !strings.Contains(said, "a little "+c.hidden+" is hidden") {
			t.Errorf("%s: %s", c.mix, said)
		}
	}
	// Yellow leaning orange with blue leaning red: olive, never a bright green.
	olive := false
	for _, d := range directions[2] {
		_, c := p.Mix([]Part{{tubeOf(t, p, "PY83"), float64(d.parts[0])}, {tubeOf(t, p, "PB29"), float64(d.parts[1])}})
		name := lab.Name(c)
		olive = olive || strings.Contains(name, "olive")
		if strings.Contains(name, "green") && c.Chroma() > 40 {
			t.Errorf("PY83+PB29 makes %s", name)
		}
	}
	if !olive {
		t.Error("PY83+PB29 makes no olive")
	}
	if a, b := why(t, p, "PY83+PR254"), why(t, p, "PY184+PR122"); a.Kept < b.Kept+0.1 {
		t.Errorf("orange: %.2f of warm yellow and red, %.2f of cool ones", a.Kept, b.Kept)
	}
}

// Complements, neighbours, black, white, three primaries (common practice, no
// source).
func TestWhyOfOtherPairs(t *testing.T) {
	p := palette(t, optics.Included, teaching...)
	for _, mix := range []string{"PR254+PG7", "PBr7/burnt sienna+PB29", "PO20+PB36:1"} {
		w := why(t, p, mix)
		if w.Verdict != Opposed || !strings.Contains(w.Words()[1], "They are complements") || w.Shown.Lab.Chroma() > 8 {
			t.Errorf("%s: %s at C* %.1f", mix, w.Verdict, w.Shown.Lab.Chroma())
		}
		if line := p.WhyLine(w.Parts); !strings.Contains(line, "opposites") {
			t.Errorf("%s: %q", mix, line)
		}
	}
	for _, mix := range []string{"PY184+PY83", "PR122+PV19"} {
		if w := why(t, p, mix); w.Verdict != Clean || !strings.Contains(strings.Join(w.Words(), " "), "neighbours") {
			t.Errorf("%s: %v", mix, w.Words())
		}
	}
	// Yellow and black make green.
	if w := why(t, p, "PY184+PBk9"); w.Verdict != Dull || w.Shown.Lab.Hue() < 105 || !strings.Contains(w.Words()[1], "green") || w.Swap != nil {
		t.Errorf("yellow and black: %s, %v", text(w.Shown.Lab), w.Words())
	}
	if w := why(t, p, "PR254+PY83+PB29"); w.Verdict != Grey || w.bare().L > 35 {
		t.Errorf("three primaries: %s, %v", w.Verdict, w.Words())
	}
	// White cools a red and pales it; it opens a phthalo blue up.
	if w := why(t, p, "PR254+PW6"); w.Verdict != TintOf || !strings.Contains(w.Words()[1], "only pales") || !strings.Contains(w.Words()[2], "cooler") {
		t.Errorf("red and white: %v", w.Words())
	}
	if w := why(t, p, "PB15:4+PW6"); w.Shown.Lab.Chroma() < 40 || !strings.Contains(w.Words()[1], "opens it up") {
		t.Errorf("phthalo blue and white: %v", w.Words())
	}
}

// Given parts are judged as given; the order of tubes does not matter.
func TestWhyTakesParts(t *testing.T) {
	p := palette(t, optics.Included, teaching...)
	red, blue := tubeOf(t, p, "PR254"), tubeOf(t, p, "PB29")
	a, err := p.Why(context.Background(), []Part{{red, 2}, {blue, 3}, {0, 8}}, WhyOptions{Library: []*inventory.Tube{}})
	if err != nil {
		t.Fatal(err)
	}
	b, err := p.Why(context.Background(), []Part{{blue, 3}, {red, 2}}, WhyOptions{Library: []*inventory.Tube{}})
	if err != nil {
		t.Fatal(err)
	}
	if a.Chosen || b.Chosen || math.Abs(a.Kept-b.Kept) > 1e-9 || a.Swap.In != b.Swap.In || a.LibrarySwap != nil {
		t.Errorf("%+v\n%+v", a, b)
	}
	if a.Mix.L < 55 || b.Mix.L > 30 {
		t.Errorf("with white L* %.0f, without %.0f", a.Mix.L, b.Mix.L)
	}
	// Odd parts that no ladder has.
	if _, err := p.Why(context.Background(), []Part{{blue, 3.7}, {red, 2.1}}, WhyOptions{}); err != nil {
		t.Error(err)
	}
	for _, bad := range [][]Part{{}, {{red, 1}}, {{0, 1}}, {{red, 1}, {red, 2}}, {{red, 1}, {blue, 0}}, {{red, -1}, {blue, 1}}, {{red, math.NaN()}, {blue, 1}}, {{99, 1}, {blue, 1}}, {{1, 1}, {2, 1}, {3, 1}, {4, 1}}} {
		if _, err := p.Why(context.Background(), bad, WhyOptions{}); err == nil {
			t.Errorf("%v was explained", bad)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := p.Why(ctx, []Part{{blue, 3}, {red, 2}}, WhyOptions{}); err == nil {
		t.Error("a cancelled question was answered")
	}
}

// The best exchange is the best: every other tube in every ratio of the ladder
// is tried by itself.
func TestSwapByBruteForce(t *testing.T) {
	p := palette(t, optics.Included, "PW6", "PY184", "PY83", "PR254", "PV19", "PR122", "PB29", "PB15:4", "PB28")
	for _, mix := range []string{"PR254+PB29", "PY83+PB29", "PY83+PB15:4"} {
		w := why(t, p, mix)
		hue, best := w.Shown.Lab.Hue(), w.Best.Lab.Chroma()
		most := 0.0
		for j, old := range w.Tubes {
			other := w.Tubes[1-j].Tube
			for x := 1; x < len(p.Tubes); x++ {
				h := inventory.LeanOf(&p.Tubes[x].Paint, &p.Tubes[0].Paint).TintHue
				if x == other || x == old.Tube || hueApart(h, old.Lean.TintHue) > samePlace || hueApart(h, hue) < 2*swapWindow {
					continue
				}
				each(2, func(parts [3]int) {
					for _, white := range append(append([]int{0}, Ladder...), WhiteLadder...) {
						q := []Part{{x, float64(parts[0])}, {other, float64(parts[1])}}
						if white > 0 {
							q = append(q, Part{0, float64(white)})
						}
						if _, c := p.Mix(q); hueApart(c.Hue(), hue) <= swapWindow {
							most = max(most, c.Chroma())
						}
					}
				})
			}
		}
		if w.Swap == nil || math.Abs(w.Swap.Kept-most/best) > 1e-9 {
			t.Errorf("%s: %+v, by brute force %.4f", mix, w.Swap, most/best)
		}
	}
}

// Any two or three tubes of the library are explained in whole sentences, and
// what is kept is a share.
func TestWhyExplainsAnything(t *testing.T) {
	all := inventory.Library()
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		var tubes []*inventory.Tube
		for _, i := range rng.Perm(len(all))[:3+rng.IntN(3)] {
			tubes = append(tubes, all[i].Tube())
		}
		p, err := NewPalette(tubes, optics.Finish(rng.IntN(2)))
		if err != nil {
			t.Fatal(err)
		}
		var parts []Part
		given := rng.IntN(2)
		for i := range 2 + rng.IntN(2) {
			parts = append(parts, Part{i, float64(given * Ladder[rng.IntN(len(Ladder))])})
		}
		w, err := p.Why(context.Background(), parts, WhyOptions{Library: []*inventory.Tube{}})
		if err != nil {
			return // whites only
		}
		said := append(w.Words(), p.WhyLine(w.Parts))
		for _, s := range said {
			if s != "" && !strings.HasSuffix(s, ".") || strings.Contains(s, "NaN") || strings.Contains(s, "  ") || strings.Contains(s, " ,") || strings.Contains(s, "()") || strings.Contains(s, "the  light") || strings.Contains(s, "the light") {
				t.Fatalf("%s and %s: %q", tubes[0].Name, tubes[1].Name, s)
			}
		}
		if len(w.Words()) < 2 {
			t.Fatalf("%s and %s: only %v", tubes[0].Name, tubes[1].Name, w.Words())
		}
		if !math.IsNaN(w.Kept) && !(w.Kept > 0 && w.Kept <= 1+1e-9 && w.KeptAtValue >= w.Kept-1e-9) {
			t.Fatalf("%s and %s: kept %v, at value %v", tubes[0].Name, tubes[1].Name, w.Kept, w.KeptAtValue)
		}
	})
}

// A line is given for a dull mix only.
func TestWhyLine(t *testing.T) {
	p := palette(t, optics.Included, teaching...)
	for mix, want := range map[string]string{
		"PB29:2+PBr7/burnt umber:1+PW6:4": "opposites",
		"PR254:2+PB29:3+PW6:6":            "A little yellow is hidden in pyrrole red",
		"PY83:3+PB15:4:1":                 "A little red is hidden in diarylide yellow",
		"PR122:3+PB29:4+PW6:6":            "",
		"PB15:4:1+PW6:32":                 "",
		"PY184:16+PB15:4:3":               "",
		"PY184:2+PBk9:3":                  "black swallows",
	} {
		var parts []Part
		for _, s := range strings.Split(mix, "+") {
			at := strings.LastIndex(s, ":")
			var n float64
			if _, err := fmt.Sscan(s[at+1:], &n); err != nil {
				t.Fatal(err)
			}
			parts = append(parts, Part{tubeOf(t, p, s[:at]), n})
		}
		if got := p.WhyLine(parts); want == "" && got != "" || !strings.Contains(got, want) {
			t.Errorf("%s: %q, want %q", mix, got, want)
		}
	}
}

func TestLightNames(t *testing.T) {
	for _, c := range []struct {
		from, to int
		want     string
	}{{400, 440, "violet"}, {400, 480, "violet and blue"}, {500, 560, "green"}, {400, 500, "violet to blue-green"}, {580, 700, "yellow to red"}, {480, 500, "blue-green"}, {640, 700, "red"}} {
		if got := newLight(c.from, c.to).Name; got != c.want {
			t.Errorf("%d–%d nm: %q, want %q", c.from, c.to, got, c.want)
		}
	}
	for i := range optics.Bands {
		for j := i + 1; j < optics.Bands; j++ {
			if l := newLight(optics.Wavelength(i), optics.Wavelength(j)); l.Name == "" {
				t.Errorf("%d–%d nm has no name", l.From, l.To)
			}
		}
	}
}

func ExamplePalette_Why() {
	var tubes []*inventory.Tube
	for _, code := range []string{"PW6", "PR254", "PR122", "PB29", "PY184"} {
		p, _ := inventory.Find(code)
		tubes = append(tubes, p.Tube())
	}
	p, _ := NewPalette(tubes, optics.Included)
	w, _ := p.Why(context.Background(), []Part{{1, 0}, {3, 0}}, WhyOptions{})
	for _, s := range w.Words() {
		fmt.Println(s)
	}
	// Output:
	// Pyrrole red is a red leaning slightly yellow; ultramarine blue is a blue leaning red.
	// The mix goes dull: it keeps 40 % of the chroma the box has at its hue (muted violet, chroma 17).
	// Both swallow the green and yellow light (500–600 nm).
	// Pyrrole red swallows the violet and blue light (410–480 nm), which a violet lives by.
	// Pyrrole red leans yellow, and yellow is the complement of violet: a little yellow is hidden in it.
	// For a cleaner mix take quinacridone magenta in place of pyrrole red: titanium white 16 to ultramarine blue 3 to quinacridone magenta 12 keeps 100 %.
	// To knock it back on purpose add bismuth yellow, a touch at a time: 1 part to 8 of the mix halves its chroma.
}

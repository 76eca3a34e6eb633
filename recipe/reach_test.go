package recipe

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

func reach(t testing.TB, p *Palette, aim lab.Lab, o ReachOptions) *Reach {
	t.Helper()
	r, err := p.Reach(context.Background(), aim, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// starter is the starter box, ready.
func starter(t testing.TB) *Palette {
	t.Helper()
	p, err := NewPalette(inventory.Starter().Tubes, optics.Included)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The earth triad: muted orange, violet and green, blue only by contrast
// (common practice, no source). It must be told that clean blues and greens are
// out of reach, in which way, and which tube mends it.
func TestEarthTriad(t *testing.T) {
	earth := palette(t, optics.Included, "PY43", "PR108", "PBk9", "PW6")
	for _, c := range []struct {
		name string
		aim  lab.Lab
		mend []string // codes, one of which must come first
	}{
		{"a clear sky blue", lab.Lab{L: 65, A: -8, B: -30}, []string{"PB15:1", "PB15:3", "PB15:4", "PB36", "PB36:1", "PB35", "PB28", "PB27"}},
		{"a deep sea blue", lab.Lab{L: 40, A: -5, B: -38}, []string{"PB15:1", "PB15:3", "PB15:4", "PB36", "PB36:1", "PB35", "PB27", "PB60"}},
		{"a leaf green", lab.Lab{L: 48, A: -32, B: 32}, []string{"PG36", "PG7", "PG17"}},
	} {
		r := reach(t, earth, c.aim, ReachOptions{Tolerance: ReachTolerance, Add: 3})
		t.Logf("%s: %s", c.name, strings.Join(r.Words(), " "))
		if r.Reachable || r.Nearest.DE00 < 8 {
			t.Errorf("%s: the triad comes within %.1f", c.name, r.Nearest.DE00)
		}
		if !strings.HasPrefix(r.Miss.Words, "too dull") || r.Miss.Chroma > -15 {
			t.Errorf("%s misses by %q, chroma %.0f", c.name, r.Miss.Words, r.Miss.Chroma)
		}
		if r.AtValue != nil && r.AtValue.Lab.Chroma() > c.aim.Chroma()/2 {
			t.Errorf("%s: the triad has chroma %.0f there", c.name, r.AtValue.Lab.Chroma())
		}
		if len(r.Add) == 0 || !slices.Contains(c.mend, r.Add[0].Tube.CI[0]) || r.Add[0].Mix.DE00 > 5 {
			t.Errorf("%s: to add: %v", c.name, names(r.Add))
		}
		if !r.Surface.Possible {
			t.Errorf("%s is called impossible", c.name)
		}
	}
	// Muted secondaries are within its reach.
	for name, aim := range map[string]lab.Lab{
		"muted orange": {L: 55, A: 20, B: 32}, "muted green": {L: 48, A: -1, B: 10}, "muted violet": {L: 50, A: 5, B: 0},
	} {
		if r := reach(t, earth, aim, ReachOptions{Tolerance: ReachTolerance}); !r.Reachable {
			t.Errorf("%s: %s", name, strings.Join(r.Words(), " "))
		}
	}
}

func names(add []Addition) (out []string) {
	for _, a := range add {
		out = append(out, fmt.Sprintf("%s %.1f", a.Tube.Name, a.Mix.DE00))
	}
	return out
}

// Three primaries that lean green, blue and green reach secondaries in muted
// form, a split six cleaner ones (common practice, no source).
func TestSplitSixIsCleaner(t *testing.T) {
	three := palette(t, optics.Included, "PY184", "PR122", "PB15:4", "PW6")
	six := palette(t, optics.Included, "PY184", "PY83", "PR254", "PR122", "PB29", "PB15:4", "PW6")
	for _, c := range []struct {
		name   string
		l, hue float64
		atMost float64 // share of the six's chroma that the three keep
	}{{"orange", 65, 60, 0.92}, {"red", 50, 35, 0.85}, {"violet-blue", 45, 295, 0.9}} {
		aim := lab.LCh{L: c.l, C: 60, H: c.hue}.Lab()
		a, b := reach(t, three, aim, ReachOptions{}), reach(t, six, aim, ReachOptions{})
		if a.AtValue == nil || b.AtValue == nil {
			t.Errorf("%s: nothing stands there", c.name)
			continue
		}
		share := a.AtValue.Lab.Chroma() / b.AtValue.Lab.Chroma()
		t.Logf("%s: three reach C* %.0f with %s, six %.0f with %s", c.name, a.AtValue.Lab.Chroma(), a.AtValue.words(), b.AtValue.Lab.Chroma(), b.AtValue.words())
		if share > c.atMost || share < 0.2 {
			t.Errorf("%s: the three keep %.2f of the six's chroma", c.name, share)
		}
	}
}

// randomMix is a mix in parts of any size, within the ladder's span.
func randomMix(rng *rand.Rand, p *Palette) []Part {
	n := 1 + rng.IntN(min(3, len(p.colours)))
	var parts []Part
	for _, i := range rng.Perm(len(p.colours))[:n] {
		parts = append(parts, Part{p.colours[i], math.Exp(rng.Float64() * math.Log(32))})
	}
	if len(p.whites) > 0 && rng.IntN(4) > 0 {
		parts = append(parts, Part{p.whites[0], math.Exp(rng.Float64() * math.Log(256))})
	}
	return parts
}

// 'Not reachable within x' is not contradicted by mixes in finer parts beyond
// LadderSlack: neither by random ones nor by those about the nearest mix.
func TestFinerPartsStayWithinTheSlack(t *testing.T) {
	boxes := [][]string{{"PW6", "PY184", "PR122", "PB15:4"}, {"PW6", "PY43", "PR108", "PBk9"}, {"PW6", "PR254", "PG7", "PB29"}}
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 7))
		p, err := NewPalette(libraryTubesOrPanic(boxes[rng.IntN(len(boxes))]...), optics.Included)
		if err != nil {
			t.Fatal(err)
		}
		aim := lab.LCh{L: 10 + 85*rng.Float64(), C: 70 * rng.Float64(), H: 360 * rng.Float64()}.Lab()
		if rng.IntN(2) == 0 { // on a finer mix itself
			_, aim = p.Mix(randomMix(rng, p))
		}
		best, _, err := p.hunt(context.Background(), p.jobs(), math.Inf(1), func() quest { return newNearQuest(aim) }, nil)
		if err != nil {
			t.Fatal(err)
		}
		tried := 0
		contradict := func(parts []Part) {
			if !p.inSpan(parts) {
				return
			}
			tried++
			if _, c := p.Mix(parts); lab.DE00(aim, c) < best.score-LadderSlack {
				t.Fatalf("aim %v: %v comes within %.2f, the ladder only within %.2f", aim, parts, lab.DE00(aim, c), best.score)
			}
		}
		for range 100 {
			contradict(randomMix(rng, p))
			near := best.parts()
			for i := range near {
				near[i].Parts *= math.Exp(0.3 * rng.NormFloat64())
			}
			contradict(near)
		}
		if tried < 20 {
			t.Fatalf("aim %v: only %d mixes lie in the span", aim, tried)
		}
		if f := p.finer(best.parts(), aim); f > best.score+1e-9 || f < best.score-LadderSlack {
			t.Fatalf("aim %v: finer parts %.2f, the ladder %.2f", aim, f, best.score)
		}
	})
}

// What the ladder's steps cost mixes in parts of any size; LadderSlack's
// figures come from 3,000 mixes of each of these boxes and one of five tubes.
func TestLadderSlack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	for _, box := range [][]string{{"PW6", "PY184", "PR122", "PB15:4"}, {"PW6", "PY43", "PR108", "PBk9"}, {"PW6", "PB15:4", "PY184"}} {
		p := palette(t, optics.Included, box...)
		jobs := p.jobs()
		var cost []float64
		for len(cost) < 100 {
			parts := randomMix(rng, p)
			if !p.inSpan(parts) {
				continue
			}
			_, c := p.Mix(parts)
			best, _, err := p.hunt(context.Background(), jobs, math.Inf(1), func() quest { return newNearQuest(c) }, nil)
			if err != nil {
				t.Fatal(err)
			}
			cost = append(cost, best.score)
		}
		slices.Sort(cost)
		t.Logf("%v: half within %.2f, 99 of 100 within %.2f, all within %.2f ΔE00", box, cost[50], cost[98], cost[99])
		if cost[99] > LadderSlack || cost[50] > 0.7 {
			t.Errorf("%v: half within %.2f, all within %.2f", box, cost[50], cost[99])
		}
	}
}

func libraryTubesOrPanic(codes ...string) (out []*inventory.Tube) {
	for _, c := range codes {
		p, err := inventory.Find(c)
		if err != nil {
			panic(err)
		}
		out = append(out, p.Tube())
	}
	return out
}

// A tube to add does what is said of it: with it in the box the colour is
// reached as nearly, and no other tube does better. Every tube is tried by a
// whole search.
func TestAdditionsEqualTryingEach(t *testing.T) {
	box := palette(t, optics.Included, "PW6", "PY43", "PR254", "PB29")
	library := libraryTubes(t, "PY184", "PV19", "PB15:4", "PG7", "PB29", "PR106", "PW4", "PBk9")
	for _, aim := range []lab.Lab{{L: 60, A: -40, B: 25}, {L: 35, A: 45, B: -20}, {L: 85, A: -5, B: 60}, {L: 97, A: 0, B: 3}} {
		r := reach(t, box, aim, ReachOptions{Tolerance: 0, Add: 3, Library: library})
		type tried struct {
			tube *inventory.Tube
			off  float64
		}
		var want []tried
		for _, x := range library {
			if x.CI[0] == "PB29" || x.CI[0] == "PR106" { // in the box; holds mercury
				continue
			}
			with := reach(t, box, aim, ReachOptions{With: []*inventory.Tube{x}})
			if with.Nearest.DE00 <= r.Nearest.DE00-worthAdding {
				want = append(want, tried{x, with.Nearest.DE00})
			}
			if math.Abs(with.Before-r.Nearest.DE00) > 1e-9 {
				t.Errorf("without %s: %v and %v", x.Name, with.Before, r.Nearest.DE00)
			}
		}
		slices.SortStableFunc(want, func(a, b tried) int {
			if a.off < b.off {
				return -1
			}
			return 1
		})
		want = want[:min(3, len(want))]
		if len(want) != len(r.Add) {
			t.Errorf("%s: %v, want %d", text(aim), names(r.Add), len(want))
			continue
		}
		for i, w := range want {
			if math.Abs(r.Add[i].Mix.DE00-w.off) > 1e-9 {
				t.Errorf("%s: %v, want %s %.3f at place %d", text(aim), names(r.Add), w.tube.Name, w.off, i)
			}
			if _, c := r.Add[i].Mix.Palette.Mix(r.Add[i].Mix.Parts); math.Abs(lab.DE00(aim, c)-r.Add[i].Mix.DE00) > 1e-9 {
				t.Errorf("%s: the mix with %s is not what is said", text(aim), r.Add[i].Tube.Name)
			}
		}
		if r.Library == nil || len(r.Add) > 0 && r.Library.DE00 > r.Add[0].Mix.DE00+1e-9 {
			t.Errorf("%s: the whole library does worse than one tube of it", text(aim))
		}
	}
}

// What is not to be proposed, by the library's own cautions.
func TestAdvisable(t *testing.T) {
	var not []string
	for _, p := range inventory.Library() {
		if !Advisable(p.Tube()) {
			not = append(not, p.Key())
		}
	}
	for _, code := range []string{"PW1", "PY34", "PY41", "PR106", "PR83"} {
		if !slices.Contains(not, code) {
			t.Errorf("%s would be proposed", code)
		}
	}
	if len(not) > 10 {
		t.Errorf("left out: %v", not)
	}
	t.Logf("left out: %v", not)
}

// Edges: one tube, white alone, tolerance 0 and 1000, no white, greys, colours
// that nothing shows.
func TestReachEdges(t *testing.T) {
	white := palette(t, optics.Included, "PW6")
	blue := palette(t, optics.Excluded, "PB29")
	for _, c := range []struct {
		p    *Palette
		aim  lab.Lab
		tol  float64
		want bool
	}{
		{white, lab.Lab{L: 97, A: 0, B: 2}, 2, true},
		{white, lab.Lab{L: 50}, 2, false},
		{white, lab.Lab{L: 50}, 1000, true},
		{white, lab.Lab{L: 97}, 0, false},
		{blue, lab.Lab{L: 5, A: 20, B: -30}, 0, false},
		{blue, lab.Lab{L: 120, A: 20, B: -30}, 2, false},
		{blue, lab.LCh{L: 60, C: 180, H: 20}.Lab(), 2, false},
	} {
		r := reach(t, c.p, c.aim, ReachOptions{Tolerance: c.tol, Add: 2})
		if r.Reachable != c.want {
			t.Errorf("%s within %v: %v", text(c.aim), c.tol, r.Words())
		}
		for _, s := range r.Words() {
			if strings.Contains(s, "NaN") || strings.Contains(s, "Inf") || !strings.HasSuffix(s, ".") {
				t.Errorf("%s: %q", text(c.aim), s)
			}
		}
		if r.Reachable && len(r.Add) > 0 {
			t.Errorf("%s is reached, and yet %v", text(c.aim), names(r.Add))
		}
	}
	glow := reach(t, blue, lab.LCh{L: 60, C: 180, H: 20}.Lab(), ReachOptions{Tolerance: 2})
	if glow.Surface.Possible || glow.Surface.Chroma > 110 || glow.Surface.Paint > glow.Surface.Chroma {
		t.Errorf("a glowing red: %+v", glow.Surface)
	}
	if r := reach(t, blue, lab.Lab{L: 50, A: 1}, ReachOptions{Tolerance: 2}); r.AtHue != nil || r.AtValue != nil {
		t.Error("a grey was given a hue")
	}
	p := starter(t)
	for _, bad := range []ReachOptions{{Tolerance: -1}, {Tolerance: math.NaN()}} {
		if _, err := p.Reach(context.Background(), lab.Lab{L: 50}, bad); err == nil {
			t.Errorf("tolerance %v was taken", bad.Tolerance)
		}
	}
	for _, aim := range []lab.Lab{{L: math.NaN()}, {L: 50, A: math.Inf(1)}, {L: -20}, {L: 50, A: 1e6}} {
		if _, err := p.Reach(context.Background(), aim, ReachOptions{}); err == nil {
			t.Errorf("%v was taken for a colour", aim)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := p.Reach(ctx, lab.Lab{L: 50}, ReachOptions{}); err == nil {
		t.Error("a cancelled question was answered")
	}
}

// Progress goes up to its end and no further.
func TestReachProgress(t *testing.T) {
	var last, all, calls atomic.Int64
	p := palette(t, optics.Included, "PW6", "PY43", "PR108", "PBk9")
	reach(t, p, lab.Lab{L: 40, A: -5, B: -38}, ReachOptions{Tolerance: 2, Add: 2, Progress: func(done, of int) {
		calls.Add(1)
		if done > of {
			t.Errorf("%d of %d", done, of)
		}
		last.Store(int64(done))
		all.Store(int64(of))
	}})
	if calls.Load() < 5 || last.Load() != all.Load() {
		t.Errorf("%d calls, the last %d of %d", calls.Load(), last.Load(), all.Load())
	}
}

// A box larger than is searched whole is answered from its promising tubes,
// and says so.
func TestReachOfLargeBox(t *testing.T) {
	var tubes []*inventory.Tube
	for _, p := range inventory.Library() {
		if p.Key() != "PW4" && p.Key() != "PW1" && len(tubes) < 40 {
			tubes = append(tubes, p.Tube())
		}
	}
	p, err := NewPalette(tubes, optics.Included)
	if err != nil {
		t.Fatal(err)
	}
	aim := lab.Lab{L: 55, A: 48, B: 40}
	r := reach(t, p, aim, ReachOptions{Tolerance: ReachTolerance})
	if r.Exact || !r.Reachable || r.AtHue == nil {
		t.Errorf("exact %v, %v", r.Exact, r.Words())
	}
	if starterReach := reach(t, starter(t), aim, ReachOptions{}); !starterReach.Exact {
		t.Error("the starter box was not searched whole")
	}
}

func ExamplePalette_Reach() {
	var tubes []*inventory.Tube
	for _, code := range []string{"PY43", "PR108", "PBk9", "PW6"} {
		p, _ := inventory.Find(code)
		tubes = append(tubes, p.Tube())
	}
	p, _ := NewPalette(tubes, optics.Included)
	r, _ := p.Reach(context.Background(), lab.Lab{L: 48, A: -32, B: 32}, ReachOptions{Tolerance: ReachTolerance, Add: 3})
	for _, s := range r.Words() {
		fmt.Println(s)
	}
	// Output:
	// No: the nearest mix is titanium white 1 to yellow ochre 3 to ivory black 3: too dull, hue off toward yellow (18.8 ΔE00, adjust by eye).
	// At this hue and value their most vivid mix, titanium white 6 to yellow ochre 3 to ivory black 16, has 5 % of the chroma asked for.
	// No one tube brings it within reach; phthalo green yellow shade comes nearest: titanium white 1 to yellow ochre 12 to phthalo green yellow shade 6, 4.6 ΔE00.
	// Paint can do it with other tubes: zinc white 16 to arylide yellow FGL 24 to arylide yellow 1 to Prussian blue 1, 0.1 ΔE00.
}

func BenchmarkReach(b *testing.B) {
	more := append(inventory.Starter().Tubes, libraryTubes(b, "PY3", "PR122", "PV23", "PB28", "PO73", "PY42", "PG50", "PBk11")...)
	for _, n := range []int{16, 24} {
		p, err := NewPalette(more[:n], optics.Included)
		if err != nil {
			b.Fatal(err)
		}
		for name, aim := range map[string]lab.Lab{"green": {L: 55, A: -40, B: 30}, "violet": {L: 40, A: 40, B: -50}, "tan": {L: 55, A: 12, B: 25}} {
			b.Run(fmt.Sprintf("%dtubes/%s", n, name), func(b *testing.B) {
				for b.Loop() {
					reach(b, p, aim, ReachOptions{Tolerance: ReachTolerance})
				}
			})
		}
	}
}

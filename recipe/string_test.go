package recipe

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

func valueString(t testing.TB, p *Palette, aim lab.Lab, o StringOptions) *ValueString {
	t.Helper()
	s, err := p.ValueString(context.Background(), aim, o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Strings of common landscape colours from the starter box: even steps, one
// hue, few tubes.
func TestStringsOfTheStarterBox(t *testing.T) {
	p := starter(t)
	for name, aim := range map[string]lab.Lab{
		"field green": {L: 55, A: -18, B: 25}, "sky blue": {L: 65, A: -8, B: -20},
		"shadow violet": {L: 35, A: 8, B: -12}, "grey": {L: 50},
	} {
		for _, n := range map[bool][]int{true: {4, 5}, false: {5}}[name == "grey"] {
			s := valueString(t, p, aim, StringOptions{Piles: n, Tolerance: StringTolerance})
			t.Logf("%s: %s", name, strings.Join(s.Words(), " "))
			if !s.Within || len(s.Tubes) > 4 || !s.Exact {
				t.Errorf("%s in %d: worst %.1f from %d tubes", name, n, s.Worst, len(s.Tubes))
			}
			if len(s.Piles) != n || s.Own < 0 || s.Piles[s.Own].Aim != aim {
				t.Errorf("%s in %d: %d piles, its own at %d", name, n, len(s.Piles), s.Own)
				continue
			}
			for i, q := range s.Piles[1:] {
				if step := s.Piles[i].Value - q.Value; math.Abs(step-(s.Piles[0].Value-s.Piles[1].Value)) > 1e-6 || step < 0.7 || step > stringStep+1e-9 {
					t.Errorf("%s in %d: step %.2f", name, n, step)
				}
				if q.Mix.Lab.L >= s.Piles[i].Mix.Lab.L {
					t.Errorf("%s in %d: pile %d is no darker than the one before", name, n, i+1)
				}
			}
			want, err := aim.Notation()
			if err != nil {
				t.Fatal(err)
			}
			for _, q := range s.Piles {
				if math.Abs(q.Aim.Value()-q.Value) > 0.02 {
					t.Errorf("%s: a pile of value %.2f is aimed at %.2f", name, q.Value, q.Aim.Value())
				}
				if got, err := q.Aim.Notation(); err == nil && want.Chroma > 2 && got.Chroma > 1 {
					if d := math.Abs(math.Mod(got.Hue-want.Hue+150, 100) - 50); d > 1.5 {
						t.Errorf("%s: hue %.1f at value %.1f, not %.1f", name, got.Hue, q.Value, want.Hue)
					}
				}
			}
			// Chroma falls away from the colour's own pile.
			for i := range s.Piles {
				for k := range s.Piles {
					if (k < i && i <= s.Own || k > i && i >= s.Own) && want.Chroma > 2 {
						a, _ := s.Piles[i].Aim.Notation()
						b, _ := s.Piles[k].Aim.Notation()
						if b.Chroma > a.Chroma+0.05 {
							t.Errorf("%s: chroma %.2f at value %.1f, %.2f nearer the colour", name, b.Chroma, s.Piles[k].Value, a.Chroma)
						}
					}
				}
			}
		}
	}
}

// The tubes chosen are the fewest, and the best of so few: every set is judged
// by a search that computes every mix.
func TestStringTubesByBruteForce(t *testing.T) {
	boxes := [][]string{
		{"PW6", "PY43", "PR108", "PBk9", "PB29"},
		{"PW6", "PY184", "PV19", "PB15:4", "PBr7/burnt umber"},
		{"PY83", "PB29", "PR101"},
		{"PW6", "PW4", "PR254", "PG7"},
	}
	rng := rand.New(rand.NewPCG(12, 4))
	for round := range 16 {
		tubes := libraryTubes(t, boxes[round%len(boxes)]...)
		p, err := NewPalette(tubes, optics.Included)
		if err != nil {
			t.Fatal(err)
		}
		aim := lab.LCh{L: 20 + 70*rng.Float64(), C: 40 * rng.Float64(), H: 360 * rng.Float64()}.Lab()
		tolerance := 0.5 + 4*rng.Float64()
		s, err := p.ValueString(context.Background(), aim, StringOptions{Piles: 2 + rng.IntN(3), Tolerance: tolerance})
		if err != nil {
			t.Fatal(err)
		}
		var aims []lab.Lab
		for _, q := range s.Piles {
			aims = append(aims, q.Aim)
		}
		table, err := p.Search(context.Background(), aims, SearchOptions{Slack: math.Inf(1)})
		if err != nil {
			t.Fatal(err)
		}
		// By number of tubes, at most one white and three colours.
		var least [5]float64
		for n := range least {
			least[n] = math.Inf(1)
		}
		for mask := 1; mask < 1<<len(tubes); mask++ {
			var set []int
			whites := 0
			for i, x := range tubes {
				if mask>>i&1 == 1 {
					set = append(set, i)
					whites += btoi(x.White)
				}
			}
			if whites > 1 || len(set)-whites > 3 {
				continue
			}
			part := table.Among(set)
			worst := 0.0
			for a := range aims {
				worst = max(worst, part.Best(a))
			}
			least[len(set)] = min(least[len(set)], worst)
		}
		all := slices.Min(least[:])
		n := slices.IndexFunc(least[:], func(w float64) bool { return w <= tolerance || all > tolerance && w <= all+nearlyBest })
		if math.Abs(s.Worst-least[n]) > 1e-9 || len(s.Tubes) > n {
			t.Fatalf("aim %v within %.2f: worst %.6f from %d tubes, by brute force %.6f from %d (%v)", aim, tolerance, s.Worst, len(s.Tubes), least[n], n, least)
		}
		if s.Within != (s.Worst <= tolerance) {
			t.Fatalf("within %v at %v of %v", s.Within, s.Worst, tolerance)
		}
		for _, q := range s.Piles {
			if _, c := p.Mix(q.Mix.Parts); math.Abs(lab.DE00(q.Aim, c)-q.Mix.DE00) > 1e-9 {
				t.Fatalf("a pile is %.4f off, not %.4f", lab.DE00(q.Aim, c), q.Mix.DE00)
			}
			for _, part := range q.Mix.Parts {
				if !slices.Contains(s.Tubes, part.Tube) {
					t.Fatalf("a pile uses %s, which is not among the string's tubes", tubes[part.Tube].Name)
				}
			}
		}
	}
}

// Colours at the ends and beyond, chroma that paint has not, odd numbers of
// piles, boxes that can't.
func TestStringEdges(t *testing.T) {
	p := palette(t, optics.Included, "PW6", "PY43", "PR108", "PBk9")
	for _, aim := range []lab.Lab{{}, {L: 8, A: 2, B: 2}, {L: 100}, {L: 96, B: 5}, lab.LCh{L: 45, C: 90, H: 250}.Lab(), lab.LCh{L: 60, C: 100, H: 40}.Lab()} {
		for _, n := range []int{FewestPiles, MostPiles} {
			s := valueString(t, p, aim, StringOptions{Piles: n, Tolerance: StringTolerance})
			if len(s.Piles) != n || len(s.Tubes) == 0 {
				t.Errorf("%s in %d: %+v", text(aim), n, s)
			}
			for i, q := range s.Piles {
				if i > 0 && q.Value > s.Piles[i-1].Value-0.1 {
					t.Errorf("%s in %d: value %.2f after %.2f", text(aim), n, q.Value, s.Piles[i-1].Value)
				}
				if q.Held && q.Aim.Chroma() > aim.Chroma()+1 {
					t.Errorf("%s: held to C* %.1f", text(aim), q.Aim.Chroma())
				}
			}
			for _, w := range s.Words() {
				if strings.Contains(w, "NaN") || !strings.HasSuffix(w, ".") {
					t.Errorf("%s: %q", text(aim), w)
				}
			}
		}
	}
	if s := valueString(t, p, lab.LCh{L: 45, C: 60, H: 250}.Lab(), StringOptions{Tolerance: 2}); !s.Piles[s.Own].Held {
		t.Error("an earth triad was asked for a vivid blue and held nothing back")
	}
	if s := valueString(t, p, lab.Lab{L: 50}, StringOptions{Tolerance: 1000}); len(s.Tubes) != 1 || !s.Within {
		t.Errorf("anything will do: %d tubes", len(s.Tubes))
	}
	for name, o := range map[string]StringOptions{"one pile": {Piles: 1}, "ten piles": {Piles: 10}, "tolerance": {Tolerance: -1}, "no number": {Tolerance: math.NaN()}} {
		if _, err := p.ValueString(context.Background(), lab.Lab{L: 50}, o); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
	for _, aim := range []lab.Lab{{L: math.NaN()}, {L: 130}, {L: -5}} {
		if _, err := p.ValueString(context.Background(), aim, StringOptions{}); err == nil {
			t.Errorf("%v was taken", aim)
		}
	}
	if _, err := palette(t, optics.Included, "PW6").ValueString(context.Background(), lab.Lab{L: 50}, StringOptions{}); err == nil {
		t.Error("white alone gave a string")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := p.ValueString(ctx, lab.Lab{L: 50}, StringOptions{}); err == nil {
		t.Error("a cancelled question was answered")
	}
}

func ExamplePalette_ValueString() {
	var tubes []*inventory.Tube
	for _, code := range []string{"PW6", "PY184", "PBr7/burnt sienna", "PB29", "PB15:4"} {
		p, _ := inventory.Find(code)
		tubes = append(tubes, p.Tube())
	}
	p, _ := NewPalette(tubes, optics.Included)
	s, _ := p.ValueString(context.Background(), lab.Lab{L: 52, A: -14, B: 22}, StringOptions{Piles: 4, Tolerance: StringTolerance})
	fmt.Println(strings.Join(s.Words(), " "))
	for _, q := range s.Piles {
		var mix []string
		for _, part := range q.Mix.Parts {
			mix = append(mix, fmt.Sprintf("%s %g", p.Tubes[part.Tube].Name, part.Parts))
		}
		fmt.Printf("value %.1f: %s\n", q.Value, strings.Join(mix, ", "))
	}
	// Output:
	// 4 piles from value 8.1 to 3.6, mixed from titanium white, bismuth yellow, burnt sienna and phthalo blue green shade.
	// value 8.1: titanium white 256, bismuth yellow 12, burnt sienna 12, phthalo blue green shade 1
	// value 6.6: titanium white 96, bismuth yellow 32, burnt sienna 32, phthalo blue green shade 3
	// value 5.1: titanium white 3, bismuth yellow 16, burnt sienna 8, phthalo blue green shade 1
	// value 3.6: bismuth yellow 6, burnt sienna 6, phthalo blue green shade 1
}

func BenchmarkString(b *testing.B) {
	more := append(inventory.Starter().Tubes, libraryTubes(b, "PY3", "PR122", "PV23", "PB28", "PO73", "PY42", "PG50", "PBk11")...)
	for _, n := range []int{16, 24} {
		p, err := NewPalette(more[:n], optics.Included)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(fmt.Sprintf("%dtubes", n), func(b *testing.B) {
			for b.Loop() {
				valueString(b, p, lab.Lab{L: 55, A: -18, B: 25}, StringOptions{Tolerance: StringTolerance})
			}
		})
	}
}

package recipe

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// someAims are colours in and beyond what paint reaches.
func someAims(seed uint64, n int) []lab.Lab {
	rnd := rand.New(rand.NewPCG(seed, 3))
	aims := make([]lab.Lab, n)
	for i := range aims {
		aims[i] = lab.LCh{L: 10 + 88*rnd.Float64(), C: 110 * rnd.Float64() * rnd.Float64(), H: 360 * rnd.Float64()}.Lab()
	}
	return aims
}

// With an atlas a search finds the same, mix by mix.
func TestAtlasChangesNothing(t *testing.T) {
	ctx := context.Background()
	for _, n := range []int{3, 9} {
		p := someTubes(t, n)
		atlas, err := p.Atlas(ctx, nil)
		if err != nil {
			t.Fatal(err)
		}
		for seed := range uint64(5) {
			aims := someAims(seed, 1+int(seed)%3)
			for _, o := range []SearchOptions{{}, {Slack: 2.5}, {Slack: KitSlack, Improving: true}} {
				plain, err := p.Search(ctx, aims, o)
				if err != nil {
					t.Fatal(err)
				}
				o.Atlas = atlas
				quick, err := p.Search(ctx, aims, o)
				if err != nil {
					t.Fatal(err)
				}
				for _, t := range []*Table{plain, quick} { // what was forgotten may have stood anywhere
					for _, list := range [][]nearest{t.near, t.plain} {
						for i := range list {
							if math.IsInf(list[i].de00, 1) {
								list[i] = nearest{de00: math.Inf(1)}
							}
						}
					}
				}
				if !reflect.DeepEqual(plain, quick) {
					t.Fatalf("%d tubes, aims %v, %+v: another table with the atlas", n, aims, o)
				}
			}
		}
	}
}

// Mixing from some tubes of a palette is mixing from a palette of those tubes.
func TestSomeTubesAreAPalette(t *testing.T) {
	ctx := context.Background()
	p := someTubes(t, 8)
	atlas, err := p.Atlas(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(5, 5))
	for round := range 6 {
		some := rnd.Perm(8)[:1+rnd.IntN(7)]
		var tubes []*inventory.Tube
		for i := range 8 {
			for _, j := range some {
				if i == j {
					tubes = append(tubes, p.Tubes[i])
				}
			}
		}
		alone, err := NewPalette(tubes, optics.Included)
		if err != nil {
			t.Fatal(err)
		}
		aims := someAims(uint64(round), 2)
		want, err := alone.Search(ctx, aims, SearchOptions{Slack: 2.5})
		if err != nil {
			t.Fatal(err)
		}
		got, err := p.Search(ctx, aims, SearchOptions{Slack: 2.5, Tubes: some, Atlas: atlas})
		if err != nil {
			t.Fatal(err)
		}
		for a := range aims {
			if got.Best(a) != want.Best(a) {
				t.Errorf("from %v: %.4f, alone %.4f", some, got.Best(a), want.Best(a))
			}
			x, y := got.Recipes(a, KnifeError), want.Recipes(a, KnifeError)
			if len(x) != len(y) {
				t.Errorf("from %v: %d recipes, alone %d", some, len(x), len(y))
				continue
			}
			for i := range x {
				if x[i].Choice != y[i].Choice || x[i].Lab != y[i].Lab || x[i].Off != y[i].Off {
					t.Errorf("from %v: %v, alone %v", some, x[i], y[i])
				}
			}
		}
	}
}

// 24 tubes of all hues, and one aim.
func BenchmarkAtlas(b *testing.B) {
	tubes := inventory.Starter().Tubes
	for _, code := range []string{"PY3", "PO62", "PR122", "PV23", "PB60", "PB28", "PG36", "PY42"} {
		q, err := inventory.Find(code)
		if err != nil {
			b.Fatal(err)
		}
		tubes = append(tubes, q.Tube())
	}
	p, err := NewPalette(tubes, optics.Included)
	if err != nil {
		b.Fatal(err)
	}
	atlas, err := p.Atlas(context.Background(), nil)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("make", func(b *testing.B) {
		for b.Loop() {
			if _, err := p.Atlas(context.Background(), nil); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, n := range []int{1, 12} {
		aims := someAims(7, n)
		for _, with := range []*Atlas{nil, atlas} {
			b.Run(fmt.Sprintf("search%d/atlas=%t", n, with != nil), func(b *testing.B) {
				for b.Loop() {
					if _, err := p.Search(context.Background(), aims, SearchOptions{Slack: 2.5, Atlas: with}); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

package recipe

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// Leaving tubes at home gives what a search of the others would have found.
func TestAmongEqualsSearchOfFewer(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 2))
	var tubes []*inventory.Tube
	for _, n := range []string{"a", "b", "c", "d", "e"} {
		tubes = append(tubes, inventedTube(rng, n))
	}
	second := inventedWhite()
	second.Name, second.Paint.S = "thin white", optics.Flat(0.1)
	tubes = append(tubes, inventedWhite(), second)
	aims := []lab.Lab{{L: 55, A: 8, B: 15}, {L: 30, A: -6, B: 4}, {L: 85, A: 0, B: 2}}
	search := func(ts []*inventory.Tube) *Table {
		p, err := NewPalette(ts, optics.Included)
		if err != nil {
			t.Fatal(err)
		}
		table, err := p.Search(context.Background(), aims, SearchOptions{Slack: math.Inf(1)})
		if err != nil {
			t.Fatal(err)
		}
		return table
	}
	whole := search(tubes)
	for _, keep := range [][]int{{0, 2, 3, 5}, {1, 4}, {0, 1, 2, 6}, {5}} {
		var few []*inventory.Tube
		for _, i := range keep {
			few = append(few, tubes[i])
		}
		part, alone := whole.Among(keep), search(few)
		for a := range aims {
			if part.Best(a) != alone.Best(a) {
				t.Errorf("tubes %v, aim %d: %v among the whole, %v alone", keep, a, part.Best(a), alone.Best(a))
			}
			p, q := part.Recipes(a, KnifeError), alone.Recipes(a, KnifeError)
			if len(p) != len(q) {
				t.Errorf("tubes %v, aim %d: %d recipes among the whole, %d alone", keep, a, len(p), len(q))
				continue
			}
			for i := range p {
				if p[i].Off != q[i].Off || p[i].Choice != q[i].Choice {
					t.Errorf("tubes %v, aim %d, recipe %d: %v %v among the whole, %v %v alone", keep, a, i, p[i].Choice, p[i].Off, q[i].Choice, q[i].Off)
				}
			}
		}
	}
}

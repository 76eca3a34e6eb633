package recipe

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// someTubes are the first so many of the starter box, the white among them.
func someTubes(t testing.TB, n int) *Palette {
	t.Helper()
	p, err := NewPalette(inventory.Starter().Tubes[:n], optics.Included)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// What a cloud calls nearest is at most CloudSlack beyond the exact search's
// best, and never nearer than that by more than a rough colour is off.
func TestCloudIsNearTheSearch(t *testing.T) {
	for _, n := range []int{5, 12} {
		p := someTubes(t, n)
		c, err := p.Cloud(context.Background(), nil)
		if err != nil {
			t.Fatal(err)
		}
		rnd := rand.New(rand.NewPCG(1, uint64(n)))
		aims := make([]lab.Lab, 60)
		for i := range aims {
			aims[i] = lab.LCh{L: 22 + 75*rnd.Float64(), C: 90 * rnd.Float64() * rnd.Float64(), H: 360 * rnd.Float64()}.Lab()
		}
		table, err := p.Search(context.Background(), aims, SearchOptions{Improving: true})
		if err != nil {
			t.Fatal(err)
		}
		most, least := 0.0, 0.0
		for i, a := range aims {
			_, d := c.Nearest(a)
			most, least = max(most, d-table.Best(i)), min(least, d-table.Best(i))
		}
		t.Logf("%d tubes: beyond the best by at most %.2f, before it by at most %.2f", n, most, -least)
		if most > CloudSlack || least < -0.6 {
			t.Errorf("%d tubes: the cloud's nearest lies %.2f beyond the best mix and %.2f before it", n, most, -least)
		}
	}
}

// The answer is that of a look at every cell.
func TestCloudNearestIsTheNearest(t *testing.T) {
	c, err := someTubes(t, 6).Cloud(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(2, 2))
	for range 60 {
		aim := lab.Lab{L: 100 * rnd.Float64(), A: 220*rnd.Float64() - 110, B: 220*rnd.Float64() - 110}
		want := math.Inf(1)
		for _, v := range c.at {
			if v[0] >= 0 {
				want = min(want, lab.DE00(aim, lab.Lab{L: float64(v[0]), A: float64(v[1]), B: float64(v[2])}))
			}
		}
		if _, got := c.Nearest(aim); got != want {
			t.Errorf("%v: %.4f, a look at every cell finds %.4f", aim, got, want)
		}
	}
}

func TestCloudStops(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := someTubes(t, 16).Cloud(ctx, nil); err == nil {
		t.Error("a cloud is made although nobody waits for it")
	}
}

func BenchmarkCloud(b *testing.B) {
	for _, n := range []int{8, 16} {
		p := someTubes(b, n)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				if _, err := p.Cloud(context.Background(), nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkCloudNearest(b *testing.B) {
	c, err := someTubes(b, 16).Cloud(context.Background(), nil)
	if err != nil {
		b.Fatal(err)
	}
	for _, aim := range []lab.Lab{{L: 50, A: 10, B: 10}, {L: 60, A: -60, B: 30}, {L: 70, A: 90, B: -80}} {
		b.Run(fmt.Sprintf("%.0f", aim.Chroma()), func(b *testing.B) {
			for b.Loop() {
				c.Nearest(aim)
			}
		})
	}
}

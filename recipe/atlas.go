package recipe

import (
	"context"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// An Atlas knows where the mixes of three coloured tubes of a palette lie, in
// boxes of CIELAB about few of them at a time. With it a search for a few colours
// looks at those mixes only whose box comes near one: a spot that is touched gets
// its answer many times sooner. It does not change and may be shared.
type Atlas struct {
	palette *Palette
	plain   int // boxes of a set without white
	tinted  int // and with each white
	boxes   []atlasBox
}

// atlasStep is how many mixes share a box: a multiple of eight. atlasAims is for
// how many aims the boxes are asked; among more, few lie far from all.
const (
	atlasStep = 64
	atlasAims = 32
)

// atlasBox is a span of L* in halves, and of a* and b* in units from −128 on.
// What lies at an end may lie beyond it.
type atlasBox struct{ l0, l1, a0, a1, b0, b1 uint8 }

func down(v float64) uint8 { return uint8(min(max(math.Floor(v), 0), 255)) }
func up(v float64) uint8   { return uint8(min(max(math.Ceil(v), 0), 255)) }

// boxAbout holds all that lies within light of a colour in L* and within ab of it
// in a* and in b*.
func boxAbout(c lab.Lab, light, ab float64) atlasBox {
	return atlasBox{
		down(2 * (c.L - light)), up(2 * (c.L + light)),
		down(c.A - ab + 128), up(c.A + ab + 128), down(c.B - ab + 128), up(c.B + ab + 128),
	}
}

// meets reports whether a box has a place in common with any of some.
func (q atlasBox) meets(some []atlasBox) bool {
	for i := range some {
		o := &some[i]
		if q.l0 <= o.l1 && o.l0 <= q.l1 && q.a0 <= o.a1 && o.a0 <= q.a1 && q.b0 <= o.b1 && o.b0 <= q.b1 {
			return true
		}
	}
	return false
}

// of gives the boxes of a set of three with a choice of white.
func (t *Atlas) of(tubes [3]int, choice int) []atlasBox {
	p := t.palette
	var at [3]int
	for j, tube := range tubes {
		at[j] = p.placeOf(tube)
	}
	m := len(p.colours)
	n := place(m, at[0], at[1], at[2]) - m - m*(m-1)/2
	from := n * (t.plain + len(p.whites)*t.tinted)
	if choice == 0 {
		return t.boxes[from : from+t.plain]
	}
	from += t.plain + (choice-1)*t.tinted
	return t.boxes[from : from+t.tinted]
}

// placeOf is a coloured tube's place among them.
func (p *Palette) placeOf(tube int) int {
	for i, c := range p.colours {
		if c == tube {
			return i
		}
	}
	return -1
}

// Atlas looks roughly at every mix of three coloured tubes. It takes about the
// time of a search, and 700 bytes for each three of them and each white. Progress,
// if not nil, is told of the threes done and in all. It stops early with ctx's
// error.
func (p *Palette) Atlas(ctx context.Context, progress func(done, all int)) (*Atlas, error) {
	t := &Atlas{palette: p, plain: (mixesOf[3][0].padded + atlasStep - 1) / atlasStep, tinted: (mixesOf[3][1].padded + atlasStep - 1) / atlasStep}
	var sets [][3]int
	p.subsets(func(set [3]int, m int) {
		if m == 3 {
			sets = append(sets, set)
		}
	})
	t.boxes = make([]atlasBox, len(sets)*(t.plain+len(p.whites)*t.tinted))
	var next, done atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), max(1, len(sets))) {
		wg.Go(func() {
			var bands roughBands
			var rough []float32
			for {
				i := int(next.Add(1) - 1)
				if i >= len(sets) || ctx.Err() != nil {
					return
				}
				for choice := 0; choice <= len(p.whites); choice++ {
					rough = t.draw(sets[i], choice, &bands, rough)
				}
				if n := done.Add(1); progress != nil && (n%64 == 0 || int(n) == len(sets)) {
					progress(int(n), len(sets))
				}
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return t, nil
}

// draw makes the boxes of a set with a choice of white.
func (t *Atlas) draw(set [3]int, choice int, bands *roughBands, rough []float32) []float32 {
	p := t.palette
	c := &sums[p.Finish]
	var paints [4]*optics.Paint
	for j, tube := range set {
		paints[j] = &p.Tubes[tube].Paint
	}
	l := &mixesOf[3][0]
	if choice > 0 {
		l = &mixesOf[3][1]
		paints[3] = &p.Tubes[p.whites[choice-1]].Paint
	}
	bands.set(c, paints[:]...)
	if len(rough) < 3*l.padded {
		rough = make([]float32, 3*l.padded)
	}
	bands.rough(rough, l, 0, l.padded)
	xs, ys, zs := rough, rough[l.padded:], rough[2*l.padded:]
	for i, boxes := 0, t.of(set, choice); i < len(boxes); i++ {
		lo := lab.Lab{L: math.Inf(1), A: math.Inf(1), B: math.Inf(1)}
		hi := lab.Lab{L: math.Inf(-1), A: math.Inf(-1), B: math.Inf(-1)}
		for k := i * atlasStep; k < min((i+1)*atlasStep, len(l.dir)); k++ {
			fx := roughCurve((c.base.X + float64(xs[k])) * roughWhite.X)
			fy := roughCurve((c.base.Y + float64(ys[k])) * roughWhite.Y)
			fz := roughCurve((c.base.Z + float64(zs[k])) * roughWhite.Z)
			light, a, b := 116*fy-16, 500*(fx-fy), 200*(fy-fz)
			lo.L, hi.L = min(lo.L, light), max(hi.L, light)
			lo.A, hi.A = min(lo.A, a), max(hi.A, a)
			lo.B, hi.B = min(lo.B, b), max(hi.B, b)
		}
		boxes[i] = atlasBox{
			down(2 * (lo.L - roughL)), up(2 * (hi.L + roughL)),
			down(lo.A - roughA + 128), up(hi.A + roughA + 128), down(lo.B - roughB + 128), up(hi.B + roughB + 128),
		}
	}
	return rough
}

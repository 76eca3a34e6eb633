package recipe

import (
	"cmp"
	"context"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Table is the outcome of a search: for every set of up to three coloured
// tubes, with no white and with each white of the palette, the ladder mix that
// comes nearest each aim. It does not change; several readers may share it.
type Table struct {
	Palette *Palette
	Aims    []lab.Lab

	sets   []tubeSet
	near   []nearest // [set][white choice][aim]
	plain  []nearest // likewise: the fewest parts that can't be told from the aim
	stride int       // white choices × aims
	best   []float64 // per aim, over everything
}

type tubeSet struct {
	tubes [3]int
	n     int
}

// nearest is the best ladder mix of one set for one aim: de00 is +Inf where
// nothing within the search's slack was found.
type nearest struct {
	de00  float64
	dir   int32
	white int32 // index into direction.whites
}

// Indistinct is the difference up to which two colours can't be told apart,
// see [Grade].
const Indistinct = 0.8

// Search options.
type SearchOptions struct {
	// Slack says how much worse than the best mix of all a set of three tubes
	// may be and still be kept, in ΔE00. Sets of one and two are always kept.
	Slack float64
	// Progress, if set, is called now and then with the sets done and in all.
	Progress func(done, all int)
}

// Search tries every mix on the ladder for every aim (D65 Lab). The work is
// about 8,000 mixes for each three coloured tubes of the palette, shared by
// all aims. It stops early with ctx's error.
//
// Exactness: every mix is computed, and its ΔE00 unless a sure bound says that
// it cannot matter; ties go to the mix that comes first in the ladder's order.
func (p *Palette) Search(ctx context.Context, aims []lab.Lab, o SearchOptions) (*Table, error) {
	t := &Table{Palette: p, Aims: aims, stride: (1 + len(p.whites)) * len(aims)}
	p.subsets(func(set [3]int, m int) { t.sets = append(t.sets, tubeSet{set, m}) })
	if len(p.whites) > 0 {
		t.sets = append(t.sets, tubeSet{[3]int{-1, -1, -1}, 0}) // white alone
	}
	t.near = make([]nearest, len(t.sets)*t.stride)
	t.plain = make([]nearest, len(t.near))
	for i := range t.near {
		t.near[i].de00 = math.Inf(1)
		t.plain[i].de00 = math.Inf(1)
	}
	bounds := make([]atomic.Uint64, len(aims))
	for i := range bounds {
		bounds[i].Store(math.Float64bits(math.Inf(1)))
	}

	chroma := make([]float64, len(aims))
	for i, a := range aims {
		chroma[i] = a.Chroma()
	}

	var next, done atomic.Int64
	var wg sync.WaitGroup
	for range max(1, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			w := &worker{table: t, slack: o.Slack, bounds: bounds, own: make([]window, len(aims)), chroma: chroma}
			for {
				i := int(next.Add(1) - 1)
				if i >= len(t.sets) || ctx.Err() != nil {
					return
				}
				w.scan(i)
				if n := done.Add(1); o.Progress != nil && (n%64 == 0 || int(n) == len(t.sets)) {
					o.Progress(int(n), len(t.sets))
				}
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	t.best = make([]float64, len(aims))
	for a := range aims {
		t.best[a] = math.Float64frombits(bounds[a].Load())
	}
	// Which far sets were computed before the bound fell depends on timing:
	// forget them all, so that the table does not.
	for i, set := range t.sets {
		if set.n < 3 {
			continue
		}
		for j := range t.stride {
			n := &t.near[i*t.stride+j]
			if n.de00 > t.best[j%len(aims)]+o.Slack {
				n.de00 = math.Inf(1)
				t.plain[i*t.stride+j].de00 = math.Inf(1)
			}
		}
	}
	return t, nil
}

// window is the span of Y within which a mix can still matter to an aim.
type window struct{ lo, hi, limit, limit2 float64 }

// open sets the window for mixes within limit ΔE00 of an aim of lightness l.
func (w *window) open(l, limit float64) {
	w.limit, w.limit2 = limit, limit*limit*(1+1e-9)
	if math.IsInf(limit, 1) {
		w.lo, w.hi = math.Inf(-1), math.Inf(1)
		return
	}
	// ΔE00 >= |ΔL*|/1.75 (S_L is at most 1.747); a little over for rounding.
	w.lo = lab.Lab{L: l - 1.75*limit - 1e-6}.XYZ(d65White).Y
	w.hi = lab.Lab{L: l + 1.75*limit + 1e-6}.XYZ(d65White).Y
}

type worker struct {
	table  *Table
	slack  float64
	bounds []atomic.Uint64
	own    []window
	chroma []float64 // of the aims
}

func (w *worker) scan(set int) {
	t := w.table
	p := t.Palette
	c := &sums[p.Finish]
	ts := t.sets[set]
	aims := len(t.Aims)
	var none optics.Spectrum
	if ts.n == 0 {
		for wi, white := range p.whites {
			pt := &p.Tubes[white].Paint
			w.consider(set, wi+1, 0, 0, c.of(&pt.K, &pt.S, &none, &none, 0), true)
		}
		return
	}
	dirs := directions[ts.n]
	for choice := 0; choice <= len(p.whites); choice++ {
		for a := range aims {
			limit := math.Inf(1)
			if ts.n == 3 {
				limit = math.Float64frombits(w.bounds[a].Load()) + w.slack
			}
			w.own[a].open(t.Aims[a].L, limit)
		}
		var k, s optics.Spectrum
		kw, sw := &none, &none
		if choice > 0 {
			pt := &p.Tubes[p.whites[choice-1]].Paint
			kw, sw = &pt.K, &pt.S
		}
		for di := range dirs {
			d := &dirs[di]
			p.blend(ts.tubes, d, &k, &s)
			if choice == 0 {
				w.consider(set, choice, di, 0, c.of(&k, &s, kw, sw, 0), false)
				continue
			}
			for wi := 1; wi < len(d.whites); wi++ {
				w.consider(set, choice, di, wi, c.of(&k, &s, kw, sw, d.whites[wi].perTotal), false)
			}
		}
	}
}

// consider compares one mix with every aim.
func (w *worker) consider(set, choice, dir, white int, v lab.XYZ, always bool) {
	t := w.table
	aims := len(t.Aims)
	var colour lab.Lab
	var chroma float64
	known := false
	for a := range aims {
		win := &w.own[a]
		if !always && (v.Y < win.lo || v.Y > win.hi) {
			continue
		}
		if !known {
			colour, known = lab.FromXYZ(v, d65White), true
			chroma = math.Sqrt(colour.A*colour.A + colour.B*colour.B)
		}
		if !always && apart2(&t.Aims[a], w.chroma[a], &colour, chroma) > win.limit2 {
			continue
		}
		de := lab.DE00(t.Aims[a], colour)
		at := set*t.stride + choice*aims + a
		if de <= Indistinct {
			q, was := nearest{de, int32(dir), int32(white)}, t.plain[at]
			if math.IsInf(was.de00, 1) || cmp.Or(cmp.Compare(t.total(set, q), t.total(set, was)), cmp.Compare(de, was.de00)) < 0 {
				t.plain[at] = q
			}
		}
		n := &t.near[at]
		if de >= n.de00 || !always && de > win.limit {
			continue
		}
		*n = nearest{de, int32(dir), int32(white)}
		if !always {
			win.open(t.Aims[a].L, max(de, Indistinct))
		}
		for {
			old := w.bounds[a].Load()
			if de >= math.Float64frombits(old) || w.bounds[a].CompareAndSwap(old, math.Float64bits(de)) {
				break
			}
		}
	}
}

// total counts a ladder mix's parts.
func (t *Table) total(set int, n nearest) int {
	m := t.sets[set].n
	if m == 0 {
		return 1
	}
	d := &directions[m][n.dir]
	return d.whites[n.white].times*d.total + d.whites[n.white].white
}

// parts writes out a ladder mix.
func (t *Table) parts(set, choice int, n nearest) []Part {
	ts := t.sets[set]
	p := t.Palette
	if ts.n == 0 {
		return []Part{{p.whites[choice-1], 1}}
	}
	d := &directions[ts.n][n.dir]
	step := d.whites[n.white]
	var out []Part
	for j := range ts.n {
		out = append(out, Part{ts.tubes[j], float64(step.times * d.parts[j])})
	}
	if choice > 0 {
		out = append(out, Part{p.whites[choice-1], float64(step.white)})
	}
	return out
}

package recipe

import (
	"cmp"
	"context"
	"math"
	"math/bits"
	"runtime"
	"slices"
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
	plain  []nearest // likewise: the fewest parts that can't be told from the aim; nil where not kept
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
	// Improving keeps a set's best mix only where it beats every mix of fewer of
	// its tubes, white counted, and no plain mixes: all that a choice of tubes
	// asks for, in less time.
	Improving bool
	// most, if set, is how many coloured tubes a set has at most.
	most int
	// bar, if set, is asked once all sets of two are known: for no white and for
	// each, the ΔE00 per aim up to which a set of three is kept, and the slack
	// from then on.
	bar func(t *Table) (bars [][]float64, slack float64)
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
	p.subsets(func(set [3]int, m int) {
		if o.most == 0 || m <= o.most {
			t.sets = append(t.sets, tubeSet{set, m})
		}
	})
	if len(p.whites) > 0 {
		t.sets = append(t.sets, tubeSet{[3]int{-1, -1, -1}, 0}) // white alone
	}
	t.near = make([]nearest, len(t.sets)*t.stride)
	for i := range t.near {
		t.near[i].de00 = math.Inf(1)
	}
	if !o.Improving {
		t.plain = slices.Clone(t.near)
	}
	bounds := make([]atomic.Uint64, len(aims))
	for i := range bounds {
		bounds[i].Store(math.Float64bits(math.Inf(1)))
	}
	distances := make([]distance, len(aims))
	chroma := make([]float64, len(aims))
	for i, a := range aims {
		distances[i] = newDistance(a)
		chroma[i] = a.Chroma()
	}

	var bar [][]float64
	far := func(choice, a int) float64 { // for sets of three
		d := math.Float64frombits(bounds[a].Load()) + o.Slack
		if bar != nil {
			d = max(d, bar[choice][a])
		}
		return d
	}
	var done atomic.Int64
	// all scans the sets from…to. Those of fewer tubes come first: they bound
	// the others.
	all := func(from, to int) {
		var next atomic.Int64
		next.Store(int64(from))
		var wg sync.WaitGroup
		for range max(1, min(runtime.GOMAXPROCS(0), to-from)) {
			wg.Go(func() {
				w := &worker{table: t, options: &o, bounds: bounds, far: far, own: make([]window, len(aims)), chroma: chroma, distances: distances, sieve: newSieve(len(aims))}
				for {
					i := int(next.Add(1) - 1)
					if i >= to || ctx.Err() != nil {
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
	}
	sets := len(t.sets)
	if len(p.whites) > 0 {
		sets--
		all(sets, len(t.sets))
	}
	m := len(p.colours)
	pairs := m + m*(m-1)/2
	all(0, m)
	all(m, min(pairs, sets))
	if o.bar != nil && ctx.Err() == nil {
		bar, o.Slack = o.bar(t)
	}
	all(min(pairs, sets), sets)
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
			if n.de00 > far(j/len(aims), j%len(aims)) {
				n.de00 = math.Inf(1)
				if t.plain != nil {
					t.plain[i*t.stride+j].de00 = math.Inf(1)
				}
			}
		}
	}
	return t, nil
}

// place is the number of a set of coloured tubes, given by their places among
// them: ascending, −1 for none.
func (t *Table) place(a, b, c int) int {
	m := len(t.Palette.colours)
	pairs := func(n int) int { return n * (n - 1) / 2 }
	switch {
	case b < 0:
		return a
	case c < 0:
		return m + pairs(m) - pairs(m-a) + b - a - 1
	}
	triples := func(n int) int { return n * (n - 1) * (n - 2) / 6 }
	return m + pairs(m) + triples(m) - triples(m-a) + pairs(m-a-1) - pairs(m-b) + c - b - 1
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
	table     *Table
	options   *SearchOptions
	bounds    []atomic.Uint64             // the best of each aim so far
	far       func(choice, a int) float64 // what sets of three must come within
	own       []window
	chroma    []float64 // of the aims
	distances []distance
	sieve     *sieve
	stale     bool // windows have shrunk since the sieve was set
	smaller   []int
}

func (w *worker) scan(set int) {
	t := w.table
	p := t.Palette
	c := &sums[p.Finish]
	ts := t.sets[set]
	var none optics.Spectrum
	if ts.n == 0 {
		for wi, white := range p.whites {
			w.open(set, wi+1)
			pt := &p.Tubes[white].Paint
			w.consider(set, wi+1, 0, 0, c.of(&pt.K, &pt.S, &none, &none, 0))
		}
		return
	}
	dirs := directions[ts.n]
	w.smaller = w.smaller[:0]
	if w.options.Improving {
		w.smaller = t.within(ts, w.smaller)
	}
	for choice := 0; choice <= len(p.whites); choice++ {
		w.open(set, choice)
		var k, s optics.Spectrum
		kw, sw := &none, &none
		if choice > 0 {
			pt := &p.Tubes[p.whites[choice-1]].Paint
			kw, sw = &pt.K, &pt.S
		}
		for di := range dirs {
			if w.stale && (di&(di-1) == 0 || di%64 == 0) {
				w.sift()
			}
			d := &dirs[di]
			p.blend(ts.tubes, d, &k, &s)
			if choice == 0 {
				w.consider(set, choice, di, 0, c.of(&k, &s, kw, sw, 0))
				continue
			}
			for wi := 1; wi < len(d.whites); wi++ {
				w.consider(set, choice, di, wi, c.of(&k, &s, kw, sw, d.whites[wi].perTotal))
			}
		}
	}
}

// open sets the windows for a set with a choice of white, and the sieve.
func (w *worker) open(set, choice int) {
	t := w.table
	aims := len(t.Aims)
	for a := range aims {
		limit := math.Inf(1)
		if t.sets[set].n == 3 {
			limit = w.far(choice, a)
			if t.plain != nil {
				limit = max(limit, Indistinct)
			}
		}
		if w.options.Improving && t.sets[set].n > 0 {
			// What its tubes do without white, what fewer do with the same white
			// or none, and what white does alone.
			least := math.Inf(1)
			for _, i := range w.smaller {
				least = min(least, t.near[i*t.stride+a].de00)
				if choice > 0 {
					least = min(least, t.near[i*t.stride+choice*aims+a].de00)
				}
			}
			if choice > 0 {
				least = min(least, t.near[set*t.stride+a].de00, t.near[(len(t.sets)-1)*t.stride+choice*aims+a].de00)
			}
			limit = min(limit, math.Nextafter(least, -1))
		}
		w.own[a].open(t.Aims[a].L, limit)
	}
	w.sift()
}

// sift sets the sieve to the windows.
func (w *worker) sift() {
	w.stale = false
	w.sieve.set(w.table.Aims, func(a int) (light, ab float64) {
		limit := w.own[a].limit
		return 1.75*limit + 1e-6, w.distances[a].within(limit)
	})
}

// within adds the numbers of all smaller sets that a set of coloured tubes
// holds.
func (t *Table) within(s tubeSet, list []int) []int {
	var at [3]int
	for j := range s.n {
		at[j], _ = slices.BinarySearch(t.Palette.colours, s.tubes[j])
	}
	if s.n == 3 {
		list = append(list, t.place(at[0], at[1], -1), t.place(at[0], at[2], -1), t.place(at[1], at[2], -1))
	}
	if s.n >= 2 {
		list = append(list, at[:s.n]...)
	}
	return list
}

// consider compares one mix with every aim.
func (w *worker) consider(set, choice, dir, white int, v lab.XYZ) {
	if !w.sieve.pass(v) {
		return
	}
	t := w.table
	colour := lab.FromXYZ(v, d65White)
	chroma := math.Sqrt(colour.A*colour.A + colour.B*colour.B)
	for word, some := range w.sieve.some {
		for ; some != 0; some &= some - 1 {
			a := word*64 + bits.TrailingZeros64(some)
			win := &w.own[a]
			if v.Y < win.lo || v.Y > win.hi || apart2(&t.Aims[a], w.chroma[a], &colour, chroma) > win.limit2 {
				continue
			}
			de := lab.DE00(t.Aims[a], colour)
			at := set*t.stride + choice*len(t.Aims) + a
			if de <= Indistinct && t.plain != nil {
				q, was := nearest{de, int32(dir), int32(white)}, t.plain[at]
				if math.IsInf(was.de00, 1) || cmp.Or(cmp.Compare(t.total(set, q), t.total(set, was)), cmp.Compare(de, was.de00)) < 0 {
					t.plain[at] = q
				}
			}
			n := &t.near[at]
			if de >= n.de00 || de > win.limit {
				continue
			}
			*n = nearest{de, int32(dir), int32(white)}
			bar := de
			if t.plain != nil {
				bar = max(de, Indistinct)
			}
			if bar < win.limit {
				win.open(t.Aims[a].L, bar)
				w.stale = true
			}
			for {
				old := w.bounds[a].Load()
				if de >= math.Float64frombits(old) || w.bounds[a].CompareAndSwap(old, math.Float64bits(de)) {
					break
				}
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

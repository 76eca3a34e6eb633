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
	// Atlas, if set, is the palette's: a search for a few aims passes over more,
	// and finds the same.
	Atlas *Atlas
	// Tubes, if not nil, are those to mix from (indices into the palette's), as if
	// the others lay at home. Not with Improving.
	Tubes []int
	// most, if set, is how many coloured tubes a set has at most.
	most int
	// bar, if set, is asked once all sets of two are known up to what ΔE00 sets
	// of three are kept. It may have some of those looked at first.
	bar func(t *Table, scan func(sets []int, b bars)) bars
	// Progress, if set, is called now and then with the sets done and in all.
	Progress func(done, all int)
}

// bars are limits for sets of three: a set is kept where it lies within choice,
// for no white and for each, or within slack of the best of all.
type bars struct {
	choice []float64
	slack  float64
}

// Search tries every mix on the ladder for every aim (D65 Lab). The work is
// about 8,000 mixes for each three coloured tubes of the palette, shared by
// all aims. It stops early with ctx's error.
//
// Exactness: every mix is tried. Those that surely cannot matter are passed over
// by a rough look, see roughBands, all others computed; ties go to the mix that
// comes first in the ladder's order.
func (p *Palette) Search(ctx context.Context, aims []lab.Lab, o SearchOptions) (*Table, error) {
	t := &Table{Palette: p, Aims: aims, stride: (1 + len(p.whites)) * len(aims)}
	carried := make([]bool, len(p.Tubes))
	for i := range carried {
		carried[i] = o.Tubes == nil || slices.Contains(o.Tubes, i)
	}
	m, whites := 0, 0
	for _, i := range p.colours {
		if carried[i] {
			m++
		}
	}
	for _, i := range p.whites {
		if carried[i] {
			whites++
		}
	}
	p.subsets(func(set [3]int, m int) {
		for _, i := range set[:m] {
			if !carried[i] {
				return
			}
		}
		if o.most == 0 || m <= o.most {
			t.sets = append(t.sets, tubeSet{set, m})
		}
	})
	if whites > 0 {
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
	sides := make([]uint8, len(aims))
	for i, a := range aims {
		distances[i] = newDistance(a)
		chroma[i], sides[i] = a.Chroma(), sidesOf(&a, 0)
	}

	bar := bars{slack: o.Slack}
	far := func(choice, a int) float64 { // for sets of three
		d := math.Float64frombits(bounds[a].Load()) + bar.slack
		if bar.choice != nil {
			d = max(d, bar.choice[choice])
		}
		return d
	}
	// cast makes the nets for sets of three by what is known by now.
	nets := make([]atomic.Pointer[net], 1+len(p.whites))
	cast := func() {
		for c := range nets {
			n := newNet(aims, func(a int) (light, ab float64) {
				limit := far(c, a)
				return 1.75*limit + 1e-6, distances[a].within(limit)
			})
			nets[c].Store(&n)
		}
	}
	var done atomic.Int64
	scanned := make([]bool, len(t.sets))
	workers := make([]*worker, max(1, runtime.GOMAXPROCS(0)))
	for i := range workers {
		workers[i] = &worker{carried: carried, table: t, options: &o, bounds: bounds, far: far, nets: nets, own: make([]window, len(aims)), chroma: chroma, sides: sides, distances: distances, sieve: newSieve(len(aims))}
	}
	if o.Atlas != nil && len(aims) <= atlasAims {
		if o.Atlas.palette != p {
			panic("recipe: an atlas of another palette")
		}
		for _, w := range workers {
			w.wanted = make([]atlasBox, len(aims))
		}
	}
	// all scans n sets.
	all := func(n int, set func(i int) int) {
		var next atomic.Int64
		var wg sync.WaitGroup
		for _, w := range workers {
			wg.Go(func() {
				for {
					i := int(next.Add(1) - 1)
					if i >= n || ctx.Err() != nil {
						return
					}
					if i = set(i); scanned[i] {
						continue
					}
					scanned[i] = true
					w.scan(i)
					if n := done.Add(1); o.Progress != nil && (n%64 == 0 || int(n) == len(t.sets)) {
						o.Progress(int(n), len(t.sets))
					}
				}
			})
		}
		wg.Wait()
	}
	between := func(from, to int) {
		all(to-from, func(i int) int { return from + i })
	}
	// Sets of fewer tubes come first: they bound the others.
	sets := len(t.sets)
	if whites > 0 {
		sets--
		between(sets, len(t.sets))
	}
	pairs := min(m+m*(m-1)/2, sets)
	between(0, m)
	between(m, pairs)
	if o.bar != nil && ctx.Err() == nil {
		bar = o.bar(t, func(sets []int, b bars) {
			bar = b
			if nets[0].Load() == nil {
				cast()
			}
			all(len(sets), func(i int) int { return sets[i] })
		})
	}
	cast()
	between(pairs, sets)
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
// all m of them: ascending, −1 for none.
func place(m, a, b, c int) int {
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

func (t *Table) place(a, b, c int) int { return place(len(t.Palette.colours), a, b, c) }

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
	carried   []bool // by tube
	wanted    []atlasBox
	options   *SearchOptions
	bounds    []atomic.Uint64             // the best of each aim so far
	far       func(choice, a int) float64 // what sets of three must come within
	nets      []atomic.Pointer[net]       // for sets of three, by white
	own       []window
	chroma    []float64 // of the aims
	sides     []uint8
	distances []distance
	sieve     *sieve
	stale     bool  // windows have shrunk since the sieve was set
	smaller   []int // the numbers of the sets within the one at hand

	bands roughBands
	rough []float32
	mix   struct { // the direction last computed exactly
		dir    int
		k, s   optics.Spectrum
		kw, sw *optics.Spectrum
	}
}

// chunk is how many mixes are looked at roughly at a time; a multiple of eight.
const chunk = 512

func (w *worker) scan(set int) {
	t := w.table
	p := t.Palette
	c := &sums[p.Finish]
	ts := t.sets[set]
	if ts.n == 0 {
		for wi, white := range p.whites {
			if !w.carried[white] {
				continue
			}
			w.open(set, wi+1)
			pt := &p.Tubes[white].Paint
			v := c.of(&pt.K, &pt.S, &noPaint, &noPaint, 0)
			if w.sieve.pass(v) {
				w.compare(set, wi+1, 0, 0, v)
			}
		}
		return
	}
	w.smaller = w.smaller[:0]
	if w.options.Improving {
		w.smaller = t.within(ts, w.smaller)
	}
	var paints [4]*optics.Paint
	for j := range ts.n {
		paints[j] = &p.Tubes[ts.tubes[j]].Paint
	}
	w.mix.dir = -1
	for choice := 0; choice <= len(p.whites); choice++ {
		if choice > 0 && !w.carried[p.whites[choice-1]] {
			continue
		}
		w.open(set, choice)
		l := &mixesOf[ts.n][0]
		w.mix.kw, w.mix.sw = &noPaint, &noPaint
		if choice > 0 {
			l = &mixesOf[ts.n][1]
			paints[3] = &p.Tubes[p.whites[choice-1]].Paint
			w.mix.kw, w.mix.sw = &paints[3].K, &paints[3].S
		}
		w.bands.set(c, paints[:]...)
		if len(w.rough) < 3*l.padded {
			w.rough = make([]float32, 3*l.padded)
		}
		var n net
		if ts.n == 3 {
			n = *w.nets[choice].Load()
		}
		bx, by, bz := float32(c.base.X), float32(c.base.Y), float32(c.base.Z)
		xs, ys, zs := w.rough, w.rough[l.padded:], w.rough[2*l.padded:]
		step := chunk
		var boxes []atlasBox
		if w.wanted != nil && ts.n == 3 {
			step, boxes = atlasStep, w.options.Atlas.of(ts.tubes, choice)
		}
		for from := 0; from < l.padded; from += step {
			if w.stale {
				w.sift()
			}
			if boxes != nil && !boxes[from/atlasStep].meets(w.wanted) {
				continue
			}
			to := min(from+step, l.padded)
			w.bands.rough(w.rough, l, from, to)
			for i := from; i < min(to, len(l.dir)); i++ {
				x, y, z := xs[i]+bx, ys[i]+by, zs[i]+bz
				if !n.holds(x, y, z) {
					continue
				}
				v := lab.XYZ{X: float64(x), Y: float64(y), Z: float64(z)}
				if w.sieve.pass(v) && w.near() {
					dir, white := int(l.dir[i]), int(l.white[i])
					w.compare(set, choice, dir, white, w.exact(ts, dir, white))
				}
			}
		}
	}
}

// exact computes a mix of the set and the white at hand.
func (w *worker) exact(ts tubeSet, dir, white int) lab.XYZ {
	p := w.table.Palette
	d := &directions[ts.n][dir]
	if w.mix.dir != dir {
		w.mix.dir = dir
		p.blend(ts.tubes, d, &w.mix.k, &w.mix.s)
	}
	return sums[p.Finish].of(&w.mix.k, &w.mix.s, w.mix.kw, w.mix.sw, d.whites[white].perTotal)
}

// near narrows the aims that the sieve let pass to those that the rough colour
// may be within the limits of, and reports whether there are any.
func (w *worker) near() bool {
	aims := w.table.Aims
	rough := roughlyOf(&w.sieve.rough)
	any := uint64(0)
	for word := range w.sieve.some {
		kept := uint64(0)
		for some := w.sieve.some[word]; some != 0; some &= some - 1 {
			a := word*64 + bits.TrailingZeros64(some)
			if rough.apart2(&aims[a], w.chroma[a], w.sides[a]) <= w.own[a].limit2 {
				kept |= some & -some
			}
		}
		w.sieve.some[word] = kept
		any |= kept
	}
	return any != 0
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
	for a := range w.wanted {
		limit := w.own[a].limit
		w.wanted[a] = boxAbout(w.table.Aims[a], 1.75*limit+1e-6, w.distances[a].within(limit))
	}
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

// compare compares one mix with the aims that it may matter to.
func (w *worker) compare(set, choice, dir, white int, v lab.XYZ) {
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
				if math.IsInf(was.de00, 1) || cmp.Or(cmp.Compare(t.total(set, q), t.total(set, was)), cmp.Compare(de, was.de00), cmp.Compare(q.dir, was.dir), cmp.Compare(q.white, was.white)) < 0 {
					t.plain[at] = q
				}
			}
			n := &t.near[at]
			if de > n.de00 || de > win.limit || de == n.de00 && cmp.Or(cmp.Compare(int32(dir), n.dir), cmp.Compare(int32(white), n.white)) >= 0 {
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

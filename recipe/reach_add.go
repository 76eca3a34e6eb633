package recipe

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"paintout/analyze/lab"
	"paintout/inventory"
)

// worthAdding is the least gain in ΔE00 for which a tube is proposed.
const worthAdding = 0.3

// Advisable reports whether a tube can be proposed to a painter without
// harm: it holds no lead, chromate or mercury, and does not fade.
func Advisable(t *inventory.Tube) bool {
	if strings.Contains(t.Caution, "LEAD") || strings.Contains(t.Caution, "MERCURY") || strings.Contains(t.Caution, "fades") {
		return false
	}
	return !strings.Contains(t.Lightfast, "not recommended")
}

// progress counts work for a callback.
type progress struct {
	now, all atomic.Int64
	tell     func(done, all int)
}

func newProgress(all int, tell func(done, all int)) *progress {
	w := &progress{tell: tell}
	w.all.Store(int64(all))
	return w
}

func (w *progress) plan(n int) { w.all.Add(int64(n)) }

func (w *progress) done(n int) {
	if now := w.now.Add(int64(n)); w.tell != nil {
		w.tell(int(min(now, w.all.Load())), int(w.all.Load()))
	}
}

// finish reports the end, whatever was left out on the way.
func (w *progress) finish() {
	if w.tell != nil {
		w.tell(int(w.all.Load()), int(w.all.Load()))
	}
}

// consult asks the library: which tube to add, and whether any paints could.
func (r *Reach) consult(ctx context.Context, o ReachOptions, work *progress) error {
	library := o.Library
	if library == nil {
		library = wholeLibrary()
	}
	var err error
	if r.Add, err = r.Palette.additions(ctx, r.Aim, library, r.Nearest.DE00-worthAdding, o.Add, work); err != nil {
		return err
	}
	for i := range r.Add {
		r.Add[i].Reachable = r.Add[i].Mix.DE00 <= r.Tolerance
	}
	if !r.Surface.Possible {
		return nil
	}
	r.Library = &r.Nearest
	if len(r.Add) > 0 {
		r.Library = &r.Add[0].Mix
	}
	// What can be proposed first, and all the rest only if that fails.
	for _, all := range []bool{false, true} {
		if r.Library.DE00 <= r.Tolerance {
			break
		}
		tubes := slices.Clone(r.Palette.Tubes)
		for _, t := range library {
			if !r.Palette.holds(t) && (all || Advisable(t)) {
				tubes = append(tubes, t)
			}
		}
		m, ok, err := nearestOfMany(ctx, r.Aim, tubes, r.Palette, r.Library.DE00, work)
		if err != nil {
			return err
		}
		if ok {
			r.Library = m
		}
	}
	return nil
}

// loose is a palette that is only hunted in: its range is not known, and there
// may be more tubes than MaxTubes.
func (p *Palette) loose(tubes []*inventory.Tube) *Palette {
	q := &Palette{Tubes: tubes, Finish: p.Finish}
	for i, t := range tubes {
		if t.White {
			q.whites = append(q.whites, i)
		} else {
			q.colours = append(q.colours, i)
		}
	}
	return q
}

// holds reports whether the palette has a tube of the same pigments.
func (p *Palette) holds(t *inventory.Tube) bool {
	return slices.ContainsFunc(p.Tubes, func(o *inventory.Tube) bool { return o == t || len(t.CI) > 0 && slices.Equal(o.CI, t.CI) })
}

// own gives a find in a palette of its own that holds the tubes of the mix.
func (p *Palette) own(f *found, aim lab.Lab) (Mixed, error) {
	var tubes []*inventory.Tube
	var parts []Part
	for i, q := range f.parts() {
		tubes = append(tubes, p.Tubes[q.Tube])
		parts = append(parts, Part{i, q.Parts})
	}
	q, err := NewPalette(tubes, p.Finish)
	if err != nil {
		return Mixed{}, err
	}
	return q.mixed(parts, aim), nil
}

// Additions ranks the tubes of a library (nil for the whole one) that would
// bring the palette nearer a colour (D65 Lab) than best, the ΔE00 of its own
// nearest mix, and gives up to n of them, as [Reach].Add has them.
func (p *Palette) Additions(ctx context.Context, aim lab.Lab, best, tolerance float64, library []*inventory.Tube, n int) ([]Addition, error) {
	if best < worthAdding || n < 1 {
		return nil, ctx.Err() // no tube can gain so much
	}
	if library == nil {
		library = wholeLibrary()
	}
	list, err := p.additions(ctx, aim, library, best-worthAdding, n, newProgress(0, nil))
	for i := range list {
		list[i].Reachable = list[i].Mix.DE00 <= tolerance
	}
	return list, err
}

func wholeLibrary() (tubes []*inventory.Tube) {
	for _, p := range inventory.Library() {
		tubes = append(tubes, p.Tube())
	}
	return tubes
}

// additions ranks the tubes of a library by the nearest ladder mix that each
// makes with up to two of the palette's tubes and white, among those that come
// within limit of the aim, and gives the n best. Tubes of a pigment that the
// palette has, and those that are not Advisable, are left out. A white is
// tried with all sets of the palette's tubes.
func (p *Palette) additions(ctx context.Context, aim lab.Lab, library []*inventory.Tube, limit float64, n int, work *progress) ([]Addition, error) {
	all := p.loose(slices.Clone(p.Tubes))
	for _, t := range library {
		if !p.holds(t) && Advisable(t) {
			all.Tubes = append(all.Tubes, t)
		}
	}
	box := len(p.Tubes)
	type candidate struct {
		tube int
		best found
	}
	var list []candidate
	for i := box; i < len(all.Tubes); i++ {
		list = append(list, candidate{tube: i, best: found{score: math.Inf(1)}})
	}
	// few are jobs of up to two coloured tubes, many those of three.
	jobs := func(x int) (few, many []job) {
		whites := append([]int{-1}, p.whites...)
		var sets []tubeSet
		if all.Tubes[x].White {
			whites = []int{x}
			few = append(few, newJob([3]int{-1, -1, -1}, 0, x))
			p.subsets(func(set [3]int, m int) { sets = append(sets, tubeSet{set, m}) })
		} else {
			sets = append(sets, tubeSet{[3]int{x, -1, -1}, 1})
			for i, a := range p.colours {
				sets = append(sets, tubeSet{[3]int{a, x, -1}, 2})
				for _, b := range p.colours[:i] {
					sets = append(sets, tubeSet{[3]int{b, a, x}, 3})
				}
			}
		}
		for _, s := range sets {
			for _, w := range whites {
				if j := newJob(s.tubes, s.n, w); s.n < 3 {
					few = append(few, j)
				} else {
					many = append(many, j)
				}
			}
		}
		return few, many
	}
	// The n-th best so far bounds what is of interest.
	var mu sync.Mutex
	bar := func() float64 {
		if len(list) < n {
			return limit
		}
		scores := make([]float64, len(list))
		for i := range list {
			scores[i] = list[i].best.score
		}
		slices.Sort(scores)
		return min(limit, scores[n-1])
	}
	run := func(pick func(few, many []job) []job) error {
		each := make([][]job, len(list))
		for i := range list {
			few, many := jobs(list[i].tube)
			each[i] = pick(few, many)
			work.plan(len(each[i]))
		}
		return together(ctx, len(list), func(i int) {
			c := &list[i]
			h := &hunter{p: all, q: newNearQuest(aim), best: c.best}
			for at, j := range each[i] {
				if at%64 == 0 {
					if ctx.Err() != nil {
						return
					}
					work.done(min(64, len(each[i])-at))
				}
				if at%8 == 0 {
					mu.Lock()
					c.best = h.best
					h.bar = bar()
					mu.Unlock()
				}
				h.in(j.set(), int(j.white), min(h.bar, h.best.score))
			}
			mu.Lock()
			c.best = h.best
			mu.Unlock()
		})
	}
	if err := run(func(few, _ []job) []job { return few }); err != nil {
		return nil, err
	}
	slices.SortStableFunc(list, func(a, b candidate) int { return cmp.Compare(a.best.score, b.best.score) })
	if err := run(func(_, many []job) []job { return many }); err != nil {
		return nil, err
	}
	slices.SortStableFunc(list, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(a.best.score, b.best.score), cmp.Compare(a.tube, b.tube))
	})
	var out []Addition
	for _, c := range list[:min(n, len(list))] {
		if c.best.score > limit {
			break
		}
		m, err := all.own(&c.best, aim)
		if err != nil {
			return nil, err
		}
		out = append(out, Addition{Tube: all.Tubes[c.tube], Mix: m})
	}
	return out, nil
}

// nearestOfMany looks for a mix nearer than limit among many tubes: all
// singles and pairs with every white, and threes of the ShortList tubes
// whose pairs come nearest at a first look.
func nearestOfMany(ctx context.Context, aim lab.Lab, tubes []*inventory.Tube, like *Palette, limit float64, work *progress) (*Mixed, bool, error) {
	all := like.loose(tubes)
	short, err := all.promising(ctx, ShortList, func(c lab.Lab) float64 { return lab.DE00(aim, c) })
	if err != nil {
		return nil, false, err
	}
	jobs := append(all.pairJobs(), all.threes(short[0])...)
	work.plan(len(jobs))
	f, ok, err := all.hunt(ctx, jobs, limit, func() quest { return newNearQuest(aim) }, work.done)
	if err != nil || !ok {
		return nil, false, err
	}
	m, err := all.own(&f, aim)
	return &m, err == nil, err
}

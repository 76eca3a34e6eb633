package recipe

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"paintout/analyze/lab"
)

// StringTolerance is the ΔE00 that a pile of a string may miss by unless the
// painter sets another.
const StringTolerance = 3.0

// How many piles a string may have; painters premix four or five (common
// practice, no source).
const (
	FewestPiles = 2
	MostPiles   = 9
	UsualPiles  = 5
)

// A string keeps away from the ends of what the palette can do, where every hue
// turns grey: by so many steps of value from the darkest mix and from white. Its
// piles are at most stringStep steps apart (this project's judgement).
const (
	darkMargin  = 0.5
	lightMargin = 1.0
	stringStep  = 1.5
)

// StringOptions says what string to make.
type StringOptions struct {
	Piles     int     // FewestPiles to MostPiles; 0 is UsualPiles
	Tolerance float64 // ΔE00 that the worst pile may miss by, 0 or more; StringTolerance is usual
	Progress  func(done, all int)
}

// ValueString is a colour in equal steps of value, light to dark, each a pile
// to premix, all from the same few tubes.
type ValueString struct {
	Palette *Palette
	Aim     lab.Lab
	Piles   []Pile // lightest first
	Own     int    // the pile that stands at the aim's value; −1 where the palette's values do not reach it
	Tubes   []int  // what all piles are mixed from, white included
	// Worst and Mean are the piles' ΔE00; Within reports that Worst lies within
	// the tolerance.
	Worst, Mean float64
	Within      bool
	Exact       bool // all sets of three tubes were tried, see [Palette.Reach]
}

// Pile is one step of a string.
type Pile struct {
	Value float64 // aimed at
	Aim   lab.Lab // the colour to mix
	Held  bool    // its chroma was held down to what the palette has at its hue and value
	Mix   Mixed
}

// Words says the string in sentences.
func (s *ValueString) Words() []string {
	var names []string
	for _, t := range s.Tubes {
		names = append(names, s.Palette.Tubes[t].Name)
	}
	first, last := s.Piles[0], s.Piles[len(s.Piles)-1]
	out := []string{fmt.Sprintf("%d piles from value %.1f to %.1f, mixed from %s.", len(s.Piles), first.Value, last.Value, and(names))}
	if !s.Within {
		out = append(out, fmt.Sprintf("No few tubes bring every pile nearer than %.1f ΔE00 (%s).", s.Worst, Grade(s.Worst)))
	}
	var held []string
	for _, q := range s.Piles {
		if q.Held {
			held = append(held, fmt.Sprintf("%.1f", q.Value))
		}
	}
	if len(held) > 0 {
		out = append(out, fmt.Sprintf("At value %s the chroma is held down to what these tubes have there.", strings.Join(held, ", ")))
	}
	return out
}

// ValueString makes a value string through a colour (D65 Lab).
//
// The piles stand at equal steps of value, one of them at the colour's own, as
// far apart as the palette's values allow but at most 1.5 steps. All keep the
// hue of the hue/value/chroma notation, which holds a hue to the eye where
// CIELAB's turns, in blues above all. Toward the dark, chroma falls with value,
// as of the same thing in less light; toward the light it falls to nothing at
// the palette's white, as if let down. Where the palette does not have that
// chroma within the tolerance, the most vivid it has at the pile's hue and value
// takes its place, or where it has none there, as much as its nearest mix has of
// that hue.
//
// The tubes are the fewest, white counted, of which the worst pile misses by no
// more than the tolerance, and among sets as few the one whose worst pile is
// nearest, ties going to the lower mean. Where no set of three and white is good
// enough, it is the fewest whose worst pile lies within 0.5 of the best there
// is. That is exact over the ladder and over all sets; of a palette of more than
// WholeBox tubes, threes are chosen from the ShortList that look best.
func (p *Palette) ValueString(ctx context.Context, aim lab.Lab, o StringOptions) (*ValueString, error) {
	if o.Piles == 0 {
		o.Piles = UsualPiles
	}
	switch {
	case !aim.Finite() || aim.L < -1e-9 || aim.L > 100+1e-9 || aim.Chroma() > 400:
		return nil, fmt.Errorf("the colour L* %.4g a* %.4g b* %.4g is no colour of a surface: give L* from 0 to 100 and a*, b* within about ±128", aim.L, aim.A, aim.B)
	case o.Piles < FewestPiles || o.Piles > MostPiles:
		return nil, fmt.Errorf("a string of %d piles: give %d to %d, %d is usual", o.Piles, FewestPiles, MostPiles, UsualPiles)
	case !(o.Tolerance >= 0):
		return nil, fmt.Errorf("a tolerance of %v ΔE00: give 0 or more, %g is usual", o.Tolerance, StringTolerance)
	}
	s := &ValueString{Palette: p, Aim: aim, Exact: len(p.Tubes) <= WholeBox}
	if err := s.lay(o.Piles); err != nil {
		return nil, err
	}
	work := newProgress(0, o.Progress)
	for i := range s.Piles {
		if err := s.hold(ctx, &s.Piles[i], o.Tolerance, work); err != nil {
			return nil, err
		}
	}
	if err := s.choose(ctx, o.Tolerance, work); err != nil {
		return nil, err
	}
	s.Within = s.Worst <= o.Tolerance
	work.finish()
	return s, nil
}

// lay sets out the piles' values and colours.
func (s *ValueString) lay(n int) error {
	p := s.Palette
	white := lab.ValueOfLuminance(p.light.Y)
	dark, light := lab.ValueOfLuminance(p.black.Y)+darkMargin, white-lightMargin
	if light-dark < 0.5 {
		return errors.New("these tubes have hardly a range of values to make a string in: add a white or a darker tube")
	}
	own := s.Aim.Value()
	at := min(max(own, dark), light)
	// The place of the colour's own value that lets the steps be longest.
	step, place := -1.0, 0
	for k := range n {
		d := stringStep
		if k > 0 {
			d = min(d, (light-at)/float64(k))
		}
		if k < n-1 {
			d = min(d, (at-dark)/float64(n-1-k))
		}
		middle := func(k int) int { return max(2*k-(n-1), (n-1)-2*k) }
		if d > step+1e-9 || d > step-1e-9 && middle(k) < middle(place) {
			step, place = d, k
		}
	}
	if step < 0.1 { // the colour stands at an end: go from there
		step = min(stringStep, (light-dark)/float64(n-1))
		place = 0
		if at < (dark+light)/2 {
			place = n - 1
		}
	}
	s.Own = place
	if math.Abs(own-at) > 0.05 {
		s.Own = -1
	}
	hue, err := s.Aim.Notation()
	for k := range n {
		v := at + step*float64(place-k)
		q := Pile{Value: v}
		share := 1.0
		switch {
		case v < own && own > 0:
			share = v / own
		case v > own:
			share = max(0, (white-v)/(white-own))
		}
		if k == s.Own {
			q.Aim = s.Aim
		} else if c, e := (lab.Notation{Hue: hue.Hue, Value: v, Chroma: hue.Chroma * share}).Lab(); err == nil && e == nil {
			q.Aim = c
		} else {
			l := lab.FromXYZ(lab.XYZ{Y: lab.LuminanceOfValue(v)}, lab.D65).L
			q.Aim = lab.LCh{L: l, C: s.Aim.Chroma() * share, H: s.Aim.Hue()}.Lab()
		}
		s.Piles = append(s.Piles, q)
	}
	return nil
}

// hold brings a pile's chroma down to what the palette has, where no mix comes
// near enough.
func (s *ValueString) hold(ctx context.Context, q *Pile, tolerance float64, work *progress) error {
	p, aim := s.Palette, q.Aim
	lo, hi := valueSpan(aim, ValueWindow)
	jobs, err := p.lookThrough(ctx, func(c lab.Lab) float64 { return lab.DE00(aim, c) }, vividness(aim.Hue(), lo, hi))
	if err != nil {
		return err
	}
	work.plan(len(jobs[0]))
	// Any mix within the tolerance will do.
	enough, err := p.anyWithin(ctx, jobs[0], aim, tolerance, work)
	if err != nil || enough || aim.Chroma() < tooGrey {
		return err
	}
	work.plan(len(jobs[1]))
	f, ok, err := p.hunt(ctx, jobs[1], 0, vividQuests(aim.Hue(), lo, hi), work.done)
	if err != nil {
		return err
	}
	chroma := -f.score
	if !ok {
		// Nothing stands at that hue: what the nearest mix has of it.
		work.plan(len(jobs[0]))
		near, _, err := p.hunt(ctx, jobs[0], math.Inf(1), func() quest { return newNearQuest(aim) }, work.done)
		if err != nil {
			return err
		}
		chroma = max(0, (near.lab.A*aim.A+near.lab.B*aim.B)/aim.Chroma())
	}
	if chroma < aim.Chroma() {
		q.Aim = lab.LCh{L: aim.L, C: chroma, H: aim.Hue()}.Lab()
		q.Held = true
	}
	return nil
}

// anyWithin reports whether some mix of the jobs lies within a limit of the
// aim.
func (p *Palette) anyWithin(ctx context.Context, jobs []job, aim lab.Lab, limit float64, work *progress) (bool, error) {
	inner, stop := context.WithCancel(ctx)
	defer stop()
	var mu sync.Mutex
	within := false
	const batch = 32
	_ = together(inner, (len(jobs)+batch-1)/batch, func(i int) {
		q := newNearQuest(aim)
		q.hold = true
		h := &hunter{p: p, q: q, best: found{score: math.Inf(1)}}
		now := jobs[i*batch : min((i+1)*batch, len(jobs))]
		for _, j := range now {
			h.in(j.set(), int(j.white), limit)
			if h.best.score <= limit {
				mu.Lock()
				within = true
				mu.Unlock()
				stop()
				break
			}
		}
		work.done(len(now))
	})
	return within, ctx.Err()
}

// chosen is a set of tubes for a string and how it does.
type chosen struct {
	set         tubeSet
	white       int
	worst, mean float64
}

func (c *chosen) before(d *chosen) bool {
	if o := cmp.Or(cmp.Compare(c.worst, d.worst), cmp.Compare(c.mean, d.mean), cmp.Compare(c.set.n, d.set.n), slices.Compare(c.set.tubes[:], d.set.tubes[:])); o != 0 {
		return o < 0
	}
	return c.white < d.white
}

// stringer tries sets of tubes for a string.
type stringer struct {
	s *ValueString
	// The least ΔE00 of each pile by each set tried so far, as far as it was of
	// interest: +Inf where it lies above the bound that held when it was sought.
	known map[job][]float64
	mu    sync.Mutex
	best  chosen // of all sets so far
}

// choose finds the tubes, and then the piles' mixes.
func (s *ValueString) choose(ctx context.Context, tolerance float64, work *progress) error {
	p := s.Palette
	t := &stringer{s: s, known: map[job][]float64{}, best: chosen{worst: math.Inf(1)}}
	short := p.colours
	if !s.Exact {
		list, err := p.promising(ctx, ShortList, func(c lab.Lab) float64 {
			least := math.Inf(1)
			for _, q := range s.Piles {
				least = min(least, lab.DE00(q.Aim, c))
			}
			return least
		})
		if err != nil {
			return err
		}
		short = list[0]
	}
	// By the number of tubes, white counted.
	var bests []chosen
	pairs := p.pairJobs()
	for n := 1; n <= 4; n++ {
		var jobs []job
		for _, j := range pairs {
			if int(j.n)+btoi(j.white >= 0) == n {
				jobs = append(jobs, j)
			}
		}
		for _, j := range p.threes(short) {
			if 3+btoi(j.white >= 0) == n {
				jobs = append(jobs, j)
			}
		}
		best, err := t.try(ctx, jobs, work)
		if err != nil {
			return err
		}
		bests = append(bests, best)
		if best.worst <= tolerance {
			break
		}
	}
	least := math.Inf(1)
	for _, b := range bests {
		least = min(least, b.worst)
	}
	if math.IsInf(least, 1) {
		return errors.New("these tubes give no mix at all: their constants are no paint's; measure or import them again")
	}
	limit := tolerance
	if least > tolerance {
		limit = least + nearlyBest
	}
	i := slices.IndexFunc(bests, func(b chosen) bool { return b.worst <= limit })
	return s.mix(bests[i])
}

// nearlyBest is how much worse than the best a set may be and still be taken
// for having fewer tubes, where none is good enough.
const nearlyBest = 0.5

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// try judges sets of one size and gives the best, if it is better than all
// smaller ones.
func (t *stringer) try(ctx context.Context, jobs []job, work *progress) (chosen, error) {
	work.plan(len(jobs))
	start := t.best
	best := chosen{worst: math.Inf(1)}
	found := make([][]float64, len(jobs))
	const batch = 32
	err := together(ctx, (len(jobs)+batch-1)/batch, func(i int) {
		hunters := t.hunters()
		for at := i * batch; at < min((i+1)*batch, len(jobs)); at++ {
			t.mu.Lock()
			bound := min(start.worst, best.worst)
			t.mu.Unlock()
			own, c, ok := t.judge(hunters, jobs[at], bound)
			found[at] = own
			if !ok {
				continue
			}
			t.mu.Lock()
			if c.before(&best) {
				best = c
			}
			t.mu.Unlock()
		}
		work.done(batch)
	})
	for i, j := range jobs {
		t.known[j] = found[i]
	}
	if best.before(&t.best) {
		t.best = best
	}
	return best, err
}

func (t *stringer) hunters() []*hunter {
	var out []*hunter
	for _, q := range t.s.Piles {
		near := newNearQuest(q.Aim)
		near.hold = true
		out = append(out, &hunter{p: t.s.Palette, q: near})
	}
	return out
}

// judge mixes every pile from a set: own are the least ΔE00 of mixes that use
// all of it, c what it does with its subsets too. It gives up, ok false, on a
// pile above the bound.
func (t *stringer) judge(hunters []*hunter, j job, bound float64) (own []float64, c chosen, ok bool) {
	c = chosen{set: j.set(), white: int(j.white)}
	var subsets [][]float64
	for mask := 1; mask < 1<<(j.n+1); mask++ {
		if sub, real := j.subset(mask); real && sub != j {
			subsets = append(subsets, t.known[sub])
		}
	}
	own = make([]float64, len(hunters))
	ok = true
	for i, h := range hunters {
		least := math.Inf(1)
		for _, k := range subsets {
			if k != nil {
				least = min(least, k[i])
			}
		}
		own[i] = math.Inf(1)
		// A set that fails may be wanted for its mixes by a larger one, but there
		// is none larger than three and white.
		if ok || j.n < 3 || j.white < 0 {
			h.best.score = math.Inf(1)
			h.in(c.set, c.white, min(bound, least))
			own[i] = h.best.score
		}
		least = min(least, own[i])
		ok = ok && least <= bound
		c.worst = max(c.worst, least)
		c.mean += least / float64(len(hunters))
	}
	return own, c, ok
}

// subset picks tubes by a mask, its highest bit standing for white; real is
// false where there is none such.
func (j job) subset(mask int) (sub job, real bool) {
	sub = newJob([3]int{-1, -1, -1}, 0, -1)
	for i := range int(j.n) {
		if mask>>i&1 == 1 {
			sub.tubes[sub.n] = j.tubes[i]
			sub.n++
		}
	}
	if mask>>j.n&1 == 1 {
		if j.white < 0 {
			return sub, false
		}
		sub.white = j.white
	}
	return sub, true
}

// mix writes out the piles' mixes from the chosen tubes.
func (s *ValueString) mix(c chosen) error {
	whole := newJob(c.set.tubes, c.set.n, c.white)
	used := map[int]bool{}
	for i := range s.Piles {
		q := &s.Piles[i]
		h := &hunter{p: s.Palette, q: newNearQuest(q.Aim), best: found{score: math.Inf(1)}}
		for mask := 1; mask < 1<<(whole.n+1); mask++ {
			if sub, real := whole.subset(mask); real {
				h.in(sub.set(), int(sub.white), h.best.score)
			}
		}
		q.Mix = s.Palette.mixed(h.best.parts(), q.Aim)
		s.Worst = max(s.Worst, q.Mix.DE00)
		s.Mean += q.Mix.DE00 / float64(len(s.Piles))
		for _, part := range q.Mix.Parts {
			used[part.Tube] = true
		}
	}
	for i := range s.Palette.Tubes {
		if used[i] {
			s.Tubes = append(s.Tubes, i)
		}
	}
	return nil
}

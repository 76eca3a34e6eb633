package recipe

import (
	"cmp"
	"context"
	"math"
	"math/bits"
	"slices"
)

// Which tubes to carry, freed of paint: masses, and for each the ways to mix
// it, a way being the few tubes it needs and how far it misses. The solver
// finds the best set of at most so many tubes and proves that none is better:
// first the lowest worst miss (kit_worst.go), then the lowest mean
// (kit_mean.go). Misses are whole millionths of ΔE00 and shares whole numbers,
// so that ties are exact.

// maxChoice is how many tubes a choice may be made among.
const maxChoice = 128

// tubeBits is a set of tubes by number.
type tubeBits struct{ lo, hi uint64 }

func bitsOf(tubes ...int) (b tubeBits) {
	for _, t := range tubes {
		b = b.with(t)
	}
	return b
}

func (b tubeBits) has(t int) bool {
	if t < 64 {
		return b.lo>>t&1 == 1
	}
	return b.hi>>(t-64)&1 == 1
}

func (b tubeBits) with(t int) tubeBits {
	if t < 64 {
		b.lo |= 1 << t
	} else {
		b.hi |= 1 << (t - 64)
	}
	return b
}

func (b tubeBits) or(c tubeBits) tubeBits  { return tubeBits{b.lo | c.lo, b.hi | c.hi} }
func (b tubeBits) not(c tubeBits) tubeBits { return tubeBits{b.lo &^ c.lo, b.hi &^ c.hi} }
func (b tubeBits) in(c tubeBits) bool      { return b.lo&^c.lo|b.hi&^c.hi == 0 }
func (b tubeBits) meets(c tubeBits) bool   { return b.lo&c.lo|b.hi&c.hi != 0 }
func (b tubeBits) empty() bool             { return b.lo|b.hi == 0 }
func (b tubeBits) count() int              { return bits.OnesCount64(b.lo) + bits.OnesCount64(b.hi) }

// first is the lowest tube of a set that is not empty.
func (b tubeBits) first() int {
	if b.lo != 0 {
		return bits.TrailingZeros64(b.lo)
	}
	return 64 + bits.TrailingZeros64(b.hi)
}

func (b tubeBits) list() []int {
	var out []int
	for ; !b.empty(); b = b.not(bitsOf(b.first())) {
		out = append(out, b.first())
	}
	return out
}

// way is one way to mix a mass.
type way struct {
	need tubeBits
	tube [4]uint8 // the tubes of need; maxChoice for those that are not
	miss int32
}

func newWay(miss int32, tubes ...int) way {
	w := way{tube: [4]uint8{maxChoice, maxChoice, maxChoice, maxChoice}, miss: miss}
	for i, t := range tubes {
		w.tube[i] = uint8(t)
		w.need = w.need.with(t)
	}
	return w
}

// choice is the problem: of tubes numbered from 0 take at most so many, those
// in keep always.
type choice struct {
	keep  tubeBits
	carry []int64 // each tube's weight to carry
	share []int64 // each mass's weight; their sum times nowhere fits in an int64
	ways  [][]way // per mass, ascending miss
}

// nowhere is the miss of a mass that has no way.
const nowhere = math.MaxInt32

// missOf is the least miss of a mass with the tubes at hand.
func (c *choice) missOf(mass int, tubes tubeBits) int32 {
	if w := c.wayOf(mass, tubes); w != nil {
		return w.miss
	}
	return nowhere
}

// wayOf is the best way to mix a mass with the tubes at hand; nil where there
// is none.
func (c *choice) wayOf(mass int, tubes tubeBits) *way {
	for i := range c.ways[mass] {
		if w := &c.ways[mass][i]; w.need.in(tubes) {
			return w
		}
	}
	return nil
}

// picked is a set of tubes and how well it does.
type picked struct {
	tubes tubeBits
	level int32 // the greatest of miss − allowance over the masses, at least 0
	mean  int64 // Σ share·miss
	carry int64
}

// compare orders sets, the better first: by level, mean, number of tubes,
// weight and at last the list of tubes.
func (p *picked) compare(q *picked) int {
	return cmp.Or(
		cmp.Compare(p.level, q.level),
		cmp.Compare(p.mean, q.mean),
		cmp.Compare(p.tubes.count(), q.tubes.count()),
		cmp.Compare(p.carry, q.carry),
		slices.Compare(p.tubes.list(), q.tubes.list()))
}

// judge says how well a set does; allow is each mass's allowance. ok is false
// where some mass has no way at all.
func (c *choice) judge(tubes tubeBits, allow []int32) (p picked, ok bool) {
	p.tubes = tubes
	for m := range c.ways {
		miss := c.missOf(m, tubes)
		if miss == nowhere {
			return p, false
		}
		p.level = max(p.level, miss-allow[m])
		p.mean += c.share[m] * int64(miss)
	}
	for _, t := range tubes.list() {
		p.carry += c.carry[t]
	}
	return p, true
}

// solver answers a choice within so much work, counted in ways looked at.
type solver struct {
	*choice
	ctx        context.Context
	work, most int64
	watch      int64 // the work at which ctx is looked at next
	spent      bool  // out of work, or told to stop
}

// tick counts work and reports whether to stop.
func (s *solver) tick(n int) bool {
	s.work += int64(n)
	if s.work >= s.watch {
		s.watch = s.work + 1<<18
		s.spent = s.spent || s.work > s.most || s.ctx.Err() != nil
	}
	return s.spent
}

// best finds the best set of at most n tubes by picked.compare. start, where
// not nil, is a set of at most n tubes that is known. ok is false where no set
// of n tubes gives every mass a way. proven is false where the work ran out,
// and then the set is the best seen.
func (s *solver) best(n int, allow []int32, start *picked) (p picked, proven, ok bool) {
	if start != nil {
		p = s.polish(*start, n, allow)
		start = &p
	}
	p, proven, ok = s.leastWorst(n, allow, start)
	if !ok || !proven {
		return p, proven, ok
	}
	p, proven = s.leastMean(n, allow, p)
	return p, proven, true
}

// within looks for any set of at most n tubes that keeps every mass within its
// allowance.
func (s *solver) within(n int, allow []int32) (p picked, proven, ok bool) {
	p, proven, ok = s.leastWorst(n, allow, &picked{level: 1})
	return p, proven, ok && p.level == 0
}

// polish betters a set by adding, leaving out or exchanging single tubes until
// nothing helps.
func (s *solver) polish(p picked, n int, allow []int32) picked {
	var all tubeBits
	for _, ways := range s.ways {
		for i := range ways {
			all = all.or(ways[i].need)
		}
	}
	hard := 0 // the mass that ruled out the last set: likely to rule out the next
	within := func(tubes tubeBits, level int32) bool {
		if s.missOf(hard, tubes) > allow[hard]+level {
			return false
		}
		for m := range s.ways {
			if s.missOf(m, tubes) > allow[m]+level {
				hard = m
				return false
			}
		}
		return true
	}
	for {
		best := p
		try := func(tubes tubeBits) {
			if s.tick(64) || !within(tubes, best.level) {
				return
			}
			if q, ok := s.judge(tubes, allow); ok && q.compare(&best) < 0 {
				best = q
			}
		}
		free := all.not(p.tubes).list()
		if p.tubes.count() < n {
			for _, t := range free {
				try(p.tubes.with(t))
			}
		}
		for _, out := range p.tubes.not(s.keep).list() {
			less := p.tubes.not(bitsOf(out))
			try(less)
			for _, t := range free {
				try(less.with(t))
			}
		}
		if best == p {
			return p
		}
		p = best
	}
}

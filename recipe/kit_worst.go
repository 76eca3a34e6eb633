package recipe

import "slices"

// descent finds the lowest level that a set of n tubes can have. It branches on
// the mass with fewest ways left that would lower the level: one of them must
// be within the set.
type descent struct {
	*solver
	n     int
	allow []int32
	best  picked
	ok    bool              // there is a best
	lists [][][]way         // by depth and mass: the ways still open
	seen  map[tubeBits]bool // sets all of whose supersets are dealt with
}

func (s *solver) leastWorst(n int, allow []int32, start *picked) (p picked, proven, ok bool) {
	if n < s.keep.count() {
		return picked{}, true, false
	}
	d := &descent{solver: s, n: n, allow: allow, lists: [][][]way{s.ways}, seen: map[tubeBits]bool{}}
	if start != nil {
		d.best, d.ok = *start, true
	}
	d.run(0, s.keep, tubeBits{})
	return d.best, !s.spent, d.ok
}

// bar is the miss that a mass must stay below for the level to fall.
func (d *descent) bar(mass int) int32 {
	if !d.ok {
		return nowhere
	}
	return d.allow[mass] + d.best.level
}

// found takes a set that lowers the level.
func (d *descent) found(tubes tubeBits) {
	if p, ok := d.judge(tubes, d.allow); ok {
		d.best, d.ok = d.polish(p, d.n, d.allow), true
	}
}

// run deals with every superset of tubes that holds none of banned; those that
// hold some are dealt with elsewhere.
func (d *descent) run(depth int, tubes, banned tubeBits) {
	if d.spent || d.seen[tubes] || d.ok && d.best.level == 0 {
		return
	}
	left := d.n - tubes.count()
	if len(d.lists) == depth+1 {
		d.lists = append(d.lists, make([][]way, len(d.ways)))
	}
	open := d.lists[depth+1]
	branch, fewest := -1, 0
	for m, from := range d.lists[depth] {
		open[m] = open[m][:0]
		done, bar := false, d.bar(m)
		for i := range from {
			w := &from[i]
			if w.miss >= bar {
				break
			}
			missing := w.need.not(tubes)
			if missing.empty() {
				done = true
				break
			}
			if !missing.meets(banned) && missing.count() <= left {
				open[m] = append(open[m], *w)
			}
		}
		if d.tick(len(from)) {
			return
		}
		switch {
		case done: // until the level falls
			open[m] = append(open[m][:0], from...)
		case len(open[m]) == 0:
			d.seen[tubes] = true
			return
		case branch < 0 || len(open[m]) < fewest:
			branch, fewest = m, len(open[m])
		}
	}
	if branch < 0 {
		// Every mass lies below the level, so the level falls, and more tubes
		// may lower it again.
		d.found(tubes)
		if left > 0 {
			d.run(depth, tubes, banned)
		}
		return
	}
	var tried []tubeBits
	for _, w := range slices.Clone(open[branch]) {
		if w.miss >= d.bar(branch) {
			break
		}
		missing := w.need.not(tubes)
		if missing.meets(banned) || slices.ContainsFunc(tried, func(b tubeBits) bool { return b.in(missing) }) {
			continue
		}
		d.run(depth+1, tubes.or(missing), banned)
		if d.spent {
			return
		}
		if missing.count() == 1 {
			banned = banned.or(missing)
		} else {
			tried = append(tried, missing)
		}
	}
	d.seen[tubes] = true
}

package recipe

import (
	"cmp"
	"math"
	"slices"
)

// meaner finds, among the sets of n tubes at the lowest level, the one of
// lowest mean, by branch and bound: over the few ways of a mass that is not
// mixed yet, or else over single tubes, taken and left out.
//
// The bound is Lagrange's. Each tube of a way costs its mass a toll, a tube
// that is taken earns the tolls of all masses, and for any tolls >= 0
//
//	Σ over masses of min over ways (share·miss + tolls of its tubes) − Σ of the n highest earnings
//
// is no more than the mean of any set of n tubes, since a mass that pays for a
// tube has it in the set. Tolls are bettered by subgradient steps. With one way
// or one tube forced into the same sum it tells what forcing costs, and settles
// most of them. (The textbook bound for facility location: Cornuéjols, Fisher &
// Nemhauser, Management Science 23, 1977.)
type meaner struct {
	*solver
	n     int
	allow []int32
	best  picked
	order []int             // the masses, fewest ways first
	seen  map[tubeBits]bool // as in descent
	lists [][][]way         // by tubes left to take: the ways open

	toll  [][maxChoice + 1]float64 // by mass and tube; 0 for tubes in the set
	earn  [maxChoice]float64
	cheap []float64  // by mass: the cost of its cheapest way
	pick  []tubeBits // and its tubes

	// For lastTwo.
	at       [maxChoice]int
	alone    []int32
	together []int64
	mark     []int32
	pairs    []duo
}

// loosely makes room for rounding in a bound.
const loosely = 1 + 1e-9

// fewWays is up to how many ways of a mass are branched over; tollSteps is how
// many steps better the tolls at each branch, and tollStep how long they are, as
// a share of what would close the gap. Tuned on 60 tubes of the library and
// real photos.
const (
	fewWays   = 100
	tollSteps = 6
	tollStep  = 0.3
)

func (s *solver) leastMean(n int, allow []int32, start picked) (p picked, proven bool) {
	m := &meaner{
		solver: s, n: n, allow: allow, best: start, seen: map[tubeBits]bool{},
		toll:  make([][maxChoice + 1]float64, len(s.ways)),
		cheap: make([]float64, len(s.ways)),
		pick:  make([]tubeBits, len(s.ways)),
	}
	root := make([][]way, len(s.ways))
	for i, ways := range s.ways {
		m.order = append(m.order, i)
		for _, w := range ways {
			if w.miss <= allow[i]+start.level {
				root[i] = append(root[i], w)
			}
		}
	}
	slices.SortStableFunc(m.order, func(a, b int) int { return cmp.Compare(len(root[a]), len(root[b])) })
	if start.level == 0 {
		m.run(root, s.keep, tubeBits{})
		return m.best, !s.spent
	}
	// Some mass misses by exactly the level, so one of the few ways that do is
	// within the set.
	for i := range root {
		for _, w := range root[i] {
			if more := w.need.not(s.keep); w.miss == allow[i]+start.level && s.keep.or(more).count() <= n {
				m.take(root, s.keep, more, tubeBits{})
			}
		}
	}
	return m.best, !s.spent
}

// top is the bound beyond which no set is as good as the best so far; means are
// whole numbers.
func (m *meaner) top() float64 { return float64(m.best.mean)*loosely + 0.5 }

func (m *meaner) consider(tubes tubeBits) {
	if p, ok := m.judge(tubes, m.allow); ok && p.compare(&m.best) < 0 {
		m.best = p
	}
}

// run deals with every superset of tubes that holds none of banned; those that
// hold some are dealt with elsewhere. from are the ways open to it.
func (m *meaner) run(from [][]way, tubes, banned tubeBits) {
	if m.spent || m.seen[tubes] {
		return
	}
	if left := m.n - tubes.count(); left <= 2 {
		m.lastTwo(from, tubes, banned, left)
	} else {
		m.branch(from, tubes, banned, left)
	}
	if !m.spent {
		m.seen[tubes] = true
	}
}

func (m *meaner) branch(from [][]way, tubes, banned tubeBits, left int) {
	for len(m.lists) <= left {
		m.lists = append(m.lists, make([][]way, len(m.ways)))
	}
	open := m.lists[left]
	for _, i := range m.order {
		open[i] = open[i][:0]
		for j := range from[i] {
			w := &from[i][j]
			if missing := w.need.not(tubes); !missing.meets(banned) && missing.count() <= left {
				open[i] = append(open[i], *w)
				if missing.empty() { // dearer ways are of no use
					break
				}
			}
		}
		if m.tick(len(from[i])) || len(open[i]) == 0 {
			return
		}
	}
	for {
		slack := m.best.mean
		for i, ways := range open {
			slack -= m.share[i] * int64(ways[0].miss)
		}
		if m.spent || slack < 0 {
			return
		}
		var free tubeBits
		narrow, fewest := -1, fewWays
		for i, ways := range open {
			end := len(ways)
			for m.share[i]*int64(ways[end-1].miss-ways[0].miss) > slack {
				end--
			}
			ways = ways[:end]
			open[i] = ways
			for j := range ways {
				free = free.or(ways[j].need)
			}
			if end < fewest && !ways[end-1].need.in(tubes) {
				narrow, fewest = i, end
			}
		}
		free = free.not(tubes)
		if free.count() <= left {
			m.subsets(tubes, free)
			return
		}
		if narrow >= 0 {
			m.among(open, narrow, tubes, banned)
			return
		}
		t, sure := m.settle(open, tubes, free, left, &banned)
		if t < 0 {
			return
		}
		m.take(open, tubes, bitsOf(t), banned)
		if sure || m.spent {
			return
		}
		// And without the tube.
		banned = banned.with(t)
		for i, ways := range open {
			open[i] = slices.DeleteFunc(ways, func(w way) bool { return w.need.meets(banned) })
			if m.tick(len(ways)) || len(open[i]) == 0 {
				return
			}
		}
	}
}

// subsets considers the tubes with any of the free ones, for which there is
// room.
func (m *meaner) subsets(tubes, free tubeBits) {
	m.tick(len(m.ways))
	all, ok := m.judge(tubes.or(free), m.allow)
	if !ok || all.level > m.best.level || all.mean > m.best.mean || m.spent {
		return // and fewer tubes do no better
	}
	if free.empty() {
		m.consider(tubes)
		return
	}
	t := bitsOf(free.first())
	m.subsets(tubes.or(t), free.not(t))
	m.subsets(tubes, free.not(t))
}

// among branches on a mass that the tubes can't mix: one of its ways must be
// within the set.
func (m *meaner) among(open [][]way, mass int, tubes, banned tubeBits) {
	var tried []tubeBits
	for _, w := range open[mass] {
		missing := w.need.not(tubes)
		if missing.meets(banned) || slices.ContainsFunc(tried, func(b tubeBits) bool { return b.in(missing) }) {
			continue
		}
		m.take(open, tubes, missing, banned)
		if m.spent {
			return
		}
		if missing.count() == 1 {
			banned = banned.or(missing)
		} else {
			tried = append(tried, missing)
		}
	}
}

// settle bounds what the tubes can come to, drops the ways and bans the tubes
// that cost too much to force, and gives the tube to branch on; −1 where the
// bound rules all out. sure says that the tube costs too much to leave out.
func (m *meaner) settle(open [][]way, tubes, free tubeBits, left int, banned *tubeBits) (tube int, sure bool) {
	bound, taken := m.tighten(open, tubes, free, left)
	slack := m.top() - bound
	if m.spent || slack < 0 {
		return -1, false
	}
	tube = -1
	most, least, next := math.Inf(-1), math.Inf(1), math.Inf(-1) // earnings of those taken; the best of the others
	for _, t := range free.list() {
		e := m.earn[t]
		if !taken.has(t) {
			next = max(next, e)
			continue
		}
		least = min(least, e)
		if e > most {
			tube, most = t, e
		}
	}
	for _, t := range free.not(taken).list() {
		if least-m.earn[t] > slack {
			*banned = banned.with(t)
		}
	}
	for i, ways := range open {
		open[i] = slices.DeleteFunc(ways, func(w way) bool {
			return m.cost(i, &w)-m.cheap[i] > slack || w.need.meets(*banned)
		})
		if m.tick(len(ways)) || len(open[i]) == 0 {
			return -1, false
		}
	}
	return tube, most-next > slack
}

// cost is what a way costs a mass, tolls included.
func (m *meaner) cost(mass int, w *way) float64 {
	t := &m.toll[mass]
	return float64(m.share[mass])*float64(w.miss) + t[w.tube[0]] + t[w.tube[1]] + t[w.tube[2]] + t[w.tube[3]]
}

// take runs with more tubes in the set, for which there is no toll.
func (m *meaner) take(open [][]way, tubes, more, banned tubeBits) {
	list := more.list()
	saved := make([]float64, 0, 4*len(m.toll))
	for _, t := range list {
		for i := range m.toll {
			saved = append(saved, m.toll[i][t])
			m.toll[i][t] = 0
		}
	}
	m.run(open, tubes.or(more), banned)
	for j, t := range list {
		for i := range m.toll {
			m.toll[i][t] = saved[j*len(m.toll)+i]
		}
	}
}

// tighten betters the tolls, and gives the bound by the last of them and the
// tubes it takes; earn and cheap are theirs.
func (m *meaner) tighten(open [][]way, tubes, free tubeBits, left int) (bound float64, taken tubeBits) {
	order := free.list()
	for step := 0; ; step++ {
		m.earn = [maxChoice]float64{}
		bound = 0
		for i, ways := range open {
			least, best := math.Inf(1), &ways[0]
			j := 0
			for ; j < len(ways) && float64(m.share[i])*float64(ways[j].miss) < least; j++ {
				if v := m.cost(i, &ways[j]); v < least {
					least, best = v, &ways[j]
				}
			}
			m.tick(j)
			m.cheap[i], m.pick[i] = least, best.need.not(tubes)
			bound += least
			for _, t := range order {
				m.earn[t] += m.toll[i][t]
			}
		}
		slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(m.earn[b], m.earn[a]) })
		taken = tubeBits{}
		for _, t := range order[:left] {
			bound -= m.earn[t]
			taken = taken.with(t)
		}
		if step == tollSteps || bound > m.top() || m.spent {
			m.consider(tubes.or(taken))
			return bound, taken
		}
		// Up where a mass uses a tube that is not taken, down where it does not
		// use one that is.
		norm := 0
		for i := range open {
			norm += m.pick[i].not(taken).count()
			for _, t := range taken.not(m.pick[i]).list() {
				if m.toll[i][t] > 0 {
					norm++
				}
			}
		}
		if norm == 0 {
			m.consider(tubes.or(taken))
			return bound, taken
		}
		size := tollStep * (m.top()*(1+1e-4) - bound) / float64(norm)
		for i := range open {
			for _, t := range m.pick[i].not(taken).list() {
				m.toll[i][t] += size
			}
			for _, t := range taken.not(m.pick[i]).list() {
				m.toll[i][t] = max(0, m.toll[i][t]-size)
			}
		}
	}
}

// duo is a way that wants two more tubes.
type duo struct {
	x, y, mass int
	miss       int32
}

// lastTwo tries every one and, with two left, every two of the tubes that are
// not banned as the last to take.
func (m *meaner) lastTwo(from [][]way, tubes, banned tubeBits, left int) {
	m.consider(tubes)
	if left == 0 {
		return
	}
	masses := len(from)
	var list []int
	var known tubeBits
	// alone holds, by tube and mass, the least miss with that tube or none.
	row := func(t int) []int32 {
		if !known.has(t) {
			known = known.with(t)
			m.at[t] = len(list)
			list = append(list, t)
			if need := len(list) * masses; len(m.alone) < need {
				m.alone = append(m.alone, make([]int32, need-len(m.alone))...)
			}
			for i := range masses {
				m.alone[m.at[t]*masses+i] = nowhere
			}
		}
		return m.alone[m.at[t]*masses : (m.at[t]+1)*masses]
	}
	own := make([]int32, masses)
	m.pairs = m.pairs[:0]
	hard, fewest := -1, math.MaxInt // the mass that fewest pairs serve
	for _, i := range m.order {
		own[i] = nowhere
		ones, twos := 0, 0
		for j := range from[i] {
			w := &from[i][j]
			missing := w.need.not(tubes)
			if missing.empty() {
				own[i] = w.miss
				break
			}
			if missing.meets(banned) || missing.count() > left {
				continue
			}
			x := missing.first()
			if rest := missing.not(bitsOf(x)); rest.empty() {
				ones++
				a := row(x)
				a[i] = min(a[i], w.miss)
			} else {
				twos++
				y := rest.first()
				row(x)
				row(y)
				m.pairs = append(m.pairs, duo{x, y, i, w.miss})
			}
		}
		if m.tick(len(from[i])) {
			return
		}
		if own[i] < nowhere {
			continue
		}
		if ones+twos == 0 {
			return
		}
		if n := ones*maxChoice/2 + twos; n < fewest {
			hard, fewest = i, n
		}
	}
	n := len(list)
	for x := range n {
		a := m.alone[x*masses : (x+1)*masses]
		sum := int64(0)
		for i, share := range m.share {
			a[i] = min(a[i], own[i])
			sum += share * int64(a[i])
		}
		if sum <= m.best.mean {
			m.consider(tubes.with(list[x]))
		}
	}
	if left < 2 {
		return
	}
	// together holds what a pair gives beyond the better of its tubes.
	m.together = append(m.together[:0], make([]int64, n*n)...)
	m.mark = append(m.mark[:0], make([]int32, n*n)...)
	for _, p := range m.pairs {
		x, y := m.at[p.x], m.at[p.y]
		at := min(x, y)*n + max(x, y)
		apart := min(m.alone[x*masses+p.mass], m.alone[y*masses+p.mass])
		if p.miss < apart && m.mark[at] != int32(p.mass+1) { // the first is the least
			m.mark[at] = int32(p.mass + 1)
			m.together[at] += m.share[p.mass] * int64(apart-p.miss)
		}
	}
	try := func(x, y int) {
		a := m.alone[x*masses : (x+1)*masses]
		b := m.alone[y*masses : (y+1)*masses]
		sum := -m.together[min(x, y)*n+max(x, y)]
		for i, share := range m.share {
			sum += share * int64(min(a[i], b[i]))
		}
		m.work += int64(masses/4 + 1)
		if sum <= m.best.mean {
			m.consider(tubes.with(list[x]).with(list[y]))
		}
	}
	serves := func(x int) bool { return hard < 0 || m.alone[x*masses+hard] < nowhere }
	for x := range n {
		for y := x + 1; y < n; y++ {
			if serves(x) || serves(y) {
				try(x, y)
			}
		}
	}
	for _, p := range m.pairs {
		if x, y := m.at[p.x], m.at[p.y]; p.mass == hard && !serves(x) && !serves(y) {
			try(x, y)
		}
	}
}

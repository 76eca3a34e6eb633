package recipe

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"paintout/analyze/lab"
)

// KitTolerance is the ΔE00 within which a mass counts as mixed unless the
// painter sets another.
const KitTolerance = 3.0

// KitSlack is how much worse than the whole box's best a mass may be mixed that
// the box cannot bring within tolerance, in ΔE00.
const KitSlack = 0.5

// KitBox is how many tubes at most a kit is chosen among, all mixes of all of
// them being known, and kitSets how many sets of three coloured tubes, each
// counted once for no white and once for every white: what 77 tubes and one
// white make. Of a larger box the kitShort tubes that look most useful are taken,
// with at most kitWhites whites, and the answer is not proven: in so large a
// box many tubes are alike, so that few mixes can be passed over.
const (
	KitBox    = 80
	kitSets   = 160e3
	kitShort  = 40
	kitWhites = 2
)

// tooMany reports that a box is past the size limit.
func tooMany(colours, whites int) bool {
	sets := colours * (colours - 1) * (colours - 2) / 6 * (1 + whites)
	return colours+whites > KitBox || sets > kitSets
}

// KitWork is the work after which a question is left unproven, in ways to mix a
// mass that are looked at: some seconds.
const KitWork = 400e6

// The curve goes on until more tubes gain nothing. Up to curveBeyond tubes more
// than the kit's it is worked at like the kit; further points, whose gains are
// small, get farWork each, and it ends where that is not enough.
const (
	curveBeyond = 3
	farWork     = KitWork / 20
)

// KitOptions says what a kit must do.
type KitOptions struct {
	Tolerance   float64   // ΔE00 within which a mass counts as mixed, 0 or more; KitTolerance is usual
	Keep, Leave []int     // tubes (indices into Palette.Tubes) that must be carried, and that must not
	Max         int       // carry at most so many, white counted; 0 for as many as it takes
	Given       []int     // the kit, if the painter has chosen it: it is judged, not sought, and Max, Keep and Leave don't apply
	Shares      []float64 // each aim's area, in any unit; nil for equal ones. The shares of several photos are given one after the other
	Carry       []float64 // each tube's weight to carry, in any unit, such as ml; nil for equal ones
	Work        int64     // the work for each question; 0 for KitWork
	// Progress, if set, is called now and then with the sets of tubes mixed and
	// in all; choosing among them comes after.
	Progress func(done, all int)
}

// Kit is the fewest tubes that mix all the aims.
//
// An aim's limit is the tolerance or, where the whole box cannot come within
// it, KitSlack beyond the box's best. A kit mixes every aim within its limit
// from its own tubes. Of the smallest kits it is the one with the lowest mean
// error weighted by area, then the lightest to carry, then the first in the
// palette's order. Where Max is too few for any kit it is the set that
// exceeds the limits least, and next has the lowest mean. A kit that was given
// is what it is, and nothing is proven of it.
type Kit struct {
	Palette *Palette
	Tubes   []int // indices into Palette.Tubes, ascending
	// Proven says that no smaller set does and none of its size is better, over
	// the ladder's parts; Least only that no smaller set does, or where Max is
	// too few that none exceeds the limits less.
	Proven, Least bool
	Among         int     // tubes it was chosen among; fewer than may be carried where those are too many
	Needed        int     // how many tubes it takes; more than len(Tubes) where Max is too few, 0 where that is not known
	Worst, Mean   float64 // ΔE00: the greatest miss, and the mean weighted by area
	Masses        []KitMass
	Blocked       []int // aims that the whole box cannot bring within tolerance
	Short         []int // aims beyond their limits, where Max is too few
	Curve         []KitStep
	Uses          []KitUse // per tube of the kit
	// Unused are tubes of the box that could be taken out of it with nothing
	// lost: in no nearest mix of any aim, nor in the kit or on its curve.
	Unused []int
}

// KitMass is what a kit does for one aim.
type KitMass struct {
	Aim   lab.Lab
	Share float64 // of the area; all sum to 1
	Best  float64 // ΔE00 of the nearest mix of the whole box
	Limit float64 // ΔE00 that a kit must come within
	DE00  float64
	Parts []Part // the kit's nearest mix, in mixing order
}

// KitStep is a point on the curve: the best set of at most Count tubes, by the
// greatest miss, then the mean.
type KitStep struct {
	Count       int
	Tubes       []int
	Worst, Mean float64
	In, Out     []int // what changed from the step before; best sets need not nest
	Proven      bool
}

// KitUse says what a tube of a kit is there for.
type KitUse struct {
	Tube   int
	Masses []int // aims whose mix has it
	// Lost are the aims that would leave their limits without it, or miss by
	// more where they lie beyond. The remaining tubes then mix the aims with
	// this greatest miss and mean; +Inf where nothing remains. WorstAt is the
	// aim that misses by the most.
	Lost        []int
	Worst, Mean float64
	WorstAt     int
}

// Kit finds the fewest of the palette's tubes that mix all aims (D65 Lab), and
// the curve of what any number of tubes can do. The aims are taken as they are:
// fit a photo's range once to all tubes that may be carried. It stops early
// with ctx's error.
func (p *Palette) Kit(ctx context.Context, aims []lab.Lab, o KitOptions) (*Kit, error) {
	if err := p.checkKit(aims, &o); err != nil {
		return nil, err
	}
	k := &kitMaker{ctx: ctx, all: p, o: o, aims: aims}
	k.shares()
	if err := k.table(); err != nil {
		return nil, err
	}
	k.choose()
	k.curve()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if err := k.explain(); err != nil {
		return nil, err
	}
	return &k.kit, nil
}

func (p *Palette) checkKit(aims []lab.Lab, o *KitOptions) error {
	n := len(p.Tubes)
	if len(aims) == 0 {
		return errors.New("there are no masses to find a kit for")
	}
	for _, a := range aims {
		if !a.Finite() {
			return errors.New("a mass has no colour: analyse the photo again")
		}
	}
	if !(o.Tolerance >= 0) {
		return fmt.Errorf("a tolerance of %v ΔE00: give 0 or more, %g is usual", o.Tolerance, KitTolerance)
	}
	if o.Max < 0 {
		return fmt.Errorf("a kit of at most %d tubes: give 1 or more", o.Max)
	}
	if o.Shares != nil && len(o.Shares) != len(aims) || o.Carry != nil && len(o.Carry) != n {
		return fmt.Errorf("%d shares for %d masses, %d weights for %d tubes: give one for each", len(o.Shares), len(aims), len(o.Carry), n)
	}
	for _, v := range slices.Concat(o.Shares, o.Carry) {
		if !(v >= 0) || math.IsInf(v, 1) {
			return fmt.Errorf("an area or weight of %v: give 0 or more", v)
		}
	}
	if len(o.Given) > 0 {
		o.Keep, o.Leave, o.Max = nil, nil, 0
		o.Given = slices.Compact(slices.Sorted(slices.Values(o.Given)))
	}
	for _, t := range slices.Concat(o.Keep, o.Leave, o.Given) {
		if t < 0 || t >= n {
			return fmt.Errorf("there is no tube %d to keep, leave or carry among %d", t, n)
		}
	}
	keep := slices.Compact(slices.Sorted(slices.Values(o.Keep)))
	leave := slices.Compact(slices.Sorted(slices.Values(o.Leave)))
	for _, t := range keep {
		if slices.Contains(leave, t) {
			return fmt.Errorf("%s is both to be kept and to be left: choose one", p.Tubes[t].Name)
		}
	}
	if len(leave) == n {
		return errors.New("every tube is to be left at home: leave fewer")
	}
	if o.Max > 0 && len(keep) > o.Max {
		return fmt.Errorf("%d tubes are to be kept but at most %d carried: keep fewer or allow more", len(keep), o.Max)
	}
	if len(o.Given) > KitBox {
		return fmt.Errorf("a kit of %d tubes, more than the %d that can be judged: give fewer", len(o.Given), KitBox)
	}
	if len(keep) > KitBox {
		return fmt.Errorf("%d tubes are to be kept, more than the %d a kit is chosen among: keep fewer", len(keep), KitBox)
	}
	o.Keep, o.Leave = keep, leave
	if o.Work == 0 {
		o.Work = KitWork
	}
	return nil
}

// kitMaker is a kit being made.
type kitMaker struct {
	ctx   context.Context
	all   *Palette
	o     KitOptions
	aims  []lab.Lab
	share []int64 // in billionths

	tubes  []int    // of all: those chosen among
	box    *Palette // of them
	mixes  *Table
	cut    bool // tubes were passed over unseen
	ways   choice
	limits []int32
	none   []int32 // allowance where the miss itself counts
	best   []int32 // of the whole box
	picked picked  // the kit

	kit Kit
}

const million = 1e6 // of ΔE00 in a way's miss

func inMillionths(de float64) int32 { return int32(math.Round(min(de, 1000) * million)) }

func (k *kitMaker) shares() {
	sum := 0.0
	for _, s := range k.o.Shares {
		sum += s
	}
	k.kit.Masses = make([]KitMass, len(k.aims))
	for i := range k.aims {
		part := 1 / float64(len(k.aims))
		if sum > 0 {
			part = k.o.Shares[i] / sum
		}
		k.kit.Masses[i] = KitMass{Aim: k.aims[i], Share: part}
		k.share = append(k.share, int64(math.Round(part*1e9)))
	}
}

// table mixes the tubes that may be carried.
func (k *kitMaker) table() error {
	for i := range k.all.Tubes {
		if !slices.Contains(k.o.Leave, i) {
			k.tubes = append(k.tubes, i)
		}
	}
	if box := k.part(k.tubes); tooMany(len(box.colours), len(box.whites)) && len(k.o.Given) < len(k.tubes) {
		k.cut = true
		if err := k.shortlist(); err != nil {
			return err
		}
	}
	k.box = k.part(k.tubes)
	k.none = make([]int32, len(k.aims))
	k.ways.share = k.share
	k.ways.carry = make([]int64, len(k.tubes))
	for i, t := range k.tubes {
		k.ways.carry[i] = 1
		if k.o.Carry != nil {
			k.ways.carry[i] = int64(math.Round(min(k.o.Carry[t], 1e9) * 1e3))
		}
		if slices.Contains(k.o.Keep, t) {
			k.ways.keep = k.ways.keep.with(i)
		}
	}
	var err error
	k.mixes, err = k.box.Search(k.ctx, k.aims, SearchOptions{Slack: KitSlack, Improving: true, bar: k.bar, Progress: k.o.Progress})
	if err != nil {
		return err
	}
	k.ways.ways = waysOf(k.mixes, 3)
	k.best = make([]int32, len(k.aims))
	k.limits = make([]int32, len(k.aims))
	for i := range k.aims {
		k.best[i] = k.ways.ways[i][0].miss
		k.limits[i] = inMillionths(k.o.Tolerance)
		if k.best[i] > k.limits[i] {
			k.limits[i] = k.best[i] + inMillionths(KitSlack)
			k.kit.Blocked = append(k.kit.Blocked, i)
		}
		m := &k.kit.Masses[i]
		m.Best, m.Limit = k.mixes.best[i], float64(k.limits[i])/million
	}
	return nil
}

// part is a palette of some of the tubes, whose range is not asked for.
func (k *kitMaker) part(tubes []int) *Palette {
	p := &Palette{Finish: k.all.Finish}
	for i, t := range tubes {
		tube := k.all.Tubes[t]
		p.Tubes = append(p.Tubes, tube)
		if tube.White {
			p.whites = append(p.whites, i)
		} else {
			p.colours = append(p.colours, i)
		}
	}
	return p
}

// waysOf lists, for each aim, the mixes of a table of up to so many coloured
// tubes as ways, the best first.
func waysOf(t *Table, most int) [][]way {
	p := t.Palette
	out := make([][]way, len(t.Aims))
	for i, set := range t.sets {
		if set.n > most {
			continue
		}
		for c := 0; c*len(t.Aims) < t.stride; c++ {
			var tubes [4]int
			n := copy(tubes[:], set.tubes[:set.n])
			if c > 0 {
				tubes[n] = p.whites[c-1]
				n++
			}
			for a := range t.Aims {
				if de := t.near[i*t.stride+c*len(t.Aims)+a].de00; !math.IsInf(de, 1) {
					out[a] = append(out[a], newWay(inMillionths(de), tubes[:n]...))
				}
			}
		}
	}
	for _, ways := range out {
		slices.SortStableFunc(ways, func(x, y way) int { return cmp.Compare(x.miss, y.miss) })
	}
	return out
}

// bar says, from the mixes of two coloured tubes and a look at some of three,
// up to which miss those of three can matter, and how far beyond the best. What
// some few tubes can do the best kit of as many can do at least as well, and
// then no mass misses by more. Threes without white matter once three tubes are
// carried, with white once four are.
func (k *kitMaker) bar(t *Table, scan func(sets []int, b bars)) bars {
	pairs := k.ways
	pairs.ways = waysOf(t, 2)
	limits := make([]int32, len(k.aims))
	needed := 1 // tubes that a kit of pairs takes, if it is known
	for i := range limits {
		limits[i] = inMillionths(k.o.Tolerance)
		if pairs.ways[i][0].miss > limits[i] {
			needed = math.MaxInt // the limit of this mass is not known yet
		}
	}
	for ; needed <= max(3, k.o.Max); needed++ {
		if _, _, ok := k.solver(&pairs).within(needed, limits); ok {
			break
		}
	}
	// level is the greatest miss with n tubes, or an upper bound.
	level := func(n int) float64 {
		p, _, ok := k.solver(&pairs).leastWorst(max(n, pairs.keep.count()), k.none, nil)
		if !ok {
			return math.Inf(1)
		}
		return float64(p.level) / million
	}
	over := 0.0 // how far beyond their limits masses may be
	if k.o.Max > 0 && needed > k.o.Max {
		over = max(0, level(k.o.Max)-k.o.Tolerance)
	}
	const rounding = 2 / million
	floor := func(carried int) float64 { // what kits ask for
		if needed >= carried {
			return k.o.Tolerance + over + rounding
		}
		return 0
	}
	b := bars{slack: KitSlack + over + rounding}
	b.choice = append(b.choice, max(floor(3), level(3)+rounding))
	if len(t.Palette.whites) == 0 {
		return b
	}
	four := level(4) + rounding
	for range t.Palette.whites {
		b.choice = append(b.choice, max(floor(4), four))
	}
	if four > floor(4) {
		four = min(four, k.goodFour(t, func(sets []int) { scan(sets, b) })+rounding)
		for c := range t.Palette.whites {
			b.choice[1+c] = max(floor(4), four)
		}
	}
	return b
}

// goodFour looks for three colours and a white whose greatest miss is low, and
// gives that miss; +Inf where those to be kept are others. It starts from those
// that do best in pairs and exchanges one colour at a time.
func (k *kitMaker) goodFour(t *Table, scan func(sets []int)) float64 {
	p, aims := t.Palette, len(t.Aims)
	m := len(p.colours)
	var kept []int // places among the colours
	choices := len(p.whites)
	first := 1
	for _, i := range k.ways.keep.list() {
		if at, ok := slices.BinarySearch(p.colours, i); ok {
			kept = append(kept, at)
		} else {
			first = 1 + slices.Index(p.whites, i)
			choices--
		}
	}
	if m < 3 || len(kept) > 3 || choices < len(p.whites)-1 {
		return math.Inf(1)
	}
	if choices == len(p.whites) {
		first = 1 // the usual white
	}
	least := func(to []float64, set, choice int) {
		for a := range to {
			to[a] = min(to[a], t.near[set*t.stride+choice*aims+a].de00)
		}
	}
	type three [3]int
	worst := func(s three, known bool) float64 {
		miss := slices.Repeat([]float64{math.Inf(1)}, aims)
		least(miss, len(t.sets)-1, first)
		for _, choice := range []int{0, first} {
			for j, a := range s {
				least(miss, a, choice)
				for _, b := range s[j+1:] {
					least(miss, t.place(a, b, -1), choice)
				}
			}
			if known {
				least(miss, t.place(s[0], s[1], s[2]), choice)
			}
		}
		return slices.Max(miss)
	}
	type scored struct {
		set   three
		worst float64
	}
	var list []scored
	for a := range m {
		for b := a + 1; b < m; b++ {
			for c := b + 1; c < m; c++ {
				s := three{a, b, c}
				if !slices.ContainsFunc(kept, func(i int) bool { return !slices.Contains(s[:], i) }) {
					list = append(list, scored{s, worst(s, false)})
				}
			}
		}
	}
	byWorst := func(x, y scored) int { return cmp.Compare(x.worst, y.worst) }
	slices.SortStableFunc(list, byWorst)
	const starts = 32
	list = list[:min(starts, len(list))]
	best := scored{worst: math.Inf(1)}
	for {
		var sets []int
		for _, s := range list {
			sets = append(sets, t.place(s.set[0], s.set[1], s.set[2]))
		}
		scan(sets)
		for i := range list {
			list[i].worst = worst(list[i].set, true)
		}
		if len(list) == 0 || k.ctx.Err() != nil {
			return best.worst
		}
		now := slices.MinFunc(list, byWorst)
		if now.worst >= best.worst {
			return best.worst
		}
		best = now
		list = list[:0]
		for j, out := range best.set {
			for in := range m {
				if slices.Contains(kept, out) || slices.Contains(best.set[:], in) {
					continue
				}
				s := best.set
				s[j] = in
				slices.Sort(s[:])
				list = append(list, scored{set: s})
			}
		}
	}
}

func (k *kitMaker) solver(c *choice) *solver {
	return &solver{choice: c, ctx: k.ctx, most: k.o.Work}
}

// shortlist takes kitShort of the tubes: those that are asked for, the whites
// that scatter most and least, and then by turns for each mass the tube that
// makes its next best mix of two coloured tubes.
func (k *kitMaker) shortlist() error {
	taken := map[int]bool{}
	for _, t := range slices.Concat(k.o.Keep, k.o.Given) {
		taken[t] = true
	}
	whites := k.whites(taken)
	var likely []int
	for _, t := range k.tubes {
		if !k.all.Tubes[t].White || slices.Contains(whites, t) {
			likely = append(likely, t)
		}
	}
	box := k.part(likely)
	t, err := box.Search(k.ctx, k.aims, SearchOptions{Improving: true, most: 2, Progress: k.o.Progress})
	if err != nil {
		return err
	}
	aims := len(k.aims)
	ranked := make([][]int, aims) // coloured tubes, places in likely
	for a := range ranked {
		least := slices.Repeat([]float64{math.Inf(1)}, len(likely))
		for i, set := range t.sets {
			for c := 0; c*aims < t.stride; c++ {
				de := t.near[i*t.stride+c*aims+a].de00
				for _, tube := range set.tubes[:set.n] {
					least[tube] = min(least[tube], de)
				}
			}
		}
		ranked[a] = slices.Clone(box.colours)
		slices.SortStableFunc(ranked[a], func(x, y int) int { return cmp.Compare(least[x], least[y]) })
	}
	for _, t := range whites {
		taken[t] = true
	}
	for r := range box.colours {
		for a := range ranked {
			if len(taken) < kitShort {
				taken[likely[ranked[a][r]]] = true
			}
		}
	}
	k.tubes = slices.Sorted(maps.Keys(taken))
	return nil
}

// whites are those asked for, and of the others those that scatter most and
// least, up to kitWhites in all.
func (k *kitMaker) whites(asked map[int]bool) (out []int) {
	var rest []int
	for _, t := range k.tubes {
		switch {
		case !k.all.Tubes[t].White:
		case asked[t]:
			out = append(out, t)
		default:
			rest = append(rest, t)
		}
	}
	scatter := func(t int) (sum float64) {
		for _, s := range k.all.Tubes[t].Paint.S {
			sum += s
		}
		return sum
	}
	slices.SortStableFunc(rest, func(a, b int) int { return cmp.Compare(scatter(b), scatter(a)) })
	if n := len(rest); n > 1 {
		rest[1] = rest[n-1]
	}
	return append(out, rest[:min(len(rest), max(0, kitWhites-len(out)))]...)
}

// choose finds the kit.
func (k *kitMaker) choose() {
	k.kit.Palette, k.kit.Least, k.kit.Among = k.all, !k.cut, len(k.tubes)
	if len(k.o.Given) > 0 {
		var given tubeBits
		for i, t := range k.tubes {
			if slices.Contains(k.o.Given, t) {
				given = given.with(i)
			}
		}
		k.picked, _ = k.ways.judge(given, k.limits)
		k.kit.Tubes, k.kit.Least = k.named(given), false
		return
	}
	k.picked = k.enough()
	n := max(1, k.ways.keep.count())
	for ; n < k.picked.tubes.count() && k.ctx.Err() == nil; n++ {
		p, proven, ok := k.solver(&k.ways).within(n, k.limits)
		if ok {
			k.picked = p
			break
		}
		k.kit.Least = k.kit.Least && proven
	}
	k.kit.Needed = n
	proven := true
	if k.o.Max > 0 && n > k.o.Max {
		if !k.kit.Least {
			k.kit.Needed = 0
		}
		n = k.o.Max
		start := k.any(k.limits)
		k.picked, proven, _ = k.solver(&k.ways).leastWorst(n, k.limits, &start)
		k.kit.Least = !k.cut && proven
	}
	k.picked = k.solver(&k.ways).polish(k.picked, n, k.limits)
	if proven {
		k.picked, proven = k.solver(&k.ways).leastMean(n, k.limits, k.picked)
	}
	k.kit.Proven = k.kit.Least && proven
	k.kit.Tubes = k.named(k.picked.tubes)
}

// any is a set that gives every mass some way: every tube does.
func (k *kitMaker) any(allow []int32) picked {
	tubes := k.ways.keep
	if tubes.empty() {
		tubes = bitsOf(0)
	}
	p, _ := k.ways.judge(tubes, allow)
	return p
}

// enough is a set that keeps every mass within its limit, though there may be
// smaller ones: all tubes of the nearest mixes, less those that can be spared
// one after the other.
func (k *kitMaker) enough() picked {
	tubes := k.ways.keep
	for _, ways := range k.ways.ways {
		tubes = tubes.or(ways[0].need)
	}
	p, _ := k.ways.judge(tubes, k.limits)
	for _, t := range tubes.not(k.ways.keep).list() {
		if less, ok := k.ways.judge(p.tubes.not(bitsOf(t)), k.limits); ok && less.level == 0 {
			p = less
		}
	}
	return p
}

// named gives tubes their numbers in the whole palette.
func (k *kitMaker) named(tubes tubeBits) (out []int) {
	for _, t := range tubes.list() {
		out = append(out, k.tubes[t])
	}
	return out
}

// curve finds the best sets of any number of tubes.
func (k *kitMaker) curve() {
	floor := picked{} // no set of tubes does better
	for a, ways := range k.ways.ways {
		floor.level = max(floor.level, ways[0].miss)
		floor.mean += k.share[a] * int64(ways[0].miss)
	}
	upto := len(k.tubes)
	any := k.any(k.none)
	last := &any
	for n := max(1, k.ways.keep.count()); n <= upto && k.ctx.Err() == nil; n++ {
		start := last
		if kit, ok := k.ways.judge(k.picked.tubes, k.none); ok && kit.tubes.count() <= n && kit.compare(start) < 0 {
			start = &kit
		}
		far := n > k.picked.tubes.count()+curveBeyond
		by := k.solver(&k.ways)
		if far {
			by.most = min(by.most, farWork)
		}
		p, proven, _ := by.best(n, k.none, start)
		if far && (!proven || p.tubes == last.tubes) {
			break
		}
		step := KitStep{Count: n, Tubes: k.named(p.tubes), Proven: proven && !k.cut}
		for a, m := range k.kit.Masses {
			miss, _ := k.mixes.mixAmong(a, k.ways.wayOf(a, p.tubes).need)
			step.Worst = max(step.Worst, miss)
			step.Mean += m.Share * miss
		}
		if len(k.kit.Curve) == 0 {
			step.In = step.Tubes
		} else {
			step.In, step.Out = k.named(p.tubes.not(last.tubes)), k.named(last.tubes.not(p.tubes))
		}
		k.kit.Curve = append(k.kit.Curve, step)
		last = &p
		if p.level == floor.level && p.mean == floor.mean {
			break
		}
	}
}

// wholeKit is up to how many tubes a kit's own mixes are all computed again,
// the far ones too.
const wholeKit = 16

// explain says what the kit does for each mass, and what each tube does.
func (k *kitMaker) explain() error {
	kit := k.kit.Tubes
	t, own := k.mixes, k.tubes // the mixes to read, and whose they are
	if len(kit) <= wholeKit {
		var err error
		own = kit
		if t, err = k.part(kit).Search(k.ctx, k.aims, SearchOptions{Slack: math.Inf(1), Improving: true}); err != nil {
			return err
		}
	}
	c := choice{ways: waysOf(t, 3)}
	carried := bitsOf()
	for i, tube := range own {
		if slices.Contains(kit, tube) {
			carried = carried.with(i)
		}
	}
	k.kit.Worst, k.kit.Mean = 0, 0
	uses := make([]KitUse, len(kit))
	for i, tube := range kit {
		uses[i].Tube = tube
	}
	used := make([]bool, len(k.all.Tubes))
	for a := range k.kit.Masses {
		m := &k.kit.Masses[a]
		m.DE00, m.Parts = t.mixAmong(a, c.wayOf(a, carried).need)
		for i := range m.Parts {
			m.Parts[i].Tube = own[m.Parts[i].Tube]
			u := slices.Index(kit, m.Parts[i].Tube)
			uses[u].Masses = append(uses[u].Masses, a)
		}
		k.all.InOrder(m.Parts)
		k.kit.Worst = max(k.kit.Worst, m.DE00)
		k.kit.Mean += m.Share * m.DE00
		if inMillionths(m.DE00) > k.limits[a] {
			k.kit.Short = append(k.kit.Short, a)
		}
		for _, i := range k.ways.ways[a][0].need.list() {
			used[k.tubes[i]] = true
		}
	}
	for i := range uses {
		u := &uses[i]
		rest := carried.not(bitsOf(slices.Index(own, u.Tube)))
		for a, m := range k.kit.Masses {
			miss := math.Inf(1)
			if w := c.wayOf(a, rest); w != nil {
				miss, _ = t.mixAmong(a, w.need)
			}
			if miss > u.Worst {
				u.Worst, u.WorstAt = miss, a
			}
			if m.Share > 0 {
				u.Mean += m.Share * miss
			}
			if inMillionths(miss) > max(k.limits[a], inMillionths(m.DE00)) {
				u.Lost = append(u.Lost, a)
			}
		}
	}
	k.kit.Uses = uses
	for _, s := range append(k.kit.Curve, KitStep{Tubes: kit}) {
		for _, tube := range s.Tubes {
			used[tube] = true
		}
	}
	for _, tube := range k.tubes {
		if !used[tube] {
			k.kit.Unused = append(k.kit.Unused, tube)
		}
	}
	return nil
}

// mixAmong is the nearest mix to aim number a of just the tubes given.
func (t *Table) mixAmong(a int, need tubeBits) (float64, []Part) {
	p := t.Palette
	at, n, choice := [3]int{-1, -1, -1}, 0, 0
	for _, tube := range need.list() {
		if i, ok := slices.BinarySearch(p.colours, tube); ok {
			at[n] = i
			n++
		} else {
			choice = 1 + slices.Index(p.whites, tube)
		}
	}
	set := len(t.sets) - 1 // white alone
	if n > 0 {
		set = t.place(at[0], at[1], at[2])
	}
	near := t.near[set*t.stride+choice*len(t.Aims)+a]
	return near.de00, t.parts(set, choice, near)
}

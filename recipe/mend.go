package recipe

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sort"
	"sync"

	"paintout/analyze/lab"
	"paintout/inventory"
)

// UnknownPile is how many parts a pile counts as of which it is not known what
// it was mixed from: additions are then parts to so many of the pile.
const UnknownPile = 10.0

// What may be added to a pile: amounts in quarters of an octave (1, 1¼, 1½, 1¾,
// 2, 2½, …), because a heap is best halved by eye, from one to leastShare of the
// pile up to mostGrowth times it.
const (
	leastShare = 1.0 / 512
	mostGrowth = 4.0
)

// ToAdd lists the amounts tried as additions to a pile of so many parts,
// ascending.
func ToAdd(pile float64) (out []float64) {
	lo, hi := pile*leastShare, pile*mostGrowth*(1+1e-9)
	_, e := math.Frexp(lo)
	for octave := math.Ldexp(1, e-1); octave <= hi; octave *= 2 {
		for _, step := range []float64{1, 1.25, 1.5, 1.75} {
			if v := step * octave; v >= lo && v <= hi {
				out = append(out, v)
			}
		}
	}
	return out
}

// Verdict of a mend.
type MendVerdict string

const (
	LeavePile MendVerdict = "leave it"    // nothing that could be added is likely to bring it nearer
	AddToPile MendVerdict = "add"         // the suggested addition
	HalvePile MendVerdict = "take away"   // the suggested addition, to a part of the pile
	StartPile MendVerdict = "start again" // what is in it cannot be taken out again
)

// Amendment is what to put into a pile.
type Amendment struct {
	Parts []Part // in mixing order, to the pile as it is or to the share of it that is kept
	// Keep is the share of the pile to go on with: 1, or less where so much has
	// to go in that the pile would more than double.
	Keep   float64
	Growth float64 // the pile that is kept, afterwards, by what it was
	Lab    lab.Lab // the colour it reaches
	Off    Off     // from the aim: nominal as foretold, the others with the spread of the pile, tubes, reading and knife
	// Suggested marks the one to try first: the lowest expected difference, after
	// what each tube and each doubling of the pile costs.
	Suggested bool
}

// Mend says how to put a pile right.
type Mend struct {
	Palette  *Palette // its tubes as the readings leave them
	Aim      lab.Lab
	Reading  lab.Lab // the last, as it will be dry
	Known    bool    // what the pile was mixed from is
	Parts    []Part  // what is in it as set out; where not known, the likeliest of what it may be
	Volume   float64 // parts
	Foretold lab.Lab // what the tubes gave reason to expect of it; the reading where not known
	// Misfit is how far the readings stay from what the pile can be, in standard
	// deviations of what it was expected to be; above 3 something that was said
	// is wrong.
	Misfit    float64
	Verdict   MendVerdict
	Leave     Off                      // the pile as it is
	Additions []Amendment              // with one tube and with two, least expected difference first
	Fresh     *Recipe                  // the colour mixed anew
	Culprit   int                      // where to start again: the tube too many in the pile; −1 for none
	Strengths []inventory.TubeStrength // what the readings say of the tubes in it, white left out; nil where not known
}

// MendOptions says how to mend.
type MendOptions struct {
	PortionError float64 // as in [Palette.SpreadOf]
	May          []int   // the tubes that may be added, and mixed anew from; nil is all
	Progress     func(done, all int)
}

// How much lies behind an answer, and what is listed.
const (
	mendDraws   = 96
	mendGuesses = 8   // mixes that an unknown pile may be
	mendShort   = 12  // additions of each number of tubes whose spread is computed
	mendSlack   = 2.0 // ΔE00 behind the best of its number of tubes that a pair may be and be kept
	mendListed  = 2   // additions of each number of tubes that are given
)

// What is listed beside the addition to try first: nothing that costs mendBehind
// more, and none of more tubes that is not expected to be nearer by mendWorth, in
// ΔE00 (this project's judgement).
const mendBehind, mendWorth = 3.0, 0.1

// growthCost is what doubling the pile must earn in expected ΔE00; noGain is the
// gain below which a pile is best left (this project's judgement).
const growthCost, noGain = 0.4, 0.3

// keepFrom is the growth from which part of the pile is better set aside.
const keepFrom = 2.0

// farther is by how much an addition must miss more than a fresh mix, in
// expected ΔE00, for starting again to be said.
const farther = 1.0

// Mend finds what to add to a pile to bring it to a colour (D65 Lab).
//
// What is not known of the pile is carried along: each tube's Modes, each
// portion, stray paint. Steps of all of them are found that make the readings
// likeliest, and with them what the pile is made of. Where what it was mixed
// from is not known, it may be any of the few mixes of the palette that come
// nearest the first reading, each as likely as it fits.
//
// Then every addition of one tube and of two is tried, in the amounts of
// [ToAdd]. That is exact over those amounts for the nominal difference, the mean
// over what the pile may be; of the best sets the expected difference decides,
// over samples of what pile, tubes and portions may be in truth. No addition is
// suggested unless it is expected to be better than leaving the pile alone.
func (p *Palette) Mend(ctx context.Context, stages []Stage, aim lab.Lab, o MendOptions) (*Mend, error) {
	if err := p.checkStages(stages); err != nil {
		return nil, err
	}
	if !aim.Finite() || aim.L < 0 || aim.L > 100 || aim.Chroma() > 400 {
		return nil, fmt.Errorf("the colour L* %.4g a* %.4g b* %.4g is no colour of a surface: give L* from 0 to 100 and a*, b* within about ±128", aim.L, aim.A, aim.B)
	}
	m := &Mend{Palette: p, Aim: aim, Reading: *stages[len(stages)-1].Reading, Known: len(stages[0].Added) > 0, Culprit: -1}
	for _, x := range o.May {
		if x < 0 || x >= len(p.Tubes) {
			return nil, fmt.Errorf("there is no tube number %d among %d", x, len(p.Tubes))
		}
	}
	guesses, err := p.guesses(ctx, stages, o)
	if err != nil {
		return nil, err
	}
	likeliest := slices.MaxFunc(guesses, func(a, b *guess) int { return cmp.Compare(a.weight, b.weight) })
	for _, s := range likeliest.stages {
		for _, q := range s.Added {
			m.Volume += q.Parts
			if at := slices.IndexFunc(m.Parts, func(r Part) bool { return r.Tube == q.Tube }); at >= 0 {
				m.Parts[at].Parts += q.Parts
			} else {
				m.Parts = append(m.Parts, q)
			}
		}
	}
	p.InOrder(m.Parts)
	_, got, dry := likeliest.foretellBoth(likeliest.z)
	if at := len(got) - 3; stages[len(stages)-1].Wet {
		m.Reading.L += dry[at] - got[at]
		m.Reading.A += dry[at+1] - got[at+1]
		m.Reading.B += dry[at+2] - got[at+2]
	}
	m.Foretold = m.Reading
	if m.Known {
		plain, _ := likeliest.foretell(make([]float64, likeliest.n))
		m.Foretold = plain.lab(p.Finish)
	}
	m.Misfit = math.Sqrt(likeliest.misfit(likeliest.z, make([]float64, likeliest.n), got, likeliest.read) / float64(len(got)))

	samples := draws(guesses, mendDraws)
	if m.Known {
		if err := m.learn(stages, got, dry, o); err != nil {
			return nil, err
		}
	}
	m.Leave = m.offOf(guesses, samples, nil, o.PortionError)

	found := p.amendments(guesses, aim, p.mayAdd(o), ToAdd(m.Volume))
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	for n := range found {
		var some []Amendment
		for _, f := range found[n][:min(mendShort, len(found[n]))] {
			a := Amendment{Parts: slices.Clone(f.parts), Keep: 1, Growth: 1}
			a.Off = m.offOf(guesses, samples, a.Parts, o.PortionError)
			if a.Off.Expected >= m.Leave.Expected || a.Off.Nominal > m.Leave.Nominal {
				continue
			}
			h := likeliest.heap
			for _, q := range a.Parts {
				h.add(&likeliest.paints[q.Tube], q.Parts)
				a.Growth += q.Parts / m.Volume
			}
			a.Lab = h.lab(p.Finish)
			for a.Growth*a.Keep > keepFrom {
				a.Keep /= 2
			}
			for i := range a.Parts {
				a.Parts[i].Parts *= a.Keep
			}
			p.InOrder(a.Parts)
			some = append(some, a)
		}
		slices.SortStableFunc(some, func(a, b Amendment) int { return cmp.Compare(a.trouble(), b.trouble()) })
		m.Additions = append(m.Additions, some[:min(mendListed, len(some))]...)
	}
	slices.SortStableFunc(m.Additions, func(a, b Amendment) int { return cmp.Compare(a.trouble(), b.trouble()) })
	m.Additions = slices.DeleteFunc(slices.Clone(m.Additions), func(a Amendment) bool {
		best := &m.Additions[0]
		return a.trouble() > best.trouble()+mendBehind || len(a.Parts) > len(best.Parts) && a.Off.Expected > best.Off.Expected-mendWorth
	})
	if err := m.judge(ctx, likeliest, o); err != nil {
		return nil, err
	}
	return m, nil
}

// trouble is what an addition costs, as Suggested weighs it.
func (a *Amendment) trouble() float64 {
	return a.Off.Expected + tubeCost*float64(len(a.Parts)) + growthCost*math.Log2(a.Growth)
}

// quick searches sets of three only where that is soon done: what a pile may be
// and what a fresh mix may do is well enough known from two and white.
func (p *Palette) quick(o MendOptions) SearchOptions {
	so := SearchOptions{Slack: 1, Progress: o.Progress}
	if len(p.Tubes) > WholeBox {
		so.most = 2
	}
	return so
}

// mayAdd lists the tubes that may be added.
func (p *Palette) mayAdd(o MendOptions) []int {
	if o.May != nil {
		return o.May
	}
	all := make([]int, len(p.Tubes))
	for i := range all {
		all[i] = i
	}
	return all
}

// judge mixes the colour anew, for comparison, and settles what to do.
func (m *Mend) judge(ctx context.Context, likeliest *guess, o MendOptions) error {
	may := m.Palette.mayAdd(o)
	tubes := make([]*inventory.Tube, len(may))
	for i, x := range may {
		tubes[i] = m.Palette.Tubes[x]
	}
	anew, err := NewPalette(tubes, m.Palette.Finish)
	if err != nil {
		return err
	}
	table, err := anew.Search(ctx, []lab.Lab{m.Aim}, anew.quick(o))
	if err != nil {
		return err
	}
	for _, r := range table.Recipes(0, o.PortionError) {
		if r.Suggested {
			for i := range r.Parts {
				r.Parts[i].Tube = may[r.Parts[i].Tube]
			}
			m.Fresh = &r
		}
	}
	best := m.Leave.Expected
	m.Verdict = LeavePile
	if len(m.Additions) > 0 {
		a := &m.Additions[0]
		if gain := m.Leave.Expected - a.Off.Expected; gain > noGain && m.Leave.Nominal > Indistinct {
			a.Suggested = true
			best = a.Off.Expected
			m.Verdict = AddToPile
			if a.Keep < 1 {
				m.Verdict = HalvePile
			}
		}
	}
	nominal := m.Leave.Nominal
	if m.Verdict != LeavePile {
		nominal = m.Additions[0].Off.Nominal
	}
	if m.Fresh != nil && nominal > 1.8 && m.Fresh.Off.Nominal < nominal-farther && m.Fresh.Off.Expected < best-farther/2 {
		m.Verdict = StartPile
		m.culprit(likeliest, o)
	}
	return nil
}

// culprit names the tube of the pile without which an addition would come
// nearest, if that is much nearer.
func (m *Mend) culprit(g *guess, o MendOptions) {
	stays := math.Inf(1)
	if len(m.Additions) > 0 {
		stays = m.Additions[0].Off.Nominal
	}
	least := min(stays, m.Leave.Nominal) - farther
	for _, q := range m.Parts {
		if len(m.Parts) == 1 || !m.Known {
			break
		}
		h := *g
		h.heap.add(&g.paints[q.Tube], -q.Parts)
		for i := range h.heap.k {
			h.heap.k[i], h.heap.s[i] = max(h.heap.k[i], 0), max(h.heap.s[i], 1e-9)
		}
		h.weight = 1
		best := lab.DE00(m.Aim, h.heap.lab(m.Palette.Finish))
		for _, found := range m.Palette.amendments([]*guess{&h}, m.Aim, m.Palette.mayAdd(o), ToAdd(m.Volume)) {
			for _, f := range found {
				best = min(best, f.de00)
			}
		}
		if best < least {
			least, m.Culprit = best, q.Tube
		}
	}
}

// guesses lists what the pile may be, with weights that sum to 1.
func (p *Palette) guesses(ctx context.Context, stages []Stage, o MendOptions) ([]*guess, error) {
	if len(stages[0].Added) > 0 {
		return []*guess{newPileModel(p, stages, o.PortionError).guess()}, nil
	}
	first := *stages[0].Reading
	as := p
	if stages[0].Wet {
		var err error
		if as, err = p.wetted(); err != nil {
			return nil, err
		}
	}
	table, err := as.Search(ctx, []lab.Lab{first}, p.quick(o))
	if err != nil {
		return nil, err
	}
	var all []candidate
	for i := range table.sets {
		for c := range table.stride {
			if n := table.near[i*table.stride+c]; !math.IsInf(n.de00, 1) && n.de00 <= table.best[0]+1 {
				count := table.sets[i].n
				if c > 0 {
					count++
				}
				all = append(all, candidate{i, c, n, count})
			}
		}
	}
	if len(all) == 0 {
		return nil, errors.New("no mix of these tubes comes near the pile's colour: say what it was mixed from")
	}
	slices.SortFunc(all, func(x, y candidate) int {
		return cmp.Or(cmp.Compare(x.de00+tubeCost*float64(x.n), y.de00+tubeCost*float64(y.n)), cmp.Compare(x.set, y.set), cmp.Compare(x.choice, y.choice))
	})
	var out []*guess
	sum := 0.0
	for _, c := range all[:min(mendGuesses, len(all))] {
		parts := table.parts(c.set, c.choice, c.nearest)
		total := 0.0
		for _, q := range parts {
			total += q.Parts
		}
		for i := range parts {
			parts[i].Parts *= UnknownPile / total
		}
		supposed := slices.Clone(stages)
		supposed[0].Added = parts
		g := newPileModel(p, supposed, max(o.PortionError, KnifeError)).guess()
		// Each tube more halves what a guess is worth (this project's judgement).
		g.weight = math.Exp2(-float64(c.n))
		out = append(out, g)
	}
	least := slices.MinFunc(out, func(a, b *guess) int { return cmp.Compare(a.off, b.off) }).off
	for _, g := range out {
		g.weight *= math.Exp((least - g.off) / 2)
		sum += g.weight
	}
	for _, g := range out {
		g.weight /= sum
	}
	return out, nil
}

// offOf says how far the pile with parts added lies from the aim.
func (m *Mend) offOf(guesses []*guess, samples []draw, parts []Part, portionError float64) (off Off) {
	for _, g := range guesses {
		h := g.heap
		for _, q := range parts {
			h.add(&g.paints[q.Tube], q.Parts)
		}
		off.Nominal += g.weight * lab.DE00(m.Aim, h.lab(g.p.Finish))
	}
	d := make([]float64, len(samples))
	for i := range samples {
		d[i] = lab.DE00(m.Aim, samples[i].after(parts, portionError))
		off.Expected += d[i] / float64(len(d))
	}
	sort.Float64s(d)
	off.P90 = d[len(d)*9/10]
	return off
}

// added is the best addition of a set of tubes.
type added struct {
	parts []Part
	de00  float64
}

// amendments tries each amount of each tube, and of each two, and gives the best
// of each set, nearest first: of every single tube, and of the pairs that come
// within mendSlack of the best.
func (p *Palette) amendments(guesses []*guess, aim lab.Lab, may []int, amounts []float64) (out [2][]added) {
	c := &sums[p.Finish]
	guesses = slices.Clone(guesses)
	slices.SortStableFunc(guesses, func(a, b *guess) int { return cmp.Compare(b.weight, a.weight) })
	// miss is the mean difference with t of tube x on top of the heaps, or
	// something above limit.
	miss := func(on []heap, x int, t, limit float64) float64 {
		sum := 0.0
		for n, g := range guesses {
			pt := &g.paints[x]
			v := c.of(&on[n].k, &on[n].s, &pt.K, &pt.S, t)
			if sum += g.weight * lab.DE00(aim, lab.FromXYZ(v, d65White)); sum > limit {
				break
			}
		}
		return sum
	}
	bare := make([]heap, len(guesses))
	for n, g := range guesses {
		bare[n] = g.heap
	}
	for _, x := range may {
		best := added{de00: math.Inf(1)}
		for _, t := range amounts {
			if d := miss(bare, x, t, best.de00); d < best.de00 {
				best = added{[]Part{{x, t}}, d}
			}
		}
		out[0] = append(out[0], best)
	}
	nearer := func(a, b added) int { return cmp.Compare(a.de00, b.de00) }

	var mu sync.Mutex
	top := math.Inf(1)
	var wg sync.WaitGroup
	next := make(chan int)
	for range max(1, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			on := make([]heap, len(guesses))
			for at := range next {
				x, others := may[at], may[at+1:]
				best := make([]added, len(others))
				mu.Lock()
				limit := top + mendSlack
				mu.Unlock()
				for j := range best {
					best[j].de00 = limit
				}
				for _, t := range amounts {
					for n, g := range guesses {
						on[n] = g.heap
						on[n].add(&g.paints[x], t)
					}
					for j, y := range others {
						for _, u := range amounts {
							if t+u > amounts[len(amounts)-1] {
								break
							}
							if d := miss(on, y, u, best[j].de00); d < best[j].de00 {
								best[j] = added{[]Part{{x, t}, {y, u}}, d}
							}
						}
					}
				}
				mu.Lock()
				for _, b := range best {
					if b.parts != nil {
						out[1] = append(out[1], b)
						top = min(top, b.de00)
					}
				}
				mu.Unlock()
			}
		})
	}
	for at := range may {
		next <- at
	}
	close(next)
	wg.Wait()
	out[1] = slices.DeleteFunc(out[1], func(a added) bool { return a.de00 > top+mendSlack })
	slices.SortStableFunc(out[0], nearer)
	slices.SortFunc(out[1], func(a, b added) int {
		return cmp.Or(nearer(a, b), cmp.Compare(a.parts[0].Tube, b.parts[0].Tube), cmp.Compare(a.parts[1].Tube, b.parts[1].Tube))
	})
	return out
}

// learn takes over what the readings say of the tubes' strengths, by
// [inventory.LearnStrength]. Readings of one pile share its portions, where that
// takes each pile to be set out anew: errors of portions are widened by the root
// of their number, so that together they count as one. read and dry are the
// foretold readings, as they were taken and dry: by their difference wet ones are
// brought to dry.
func (m *Mend) learn(stages []Stage, read, dry []float64, o MendOptions) error {
	p := *m.Palette
	var piles []inventory.Pile
	so := inventory.Pile{PortionError: o.PortionError * math.Sqrt(float64(len(read)/3)), Finish: p.Finish}
	for _, s := range stages {
		for _, q := range s.Added {
			t := p.Tubes[q.Tube]
			if len(t.Modes) == 0 || !(t.Modes[0].DK[0] > 0) {
				return nil // nothing of it is open
			}
			if at := slices.Index(so.Tubes, t); at >= 0 {
				so.Parts[at] += q.Parts
			} else {
				so.Tubes, so.Parts = append(so.Tubes, t), append(so.Parts, q.Parts)
			}
		}
		if s.Reading != nil {
			at, c := 3*len(piles), *s.Reading
			so.Seen = lab.Lab{L: c.L + dry[at] - read[at], A: c.A + dry[at+1] - read[at+1], B: c.B + dry[at+2] - read[at+2]}
			so.SeenSD = s.readingError()
			pile := so
			pile.Parts = slices.Clone(so.Parts)
			piles = append(piles, pile)
		}
	}
	learned, err := inventory.LearnStrength(piles...)
	if err != nil {
		return err
	}
	p.Tubes = slices.Clone(p.Tubes)
	for i := range learned.Tubes {
		l := &learned.Tubes[i]
		p.Tubes[slices.Index(p.Tubes, l.Tube)] = l.Revised()
		if !l.Tube.White {
			m.Strengths = append(m.Strengths, *l)
		}
	}
	// The range that photos are fitted to stays what it was, so that aims do.
	m.Palette = &p
	return nil
}

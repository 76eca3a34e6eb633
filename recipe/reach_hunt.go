package recipe

import (
	"cmp"
	"context"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// found is one ladder mix of a set and what it scores in a hunt.
type found struct {
	set   tubeSet
	white int // index into Palette.Tubes; -1 for none
	dir   int32
	step  int32 // index into direction.whites
	score float64
	lab   lab.Lab
}

// parts writes the mix out.
func (f *found) parts() []Part {
	if f.set.n == 0 {
		return []Part{{f.white, 1}}
	}
	d := &directions[f.set.n][f.dir]
	step := d.whites[f.step]
	var out []Part
	for j := range f.set.n {
		out = append(out, Part{f.set.tubes[j], float64(step.times * d.parts[j])})
	}
	if f.white >= 0 {
		out = append(out, Part{f.white, float64(step.white)})
	}
	return out
}

// before orders finds: the lower score, then the place in the palette and the
// ladder, so that the outcome does not hang on timing.
func (f *found) before(g *found) bool {
	if f.score != g.score {
		return f.score < g.score
	}
	if f.set.n != g.set.n {
		return f.set.n < g.set.n
	}
	if f.set.tubes != g.set.tubes {
		for j, t := range f.set.tubes {
			if t != g.set.tubes[j] {
				return t < g.set.tubes[j]
			}
		}
	}
	if f.white != g.white {
		return f.white < g.white
	}
	if f.dir != g.dir {
		return f.dir < g.dir
	}
	return f.step < g.step
}

// quest is what a hunt looks for. Scores are the lower the better.
type quest interface {
	// hopeless reports whether surely no mix within e scores as low as limit.
	hopeless(c *tristimulus, e *enclosure, limit float64) bool
	// score of a mix; +Inf where it is no answer or surely above limit.
	score(v lab.XYZ, limit float64) (float64, lab.Lab)
}

// hunter looks through sets for one quest. It is not for several goroutines.
type hunter struct {
	p    *Palette
	q    quest
	e    enclosure
	best found
	bar  float64 // for the caller: what is of interest
}

// in looks through all ladder mixes of one set with white (a tube's index, -1
// for none) for what scores no higher than limit.
func (h *hunter) in(set tubeSet, white int, limit float64) {
	c := &sums[h.p.Finish]
	var paints [4]*optics.Paint
	n := 0
	for ; n < set.n; n++ {
		paints[n] = &h.p.Tubes[set.tubes[n]].Paint
	}
	with := 0
	if white >= 0 {
		paints[n] = &h.p.Tubes[white].Paint
		n++
		with = 1
	}
	m := newMixture(paints[:n]...)
	if set.n == 0 {
		h.look(m, c, set, white, &ladderPoint{}, &limit)
		return
	}
	h.walk(m, c, cellTrees()[set.n][with], 0, set, white, &limit)
}

func (h *hunter) look(m *mixture, c *tristimulus, set tubeSet, white int, p *ladderPoint, limit *float64) {
	score, colour := h.q.score(m.at(c, &p.beside), *limit)
	if score > *limit || math.IsInf(score, 1) {
		return
	}
	*limit = score
	f := found{set, white, p.dir, p.white, score, colour}
	if f.before(&h.best) {
		h.best = f
	}
}

func (h *hunter) walk(m *mixture, c *tristimulus, t *cellTree, at int32, set tubeSet, white int, limit *float64) {
	q := &t.cells[at]
	if q.to-q.from > 2 {
		m.enclose(c, q, &h.e)
		if h.q.hopeless(c, &h.e, *limit) {
			return
		}
	}
	if q.left == 0 {
		for i := q.from; i < q.to; i++ {
			h.look(m, c, set, white, &t.points[i], limit)
		}
		return
	}
	h.walk(m, c, t, q.left, set, white, limit)
	h.walk(m, c, t, q.right, set, white, limit)
}

// job is a set to look through, kept small since there may be millions.
type job struct {
	tubes [3]int16
	n     int8
	white int16 // −1 for none
}

func newJob(set [3]int, n, white int) job {
	return job{[3]int16{int16(set[0]), int16(set[1]), int16(set[2])}, int8(n), int16(white)}
}

func (j job) set() tubeSet {
	return tubeSet{[3]int{int(j.tubes[0]), int(j.tubes[1]), int(j.tubes[2])}, int(j.n)}
}

// hunt looks through all jobs with all processors and gives the best find; ok
// is false where there is none as good as limit. Each worker has its own quest
// from newQuest. done is called now and then with the jobs finished.
func (p *Palette) hunt(ctx context.Context, jobs []job, limit float64, newQuest func() quest, done func(n int)) (best found, ok bool, err error) {
	var shared atomic.Uint64
	shared.Store(math.Float64bits(limit))
	best.score = math.Inf(1)
	var mu sync.Mutex
	var idle []*hunter
	const batch = 16
	err = together(ctx, (len(jobs)+batch-1)/batch, func(i int) {
		mu.Lock()
		var h *hunter
		if n := len(idle); n > 0 {
			h, idle = idle[n-1], idle[:n-1]
		} else {
			h = &hunter{p: p, q: newQuest(), best: found{score: math.Inf(1)}}
		}
		mu.Unlock()
		now := jobs[i*batch : min((i+1)*batch, len(jobs))]
		for _, j := range now {
			h.in(j.set(), int(j.white), math.Float64frombits(shared.Load()))
			for {
				old := shared.Load()
				if h.best.score >= math.Float64frombits(old) || shared.CompareAndSwap(old, math.Float64bits(h.best.score)) {
					break
				}
			}
		}
		if done != nil {
			done(len(now))
		}
		mu.Lock()
		idle = append(idle, h)
		mu.Unlock()
	})
	for _, h := range idle {
		if h.best.before(&best) {
			best = h.best
		}
	}
	return best, !math.IsInf(best.score, 1), err
}

// jobs lists what a search over the palette must look through: every set of up
// to three coloured tubes without white and with each white, and each white
// alone, small sets first.
func (p *Palette) jobs() []job { return append(p.pairJobs(), p.threes(p.colours)...) }

// pairJobs is jobs without the sets of three.
func (p *Palette) pairJobs() []job {
	var out []job
	for _, w := range p.whites {
		out = append(out, newJob([3]int{-1, -1, -1}, 0, w))
	}
	for _, a := range p.colours {
		out = p.withWhites(out, [3]int{a, -1, -1}, 1)
	}
	for i, a := range p.colours {
		for _, b := range p.colours[i+1:] {
			out = p.withWhites(out, [3]int{a, b, -1}, 2)
		}
	}
	return out
}

// threes lists the sets of three among some of the coloured tubes.
func (p *Palette) threes(of []int) []job {
	n := len(of)
	out := make([]job, 0, n*(n-1)*(n-2)/6*(1+len(p.whites)))
	for i, a := range of {
		for k := i + 1; k < n; k++ {
			for _, c := range of[k+1:] {
				out = p.withWhites(out, [3]int{a, of[k], c}, 3)
			}
		}
	}
	return out
}

func (p *Palette) withWhites(jobs []job, set [3]int, n int) []job {
	jobs = append(jobs, newJob(set, n, -1))
	for _, w := range p.whites {
		jobs = append(jobs, newJob(set, n, w))
	}
	return jobs
}

// promising gives, for each way to score a colour, the n coloured tubes whose
// pairs score lowest, in palette order, by every fourth of the ladder's mixes
// of two and the first white.
func (p *Palette) promising(ctx context.Context, n int, score ...func(lab.Lab) float64) ([][]int, error) {
	type pair struct{ a, b int }
	var pairs []pair
	for i, a := range p.colours {
		for _, b := range p.colours[i+1:] {
			pairs = append(pairs, pair{a, b})
		}
	}
	best := make([][]float64, len(score))
	for s := range best {
		best[s] = make([]float64, len(p.Tubes))
		for i := range best[s] {
			best[s][i] = math.Inf(1)
		}
	}
	c := &sums[p.Finish]
	var mu sync.Mutex
	const batch = 64
	err := together(ctx, (len(pairs)+batch-1)/batch, func(i int) {
		for _, q := range pairs[i*batch : min((i+1)*batch, len(pairs))] {
			paints := []*optics.Paint{&p.Tubes[q.a].Paint, &p.Tubes[q.b].Paint}
			points := [][]ladderPoint{cellTrees()[2][0].points}
			if len(p.whites) > 0 {
				paints = append(paints, &p.Tubes[p.whites[0]].Paint)
				points = append(points, cellTrees()[2][1].points)
			}
			m := newMixture(paints...)
			least := make([]float64, len(score))
			for s := range least {
				least[s] = math.Inf(1)
			}
			for _, list := range points {
				for k := 0; k < len(list); k += 4 {
					colour := lab.FromXYZ(m.at(c, &list[k].beside), d65White)
					for s, f := range score {
						least[s] = min(least[s], f(colour))
					}
				}
			}
			mu.Lock()
			for s, v := range least {
				best[s][q.a] = min(best[s][q.a], v)
				best[s][q.b] = min(best[s][q.b], v)
			}
			mu.Unlock()
		}
	})
	out := make([][]int, len(score))
	for s := range out {
		list := slices.Clone(p.colours)
		slices.SortStableFunc(list, func(a, b int) int { return cmp.Compare(best[s][a], best[s][b]) })
		list = list[:min(n, len(list))]
		slices.Sort(list)
		out[s] = list
	}
	return out, err
}

// nearQuest seeks the mix nearest an aim; its score is ΔE00.
type nearQuest struct {
	aim      lab.Lab
	chroma   float64
	cos, sin float64 // of the aim's hue

	// hold keeps the bounds as long as they are valid, for quests whose limit
	// goes up and down.
	hold bool
	// Valid for the limit they were made for and any lower one.
	limit float64
	win   window
	ball  [ballSteps]ball // by the chroma that mixes surely do not exceed
}

const ballSteps, ballStep = 52, 5.0

func newNearQuest(aim lab.Lab) *nearQuest {
	q := &nearQuest{aim: aim, chroma: aim.Chroma(), limit: math.Inf(1)}
	q.sin, q.cos = math.Sincos(aim.Hue() * math.Pi / 180)
	q.win.open(aim.L, q.limit)
	return q
}

// open makes the bounds ready for a limit.
func (q *nearQuest) open(limit float64) {
	if limit == q.limit || limit < q.limit && !math.IsInf(q.limit, 1) && (q.hold || limit > 0.92*q.limit) {
		return
	}
	q.limit = limit
	q.win.open(q.aim.L, limit)
	q.enclose()
}

func (q *nearQuest) hopeless(c *tristimulus, e *enclosure, limit float64) bool {
	q.open(limit)
	if e.vhi.Y < q.win.lo || e.vlo.Y > q.win.hi {
		return true
	}
	if math.IsInf(q.limit, 1) {
		return false
	}
	e.curves()
	// S_L is greatest at one end of the span of mean lightness.
	lo, hi := (116*e.flo[1]-16+q.aim.L)/2-50, (116*e.fhi[1]-16+q.aim.L)/2-50
	far2 := max(lo*lo, hi*hi)
	light := 1 + 0.015*far2/math.Sqrt(20+far2)
	// How far along the aim's hue the cell goes bounds the chroma of those of
	// its mixes that may be near enough.
	along := e.most(c, 0, q.cos, q.sin)
	far := &q.ball[ballSteps-1]
	top := math.Hypot(max(along, q.limit/far.along-q.chroma), far.across)
	near := &q.ball[min(int(top/ballStep), ballSteps-1)]
	if math.IsInf(near.along, 1) || (q.chroma-along)*near.along > limit {
		return true
	}
	// Then the way from the cell's middle straight to the aim.
	centre := e.centre()
	dL, dA, dB := q.aim.L-centre.L, q.aim.A-centre.A, q.aim.B-centre.B
	v, u := dA*q.cos+dB*q.sin, dB*q.cos-dA*q.sin
	l, v, u := dL/(light*light), v*near.along*near.along, u*near.cross*near.cross
	norm := math.Sqrt(l*l*light*light + v*v/(near.along*near.along) + u*u/(near.cross*near.cross))
	if norm < 1e-9 {
		return false
	}
	l, v, u = l/norm, v/norm, u/norm
	a, b := v*q.cos-u*q.sin, v*q.sin+u*q.cos
	return l*q.aim.L+a*q.aim.A+b*q.aim.B-e.most(c, l, a, b) > limit
}

func (q *nearQuest) score(v lab.XYZ, limit float64) (float64, lab.Lab) {
	q.open(limit)
	if v.Y < q.win.lo || v.Y > q.win.hi {
		return math.Inf(1), lab.Lab{}
	}
	colour := lab.FromXYZ(v, d65White)
	if apart2(&q.aim, q.chroma, &colour, math.Sqrt(colour.A*colour.A+colour.B*colour.B)) > limit*limit*(1+1e-9) {
		return math.Inf(1), lab.Lab{}
	}
	return lab.DE00(q.aim, colour), colour
}

// ball encloses the colours within a limit of ΔE00 from an aim: for each of
// them whose chroma is no higher than a cap,
//
//	ΔE00² >= ΔL²/S_L² + (along·v)² + (cross·u)²,
//
// v being how far it lies from the aim along the aim's hue in the plane of a*
// and b*, and u across it; and |u| <= across.
type ball struct{ along, cross, across float64 }

// enclose makes the balls. The plane of a* and b* is cut into boxes of chroma
// and of hue beside the aim's; each box that may hold colours within the limit
// contributes its own factors, and a ball takes the least.
//
// In CIEDE2000's terms, with a' = (1 + G)a, the plane's share of ΔE00² is at
// least κ(ΔC'²/S_C² + ΔH'²/S_H²), where κ = 1 + R_T/2, or 1 where ΔC' and ΔH'
// have opposite signs, since R_T is not positive. Further ΔC'² + ΔH'² = Δa'² +
// Δb² >= v² + u²; and with C1' the aim's chroma, C2' the other's and φ' the
// angle between, ΔH'² = 2·C1'C2'(1 − cos φ') >= (C2' sin φ')²·C1'/C2' for C2'
// sin φ' = (1 + G)u·C1/C1' >= u. As S_H <= S_C,
//
//	κ/S_C²·(v² + u²) + κ(1/S_H² − 1/S_C²)·C1'/C2'·u²
//
// is a lower bound, with S_C, S_H and R_T at their greatest over the box.
// Stretching one axis by 1 + G changes an angle by that factor at most.
func (q *nearQuest) enclose() {
	const sector = 7.5
	c1 := q.chroma
	// The aim's own h' for G from 0 to 1/2; it stays in its quadrant.
	hlo, hhi := q.aim.Hue(), lab.Lab{A: 1.5 * q.aim.A, B: q.aim.B}.Hue()
	if hlo > hhi {
		hlo, hhi = hhi, hlo
	}
	if hhi-hlo > 180 {
		hlo, hhi = hhi-360, hlo
	}
	b := ball{math.Inf(1), math.Inf(1), 0}
	limit2 := q.limit * q.limit
	for i := range q.ball {
		lo, hi := ballStep*float64(i), ballStep*float64(i+1)
		g := 0.5 * (1 - math.Sqrt(power7Share((c1+lo)/2)))
		stretch := 1 + g
		dc := max(0, c1-stretch*hi, lo-stretch*c1)
		mean := stretch * (c1 + hi) / 2
		sc := 1 + 0.045*mean
		rc := 2 * math.Sqrt(power7Share(mean))
		for j := range int(180 / sector) {
			from, to := sector*float64(j)/stretch, min(sector*float64(j+1)*stretch, 180)
			dh := 2 * math.Sqrt(c1*lo) * math.Sin(min(from, 180)*math.Pi/360)
			for side := -1.0; side <= 1; side += 2 {
				mlo, mhi := hlo+from/2, hhi+to/2
				if side < 0 {
					mlo, mhi = hlo-to/2, hhi-from/2
				}
				off, t := meanHue(mlo, mhi)
				sh := min(1+0.015*mean*t, sc)
				k := 1.0
				duller, brighter := hi*stretch < c1, lo > c1*stretch
				if !(side > 0 && duller || side < 0 && brighter) {
					k -= rc * rotationSine[int(off)] / 2
				}
				if k*(dc*dc/(sc*sc)+dh*dh/(sh*sh)) > limit2 {
					continue
				}
				along := k / (sc * sc)
				b.along = min(b.along, along)
				b.cross = min(b.cross, along+k*(1/(sh*sh)-1/(sc*sc))*c1/(hi*stretch))
				b.across = max(b.across, hi*math.Sin(min(sector*float64(j+1), 90)*math.Pi/180))
			}
		}
		const hair = 1 - 1e-9 // for rounding
		q.ball[i] = ball{math.Sqrt(b.along) * hair, math.Sqrt(b.cross) * hair, b.across}
	}
}

// meanHue bounds, for mean hues h̄' from lo to hi degrees (−360 to 720), how far
// they lie from 275° at least, and T at most.
func meanHue(lo, hi float64) (off, t float64) {
	off = 180
	for blue := -85.0; blue < 720; blue += 360 {
		off = min(off, max(0, lo-blue, blue-hi))
	}
	for d := int(math.Floor(lo)); float64(d) <= hi; d++ {
		t = max(t, hueT[(d+720)%360])
	}
	return off, t
}

// rotationSine bounds sin 2Δθ of R_T, Δθ = 30°·exp(−(off/25°)²), from each
// whole degree on.
var rotationSine = func() (s [181]float64) {
	for d := range s {
		x := float64(d) / 25
		s[d] = math.Sin(60 * math.Exp(-x*x) * math.Pi / 180)
	}
	return s
}()

// hueT bounds T over each whole degree of mean hue and the next; its slope is
// at most 0.17 + 2·0.24 + 3·0.32 + 4·0.20 per radian.
var hueT = func() (t [360]float64) {
	for d := range t {
		cos := func(times, off float64) float64 { return math.Cos((times*float64(d) + off) * math.Pi / 180) }
		t[d] = 1 - 0.17*cos(1, -30) + 0.24*cos(2, 0) + 0.32*cos(3, 6) - 0.20*cos(4, -63) + 2.41*math.Pi/180
	}
	return t
}()

func power7Share(c float64) float64 {
	c7 := c * c * c
	c7 *= c7 * c
	return c7 / (c7 + 6103515625) // 25⁷
}

// vividQuest seeks the mix of highest chroma near a hue and, if asked, a
// lightness; its score is −C*.
type vividQuest struct {
	hue, width float64 // degrees: CIELAB hue within width of hue
	ylo, yhi   float64 // Y within
	cos, sin   float64 // of hue
	tan        float64 // of width
	cosw, sinw float64
}

func newVividQuest(hue, width, llo, lhi float64) *vividQuest {
	q := &vividQuest{hue: hue, width: width, ylo: lab.Lab{L: llo}.XYZ(d65White).Y, yhi: lab.Lab{L: lhi}.XYZ(d65White).Y}
	q.sin, q.cos = math.Sincos(hue * math.Pi / 180)
	q.sinw, q.cosw = math.Sincos(width * math.Pi / 180)
	q.tan = q.sinw / q.cosw
	return q
}

// hopeless looks at the wedge of the hue window beyond the best chroma so far,
// cut off straight: it is convex, so a cell that a line keeps away from it can
// be left out. The line stands across the shortest way from the cell's middle.
func (q *vividQuest) hopeless(c *tristimulus, e *enclosure, limit float64) bool {
	if e.vhi.Y < q.ylo || e.vlo.Y > q.yhi {
		return true
	}
	best := max(-limit, 0)
	e.curves()
	centre := e.centre()
	// Along the hue, and across it.
	along := centre.A*q.cos + centre.B*q.sin
	across := centre.B*q.cos - centre.A*q.sin
	edge := best * q.cosw
	side := 1.0
	if across < 0 {
		side = -1
	}
	corner := edge * q.tan
	var v, u, least float64 // the line's normal, and its least over the wedge
	switch t := (along-edge)*q.cosw + (side*across-corner)*q.sinw; {
	case side*across > corner && t >= 0: // beside the wedge
		v, u, least = q.sinw, -side*q.cosw, 0
		if side*across <= along*q.tan {
			return false
		}
	default: // before it
		v, u = edge-along, min(max(across, -corner), corner)-across
		n := math.Hypot(v, u)
		if v <= 0 || n < 1e-9 {
			return false
		}
		v, u = v/n, u/n
		least = edge*v - corner*math.Abs(u)
		if v*q.cosw-math.Abs(u)*q.sinw < 0 {
			return false
		}
	}
	return e.most(c, 0, v*q.cos-u*q.sin, v*q.sin+u*q.cos) < least-1e-9
}

func (q *vividQuest) score(v lab.XYZ, _ float64) (float64, lab.Lab) {
	if v.Y < q.ylo || v.Y > q.yhi {
		return math.Inf(1), lab.Lab{}
	}
	colour := lab.FromXYZ(v, d65White)
	if hueApart(colour.Hue(), q.hue) > q.width {
		return math.Inf(1), lab.Lab{}
	}
	return -colour.Chroma(), colour
}

// together runs f(0) … f(n−1) on all processors until ctx ends, and gives its
// error.
func together(ctx context.Context, n int, f func(i int)) error {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(n, max(1, runtime.GOMAXPROCS(0))) {
		wg.Go(func() {
			for ctx.Err() == nil {
				i := int(next.Add(1) - 1)
				if i >= n {
					return
				}
				f(i)
			}
		})
	}
	wg.Wait()
	return ctx.Err()
}

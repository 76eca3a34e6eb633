package recipe

import (
	"context"
	"math"
	"slices"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// look compares what the tubes swallow with what the mix lives by.
func (w *Why) look(white *optics.Paint) {
	p := w.Palette
	var shared, left, needs [optics.Bands]bool
	own := make([][optics.Bands]bool, len(w.Tubes))
	for j, t := range w.Tubes {
		own[j] = p.darkBands(&p.Tubes[t.Tube].Paint, white)
	}
	for i := range shared {
		shared[i], left[i] = true, true
		for j := range own {
			shared[i] = shared[i] && own[j][i]
			left[i] = left[i] && !own[j][i]
		}
	}
	w.Shared, w.Left = lights(shared), lights(left)

	// A mix lives by the light whose reflection makes it more vivid. What it lacks
	// of that light costs chroma, by how much hangs on each band; each tube bears
	// its share of the band's absorption.
	c := &sums[p.Finish]
	paint := p.Paint(w.Parts)
	add, mass := whiteFor(func(v float64) lab.Lab {
		return lab.FromXYZ(c.of(&paint.K, &paint.S, &white.K, &white.S, v), d65White)
	}, middleTint)
	tint := optics.Mix([]*optics.Paint{&paint, white}, []float64{1, add})
	r := tint.Reflectance(p.Finish)
	at := r.Lab(optics.D65)
	if mass.Chroma() < 1 && at.Chroma() < 1 {
		return
	}
	weight := chromaWeights(r.XYZ(optics.D65), at.Hue())
	most := slices.Max(weight[:])
	total := 0.0
	for _, q := range w.Parts {
		total += q.Parts
	}
	w.loss = make([]float64, len(w.Tubes))
	for i := range r {
		needs[i] = weight[i] > livesBy*most
		if !needs[i] {
			continue
		}
		for j, q := range w.Parts {
			w.loss[j] += weight[i] * (1 - r[i]) * q.Parts / total * p.Tubes[q.Tube].Paint.K[i] / paint.K[i]
		}
	}
	w.Needs = lights(needs)
	for j, v := range w.loss {
		if w.Culprit < 0 || v > w.loss[w.Culprit] {
			w.Culprit = j
		}
	}
}

// livesBy is how much chroma must hang on a band, beside the most important one,
// for a mix to be said to live by its light.
const livesBy = 0.1

// chromaWeights says how fast CIELAB chroma rises along a hue with each band's
// reflectance, about a colour.
func chromaWeights(v lab.XYZ, hue float64) (g optics.Spectrum) {
	wx, wy, wz := optics.D65.Weights()
	sin, cos := math.Sincos(hue * math.Pi / 180)
	sx := labSlope(v.X / d65White.X)
	sy := labSlope(v.Y / d65White.Y)
	sz := labSlope(v.Z / d65White.Z)
	for i := range g {
		g[i] = 500*cos*sx*wx[i]/d65White.X + (200*sin-500*cos)*sy*wy[i]/d65White.Y - 200*sin*sz*wz[i]/d65White.Z
	}
	return g
}

// judge finds how much chroma the mix keeps and which exchange of one tube
// would keep more.
func (w *Why) judge(ctx context.Context, o WhyOptions, pair *Complement) error {
	p, shown := w.Palette, w.Shown.Lab
	if shown.Chroma() <= NeutralChroma {
		w.Verdict, w.Culprit = Grey, -1
		return nil
	}
	hue := shown.Hue()
	lo, hi := valueSpan(shown, ValueWindow)
	low, high := math.Inf(-1), math.Inf(1)
	jobs, err := p.lookThrough(ctx, vividness(hue, low, high), vividness(hue, lo, hi))
	if err != nil {
		return err
	}
	work := newProgress(len(jobs[0])+len(jobs[1]), o.Progress)
	defer work.finish()
	// The mix shown is one of the candidates.
	w.Best = &w.Shown
	f, ok, err := p.hunt(ctx, jobs[0], -shown.Chroma(), vividQuests(hue, low, high), work.done)
	if err != nil {
		return err
	}
	if ok {
		m := p.mixed(f.parts(), lab.Lab{})
		m.DE00 = 0
		w.Best = &m
	}
	best := w.Best.Lab.Chroma()
	w.Kept, w.KeptAtValue = shown.Chroma()/best, 1
	f, ok, err = p.hunt(ctx, jobs[1], -shown.Chroma(), vividQuests(hue, lo, hi), work.done)
	if err != nil {
		return err
	}
	if ok {
		w.KeptAtValue = shown.Chroma() / -f.score
	}
	switch {
	case w.Kept >= cleanFrom:
		w.Verdict = Clean
	case w.Kept >= dullBelow:
		w.Verdict = Dulled
	default:
		w.Verdict = Dull
	}
	if pair != nil {
		w.Culprit = -1
		return nil
	}
	if w.Verdict == Clean {
		w.Culprit = -1
		return nil
	}
	if len(w.greys()) > 0 {
		w.Culprit = w.greys()[0]
		return nil
	}
	beat := w.Kept
	if w.Swap, err = w.swap(ctx, p, p.colours, beat+swapGain, best); err != nil {
		return err
	}
	if w.Swap != nil {
		beat = w.Swap.Kept
	}
	library := o.Library
	if library == nil {
		for _, t := range inventory.Library() {
			library = append(library, t.Tube())
		}
	}
	all := p.loose(slices.Clone(p.Tubes))
	for _, t := range library {
		if !t.White && !p.holds(t) && Advisable(t) {
			all.Tubes = append(all.Tubes, t)
			all.colours = append(all.colours, len(all.Tubes)-1)
		}
	}
	if w.LibrarySwap, err = w.swap(ctx, all, all.colours[len(p.colours):], beat+swapGain, best); err != nil {
		return err
	}
	switch {
	case w.Swap != nil:
		w.Culprit = w.Swap.Out
	case w.LibrarySwap != nil:
		w.Culprit = w.LibrarySwap.Out
	}
	if w.Culprit >= 0 {
		w.blame()
	}
	return nil
}

// notable is the share of the needed light lost, by chroma, from which a tube
// that leans the wrong way is named.
const notable = 0.3

// blame says what the culprit takes, and what is hidden in the tubes.
func (w *Why) blame() {
	p := w.Palette
	dark := p.darkBands(&p.Tubes[w.Tubes[w.Culprit].Tube].Paint, p.tintWhite())
	var taken [optics.Bands]bool
	for _, l := range w.Needs {
		for i := range taken {
			if nm := optics.Wavelength(i); nm >= l.From && nm <= l.To {
				taken[i] = dark[i]
			}
		}
	}
	w.Taken = lights(taken)
	// Only tubes that do take of the needed light are said to hide something.
	sum := 0.0
	for _, v := range w.loss {
		sum += v
	}
	hidden := opposite[w.Wanted]
	for j, t := range w.Tubes {
		if hidden != "" && holds(t.Lean, hidden) && (j == w.Culprit || w.loss[j] > notable*sum) {
			w.Holders = append(w.Holders, j)
		}
	}
	if len(w.Holders) > 0 {
		w.Hidden = hidden
	}
}

// samePlace is how far apart, in degrees, the hues of two tubes' tints may lie
// for one to take the other's place in a mix: the width of a hue's family.
const samePlace = 45.0

// swap tries every one of some tubes of a palette in place of every tube of
// the mix whose place it can take, a red for a red, in all the ladder's ratios,
// and gives the mix of highest chroma at the hue of the mix shown; nil if none
// keeps as much as asked. A tube that has the mix's hue by itself is no answer to
// how to mix it, and left out.
func (w *Why) swap(ctx context.Context, from *Palette, tubes []int, keep, best float64) (*Swap, error) {
	hue := w.Shown.Lab.Hue()
	quest := func() quest { return newVividQuest(hue, swapWindow, math.Inf(-1), math.Inf(1)) }
	limit := -keep * best
	white := w.Palette.tintWhite()
	var out *Swap
	for j, old := range w.Tubes {
		if !isColour(w.Palette.Tubes[old.Tube], white) {
			continue
		}
		var jobs []job
		for _, x := range tubes {
			t := from.Tubes[x]
			h := inventory.LeanOf(&t.Paint, white).TintHue
			if !isColour(t, white) || hueApart(h, old.Lean.TintHue) > samePlace || hueApart(h, hue) < 2*swapWindow {
				continue
			}
			set := [3]int{-1, -1, -1}
			n, twice := 0, false
			for k, t := range w.Tubes {
				twice = twice || t.Tube == x
				if k != j {
					set[n] = t.Tube
					n++
				}
			}
			if twice {
				continue
			}
			set[n] = x
			slices.Sort(set[:n+1])
			jobs = from.withWhites(jobs, set, n+1)
		}
		f, ok, err := from.hunt(ctx, jobs, limit, quest, nil)
		if err != nil {
			return nil, err
		}
		if !ok || out != nil && f.score == limit {
			continue
		}
		limit = f.score
		at := slices.IndexFunc(f.set.tubes[:f.set.n], func(t int) bool { return slices.Contains(tubes, t) && !w.uses(t) })
		m, err := from.own(&f, lab.Lab{})
		if err != nil {
			return nil, err
		}
		m.DE00 = 0
		out = &Swap{Out: j, In: from.Tubes[f.set.tubes[at]], Mix: m, Kept: -f.score / best}
	}
	return out, nil
}

func (w *Why) uses(tube int) bool {
	return slices.ContainsFunc(w.Tubes, func(t Leaning) bool { return t.Tube == tube })
}

// knock finds the tube of a hue across from the mix's that, a little at a time,
// takes it down to half its chroma and least off its hue. Blacks and greys are
// not tried: they darken more than they dull.
func (w *Why) knock(white *optics.Paint) {
	p, shown := w.Palette, w.Shown.Lab
	if shown.Chroma() <= NeutralChroma {
		return
	}
	aim := lab.LCh{L: 50, C: shown.Chroma() / 2, H: shown.Hue()}.Lab()
	total := 0.0
	for _, q := range w.Shown.Parts {
		total += q.Parts
	}
	least := math.Inf(1)
	for x, t := range p.Tubes {
		if w.uses(x) || !isColour(t, white) || hueApart(inventory.LeanOf(&t.Paint, white).TintHue, shown.Hue()) < 90 {
			continue
		}
		for _, to := range Ladder {
			_, c := p.Mix(append(slices.Clone(w.Shown.Parts), Part{x, total / float64(to)}))
			if d := lab.DE00(aim, lab.Lab{L: 50, A: c.A, B: c.B}); d < least {
				least, w.Knock = d, &Knock{x, to, c}
			}
		}
	}
	if least > knockOff {
		w.Knock = nil
	}
}

// knockOff is how far, in ΔE00 of hue and chroma, a mix knocked back may miss
// half its chroma.
const knockOff = 5.0

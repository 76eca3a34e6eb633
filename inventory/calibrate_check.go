package inventory

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// What readings say against themselves: rows that are darker than their own
// surface, whites that no white can be, rows in the wrong place.

// where names a reading in a warning.
func (r *Reading) where(tube string) string {
	if r.Line == 0 {
		return r.parts() + " of " + tube
	}
	return fmt.Sprintf("line %d (%s of %s)", r.Line, r.parts(), tube)
}

// shine warns of readings that are said to count the surface's reflection but
// are darker than that alone. What is stated is followed: the painter may know
// better, and with it a whole box would change.
func (c *calibration) shine() {
	var rows []string
	how, least, lines := "", 1.0, false
	for _, t := range c.rd.Tubes {
		for i := range t.Rows {
			r := &t.Rows[i]
			v, words, dark := r.belowSurface()
			if !dark || r.Finish != optics.Included {
				continue
			}
			if v < least {
				how, least = words, v
			}
			if lines = r.Line > 0; lines {
				rows = append(rows, fmt.Sprint(r.Line))
			} else {
				rows = append(rows, r.where(t.Name))
			}
		}
	}
	if len(rows) == 0 {
		return
	}
	verbs := [2]string{"is", "reads"}
	if len(rows) > 1 {
		verbs = [2]string{"are", "read"}
	}
	if n := len(rows) - maxNamed; n > 1 {
		rows = append(rows[:maxNamed], fmt.Sprintf("%d more", n))
	}
	which := joined(rows, "and")
	switch {
	case lines && len(rows) > 1:
		which = "lines " + which
	case lines:
		which = "line " + which
	}
	s := fmt.Sprintf("%s %s said to count the surface's reflection (specular in) but %s as little as %s, less than the surface alone reflects (%.0f %%): these read as specular excluded: say out; as it is said now, mixes with these tubes come out many ΔE00 wrong",
		which, verbs[0], verbs[1], how, 100*optics.DrySurface.K1)
	c.report.Warnings = append([]string{s}, c.report.Warnings...)
}

// maxNamed is how many lines a warning names.
const maxNamed = 6

// What a white's own film may look like: above an L*, below a C*. Aged zinc
// and lead whites and buff titanium lie within (common practice, no source).
const (
	whiteLeastL, whiteMostC = 80, 15
	plainWhiteL, plainC     = 88, 8 // what is a white by its looks alone
)

func (r *Reading) looksWhite(leastL, mostC float64) bool {
	c := r.Colour()
	return c.L >= leastL && c.Chroma() <= mostC
}

// exchanged is a Lab reading with L and b in each other's place; false for a
// spectrum, or where no colour comes of it.
func (r *Reading) exchanged() (Reading, bool) {
	q := *r
	q.Lab.L, q.Lab.B = r.Lab.B, r.Lab.L
	return q, r.Spectrum == nil && q.Lab.L >= 0 && q.Lab.L <= 105
}

// mustBeWhite refuses a white's own row that cannot be one.
func (c *calibration) mustBeWhite(t *MeasuredTube, r *Reading) error {
	if r.looksWhite(whiteLeastL, whiteMostC) {
		return nil
	}
	line := r.Line
	if line == 0 {
		line = t.Line
	}
	at, mend := c.rd.Name, "the wrong row, or paint_parts 0 where 1 was meant?"
	if turned, ok := r.exchanged(); ok && turned.looksWhite(whiteLeastL, whiteMostC) {
		mend = "with L and b exchanged it would be one: are those columns in each other's place?"
	} else if whiteCodes(t.CI) {
		mend = "the wrong row, or the wrong code " + strings.Join(t.CI, "+") + "?"
	}
	if line > 0 {
		at = fmt.Sprintf("%s:%d", at, line)
	}
	return fmt.Errorf("%s: %s reads L* %.0f and C* %.0f as a white by itself, and no white is below L* %d or above C* %d: %s", at, t.Name, r.Colour().L, r.Colour().Chroma(), whiteLeastL, whiteMostC, mend)
}

// seemsWhite says whether a tube of masstones alone is a white though its rows
// have paint_parts above 0: by its code, or by its name and looks.
func (t *MeasuredTube) seemsWhite() bool {
	for i := range t.Rows {
		if r := &t.Rows[i]; !r.Masstone() || !whiteCodes(t.CI) && !r.looksWhite(whiteLeastL, whiteMostC) {
			return false
		}
	}
	return whiteCodes(t.CI) || len(t.CI) == 0 && nameHas(t.Name, "white")
}

// plainWhite finds the tube that is a white by its looks alone: no code,
// masstones only, nearly neutral and very light; -1 if there is none.
func plainWhite(tubes []MeasuredTube) int {
	best, lightest := -1, 0.0
	for i, t := range tubes {
		plain := len(t.CI) == 0
		for j := range t.Rows {
			plain = plain && t.Rows[j].Masstone() && t.Rows[j].looksWhite(plainWhiteL, plainC)
		}
		if plain && t.Rows[0].Colour().L > lightest {
			best, lightest = i, t.Rows[0].Colour().L
		}
	}
	return best
}

// Makers' paints of one code lie up to 6.1 ΔE00 apart in masstone, and up to
// 2.1 in tints once their strengths are matched: the most among the ten codes
// that both acrylic sets hold (Berns 2016; Okumura 2005), in either finish;
// oil films of four codes lie within 3.3 and 1.3 of the library (Geldof et al.,
// Heritage Science 6:17, 2018). Twice the most is another pigment. For a paint
// of the library that is estimated or derived, whose own error is not small,
// the limit is farther still (no source).
const makersApart, otherwiseApart = 6.1, 10.0

// unlike gives how far a row of white and paint lies from what the library's
// paints of its tube's code can give at any strength, ΔE00, in units of what
// makers differ by; 0 where nothing can be said.
func (f *film) unlike(known []*Pigment) float64 {
	least := math.Inf(1)
	if f.Black > 0 {
		return 0
	}
	for _, k := range known {
		apart := makersApart
		if k.Provenance != Measured {
			apart = otherwiseApart
		}
		reach := 3.0 // natural logarithm: twenty times stronger or weaker, as beside zinc white
		if len(f.with) == 0 {
			reach = 0
		}
		for l := -reach; l <= reach; l += 0.1 {
			p := k.Paint.Strengthened(math.Exp(l))
			least = min(least, f.off(&p)/apart)
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// paintsOf are the library's paints of a tube's code, one or several; none for
// tubes of several codes, whose proportions no label gives.
func paintsOf(codes []string, name string) []*Pigment {
	if len(codes) != 1 {
		return nil
	}
	if p, err := Find(paintNamed(codes[0], name)); err == nil {
		return []*Pigment{p}
	}
	var out []*Pigment
	for _, p := range library() {
		if p.Code == bareCode(codes[0]) {
			out = append(out, p)
		}
	}
	return out
}

// wrongRows names rows that look nothing like their tube's code, and pairs of
// rows of two tubes that look like each other's.
func (c *calibration) wrongRows(jobs []*job) {
	type suspect struct {
		j    *job
		row  int
		off  float64
		with *suspect
	}
	var all []*suspect
	known := map[*job][]*Pigment{}
	for _, j := range jobs {
		known[j] = paintsOf(j.CI, j.Name)
		for i := range j.films {
			if off := j.films[i].unlike(known[j]); off > 1 {
				all = append(all, &suspect{j: j, row: i, off: off})
			}
		}
	}
	// L and b in each other's columns are in the whole file or in no row.
	if turned := 0; len(all) > 1 {
		var example *Reading
		for _, s := range all {
			f := s.j.films[s.row]
			var ok bool
			if f.Reading, ok = f.exchanged(); ok && f.unlike(known[s.j]) <= 1 {
				turned++
				example = &s.j.films[s.row].Reading
			}
		}
		if turned > 1 && 2*turned > len(all) {
			c.warn("%d rows that look nothing like their codes would with L and b exchanged, such as line %d: are those columns in each other's place?", turned, example.Line)
			c.turned = true
			return
		}
	}
	for i, p := range all {
		for _, q := range all[:i] {
			a, b := &p.j.films[p.row], &q.j.films[q.row]
			if p.with != nil || q.with != nil || p.j == q.j || math.Abs(a.share-b.share) > 0.01 {
				continue
			}
			pq, qp := b.unlike(known[p.j]), a.unlike(known[q.j])
			if max(pq, qp) <= 1 && pq+qp < (p.off+q.off)/2 {
				p.with, q.with = q, p
			}
		}
	}
	for _, j := range jobs {
		var odd []*suspect
		for _, s := range all {
			if s.j == j && (s.with != nil || s.off > 2) {
				odd = append(odd, s)
			}
		}
		code := strings.Join(j.CI, "+")
		lone := !slices.ContainsFunc(odd, func(s *suspect) bool { return s.with != nil })
		switch {
		case lone && len(odd) > 0 && len(odd) == len(j.films), len(odd) == 0 && j.belief.paint == nil && j.belief.beside != "":
			c.warn("%s does not read like %s (%s): is the code right?", j.Name, code, j.belief.beside)
			continue
		}
		j.odd = map[int]string{}
		for _, s := range odd {
			r := &j.films[s.row].Reading
			if s.with != nil {
				o := &s.with.j.films[s.with.row].Reading
				j.odd[s.row] = fmt.Sprintf("%s and %s look swapped: each looks like the other tube's code", r.where(j.Name), o.where(s.with.j.Name))
				if slices.Index(jobs, s.with.j) < slices.Index(jobs, j) {
					j.odd[s.row] = s.with.j.odd[s.with.row]
				}
			} else {
				j.odd[s.row] = fmt.Sprintf("%s looks nothing like %s: the wrong row, or the wrong code?", r.where(j.Name), code)
			}
			c.warn("%s", j.odd[s.row])
		}
	}
}

// A row is suspicious if it lies oddOff, ΔE00, from what the others foretell,
// oddTimes farther than their own uncertainty lets expect, and oddAmong times
// farther than the others lie from one another. With fewer than four drawdowns
// the others cannot be held against one another, and the row must lie farther
// still: lakes and stains that the theory misses do by themselves.
const oddOff, oddTimes, oddAmong, oddOfFew = 6, 4, 3, 12

// swapGain is by how much the logarithm of a tube's evidence must rise when two
// rows are read in each other's place. Over the measured oil films (Geldof et
// al. 2018) it never rises above 0.3 for rows that are in order, and by 13 or
// more where two have been swapped.
const swapGain = 6

// maxLeftOut bounds how many of a tube's drawdowns are left out in turn.
const maxLeftOut = 24

// leaveOut foretells each reading from the tube's others, and looks for rows
// in each other's place and rows that belong to no place.
func (c *calibration) leaveOut(r *TubeReport, j *job) {
	films := merged(j.films)
	n := len(films)
	if !c.leaving || n < 2 || n > maxLeftOut {
		return
	}
	without := make([]*optics.Fitted, n)
	off := make([]float64, n)
	r.LeftOut = 0
	for g := range films {
		fit, err := fitTo(slices.Delete(slices.Clone(films), g, g+1), j.belief.prior, c.noise)
		if err != nil {
			continue
		}
		without[g], off[g] = fit, films[g].off(&fit.Paint)
		for i := range j.films {
			if sameDrawdown(&films[g], &j.films[i]) {
				r.Rows[i].LeftOut = j.films[i].off(&fit.Paint)
				r.LeftOut += r.Rows[i].LeftOut / float64(len(j.films))
			}
		}
	}
	if len(j.odd) > 0 || c.turned || slices.Max(off) < oddOff {
		return
	}
	say := func(g int, s string) {
		for i := range j.films {
			if sameDrawdown(&films[g], &j.films[i]) {
				r.Rows[i].Suspicious = s
			}
		}
		c.warn("%s", s)
	}
	if a, b := c.swapped(films, off, j); b >= 0 {
		s := fmt.Sprintf("%s and %s look swapped: the other way round they agree with the rest", films[a].where(j.Name), films[b].where(j.Name))
		say(a, s)
		say(b, s)
		return
	}
	worst := -1
	for g := range films {
		if without[g] != nil && (worst < 0 || without[g].Evidence > without[worst].Evidence) {
			worst = g
		}
	}
	if worst >= 0 && off[worst] > oddOff && off[worst] > oddTimes*films[worst].expectedOff(without[worst]) && (off[worst] > oddOfFew || n > 3) && off[worst] > oddAmong*c.among(films, worst, j) {
		say(worst, fmt.Sprintf("%s lies %.0f ΔE00 from what the tube's other readings foretell: the wrong row, or wrong parts?", films[worst].where(j.Name), off[worst]))
	}
}

// swapped finds the two drawdowns whose colours, exchanged, agree best with
// everything, if that is far better than as they are; b is -1 if there are none.
func (c *calibration) swapped(films []film, off []float64, j *job) (a, b int) {
	b = -1
	best := j.fit.Evidence + swapGain
	for p := range films {
		for q := range films[:p] {
			if max(off[p], off[q]) < oddOff {
				continue
			}
			try := slices.Clone(films)
			x, y := &try[p], &try[q]
			x.Spectrum, y.Spectrum, x.Lab, y.Lab = y.Spectrum, x.Spectrum, y.Lab, x.Lab
			x.Finish, y.Finish, x.Illuminant, y.Illuminant = y.Finish, x.Finish, y.Illuminant, x.Illuminant
			if fit, err := fitTo(try, j.belief.prior, c.noise); err == nil && fit.Evidence > best {
				a, b, best = q, p, fit.Evidence
			}
		}
	}
	return a, b
}

// among is the mean ΔE00 of the drawdowns other than one, each foretold from
// the rest of them; 0 where there are too few to tell.
func (c *calibration) among(films []film, out int, j *job) float64 {
	films = slices.Delete(slices.Clone(films), out, out+1)
	n := len(films)
	if n < 3 {
		return 0
	}
	sum := 0.0
	for g := range films {
		fit, err := fitTo(slices.Delete(slices.Clone(films), g, g+1), j.belief.prior, c.noise)
		if err == nil {
			sum += films[g].off(&fit.Paint) / float64(n)
		}
	}
	return sum
}

// expectedOff is the root mean square distance, ΔE00, at which a film may lie
// from a fit it was no part of.
func (f *film) expectedOff(fit *optics.Fitted) float64 {
	base := f.predicted(&fit.Paint)
	sum := optics.UsualNoise.Colour*optics.UsualNoise.Colour + 3*f.Uncertainty*f.Uncertainty
	for _, m := range optics.ModesOf(fit.Spread, keptModes) {
		p := m.Apply(fit.Paint, 1)
		d := lab.DE00(base, f.predicted(&p))
		sum += d * d
	}
	return math.Sqrt(sum)
}

package inventory

import (
	"math"
	"slices"
	"strings"

	"paintout/inventory/optics"
)

// What all tubes of one set of readings share is found from all of them: how
// strong they are, as one, beside their white, and how far from one another.
// A zinc white scatters a twelfth of titanium white, and with it for a measure
// every other paint of the box is twelve times as strong.

// How far the strength of a whole set may lie from the library's, natural
// logarithm: with a white of known code (parts by mass, thin or thick paint),
// and with any white. How far tubes may differ from one another beyond their
// own priors: its expected size.
const (
	scaleOfKnownWhite, scaleOfAnyWhite = 0.4, 1.2
	apartExpected                      = 1.0
)

// scale finds the shift of all priors and what is to be added to their widths:
// the pair of greatest probability given every tube's own fit (parametric
// empirical Bayes; Morris, J. Am. Stat. Assoc. 78:47, 1983). Each tube tells
// of it as far as its readings determined the level of its S.
func (c *calibration) scale(jobs []*job) {
	sd := scaleOfAnyWhite
	if len(c.white.CI) > 0 {
		sd = scaleOfKnownWhite
	}
	type level struct{ at, prior, own float64 } // log S against the prior's mean; variances
	var levels []level
	for _, j := range jobs {
		away, after, before := j.belief.prior.LevelS(j.fit)
		if after > 0.95*before {
			continue // its readings say nothing of it
		}
		own := 1 / (1/after - 1/before)
		levels = append(levels, level{away / after * own, before, own})
	}
	best := math.Inf(-1)
	for apart := 0.0; apart <= 3; apart += 0.1 {
		sum, weight := 0.0, 1/(sd*sd)
		for _, l := range levels {
			w := 1 / (l.prior + apart*apart + l.own)
			sum += w * l.at
			weight += w
		}
		shift := sum / weight
		p := -shift*shift/(2*sd*sd) - apart*apart/(2*apartExpected*apartExpected)
		for _, l := range levels {
			v := l.prior + apart*apart + l.own
			p -= (l.at-shift)*(l.at-shift)/(2*v) + math.Log(v)/2
		}
		if p > best {
			c.shift, c.apart, best = shift, apart, p
		}
	}
}

// otherWhiteSD is how far a second white's strength beside the first may lie
// from what the library's whites say of them, natural logarithm.
const otherWhiteSD = 0.5

// otherWhites places every white but the first beside it by the tubes that
// were tinted with both: each such tube, fitted without the films that hold
// the other white, foretells those, and the strength at which they are met
// best is the other white's. What lies far out counts little (Cauchy's
// likelihood): one wrong row must not move a white.
func (c *calibration) otherWhites(jobs []*job) {
	for i, w := range c.whiteRows {
		white := c.paints[strings.ToLower(w.Name)]
		if i == 0 || white == c.white {
			continue
		}
		var films []film
		var of []*optics.Paint
		for _, j := range jobs {
			var with, without []film
			for _, f := range merged(j.films) {
				if slices.Contains(f.with, &white.Paint) {
					with = append(with, f)
				} else {
					without = append(without, f)
				}
			}
			if len(with) == 0 || !slices.ContainsFunc(without, func(f film) bool { return f.White > 0 }) {
				continue
			}
			fit, err := fitTo(without, j.belief.prior, c.noise)
			if err != nil {
				continue
			}
			for _, f := range with {
				films, of = append(films, f), append(of, &fit.Paint)
			}
		}
		if len(films) == 0 {
			continue
		}
		was := white.Paint
		best, at := math.Inf(1), 0.0
		for s := -2.0; s <= 2; s += 0.02 {
			white.Paint = was.Strengthened(math.Exp(s))
			off := s * s / (2 * otherWhiteSD * otherWhiteSD)
			for k := range films {
				d := films[k].off(of[k]) / otherWhiteOff
				off += math.Log1p(d * d)
			}
			if off < best {
				best, at = off, s
			}
		}
		white.Paint = rounded(was.Strengthened(math.Exp(at)))
	}
}

// otherWhiteOff is how far a foretold film usually lies off, ΔE00.
const otherWhiteOff = 3

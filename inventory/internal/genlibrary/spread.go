package main

import (
	"math"

	"paintout/inventory/internal/steps"
	"paintout/inventory/optics"
)

// departure is how one paint departs from another: the size of each step, what
// they leave of ln K and ln S (root mean square), and the mean ΔE00 between
// masstones and tints once the strengths are matched.
type departure struct {
	steps.SDs
	restK, restS, matched float64
}

// depart fits ln(q/p), once the tinting strengths are matched, by level, tilt
// and edge shift of K and level and tilt of S. Bands count by how much masstone
// and tints show them, in units of a reading's own uncertainty: ten per cent
// of K where all light is absorbed anyway is nothing.
func depart(p, q, white *optics.Paint) departure {
	var d departure
	factor, left := matchStrength(p, q, white)
	d.Strength, d.matched = math.Log(factor), left
	var dk, ds, wk, ws optics.Spectrum
	for i := range dk {
		dk[i] = math.Log(q.K[i]/p.K[i]) - d.Strength
		ds[i] = math.Log(q.S[i]/p.S[i]) - d.Strength
	}
	const h = 0.01
	for _, n := range tints[:4] {
		base := tint(p, white, n, optics.DrySurface)
		moreK, moreS := *p, *p
		for i := range base {
			moreK.K[i] *= 1 + h
			moreS.S[i] *= 1 + h
		}
		k, s := tint(&moreK, white, n, optics.DrySurface), tint(&moreS, white, n, optics.DrySurface)
		for i := range base {
			sd := math.Hypot(0.0025, 0.1*base[i])
			wk[i] += (k[i] - base[i]) * (k[i] - base[i]) / (sd * sd)
			ws[i] += (s[i] - base[i]) * (s[i] - base[i]) / (sd * sd)
		}
	}
	s := weighted(&ds, &ws, steps.Level(), steps.Tilt())
	k := weighted(&dk, &wk, steps.Level(), steps.Tilt())
	if edge, ok := steps.Edge(p); ok {
		k = weighted(&dk, &wk, steps.Level(), steps.Tilt(), edge)
		d.Edge = k.x[2]
	}
	d.LevelK, d.TiltK = k.x[0], k.x[1]
	d.LevelS, d.TiltS = s.x[0], s.x[1]
	d.restK, d.restS = k.rest, s.rest
	return d
}

type leastSquares struct {
	x    []float64
	rest float64
}

// weighted solves for the coefficients of a basis by weighted least squares.
func weighted(y, w *optics.Spectrum, basis ...optics.Spectrum) leastSquares {
	n := len(basis)
	a := make([][]float64, n)
	for r := range a {
		a[r] = make([]float64, n+1)
		for i := range y {
			for c := range n {
				a[r][c] += w[i] * basis[r][i] * basis[c][i]
			}
			a[r][n] += w[i] * basis[r][i] * y[i]
		}
	}
	for p := range n { // Gauss–Jordan; the matrix is positive definite
		for r := range n {
			if r == p {
				continue
			}
			f := a[r][p] / a[p][p]
			for c := p; c <= n; c++ {
				a[r][c] -= f * a[p][c]
			}
		}
	}
	out := leastSquares{x: make([]float64, n)}
	for p := range n {
		out.x[p] = a[p][n] / a[p][p]
	}
	sum, all := 0.0, 0.0
	for i := range y {
		e := y[i]
		for p := range n {
			e -= out.x[p] * basis[p][i]
		}
		sum += w[i] * e * e
		all += w[i]
	}
	out.rest = math.Sqrt(sum / all)
	return out
}

// summary gives the root mean squares of departures: what one paint may be
// from another, not from their mean, since the library holds one and the
// painter's tube is another.
func summary(all []departure) (sd steps.SDs) {
	square := func(of func(*steps.SDs) *float64) {
		sum := 0.0
		for i := range all {
			v := *of(&all[i].SDs)
			sum += v * v
		}
		*of(&sd) = math.Sqrt(sum / float64(len(all)))
	}
	square(func(s *steps.SDs) *float64 { return &s.Strength })
	square(func(s *steps.SDs) *float64 { return &s.LevelK })
	square(func(s *steps.SDs) *float64 { return &s.LevelS })
	square(func(s *steps.SDs) *float64 { return &s.TiltK })
	square(func(s *steps.SDs) *float64 { return &s.TiltS })
	square(func(s *steps.SDs) *float64 { return &s.Edge })
	return sd
}

// pairs are the departures between the two acrylic sets, by key, whites apart.
func (s *sets) pairs() (keys []string, all []departure) {
	for _, key := range s.order {
		twin := key
		if t := sameAs[key]; t != "" {
			twin = t
		}
		if h, f := s.heavy[key], s.fluid[twin]; h != nil && f != nil && key != "PW6" {
			keys = append(keys, key)
			all = append(all, depart(h, f, &s.white))
		}
	}
	return keys, all
}

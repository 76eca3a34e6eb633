package main

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"paintout/analyze/lab"
	"paintout/inventory/internal/figures"
	"paintout/inventory/optics"
)

// oil holds the paints fitted to the oil films, on zinc white's scale (its
// S = 1), by the set's own words for them.
type oil struct {
	films  map[string]optics.Drawdown // by number; With and WithOf not filled in
	share  map[string]map[string]float64
	paints map[string]*optics.Paint
}

// opaque gives what a film would reflect if it hid its ground, from readings
// over both grounds, and its standard deviation from reading errors of 0.003
// over each. Dark readings are held 0.002 above the surface's own reflection.
func opaque(f *figures.Film) (seen, sd optics.Spectrum) {
	s := optics.DrySurface
	in := func(r float64) float64 { return s.Internal(max(r, s.K1+0.002), optics.Included) }
	for i := range seen {
		at := func(black, white float64) float64 {
			r := optics.OpaqueFromTwo(in(black), in(f.BareBlack[i]), in(white), in(f.White[i]))
			return s.Measured(r, optics.Included)
		}
		seen[i] = at(f.OverBlack[i], f.OverWhite[i])
		sd[i] = math.Hypot(at(f.OverBlack[i]+0.003, f.OverWhite[i])-seen[i], at(f.OverBlack[i], f.OverWhite[i]+0.003)-seen[i])
	}
	return seen, sd
}

// readOil fits the set's paints in the order in which they become known:
// zinc white from its masstone (S = 1), bone black from the greys, the
// coloured pigments from masstone, tints and shades, lead white from its
// mixtures with those.
func readOil() (*oil, error) {
	films, err := figures.OilFilms()
	if err != nil {
		return nil, err
	}
	o := &oil{films: map[string]optics.Drawdown{}, share: map[string]map[string]float64{}, paints: map[string]*optics.Paint{}}
	for id, f := range films {
		seen, sd := opaque(&f)
		o.films[id] = optics.Drawdown{Seen: seen, Spread: sd}
		o.share[id] = f.Share
	}
	zinc := optics.Paint{S: optics.Flat(1)}
	seen := o.films["07A"].Seen
	for i, r := range optics.DrySurface.Inside(seen, optics.Included) {
		zinc.K[i] = optics.RToKS(r)
	}
	o.paints["zinc white"] = &zinc
	for _, step := range []struct {
		name   string
		series string
		prior  *optics.Paint
	}{
		{"bone black", "07", nil},
		{"vermilion", "06", nil},
		{"viridian", "09", nil},
		{"ultramarine blue", "11", nil},
		{"cobalt blue", "12", nil},
		{"Prussian blue", "13", nil},
		{"chrome yellow", "14", nil},
		{"lead white", "08", &zinc},
	} {
		var d []optics.Drawdown
		for _, id := range o.series(step.series) {
			if o.share[id][step.name] > 0 {
				d = append(d, o.drawdown(id, step.name))
			}
		}
		prior := tableOpen.About(&openPaint)
		if step.prior != nil {
			prior = tableLead.About(step.prior)
		}
		fit, err := optics.Fit(d, prior, tableNoise)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", step.name, err)
		}
		o.paints[step.name] = &fit.Paint
	}
	return o, nil
}

func (o *oil) series(prefix string) []string {
	var ids []string
	for id := range o.films {
		if id[:2] == prefix {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	return ids
}

// components names what is in a film, in one fixed order.
func (o *oil) components(id string) []string {
	return slices.Sorted(maps.Keys(o.share[id]))
}

// drawdown is a film for fitting the named paint, all others being known.
func (o *oil) drawdown(id, name string) optics.Drawdown {
	d := o.films[id]
	for _, c := range o.components(id) {
		if c == name {
			d.Parts = o.share[id][c]
			continue
		}
		d.With = append(d.With, o.paints[c])
		d.WithOf = append(d.WithOf, o.share[id][c])
	}
	return d
}

// foretold is the mean ΔE00 between films and what paints by those names give.
func (o *oil) foretold(ids []string, paints map[string]*optics.Paint) float64 {
	sum := 0.0
	for _, id := range ids {
		var p []*optics.Paint
		var parts []float64
		for _, c := range o.components(id) {
			p, parts = append(p, paints[c]), append(parts, o.share[id][c])
		}
		m := optics.Mix(p, parts)
		got, want := m.Reflectance(optics.Included), o.films[id].Seen
		sum += lab.DE00(got.Lab(optics.D65), want.Lab(optics.D65))
	}
	return sum / float64(len(ids))
}

// shared are the pigments that both the library and the oil set hold, with
// the films of masstone and zinc-white tints that compare them.
var shared = []struct {
	key, name string
	films     []string
}{
	{"PB29", "ultramarine blue", []string{"11A", "11B", "11C"}},
	{"PB28", "cobalt blue", []string{"12A", "12B", "12C"}},
	{"PBk9", "bone black", []string{"07C", "07D", "07E", "07F"}},
}

// factor is by how much a library paint has to be strengthened to foretell
// the oil films of its pigment best, and the mean ΔE00 left.
func (o *oil) factor(p *optics.Paint, name string, films []string) (factor, left float64) {
	off := func(logF float64) float64 {
		f := p.Strengthened(math.Exp(logF))
		return o.foretold(films, map[string]*optics.Paint{name: &f, "zinc white": o.paints["zinc white"]})
	}
	at := goldenSection(off, math.Log(2), math.Log(60))
	return math.Exp(at), off(at)
}

// scale is what divides the oil set's constants to bring them onto titanium
// white's scale: the geometric mean over the shared pigments, and the standard
// deviation of its logarithm for one pigment, which is how wrong the strength
// of a pigment brought over so may be.
func (o *oil) scale(known func(key string) *optics.Paint) (divisor, logSD float64) {
	var logs []float64
	mean := 0.0
	for _, c := range shared {
		f, _ := o.factor(known(c.key), c.name, c.films)
		logs = append(logs, math.Log(f))
		mean += math.Log(f) / float64(len(shared))
	}
	for _, l := range logs {
		logSD += (l - mean) * (l - mean) / float64(len(logs)-1)
	}
	return math.Exp(mean), math.Sqrt(logSD)
}

// fromOil are the pigments taken from the oil set.
var fromOil = []struct{ key, name string }{
	{"PW1", "lead white"},
	{"PW4", "zinc white"},
	{"PY34", "chrome yellow"},
	{"PR106", "vermilion"},
	{"PB27", "Prussian blue"},
	{"PG18", "viridian"},
}

func (o *oil) derived(known func(key string) *optics.Paint) []entry {
	divisor, sd := o.scale(known)
	var out []entry
	for _, p := range fromOil {
		out = append(out, entry{
			key: p.key, provenance: "Derived", source: ofOil, steps: rescaled, strengthSD: sd,
			paint: o.paints[p.name].Strengthened(1 / divisor),
		})
	}
	return out
}

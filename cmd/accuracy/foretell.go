package main

import (
	"fmt"
	"maps"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// prediction is a film that was kept out of the fit, foretold.
type prediction struct {
	film            *film
	colour, seen    lab.Lab // foretold and measured, D65
	off             float64 // ΔE00 between them
	strength, other recipe.Spread
}

// bound is the nine-in-ten bound that was stated beforehand, as `paintout mix
// --portion-error 0` states it, with what is open of the tubes beside their
// strength multiplied by factor: 1 is what is stated.
func (p *prediction) bound(factor float64) float64 {
	s := slices.Clone(p.strength)
	for _, v := range p.other {
		s = append(s, lab.Lab{L: factor * v.L, A: factor * v.A, B: factor * v.B})
	}
	return s.OffFrom(p.colour, p.colour).P90
}

// readings writes films as the readings file of a painter who weighed them.
// Tubes bear the set's own words and no codes: its pigments gave the library
// some of its constants, which must not come back by that way, nor by their
// looks ([inventory.Readings].Apart).
func readings(films []*film, labs bool) string {
	var b strings.Builder
	b.WriteString("tube,paint_parts,white_parts,black_parts,white,basis,specular,illuminant")
	if labs {
		b.WriteString(",L,a,b")
	} else {
		for i := range optics.Bands {
			fmt.Fprintf(&b, ",%d", optics.Wavelength(i))
		}
	}
	b.WriteByte('\n')
	for _, f := range films {
		own, white, black, name := f.share[f.own], f.share[f.white], f.share[bone], f.white
		if f.own == bone {
			black = 0
		}
		if f.own == f.white {
			own, white, name = 0, 1, ""
		}
		fmt.Fprintf(&b, "%s,%g,%g,%g,%s,mass,included,D65", word(f.own), 100*own, 100*white, 100*black, word(name))
		if labs {
			c := f.seen.Lab(optics.D65)
			fmt.Fprintf(&b, ",%.2f,%.2f,%.2f\n", c.L, c.A, c.B)
			continue
		}
		for _, v := range f.seen {
			fmt.Fprintf(&b, ",%.5f", v)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// word is a component's name such that no pigment of the library bears it.
func word(component string) string {
	if component == "" {
		return ""
	}
	return "the set's " + component
}

func calibrated(films []*film, labs bool) (*inventory.Box, error) {
	rd, err := inventory.ReadReadings("films.csv", strings.NewReader(readings(films, labs)))
	if err != nil {
		return nil, err
	}
	rd.Apart = []string{"Geldof", "PG18"} // PG18 is of the set, and an estimate was made from it
	return inventory.CalibrateBox(rd, nil)
}

// foretell foretells a film from a box.
func foretell(b *inventory.Box, f *film) (prediction, error) {
	p := prediction{film: f, seen: f.seen.Lab(optics.D65)}
	var tubes []*inventory.Tube
	var parts []recipe.Part
	for _, c := range slices.Sorted(maps.Keys(f.share)) {
		t := b.Tube(word(c))
		if t == nil {
			return p, fmt.Errorf("%s: no film of %s is left to foretell it from", f.id, c)
		}
		parts = append(parts, recipe.Part{Tube: len(tubes), Parts: f.share[c]})
		tubes = append(tubes, t)
	}
	pal, err := recipe.NewPalette(tubes, optics.Included)
	if err != nil {
		return p, err
	}
	_, p.colour = pal.Mix(parts)
	p.off = lab.DE00(p.colour, p.seen)
	steps := pal.SpreadOf(parts, 0) // every tube's modes in turn, strength first
	for _, t := range tubes {
		p.strength = append(p.strength, steps[0])
		p.other = append(p.other, steps[1:len(t.Modes)]...)
		steps = steps[len(t.Modes):]
	}
	return p, nil
}

// method foretells films of the set from readings of others.
type method func(from, test []*film) ([]prediction, error)

// twoConstant goes the painter's way: readings file, box, mix.
func twoConstant(labs bool) method {
	return func(from, test []*film) ([]prediction, error) {
		b, err := calibrated(from, labs)
		if err != nil {
			return nil, err
		}
		return together(test, func(f *film) (prediction, error) { return foretell(b, f) })
	}
}

// together foretells each film, on all processors.
func together(test []*film, one func(*film) (prediction, error)) ([]prediction, error) {
	out, errs := make([]prediction, len(test)), make([]error, len(test))
	var wg sync.WaitGroup
	room := make(chan bool, runtime.GOMAXPROCS(0))
	for i, f := range test {
		wg.Go(func() {
			room <- true
			defer func() { <-room }()
			out[i], errs[i] = one(f)
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// singleConstant foretells films by adding K/S itself, part by part (Duncan, J.
// Oil Colour Chem. Assoc. 32, 1949, taken with one constant): white's as
// measured, every other paint's by least squares in the logarithm of K/S over
// the same readings that the other method is given.
func singleConstant(from, test []*film) ([]prediction, error) {
	unit := map[string]*optics.Spectrum{}
	inside := map[*film]optics.Spectrum{}
	for _, f := range from {
		inside[f] = optics.DrySurface.Inside(f.seen, optics.Included)
	}
	ks := func(f *film, b int) float64 { return max(optics.RToKS(inside[f][b]), 1e-5) }
	for _, now := range []func(*film) bool{
		func(f *film) bool { return f.own == f.white },
		func(f *film) bool { return f.own == bone },
		func(f *film) bool { return f.own != f.white && f.own != bone },
	} {
		of := map[string][]*film{}
		for _, f := range from {
			if now(f) {
				of[f.own] = append(of[f.own], f)
			}
		}
		for name, films := range of {
			u := new(optics.Spectrum)
			for b := range u {
				u[b] = math.Exp(leastAt(func(l float64) (sum float64) {
					for _, f := range films {
						q := f.share[name] * math.Exp(l)
						for c, v := range f.share {
							if c != name && unit[c] != nil {
								q += v * unit[c][b]
							}
						}
						d := math.Log(q / ks(f, b))
						sum += d * d
					}
					return sum
				}, -12, 6))
			}
			unit[name] = u
		}
	}
	return together(test, func(f *film) (prediction, error) {
		p := prediction{film: f, seen: f.seen.Lab(optics.D65)}
		var s optics.Spectrum
		for b := range s {
			q := 0.0
			for _, c := range slices.Sorted(maps.Keys(f.share)) {
				if unit[c] == nil {
					return p, fmt.Errorf("%s: no film of %s is left to foretell it from", f.id, c)
				}
				q += f.share[c] * unit[c][b]
			}
			s[b] = optics.DrySurface.Measured(optics.KSToR(q), optics.Included)
		}
		p.colour = s.Lab(optics.D65)
		p.off = lab.DE00(p.colour, p.seen)
		return p, nil
	})
}

// leastAt finds where f is least between lo and hi: a scan, then thirds.
func leastAt(f func(float64) float64, lo, hi float64) float64 {
	const scan = 36
	step, at, best := (hi-lo)/scan, lo, math.Inf(1)
	for i := range scan + 1 {
		if v := f(lo + float64(i)*step); v < best {
			best, at = v, lo+float64(i)*step
		}
	}
	lo, hi = at-step, at+step
	for hi-lo > 1e-3 {
		a, b := lo+(hi-lo)/3, hi-(hi-lo)/3
		if f(a) < f(b) {
			hi = b
		} else {
			lo = a
		}
	}
	return (lo + hi) / 2
}

package main

import (
	"math"

	"paintout/inventory/optics"
)

// trials are estimates of paints that are measured after all, by the steps
// that the list of estimates uses, to learn how far such an estimate goes
// astray.
var trials = []struct {
	key  string
	from []part
}{
	{"PY74", one("PY83")},
	{"PY83", one("PY74")},
	{"PY184", one("PY74")},
	{"PO73", one("PR254")},
	{"PR254", one("PO73")},
	{"PR108", one("PO20")},
	{"PR5", one("PR254")},
	{"PV19", one("PR122")},
	{"PR122", one("PV19")},
	{"PB15:1", one("PB15:4")},
	{"PB36:1", one("PB28")},
	{"PB60", one("PB15:1")},
	{"PG36", one("PG7")},
	{"PR101", one("PBr7/burnt sienna")},
	{"PBr7/raw sienna", one("PY43")},
	{"PBr7/burnt umber", []part{{"PBr7/burnt sienna", 1}, {"PBk9", 1}}},
}

// try estimates each as a colourist would who knows its hue from the trade:
// the neighbour's edge moved by the multiple of 5 nm, up to 60, that brings
// its hue nearest, in masstone or, for a masstone below L* 35, in the 1:9 tint.
func try(known func(key string) *optics.Paint, white *optics.Paint) (keys []string, all []departure, err error) {
	for _, t := range trials {
		target := known(t.key)
		hue := func(p *optics.Paint) float64 {
			mass := target.Reflectance(optics.Included)
			seen := p.Reflectance(optics.Included)
			if mass.Lab(optics.D65).L < 35 {
				seen = tint(p, white, 9, optics.DrySurface)
			}
			return seen.Lab(optics.D65).Hue()
		}
		want := hue(target)
		var best optics.Paint
		least := math.Inf(1)
		for nm := -60.0; nm <= 60; nm += 5 {
			e := estimate{key: t.key, from: t.from, edge: nm}
			p, err := e.make(known)
			if err != nil {
				return nil, nil, err
			}
			off := math.Abs(math.Mod(hue(&p)-want+540, 360)-180) + 1e-3*math.Abs(nm)
			if off < least {
				best, least = p, off
			}
		}
		keys = append(keys, t.key)
		all = append(all, depart(&best, target, white))
	}
	return keys, all, nil
}

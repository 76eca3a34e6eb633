package recipe

import (
	"math"
	"slices"
)

// Among is the part of the table that needs no other tubes than those given
// (indices into the palette's tubes): what is left when the rest of the box
// stays at home. Aims and palette stay the same, so that differences compare.
func (t *Table) Among(tubes []int) *Table {
	p := t.Palette
	out := &Table{Palette: p, Aims: t.Aims, stride: t.stride, best: make([]float64, len(t.Aims))}
	for a := range out.best {
		out.best[a] = math.Inf(1)
	}
	carried := make([]bool, len(p.Tubes))
	for _, i := range tubes {
		carried[i] = true
	}
	for i, set := range t.sets {
		if slices.ContainsFunc(set.tubes[:set.n], func(j int) bool { return !carried[j] }) {
			continue
		}
		out.sets = append(out.sets, set)
		near := slices.Clone(t.near[i*t.stride : (i+1)*t.stride])
		plain := slices.Clone(t.plain[i*t.stride : (i+1)*t.stride])
		for c, white := range p.whites {
			if carried[white] {
				continue
			}
			at := (1 + c) * len(t.Aims)
			for a := range t.Aims {
				near[at+a].de00, plain[at+a].de00 = math.Inf(1), math.Inf(1)
			}
		}
		for j, n := range near {
			a := j % len(t.Aims)
			out.best[a] = min(out.best[a], n.de00)
		}
		out.near, out.plain = append(out.near, near...), append(out.plain, plain...)
	}
	return out
}

// Best is the least ΔE00 of any mix in the table from aim number a; +Inf where
// there is none.
func (t *Table) Best(a int) float64 { return t.best[a] }

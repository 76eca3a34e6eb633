package analyze

import (
	"fmt"
	"sort"

	"paintout/analyze/lab"
)

// slotEvery: of so many masses one may be an accent's.
const slotEvery = 4

// worth is what one mass more must bring, in mean ΔE00 of the picture as a
// half-closed eye sees it: an eighth of the area nearer by 1.8, the 50:50
// acceptability threshold (Paravina et al., J. Esthet. Restor. Dent. 27,
// 2015). Landscapes so come to about 7 to 14 masses, a bare wall to one.
const worth = 1.8 / 8

// slots shares k masses out between the tree and the accents. With k 0 the
// picture decides: as many from the tree as are worth it.
func (h *hierarchy) slots(k int) (masses, accents int) {
	if k > 0 {
		accents = min(k/slotEvery, len(h.accents))
		return min(k-accents, len(h.levels)), accents
	}
	masses = 1
	for n := range h.seen {
		if h.seen[n]+worth*float64(n) < h.seen[masses-1]+worth*float64(masses-1) {
			masses = n + 1
		}
	}
	accents = min(masses/(slotEvery-1), len(h.accents))
	if len(h.accents) > 0 && accents == 0 {
		accents = 1
	}
	return min(masses, KMax-accents), accents
}

// cut makes the masses.
func (m *model) cut(k int, keepAccents bool) *Analysis {
	grown := m.plain
	if keepAccents {
		grown = m.reserve
	}
	h := grown()
	pixels := float64(m.census.pixels)
	a := &Analysis{
		Clipped: float64(m.census.clipped) / pixels,
		Crushed: float64(m.census.crushed) / pixels,
		Small:   m.census.small,
		m:       m,
		accents: keepAccents,
	}
	n, accents := h.slots(k)
	node := h.tree.at(h.levels[n-1])

	// Sums per node that stands, then per accent; a group is a place in sums.
	type group struct {
		mean
		lab    lab.Lab
		accent bool
	}
	sums := make([]group, len(h.tree.nodes)+accents)
	for leaf, s := range h.sums {
		g := &sums[node[leaf]]
		g.mean = g.plus(s)
	}
	for j, p := range h.accents {
		g := &sums[node[p.leaf]]
		if j < accents {
			g = &sums[len(h.tree.nodes)+j]
			g.accent = true
		}
		g.mean = g.plus(p.mean)
	}
	var order []int
	for i := range sums {
		if sums[i].w > 0 {
			sums[i].lab = sums[i].mean.lab()
			order = append(order, i)
		}
	}
	sort.SliceStable(order, func(i, j int) bool {
		x, y := sums[order[i]], sums[order[j]]
		if x.accent != y.accent {
			return y.accent
		}
		return x.lab.L > y.lab.L
	})
	mass := make([]uint8, len(sums)) // index into Masses
	for i, g := range order {
		mass[g] = uint8(i)
		a.Masses = append(a.Masses, Mass{
			ID: i + 1, Share: sums[g].w / pixels, Lab: sums[g].lab, Accent: sums[g].accent,
		})
	}
	warmth(a.Masses)
	ofLeaf := make([]uint8, h.tree.leaves)
	for leaf := range ofLeaf {
		ofLeaf[leaf] = mass[node[leaf]]
	}

	a.of = make([]uint8, len(m.bins))
	for i, leaf := range h.leaf {
		a.of[i] = ofLeaf[leaf]
		if h.owner != nil && h.owner[i] >= 0 && int(h.owner[i]) < accents {
			a.of[i] = mass[len(h.tree.nodes)+int(h.owner[i])]
		}
	}
	a.Fit = m.fit(a.Masses, a.of)

	a.Mask = &Mask{m.view.w, m.view.h, make([]uint8, len(h.px))}
	for i, leaf := range h.px {
		a.Mask.Index[i] = ofLeaf[leaf]
	}
	for j, p := range h.accents {
		to := ofLeaf[p.leaf]
		if j < accents {
			to = mass[len(h.tree.nodes)+j]
		}
		for _, patch := range p.patches {
			for _, px := range patch {
				a.Mask.Index[px] = to
			}
		}
	}
	a.Mask.tidy(len(a.Masses), len(a.Masses)-accents, massSpeck)
	a.Mask.describe(a.Masses, m.view)
	a.Warnings = m.warnings(a, k)
	return a
}

// Shares of the area from which clipping and crushing are worth a word.
const (
	clippedWarning = 0.005
	crushedWarning = 0.01
)

// tellApart is the 50:50 perceptibility threshold (Paravina et al. 2015).
const tellApart = 0.8

func (m *model) warnings(a *Analysis, k int) (w []string) {
	say := func(format string, args ...any) { w = append(w, fmt.Sprintf(format, args...)) }
	if a.Clipped >= clippedWarning {
		say("%.1f %% of the picture is burnt out: the photo holds no true colour there, so mix those lights from what you see", 100*a.Clipped)
	}
	if a.Crushed >= crushedWarning {
		say("%.1f %% of the picture is black without detail: the photo holds nothing there, so look into those shadows at the place", 100*a.Crushed)
	}
	if n := m.census.unreadable; n > 0 {
		say("%d of the picture's pixels cannot be read and are left out", n)
	}
	if k > len(a.Masses) {
		say("the picture has colours for %d masses only, not %d", len(a.Masses), k)
	}
	near, p, q := tellApart, 0, 0
	for i := range a.Masses {
		for j := range i {
			if d := lab.DE00(a.Masses[i].Lab, a.Masses[j].Lab); d < near {
				near, p, q = d, j+1, i+1
			}
		}
	}
	if p > 0 {
		say("masses %d and %d differ by %.1f ΔE00, which the eye cannot tell apart: fewer masses would do", p, q, near)
	}
	return w
}

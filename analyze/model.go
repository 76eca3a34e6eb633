package analyze

import (
	"context"
	"math"
	"sync"

	"paintout/analyze/lab"
)

// bin is one bin of the histogram as the cutting uses it.
type bin struct {
	mean
	lab lab.Lab
	p   point
}

// model is what is kept of a picture; all cuts are made from it. A hierarchy
// is built when first asked for, and nothing changes afterwards.
type model struct {
	census  *census
	bins    []bin
	view    *view
	plain   func() *hierarchy // all colours in one tree
	reserve func() *hierarchy // accents apart
}

// hierarchy is a tree of masses with the picture sorted into it.
type hierarchy struct {
	tree    *tree
	sums    []mean  // per leaf, without accents
	leaf    []uint8 // per bin; an accent's bins take the leaf it grows from
	px      []uint8 // per pixel of the view
	levels  []int   // levels[n−1] is the lowest level of the tree with n masses that hold anything
	seen    []float64
	accents []placed
	owner   []int8 // accent of each bin, −1 for none
}

// placed is an accent with all the picture's pixels of its colours, and the
// leaf it belongs to while it has no slot.
type placed struct {
	accent
	mean
	leaf uint8
}

// coarseFrom is the number of bins from which clustering works on cubes of
// 2×2×2 bins, which keeps it quick on noisy pictures.
const coarseFrom = 12000

func newModel(ctx context.Context, c *census) (*model, error) {
	m := &model{census: c, bins: make([]bin, len(c.cells))}
	inStrips(len(c.cells), func(i0, i1 int) {
		for i := i0; i < i1; i++ {
			cell, b := c.cells[i], &m.bins[i]
			b.w = float64(cell.n)
			b.lin = [3]float64{float64(cell.r) / fixedOne, float64(cell.g) / fixedOne, float64(cell.b) / fixedOne}
			b.lab = b.mean.lab()
			b.p = even(b.lab)
		}
	})
	m.view = look(c.small)
	m.plain = sync.OnceValue(func() *hierarchy { return m.build(nil, nil) })
	m.reserve = sync.OnceValue(func() *hierarchy {
		found, owner := m.own(m.view.accents())
		if len(found) == 0 {
			return m.plain()
		}
		return m.build(found, owner)
	})
	return m, ctx.Err()
}

// own gives accents the bins whose colours are mostly theirs, judged by the
// reduced picture in cubes of even coordinates, and drops accents with too
// little of their own.
func (m *model) own(found []accent) (kept []accent, owner []int8) {
	if len(found) == 0 {
		return nil, nil
	}
	const none, unknown = -1, -2
	all := make([]int32, cubesL*cubesAB*cubesAB)
	theirs := make([][]int32, len(found))
	for _, p := range m.view.raw {
		all[cubeOf(p)]++
	}
	for j, a := range found {
		theirs[j] = make([]int32, len(all))
		for _, patch := range a.patches {
			for _, p := range patch {
				theirs[j][cubeOf(m.view.raw[p])]++
			}
		}
	}
	cubes := make([]int8, len(all))
	var met []int
	for i, n := range all {
		cubes[i] = unknown
		if n > 0 {
			cubes[i] = none
			met = append(met, i)
		}
	}
	for j, a := range found {
		held := 0
		for i, n := range theirs[j] {
			if n > 0 && 2*n >= all[i] {
				held += int(n)
			}
		}
		if float64(held) < minOwn*float64(a.pixels) {
			continue
		}
		for i, n := range theirs[j] {
			if n > 0 && 2*n >= all[i] {
				cubes[i] = int8(len(kept))
			}
		}
		if kept = append(kept, a); len(kept) == KMax/slotEvery {
			break // as many as can have slots
		}
	}

	at := func(i int) [3]int { return [3]int{i / (cubesAB * cubesAB), i / cubesAB % cubesAB, i % cubesAB} }
	owner = make([]int8, len(m.bins))
	for i, b := range m.bins {
		c := cubeOf([3]float32{float32(b.p[0]), float32(b.p[1]), float32(b.p[2])})
		if cubes[c] == unknown { // as the nearest that was met
			here, near := at(c), math.MaxInt
			for _, k := range met {
				there := at(k)
				dl, da, db := here[0]-there[0], here[1]-there[1], here[2]-there[2]
				if d := dl*dl + da*da + db*db; d < near {
					near, cubes[c] = d, cubes[k]
				}
			}
		}
		owner[i] = cubes[c]
	}
	return kept, owner
}

// build grows a tree, with the accents' colours left out, and sorts the
// picture into its leaves.
func (m *model) build(found []accent, owner []int8) *hierarchy {
	h := &hierarchy{owner: owner, accents: make([]placed, len(found))}
	h.tree = grow(m.samples(owner))
	h.leaf = make([]uint8, len(m.bins))
	inStrips(len(m.bins), func(i0, i1 int) {
		path := make([]float64, len(h.tree.nodes))
		for i := i0; i < i1; i++ {
			h.leaf[i] = uint8(h.tree.place(m.bins[i].p, path))
		}
	})
	h.px = make([]uint8, len(m.view.at))
	inStrips(len(m.view.at), func(i0, i1 int) {
		path := make([]float64, len(h.tree.nodes))
		for i := i0; i < i1; i++ {
			h.px[i] = uint8(h.tree.place(wide(m.view.at[i]), path))
		}
	})

	h.sums = make([]mean, h.tree.leaves)
	for i, b := range m.bins {
		if owner != nil && owner[i] >= 0 {
			a := &h.accents[owner[i]]
			a.mean = a.plus(b.mean)
		} else {
			h.sums[h.leaf[i]] = h.sums[h.leaf[i]].plus(b.mean)
		}
	}
	h.seen, h.levels = m.levels(h)
	path := make([]float64, len(h.tree.nodes))
	for j := range h.accents {
		a := &h.accents[j]
		a.accent = found[j]
		a.leaf = uint8(h.tree.place(a.point(), path))
		for h.sums[a.leaf].w == 0 { // never beside nothing
			a.leaf = uint8((int(a.leaf) + 1) % h.tree.leaves)
		}
	}
	for i := range m.bins {
		if owner != nil && owner[i] >= 0 {
			h.leaf[i] = h.accents[owner[i]].leaf
		}
	}
	return h
}

func wide(p [3]float32) point { return point{float64(p[0]), float64(p[1]), float64(p[2])} }

// samples are the bins, or cubes of them where they are many, as weighted
// colours; without those that accents own.
func (m *model) samples(owner []int8) []sample {
	const side = 2 * binSide
	cubes := map[[3]int]int{}
	var s []sample
	for i, b := range m.bins {
		if owner != nil && owner[i] >= 0 {
			continue
		}
		if len(m.bins) < coarseFrom {
			s = append(s, sample{b.mean, b.p})
			continue
		}
		key := [3]int{int(math.Round(b.lab.L / side)), int(math.Round(b.lab.A / side)), int(math.Round(b.lab.B / side))}
		at, known := cubes[key]
		if !known {
			at = len(s)
			cubes[key] = at
			s = append(s, sample{})
		}
		s[at].mean = s[at].plus(b.mean)
	}
	if len(m.bins) >= coarseFrom {
		for i := range s {
			s[i].p = s[i].point()
		}
	}
	return s
}

// levels finds which levels of the tree add a mass that holds anything, and
// the mean distance of the view from the masses at each of them.
func (m *model) levels(h *hierarchy) (seen []float64, levels []int) {
	t := h.tree
	cost := make([]float64, t.leaves+1)
	counted := 0.0
	apart := make([]bool, len(m.view.at))
	for _, a := range h.accents {
		for _, patch := range a.patches {
			for _, p := range patch {
				apart[p] = true
			}
		}
	}
	const every = 7 // enough pixels to judge by, and prime to the usual widths
	for i := 0; i < len(h.px); i += every {
		if apart[i] {
			continue
		}
		counted++
		for n := int(h.px[i]); n >= 0; n = t.nodes[n].parent {
			d := math.Sqrt(wide(m.view.at[i]).dist2(t.centre[n]))
			for k := t.nodes[n].from; k <= t.nodes[n].to; k++ {
				cost[k] += d
			}
		}
	}
	for k := 1; k <= t.leaves; k++ {
		full := map[int]bool{}
		for leaf, n := range t.at(k)[:t.leaves] {
			if h.sums[leaf].w > 0 {
				full[n] = true
			}
		}
		if len(full) > len(levels) {
			levels = append(levels, k)
			seen = append(seen, cost[k]/max(counted, 1))
		}
	}
	return seen, levels
}

// fit measures the picture against its masses, bin by bin.
func (m *model) fit(masses []Mass, of []uint8) Fit {
	const steps, side = 16000, 0.01
	d := make([]float64, len(m.bins))
	inStrips(len(m.bins), func(i0, i1 int) {
		for i := i0; i < i1; i++ {
			d[i] = lab.DE00(m.bins[i].lab, masses[of[i]].Lab)
		}
	})
	var f Fit
	share := make([]float64, steps)
	for i, b := range m.bins {
		f.Mean += b.w * d[i]
		share[min(int(d[i]/side), steps-1)] += b.w
	}
	total := float64(m.census.pixels)
	f.Mean /= total
	var sum float64
	for i, s := range share {
		sum += s
		if sum >= 0.99*total {
			f.P99 = float64(i) * side
			break
		}
	}
	return f
}

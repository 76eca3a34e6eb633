package recipe

import (
	"context"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// A Cloud is about all that a palette can show: of the ladder's mixes of up to
// three coloured tubes, with and without white, one in every cell of CIELAB
// that holds any. It answers for a whole picture at once, where a search
// answers for a few colours exactly: what it calls nearest lies within
// [CloudSlack] of the nearest mix.
type Cloud struct {
	at     [][3]float32 // L*, a*, b* of each cell's mix; L* below 0 where it has none
	chroma []float32
}

// CloudSlack is how much farther in ΔE00 the nearest colour of a cloud may lie
// than the nearest mix: of 2,000 colours in and about what palettes of 5 to 16
// tubes reach, the farthest lay 1.7 beyond it, 95 % within 1.2, and the mean was
// 0.1 for five tubes and 0.5 for sixteen.
const CloudSlack = 2.0

// Cells of a cloud: side units of L*, a* and b*.
const (
	cloudSide = 2
	cloudL    = 100/cloudSide + 2
	cloudAB   = 256 / cloudSide
)

func cloudCell(l, a, b float32) (i, j, k int) {
	return int(min(max(l, 0), 100)/cloudSide + 0.5), int(min(max(a+128, 0), 255)) / cloudSide, int(min(max(b+128, 0), 255)) / cloudSide
}

// Cloud looks at every mix of the ladder roughly (to some tenths of a unit).
// Progress, if not nil, is told of the sets of tubes done and in all. It stops
// early with ctx's error. The same palette gives the same cloud on any number of
// cores.
func (p *Palette) Cloud(ctx context.Context, progress func(done, all int)) (*Cloud, error) {
	var sets []tubeSet
	p.subsets(func(set [3]int, m int) { sets = append(sets, tubeSet{set, m}) })
	if len(p.whites) > 0 {
		sets = append(sets, tubeSet{[3]int{-1, -1, -1}, 0})
	}
	makers := make([]*cloudMaker, min(runtime.GOMAXPROCS(0), len(sets)))
	var next, done atomic.Int64
	var wg sync.WaitGroup
	for w := range makers {
		m := &cloudMaker{palette: p, at: make([][3]float32, cloudL*cloudAB*cloudAB)}
		for i := range m.at {
			m.at[i][0] = -1
		}
		makers[w] = m
		wg.Go(func() {
			for {
				i := int(next.Add(1) - 1)
				if i >= len(sets) || ctx.Err() != nil {
					return
				}
				m.add(sets[i])
				if n := done.Add(1); progress != nil && (n%64 == 0 || int(n) == len(sets)) {
					progress(int(n), len(sets))
				}
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	c := &Cloud{at: makers[0].at}
	for _, m := range makers[1:] {
		for i := range m.at {
			if m.at[i][0] >= 0 {
				makers[0].put(i, m.at[i])
			}
		}
	}
	c.chroma = make([]float32, len(c.at))
	for i, v := range c.at {
		c.chroma[i] = float32(math.Hypot(float64(v[1]), float64(v[2])))
	}
	return c, nil
}

type cloudMaker struct {
	palette *Palette
	at      [][3]float32
	bands   roughBands
	rough   []float32
}

// put keeps of two mixes of a cell the one nearer its middle.
func (m *cloudMaker) put(cell int, v [3]float32) {
	old := &m.at[cell]
	if old[0] < 0 || off(cell, v) < off(cell, *old) {
		*old = v
	}
}

// off is the square of a colour's distance from the middle of a cell.
func off(cell int, v [3]float32) float32 {
	l := float32(cell/(cloudAB*cloudAB)*cloudSide) - v[0]
	a := float32(cell/cloudAB%cloudAB*cloudSide+cloudSide/2-128) - v[1]
	b := float32(cell%cloudAB*cloudSide+cloudSide/2-128) - v[2]
	return l*l + a*a + b*b
}

func (m *cloudMaker) see(v lab.XYZ) {
	fx, fy, fz := roughCurve(v.X*roughWhite.X), roughCurve(v.Y*roughWhite.Y), roughCurve(v.Z*roughWhite.Z)
	c := [3]float32{float32(max(0, 116*fy-16)), float32(500 * (fx - fy)), float32(200 * (fy - fz))}
	i, j, k := cloudCell(c[0], c[1], c[2])
	m.put((i*cloudAB+j)*cloudAB+k, c)
}

// add looks at all mixes of a set.
func (m *cloudMaker) add(ts tubeSet) {
	p := m.palette
	c := &sums[p.Finish]
	if ts.n == 0 {
		for _, white := range p.whites {
			t := &p.Tubes[white].Paint
			m.see(c.of(&t.K, &t.S, &noPaint, &noPaint, 0))
		}
		return
	}
	var paints [4]*optics.Paint
	for j := range ts.n {
		paints[j] = &p.Tubes[ts.tubes[j]].Paint
	}
	for choice := 0; choice <= len(p.whites); choice++ {
		l := &mixesOf[ts.n][0]
		if choice > 0 {
			l = &mixesOf[ts.n][1]
			paints[3] = &p.Tubes[p.whites[choice-1]].Paint
		}
		m.bands.set(c, paints[:]...)
		if len(m.rough) < 3*l.padded {
			m.rough = make([]float32, 3*l.padded)
		}
		m.bands.rough(m.rough, l, 0, l.padded)
		xs, ys, zs := m.rough, m.rough[l.padded:], m.rough[2*l.padded:]
		for i := range l.dir {
			m.see(lab.XYZ{X: c.base.X + float64(xs[i]), Y: c.base.Y + float64(ys[i]), Z: c.base.Z + float64(zs[i])})
		}
	}
}

// Nearest is the colour of the cloud nearest an aim (D65 Lab), and its ΔE00.
func (c *Cloud) Nearest(aim lab.Lab) (lab.Lab, float64) {
	i, j, k := cloudCell(float32(aim.L), float32(aim.A), float32(aim.B))
	chroma, reach := aim.Chroma(), newDistance(aim)
	best, bound := lab.Lab{}, math.Inf(1)
	look := func(i, j, k int) {
		n := (i*cloudAB+j)*cloudAB + k
		v := &c.at[n]
		if v[0] < 0 {
			return
		}
		q := lab.Lab{L: float64(v[0]), A: float64(v[1]), B: float64(v[2])}
		if !math.IsInf(bound, 1) && apart2(&aim, chroma, &q, float64(c.chroma[n])) > bound*bound {
			return
		}
		if d := lab.DE00(aim, q); d < bound {
			best, bound = q, d
		}
	}
	for r := 0; r < cloudL+cloudAB; r++ {
		// What lies beyond this shell differs by more than the best.
		deep, wide := cloudL, cloudAB
		if !math.IsInf(bound, 1) {
			deep = int(1.75*bound/cloudSide) + 1
			if ab := reach.within(bound); !math.IsInf(ab, 1) {
				wide = int(ab/cloudSide) + 1
			}
			if r > max(deep, wide) {
				break
			}
		}
		for x := max(0, i-min(r, deep)); x <= min(cloudL-1, i+min(r, deep)); x++ {
			for y := max(0, j-min(r, wide)); y <= min(cloudAB-1, j+min(r, wide)); y++ {
				if max(x-i, i-x, y-j, j-y) == r {
					for z := max(0, k-min(r, wide)); z <= min(cloudAB-1, k+min(r, wide)); z++ {
						look(x, y, z)
					}
					continue
				}
				if k-r >= 0 {
					look(x, y, k-r)
				}
				if k+r < cloudAB && r > 0 {
					look(x, y, k+r)
				}
			}
		}
	}
	return best, bound
}

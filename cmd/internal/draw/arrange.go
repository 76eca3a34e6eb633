package draw

import (
	"math"
	"sort"

	"paintout/cmd/internal/plan"
)

// The palette: a field of value down and cool to warm across. Every row is one
// step of value; across it the piles keep their order of warmth and stand as
// near their place as their neighbours let them. A pile is the wider the more
// of the picture it covers. Twelve columns fit a phone 360 px wide with the
// narrowest pile still wide enough for a thumb.
const (
	fieldCols = 12
	pileMin   = 2 // columns of the smallest pile
	pileMax   = 5
)

// spot is one pile's place in its row.
type spot struct {
	Mass       int // index into Plan.Masses
	Start, Len int // columns, from 0
}

// row is one step of value. A step without piles stays, thin, so that the
// ladder has no gaps.
type row struct {
	Value int
	Again bool // the step before had more piles than fit one row
	Spots []spot
}

// palette is the arrangement of a plan's piles.
type palette struct {
	Rows    []row // light to dark
	Accents []row // set apart
}

// arrange lays the masses out. Warmth is relative to the picture: the coolest
// mass stands at the left, the warmest at the right.
func arrange(masses []plan.Mass) palette {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, m := range masses {
		if !m.Accent {
			lo, hi = min(lo, m.Warmth), max(hi, m.Warmth)
		}
	}
	at := func(i int) float64 {
		if !(hi > lo) {
			return 0.5
		}
		return min(1, max(0, (masses[i].Warmth-lo)/(hi-lo)))
	}
	step := func(i int) int { return int(math.Round(masses[i].AimValue)) }

	byStep := map[int][]int{}
	var accents []int
	top, bottom := math.MinInt, math.MaxInt
	for _, i := range lightFirst(masses) {
		if masses[i].Accent {
			accents = append(accents, i)
			continue
		}
		byStep[step(i)] = append(byStep[step(i)], i)
		top, bottom = max(top, step(i)), min(bottom, step(i))
	}
	var pal palette
	for v := top; v >= bottom; v-- {
		pal.Rows = append(pal.Rows, rowsOf(masses, byStep[v], v, at)...)
	}
	if len(accents) > 0 {
		pal.Accents = rowsOf(masses, accents, step(accents[0]), at)
	}
	return pal
}

// rowsOf places the piles of one step, in as many rows as they need.
func rowsOf(masses []plan.Mass, piles []int, value int, at func(int) float64) []row {
	const most = fieldCols / pileMin
	rows := (len(piles) + most - 1) / most
	if rows == 0 {
		return []row{{Value: value}}
	}
	out := make([]row, 0, rows)
	for r := range rows {
		from, to := r*len(piles)/rows, (r+1)*len(piles)/rows
		out = append(out, row{Value: value, Again: r > 0, Spots: place(masses, piles[from:to], at)})
	}
	return out
}

// place sets at most fieldCols/pileMin piles side by side, cool to warm.
func place(masses []plan.Mass, piles []int, at func(int) float64) []spot {
	spots := make([]spot, len(piles))
	total := 0
	for k, i := range piles {
		// Width goes with the root of the share: 2 % is narrow, 25 % full.
		n := int(math.Round(pileMax * 2 * math.Sqrt(masses[i].Share)))
		n = min(pileMax, max(pileMin, n))
		spots[k] = spot{Mass: i, Len: n}
		total += n
	}
	sort.SliceStable(spots, func(a, b int) bool { return masses[spots[a].Mass].Warmth < masses[spots[b].Mass].Warmth })
	for total > fieldCols {
		widest := 0
		for k := range spots {
			if spots[k].Len > spots[widest].Len {
				widest = k
			}
		}
		spots[widest].Len--
		total--
	}
	// Each as near its place as the ones before it allow, then pushed back from
	// the right edge.
	end := 0
	for k := range spots {
		want := int(math.Round(at(spots[k].Mass) * float64(fieldCols-spots[k].Len)))
		spots[k].Start = max(end, want)
		end = spots[k].Start + spots[k].Len
	}
	limit := fieldCols
	for k := len(spots) - 1; k >= 0; k-- {
		spots[k].Start = min(spots[k].Start, limit-spots[k].Len)
		limit = spots[k].Start
	}
	return spots
}

// pat is the outline of a pile pulled with a knife from left to right: a heel
// rounded by the blade, sides that waver a little, a broken edge where the knife
// lifts. It fills a box 100 high and 100·aspect wide; the same number gives the
// same pat.
func pat(n int, aspect float64) [][2]float64 {
	seed := uint32(n)*2654435761 + 12345
	wobble := func(span float64) float64 {
		seed = seed*1664525 + 1013904223
		return (float64(seed>>8)/(1<<24) - 0.5) * span
	}
	wide := 100 * aspect
	var pts [][2]float64
	add := func(x, y float64) {
		pts = append(pts, [2]float64{min(wide, max(0, x)), min(100, max(0, y))})
	}
	for k := 0; k <= 6; k++ { // heel, from the bottom up
		t := math.Pi * float64(k) / 6
		add(9-7*math.Sin(t)+wobble(1), 50+46*math.Cos(t)+wobble(2))
	}
	along := max(3, int(wide/25))
	for k := 1; k < along; k++ {
		add(9+(wide-18)*float64(k)/float64(along), 3.5+wobble(4))
	}
	add(wide-6+wobble(6), 4+wobble(3))
	for k := 1; k < 8; k++ { // where the knife lifts
		add(wide-3-4*float64(k%2)+wobble(6), 4+11.5*float64(k)+wobble(6))
	}
	add(wide-7+wobble(6), 96+wobble(3))
	for k := along - 1; k > 0; k-- {
		add(9+(wide-18)*float64(k)/float64(along), 96.5+wobble(4))
	}
	return pts
}

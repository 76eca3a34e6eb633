package plan

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// SliceAim is a colour to be shown among the slices.
type SliceAim struct {
	ID     int     `json:"id"`
	Name   string  `json:"name"`
	Lab    lab.Lab `json:"lab"`
	DE00   float64 `json:"de00"` // of the nearest mix; below 0, to be sought
	Accent bool    `json:"accent,omitempty"`
}

// AimsOf lists a plan's colours to mix.
func AimsOf(p *Plan) []SliceAim {
	var out []SliceAim
	for _, m := range p.Masses {
		a := SliceAim{ID: m.ID, Name: m.Name, Lab: m.Aim, DE00: -1, Accent: m.Accent}
		if len(m.Recipes) > 0 {
			a.DE00 = m.Recipes[0].DE00
		}
		out = append(out, a)
	}
	return out
}

// Slice is what the tubes reach at one value.
type Slice struct {
	Value float64        `json:"value"`
	L     float64        `json:"L"`
	Rings [][][2]float64 `json:"rings"` // outlines in a*, b*; the other way round a hole
	Area  float64        `json:"area"`  // in square units of a*, b*
	Aims  []int          `json:"aims"`  // indices into Slices.Aims, those nearest this value
}

// What the tubes make of an aim.
const (
	Reached = "reached" // a mix of the ladder comes within SliceTolerance
	Finer   = "finer"   // it lies inside, but between the ladder's mixes: finer parts, or a pile tinted in two steps
	Out     = "out"     // it lies outside
)

// PlacedAim is an aim and what the tubes make of it.
type PlacedAim struct {
	SliceAim
	Value float64 `json:"value"`
	State string  `json:"state"`
}

// SliceTolerance is the ΔE00 up to which an aim counts as reached: 'close', see
// [recipe.Grade].
const SliceTolerance = 1.8

// Slices are cuts through all that the tubes reach, one at each whole value.
type Slices struct {
	Box      string      `json:"box"`
	Finish   string      `json:"finish"`
	Hues     []UniqueHue `json:"unique_hues"`
	Slices   []Slice     `json:"slices"` // light to dark
	Aims     []PlacedAim `json:"aims"`
	Darkest  float64     `json:"darkest_value"`
	Lightest float64     `json:"lightest_value"`
	Warnings []string    `json:"warnings"`
}

// Slices cuts what the palette's mixes of up to three tubes, and white, reach
// at each whole value from its darkest mix to its lightest. Mixes whose parts
// double from one to the next along the ladder are joined by facets, and the
// facets cut at the value; so nothing is claimed that does not lie between
// neighbouring mixes, and no hull is drawn round what lies far apart. Whether
// an aim is reached is the search's answer; where the search finds no mix near,
// a slice at the aim's own value tells whether it lies outside all the same.
func (w *Workspace) Slices(ctx context.Context, aims []SliceAim, progress func(done, all int)) (*Slices, error) {
	p := w.Palette
	dark, light := lab.FromXYZ(p.Darkest(), optics.D65.White()), lab.FromXYZ(p.Lightest(), optics.D65.White())
	out := &Slices{
		Box: w.Box.Name, Finish: p.Finish.String(), Hues: uniqueHues, Warnings: append([]string{}, w.Notes...),
		Darkest: round(dark.Value(), 2), Lightest: round(light.Value(), 2),
	}
	var planes []float64
	for v := 9; v >= 1; v-- {
		if value := float64(v); value > dark.Value() && value < light.Value() {
			l := lab.FromXYZ(lab.XYZ{X: lab.D65.X, Y: lab.LuminanceOfValue(value), Z: lab.D65.Z}, lab.D65).L
			out.Slices = append(out.Slices, Slice{Value: value, L: round(l, 3), Aims: []int{}})
			planes = append(planes, l)
		}
	}
	if len(planes) == 0 {
		return nil, fmt.Errorf("these tubes reach no whole value (%.1f to %.1f): add a white or a black to slice what they reach", dark.Value(), light.Value())
	}
	if err := w.placeAims(ctx, out, aims); err != nil {
		return nil, err
	}
	tubes := w.vivid(maxCut)
	if n := len(p.Tubes) - len(tubes); n > 0 {
		out.Warnings = append(out.Warnings, fmt.Sprintf("The slices are cut from the %d tubes that reach farthest round the hues; %d others could add little.", len(tubes), n))
	}
	whole := len(planes)
	var far []int
	for i, a := range out.Aims {
		if a.State == Out && a.Lab.L > dark.L && a.Lab.L < light.L {
			planes, far = append(planes, a.Lab.L), append(far, i)
		}
	}
	masks, err := cut(ctx, tubes, p.Finish, planes, progress)
	if err != nil {
		return nil, err
	}
	for i, m := range masks {
		m.mend()
		rings, area := m.rings()
		if i < whole {
			out.Slices[i].Rings, out.Slices[i].Area = rings, area
			continue
		}
		if a := &out.Aims[far[i-whole]]; (&Slice{Rings: rings}).Holds(a.Lab.A, a.Lab.B) {
			a.State = Finer
		}
	}
	return out, nil
}

// maxCut is how many coloured tubes are sliced: sets of three of them take about
// five seconds on two processors.
const maxCut = 20

// vivid is the palette's tubes, or where more than so many are coloured, those
// that reach farthest: the darkest of all, then round the circle by turns the
// highest chroma left in each of its hues. Whites are all kept.
func (w *Workspace) vivid(most int) []*inventory.Tube {
	tubes := w.Palette.Tubes
	white := w.tintWhite()
	var sectors [10][]WheelTube
	s := shop{w.Palette.Finish}
	coloured, darkest := 0, -1
	low := math.Inf(1)
	for i, t := range tubes {
		if t.White {
			continue
		}
		coloured++
		k := s.streak(i, t, white)
		if l := k.Streak[0].Lab.L; l < low {
			low, darkest = l, i
		}
		n := int(k.Streak[k.Tip].Hue/10) % len(sectors)
		sectors[n] = append(sectors[n], k)
	}
	if coloured <= most {
		return tubes
	}
	for _, sector := range sectors {
		slices.SortStableFunc(sector, func(a, b WheelTube) int { return cmp.Compare(b.Streak[b.Tip].Chroma, a.Streak[a.Tip].Chroma) })
	}
	keep := map[int]bool{darkest: true}
	for turn := 0; len(keep) < most; turn++ {
		for _, sector := range sectors {
			if turn < len(sector) && len(keep) < most {
				keep[sector[turn].Number] = true
			}
		}
	}
	var out []*inventory.Tube
	for i, t := range tubes {
		if t.White || keep[i] {
			out = append(out, t)
		}
	}
	return out
}

// placeAims gives each aim its slice, and says which are not reached.
func (w *Workspace) placeAims(ctx context.Context, out *Slices, aims []SliceAim) error {
	var seek []lab.Lab
	for _, a := range aims {
		if !a.Lab.Finite() {
			return fmt.Errorf("the colour of %q is not a number: measure it again", a.Name)
		}
		if a.DE00 < 0 {
			seek = append(seek, a.Lab)
		}
	}
	var table *recipe.Table
	if len(seek) > 0 {
		var err error
		if table, err = w.Palette.Search(ctx, seek, recipe.SearchOptions{}); err != nil {
			return err
		}
	}
	sought := 0
	for i, a := range aims {
		q := PlacedAim{SliceAim: a, Value: round(a.Lab.Value(), 2), State: Reached}
		if a.DE00 < 0 {
			q.DE00 = round(table.Recipes(sought, 0)[0].Off.Nominal, 3)
			sought++
		}
		if q.DE00 > SliceTolerance {
			q.State = Out
		}
		out.Aims = append(out.Aims, q)
		best := 0
		for k, s := range out.Slices {
			if math.Abs(s.Value-q.Value) < math.Abs(out.Slices[best].Value-q.Value) {
				best = k
			}
		}
		out.Slices[best].Aims = append(out.Slices[best].Aims, i)
	}
	return nil
}

// Ratios of a cut: one tube at 32 parts, the others at none or at what doubles
// along the ladder. A touch of a strong tinter, less than the ladder's one part
// in 32, stands between its least and none, where a facet would span too much.
// White per part of the rest likewise doubles.
var (
	cutParts = []float64{0, 0.125, 0.5, 1, 2, 4, 8, 16, 32}
	cutWhite = []float64{0, 1. / 64, 1. / 32, 1. / 16, 1. / 8, 1. / 4, 1. / 2, 1, 2, 4, 8, 16, 32, 64, 128, 256}
)

// corner is one ratio of the coloured tubes: its colour without white, and for
// each plane where letting it down with white crosses the plane.
type corner struct {
	bare lab.Lab
	at   [][2]float64
	hits []bool
}

// cut slices all mixes at the planes, given by L*.
func cut(ctx context.Context, tubes []*inventory.Tube, finish optics.Finish, planes []float64, progress func(done, all int)) ([]*mask, error) {
	var colours, whites []*optics.Paint
	for _, t := range tubes {
		if t.White {
			whites = append(whites, &t.Paint)
		} else {
			colours = append(colours, &t.Paint)
		}
	}
	if len(whites) == 0 {
		whites = []*optics.Paint{nil}
	}
	// Sets of three hold those of two and one as their edges.
	var sets [][]*optics.Paint
	for a := range colours {
		for b := a + 1; b < len(colours); b++ {
			for c := b + 1; c < len(colours); c++ {
				sets = append(sets, []*optics.Paint{colours[a], colours[b], colours[c]})
			}
		}
	}
	if len(colours) < 3 {
		sets = [][]*optics.Paint{colours}
	}
	workers := max(1, runtime.GOMAXPROCS(0))
	masks := make([][]*mask, workers)
	var next, done atomic.Int64
	var wg sync.WaitGroup
	var tell sync.Mutex
	for i := range workers {
		masks[i] = make([]*mask, len(planes))
		for k := range planes {
			masks[i][k] = &mask{}
		}
		wg.Go(func() {
			c := cutter{shop{finish}, planes, masks[i]}
			for {
				n := int(next.Add(1) - 1)
				if n >= len(sets)*len(whites) || ctx.Err() != nil {
					return
				}
				c.set(sets[n/len(whites)], whites[n%len(whites)])
				if d := int(done.Add(1)); progress != nil && (d%32 == 0 || d == len(sets)*len(whites)) {
					tell.Lock()
					progress(d, len(sets)*len(whites))
					tell.Unlock()
				}
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	out := masks[0]
	for _, m := range masks[1:] {
		for k := range out {
			for i, v := range m[k].cells {
				out[k].cells[i] = out[k].cells[i] || v
			}
		}
	}
	return out, nil
}

type cutter struct {
	shop
	planes []float64
	masks  []*mask
}

// set slices the mixes of up to three coloured tubes with one white (nil for
// none). One tube in turn stands at 32 parts and the others run over a grid;
// the three grids cover every ratio once.
func (c *cutter) set(tubes []*optics.Paint, white *optics.Paint) {
	if len(tubes) == 0 {
		if white != nil {
			bare := c.alone(white)
			for k, l := range c.planes {
				if math.Abs(bare.L-l) < 1 {
					c.masks[k].mark(bare.A, bare.B)
				}
			}
		}
		return
	}
	n := len(cutParts)
	for lead := range tubes {
		grid := make([][]corner, n)
		cols := n
		if len(tubes) < 3 {
			cols = 1
		}
		rows := n
		if len(tubes) < 2 {
			rows = 1
		}
		for i := range rows {
			grid[i] = make([]corner, cols)
			for j := range cols {
				parts := make([]float64, len(tubes))
				parts[lead] = cutParts[n-1]
				if len(tubes) > 1 {
					parts[(lead+1)%len(tubes)] = cutParts[i]
				}
				if len(tubes) > 2 {
					parts[(lead+2)%len(tubes)] = cutParts[j]
				}
				grid[i][j] = c.corner(tubes, parts, white)
			}
		}
		if rows == 1 {
			c.facet(&grid[0][0], &grid[0][0], &grid[0][0])
		}
		for i := 1; i < rows; i++ {
			if cols == 1 {
				c.facet(&grid[i-1][0], &grid[i][0], &grid[i][0])
			}
			for j := 1; j < cols; j++ {
				c.facet(&grid[i-1][j-1], &grid[i][j-1], &grid[i][j])
				c.facet(&grid[i-1][j-1], &grid[i-1][j], &grid[i][j])
			}
		}
	}
}

// corner lets one ratio down with white and finds where it crosses the planes.
func (c *cutter) corner(tubes []*optics.Paint, parts []float64, white *optics.Paint) corner {
	base := optics.Mix(tubes, parts)
	pair := []*optics.Paint{&base, white}
	out := corner{bare: c.alone(&base), at: make([][2]float64, len(c.planes)), hits: make([]bool, len(c.planes))}
	if white == nil {
		return out
	}
	top := slices.Max(c.planes)
	lo := out.bare
	for i := 1; i < len(cutWhite); i++ {
		hi := c.see(pair, 1, cutWhite[i])
		for k, l := range c.planes {
			if l < lo.L || l >= hi.L || out.hits[k] {
				continue
			}
			// Half way along by share of white, then straight to the plane from
			// there.
			s0, s1 := cutWhite[i-1]/(1+cutWhite[i-1]), cutWhite[i]/(1+cutWhite[i])
			s := s0 + (s1-s0)*(l-lo.L)/(hi.L-lo.L)
			m := c.see(pair, 1-s, s)
			far := hi
			if m.L > l {
				far = lo
			}
			t := 0.0
			if far.L != m.L {
				t = (l - m.L) / (far.L - m.L)
			}
			out.at[k], out.hits[k] = [2]float64{m.A + t*(far.A-m.A), m.B + t*(far.B-m.B)}, true
		}
		lo = hi
		if lo.L > top {
			break
		}
	}
	return out
}

// facet marks where the mixes between three neighbouring ratios cross each
// plane. A ratio that is lighter than the plane without white does not reach
// it; its facet ends where the ratio without white crosses.
func (c *cutter) facet(p, q, r *corner) {
	for k, l := range c.planes {
		var pts [5][2]float64
		n := 0
		three := [3]*corner{p, q, r}
		for i, a := range three {
			b := three[(i+1)%3]
			if a.hits[k] {
				pts[n] = a.at[k]
				n++
			}
			if (a.bare.L < l) != (b.bare.L < l) {
				t := (l - a.bare.L) / (b.bare.L - a.bare.L)
				pts[n] = [2]float64{a.bare.A + t*(b.bare.A-a.bare.A), a.bare.B + t*(b.bare.B-a.bare.B)}
				n++
			}
		}
		for i := 2; i < n; i++ {
			c.masks[k].triangle(pts[0], pts[i-1], pts[i])
		}
		if n == 2 {
			c.masks[k].triangle(pts[0], pts[1], pts[1])
		}
	}
}

// mask is a slice's region on a grid of a* and b*, cells a unit wide.
type mask struct{ cells [maskSide * maskSide]bool }

const (
	maskSide = 272
	maskFrom = -136.0 // a* and b* of the first cell's edge
)

func (m *mask) mark(a, b float64) {
	i, j := int(a-maskFrom), int(b-maskFrom)
	if i > 1 && j > 1 && i < maskSide-2 && j < maskSide-2 {
		m.cells[j*maskSide+i] = true
	}
}

// triangle marks the cells whose middles lie in a triangle, and those its sides
// run through.
func (m *mask) triangle(p, q, r [2]float64) {
	for _, e := range [3][2][2]float64{{p, q}, {q, r}, {r, p}} {
		n := int(2*max(math.Abs(e[1][0]-e[0][0]), math.Abs(e[1][1]-e[0][1]))) + 1
		for i := range n {
			t := float64(i) / float64(n)
			m.mark(e[0][0]+t*(e[1][0]-e[0][0]), e[0][1]+t*(e[1][1]-e[0][1]))
		}
	}
	lo, hi := min(p[1], q[1], r[1]), max(p[1], q[1], r[1])
	for y := math.Ceil(lo-0.5) + 0.5; y < hi; y++ {
		x0, x1 := math.Inf(1), math.Inf(-1)
		for _, e := range [3][2][2]float64{{p, q}, {q, r}, {r, p}} {
			if (e[0][1] <= y) != (e[1][1] <= y) {
				x := e[0][0] + (y-e[0][1])/(e[1][1]-e[0][1])*(e[1][0]-e[0][0])
				x0, x1 = min(x0, x), max(x1, x)
			}
		}
		for x := math.Ceil(x0-0.5) + 0.5; x < x1; x++ {
			m.mark(x, y)
		}
	}
}

// holeCells is the size up to which a hole is a gap between facets.
const holeCells = 30

// mend closes gaps a cell wide, and fills small holes.
func (m *mask) mend() {
	grow := func(of bool) {
		var out [maskSide * maskSide]bool
		for j := 1; j < maskSide-1; j++ {
			for i := 1; i < maskSide-1; i++ {
				hit := false
				for dj := -1; dj <= 1 && !hit; dj++ {
					for di := -1; di <= 1; di++ {
						if m.cells[(j+dj)*maskSide+i+di] == of {
							hit = true
							break
						}
					}
				}
				out[j*maskSide+i] = hit == of
			}
		}
		m.cells = out
	}
	grow(true)
	grow(false)
	seen := make([]bool, len(m.cells))
	for start, v := range m.cells {
		if v || seen[start] {
			continue
		}
		patch := []int{start}
		seen[start] = true
		for k := 0; k < len(patch); k++ {
			i, j := patch[k]%maskSide, patch[k]/maskSide
			for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				x, y := i+d[0], j+d[1]
				if x < 0 || y < 0 || x >= maskSide || y >= maskSide || m.cells[y*maskSide+x] || seen[y*maskSide+x] {
					continue
				}
				seen[y*maskSide+x] = true
				patch = append(patch, y*maskSide+x)
			}
		}
		if len(patch) <= holeCells {
			for _, k := range patch {
				m.cells[k] = true
			}
		}
	}
}

// edgeShare is the share of a cell and its neighbours at which the outline runs.
// It takes in any of them, so that a slice that is but a line, as of two tubes,
// has an outline too; a region is drawn up to a unit generous for it.
const edgeShare = 0.1

// rings outlines the region, by marching squares over the mean of each cell and
// its eight neighbours, and gives its area.
func (m *mask) rings() ([][][2]float64, float64) {
	area := 0.0
	field := make([]float64, len(m.cells))
	for j := 1; j < maskSide-1; j++ {
		for i := 1; i < maskSide-1; i++ {
			n := 0
			for dj := -1; dj <= 1; dj++ {
				for di := -1; di <= 1; di++ {
					if m.cells[(j+dj)*maskSide+i+di] {
						n++
					}
				}
			}
			field[j*maskSide+i] = float64(n) / 9
			if m.cells[j*maskSide+i] {
				area++
			}
		}
	}
	// Crossings are kept on the edges of the grid of middles: edge 2c runs from
	// middle c to the right, edge 2c+1 from it up. Every square leads from the
	// edge where its region is entered to that where it is left, the region on
	// the left hand.
	next := map[int]int{}
	var starts []int
	in := func(c int) bool { return field[c] >= edgeShare }
	for j := range maskSide - 1 {
		for i := range maskSide - 1 {
			c := j*maskSide + i
			a, b, d, e := in(c), in(c+1), in(c+maskSide+1), in(c+maskSide)
			if a == b && b == d && d == e {
				continue
			}
			bottom, right, top, left := 2*c, 2*(c+1)+1, 2*(c+maskSide), 2*c+1
			link := func(from, to int) {
				next[from] = to
				starts = append(starts, from)
			}
			switch code(a, b, d, e) {
			case 1:
				link(bottom, left)
			case 2:
				link(right, bottom)
			case 3:
				link(right, left)
			case 4:
				link(top, right)
			case 5: // two corners: kept apart
				link(bottom, left)
				link(top, right)
			case 6:
				link(top, bottom)
			case 7:
				link(top, left)
			case 8:
				link(left, top)
			case 9:
				link(bottom, top)
			case 10:
				link(right, bottom)
				link(left, top)
			case 11:
				link(right, top)
			case 12:
				link(left, right)
			case 13:
				link(bottom, right)
			case 14:
				link(left, bottom)
			}
		}
	}
	where := func(edge int) [2]float64 {
		c := edge / 2
		other, dx, dy := c+1, 1.0, 0.0
		if edge%2 == 1 {
			other, dx, dy = c+maskSide, 0, 1
		}
		t := (edgeShare - field[c]) / (field[other] - field[c])
		return [2]float64{maskFrom + 0.5 + float64(c%maskSide) + t*dx, maskFrom + 0.5 + float64(c/maskSide) + t*dy}
	}
	var out [][][2]float64
	for _, s := range starts {
		if _, ok := next[s]; !ok {
			continue
		}
		var ring [][2]float64
		for e, ok := s, true; ok; {
			ring = append(ring, where(e))
			to, more := next[e]
			delete(next, e)
			e, ok = to, more && to != s
		}
		if ring = thinned(ring, 0.12); len(ring) > 2 {
			for i := range ring {
				ring[i] = [2]float64{round(ring[i][0], 2), round(ring[i][1], 2)}
			}
			out = append(out, ring)
		}
	}
	return out, area
}

func code(a, b, d, e bool) int {
	n := 0
	for i, v := range []bool{a, b, d, e} {
		if v {
			n |= 1 << i
		}
	}
	return n
}

// thinned drops points of a ring that lie within eps of the line between those
// kept (Douglas & Peucker, Cartographica 10, 1973).
func thinned(ring [][2]float64, eps float64) [][2]float64 {
	if len(ring) < 4 {
		return ring
	}
	far := 0
	for i, q := range ring {
		if math.Hypot(q[0]-ring[0][0], q[1]-ring[0][1]) > math.Hypot(ring[far][0]-ring[0][0], ring[far][1]-ring[0][1]) {
			far = i
		}
	}
	keep := make([]bool, len(ring))
	var halve func(i, j int)
	halve = func(i, j int) {
		a, b := ring[i], ring[j%len(ring)]
		worst, at := eps, -1
		for k := i + 1; k < j; k++ {
			q := ring[k]
			dx, dy := b[0]-a[0], b[1]-a[1]
			d := math.Hypot(q[0]-a[0], q[1]-a[1])
			if l := math.Hypot(dx, dy); l > 0 {
				d = math.Abs((q[0]-a[0])*dy-(q[1]-a[1])*dx) / l
			}
			if d > worst {
				worst, at = d, k
			}
		}
		if at >= 0 {
			keep[at] = true
			halve(i, at)
			halve(at, j)
		}
	}
	keep[0], keep[far] = true, true
	halve(0, far)
	halve(far, len(ring))
	var out [][2]float64
	for i, k := range keep {
		if k {
			out = append(out, ring[i])
		}
	}
	return out
}

// Holds reports whether a point of a* and b* lies in the slice's region.
func (s *Slice) Holds(a, b float64) bool {
	in := false
	for _, ring := range s.Rings {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			if (p[1] > b) != (q[1] > b) && a < p[0]+(b-p[1])/(q[1]-p[1])*(q[0]-p[0]) {
				in = !in
			}
		}
	}
	return in
}

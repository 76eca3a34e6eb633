package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// Kinds of chart.
const (
	PairsChart   = "pairs"   // every two tubes
	StringChart  = "string"  // one tube into another
	LaddersChart = "ladders" // one tube to white, to grey, to black
)

// Limits of a chart.
const (
	MaxPairs   = 16 // tubes of a pairs chart that a page holds legibly
	MinSteps   = 3
	MaxSteps   = 11
	tintRows   = 3 // rows of tints under a string
	stringWide = 9 // steps of a string if nothing else is asked
	ladderWide = 7
)

// ChartTube is a tube of a chart or a lesson, with the number it goes by there.
type ChartTube struct {
	Number  int     `json:"number"`
	Name    string  `json:"name"`
	CI      string  `json:"ci"`
	Lab     lab.Lab `json:"lab"`
	Hex     string  `json:"hex"`
	White   bool    `json:"white,omitempty"`
	Caution string  `json:"caution,omitempty"`
}

// Pile is paint that a chart is mixed from: a tube, or a mixture made first.
type Pile struct {
	Name  string  `json:"name"`
	Parts []Part  `json:"parts"` // what it is made of
	Lab   lab.Lab `json:"lab"`
	Hex   string  `json:"hex"`
}

// Cell is one field of a chart.
type Cell struct {
	Parts []float64 `json:"parts"` // of the piles of its row, in their order
	Lab   lab.Lab   `json:"lab"`
	Hex   string    `json:"hex"`
	Value float64   `json:"value"`
	Step  float64   `json:"step_de00"` // from the cell before; 0 for the first
}

// ChartRow is a line of cells mixed from the same piles.
type ChartRow struct {
	Name  string  `json:"name"`
	Piles []Pile  `json:"piles"`
	Cells []Cell  `json:"cells"`
	Least float64 `json:"least_step_de00"`
	Most  float64 `json:"most_step_de00"`
	Note  string  `json:"note,omitempty"`
}

// PairCell is what two tubes of a pairs chart give: the mix that lies midway
// between them to the eye, and the tint midway from it to white.
type PairCell struct {
	A     int   `json:"a"` // numbers of the tubes
	B     int   `json:"b"`
	Mix   Cell  `json:"mix"`            // parts of A and of B
	Tint  *Cell `json:"tint,omitempty"` // parts of A, of B and, unless one of them is it, of white
	Apart struct {
		A float64 `json:"a_de00"` // from A to the mix
		B float64 `json:"b_de00"` // from the mix to B
	} `json:"apart"`
}

// Chart is a mixing chart in equal visual steps.
type Chart struct {
	Kind     string      `json:"kind"`
	Title    string      `json:"title"`
	Box      string      `json:"box"`
	Finish   string      `json:"finish"`
	Tubes    []ChartTube `json:"tubes"`
	Of       int         `json:"of,omitempty"`    // tubes there are, where more than are shown
	White    string      `json:"white,omitempty"` // what tints are made with
	Rows     []ChartRow  `json:"rows,omitempty"`
	Pairs    []PairCell  `json:"pairs,omitempty"`
	Cautions []string    `json:"cautions,omitempty"`
	Warnings []string    `json:"warnings"`
}

// Chart makes a chart. What is empty for every two tubes of the palette,
// "A+B" for the string from one tube into the other, or the name of one tube
// for its tints, tones and shades. Steps is the number of cells of a row, ends
// included; 0 leaves it to the chart.
//
// Cells are ladder mixes, chosen so that the CIEDE2000 differences between
// neighbours are as equal as the ladder can make them: of all choices the one
// with the smallest gap between the largest step and the smallest, ties by the
// smaller sum of squares.
func (w *Workspace) Chart(what string, steps int) (*Chart, error) {
	if steps != 0 && (steps < MinSteps || steps > MaxSteps) {
		return nil, fmt.Errorf("%d steps do not make a chart: ask for %d to %d", steps, MinSteps, MaxSteps)
	}
	what = strings.TrimSpace(what)
	if what == "" {
		if steps != 0 {
			return nil, fmt.Errorf("a chart of all pairs has one mix for each two tubes: name two, as in \"A+B\", for a string of %d steps", steps)
		}
		return w.pairs()
	}
	a, b, err := w.twoTubes(what)
	if err != nil {
		return nil, err
	}
	if b == nil {
		return w.ladders(a, steps)
	}
	return w.stringOf(a, b, steps)
}

// twoTubes reads "A+B", or one tube. Names and codes may hold a plus sign.
func (w *Workspace) twoTubes(s string) (a, b *inventory.Tube, err error) {
	if t := w.Box.Tube(s); t != nil {
		return t, nil, nil
	}
	notes := w.Notes
	for i := range len(s) {
		if s[i] != '+' {
			continue
		}
		w.Notes = notes
		left, e1 := w.Resolve(s[:i])
		right, e2 := w.Resolve(s[i+1:])
		if err = cmp.Or(e1, e2); err != nil {
			continue
		}
		if left.Name == right.Name {
			return nil, nil, fmt.Errorf("%q names the same tube twice: name two, or one for its tints, tones and shades", s)
		}
		return left, right, nil
	}
	w.Notes = notes
	if !strings.Contains(s, "+") {
		a, err = w.Resolve(s)
	}
	return a, nil, err
}

// shop mixes and looks at paint in one finish.
type shop struct{ finish optics.Finish }

func (s shop) see(paints []*optics.Paint, parts ...float64) lab.Lab {
	m := optics.Mix(paints, parts)
	r := m.Reflectance(s.finish)
	return r.Lab(optics.D65)
}

func (s shop) alone(p *optics.Paint) lab.Lab { return s.see([]*optics.Paint{p}, 1) }

func cell(c lab.Lab, parts ...float64) Cell {
	return Cell{Parts: parts, Lab: c, Hex: c.Hex(), Value: round(c.Value(), 2)}
}

// ratios lists every distinct ratio of two parts on the ladder, from all of the
// first to all of the second. The second's parts may go on along more.
func ratios(more ...int) [][2]int {
	seen := map[[2]int]bool{}
	out := [][2]int{{1, 0}, {0, 1}}
	for _, a := range recipe.Ladder {
		for _, b := range slices.Concat(recipe.Ladder, more) {
			g := gcd(a, b)
			if r := [2]int{a / g, b / g}; !seen[r] {
				seen[r] = true
				out = append(out, r)
			}
		}
	}
	slices.SortFunc(out, func(p, q [2]int) int { return cmp.Compare(p[1]*q[0], q[1]*p[0]) })
	return out
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// whitened lists the ladder's mixes of two paints in a given ratio with white,
// as parts of the two and of white, from no white to the most.
func whitened(a, b int) [][3]int {
	seen := map[[3]int]bool{}
	out := [][3]int{{a, b, 0}}
	for times := 1; times*max(a, b) <= recipe.Ladder[len(recipe.Ladder)-1]; times++ {
		on := func(n int) bool { return n == 0 || slices.Contains(recipe.Ladder, times*n) }
		if !on(a) || !on(b) {
			continue
		}
		for _, white := range slices.Concat(recipe.Ladder, recipe.WhiteLadder) {
			g := gcd(white, gcd(times*a, times*b))
			if m := [3]int{times * a / g, times * b / g, white / g}; !seen[m] {
				seen[m] = true
				out = append(out, m)
			}
		}
	}
	slices.SortFunc(out, func(p, q [3]int) int { return cmp.Compare(p[2]*(q[0]+q[1]), q[2]*(p[0]+p[1])) })
	return out
}

// evenly picks n of the colours in their order, the first and the last among
// them, so that the steps between neighbours are as equal as can be: the
// smallest gap between the largest step and the smallest, and of such choices
// the smallest sum of squares, then the one that comes first. Where there are
// no more than n colours it takes all.
func evenly(c []lab.Lab, n int) []int {
	last := len(c) - 1
	if len(c) <= n || n < 2 {
		all := make([]int, len(c))
		for i := range all {
			all[i] = i
		}
		return all
	}
	step := make([][]float64, len(c))
	var every []float64
	for i := range c {
		step[i] = make([]float64, len(c))
		for j := i + 1; j < len(c); j++ {
			step[i][j] = lab.DE00(c[i], c[j])
			every = append(every, step[i][j])
		}
	}
	slices.Sort(every)
	every = slices.Compact(every)

	// For each smallest step allowed, the least possible largest step.
	far := make([][]float64, n)
	for k := range far {
		far[k] = make([]float64, len(c))
	}
	reach := func(least float64) float64 {
		for k := range far {
			for j := range c {
				far[k][j] = math.Inf(1)
			}
		}
		far[0][0] = 0
		for k := 1; k < n; k++ {
			for j := k; j <= last-(n-1-k); j++ {
				best := math.Inf(1)
				for i := k - 1; i < j; i++ {
					if d := step[i][j]; d >= least {
						best = min(best, max(far[k-1][i], d))
					}
				}
				far[k][j] = best
			}
		}
		return far[n-1][last]
	}
	least, most, gap := 0.0, 0.0, math.Inf(1)
	for _, lo := range every {
		hi := reach(lo)
		if math.IsInf(hi, 1) {
			break // a larger smallest step is no easier
		}
		if hi-lo < gap {
			least, most, gap = lo, hi, hi-lo
		}
	}

	// Within those bounds, the smallest sum of squares.
	sum := make([][]float64, n)
	from := make([][]int, n)
	for k := range sum {
		sum[k], from[k] = make([]float64, len(c)), make([]int, len(c))
		for j := range c {
			sum[k][j] = math.Inf(1)
		}
	}
	sum[0][0] = 0
	for k := 1; k < n; k++ {
		for j := k; j <= last; j++ {
			for i := k - 1; i < j; i++ {
				if d := step[i][j]; d >= least && d <= most && sum[k-1][i]+d*d < sum[k][j] {
					sum[k][j], from[k][j] = sum[k-1][i]+d*d, i
				}
			}
		}
	}
	out := make([]int, n)
	for k, j := n-1, last; k >= 0; k-- {
		out[k] = j
		j = from[k][j]
	}
	return out
}

// row lays out cells with their steps.
func row(name string, piles []Pile, cells []Cell) ChartRow {
	r := ChartRow{Name: name, Piles: piles, Cells: cells}
	r.Least = math.Inf(1)
	for i := 1; i < len(cells); i++ {
		d := lab.DE00(cells[i-1].Lab, cells[i].Lab)
		cells[i].Step = round(d, 2)
		r.Least, r.Most = min(r.Least, cells[i].Step), max(r.Most, cells[i].Step)
	}
	if len(cells) < 2 {
		r.Least = 0
	}
	return r
}

// between is the ladder of one pile into another in n equal visual steps.
func (s shop) between(name string, a, b Pile, pa, pb *optics.Paint, n int, more ...int) ChartRow {
	all := ratios(more...)
	colours := make([]lab.Lab, len(all))
	for i, r := range all {
		colours[i] = s.see([]*optics.Paint{pa, pb}, float64(r[0]), float64(r[1]))
	}
	var cells []Cell
	for _, i := range evenly(colours, n) {
		cells = append(cells, cell(colours[i], float64(all[i][0]), float64(all[i][1])))
	}
	r := row(name, []Pile{a, b}, cells)
	// A strong tinter's least part may be more than a step.
	if n := len(cells); n > 2 && r.Most > 1.5*r.Least {
		for _, end := range []struct {
			step         float64
			parts        []float64
			strong, weak int
		}{{cells[1].Step, cells[1].Parts, 1, 0}, {cells[n-1].Step, cells[n-2].Parts, 0, 1}} {
			if end.step == r.Most && end.parts[end.weak] == float64(recipe.Ladder[len(recipe.Ladder)-1]) && end.parts[end.strong] == 1 {
				r.Note = fmt.Sprintf("One part of %s in %g of %s is already the largest step; for smaller ones tint a pile first and take of that.",
					r.Piles[end.strong].Name, end.parts[end.weak], r.Piles[end.weak].Name)
			}
		}
	}
	return r
}

func (s shop) pileOf(t *inventory.Tube) Pile {
	c := s.alone(&t.Paint)
	return Pile{Name: t.Name, Parts: []Part{{Tube: t.Name, CI: t.Code(), Parts: 1, Hex: c.Hex(), White: t.White}}, Lab: c, Hex: c.Hex()}
}

func (s shop) chartTube(n int, t *inventory.Tube) ChartTube {
	c := s.alone(&t.Paint)
	return ChartTube{Number: n, Name: t.Name, CI: t.Code(), Lab: c, Hex: c.Hex(), White: t.White, Caution: t.Caution}
}

func (w *Workspace) newChart(kind, title string, tubes []*inventory.Tube) *Chart {
	c := &Chart{Kind: kind, Title: title, Box: w.Box.Name, Finish: w.Palette.Finish.String(), Cautions: cautions(tubes)}
	for i, t := range tubes {
		c.Tubes = append(c.Tubes, shop{w.Palette.Finish}.chartTube(i+1, t))
	}
	return c
}

// ownWhite is the white that the tubes at hand are tinted with, or nil.
func (w *Workspace) ownWhite() *inventory.Tube {
	for _, t := range w.Palette.Tubes {
		if t.White {
			return t
		}
	}
	return w.Box.White()
}

// ownBlack is the darkest black of the tubes at hand, or nil.
func (w *Workspace) ownBlack() *inventory.Tube {
	white := w.tintWhite()
	pick := func(tubes []*inventory.Tube) (best *inventory.Tube) {
		low := math.Inf(1)
		for _, t := range tubes {
			if l := (shop{w.Palette.Finish}).alone(&t.Paint).L; inventory.LeanOf(&t.Paint, white).Family == "black" && l < low {
				best, low = t, l
			}
		}
		return best
	}
	if t := pick(w.Palette.Tubes); t != nil {
		return t
	}
	return pick(w.Box.Tubes)
}

// pairs is the chart of every two tubes.
func (w *Workspace) pairs() (*Chart, error) {
	tubes := w.Palette.Tubes
	if len(tubes) < 2 {
		return nil, fmt.Errorf("a chart of pairs needs two tubes and there is one: name it for its tints, tones and shades")
	}
	of := 0
	if len(tubes) > MaxPairs {
		of = len(tubes)
		tubes = w.spread(MaxPairs)
	}
	c := w.pairsOf(tubes, w.ownWhite())
	if of > 0 {
		c.Of = of
		c.Warnings = append(c.Warnings, fmt.Sprintf("%d of %d tubes are shown, those that differ most; choose others with --only.", MaxPairs, of))
	}
	return c, nil
}

// spread picks so many of the palette's tubes, in their order, that none is
// like another: white first, then by turns the tube whose masstone and tint lie
// farthest in CIELAB from those of its nearest among the tubes taken.
func (w *Workspace) spread(n int) []*inventory.Tube {
	tubes := w.Palette.Tubes
	white := w.tintWhite()
	looks := make([][2]lab.Lab, len(tubes))
	for i, t := range tubes {
		q := tubeOf(t, white, w.Palette.Finish, nil)
		looks[i] = [2]lab.Lab{q.Lab, q.TintLab}
	}
	apart := func(i, j int) (sum float64) {
		for k, a := range looks[i] {
			b := looks[j][k]
			sum += math.Hypot(math.Hypot(a.L-b.L, a.A-b.A), a.B-b.B)
		}
		return sum
	}
	taken := make([]bool, len(tubes))
	near := slices.Repeat([]float64{math.Inf(1)}, len(tubes)) // to the nearest taken
	next := max(0, slices.IndexFunc(tubes, func(t *inventory.Tube) bool { return t.White }))
	for range min(n, len(tubes)) {
		taken[next] = true
		far := -1
		for i := range tubes {
			near[i] = min(near[i], apart(i, next))
			if !taken[i] && (far < 0 || near[i] > near[far]) {
				far = i
			}
		}
		next = far
	}
	var out []*inventory.Tube
	for i, t := range tubes {
		if taken[i] {
			out = append(out, t)
		}
	}
	return out
}

// pairsOf is the chart of every two of the given tubes. White may be nil.
func (w *Workspace) pairsOf(tubes []*inventory.Tube, white *inventory.Tube) *Chart {
	c := w.newChart(PairsChart, fmt.Sprintf("Every two of %d tubes", len(tubes)), tubes)
	c.Warnings = append([]string{}, w.Notes...)
	if white != nil {
		c.White = white.Name
	}
	s := shop{w.Palette.Finish}
	for i, a := range tubes {
		for j := i + 1; j < len(tubes); j++ {
			c.Pairs = append(c.Pairs, s.pair(i+1, j+1, a, tubes[j], white))
		}
	}
	return c
}

// pair finds what two tubes of a pairs chart give. White may be nil.
func (s shop) pair(na, nb int, a, b, white *inventory.Tube) PairCell {
	p := PairCell{A: na, B: nb}
	ca, cb := s.alone(&a.Paint), s.alone(&b.Paint)
	best := math.Inf(1)
	for _, r := range ratios() {
		if r[0] == 0 || r[1] == 0 {
			continue
		}
		m := s.see([]*optics.Paint{&a.Paint, &b.Paint}, float64(r[0]), float64(r[1]))
		da, db := lab.DE00(ca, m), lab.DE00(m, cb)
		if off := math.Abs(da - db); off < best {
			best = off
			p.Mix = cell(m, float64(r[0]), float64(r[1]))
			p.Apart.A, p.Apart.B = round(da, 2), round(db, 2)
		}
	}
	if white == nil {
		return p
	}
	cw := s.alone(&white.Paint)
	best = math.Inf(1)
	tint := func(c lab.Lab, parts ...float64) {
		if off := math.Abs(lab.DE00(p.Mix.Lab, c) - lab.DE00(c, cw)); off < best {
			best = off
			t := cell(c, parts...)
			t.Step = round(lab.DE00(p.Mix.Lab, c), 2)
			p.Tint = &t
		}
	}
	if a == white || b == white {
		for _, r := range ratios(recipe.WhiteLadder...) { // of the other and of white
			other, parts := &a.Paint, []float64{float64(r[0]), float64(r[1])}
			if a == white {
				other = &b.Paint
			}
			c := s.see([]*optics.Paint{other, &white.Paint}, parts...)
			if a == white {
				slices.Reverse(parts)
			}
			if r[0] > 0 && r[1] > 0 {
				tint(c, parts...)
			}
		}
		return p
	}
	for _, m := range whitened(int(p.Mix.Parts[0]), int(p.Mix.Parts[1])) {
		if m[2] > 0 {
			parts := []float64{float64(m[0]), float64(m[1]), float64(m[2])}
			tint(s.see([]*optics.Paint{&a.Paint, &b.Paint, &white.Paint}, parts...), parts...)
		}
	}
	return p
}

// stringOf is one tube into another, with rows of tints beneath.
func (w *Workspace) stringOf(a, b *inventory.Tube, steps int) (*Chart, error) {
	if steps == 0 {
		steps = stringWide
	}
	tubes := []*inventory.Tube{a, b}
	white := w.ownWhite()
	tinted := white != nil && white != a && white != b && !a.White && !b.White
	if tinted {
		tubes = append(tubes, white)
	}
	c := w.newChart(StringChart, a.Name+" into "+b.Name, tubes)
	c.Warnings = append([]string{}, w.Notes...)
	s := shop{w.Palette.Finish}
	pa, pb := s.pileOf(a), s.pileOf(b)
	var more []int
	if b.White {
		more = recipe.WhiteLadder
	} else if a.White {
		a, b, pa, pb, more = b, a, pb, pa, recipe.WhiteLadder
	}
	first := s.between("as mixed", pa, pb, &a.Paint, &b.Paint, steps, more...)
	c.Rows = []ChartRow{first}
	if !tinted {
		return c, nil
	}
	c.White = white.Name
	piles := []Pile{pa, pb, s.pileOf(white)}
	rows := make([][]Cell, tintRows)
	cw := s.alone(&white.Paint)
	for _, top := range first.Cells {
		list := whitened(int(top.Parts[0]), int(top.Parts[1]))
		colours := make([]lab.Lab, len(list)+1)
		for i, m := range list {
			colours[i] = s.see([]*optics.Paint{&a.Paint, &b.Paint, &white.Paint}, float64(m[0]), float64(m[1]), float64(m[2]))
		}
		colours[len(list)] = cw
		picked := evenly(colours, tintRows+2)
		for k := range rows {
			m := list[picked[k+1]]
			rows[k] = append(rows[k], cell(colours[picked[k+1]], float64(m[0]), float64(m[1]), float64(m[2])))
		}
	}
	for k, cells := range rows {
		c.Rows = append(c.Rows, row(fmt.Sprintf("tint %d of %d", k+1, tintRows), piles, cells))
	}
	return c, nil
}

// darkStart is the masstone L* below which a tube's tones and shades start from
// its strongest tint: there is little to see in the masstone, and black adds
// little to it. [inventory.LeanOf] judges such tubes by their tint too.
const darkStart = 42.0

// ladders is one tube to white, to grey of its own value, and to black.
func (w *Workspace) ladders(t *inventory.Tube, steps int) (*Chart, error) {
	if steps == 0 {
		steps = ladderWide
	}
	if t.White {
		return nil, fmt.Errorf("%s is a white and has no tints: name a tube with colour", t.Name)
	}
	notes := append([]string{}, w.Notes...)
	white := w.ownWhite()
	if white == nil {
		p, err := inventory.Find("PW6")
		if err != nil {
			return nil, err
		}
		white = p.Tube()
		notes = append(notes, "There is no white among the tubes: the library's titanium white is taken.")
	}
	s := shop{w.Palette.Finish}
	black := w.ownBlack()
	if black == nil {
		p, err := inventory.Find("PBk9")
		if err != nil {
			return nil, err
		}
		black = p.Tube()
		notes = append(notes, "There is no black among the tubes: the library's ivory black is taken.")
	}
	tubes := []*inventory.Tube{t, white}
	if black != t && black.Name != t.Name {
		tubes = append(tubes, black)
	}
	c := w.newChart(LaddersChart, "Tints, tones and shades of "+t.Name, tubes)
	c.White, c.Warnings = white.Name, notes
	own, pw := s.pileOf(t), s.pileOf(white)
	c.Rows = []ChartRow{s.between("tints, with white", own, pw, &t.Paint, &white.Paint, steps, recipe.WhiteLadder...)}
	if len(tubes) == 2 {
		return c, nil // a black has neither tones nor shades
	}

	start, paint := own, t.Paint
	if own.Lab.L < darkStart {
		best := own.Lab.Chroma()
		for _, m := range whitened(1, 0) {
			if col := s.see([]*optics.Paint{&t.Paint, &white.Paint}, float64(m[0]), float64(m[2])); m[2] > 0 && col.Chroma() > best {
				best = col.Chroma()
				start = Pile{Name: "pile of " + t.Name + " and white", Lab: col, Hex: col.Hex(), Parts: []Part{
					{Tube: t.Name, CI: t.Code(), Parts: float64(m[0]), Hex: own.Hex},
					{Tube: white.Name, CI: white.Code(), Parts: float64(m[2]), Hex: pw.Hex, White: true},
				}}
				paint = optics.Mix([]*optics.Paint{&t.Paint, &white.Paint}, []float64{float64(m[0]), float64(m[2])})
			}
		}
	}
	grey, greyPaint := s.greyPile(white, black, start.Lab.L)
	var more []int
	if grey.Lab.L > letDownTo { // nearly all white, and wanted in as large parts
		more = recipe.WhiteLadder
	}
	tones := s.between("tones, with grey of its value", start, grey, &paint, &greyPaint, steps, more...)
	shades := s.between("shades, with black", start, s.pileOf(black), &paint, &black.Paint, steps)
	if start.Name != own.Name {
		for _, r := range []*ChartRow{&tones, &shades} {
			r.Note = strings.TrimSpace("From the strongest tint: the masstone is nearly as dark as black. " + r.Note)
		}
	}
	c.Rows = append(c.Rows, tones, shades)
	return c, nil
}

// greyPile is the ladder's mix of white and black nearest a lightness.
func (s shop) greyPile(white, black *inventory.Tube, l float64) (Pile, optics.Paint) {
	paints := []*optics.Paint{&black.Paint, &white.Paint}
	var pick [2]int
	var colour lab.Lab
	best := math.Inf(1)
	for _, r := range ratios(recipe.WhiteLadder...) {
		if c := s.see(paints, float64(r[0]), float64(r[1])); math.Abs(c.L-l) < best {
			best, pick, colour = math.Abs(c.L-l), r, c
		}
	}
	if pick[1] == 0 {
		return s.pileOf(black), black.Paint
	}
	if pick[0] == 0 {
		return s.pileOf(white), white.Paint
	}
	parts := []float64{float64(pick[0]), float64(pick[1])}
	return Pile{Name: "grey", Lab: colour, Hex: colour.Hex(), Parts: []Part{
		{Tube: black.Name, CI: black.Code(), Parts: parts[0], Hex: s.alone(&black.Paint).Hex()},
		{Tube: white.Name, CI: white.Code(), Parts: parts[1], Hex: s.alone(&white.Paint).Hex(), White: true},
	}}, optics.Mix(paints, parts)
}

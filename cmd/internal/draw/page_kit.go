package draw

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"paintout/cmd/internal/plan"
	"paintout/recipe"
)

// pageKit is the few tubes to carry as the page shows them.
type pageKit struct {
	Says    string
	Given   bool
	Cost    string
	Tubes   []pageTube // each with what it is there for
	Blocked []pageBlocked
	Home    []pageHome
	Chart   *kitChart // nil below two points
	Steps   []pageKitStep
	Two     bool // the kit is not the best set of its size by the greatest miss
}

type pageBlocked struct {
	Pile  *pagePile // nil for a mass of another photo
	Photo string    // of that one
	Mass  int
	Name  string
	DE00  string
	Grade string
	Help  string
}

// pageHome is a tube that stays at home.
type pageHome struct {
	pageTube
	Spare bool // nothing needs it
}

type pageKitStep struct {
	plan.KitStep
	Chosen bool
}

func kitOf(p *plan.Plan, piles []pagePile, sheet *sheet) *pageKit {
	k := p.Kit
	if k == nil {
		return nil
	}
	out := &pageKit{Says: kitWords(k), Given: k.Given, Cost: k.Cost}
	seen := map[string]bool{}
	card := func(name string) pageTube {
		seen[name] = true
		for i, t := range p.Box.Tubes {
			if t.Name == name {
				return tubeOf(i, t, sheet)
			}
		}
		return pageTube{Tube: plan.Tube{Name: name}} // from the library, not in the box
	}
	// Another photo of the same trip numbers its masses likewise.
	here := func(photo string) bool { return photo == "" || photo == p.Photo.Path }
	byID := map[int]*pagePile{}
	for i := range piles {
		byID[piles[i].ID] = &piles[i]
	}
	for _, name := range k.Tubes {
		if seen[name] {
			continue
		}
		t := card(name)
		t.Piles = nil
		for _, u := range k.Uses {
			if u.Tube != name {
				continue
			}
			t.Says = recipe.Capital(u.Says) + "."
			for _, m := range u.Masses {
				if here(m.Photo) && byID[m.Mass] != nil {
					t.Piles = append(t.Piles, m.Mass)
				}
			}
		}
		out.Tubes = append(out.Tubes, t)
	}
	for i, t := range p.Box.Tubes {
		if !seen[t.Name] {
			out.Home = append(out.Home, pageHome{tubeOf(i, t, sheet), slices.Contains(k.Unused, t.Name)})
		}
	}
	for _, b := range k.Blocked {
		pb := pageBlocked{Mass: b.Mass, Name: b.Name, DE00: one(b.DE00), Grade: recipe.Grade(b.DE00), Help: b.Help()}
		if here(b.Photo) {
			pb.Pile = byID[b.Mass]
		} else {
			pb.Photo = filepath.Base(b.Photo)
		}
		out.Blocked = append(out.Blocked, pb)
	}
	curve := telling(k)
	for i, s := range curve {
		if i == 0 {
			s.In, s.Out = nil, nil // all of them come in
		}
		same := len(s.Tubes) == len(k.Tubes) && !slices.ContainsFunc(s.Tubes, func(t string) bool { return !slices.Contains(k.Tubes, t) })
		out.Steps = append(out.Steps, pageKitStep{s, same})
	}
	if at := slices.IndexFunc(out.Steps, func(s pageKitStep) bool { return s.Count == len(k.Tubes) }); at >= 0 && !out.Steps[at].Chosen {
		own := pageKitStep{plan.KitStep{Count: len(k.Tubes), Tubes: k.Tubes, Worst: k.Worst, Mean: k.Mean}, true}
		out.Steps = slices.Insert(out.Steps, at+1, own)
		out.Two = true
	}
	shown := *k
	shown.Curve = curve
	out.Chart = chartOfKit(&shown)
	return out
}

// telling leaves out steps beyond the kit that come no nearer by more than a
// tenth of ΔE00, each then saying what changes from the last that is kept.
func telling(k *plan.KitPlan) (out []plan.KitStep) {
	less := func(a, b []string) (out []string) {
		for _, t := range a {
			if !slices.Contains(b, t) {
				out = append(out, t)
			}
		}
		return out
	}
	for _, s := range k.Curve {
		if n := len(out); n > 0 {
			last := out[n-1]
			if s.Count > len(k.Tubes) && s.Worst > last.Worst-0.1 && s.Mean > last.Mean-0.1 {
				continue
			}
			s.In, s.Out = less(s.Tubes, last.Tubes), less(last.Tubes, s.Tubes)
		}
		out = append(out, s)
	}
	return out
}

// kitWords says what the kit does. Its figures are of the masses; how far the
// picture lies from those is said under the page's figures.
func kitWords(k *plan.KitPlan) string {
	n := len(k.Tubes)
	subject, bring := recipe.Capital(words(n))+" tubes", "bring"
	if n == 1 {
		subject, bring = "One tube", "brings"
	}
	which := "every mass"
	switch n := len(k.Blocked); {
	case n == 1:
		which += " but the one named below"
	case n > 1:
		which += " but the " + words(n) + " named below"
	}
	if k.Given {
		subject = "Your " + words(n) + " tubes"
		if n == 1 {
			subject = "Your one tube"
		}
	}
	if len(k.Short) > 0 {
		more := "More tubes"
		if k.Needed > 0 {
			more = recipe.Capital(words(k.Needed))
		}
		return fmt.Sprintf("%s, white included, come as near as so few can: the worst mass is off by %s ΔE00, the mean by area is %s. %s would bring %s within %s.",
			subject, one(k.Worst), one(k.Mean), more, which, amount(k.Tolerance))
	}
	s := fmt.Sprintf("%s, white included, %s %s within %s ΔE00 of its colour to mix; the worst is off by %s, the mean by area is %s.",
		subject, bring, which, amount(k.Tolerance), one(k.Worst), one(k.Mean))
	switch {
	case k.Given:
		return s
	case k.Proven:
		return s + " No smaller set does it over the ratios that were tried."
	}
	return s + " A smaller set may yet be found: the search stopped before it was through."
}

// kitChart is the curve of tubes against misses. Places are percentages of the
// drawing, so that it fits any width while its words keep their size.
type kitChart struct {
	Left, Right, Top, Bottom string
	Wide                     string
	Bands                    []kitBand
	Lines                    []kitLine
	Points                   []kitPoint
	Kit                      *kitPoint // where the kit itself stands
	Says                     string
}

type kitBand struct {
	Y, High, Mid string
	Word         string
	Upper        string // the cut at its upper edge, empty for the last
	Odd          bool
	End          bool // its word stands on the right, where the curves leave more room
}

type kitLine struct {
	X1, Y1, X2, Y2 string
	Mean           bool
}

type kitPoint struct {
	X, Worst, Mean string
	Count          int
	WorstSays      string
	MeanSays       string
	Named, Counted bool // whether its figures and its number are written
	Chosen         bool
}

// The misses at which the words change, as recipe.Grade has them. Every word
// gets the same height, and the last runs by ratio, so that small misses can be
// told apart where those of one or two tubes are ten times as large.
var kitCuts = []float64{0, 0.8, 1.8, 4}

// kitScale places misses up to the greatest on a length of 1, in bands of equal
// length, one for each word.
func kitScale(most float64) (bands int, share func(v float64) float64) {
	bands = 1
	for bands < len(kitCuts) && most > kitCuts[bands] {
		bands++
	}
	return bands, func(v float64) float64 {
		i := 0
		for i+1 < bands && v > kitCuts[i+1] {
			i++
		}
		var within float64
		if i == len(kitCuts)-1 {
			within = math.Log(v/kitCuts[i]) / math.Log(most/kitCuts[i])
		} else {
			to := most
			if i+1 < len(kitCuts) {
				to = kitCuts[i+1]
			}
			within = (v - kitCuts[i]) / (to - kitCuts[i])
		}
		return (float64(i) + min(1, within)) / float64(bands)
	}
}

const (
	kitLeft, kitRight = 10.0, 97.0
	kitTop, kitBottom = 9.0, 90.0
	// What a figure and a number need beside the next, at a phone's 336 px.
	kitFigureWide, kitNumberWide = 9.0, 6.0
	// How far a figure stands from its mark, and how high a word is.
	kitFigureHigh = 5.0
)

// kitSpan is how far across the curves and their figures run.
type kitSpan struct{ from, to float64 }

func chartOfKit(k *plan.KitPlan) *kitChart {
	var steps []plan.KitStep
	most := 0.0
	for _, s := range k.Curve {
		if finite(s.Worst) && finite(s.Mean) {
			steps = append(steps, s)
			most = max(most, s.Worst, s.Mean)
		}
	}
	slices.SortStableFunc(steps, func(a, b plan.KitStep) int { return a.Count - b.Count })
	if len(steps) < 2 || steps[0].Count == steps[len(steps)-1].Count {
		return nil
	}
	bands, share := kitScale(most)
	high := (kitBottom - kitTop) / float64(bands)
	upper := func(i int) float64 {
		if i+1 < len(kitCuts) {
			return kitCuts[i+1]
		}
		return most
	}
	y := func(v float64) float64 { return kitBottom - (kitBottom-kitTop)*share(v) }
	first, last := steps[0].Count, steps[len(steps)-1].Count
	const inset = 5.0
	x := func(n int) float64 {
		return kitLeft + inset + (kitRight-kitLeft-2*inset)*float64(n-first)/float64(last-first)
	}
	c := &kitChart{Left: amount(kitLeft), Right: amount(kitRight), Top: amount(kitTop), Bottom: amount(kitBottom), Wide: amount(kitRight - kitLeft)}
	places := make([]float64, bands) // the height each band's word stands at
	for i := range bands {
		places[i] = kitBottom - high*(float64(i)+0.5)
		b := kitBand{Y: amount(kitBottom - high*float64(i+1)), High: amount(high), Word: recipe.Grade(upper(i)), Odd: i%2 == 1}
		if i+1 < len(kitCuts) {
			b.Upper = amount(kitCuts[i+1])
		} else {
			b.Word = recipe.Grade(math.Inf(1))
			places[i] = kitTop + high/4 // clear of misses just beyond the cut
		}
		b.Mid = amount(places[i])
		c.Bands = append(c.Bands, b)
	}
	// Where the curves and their figures cross the line a band's word stands on.
	busy := make([]kitSpan, bands)
	for i := range busy {
		busy[i] = kitSpan{kitRight, kitLeft}
	}
	taken := func(at, height float64) {
		for i := range busy {
			if math.Abs(height-places[i]) < kitFigureHigh {
				busy[i] = kitSpan{min(busy[i].from, at-kitFigureWide/2), max(busy[i].to, at+kitFigureWide/2)}
			}
		}
	}
	for i, s := range steps {
		taken(x(s.Count), y(s.Worst)-kitFigureHigh)
		taken(x(s.Count), y(s.Mean)+kitFigureHigh)
		next := steps[min(i+1, len(steps)-1)]
		for n := range 10 {
			t := float64(n) / 10
			at := x(s.Count) + t*(x(next.Count)-x(s.Count))
			taken(at, y(s.Worst)+t*(y(next.Worst)-y(s.Worst)))
			taken(at, y(s.Mean)+t*(y(next.Mean)-y(s.Mean)))
		}
	}
	for i, b := range busy {
		c.Bands[i].End = b.to > b.from && kitRight-b.to > b.from-kitLeft
	}
	var says []string
	figure, number := math.Inf(-1), math.Inf(-1) // where the last ones were written
	// The best set of so many tubes has the least greatest miss, the kit the
	// least mean of those that keep the tolerance: they need not be one.
	chosen := -1
	for i, s := range steps {
		if s.Count == len(k.Tubes) {
			chosen = i
			c.Kit = &kitPoint{X: amount(x(s.Count)), Worst: amount(y(k.Worst)), Mean: amount(y(k.Mean)), WorstSays: figureOf(k.Worst), MeanSays: figureOf(k.Mean)}
		}
	}
	for i, s := range steps {
		at := x(s.Count)
		p := kitPoint{X: amount(at), Worst: amount(y(s.Worst)), Mean: amount(y(s.Mean)), Count: s.Count,
			WorstSays: figureOf(s.Worst), MeanSays: figureOf(s.Mean), Chosen: i == chosen}
		fits := func(wide, last float64) bool {
			return i == chosen || at-last >= wide && (i > chosen || x(steps[chosen].Count)-at >= wide)
		}
		if p.Named = fits(kitFigureWide, figure); p.Named {
			figure = at
			p.Named = i != chosen // the kit's own figures stand there
		}
		if p.Counted = fits(kitNumberWide, number); p.Counted {
			number = at
		}
		c.Points = append(c.Points, p)
		if i > 0 {
			q := c.Points[i-1]
			c.Lines = append(c.Lines, kitLine{q.X, q.Worst, p.X, p.Worst, false}, kitLine{q.X, q.Mean, p.X, p.Mean, true})
		}
		says = append(says, fmt.Sprintf("%d: %s and %s", s.Count, one(s.Worst), one(s.Mean)))
	}
	c.Says = "Number of tubes, and how far off the worst mass and the mean are, in ΔE00. " + strings.Join(says, "; ") + "."
	return c
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// figureOf writes a miss in at most three signs.
func figureOf(v float64) string {
	if v >= 9.95 {
		return strconv.Itoa(int(math.Round(v)))
	}
	return one(v)
}

package recipe

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// Recipe is one way to mix a colour.
type Recipe struct {
	Choice string // why it is on the list; see [Table.Recipes]
	Parts  []Part // in mixing order: lightest and weakest first, strong tinters last
	Lab    lab.Lab
	Off    Off
	Notes  []string
	// Suggested marks the one recipe of a list to try first: the lowest
	// expected difference, after a quarter of a ΔE00 for every tube and an
	// eighth for every doubling of the parts to count out.
	Suggested bool
}

// What a list of recipes may hold.
const (
	Nearest     = "nearest"
	OneTube     = "one tube" // with white where it helps; likewise below
	TwoTubes    = "two tubes"
	ThreeTubes  = "three tubes"
	Forgiving   = "more forgiving"
	WithBlack   = "with black"
	WithoutBlk  = "without black"
	WithoutWhte = "without white"
	Plain       = "fewer parts to count"
)

// What a further tube, and a doubling of the parts to count out, must earn in
// expected ΔE00 for a mix to be suggested (this project's judgement).
const tubeCost, partsCost = 0.25, 0.125

// trouble is what a recipe costs, as Suggested weighs it.
func (r *Recipe) trouble() float64 {
	total := 0.0
	for _, p := range r.Parts {
		total += p.Parts
	}
	return r.Off.Expected + tubeCost*float64(len(r.Parts)) + partsCost*math.Log2(total)
}

// pool is how many candidates have their spread computed in a choice.
const pool = 24

// candidate is a set's best mix, not yet written out.
type candidate struct {
	set, choice int
	nearest
	n int // tubes, white counted
}

// Recipes gives a short trade-off list for aim number a, nearest first: the
// nearest mix of all, the best of one, two and three coloured tubes (white on
// top where it helps), the most forgiving, and variants with or without black
// and white, and the least trouble to mix among those that can't be told from
// the aim. A recipe is left out when another on the list has no more tubes, no
// greater nominal difference and no greater bound. portionError is as in
// [Palette.SpreadOf].
func (t *Table) Recipes(a int, portionError float64) []Recipe {
	var all []candidate
	aims := len(t.Aims)
	for i := range t.sets {
		for c := 0; c*aims < t.stride; c++ {
			n := t.near[i*t.stride+c*aims+a]
			if math.IsInf(n.de00, 1) {
				continue
			}
			count := t.sets[i].n
			if c > 0 {
				count++
			}
			all = append(all, candidate{i, c, n, count})
		}
	}
	slices.SortFunc(all, func(x, y candidate) int {
		return cmp.Or(cmp.Compare(x.de00, y.de00), cmp.Compare(x.n, y.n), cmp.Compare(x.set, y.set), cmp.Compare(x.choice, y.choice))
	})
	if len(all) == 0 {
		return nil
	}
	var list []Recipe
	taken := map[[2]int]bool{}
	add := func(choice string, c candidate) {
		if !taken[[2]int{c.set, c.choice}] {
			taken[[2]int{c.set, c.choice}] = true
			list = append(list, t.recipe(choice, c, a, portionError))
		}
	}
	first := func(ok func(candidate) bool) (candidate, bool) {
		i := slices.IndexFunc(all, ok)
		if i < 0 {
			return candidate{}, false
		}
		return all[i], true
	}
	best := all[0]
	add(Nearest, best)
	for m, name := range []string{OneTube, TwoTubes, ThreeTubes} {
		if c, ok := first(func(c candidate) bool { return max(1, t.sets[c.set].n) == m+1 }); ok {
			add(name, c)
		}
	}
	// The most forgiving of the near ones.
	forgiving, bound := best, math.Inf(1)
	for _, c := range all[:min(pool, len(all))] {
		if c.de00 > best.de00+1.5 {
			break
		}
		if r := t.recipe("", c, a, portionError); r.Off.P90 < bound {
			forgiving, bound = c, r.Off.P90
		}
	}
	add(Forgiving, forgiving)
	// The plainest of the indistinguishable.
	if r, ok := t.plainest(a, portionError); ok && !slices.ContainsFunc(list, func(o Recipe) bool { return slices.Equal(o.Parts, r.Parts) }) {
		list = append(list, r)
	}
	const within = 1.5 // a variant further off than this is no variant
	vary := func(name string, ok func(candidate) bool) {
		if c, found := first(ok); found && c.de00 <= best.de00+within {
			add(name, c)
		}
	}
	if t.hasBlack(best) {
		vary(WithoutBlk, func(c candidate) bool { return !t.hasBlack(c) })
	} else {
		vary(WithBlack, t.hasBlack)
	}
	if best.choice > 0 {
		vary(WithoutWhte, func(c candidate) bool { return c.choice == 0 && t.sets[c.set].n > 0 })
	}

	var kept []Recipe
	for i, r := range list {
		beaten := slices.ContainsFunc(list, func(o Recipe) bool {
			return len(o.Parts) <= len(r.Parts) && o.Off.Nominal <= r.Off.Nominal && o.Off.P90 <= r.Off.P90 &&
				(len(o.Parts) < len(r.Parts) || o.Off.Nominal < r.Off.Nominal || o.Off.P90 < r.Off.P90)
		})
		variant := r.Choice == WithBlack || r.Choice == WithoutBlk || r.Choice == WithoutWhte
		if i == 0 || !beaten || variant || r.Choice == Plain {
			kept = append(kept, r)
		}
	}
	slices.SortStableFunc(kept, func(x, y Recipe) int { return cmp.Compare(x.Off.Nominal, y.Off.Nominal) })
	pick, score := 0, math.Inf(1)
	for i, r := range kept {
		if s := r.trouble(); s < score {
			pick, score = i, s
		}
	}
	kept[pick].Suggested = true
	return kept
}

// plainest is the recipe of least trouble among the mixes with fewest parts of
// each set that cannot be told from the aim.
func (t *Table) plainest(a int, portionError float64) (best Recipe, ok bool) {
	var all []candidate
	aims := len(t.Aims)
	for i := range t.sets {
		for c := 0; c*aims < t.stride; c++ {
			if n := t.plain[i*t.stride+c*aims+a]; !math.IsInf(n.de00, 1) {
				count := t.sets[i].n
				if c > 0 {
					count++
				}
				all = append(all, candidate{i, c, n, count})
			}
		}
	}
	// Few tubes and few parts first; the spread decides among the first few.
	cost := func(c candidate) float64 {
		return tubeCost*float64(c.n) + partsCost*math.Log2(float64(t.total(c.set, c.nearest)))
	}
	slices.SortStableFunc(all, func(x, y candidate) int { return cmp.Compare(cost(x), cost(y)) })
	for _, c := range all[:min(pool, len(all))] {
		r := t.recipe(Plain, c, a, portionError)
		if !ok || r.trouble() < best.trouble() {
			best, ok = r, true
		}
	}
	return best, ok
}

func (t *Table) hasBlack(c candidate) bool {
	for j := range t.sets[c.set].n {
		if IsBlack(t.Palette.Tubes[t.sets[c.set].tubes[j]]) {
			return true
		}
	}
	return false
}

// IsBlack reports whether a tube's label gives a black pigment (PBk).
func IsBlack(t *inventory.Tube) bool {
	return slices.ContainsFunc(t.CI, func(ci string) bool { return strings.HasPrefix(strings.ToUpper(ci), "PBK") })
}

func (t *Table) recipe(choice string, c candidate, a int, portionError float64) Recipe {
	p := t.Palette
	parts := t.parts(c.set, c.choice, c.nearest)
	p.InOrder(parts)
	_, colour := p.Mix(parts)
	return Recipe{
		Choice: choice,
		Parts:  parts,
		Lab:    colour,
		Off:    p.SpreadOf(parts, portionError).OffFrom(colour, t.Aims[a]),
		Notes:  p.Handling(parts),
	}
}

// InOrder sorts parts into mixing order: white first, then by tinting power,
// so that the strong tinters go in last and a touch at a time (common
// practice, no source).
func (p *Palette) InOrder(parts []Part) {
	slices.SortStableFunc(parts, func(x, y Part) int {
		return cmp.Compare(p.power(x.Tube), p.power(y.Tube))
	})
}

// power is a tube's tinting power: its luminance-weighted absorption, on the
// scale where titanium white scatters 1; white has none.
func (p *Palette) power(tube int) float64 {
	t := p.Tubes[tube]
	if t.White {
		return 0
	}
	_, y, _ := optics.D65.Weights()
	sum := 0.0
	for i := range y {
		sum += y[i] / 100 * t.Paint.K[i]
	}
	return sum
}

// strongPower is the tinting power above which a tube is added a touch at a
// time: phthalocyanines, Prussian blue, dioxazine, carbon black and the
// strongest reds lie above it, earths and cobalts far below.
const strongPower = 0.75

// Strong reports whether a tube overruns a mix unless it is added a touch at a
// time, by its label's word for it or by its own constants.
func (p *Palette) Strong(tube int) bool {
	return p.Tubes[tube].Strength == "very high" || p.power(tube) > strongPower
}

// Handling gives what a knife needs to know of a mix, in sentences.
func (p *Palette) Handling(parts []Part) []string {
	var notes []string
	most, least, total := parts[0], parts[0], 0.0
	for _, q := range parts {
		total += q.Parts
	}
	for _, q := range parts {
		if q.Parts > most.Parts {
			most = q
		}
		if q.Parts < least.Parts {
			least = q
		}
		if p.Strong(q.Tube) && q.Parts < total/3 {
			notes = append(notes, fmt.Sprintf("%s is strong: add it a touch at a time.", p.Tubes[q.Tube].Name))
		}
	}
	if ratio := most.Parts / least.Parts; ratio > 32 {
		step := Ladder[0]
		for _, l := range Ladder {
			if float64(l) <= math.Sqrt(ratio)+1e-9 {
				step = l
			}
		}
		notes = append(notes, fmt.Sprintf("1 part in %.0f is too little to portion: pre-tint in two steps, first %s 1 to %s %d, then take %.0f parts of that for each part of %s.",
			ratio, p.Tubes[least.Tube].Name, p.Tubes[most.Tube].Name, step, float64(step+1), p.Tubes[least.Tube].Name))
	}
	return notes
}

// Miss says in plain words what separates a mix from its aim, the largest
// part first; empty when it cannot be told apart (0.8 ΔE00).
func Miss(aim, mix lab.Lab) string {
	if lab.DE00(aim, mix) <= 0.8 {
		return ""
	}
	dL := mix.L - aim.L
	dC := mix.Chroma() - aim.Chroma()
	mean := (mix.Chroma() + aim.Chroma()) / 2
	dh := math.Mod(mix.Hue()-aim.Hue()+540, 360) - 180
	dH := 2 * math.Sqrt(mix.Chroma()*aim.Chroma()) * math.Sin(dh*math.Pi/360)
	type part struct {
		size float64
		word string
	}
	pick := func(v float64, up, down string) string {
		if v > 0 {
			return up
		}
		return down
	}
	parts := []part{
		{math.Abs(dL), pick(dL, "too light", "too dark")},
		{math.Abs(dC) / (1 + 0.045*mean), pick(dC, "too vivid", "too dull")},
		{math.Abs(dH) / (1 + 0.015*mean), "hue off toward " + hueToward(aim, mix)},
	}
	slices.SortStableFunc(parts, func(x, y part) int { return cmp.Compare(y.size, x.size) })
	var words []string
	for i, q := range parts {
		if i == 0 || q.size > 0.5*parts[0].size && q.size > 0.6 {
			words = append(words, q.word)
		}
	}
	return strings.Join(words, ", ")
}

// hueCentres are the CIELAB hues of the unique hues (red, yellow, green, blue) and
// of the mixed hues half-way between.
var hueCentres = []struct {
	h    float64
	name string
}{{23, "red"}, {57, "orange"}, {91, "yellow"}, {127, "yellow-green"}, {163, "green"}, {212, "blue-green"}, {260, "blue"}, {322, "violet"}}

// hueToward names the unique or mixed hue that lies on the mix's side of the
// aim.
func hueToward(aim, mix lab.Lab) string {
	dir := 1.0
	if math.Mod(mix.Hue()-aim.Hue()+540, 360)-180 < 0 {
		dir = -1
	}
	name, nearest := "", math.Inf(1)
	for _, h := range hueCentres {
		d := math.Mod(dir*(h.h-aim.Hue())+720, 360)
		if d >= 15 && d < nearest {
			name, nearest = h.name, d
		}
	}
	return name
}

// hueNamed is the unique or mixed hue nearest to a CIELAB hue.
func hueNamed(hue float64) string {
	name, nearest := "", math.Inf(1)
	for _, h := range hueCentres {
		if d := math.Abs(math.Mod(h.h-hue+540, 360) - 180); d < nearest {
			name, nearest = h.name, d
		}
	}
	return name
}

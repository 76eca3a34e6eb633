package plan

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// Way is a way to paint: how unevenly portions are set out, how thick paint
// lies, and what that makes of an answer.
type Way struct {
	Name         string
	PortionError float64 // standard deviation of a part, as a share
	Film         float64 // µm of wet paint, see FilmOf
	Washes       bool    // let down with water over paper, not with white
	Says         []string
}

// Portions set out and mixed with a brush stray further than a knife's (this
// project's judgement).
const brushError = 0.25

// Ways are the ways known; the first is the base case. Films by brush are common
// practice: suppliers reckon a litre of acrylic to 100 square feet, 108 µm
// (no published source); by knife half a millimetre is common
// practice, no source.
var Ways = []Way{
	{Name: "knife", PortionError: recipe.KnifeError, Film: 500},
	{Name: "brush", PortionError: brushError, Film: 108, Says: []string{
		"By brush: parts taken up with a brush are taken to stray by a quarter, and a brush seldom mixes to one colour. Of two recipes as near, take the one with fewer tubes, and judge the pile once it no longer streaks.",
	}},
	{Name: "gouache", PortionError: brushError, Film: 108, Says: []string{
		"Gouache is laid opaque and let down with white, as foretold here, but the figures are of acrylic and oil films, which shine. With little binder gouache dries matte, its darks lighter and its lights a little darker than wet (common practice): foretold darks will be too dark. Judge by a dry dab.",
	}},
	{Name: "watercolour", PortionError: brushError, Washes: true, Says: []string{
		"A watercolourist thins where others add white: washes are foretold as films of colour over paper, let down with water, from the figures of acrylic and oil paints. Granulation, settling in the paper's grain and blooms are not foretold, and a wash dries lighter than it looks wet.",
	}},
}

// WayNamed finds a way to paint.
func WayNamed(name string) (Way, error) {
	var names []string
	for _, w := range Ways {
		if n := strings.TrimSpace(name); strings.EqualFold(w.Name, n) || strings.EqualFold(strings.Replace(w.Name, "our", "or", 1), n) {
			return w, nil
		}
		names = append(names, w.Name)
	}
	return Way{}, fmt.Errorf("no way to paint is called %q here: it is one of %s", name, strings.Join(names, ", "))
}

// WashAsk says on what washes lie, and one that was laid.
type WashAsk struct {
	Ground string // its colour, as for [lab.ParseTarget]; empty: white paper
	Seen   string // a wash as laid and its colour, "PB29:1,water:4=lab:62,-6,-42"; empty: none
}

// WashStep is one wash of a series.
type WashStep struct {
	Water    float64 `json:"water"` // parts to one of all paint
	Lab      lab.Lab `json:"lab"`
	Hex      string  `json:"hex"`
	Name     string  `json:"name"`
	Value    float64 `json:"value"`
	Expected float64 `json:"expected_de00"` // mean difference of a real wash from this
	P90      float64 `json:"p90_de00"`
}

// WashScale says what thicknesses of washes rest on.
type WashScale struct {
	Ground    lab.Lab `json:"ground"`
	GroundHex string  `json:"ground_hex"`
	Thickness float64 `json:"thickness"` // of undiluted colour, in units of the film in which titanium white scatters 1
	Read      bool    `json:"read"`      // from a wash that was laid
	Residual  float64 `json:"residual_de00,omitempty"`
	Words     string  `json:"words"`
}

// WashMixResult is a mix with its washes, masstone to the palest.
type WashMixResult struct {
	MixResult
	Scale  WashScale  `json:"scale"`
	Washes []WashStep `json:"washes"`
	Asked  *WashStep  `json:"asked,omitempty"` // the wash with the water that was typed with the mix
	Graded []string   `json:"-"`               // hex, from undiluted to palest without a break, to look at
}

// gradedSteps are enough for a graded wash to show no bands on a page.
const gradedSteps = 240

// waterName is what stands for water among the tubes of a wash.
const waterName = "water"

// watered parts a typed wash into paint and water; the water is to one part of
// all paint.
func watered(typed string) (paint []Portion, water float64, said bool, err error) {
	ps, err := ParseMix(typed)
	if err != nil {
		return nil, 0, false, err
	}
	total := 0.0
	for _, p := range ps {
		if strings.EqualFold(p.Name, waterName) {
			water, said = water+p.Parts, true
		} else {
			paint, total = append(paint, p), total+p.Parts
		}
	}
	if len(paint) == 0 {
		return nil, 0, false, fmt.Errorf("%q is water alone: name a tube too, as in \"PB29:1,water:4\"", typed)
	}
	return paint, water / total, said, nil
}

// washing reads what washes lie on and how thick.
func (w *Workspace) washing(ask WashAsk) (recipe.Washing, WashScale, error) {
	var wash recipe.Washing
	ground := recipe.WhitePaper
	if ask.Ground != "" {
		t, err := lab.ParseTarget(ask.Ground)
		if err != nil {
			return wash, WashScale{}, err
		}
		if t.Kind == lab.PhotoTarget {
			return wash, WashScale{}, fmt.Errorf("%s: give the ground as a colour that was measured, such as lab:95,0,3: in a photo it is the camera's guess", ask.Ground)
		}
		if ground, err = recipe.GroundOf(t.Lab); err != nil {
			return wash, WashScale{}, err
		}
	}
	wash.Ground = &ground
	c := ground.Lab(optics.D65)
	scale := WashScale{Ground: c, GroundHex: c.Hex(), Thickness: recipe.Undiluted}
	on := "white paper (L* 95, taken for granted: give yours with --ground)"
	if ask.Ground != "" {
		on = fmt.Sprintf("a ground of %s", labWords(c))
	}
	if ask.Seen == "" {
		scale.Words = fmt.Sprintf("On %s. How strong your washes are is not known: undiluted colour is taken to all but hide the paper, and that may be out by a factor of two either way, which is most of the stated spread. Lay one wash, read it dry, and give it with --seen.", on)
		return wash, scale, nil
	}
	at := strings.LastIndex(ask.Seen, "=")
	if at < 0 {
		return wash, scale, fmt.Errorf("%q: write the wash and its colour with an = between, as in \"PB29:1,water:4=lab:62,-6,-42\"", ask.Seen)
	}
	ps, water, _, err := watered(ask.Seen[:at])
	if err != nil {
		return wash, scale, err
	}
	t, err := lab.ParseTarget(ask.Seen[at+1:])
	if err != nil {
		return wash, scale, err
	}
	if t.Kind == lab.PhotoTarget {
		return wash, scale, fmt.Errorf("%s: give the wash as it was measured, such as lab:62,-6,-42", ask.Seen)
	}
	p, parts, _, err := w.mixOf(ps)
	if err != nil {
		return wash, scale, err
	}
	if wash, scale.Residual, err = p.ReadWash(parts, water, t.Lab, wash); err != nil {
		return wash, scale, err
	}
	scale.Thickness, scale.Residual, scale.Read = round(wash.Thickness, 4), round(scale.Residual, 2), true
	scale.Words = fmt.Sprintf("On %s. By the wash you read, undiluted colour lies %.2g times as thick as is taken without a reading (%.1f ΔE00 left over); a wash is taken to stray by a quarter in thickness.", on, wash.Thickness/recipe.Undiluted, scale.Residual)
	return wash, scale, nil
}

func labWords(c lab.Lab) string { return fmt.Sprintf("L* %.0f a* %.0f b* %.0f", c.L, c.A, c.B) }

// mixOf makes a palette of the tubes of a typed mix, and its parts.
func (w *Workspace) mixOf(ps []Portion) (*recipe.Palette, []recipe.Part, []*inventory.Tube, error) {
	tubes, amounts, err := w.portions(ps)
	if err != nil {
		return nil, nil, nil, err
	}
	p, err := recipe.NewPalette(tubes, w.Palette.Finish)
	if err != nil {
		return nil, nil, nil, err
	}
	parts := make([]recipe.Part, len(tubes))
	for i := range tubes {
		parts[i] = recipe.Part{Tube: i, Parts: amounts[i]}
	}
	return p, parts, tubes, nil
}

// MixWash foretells the washes of a mix typed as for [ParseMix], in which water
// may stand among the tubes.
func MixWash(s Settings, typed string, ask WashAsk) (*WashMixResult, error) {
	ps, water, said, err := watered(typed)
	if err != nil {
		return nil, err
	}
	w, err := Open(s)
	if err != nil {
		return nil, err
	}
	p, parts, tubes, err := w.mixOf(ps)
	if err != nil {
		return nil, err
	}
	mix := w.foretell(p, slices.Clone(parts))
	wash, scale, err := w.washing(ask)
	if err != nil {
		return nil, err
	}
	out := &WashMixResult{MixResult: *mix, Scale: scale, Washes: []WashStep{}}
	step := func(q recipe.Wash) WashStep {
		return WashStep{
			Water: round(q.Water, 4), Lab: q.Lab, Hex: q.Lab.Hex(), Name: lab.Name(q.Lab), Value: round(q.Lab.Value(), 2),
			Expected: round(q.Off.Expected, 3), P90: round(q.Off.P90, 3),
		}
	}
	for _, q := range p.WashSeries(parts, recipe.Waters, wash, s.PortionError) {
		out.Washes = append(out.Washes, step(q))
	}
	palest := recipe.Waters[len(recipe.Waters)-1]
	for i := range gradedSteps {
		water := math.Expm1(float64(i) / (gradedSteps - 1) * math.Log1p(palest))
		_, c := p.Wash(parts, water, wash)
		out.Graded = append(out.Graded, c.Hex())
	}
	if said {
		asked := step(p.WashSeries(parts, []float64{water}, wash, s.PortionError)[0])
		out.Asked = &asked
	}
	if slices.ContainsFunc(tubes, func(t *inventory.Tube) bool { return t.White }) {
		out.Warnings = append(out.Warnings, "There is white among these: with water it makes body colour, not a clear wash.")
	}
	return out, nil
}

// WashTarget is one colour and the washes for it.
type WashTarget struct {
	TargetResult
	Washes []WashRecipe `json:"recipes"` // in place of opaque ones
}

// WashRecipe is a recipe let down with water.
type WashRecipe struct {
	Recipe
	Water float64 `json:"water"` // parts to one of all paint
}

// WashRecipesResult answers a list of colours with washes.
type WashRecipesResult struct {
	Targets  []WashTarget `json:"targets"`
	Scale    WashScale    `json:"scale"`
	Box      string       `json:"box"`
	Finish   string       `json:"finish"`
	Cautions []string     `json:"cautions,omitempty"`
	Warnings []string     `json:"warnings"`
}

// RecipesWash finds washes for targets as [Recipes] finds mixes. A colour taken
// from a photo is fitted to what washes can do, from the darkest to the ground.
func RecipesWash(ctx context.Context, s Settings, o photo.Options, targets []string, ask WashAsk) (*WashRecipesResult, error) {
	parsed := make([]lab.Target, len(targets))
	for i, text := range targets {
		var err error
		if parsed[i], err = lab.ParseTarget(text); err != nil {
			return nil, err
		}
	}
	w, err := Open(s)
	if err != nil {
		return nil, err
	}
	wash, scale, err := w.washing(ask)
	if err != nil {
		return nil, err
	}
	out := &WashRecipesResult{Scale: scale, Box: w.From, Finish: w.Palette.Finish.String()}
	aims := make([]lab.Lab, len(parsed))
	open := map[string]*photo.Photo{}
	for i, t := range parsed {
		c := t.Lab
		aims[i] = c
		if t.Kind == lab.PhotoTarget {
			p := open[t.Path]
			if p == nil {
				if p, err = photo.Open(t.Path, o); err != nil {
					return nil, err
				}
				open[t.Path] = p
				w.Notes = append(w.Notes, p.Notes...)
			}
			if c, err = spotColour(p, t); err != nil {
				return nil, err
			}
			if aims[i] = c; !w.NoFit {
				aims[i] = w.Palette.WashRange(wash).Aim(c)
			}
		}
		out.Targets = append(out.Targets, WashTarget{TargetResult: TargetResult{
			Target: targets[i], Lab: c, Aim: aims[i], Hex: c.Hex(), AimHex: aims[i].Hex(), Name: lab.Name(c),
			Value: round(c.Value(), 2), Notation: notation(c),
		}, Washes: []WashRecipe{}})
	}
	found, err := w.Palette.Washes(ctx, aims, wash, s.PortionError)
	if err != nil {
		return nil, err
	}
	used := map[*inventory.Tube]bool{}
	for i, list := range found {
		for _, q := range list {
			r := WashRecipe{Water: q.Water, Recipe: Recipe{
				Choice: q.Choice, Suggested: q.Suggested, Parts: partsOf(w.Palette, q.Parts), Lab: q.Lab, Hex: q.Lab.Hex(),
				DE00: round(q.Off.Nominal, 3), Expected: round(q.Off.Expected, 3), P90: round(q.Off.P90, 3),
				Grade: recipe.Grade(q.Off.Nominal), Miss: recipe.Miss(aims[i], q.Lab), Order: []string{}, Notes: []string{},
			}}
			for j, part := range q.Parts {
				r.Order = append(r.Order, r.Parts[j].Tube)
				used[w.Palette.Tubes[part.Tube]] = true
			}
			out.Targets[i].Washes = append(out.Targets[i].Washes, r)
		}
	}
	var tubes []*inventory.Tube
	for _, t := range w.Palette.Tubes {
		if used[t] {
			tubes = append(tubes, t)
		}
	}
	out.Cautions = cautions(tubes)
	out.Warnings = append([]string{}, w.Notes...)
	return out, nil
}

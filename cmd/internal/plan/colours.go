package plan

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// MixResult is what a given mix is foretold to look like.
type MixResult struct {
	Parts       []Part             `json:"parts"`
	Lab         lab.Lab            `json:"lab"`
	Hex         string             `json:"hex"`
	Screen      string             `json:"screen,omitempty"` // said when a screen cannot show it
	Reflectance map[string]float64 `json:"reflectance"`      // by wavelength, nm
	Value       float64            `json:"value"`
	Notation    string             `json:"notation"`
	Name        string             `json:"name"`
	Warmth      float64            `json:"warmth"`
	Temperature string             `json:"temperature"`
	Expected    float64            `json:"expected_de00"` // mean difference of a real mix from this
	P90         float64            `json:"p90_de00"`
	Wet         *Wet               `json:"wet,omitempty"` // where every tube was read wet and dry
	Finish      string             `json:"finish"`
	Order       []string           `json:"order"`
	Notes       []string           `json:"notes,omitempty"`
	Cautions    []string           `json:"cautions,omitempty"`
	Warnings    []string           `json:"warnings"`
}

// Mix foretells the colour of a mix typed as for [ParseMix].
func Mix(s Settings, typed string) (*MixResult, error) {
	ps, err := ParseMix(typed)
	if err != nil {
		return nil, err
	}
	w, err := Open(s)
	if err != nil {
		return nil, err
	}
	p, parts, _, err := w.mixOf(ps)
	if err != nil {
		return nil, err
	}
	return w.foretell(p, parts), nil
}

// foretell says what a mix is to look like. It puts the parts in mixing order.
func (w *Workspace) foretell(p *recipe.Palette, parts []recipe.Part) *MixResult {
	tubes := p.Tubes
	r, c := p.Mix(parts)
	off := p.SpreadOf(parts, w.PortionError).OffFrom(c, c)
	out := &MixResult{
		Parts: partsOf(p, parts), Lab: c, Hex: c.Hex(), Reflectance: map[string]float64{},
		Value: round(c.Value(), 2), Notation: notation(c), Name: lab.Name(c), Warmth: round(lab.Warmth(c), 3), Temperature: lab.Temperature(c),
		Expected: round(off.Expected, 3), P90: round(off.P90, 3), Finish: p.Finish.String(),
		Cautions: cautions(tubes), Warnings: append([]string{}, w.Notes...),
	}
	if _, _, _, outside := c.SRGB8(); outside {
		out.Screen = "a screen cannot show this colour; the nearest it can is shown"
	}
	for i, v := range r {
		out.Reflectance[strconv.Itoa(optics.Wavelength(i))] = round(v, 6)
	}
	p.InOrder(parts)
	for _, q := range parts {
		out.Order = append(out.Order, tubes[q.Tube].Name)
	}
	out.Notes = p.Handling(parts)
	if out.Wet = wetOf(p, parts, c); out.Wet != nil {
		out.Notes = append(out.Notes, out.Wet.Say)
	}
	return out
}

// TargetResult is one colour and the ways to mix it.
type TargetResult struct {
	Target   string   `json:"target"`
	Lab      lab.Lab  `json:"lab"` // as asked for, or as in the photo
	Aim      lab.Lab  `json:"aim"` // the colour to mix
	Hex      string   `json:"hex"`
	AimHex   string   `json:"aim_hex"`
	Name     string   `json:"name"`
	Value    float64  `json:"value"`
	Notation string   `json:"notation"`
	Recipes  []Recipe `json:"recipes"`
	Why      string   `json:"why,omitempty"`
}

// RecipesResult answers a list of targets.
type RecipesResult struct {
	Targets  []TargetResult `json:"targets"`
	Box      string         `json:"box"`
	Finish   string         `json:"finish"`
	Cautions []string       `json:"cautions,omitempty"`
	Warnings []string       `json:"warnings"`
}

// Recipes finds mixes for targets, typed as for [lab.ParseTarget]. Only a
// colour taken from a photo is fitted to the box's range.
func Recipes(ctx context.Context, s Settings, o photo.Options, targets []string, progress func(done, all int)) (*RecipesResult, error) {
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
	out := &RecipesResult{Box: w.From, Finish: w.Palette.Finish.String(), Warnings: append([]string{}, w.Notes...)}
	open := map[string]*photo.Photo{}
	aims := make([]lab.Lab, len(parsed))
	for i, t := range parsed {
		c := t.Lab
		aim := c
		if t.Kind == lab.PhotoTarget {
			p := open[t.Path]
			if p == nil {
				if p, err = photo.Open(t.Path, o); err != nil {
					return nil, err
				}
				open[t.Path] = p
				out.Warnings = append(out.Warnings, p.Notes...)
				if len(open) == 1 {
					out.Warnings = append(out.Warnings, w.flat()...)
				}
			}
			if c, err = spotColour(p, t); err != nil {
				return nil, err
			}
			aim = w.aim(c)
		}
		aims[i] = aim
		out.Targets = append(out.Targets, TargetResult{
			Target: targets[i], Lab: c, Aim: aim, Hex: c.Hex(), AimHex: aim.Hex(), Name: lab.Name(c),
			Value: round(c.Value(), 2), Notation: notation(c),
		})
	}
	table, err := w.Palette.Search(ctx, aims, recipe.SearchOptions{Slack: slack, Progress: progress})
	if err != nil {
		return nil, err
	}
	used := map[*inventory.Tube]bool{}
	for i := range aims {
		list := table.Recipes(i, w.PortionError)
		out.Targets[i].Recipes = w.recipes(aims[i], list)
		out.Targets[i].Why = why(aims[i], list)
		for _, r := range list {
			for _, q := range r.Parts {
				used[w.Palette.Tubes[q.Tube]] = true
			}
		}
	}
	out.Cautions = cautions(slices.DeleteFunc(slices.Clone(w.Palette.Tubes), func(t *inventory.Tube) bool { return !used[t] }))
	return out, nil
}

// slack is how far behind the best a set of three tubes may lie and still be
// of use as a variant or for being more forgiving.
const slack = 2.5

// aim is the colour to mix for a photo's colour.
func (w *Workspace) aim(c lab.Lab) lab.Lab {
	if w.NoFit {
		return c
	}
	return w.rangeFit().Aim(c)
}

// spotColour is the mean colour around a target's point of a photo.
func spotColour(p *photo.Photo, t lab.Target) (lab.Lab, error) {
	at := photo.Point{X: photo.Measure{Value: t.X, Percent: t.Percent}, Y: photo.Measure{Value: t.Y, Percent: t.Percent}}
	x, y, err := p.Pixel(at)
	if err != nil {
		return lab.Lab{}, fmt.Errorf("%s: %w", filepath.Base(t.Path), err)
	}
	v := p.At(x, y, max(1, max(p.Width, p.Height)/400))
	return lab.FromLinear(v[0], v[1], v[2]), nil
}

func (w *Workspace) recipes(aim lab.Lab, list []recipe.Recipe) []Recipe {
	out := []Recipe{}
	for _, r := range list {
		q := Recipe{
			Choice: r.Choice, Suggested: r.Suggested, Parts: partsOf(w.Palette, r.Parts), Lab: r.Lab, Hex: r.Lab.Hex(),
			DE00: round(r.Off.Nominal, 3), Expected: round(r.Off.Expected, 3), P90: round(r.Off.P90, 3),
			Grade: recipe.Grade(r.Off.Nominal), Miss: recipe.Miss(aim, r.Lab), Order: []string{}, Notes: append([]string{}, r.Notes...),
		}
		for _, p := range q.Parts {
			q.Order = append(q.Order, p.Tube)
		}
		if r.Off.Nominal > recipe.Indistinct && r.Lab.Chroma() < aim.Chroma()-1 {
			q.Why = w.Palette.WhyLine(r.Parts)
		}
		if q.Wet = wetOf(w.Palette, r.Parts, r.Lab); q.Wet != nil {
			q.Notes = append(q.Notes, q.Wet.Say)
		}
		out = append(out, q)
	}
	return out
}

// wetOf is what a mix looks like before it dries to the given colour; nil
// where that is not known.
func wetOf(p *recipe.Palette, parts []recipe.Part, dry lab.Lab) *Wet {
	c, known := p.Wet(parts)
	if !known {
		return nil
	}
	w := &Wet{Lab: c, Hex: c.Hex(), Say: "wet it looks much as it will dry"}
	if s := inventory.DriesWords(c, dry); s != "" {
		w.Say = fmt.Sprintf("while wet the pile is %s (L* %.0f): it %s", c.Hex(), c.L, s)
	}
	return w
}

func partsOf(p *recipe.Palette, parts []recipe.Part) []Part {
	out := make([]Part, len(parts))
	for i, q := range parts {
		t := p.Tubes[q.Tube]
		_, c := p.Mix([]recipe.Part{{Tube: q.Tube, Parts: 1}})
		out[i] = Part{Tube: t.Name, CI: t.Code(), Parts: q.Parts, Hex: c.Hex(), White: t.White}
	}
	return out
}

// why explains a best mix that is more than close: in which way the box falls
// short, in words and figures.
func why(aim lab.Lab, list []recipe.Recipe) string {
	if len(list) == 0 || list[0].Off.Nominal <= 1.8 {
		return ""
	}
	r := list[0]
	s := fmt.Sprintf("The nearest these tubes come is off by %.1f ΔE00, %s", r.Off.Nominal, recipe.Miss(aim, r.Lab))
	dC, dL := r.Lab.Chroma()-aim.Chroma(), r.Lab.L-aim.L
	switch {
	case dC < -3 && -dC > math.Abs(dL):
		s += fmt.Sprintf(": the colour asks for chroma %.0f at this hue and value, and their mixes give up %.0f of it. A single tube nearer this hue would keep more.", aim.Chroma(), -dC)
	case dL > 1:
		s += fmt.Sprintf(": no mix is as dark as L* %.0f with this hue.", aim.L)
	case dL < -1:
		s += fmt.Sprintf(": no mix is as light as L* %.0f with this hue and chroma.", aim.L)
	default:
		s += "."
	}
	return s
}

// cautions lists the usual cautions of tubes, with the standing line, and which of
// them fade.
func cautions(tubes []*inventory.Tube) []string {
	var out []string
	for _, t := range tubes {
		if t.Caution != "" {
			out = append(out, t.Name+": "+t.Caution)
		}
		if l := inventory.LastingFor(t); l != nil {
			out = append(out, fmt.Sprintf("%s: fades in light (%s); %s.", t.Name, t.Lightfast, l.Words()))
		}
	}
	if len(out) > 0 {
		out = append(out, inventory.CautionScope)
	}
	return out
}

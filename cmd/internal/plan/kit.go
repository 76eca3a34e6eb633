package plan

import (
	"context"
	"fmt"
	"math"
	"strings"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/recipe"
)

// KitAsk says what a kit must do.
type KitAsk struct {
	Tolerance   float64
	Keep, Leave []string // tubes, by name or code
	Max         int
	Library     bool // choose from the library instead of the box
}

// KitMass is a mass of one of the photos and what the kit does for it.
type KitMass struct {
	Photo string      `json:"photo"`
	Mass  int         `json:"mass"`
	Name  string      `json:"name"`
	Share float64     `json:"share"` // of all the photos' area
	Best  float64     `json:"best_de00"`
	Mix   MixedColour `json:"mix"`
}

// KitResult is the few tubes to carry for one or several photos.
type KitResult struct {
	KitPlan
	Needed   int       `json:"needed,omitempty"` // tubes it would take, where fewer were allowed
	Masses   []KitMass `json:"masses"`
	Box      string    `json:"box"`
	Finish   string    `json:"finish"`
	Cautions []string  `json:"cautions,omitempty"`
	Warnings []string  `json:"warnings"`
}

// Kit finds the fewest tubes for the masses of the photos. The range of every
// photo is fitted once, to all the tubes that may be carried, and the colours
// to mix stay as they are while sets of tubes are compared.
func (w *Workspace) Kit(ctx context.Context, paths []string, v View, ask KitAsk, progress Progress) (*KitResult, error) {
	if ask.Library {
		var tubes []*inventory.Tube
		for _, p := range inventory.Library() {
			if recipe.Advisable(p.Tube()) {
				tubes = append(tubes, p.Tube())
			}
		}
		var err error
		if w.Palette, err = recipe.NewPalette(tubes, w.Palette.Finish); err != nil {
			return nil, err
		}
		w.From = "the library of pigments"
	}
	p := w.Palette
	o := recipe.KitOptions{Tolerance: ask.Tolerance, Max: ask.Max, Progress: progress.at(Mixing)}
	for _, list := range []struct {
		names []string
		to    *[]int
	}{{ask.Keep, &o.Keep}, {ask.Leave, &o.Leave}} {
		for _, n := range list.names {
			t, err := w.among(n)
			if err != nil {
				return nil, err
			}
			*list.to = append(*list.to, t)
		}
	}
	for _, t := range p.Tubes {
		ml := t.SizeML
		if ml == 0 {
			ml = 40 // an ordinary studio tube
		}
		o.Carry = append(o.Carry, ml)
	}
	out := &KitResult{Box: w.From, Finish: p.Finish.String()}
	var aims []lab.Lab
	for _, path := range paths {
		s, err := look(ctx, path, v, progress)
		if err != nil {
			return nil, err
		}
		for _, m := range w.masses(s.analysis) {
			aims = append(aims, m.Aim)
			o.Shares = append(o.Shares, m.Share)
			out.Masses = append(out.Masses, KitMass{Photo: path, Mass: m.ID, Name: m.Name, Share: round(m.Share/float64(len(paths)), 5)})
		}
		out.Warnings = append(out.Warnings, s.photo.Notes...)
	}
	k, err := p.Kit(ctx, aims, o)
	if err != nil {
		return nil, err
	}
	w.describe(out, k, ask)
	out.Warnings = append(append([]string{}, w.Notes...), out.Warnings...)
	return out, w.helpers(ctx, out, k, aims)
}

// among finds a tube of the palette by name or code.
func (w *Workspace) among(name string) (int, error) {
	for i, t := range w.Palette.Tubes {
		code, _, _ := strings.Cut(t.Code(), "/")
		if strings.EqualFold(t.Name, strings.TrimSpace(name)) || strings.EqualFold(t.Code(), strings.TrimSpace(name)) || strings.EqualFold(code, strings.TrimSpace(name)) {
			return i, nil
		}
	}
	return 0, fmt.Errorf("%q is not among the tubes to choose from (%s)", name, w.From)
}

func (w *Workspace) names(tubes []int) []string {
	out := []string{}
	for _, t := range tubes {
		out = append(out, w.Palette.Tubes[t].Name)
	}
	return out
}

// describe puts a kit into words and figures.
func (w *Workspace) describe(out *KitResult, k *recipe.Kit, ask KitAsk) {
	p := w.Palette
	out.KitPlan = KitPlan{
		Tubes: w.names(k.Tubes), Proven: k.Proven, Tolerance: ask.Tolerance,
		Worst: round(k.Worst, 3), Mean: round(k.Mean, 3),
		Blocked: []KitBlocked{}, Curve: []KitStep{}, Uses: []KitUse{}, Unused: w.names(k.Unused),
	}
	if k.Needed > len(k.Tubes) {
		out.Needed = k.Needed
	}
	boxMean := 0.0
	for i, m := range k.Masses {
		boxMean += m.Share * m.Best
		q := &out.Masses[i]
		q.Best = round(m.Best, 3)
		_, c := p.Mix(m.Parts)
		q.Mix = MixedColour{Parts: partsOf(p, m.Parts), Lab: c, Hex: c.Hex(), Value: round(c.Value(), 2), DE00: round(m.DE00, 3)}
	}
	for _, s := range k.Curve {
		out.Curve = append(out.Curve, KitStep{
			Count: s.Count, Tubes: w.names(s.Tubes), Worst: round(s.Worst, 3), Mean: round(s.Mean, 3), In: w.names(s.In), Out: w.names(s.Out),
		})
	}
	for _, u := range k.Uses {
		q := KitUse{Tube: p.Tubes[u.Tube].Name, Masses: []int{}}
		for _, m := range u.Masses {
			q.Masses = append(q.Masses, out.Masses[m].Mass)
		}
		switch {
		case math.IsInf(u.Worst, 1):
			q.Says = "nothing can be mixed without it"
		case len(u.Lost) == 0:
			q.Says = fmt.Sprintf("without it the greatest miss is %.1f ΔE00, the mean %.1f", u.Worst, u.Mean)
		default:
			var lost []string
			for _, m := range u.Lost {
				lost = append(lost, out.Masses[m].Name)
			}
			q.Says = fmt.Sprintf("without it %s cannot be mixed near enough: the greatest miss is %.1f ΔE00", strings.Join(lost, ", "), u.Worst)
		}
		out.Uses = append(out.Uses, q)
	}
	out.Cost = fmt.Sprintf("These %d of %d tubes mix the masses within %.1f ΔE00 at worst and %.1f on average; the whole box would on average come within %.1f.",
		len(k.Tubes), len(p.Tubes), k.Worst, k.Mean, boxMean)
	var carried []*inventory.Tube
	for _, t := range k.Tubes {
		carried = append(carried, p.Tubes[t])
	}
	out.Cautions = cautions(carried)
}

// helpers names, for each blocked mass, the one tube of the library that would
// help most.
func (w *Workspace) helpers(ctx context.Context, out *KitResult, k *recipe.Kit, aims []lab.Lab) error {
	for _, a := range k.Blocked {
		m := out.Masses[a]
		b := KitBlocked{Photo: m.Photo, Mass: m.Mass, DE00: m.Best}
		r, err := w.Palette.Reach(ctx, aims[a], recipe.ReachOptions{Tolerance: out.Tolerance, Add: 1})
		if err != nil {
			return err
		}
		if len(r.Add) > 0 {
			b.Add = r.Add[0].Tube.Name + " (" + r.Add[0].Tube.Code() + ")"
		}
		out.Blocked = append(out.Blocked, b)
	}
	return nil
}

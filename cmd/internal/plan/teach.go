package plan

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/recipe"
)

// teach adds what a painter asks of a mass next: of an accent, whether the kit
// reaches it; of any other, the string of piles to premix.
func (t *trip) teach(ctx context.Context, p *Plan, m *Mass) error {
	if m.Accent {
		a, err := t.accent(ctx, m)
		if err == nil {
			p.Accents = append(p.Accents, a)
		}
		return err
	}
	v, err := t.from.massString(ctx, m.Aim, nil)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err == nil { // else too few tubes for steps
		m.String = v
	}
	return nil
}

// massString is a colour to mix as a string of piles, light to dark.
func (w *Workspace) massString(ctx context.Context, aim lab.Lab, progress func(done, all int)) (*MassString, error) {
	v, err := w.Palette.ValueString(ctx, aim, recipe.StringOptions{Piles: recipe.UsualPiles, Tolerance: recipe.StringTolerance, Progress: progress})
	if err != nil {
		return nil, err
	}
	s := &MassString{Worst: round(v.Worst, 3), Says: strings.Join(v.Words(), " "), Piles: w.pilesOf(v)}
	for _, tube := range v.Tubes {
		s.Tubes = append(s.Tubes, w.Palette.Tubes[tube].Name)
	}
	return s, nil
}

// accent asks whether the kit reaches an accent.
func (t *trip) accent(ctx context.Context, m *Mass) (AccentReach, error) {
	w := t.from
	a := AccentReach{Mass: m.ID, Name: m.Name, Tolerance: recipe.ReachTolerance, BoxDE00: m.BoxDE00, Chroma: round(m.Aim.Chroma(), 1)}
	r, err := w.Palette.Reach(ctx, m.Aim, recipe.ReachOptions{Tolerance: a.Tolerance})
	if err != nil {
		return a, err
	}
	a.Reachable, a.DE00, a.Miss = r.Reachable, round(r.Nearest.DE00, 3), r.Miss.Words
	if r.AtValue != nil {
		a.MaxChroma = round(r.AtValue.Lab.Chroma(), 1)
	}
	if !r.Reachable {
		var home []*inventory.Tube
		for _, tube := range t.all.owned() {
			if !slices.Contains(w.Palette.Tubes, tube) {
				home = append(home, tube)
			}
		}
		if a.Add, err = t.adding(ctx, m, r.Nearest.DE00, nil); err != nil {
			return a, err
		}
		if len(home) > 0 {
			if a.Own, err = t.adding(ctx, m, r.Nearest.DE00, home); err != nil {
				return a, err
			}
		}
	}
	a.Says = a.words(len(w.Palette.Tubes) < len(t.may.Palette.Tubes))
	return a, nil
}

// adding is the one tube of a list, nil for the library, that would help most.
func (t *trip) adding(ctx context.Context, m *Mass, best float64, from []*inventory.Tube) (*AddedTube, error) {
	list, err := t.from.Palette.Additions(ctx, m.Aim, best, recipe.ReachTolerance, from, 1)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	a := list[0]
	return &AddedTube{CI: a.Tube.Code(), Name: a.Tube.Name, DE00: round(a.Mix.DE00, 3), Reachable: a.Reachable, Mix: mixedOf(a.Mix), Caution: a.Tube.Caution}, nil
}

// words says it in sentences; fewer means that tubes stay at home.
func (a *AccentReach) words(fewer bool) string {
	if a.Reachable {
		return fmt.Sprintf("Within reach: %s, off by %.1f ΔE00.", recipe.Grade(a.DE00), a.DE00)
	}
	s := fmt.Sprintf("Out of reach of the kit: the nearest mix is off by %.1f ΔE00, %s.", a.DE00, a.Miss)
	if a.MaxChroma > 0 && a.MaxChroma < a.Chroma-1 {
		s += fmt.Sprintf(" At this hue and value it goes to chroma %.0f of the %.0f asked for.", a.MaxChroma, a.Chroma)
	}
	switch {
	case a.Own != nil && (a.Add == nil || a.Own.DE00 <= a.Add.DE00+0.3):
		s += fmt.Sprintf(" Take %s along: within %.1f.", a.Own.Name, a.Own.DE00)
	case a.Own != nil:
		s += fmt.Sprintf(" Take %s along: within %.1f; %s from the library would bring it within %.1f.", a.Own.Name, a.Own.DE00, a.Add.Name, a.Add.DE00)
	case a.Add != nil:
		s += fmt.Sprintf(" %s from the library would bring it within %.1f.", recipe.Capital(a.Add.Name), a.Add.DE00)
	case fewer && a.BoxDE00 < a.DE00-0.3:
		s += fmt.Sprintf(" The whole box comes within %.1f.", a.BoxDE00)
	default:
		s += " No one tube would help."
	}
	return s
}

package plan

import (
	"context"
	"fmt"
	"strings"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/inventory"
	"paintout/recipe"
)

// StringPile is one step of a value string.
type StringPile struct {
	Value  float64     `json:"value"` // aimed at
	Aim    lab.Lab     `json:"aim"`
	AimHex string      `json:"aim_hex"`
	Own    bool        `json:"own,omitempty"`  // stands at the colour's own value
	Held   bool        `json:"held,omitempty"` // chroma held down to what the tubes have there
	Mix    MixedColour `json:"mix"`
}

// StringResult is a colour in equal steps of value, light to dark.
type StringResult struct {
	Target   string       `json:"target"`
	Lab      lab.Lab      `json:"lab"`
	Aim      lab.Lab      `json:"aim"`
	Piles    []StringPile `json:"piles"`
	Tubes    []string     `json:"tubes"`
	Worst    float64      `json:"worst_de00"`
	Mean     float64      `json:"mean_de00"`
	Within   bool         `json:"within"` // the tolerance
	Exact    bool         `json:"exact"`
	Say      []string     `json:"say"`
	Words    string       `json:"words"`
	Box      string       `json:"box"`
	Finish   string       `json:"finish"`
	Cautions []string     `json:"cautions,omitempty"`
	Warnings []string     `json:"warnings"`
}

// StringAsk says which colour to make a string of.
type StringAsk struct {
	Target    string // as for [lab.ParseTarget], or a photo's path if Mass is given
	Mass      int    // the ID of a mass of that photo; 0 for a colour
	View      View   // how a photo is read, and divided if Mass is given
	Piles     int
	Tolerance float64
}

// ValueString makes a string of piles through a colour, or a photo's mass,
// from the fewest tubes.
func ValueString(ctx context.Context, s Settings, ask StringAsk, progress Progress) (*StringResult, error) {
	w, c, aim, err := ask.colour(ctx, s, progress)
	if err != nil {
		return nil, err
	}
	text, piles, tolerance := ask.Target, ask.Piles, ask.Tolerance
	if ask.Mass > 0 {
		text = fmt.Sprintf("%s, mass %d", text, ask.Mass)
	}
	v, err := w.Palette.ValueString(ctx, aim, recipe.StringOptions{Piles: piles, Tolerance: tolerance, Progress: progress.at(Mixing)})
	if err != nil {
		return nil, err
	}
	out := &StringResult{
		Target: text, Lab: c, Aim: aim, Worst: round(v.Worst, 3), Mean: round(v.Mean, 3), Within: v.Within, Exact: v.Exact,
		Say: v.Words(), Words: strings.Join(v.Words(), " "), Box: w.From, Finish: w.Palette.Finish.String(),
		Warnings: append([]string{}, w.Notes...),
	}
	out.Piles = w.pilesOf(v)
	var named []*inventory.Tube
	for _, t := range v.Tubes {
		out.Tubes = append(out.Tubes, w.Palette.Tubes[t].Name)
		named = append(named, w.Palette.Tubes[t])
	}
	out.Cautions = cautions(named)
	return out, nil
}

func (ask *StringAsk) colour(ctx context.Context, s Settings, progress Progress) (w *Workspace, c, aim lab.Lab, err error) {
	if ask.Mass == 0 {
		return colourOf(s, ask.View.Photo, ask.Target)
	}
	if t, err := lab.ParseTarget(ask.Target); err == nil {
		mend := "this is a colour already, so leave --mass out"
		if t.Kind == lab.PhotoTarget {
			mend = "name the photo alone, " + t.Path
		}
		return nil, c, aim, fmt.Errorf("%s: --mass is for a photo's masses: %s", ask.Target, mend)
	}
	if w, err = Open(s); err != nil {
		return nil, c, aim, err
	}
	st, err := look(ctx, ask.Target, ask.View, progress)
	if err != nil {
		return nil, c, aim, err
	}
	w.Notes = append(append(w.Notes, w.flat()...), st.photo.Notes...)
	masses := w.masses(st.analysis)
	for _, m := range masses {
		if m.ID == ask.Mass {
			return w, m.Lab, m.Aim, nil
		}
	}
	return nil, c, aim, fmt.Errorf("%s has no mass %d: it is divided into %d, numbered from 1", ask.Target, ask.Mass, len(masses))
}

func (w *Workspace) pilesOf(v *recipe.ValueString) (out []StringPile) {
	for i, q := range v.Piles {
		out = append(out, StringPile{
			Value: round(q.Value, 2), Aim: q.Aim, AimHex: q.Aim.Hex(), Own: i == v.Own, Held: q.Held, Mix: mixedOf(q.Mix),
		})
	}
	return out
}

// colourOf opens the box and reads one target: its own colour, and the colour
// to mix for it.
func colourOf(s Settings, o photo.Options, text string) (w *Workspace, c, aim lab.Lab, err error) {
	t, err := lab.ParseTarget(text)
	if err != nil {
		return nil, c, aim, err
	}
	if w, err = Open(s); err != nil {
		return nil, c, aim, err
	}
	if t.Kind != lab.PhotoTarget {
		return w, t.Lab, t.Lab, nil
	}
	p, err := photo.Open(t.Path, o)
	if err != nil {
		return nil, c, aim, err
	}
	if c, err = spotColour(p, t); err != nil {
		return nil, c, aim, err
	}
	w.Notes = append(append(w.Notes, w.flat()...), p.Notes...)
	return w, c, w.aim(c), nil
}

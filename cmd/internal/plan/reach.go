package plan

import (
	"context"
	"strings"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/inventory"
	"paintout/recipe"
)

// MixedColour is a mix that answers a question.
type MixedColour struct {
	Parts []Part  `json:"parts"`
	Lab   lab.Lab `json:"lab"`
	Hex   string  `json:"hex"`
	Value float64 `json:"value"`
	DE00  float64 `json:"de00"`          // from the colour asked for
	Wet   *Wet    `json:"wet,omitempty"` // where every tube was read wet and dry
}

// AddedTube is a tube of the library that would bring a colour nearer.
type AddedTube struct {
	CI        string      `json:"ci"`
	Name      string      `json:"name"`
	DE00      float64     `json:"de00"`
	Reachable bool        `json:"reachable"`
	Mix       MixedColour `json:"mix"`
	Caution   string      `json:"caution,omitempty"`
}

// ReachResult says whether a box reaches a colour, and if not, why not and
// what would.
type ReachResult struct {
	Target    string       `json:"target"`
	Lab       lab.Lab      `json:"lab"`
	Aim       lab.Lab      `json:"aim"`
	AimHex    string       `json:"aim_hex"`
	Tolerance float64      `json:"tolerance"`
	Reachable bool         `json:"reachable"`
	Exact     bool         `json:"exact"` // over the ladder of parts, all threes of the box tried
	Nearest   MixedColour  `json:"nearest"`
	Grade     string       `json:"grade"`
	Finer     float64      `json:"finer_de00"` // the same tubes in parts of any size
	Miss      Miss         `json:"miss"`
	MaxChroma float64      `json:"max_chroma"`         // at the colour's hue and value; 0 where no mix stands there
	AtValue   *MixedColour `json:"at_value,omitempty"` // the mix that has it
	MaxAtHue  float64      `json:"max_chroma_at_hue"`  // at any value
	AtHue     *MixedColour `json:"at_hue,omitempty"`   // likewise
	Add       []AddedTube  `json:"add"`                // best first
	Library   *MixedColour `json:"library,omitempty"`  // nearest of any paints of the library
	Surface   Surface      `json:"surface"`            // what any surface could do
	Why       string       `json:"why"`                // all of it in words
	Say       []string     `json:"say"`                // the same, a sentence each
	Box       string       `json:"box"`
	Finish    string       `json:"finish"`
	Cautions  []string     `json:"cautions,omitempty"` // of the tubes that Say and Add name
	Warnings  []string     `json:"warnings"`
}

// Miss is what separates the nearest mix from the colour asked for.
type Miss struct {
	Value  float64 `json:"value"`  // steps; negative is too dark
	Chroma float64 `json:"chroma"` // C*ab; negative is too dull
	Hue    float64 `json:"hue"`    // degrees
	Words  string  `json:"words"`
}

// Surface is the limit of optimal colours at a hue and value.
type Surface struct {
	Possible bool    `json:"possible"`
	Chroma   float64 `json:"max_chroma"`
	Paint    float64 `json:"max_chroma_with_shine"`
}

// Reach asks whether the box reaches a colour, with further tubes tried in it.
func Reach(ctx context.Context, s Settings, o photo.Options, text string, tolerance float64, with []string, progress func(done, all int)) (*ReachResult, error) {
	w, c, aim, err := colourOf(s, o, text)
	if err != nil {
		return nil, err
	}
	return w.reach(ctx, text, c, aim, tolerance, with, progress)
}

// reach is Reach for a colour and the colour to mix for it.
func (w *Workspace) reach(ctx context.Context, text string, c, aim lab.Lab, tolerance float64, with []string, progress func(done, all int)) (*ReachResult, error) {
	var more []*inventory.Tube
	for _, n := range with {
		tube, err := w.Resolve(n)
		if err != nil {
			return nil, err
		}
		more = append(more, tube)
	}
	out := &ReachResult{Target: text, Tolerance: tolerance, Box: w.From, Finish: w.Palette.Finish.String(), Add: []AddedTube{}}
	out.Lab, out.Aim = c, aim
	out.AimHex = out.Aim.Hex()
	const ranked = 5
	r, err := w.Palette.Reach(ctx, out.Aim, recipe.ReachOptions{Tolerance: tolerance, With: more, Add: ranked, Progress: progress})
	if err != nil {
		return nil, err
	}
	out.Reachable, out.Exact = r.Reachable, r.Exact
	out.Nearest, out.Finer = mixedOf(r.Nearest), round(r.Finer, 3)
	out.Grade = recipe.Grade(r.Nearest.DE00)
	out.Miss = Miss{round(r.Miss.Value, 2), round(r.Miss.Chroma, 2), round(r.Miss.Hue, 1), r.Miss.Words}
	if r.AtValue != nil {
		m := mixedOf(*r.AtValue)
		out.AtValue, out.MaxChroma = &m, round(r.AtValue.Lab.Chroma(), 2)
	}
	if r.AtHue != nil {
		m := mixedOf(*r.AtHue)
		out.AtHue, out.MaxAtHue = &m, round(r.AtHue.Lab.Chroma(), 2)
	}
	named := []*recipe.Mixed{&r.Nearest, r.Library}
	if !r.Reachable {
		named = append(named, r.AtValue)
	}
	for i := range r.Add {
		a := &r.Add[i]
		named = append(named, &a.Mix)
		out.Add = append(out.Add, AddedTube{
			CI: a.Tube.Code(), Name: a.Tube.Name, DE00: round(a.Mix.DE00, 3), Reachable: a.Reachable,
			Mix: mixedOf(a.Mix), Caution: a.Tube.Caution,
		})
	}
	if r.Library != nil {
		m := mixedOf(*r.Library)
		out.Library = &m
	}
	out.Surface = Surface{r.Surface.Possible, round(r.Surface.Chroma, 1), round(r.Surface.Paint, 1)}
	out.Say = r.Words()
	out.Why = strings.Join(out.Say, " ")
	out.Cautions = cautions(tubesIn(named...))
	out.Warnings = append([]string{}, w.Notes...)
	return out, nil
}

// tubesIn lists the tubes of mixes, some of which may be nil, each once.
func tubesIn(mixes ...*recipe.Mixed) (out []*inventory.Tube) {
	seen := map[string]bool{}
	for _, m := range mixes {
		if m == nil {
			continue
		}
		for _, q := range m.Parts {
			if t := m.Palette.Tubes[q.Tube]; !seen[t.Name] {
				seen[t.Name] = true
				out = append(out, t)
			}
		}
	}
	return out
}

func mixedOf(m recipe.Mixed) MixedColour {
	return MixedColour{
		Parts: partsOf(m.Palette, m.Parts), Lab: m.Lab, Hex: m.Lab.Hex(),
		Value: round(m.Lab.Value(), 2), DE00: round(m.DE00, 3), Wet: wetOf(m.Palette, m.Parts, m.Lab),
	}
}

package plan

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"paintout/inventory"
	"paintout/recipe"
)

// WhyResult explains what two or three tubes do to each other.
type WhyResult struct {
	Tubes    []WhyTube    `json:"tubes"`
	Parts    []Part       `json:"parts"`   // the ratio explained
	Chosen   bool         `json:"chosen"`  // it was not given
	Verdict  string       `json:"verdict"` // clean, dulled, dull, grey, tint, complements
	Family   string       `json:"family"`
	Shown    MixedColour  `json:"shown"`             // with the white that makes it most vivid
	Kept     float64      `json:"kept"`              // chroma as a share of the best of the box at that hue; 0 for a grey
	Best     *MixedColour `json:"best,omitempty"`    // that best
	Shared   []Light      `json:"shared"`            // light that all of them swallow
	Left     []Light      `json:"left"`              // light that none swallows
	Hidden   string       `json:"hidden,omitempty"`  // the third primary that comes in unasked
	Holders  []string     `json:"holders,omitempty"` // the tubes that bring it
	Swap     *WhySwap     `json:"swap,omitempty"`    // a cleaner mix from the box
	Library  *WhySwap     `json:"from_library,omitempty"`
	Knock    *WhyKnock    `json:"knock_back,omitempty"` // how to dull it on purpose
	Say      []string     `json:"say"`
	Why      string       `json:"why"`
	Box      string       `json:"box"`
	Finish   string       `json:"finish"`
	Cautions []string     `json:"cautions,omitempty"` // of the tubes that Say names
	Warnings []string     `json:"warnings"`
}

// WhyTube is one of the tubes asked about.
type WhyTube struct {
	Tube     string  `json:"tube"`
	CI       string  `json:"ci"`
	Lean     string  `json:"lean"`
	Swallows []Light `json:"swallows"`
}

// Light is a run of wavelengths in nm.
type Light struct {
	From int    `json:"from"`
	To   int    `json:"to"`
	Name string `json:"name"`
}

// WhySwap is the mix with one tube exchanged.
type WhySwap struct {
	Out  string      `json:"out"`
	In   string      `json:"in"`
	CI   string      `json:"ci"`
	Kept float64     `json:"kept"`
	Mix  MixedColour `json:"mix"`
}

// WhyKnock is how to dull a mix on purpose.
type WhyKnock struct {
	Tube string `json:"tube"`
	To   int    `json:"to"` // one part of it to so many of the mix
}

// Explain answers why "A+B" comes out as it does. Parts may be given behind a
// colon, "PR254:1+PB29:2".
func Explain(ctx context.Context, s Settings, typed string, progress func(done, all int)) (*WhyResult, error) {
	w, err := Open(s)
	if err != nil {
		return nil, err
	}
	p := w.Palette
	var parts []recipe.Part
	for piece := range strings.SplitSeq(typed, "+") {
		piece = strings.TrimSpace(piece)
		if piece == "" {
			return nil, fmt.Errorf("%q: name two or three tubes with a plus between them, as in \"PR254+PB29\"", typed)
		}
		t, amount, err := w.portion(piece)
		if err != nil {
			return nil, err
		}
		at := slices.Index(p.Tubes, t)
		if at < 0 {
			at = len(p.Tubes)
			if p, err = recipe.NewPalette(append(slices.Clone(p.Tubes), t), p.Finish); err != nil {
				return nil, err
			}
		}
		parts = append(parts, recipe.Part{Tube: at, Parts: amount})
	}
	y, err := p.Why(ctx, parts, recipe.WhyOptions{Progress: progress})
	if err != nil {
		return nil, err
	}
	return w.whyOf(y), nil
}

// whyOf puts an explanation into the form that scripts read.
func (w *Workspace) whyOf(y *recipe.Why) *WhyResult {
	p := y.Palette
	out := &WhyResult{
		Parts: partsOf(p, y.Parts), Chosen: y.Chosen, Verdict: string(y.Verdict), Family: y.Family,
		Shown: mixedOf(y.Shown), Shared: lights(y.Shared), Left: lights(y.Left), Hidden: y.Hidden,
		Swap: w.swapOf(y, y.Swap), Library: w.swapOf(y, y.LibrarySwap),
		Say: y.Words(), Why: strings.Join(y.Words(), " "), Box: w.From, Finish: p.Finish.String(),
		Warnings: append([]string{}, w.Notes...),
	}
	if !math.IsNaN(y.Kept) {
		out.Kept = round(y.Kept, 3)
	}
	if y.Best != nil {
		m := mixedOf(*y.Best)
		out.Best = &m
	}
	for _, l := range y.Tubes {
		t := p.Tubes[l.Tube]
		out.Tubes = append(out.Tubes, WhyTube{t.Name, t.Code(), l.Lean.Words, lights(l.Swallows)})
	}
	for _, h := range y.Holders {
		out.Holders = append(out.Holders, p.Tubes[y.Tubes[h].Tube].Name)
	}
	named := []*recipe.Mixed{{Palette: p, Parts: y.Parts}, &y.Shown}
	for _, s := range []*recipe.Swap{y.Swap, y.LibrarySwap} {
		if s != nil {
			named = append(named, &s.Mix)
		}
	}
	if y.Knock != nil {
		named = append(named, &recipe.Mixed{Palette: p, Parts: []recipe.Part{{Tube: y.Knock.Tube, Parts: 1}}})
		out.Knock = &WhyKnock{p.Tubes[y.Knock.Tube].Name, y.Knock.To}
	}
	out.Cautions = cautions(tubesIn(named...))
	return out
}

// portion reads a tube with or without parts behind a colon; a name or code
// that holds a colon itself is tried whole first.
func (w *Workspace) portion(piece string) (t *inventory.Tube, parts float64, err error) {
	if t, err = w.Resolve(piece); err == nil {
		return t, 0, nil
	}
	at := strings.LastIndex(piece, ":")
	if at < 0 {
		return nil, 0, err
	}
	parts, e := strconv.ParseFloat(strings.TrimSpace(piece[at+1:]), 64)
	if e != nil || !(parts > 0 && parts < 1e9) {
		return nil, 0, err
	}
	t, err = w.Resolve(piece[:at])
	return t, parts, err
}

func lights(ls []recipe.Light) []Light {
	out := []Light{}
	for _, l := range ls {
		out = append(out, Light{l.From, l.To, l.Name})
	}
	return out
}

func (w *Workspace) swapOf(y *recipe.Why, s *recipe.Swap) *WhySwap {
	if s == nil {
		return nil
	}
	return &WhySwap{
		Out: y.Palette.Tubes[y.Tubes[s.Out].Tube].Name, In: s.In.Name, CI: s.In.Code(),
		Kept: round(s.Kept, 3), Mix: mixedOf(s.Mix),
	}
}

package plan

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// Settings are the choices that every use case shares.
type Settings struct {
	TubesFile    string   // a box as for [BoxFile]; empty: the saved box, else the starter box
	Only         []string // tubes to mix from; empty: the whole box
	Finish       string   // "included", "excluded"; empty: as the box was measured, else included
	PortionError float64  // relative standard deviation of a part; 0 when weighed
	NoFit        bool     // match the photo's colours as they are
}

// Workspace is a box ready to mix from.
type Workspace struct {
	Box          *inventory.Box
	From         string          // where the box came from, in words
	Palette      *recipe.Palette // the tubes that may be carried
	Chosen       bool            // they were named one by one
	PortionError float64
	NoFit        bool
	Notes        []string

	fitted *recipe.RangeFit // nil: the palette's own
}

// rangeFit maps a photo's colours to colours to mix. It stays that of all the
// tubes that may be carried while some of them are chosen.
func (w *Workspace) rangeFit() recipe.RangeFit {
	if w.fitted != nil {
		return *w.fitted
	}
	return w.Palette.RangeFit()
}

// narrow is the least span of L* into which a photo can be fitted and still show
// its values: some two steps of ten.
const narrow = 20

// flat warns where the tubes span so few values that a photo fitted to them
// loses its own.
func (w *Workspace) flat() []string {
	f := w.rangeFit()
	dark, light := lab.FromXYZ(f.Dark, lab.D65).L, lab.FromXYZ(f.Light, lab.D65).L
	if w.NoFit || light-dark >= narrow {
		return nil
	}
	return []string{fmt.Sprintf("These tubes span only L* %.0f to %.0f, and the photo was fitted into that: its values are lost, and the misses say little of the picture. --no-fit shows how far from the photo the mixes are.", dark, light)}
}

// carrying is the workspace with some of its tubes, by index: the colours to
// mix stay as they are.
func (w *Workspace) carrying(tubes []int) (*Workspace, error) {
	if len(tubes) == len(w.Palette.Tubes) {
		return w, nil
	}
	kit := *w
	fit := w.rangeFit()
	kit.fitted = &fit
	kit.From = fmt.Sprintf("%d of the %d tubes of %s", len(tubes), len(w.Palette.Tubes), w.From)
	var carried []*inventory.Tube
	for _, t := range tubes {
		carried = append(carried, w.Palette.Tubes[t])
	}
	var err error
	kit.Palette, err = recipe.NewPalette(carried, w.Palette.Finish)
	return &kit, err
}

// leaving is the workspace without some of its tubes, its range fitted anew.
func (w *Workspace) leaving(names []string) (*Workspace, error) {
	if len(names) == 0 {
		return w, nil
	}
	out := map[*inventory.Tube]bool{}
	for _, n := range names {
		t, err := w.among(n)
		if err != nil {
			return nil, err
		}
		out[w.Palette.Tubes[t]] = true
	}
	rest := *w
	var left []*inventory.Tube
	for _, t := range w.Palette.Tubes {
		if !out[t] {
			left = append(left, t)
		}
	}
	if len(left) == 0 {
		return nil, errors.New("every tube is to be left at home: leave fewer")
	}
	var err error
	rest.Palette, err = recipe.NewPalette(left, w.Palette.Finish)
	return &rest, err
}

// Open loads the box and prepares its tubes.
func Open(s Settings) (*Workspace, error) {
	if !(s.PortionError >= 0 && s.PortionError <= 1) {
		return nil, fmt.Errorf("a portion error of %v: give the standard deviation of one part as a share, 0 (weighed) to 1; by knife it is about %.2f", s.PortionError, recipe.KnifeError)
	}
	w := &Workspace{PortionError: s.PortionError, NoFit: s.NoFit}
	if err := w.load(s.TubesFile); err != nil {
		return nil, err
	}
	tubes := w.Box.Tubes
	if len(s.Only) > 0 {
		tubes = nil
		seen := map[*inventory.Tube]bool{}
		for _, name := range s.Only {
			t, err := w.Resolve(name)
			if err != nil {
				return nil, err
			}
			if !seen[t] {
				seen[t] = true
				tubes = append(tubes, t)
			}
		}
	}
	if len(tubes) == 0 {
		return nil, fmt.Errorf("the box (%s) holds no tubes: add some, or give another box with --tubes", w.From)
	}
	finish, err := w.finish(s.Finish)
	if err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(tubes, func(t *inventory.Tube) bool { return t.White }) {
		w.Notes = append(w.Notes, "These tubes include no white: nothing lighter than the lightest of them can be mixed.")
	}
	w.Chosen = len(s.Only) > 0
	w.Palette, err = recipe.NewPalette(tubes, finish)
	return w, err
}

// StarterFrom is Workspace.From for the box that is built in.
const StarterFrom = "the starter box that comes with paintout"

func (w *Workspace) load(file string) error {
	if file != "" {
		path, err := existing(file)
		if err != nil {
			return err
		}
		b, err := inventory.LoadBox(path)
		if err != nil {
			return err
		}
		w.Box, w.From = b, path
		w.Notes = append(w.Notes, b.Notes...)
		return nil
	}
	path, err := inventory.DefaultBoxPath()
	if err == nil {
		b, err := inventory.LoadBox(path)
		if err == nil {
			w.Box, w.From = b, path
			w.Notes = append(w.Notes, b.Notes...)
			return nil
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	w.Box, w.From = inventory.Starter(), StarterFrom
	w.Notes = append(w.Notes, "No box is saved: this uses "+StarterFrom+". Begin a box of your own with tubes add.")
	return nil
}

func (w *Workspace) finish(name string) (optics.Finish, error) {
	if name != "" {
		return optics.ParseFinish(name)
	}
	if w.Box.Finish != nil {
		return *w.Box.Finish, nil
	}
	return optics.Included, nil
}

// FinishWords says what a prediction is for.
func FinishWords(f optics.Finish) string {
	if f == optics.Excluded {
		return "surface shine left out, as on gloss tilted out of glare"
	}
	return "surface shine included, as on a matte film in diffuse light"
}

// Resolve finds a tube by its name in the box, by its code in the box, or as a
// pigment of the library.
func (w *Workspace) Resolve(name string) (*inventory.Tube, error) {
	name = strings.TrimSpace(name)
	if t := w.Box.Tube(name); t != nil {
		return t, nil
	}
	var same []*inventory.Tube
	for _, t := range w.Box.Tubes {
		// PBr7 will do for PBr7/burnt sienna where the box has no other.
		code, _, _ := strings.Cut(t.Code(), "/")
		if strings.EqualFold(t.Code(), name) || strings.EqualFold(code, name) {
			same = append(same, t)
		}
	}
	switch {
	case len(same) == 1:
		return same[0], nil
	case len(same) > 1:
		var names []string
		for _, t := range same {
			names = append(names, strconv.Quote(t.Name))
		}
		return nil, fmt.Errorf("%s is the code of several tubes in the box: name one of %s", name, strings.Join(names, ", "))
	}
	p, err := inventory.Find(name)
	if err != nil {
		return nil, fmt.Errorf("%q is neither a tube of the box nor a pigment of the library: %w", name, err)
	}
	w.Notes = append(w.Notes, fmt.Sprintf("%s is not in the box; its colour is taken from the library (%s).", p.Key(), p.Provenance))
	return p.Tube(), nil
}

// Portion is a tube and its parts, as a painter types them.
type Portion struct {
	Name  string
	Parts float64
}

// ParseMix reads "PB29:1,PY43:2": names and parts, each split at its last
// colon, so that PB15:4:1 is one part of PB15:4. Parts are any positive
// numbers and are mandatory. A name may hold commas.
func ParseMix(s string) ([]Portion, error) {
	var out []Portion
	pending := ""
	for piece := range strings.SplitSeq(s, ",") {
		if pending != "" {
			piece = pending + "," + piece
		}
		at := strings.LastIndex(piece, ":")
		if at < 0 {
			pending = piece
			continue
		}
		parts, err := strconv.ParseFloat(strings.TrimSpace(piece[at+1:]), 64)
		if err != nil {
			pending = piece
			continue
		}
		pending = ""
		name := strings.TrimSpace(piece[:at])
		switch {
		case name == "":
			return nil, fmt.Errorf("%q names no tube: write it as in \"PB29:1,PY43:2\"", strings.TrimSpace(piece))
		case !(parts > 0 && parts < 1e9):
			return nil, fmt.Errorf("%q has %v parts: parts are positive numbers", name, parts)
		}
		out = append(out, Portion{name, parts})
	}
	if pending = strings.TrimSpace(pending); pending != "" {
		return nil, fmt.Errorf("%q has no parts: write them after a colon, as in \"PB29:1,PY43:2\"", pending)
	}
	if len(out) == 0 {
		return nil, errors.New("an empty mix: write it as in \"PB29:1,PY43:2\"")
	}
	return out, nil
}

// portions resolves a typed mix against box and library; the same tube twice
// counts once with its parts together.
func (w *Workspace) portions(ps []Portion) (tubes []*inventory.Tube, parts []float64, err error) {
	at := map[string]int{}
	for _, q := range ps {
		// PB15:4 is a code, not four parts of PB15: ask rather than guess.
		whole := q.Name + ":" + strconv.FormatFloat(q.Parts, 'g', -1, 64)
		if w.Box.Tube(q.Name) == nil {
			if _, err := inventory.Find(whole); err == nil {
				return nil, nil, fmt.Errorf("%s has no parts: write them after a colon, as in \"%s:1\"", whole, whole)
			}
		}
		t, err := w.Resolve(q.Name)
		if err != nil {
			return nil, nil, err
		}
		if i, ok := at[t.Name]; ok {
			parts[i] += q.Parts
			continue
		}
		at[t.Name] = len(tubes)
		tubes, parts = append(tubes, t), append(parts, q.Parts)
	}
	return tubes, parts, nil
}

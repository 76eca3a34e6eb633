package plan

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/recipe"
)

// KitAsk says what a kit must do.
type KitAsk struct {
	Tolerance   float64  // ΔE00; recipe.KitTolerance is usual
	Keep, Leave []string // tubes, by name or code
	Max         int      // 0 for as many as it takes
	Library     bool     // choose from the library instead of the box
}

// Check finds what no box could meet.
func (a KitAsk) Check() error {
	switch {
	case !(a.Tolerance >= 0):
		return fmt.Errorf("--tolerance %v: give 0 ΔE00 or more; %g is usual", a.Tolerance, recipe.KitTolerance)
	case a.Max < 0:
		return fmt.Errorf("--max %d: give 1 or more", a.Max)
	}
	return nil
}

// KitMass is a mass of one of the photos and what the kit does for it.
type KitMass struct {
	Photo string      `json:"photo"`
	Mass  int         `json:"mass"`
	Name  string      `json:"name"`
	Share float64     `json:"share"` // of all the photos' area
	Hex   string      `json:"hex"`   // of the colour to mix
	Best  float64     `json:"best_de00"`
	Mix   MixedColour `json:"mix"`
}

// KitResult is the few tubes to carry for one or several photos.
type KitResult struct {
	KitPlan
	Masses   []KitMass `json:"masses"`
	Looks    []Tube    `json:"looks"` // the tubes of the kit and its curve, as they look
	Box      string    `json:"box"`
	Finish   string    `json:"finish"`
	Cautions []string  `json:"cautions,omitempty"`
	Warnings []string  `json:"warnings"`
}

// kitPhoto is what a kit needs to know of a photo.
type kitPhoto struct {
	path   string
	masses []Mass
	notes  []string
}

// choosing is the workspace whose tubes a kit may be chosen from, its range
// fitted to all of them.
func (w *Workspace) choosing(ask KitAsk) (*Workspace, error) {
	if ask.Library {
		var tubes []*inventory.Tube
		for _, p := range inventory.Library() {
			if recipe.Advisable(p.Tube()) {
				tubes = append(tubes, p.Tube())
			}
		}
		shop := *w
		var err error
		if shop.Palette, err = recipe.NewPalette(tubes, w.Palette.Finish); err != nil {
			return nil, err
		}
		shop.Box, shop.From, shop.Chosen, shop.Notes = &inventory.Box{Name: "library", Tubes: tubes}, "the library of pigments", false, nil
		w = &shop
	}
	for _, n := range ask.Keep {
		t, err := w.among(n)
		if err != nil {
			return nil, err
		}
		for _, m := range ask.Leave {
			if u, err := w.among(m); err == nil && u == t {
				return nil, fmt.Errorf("%s is both to be kept and to be left: choose one", w.Palette.Tubes[t].Name)
			}
		}
	}
	return w.leaving(ask.Leave)
}

// Kit finds the fewest tubes for the masses of the photos. The range of every
// photo is fitted once, to all the tubes that may be carried, and the colours
// to mix stay as they are while sets of tubes are compared.
func (w *Workspace) Kit(ctx context.Context, paths []string, v View, ask KitAsk, progress Progress) (*KitResult, error) {
	all := w
	w, err := w.choosing(ask)
	if err != nil {
		return nil, err
	}
	var photos []kitPhoto
	for _, path := range Distinct(paths) {
		s, err := look(ctx, path, v, progress)
		if err != nil {
			return nil, err
		}
		photos = append(photos, kitPhoto{path, w.masses(s.analysis), append(slices.Clone(s.photo.Notes), s.analysis.Warnings...)})
	}
	k, err := w.kit(ctx, photos, ask, false, progress)
	if err != nil {
		return nil, err
	}
	out := &KitResult{Box: w.From, Finish: w.Palette.Finish.String()}
	if out.KitPlan, err = w.kitPlan(ctx, all, k, photos, ask, false); err != nil {
		return nil, err
	}
	i := 0
	for _, ph := range photos {
		for _, m := range ph.masses {
			km := k.Masses[i]
			_, c := w.Palette.Mix(km.Parts)
			out.Masses = append(out.Masses, KitMass{
				Photo: ph.path, Mass: m.ID, Name: m.Name, Share: round(km.Share, 5), Hex: m.AimHex, Best: round(km.Best, 3),
				Mix: MixedColour{Parts: partsOf(w.Palette, km.Parts), Lab: c, Hex: c.Hex(), Value: round(c.Value(), 2), DE00: round(km.DE00, 3)},
			})
			i++
		}
	}
	var carried []*inventory.Tube
	for _, t := range k.Tubes {
		carried = append(carried, w.Palette.Tubes[t])
	}
	shown := slices.Clone(k.Tubes)
	for _, s := range k.Curve {
		shown = append(shown, s.Tubes...)
	}
	slices.Sort(shown)
	for _, t := range slices.Compact(shown) {
		out.Looks = append(out.Looks, tubeOf(w.Palette.Tubes[t], w.tintWhite(), w.Palette.Finish, nil))
	}
	out.Cautions = cautions(carried)
	out.Warnings = append(append(append([]string{}, w.Notes...), w.flat()...), notesOf(photos)...)
	return out, nil
}

// Distinct drops photos that were named before: their masses would count double.
func Distinct(paths []string) (out []string) {
	seen := map[string]bool{}
	for _, p := range paths {
		full, err := filepath.Abs(p)
		if err != nil {
			full = p
		}
		if !seen[full] {
			seen[full] = true
			out = append(out, p)
		}
	}
	return out
}

// kit finds the tubes of the workspace that the photos' masses need, or judges
// all of them where they were given one by one. Photos count alike, whatever
// their size.
func (w *Workspace) kit(ctx context.Context, photos []kitPhoto, ask KitAsk, given bool, progress Progress) (*recipe.Kit, error) {
	o := recipe.KitOptions{Tolerance: ask.Tolerance, Max: ask.Max, Progress: progress.at(Mixing)}
	for _, n := range ask.Keep {
		t, err := w.among(n)
		if err != nil {
			return nil, err
		}
		o.Keep = append(o.Keep, t)
	}
	for i, t := range w.Palette.Tubes {
		ml := t.SizeML
		if ml == 0 {
			ml = 40 // an ordinary studio tube
		}
		o.Carry = append(o.Carry, ml)
		if given {
			o.Given = append(o.Given, i)
		}
	}
	var aims []lab.Lab
	for _, ph := range photos {
		for _, m := range ph.masses {
			aims = append(aims, m.Aim)
			o.Shares = append(o.Shares, m.Share)
		}
	}
	return w.Palette.Kit(ctx, aims, o)
}

// among finds a tube of the palette by name or code.
func (w *Workspace) among(name string) (int, error) {
	name = strings.TrimSpace(name)
	var same []int
	for i, t := range w.Palette.Tubes {
		if strings.EqualFold(t.Name, name) {
			return i, nil
		}
		code, _, _ := strings.Cut(t.Code(), "/")
		if strings.EqualFold(t.Code(), name) || strings.EqualFold(code, name) {
			same = append(same, i)
		}
	}
	switch {
	case len(same) == 1:
		return same[0], nil
	case len(same) > 1:
		return 0, fmt.Errorf("%s is the code of several tubes: name one of %s", name, Listed(w.names(same)))
	case len(w.Palette.Tubes) > 30:
		return 0, fmt.Errorf("%q is not among the tubes to choose from (%s)", name, w.From)
	}
	all := make([]int, len(w.Palette.Tubes))
	for i := range all {
		all[i] = i
	}
	return 0, fmt.Errorf("%q is not among the tubes to choose from (%s): name one of %s", name, w.From, Listed(w.names(all)))
}

// Listed puts names in a row, one that holds a comma in quotes: as --keep and
// the like read them.
func Listed(names []string) string {
	out := slices.Clone(names)
	for i, n := range out {
		if strings.Contains(n, ",") {
			out[i] = `"` + strings.ReplaceAll(n, `"`, `""`) + `"`
		}
	}
	return strings.Join(out, ", ")
}

func (w *Workspace) names(tubes []int) []string {
	out := []string{}
	for _, t := range tubes {
		out = append(out, w.Palette.Tubes[t].Name)
	}
	return out
}

// notesOf lists what is to be known of several photos, the same of many once.
func notesOf(photos []kitPhoto) []string {
	var order []string
	of := map[string][]string{}
	for _, ph := range photos {
		for _, n := range ph.notes {
			if of[n] == nil {
				order = append(order, n)
			}
			if name := filepath.Base(ph.path); !slices.Contains(of[n], name) {
				of[n] = append(of[n], name)
			}
		}
	}
	var out []string
	for _, n := range order {
		switch {
		case len(photos) == 1:
			out = append(out, n)
		case len(of[n]) == len(photos):
			out = append(out, fmt.Sprintf("All %d photos: %s", len(photos), n))
		default:
			out = append(out, strings.Join(of[n], ", ")+": "+n)
		}
	}
	return out
}

// kitPlan puts a kit into words and figures. All are the tubes the painter has,
// those that were left out among them.
func (w *Workspace) kitPlan(ctx context.Context, all *Workspace, k *recipe.Kit, photos []kitPhoto, ask KitAsk, given bool) (KitPlan, error) {
	p := w.Palette
	out := KitPlan{
		Tubes: w.names(k.Tubes), Given: given, Proven: k.Proven, Tolerance: ask.Tolerance,
		Worst: round(k.Worst, 3), Mean: round(k.Mean, 3),
		Blocked: []KitBlocked{}, Curve: []KitStep{}, Uses: []KitUse{}, Unused: w.names(k.Unused),
	}
	if k.Needed > len(k.Tubes) {
		out.Needed = k.Needed
	}
	var refs []KitMassRef
	var names []string
	for _, ph := range photos {
		for _, m := range ph.masses {
			refs = append(refs, KitMassRef{ph.path, m.ID})
			name := m.Name
			if len(photos) > 1 {
				name = fmt.Sprintf("%s (%d of %s)", m.Name, m.ID, filepath.Base(ph.path))
			}
			names = append(names, name)
		}
	}
	some := func(list []int) []KitMassRef {
		out := []KitMassRef{}
		for _, i := range list {
			out = append(out, refs[i])
		}
		return out
	}
	for _, i := range k.Short {
		if !slices.Contains(k.Blocked, i) {
			out.Short = append(out.Short, refs[i])
		}
	}
	for _, s := range k.Curve {
		out.Curve = append(out.Curve, KitStep{
			Count: s.Count, Tubes: w.names(s.Tubes), Worst: round(s.Worst, 3), Mean: round(s.Mean, 3), In: w.names(s.In), Out: w.names(s.Out), Proven: s.Proven,
		})
	}
	for _, u := range k.Uses {
		q := KitUse{Tube: p.Tubes[u.Tube].Name, Masses: some(u.Masses), Lost: some(u.Lost)}
		if math.IsInf(u.Worst, 1) {
			q.Only, q.Says = true, "nothing can be mixed without it"
		} else {
			q.Worst, q.Mean = round(u.Worst, 3), round(u.Mean, 3)
			q.Says = withoutIt(u, names)
		}
		out.Uses = append(out.Uses, q)
	}
	if err := w.costOf(ctx, all, &out, k); err != nil {
		return out, err
	}
	for _, a := range k.Blocked {
		b, err := w.helperFor(ctx, all, k, a, ask)
		if err != nil {
			return out, err
		}
		b.Photo, b.Mass, b.Name = refs[a].Photo, refs[a].Mass, strings.SplitN(names[a], " (", 2)[0]
		out.Blocked = append(out.Blocked, b)
	}
	return out, nil
}

// withoutIt says what a kit loses with one of its tubes.
func withoutIt(u recipe.KitUse, names []string) string {
	const few = 3
	switch n := len(u.Lost); {
	case n == 0:
		return fmt.Sprintf("without it the mean miss is %.1f ΔE00, the greatest %.1f", u.Mean, u.Worst)
	case n == 1:
		return fmt.Sprintf("without it %s cannot be mixed near enough (off by %.1f ΔE00)", names[u.Lost[0]], u.Worst)
	case n <= few:
		var lost []string
		for _, m := range u.Lost {
			lost = append(lost, names[m])
		}
		return fmt.Sprintf("without it %s and %s cannot be mixed near enough (off by up to %.1f ΔE00)", strings.Join(lost[:n-1], ", "), lost[n-1], u.Worst)
	default:
		return fmt.Sprintf("without it %d masses cannot be mixed near enough, least of all %s (off by %.1f ΔE00)", n, names[u.WorstAt], u.Worst)
	}
}

// costOf says what carrying the kit costs against all the tubes the painter
// has.
func (w *Workspace) costOf(ctx context.Context, all *Workspace, out *KitPlan, k *recipe.Kit) error {
	whole := w.Palette
	bests := make([]float64, len(k.Masses))
	for i, m := range k.Masses {
		bests[i] = m.Best
	}
	if more := all.owned(); len(more) > len(whole.Tubes) && len(more) <= recipe.KitBox {
		p, err := recipe.NewPalette(more, w.Palette.Finish)
		if err != nil {
			return err
		}
		aims := make([]lab.Lab, len(k.Masses))
		for i, m := range k.Masses {
			aims[i] = m.Aim
		}
		table, err := p.Search(ctx, aims, recipe.SearchOptions{Improving: true})
		if err != nil {
			return err
		}
		whole = p
		for i := range aims {
			bests[i] = table.Best(i)
		}
	}
	for i, m := range k.Masses {
		out.BoxMean += m.Share * bests[i]
		out.BoxWorst = max(out.BoxWorst, bests[i])
	}
	out.BoxMean, out.BoxWorst = round(out.BoxMean, 3), round(out.BoxWorst, 3)
	n := len(k.Tubes)
	tubes := fmt.Sprintf("These %d of %d tubes mix", n, len(whole.Tubes))
	if n == 1 {
		tubes = fmt.Sprintf("This one of %d tubes mixes", len(whole.Tubes))
	}
	if n == len(whole.Tubes) {
		out.Cost = fmt.Sprintf("All the tubes there are: they mix the masses within %.1f ΔE00 at worst and %.1f on average.", k.Worst, k.Mean)
		return nil
	}
	if k.Among < len(w.Palette.Tubes) {
		out.Cost = fmt.Sprintf("%s the masses within %.1f ΔE00 at worst and %.1f on average. So large a box is not tried whole: the %d likeliest tubes would come within %.1f and %.1f.",
			tubes, k.Worst, k.Mean, k.Among, out.BoxWorst, out.BoxMean)
		return nil
	}
	out.Cost = fmt.Sprintf("%s the masses within %.1f ΔE00 at worst and %.1f on average; all %d would come within %.1f and %.1f.",
		tubes, k.Worst, k.Mean, len(whole.Tubes), out.BoxWorst, out.BoxMean)
	return nil
}

// owned lists the tubes of the box, and any others that were named.
func (w *Workspace) owned() []*inventory.Tube {
	tubes := slices.Clone(w.Box.Tubes)
	for _, t := range w.Palette.Tubes {
		if !slices.Contains(tubes, t) {
			tubes = append(tubes, t)
		}
	}
	return tubes
}

// helperFor names the one tube of the library, and the one of those left at
// home, that would bring a blocked mass nearest.
func (w *Workspace) helperFor(ctx context.Context, all *Workspace, k *recipe.Kit, a int, ask KitAsk) (KitBlocked, error) {
	b := KitBlocked{DE00: round(k.Masses[a].Best, 3)}
	best := func(from []*inventory.Tube) (string, float64, error) {
		list, err := w.Palette.Additions(ctx, k.Masses[a].Aim, k.Masses[a].Best, ask.Tolerance, from, 1)
		if err != nil || len(list) == 0 {
			return "", 0, err
		}
		t := list[0].Tube
		name := t.Name
		if t.Code() != "" {
			name += " (" + t.Code() + ")"
		}
		return name, round(list[0].Mix.DE00, 3), nil
	}
	var err error
	if b.Add, b.AddDE00, err = best(nil); err != nil {
		return b, err
	}
	var home []*inventory.Tube
	for _, t := range all.owned() {
		if !slices.Contains(w.Palette.Tubes, t) {
			home = append(home, t)
		}
	}
	if len(home) > 0 {
		b.Own, b.OwnDE00, err = best(home)
	}
	return b, err
}

// Help says which tube would bring a blocked mass nearer. One that the painter
// has is named alone if it does about as well as any.
func (b *KitBlocked) Help() string {
	switch {
	case b.Own != "" && (b.Add == "" || b.OwnDE00 <= b.AddDE00+0.3):
		return fmt.Sprintf("%s from your box would bring it within %.1f.", recipe.Capital(b.Own), b.OwnDE00)
	case b.Own != "":
		return fmt.Sprintf("%s from your box would bring it within %.1f, %s from the library within %.1f.", recipe.Capital(b.Own), b.OwnDE00, b.Add, b.AddDE00)
	case b.Add != "":
		return fmt.Sprintf("%s would help most: within %.1f.", recipe.Capital(b.Add), b.AddDE00)
	}
	return "No one tube of the library would help."
}

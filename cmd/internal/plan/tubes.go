package plan

import (
	"math"
	"slices"

	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// TubesResult lists a box.
type TubesResult struct {
	Box      Box      `json:"box"`
	Finish   string   `json:"finish"`
	Warnings []string `json:"warnings"`
	Cautions []string `json:"cautions,omitempty"`
}

// Tubes lists the workspace's tubes.
func (w *Workspace) Tubes() *TubesResult {
	return &TubesResult{
		Box: w.boxOf(w.Palette.Tubes, nil), Finish: w.Palette.Finish.String(),
		Warnings: append([]string{}, w.Notes...), Cautions: cautions(w.Palette.Tubes),
	}
}

// ShowTubes lists the tubes that s.Only names as [Workspace.Tubes] does, beside
// the whole box: tints are with its white. Of each that was measured it says how
// well its own readings agree.
func ShowTubes(s Settings) (*TubesResult, error) {
	names := s.Only
	s.Only = nil
	w, err := Open(s)
	if err != nil {
		return nil, err
	}
	var tubes []*inventory.Tube
	for _, name := range names {
		t, err := w.Resolve(name)
		if err != nil {
			return nil, err
		}
		if !slices.Contains(tubes, t) {
			tubes = append(tubes, t)
		}
	}
	if w.Palette, err = recipe.NewPalette(tubes, w.Palette.Finish); err != nil {
		return nil, err
	}
	r := w.Tubes()
	for i := range r.Box.Tubes {
		t := w.Box.Tube(r.Box.Tubes[i].Name)
		if t == nil {
			continue
		}
		if report := w.Box.Check(t); report != nil {
			c := calibratedTube(*report)
			r.Box.Tubes[i].Fit = &c
		}
	}
	return r, nil
}

// tubeOf describes a tube: its masstone and its tint of one part in ten with
// the given white, in the given finish.
func tubeOf(t *inventory.Tube, white *optics.Paint, finish optics.Finish, used []int) Tube {
	mass := t.Paint.Reflectance(finish)
	tint := optics.Mix([]*optics.Paint{&t.Paint, white}, []float64{1, 9})
	thin := tint.Reflectance(finish)
	m, l := mass.Lab(optics.D65), thin.Lab(optics.D65)
	out := Tube{
		Name: t.Name, CI: t.Code(), Hex: m.Hex(), TintHex: l.Hex(), Lab: m, TintLab: l, White: t.White,
		Opacity: string(t.Opacity), Strength: t.Strength, Lightfast: t.Lightfast,
		Provenance: string(t.Provenance), Source: t.Source, Caution: t.Caution, UsedIn: used,
		Medium: t.Medium, SizeML: t.SizeML, LeftML: t.LeftML, Note: t.Note, Readings: len(t.Readings),
	}
	out.Dries = t.DryingWords(finish)
	if t.Factor != 1 {
		out.Factor = t.Factor
	}
	if l := inventory.LastingFor(t); l != nil {
		out.LongerLived = &LongerLived{CI: l.Key(), Name: l.Name, Masstone: round(l.Masstone, 1), Tint: round(l.Tint, 1), Words: l.Words()}
	}
	if !t.White {
		out.Lean = inventory.LeanOf(&t.Paint, white).Words
	}
	return out
}

// tintWhite is the white that tints are shown with: the palette's own, else
// the library's titanium white.
func (w *Workspace) tintWhite() *optics.Paint {
	for _, t := range w.Palette.Tubes {
		if t.White {
			return &t.Paint
		}
	}
	if t := w.Box.White(); t != nil {
		return &t.Paint
	}
	return libraryWhite()
}

func libraryWhite() *optics.Paint {
	p, err := inventory.Find("PW6")
	if err != nil {
		panic("plan: the library has lost its titanium white")
	}
	return &p.Paint
}

// PigmentsResult lists pigments of the library.
type PigmentsResult struct {
	Pigments []Tube   `json:"pigments"`
	Finish   string   `json:"finish"`
	Note     string   `json:"note"`
	Care     []string `json:"care"`
	Warnings []string `json:"warnings"`
}

// Pigments lists the library, or the pigments named, in the given finish.
func Pigments(names []string, finish optics.Finish) (*PigmentsResult, error) {
	list := inventory.Library()
	if len(names) > 0 {
		list = nil
		for _, n := range names {
			p, err := inventory.Find(n)
			if err != nil {
				return nil, err
			}
			list = append(list, p)
		}
	}
	out := &PigmentsResult{
		Finish: finish.String(),
		Note:   "Facts beyond the colour (opacity, strength, lightfastness) are the usual ones of the pigment, many from memory: the label on the tube wins.",
		Care:   inventory.GeneralCare, Warnings: []string{},
	}
	white := libraryWhite()
	for _, p := range list {
		out.Pigments = append(out.Pigments, tubeOf(p.Tube(), white, finish, nil))
	}
	return out, nil
}

// round keeps n decimals, so that JSON reads well.
func round(v float64, n int) float64 {
	f := math.Pow(10, float64(n))
	return math.Round(v*f)/f + 0
}

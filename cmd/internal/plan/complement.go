package plan

import (
	"slices"

	"paintout/inventory"
	"paintout/recipe"
)

// ComplementResult lists the tubes that bring one toward neutral.
type ComplementResult struct {
	Tube        Tube         `json:"tube"`
	Complements []Complement `json:"complements"` // nearest neutral first
	Box         string       `json:"box"`
	Finish      string       `json:"finish"`
	Cautions    []string     `json:"cautions,omitempty"`
	Warnings    []string     `json:"warnings"`
}

// Complement is one such tube.
type Complement struct {
	Tube    string       `json:"tube"`
	CI      string       `json:"ci"`
	Neutral bool         `json:"neutral"` // the two are mixing complements
	Chroma  float64      `json:"chroma"`  // of the greyest mix, C*ab
	Middle  *MixedColour `json:"middle,omitempty"`
	Dark    MixedColour  `json:"dark"` // without white: how dark the two go
	Says    string       `json:"says"`
}

// Complements asks which tubes of the box grey a tube of it, or of the library.
func Complements(s Settings, name string) (*ComplementResult, error) {
	w, err := Open(s)
	if err != nil {
		return nil, err
	}
	t, err := w.Resolve(name)
	if err != nil {
		return nil, err
	}
	p := w.Palette
	at := slices.Index(p.Tubes, t)
	if at < 0 { // left out by a choice of tubes, or of the library
		at = len(p.Tubes)
		if p, err = recipe.NewPalette(append(slices.Clone(p.Tubes), t), p.Finish); err != nil {
			return nil, err
		}
	}
	list, err := p.Complements(at)
	if err != nil {
		return nil, err
	}
	out := &ComplementResult{
		Tube: tubeOf(t, w.tintWhite(), p.Finish, nil), Complements: []Complement{},
		Box: w.From, Finish: p.Finish.String(), Warnings: append([]string{}, w.Notes...),
	}
	named := []*inventory.Tube{t}
	for i := range list {
		c := &list[i]
		q := Complement{
			Tube: p.Tubes[c.Tube].Name, CI: p.Tubes[c.Tube].Code(), Neutral: c.Neutral,
			Chroma: round(c.Chroma(), 2), Dark: mixedOf(c.Dark), Says: c.Words(),
		}
		if c.Middle != nil {
			m := mixedOf(*c.Middle)
			q.Middle = &m
		}
		out.Complements = append(out.Complements, q)
		named = append(named, p.Tubes[c.Tube])
	}
	out.Cautions = cautions(named)
	return out, nil
}

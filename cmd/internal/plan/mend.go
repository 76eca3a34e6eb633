package plan

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"paintout/analyze/card"
	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/inventory"
	"paintout/recipe"
)

// MendAsk is a pile that came out wrong.
type MendAsk struct {
	Target   string   // the colour wanted, as for [lab.ParseTarget]
	Readings []string // of the pile, likewise: one as it is now, or one of the pile as mixed and one after each addition
	Mixed    string   // what it was mixed from, as for [ParseMix]; empty if not known
	Added    []string // what was added since, likewise, in the same parts (not known: parts to ten of the pile)
	Grey     *photo.Point
	Card     float64 // luminous reflectance of the grey card at Grey, a fraction; 0: 18 %
	Error    float64 // standard deviation of readings that are not from a photo, ΔE00; 0: the usual
	Wet      bool    // the readings are of wet paint
	Save     bool    // keep the strengths learned in the box
}

// MendPile is the pile as it is.
type MendPile struct {
	Known    bool    `json:"known"` // what it was mixed from
	Parts    []Part  `json:"parts"` // what is in it; not known: the likeliest of what may be
	Volume   float64 `json:"volume"`
	Reading  lab.Lab `json:"reading"`            // the last, as it will be dry
	ReadWet  bool    `json:"read_wet,omitempty"` // it was read wet, and how its tubes dry is known
	Hex      string  `json:"hex"`
	Name     string  `json:"name"`
	Value    float64 `json:"value"`
	Error    float64 `json:"reading_error"` // standard deviation of the reading, ΔE00
	Foretold lab.Lab `json:"foretold"`      // what the tubes gave reason to expect of the mix
	DE00     float64 `json:"de00"`          // the reading from the colour to mix
	Grade    string  `json:"grade"`
	// Off is what is wrong with it, the largest fault first; empty if nothing is.
	Off []string `json:"off"`
	// Misfit is how far the readings stay from what the pile can be, in standard
	// deviations; above 3 something that was said is wrong.
	Misfit float64 `json:"misfit"`
}

// MendAddition is what to add to the pile.
type MendAddition struct {
	Add       []MendPart `json:"add"` // in order
	Words     string     `json:"words"`
	Keep      float64    `json:"keep"`   // share of the pile to add it to; below 1 the rest is set aside first
	Growth    float64    `json:"growth"` // what is kept, afterwards, by what it was
	Lab       lab.Lab    `json:"lab"`    // what it reaches
	Hex       string     `json:"hex"`
	DE00      float64    `json:"de00"`
	Expected  float64    `json:"expected_de00"` // mean over what pile, tubes, reading and knife may be
	P90       float64    `json:"p90_de00"`
	Grade     string     `json:"grade"`
	Miss      string     `json:"miss,omitempty"`
	Suggested bool       `json:"suggested,omitempty"`
}

// MendPart is an amount to add, in the parts the pile was mixed in.
type MendPart struct {
	Part
	Touch bool `json:"touch,omitempty"` // too little to portion: a touch on the knife's tip
}

// MendStrength is what the readings say of a tube's tinting strength.
type MendStrength struct {
	Tube   string  `json:"tube"`
	CI     string  `json:"ci"`
	Factor float64 `json:"factor"`    // on the strength taken so far
	Before float64 `json:"sd_before"` // standard deviation of its natural logarithm before the readings
	After  float64 `json:"sd_after"`  // and with them
	Stored float64 `json:"stored,omitempty"`
}

// MendOff is how far a pile lies from the colour to mix.
type MendOff struct {
	DE00     float64 `json:"de00"`
	Expected float64 `json:"expected_de00"`
	P90      float64 `json:"p90_de00"`
}

// MendResult says how to put a pile right. As JSON:
//
//	target, wanted (L, a, b as asked for), aim (the colour to mix), aim_hex, name, value
//	pile{known, parts, volume, reading, foretold, de00, off[…], misfit, …}
//	verdict: "leave it", "add", "take away" or "start again"
//	say[…]: the answer in sentences
//	leave{de00, expected_de00, p90_de00}: the pile as it is
//	additions[{add[{tube,ci,parts,touch}], words, keep, growth, lab, de00, expected_de00, p90_de00, …, suggested}]
//	fresh: the recipe to mix the colour anew, as recipe gives it
//	strengths[{tube, ci, factor, sd_before, sd_after, stored}]
//	method, box, finish, warnings[…], cautions[…]
type MendResult struct {
	Target    string         `json:"target"`
	Wanted    lab.Lab        `json:"wanted"`
	Aim       lab.Lab        `json:"aim"`
	AimHex    string         `json:"aim_hex"`
	Name      string         `json:"name"`
	Value     float64        `json:"value"`
	Pile      MendPile       `json:"pile"`
	Verdict   string         `json:"verdict"`
	Say       []string       `json:"say"`
	Leave     MendOff        `json:"leave"`
	Additions []MendAddition `json:"additions"`
	Fresh     *Recipe        `json:"fresh,omitempty"`
	Strengths []MendStrength `json:"strengths"`
	Saved     string         `json:"saved,omitempty"` // the box file that keeps the strengths
	Method    string         `json:"method"`
	Box       string         `json:"box"`
	Finish    string         `json:"finish"`
	Warnings  []string       `json:"warnings"`
	Cautions  []string       `json:"cautions,omitempty"`
}

// photoError is what a colour from a photo without a grey card is worth as a
// reading, ΔE00: exposure and white balance are the camera's guess (this
// project's judgement).
const photoError = 6.0

// suspect is the misfit of readings above which something said must be wrong.
const suspect = 3.0

// Mend says how to put a pile right.
func Mend(ctx context.Context, s Settings, o photo.Options, ask MendAsk, progress func(done, all int)) (*MendResult, error) {
	target, err := lab.ParseTarget(ask.Target)
	if err != nil {
		return nil, err
	}
	stagesSaid := 1 + len(ask.Added)
	if n := len(ask.Readings); n != 1 && n != stagesSaid {
		return nil, fmt.Errorf("%d readings of a pile with %d additions: give the last reading alone, or %d, one of the pile as mixed and one after each addition", n, len(ask.Added), stagesSaid)
	}
	w, err := Open(s)
	if err != nil {
		return nil, err
	}
	out := &MendResult{
		Target: ask.Target, Wanted: target.Lab, Box: w.From, Additions: []MendAddition{}, Strengths: []MendStrength{},
		Method: recipe.MendMethod, Finish: w.Palette.Finish.String(),
	}
	// What is in the pile was at hand, whether the box holds it or not.
	tubes := slices.Clone(w.Palette.Tubes)
	stages := make([]recipe.Stage, stagesSaid)
	for i := range stages {
		text := ask.Mixed
		if i > 0 {
			text = ask.Added[i-1]
		}
		if i == 0 && text == "" {
			continue
		}
		ps, err := ParseMix(text)
		if err != nil {
			return nil, err
		}
		which, amounts, err := w.portions(ps)
		if err != nil {
			return nil, err
		}
		for j, t := range which {
			at := slices.Index(tubes, t)
			if at < 0 {
				at = slices.IndexFunc(tubes, func(u *inventory.Tube) bool { return u.Name == t.Name && u.Code() == t.Code() })
			}
			if at < 0 {
				at = len(tubes)
				tubes = append(tubes, t)
			}
			stages[i].Added = append(stages[i].Added, recipe.Part{Tube: at, Parts: amounts[j]})
		}
	}
	p, err := recipe.NewPalette(tubes, w.Palette.Finish)
	if err != nil {
		return nil, err
	}

	out.Aim = target.Lab
	if target.Kind == lab.PhotoTarget {
		f, err := photo.Open(target.Path, o)
		if err != nil {
			return nil, err
		}
		if out.Wanted, err = spotColour(f, target); err != nil {
			return nil, err
		}
		out.Aim = w.aim(out.Wanted)
	}
	out.AimHex, out.Name, out.Value = out.Aim.Hex(), lab.Name(out.Aim), round(out.Aim.Value(), 2)

	wet := ask.Wet && driesKnown(p, stages)
	if ask.Wet && !wet {
		w.Notes = append(w.Notes, "The pile was read wet, and how these tubes dry is not known: the reading was taken as if dry, and so as less certain. Acrylic mostly dries darker, gouache and watercolour lighter, oil much as it is (common practice). Let a dab dry and read that, or import readings of your tubes wet and dry.")
	}
	for i, text := range ask.Readings {
		at := i + len(stages) - len(ask.Readings)
		c, sd, notes, err := readPile(text, ask)
		if err != nil {
			return nil, err
		}
		if ask.Wet && !wet {
			sd = math.Hypot(sd, wetError)
		}
		stages[at].Reading, stages[at].Error, stages[at].Wet = &c, sd, wet
		for _, n := range notes {
			if !slices.Contains(w.Notes, n) {
				w.Notes = append(w.Notes, n)
			}
		}
	}
	if len(stages[0].Added) == 0 && stages[0].Reading == nil {
		return nil, errors.New("what the pile was mixed from is not known: give a reading of it before the additions too, or say what it was mixed from")
	}
	opt := recipe.MendOptions{PortionError: s.PortionError, Progress: progress}
	if len(s.Only) > 0 {
		for i := range w.Palette.Tubes {
			opt.May = append(opt.May, i)
		}
	}
	m, err := p.Mend(ctx, stages, out.Aim, opt)
	if err != nil {
		return nil, err
	}
	out.Warnings = append([]string{}, w.Notes...)
	out.fill(p, m, stages[len(stages)-1].Error)
	out.Pile.ReadWet = wet
	if ask.Save {
		if err := out.save(m, s.TubesFile); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// wetError is what drying may change in a colour where it is not known, ΔE00 (this
// project's judgement).
const wetError = 2.5

// driesKnown reports whether it is known how all that may be in a pile dries.
func driesKnown(p *recipe.Palette, stages []recipe.Stage) bool {
	if len(stages[0].Added) == 0 {
		return !slices.ContainsFunc(p.Tubes, func(t *inventory.Tube) bool { return t.Drying == nil })
	}
	for _, s := range stages {
		for _, q := range s.Added {
			if p.Tubes[q.Tube].Drying == nil {
				return false
			}
		}
	}
	return true
}

// readPile reads a pile's colour, with its standard deviation and what is to be
// known of it.
func readPile(text string, ask MendAsk) (lab.Lab, float64, []string, error) {
	t, err := lab.ParseTarget(text)
	if err != nil {
		return lab.Lab{}, 0, nil, err
	}
	if t.Kind != lab.PhotoTarget {
		e := ask.Error
		if e == 0 {
			e = recipe.ReadingError
			if t.Kind == lab.NotationTarget {
				e = notationError
			}
		}
		return t.Lab, e, nil, nil
	}
	p, err := photo.Open(t.Path, photo.Options{})
	if err != nil {
		return lab.Lab{}, 0, nil, err
	}
	if ask.Grey == nil {
		c, err := spotColour(p, t)
		note := fmt.Sprintf("%s holds no grey card that was pointed at: its colours are the camera's guess, taken to be within about %.0f ΔE00. Lay a grey card beside the pile and give its place with --grey.", filepath.Base(t.Path), photoError)
		return c, photoError, []string{note}, err
	}
	at := photo.Point{X: photo.Measure{Value: t.X, Percent: t.Percent}, Y: photo.Measure{Value: t.Y, Percent: t.Percent}}
	r, err := card.Spot(p, at, card.Grey{Place: *ask.Grey, Reflectance: ask.Card})
	if err != nil {
		return lab.Lab{}, 0, nil, err
	}
	if r.Lab.L > 100 {
		if r.Lab.L > 100+r.Uncertainty {
			return lab.Lab{}, 0, nil, fmt.Errorf("%s: by the grey card the pile is brighter than white (L* %.0f): is the card in shade, the pile in glare, or --grey not on the card?", filepath.Base(t.Path), r.Lab.L)
		}
		r.Lab.L = 100
	}
	return r.Lab, r.Uncertainty, r.Warnings, nil
}

// notationError is what matching a pile to a book of colour chips by eye is
// worth, ΔE00: about half a step of value or of hue (this project's judgement).
const notationError = 2.5

func (r *MendResult) fill(p *recipe.Palette, m *recipe.Mend, readingError float64) {
	de := lab.DE00(r.Aim, m.Reading)
	r.Pile = MendPile{
		Known: m.Known, Parts: partsOf(p, m.Parts), Volume: round(m.Volume, 4), Reading: m.Reading, Hex: m.Reading.Hex(),
		Name: lab.Name(m.Reading), Value: round(m.Reading.Value(), 2), Error: round(readingError, 2), Foretold: m.Foretold,
		DE00: round(de, 3), Grade: recipe.Grade(de), Off: append([]string{}, recipe.Wrong(r.Aim, m.Reading)...), Misfit: round(m.Misfit, 2),
	}
	for i := range r.Pile.Parts {
		r.Pile.Parts[i].Parts = round(r.Pile.Parts[i].Parts, 4)
	}
	r.Verdict, r.Say = string(m.Verdict), m.Words()
	off := func(o recipe.Off) MendOff {
		return MendOff{round(o.Nominal, 3), round(o.Expected, 3), round(o.P90, 3)}
	}
	r.Leave = off(m.Leave)
	// Cautions are of what may be reached for now: the additions, or the fresh mix.
	used := map[*inventory.Tube]bool{}
	anew := m.Verdict == recipe.StartPile || m.Verdict == recipe.HalvePile
	for i := range m.Additions {
		a := &m.Additions[i]
		o := off(a.Off)
		q := MendAddition{
			Words: m.AddWords(a), Keep: a.Keep, Growth: round(a.Growth, 4), Lab: a.Lab, Hex: a.Lab.Hex(),
			DE00: o.DE00, Expected: o.Expected, P90: o.P90, Grade: recipe.Grade(a.Off.Nominal), Miss: recipe.Miss(r.Aim, a.Lab),
			Suggested: a.Suggested && m.Verdict != recipe.StartPile,
		}
		for j, part := range partsOf(p, a.Parts) {
			q.Add = append(q.Add, MendPart{part, recipe.IsTouch(a.Parts[j].Parts, m.Volume*a.Keep)})
			used[p.Tubes[a.Parts[j].Tube]] = m.Verdict != recipe.StartPile
		}
		r.Additions = append(r.Additions, q)
	}
	if m.Fresh != nil {
		f := m.Fresh
		o := off(f.Off)
		r.Fresh = &Recipe{
			Choice: f.Choice, Parts: partsOf(m.Palette, f.Parts), Lab: f.Lab, Hex: f.Lab.Hex(), DE00: o.DE00, Expected: o.Expected, P90: o.P90,
			Grade: recipe.Grade(f.Off.Nominal), Miss: recipe.Miss(r.Aim, f.Lab), Order: []string{}, Notes: append([]string{}, f.Notes...),
		}
		for _, q := range f.Parts {
			if anew {
				used[p.Tubes[q.Tube]] = true
			}
		}
		for _, q := range r.Fresh.Parts {
			r.Fresh.Order = append(r.Fresh.Order, q.Tube)
		}
	}
	for _, s := range m.Strengths {
		r.Strengths = append(r.Strengths, MendStrength{
			Tube: s.Tube.Name, CI: s.Tube.Code(), Factor: round(s.Factor, 3), Before: round(s.PriorSD, 3), After: round(s.SD, 3),
		})
	}
	if m.Misfit > suspect {
		say := "is the reading, or what was said to be in it, wrong?"
		if !m.Known {
			say = "was it mixed from other tubes, or is a reading, or what was added, wrong?"
		}
		r.Warnings = append(r.Warnings, fmt.Sprintf("The readings are further from what such a pile can be than chance explains (%.1f standard deviations): %s", m.Misfit, say))
	}
	if !m.Known {
		r.Warnings = append(r.Warnings, fmt.Sprintf("What the pile was mixed from is not known: it was taken for the mixes of your tubes that look like it, such as %s, and may answer differently. Add half, and look.", partsWords(r.Pile.Parts)))
	}
	var list []*inventory.Tube
	for _, t := range p.Tubes {
		if used[t] {
			list = append(list, t)
		}
	}
	r.Cautions = cautions(list)
}

// partsWords writes a mix, "8 titanium white + 2 ultramarine blue".
func partsWords(parts []Part) string {
	var s []string
	for _, p := range parts {
		s = append(s, fmt.Sprintf("%.2g %s", p.Parts, p.Tube))
	}
	return strings.Join(s, " + ")
}

// save keeps what was learned of the strengths in the box.
func (r *MendResult) save(m *recipe.Mend, box string) error {
	if !m.Known {
		return errors.New("nothing to save: the strengths of tubes are learned from piles of which it is known what was mixed; give it with --mixed")
	}
	file, err := existing(box)
	if err != nil {
		return err
	}
	if m.Misfit > suspect {
		r.Warnings = append(r.Warnings, "Nothing was kept in the box: readings that disagree so with what was said teach a wrong strength.")
		return nil
	}
	err = inventory.UpdateBox(file, func(b *inventory.Box) (*inventory.Box, error) {
		if b == nil {
			return nil, missing(box, file)
		}
		for i := range m.Strengths {
			s := &m.Strengths[i]
			if b.Tube(s.Tube.Name) == nil {
				r.Warnings = append(r.Warnings, s.Tube.Name+" is not in the box: its strength was not kept.")
				continue
			}
			factor := round(s.Revised().Factor, 3)
			if _, err := b.EditTube(s.Tube.Name, inventory.Fields{"strength": strconv.FormatFloat(factor, 'g', -1, 64)}); err != nil {
				return nil, err
			}
			r.Strengths[i].Stored = factor
		}
		return b, nil
	})
	if err == nil {
		r.Saved = file
	}
	return err
}

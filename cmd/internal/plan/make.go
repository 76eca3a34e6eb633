package plan

import (
	"context"
	"fmt"
	"image"
	"math"
	"path/filepath"
	"strings"

	"paintout/analyze"
	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// View says how a photo is to be read and divided.
type View struct {
	Photo     photo.Options
	K         int // masses, accents included; 0 lets the picture decide
	NoAccents bool
	Film      Film // how thick paint is laid on Photo.Canvas; none: nothing is measured out
}

// Stages of the work, as Progress reports them.
const (
	Reading   = "reading the photo"
	Measuring = "measuring every pixel"
	Mixing    = "trying mixes"
	Premixing = "premixing each mass, light to dark"
)

// Progress is told how far a stage has come; it must be quick and may be
// called from several goroutines, one at a time.
type Progress func(stage string, done, all int)

func (p Progress) at(stage string) func(done, all int) {
	if p == nil {
		return nil
	}
	return func(done, all int) { p(stage, done, all) }
}

// pictureSide is the long side, in pixels, of the pictures that go with a
// plan: sharp on a phone or a tablet, and small enough to carry.
const pictureSide = 1400

// AnalysisResult is what a photo holds, with the colours to mix.
type AnalysisResult struct {
	Photo    Photo    `json:"photo"`
	Box      string   `json:"box"`
	Range    Range    `json:"range"`
	Masses   []Mass   `json:"masses"`
	Fit      Fit      `json:"fit"`
	Clipped  float64  `json:"clipped"`
	Crushed  float64  `json:"crushed"`
	Warnings []string `json:"warnings"`
}

// study is a photo read and divided.
type study struct {
	photo    *photo.Photo
	analysis *analyze.Analysis
}

func look(ctx context.Context, path string, v View, progress Progress) (*study, error) {
	if progress != nil {
		progress(Reading, 0, 1)
	}
	p, err := photo.Open(path, v.Photo)
	if err != nil {
		return nil, err
	}
	o := analyze.Options{K: v.K, NoAccents: v.NoAccents, MaskSide: pictureSide, Progress: progress.at(Measuring)}
	if p.Balance != nil || p.Exposure != 0 {
		o.AsShot = p.AsShot()
	}
	a, err := analyze.Analyze(ctx, p, o)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return &study{p, a}, nil
}

// Analyze reads a photo and gives its masses and the colours to mix for them
// with the workspace's box.
func (w *Workspace) Analyze(ctx context.Context, path string, v View, progress Progress) (*AnalysisResult, error) {
	s, err := look(ctx, path, v, progress)
	if err != nil {
		return nil, err
	}
	return &AnalysisResult{
		Photo: photoOf(s.photo), Box: w.From, Range: w.rangeOf(), Masses: w.masses(s.analysis),
		Fit:     Fit{round(s.analysis.Fit.Mean, 3), round(s.analysis.Fit.P99, 3)},
		Clipped: round(s.analysis.Clipped, 5), Crushed: round(s.analysis.Crushed, 5),
		Warnings: w.warnings(s),
	}, nil
}

func (w *Workspace) warnings(s *study) []string {
	out := append([]string{}, w.Notes...)
	out = append(append(out, w.flat()...), s.photo.Notes...)
	return append(out, s.analysis.Warnings...)
}

func photoOf(p *photo.Photo) Photo {
	return Photo{
		Path: p.Name, Width: p.Width, Height: p.Height, FileWidth: p.FileWidth, FileHeight: p.FileHeight, Format: p.Format, Profile: p.Profile,
		Orientation: p.Orientation, Notes: p.Notes,
	}
}

func (w *Workspace) rangeOf() Range {
	f := w.rangeFit()
	dark, light := lab.FromXYZ(f.Dark, optics.D65.White()), lab.FromXYZ(f.Light, optics.D65.White())
	r := Range{Fitted: !w.NoFit, PhotoBlack: 0, PhotoWhite: 100, PaintBlack: dark, PaintWhite: light}
	if w.NoFit {
		r.Note = fmt.Sprintf("The photo's colours are to be matched as they are; these tubes span L* %.0f to %.0f, so its darkest and lightest lie beyond them.", dark.L, light.L)
	} else {
		r.Note = fmt.Sprintf("A photo spans black to white, these tubes L* %.0f to %.0f: the colours to mix are the photo's, fitted between the two, so that shadows keep their steps.", dark.L, light.L)
	}
	return r
}

func (w *Workspace) masses(a *analyze.Analysis) []Mass {
	out := make([]Mass, len(a.Masses))
	for i, m := range a.Masses {
		aim := w.aim(m.Lab)
		out[i] = Mass{
			ID: m.ID, Name: lab.Name(m.Lab), Share: m.Share, Lab: m.Lab, Aim: aim,
			Hex: m.Lab.Hex(), AimHex: aim.Hex(), Value: round(m.Lab.Value(), 2), AimValue: round(aim.Value(), 2),
			Notation: notation(m.Lab), Warmth: round(m.Warmth, 3), Temperature: m.Temperature,
			Accent: m.Accent, Anchor: [2]float64{round(m.CX, 4), round(m.CY, 4)},
		}
	}
	distinguish(out)
	return out
}

// distinguish adds to names that several masses share where each mass lies, and
// if that is not enough, which is lighter.
func distinguish(masses []Mass) {
	shared := func() map[string][]*Mass {
		by := map[string][]*Mass{}
		for i := range masses {
			by[masses[i].Name] = append(by[masses[i].Name], &masses[i])
		}
		return by
	}
	for name, same := range shared() {
		if len(same) > 1 {
			for _, m := range same {
				m.Name = name + ", " + place(m.Anchor)
			}
		}
	}
	for name, same := range shared() {
		if len(same) == 2 {
			// Masses come light to dark, but accents after the others.
			first, second := "lighter", "darker"
			if same[0].Value < same[1].Value {
				first, second = second, first
			}
			same[0].Name, same[1].Name = first+" "+name, second+" "+name
		} else if len(same) > 2 {
			for i, m := range same {
				m.Name = fmt.Sprintf("%s (%d)", name, i+1)
			}
		}
	}
}

// place says where in the picture a point lies, in thirds.
func place(at [2]float64) string {
	third := func(v float64, words [3]string) string { return words[min(max(int(v*3), 0), 2)] }
	up, across := third(at[1], [3]string{"upper", "", "lower"}), third(at[0], [3]string{"left", "", "right"})
	switch {
	case up == "" && across == "":
		return "middle"
	case up == "":
		return across
	case across == "":
		return up + " middle"
	}
	return up + " " + across
}

// notation writes a colour's hue, value and chroma, or its value alone where
// the renotation does not reach.
func notation(c lab.Lab) string {
	n, err := c.Notation()
	if err != nil {
		return fmt.Sprintf("N %.1f/", c.Value())
	}
	n.Value = c.Value() // as shown beside it; the renotation's own differs by its adaptation to illuminant C
	return n.String()
}

// Made is a photo's plan with its pictures, or why there is none.
type Made struct {
	Plan     *Plan
	Pictures *Pictures
	Kit      *Workspace // the tubes that are carried, to draw wheel and chart of
	Err      error
}

// keepPictures is how many photos are kept in memory, some 20 MB each, while
// the kit for all of them is sought; further ones are read again.
const keepPictures = 12

// Make does the whole job for one photo, or for several that are painted from
// one kit: it reads them, finds the fewest tubes for all of them together, and
// mixes every mass from those. Tubes that were named one by one are the kit.
// done gets each photo's outcome, in order; an error of its own ends the work. A
// photo that cannot be read has no say in the kit; paths are [Distinct].
func (w *Workspace) Make(ctx context.Context, paths []string, v View, ask KitAsk, progress Progress, done func(i int, m Made) error) error {
	all := w
	w, err := w.choosing(ask)
	if err != nil {
		return err
	}
	studies := make([]*study, len(paths))
	failed := make([]error, len(paths))
	var photos []kitPhoto
	for i, path := range paths {
		s, err := look(ctx, path, v, progress)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			failed[i] = err
			continue
		}
		photos = append(photos, kitPhoto{path, w.masses(s.analysis), nil})
		if len(photos) <= keepPictures {
			studies[i] = s
		}
	}
	var kit *trip
	if len(photos) > 0 {
		if kit, err = w.trip(ctx, all, photos, ask, progress); err != nil {
			return err
		}
	}
	at := 0 // of the photo in photos
	for i, path := range paths {
		m := Made{Err: failed[i]}
		if m.Err == nil {
			s := studies[i]
			if s == nil {
				s, m.Err = look(ctx, path, v, progress)
			}
			if m.Err == nil {
				m.Kit = kit.from
				m.Plan, m.Pictures, m.Err = kit.plan(ctx, s, at, progress)
				if m.Err == nil {
					m.Plan.measureOut(v.Photo.Canvas, v.Film)
				}
			}
			studies[i] = nil
			at++
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err := done(i, m); err != nil {
			return err
		}
	}
	return nil
}

// trip is one kit and the photos it is for.
type trip struct {
	all, may, from *Workspace // all tubes, those that may be carried, those that are
	photos         []kitPhoto
	first          []int // of each photo, its place among the kit's masses
	kit            *recipe.Kit
	words          KitPlan
	note           string
	brief          bool // without strings to premix
}

// trip finds the kit for photos, or judges the one that was given.
func (w *Workspace) trip(ctx context.Context, all *Workspace, photos []kitPhoto, ask KitAsk, progress Progress) (*trip, error) {
	t := &trip{all: all, may: w, from: w, photos: photos}
	n := 0
	for _, ph := range photos {
		t.first = append(t.first, n)
		n += len(ph.masses)
	}
	given := w.Chosen && ask.Max == 0 && len(ask.Keep) == 0
	if given && len(w.Palette.Tubes) > recipe.KitBox {
		t.note = fmt.Sprintf("With more than %d tubes named one by one, no kit was looked for among them.", recipe.KitBox)
		return t, nil
	}
	var err error
	if t.kit, err = w.kit(ctx, photos, ask, given, progress); err != nil {
		return nil, err
	}
	if t.words, err = w.kitPlan(ctx, all, t.kit, photos, ask, given); err != nil {
		return nil, err
	}
	t.from, err = w.carrying(t.kit.Tubes)
	return t, err
}

// plan makes the plan of photo number i from what is carried.
func (t *trip) plan(ctx context.Context, s *study, i int, progress Progress) (*Plan, *Pictures, error) {
	w := t.from
	path := t.photos[i].path
	p := &Plan{
		Title:   strings.TrimSuffix(filepath.Base(path), filepath.Ext(path)),
		Photo:   photoOf(s.photo),
		Finish:  w.Palette.Finish.String(),
		Range:   w.rangeOf(),
		Masses:  t.photos[i].masses,
		Fit:     Fit{round(s.analysis.Fit.Mean, 3), round(s.analysis.Fit.P99, 3)},
		Clipped: round(s.analysis.Clipped, 5), Crushed: round(s.analysis.Crushed, 5),
		ValueSteps: map[int][]ValueStep{},
		Accents:    []AccentReach{},
		Warnings:   t.all.warnings(s),
	}
	aims := make([]lab.Lab, len(p.Masses))
	for i := range p.Masses {
		aims[i] = p.Masses[i].Aim
	}
	table, err := w.Palette.Search(ctx, aims, recipe.SearchOptions{Slack: slack, Progress: progress.at(Mixing)})
	if err != nil {
		return nil, nil, err
	}
	used := map[*inventory.Tube][]int{}
	for j := range p.Masses {
		m := &p.Masses[j]
		list := table.Recipes(j, w.PortionError)
		m.Recipes = w.recipes(m.Aim, list)
		m.Why = why(m.Aim, list)
		for _, r := range list {
			if r.Suggested {
				for _, q := range r.Parts {
					tube := w.Palette.Tubes[q.Tube]
					used[tube] = append(used[tube], m.ID)
				}
			}
		}
		if len(list) > 0 && list[0].Off.Nominal <= 3 {
			p.Within3 += m.Share
		}
		if t.kit != nil {
			m.BoxDE00 = round(t.kit.Masses[t.first[i]+j].Best, 3)
		}
		if t.brief && !m.Accent {
			continue
		}
		if f := progress.at(Premixing); f != nil {
			f(j, len(p.Masses))
		}
		if err := t.teach(ctx, p, m); err != nil {
			return nil, nil, err
		}
	}
	p.Within3 = round(p.Within3, 5)
	p.Box = t.all.boxOf(t.all.owned(), used)
	if t.kit != nil {
		words := t.words
		p.Kit = &words
	} else {
		p.Warnings = append(p.Warnings, t.note)
	}
	var carried []*inventory.Tube
	for _, tube := range w.Palette.Tubes {
		if len(used[tube]) > 0 || t.kit != nil {
			carried = append(carried, tube)
		}
	}
	p.Cautions = cautions(carried)
	pics, err := picturesOf(s, p)
	return p, pics, err
}

// picturesOf keeps what is drawn of a photo, and notes its value steps.
func picturesOf(s *study, p *Plan) (*Pictures, error) {
	pics := &Pictures{W: s.analysis.Mask.W, H: s.analysis.Mask.H, Masses: s.analysis.Mask.Index, Values: map[int][]uint8{}}
	pics.Photo = toLookAt(s.analysis.Small)
	for _, n := range []int{2, 3, 5} {
		steps, err := s.analysis.ValueSteps(n)
		if err != nil {
			return nil, err
		}
		pics.Values[n] = steps.Mask.Index
		for _, st := range steps.Steps {
			p.ValueSteps[n] = append(p.ValueSteps[n], ValueStep{round(st.Value, 2), round(st.Share, 5)})
		}
	}
	return pics, nil
}

func (w *Workspace) boxOf(tubes []*inventory.Tube, used map[*inventory.Tube][]int) Box {
	b := Box{Name: w.Box.Name, From: w.From}
	white := w.tintWhite()
	for _, t := range tubes {
		b.Tubes = append(b.Tubes, tubeOf(t, white, w.Palette.Finish, used[t]))
	}
	return b
}

// toLookAt encodes a linear picture for a screen.
func toLookAt(s *analyze.Small) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, s.W, s.H))
	for i := range s.W * s.H {
		for c := range 3 {
			img.Pix[4*i+c] = encode(s.Pix[3*i+c])
		}
		img.Pix[4*i+3] = 255
	}
	return img
}

// encode is sRGB at 8 bits of a linear component, by a table over the square
// root of light, whose steps are finer than 8 bits anywhere.
func encode(v float32) uint8 {
	if !(v > 0) {
		return 0
	}
	if v >= 1 {
		return 255
	}
	return encodeTable[int(math.Sqrt(float64(v))*float64(len(encodeTable)-1)+0.5)]
}

var encodeTable = func() (t [4096]uint8) {
	for i := range t {
		root := float64(i) / float64(len(t)-1)
		t[i] = uint8(lab.EncodeSRGB(root*root)*255 + 0.5)
	}
	return t
}()

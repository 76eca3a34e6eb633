package plan

import (
	"cmp"
	"context"
	"fmt"
	"image"
	"math"
	"slices"

	"paintout/analyze"
	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/recipe"
)

// Long sides, in pixels, of what a sitting keeps of its photo: the picture that
// is looked at and read spot by spot, and the one that is cut into masses. The
// second is what a page or a sheet shows.
const (
	sittingSide = 1600
	massSide    = 1024
)

// A Sitting is a photo at hand while a painter works on it: read once, kept
// small, cut into any number of masses, with the mixes that were asked for so
// far. Questions are put to a [Workspace], which may change between them. Its
// methods may be called concurrently, and the answers are not to be changed.
type Sitting struct {
	study   *study
	picture *photo.Linear
	frame   [4]float64 // left, top, width and height of what is kept, as shares of the whole upright picture

	canvas *photo.Canvas // that the photo was cut to

	cuts     kept[Division, *analyze.Analysis]
	values   kept[int, *analyze.ValuePlan]
	tables   kept[tableOf, *recipe.Table]
	spots    kept[spotOf, *recipe.Table]
	rigs     kept[rigOf, *Workspace]
	previews kept[previewOf, *Preview]
	plans    kept[planOf, *Made]
}

// Division says into how many masses a photo is cut; K is as in [View].
type Division struct {
	K         int
	NoAccents bool
}

type tableOf struct {
	palette *recipe.Palette
	noFit   bool
	Division
	tubes string
}

type spotOf struct {
	palette *recipe.Palette
	aim     lab.Lab
	tubes   string
}

type rigOf struct {
	workspace *Workspace
	tubes     string
}

// NewSitting reads a photo from memory; name is used in errors. It fails with
// ctx's error if that ends first.
func NewSitting(ctx context.Context, name string, data []byte, o photo.Options, progress Progress) (*Sitting, error) {
	if progress != nil {
		progress(Reading, 0, 1)
	}
	p, err := photo.Decode(name, data, o)
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	ao := analyze.Options{MaskSide: massSide, Progress: progress.at(Measuring)}
	if p.Balance != nil || p.Exposure != 0 {
		ao.AsShot = p.AsShot()
	}
	a, err := analyze.Analyze(ctx, p, ao)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	s := &Sitting{
		study: &study{photo: &photo.Photo{ // all but its pixels
			Name: p.Name, Format: p.Format, Profile: p.Profile, Orientation: p.Orientation, Width: p.Width, Height: p.Height,
			FileWidth: p.FileWidth, FileHeight: p.FileHeight, Frame: p.Frame, Balance: p.Balance, Exposure: p.Exposure, Notes: p.Notes,
		}, analysis: a},
		picture: p.Reduced(sittingSide), canvas: o.Canvas,
	}
	w, h := float64(p.FileWidth), float64(p.FileHeight)
	if p.Orientation >= 5 {
		w, h = h, w
	}
	s.frame = [4]float64{float64(p.Frame.Min.X) / w, float64(p.Frame.Min.Y) / h, float64(p.Frame.Dx()) / w, float64(p.Frame.Dy()) / h}
	s.sizes()
	return s, nil
}

// sizes says how much is remembered: enough for a painter who goes to and fro
// between a few choices.
func (s *Sitting) sizes() {
	s.cuts.most, s.values.most, s.tables.most, s.spots.most, s.rigs.most, s.previews.most, s.plans.most = 24, 4, 4, 8, 8, 2, 2
}

// Photo is what was read.
func (s *Sitting) Photo() Photo { return photoOf(s.study.photo) }

// Frame is the part that is kept, left, top, width and height as shares of the
// whole upright picture.
func (s *Sitting) Frame() [4]float64 { return s.frame }

// Picture is the photo to look at.
func (s *Sitting) Picture() *image.RGBA { return s.picture.Image() }

// cut divides the photo.
func (s *Sitting) cut(d Division) *analyze.Analysis {
	a, _ := s.cuts.get(context.Background(), d, func(context.Context) (*analyze.Analysis, error) {
		return s.study.analysis.WithAccents(d.K, !d.NoAccents), nil
	})
	return a
}

// Look gives the masses of a division and the colours to mix for them. Its
// warnings are of the photo, not of the box.
func (s *Sitting) Look(w *Workspace, d Division) *AnalysisResult {
	a := s.cut(d)
	return &AnalysisResult{
		Photo: s.Photo(), Box: w.From, Range: w.rangeOf(), Masses: w.masses(a),
		Fit:     Fit{round(a.Fit.Mean, 3), round(a.Fit.P99, 3)},
		Clipped: round(a.Clipped, 5), Crushed: round(a.Crushed, 5),
		Warnings: slices.Concat(s.study.photo.Notes, a.Warnings),
	}
}

// Mask gives every pixel its mass, an index into the masses of Look.
func (s *Sitting) Mask(d Division) *analyze.Mask { return s.cut(d).Mask }

// Values is the photo in so many values.
func (s *Sitting) Values(steps int) (*analyze.Mask, []ValueStep, error) {
	v, err := s.values.get(context.Background(), steps, func(context.Context) (*analyze.ValuePlan, error) {
		return s.study.analysis.ValueSteps(steps)
	})
	if err != nil {
		return nil, nil, err
	}
	var out []ValueStep
	for _, st := range v.Steps {
		out = append(out, ValueStep{round(st.Value, 2), round(st.Share, 5)})
	}
	return v.Mask, out, nil
}

// Carried are indices of the workspace's tubes, ascending; nil for all of them.
type Carried []int

// Carry names the tubes of the workspace that are left when some, by name, are
// taken out. Names that the box does not hold are passed over: they were taken
// out of it for good. It fails where none is left.
func (w *Workspace) Carry(out []string) (Carried, error) {
	var c Carried
	for i, t := range w.Palette.Tubes {
		if !slices.ContainsFunc(out, func(n string) bool { return n == t.Name }) {
			c = append(c, i)
		}
	}
	if len(c) == 0 {
		return nil, fmt.Errorf("every tube is taken out: put one back in")
	}
	if len(c) == len(w.Palette.Tubes) {
		return nil, nil
	}
	return c, nil
}

// rig is the workspace with the tubes that are carried; colours to mix stay as
// they are with all of them.
func (s *Sitting) rig(w *Workspace, c Carried) (*Workspace, error) {
	if c == nil {
		return w, nil
	}
	return s.rigs.get(context.Background(), rigOf{w, fmt.Sprint([]int(c))}, func(context.Context) (*Workspace, error) { return w.carrying(c) })
}

// MassMix is what the carried tubes do for one mass.
type MassMix struct {
	ID      int      `json:"id"`
	Recipes []Recipe `json:"recipes"`
	Why     string   `json:"why,omitempty"`
	DE00    float64  `json:"de00"`     // of the nearest mix
	BoxDE00 float64  `json:"box_de00"` // likewise of the whole box
}

// SittingMixes are the mixes of all masses from the tubes that are carried.
type SittingMixes struct {
	Masses  []MassMix `json:"masses"`
	Carried int       `json:"carried"`
	Within3 float64   `json:"area_within_3"` // share of the area whose nearest mix is within 3 ΔE00
	Lost    []int     `json:"lost"`          // masses within 3 ΔE00 of the whole box and not of what is carried
}

// near is the ΔE00 up to which a mass counts as mixed, as for a kit.
const near = recipe.KitTolerance

// table searches for aims among the tubes c of the workspace, nil for all, and
// remembers what it finds.
func (s *Sitting) table(ctx context.Context, w *Workspace, key tableOf, aims []lab.Lab, c Carried, progress Progress) (*recipe.Table, error) {
	atlas, err := s.atlas(ctx, w, progress)
	if err != nil {
		return nil, err
	}
	return s.tables.get(ctx, key, func(ctx context.Context) (*recipe.Table, error) {
		return w.Palette.Search(ctx, aims, recipe.SearchOptions{Slack: slack, Atlas: atlas, Tubes: c, Progress: progress.at(Mixing)})
	})
}

// atlases are shared by all sittings: of a large box one takes tens of megabytes.
var atlases = kept[*recipe.Palette, *recipe.Atlas]{most: 2}

// atlas is the workspace's; it refuses a box that cannot be searched while a
// painter looks on.
func (s *Sitting) atlas(ctx context.Context, w *Workspace, progress Progress) (*recipe.Atlas, error) {
	if n := len(w.Palette.Tubes); n > recipe.KitBox {
		return nil, fmt.Errorf("%d tubes are more than the %d that can be tried while you look on: work from a smaller box", n, recipe.KitBox)
	}
	return atlases.get(ctx, w.Palette, func(ctx context.Context) (*recipe.Atlas, error) { return w.Palette.Atlas(ctx, progress.at(Mixing)) })
}

// Mixes finds mixes for the masses of a division.
func (s *Sitting) Mixes(ctx context.Context, w *Workspace, d Division, c Carried, progress Progress) (*SittingMixes, error) {
	a := s.cut(d)
	aims := make([]lab.Lab, len(a.Masses))
	for i, m := range a.Masses {
		aims[i] = w.aim(m.Lab)
	}
	out := &SittingMixes{Lost: []int{}, Carried: len(w.Palette.Tubes)}
	whole, err := s.table(ctx, w, tableOf{w.Palette, w.NoFit, d, ""}, aims, nil, progress)
	if err != nil {
		return nil, err
	}
	table, of := whole, make([]int, len(aims)) // the aim's number in each one's table
	tables := make([]*recipe.Table, len(aims))
	if c != nil {
		table = whole.Among(c)
	}
	var far []lab.Lab
	for i := range aims {
		tables[i], of[i] = table, i
		if c != nil && table.Best(i) > whole.Best(i)+slack {
			// The whole box's table leaves threes out that miss by so much more than
			// its best: mixes of the carried tubes are sought anew.
			of[i] = len(far)
			far = append(far, aims[i])
			tables[i] = nil
		}
	}
	if len(far) > 0 {
		t, err := s.table(ctx, w, tableOf{w.Palette, w.NoFit, d, fmt.Sprint([]int(c))}, far, c, progress)
		if err != nil {
			return nil, err
		}
		for i := range tables {
			if tables[i] == nil {
				tables[i] = t
			}
		}
	}
	if c != nil {
		out.Carried = len(c)
	}
	out.Masses = make([]MassMix, len(aims))
	inParallel(len(aims), func(i int) {
		list := tables[i].Recipes(of[i], w.PortionError)
		out.Masses[i] = MassMix{
			ID: a.Masses[i].ID, Recipes: w.recipes(aims[i], list), Why: why(aims[i], list),
			DE00: finiteOr(tables[i].Best(of[i]), -1), BoxDE00: finiteOr(whole.Best(i), -1),
		}
	})
	for i, m := range out.Masses {
		if m.DE00 >= 0 && m.DE00 <= near {
			out.Within3 += a.Masses[i].Share
		} else if m.BoxDE00 >= 0 && m.BoxDE00 <= near {
			out.Lost = append(out.Lost, m.ID)
		}
	}
	out.Within3 = round(out.Within3, 5)
	return out, ctx.Err()
}

// finiteOr rounds a difference, and gives otherwise where nothing was found.
func finiteOr(v, otherwise float64) float64 {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return otherwise
	}
	return round(v, 3)
}

// Spot is a place of the picture that was touched.
type Spot struct {
	X           float64  `json:"x"` // the middle, as shares of width and height
	Y           float64  `json:"y"`
	Radius      float64  `json:"radius"` // as a share of the long side
	Lab         lab.Lab  `json:"lab"`    // the mean in linear light
	Aim         lab.Lab  `json:"aim"`    // the colour to mix
	Hex         string   `json:"hex"`
	AimHex      string   `json:"aim_hex"`
	Name        string   `json:"name"`
	Value       float64  `json:"value"`
	AimValue    float64  `json:"aim_value"`
	Notation    string   `json:"notation"`
	Warmth      float64  `json:"warmth"`
	Temperature string   `json:"temperature"` // among the picture's masses
	Median      lab.Lab  `json:"median"`      // of each channel in linear light
	MedianHex   string   `json:"median_hex"`
	Uneven      float64  `json:"uneven_de00"` // mean difference of the spot's pixels from their mean
	Mass        int      `json:"mass"`        // the mass that its middle lies in
	Note        string   `json:"note,omitempty"`
	Recipes     []Recipe `json:"recipes"`
	Why         string   `json:"why,omitempty"`
}

// A spot whose pixels differ from their mean by more than this holds several
// colours that an eye tells apart at a glance (the last step of [recipe.Grade]).
const unevenSpot = 4.0

// spotOf reads the picture about a place.
func (s *Sitting) spot(x, y, radius float64) (*Spot, error) {
	if !(x >= 0 && x <= 1 && y >= 0 && y <= 1) {
		return nil, fmt.Errorf("the place %.3g, %.3g lies outside the picture: touch it inside", x, y)
	}
	if !(radius >= 0 && radius <= 0.25) {
		return nil, fmt.Errorf("a spot with a radius of %.3g of the picture: choose 0 to 0.25", radius)
	}
	p := s.picture
	cx, cy := min(int(x*float64(p.W)), p.W-1), min(int(y*float64(p.H)), p.H-1)
	r := radius * float64(max(p.W, p.H))
	var channels [3][]float32
	for py := max(0, int(float64(cy)-r)); py <= min(p.H-1, int(float64(cy)+r)); py++ {
		dy := float64(py - cy)
		half := int(math.Sqrt(max(0, r*r-dy*dy)))
		for px := max(0, cx-half); px <= min(p.W-1, cx+half); px++ {
			for c := range channels {
				channels[c] = append(channels[c], p.Pix[3*(py*p.W+px)+c])
			}
		}
	}
	var mean, median [3]float64
	n := len(channels[0])
	for c := range channels {
		for _, v := range channels[c] {
			mean[c] += float64(v)
		}
		mean[c] /= float64(n)
	}
	at := lab.FromLinear(mean[0], mean[1], mean[2])
	var uneven, counted float64
	for i := 0; i < n; i += 1 + n/4000 {
		uneven += lab.DE00(at, lab.FromLinear(float64(channels[0][i]), float64(channels[1][i]), float64(channels[2][i])))
		counted++
	}
	for c := range channels {
		slices.SortFunc(channels[c], cmp.Compare[float32])
		median[c] = (float64(channels[c][(n-1)/2]) + float64(channels[c][n/2])) / 2
	}
	middle := lab.FromLinear(median[0], median[1], median[2])
	out := &Spot{
		X: x, Y: y, Radius: radius, Lab: at, Hex: at.Hex(), Name: lab.Name(at), Value: round(at.Value(), 2), Notation: notation(at),
		Warmth: round(lab.Warmth(at), 3), Median: middle, MedianHex: middle.Hex(), Uneven: round(uneven/counted, 2), Recipes: []Recipe{},
	}
	switch {
	case max(mean[0], mean[1], mean[2]) >= 0.99:
		out.Note = "The photo is burnt out here and holds no true colour: mix this light from what you see."
	case max(mean[0], mean[1], mean[2]) <= 0.001:
		out.Note = "The photo is black here without detail: look into this shadow at the place."
	case out.Uneven > unevenSpot:
		out.Note = fmt.Sprintf("The spot holds several colours (they differ by %.0f ΔE00 from their mean): a smaller spot tells more.", out.Uneven)
	}
	return out, nil
}

// Spot reads a place of the picture, given as shares of width and height, with
// a radius as a share of the long side, and finds mixes for it from the tubes
// that are carried.
func (s *Sitting) Spot(ctx context.Context, w *Workspace, d Division, c Carried, x, y, radius float64, progress Progress) (*Spot, error) {
	out, err := s.spot(x, y, radius)
	if err != nil {
		return nil, err
	}
	a := s.cut(d)
	colours, shares := make([]lab.Lab, len(a.Masses)), make([]float64, len(a.Masses))
	for i, m := range a.Masses {
		colours[i], shares[i] = m.Lab, m.Share
	}
	out.Temperature = lab.TemperatureAmong(out.Lab, colours, shares)
	m := a.Mask
	out.Mass = a.Masses[m.Index[min(int(y*float64(m.H)), m.H-1)*m.W+min(int(x*float64(m.W)), m.W-1)]].ID
	out.Aim = w.aim(out.Lab)
	out.AimHex, out.AimValue = out.Aim.Hex(), round(out.Aim.Value(), 2)
	atlas, err := s.atlas(ctx, w, progress)
	if err != nil {
		return nil, err
	}
	table, err := s.spots.get(ctx, spotOf{w.Palette, out.Aim, fmt.Sprint([]int(c))}, func(ctx context.Context) (*recipe.Table, error) {
		return w.Palette.Search(ctx, []lab.Lab{out.Aim}, recipe.SearchOptions{Slack: slack, Atlas: atlas, Tubes: c, Progress: progress.at(Mixing)})
	})
	if err != nil {
		return nil, err
	}
	list := table.Recipes(0, w.PortionError)
	out.Recipes, out.Why = w.recipes(out.Aim, list), why(out.Aim, list)
	return out, nil
}

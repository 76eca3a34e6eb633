package card

import (
	"fmt"
	"image"
	"math"
	"slices"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
)

// Options say what is known of a swatch card. The zero value looks for a
// 24-patch chart.
type Options struct {
	// Chart is the middles of the chart's four corner patches, in turn, from
	// any of them on; nil to look for the chart.
	Chart []photo.Point
	// Grey is a grey card at one place or more. Where there is a chart it only
	// serves as a check.
	Grey []Grey
}

// A Card is a photo whose light and colours are understood.
type Card struct {
	Chart    *Chart   // nil: read by a grey card alone
	Places   []Place  // even places beside the chart, in reading order, from 1
	Check    *float64 // chart and grey card: how far the card lies from grey, ΔE00
	Method   []string // how light and colours were determined, a sentence each
	Warnings []string

	p       *photo.Photo
	regions []region
	read    reader
}

// A Place is a colour read off the card.
type Place struct {
	Number      int // from 1; 0 for a place that was pointed at
	X, Y        int // its middle, pixels of the whole upright picture
	Radius      int // of the disc that was read
	Box         image.Rectangle
	Lab         lab.Lab // D65
	Uncertainty float64 // standard deviation along each of lightness, chroma and hue, in steps of CIEDE2000
	Sample      Sample
	Faults      []string // what makes it doubtful, with the mend
}

// A Chart is the 24-patch chart as found in the picture.
type Chart struct {
	Found   bool // by itself, not pointed at
	Patches [24]ChartPatch
	Roots   bool // root-polynomial colours, not linear ones
	// Over the patches that were used, ΔE00: as fitted, and each that is not cut
	// off foretold from the others.
	Mean, Max, LeftOutMean, LeftOutMax float64
	Used                               int
	Cut                                int // patches too strong for the picture's colour space, used as far as they go
	// Curve is the camera's tone curve against sRGB's, in stops about its
	// middle grey: how much darker the darkest grey and how much lighter the
	// lightest was rendered than it is.
	Dark, Light float64
}

// A ChartPatch is one patch of the chart in the picture.
type ChartPatch struct {
	Name           string
	X, Y, Radius   int
	Used           bool
	Lab, Reference lab.Lab // D65
	DE00, LeftOut  float64
	Faults         []string
}

// reader turns the light at a place into colour.
type reader interface {
	colour(light [3]float64, at [2]float64) lab.Lab
	// doubt is the reader's own share of the uncertainty.
	doubt(light [3]float64, at [2]float64) float64
	falloff(at [2]float64) float64 // logarithm
}

// Read finds its way in a photographed swatch card: the chart, if there is
// one, light and colours by it or else by a grey card, and the even places
// that may be swatches. Which is which it does not know.
//
// It fails where there is neither chart nor grey card, or they are unusable.
func Read(p *photo.Photo, o Options) (*Card, error) {
	p = p.AsShot()
	c := &Card{p: p}
	var pp *paper
	c.regions, pp = survey(p)
	pl, err := locate(p, c.regions, o.Chart)
	if err != nil {
		return nil, err
	}
	switch {
	case pl != nil:
		if err := c.byChart(pl, pp); err != nil {
			return nil, err
		}
		c.Chart.Found = len(o.Chart) == 0
	case len(o.Grey) > 0:
		if err := c.byGrey(o.Grey, pp); err != nil {
			return nil, err
		}
	default:
		return nil, fmt.Errorf("%s: no 24-patch chart was found and no grey card was pointed at, so the light is not known: point at the middle of a grey card, or at the chart's four corner patches; a card photographed square, whole and sharp is found by itself", p.Name)
	}
	c.even(pl)
	if pl != nil && len(o.Grey) > 0 {
		if err := c.check(o.Grey); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// leastPaper is how many places a surface must show to tell a fall-off.
const leastPaper = 8

// locate finds the chart, or lays it out between four corner patches.
func locate(p *photo.Photo, regions []region, corner []photo.Point) (*placed, error) {
	if len(corner) == 0 {
		return findChart(regions), nil
	}
	if len(corner) != 4 {
		return nil, fmt.Errorf("%s: the chart has %d corners where 4 are needed: give the middles of its four corner patches", p.Name, len(corner))
	}
	var q [4][2]float64
	for i, pt := range corner {
		x, y, err := p.Pixel(pt)
		if err != nil {
			return nil, err
		}
		q[i] = [2]float64{float64(x) + 0.5, float64(y) + 0.5}
	}
	// In turn and clockwise, however they were given.
	mid := [2]float64{}
	for _, v := range q {
		mid[0] += v[0] / 4
		mid[1] += v[1] / 4
	}
	slices.SortFunc(q[:], func(a, b [2]float64) int {
		if math.Atan2(a[1]-mid[1], a[0]-mid[0]) < math.Atan2(b[1]-mid[1], b[0]-mid[0]) {
			return -1
		}
		return 1
	})
	var best *placed
	for turn := range 4 {
		var from, to [][2]float64
		for i, patch := range corners {
			from, to = append(from, cell(patch)), append(to, q[(i+turn)%4])
		}
		c, ok := place24(from, to)
		if !ok {
			continue
		}
		var patch []int
		var light [][3]float64
		for i := range c.mid {
			s := sample(p, int(c.mid[i][0]), int(c.mid[i][1]), int(c.radius[i]))
			patch, light = append(patch, i), append(light, s.Light)
		}
		if c.misfit = order(patch, light); best == nil || c.misfit < best.misfit {
			best = c
		}
	}
	if best == nil || best.misfit > mostMisfit {
		return nil, fmt.Errorf("%s: the colours between the four corners given are not those of the 24-patch chart, or too dark, burnt out or noisy to tell; give the middles of its four corner patches (dark skin, bluish green, black, white)", p.Name)
	}
	return best, nil
}

// byChart understands the picture by the chart in it.
func (c *Card) byChart(pl *placed, pp *paper) error {
	p := c.p
	ch := &Chart{}
	c.Chart = ch
	var patches [24]chartPatch
	origin := [2]float64{}
	greys := 0
	for i := range patches {
		x, y, r := int(pl.mid[i][0]), int(pl.mid[i][1]), int(pl.radius[i])
		if x < 0 || y < 0 || x >= p.Width || y >= p.Height {
			return fmt.Errorf("%s: the chart reaches out of the picture: photograph all of it", p.Name)
		}
		s := sample(p, x, y, r)
		q := ChartPatch{Name: Reference[i].Name, X: x, Y: y, Radius: s.Radius, Reference: Reference[i].Lab(), Faults: s.spoilt("the chart's " + Reference[i].Name + " patch")}
		patches[i] = chartPatch{light: s.Light, at: pl.mid[i], cut: -1}
		if s.Burnt < mostBurnt && max(s.Light[0], s.Light[1], s.Light[2]) > darkestPatch && s.Pixels >= 5 {
			patches[i].weight = 1
			if s.cut() {
				patches[i].cut = slices.Index(s.Light[:], slices.Min(s.Light[:]))
				ch.Cut++
			}
			q.Used = true
			ch.Used++
			if i >= firstNeutral {
				greys++
			}
		}
		ch.Patches[i] = q
		origin[0] += pl.mid[i][0] / 24
		origin[1] += pl.mid[i][1] / 24
	}
	if ch.Used < leastSeen || greys < 3 {
		return fmt.Errorf("%s: only %d of the chart's 24 patches can be used, %d of them greys, since the others are burnt out, drowned or too small: photograph it again, nearer and with another exposure", p.Name, ch.Used, greys)
	}
	span := float64(max(p.Width, p.Height)) / 2
	sound := pp.sound(span)
	e := newEvidence(patches, sound)
	s := e.best(origin, span)
	if s == nil {
		return fmt.Errorf("%s: the chart's greys cannot be told apart; photograph it again with an exposure that keeps white and black apart", p.Name)
	}
	c.read = s
	ch.Roots = s.model.terms > 3
	cv := s.model.curve()
	for i := range ch.Patches {
		q := &ch.Patches[i]
		q.Lab = s.shown[i]
		q.DE00, q.LeftOut = s.fitted[i], s.leftOut[i]
		if q.Used {
			ch.Mean += q.DE00 / float64(ch.Used)
			ch.Max = max(ch.Max, q.DE00)
			if patches[i].cut < 0 {
				ch.LeftOutMean += q.LeftOut / float64(max(1, ch.Used-ch.Cut))
				ch.LeftOutMax = max(ch.LeftOutMax, q.LeftOut)
			}
		}
		if q.Used && q.DE00 > mostPatch {
			q.Faults = append(q.Faults, fmt.Sprintf("the chart's %s patch lies %.1f ΔE00 from what the others say: look for dirt, shine or a shadow on it", q.Name, q.DE00))
		}
		c.Warnings = append(c.Warnings, q.Faults...)
	}
	n := len(cv.in) - 1
	ch.Dark, ch.Light = (cv.out[0]-cv.in[0])/math.Ln2, (cv.in[n]-cv.out[n])/math.Ln2
	kind := "a linear matrix"
	if ch.Roots {
		kind = "a root-polynomial, which foretells left-out patches better than a linear matrix"
	}
	c.Method = append(c.Method,
		fmt.Sprintf("Colours come from %d of the chart's 24 patches by %s: they come back within %.1f ΔE00 on average and %.1f at most, and %.1f and %.1f where each is foretold from the others.", ch.Used, kind, ch.Mean, ch.Max, ch.LeftOutMean, ch.LeftOutMax),
		curveWords(ch.Dark, ch.Light))
	if ch.Cut > 0 {
		c.Method = append(c.Method, fmt.Sprintf("%d of the patches are too strong for the picture's colour space, which cut a channel off at 0; they count as far as they go.", ch.Cut))
	}
	if ch.Mean > 4 {
		c.warn("the chart comes back no nearer than %.1f ΔE00 on average: mixed lights, shine on the chart or another chart? The readings are worth that little", ch.Mean)
	}
	c.shade(pp, sound, s.falloff, func(v [3]float64) float64 { return (cv.log(v[0]) + cv.log(v[1]) + cv.log(v[2])) / 3 })
	return nil
}

// darkestPatch is the light below which a patch of the chart is only noise.
const darkestPatch = 0.004

// mostPatch is the ΔE00 from which a patch of the chart is worth a word.
const mostPatch = 6.0

func curveWords(dark, light float64) string {
	if max(math.Abs(dark), math.Abs(light)) < 0.1 {
		return "The greys of the chart follow sRGB's curve: the camera added none of its own."
	}
	say := func(v float64, up, down string) string {
		switch {
		case math.Abs(v) < 0.05:
			return "as it was"
		case v < 0:
			return fmt.Sprintf("%.1f stops %s", -v, down)
		}
		return fmt.Sprintf("%.1f stops %s", v, up)
	}
	return fmt.Sprintf("The camera's tone curve was taken off, by the chart's greys: beside the middle one it had rendered the darkest %s and the lightest %s.", say(dark, "too dark", "too light"), say(light, "too light", "too dark"))
}

func (c *Card) warn(format string, args ...any) {
	c.Warnings = append(c.Warnings, fmt.Sprintf(format, args...))
}

// shade says how evenly the card was lit, by the sound part of its paper, and
// warns of shadows on it.
func (c *Card) shade(pp, sound *paper, falloff func([2]float64) float64, logOf func([3]float64) float64) {
	if sound == nil {
		what := "grey card"
		if c.Chart != nil {
			what = "chart"
		}
		c.Method = append(c.Method, "How the light falls off was judged from the "+what+" alone.")
		c.warn("no even paper was found around the swatches, so what the light does away from the %s is a guess: lay the swatches on white paper, with a hand's breadth of it showing", what)
		return
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, at := range sound.at {
		s := falloff(at)
		lo, hi = min(lo, s), max(hi, s)
	}
	if spread := sound.tinge(); spread > mostTinge {
		c.warn("the card's paper changes colour by %.0f %% from place to place, as where two lights of unlike colour meet; one correction for all then leaves a cast: light the card by one light alone", 100*spread)
	}
	off := make([]float64, len(pp.at))
	for i, at := range pp.at {
		off[i] = logOf(pp.light[i]) - falloff(at)
	}
	c.Method = append(c.Method, fmt.Sprintf("The light falls off by %.0f %% over the card, by its paper at %d places; that was evened out by a smooth surface.", 100*(1-math.Exp(lo-hi)), len(sound.at)))
	mid := median(off)
	dark, where := 0, -1
	for i, v := range off {
		if v-mid < -shadowStep {
			dark++
			if where < 0 || v < off[where] {
				where = i
			}
		}
	}
	if dark >= 2 {
		c.warn("a shadow or a stain lies on the card: its paper at %.0f,%.0f is %.0f %% darker than a smooth fall-off explains; swatches in it read too dark: light the card from one side with nothing between", pp.at[where][0], pp.at[where][1], 100*(1-math.Exp(off[where]-mid)))
	}
}

// mostTinge is how much the ratio of channels may change over paper, logarithm.
const mostTinge = 0.08

// shadowStep is how much darker paper is in a shadow, logarithm.
const shadowStep = 0.08

func median(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[len(s)/2]
}

// even numbers the even places beside the chart in reading order.
func (c *Card) even(pl *placed) {
	var rs []region
	for _, r := range c.regions {
		if pl == nil || !pl.covers(r.mid) {
			rs = append(rs, r)
		}
	}
	// Rows: what lies within half its height of a row's first place.
	slices.SortFunc(rs, func(a, b region) int { return cmpFloat(a.mid[1], b.mid[1]) })
	for len(rs) > 0 {
		n := 1
		for n < len(rs) && rs[n].mid[1]-rs[0].mid[1] < float64(rs[0].box.Dy())/2 {
			n++
		}
		row := slices.Clone(rs[:n])
		rs = rs[n:]
		slices.SortFunc(row, func(a, b region) int { return cmpFloat(a.mid[0], b.mid[0]) })
		for _, r := range row {
			q := c.place(int(r.mid[0]), int(r.mid[1]), max(2, int(0.6*r.radius)))
			q.Number, q.Box = len(c.Places)+1, r.box.Add(c.p.Frame.Min)
			q.Faults = q.Sample.faults(fmt.Sprintf("place %d", q.Number))
			c.Places = append(c.Places, q)
		}
	}
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// covers says whether a place lies on the chart, half a step of margin
// included.
func (pl *placed) covers(at [2]float64) bool {
	var from, to [][2]float64
	for i := range pl.mid {
		from, to = append(from, pl.mid[i]), append(to, cell(i))
	}
	m, ok := homography(from, to)
	if !ok {
		return false
	}
	q, ok := through(&m, at)
	return ok && q[0] > -0.8 && q[1] > -0.8 && q[0] < chartColumns-0.2 && q[1] < chartRows-0.2
}

// place reads a disc, pixels of what was read.
func (c *Card) place(x, y, radius int) Place {
	s := sample(c.p, x, y, radius)
	at := [2]float64{float64(x) + 0.5, float64(y) + 0.5}
	q := Place{X: x + c.p.Frame.Min.X, Y: y + c.p.Frame.Min.Y, Radius: s.Radius, Sample: s, Lab: c.read.colour(s.Light, at)}
	q.Box = image.Rect(q.X-s.Radius, q.Y-s.Radius, q.X+s.Radius+1, q.Y+s.Radius+1)
	metric := lab.Steps(q.Lab)
	noise := 0.0
	for k := range s.Error {
		v := s.Light
		v[k] += s.Error[k]
		r := stepsBetween(&metric, c.read.colour(v, at), q.Lab)
		noise += sum2(r[:]) / 3
	}
	q.Uncertainty = quadrature(math.Sqrt(noise), c.read.doubt(s.Light, at))
	return q
}

// At reads a place that was pointed at. It fails outside the picture, and
// where the place is burnt out or black.
func (c *Card) At(pt photo.Point) (Place, error) {
	x, y, err := c.p.Pixel(pt)
	if err != nil {
		return Place{}, err
	}
	r := usualRadius(c.p)
	for i := range c.regions {
		if q := &c.regions[i]; (image.Point{x, y}).In(q.box) {
			r = min(r, max(2, int(0.7*q.radius)))
		}
	}
	q := c.place(x, y, r)
	what := "the place " + pt.String()
	if err := q.Sample.usable(c.p.Name, what); err != nil {
		return Place{}, err
	}
	q.Faults = q.Sample.faults(what)
	return q, nil
}

// Numbered is one of Places.
func (c *Card) Numbered(n int) (Place, error) {
	if n < 1 || n > len(c.Places) {
		have := "none was found; point at it by x,y"
		if len(c.Places) > 0 {
			have = fmt.Sprintf("they run from 1 to %d", len(c.Places))
		}
		return Place{}, fmt.Errorf("%s: no place has the number %d: %s", c.p.Name, n, have)
	}
	q := c.Places[n-1]
	if err := q.Sample.usable(c.p.Name, fmt.Sprintf("place %d", n)); err != nil {
		return Place{}, err
	}
	return q, nil
}

// check reads the grey card by the chart.
func (c *Card) check(greys []Grey) error {
	worst := 0.0
	for _, g := range greys {
		q, err := c.At(g.Place)
		if err != nil {
			return err
		}
		worst = max(worst, lab.DE00(lab.Lab{L: q.Lab.L}, q.Lab))
	}
	c.Check = &worst
	if worst > 3 {
		c.warn("by the chart, the grey card lies %.1f ΔE00 from neutral: is it in the same light, and grey?", worst)
	}
	return nil
}

func (s *solved) colour(light [3]float64, at [2]float64) lab.Lab {
	return s.model.colour(s.model.curve(), light, at)
}

func (s *solved) falloff(at [2]float64) float64 { return s.model.falloff(at) }

// doubt is what the fit leaves open, and how far left-out patches of the chart
// come out: a swatch's spectrum is as new to the fit as theirs.
func (s *solved) doubt(light [3]float64, at [2]float64) float64 {
	return quadrature(s.spread, s.open(light, at))
}

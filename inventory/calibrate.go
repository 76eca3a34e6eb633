package inventory

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Report says how well a calibration stands.
type Report struct {
	White    string // the white all tints were read against
	Tubes    []TubeReport
	Warnings []string
}

// TubeReport is the part of one tube.
type TubeReport struct {
	Tube     string
	CI       []string
	Start    string  // what was believed before the readings: "the library's PB29", "nothing"
	Strength float64 // tinting strength beside the library's paint of that code; 0 if there is none to compare
	Rows     []RowReport
	Residual float64 // mean ΔE00 of the readings against the fitted paint
	LeftOut  float64 // mean ΔE00 of each reading foretold from the tube's others; -1 with a single one
}

// RowReport is one reading against what the fitted paint gives.
type RowReport struct {
	Line       int    // in the readings file; 0 if not from one
	Drawdown   string // "masstone", "1 to 4 white"
	Residual   float64
	LeftOut    float64 // ΔE00 when foretold from the tube's other readings; -1 if there are none
	Suspicious string  // why the row looks wrong; empty if it does not
}

// What strength is worth as one sigma in natural logarithm, as common practice
// has it (no source): batch to batch and tube to tube once calibrated.
const strengthCalibrated = 0.15

// What the theory will miss of a mix is in no fit. A tube therefore states, in
// addition to what its fit leaves open, a level, a tilt and a bend of log K and
// of log S, each with a standard deviation of theory. With it bounds of nine in
// ten hold nine in ten of the oil set's films (Geldof et al., Heritage Science
// 6:17, 2018) that were kept out of the fit, from spectra and from Lab colours;
// cmd/accuracy finds it on half of the paints and tries it on the others.
const theory, theoryCurves = 0.22, 3

// keptModes is how many open directions of a fit a tube carries, beside its
// strength.
const keptModes = 10

// Calibrate fits the tubes of a set of readings: the white first, then the
// black, then the others, each against those before. The result is a new box:
// present, which may be nil and is left alone, with the measured tubes in it
// or in place of those of the same name; the set's white becomes the box's.
// Where the set has no white of its own, the box's white stands for it, or
// else the library's titanium white. Constants are on the scale on which
// titanium white scatters 1.
func Calibrate(rd *Readings, present *Box) (*Box, *Report, error) {
	return calibrate(rd, present, true)
}

// CalibrateBox is [Calibrate] without the report, which takes most of its time:
// for that each reading is foretold from the others.
func CalibrateBox(rd *Readings, present *Box) (*Box, error) {
	b, _, err := calibrate(rd, present, false)
	return b, err
}

// calibrate is Calibrate; leaveOut is whether each reading is also foretold
// from the others, which takes most of the time.
func calibrate(rd *Readings, present *Box, leaveOut bool) (*Box, *Report, error) {
	c := &calibration{rd: rd, leaving: leaveOut, report: &Report{Warnings: slices.Clone(rd.Notes)}, paints: map[string]*Tube{}}
	if present == nil {
		base := filepath.Base(rd.Name)
		present = &Box{Name: oneLine(strings.TrimSuffix(base, filepath.Ext(base)))}
	}
	c.present = present
	c.dryRows()
	c.shine()
	if err := c.sort(); err != nil {
		return nil, nil, err
	}
	if err := c.whites(); err != nil {
		return nil, nil, err
	}
	if err := c.tubes(); err != nil {
		return nil, nil, err
	}
	if err := c.drying(); err != nil {
		return nil, nil, err
	}
	return c.box(), c.report, nil
}

type calibration struct {
	rd      *Readings
	present *Box
	report  *Report

	whiteRows, blackRows, others []MeasuredTube
	wet                          []MeasuredTube // films read before they dried

	leaving bool
	turned  bool          // L and b seem to stand in each other's columns
	like    *optics.Prior // a paint such as the library's; nil until needed
	noise   optics.Noise
	shift   float64          // of all tubes' strengths from what the library expects, natural logarithm
	apart   float64          // how much wider than usual they lie, standard deviation
	fitted  []*Tube          // in the order they were fitted
	paints  map[string]*Tube // by lower-case name: the set's own
	white   *Tube            // what white_parts means where no white is named
	black   *Tube            // what black_parts means; nil until needed
}

func (c *calibration) warn(format string, args ...any) {
	s := fmt.Sprintf(format, args...)
	if !slices.Contains(c.report.Warnings, s) {
		c.report.Warnings = append(c.report.Warnings, s)
	}
}

func nameHas(name, word string) bool {
	return strings.Contains(strings.ToLower(name), strings.ToLower(word))
}

// mustFind is a pigment that the library holds for certain.
func mustFind(key string) *Pigment {
	p, err := Find(key)
	if err != nil {
		panic(err)
	}
	return p
}

// sort tells whites, blacks and other tubes apart.
func (c *calibration) sort() error {
	var greys, loose []Reading // rows without a tube of their own: white with black, white alone
	for _, t := range c.rd.Tubes {
		if len(t.CI) == 0 {
			if p := c.present.Tube(t.Name); p != nil {
				t.CI = p.CI
			}
		}
		var own, white []Reading
		isBlack := blackCodes(t.CI) || len(t.CI) == 0 && nameHas(t.Name, "black")
		for _, r := range t.Rows {
			switch {
			case isBlack && r.Black > 0: // the black's own parts may stand in either column
				r.Paint, r.Black = r.Paint+r.Black, 0
				own = append(own, r)
			case r.Paint > 0:
				own = append(own, r)
			case r.Black > 0:
				greys = append(greys, r)
			default:
				white = append(white, r)
			}
		}
		if len(white) > 0 {
			if len(own) > 0 && !whiteCodes(t.CI) && !nameHas(t.Name, "white") {
				loose = append(loose, white...) // the white's row repeated under a tube
			} else {
				w := t
				for _, r := range own {
					if r.Masstone() {
						white = append(white, r)
					} else {
						c.warn("line %d: a mix of %s with another white was left out: a white is fitted from its own rows", r.Line, t.Name)
					}
				}
				w.Rows = white
				c.whiteRows = append(c.whiteRows, w)
				continue
			}
		}
		if len(own) == 0 {
			continue
		}
		t.Rows = own
		if isBlack {
			c.blackRows = append(c.blackRows, t)
		} else {
			c.others = append(c.others, t)
		}
	}
	if len(c.whiteRows) == 0 && len(loose) > 0 {
		c.whiteRows = []MeasuredTube{{Name: "white", Line: loose[0].Line, Rows: loose}}
	}
	rest := c.others[:0:0]
	for _, t := range c.others {
		if !t.seemsWhite() {
			rest = append(rest, t)
			continue
		}
		c.warn("line %d: %s has paint_parts above 0 and nothing else in it: read as a white's own row", t.Line, t.Name)
		c.whiteRows = append(c.whiteRows, t)
	}
	c.others = rest
	if at := plainWhite(c.others); at >= 0 && len(c.whiteRows) == 0 {
		t := c.others[at]
		looks := fmt.Sprintf("line %d: %s has no code, but is nearly neutral and lighter than L* %d, and no other row is a white's", t.Line, t.Name, plainWhiteL)
		if w := c.present.White(); w != nil {
			c.warn("%s: if tints were made with it and not with the box's %s, give its code, such as PW6, or paint_parts 0", looks, w.Name)
		} else {
			c.warn("%s: taken as the white that tints were made with; give its code, such as PW6, or paint_parts 0, to be sure", looks)
			c.whiteRows, c.others = []MeasuredTube{t}, slices.Delete(c.others, at, at+1)
		}
	}
	if len(greys) > 0 {
		for i := range greys {
			greys[i].Paint, greys[i].Black = greys[i].Black, 0
		}
		if len(c.blackRows) > 0 {
			c.blackRows[0].Rows = append(c.blackRows[0].Rows, greys...)
		} else {
			t := MeasuredTube{Name: "black", Line: greys[0].Line, Rows: greys}
			if b := boxBlack(c.present); b != nil {
				t.Name, t.CI = b.Name, b.CI
			}
			c.blackRows = []MeasuredTube{t}
		}
	}
	if len(c.whiteRows)+len(c.blackRows)+len(c.others) == 0 {
		return fmt.Errorf("%s: no readings", c.rd.Name)
	}
	return nil
}

// boxBlack is the box's black: the first tube whose codes are blacks, or whose
// name says so.
func boxBlack(b *Box) *Tube {
	for _, t := range b.Tubes {
		if blackCodes(t.CI) {
			return t
		}
	}
	for _, t := range b.Tubes {
		if len(t.CI) == 0 && nameHas(t.Name, "black") {
			return t
		}
	}
	return nil
}

// whites fits the set's whites, or finds the one the tints were made with.
func (c *calibration) whites() error {
	for _, t := range c.whiteRows {
		w, err := c.fitWhite(t)
		if err != nil {
			return err
		}
		if c.white == nil {
			c.white = w
		}
	}
	if len(c.whiteRows) > 1 && c.unnamedWhite() {
		c.warn("%d whites were measured: tints that do not name theirs were read against the first, %s; a column white names another", len(c.whiteRows), c.white.Name)
	}
	if c.white == nil {
		if c.white = c.present.White(); c.white != nil {
			c.warn("no row of the white alone (paint_parts 0): tints were read against the box's %s", c.white.Name)
		} else {
			c.white = mustFind("PW6").Tube()
			c.warn("no row of the white alone (paint_parts 0): tints were read against the library's titanium white, which is put into the box; measure your own white for surer tints")
		}
	}
	c.report.White = c.white.Name
	return nil
}

func (c *calibration) unnamedWhite() bool {
	for _, g := range [][]MeasuredTube{c.blackRows, c.others} {
		for _, t := range g {
			for _, r := range t.Rows {
				if r.White > 0 && r.WhiteTube == "" {
					return true
				}
			}
		}
	}
	return false
}

// leastKS keeps a white that reads as bright as the perfect diffuser from
// absorbing nothing at all.
const leastKS = 1e-6

// fitWhite gives a white's constants from its own film: S is the library's for
// its code, 1 where there is none, and K follows from K/S.
func (c *calibration) fitWhite(m MeasuredTube) (*Tube, error) {
	for i := range m.Rows {
		r := &m.Rows[i]
		if err := c.mustBeWhite(&m, r); err != nil {
			return nil, err
		}
		r.Paint, r.White, r.Black = 1, 0, 0
	}
	start, _ := libraryTube(m.CI, m.Name)
	if start == nil || !start.White {
		start = mustFind("PW6").Tube()
	}
	films, err := c.films(m)
	if err != nil {
		return nil, err
	}
	paint := start.Paint
	var spectra, labs []film
	for _, f := range films {
		if f.Spectrum != nil {
			spectra = append(spectra, f)
		} else {
			labs = append(labs, f)
		}
	}
	var spread *mat.SymDense
	if len(spectra) > 0 {
		var q optics.Spectrum
		for _, f := range spectra {
			in := optics.DrySurface.Inside(*f.Spectrum, f.Finish)
			for i := range q {
				q[i] += in[i] / float64(len(spectra))
			}
		}
		for i := range q {
			paint.K[i] = max(optics.RToKS(q[i]), leastKS) * paint.S[i]
		}
	} else {
		fit, err := fitTo(merged(labs), optics.WhitePrior(&paint), optics.UsualNoise)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %s: %w", c.rd.Name, m.Line, m.Name, err)
		}
		paint.K, spread = fit.Paint.K, fit.Spread
	}
	t := &Tube{}
	c.measured(m, t, "", paint, spread)
	c.reportTube(t, films, "the library's "+start.Code(), nil)
	return t, nil
}

// job is the fitting of one tube that is no white.
type job struct {
	MeasuredTube
	tube   *Tube
	films  []film
	belief belief
	fit    *optics.Fitted
	odd    map[int]string // rows that look wrong beside the code, and why
}

// Bounds on how much better or worse than usual a set of readings may turn out.
const leastNoise, mostNoise = 0.15, 2

// tubes fits blacks, then the others. A first pass with the usual noise says
// by its misfit what these readings are worth, and what all tubes share; the
// second takes them at that.
func (c *calibration) tubes() error {
	c.black = boxBlack(c.present)
	var jobs []*job
	for i, m := range append(slices.Clone(c.blackRows), c.others...) {
		j := &job{MeasuredTube: m, tube: &Tube{Name: m.Name}}
		jobs = append(jobs, j)
		c.paints[strings.ToLower(m.Name)] = j.tube
		if i == 0 && len(c.blackRows) > 0 {
			c.black = j.tube
		}
	}
	c.noise = optics.UsualNoise
	for pass := range 2 {
		misfit, free := 0.0, 0.0
		for _, j := range jobs {
			var err error
			if pass == 0 {
				if j.films, err = c.films(j.MeasuredTube); err != nil {
					return err
				}
			}
			if j.belief, j.fit, err = c.believe(j.MeasuredTube, j.films); err != nil {
				return fmt.Errorf("%s:%d: %s: %w", c.rd.Name, j.Line, j.Name, err)
			}
			j.tube.Paint = j.fit.Paint
			// Two films can always be met by some paint; from the third on the
			// theory itself is tested.
			if len(merged(j.films)) > 2 {
				misfit += j.fit.Misfit
				free += j.fit.Free
			}
		}
		if pass == 0 {
			// Eight usual residuals a tube keep a small set from believing its
			// own luck; and only half of the way (in logarithm) is gone, since
			// errors that run smoothly along wavelength hide in the fit.
			worth := 8 * float64(len(jobs))
			f := math.Sqrt(math.Sqrt((misfit + worth) / (free + worth)))
			c.noise = optics.UsualNoise.Scaled(max(leastNoise, min(mostNoise, f)))
			c.otherWhites(jobs)
			c.scale(jobs)
		}
	}
	for _, j := range jobs {
		c.measured(j.MeasuredTube, j.tube, j.belief.label, j.fit.Paint, j.fit.Spread)
	}
	c.wrongRows(jobs)
	for _, j := range jobs {
		c.reportTube(j.tube, j.films, j.belief.label, j)
	}
	return nil
}

// film is a reading with the known paints that are in it.
type film struct {
	Reading
	with   []*optics.Paint
	withOf []float64
	share  float64 // of the paint being fitted
}

// predicted is the colour the film has if its paint is p, in the reading's
// finish and under its illuminant.
func (f *film) predicted(p *optics.Paint) lab.Lab {
	m := p
	if len(f.with) > 0 {
		mix := optics.Mix(append([]*optics.Paint{p}, f.with...), append([]float64{f.Paint}, f.withOf...))
		m = &mix
	}
	s := m.Reflectance(f.Finish)
	return s.Lab(f.Illuminant)
}

// off is how far the film's reading lies from what p gives, ΔE00.
func (f *film) off(p *optics.Paint) float64 {
	return lab.DE00(f.predicted(p), f.Colour())
}

// films looks up the whites and blacks in a tube's rows.
func (c *calibration) films(m MeasuredTube) ([]film, error) {
	var out []film
	for _, r := range m.Rows {
		f := film{Reading: r}
		total := r.Paint
		add := func(parts float64, name string, usual *Tube, what string) error {
			if parts == 0 {
				return nil
			}
			t := usual
			if name != "" {
				if t = c.paints[strings.ToLower(name)]; t == nil {
					t = c.present.Tube(name)
				}
			}
			if t == nil && name != "" {
				return fmt.Errorf("%s:%d: %s %q is neither in these readings nor in the box; give its own rows", c.rd.Name, r.Line, what, name)
			}
			total += parts
			f.with, f.withOf = append(f.with, &t.Paint), append(f.withOf, parts)
			return nil
		}
		if err := add(r.White, r.WhiteTube, c.white, "white"); err != nil {
			return nil, err
		}
		if r.Black > 0 && c.black == nil && r.BlackTube == "" {
			c.black = mustFind("PBk9").Tube()
			c.warn("no rows of the black alone: greys were read against the library's bone black; measure your own black for surer greys")
		}
		if err := add(r.Black, r.BlackTube, c.black, "black"); err != nil {
			return nil, err
		}
		f.share = r.Paint / total
		out = append(out, f)
	}
	return out, nil
}

// strengthBeside is the factor between two paints' absorption, weighted by
// where the second absorbs.
func strengthBeside(p, q *optics.Paint) float64 {
	sum, weight := 0.0, 0.0
	for i := range q.K {
		sum += q.K[i] * math.Log(p.K[i]/q.K[i])
		weight += q.K[i]
	}
	return math.Exp(sum / weight)
}

// merged averages readings of the same drawdown, which would otherwise count
// twice for what the theory itself misses.
func merged(films []film) []film {
	var out []film
	var n []float64
next:
	for _, f := range films {
		for i := range out {
			o := &out[i]
			if !sameDrawdown(o, &f) {
				continue
			}
			n[i]++
			if f.Spectrum != nil {
				s := *o.Spectrum
				for b := range s {
					s[b] += (f.Spectrum[b] - s[b]) / n[i]
				}
				o.Spectrum = &s
			} else {
				o.Lab.L += (f.Lab.L - o.Lab.L) / n[i]
				o.Lab.A += (f.Lab.A - o.Lab.A) / n[i]
				o.Lab.B += (f.Lab.B - o.Lab.B) / n[i]
				o.Uncertainty += (f.Uncertainty - o.Uncertainty) / n[i]
			}
			continue next
		}
		out, n = append(out, f), append(n, 1)
	}
	return out
}

func sameDrawdown(a, b *film) bool {
	if (a.Spectrum == nil) != (b.Spectrum == nil) || a.Finish != b.Finish || a.Illuminant != b.Illuminant || len(a.with) != len(b.with) || math.Abs(a.share-b.share) > 1e-6 {
		return false
	}
	for i := range a.with {
		if a.with[i] != b.with[i] || math.Abs(a.withOf[i]/a.Paint-b.withOf[i]/b.Paint) > 1e-6*(1+a.withOf[i]/a.Paint) {
			return false
		}
	}
	return true
}

// measured makes the tube of a fit: the library's words for its code, the
// present tube's own data, the fitted constants.
func (c *calibration) measured(m MeasuredTube, t *Tube, start string, paint optics.Paint, spread *mat.SymDense) {
	if lib, _ := libraryTube(m.CI, m.Name); lib != nil {
		*t = *lib
	}
	if p := c.present.Tube(m.Name); p != nil {
		t.Name, t.Medium, t.SizeML, t.LeftML, t.Note = p.Name, p.Medium, p.SizeML, p.LeftML, p.Note
	} else {
		t.Name = m.Name
	}
	t.CI = m.CI
	t.White = t.White || whiteCodes(m.CI) || slices.ContainsFunc(c.whiteRows, func(w MeasuredTube) bool { return w.Name == m.Name })
	t.Provenance = Measured
	spectra := 0
	t.Readings = nil
	for _, r := range m.Rows {
		if r.Spectrum != nil {
			spectra++
		}
		r.Line = 0
		t.Readings = append(t.Readings, r)
	}
	kind := "spectra"
	if spectra == 0 {
		kind = "Lab readings"
	} else if spectra < len(m.Rows) {
		kind = "readings, spectra and Lab"
	}
	if len(m.Rows) == 1 {
		kind = strings.NewReplacer("spectra", "spectrum", "readings", "reading").Replace(kind)
	}
	t.Source = fmt.Sprintf("%d %s in %s", len(m.Rows), kind, oneLine(filepath.Base(c.rd.Name)))
	if start != "" {
		t.Source += ", starting from " + start
	}
	t.Paint = rounded(paint)
	strength := strengthCalibrated
	if t.White {
		strength = whiteShape.Strength
	}
	t.Modes = append([]optics.Mode{{DK: optics.Flat(strength), DS: optics.Flat(strength)}}, openModes(spread)...)
	c.fitted = append(c.fitted, t)
	c.paints[strings.ToLower(t.Name)] = t
}

// openModes is what is open of a fitted paint beside its strength: what the
// fit leaves, which is nil for a white's spectrum, and what theory misses.
func openModes(spread *mat.SymDense) []optics.Mode {
	c := mat.NewSymDense(2*optics.Bands, nil)
	if spread != nil {
		c.CopySym(spread)
	}
	for i := range optics.Bands {
		for j := i; j < optics.Bands; j++ {
			v := 0.0
			for n := range theoryCurves {
				wave := func(b int) float64 { return math.Cos(math.Pi * float64(n) * (float64(b) + 0.5) / optics.Bands) }
				v += theory * theory * wave(i) * wave(j)
			}
			c.SetSym(i, j, c.At(i, j)+v)
			c.SetSym(optics.Bands+i, optics.Bands+j, c.At(optics.Bands+i, optics.Bands+j)+v)
		}
	}
	modes := optics.ModesOf(c, keptModes)
	for m := range modes {
		for i := range optics.Bands {
			modes[m].DK[i], modes[m].DS[i] = signif(modes[m].DK[i], 3), signif(modes[m].DS[i], 3)
		}
	}
	return modes
}

// rounded keeps six digits of the constants, as a box file does.
func rounded(p optics.Paint) optics.Paint {
	for i := range p.K {
		p.K[i], p.S[i] = signif(p.K[i], 6), signif(p.S[i], 6)
	}
	return p
}

// reportTube sets each reading beside the fit, and, for what is no white,
// beside the fit to its other readings.
func (c *calibration) reportTube(t *Tube, films []film, label string, j *job) {
	r := TubeReport{Tube: t.Name, CI: t.CI, Start: label, LeftOut: -1}
	for i := range films {
		f := &films[i]
		row := RowReport{Line: f.Line, Drawdown: f.parts(), Residual: f.off(&t.Paint), LeftOut: -1}
		if j != nil {
			row.Suspicious = j.odd[i]
		}
		r.Residual += row.Residual / float64(len(films))
		r.Rows = append(r.Rows, row)
	}
	if j != nil {
		if b := &j.belief; b.paint != nil && slices.ContainsFunc(films, func(f film) bool { return f.share < 0.95 }) {
			r.Strength = strengthBeside(&t.Paint, b.paint)
		}
		c.leaveOut(&r, j)
	}
	c.report.Tubes = append(c.report.Tubes, r)
}

// box puts the fitted tubes into a copy of the present box.
func (c *calibration) box() *Box {
	b := &Box{Name: c.present.Name, Finish: c.rd.Finish(), Notes: slices.Clone(c.present.Notes)}
	if b.Finish == nil {
		b.Finish = c.present.Finish
		c.warn("some readings count the surface's reflection and some do not: each was fitted as it is, and predictions keep the box's own finish")
	}
	own := 0
	for _, t := range c.present.Tubes {
		if n := c.paints[strings.ToLower(strings.TrimSpace(t.Name))]; n != nil {
			b.Tubes = append(b.Tubes, n)
			continue
		}
		if len(t.Readings) == 0 && !t.White {
			own++
		}
		b.Tubes = append(b.Tubes, t)
	}
	for _, t := range c.fitted {
		if !slices.Contains(b.Tubes, t) {
			b.Tubes = append(b.Tubes, t)
		}
	}
	if !slices.ContainsFunc(b.Tubes, func(t *Tube) bool { return t.White }) {
		b.Tubes = append([]*Tube{c.white}, b.Tubes...)
	}
	if len(c.whiteRows) > 0 {
		at := slices.Index(b.Tubes, c.white)
		b.Tubes = slices.Insert(slices.Delete(b.Tubes, at, at+1), 0, c.white)
		if own > 0 {
			c.warn("tubes of the box without readings (%d) keep the library's constants: how far they go beside your %s is its guess", own, c.white.Name)
		}
	}
	return b
}

// Check fits a tube of the box to its own readings again and says how well
// they agree, each also foretold from the others; nil where it has none, or
// where they no longer lead to a paint, as when the white they name has gone.
func (b *Box) Check(t *Tube) *TubeReport {
	if len(t.Readings) == 0 {
		return nil
	}
	m := MeasuredTube{Name: t.Name, CI: t.CI, Rows: slices.Clone(t.Readings)}
	rest := &Box{Finish: b.Finish, Tubes: slices.DeleteFunc(slices.Clone(b.Tubes), func(o *Tube) bool { return o == t })}
	if t.White {
		for i := range m.Rows {
			m.Rows[i].Paint, m.Rows[i].White = 0, 1
		}
	}
	_, r, err := calibrate(&Readings{Name: "the box", Tubes: []MeasuredTube{m}}, rest, true)
	if err != nil || len(r.Tubes) == 0 {
		return nil
	}
	return &r.Tubes[0]
}

package plan

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"image"
	"io"
	"io/fs"
	"strconv"
	"strings"

	"paintout/analyze/card"
	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/inventory"
	"paintout/recipe"
)

// MeasureOptions say how a photographed swatch card is read.
type MeasureOptions struct {
	Photo    string        // file; where Data is given, only its name
	Data     []byte        // the photo's file, where it is in memory
	Chart    []photo.Point // middles of the chart's corner patches; nil to look for it
	Grey     []card.Grey   // grey card
	Swatches []string      // NAME@PLACE, see [inventory.ParseDrawdownName] and [card.ParsePlace]
	List     string        // file of swatches, see [card.ParseList]
	Box      string        // as for [BoxFile]
	Said     inventory.Said
	NoSave   bool // leave the box as it is

	MaxPixels int // of the photo, as in [photo.Options]
}

// MeasuredPlace is one place of the card.
type MeasuredPlace struct {
	Number      int      `json:"number,omitempty"` // of the overview
	X           int      `json:"x"`                // pixels of the upright picture
	Y           int      `json:"y"`
	Radius      int      `json:"radius"`
	Lab         lab.Lab  `json:"lab"`
	Hex         string   `json:"hex"`
	Name        string   `json:"name"`
	Uncertainty float64  `json:"uncertainty"` // standard deviation along lightness, chroma and hue each, steps of CIEDE2000
	Drawdown    string   `json:"drawdown,omitempty"`
	Faults      []string `json:"faults,omitempty"`

	box image.Rectangle
}

// MeasuredPatch is one patch of the chart.
type MeasuredPatch struct {
	Name      string  `json:"name"`
	X         int     `json:"x"`
	Y         int     `json:"y"`
	Radius    int     `json:"radius"`
	Lab       lab.Lab `json:"lab"`
	Reference lab.Lab `json:"reference"`
	Used      bool    `json:"used"`
	DE00      float64 `json:"de00"`
	LeftOut   float64 `json:"left_out_de00"` // foretold from the others
}

// MeasuredChart is the colour chart of a picture.
type MeasuredChart struct {
	Found       bool            `json:"found"`   // by itself
	Colours     string          `json:"colours"` // "linear" or "root-polynomial"
	Mean        float64         `json:"mean_de00"`
	Max         float64         `json:"max_de00"`
	LeftOutMean float64         `json:"left_out_mean_de00"`
	LeftOutMax  float64         `json:"left_out_max_de00"`
	Patches     []MeasuredPatch `json:"patches"`
}

// MeasureEffect is what reading by a photo costs: the mean nine-in-ten bound
// of the weighed 1:1 mixes of the measured tubes, ΔE00, beside what it were
// had the same colours come from an instrument.
type MeasureEffect struct {
	Mixes      int     `json:"mixes"`
	P90        float64 `json:"p90_de00"`
	Instrument float64 `json:"instrument_p90_de00"`
}

// MeasureResult is what a swatch card says.
type MeasureResult struct {
	Photo     string          `json:"photo"`
	Width     int             `json:"width"`
	Height    int             `json:"height"`
	Chart     *MeasuredChart  `json:"chart,omitempty"`
	GreyCheck *float64        `json:"grey_check_de00,omitempty"` // the grey card by the chart, from neutral
	Method    []string        `json:"method"`
	Places    []MeasuredPlace `json:"places"` // even places that were found, by number
	Swatches  []MeasuredPlace `json:"swatches"`
	Import    *ImportResult   `json:"import,omitempty"`
	Saved     bool            `json:"saved"`
	Effect    *MeasureEffect  `json:"effect,omitempty"`
	Warnings  []string        `json:"warnings"`

	Readings []byte      `json:"-"` // the swatches as a table of readings; nil where none was named
	Preview  image.Image `json:"-"` // the picture, for an overview
}

// previewSide is the longer side of an overview's picture.
const previewSide = 1600

// Measure reads a photographed swatch card; where swatches are named it fits
// their tubes and saves them in the box.
func Measure(o MeasureOptions) (*MeasureResult, error) {
	list, err := o.list()
	if err != nil {
		return nil, err
	}
	read := photo.Open
	if o.Data != nil {
		read = func(name string, ro photo.Options) (*photo.Photo, error) { return photo.Decode(name, o.Data, ro) }
	}
	p, err := read(o.Photo, photo.Options{MaxPixels: o.MaxPixels})
	if err != nil {
		return nil, err
	}
	c, err := card.Read(p, card.Options{Chart: o.Chart, Grey: o.Grey})
	if err != nil {
		return nil, err
	}
	out := &MeasureResult{
		Photo: o.Photo, Width: p.Width, Height: p.Height, Method: c.Method, GreyCheck: c.Check,
		Places: []MeasuredPlace{}, Swatches: []MeasuredPlace{}, Warnings: append([]string{}, c.Warnings...),
		Preview: p.Preview(previewSide),
	}
	if c.Check != nil {
		v := round(*c.Check, 2)
		out.GreyCheck = &v
	}
	out.chart(c.Chart)
	for i := range c.Places {
		out.Places = append(out.Places, measuredPlace(&c.Places[i]))
	}
	if list == nil {
		return out, nil
	}
	places, err := c.Swatches(list.List)
	if err != nil {
		return nil, err
	}
	seen := map[[2]int]int{}
	for i := range places {
		q := measuredPlace(&places[i])
		q.Drawdown = list.drawdown(i)
		if j, twice := seen[[2]int{q.X, q.Y}]; twice {
			return nil, fmt.Errorf("%s: %q and %q are the same place; give each swatch its own", o.Photo, out.Swatches[j].Drawdown, q.Drawdown)
		}
		seen[[2]int{q.X, q.Y}] = i
		out.Swatches = append(out.Swatches, q)
		for _, f := range q.Faults {
			out.Warnings = append(out.Warnings, q.Drawdown+": "+f)
		}
	}
	out.Readings = list.Readings(places)
	rd, err := o.Said.ReadReadings(list.Name, bytes.NewReader(out.Readings))
	if err != nil {
		return nil, err
	}
	if o.List == "" { // rows that were named one by one stand on no line
		for i := range rd.Tubes {
			for j := range rd.Tubes[i].Rows {
				rd.Tubes[i].Rows[j].Line = 0
			}
		}
	}
	return out, out.fit(rd, o)
}

func measuredPlace(q *card.Place) MeasuredPlace {
	return MeasuredPlace{
		Number: q.Number, X: q.X, Y: q.Y, Radius: q.Radius, Lab: q.Lab, Hex: q.Lab.Hex(), Name: lab.Name(q.Lab),
		Uncertainty: round(q.Uncertainty, 2), Faults: q.Faults, box: q.Box,
	}
}

// Box is the place's box in the upright picture.
func (q *MeasuredPlace) Box() image.Rectangle { return q.box }

func (r *MeasureResult) chart(c *card.Chart) {
	if c == nil {
		return
	}
	r.Chart = &MeasuredChart{
		Found: c.Found, Colours: "linear", Mean: round(c.Mean, 2), Max: round(c.Max, 2),
		LeftOutMean: round(c.LeftOutMean, 2), LeftOutMax: round(c.LeftOutMax, 2),
	}
	if c.Roots {
		r.Chart.Colours = "root-polynomial"
	}
	for _, p := range c.Patches {
		r.Chart.Patches = append(r.Chart.Patches, MeasuredPatch{
			Name: p.Name, X: p.X, Y: p.Y, Radius: p.Radius, Lab: p.Lab, Reference: p.Reference, Used: p.Used,
			DE00: round(p.DE00, 2), LeftOut: round(p.LeftOut, 2),
		})
	}
}

// fit calibrates the tubes, saves them if wanted, and says what the photo's
// uncertainty costs.
func (r *MeasureResult) fit(rd *inventory.Readings, o MeasureOptions) error {
	boxFile, err := BoxFile(o.Box)
	if err != nil {
		return err
	}
	r.Import = &ImportResult{Box: boxFile, Fitted: []CalibratedTube{}, Unstated: rd.Unstated, Warnings: []string{}}
	var before, after *inventory.Box
	use := func(present *inventory.Box) (*inventory.Box, error) {
		if before = present; !o.NoSave {
			r.Import.starts(present)
		}
		after, err = r.Import.fitted(rd, present)
		return after, err
	}
	if o.NoSave {
		present, err := inventory.LoadBox(boxFile)
		if errors.Is(err, fs.ErrNotExist) {
			present, err = nil, nil
		}
		if err == nil {
			_, err = use(present)
		}
		if err != nil {
			return err
		}
	} else {
		if err := inventory.UpdateBox(boxFile, use); err != nil {
			return err
		}
		r.Saved = true
	}
	r.Effect, err = photoEffect(rd, before, after)
	return err
}

// photoEffect compares weighed 1:1 mixes of the measured tubes as fitted with
// the same fitted to readings without uncertainty of their own.
func photoEffect(rd *inventory.Readings, before, after *inventory.Box) (*MeasureEffect, error) {
	sure := *rd
	sure.Tubes = nil
	for _, t := range rd.Tubes {
		t.Rows = append([]inventory.Reading{}, t.Rows...)
		for i := range t.Rows {
			t.Rows[i].Uncertainty = 0
		}
		sure.Tubes = append(sure.Tubes, t)
	}
	other, _, err := inventory.Calibrate(&sure, before)
	if err != nil {
		return nil, err
	}
	out := &MeasureEffect{}
	if out.P90, out.Mixes, err = meanBound(rd, after); err != nil {
		return nil, err
	}
	out.Instrument, _, err = meanBound(rd, other)
	return out, err
}

// meanBound is the mean nine-in-ten bound of the weighed 1:1 mixes of the
// tubes that readings are of.
func meanBound(rd *inventory.Readings, box *inventory.Box) (mean float64, n int, err error) {
	var tubes []*inventory.Tube
	for _, t := range rd.Tubes {
		if q := box.Tube(t.Name); q != nil {
			tubes = append(tubes, q)
		}
	}
	finish, err := (&Workspace{Box: box}).finish("")
	if err != nil {
		return 0, 0, err
	}
	p, err := recipe.NewPalette(tubes, finish)
	if err != nil {
		return 0, 0, err
	}
	for a := range tubes {
		for b := range a {
			parts := []recipe.Part{{Tube: a, Parts: 1}, {Tube: b, Parts: 1}}
			_, c := p.Mix(parts)
			mean += p.SpreadOf(parts, 0).OffFrom(c, c).P90
			n++
		}
	}
	if n == 0 {
		return 0, 0, nil
	}
	return round(mean/float64(n), 2), n, nil
}

// swatchList is a list with what its rows are called.
type swatchList struct {
	*card.List
	names []string
}

func (l *swatchList) drawdown(i int) string { return l.names[i] }

// list is the swatches as they were named, or nil.
func (o *MeasureOptions) list() (*swatchList, error) {
	if o.List != "" {
		if len(o.Swatches) > 0 {
			return nil, errors.New("swatches are named by a list and one by one: put all of them into the list")
		}
		f, err := inventory.Open(o.List, "swatches")
		if err != nil {
			return nil, err
		}
		defer f.Close()
		data, err := io.ReadAll(io.LimitReader(f, maxImport))
		if err != nil {
			return nil, fmt.Errorf("%s cannot be read: %w", o.List, errors.Unwrap(err))
		}
		l, err := card.ParseList(o.List, data)
		if err != nil {
			return nil, err
		}
		out := &swatchList{List: l}
		tube := ""
		for _, s := range l.Swatches {
			said := map[string]string{}
			for i, h := range l.Head {
				said[strings.ToLower(h)] = s.Cells[i]
			}
			if said["tube"] != "" {
				tube = said["tube"]
			}
			out.names = append(out.names, drawdownWords(tube, said["paint_parts"], said["white_parts"], said["black_parts"]))
		}
		return out, nil
	}
	if len(o.Swatches) == 0 {
		return nil, nil
	}
	out := &swatchList{List: &card.List{Name: o.Photo, Comma: ',', Head: []string{"tube", "ci", "paint_parts", "white_parts", "black_parts"}}}
	for _, s := range o.Swatches {
		at := strings.LastIndexByte(s, '@')
		if at < 0 {
			return nil, fmt.Errorf("the swatch %q says no place: write NAME@PLACE, such as \"ultramarine blue PB29 1:4@3\"", s)
		}
		d, err := inventory.ParseDrawdownName(s[:at])
		if err != nil {
			return nil, err
		}
		n, pt, err := card.ParsePlace(s[at+1:])
		if err != nil {
			return nil, fmt.Errorf("the swatch %q: %w", s, err)
		}
		out.Swatches = append(out.Swatches, card.Swatch{Number: n, Place: pt, Cells: []string{d.Tube, d.CI, d.Paint, d.White, d.Black}})
		out.names = append(out.names, drawdownWords(d.Tube, d.Paint, d.White, d.Black))
	}
	return out, nil
}

// drawdownWords names a swatch: "ultramarine blue 1:4".
func drawdownWords(tube, paint, white, black string) string {
	none := func(s string) bool { return s == "" || s == "0" }
	switch {
	case none(paint):
		return tube
	case none(white) && none(black):
		return tube + " masstone"
	case none(black):
		return tube + " " + paint + ":" + white
	}
	if white == "" {
		white = "0"
	}
	return tube + " " + paint + ":" + white + ":" + black
}

// Form is a list of the places that were found, to be filled in by the
// painter and given back as a list of swatches.
func (r *MeasureResult) Form() []byte {
	var b bytes.Buffer
	b.WriteString("# Fill in what each place is: tube, pigment code, parts of paint and of white (masstone 1 and 0; the white alone 0 and 1).\n# Leave the others empty. Numbers are those of the overview; \"seen\" is only to help.\n")
	w := csv.NewWriter(&b)
	rows := [][]string{{"place", "seen", "tube", "ci", "paint_parts", "white_parts", "black_parts"}}
	for _, q := range r.Places {
		rows = append(rows, []string{strconv.Itoa(q.Number), q.Name, "", "", "", "", ""})
	}
	if err := w.WriteAll(rows); err != nil {
		panic("plan: " + err.Error()) // memory takes all
	}
	return b.Bytes()
}

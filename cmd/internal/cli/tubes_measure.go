package cli

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"paintout/analyze/card"
	"paintout/analyze/photo"
	"paintout/cmd/internal/draw"
	"paintout/cmd/internal/plan"
)

type measureOptions struct {
	photo, box, list, chart  string
	grey, swatches           []string
	greyReflects             float64
	specular, basis          string
	readings, overview, form string
	noSave, force, json      bool
}

func newTubesMeasure(s Streams) *cobra.Command {
	var o measureOptions
	c := &cobra.Command{
		Use:   "measure PHOTO",
		Short: "Measure tubes by a photo of their swatches",
		Long: `Reads a photo of painted swatches (masstones, and tints with white) that has a
24-patch colour chart or a grey card in it, and fits your tubes to it.

Take the photo: swatches that hide their ground, on white paper, beside the
chart; even daylight from one side, no lamp, no shadow, no shine in the paint;
the whole sheet in the picture, the white not burnt out.

By the chart the camera's tone curve, the light's colour and its fall-off over
the sheet are taken out, and how far the chart itself comes back is said. With
a grey card alone (--grey) the camera's own colours stay in: worth about half
as much.

What lies on the sheet is found, but which tube it is you say:

  1  paintout tubes measure card.jpg --overview places.png
     Look at the picture: each even place has a number.
  2  Name them, --swatch "NAME CODE PAINT:WHITE@PLACE" for each, or fill in the
     list that --form writes and give it with --swatches.

A place may also be pointed at by x,y. The white by itself is named without
parts. A list may have the other columns of a table of readings too, such as
specular, basis, and state (wet or dry).

--specular says whether the surface's own reflection is in the colour: out for
glossy paint turned out of the glare, in for matte paint.`,
		Example: `  paintout tubes measure card.jpg --overview places.png --form places.csv
  paintout tubes measure card.jpg --swatches places.csv
  paintout tubes measure card.jpg --swatch "titanium white PW6@1" --swatch "ultramarine blue PB29 masstone@2" --swatch "ultramarine blue PB29 1:4@3"
  paintout tubes measure card.jpg --grey 12%,15% --swatches places.csv --readings card.csv --no-save`,
		Args: exactly(1, "one photo of swatches"),
		RunE: func(_ *cobra.Command, args []string) error {
			o.photo = args[0]
			return runMeasure(s, o)
		},
	}
	f := c.Flags()
	f.StringArrayVar(&o.swatches, "swatch", nil, "what a place is, `NAME@PLACE`: \"ultramarine blue PB29 1:4@3\", or …@1200,800")
	f.StringVar(&o.list, "swatches", "", "a `list` of them: CSV with tube,ci,paint_parts,white_parts and place, or x,y")
	f.StringVar(&o.chart, "chart", "", "middles of the chart's four corner patches, `\"x,y x,y x,y x,y\"`, where it is not found by itself")
	f.StringArrayVar(&o.grey, "grey", nil, "the grey card, at `x,y` (pixels or percent); once for each of several")
	f.Float64Var(&o.greyReflects, "grey-reflects", card.GreyCard, "what the grey card reflects, as a fraction")
	f.StringVar(&o.box, "tubes", "", "the `box` to put them in, made if it is not there: a file, or a name (else your saved box)")
	f.BoolVar(&o.noSave, "no-save", false, "fit and show, but leave the box as it is")
	f.StringVar(&o.overview, "overview", "", "write the picture with what was found, numbered, to this `file.png`")
	f.StringVar(&o.form, "form", "", "write a list of what was found, to fill in, to this `file.csv`")
	f.StringVar(&o.readings, "readings", "", "write the readings to this `file.csv`, as tubes import reads them")
	f.StringVar(&o.specular, "specular", "", "whether the surface's reflection is counted: `in` or out")
	f.StringVar(&o.basis, "basis", "", "what parts are: `volume` or mass")
	f.BoolVar(&o.force, "force", false, "write --form and --readings over files that are there")
	f.BoolVar(&o.json, "json", false, "print one JSON object instead of words")
	return c
}

// request turns the flags into what is asked.
func (o *measureOptions) request() (plan.MeasureOptions, error) {
	r := plan.MeasureOptions{Photo: o.photo, Swatches: o.swatches, List: o.list, Box: o.box, NoSave: o.noSave}
	said, err := (&importOptions{specular: o.specular, basis: o.basis}).said()
	if err != nil {
		return r, err
	}
	r.Said = said
	if o.chart != "" {
		corners := strings.Fields(o.chart)
		if len(corners) != 4 {
			return r, usageError{fmt.Errorf("--chart %q: give the middles of the chart's four corner patches, as \"x,y x,y x,y x,y\"", o.chart)}
		}
		for _, s := range corners {
			p, err := photo.ParsePoint(s)
			if err != nil {
				return r, usageError{fmt.Errorf("--chart: %w", err)}
			}
			r.Chart = append(r.Chart, p)
		}
	}
	for _, s := range o.grey {
		p, err := photo.ParsePoint(s)
		if err != nil {
			return r, usageError{fmt.Errorf("--grey: %w", err)}
		}
		r.Grey = append(r.Grey, card.Grey{Place: p, Reflectance: o.greyReflects})
	}
	if o.overview != "" && !strings.EqualFold(filepath.Ext(o.overview), ".png") {
		return r, usageError{fmt.Errorf("--overview %s: give a name that ends in .png", o.overview)}
	}
	if len(o.swatches) > 0 && o.list != "" {
		return r, usageError{fmt.Errorf("--swatch and --swatches: put all of the swatches into the list")}
	}
	if o.readings != "" && len(o.swatches) == 0 && o.list == "" {
		return r, usageError{fmt.Errorf("--readings: nothing says which place is which tube: add --swatch or --swatches")}
	}
	return r, nil
}

func runMeasure(s Streams, o measureOptions) error {
	ask, err := o.request()
	if err != nil {
		return err
	}
	for _, path := range []string{o.form, o.readings} {
		if _, err := os.Lstat(path); path != "" && err == nil && !o.force {
			return fmt.Errorf("%s is there already: give another name, or --force to write over it", path)
		}
	}
	r, err := plan.Measure(ask)
	if err != nil {
		return err
	}
	var written []string
	if err := writePictures(picture{o.overview, func(w io.Writer) error { return draw.PlacesPNG(w, r) }, nil}); err != nil {
		return err
	}
	if o.overview != "" {
		written = append(written, o.overview)
	}
	if o.form != "" {
		if err := writeTable(o.form, r.Form(), o.force); err != nil {
			return err
		}
		written = append(written, o.form)
	}
	if o.readings != "" {
		if err := writeTable(o.readings, r.Readings, o.force); err != nil {
			return err
		}
		written = append(written, o.readings)
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	s.measured(r)
	if len(written) > 0 {
		fmt.Fprintf(s.Out, "Written: %s\n", strings.Join(written, ", "))
	}
	if r.Import == nil {
		s.nameThem(o, r)
	}
	return nil
}

// nameThem says what to do with places that nobody has named yet.
func (s Streams) nameThem(o measureOptions, r *plan.MeasureResult) {
	base := strings.TrimSuffix(filepath.Base(o.photo), filepath.Ext(o.photo))
	fmt.Fprintln(s.Out, "\nWhich tube is which only you can say.")
	if o.overview == "" {
		fmt.Fprintf(s.Out, "Look at them:   add --overview %s-places.png\n", base)
	}
	if o.form == "" {
		fmt.Fprintf(s.Out, "Name them:      add --form %s-places.csv, fill it in, give it with --swatches\n", base)
	} else {
		fmt.Fprintf(s.Out, "Name them:      fill in %s and give it with --swatches\n", o.form)
	}
	fmt.Fprintln(s.Out, "or one by one:  --swatch \"ultramarine blue PB29 1:4@3\", one for each; what has no number, such as")
	fmt.Fprintln(s.Out, "                a white on white paper, is pointed at: \"titanium white PW6@1200,800\"")
}

// meanOff is the mean length of three independent normal errors of size 1.
const meanOff = 1.6

func (s Streams) measured(r *plan.MeasureResult) {
	fmt.Fprintf(s.Out, "%s, %d×%d pixels\n", r.Photo, r.Width, r.Height)
	for _, m := range r.Method {
		fmt.Fprintln(s.Out, "  "+wrap(m, max(40, s.Wide-2), "  "))
	}
	if r.GreyCheck != nil {
		fmt.Fprintf(s.Out, "  By the chart, the grey card lies %.1f ΔE00 from neutral.\n", *r.GreyCheck)
	}
	fmt.Fprintln(s.Out)
	row := func(q plan.MeasuredPlace, name string) {
		mark := ""
		if len(q.Faults) > 0 {
			mark = " !"
		}
		fmt.Fprintf(s.Out, "%s%s  %s  give or take %.1f%s\n", s.swatch(q.Hex, 4), name, labText(q.Lab), meanOff*q.Uncertainty, mark)
	}
	if r.Import == nil {
		for _, q := range r.Places {
			row(q, fmt.Sprintf("%3d  %s", q.Number, pad(q.Name, 22)))
		}
		if len(r.Places) == 0 {
			fmt.Fprintln(s.Out, "No even places were found beside the chart: point at the swatches by x,y.")
		}
	} else {
		wide := 0
		for _, q := range r.Swatches {
			wide = max(wide, len([]rune(q.Drawdown)))
		}
		for _, q := range r.Swatches {
			row(q, pad(q.Drawdown, wide))
		}
		fmt.Fprintln(s.Out)
		s.fitted(r.Import.Fitted)
		if r.Saved {
			fmt.Fprintf(s.Out, "\nSaved: %s, %s", r.Import.Box, count(r.Import.Tubes, "tube"))
		} else {
			fmt.Fprint(s.Out, "\nNot saved")
		}
		if r.Import.White != "" {
			fmt.Fprintf(s.Out, "; tints were read against %s", r.Import.White)
		}
		fmt.Fprintln(s.Out, ".")
		if e := r.Effect; e != nil && e.Mixes > 0 {
			fmt.Fprintln(s.Out, wrap(fmt.Sprintf("What the photo costs: over the %s of one part each of these tubes, weighed, nine in ten come within %.1f ΔE00 on average; had an instrument read the same colours, within %.1f.", mixes(e.Mixes), e.P90, e.Instrument), max(40, s.Wide), ""))
		}
	}
	warnings := r.Warnings
	if r.Import != nil {
		warnings = append(warnings, r.Import.Warnings...)
	} else {
		var faults []string
		for _, q := range r.Places {
			faults = append(faults, q.Faults...)
		}
		if n := len(faults) - mostFaults; n > 0 {
			faults = append(faults[:mostFaults], fmt.Sprintf("%d more, of the places marked !", n))
		}
		warnings = append(warnings, faults...)
	}
	s.list("Mind", warnings)
	if r.Import != nil && len(r.Import.Unstated) > 0 {
		fmt.Fprintf(s.Out, "Say it when you measure: --%s\n", strings.Join(r.Import.Unstated, ", --"))
	}
}

// mostFaults is how many faults of places that nobody has named are printed.
const mostFaults = 6

func mixes(n int) string {
	if n == 1 {
		return "one mix"
	}
	return fmt.Sprintf("%d mixes", n)
}

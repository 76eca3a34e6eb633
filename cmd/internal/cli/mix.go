package cli

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/draw"
	"paintout/cmd/internal/plan"
)

type mixOptions struct {
	boxFlags
	wayFlags
	mix string
	out string
}

func newMix(s Streams) *cobra.Command {
	var o mixOptions
	c := &cobra.Command{
		Use:   `mix "TUBE:PARTS,TUBE:PARTS…"`,
		Short: "What colour a mix will be",
		Long: `Foretells the colour of a mix of tubes, named with their parts by volume. Tubes
that are not in your box are looked up in the library by pigment code; PBr7 is
the code of several earths, so say which: "PBr7/burnt sienna:2".

--way watercolour shows the mix in washes over white paper, from undiluted to the
palest; water may stand in the mix.`,
		Example: `  paintout mix "PB29:1,PY43:2"
  paintout mix "titanium white:8,ultramarine blue:1" --json
  paintout mix "PB29:2,PR101:1,water:6" --way watercolour`,
		Args: exactly(1, `one mix, as in "PB29:1,PY43:2"`),
		RunE: func(_ *cobra.Command, args []string) error {
			o.mix = args[0]
			return runMix(s, o)
		},
	}
	o.add(c.Flags())
	o.addOnly(c.Flags())
	o.addPortion(c.Flags())
	o.addWay(c.Flags())
	o.addWash(c.Flags())
	c.Flags().StringVar(&o.out, "out", "", "for watercolour: write a picture of the washes to this `file` (.png or .svg)")
	return c
}

func runMix(s Streams, o mixOptions) error {
	way, err := o.way(&o.boxFlags)
	if err != nil {
		return err
	}
	if err := o.check(); err != nil {
		return err
	}
	if o.out != "" && !way.Washes {
		return usageError{errors.New("--out is a picture of washes: say --way watercolour too")}
	}
	if err := checkPicture(o.out); err != nil {
		return err
	}
	var r *plan.MixResult
	var washes *plan.WashMixResult
	if way.Washes {
		if washes, err = plan.MixWash(o.Settings, o.mix, o.WashAsk); err == nil {
			r = &washes.MixResult
		}
	} else {
		r, err = plan.Mix(o.Settings, o.mix)
	}
	if err != nil {
		return err
	}
	r.Warnings = append(r.Warnings, way.Says...)
	if washes != nil {
		err := writePictures(picture{o.out, func(w io.Writer) error { return draw.WashesPNG(w, washes) }, func(w io.Writer) error { return draw.WashesSVG(w, washes) }})
		if err != nil {
			return err
		}
	}
	if o.json && washes != nil {
		return printJSON(s.Out, washes)
	} else if o.json {
		return printJSON(s.Out, r)
	}
	fmt.Fprintf(s.Out, "%s%s\n", s.swatch(r.Hex, 10), partsLine(r.Parts))
	opaque := ""
	if washes != nil {
		opaque = "thick enough to hide, "
	}
	fmt.Fprintf(s.Out, "  "+opaque+"%s, %s: value %.1f, %s, %s, %s\n", r.Name, r.Temperature, r.Value, r.Notation, labText(r.Lab), r.Hex)
	fmt.Fprintf(s.Out, "  a real mix lies within %.1f ΔE00 of this nine times in ten (on average %.1f); %s\n", r.P90, r.Expected, finishWords(r.Finish))
	if r.Screen != "" {
		fmt.Fprintln(s.Out, "  "+r.Screen)
	}
	if washes != nil {
		s.washSeries(washes)
	}
	s.list("Handling", r.Notes)
	s.list("Mind", r.Warnings)
	s.list("Caution", r.Cautions)
	if washes != nil {
		s.written(o.out, "washes")
	}
	return nil
}

func finishWords(f string) string {
	if f == "excluded" {
		return "surface shine left out"
	}
	return "surface shine included"
}

package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"paintout/analyze/photo"
	"paintout/cmd/internal/plan"
	"paintout/recipe"
)

type mendOptions struct {
	boxFlags
	plan.MendAsk
	grey string
}

func newMend(s Streams) *cobra.Command {
	var o mendOptions
	c := &cobra.Command{
		Use:   "mend COLOUR READING…",
		Short: "Put right a pile that came out wrong",
		Long: `Says what is off with a pile of mixed paint and which tube to add to it, in how
many parts; or that it is best left, part of it set aside first, or begun again.

COLOUR is what was wanted, READING what the pile is: a colorimeter's lab:52,-10,31,
a hex colour, a notation, or a spot of a photo of the pile with a grey card beside
it, pile.jpg@40%,25% with --grey for the card. Say what you mixed with --mixed and
additions are in the same parts; without it, in parts to ten of the pile. Readings
are of a dab that has dried, or with --wet of the pile as it lies.

After an addition read the pile again and give everything: the first reading,
--added for what went in, the second reading. Each reading says more of how strong
your tubes are; --save keeps that in your box.`,
		Example: `  paintout mend 8fa3b5 lab:58,-2,-18 --mixed "PW6:8,PB29:2"
  paintout mend 8fa3b5 lab:58,-2,-18 lab:63,-3,-13 --mixed "PW6:8,PB29:2" --added "PW6:4" --save
  paintout mend hillside.jpg@40%,25% pile.jpg@50%,50% --grey 20%,50%`,
		Args: atLeast(2, "the colour wanted and a reading of the pile, as in 8fa3b5 lab:58,-2,-18"),
		RunE: func(c *cobra.Command, args []string) error {
			o.Target, o.Readings = args[0], args[1:]
			return runMend(c.Context(), s, o)
		},
	}
	o.addMixing(c.Flags())
	f := c.Flags()
	f.StringVar(&o.Mixed, "mixed", "", "what the pile was mixed from, `TUBE:PARTS,…`")
	f.StringArrayVar(&o.Added, "added", nil, "what was added to it since, `TUBE:PARTS,…`; once for each time")
	f.StringVar(&o.grey, "grey", "", "where the grey card is in the photo of the pile, `x,y` (pixels or percent)")
	f.Float64Var(&o.Card, "card", 0, "what the grey card reflects, as a fraction (else 0.18)")
	f.Float64Var(&o.Error, "reading-error", 0, "standard deviation of a reading that is typed in, in ΔE00 (else 0.5, by notation 2.5)")
	f.BoolVar(&o.Wet, "wet", false, "the readings are of wet paint")
	f.BoolVar(&o.Save, "save", false, "keep the strengths learned in your box (once: readings that are saved again count again)")
	return c
}

func runMend(ctx context.Context, s Streams, o mendOptions) error {
	if o.grey != "" {
		p, err := photo.ParsePoint(o.grey)
		if err != nil {
			return usageError{fmt.Errorf("--grey: %w", err)}
		}
		o.Grey = &p
	}
	if !(o.Error >= 0 && o.Error <= 30) {
		return usageError{fmt.Errorf("--reading-error %v: give a standard deviation in ΔE00, above 0 and up to 30", o.Error)}
	}
	if !(o.Card >= 0 && o.Card <= 1) {
		return usageError{fmt.Errorf("--card %v: give what the grey card reflects as a fraction; a photographer's has 0.18", o.Card)}
	}
	if err := o.check(); err != nil {
		return err
	}
	bar := s.progress()
	r, err := plan.Mend(ctx, o.Settings, photo.Options{}, o.MendAsk, func(done, all int) { bar.update(plan.Mixing, done, all) })
	bar.end()
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	fmt.Fprintf(s.Out, "%swanted: %s, value %.1f, %s\n", s.swatch(r.AimHex, 6), r.Name, r.Value, labText(r.Aim))
	dry := ""
	if r.Pile.ReadWet {
		dry = ", once dry"
	}
	fmt.Fprintf(s.Out, "%sthe pile%s: %s, value %.1f, %s\n", s.swatch(r.Pile.Hex, 6), dry, r.Pile.Name, r.Pile.Value, labText(r.Pile.Reading))
	for _, l := range r.Say {
		fmt.Fprintln(s.Out, "  "+wrap(l, max(40, s.Wide-2), "  "))
	}
	if len(r.Additions) > 0 && r.Verdict != string(recipe.StartPile) {
		fmt.Fprintln(s.Out, "\nWhat could be added")
		s.addition("nothing", r.Leave.DE00, r.Leave.P90, "", r.Pile.Hex, false)
		for _, a := range r.Additions {
			words := a.Words
			if a.Keep < 1 {
				words = fmt.Sprintf("%s, to %g of the pile", words, a.Keep)
			}
			s.addition(words, a.DE00, a.P90, a.Miss, a.Hex, a.Suggested)
		}
	}
	if r.Fresh != nil && (r.Verdict == string(recipe.StartPile) || r.Verdict == string(recipe.HalvePile)) {
		fmt.Fprintln(s.Out, "\nMixed anew, by what is now known of the tubes")
		s.recipe("  ", *r.Fresh)
	}
	fmt.Fprintln(s.Out, "\n"+wrap(fmt.Sprintf("Tubes: %s; %s; the reading is taken to be good to %.1f ΔE00.", r.Box, finishWords(r.Finish), r.Pile.Error), s.Wide, ""))
	if r.Saved != "" {
		for _, t := range r.Strengths {
			fmt.Fprintf(s.Out, "Kept in %s: %s, strength %g\n", r.Saved, t.Tube, t.Stored)
		}
		fmt.Fprintln(s.Out, wrap(r.Method, s.Wide, ""))
	}
	s.list("Mind", r.Warnings)
	s.list("Caution", r.Cautions)
	return nil
}

// addition prints one thing that could be added.
func (s Streams) addition(words string, de00, p90 float64, miss, hex string, suggested bool) {
	line := fmt.Sprintf("%s: off by %.1f, nine times in ten within %.1f", words, de00, p90)
	if miss != "" {
		line += " (" + miss + ")"
	}
	if suggested {
		line += "  <- do this"
	}
	fmt.Fprintln(s.Out, "  "+s.swatch(hex, 6)+wrap(line, max(40, s.Wide-4), "    "))
}

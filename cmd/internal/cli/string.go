package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/plan"
	"paintout/recipe"
)

type stringOptions struct {
	boxFlags
	viewFlags
	plan.StringAsk
}

func newString(s Streams) *cobra.Command {
	var o stringOptions
	c := &cobra.Command{
		Use:   "string COLOUR",
		Short: "A colour in four or five piles, light to dark",
		Long: `Makes a value string to premix: piles in equal steps of value through a colour,
keeping its hue, all from the same few tubes. Colours are written as for recipe;
with --mass give a photo, and the string is that of one of its masses.`,
		Example: `  paintout string "notation:5GY 5/4"
  paintout string hillside.jpg@40%,25% --piles 4
  paintout string hillside.jpg --mass 3`,
		Args: exactly(1, "one colour, as in 5a7d3c or hillside.jpg@40%,25%"),
		RunE: func(c *cobra.Command, args []string) error {
			o.Target = args[0]
			return runString(c.Context(), s, o)
		},
	}
	o.addMixing(c.Flags())
	o.viewFlags.add(c.Flags())
	c.Flags().IntVar(&o.Mass, "mass", 0, "the string of this mass of the photo")
	c.Flags().IntVar(&o.Piles, "piles", recipe.UsualPiles, fmt.Sprintf("number of piles, %d to %d", recipe.FewestPiles, recipe.MostPiles))
	c.Flags().Float64Var(&o.Tolerance, "tolerance", recipe.StringTolerance, "how far the worst pile may miss, in ΔE00")
	return c
}

func runString(ctx context.Context, s Streams, o stringOptions) error {
	v, err := o.view()
	if err != nil {
		return usageError{err}
	}
	if o.Mass < 0 {
		return usageError{fmt.Errorf("--mass %d: masses are numbered from 1", o.Mass)}
	}
	if err := o.check(); err != nil {
		return err
	}
	if o.Piles < recipe.FewestPiles || o.Piles > recipe.MostPiles {
		return usageError{fmt.Errorf("--piles %d: a string has %d to %d", o.Piles, recipe.FewestPiles, recipe.MostPiles)}
	}
	if !(o.Tolerance >= 0) {
		return usageError{fmt.Errorf("--tolerance %v: give 0 ΔE00 or more; %g is usual", o.Tolerance, recipe.StringTolerance)}
	}
	o.View = v
	bar := s.progress()
	r, err := plan.ValueString(ctx, o.Settings, o.StringAsk, bar.update)
	bar.end()
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	for _, l := range r.Say {
		fmt.Fprintln(s.Out, wrap(l, s.Wide, ""))
	}
	for _, q := range r.Piles {
		own := ""
		if q.Own {
			own = "  <- the colour itself"
		}
		fmt.Fprintf(s.Out, "  %s%svalue %.1f  %s, off by %.1f%s\n", s.swatch(q.AimHex, 6), s.swatch(q.Mix.Hex, 6), q.Value, partsLine(q.Mix.Parts), q.Mix.DE00, own)
	}
	s.list("Mind", r.Warnings)
	s.list("Caution", r.Cautions)
	return nil
}

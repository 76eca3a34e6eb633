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
	photoFlags
	piles     int
	tolerance float64
	target    string
}

func newString(s Streams) *cobra.Command {
	var o stringOptions
	c := &cobra.Command{
		Use:   "string COLOUR",
		Short: "A colour in four or five piles, light to dark",
		Long: `Makes a value string to premix: piles in equal steps of value through a colour,
keeping its hue, all from the same few tubes. Colours are written as for recipe.`,
		Example: `  paintout string "notation:5GY 5/4"
  paintout string hillside.jpg@40%,25% --piles 4`,
		Args: exactly(1, "one colour, as in 5a7d3c or hillside.jpg@40%,25%"),
		RunE: func(c *cobra.Command, args []string) error {
			o.target = args[0]
			return runString(c.Context(), s, o)
		},
	}
	o.addMixing(c.Flags())
	o.photoFlags.add(c.Flags())
	c.Flags().IntVar(&o.piles, "piles", recipe.UsualPiles, fmt.Sprintf("number of piles, %d to %d", recipe.FewestPiles, recipe.MostPiles))
	c.Flags().Float64Var(&o.tolerance, "tolerance", recipe.StringTolerance, "how far the worst pile may miss, in ΔE00")
	return c
}

func runString(ctx context.Context, s Streams, o stringOptions) error {
	po, err := o.options()
	if err != nil {
		return usageError{err}
	}
	if err := o.check(); err != nil {
		return err
	}
	if o.piles < recipe.FewestPiles || o.piles > recipe.MostPiles {
		return usageError{fmt.Errorf("--piles %d: a string has %d to %d", o.piles, recipe.FewestPiles, recipe.MostPiles)}
	}
	if !(o.tolerance >= 0) {
		return usageError{fmt.Errorf("--tolerance %v: give 0 ΔE00 or more; %g is usual", o.tolerance, recipe.StringTolerance)}
	}
	bar := s.progress()
	r, err := plan.ValueString(ctx, o.Settings, po, o.target, o.piles, o.tolerance, func(done, all int) { bar.update(plan.Mixing, done, all) })
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
	return nil
}

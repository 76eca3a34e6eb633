package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/plan"
	"paintout/recipe"
)

type reachOptions struct {
	boxFlags
	photoFlags
	tolerance float64
	with      []string
	target    string
}

func newReach(s Streams) *cobra.Command {
	var o reachOptions
	c := &cobra.Command{
		Use:   "reach COLOUR",
		Short: "Whether your tubes reach a colour, and if not, why",
		Long: `Asks whether a mix of your tubes comes within a tolerance of a colour. If none
does: the nearest, what it lacks, the most vivid your tubes go at that hue, the
tubes that would help most, and whether any paint or any surface at all could.
Colours are written as for recipe.`,
		Example: `  paintout reach "notation:5PB 5/10"
  paintout reach 0a6ebd --only PY43,PR108,PBk9,PW6
  paintout reach 0a6ebd --only PY43,PR108,PBk9,PW6 --with PB29`,
		Args: exactly(1, "one colour, as in 5a7d3c or hillside.jpg@40%,25%"),
		RunE: func(c *cobra.Command, args []string) error {
			o.target = args[0]
			return runReach(c.Context(), s, o)
		},
	}
	o.addMixing(c.Flags())
	o.photoFlags.add(c.Flags())
	c.Flags().Float64Var(&o.tolerance, "tolerance", recipe.ReachTolerance, "how near counts as reached, in ΔE00")
	c.Flags().StringSliceVar(&o.with, "with", nil, "try these `tubes` too, as if they lay in the box")
	return c
}

func runReach(ctx context.Context, s Streams, o reachOptions) error {
	po, err := o.options()
	if err != nil {
		return usageError{err}
	}
	if err := o.check(); err != nil {
		return err
	}
	if !(o.tolerance >= 0) {
		return usageError{fmt.Errorf("--tolerance %v: give 0 ΔE00 or more; %g is usual", o.tolerance, recipe.ReachTolerance)}
	}
	bar := s.progress()
	r, err := plan.Reach(ctx, o.Settings, po, o.target, o.tolerance, o.with, func(done, all int) { bar.update(plan.Mixing, done, all) })
	bar.end()
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	fmt.Fprintf(s.Out, "%s%s%s\n", s.swatch(r.AimHex, 6), s.swatch(r.Nearest.Hex, 6), r.Target)
	for _, l := range r.Say {
		fmt.Fprintln(s.Out, "  "+wrap(l, max(40, s.Wide-2), "  "))
	}
	if len(r.Add) > 0 {
		fmt.Fprintln(s.Out, "Tubes that would help")
		for _, a := range r.Add {
			fmt.Fprintf(s.Out, "  %swithin %.1f with %s (%s): %s\n", s.swatch(a.Mix.Hex, 6), a.DE00, a.Name, a.CI, partsLine(a.Mix.Parts))
		}
	}
	if !r.Exact {
		fmt.Fprintln(s.Out, wrap("So many tubes were not tried in every three: all pairs, and threes of the most promising.", s.Wide, ""))
	}
	s.list("Mind", r.Warnings)
	s.list("Caution", r.Cautions)
	return nil
}

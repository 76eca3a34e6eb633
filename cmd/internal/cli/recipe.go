package cli

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/plan"
)

type recipeOptions struct {
	boxFlags
	photoFlags
	wayFlags
	targets []string
}

func newRecipe(s Streams) *cobra.Command {
	var o recipeOptions
	c := &cobra.Command{
		Use:   "recipe TARGET…",
		Short: "How to mix a colour from your tubes",
		Long: `Finds mixes of one, two or three tubes, with white where it helps, for each
colour: the nearest, those with fewer tubes, the most forgiving. Every mix of
the ladder of parts is tried.

A colour is 5a7d3c or hex:5a7d3c, lab:52,-10,31 (D65), notation:"5GY 5/4", or a
spot of a photo, hillside.jpg@40%,25% (pixels or percent). Only a colour taken
from a photo is fitted to the range of the paint.

--way brush, gouache or watercolour says how you paint, and what that makes of the
answer; watercolour lets colour down with water over white paper, not with white.`,
		Example: `  paintout recipe 5a7d3c
  paintout recipe "notation:5GY 5/4" hillside.jpg@40%,25%
  paintout recipe 9db7cf --way watercolour`,
		Args: atLeast(1, "at least one colour, as in 5a7d3c or hillside.jpg@40%,25%"),
		RunE: func(c *cobra.Command, args []string) error {
			o.targets = args
			return runRecipe(c.Context(), s, o)
		},
	}
	o.addMixing(c.Flags())
	o.photoFlags.add(c.Flags())
	o.addWay(c.Flags())
	o.addWash(c.Flags())
	return c
}

func runRecipe(ctx context.Context, s Streams, o recipeOptions) error {
	po, err := o.options()
	if err != nil {
		return usageError{err}
	}
	way, err := o.way(&o.boxFlags)
	if err != nil {
		return err
	}
	if err := o.check(); err != nil {
		return err
	}
	if way.Washes {
		r, err := plan.RecipesWash(ctx, o.Settings, po, o.targets, o.WashAsk)
		if err != nil {
			return err
		}
		r.Warnings = append(r.Warnings, way.Says...)
		if o.json {
			return printJSON(s.Out, r)
		}
		s.washRecipes(r)
		s.list("Mind", r.Warnings)
		s.list("Caution", r.Cautions)
		return nil
	}
	bar := s.progress()
	r, err := plan.Recipes(ctx, o.Settings, po, o.targets, func(done, all int) { bar.update(plan.Mixing, done, all) })
	bar.end()
	if err != nil {
		return err
	}
	r.Warnings = append(r.Warnings, way.Says...)
	if o.json {
		return printJSON(s.Out, r)
	}
	for _, t := range r.Targets {
		fmt.Fprintf(s.Out, "%s%s  %s, value %.1f, %s\n", s.swatch(t.Hex, 6), t.Target, t.Name, t.Value, t.Notation)
		if t.Lab != t.Aim {
			fmt.Fprintf(s.Out, "%scolour to mix, fitted to the paint's range: %s, %s\n", s.swatch(t.AimHex, 6), t.AimHex, labText(t.Aim))
		}
		var notes []string
		for _, q := range t.Recipes {
			s.recipe("  ", q)
			for _, n := range q.Notes {
				if !slices.Contains(notes, n) {
					notes = append(notes, n)
				}
			}
		}
		for _, n := range notes {
			fmt.Fprintln(s.Out, "  "+wrap(n, max(40, s.Wide-2), "  "))
		}
		if t.Why != "" {
			fmt.Fprintln(s.Out, "  "+wrap(t.Why, max(40, s.Wide-2), "  "))
		}
		fmt.Fprintln(s.Out)
	}
	fmt.Fprintln(s.Out, wrap(fmt.Sprintf("Parts by volume, in mixing order; one, two, three tubes are counted without white. Tubes: %s; %s.", r.Box, finishWords(r.Finish)), s.Wide, ""))
	s.list("Mind", r.Warnings)
	s.list("Caution", r.Cautions)
	return nil
}

// recipe prints one way to mix.
func (s Streams) recipe(indent string, q plan.Recipe) {
	mark := ""
	if q.Suggested {
		mark = "  <- try first"
	}
	fmt.Fprintf(s.Out, "%s%s%s: %s%s\n", indent, s.swatch(q.Hex, 6), q.Choice, partsLine(q.Parts), mark)
	off := fmt.Sprintf("%s: off by %.1f, nine times in ten within %.1f", q.Grade, q.DE00, q.P90)
	if q.Miss != "" {
		off += " (" + q.Miss + ")"
	}
	fmt.Fprintf(s.Out, "%s    %s\n", indent, off)
	if q.Why != "" {
		fmt.Fprintln(s.Out, indent+"    "+wrap(q.Why, max(40, s.Wide-6), indent+"    "))
	}
}

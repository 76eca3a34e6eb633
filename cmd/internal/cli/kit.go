package cli

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/plan"
	"paintout/recipe"
)

type kitOptions struct {
	boxFlags
	viewFlags
	plan.KitAsk
	paths []string
}

func newKit(s Streams) *cobra.Command {
	var o kitOptions
	c := &cobra.Command{
		Use:   "kit PHOTO…",
		Short: "The fewest tubes to carry for a picture, or a trip",
		Long: `Finds the smallest set of your tubes (white counts) with which every mass of every
photo has a mix within a tolerance, and what any smaller or larger set could do.
Masses that your whole box cannot mix that near are named, with the tube that
would help. The answer is exact over the ladder of parts, and says so.`,
		Example: `  paintout kit hillside.jpg
  paintout kit day1.jpg day2.jpg --max 6 --keep PW6 --leave PG7`,
		Args: atLeast(1, "at least one photo"),
		RunE: func(c *cobra.Command, args []string) error {
			o.paths = args
			return runKit(c.Context(), s, o)
		},
	}
	o.addMixing(c.Flags())
	o.viewFlags.add(c.Flags())
	c.Flags().Float64Var(&o.Tolerance, "tolerance", recipe.KitTolerance, "how near every mix must come, in ΔE00")
	c.Flags().StringSliceVar(&o.Keep, "keep", nil, "`tubes` to carry in any case")
	c.Flags().StringSliceVar(&o.Leave, "leave", nil, "`tubes` to leave at home in any case")
	c.Flags().IntVar(&o.Max, "max", 0, "carry at most so many tubes")
	c.Flags().BoolVar(&o.Library, "library", false, "choose from the library, for a painter who owns nothing yet")
	return c
}

func runKit(ctx context.Context, s Streams, o kitOptions) error {
	v, err := o.view()
	if err != nil {
		return usageError{err}
	}
	if !(o.Tolerance >= 0) {
		return usageError{fmt.Errorf("--tolerance %v: give 0 ΔE00 or more; %g is usual", o.Tolerance, recipe.KitTolerance)}
	}
	if o.Max < 0 {
		return usageError{fmt.Errorf("--max %d: give 1 or more", o.Max)}
	}
	w, err := o.open()
	if err != nil {
		return err
	}
	bar := s.progress()
	r, err := w.Kit(ctx, o.paths, v, o.KitAsk, bar.update)
	bar.end()
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	proof := "proven over the ladder of parts: no smaller set does it"
	if !r.Proven {
		proof = "the best found; not proven"
	}
	fmt.Fprintln(s.Out, wrap(fmt.Sprintf("Carry %d: %s (%s).", len(r.Tubes), strings.Join(r.Tubes, ", "), proof), s.Wide, "  "))
	fmt.Fprintln(s.Out, wrap(r.Cost, s.Wide, ""))
	if r.Needed > 0 {
		fmt.Fprintf(s.Out, "Every mass within %.1f ΔE00 would take %d tubes.\n", r.Tolerance, r.Needed)
	}
	fmt.Fprintln(s.Out, "\nWhat each is there for")
	for _, u := range r.Uses {
		fmt.Fprintln(s.Out, "  "+wrap(fmt.Sprintf("%s: %d masses; %s", u.Tube, len(u.Masses), u.Says), max(40, s.Wide-4), "    "))
	}
	fmt.Fprintln(s.Out, "\nWith at most so many tubes")
	for _, c := range r.Curve {
		change := ""
		if len(c.In) > 0 && c.Count > 1 {
			change = "; in: " + strings.Join(c.In, ", ")
		}
		if len(c.Out) > 0 {
			change += "; out: " + strings.Join(c.Out, ", ")
		}
		fmt.Fprintln(s.Out, "  "+wrap(fmt.Sprintf("%2d  worst %.1f, mean %.1f%s", c.Count, c.Worst, c.Mean, change), max(40, s.Wide-4), "      "))
	}
	for _, b := range r.Blocked {
		help := "no one tube of the library would help"
		if b.Add != "" {
			help = b.Add + " would help most"
		}
		fmt.Fprintln(s.Out, wrap(fmt.Sprintf("Out of reach: mass %d of %s, off by %.1f even with the whole box; %s.", b.Mass, b.Photo, b.DE00, help), s.Wide, "  "))
	}
	if len(r.Unused) > 0 {
		fmt.Fprintln(s.Out, wrap("Nothing needs: "+strings.Join(r.Unused, ", ")+".", s.Wide, "  "))
	}
	s.list("Mind", r.Warnings)
	s.list("Caution", r.Cautions)
	return nil
}

package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"
)

type analyzeOptions struct {
	boxFlags
	viewFlags
	path string
}

func newAnalyze(s Streams) *cobra.Command {
	var o analyzeOptions
	c := &cobra.Command{
		Use:   "analyze PHOTO",
		Short: "The masses and values of a photo",
		Long: `Reads a photo into its masses: share of the area, colour, value 0–10, warm or
cool, and the small accents that carry it. Averages are taken in linear light.`,
		Example: `  paintout analyze hillside.jpg
  paintout analyze hillside.jpg -k 8 --canvas 30x40cm`,
		Args: exactly(1, "one photo"),
		RunE: func(c *cobra.Command, args []string) error {
			o.path = args[0]
			return runAnalyze(c.Context(), s, o)
		},
	}
	o.addMixing(c.Flags())
	o.viewFlags.add(c.Flags())
	return c
}

func runAnalyze(ctx context.Context, s Streams, o analyzeOptions) error {
	v, err := o.view()
	if err != nil {
		return usageError{err}
	}
	w, err := o.open()
	if err != nil {
		return err
	}
	bar := s.progress()
	r, err := w.Analyze(ctx, o.path, v, bar.update)
	bar.end()
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	fmt.Fprintf(s.Out, "%s  %d × %d, %s, %s\n\n", r.Photo.Path, r.Photo.Width, r.Photo.Height, r.Photo.Format, r.Photo.Profile)
	for _, m := range r.Masses {
		kind := ""
		if m.Accent {
			kind = "  accent"
		}
		fmt.Fprintf(s.Out, "%3d  %s%s  value %4.1f  %s  %s  %s%s\n", m.ID, s.swatch(m.Hex, 6), percent(m.Share), m.Value,
			pad(m.Notation, 13), pad(m.Temperature, 19), m.Name, kind)
	}
	fmt.Fprintf(s.Out, "\nThe picture lies %.1f ΔE00 from its masses on average, 99 %% of it within %.1f.\n", r.Fit.Mean, r.Fit.P99)
	s.list("Mind", r.Warnings)
	return nil
}

// percent writes a share of the area: whole percents, or one figure below one.
func percent(share float64) string {
	if share < 0.0095 {
		return fmt.Sprintf("%4.1f %%", 100*share)
	}
	return fmt.Sprintf("%4.0f %%", 100*share)
}

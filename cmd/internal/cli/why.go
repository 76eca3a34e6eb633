package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/plan"
)

type whyOptions struct {
	boxFlags
	tubes string
}

func newWhy(s Streams) *cobra.Command {
	var o whyOptions
	c := &cobra.Command{
		Use:   `why "TUBE+TUBE"`,
		Short: "Why a mix stays clean or goes dull",
		Long: `Explains what two or three tubes do to each other: how each leans, which light
they both swallow, how much chroma the mix keeps of the best your box could do,
the third primary hidden in it, which tube to change for a cleaner mix, and what
knocks it back on purpose.`,
		Example: `  paintout why "PR254+PB29"
  paintout why "pyrrole red:1+ultramarine blue:2"`,
		Args: exactly(1, `two or three tubes with a plus between, as in "PR254+PB29"`),
		RunE: func(c *cobra.Command, args []string) error {
			o.tubes = args[0]
			return runWhy(c.Context(), s, o)
		},
	}
	o.add(c.Flags())
	o.addOnly(c.Flags())
	return c
}

func runWhy(ctx context.Context, s Streams, o whyOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	bar := s.progress()
	r, err := plan.Explain(ctx, o.Settings, o.tubes, func(done, all int) { bar.update(plan.Mixing, done, all) })
	bar.end()
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	fmt.Fprintf(s.Out, "%s%s: %s\n", s.swatch(r.Shown.Hex, 6), o.tubes, r.Verdict)
	for _, l := range r.Say {
		fmt.Fprintln(s.Out, "  "+wrap(l, max(40, s.Wide-2), "  "))
	}
	s.list("Mind", r.Warnings)
	s.list("Caution", r.Cautions)
	return nil
}

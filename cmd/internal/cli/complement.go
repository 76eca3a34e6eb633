package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/plan"
)

type complementOptions struct {
	boxFlags
	tube string
}

func newComplement(s Streams) *cobra.Command {
	var o complementOptions
	c := &cobra.Command{
		Use:   "complement TUBE",
		Short: "Which of your tubes greys another",
		Long: `Lists the tubes that bring a tube nearest to neutral, in what parts, and how dark
the two go: what to knock a colour back with, and where its shadows come from.`,
		Example: `  paintout complement "ultramarine blue"
  paintout complement PR254 --only PW6,PR254,PG7,PG17`,
		Args: exactly(1, "one tube, by name or code"),
		RunE: func(_ *cobra.Command, args []string) error {
			o.tube = args[0]
			return runComplement(s, o)
		},
	}
	o.add(c.Flags())
	o.addOnly(c.Flags())
	return c
}

func runComplement(s Streams, o complementOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	r, err := plan.Complements(o.Settings, o.tube)
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	fmt.Fprintf(s.Out, "%s%s%s (%s), %s\n", s.swatch(r.Tube.Hex, 6), s.swatch(r.Tube.TintHex, 6), r.Tube.Name, r.Tube.CI, r.Tube.Lean)
	for _, c := range r.Complements {
		hex := c.Dark.Hex
		if c.Middle != nil {
			hex = c.Middle.Hex
		}
		fmt.Fprintf(s.Out, "  %s%s\n", s.swatch(hex, 6), wrap(c.Says, max(40, s.Wide-9), "         "))
	}
	if len(r.Complements) == 0 {
		fmt.Fprintln(s.Out, "  None of these tubes cancels its hue.")
	}
	s.list("Mind", r.Warnings)
	s.list("Caution", r.Cautions)
	return nil
}

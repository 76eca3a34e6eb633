package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/plan"
)

type importOptions struct {
	readings, box string
	json          bool
}

func newTubesImport(s Streams) *cobra.Command {
	var o importOptions
	c := &cobra.Command{
		Use:   "import READINGS",
		Short: "Calibrate tubes from measurements of them",
		Long: `Reads measured drawdowns (masstone, tints with white, mixes with black) from a CSV
file and fits each tube's own colour from them. Columns: tube, ci, paint_parts,
white_parts and, where used, black_parts; then L, a, b (D65 unless a column
illuminant says otherwise) or one column per wavelength, 400 … 700. A column
specular says in or out, a column basis volume or mass. The white's own row has
paint_parts 0.`,
		Example: `  paintout tubes import drawdowns.csv
  paintout tubes import drawdowns.csv --tubes studio.yaml`,
		Args: exactly(1, "one file of readings"),
		RunE: func(_ *cobra.Command, args []string) error {
			o.readings = args[0]
			return runImport(s, o)
		},
	}
	c.Flags().StringVar(&o.box, "tubes", "", "box `file` to put them in, made if it is not there (else your saved box)")
	c.Flags().BoolVar(&o.json, "json", false, "print one JSON object instead of words")
	return c
}

func runImport(s Streams, o importOptions) error {
	r, err := plan.Import(o.readings, o.box)
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	for _, t := range r.Fitted {
		name := t.Tube
		if t.CI != "" {
			name += " (" + t.CI + ")"
		}
		fmt.Fprintf(s.Out, "%s: %d readings, on average %.1f ΔE00 from the fitted tube", name, len(t.Rows), t.Residual)
		if t.LeftOut != nil {
			fmt.Fprintf(s.Out, "; each foretold from the others within %.1f", *t.LeftOut)
		}
		fmt.Fprintln(s.Out)
		for _, row := range t.Rows {
			if row.Suspicious != "" {
				fmt.Fprintln(s.Out, "    ! "+wrap(row.Suspicious, max(40, s.Wide-6), "      "))
			}
		}
	}
	fmt.Fprintf(s.Out, "\nSaved: %s, %d tubes; tints were read against %s.\n", r.Box, r.Tubes, r.White)
	s.list("Mind", r.Warnings)
	return nil
}

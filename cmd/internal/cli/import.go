package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/plan"
	"paintout/inventory"
	"paintout/inventory/optics"
)

type importOptions struct {
	readings, box               string
	illuminant, specular, basis string
	json                        bool
}

func newTubesImport(s Streams) *cobra.Command {
	var o importOptions
	c := &cobra.Command{
		Use:   "import FILE",
		Short: "Calibrate tubes from measurements of them, or take a table of tubes over",
		Long: `Reads measured drawdowns (masstone, tints with white, mixes with black) and fits
each tube's own colour from them. What kind of file it is, its content says:

CSV        Columns tube, ci, paint_parts, white_parts and, where used,
           black_parts; then L, a, b (D65 unless a column illuminant says
           otherwise) or one column per wavelength, 400 … 700. A column specular
           says in or out, basis volume or mass, state wet or dry, uncertainty
           what the reading is good to in ΔE00. The white's own row has
           paint_parts 0; where there are several, columns white and black
           name the tube.
CGATS.17   Text as instruments write it (ISO 28178), with spectra or LAB_L, LAB_A,
           LAB_B. A sample is named by tube, code and parts of paint to white, to
           black if any: "ultramarine blue PB29 1:4", "light red (PR101) 1:0:0.5",
           "titanium white PW6", "quay blue masstone"; or fields TUBE, CI,
           PAINT_PARTS, WHITE_PARTS, BLACK_PARTS say it. ILLUMINANT, SPECULAR and
           BASIS may be keywords or fields.
CxF3       XML as instruments write it (ISO 17972). Objects are named in the same
           way, or have tags Tube, CI, Paint parts, White parts, Black parts.
Tubes      A table as tubes export writes it: see there.

What a file does not state is taken for granted and said; state it with
--illuminant, --specular and --basis.`,
		Example: `  paintout tubes import drawdowns.csv
  paintout tubes import drawdowns.cxf --tubes studio
  paintout tubes import meter.txt --illuminant D50 --specular out --basis mass`,
		Args: exactly(1, "one file of readings or of tubes"),
		RunE: func(_ *cobra.Command, args []string) error {
			o.readings = args[0]
			said, err := o.said()
			if err != nil {
				return err
			}
			return runImport(s, o, said)
		},
	}
	c.Flags().StringVar(&o.box, "tubes", "", "the `box` to put them in, made if it is not there: a file, or a name (else your saved box)")
	c.Flags().StringVar(&o.illuminant, "illuminant", "", "light that L,a,b were computed for, where the file does not say: `D50`, D65, A or C")
	c.Flags().StringVar(&o.specular, "specular", "", "whether the surface's reflection is counted, where the file does not say: `in` or out")
	c.Flags().StringVar(&o.basis, "basis", "", "what parts are, where the file does not say: `volume` or mass")
	c.Flags().BoolVar(&o.json, "json", false, "print one JSON object instead of words")
	return c
}

// said is what the flags say of the readings.
func (o *importOptions) said() (inventory.Said, error) {
	var said inventory.Said
	if o.illuminant != "" {
		il, err := optics.ParseIlluminant(strings.ToUpper(o.illuminant))
		if err != nil {
			return said, usageError{fmt.Errorf("--illuminant: %w", err)}
		}
		said.Illuminant = &il
	}
	if o.specular != "" {
		f, err := optics.ParseFinish(strings.ToLower(o.specular))
		if err != nil {
			return said, usageError{fmt.Errorf("--specular %q: write in if the surface's reflection is counted, out if not", o.specular)}
		}
		said.Finish = &f
	}
	switch o.basis {
	case "":
	case "mass", "volume":
		mass := o.basis == "mass"
		said.Mass = &mass
	default:
		return said, usageError{fmt.Errorf("--basis %q: write volume or mass", o.basis)}
	}
	return said, nil
}

func runImport(s Streams, o importOptions, said inventory.Said) error {
	r, err := plan.Import(o.readings, o.box, said)
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	s.fitted(r.Fitted)
	for _, l := range []struct {
		what  string
		names []string
	}{{"Added", r.Added}, {"Changed", r.Changed}, {"As they were", r.Same}} {
		if len(l.names) > 0 {
			fmt.Fprintln(s.Out, wrap(fmt.Sprintf("%s: %s", l.what, strings.Join(l.names, ", ")), max(40, s.Wide), "  "))
		}
	}
	fmt.Fprintf(s.Out, "\nSaved: %s, %s", r.Box, count(r.Tubes, "tube"))
	if r.White != "" {
		fmt.Fprintf(s.Out, "; tints were read against %s", r.White)
	}
	fmt.Fprintln(s.Out, ".")
	s.list("Mind", besides(r.Warnings, r.Fitted))
	if len(r.Unstated) > 0 {
		fmt.Fprintf(s.Out, "Say it when you import: --%s\n", strings.Join(r.Unstated, ", --"))
	}
	return nil
}

// fitted shows tubes as fitted to their readings.
func (s Streams) fitted(tubes []plan.CalibratedTube) {
	for _, t := range tubes {
		name := t.Tube
		if t.CI != "" {
			name += " (" + t.CI + ")"
		}
		line := fmt.Sprintf("%s: %s met within %.1f ΔE00 on average", name, count(len(t.Rows), "reading"), t.Residual)
		if t.LeftOut != nil {
			line += fmt.Sprintf(", each from the others within %.1f", *t.LeftOut)
		}
		fmt.Fprintln(s.Out, wrap(line, s.Wide, "  "))
		said := map[string]bool{} // two rows that look swapped share one line
		for _, row := range t.Rows {
			if row.Suspicious != "" && !said[row.Suspicious] {
				said[row.Suspicious] = true
				fmt.Fprintln(s.Out, "    ! "+wrap(row.Suspicious, max(40, s.Wide-6), "      "))
			}
		}
	}
}

// besides are the warnings that stand with none of the tubes' rows.
func besides(warnings []string, tubes []plan.CalibratedTube) []string {
	return slices.DeleteFunc(slices.Clone(warnings), func(w string) bool {
		return slices.ContainsFunc(tubes, func(t plan.CalibratedTube) bool {
			return slices.ContainsFunc(t.Rows, func(r plan.ReadingRow) bool { return r.Suspicious == w })
		})
	})
}

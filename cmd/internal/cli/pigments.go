package cli

import (
	"fmt"
	"slices"

	"github.com/mattn/go-runewidth"
	"github.com/spf13/cobra"

	"paintout/cmd/internal/plan"
	"paintout/inventory"
	"paintout/inventory/optics"
)

type pigmentsOptions struct {
	names  []string
	finish string
	json   bool
}

func newPigments(s Streams) *cobra.Command {
	var o pigmentsOptions
	c := &cobra.Command{
		Use:   "pigments [CODE…]",
		Short: "The library of pigments, or what is known of some",
		Long: `Lists the pigments whose colour is known: masstone and tint, lean, opacity,
tinting strength, lightfastness, where the figures come from, usual caution.`,
		Example: `  paintout pigments
  paintout pigments PB29 "PBr7/burnt sienna"`,
		RunE: func(_ *cobra.Command, args []string) error {
			o.names = args
			return runPigments(s, o)
		},
	}
	c.Flags().StringVar(&o.finish, "finish", "included", "included (matte, shine in the colour) or excluded (gloss out of glare)")
	c.Flags().BoolVar(&o.json, "json", false, "print one JSON object instead of words")
	return c
}

func runPigments(s Streams, o pigmentsOptions) error {
	finish, err := optics.ParseFinish(o.finish)
	if err != nil {
		return usageError{err}
	}
	r, err := plan.Pigments(o.names, finish)
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	if len(o.names) > 0 {
		for _, t := range r.Pigments {
			s.tubeCard(t)
		}
		s.cautionScope(r.Pigments)
	} else {
		s.tubeTable(r.Pigments)
		fmt.Fprintln(s.Out, "\n"+wrap("! caution, ! fades: paintout pigments CODE says more.", s.Wide, ""))
	}
	fmt.Fprintln(s.Out, "\n"+wrap(r.Note, s.Wide, ""))
	s.list("Care", r.Care)
	return nil
}

// tubeTable lists tubes a line each: masstone, tint, code, name, lean.
func (s Streams) tubeTable(tubes []plan.Tube) {
	lean := func(t plan.Tube) string {
		if t.White {
			return "white"
		}
		return t.Lean
	}
	var wide [4]int
	for _, t := range tubes {
		for i, v := range [...]string{t.CI, t.Name, lean(t), t.Opacity} {
			wide[i] = max(wide[i], runewidth.StringWidth(v))
		}
	}
	for _, t := range tubes {
		mark := ""
		if t.Caution != "" {
			mark = "  ! caution"
		}
		if t.LongerLived != nil {
			mark += "  ! fades"
		}
		fmt.Fprintf(s.Out, "%s%s%s  %s  %s  %s  %s%s\n", s.swatch(t.Hex, 4), s.swatch(t.TintHex, 4),
			pad(t.CI, wide[0]), pad(t.Name, wide[1]), pad(lean(t), wide[2]), pad(t.Opacity, wide[3]), t.Provenance, mark)
	}
}

// cautionScope says what the cautions on tubes' cards are worth.
func (s Streams) cautionScope(tubes []plan.Tube) {
	if slices.ContainsFunc(tubes, func(t plan.Tube) bool { return t.Caution != "" }) {
		fmt.Fprintln(s.Out, "\n"+wrap(inventory.CautionScope, s.Wide, ""))
	}
}

// tubeCard tells all that is known of one tube.
func (s Streams) tubeCard(t plan.Tube) {
	fmt.Fprintf(s.Out, "%s%s%s  %s\n", s.swatch(t.Hex, 8), s.swatch(t.TintHex, 8), t.Name, t.CI)
	line := func(name, v string) {
		if v != "" {
			fmt.Fprintf(s.Out, "  %s %s\n", pad(name, 16), wrap(v, max(40, s.Wide-19), "                   "))
		}
	}
	line("lean", t.Lean)
	line("masstone", labText(t.Lab)+", "+t.Hex)
	line("tint 1 : 9", labText(t.TintLab)+", "+t.TintHex)
	line("opacity", t.Opacity)
	line("strength", t.Strength)
	line("lightfastness", t.Lightfast)
	if t.LongerLived != nil {
		line("it fades", t.LongerLived.Words)
	}
	line("colour is", t.Provenance+": "+t.Source)
	if f := t.Fit; f != nil {
		agree := fmt.Sprintf("met within %.1f ΔE00 on average", f.Residual)
		if f.LeftOut != nil {
			agree += fmt.Sprintf("; each foretold from the others within %.1f", *f.LeftOut)
		}
		line("its readings", agree)
		said := map[string]bool{}
		for _, r := range f.Rows {
			if r.Suspicious != "" && !said[r.Suspicious] {
				said[r.Suspicious] = true
				line("", "! "+r.Suspicious)
			}
		}
	}
	line("drying", t.Dries)
	if t.Factor != 0 {
		line("your strength", fmt.Sprintf("%g times the code's", t.Factor))
	}
	line("medium", t.Medium)
	switch {
	case t.LeftML != nil && t.SizeML > 0:
		line("left", fmt.Sprintf("%g of %g ml", *t.LeftML, t.SizeML))
	case t.LeftML != nil:
		line("left", fmt.Sprintf("%g ml", *t.LeftML))
	case t.SizeML > 0:
		line("size", fmt.Sprintf("%g ml", t.SizeML))
	}
	line("note", t.Note)
	line("caution", t.Caution)
}

package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"paintout/cmd/internal/plan"
)

// wayFlags say how paint is mixed and laid.
type wayFlags struct {
	plan.WashAsk
	name  string
	flags *pflag.FlagSet
}

func (w *wayFlags) addWay(f *pflag.FlagSet) {
	var names []string
	for _, v := range plan.Ways {
		names = append(names, v.Name)
	}
	w.flags = f
	f.StringVar(&w.name, "way", "", "the `way` you paint: "+strings.Join(names, ", ")+" (else knife)")
}

// addWash adds what only washes ask for.
func (w *wayFlags) addWash(f *pflag.FlagSet) {
	f.StringVar(&w.Ground, "ground", "", "for watercolour: the `colour` of the paper or toned ground (else white paper)")
	f.StringVar(&w.Seen, "seen", "", "for watercolour: a wash you laid and its colour when dry, `\"PB29:1,water:4=lab:62,-6,-42\"`")
}

// way finds the way and takes over its portion error, unless one was given.
func (w *wayFlags) way(b *boxFlags) (plan.Way, error) {
	if w.name == "" {
		w.name = plan.Ways[0].Name
	}
	v, err := plan.WayNamed(w.name)
	if err != nil {
		return v, usageError{fmt.Errorf("--way: %w", err)}
	}
	if !v.Washes && (w.Ground != "" || w.Seen != "") {
		return v, usageError{fmt.Errorf("--ground and --seen are for washes: say --way watercolour too")}
	}
	if !w.flags.Changed("portion-error") {
		b.PortionError = v.PortionError
	}
	return v, nil
}

// waterWords says how far colour is let down.
func waterWords(water float64) string {
	if water == 0 {
		return "undiluted"
	}
	return fmt.Sprintf("1 to %.3g of water", water)
}

func (s Streams) washSeries(r *plan.WashMixResult) {
	fmt.Fprintln(s.Out, "  washes of it, colour to water, dry:")
	steps := slices.Clone(r.Washes)
	if r.Asked != nil && !slices.ContainsFunc(steps, func(w plan.WashStep) bool { return w.Water == r.Asked.Water }) {
		at := slices.IndexFunc(steps, func(w plan.WashStep) bool { return w.Water > r.Asked.Water })
		if at < 0 {
			at = len(steps)
		}
		steps = slices.Insert(steps, at, *r.Asked)
	}
	for _, w := range steps {
		mark := ""
		if r.Asked != nil && w.Water == r.Asked.Water {
			mark = "  <- as typed"
		}
		fmt.Fprintf(s.Out, "  %s%s value %.1f  %s  %s  nine times in ten within %.0f  %s%s\n", s.swatch(w.Hex, 10), pad(waterWords(w.Water), 18), w.Value, pad(labText(w.Lab), 26), w.Hex, w.P90, w.Name, mark)
	}
	fmt.Fprintln(s.Out, "  "+wrap(r.Scale.Words, max(40, s.Wide-2), "  "))
}

func (s Streams) washRecipes(r *plan.WashRecipesResult) {
	for _, t := range r.Targets {
		fmt.Fprintf(s.Out, "%s%s  %s, value %.1f, %s\n", s.swatch(t.Hex, 6), t.Target, t.Name, t.Value, t.Notation)
		if t.Lab != t.Aim {
			fmt.Fprintf(s.Out, "%scolour to mix, fitted to the range of washes: %s, %s\n", s.swatch(t.AimHex, 6), t.AimHex, labText(t.Aim))
		}
		for _, q := range t.Washes {
			mark := ""
			if q.Suggested {
				mark = "  <- try first"
			}
			fmt.Fprintf(s.Out, "  %s%s: %s, %s%s\n", s.swatch(q.Hex, 6), q.Choice, partsLine(q.Parts), waterWords(q.Water), mark)
			off := fmt.Sprintf("%s: off by %.1f, nine times in ten within %.1f", q.Grade, q.DE00, q.P90)
			if q.Miss != "" {
				off += " (" + q.Miss + ")"
			}
			fmt.Fprintf(s.Out, "      %s\n", off)
		}
		fmt.Fprintln(s.Out)
	}
	fmt.Fprintln(s.Out, wrap(r.Scale.Words, s.Wide, ""))
	fmt.Fprintln(s.Out, wrap(fmt.Sprintf("Parts by volume; water to one part of all the colour. Every ratio of one tube and of two is tried. Tubes: %s; %s.", r.Box, finishWords(r.Finish)), s.Wide, ""))
}

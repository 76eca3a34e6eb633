package cli

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"paintout/cmd/internal/draw"
	"paintout/cmd/internal/plan"
	"paintout/recipe"
)

type kitOptions struct {
	boxFlags
	viewFlags
	plan.KitAsk
	out   string
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
		Example: `  paintout kit hillside.jpg --out kit.png
  paintout kit day1.jpg day2.jpg --max 6 --keep PW6 --leave PG7`,
		Args: atLeast(1, "at least one photo"),
		RunE: func(c *cobra.Command, args []string) error {
			o.paths = args
			return runKit(c.Context(), s, o)
		},
	}
	o.addMixing(c.Flags())
	o.viewFlags.add(c.Flags())
	addKit(c.Flags(), &o.KitAsk)
	c.Flags().StringVar(&o.out, "out", "", "draw what any number of tubes can do in this `file` (.png or .svg)")
	c.Flags().BoolVar(&o.Library, "library", false, "choose from the library, for a painter who owns nothing yet")
	return c
}

// addKit adds what a kit must do.
func addKit(f *pflag.FlagSet, a *plan.KitAsk) {
	f.Float64Var(&a.Tolerance, "tolerance", recipe.KitTolerance, "how near the kit must come to every mass, in ΔE00")
	f.StringSliceVar(&a.Keep, "keep", nil, "`tubes` to carry in any case")
	f.StringSliceVar(&a.Leave, "leave", nil, "`tubes` to leave at home in any case")
	f.IntVar(&a.Max, "max", 0, "carry at most so many tubes, white counted")
}

func runKit(ctx context.Context, s Streams, o kitOptions) error {
	v, err := o.view()
	if err == nil {
		err = o.KitAsk.Check()
	}
	if err != nil {
		return usageError{err}
	}
	if err := checkPicture(o.out); err != nil {
		return err
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
	if err := writePictures(picture{o.out,
		func(w io.Writer) error { return draw.KitPNG(w, &r.KitPlan, r.Looks) },
		func(w io.Writer) error { return draw.KitSVG(w, &r.KitPlan, r.Looks) }}); err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	s.kitInBrief(&r.KitPlan)
	fmt.Fprintln(s.Out, "\nWhat each is there for")
	for _, u := range r.Uses {
		masses := fmt.Sprintf("%d of %d masses", len(u.Masses), len(r.Masses))
		fmt.Fprintln(s.Out, "  "+wrap(fmt.Sprintf("%s%s: in %s; %s", s.streak(r.Looks, u.Tube), u.Tube, masses, u.Says), max(40, s.Wide-4), "    "))
	}
	s.kitCurve(&r.KitPlan)
	s.unneeded(r, o.Library)
	s.list("Mind", r.Warnings)
	s.list("Caution", r.Cautions)
	s.written(o.out, "kit")
	return nil
}

// kitCurve says what any number of tubes can do, a line for each number that
// comes nearer in the figures shown, and the kit in its place.
func (s Streams) kitCurve(k *plan.KitPlan) {
	proven := func(c plan.KitStep) bool { return c.Proven }
	heading, each := "With at most so many tubes, the set whose worst mass is nearest", true
	if !slices.ContainsFunc(k.Curve, proven) {
		heading, each = heading+" (the best found, not proven)", false
	}
	fmt.Fprintln(s.Out, "\n"+wrap(heading, s.Wide, "  "))
	line := func(mark, count, text string) {
		fmt.Fprintf(s.Out, "%3s  %s\n", mark+count, wrap(text, max(40, s.Wide-6), "      "))
	}
	figures := func(worst, mean float64) string { return fmt.Sprintf("worst %.1f, mean %.1f", worst, mean) }
	is := func(c plan.KitStep) bool { return len(c.Tubes) == len(k.Tubes) && len(less(c.Tubes, k.Tubes)) == 0 }
	listed := slices.ContainsFunc(k.Curve, is)
	kit := func() {
		if !listed {
			says := ": the kit"
			if k.Needed == 0 && !k.Given {
				says += ", every mass near enough and the least mean"
			}
			line("*", fmt.Sprint(len(k.Tubes)), figures(k.Worst, k.Mean)+says)
			listed = true
		}
	}
	var shown, last *plan.KitStep // the last line, and the last step
	same := func() {              // the steps since the last line
		switch {
		case shown == nil || shown == last:
		case last.Count == shown.Count+1:
			line("", fmt.Sprint(last.Count), "no nearer by a tenth")
		default:
			line("", fmt.Sprintf("  %d to %d", shown.Count+1, last.Count), "no nearer by a tenth")
		}
	}
	for i := range k.Curve {
		c := &k.Curve[i]
		if c.Count > len(k.Tubes) && !listed {
			same()
			shown = last
			kit()
		}
		says := figures(c.Worst, c.Mean)
		if shown != nil && !is(*c) && says == figures(shown.Worst, shown.Mean) {
			last = c
			continue
		}
		same()
		if shown == nil {
			says += ": " + plan.Listed(c.Tubes)
		} else {
			if in := less(c.Tubes, shown.Tubes); len(in) > 0 {
				says += "; in: " + plan.Listed(in)
			}
			if out := less(shown.Tubes, c.Tubes); len(out) > 0 {
				says += "; out: " + plan.Listed(out)
			}
		}
		mark := ""
		if is(*c) {
			mark, says = "*", says+" (the kit)"
		}
		if each && !c.Proven {
			says += " (the best found, not proven)"
		}
		line(mark, fmt.Sprint(c.Count), says)
		shown, last = c, c
	}
	same()
	kit()
}

// less is list without those of out.
func less(list, out []string) []string {
	return slices.DeleteFunc(slices.Clone(list), func(t string) bool { return slices.Contains(out, t) })
}

// unneeded names the tubes of a painter's own box that nothing needs, or counts
// them where they are many.
func (s Streams) unneeded(r *plan.KitResult, library bool) {
	const few = 12
	switch n := len(r.Unused); {
	case n == 0 || library:
	case n <= few:
		fmt.Fprintln(s.Out, wrap("Nothing needs "+plan.Listed(r.Unused)+": neither the kit, nor the curve, nor the whole box's nearest mix of any mass.", s.Wide, "  "))
	default:
		fmt.Fprintln(s.Out, wrap(fmt.Sprintf("Nothing needs %d of the tubes: neither the kit, nor the curve, nor the whole box's nearest mix of any mass. --json names them.", n), s.Wide, "  "))
	}
}

// streak shows a tube's masstone and tint.
func (s Streams) streak(tubes []plan.Tube, name string) string {
	for _, t := range tubes {
		if t.Name == name {
			return s.swatch(t.Hex, 2) + s.swatch(t.TintHex, 2)
		}
	}
	return ""
}

// kitInBrief says which tubes to carry, what that costs, and what stays out of
// reach.
func (s Streams) kitInBrief(k *plan.KitPlan) {
	carry, proof := "Carry", "proven over the ladder of parts: no smaller set does it"
	switch {
	case k.Given:
		carry, proof = "You carry", "as you named them"
	case !k.Proven:
		proof = "the best found; not proven"
	case k.Needed > 0:
		proof = "proven over the ladder of parts: no set so small comes nearer"
	}
	fmt.Fprintln(s.Out, wrap(fmt.Sprintf("%s %d: %s (%s).", carry, len(k.Tubes), plan.Listed(k.Tubes), proof), s.Wide, "  "))
	fmt.Fprintln(s.Out, wrap(k.Cost, s.Wide, ""))
	if k.Needed > 0 {
		fmt.Fprintf(s.Out, "Every mass within %g ΔE00 would take %d tubes.\n", k.Tolerance, k.Needed)
	}
	unseen, most := 0, 0.0
	for _, b := range k.Blocked {
		if b.DE00 <= recipe.Indistinct {
			unseen, most = unseen+1, max(most, b.DE00)
			continue
		}
		fmt.Fprintln(s.Out, wrap(fmt.Sprintf("Out of reach: mass %d of %s, %s, off by %.1f at best. %s", b.Mass, filepath.Base(b.Photo), b.Name, b.DE00, b.Help()), s.Wide, "  "))
	}
	switch unseen {
	case 0:
	case 1:
		fmt.Fprintf(s.Out, "One mass misses the tolerance by less than the eye can tell: off by %.1f ΔE00 at best.\n", most)
	default:
		fmt.Fprintf(s.Out, "%d masses miss the tolerance by less than the eye can tell: off by %.1f ΔE00 at most.\n", unseen, most)
	}
}

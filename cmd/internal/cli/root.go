// Package cli is the command line: one file per command, each an options
// struct, a constructor that reads flags into it, and a run function. It
// formats what the use cases of package plan answer, and writes files.
package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"paintout/analyze"
	"paintout/analyze/photo"
	"paintout/cmd/internal/plan"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// Streams are what a command reads and writes.
type Streams struct {
	Out, Err  io.Writer
	Colour    bool // Out shows true colour
	ErrIsTerm bool // Err is a terminal, so progress may be drawn on it
	Wide      int  // columns of Out
}

// Exit codes.
const (
	exitOK       = 0
	exitBadInput = 1
	exitBadUsage = 2
)

// usageError is a command line that cannot be understood.
type usageError struct{ error }

// Run carries out one command line and gives its exit code: 0, 1 for bad
// input, 2 for bad usage.
func Run(ctx context.Context, args []string, s Streams) int {
	root := newRoot(s)
	root.SetArgs(args)
	root.SetOut(s.Out)
	root.SetErr(s.Err)
	cmd, err := root.ExecuteContextC(ctx)
	if err == nil {
		return exitOK
	}
	if ctx.Err() != nil {
		fmt.Fprintln(s.Err, "paintout: stopped; nothing half-written was left")
		return exitBadInput
	}
	fmt.Fprintln(s.Err, "paintout: "+err.Error())
	var usage usageError
	if errors.As(err, &usage) || strings.HasPrefix(err.Error(), "unknown command") {
		fmt.Fprintf(s.Err, "Try: %s --help\n", cmd.CommandPath())
		return exitBadUsage
	}
	return exitBadInput
}

func newRoot(s Streams) *cobra.Command {
	root := &cobra.Command{
		Use:   "paintout",
		Short: "From a reference photo and a box of tubes to a paint plan",
		Long: `Paintout turns a reference photo and a box of tube paints into a paint plan:
the masses and their values, mixes in parts by the knife, and how far off to
expect each. Colours come from measured pigments, never from averaging.`,
		Example: `  paintout plan hillside.jpg
  paintout recipe 5a7d3c
  paintout mix "PB29:1,PY43:2"`,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usageError{fmt.Errorf("unknown command %q", args[0])}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error {
		// The flag package quotes the parser it used: leave that out.
		said, _, _ := strings.Cut(err.Error(), ": strconv.")
		return usageError{errors.New(said)}
	})
	root.CompletionOptions.DisableDefaultCmd = true
	root.AddCommand(newPlan(s), newAnalyze(s), newRecipe(s), newMix(s), newPigments(s), newTubes(s))
	root.AddCommand(newKit(s), newReach(s), newWhy(s), newComplement(s), newString(s), newWheel(s), newChart(s), newLesson(s), newHandout(s), newExport(s), newMend(s), newServe(s))
	return root
}

// boxFlags are the choices about tubes that several commands share.
type boxFlags struct {
	plan.Settings
	json bool
}

func (b *boxFlags) add(f *pflag.FlagSet) {
	f.StringVar(&b.TubesFile, "tubes", "", "the `box` to mix from: a file, or the name of a saved one (else your saved box, else the starter box)")
	f.StringVar(&b.Finish, "finish", "", "included (matte, shine in the colour) or excluded (gloss out of glare)")
	f.BoolVar(&b.json, "json", false, "print one JSON object instead of words")
}

func (b *boxFlags) addMixing(f *pflag.FlagSet) {
	b.add(f)
	b.addOnly(f)
	f.BoolVar(&b.NoFit, "no-fit", false, "take the photo's colours as they are, without fitting its range to the paint's")
	b.addPortion(f)
}

func (b *boxFlags) addOnly(f *pflag.FlagSet) {
	f.StringSliceVar(&b.Only, "only", nil, "mix only from these `tubes` (names or codes, comma between)")
}

func (b *boxFlags) addPortion(f *pflag.FlagSet) {
	f.Float64Var(&b.PortionError, "portion-error", recipe.KnifeError, "how unevenly parts are set out, as a share; 0 if weighed")
}

// check finds choices that no box could meet: bad usage rather than bad input.
func (b *boxFlags) check() error {
	if b.Finish != "" {
		if _, err := optics.ParseFinish(b.Finish); err != nil {
			return usageError{err}
		}
	}
	if !(b.PortionError >= 0 && b.PortionError <= 1) {
		return usageError{fmt.Errorf("--portion-error %v: give the standard deviation of one part as a share, 0 (weighed) to 1; by knife it is about %.2f", b.PortionError, recipe.KnifeError)}
	}
	return nil
}

// open checks the choices and loads the box.
func (b *boxFlags) open() (*plan.Workspace, error) {
	if err := b.check(); err != nil {
		return nil, err
	}
	return plan.Open(b.Settings)
}

// photoFlags say how a photo is read.
type photoFlags struct {
	grey, crop, canvas string
	exposure           float64
}

func (p *photoFlags) add(f *pflag.FlagSet) {
	f.StringVar(&p.grey, "grey", "", "balance the photo so that the spot at `x,y` (pixels or percent) is neutral")
	f.Float64Var(&p.exposure, "exposure", 0, "brighten by so many `stops` (or darken, below 0)")
	f.StringVar(&p.crop, "crop", "", "keep only `x,y,w,h` (pixels or percent)")
	f.StringVar(&p.canvas, "canvas", "", "crop to a canvas's proportions, `30x40cm` or 12x16in")
}

func (p *photoFlags) options() (photo.Options, error) {
	o := photo.Options{Exposure: p.exposure}
	if p.grey != "" {
		v, err := photo.ParsePoint(p.grey)
		if err != nil {
			return o, fmt.Errorf("--grey: %w", err)
		}
		o.Grey = &v
	}
	if p.crop != "" {
		v, err := photo.ParseCrop(p.crop)
		if err != nil {
			return o, fmt.Errorf("--crop: %w", err)
		}
		o.Crop = &v
	}
	if p.canvas != "" {
		v, err := photo.ParseCanvas(p.canvas)
		if err != nil {
			return o, fmt.Errorf("--canvas: %w", err)
		}
		o.Canvas = &v
	}
	return o, nil
}

// viewFlags add how the photo is divided.
type viewFlags struct {
	photoFlags
	k         int
	noAccents bool
}

func (v *viewFlags) add(f *pflag.FlagSet) {
	v.photoFlags.add(f)
	f.IntVarP(&v.k, "masses", "k", 0, "number of masses, 3 to 24, accents included (0: the picture decides)")
	f.BoolVar(&v.noAccents, "no-accents", false, "keep no masses for small vivid accents")
}

func (v *viewFlags) view() (plan.View, error) {
	o, err := v.options()
	if err == nil && v.k != 0 && (v.k < analyze.KMin || v.k > analyze.KMax) {
		err = fmt.Errorf("-k %d: a picture is divided into %d to %d masses, accents included; leave it out and the picture decides", v.k, analyze.KMin, analyze.KMax)
	}
	return plan.View{Photo: o, K: v.k, NoAccents: v.noAccents}, err
}

// atLeast asks for a number of arguments, in words.
func atLeast(n int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < n {
			return usageError{fmt.Errorf("%s needs %s", cmd.CommandPath(), what)}
		}
		return nil
	}
}

func exactly(n int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) != n {
			return usageError{fmt.Errorf("%s needs %s", cmd.CommandPath(), what)}
		}
		return nil
	}
}

// printJSON writes v as one indented object.
func printJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

// System gives the process's own streams.
func System() Streams {
	return Streams{
		Out: os.Stdout, Err: os.Stderr,
		Colour: showsColour(os.Stdout), ErrIsTerm: isTerminal(os.Stderr), Wide: columns(os.Stdout),
	}
}

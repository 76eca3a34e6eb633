package cli

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"paintout/cmd/internal/plan"
	"paintout/inventory"
)

// boxUsage is what --tubes says where a box is changed.
const boxUsage = "the `box`: a file, or the name of a saved one (else your saved box)"

// tubeFlags are what can be said of a tube: the flag and the box file's key.
var tubeFlags = []struct{ flag, key, usage string }{
	{"pigment", "pigment", "pigment `code` or codes on the label, as in PB29 or PW6,PB29"},
	{"medium", "medium", "`oil`, acrylic, gouache, watercolour, tempera or casein"},
	{"size", "size", "what a full tube holds, as in `37ml`"},
	{"left", "left", "what is left in it, as in `20ml`"},
	{"opacity", "opacity", "`opaque`, semi-opaque, semi-transparent or transparent, where the label differs from the library"},
	{"strength", "strength", "tinting strength: a `factor` on the library's that mixes reckon with, as in 1.2, or a word (low, medium, high, very high) to read"},
	{"lightfast", "lightfast", "lightfastness on the `label`, where it differs from the library's"},
	{"caution", "caution", "`caution` on the label, where it differs from the library's"},
	{"white", "white", "`yes` if other paints are let down with it, no if not"},
	{"note", "note", "a `note` of your own"},
}

var strengthWords = []string{"low", "medium", "high", "very high"}

// tubeOptions are an add or an edit.
type tubeOptions struct {
	box, tube string
	fields    inventory.Fields
	json      bool
}

// add declares the flags; read gathers those that were given.
func (o *tubeOptions) add(f *pflag.FlagSet) {
	for _, t := range tubeFlags {
		f.String(t.flag, "", t.usage)
	}
	f.StringVar(&o.box, "tubes", "", boxUsage)
	f.BoolVar(&o.json, "json", false, "print one JSON object instead of words")
}

func (o *tubeOptions) read(f *pflag.FlagSet) error {
	o.fields = inventory.Fields{}
	var err error
	f.Visit(func(g *pflag.Flag) {
		i := slices.IndexFunc(tubeFlags, func(t struct{ flag, key, usage string }) bool { return t.flag == g.Name })
		if i < 0 {
			return
		}
		key, v := tubeFlags[i].key, strings.TrimSpace(g.Value.String())
		if g.Name == "strength" && v != "" {
			if _, e := strconv.ParseFloat(v, 64); e != nil {
				if v = strings.ToLower(v); !slices.Contains(strengthWords, v) {
					err = usageError{fmt.Errorf("--strength %q: give a factor such as 1.2, or one of %s", v, strings.Join(strengthWords, ", "))}
				}
				key = "tinting"
			}
		}
		o.fields[key] = v
		if g.Name == "strength" && v == "" {
			o.fields["tinting"] = ""
		}
	})
	return err
}

// oneTube asks for a single name.
func oneTube(cmd *cobra.Command, args []string) error {
	switch {
	case len(args) == 0 || len(args) == 1 && strings.TrimSpace(args[0]) == "":
		return usageError{fmt.Errorf("%s needs the tube's name", cmd.CommandPath())}
	case len(args) > 1:
		return usageError{fmt.Errorf("%s takes one tube: put a name of several words in quotes, as in %q", cmd.CommandPath(), strings.Join(args, " "))}
	}
	return nil
}

func newTubesAdd(s Streams) *cobra.Command {
	var o tubeOptions
	c := &cobra.Command{
		Use:   "add NAME",
		Short: "Put a tube into your box",
		Long: `Puts a tube into your box. Its pigment code stands on the label in small print
(PB29, PY43, PBr7 …); a tube mixed from several has several. Without --pigment
the name is looked up in the library.

A tube known by its code works at once, with the library's colour. What that is
worth is said; readings of the tube itself (tubes import) make it surer.

The first tube begins a box of your own, with that tube alone: from then on your
box is used instead of the starter box. To begin from the starter box, export
it, strike out what you do not own, and import the rest: see tubes export.`,
		Example: `  paintout tubes add "ultramarine blue" --pigment PB29 --medium oil --size 37ml
  paintout tubes add "sap green" --pigment PG7,PY110 --left 10ml --note "the old tube"
  paintout tubes add "burnt sienna" --pigment "PBr7/burnt sienna" --tubes outdoors`,
		Args: oneTube,
		RunE: func(c *cobra.Command, args []string) error {
			o.tube = args[0]
			if err := o.read(c.Flags()); err != nil {
				return err
			}
			return runTubesAdd(s, o)
		},
	}
	o.add(c.Flags())
	return c
}

func runTubesAdd(s Streams, o tubeOptions) error {
	o.fields["name"] = o.tube
	r, err := plan.AddTube(o.box, o.fields)
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	if r.Begun {
		fmt.Fprintf(s.Out, "Begun: a box of your own, %q, with this tube alone.\nIt is kept in %s\n\n", r.Title, r.Box)
	} else {
		fmt.Fprintf(s.Out, "Added to %s, which now holds %s.\n\n", r.Box, count(r.Tubes, "tube"))
	}
	s.tubeResult(r)
	return nil
}

func newTubesEdit(s Streams) *cobra.Command {
	var o tubeOptions
	c := &cobra.Command{
		Use:   "edit TUBE",
		Short: "Change what your box says of a tube",
		Long: `Changes of a tube what you give and nothing else. --name gives it another name.
An empty value, as in --note "", takes a thing back to what the library says, or
to nothing. Comments in the box file are kept, and the box as it was stays
beside it as FILE.bak until the next change.`,
		Example: `  paintout tubes edit "ultramarine blue" --left 12ml
  paintout tubes edit ultramarine --name "French ultramarine" --strength 1.2
  paintout tubes edit PR108 --note "" --tubes studio`,
		Args: oneTube,
		RunE: func(c *cobra.Command, args []string) error {
			o.tube = args[0]
			if err := o.read(c.Flags()); err != nil {
				return err
			}
			if c.Flags().Changed("name") {
				name, _ := c.Flags().GetString("name")
				if strings.TrimSpace(name) == "" {
					return usageError{errors.New("--name is empty: give the tube's new name")}
				}
				o.fields["name"] = name
			}
			if len(o.fields) == 0 {
				return usageError{errors.New("nothing to change: give at least one of --name, --pigment, --left and the like")}
			}
			return runTubesEdit(s, o)
		},
	}
	c.Flags().String("name", "", "another `name`")
	o.add(c.Flags())
	return c
}

func runTubesEdit(s Streams, o tubeOptions) error {
	r, err := plan.EditTube(o.box, o.tube, o.fields)
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	if r.Was != "" {
		fmt.Fprintf(s.Out, "%s is now called %s. ", r.Was, r.Tube.Name)
	}
	fmt.Fprintf(s.Out, "Saved: %s\n\n", r.Box)
	s.tubeResult(r)
	return nil
}

// tubeResult shows a tube as it now stands.
func (s Streams) tubeResult(r *plan.EditResult) {
	s.tubeCard(r.Tube)
	s.cautionScope([]plan.Tube{r.Tube})
	fmt.Fprintln(s.Out, "\n"+wrap(r.Worth, max(40, s.Wide), ""))
	s.list("Mind", r.Warnings)
}

// count writes "1 tube", "2 tubes".
func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}

type removeOptions struct {
	box   string
	tubes []string
	json  bool
}

func newTubesRemove(s Streams) *cobra.Command {
	var o removeOptions
	c := &cobra.Command{
		Use:   "remove TUBE…",
		Short: "Take tubes out of your box",
		Long: `Takes tubes out of your box, without asking. The box as it was stays beside it as
FILE.bak until the next change; how to bring it back is said. Where one of the
names is unknown, nothing is taken out.`,
		Example: `  paintout tubes remove "phthalo green"
  paintout tubes remove PG7 PB15:3 --tubes outdoors`,
		Args: atLeast(1, "a tube, by name or code"),
		RunE: func(_ *cobra.Command, args []string) error {
			o.tubes = args
			return runTubesRemove(s, o)
		},
	}
	c.Flags().StringVar(&o.box, "tubes", "", boxUsage)
	c.Flags().BoolVar(&o.json, "json", false, "print one JSON object instead of words")
	return c
}

func runTubesRemove(s Streams, o removeOptions) error {
	r, err := plan.RemoveTubes(o.box, o.tubes)
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	fmt.Fprintf(s.Out, "Taken out: %s. %s left in %s.\n", strings.Join(r.Removed, ", "), count(r.Tubes, "tube"), r.Box)
	fmt.Fprintf(s.Out, "The box as it was is %s, until the next change. To bring it back:\n  %s\n", r.Backup, r.Restore)
	s.list("Mind", r.Warnings)
	return nil
}

package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/plan"
)

func newTubes(s Streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "tubes",
		Short: "The tubes you own",
		Long:  "Your box of tubes: what is in it, what is known of each, and readings to make a tube the library's no longer but your own.",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usageError{fmt.Errorf("unknown command %q for %q", args[0], cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newTubesList(s), newTubesShow(s), newTubesImport(s), newTubesMeasure(s))
	c.AddCommand(newTubesAdd(s), newTubesEdit(s), newTubesRemove(s), newTubesExport(s), newTubesBoxes(s))
	return c
}

func newTubesList(s Streams) *cobra.Command {
	var o boxFlags
	c := &cobra.Command{
		Use:     "list",
		Short:   "List the tubes of the box",
		Example: "  paintout tubes list\n  paintout tubes list --tubes studio.yaml",
		Args:    exactly(0, "no further words"),
		RunE: func(*cobra.Command, []string) error {
			if err := o.check(); err != nil {
				return err
			}
			r, err := plan.ListTubes(o.Settings)
			if err != nil {
				return err
			}
			if o.json {
				return printJSON(s.Out, r)
			}
			fmt.Fprintf(s.Out, "%s (%s), %s\n\n", r.Box.Name, r.Box.From, count(len(r.Box.Tubes), "tube"))
			s.tubeTable(r.Box.Tubes)
			s.list("Mind", r.Warnings)
			s.list("Caution", r.Cautions)
			return nil
		},
	}
	o.add(c.Flags())
	return c
}

func newTubesShow(s Streams) *cobra.Command {
	var o boxFlags
	c := &cobra.Command{
		Use:     "show TUBE…",
		Short:   "All that is known of a tube",
		Example: "  paintout tubes show \"ultramarine blue\"\n  paintout tubes show PB29",
		Args:    atLeast(1, "a tube, by name or code"),
		RunE: func(_ *cobra.Command, args []string) error {
			o.Only = args
			if err := o.check(); err != nil {
				return err
			}
			r, err := plan.ShowTubes(o.Settings)
			if err != nil {
				return err
			}
			if o.json {
				return printJSON(s.Out, r)
			}
			for _, t := range r.Box.Tubes {
				s.tubeCard(t)
			}
			s.cautionScope(r.Box.Tubes)
			s.list("Mind", r.Warnings)
			return nil
		},
	}
	o.add(c.Flags())
	return c
}

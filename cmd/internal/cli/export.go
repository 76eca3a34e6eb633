package cli

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/draw"
	"paintout/cmd/internal/plan"
)

type planExportOptions struct {
	boxFlags
	planFlags
	as     string
	out    string
	schema bool
	from   string
}

// exporter is a form that other programs read.
type exporter struct {
	name, ending string
	write        func(io.Writer, *plan.Plan) error
}

var exporters = []exporter{
	{"gpl", ".gpl", draw.SwatchesGPL},
	{"css", ".css", draw.SwatchesCSS},
	{"masses", ".csv", draw.MassesCSV},
	{"mixes", ".csv", draw.MixesCSV},
	{"json", ".json", func(w io.Writer, p *plan.Plan) error { return printJSON(w, p) }},
}

func newExport(s Streams) *cobra.Command {
	var o planExportOptions
	c := &cobra.Command{
		Use:   "export PHOTO | plan.json",
		Short: "A plan for other programs: palette, style sheet, tables, JSON",
		Long: `Writes a plan's colours and mixes as other programs read them:

  gpl      swatches as a GIMP palette
  css      swatches as custom properties of a style sheet
  masses   a CSV row a mass: colours, value, share of the picture
  mixes    a CSV row for each tube of each mix
  json     the whole plan, as 'plan --json'

From a photo the plan is made anew; from the plan.json of a plan's folder it is
taken as it was. 'export --schema' prints the JSON Schema (draft 2020-12) of
the plan's JSON. The box itself goes to CSV with 'tubes export'.`,
		Example: `  paintout export hillside-plan/plan.json --as mixes
  paintout export hillside.jpg --out hillside.gpl
  paintout export --schema --out plan.schema.json`,
		Args: atMostOne,
		RunE: func(c *cobra.Command, args []string) error {
			o.from = strings.Join(args, "")
			return runExport(c.Context(), s, o)
		},
	}
	o.addMixing(c.Flags())
	o.planFlags.add(c.Flags())
	c.Flags().StringVar(&o.as, "as", "", "`form`: gpl, css, masses, mixes or json (else by the ending of --out)")
	c.Flags().StringVar(&o.out, "out", "", "`file` to write (else it is printed)")
	c.Flags().BoolVar(&o.schema, "schema", false, "print the JSON Schema of a plan instead")
	return c
}

func runExport(ctx context.Context, s Streams, o planExportOptions) error {
	var data bytes.Buffer
	switch {
	case o.schema:
		if o.from != "" {
			return usageError{fmt.Errorf("--schema is the same for every plan: leave out %s", o.from)}
		}
		data.Write(plan.Schema)
	case o.from == "":
		return usageError{fmt.Errorf("paintout export needs a photo, or the plan.json of a plan")}
	default:
		e, err := o.exporter()
		if err != nil {
			return usageError{err}
		}
		p, err := o.plan(ctx, s)
		if err != nil {
			return err
		}
		if err := e.write(&data, p); err != nil {
			return err
		}
	}
	if o.out == "" {
		_, err := s.Out.Write(data.Bytes())
		return err
	}
	if err := new(folder).write(o.out, data.Bytes()); err != nil {
		return err
	}
	fmt.Fprintln(s.Out, "Written: "+o.out)
	return nil
}

// exporter goes by --as, by --json, or by the ending of --out.
func (o *planExportOptions) exporter() (exporter, error) {
	as := strings.ToLower(o.as)
	if as == "" && o.json {
		as = "json"
	}
	ending := strings.ToLower(filepath.Ext(o.out))
	for _, e := range exporters {
		if as == e.name {
			return e, nil
		}
	}
	switch {
	case as != "":
		return exporter{}, fmt.Errorf("--as %s: say gpl, css, masses, mixes or json", o.as)
	case ending == ".csv":
		return exporter{}, fmt.Errorf("--out %s: a table is of masses or of mixes, so say --as masses or --as mixes", o.out)
	case o.out == "":
		return exporter{}, fmt.Errorf("say in which form: --as gpl, css, masses, mixes or json")
	}
	if i := slices.IndexFunc(exporters, func(e exporter) bool { return e.ending == ending }); i >= 0 {
		return exporters[i], nil
	}
	return exporter{}, fmt.Errorf("--out %s: the ending says no form; say --as gpl, css, masses, mixes or json", o.out)
}

// plan reads a plan that was saved, or makes one.
func (o *planExportOptions) plan(ctx context.Context, s Streams) (*plan.Plan, error) {
	if strings.EqualFold(filepath.Ext(o.from), ".json") {
		return plan.Load(o.from)
	}
	v, says, err := o.planView(&o.boxFlags)
	if err != nil {
		return nil, err
	}
	w, err := o.open()
	if err != nil {
		return nil, err
	}
	bar := s.progress()
	defer bar.end()
	var p *plan.Plan
	err = w.Make(ctx, []string{o.from}, v, o.KitAsk, bar.update, func(_ int, m plan.Made) error {
		if p = m.Plan; p != nil {
			p.Warnings = append(p.Warnings, says...)
		}
		return m.Err
	})
	return p, err
}

package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/plan"
	"paintout/inventory/wholefile"
)

func newTubesBoxes(s Streams) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "boxes",
		Short: "List your saved boxes",
		Long: `Lists the boxes saved in your configuration folder. The one called box is used
where no other is named. Any command takes another with --tubes: by its name
(studio, outdoors, class) or, for a box kept elsewhere, as a file that ends in
.yaml. A name that is not there yet is begun by tubes add or tubes import.`,
		Example: `  paintout tubes boxes
  paintout tubes add "yellow ochre" --pigment PY43 --tubes outdoors
  paintout recipe 5a7d3c --tubes outdoors`,
		Args: exactly(0, "no further words"),
		RunE: func(*cobra.Command, []string) error {
			return runTubesBoxes(s, asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object instead of words")
	return c
}

func runTubesBoxes(s Streams, asJSON bool) error {
	r, err := plan.Boxes()
	if err != nil {
		return err
	}
	if asJSON {
		return printJSON(s.Out, r)
	}
	wide := 0
	for _, b := range r.Boxes {
		wide = max(wide, len(b.Name))
	}
	for _, b := range r.Boxes {
		switch {
		case b.Error != "":
			fmt.Fprintf(s.Out, "%s  cannot be read\n", pad(b.Name, wide))
		case b.Default:
			fmt.Fprintf(s.Out, "%s  %s, %s; used where no other is named\n", pad(b.Name, wide), b.Title, count(b.Tubes, "tube"))
		default:
			fmt.Fprintf(s.Out, "%s  %s, %s\n", pad(b.Name, wide), b.Title, count(b.Tubes, "tube"))
		}
	}
	if len(r.Boxes) > 0 {
		fmt.Fprintf(s.Out, "\nKept in %s\n", r.Folder)
	}
	s.list("Mind", r.Warnings)
	return nil
}

type exportOptions struct {
	box, csv, readings string
	force, json        bool
}

func newTubesExport(s Streams) *cobra.Command {
	var o exportOptions
	c := &cobra.Command{
		Use:   "export",
		Short: "Write your box as a table for a spreadsheet",
		Long: `Writes the tubes of your box as CSV, a row for each, and with --readings also what
was measured of them, as tubes import reads it. Change the table in a
spreadsheet, and tubes import takes it back: a tube of the box becomes what the
table's columns say, new rows are added, tubes without a row stay. An empty cell
is what the library says of the code.

Columns: tube, ci (codes, joined by +), medium, size_ml, left_ml, strength (a
factor), opacity, tinting (strength in a word), lightfast, white (yes or no),
caution, note; box and finish belong to the box. Where a tube was measured, the
columns readings and constants hold what was found: leave those as they are.`,
		Example: `  paintout tubes export
  paintout tubes export --csv box.csv --readings readings.csv
  paintout tubes export --csv mine.csv && paintout tubes import mine.csv --tubes outdoors`,
		Args: exactly(0, "no further words"),
		RunE: func(*cobra.Command, []string) error {
			return runTubesExport(s, o)
		},
	}
	c.Flags().StringVar(&o.csv, "csv", "", "`file` for the tubes, or - to print them (as it is done where no file is named)")
	c.Flags().StringVar(&o.readings, "readings", "", "`file` for their readings")
	c.Flags().BoolVar(&o.force, "force", false, "write over files that are there")
	c.Flags().StringVar(&o.box, "tubes", "", "the `box`: a file, or the name of a saved one (else your saved box, else the starter box)")
	c.Flags().BoolVar(&o.json, "json", false, "print one JSON object instead of words")
	return c
}

func runTubesExport(s Streams, o exportOptions) error {
	switch {
	case o.readings == "-":
		return usageError{errors.New("--readings needs a file: only the tubes are printed")}
	case o.readings != "" && o.readings == o.csv:
		return usageError{errors.New("--csv and --readings name the same file: give each its own")}
	}
	r, err := plan.Export(o.box)
	if err != nil {
		return err
	}
	toOut := o.csv == "-" || o.csv == "" && o.readings == ""
	if o.csv != "" && !toOut {
		if err := writeTable(o.csv, r.TubesCSV, o.force); err != nil {
			return err
		}
		r.TubesFile = o.csv
	}
	if o.readings != "" {
		if err := writeTable(o.readings, r.ReadingsCSV, o.force); err != nil {
			return err
		}
		r.ReadingsFile = o.readings
	}
	if o.json {
		if toOut {
			r.Table = string(r.TubesCSV)
		}
		return printJSON(s.Out, r)
	}
	if toOut {
		_, err := s.Out.Write(r.TubesCSV)
		return err
	}
	if r.TubesFile != "" {
		fmt.Fprintf(s.Out, "Written: %s, %s\n", r.TubesFile, count(r.Tubes, "tube"))
	}
	if r.ReadingsFile != "" {
		fmt.Fprintf(s.Out, "Written: %s, %s\n", r.ReadingsFile, count(r.Readings, "reading"))
	}
	s.list("Mind", r.Warnings)
	return nil
}

// writeTable writes a file whole or not at all, and not over another unless
// forced.
func writeTable(path string, data []byte, force bool) error {
	old, err := os.ReadFile(path)
	switch {
	case err == nil && string(old) == string(data):
		return nil
	case err == nil && !force:
		return fmt.Errorf("%s is there already: give another name, or --force to write over it", path)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s is in the way (%s): give another name", path, bare(err))
	}
	if err := wholefile.Write(path, data, 0o644); err != nil {
		return fmt.Errorf("%s cannot be written (%s): give another place", path, bare(err))
	}
	return nil
}

package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"paintout/cmd/internal/draw"
	"paintout/cmd/internal/plan"
)

// planFlags say how photos become plans.
type planFlags struct {
	viewFlags
	wayFlags
	plan.KitAsk
	film string
}

func (p *planFlags) add(f *pflag.FlagSet) {
	p.viewFlags.add(f)
	addKit(f, &p.KitAsk)
	p.addWay(f)
	f.StringVar(&p.film, "film", "", "how thick paint is laid on the --canvas: `brush`, knife, or as in 0.3mm (else as you paint)")
}

// planView is how the photos are to be read and paint measured out. A way of
// painting brings its portion error with it, and what is to be said of it.
func (p *planFlags) planView(b *boxFlags) (v plan.View, says []string, err error) {
	v, err = p.view()
	if err == nil {
		err = p.KitAsk.Check()
	}
	if err != nil {
		return v, nil, usageError{err}
	}
	way, err := p.way(b)
	if err != nil {
		return v, nil, err
	}
	if v.Film, err = p.filmFor(way); err != nil {
		return v, nil, usageError{err}
	}
	return v, way.Says, nil
}

type planOptions struct {
	boxFlags
	planFlags
	paperFlag
	out   string
	sheet string
	class bool
	paths []string
}

func newPlan(s Streams) *cobra.Command {
	var o planOptions
	c := &cobra.Command{
		Use:   "plan PHOTO…",
		Short: "The whole job: masses, values, mixes, a page for the easel",
		Long: `Reads each photo into its masses, fits its range to your paint's, finds the fewest
tubes to carry, mixes every mass from those and writes a folder: plan.html (one
file that opens on a phone without a network), sheet.pdf to print and clip to the
easel, pictures, tables and swatches for other programs, plan.json, and
notes.txt, which is yours: a second run never writes over it, nor over anything
you changed. Several photos get one kit, for all of them together. To carry
certain tubes and no others, name them with --only. With --canvas it says how much
paint each pile and tube takes.`,
		Example: `  paintout plan hillside.jpg
  paintout plan hillside.jpg -k 9 --canvas 30x40cm --only PW6,PY43,PR101,PB29
  paintout plan --out trip day1.jpg day2.jpg --max 6
  paintout plan hillside.jpg --sheet hillside.pdf --paper letter`,
		Args: atLeast(1, "at least one photo"),
		RunE: func(c *cobra.Command, args []string) error {
			o.paths = plan.Distinct(args)
			return runPlan(c.Context(), s, o)
		},
	}
	o.addMixing(c.Flags())
	o.planFlags.add(c.Flags())
	o.paperFlag.add(c.Flags())
	c.Flags().StringVar(&o.out, "out", "", "folder to write to (else PHOTO-plan, or paint-plans for several photos)")
	c.Flags().StringVar(&o.sheet, "sheet", "", "write the sheet for the easel to this PDF `file` too, those of several photos together")
	c.Flags().BoolVar(&o.class, "lesson", false, "draw the lesson sheets of the kit too, to paint in")
	return c
}

// filmFor is how thick paint is laid the given way, or as was asked for.
func (p *planFlags) filmFor(way plan.Way) (plan.Film, error) {
	switch {
	case way.Washes:
		return plan.Film{}, errors.New("--way watercolour: a plan mixes opaque paint; ask recipe or mix for washes")
	case p.canvas == "" && p.film != "":
		return plan.Film{}, errors.New("--film is for measuring out paint: give the --canvas too, such as 30x40cm")
	case p.film != "":
		f, err := plan.ParseFilm(p.film)
		if err != nil {
			return f, fmt.Errorf("--film: %w", err)
		}
		return f, nil
	}
	return plan.Film{Name: way.Name, Microns: way.Film}, nil
}

// planOf is one photo's outcome.
type planOf struct {
	plan *plan.Plan
	dir  string
	kept []string
}

func runPlan(ctx context.Context, s Streams, o planOptions) error {
	v, says, err := o.planView(&o.boxFlags)
	if err != nil {
		return err
	}
	paper, err := o.size()
	if err != nil {
		return err
	}
	if err := checkPDF("--sheet", o.sheet); err != nil {
		return err
	}
	w, err := o.open()
	if err != nil {
		return err
	}
	several := len(o.paths) > 1
	dirs, err := planDirs(o.out, o.paths)
	if err != nil {
		return err
	}
	var done []planOf
	var failed []failure
	var thumbs []draw.Item
	var sheets draw.Booklet
	bar := s.progress()
	err = w.Make(ctx, o.paths, v, o.KitAsk, bar.update, func(i int, m plan.Made) error {
		bar.end()
		err := m.Err
		if err == nil {
			m.Plan.Warnings = append(m.Plan.Warnings, says...)
			var kept []string
			if kept, err = writePlan(ctx, m.Kit, dirs[i], m.Plan, m.Pictures, paper, o.class); err == nil && o.sheet != "" {
				sheets.Title = m.Plan.Title
				err = sheets.AddSheet(m.Plan, m.Pictures, paper)
			}
			if err == nil {
				done = append(done, planOf{m.Plan, dirs[i], kept})
				if several {
					thumbs = append(thumbs, draw.Item{Plan: m.Plan, Pictures: m.Pictures, Link: filepath.Base(dirs[i]) + "/plan.html"})
				}
			}
		}
		if err == nil {
			return nil
		}
		if ctx.Err() != nil || !several {
			return err
		}
		failed = append(failed, failure{o.paths[i], err.Error()})
		return nil
	})
	bar.end()
	if err != nil {
		return err
	}
	if len(done) == 0 {
		return errors.New(strings.Join(messages(failed), "\npaintout: "))
	}
	var overview string
	if several && len(thumbs) > 0 {
		if overview, err = writeOverview(filepath.Dir(dirs[0]), thumbs); err != nil {
			return err
		}
	}
	if o.sheet != "" {
		if several {
			sheets.Title = "Paint plans"
		}
		if err := writeBooklet(o.sheet, &sheets); err != nil {
			return err
		}
	}
	if o.json {
		err = printPlans(s, done, failed, several)
	} else {
		for i, d := range done {
			if i > 0 {
				fmt.Fprintln(s.Out)
			}
			s.planSummary(d)
		}
		if overview != "" {
			fmt.Fprintf(s.Out, "\nAll of them together: %s\n", overview)
		}
		if o.sheet != "" {
			fmt.Fprintf(s.Out, "For the easel: %s, %s\n", o.sheet, count(sheets.Pages(), "page"))
		}
	}
	if err == nil && len(failed) > 0 {
		err = errors.New(strings.Join(messages(failed), "\npaintout: "))
	}
	return err
}

// failure is a photo that got no plan.
type failure struct {
	Photo string `json:"photo"`
	Error string `json:"error"`
}

func messages(fs []failure) []string {
	var out []string
	for _, f := range fs {
		out = append(out, f.Error)
	}
	return out
}

// printPlans prints one plan as it is, several as a list, with the photos that
// got none.
func printPlans(s Streams, done []planOf, failed []failure, several bool) error {
	for _, d := range done {
		for _, k := range d.kept {
			d.plan.Warnings = append(d.plan.Warnings, "You had changed a file; yours is kept as "+filepath.Join(d.dir, k))
		}
	}
	if !several {
		return printJSON(s.Out, done[0].plan)
	}
	all := struct {
		Plans  []*plan.Plan `json:"plans"`
		Failed []failure    `json:"failed"`
	}{Failed: append([]failure{}, failed...)}
	for _, d := range done {
		all.Plans = append(all.Plans, d.plan)
	}
	return printJSON(s.Out, all)
}

// planDirs names a folder for each photo: no two the same, and none that holds
// another photo's plan. Two photos of one name get folders of their own, and
// keep them whatever the order they are given in.
func planDirs(out string, paths []string) ([]string, error) {
	if len(paths) == 1 && out != "" {
		if of := readManifest(out).Of; of != "" && of != absolute(paths[0]) {
			return nil, fmt.Errorf("%s holds the plan of another photo, %s: give another folder with --out", out, of)
		}
		return []string{out}, nil
	}
	if out == "" && len(paths) > 1 {
		out = "paint-plans"
	}
	var dirs []string
	used := map[string]bool{}
	for _, p := range paths {
		base := filepath.Join(out, strings.TrimSuffix(filepath.Base(p), filepath.Ext(p))+"-plan")
		dir := base
		for n := 2; ; n++ {
			of := readManifest(dir).Of
			if !used[strings.ToLower(dir)] && (of == "" || of == absolute(p)) {
				break
			}
			dir = fmt.Sprintf("%s-%d", base, n)
		}
		used[strings.ToLower(dir)] = true
		dirs = append(dirs, dir)
	}
	return dirs, nil
}

func absolute(path string) string {
	if a, err := filepath.Abs(path); err == nil {
		return a
	}
	return path
}

// writePlan writes a plan's folder and names the files that had been changed
// by hand and were set aside.
func writePlan(ctx context.Context, w *plan.Workspace, dir string, p *plan.Plan, pics *plan.Pictures, paper draw.Paper, class bool) (kept []string, err error) {
	files, err := draw.Folder(ctx, w, p, pics, paper) // all of it, before the first file is touched
	if err != nil {
		return nil, err
	}
	if class {
		sheets, err := draw.Lesson(ctx, w, paper)
		if err != nil {
			return nil, err
		}
		files = append(files, sheets...)
	}
	out, err := openFolder(dir)
	if err != nil {
		return nil, err
	}
	out.Of = absolute(p.Photo.Path)
	for _, f := range files {
		if err := out.put(f.Name, f.Data); err != nil {
			return nil, err
		}
	}
	if err := out.offer("notes.txt", notes(p)); err != nil {
		return nil, err
	}
	return out.kept, out.close()
}

// notes is the empty page that a painter writes on.
func notes(p *plan.Plan) []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "Notes on %s\n\nThis file is yours: paintout never writes to it again.\n\n", p.Title)
	for _, m := range p.Masses {
		fmt.Fprintf(&b, "%d  %s:\n\n", m.ID, m.Name)
	}
	return []byte(b.String())
}

func writeOverview(dir string, items []draw.Item) (string, error) {
	var page, sheet bytes.Buffer
	if err := draw.Overview(&page, items); err != nil {
		return "", err
	}
	if err := draw.OverviewPNG(&sheet, items); err != nil {
		return "", err
	}
	out, err := openFolder(dir)
	if err != nil {
		return "", err
	}
	if err := out.put("overview.html", page.Bytes()); err != nil {
		return "", err
	}
	if err := out.put("overview.png", sheet.Bytes()); err != nil {
		return "", err
	}
	return filepath.Join(dir, "overview.html"), out.close()
}

// planSummary prints a plan in words.
func (s Streams) planSummary(d planOf) {
	p := d.plan
	fmt.Fprintf(s.Out, "%s  %d × %d, %s, %s\n", p.Photo.Path, p.Photo.Width, p.Photo.Height, p.Photo.Format, p.Photo.Profile)
	fmt.Fprintf(s.Out, "Tubes: %s, %s\n\n", p.Box.Name, p.Box.From)
	for _, m := range p.Masses {
		r := m.First()
		if r == nil {
			continue
		}
		kind := ""
		if m.Accent {
			kind = ", accent"
		}
		fmt.Fprintf(s.Out, "%3d  %s%s%s  value %4.1f, to mix %.1f  %s, %s%s\n", m.ID, s.swatch(m.Hex, 4), s.swatch(m.AimHex, 4), percent(m.Share), m.Value, m.AimValue, m.Name, m.Temperature, kind)
		much := ""
		if m.ML > 0 {
			much = ", " + plan.MLWords(m.ML) + " in all"
		}
		fmt.Fprintf(s.Out, "     %s%s%s\n", s.swatch(r.Hex, 4), partsLine(r.Parts), much)
		fmt.Fprintf(s.Out, "     %s: off by %.1f, nine times in ten within %.1f\n", r.Grade, r.DE00, r.P90)
		if r.Why != "" {
			fmt.Fprintf(s.Out, "     %s\n", wrap(r.Why, max(40, s.Wide-5), "     "))
		}
		if m.Why != "" {
			fmt.Fprintf(s.Out, "     %s\n", wrap(m.Why, max(40, s.Wide-5), "     "))
		}
	}
	fmt.Fprintln(s.Out, "\n"+wrap(fmt.Sprintf("Masses that cover %.0f %% of the picture have a mix within 3 ΔE00. %s", 100*p.Within3, p.Range.Note), s.Wide, ""))
	if k := p.Kit; k != nil {
		s.kitInBrief(k)
	}
	for _, a := range p.Accents {
		fmt.Fprintln(s.Out, wrap(fmt.Sprintf("Accent %d, %s. %s", a.Mass, a.Name, a.Says), s.Wide, "  "))
	}
	if q := p.Quantities; q != nil {
		var lines []string
		for _, t := range p.Squeeze {
			lines = append(lines, t.Tube+": "+t.Words())
		}
		s.list("Squeeze out", lines)
		fmt.Fprintln(s.Out, "  "+wrap(q.Words, max(40, s.Wide-2), "  "))
	}
	s.list("Mind", p.Warnings)
	s.list("Caution", p.Cautions)
	for _, k := range d.kept {
		fmt.Fprintf(s.Out, "You had changed a file; yours is kept as %s\n", filepath.Join(d.dir, k))
	}
	fmt.Fprintf(s.Out, "\nWritten: open %s\n", filepath.Join(d.dir, "plan.html"))
}

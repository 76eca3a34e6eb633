package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/draw"
	"paintout/cmd/internal/plan"
)

type handoutOptions struct {
	boxFlags
	planFlags
	paperFlag
	chart string
	steps int
	out   string
	paths []string
}

func newHandout(s Streams) *cobra.Command {
	var o handoutOptions
	c := &cobra.Command{
		Use:   "handout FOLDER | PHOTO…",
		Short: "A class set in one PDF: lesson sheets and a sheet for each photo",
		Long: `Writes one PDF to print for a class: a wheel and a chart as outlines to mix and
paint in, a sheet for the easel for every photo, all mixed from one kit, and last,
for the teacher to keep back, wheel and chart with the colours foretold. Of a
folder every picture in it is taken, in the order of their names; a photo that
cannot be read is named, and the rest is still made.`,
		Example: `  paintout handout evening-class/
  paintout handout evening-class/ --max 6 --paper letter --out tuesday.pdf
  paintout handout shore.jpg wood.jpg --chart "PB29+PBr7/burnt sienna"`,
		Args: atLeast(1, "a folder of photos, or photos"),
		RunE: func(c *cobra.Command, args []string) error {
			o.paths = args
			return runHandout(c.Context(), s, o)
		},
	}
	o.addMixing(c.Flags())
	o.planFlags.add(c.Flags())
	o.paperFlag.add(c.Flags())
	c.Flags().StringVar(&o.chart, "chart", "", "what the chart shows, `\"TUBE+TUBE\"` or a tube (else pairs of the wheel's tubes)")
	c.Flags().IntVar(&o.steps, "steps", 0, "cells of a row of the chart, ends included, 3 to 11")
	c.Flags().StringVar(&o.out, "out", "handout.pdf", "PDF `file` to write")
	return c
}

// handout is what was made for a class.
type handout struct {
	File       string         `json:"file"`
	Pages      int            `json:"pages"`
	Sheets     []handoutSheet `json:"sheets"`
	Failed     []failure      `json:"failed"`
	PassedOver []string       `json:"passed_over"` // files of a folder that are no pictures
	Kit        *plan.KitPlan  `json:"kit,omitempty"`
	Cautions   []string       `json:"cautions,omitempty"`
	Warnings   []string       `json:"warnings"`
}

type handoutSheet struct {
	Photo string `json:"photo"`
	Page  int    `json:"page"`  // its first, from 1
	Pages int    `json:"pages"` // how many it takes
}

func runHandout(ctx context.Context, s Streams, o handoutOptions) error {
	v, says, err := o.planView(&o.boxFlags)
	if err != nil {
		return err
	}
	paper, err := o.size()
	if err != nil {
		return err
	}
	if err := checkPDF("--out", o.out); err != nil {
		return err
	}
	photos, over, err := photosIn(o.paths)
	if err != nil {
		return err
	}
	w, err := o.open()
	if err != nil {
		return err
	}
	l, err := w.Lesson(o.chart, o.steps)
	if err != nil {
		return err
	}
	b := &draw.Booklet{Title: "For a class: " + l.Box}
	lesson := func(filled bool) error {
		for _, chart := range []bool{false, true} {
			if err := b.AddLesson(l, draw.Sheet{Chart: chart, Filled: filled, Letter: paper == draw.Letter}); err != nil {
				return err
			}
		}
		return nil
	}
	if err := lesson(false); err != nil {
		return err
	}
	h := handout{File: o.out, Failed: []failure{}, PassedOver: append([]string{}, over...), Warnings: append(append([]string{}, l.Warnings...), says...)}
	var cautions []string
	bar := s.progress()
	at := 0
	progress := func(stage string, done, all int) {
		if stage == plan.Reading && done == 0 {
			at = at%len(photos) + 1
		}
		if stage == plan.Reading || stage == plan.Measuring {
			stage = fmt.Sprintf("photo %d of %d: %s", at, len(photos), stage)
		}
		bar.update(stage, done, all)
	}
	err = w.Make(ctx, photos, v, o.KitAsk, progress, func(i int, m plan.Made) error {
		err := m.Err
		if err == nil {
			page := b.Pages() + 1
			if err = b.AddSheet(m.Plan, m.Pictures, paper); err == nil {
				h.Sheets = append(h.Sheets, handoutSheet{photos[i], page, b.Pages() + 1 - page})
				h.Kit = m.Plan.Kit
				cautions = joined(cautions, m.Plan.Cautions)
				return nil
			}
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		h.Failed = append(h.Failed, failure{photos[i], err.Error()})
		return nil
	})
	bar.end()
	if err != nil {
		return err
	}
	if len(h.Sheets) == 0 {
		return errors.New(strings.Join(messages(h.Failed), "\npaintout: "))
	}
	if err := lesson(true); err != nil {
		return err
	}
	if err := writeBooklet(o.out, b); err != nil {
		return err
	}
	h.Cautions = classCautions(l, cautions)
	h.Pages, h.Warnings = b.Pages(), joined(h.Warnings, b.Warnings)
	if o.json {
		err = printJSON(s.Out, h)
	} else {
		s.handoutSummary(h)
	}
	if err == nil && len(h.Failed) > 0 {
		err = errors.New(strings.Join(messages(h.Failed), "\npaintout: "))
	}
	return err
}

func (s Streams) handoutSummary(h handout) {
	fmt.Fprintf(s.Out, "%s, %s\n", h.File, count(h.Pages, "page"))
	fmt.Fprintln(s.Out, "  pages 1 and 2: wheel and chart, to mix and paint in")
	for _, sheet := range h.Sheets {
		fmt.Fprintf(s.Out, "  %s: the sheet for %s\n", pageRange(sheet.Page, sheet.Pages), sheet.Photo)
	}
	fmt.Fprintf(s.Out, "  pages %d and %d: wheel and chart as foretold, to compare\n", h.Pages-1, h.Pages)
	if h.Kit != nil {
		fmt.Fprintln(s.Out, wrap(fmt.Sprintf("All the sheets are mixed from %s: %s.", count(len(h.Kit.Tubes), "tube"), strings.Join(h.Kit.Tubes, ", ")), s.Wide, "  "))
	}
	if n := len(h.PassedOver); n > 0 {
		fmt.Fprintln(s.Out, wrap(fmt.Sprintf("Passed over, being no pictures: %s.", strings.Join(h.PassedOver, ", ")), s.Wide, "  "))
	}
	s.list("Mind", h.Warnings)
	s.list("Caution", h.Cautions)
}

// classCautions joins the cautions of the lesson's tubes, and of those that only
// the sheets need.
func classCautions(l *plan.Lesson, ofSheets []string) []string {
	var out []string
	said := map[string]bool{}
	for _, g := range l.Cautions {
		out = append(out, strings.Join(g.Tubes, ", ")+": "+g.Caution)
		for _, t := range g.Tubes {
			said[t+": "+g.Caution] = true
		}
	}
	for _, c := range ofSheets {
		if !said[c] && c != l.Scope {
			out = append(out, c)
		}
	}
	if len(out) > 0 {
		out = append(out, l.Scope)
	}
	return out
}

func pageRange(first, n int) string {
	switch n {
	case 1:
		return fmt.Sprintf("page %d", first)
	case 2:
		return fmt.Sprintf("pages %d and %d", first, first+1)
	}
	return fmt.Sprintf("pages %d to %d", first, first+n-1)
}

// joined adds to a list what it does not hold yet.
func joined(list, more []string) []string {
	for _, m := range more {
		if !slices.Contains(list, m) {
			list = append(list, m)
		}
	}
	return list
}

// pictureEndings are of files that are taken for photos: those that are read,
// and those a painter would miss if nothing were said of them.
var pictureEndings = []string{
	".jpg", ".jpeg", ".jpe", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif",
	".avif", ".gif", ".bmp", ".jxl", ".jp2", ".psd", ".dng", ".cr2", ".cr3", ".nef", ".arw", ".orf", ".raf", ".rw2",
}

// photosIn lists the photos of folders, in the order of their names, and those
// named one by one; and what else lies in the folders.
func photosIn(paths []string) (photos, over []string, err error) {
	for _, path := range paths {
		info, err := os.Stat(path)
		if err != nil || !info.IsDir() {
			photos = append(photos, path) // the reader says what is wrong with it
			continue
		}
		entries, err := os.ReadDir(path)
		if err != nil {
			return nil, nil, fmt.Errorf("the folder %s cannot be read (%s): look at its permissions", path, bare(err))
		}
		found := 0
		for _, e := range entries {
			switch {
			case strings.HasPrefix(e.Name(), "."), e.IsDir():
			case slices.Contains(pictureEndings, strings.ToLower(filepath.Ext(e.Name()))):
				photos = append(photos, filepath.Join(path, e.Name()))
				found++
			default:
				over = append(over, e.Name())
			}
		}
		if found == 0 {
			return nil, nil, fmt.Errorf("the folder %s holds no pictures: put photos into it, or name another", path)
		}
	}
	return plan.Distinct(photos), over, nil
}

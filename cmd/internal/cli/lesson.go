package cli

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/draw"
)

type lessonOptions struct {
	boxFlags
	chart string
	steps int
	paper string
	out   string
}

func newLesson(s Streams) *cobra.Command {
	var o lessonOptions
	c := &cobra.Command{
		Use:   `lesson ["TUBE+TUBE" | TUBE]`,
		Short: "Sheets for a class: a wheel and a chart to mix and paint",
		Long: `Writes four sheets to print upright: a wheel and a chart as outlines to paint in,
with the parts to mix at every cell, and the same filled with the colours
foretold, to compare. The chart is of pairs, or as for 'paintout chart'.

--out class.png gives class-wheel.png, class-chart.png, class-wheel-filled.png
and class-chart-filled.png, 300 dots to the inch; --out class.svg the same as
SVG.`,
		Example: `  paintout lesson --out class.png
  paintout lesson "PB29+PBr7/burnt sienna" --paper letter --out class.svg`,
		Args: atMostOne,
		RunE: func(_ *cobra.Command, args []string) error {
			o.chart = strings.Join(args, "")
			return runLesson(s, o)
		},
	}
	o.add(c.Flags())
	o.addOnly(c.Flags())
	c.Flags().IntVar(&o.steps, "steps", 0, "cells of a row of the chart, ends included, 3 to 11")
	c.Flags().StringVar(&o.paper, "paper", "a4", "a4 or letter")
	c.Flags().StringVar(&o.out, "out", "", "write the sheets to `files` of this name (.png or .svg)")
	return c
}

func runLesson(s Streams, o lessonOptions) error {
	letter := strings.EqualFold(o.paper, "letter")
	switch {
	case !letter && !strings.EqualFold(o.paper, "a4"):
		return usageError{fmt.Errorf("--paper %s: say a4 or letter", o.paper)}
	case o.out == "" && !o.json:
		return usageError{errors.New("a lesson is sheets to print: say where with --out, as in --out class.png")}
	}
	if err := checkPicture(o.out); err != nil {
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
	var pics []picture
	if o.out != "" {
		ext := filepath.Ext(o.out)
		for _, sheet := range []draw.Sheet{{}, {Chart: true}, {Filled: true}, {Chart: true, Filled: true}} {
			sheet.Letter = letter
			pics = append(pics, picture{strings.TrimSuffix(o.out, ext) + "-" + sheet.Name() + ext,
				func(w io.Writer) error { return draw.LessonPNG(w, l, sheet) },
				func(w io.Writer) error { return draw.LessonSVG(w, l, sheet) }})
		}
	}
	if err := writePictures(pics...); err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, l)
	}
	fmt.Fprintf(s.Out, "A wheel of %d tubes, and a chart: %s\n", len(l.Tubes), l.Chart.Title)
	s.list("Mind", l.Warnings)
	var care []string
	for _, g := range l.Cautions {
		care = append(care, strings.Join(g.Tubes, ", ")+": "+g.Caution)
	}
	if len(care) > 0 {
		s.list("Caution", append(care, l.Scope))
	}
	fmt.Fprintln(s.Out)
	for _, p := range pics {
		fmt.Fprintln(s.Out, "Written: "+p.path)
	}
	return nil
}

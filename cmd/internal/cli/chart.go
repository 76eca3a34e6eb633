package cli

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/draw"
	"paintout/cmd/internal/plan"
)

type chartOptions struct {
	boxFlags
	what  string
	steps int
	out   string
}

func newChart(s Streams) *cobra.Command {
	var o chartOptions
	c := &cobra.Command{
		Use:   `chart ["TUBE+TUBE" | TUBE]`,
		Short: "Mixing charts in equal visual steps",
		Long: `Makes a mixing chart whose neighbours look equally far apart, with the parts for
each step:

  chart          every two of your tubes: the mix midway between them, and that
                 let down midway to white
  chart "A+B"    a string from one tube into another, with rows of tints
  chart A        one tube to white, to grey of its own value and to black:
                 tints, tones and shades

Steps are ladder mixes, chosen so that the CIEDE2000 differences between
neighbours are as equal as the ladder of parts can make them. The picture is a
page to print, A4 across, PNG or SVG by the name's ending.`,
		Example: `  paintout chart --only PW6,PY184,PR122,PB15:4 --out pairs.png
  paintout chart "ultramarine blue+yellow ochre" --steps 7 --out string.svg
  paintout chart PB15:4`,
		Args: atMostOne,
		RunE: func(_ *cobra.Command, args []string) error {
			o.what = strings.Join(args, "")
			return runChart(s, o)
		},
	}
	o.add(c.Flags())
	o.addOnly(c.Flags())
	c.Flags().IntVar(&o.steps, "steps", 0, "cells of a row, ends included, 3 to 11 (0: nine for a string, seven for ladders)")
	c.Flags().StringVar(&o.out, "out", "", "write the picture to this `file` (.png or .svg)")
	return c
}

func atMostOne(c *cobra.Command, args []string) error {
	if len(args) > 1 {
		return usageError{fmt.Errorf(`%s takes one tube, or two as "A+B" in quotes`, c.CommandPath())}
	}
	return nil
}

func runChart(s Streams, o chartOptions) error {
	if err := checkPicture(o.out); err != nil {
		return err
	}
	w, err := o.open()
	if err != nil {
		return err
	}
	r, err := w.Chart(o.what, o.steps)
	if err != nil {
		return err
	}
	if err := writePictures(picture{o.out, func(w io.Writer) error { return draw.ChartPNG(w, r) }, func(w io.Writer) error { return draw.ChartSVG(w, r) }}); err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	s.chart(r)
	s.list("Mind", r.Warnings)
	s.list("Caution", r.Cautions)
	s.written(o.out, "chart")
	return nil
}

// chart prints a chart in words.
func (s Streams) chart(r *plan.Chart) {
	fmt.Fprintf(s.Out, "%s (%s)\n\n", r.Title, r.Box)
	if len(r.Pairs) > 0 {
		for _, t := range r.Tubes {
			fmt.Fprintf(s.Out, "%3d  %s%s  %s\n", t.Number, s.swatch(t.Hex, 4), t.Name, t.CI)
		}
		fmt.Fprintln(s.Out)
	}
	for _, p := range r.Pairs {
		fmt.Fprintf(s.Out, "%2d + %-2d  %s%s", p.A, p.B, s.swatch(p.Mix.Hex, 4), pad(ratio(p.Mix.Parts), 8))
		if p.Tint != nil {
			fmt.Fprintf(s.Out, "  tint %s%s", s.swatch(p.Tint.Hex, 4), ratio(p.Tint.Parts))
		}
		fmt.Fprintln(s.Out)
	}
	for _, row := range r.Rows {
		var piles []string
		for _, p := range row.Piles {
			if len(p.Parts) > 1 {
				piles = append(piles, fmt.Sprintf("%s (%s)", p.Name, partsLine(p.Parts)))
			} else {
				piles = append(piles, p.Name)
			}
		}
		fmt.Fprintf(s.Out, "%s: %s; steps of %.1f to %.1f ΔE00\n", row.Name, strings.Join(piles, " : "), row.Least, row.Most)
		for _, c := range row.Cells {
			fmt.Fprintf(s.Out, "  %s%s  value %.1f\n", s.swatch(c.Hex, 8), pad(ratio(c.Parts), 12), c.Value)
		}
		if row.Note != "" {
			fmt.Fprintln(s.Out, "  "+row.Note)
		}
	}
}

func ratio(parts []float64) string {
	var out []string
	for _, q := range parts {
		out = append(out, strconv.FormatFloat(q, 'g', -1, 64))
	}
	return strings.Join(out, " : ")
}

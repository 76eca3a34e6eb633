package cli

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/mattn/go-runewidth"
	"github.com/spf13/cobra"

	"paintout/cmd/internal/draw"
)

type wheelOptions struct {
	boxFlags
	out string
}

func newWheel(s Streams) *cobra.Command {
	var o wheelOptions
	c := &cobra.Command{
		Use:   "wheel",
		Short: "Your tubes round the wheel: leans, and what greys what",
		Long: `Lays your tubes out by hue and chroma: each as a streak from masstone to tint,
which way it leans, and which two tubes grey each other and in what parts. The
picture is a page to print, A4 across, PNG or SVG by the name's ending.`,
		Example: `  paintout wheel
  paintout wheel --out wheel.png
  paintout wheel --only PW6,PY184,PR122,PB15:4 --out wheel.svg`,
		Args: exactly(0, "no further words"),
		RunE: func(*cobra.Command, []string) error { return runWheel(s, o) },
	}
	o.add(c.Flags())
	o.addOnly(c.Flags())
	c.Flags().StringVar(&o.out, "out", "", "write the picture to this `file` (.png or .svg)")
	return c
}

func runWheel(s Streams, o wheelOptions) error {
	if err := checkPicture(o.out); err != nil {
		return err
	}
	w, err := o.open()
	if err != nil {
		return err
	}
	r := w.Wheel()
	if err := writePictures(picture{o.out, func(w io.Writer) error { return draw.WheelPNG(w, r) }, func(w io.Writer) error { return draw.WheelSVG(w, r) }}); err != nil {
		return err
	}
	if o.json {
		return printJSON(s.Out, r)
	}
	fmt.Fprintf(s.Out, "%s, %s\n\n", r.Box, r.From)
	wideName, wideLean := 0, 0
	for _, t := range r.Tubes {
		wideName, wideLean = max(wideName, runewidth.StringWidth(t.Name)), max(wideLean, len(t.Lean))
	}
	for _, t := range r.Tubes {
		last := t.Streak[len(t.Streak)-1]
		fmt.Fprintf(s.Out, "%3d  %s%s%s  %s  %s\n", t.Number, s.swatch(t.Streak[0].Hex, 4), s.swatch(last.Hex, 4), pad(t.Name, wideName), pad(t.Lean, wideLean), t.CI)
	}
	if len(r.Joins) > 0 {
		fmt.Fprintln(s.Out, "\nThese grey each other:")
	}
	for _, j := range r.Joins {
		fmt.Fprintf(s.Out, "  %s%2d and %2d  %s (value %.1f, C* %.1f)\n", s.swatch(j.Hex, 4), j.A, j.B, partsLine(j.Parts), j.Value, j.Chroma)
	}
	s.list("Mind", r.Warnings)
	s.written(o.out, "wheel")
	return nil
}

// picture is a file to write and how to draw it.
type picture struct {
	path     string
	png, svg func(io.Writer) error
}

// checkPicture refuses a name that says no format.
func checkPicture(path string) error {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".png", ".svg":
		return nil
	}
	if path == "" {
		return nil
	}
	return usageError{fmt.Errorf("--out %s: give a name that ends in .png or .svg", path)}
}

// writePictures draws every picture before the first is written, and writes
// each whole or not at all. A picture without a path is none.
func writePictures(pics ...picture) error {
	drawn := make([]bytes.Buffer, len(pics))
	for i, p := range pics {
		if p.path == "" {
			continue
		}
		draw := p.png
		if strings.EqualFold(filepath.Ext(p.path), ".svg") {
			draw = p.svg
		}
		if err := draw(&drawn[i]); err != nil {
			return err
		}
	}
	for i, p := range pics {
		if p.path == "" {
			continue
		}
		if err := new(folder).write(p.path, drawn[i].Bytes()); err != nil {
			return err
		}
	}
	return nil
}

// written says where the picture is, or how to have one.
func (s Streams) written(path, name string) {
	if path == "" {
		fmt.Fprintf(s.Out, "\nAdd --out %s.png, or .svg, for the picture.\n", name)
		return
	}
	fmt.Fprintf(s.Out, "\nWritten: %s\n", path)
}

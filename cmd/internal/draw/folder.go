package draw

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"runtime"
	"sync"
	"sync/atomic"

	"paintout/cmd/internal/plan"
)

// File is a file of a plan's folder.
type File struct {
	Name string
	Data []byte
}

// Folder draws all that goes into a plan's folder, on all cores, from the plan,
// its pictures and the tubes that are carried. What cannot be drawn of it is
// added to the plan's warnings.
func Folder(ctx context.Context, w *plan.Workspace, p *plan.Plan, pics *plan.Pictures, paper Paper) ([]File, error) {
	sheet := Booklet{Title: p.Title}
	laid := make(chan error, 1)
	go func() { laid <- sheet.AddSheet(p, pics, paper) }()
	wheel := w.Wheel()
	reach, err := w.Slices(ctx, plan.AimsOf(p), nil)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil { // too few tubes to slice
		p.Warnings = append(p.Warnings, "There is no picture of the reach: "+err.Error()+".")
	}
	if err := <-laid; err != nil {
		return nil, err
	}
	p.Warnings = append(p.Warnings, sheet.Warnings...)
	wheelPic, err := wheelPage(wheel)
	if err != nil {
		return nil, err
	}
	wall := []wallPicture{{"Wheel: which way each tube leans, and what greys what", wheelPic}}
	files := []file{
		{"masses.png", func(w io.Writer) error { return MassesPNG(w, p, pics) }},
		{"mixed.png", func(w io.Writer) error { return MixedPNG(w, p, pics) }},
		{"piles.png", func(w io.Writer) error { return PilesPNG(w, p) }},
		{"strip.png", func(w io.Writer) error { return StripPNG(w, p) }},
		{"wheel.png", func(w io.Writer) error { return wheelPic.png(w, screenDPI) }},
		{"wheel.svg", wheelPic.svg},
		{"sheet.pdf", sheet.PDF},
		{"swatches.gpl", func(w io.Writer) error { return SwatchesGPL(w, p) }},
		{"swatches.css", func(w io.Writer) error { return SwatchesCSS(w, p) }},
		{"masses.csv", func(w io.Writer) error { return MassesCSV(w, p) }},
		{"mixes.csv", func(w io.Writer) error { return MixesCSV(w, p) }},
		{"plan.json", func(w io.Writer) error { return writeJSON(w, p) }},
	}
	if reach != nil {
		pic, err := slicesPage(reach)
		if err != nil {
			return nil, err
		}
		wall = append(wall, wallPicture{"Reach: what these tubes can mix at each value, and where the masses lie", pic})
		files = append(files, file{"reach.png", func(w io.Writer) error { return pic.png(w, screenDPI) }}, file{"reach.svg", pic.svg})
	}
	if len(w.Palette.Tubes) > 1 { // one tube has no pairs
		chart, err := w.Chart("", 0)
		if err != nil {
			return nil, err
		}
		pic, err := chartPage(chart)
		if err != nil {
			return nil, err
		}
		wall = append(wall, wallPicture{"Chart: every two of these tubes mixed, and let down with white", pic})
		files = append(files, file{"chart.png", func(w io.Writer) error { return pic.png(w, screenDPI) }}, file{"chart.svg", pic.svg})
	}
	files = append(files, file{"plan.html", func(w io.Writer) error { return pageWith(w, p, pics, wall) }})
	if k := p.Kit; k != nil {
		files = append(files,
			file{"kit.png", func(w io.Writer) error { return KitPNG(w, k, p.Box.Tubes) }},
			file{"kit.svg", func(w io.Writer) error { return KitSVG(w, k, p.Box.Tubes) }})
	}
	for _, n := range []int{2, 3, 5} {
		files = append(files, file{fmt.Sprintf("values-%d.png", n), func(w io.Writer) error { return ValuesPNG(w, p, pics, n) }})
	}
	return drawAll(ctx, files)
}

// Lesson draws the sheets of a lesson from a plan's kit, as both PNG and SVG.
func Lesson(ctx context.Context, w *plan.Workspace, paper Paper) ([]File, error) {
	l, err := w.Lesson("", 0)
	if err != nil {
		return nil, err
	}
	var files []file
	for _, s := range []Sheet{{}, {Chart: true}, {Filled: true}, {Chart: true, Filled: true}} {
		s.Letter = paper == Letter
		files = append(files,
			file{"lesson-" + s.Name() + ".png", func(w io.Writer) error { return LessonPNG(w, l, s) }},
			file{"lesson-" + s.Name() + ".svg", func(w io.Writer) error { return LessonSVG(w, l, s) }})
	}
	return drawAll(ctx, files)
}

// file is a file to draw.
type file struct {
	name string
	draw func(io.Writer) error
}

// drawAll draws files on all cores.
func drawAll(ctx context.Context, files []file) ([]File, error) {
	drawn := make([]bytes.Buffer, len(files))
	errs := make([]error, len(files))
	var next atomic.Int64
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for {
				i := int(next.Add(1) - 1)
				if i >= len(files) || ctx.Err() != nil {
					return
				}
				errs[i] = files[i].draw(&drawn[i])
			}
		})
	}
	wg.Wait()
	if err := errors.Join(append(errs, ctx.Err())...); err != nil {
		return nil, err
	}
	out := make([]File, len(files))
	for i, f := range files {
		out[i] = File{f.name, drawn[i].Bytes()}
	}
	return out, nil
}

// writeJSON writes v as one indented object, as the command line prints it.
func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

// Demoscene writes the demonstration photo, an invented landscape.
package main

import (
	"flag"
	"fmt"
	"os"

	"paintout/cmd/internal/scene"
)

func main() {
	out := flag.String("o", "", "JPEG `file` to write")
	width := flag.Int("w", scene.Width, "width in pixels; the height is two thirds of it")
	flag.Parse()
	if err := run(*out, *width); err != nil {
		fmt.Fprintln(os.Stderr, "demoscene:", err)
		os.Exit(1)
	}
}

func run(out string, width int) error {
	if out == "" {
		return fmt.Errorf("no file named: say where the picture goes with -o FILE.jpg")
	}
	p, err := scene.Render(width, width*scene.Height/scene.Width, scene.Salt)
	if err != nil {
		return err
	}
	f, err := os.Create(out)
	if err != nil {
		return err
	}
	if err := scene.Encode(f, p); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

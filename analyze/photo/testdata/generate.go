//go:build ignore

// Generate makes the picture files in this folder that Go's library cannot
// write. Run it here, on Debian with imagemagick, webp and libheif-examples:
//
//	go run generate.go
//
// Every file shows the colours of patches.txt, six across and four down.
package main

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

func main() {
	log.SetFlags(0)
	dir, err := os.MkdirTemp("", "fixtures")
	check(err)
	defer os.RemoveAll(dir)
	text, err := os.ReadFile("patches.txt")
	check(err)
	same := func(c color.NRGBA) color.NRGBA { return c }
	draw := func(name string, side int, change func(color.NRGBA) color.NRGBA, alpha bool) string {
		m := image.NewNRGBA(image.Rect(0, 0, 6*side, 4*side))
		for i, line := range strings.Fields(string(text)) {
			var c color.NRGBA
			fmt.Sscanf(line, "%02x%02x%02x", &c.R, &c.G, &c.B)
			c.A = 255
			c = change(c)
			if alpha && i%2 == 1 {
				c.A = 128
			}
			for y := range side {
				for x := range side {
					m.SetNRGBA(i%6*side+x, i/6*side+y, c)
				}
			}
		}
		var b bytes.Buffer
		check(png.Encode(&b, m))
		path := filepath.Join(dir, name)
		check(os.WriteFile(path, b.Bytes(), 0o644))
		return path
	}
	large, small, clear := draw("large.png", 20, same, false), draw("small.png", 7, same, false), draw("clear.png", 20, same, true)

	run("convert", large, "-strip", "-quality", "90", "-sampling-factor", "2x2", "-interlace", "JPEG", "progressive.jpg")
	run("convert", large, "-strip", "-colorspace", "CMYK", "-quality", "92", "cmyk.jpg")
	run("convert", large, "-strip", "-quality", "90", "-interlace", "PNG", "interlaced.png")

	run("cwebp", "-quiet", "-q", "90", large, "-o", "lossy.webp")
	run("cwebp", "-quiet", "-lossless", large, "-o", "lossless.webp")
	run("cwebp", "-quiet", "-q", "90", clear, "-o", "clear.webp")

	heif := func(to string, from string, args ...string) {
		run("heif-enc", append(append([]string{"-q", "80"}, args...), "-o", to, from)...)
	}
	heif("full601.heic", large)
	heif("small.heic", small)
	// The encoder writes full-range BT.601 whatever it is asked. Colours shifted
	// beforehand leave the YCbCr numbers that limited-range BT.709 would have.
	heif("limited709.heic", draw("shifted.png", 20, shift709, false))
	heif("yuv444.heic", large, "-p", "chroma=444")
	gray := filepath.Join(dir, "gray.png")
	run("convert", large, "-strip", "-colorspace", "Gray", "-type", "Grayscale", gray)
	heif("gray.heic", gray)
	deep := filepath.Join(dir, "deep.png")
	run("convert", large, "-strip", "-depth", "16", "-define", "png:bit-depth=16", deep)
	heif("deep10.heic", deep, "-b", "10")
	run("heif-enc", "-A", "-q", "50", "-o", "refused.avif", small)
}

// shift709 gives the colour whose full-range BT.601 numbers are the
// limited-range BT.709 numbers of c (ITU-T H.273, equations 38–44).
func shift709(c color.NRGBA) color.NRGBA {
	const kr, kb = 0.2126, 0.0722
	r, g, b := float64(c.R)/255, float64(c.G)/255, float64(c.B)/255
	l := kr*r + (1-kr-kb)*g + kb*b
	y := 16 + 219*l
	cb := 128 + 224*(b-l)/(2*(1-kb))
	cr := 128 + 224*(r-l)/(2*(1-kr))
	r8, g8, b8 := color.YCbCrToRGB(uint8(y+0.5), uint8(cb+0.5), uint8(cr+0.5))
	return color.NRGBA{r8, g8, b8, 255}
}

func run(name string, args ...string) {
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		log.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
}

func check(err error) {
	if err != nil {
		log.Fatal(err)
	}
}

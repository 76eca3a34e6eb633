// Demoscene writes the demonstration photo.
package main

import (
	"flag"
	"fmt"
	"image/jpeg"
	"image/png"
	"os"
	"strings"
	"time"

	"paintout/cmd/internal/scene"
)

func main() {
	o := flag.String("o", "", "file")
	w := flag.Int("w", 1800, "width")
	flag.Parse()
	t := time.Now()
	im := scene.Render(*w, *w*2/3, 7)
	fmt.Println(time.Since(t))
	f, _ := os.Create(*o)
	if strings.HasSuffix(*o, "jpg") {
		jpeg.Encode(f, im, &jpeg.Options{Quality: 88})
	} else {
		png.Encode(f, im)
	}
	f.Close()
}

package scene

import (
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"testing"
	"time"
)

func TestSkyDbg(t *testing.T) {
	if os.Getenv("SKYDBG") == "" {
		t.Skip()
	}
	t0 := time.Now()
	s := newSky(1100, 7)
	t.Log(time.Since(t0))
	im := image.NewRGBA(image.Rect(0, 0, 1100, s.rows))
	for j := range s.rows {
		for i := range 1100 {
			c := s.pix[(s.rows-1-j)*1100+i]
			f := func(v float64) uint8 { v = 1 - math.Exp(-v*0.9); return uint8(255 * math.Pow(v, 1/2.2)) }
			im.Set(i, j, color.RGBA{f(c.r), f(c.g), f(c.b), 255})
		}
	}
	o, _ := os.Create("/tmp/scn/sky.png")
	png.Encode(o, im)
	o.Close()
}

package plan

import (
	"context"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
)

// picture writes a photo of a grey card of 18 % on the left and a colour on the
// right, half a stop too dark under light that is too warm.
func picture(t *testing.T, c lab.Lab) string {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, 240, 120))
	cast := [3]float64{0.85, 0.68, 0.5}
	encode := func(v float64) uint8 {
		if v <= 0.0031308 {
			v *= 12.92
		} else {
			v = 1.055*math.Pow(v, 1/2.4) - 0.055
		}
		return uint8(math.Round(255 * min(max(v, 0), 1)))
	}
	r, g, b := c.Linear()
	for y := range 120 {
		for x := range 240 {
			v := [3]float64{0.18, 0.18, 0.18}
			if x >= 120 {
				v = [3]float64{r, g, b}
			}
			img.SetNRGBA(x, y, color.NRGBA{encode(v[0] * cast[0]), encode(v[1] * cast[1]), encode(v[2] * cast[2]), 255})
		}
	}
	path := filepath.Join(t.TempDir(), "pile.png")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, img); err != nil {
		t.Fatal(err)
	}
	return path
}

// A photo of the pile with a grey card gives the reading that a colorimeter
// would, within what its uncertainty says, and advice that begins with the same tube.
func TestMendFromPhoto(t *testing.T) {
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	pile := lab.Lab{L: 64, A: 2, B: -16}
	at, err := photo.ParsePoint("25%,50%")
	if err != nil {
		t.Fatal(err)
	}
	ask := MendAsk{Target: "lab:74,0,-14", Readings: []string{picture(t, pile) + "@75%,50%"}, Mixed: "PW6:8,PB29:2,PBk9:0.5", Grey: &at}
	s := Settings{PortionError: 0.12}
	seen, err := Mend(context.Background(), s, photo.Options{}, ask, nil)
	if err != nil {
		t.Fatal(err)
	}
	if de := lab.DE00(seen.Pile.Reading, pile); de > 1.5 || de > 2*seen.Pile.Error {
		t.Errorf("the photo reads %v, %.2f ΔE00 from %v, and is said to be good to %.2f", seen.Pile.Reading, de, pile, seen.Pile.Error)
	}
	ask.Readings, ask.Grey = []string{"lab:64,2,-16"}, nil
	typed, err := Mend(context.Background(), s, photo.Options{}, ask, nil)
	if err != nil {
		t.Fatal(err)
	}
	if seen.Additions[0].Add[0].Tube != typed.Additions[0].Add[0].Tube {
		t.Errorf("by photo: %v; typed: %v", seen.Say, typed.Say)
	}
}

// A pile that reads a shade brighter than white is white; one far brighter is a
// mistake in the photo.
func TestPileBrighterThanWhite(t *testing.T) {
	ask := MendAsk{Grey: &photo.Point{X: photo.Measure{Value: 60}, Y: photo.Measure{Value: 60}}}
	c, _, _, err := readPile(picture(t, lab.Lab{L: 100.8})+"@180,60", ask)
	if err != nil || c.L != 100 {
		t.Errorf("a white pile reads %v, %v", c, err)
	}
	if c, _, _, err = readPile(picture(t, lab.Lab{L: 104})+"@180,60", ask); err == nil || !strings.Contains(err.Error(), "brighter than white (L* 104)") {
		t.Errorf("a pile in glare reads %v, %v", c, err)
	}
}

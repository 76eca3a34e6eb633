package card_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"

	"paintout/analyze/card"
	"paintout/analyze/photo"
)

func ExampleSpot() {
	// A grey card on the left and a pile of paint on the right, in warm light
	// and underexposed.
	img := image.NewRGBA(image.Rect(0, 0, 60, 30))
	for y := range 30 {
		for x := range 60 {
			img.Set(x, y, color.RGBA{R: 104, G: 88, B: 70, A: 255})
			if x >= 30 {
				img.Set(x, y, color.RGBA{R: 60, G: 72, B: 110, A: 255})
			}
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		fmt.Println(err)
		return
	}
	p, err := photo.Decode("pile.png", b.Bytes(), photo.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	left, _ := photo.ParsePoint("25%,50%")
	right, _ := photo.ParsePoint("75%,50%")
	r, err := card.Spot(p, right, card.Grey{Place: left})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s, each coordinate give or take %.1f steps\n", r.Lab.Hex(), r.Uncertainty)
	// Output:
	// #3960b0, each coordinate give or take 2.7 steps
}

package photo_test

import (
	"fmt"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
)

func ExampleOpen() {
	crop, err := photo.ParseCrop("0%,0%,100%,50%")
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := photo.Open("testdata/progressive.jpg", photo.Options{Crop: &crop, Exposure: 0.5})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s, %s, %d×%d\n", p.Format, p.Profile, p.Width, p.Height)
	for _, n := range p.Notes {
		fmt.Println(n)
	}
	v := p.At(70, 10, 5) // a blue, half a stop up
	fmt.Println(lab.FromLinear(v[0], v[1], v[2]).Hex())
	// Output:
	// JPEG, sRGB, 120×40
	// There is no colour profile to go by: the colours were taken as sRGB.
	// Exposure: +0.5 stops, so light times 1.41.
	// Cropped to 120×40 of 120×80 pixels.
	// #2f5fbb
}

func ExampleParseCanvas() {
	c, err := photo.ParseCanvas("12x16in")
	fmt.Println(c, err)
	_, err = photo.ParseCanvas("30x40")
	fmt.Println(err)
	// Output:
	// 12×16 in <nil>
	// the canvas "30x40" has no unit: write width x height with a unit, such as 30x40cm, 300x400mm or 12x16in
}

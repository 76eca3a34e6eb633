package plan

import "image"

// Pictures are the rasters that go with a plan, all of one size and all of the
// same crop and orientation, small enough to draw on.
type Pictures struct {
	Photo  *image.RGBA     // sRGB, to look at
	Masses []uint8         // per pixel, row by row: index into Plan.Masses
	Values map[int][]uint8 // for 2, 3 and 5 steps: per pixel index into Plan.ValueSteps, light to dark
	W, H   int
}

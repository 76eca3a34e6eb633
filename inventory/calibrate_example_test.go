package inventory_test

import (
	"fmt"
	"strings"

	"paintout/inventory"
	"paintout/inventory/optics"
)

// Three invented colours of a tube and one of the white, as from a cheap
// colorimeter, make a box in which the tube's mixes can be foretold.
func ExampleCalibrate() {
	readings, err := inventory.ReadReadings("june.csv", strings.NewReader(`tube,ci,paint_parts,white_parts,specular,L,a,b
white,PW6,0,1,in,96.6,-0.6,1.4
ultramarine,PB29,1,0,in,23.4,19.8,-32.0
ultramarine,PB29,1,4,in,52.6,9.7,-45.0
ultramarine,PB29,1,9,in,62.2,3.6,-38.6
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	box, report, err := inventory.Calibrate(readings, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, t := range report.Tubes {
		fmt.Printf("%s, from %s: its readings are met within %.1f ΔE00\n", t.Tube, t.Start, t.Residual)
	}
	mix := optics.Mix([]*optics.Paint{&box.Tube("ultramarine").Paint, &box.Tube("white").Paint}, []float64{1, 2})
	seen := mix.Reflectance(*box.Finish)
	fmt.Printf("one to two white: L* %.0f\n", seen.Lab(optics.D65).L)
	// Output:
	// white, from the library's PW6: its readings are met within 0.2 ΔE00
	// ultramarine, from the library's PB29: its readings are met within 0.5 ΔE00
	// one to two white: L* 46
}

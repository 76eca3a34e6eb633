package inventory_test

import (
	"fmt"
	"strings"

	"paintout/inventory"
)

// Readings as an instrument writes them, the samples named by tube, code and
// parts of paint to white.
func ExampleReadReadings() {
	const text = `CGATS.17
ILLUMINANT "D65"
SPECULAR "in"
BASIS "volume"
BEGIN_DATA_FORMAT
SAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B
END_DATA_FORMAT
BEGIN_DATA
1 "chalk white PW6" 96.4 -0.5 1.6
2 "quay blue PB29 masstone" 23.0 20.1 -32.0
3 "quay blue PB29 1:9" 79.6 1.1 -24.0
END_DATA
`
	r, err := inventory.ReadReadings("class.txt", strings.NewReader(text))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, t := range r.Tubes {
		for _, row := range t.Rows {
			fmt.Printf("%s %v, %g to %g white: L* %.1f\n", t.Name, t.CI, row.Paint, row.White, row.Lab.L)
		}
	}
	// Output:
	// chalk white [PW6], 0 to 1 white: L* 96.4
	// quay blue [PB29], 1 to 0 white: L* 23.0
	// quay blue [PB29], 1 to 9 white: L* 79.6
}

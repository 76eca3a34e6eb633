package lab_test

import (
	"fmt"

	"paintout/analyze/lab"
)

func ExampleDE00() {
	near := lab.DE00(lab.Lab{L: 52, A: -10, B: 31}, lab.Lab{L: 52, A: -11, B: 31})
	far := lab.DE00(lab.Lab{L: 52, A: -10, B: 31}, lab.Lab{L: 60, A: -10, B: 31})
	fmt.Printf("%.2f %.2f\n", near, far)
	// Output: 0.70 7.46
}

func ExampleFromXYZ() {
	c := lab.FromXYZ(lab.XYZ{X: 20.5, Y: 21.9, Z: 12.7}, lab.D65)
	fmt.Printf("L* %.1f a* %.1f b* %.1f\n", c.L, c.A, c.B)
	// Output: L* 53.9 a* -1.5 b* 22.8
}

func ExampleFromSRGB8() {
	c := lab.FromSRGB8(0x5a, 0x7d, 0x3c)
	p := c.LCh()
	fmt.Printf("L* %.1f C* %.1f h %.0f°, value %.1f\n", p.L, p.C, p.H, c.Value())
	// Output: L* 48.5 C* 39.8 h 128°, value 4.8
}

func ExampleLab_Hex() {
	c := lab.Lab{L: 52, A: -60, B: 31}
	_, _, _, outside := c.SRGB8()
	fmt.Println(c.Hex(), outside)
	// Output: #009243 true
}

func ExampleLab_Notation() {
	n, err := lab.FromSRGB8(0x87, 0xce, 0xeb).Notation()
	fmt.Println(n, err)
	// Output: 8.4B 7.9/6.1 <nil>
}

func ExampleNotation_Lab() {
	n, err := lab.ParseNotation("5GY 5/4")
	if err != nil {
		fmt.Println(err)
		return
	}
	c, err := n.Lab()
	fmt.Println(c.Hex(), err)
	// Output: #727f50 <nil>
}

func ExampleLab_Adapted() {
	reading := lab.Lab{L: 43.1, A: -14.1, B: 20.3} // an instrument's, for D50
	c := reading.Adapted(lab.D50, lab.D65)
	fmt.Printf("L* %.1f a* %.1f b* %.1f\n", c.L, c.A, c.B)
	// Output: L* 43.0 a* -15.8 b* 20.5
}

func ExampleWarmth() {
	for _, s := range []string{"5YR 6/12", "5PB 6/8", "N 6/"} {
		t, err := lab.ParseTarget("notation:" + s)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%s: %.1f, %s\n", s, lab.Warmth(t.Lab), lab.Temperature(t.Lab))
	}
	// Output:
	// 5YR 6/12: 1.3, warm
	// 5PB 6/8: -1.1, cool
	// N 6/: -0.5, neutral
}

func ExampleTemperatureAmong() {
	rock := lab.Lab{L: 55, A: 1, B: 4}
	sky, grass := lab.Lab{L: 75, A: -4, B: -24}, lab.Lab{L: 60, A: -12, B: 45}
	fmt.Println(lab.TemperatureAmong(rock, []lab.Lab{sky, grass}, []float64{0.6, 0.2}))
	fmt.Println(lab.TemperatureAmong(rock, []lab.Lab{sky, grass}, []float64{0.1, 0.7}))
	// Output:
	// warmer grey
	// cooler grey
}

func ExampleName() {
	for _, c := range []lab.Lab{{L: 82, A: -3, B: -9}, {L: 36, A: -11, B: 22}, {L: 67, A: 38, B: 66}, {L: 94, A: 0, B: -3}} {
		fmt.Println(lab.Name(c))
	}
	// Output:
	// pale blue
	// dark olive green
	// bright orange
	// blue-white
}

func ExampleParseTarget() {
	for _, s := range []string{"5a7d3c", "lab:52,-10,31", "notation:5GY 5/4", "sky.jpg@40%,25%", "5a7d3"} {
		t, err := lab.ParseTarget(s)
		switch {
		case err != nil:
			fmt.Println(err)
		case t.Kind == lab.PhotoTarget:
			fmt.Println(t.Path, t.X, t.Y, t.Percent)
		default:
			fmt.Println(t.Lab.Hex())
		}
	}
	// Output:
	// #5a7d3c
	// #7d8046
	// #727f50
	// sky.jpg 40 25 true
	// "5a7d3" should have six hex digits, as in 5a7d3c, and has 5
}

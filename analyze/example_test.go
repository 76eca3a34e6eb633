package analyze_test

import (
	"context"
	"fmt"

	"paintout/analyze"
)

// shore is a picture of four colours: sky, sea, sand, and a red buoy.
type shore struct{}

func (shore) Size() (w, h int) { return 200, 120 }

func (shore) Row(y int, dst []float32) {
	for x := range 200 {
		c := [3]float32{0.55, 0.70, 0.85}
		switch {
		case (x-60)*(x-60)+(y-66)*(y-66) < 16:
			c = [3]float32{0.50, 0.04, 0.03}
		case y > 90:
			c = [3]float32{0.55, 0.45, 0.28}
		case y > 50:
			c = [3]float32{0.08, 0.20, 0.25}
		}
		copy(dst[3*x:], c[:])
	}
}

func ExampleAnalyze() {
	a, err := analyze.Analyze(context.Background(), shore{}, analyze.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, m := range a.Masses {
		fmt.Printf("%d %s value %.1f, %.1f %%, accent %v\n", m.ID, m.Lab.Hex(), m.Lab.Value(), 100*m.Share, m.Accent)
	}
	// Output:
	// 1 #c4daed value 8.6, 42.5 %, accent false
	// 2 #c4b390 value 7.3, 24.2 %, accent false
	// 3 #507c89 value 4.8, 33.1 %, accent false
	// 4 #bc3830 value 4.3, 0.2 %, accent true
}

func ExampleAnalysis_ValueSteps() {
	a, err := analyze.Analyze(context.Background(), shore{}, analyze.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	plan, err := a.ValueSteps(2)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range plan.Steps {
		fmt.Printf("value %.1f on %.0f %%\n", s.Value, 100*s.Share)
	}
	fmt.Printf("parted at %.1f\n", plan.Limits[0])
	// Output:
	// value 8.1 on 67 %
	// value 4.8 on 33 %
	// parted at 6.0
}

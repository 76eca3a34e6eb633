package cli

import (
	"strings"
	"testing"

	"paintout/cmd/internal/plan"
)

// The curve in words names the kit where it is none of the curve's sets, tells
// each line's change against the line before, and leaves out what is no nearer.
func TestKitCurveInWords(t *testing.T) {
	step := func(n int, worst, mean float64, tubes string) plan.KitStep {
		return plan.KitStep{Count: n, Tubes: strings.Split(tubes, " "), Worst: worst, Mean: mean, Proven: true}
	}
	k := &plan.KitPlan{
		Tubes: []string{"white", "umber"}, Worst: 2.9, Mean: 0.5, Proven: true, Tolerance: 3,
		Curve: []plan.KitStep{
			step(1, 30, 20, "ochre"), step(2, 2, 1, "white black"), step(3, 1.02, 0.31, "white black ochre"),
			step(4, 1.01, 0.31, "white black ochre blue"), step(5, 1, 0.3, "white black blue red green"), step(6, 0.5, 0.2, "white blue red green umber ochre"),
		},
	}
	const head = "With at most so many tubes, the set whose worst mass is nearest"
	for _, c := range []struct {
		name   string
		change func()
		want   string
	}{
		{"kit beside the curve", func() {}, head + `
  1  worst 30.0, mean 20.0: ochre
  2  worst 2.0, mean 1.0; in: white, black; out: ochre
 *2  worst 2.9, mean 0.5: the kit, every mass near enough and the least mean
  3  worst 1.0, mean 0.3; in: ochre
  4 to 5  no nearer by a tenth
  6  worst 0.5, mean 0.2; in: blue, red, green, umber; out: black
`},
		{"kit among what is no nearer", func() { k.Tubes = k.Curve[3].Tubes }, head + `
  1  worst 30.0, mean 20.0: ochre
  2  worst 2.0, mean 1.0; in: white, black; out: ochre
  3  worst 1.0, mean 0.3; in: ochre
 *4  worst 1.0, mean 0.3; in: blue (the kit)
  5  no nearer by a tenth
  6  worst 0.5, mean 0.2; in: red, green, umber; out: black
`},
		{"nothing proven", func() {
			for i := range k.Curve {
				k.Curve[i].Proven = false
			}
			k.Curve = k.Curve[:1]
			k.Tubes, k.Needed = []string{"white"}, 4
		}, head + " (the best found,\n  not proven)\n" + `  1  worst 30.0, mean 20.0: ochre
 *1  worst 2.9, mean 0.5: the kit
`},
	} {
		c.change()
		var b strings.Builder
		Streams{Out: &b, Wide: 80}.kitCurve(k)
		if got := strings.TrimPrefix(b.String(), "\n"); got != c.want {
			t.Errorf("%s:\n%swant\n%s", c.name, got, c.want)
		}
	}
}

package analyze

import (
	"fmt"
	"math"

	"paintout/analyze/lab"
)

// Numbers of steps a value plan can have.
const (
	StepsMin = 2
	StepsMax = 9
)

// ValuePlan is the picture in a few values, light to dark.
type ValuePlan struct {
	Steps  []Step
	Limits []float64 // values between one step and the next, one fewer than Steps
	Mask   *Mask     // indexes Steps
}

// Step is one value of a plan.
type Step struct {
	Value float64 // 0–10, of the step's mean luminance
	Share float64 // of the picture's area; all shares sum to 1
}

// valueSlots is the number of steps of value, 0–10, by which limits are sought.
const valueSlots = 200

// ValueSteps makes a value plan of n steps, StepsMin–StepsMax. The limits are
// those for which the picture's values lie nearest to their steps, by the
// least sum of squares over the area (W. D. Fisher, J. Am. Stat. Assoc.
// 53:789–798, 1958), so they follow the picture's own lights and darks and
// not equal divisions of the scale. A picture with fewer values gives fewer
// steps. n out of range is an error.
func (a *Analysis) ValueSteps(n int) (*ValuePlan, error) {
	if n < StepsMin || n > StepsMax {
		return nil, fmt.Errorf("a value plan of %d steps cannot be made: ask for %d…%d", n, StepsMin, StepsMax)
	}
	return a.m.valueSteps(n), nil
}

func (m *model) valueSteps(n int) *ValuePlan {
	// Slots run from light to dark. Sums of weight, value, value², luminance.
	type slot struct{ w, v, vv, y float64 }
	var slots [valueSlots]slot
	for _, b := range m.bins {
		y := 100 * luminance(b.lab.L)
		v := valueOf(b.lab.L)
		s := &slots[min(max(int((10-v)/10*valueSlots), 0), valueSlots-1)]
		s.w += b.w
		s.v += b.w * v
		s.vv += b.w * v * v
		s.y += b.w * y
	}
	var used []int
	sum := []slot{{}}
	for i, s := range slots {
		if s.w > 0 {
			used = append(used, i)
			t := sum[len(sum)-1]
			sum = append(sum, slot{t.w + s.w, t.v + s.v, t.vv + s.vv, t.y + s.y})
		}
	}
	n = min(n, len(used))
	spread := func(i, j int) float64 { // sum of squares of used[i:j]
		w, v, vv := sum[j].w-sum[i].w, sum[j].v-sum[i].v, sum[j].vv-sum[i].vv
		return vv - v*v/w
	}
	// best[s][j] is the least sum of squares of used[:j] in s+1 steps.
	best := make([][]float64, n)
	from := make([][]int, n)
	for s := range n {
		best[s] = make([]float64, len(used)+1)
		from[s] = make([]int, len(used)+1)
		for j := 1; j <= len(used); j++ {
			if s == 0 {
				best[0][j] = spread(0, j)
				continue
			}
			best[s][j] = math.Inf(1)
			for i := s; i < j; i++ {
				if c := best[s-1][i] + spread(i, j); c < best[s][j] {
					best[s][j], from[s][j] = c, i
				}
			}
		}
	}
	plan := &ValuePlan{Steps: make([]Step, n), Limits: make([]float64, n-1)}
	for s, j := n-1, len(used); s >= 0; s-- {
		i := from[s][j]
		w := sum[j].w - sum[i].w
		plan.Steps[s] = Step{
			Value: lab.ValueOfLuminance((sum[j].y - sum[i].y) / w),
			Share: w / sum[len(used)].w,
		}
		if s > 0 {
			// Between the last slot of the lighter step and the first of this.
			plan.Limits[s-1] = 10 - 10*float64(used[i-1]+1+used[i])/2/valueSlots
		}
		j = i
	}

	limit := make([]float32, len(plan.Limits)) // in the view's lightness
	for i, v := range plan.Limits {
		limit[i] = float32(even(lab.Lab{L: lightness(lab.LuminanceOfValue(v) / 100)})[0])
	}
	plan.Mask = &Mask{m.view.w, m.view.h, make([]uint8, len(m.view.at))}
	for i, p := range m.view.at {
		for s := 0; s < len(limit) && p[0] < limit[s]; s++ {
			plan.Mask.Index[i] = uint8(s + 1)
		}
	}
	plan.Mask.tidy(n, n, valueSpeck)
	return plan
}

// luminance of a lightness, relative to white, and back.
func luminance(l float64) float64 { return lab.Lab{L: l}.XYZ(lab.XYZ{X: 1, Y: 1, Z: 1}).Y }
func lightness(y float64) float64 {
	return lab.FromXYZ(lab.XYZ{X: y, Y: y, Z: y}, lab.XYZ{X: 1, Y: 1, Z: 1}).L
}

// valueTable is value by L* in steps of 1/4.
var valueTable = func() (t [402]float64) {
	for i := range t {
		t[i] = lab.Lab{L: float64(i) / 4}.Value()
	}
	return
}()

func valueOf(l float64) float64 {
	x := min(max(4*l, 0), 400)
	i := int(x)
	return valueTable[i] + (x-float64(i))*(valueTable[i+1]-valueTable[i])
}

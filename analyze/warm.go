package analyze

import (
	"slices"
	"sort"

	"paintout/analyze/lab"
)

// warmth sets the warm–cool scores of the masses, and says how each reads
// among the others, weighed by area.
func warmth(masses []Mass) {
	colours := make([]lab.Lab, len(masses))
	shares := make([]float64, len(masses))
	for i, m := range masses {
		colours[i], shares[i] = m.Lab, m.Share
	}
	for i := range masses {
		m := &masses[i]
		m.Warmth = lab.Warmth(m.Lab)
		m.Temperature = lab.TemperatureAmong(m.Lab,
			slices.Delete(slices.Clone(colours), i, i+1), slices.Delete(slices.Clone(shares), i, i+1))
	}
}

// WarmToCool gives the indexes of the masses from the warmest to the coolest.
func (a *Analysis) WarmToCool() []int {
	order := make([]int, len(a.Masses))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return a.Masses[order[i]].Warmth > a.Masses[order[j]].Warmth })
	return order
}

package card

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"paintout/analyze/lab"
)

//go:generate go run ./internal/gentable -reflectance ../../../shared/data/reference/colorchecker24_ohta_reflectance_10nm.csv -xyz ../../../shared/data/reference/colorchecker24_ohta_xyz_lab_E308.csv

// A ReferencePatch is one patch of the 24-patch chart as it was measured.
type ReferencePatch struct {
	Name        string
	XYZ         lab.XYZ     // D65, 2° observer, the perfect diffuser Y = 100
	Reflectance [31]float64 // 400–700 nm by 10, fractions of the perfect diffuser
}

// Lab is the patch's colour under D65.
func (r *ReferencePatch) Lab() lab.Lab { return lab.FromXYZ(r.XYZ, lab.D65) }

// The chart's arrangement, and its six neutrals from white to black.
const (
	chartColumns, chartRows = 6, 4
	firstNeutral            = 18
)

// cell is where patch i stands in the chart, in columns and rows.
func cell(i int) [2]float64 {
	return [2]float64{float64(i % chartColumns), float64(i / chartColumns)}
}

// corners are the patches in the chart's corners, in turn.
var corners = [4]int{0, 5, 23, 18}

// Homography is the projective map, by rows, that takes four points to four
// others, in order; no three of either may lie on a line. It panics where
// they do.
func Homography(from, to [4][2]float64) [9]float64 {
	m, ok := homography(from[:], to[:])
	if !ok {
		panic("card: points on a line have no homography")
	}
	return m
}

// homography is the least-squares projective map of four or more points; it
// leaves the last entry at 1.
func homography(from, to [][2]float64) (m [9]float64, ok bool) {
	a := mat.NewDense(2*len(from), 8, nil)
	y := mat.NewVecDense(2*len(from), nil)
	for i, p := range from {
		q := to[i]
		a.SetRow(2*i, []float64{p[0], p[1], 1, 0, 0, 0, -p[0] * q[0], -p[1] * q[0]})
		a.SetRow(2*i+1, []float64{0, 0, 0, p[0], p[1], 1, -p[0] * q[1], -p[1] * q[1]})
		y.SetVec(2*i, q[0])
		y.SetVec(2*i+1, q[1])
	}
	var x mat.VecDense
	if err := x.SolveVec(a, y); err != nil {
		return m, false
	}
	for i := range 8 {
		if m[i] = x.AtVec(i); math.IsNaN(m[i]) || math.IsInf(m[i], 0) {
			return m, false
		}
	}
	m[8] = 1
	return m, true
}

// through maps a point; ok is false behind the horizon.
func through(m *[9]float64, p [2]float64) (q [2]float64, ok bool) {
	w := m[6]*p[0] + m[7]*p[1] + m[8]
	if !(w > 1e-6) {
		return q, false
	}
	return [2]float64{(m[0]*p[0] + m[1]*p[1] + m[2]) / w, (m[3]*p[0] + m[4]*p[1] + m[5]) / w}, true
}

package card

import (
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// unexplained is the share of y's variance that no linear function of the rows
// explains; rows have a constant.
func unexplained(rows [][]float64, y []float64) float64 {
	a := mat.NewDense(len(rows), len(rows[0]), nil)
	for i, r := range rows {
		a.SetRow(i, r)
	}
	var x mat.VecDense
	if err := x.SolveVec(a, mat.NewVecDense(len(y), y)); err != nil {
		return 1
	}
	var fit mat.VecDense
	fit.MulVec(a, &x)
	left := 0.0
	for i, v := range y {
		left += (v - fit.AtVec(i)) * (v - fit.AtVec(i))
	}
	if v := stat.Variance(y, nil) * float64(len(y)-1); v > 0 {
		return left / v
	}
	return 1
}

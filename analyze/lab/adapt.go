package lab

// The Bradford matrix takes XYZ to sharpened cone responses (ICC.1:2022,
// annex E); its inverse is worked out from it so that adapting there and back
// is exact.
var (
	bradford = matrix{
		{0.8951, 0.2664, -0.1614},
		{-0.7502, 1.7135, 0.0367},
		{0.0389, -0.0685, 1.0296},
	}
	bradfordInverse = bradford.inverse()
)

// Adapt gives the tristimulus values that, under the white to, look like xyz
// under the white from: the linear Bradford transform, as ICC profiles
// (version 4) use it. Whites are positive and of the same scale as xyz.
func Adapt(xyz, from, to XYZ) XYZ {
	c, f, t := bradford.times(xyz), bradford.times(from), bradford.times(to)
	return bradfordInverse.times(XYZ{c.X * t.X / f.X, c.Y * t.Y / f.Y, c.Z * t.Z / f.Z})
}

// Adapted re-expresses a colour that is relative to the white from as the
// corresponding colour relative to the white to, by [Adapt]. A D50 reading
// becomes this project's D65 by c.Adapted(D50, D65).
func (c Lab) Adapted(from, to XYZ) Lab {
	return FromXYZ(Adapt(c.XYZ(from), from, to), to)
}

type matrix [3][3]float64

func (m *matrix) times(v XYZ) XYZ {
	return XYZ{
		m[0][0]*v.X + m[0][1]*v.Y + m[0][2]*v.Z,
		m[1][0]*v.X + m[1][1]*v.Y + m[1][2]*v.Z,
		m[2][0]*v.X + m[2][1]*v.Y + m[2][2]*v.Z,
	}
}

// inverse is the transposed matrix of cofactors over the determinant.
func (m *matrix) inverse() matrix {
	cofactor := func(i, j int) float64 {
		r, s, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return m[r][c]*m[s][d] - m[r][d]*m[s][c]
	}
	det := m[0][0]*cofactor(0, 0) + m[0][1]*cofactor(0, 1) + m[0][2]*cofactor(0, 2)
	var inv matrix
	for i := range 3 {
		for j := range 3 {
			inv[j][i] = cofactor(i, j) / det
		}
	}
	return inv
}

package scene

import "math"

// sunMap tells what near things hide from the sun: over the plane square to
// the sun's rays, how far toward the sun the outermost thing lies.
type sunMap struct {
	u, v   vec // the plane's axes
	u0, v0 float64
	nu, nv int
	far    []float32
}

const sunMapCell = 0.085 // metres

// newSunMap covers the box of the plan from (x0, z0) to (x1, z1), up to top.
func newSunMap(x0, z0, x1, z1, top float64) *sunMap {
	m := &sunMap{u: vec{0, 1, 0}.cross(toSun).unit()}
	m.v = toSun.cross(m.u)
	m.u0, m.v0 = math.Inf(1), math.Inf(1)
	u1, v1 := math.Inf(-1), math.Inf(-1)
	for _, x := range []float64{x0, x1} {
		for _, z := range []float64{z0, z1} {
			for _, y := range []float64{-1, top} {
				p := vec{x, y, z}
				u, v := p.dot(m.u), p.dot(m.v)
				m.u0, u1, m.v0, v1 = min(m.u0, u), max(u1, u), min(m.v0, v), max(v1, v)
			}
		}
	}
	m.nu, m.nv = int((u1-m.u0)/sunMapCell)+1, int((v1-m.v0)/sunMapCell)+1
	m.far = make([]float32, m.nu*m.nv)
	for i := range m.far {
		m.far[i] = -1e9
	}
	return m
}

// add puts a ball of radius r metres in the way of the light.
func (m *sunMap) add(p vec, r float64) {
	u, v, t := (p.dot(m.u)-m.u0)/sunMapCell, (p.dot(m.v)-m.v0)/sunMapCell, float32(p.dot(toSun))
	r /= sunMapCell
	for j := max(int(v-r), 0); j <= min(int(v+r), m.nv-1); j++ {
		for i := max(int(u-r), 0); i <= min(int(u+r), m.nu-1); i++ {
			if k := j*m.nu + i; m.far[k] < t {
				m.far[k] = t
			}
		}
	}
}

// at is the share of the sun seen from p; things less than bias metres nearer
// to the sun than p do not count.
func (m *sunMap) at(p vec, bias float64) float64 {
	u, v, t := (p.dot(m.u)-m.u0)/sunMapCell, (p.dot(m.v)-m.v0)/sunMapCell, float32(p.dot(toSun)+bias)
	iu, iv := int(u), int(v)
	if iu < 2 || iv < 2 || iu >= m.nu-3 || iv >= m.nv-3 {
		return 1
	}
	// The sun's disc blurs a shadow's edge: average five by five, the outer
	// ring by its share.
	fu, fv := u-float64(iu), v-float64(iv)
	wu := [5]float64{1 - fu, 1, 1, 1, fu}
	wv := [5]float64{1 - fv, 1, 1, 1, fv}
	sum := 0.0
	for j := range 5 {
		row := m.far[(iv+j-2)*m.nu+iu-2:]
		for i := range 5 {
			if row[i] <= t {
				sum += wu[i] * wv[j]
			}
		}
	}
	return sum / 16
}

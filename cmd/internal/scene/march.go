package scene

import "math"

// march draws the ground in one column of samples, front to back: each step
// that rises above all before it fills the rows between.
func (l *land) march(fm *film, col int, heaven *sky) {
	ray := fm.ray(float64(col)+0.5, fm.cy)
	side := math.Sqrt(1 + ray.x*ray.x)
	air := airlight(ray)
	next := fm.h // first row already filled
	top := float64(fm.h)
	z := 2.0
	dz := 0.01
	for z < 17500 && next > 0 {
		x := ray.x * z
		h, on := l.soil(x, z)
		seen := max(h, 0)
		row := fm.cy - fm.f*(seen-fm.eye.y)/z
		if row < top {
			if top-row > 2.5 && dz > 0.00016*z && dz > 0.012 && next < fm.h {
				z -= dz * 0.75
				dz *= 0.25
				continue
			}
			upTo := max(int(math.Ceil(row-0.5)), 0)
			if upTo < next {
				c, region := l.shine(fm, x, z, h, on)
				c = veil(c, air, z*side)
				for j := upTo; j < next; j++ {
					fm.set(j*fm.w+col, z, c, region)
				}
				next = upTo
			}
			moved := top - row
			top = row
			dz *= clamp(0.9/max(moved, 0.1), 0.6, 1.5)
		} else {
			// Hidden: hurry on, but not past what could rise into view.
			gap := (fm.eye.y - (top-fm.cy)/fm.f*z) - h
			tall := 3.0
			if z > 500 {
				tall = 22
			}
			dz = max(dz*1.15, (gap-tall)*0.9)
		}
		dz = clamp(dz, 0.0011*z*0.12+0.0008, 0.012*z)
		z += dz
	}
	for j := range next {
		fm.set(j*fm.w+col, math.Inf(1), heaven.at(fm.ray(float64(col)+0.5, float64(j)+0.5)), Sky)
	}
}

// shine is the radiance and region of the ground at (x, z), h being its
// surface with growth.
func (l *land) shine(fm *film, x, z, h float64, on *hill) (rgb, Region) {
	if h < 0 {
		return rgb{}, Water // drawn later, when there is something to reflect
	}
	e := max(0.12, 0.0007*z)
	hx, _ := l.soil(x+e, z)
	hz, _ := l.soil(x, z+e)
	n := vec{(h - hx) / e, 1, (h - hz) / e}.unit()
	if on != nil {
		sp := l.paint(x, z, h, on)
		return sp.light(n, l.sunOnRidge(x, z, h)), sp.region
	}
	s := -99.0
	if z < 420 {
		s = l.inland(x, z)
	}
	var sp spot
	if s > 0 {
		sp = l.paintMeadow(x, z, s)
	} else {
		sp = l.paintFlat(x, z, h, s)
	}
	if z < 60 && s > 0 { // clods and grit
		fine := z / fm.f * 2
		for k, size := range []float64{0.31, 0.12, 0.05, 0.02} {
			keep := step01(0.5, 0.2, fine*4/size)
			if keep == 0 {
				break
			}
			n.x += 0.22 * keep * noise2(x/size, z/size, l.salt+480+uint32(2*k))
			n.z += 0.22 * keep * noise2(x/size, z/size, l.salt+481+uint32(2*k))
		}
		n = n.unit()
	}
	sun := 1.0
	if l.things != nil {
		sun = l.things.at(vec{x, h, z}, 0.05)
	}
	return sp.light(n, sun), sp.region
}

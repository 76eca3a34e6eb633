package scene

import "math"

// The barn stands askew, its long wall toward the sun and its gable in shade.
var (
	barnAt    = vec{-18.5, 4.9, 93}                                                 // middle of its floor
	barnAlong = vec{math.Cos(28 * math.Pi / 180), 0, -math.Sin(28 * math.Pi / 180)} // left to right
	barnOut   = vec{-math.Sin(28 * math.Pi / 180), 0, -math.Cos(28 * math.Pi / 180)}
)

const (
	barnLong  = 13.4
	barnDeep  = 6.6
	barnEaves = 3.5
	barnRidge = 6.5
	barnHang  = 0.28 // of the roof past the walls
)

// barnPart is one flat side, its local axes and outline.
type barnPart struct {
	origin, eu, ev, n vec
	w, h              float64
	paint             func(l *land, u, v float64) (sp spot, dark float64, ok bool)
}

func barnParts() []barnPart {
	up := vec{0, 1, 0}
	left := barnAt.add(barnAlong.scale(-barnLong / 2)).add(barnOut.scale(barnDeep / 2)).add(up.scale(-1))
	right := left.add(barnAlong.scale(barnLong))
	slope := barnOut.scale(-barnDeep / 2).add(up.scale(barnRidge - barnEaves)).unit()
	eave := left.add(up.scale(1 + barnEaves)).add(barnAlong.scale(-barnHang)).add(slope.scale(-barnHang))
	long := math.Hypot(barnDeep/2, barnRidge-barnEaves) + barnHang
	roofN := slope.cross(barnAlong)
	if roofN.y < 0 {
		roofN = roofN.scale(-1)
	}
	far := barnOut.scale(-barnDeep / 2).add(up.scale(barnEaves - barnRidge)).unit()
	ridge := eave.add(slope.scale(long))
	verge := eave.add(barnAlong.scale(barnLong + 2*barnHang))
	backN := roofN.add(barnOut.scale(-2 * roofN.dot(barnOut)))
	return []barnPart{
		{left, barnAlong, up, barnOut, barnLong, 1 + barnEaves + 0.05, paintLongWall},
		{right, barnOut.scale(-1), up, barnAlong, barnDeep, 1 + barnRidge, paintGable},
		{eave, barnAlong, slope, roofN, barnLong + 2*barnHang, long, paintRoof},
		// The far slope is never seen but keeps the sun off.
		{ridge, barnAlong, far, roofN, barnLong + 2*barnHang, long, nil},
		// The boards under the slates' edge at the gable.
		{verge.add(roofN.scale(-0.16)), slope, roofN, barnAlong, long, 0.16, paintVerge},
		{verge.add(slope.scale(long)).add(backN.scale(-0.16)), far, backN, barnAlong, long, 0.16, paintVerge},
		{eave.add(up.scale(-0.07)), barnAlong, up, barnOut, barnLong + 2*barnHang, 0.08, paintVerge},
	}
}

func (l *land) drawBarn(fm *film) {
	for _, p := range barnParts() {
		if p.paint == nil {
			continue
		}
		air := airlight(p.origin.sub(fm.eye).unit())
		fm.panel(p.origin, p.eu, p.ev, p.w, p.h, Barn, func(u, v float64, at vec) (rgb, bool) {
			sp, dark, ok := p.paint(l, u, v)
			if !ok {
				return rgb{}, false
			}
			sun := l.things.at(at.add(p.n.scale(0.10)), 0.12)
			return veil(sp.light(p.n, sun).scale(1-dark), air, at.z), true
		})
	}
}

func (m *sunMap) addBarn() {
	for _, p := range barnParts() {
		if p.h < 0.5 {
			continue
		}
		for v := 0.0; v <= p.h; v += 0.07 {
			for u := 0.0; u <= p.w; u += 0.07 {
				if p.eu.y == 0 && p.n == barnAlong && !inGable(u, v) {
					continue
				}
				m.add(p.origin.add(p.eu.scale(u)).add(p.ev.scale(v)), 0.05)
			}
		}
	}
}

func inGable(u, v float64) bool {
	return v-1 < barnEaves+(barnRidge-barnEaves)*(1-math.Abs(u/(barnDeep/2)-1))
}

// rubble is a wall of field stones laid roughly in courses.
func rubble(l *land, u, v float64) spot {
	course := v + 0.07*noise2(u/1.3, v/0.6, l.salt+800)
	c := cells2(u/0.46, course/0.25, l.salt+801)
	k, hue := unit(mix32(c.id+1)), unit(mix32(c.id+2))
	stone := rgb{0.245, 0.222, 0.184}.mix(rgb{0.190, 0.148, 0.110}, sq(hue)).mix(rgb{0.235, 0.238, 0.228}, step01(0.25, 0, hue))
	stone = stone.scale(0.66 + 0.68*k)
	stone = stone.scale(1 + 0.22*fbm2(u/0.12, v/0.1, 2, l.salt+802))
	joint := step01(0.14, 0.03, c.d2-c.d1)
	a := stone.mix(rgb{0.205, 0.190, 0.160}.scale(0.72), joint*0.8)
	// Weather: damp at the foot, streaks, pale bloom of old limewash.
	a = a.mix(rgb{0.36, 0.345, 0.30}, 0.20*step01(0.05, 0.45, fbm2(u/1.3, v/0.8, 4, l.salt+803)))
	a = a.scale(1 - 0.30*step01(0.9, 0, v-1+0.5*noise2(u/0.9, 0, l.salt+804)))
	a = a.scale(1 - 0.16*step01(0.1, 0.5, noise2(u/0.30, v/3.4, l.salt+805)))
	return spot{albedo: a, open: 0.92, soft: 0}
}

// opening tells whether (u, v) lies within a hole in the wall from (u0, v0) to
// (u1, v1), whose head falls by arch toward its sides.
func opening(u, v, u0, u1, v0, v1, arch float64) bool {
	return u >= u0 && u <= u1 && v >= v0 && v <= v1-arch*sq(2*(u-(u0+u1)/2)/(u1-u0))
}

func paintLongWall(l *land, u, v float64) (spot, float64, bool) {
	sp := rubble(l, u, v)
	y := v - 1
	if u < 0.45+0.16*float64(int(v/0.3)&1) || u > barnLong-0.45-0.16*float64(int(v/0.3)&1) { // quoins
		sp.albedo = sp.albedo.mix(rgb{0.31, 0.285, 0.24}.scale(0.8+0.4*unit(hash2(int32(v/0.3), int32(u), 805))), 0.75)
	}
	if opening(u, y, 7.6, 10.2, -1, 2.75, 0.45) {
		// The cart door stands open; a plank leaf covers its right third.
		if u > 9.25 {
			sp.albedo = rgb{0.150, 0.132, 0.112}.scale(0.7 + 0.5*unit(hash2(int32(u/0.15), 0, 810)))
			if math.Mod(u, 0.15) < 0.02 {
				return sp, 0.75, true
			}
			return sp, 0.12, true
		}
		return sp, 0.965, true
	}
	if y > 2.3 && opening(u, y, 7.35, 10.45, 2.0, 3.02, 0.45) {
		sp.albedo = sp.albedo.mix(rgb{0.29, 0.27, 0.235}.scale(0.75+0.5*unit(hash2(int32(u/0.28), 1, 811))), 0.8)
	}
	if opening(u, y, 2.5, 3.5, -1, 2.0, 0) {
		sp.albedo = rgb{0.062, 0.088, 0.098}.scale(0.75 + 0.5*unit(hash2(int32(u/0.13), 0, 812)))
		if u < 2.58 || y > 1.93 || math.Mod(u, 0.13) < 0.015 {
			return sp, 0.7, true
		}
		return sp, 0, true
	}
	for _, slit := range []float64{5.2, 12.0} {
		if opening(u, y, slit, slit+0.16, 1.3, 2.3, 0) {
			return sp, 0.95, true
		}
	}
	return sp, 0, true
}

func paintGable(l *land, u, v float64) (spot, float64, bool) {
	if !inGable(u, v) {
		return spot{}, 0, false
	}
	sp := rubble(l, u+40, v)
	if u < 0.45+0.16*float64(int(v/0.3)&1) {
		sp.albedo = sp.albedo.mix(rgb{0.31, 0.285, 0.24}.scale(0.8+0.4*unit(hash2(int32(v/0.3), int32(u), 806))), 0.75)
	}
	y := v - 1
	if opening(u, y, 2.95, 3.65, 3.4, 4.5, 0.12) || opening(u, y, 4.3, 5.2, 0.95, 1.85, 0) {
		return sp, 0.93, true
	}
	return sp, 0, true
}

func paintRoof(l *land, u, v float64) (spot, float64, bool) {
	// Slates in courses that narrow upward, joints broken.
	v += 0.03 * noise2(u/2.4, v/2, l.salt+820) // the rafters sag
	row := math.Floor(v / 0.24)
	fv := v/0.24 - row
	wide := 0.34 - 0.02*row/18
	fu := u/wide + 0.5*float64(int(row)&1) + 0.15*unit(hash2(int32(row), 0, 821))
	id := hash2(int32(math.Floor(fu)), int32(row), 822)
	fu -= math.Floor(fu)
	k := unit(id)
	a := rgb{0.122, 0.126, 0.134}.mix(rgb{0.128, 0.112, 0.108}, unit(mix32(id+1))).scale(0.68 + 0.62*k)
	grown := fbm2(u/0.9, v/0.7, 4, l.salt+823)
	a = a.mix(rgb{0.270, 0.245, 0.150}, 0.45*step01(0.12, 0.50, grown+0.30*(unit(mix32(id+2))-0.5)))
	a = a.mix(rgb{0.080, 0.086, 0.034}, 0.75*step01(0.08, 0.36, fbm2(u/0.8, v/0.5, 3, l.salt+824)-0.12*v+0.12))
	a = a.scale(1 + 0.16*fbm2(u/0.1, v/0.1, 2, l.salt+825))
	dark := 0.0
	if fv > 0.90 || fu < 0.035 {
		dark = 0.34
	}
	if long := math.Hypot(barnDeep/2, barnRidge-barnEaves) + barnHang; v > long-0.17 {
		a, dark = rgb{0.19, 0.165, 0.14}.scale(0.8+0.4*unit(hash2(int32(u/0.45), 0, 826))), 0
	}
	if unit(mix32(id+5)) < 0.006 {
		dark = 0.85 // a slipped slate
	}
	return spot{albedo: a, open: 1, soft: 0}, dark, true
}

func paintVerge(*land, float64, float64) (spot, float64, bool) {
	return spot{albedo: rgb{0.11, 0.10, 0.088}, open: 0.8}, 0, true
}

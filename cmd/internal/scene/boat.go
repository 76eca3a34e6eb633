package scene

import "math"

// The boat lies aground, heeled a little away from the camera.
var (
	boatAt   = vec{18.9, 0, 65.5} // on the plan; the mud gives its height
	vermil   = rgb{0.470, 0.058, 0.026}
	boatLong = 5.3
)

// hullAt is the boat's skin in its own axes: x forward from the stern, y up, z
// to the far side; t runs from stern to bow, v from keel to gunwale.
func hullAt(t, v, side float64) vec {
	beam := 0.98 * math.Pow(1-math.Pow(max(0, (t-0.34)/0.66), 2.3), 0.85) * (0.80 + 0.20*step01(0, 0.34, t))
	keel := 0.02 + 0.62*sq(max(0, (t-0.78)/0.22)) + 0.10*sq(max(0, (0.2-t)/0.2))
	sheer := 1.02 + 0.36*t*t + 0.06*sq(1-t)
	fwd := t*boatLong + 0.28*v*step01(0.7, 1, t)
	return vec{fwd, keel + (sheer-keel)*math.Pow(v, 1.55), side * beam * math.Pow(math.Sin(v*math.Pi/2), 0.72)}
}

// boatFrame is the middle of the keel and the axes forward, up and to the far
// side.
type boatFrame struct{ at, f, u, s vec }

func (l *land) boatFrame() boatFrame {
	at := boatAt
	at.y, _ = l.soil(at.x, at.z)
	at.y -= 0.07
	yaw, heel, trim := -0.36, -0.10, 0.03
	f := vec{math.Cos(yaw), trim, math.Sin(yaw)}.unit()
	s := vec{-math.Sin(yaw), 0, math.Cos(yaw)}
	u := s.cross(f).scale(-1)
	if u.y < 0 {
		u = u.scale(-1)
	}
	sin, cos := math.Sincos(heel)
	return boatFrame{at, f, u.scale(cos).add(s.scale(-sin)), s.scale(cos).add(u.scale(sin))}
}

func (b boatFrame) world(p vec) vec {
	return b.at.add(b.f.scale(p.x - boatLong/2)).add(b.u.scale(p.y)).add(b.s.scale(p.z))
}

func (l *land) drawBoat(fm *film) {
	b := l.boatFrame()
	air := airlight(boatAt.sub(fm.eye).unit())
	lit := func(p, n vec, sp spot) rgb {
		return veil(sp.light(n, l.things.at(p.add(n.scale(0.12)), 0.16)), air, p.z)
	}
	const nt, nv = 120, 26
	for _, side := range []float64{-1, 1} {
		for i := range nt {
			for j := range nv {
				t0, t1 := float64(i)/nt, float64(i+1)/nt
				v0, v1 := float64(j)/nv, float64(j+1)/nv
				p, q, r, s := b.world(hullAt(t0, v0, side)), b.world(hullAt(t1, v0, side)), b.world(hullAt(t1, v1, side)), b.world(hullAt(t0, v1, side))
				n := r.sub(p).cross(s.sub(q))
				if n.length() == 0 {
					continue
				}
				n = n.unit()
				mid := p.mid(r, 0.5)
				if out := mid.sub(b.world(vec{boatLong * 0.45, 0.5, 0})); n.dot(out) < 0 {
					n = n.scale(-1)
				}
				v := (v0 + v1) / 2
				var sp spot
				if n.dot(fm.eye.sub(mid)) > 0 { // outside
					sp = spot{albedo: vermil, open: 0.95}
					sp.albedo = sp.albedo.scale(1 + 0.14*fbm2(t0*14, v*5, 3, 830))
					sp.albedo = sp.albedo.mix(rgb{0.30, 0.11, 0.075}, 0.5*step01(0.15, 0.5, fbm2(t0*9, v*9, 3, 831))) // faded
					if strake := math.Mod(v*6, 1); strake < 0.15 {
						sp.albedo = sp.albedo.scale(0.62)
					}
					switch {
					case v > 0.94:
						sp.albedo = rgb{0.55, 0.52, 0.44}
					case v < 0.27+0.03*noise2(t0*12, 0, 832):
						sp.albedo = rgb{0.060, 0.048, 0.042}.mix(mud, 0.4+0.4*noise2(t0*20, v*9, 833))
					}
				} else {
					n = n.scale(-1)
					sp = spot{albedo: rgb{0.235, 0.195, 0.135}, open: 0.12 + 0.6*v*v}
					if rib := math.Mod(t0*13, 1); rib < 0.16 {
						sp.albedo = sp.albedo.scale(0.7)
					}
				}
				c := lit(mid, n, sp)
				fm.triangle(p, q, r, c, Boat)
				fm.triangle(p, r, s, c, Boat)
			}
		}
	}
	quad := func(a, bb, c, d vec, sp spot) {
		p, q, r, s := b.world(a), b.world(bb), b.world(c), b.world(d)
		n := r.sub(p).cross(s.sub(q)).unit()
		if n.dot(fm.eye.sub(p)) < 0 {
			n = n.scale(-1)
		}
		col := lit(p.mid(r, 0.5), n, sp)
		fm.triangle(p, q, r, col, Boat)
		fm.triangle(p, r, s, col, Boat)
	}
	wood := spot{albedo: rgb{0.33, 0.265, 0.175}, open: 0.9}
	for _, x := range []float64{0.9, 2.5, 4.0} { // thwarts
		t := x / boatLong
		y := 0.74
		w := hullAt(t, 0.75, 1).z
		for k := range 8 {
			z0, z1 := -w+2*w*float64(k)/8, -w+2*w*float64(k+1)/8
			quad(vec{x - 0.14, y, z0}, vec{x + 0.14, y, z0}, vec{x + 0.14, y, z1}, vec{x - 0.14, y, z1}, wood)
			quad(vec{x + 0.14, y - 0.04, z0}, vec{x + 0.14, y, z0}, vec{x + 0.14, y, z1}, vec{x + 0.14, y - 0.04, z1}, wood)
		}
	}
	for j := range nv { // transom
		v0, v1 := float64(j)/nv, float64(j+1)/nv
		sp := spot{albedo: vermil.scale(0.9), open: 0.9}
		if v0 > 0.9 {
			sp.albedo = rgb{0.55, 0.52, 0.44}
		}
		quad(hullAt(0, v0, -1), hullAt(0, v0, 1), hullAt(0, v1, 1), hullAt(0, v1, -1), sp)
	}
	// Mooring line from the stem to a stake.
	a := b.world(hullAt(0.99, 0.97, -1))
	z := a.add(vec{4.8, 0, -2.2})
	z.y, _ = l.soil(z.x, z.z)
	prev := a
	for k := 1; k <= 14; k++ {
		t := float64(k) / 14
		p := a.mid(z, t)
		p.y = lerp(a.y, z.y+0.03, 1-sq(1-t))
		x0, y0 := fm.project(prev)
		x1, y1 := fm.project(p)
		w := 0.03 * fm.f / p.z
		c := veil(rgb{0.25, 0.22, 0.17}.mul(sunlight.scale(0.4).add(skylight)), air, p.z)
		fm.stroke(x0, y0, prev.z, w, c, x1, y1, p.z, w, c, Flats)
		prev = p
	}
}

func (l *land) boatShadow() {
	b := l.boatFrame()
	for _, side := range []float64{-1, 1} {
		for t := 0.0; t <= 1; t += 0.01 {
			for v := 0.0; v <= 1; v += 0.04 {
				l.things.add(b.world(hullAt(t, v, side)), 0.05)
			}
		}
	}
}

package scene

import "math"

// The small things that give a place its scale: stones, weed, fence, houses,
// sheep, gulls.

// litter strews the track with stones and the tidal ground with stones and
// weed, far to near.
func (l *land) litter(fm *film) {
	const ratio = 1.04
	for z1 := 210.0; z1 > 3; z1 /= ratio {
		z0 := z1 / ratio
		half := 0.56*z1 + 1
		d := newDice(l.salt+1000, int(z1*1000))
		area := 2 * half * (z1 - z0)
		for range int(area * min(150, 1500/z1)) {
			x, z := d.span(-half, half), d.span(z0, z1)
			l.strew(fm, x, z, &d)
		}
	}
}

func (l *land) strew(fm *film, x, z float64, d *dice) {
	y, ok := l.close.at(x, z)
	if !ok || y < 0.015 {
		return
	}
	s := l.inland(x, z)
	at := vec{x, y, z}
	px, py := fm.project(at)
	if px < -9 || py < 0 || px > float64(fm.w)+9 || py > float64(fm.h)+9 {
		return
	}
	pick, size := d.unit(), d.unit()
	size *= size
	if s > 1 { // the track
		if w := l.worn(x, z); w < 0.30 || pick > 0.25+0.75*step01(0.75, 0.35, w) {
			return
		}
		r := 0.006 + 0.026*size*size*size
		l.stone(fm, at, px, py, r, earth.scale(d.span(0.5, 1.15)).mix(rgb{0.17, 0.165, 0.155}, 0.6), Track, d)
		return
	}
	// Wrack lies along the last tide lines; stones gather under the bank.
	line := math.Exp(-sq((s+3.2+1.1*noise2(x/5, z/5, l.salt+1010))/0.55)) + 0.7*math.Exp(-sq((s+9+2*noise2(x/7, z/7, l.salt+1011))/0.5))
	stony := step01(-7, -0.5, s) + 0.9*step01(0.22, 0.45, fbm2(x/14, z/20, 3, l.salt+1012))
	weedy := step01(0.25, 0.5, fbm2(x/6, z/11, 3, l.salt+1013))
	switch {
	case pick < 0.25*line+0.07*weedy:
		c := rgb{0.040, 0.034, 0.017}.scale(d.span(0.7, 1.6))
		sun := l.things.at(at.add(vec{0, 0.1, 0}), 0.2)
		e := sunlight.scale(0.30 * sun).add(skylight.scale(0.7)).mul(c)
		r := (0.06 + 0.20*size) * fm.f / z
		fm.speck(px, py, z-0.02, r, r*d.span(0.22, 0.4), 1, d.span(-0.1, 0.1), e, Flats)
	case pick < 0.25*line+0.07*weedy+0.10*stony:
		r := 0.03 + 0.13*size*size
		l.stone(fm, at, px, py, r, rgb{0.185, 0.172, 0.150}.scale(d.span(0.45, 1.3)), Flats, d)
	}
}

// stone is a lump of radius r metres: lit side, dark side, cast shadow.
func (l *land) stone(fm *film, at vec, px, py, r float64, a rgb, region Region, d *dice) {
	q := r * fm.f / at.z
	if q < 0.25 {
		return
	}
	sun := l.things.at(at.add(vec{0, r, 0}), 0.25)
	sky := skylight.scale(0.8)
	dark, lit := sky.scale(0.7).mul(a), sunlight.scale(0.75*sun).add(sky).mul(a)
	flat := d.span(0.5, 0.8)
	if q > 1 {
		under := fm.get(min(int(max(py, 0)), fm.h-1)*fm.w + min(int(max(px, 0)), fm.w-1))
		fm.speck(px+q*1.1, py, at.z-0.005, q*1.5, q*0.4, 1, 0.05, under.scale(1-0.55*sun), region)
	}
	fm.speck(px, py-q*flat*0.5, at.z-0.01, q, q*flat, 1, 0, dark, region)
	fm.speck(px-q*0.22, py-q*flat*0.65, at.z-0.012, q*0.74, q*flat*0.72, 1, 0, lit, region)
}

const fencePosts = 24

// post is the foot and top of a fence post, numbered from the far end.
func (l *land) post(k int) (foot, top vec) {
	z := 84 - 3.1*float64(k)
	d := newDice(l.salt+1100, k)
	x := track.at(z) + 3.6 + 0.35*d.normal() + 0.02*z
	y, _ := l.close.at(x, z)
	foot = vec{x, y, z}
	return foot, foot.add(vec{0.05 * d.normal(), d.span(1.0, 1.2), 0})
}

// fence runs beside the track: posts and two wires.
func (l *land) fence(fm *film) {
	var prev vec
	for k := range fencePosts {
		foot, top := l.post(k)
		z := foot.z
		d := newDice(l.salt+1101, k)
		x0, y0 := fm.project(foot)
		x1, y1 := fm.project(top)
		w := 0.095 * fm.f / z
		sun := l.things.at(top, 0.3)
		wood := rgb{0.190, 0.178, 0.155}.scale(d.span(0.75, 1.2))
		for strip := range 3 {
			o := (float64(strip) - 1) / 3
			n := vec{2.4 * o, 0, -0.6}.unit()
			sp := spot{albedo: wood, open: 0.8}
			c := sp.light(n, sun)
			fm.stroke(x0+o*w, y0, z, w/3+0.3, c.scale(0.6), x1+o*w, y1, z, w/3+0.3, c, Meadow)
		}
		if k > 0 {
			for _, high := range []float64{0.55, 0.98} {
				a, b := prev.add(vec{0, high, 0}), foot.add(vec{0, high, 0})
				ax, ay := fm.project(a)
				bx, by := fm.project(b)
				sag := 0.05 * fm.f / z
				mx, my, mz := (ax+bx)/2, (ay+by)/2+sag, (a.z+b.z)/2
				c := rgb{0.16, 0.155, 0.15}.mul(sunlight.scale(0.35 * sun).add(skylight))
				fm.stroke(ax, ay, a.z, 0.007*fm.f/a.z, c, mx, my, mz, 0.007*fm.f/mz, c, Meadow)
				fm.stroke(mx, my, mz, 0.007*fm.f/mz, c, bx, by, b.z, 0.007*fm.f/b.z, c, Meadow)
			}
		}
		prev = foot
	}
}

func (l *land) fenceShadow() {
	for k := range fencePosts {
		foot, top := l.post(k)
		for h := 0.0; h < 1; h += 0.06 {
			l.things.add(foot.mid(top, h), 0.05)
		}
	}
}

// houses are small and far: a lit front, a shaded end, a slate roof.
func (l *land) houses(fm *film) {
	for k, q := range [][4]float64{
		{-290, 850, 12, 0}, {-205, 930, 10, 1}, {-188, 930, 9, 0}, {-70, 1040, 10, 0}, {-395, 820, 11, 0},
		{560, 1950, 15, 0}, {620, 1940, 12, 1}, {1010, 1700, 14, 0}, {905, 1900, 15, 1}, {340, 2150, 13, 0},
	} {
		x, long := q[0], q[2]
		y, z, ok := l.plot(x, q[1])
		if !ok {
			continue
		}
		air := airlight(vec{x, y, z}.unit())
		yaw := 0.35 + 0.5*unit(hash2(int32(k), 0, 1200))
		along := vec{math.Cos(yaw), 0, -math.Sin(yaw)}
		out := vec{-math.Sin(yaw), 0, -math.Cos(yaw)}
		up := vec{0, 1, 0}
		wall := rgb{0.60, 0.575, 0.52}
		if q[3] > 0 {
			wall = rgb{0.30, 0.27, 0.225}
		}
		deep, eaves, ridge := 6.0, 4.4, 7.2
		corner := vec{x, y - 0.5, z}
		paint := func(n vec, a rgb, f func(u, v float64) (float64, bool)) func(u, v float64, at vec) (rgb, bool) {
			sp := spot{albedo: a, open: 0.9}
			c := veil(sp.light(n, 1), air, z)
			return func(u, v float64, _ vec) (rgb, bool) {
				dim, ok := f(u, v)
				return c.scale(dim), ok
			}
		}
		fm.panel(corner, along, up, long, eaves, NearRidge, paint(out, wall, func(u, v float64) (float64, bool) {
			if (math.Mod(u+0.3, 2.6) < 0.9) && (v > 1.2 && v < 2.3 || v > 3.2 && v < 4.1) {
				return 0.25, true
			}
			return 1, true
		}))
		fm.panel(corner.add(along.scale(long)), out.scale(-1), up, deep, ridge, NearRidge, paint(along, wall, func(u, v float64) (float64, bool) {
			return 1, v < eaves+(ridge-eaves)*(1-math.Abs(2*u/deep-1))
		}))
		slope := out.scale(-deep / 2).add(up.scale(ridge - eaves)).unit()
		rn := out.scale(ridge - eaves).add(up.scale(deep / 2)).unit()
		fm.panel(corner.add(up.scale(eaves)), along, slope, long, math.Hypot(deep/2, ridge-eaves), NearRidge, paint(rn, rgb{0.125, 0.122, 0.125}, func(_, _ float64) (float64, bool) { return 1, true }))
		stack := corner.add(along.scale(long - 0.9)).add(out.scale(-deep / 2)).add(up.scale(ridge - 0.4))
		fm.panel(stack, along, up, 0.9, 1.5, NearRidge, paint(out, wall.scale(0.8), func(_, _ float64) (float64, bool) { return 1, true }))
	}
}

// plot finds open ground for a house: the first on the way inland from z at x.
func (l *land) plot(x, z float64) (y, at float64, ok bool) {
	for ; z < 2600; z += 4 {
		y, on := l.soil(x, z)
		if on == nil || y < 3 || l.wooded(x, z-12, y, on) > 0.05 || l.wooded(x, z+6, y, on) > 0.06 {
			continue
		}
		if _, edge := l.field(x, z, on); edge > 13 {
			return y, z, true
		}
	}
	return 0, 0, false
}

// sheep graze the pastures of the near ridge.
func (l *land) sheep(fm *film) {
	d := newDice(l.salt+1300, 0)
	for range 900 {
		x, z := d.span(-620, 150), d.span(700, 1250)
		y, on := l.soil(x, z)
		if on == nil || l.wooded(x, z, y, on) > 0.06 {
			continue
		}
		id, edge := l.field(x, z, on)
		if k := unit(mix32(id + 21)); k > 0.3 || edge < 5 || unit(mix32(id+31)) < 0.45 {
			continue
		}
		px, py := fm.project(vec{x, y + 0.5, z})
		s := fm.f / z
		c := veil(rgb{0.42, 0.39, 0.32}.mul(sunlight.scale(0.55).add(skylight.scale(0.8))), airlight(vec{x, y, z}.unit()), z)
		fm.speck(px, py, z-0.6, 0.62*s, 0.42*s, 1, 0, c, NearRidge)
	}
}

// gulls wheel over the channel.
func (l *land) gulls(fm *film) {
	d := newDice(l.salt+1400, 0)
	for _, q := range [][3]float64{{31, 29, 118}, {36, 33, 131}, {22, 25, 150}, {47, 41, 160}, {8, 14, 190}, {60, 16, 175}} {
		at := vec{q[0], q[1], q[2]}
		x, y := fm.project(at)
		s := fm.f / at.z
		tilt, lift := d.span(-0.5, 0.5), d.span(0.12, 0.42)
		c := rgb{0.56, 0.56, 0.56}.mul(sunlight.scale(0.45).add(skylight))
		under := rgb{0.40, 0.42, 0.46}.mul(skylight.scale(1.3))
		fm.speck(x, y, at.z, 0.24*s, 0.07*s, 1, tilt*0.3, c, Sky)
		for _, side := range []float64{-1, 1} {
			ex, ey := x+side*0.30*s, y-(lift+side*tilt*0.5)*0.42*s
			tx, ty := x+side*0.64*s, y-(lift*0.5+side*tilt*0.9)*0.42*s
			w := c
			if side*tilt > 0 {
				w = under
			}
			fm.stroke(x, y, at.z, 0.13*s, w, ex, ey, at.z, 0.10*s, w, Sky)
			fm.stroke(ex, ey, at.z, 0.10*s, w, tx, ty, at.z, 0.03*s, w.scale(0.5), Sky)
		}
	}
}

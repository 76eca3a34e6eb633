package scene

import "math"

// growth is what stands on the soil at one place.
type growth int

const (
	bare growth = iota
	scrub
	crown
)

// canopy is the height of the growth above the soil of a ridge, its kind, a
// number for the single plant, and how near its top the surface is (0–1).
type canopy struct {
	height float64
	kind   growth
	id     uint32
	top    float64
}

// field is the parcel of enclosed land at (x, z): a number for it, and the
// distance to its hedge in metres.
func (l *land) field(x, z float64, on *hill) (id uint32, edge float64) {
	w, d, turn := 104.0, 76.0, 0.42
	if on.region == MiddleRidge {
		w, d, turn = 165, 120, -0.35
	}
	sin, cos := math.Sincos(turn)
	u, v := x*cos+z*sin, z*cos-x*sin
	u += 20 * noise2(x/130, z/130, l.salt+300)
	v += 20 * noise2(x/130, z/130, l.salt+301)
	v /= d
	j := floorInt(v)
	u = u/w + 0.63*unit(hash2(j, 0, l.salt+302)) // rows of fields do not line up
	i := floorInt(u)
	fu, fv := u-float64(i), v-float64(j)
	edge = min(min(fu, 1-fu)*w, min(fv, 1-fv)*d)
	return hash2(i, j, l.salt+303), edge
}

// enclosed is how far the fields reach up a ridge, 1 below and 0 above.
func (l *land) enclosed(x, z, h float64, on *hill) float64 {
	switch on.region {
	case NearRidge:
		return 1
	case MiddleRidge:
		return step01(118, 92, h+26*noise2(x/210, z/210, l.salt+310))
	}
	return 0
}

// wooded is above 0.075 inside a wood.
func (l *land) wooded(x, z, h float64, on *hill) float64 {
	if on.region == NearRidge {
		return fbm2(x/170, z/170, 3, l.salt+320) + 0.20*step01(70, 10, on.foot(x, z)) - 0.08
	}
	return fbm2(x/230, z/230, 3, l.salt+320) + 0.20*step01(70, 10, on.foot(x, z)) + 0.02 - 0.5*step01(120, 190, h)
}

// planted tells a wood of conifers.
func (l *land) planted(x, z float64, on *hill) bool {
	return noise2(x/310, z/310, l.salt+325) > 0.28
}

func (l *land) canopyAt(x, z, h float64, on *hill) (c canopy) {
	if on == nil || h < 1.4 {
		return
	}
	switch on.region {
	case NearRidge, MiddleRidge:
	default:
		return
	}
	size := 1.0
	if on.region == MiddleRidge {
		size = 1.35
	}
	wooded := l.wooded(x, z, h, on)
	pitch := 9.5 * size
	cl := cells2(x/pitch, z/pitch, l.salt+330)
	r := cl.d1 / (0.50 + 0.22*unit(mix32(cl.id+3)))
	grown := 8 + 6*unit(mix32(cl.id+5))
	inWood := wooded > 0.075
	if !inWood && r < 1 {
		// A single tree: only near a hedge.
		if unit(mix32(cl.id+7)) < 0.42 {
			if _, e := l.field(cl.x*pitch, cl.y*pitch, on); e < 4.5 && l.enclosed(x, z, h, on) > 0.5 {
				inWood = true
				grown *= 0.8
			}
		}
	}
	if inWood {
		if r < 1 {
			dome := math.Sqrt(1 - r*r)
			lump := 0.16 * noise2(x/2.3, z/2.3, l.salt+340)
			if on.region == NearRidge {
				lump += 0.10 * noise2(x/0.9, z/0.9, l.salt+341)
			}
			t := clamp(dome*0.75+0.25+lump, 0, 1.2)
			return canopy{grown * size * t, crown, cl.id, clamp(dome+lump, 0, 1)}
		}
		if wooded > 0.075 {
			return canopy{2.5, scrub, cl.id, 0.1}
		}
	}
	if l.enclosed(x, z, h, on) > 0.5 {
		if _, e := l.field(x, z, on); e < 1.7*size {
			n := 0.5 + 0.5*noise2(x/3.1, z/3.1, l.salt+350)
			return canopy{size * (1.4 + 1.5*n), scrub, 0, 0.35 + 0.6*n*(1-e/(1.7*size))}
		}
	}
	return
}

// surface is the height of what is seen from afar.
func (l *land) surface(x, z float64) (h float64, on *hill) {
	h, on = l.soil(x, z)
	if on != nil {
		h += l.canopyAt(x, z, h, on).height
	}
	return h, on
}

var (
	pasture   = rgb{0.078, 0.112, 0.036}
	meadowed  = rgb{0.105, 0.122, 0.046}
	hay       = rgb{0.215, 0.195, 0.090}
	barley    = rgb{0.270, 0.215, 0.105}
	plough    = rgb{0.135, 0.100, 0.070}
	rushes    = rgb{0.100, 0.098, 0.042}
	leafage   = rgb{0.045, 0.066, 0.022}
	needles   = rgb{0.024, 0.036, 0.017}
	heather   = rgb{0.080, 0.066, 0.052}
	bracken   = rgb{0.100, 0.094, 0.034}
	moorGrass = rgb{0.175, 0.146, 0.070}
	rock      = rgb{0.170, 0.163, 0.150}
	mud       = rgb{0.128, 0.112, 0.088}
	sand      = rgb{0.270, 0.232, 0.176}
	marsh     = rgb{0.086, 0.098, 0.044}
	earth     = rgb{0.230, 0.185, 0.130}
	thatch    = rgb{0.090, 0.088, 0.038}
)

// spot is what a place looks like in even light.
type spot struct {
	region Region
	albedo rgb
	open   float64 // share of the sky light that reaches it, 0–1
	soft   float64 // how much it scatters light round its own small shadows, 0–1
}

// paint describes the surface of a ridge at (x, z), h being its soil.
func (l *land) paint(x, z, h float64, on *hill) spot {
	c := l.canopyAt(x, z, h, on)
	v := unit(mix32(c.id + 11))
	fine := fbm2(x/2.2, z/2.2, 2, l.salt+360)
	sp := spot{region: on.region, open: 1, soft: 0.15}
	switch c.kind {
	case crown:
		sp.albedo = leafage.mix(rgb{0.075, 0.092, 0.026}, v).scale(0.9 + 0.5*fine)
		if v > 0.93 {
			sp.albedo = rgb{0.105, 0.085, 0.030}
		}
		sp.open = 0.22 + 0.78*c.top
		sp.soft = 0.35
		return sp
	case scrub:
		sp.albedo = leafage.scale(1.05 + 0.5*fine)
		sp.open = 0.30 + 0.60*c.top
		sp.soft = 0.35
		return sp
	}
	broad := fbm2(x/46, z/46, 3, l.salt+370)
	switch on.region {
	case NearRidge, MiddleRidge:
		id, edge := l.field(x, z, on)
		k := unit(mix32(id + 21))
		var a rgb
		switch {
		case k < 0.44:
			a = pasture
		case k < 0.66:
			a = meadowed
		case k < 0.80:
			a = hay
		case k < 0.90:
			a = barley
		case k < 0.94:
			a = plough
		default:
			a = rushes
		}
		a = a.scale(0.94 + 0.16*(unit(mix32(id+22))-0.5) + 0.30*broad + 0.20*fine)
		a = a.mix(rushes, clamp(broad*1.6-0.1, 0, 0.7))
		if k > 0.66 && k < 0.80 { // rows of cut grass
			u := x*0.6 + z*0.8
			a = a.scale(1 + 0.10*math.Sin(u*2*math.Pi/7.5))
		}
		wild := bracken.mix(heather, step01(-0.15, 0.2, broad+0.3*noise2(x/170, z/170, l.salt+380))).scale(1 + 0.35*fine + 0.3*broad)
		wild = wild.mix(rock, 0.8*step01(0.30, 0.42, fbm2(x/60, z/60, 4, l.salt+385)))
		a = wild.mix(a, l.enclosed(x, z, h, on))
		sp.albedo = a
		sp.open = 1 - 0.35*step01(6, 1.7, edge)
	default:
		n := fbm2(x/420, z/420, 4, l.salt+390)
		a := bracken.mix(heather, step01(-0.2, 0.15, n+broad*0.4))
		if on.region == FarRidge { // tawny moor grass in late summer
			a = a.mix(moorGrass, 0.75)
		}
		a = a.mix(pasture, step01(150, 40, h+120*n))
		a = a.mix(rock, 0.75*step01(0.10, 0.34, fbm2(x/260, z/260, 5, l.salt+395)+h/2600))
		sp.albedo = a.scale(1 + 0.5*broad)
	}
	if h < 2.2 { // the strand below the fields
		sp.albedo = sp.albedo.mix(rock.scale(0.8), step01(2.2, 1.5, h))
	}
	return sp
}

// wetness of the tidal ground h metres above the water, 0–1.
func (l *land) wetness(x, z, h float64) float64 {
	pool := fbm2(x/7, z/11, 4, l.salt+400)
	film := step01(0.40, 0.02, h+0.35*fbm2(x/3, z/5, 3, l.salt+405))
	return clamp(0.75*film+1.2*step01(0.14, 0.30, pool)*step01(0.95, 0.45, h), 0, 1)
}

// paintFlat describes the tidal ground, s metres inland (negative).
func (l *land) paintFlat(x, z, h, s float64) spot {
	n := fbm2(x/19, z/30, 3, l.salt+410)
	fine := fbm2(x/0.7, z/1.0, 4, l.salt+420)
	a := mud.mix(sand, step01(0.25, 0.75, h+0.55*n+0.2*step01(300, 800, z)))
	a = a.scale(1 + 0.30*fine + 0.2*n)
	sp := spot{region: Flats, open: 1, soft: 0.1}
	wet := l.wetness(x, z, h)
	a = a.scale(1 - 0.42*wet)
	green := step01(0.42, 0.60, h+0.5*fbm2(x/13, z/20, 4, l.salt+430)) * step01(-60, -20, s)
	if green > 0 {
		g := marsh.mix(rgb{0.120, 0.110, 0.055}, clamp(0.5+1.3*n, 0, 1)).scale(1 + 0.5*fine)
		a = a.mix(g, green*0.9)
	}
	sp.albedo = a
	return sp
}

// paintMeadow describes the near bank under its grass.
func (l *land) paintMeadow(x, z, s float64) spot {
	n := fbm2(x/7, z/7, 3, l.salt+440)
	fine := fbm2(x/0.35, z/0.35, 3, l.salt+450)
	a := thatch.mix(rgb{0.165, 0.140, 0.076}, clamp(0.25+1.2*n, 0, 1)).scale(1 + 0.7*fine)
	sp := spot{region: Meadow, open: 0.8, soft: 0.1}
	if worn := l.worn(x, z); worn > 0 {
		stone := cells2(x/0.16, z/0.16, l.salt+460)
		e := earth.scale(0.95 + 0.5*fine + 0.25*(unit(stone.id)-0.5)*step01(0.5, 0.2, stone.d1))
		a = a.mix(e, worn)
		if worn > 0.5 {
			sp.region = Track
		}
	}
	a = a.mix(rgb{0.120, 0.096, 0.068}.scale(1+0.5*fine), step01(2.6, 1.2, s+1.2*n))
	sp.albedo = a
	return sp
}

// worn is how far traffic has worn the grass away, 0–1.
func (l *land) worn(x, z float64) float64 {
	n := fbm2(x/1.7, z/1.7, 3, l.salt+470)
	var w float64
	if side, there := l.trackSide(x, z); there > 0 {
		a := math.Abs(side)
		w = there * step01(0.52, 0.20, math.Abs(a-0.80)+0.35*n)
	}
	dx, dz := x-barnAt.x-6, z-barnAt.z+7
	return max(w, step01(6.5, 3, math.Sqrt(dx*dx+dz*dz)+5*n))
}

// light is the radiance of a surface of the given normal: sun is the share of
// the sun's disc it sees.
func (sp *spot) light(n vec, sun float64) rgb {
	d := n.dot(toSun)
	d = max(0, lerp(d, 0.35+0.65*d, sp.soft))
	e := sunlight.scale(d * sun)
	e = e.add(skylight.scale((0.55 + 0.45*n.y) * sp.open))
	e = e.add(rgb{0.12, 0.115, 0.07}.scale((0.5 - 0.5*n.y + 0.15) * sp.open))
	return e.mul(sp.albedo)
}

// shade is the height below which the ground lies in cast shadow.
type shade struct{ grid }

func (l *land) newShade(x0, z0, x1, z1, cell float64) *shade {
	s := &shade{newGrid(x0, z0, x1, z1, cell)}
	top := newGrid(x0, z0, x1, z1, cell)
	parallel(top.nz, func(j int) {
		for i := range top.nx {
			h, _ := l.surface(x0+float64(i)*cell, z0+float64(j)*cell)
			top.v[j*top.nx+i] = float32(h)
		}
	})
	// Sweep away from the sun, which stands to the left.
	drop := float32(cell * toSun.y / -toSun.x)
	back := toSun.z / toSun.x // metres of z toward the sun for each metre of −x
	for i := range s.nx {
		for j := range s.nz {
			k := j*s.nx + i
			if i == 0 {
				s.v[k] = -1000
				continue
			}
			f := clamp(float64(j)-back, 0, float64(s.nz-1)-1e-6)
			j0 := int(f)
			u := float32(f - float64(j0))
			a := max(s.v[j0*s.nx+i-1], top.v[j0*s.nx+i-1])
			b := max(s.v[(j0+1)*s.nx+i-1], top.v[(j0+1)*s.nx+i-1])
			s.v[k] = a + (b-a)*u - drop
		}
	}
	return s
}

// sunOnRidge is the share of the sun that reaches height h at (x, z).
func (l *land) sunOnRidge(x, z, h float64) float64 {
	for _, s := range l.shades {
		if top, ok := s.at(x, z); ok {
			soft := 0.8 * s.cell
			return step01(-soft, soft, h-top)
		}
	}
	return 1
}

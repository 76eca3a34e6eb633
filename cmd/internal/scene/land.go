package scene

import "math"

// land is the shape of the ground, in metres above the water.
type land struct {
	salt   uint32
	close  grid     // heights near the camera, worked out once
	shades []*shade // shadows of hills and woods, near to far
	things *sunMap  // shadows of trees and buildings close by
}

// grid holds a field of numbers over a rectangle of the plan.
type grid struct {
	x0, z0, cell float64
	nx, nz       int
	v            []float32
}

func newGrid(x0, z0, x1, z1, cell float64) grid {
	g := grid{x0: x0, z0: z0, cell: cell, nx: int((x1-x0)/cell) + 1, nz: int((z1-z0)/cell) + 1}
	g.v = make([]float32, g.nx*g.nz)
	return g
}

// at interpolates; ok is false outside the rectangle.
func (g *grid) at(x, z float64) (v float64, ok bool) {
	fx, fz := (x-g.x0)/g.cell, (z-g.z0)/g.cell
	if !(fx >= 0 && fz >= 0 && fx < float64(g.nx-1) && fz < float64(g.nz-1)) {
		return 0, false
	}
	i, j := int(fx), int(fz)
	u, w := float32(fx-float64(i)), float32(fz-float64(j))
	p := g.v[j*g.nx+i:]
	q := g.v[(j+1)*g.nx+i:]
	a, b := p[0]+(p[1]-p[0])*u, q[0]+(q[1]-q[0])*u
	return float64(a + (b-a)*w), true
}

func newLand(salt uint32) *land {
	l := &land{salt: salt}
	g := newGrid(-130, 0, 130, 240, 0.2)
	parallel(g.nz, func(j int) {
		for i := range g.nx {
			h, _ := l.soil(g.x0+float64(i)*g.cell, g.z0+float64(j)*g.cell)
			g.v[j*g.nx+i] = float32(h)
		}
	})
	l.close = g
	l.shades = []*shade{
		l.newShade(-1000, 560, 700, 2100, 2.5),
		l.newShade(-2200, 1700, 3000, 5000, 8),
		l.newShade(-8000, 4800, 9000, 16000, 30),
	}
	return l
}

// curve is a smooth line through points sorted by their first coordinate.
type curve [][2]float64

func (c curve) at(t float64) float64 {
	if t <= c[0][0] {
		return c[0][1]
	}
	for i := 1; i < len(c); i++ {
		if t > c[i][0] {
			continue
		}
		slope := func(k int) float64 {
			a, b := c[max(k-1, 0)], c[min(k+1, len(c)-1)]
			return (b[1] - a[1]) / (b[0] - a[0])
		}
		d := c[i][0] - c[i-1][0]
		u := (t - c[i-1][0]) / d
		m0, m1 := slope(i-1)*d, slope(i)*d
		u2, u3 := u*u, u*u*u
		return (2*u3-3*u2+1)*c[i-1][1] + (u3-2*u2+u)*m0 + (3*u2-2*u3)*c[i][1] + (u3-u2)*m1
	}
	return c[len(c)-1][1]
}

// channel is the low-water stream, x against ln z.
var channel = func() (c curve) {
	for _, p := range [][2]float64{{40, 66}, {90, 46}, {150, 14}, {240, -36}, {360, -34}, {520, 40}, {760, 110}, {1100, 70}, {1700, 130}, {3000, 300}, {9000, 900}} {
		c = append(c, [2]float64{math.Log(p[0]), p[1]})
	}
	return
}()

// track is the middle of the farm track, x against z.
var track = curve{{0, 1.6}, {8, 2.0}, {16, 1.2}, {26, 2.6}, {38, 3.6}, {52, 1.4}, {66, -3.5}, {80, -9}, {92, -13}, {98, -15}}

// inland is the distance from the near shore, positive on the meadow's side.
func (l *land) inland(x, z float64) float64 {
	xs := x
	if x < -50 {
		xs = -50 + (x+50)*0.3
	}
	return 0.53*(88-1.6*xs-z) + 3.2*fbm2(x/26, z/26, 3, l.salt+100)
}

// trackSide is the signed distance from the track's middle, and how far the
// track exists there (0–1).
func (l *land) trackSide(x, z float64) (side, there float64) {
	if z > 100 || z < 0 {
		return 99, 0
	}
	side = x - track.at(z)
	slope := (track.at(z+1) - track.at(z-1)) / 2
	side /= math.Sqrt(1 + slope*slope)
	side += 0.25 * noise2(x/3, z/3, l.salt+110)
	return side, step01(90, 82, z)
}

// meadow is the height of the near bank's soil at s metres inland.
func (l *land) meadow(x, z, s float64) float64 {
	h := 0.5 + 1.15*step01(0, 2.2, s) + 0.262*max(0, s-1.5)
	h += step01(2, 14, s) * (1.1*fbm2(x/22, z/22, 3, l.salt+120) + 0.16*fbm2(x/2.6, z/2.6, 2, l.salt+125))
	if x < -40 {
		dx, dz := (x+88)/38, (z-165)/52
		h += 9 * math.Exp(-dx*dx-dz*dz) * step01(0, 14, s)
	}
	// The yard before the barn is levelled.
	dx, dz := x-barnAt.x, z-barnAt.z
	h = lerp(h, barnAt.y, step01(17, 7.5, math.Sqrt(dx*dx+dz*dz)))
	if side, there := l.trackSide(x, z); there > 0 {
		a := math.Abs(side)
		h -= 0.16 * there * math.Exp(-(a-0.78)*(a-0.78)/0.09)
		h -= 0.10 * there * step01(2.2, 0.8, a)
	}
	return h
}

// bed is the height of the mud and sand between the shores.
func (l *land) bed(x, z, s float64) float64 {
	dx := (x - channel.at(math.Log(max(z, 1)))) / (11 + 0.055*z)
	b := 0.42 - 0.62*step01(420, 900, z) - 1.7*math.Exp(-dx*dx)
	b += 0.34*fbm2(x/70, z/120, 3, l.salt+130) + 0.55*fbm2(x/330, z/520, 2, l.salt+134)*step01(200, 700, z)
	creek := 1 - math.Abs(noise2(x/42+0.4*noise2(x/15, z/15, l.salt+141), z/58, l.salt+140))
	b -= 0.75 * step01(0.90, 1, creek) * step01(900, 300, z)
	if z < 500 {
		b += 0.05 * fbm2(x/2.4, z/3.6, 3, l.salt+145) * step01(500, 200, z)
	}
	if s > -40 {
		b = lerp(b, 0.5+0.02*s+0.12*noise2(x/9, z/9, l.salt+147), step01(-34, -2, s)*0.92)
	}
	return b
}

// hill is one of the ridges: how far inland a point lies from its foot, and
// its height there.
type hill struct {
	foot   func(x, z float64) float64
	rise   func(x float64) float64 // crest height against x
	ramp   float64                 // metres from foot to crest
	region Region
}

var hills = []hill{
	{
		foot:   func(x, z float64) float64 { return 0.8 * (z - 660 - 0.72*(x+600)) },
		rise:   func(x float64) float64 { return 112 * step01(190, -720, x) },
		ramp:   520,
		region: NearRidge,
	}, {
		foot:   func(x, z float64) float64 { return 0.85 * (z - 2050 + 0.6*(x-400)) },
		rise:   func(x float64) float64 { return 285 * step01(-420, 1750, x) },
		ramp:   1150,
		region: MiddleRidge,
	}, {
		foot: func(_, z float64) float64 { return z - 5000 },
		rise: func(x float64) float64 {
			return 350*math.Exp(-sq((x+1150)/1500)) + 190*math.Exp(-sq((x-2300)/1500)) + 60
		},
		ramp:   1500,
		region: FarRidge,
	}, {
		foot: func(_, z float64) float64 { return z - 10200 },
		rise: func(x float64) float64 {
			return 880*math.Exp(-sq((x-1250)/2300)) + 560*math.Exp(-sq((x+4300)/2600)) + 430*math.Exp(-sq((x-6500)/2500)) + 60
		},
		ramp:   2700,
		region: Skyline,
	},
}

func sq(x float64) float64 { return x * x }

// soil is the ground without growth, and the ridge it belongs to (nil between
// the shores and on the near bank).
func (l *land) soil(x, z float64) (h float64, on *hill) {
	if h, ok := l.close.at(x, z); ok {
		return h, nil
	}
	s := -99.0
	if z < 420 {
		if s = l.inland(x, z); s > 0 {
			return l.meadow(x, z, s), nil
		}
	}
	h = l.bed(x, z, s)
	for i := range hills {
		hl := &hills[i]
		t := hl.foot(x, z)
		if t < -0.1*hl.ramp {
			break
		}
		r := hl.rise(x)
		if r < 1 || t > 2.8*hl.ramp {
			continue
		}
		salt := l.salt + 200 + uint32(50*i)
		t += hl.ramp * 0.16 * fbm2(x/(hl.ramp*0.5), z/(hl.ramp*0.5), 3, salt)
		if t <= 0 || t > 2.6*hl.ramp {
			continue
		}
		t /= hl.ramp
		shape := step01(0, 1.05, t) * step01(2.6, 1.1, t)
		shape = lerp(shape, math.Sqrt(shape), 0.25)
		var rough float64
		if i < 2 {
			rough = 0.80 + 0.42*fbm2(x/(hl.ramp*0.42), z/(hl.ramp*0.42), 4, salt+10) +
				0.10*fbm2(x/(hl.ramp*0.07), z/(hl.ramp*0.07), 3, salt+20)
		} else {
			rough = 0.50 + 0.60*ridge2(x/(hl.ramp*0.8), z/(hl.ramp*0.8), 6, salt+10)
		}
		if hh := 1.2*step01(0, 0.03, t) + r*shape*rough; hh > h {
			h, on = hh, hl
		}
	}
	return h, on
}

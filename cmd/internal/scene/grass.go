package scene

import "math"

// blade is one grass leaf, stalk or reed, bent to one side.
type blade struct {
	foot        vec
	tall        float64 // metres
	bend        vec     // from upright foot to tip, metres
	wide        float64 // metres at the foot
	low, high   rgb     // reflectance at foot and tip
	let         float64 // share of light it lets through
	facing      float64 // share of full sunlight its side takes
	sward       float64 // height of the growth around, metres
	region      Region
	sunLow, sun float64 // share of sun at foot and tip
}

// draw paints a blade as a bent, tapering stroke.
func (b *blade) draw(fm *film) {
	x0, y0 := fm.project(b.foot)
	tip := b.foot.add(vec{b.bend.x, b.tall, b.bend.z})
	x1, y1 := fm.project(tip)
	scale := fm.f / b.foot.z
	// A small blade needs fewer pieces.
	n := int(clamp(b.tall*scale/9, 1, 5))
	w := b.wide * scale
	px, py, pc := x0, y0, b.shade(0)
	pw := w
	for k := 1; k <= n; k++ {
		t := float64(k) / float64(n)
		x := lerp(x0, x1, t*t*0.8+0.2*t)
		y := lerp(y0, y1, t*(1.15-0.15*t))
		c := b.shade(t)
		cw := w * (1 - 0.85*t*t)
		fm.stroke(px, py, b.foot.z, pw, pc, x, y, b.foot.z, cw, c, b.region)
		px, py, pc, pw = x, y, c, cw
	}
}

func (b *blade) shade(t float64) rgb {
	// Neighbours hide light in proportion to the growth above this point.
	open := math.Exp(-2.6 * max(0, 1-t*b.tall/b.sward))
	s := lerp(b.sunLow, b.sun, t) * open
	a := b.low.mix(b.high, t)
	e := sunlight.scale(s * b.facing).add(skylight.scale(0.10 + 0.62*math.Sqrt(open)))
	c := e.mul(a)
	return c.add(sunlight.mul(a).mul(rgb{1.25, 1.3, 0.5}).scale(b.let * s))
}

var (
	grassGreen = rgb{0.082, 0.122, 0.034}
	grassBlue  = rgb{0.062, 0.092, 0.044}
	grassOlive = rgb{0.120, 0.126, 0.042}
	straw      = rgb{0.310, 0.255, 0.135}
	panicle    = rgb{0.260, 0.190, 0.120}
)

// sward draws the meadow's grass and flowers, far to near.
func (l *land) sward(fm *film) {
	const ratio = 1.03
	for z1 := 135.0; z1 > 2.6; z1 /= ratio {
		z0 := z1 / ratio
		zm := (z0 + z1) / 2
		// Blades to a square metre: as many as can be told apart.
		per := min(1100, 26000/(zm*math.Sqrt(zm)))
		half := 0.56*zm + 1
		count := int(per * 2 * half * (z1 - z0))
		d := newDice(l.salt+600, int(z1*1000))
		for range count {
			x, z := d.span(-half, half), d.span(z0, z1)
			l.growBlade(fm, x, z, &d)
		}
	}
}

func (l *land) growBlade(fm *film, x, z float64, d *dice) {
	s := l.inland(x, z)
	if s < 1.0 {
		return
	}
	y, ok := l.close.at(x, z)
	if !ok {
		return
	}
	foot := vec{x, y, z}
	fx, fy := fm.project(foot)
	if fx < -40 || fx > float64(fm.w)+40 || fy > float64(fm.h)+1.1*fm.f/z || fy < 0 {
		return
	}
	worn := l.worn(x, z)
	if d.unit() < worn*1.15 {
		return
	}
	i, j := int(clamp(fx, 0, float64(fm.w-1))), int(clamp(fy-0.3*fm.f/z, 0, float64(fm.h-1)))
	if float64(fm.depth[j*fm.w+i]) < z-2 {
		return // behind a brow or the barn
	}
	tuft := noise2(x/0.62, z/0.62, l.salt+610) + 0.5*noise2(x/0.24, z/0.24, l.salt+611)
	patch := fbm2(x/6.5, z/6.5, 3, l.salt+620)
	dry := clamp(0.30+1.1*patch+0.25*tuft, 0.04, 0.9)
	rank := clamp(0.5+0.9*fbm2(x/11, z/11, 2, l.salt+630), 0, 1) * (1 - 0.8*worn)
	if side, there := l.trackSide(x, z); there > 0 {
		rank *= lerp(1, step01(0.9, 2.6, math.Abs(side)), there)
	}
	b := blade{foot: foot, region: Meadow}
	full := 0.07 + 0.27*rank
	b.sward = full * 1.15
	b.tall = full * max(0.25, 1+0.70*tuft) * d.span(0.6, 1.3)
	b.wide = d.span(0.003, 0.0065)
	if far := z / 26; far > 1 {
		b.wide *= far // one stroke stands for several blades
	}
	lean := 0.28 * b.tall
	wind := 0.35 + 0.5*noise2(x/5, z/5, l.salt+640)
	b.bend = vec{lean * (1.6*d.normal() + wind), 0, lean * d.normal()}
	hue := d.unit()
	green := grassGreen.mix(grassBlue, hue*hue).mix(grassOlive, clamp(0.4+1.2*patch+0.4*d.normal(), 0, 1))
	if d.unit() < dry*0.62 {
		b.low, b.high = straw.scale(0.55), straw.scale(d.span(0.6, 1.05))
		b.let = 0.14
	} else {
		b.low, b.high = green.scale(0.8), green.mix(straw, 0.25*dry).scale(d.span(0.8, 1.25))
		b.let = 0.26
	}
	b.facing = d.span(0.15, 0.75)
	top := foot.add(vec{b.bend.x, b.tall, b.bend.z})
	b.sun = l.things.at(top, 0.3)
	b.sunLow = b.sun
	b.draw(fm)
	pick := d.unit()
	crowd := 1.0
	if z > 30 {
		crowd = 2.2
	}
	switch {
	case pick < 0.016*crowd*dry*rank*2:
		l.stalk(fm, foot, b.sun, d)
	case rank > 0.25 && noise2(x/6, z/6, l.salt+650)+0.5*noise2(x/1.6, z/1.6, l.salt+653) > 0.22 && pick > 1-0.0085*crowd:
		l.flower(fm, foot, b.sun, rgb{0.58, 0.56, 0.50}, 0.018, d)
	case noise2(x/4, z/4, l.salt+651) > 0.30 && pick > 1-0.008*crowd:
		l.flower(fm, foot, b.sun, rgb{0.52, 0.40, 0.035}, 0.011, d)
	case noise2(x/5, z/5, l.salt+652) > 0.30 && pick > 1-0.008*crowd:
		l.flower(fm, foot, b.sun, rgb{0.235, 0.110, 0.215}, 0.014, d)
	}
}

// stalk is a flowering grass stem with its panicle.
func (l *land) stalk(fm *film, foot vec, sun float64, d *dice) {
	b := blade{foot: foot, region: Meadow, sward: 0.3, tall: d.span(0.38, 0.72), wide: 0.0022, let: 0.12, facing: 0.5, sun: sun, sunLow: sun}
	b.bend = vec{0.10 * (d.normal() + 0.8) * b.tall * 2, 0, 0.1 * d.normal()}
	b.low, b.high = grassOlive, straw.scale(0.85)
	if foot.z > 24 {
		b.wide *= foot.z / 24
	}
	b.draw(fm)
	head := panicle.scale(d.span(0.7, 1.15)).mul(rgb{1, d.span(0.88, 1.05), d.span(0.85, 1.1)})
	e := sunlight.scale(0.62 * sun).add(skylight.scale(0.7))
	c := e.mul(head)
	tip := foot.add(vec{b.bend.x, b.tall, b.bend.z})
	s := fm.f / foot.z
	long := d.span(0.05, 0.11)
	for k := range 7 {
		t := float64(k) / 6
		p := tip.add(vec{b.bend.x / b.tall * 1.6 * (t - 0.5) * long, (t - 0.6) * long, 0})
		x, y := fm.project(p)
		spread := 0.009 * math.Sin(0.3+2.6*t)
		x += d.normal() * spread * s * 0.8
		fm.speck(x, y, foot.z, 0.009*s, 0.004*s, 0.35, -0.94, c.scale(d.span(0.75, 1.2)), Meadow)
	}
}

// flower is a head of the given radius on a thin stem.
func (l *land) flower(fm *film, foot vec, sun float64, petals rgb, radius float64, d *dice) {
	b := blade{foot: foot, region: Meadow, sward: 0.25, tall: d.span(0.20, 0.46), wide: 0.0022, let: 0.1, facing: 0.4, sun: sun, sunLow: sun}
	b.bend = vec{0.05 * d.normal(), 0, 0.05 * d.normal()}
	b.low, b.high = grassGreen.scale(0.8), grassGreen
	b.draw(fm)
	x, y := fm.project(foot.add(vec{b.bend.x, b.tall, b.bend.z}))
	s := fm.f / foot.z * radius * d.span(0.55, 1.15)
	e := sunlight.scale(d.span(0.35, 0.75) * sun).add(skylight.scale(0.85))
	flat := d.span(0.35, 0.8)
	fm.speck(x, y, foot.z, s, s*flat, 1, d.span(-0.3, 0.3), e.mul(petals), Meadow)
	if radius > 0.018 && s > 2 {
		fm.speck(x, y-0.1*s, foot.z-0.01, s*0.34, s*flat*0.34, 1, 0, e.mul(rgb{0.45, 0.30, 0.03}), Meadow)
	}
}

// reedBed draws the stand of reeds under the bank.
func (l *land) reedBed(fm *film) {
	for z1 := 170.0; z1 > 66; z1 -= 0.5 {
		d := newDice(l.salt+700, int(z1*10))
		for range 1500 {
			x, z := d.span(-52, 16), z1-0.5*d.unit()
			s := l.inland(x, z)
			n := fbm2(x/7, z/7, 3, l.salt+710)
			thick := step01(1.2, -0.6, s+1.2*n) * step01(-13, -7, s+9*n-4*noise2(x/23, z/23, l.salt+711)) * step01(8, 1, x+4*n)
			if d.unit() > thick {
				continue
			}
			y, ok := l.close.at(x, z)
			if !ok || y < 0.02 {
				continue
			}
			b := blade{foot: vec{x, y, z}, region: Reeds, sward: 1.7, tall: d.span(1.35, 2.15) * (1 + 0.25*n), wide: 0.03 * z / 90, let: 0.16}
			b.bend = vec{0.10 + 0.10*d.normal(), 0, 0.1 * d.normal()}
			green := rgb{0.095, 0.115, 0.045}
			b.low = green.mix(straw.scale(0.62), d.unit()).scale(0.75)
			b.high = straw.scale(d.span(0.55, 0.95)).mix(green, 0.5*d.unit()*clamp(0.6+n, 0, 1))
			b.facing = d.span(0.25, 0.75)
			b.sun = l.things.at(b.foot.add(vec{0, b.tall, 0}), 0.5)
			b.sunLow = l.things.at(b.foot, 0.5)
			b.draw(fm)
			if d.unit() < 0.30 { // plume
				px, py := fm.project(b.foot.add(vec{b.bend.x + 0.06, b.tall, b.bend.z}))
				q := fm.f / z
				e := sunlight.scale(0.55 * b.sun).add(skylight.scale(0.8))
				fm.speck(px, py, z, 0.15*q, 0.04*q, 0.5, -0.86, e.mul(rgb{0.165, 0.115, 0.085}.scale(d.span(0.7, 1.3))), Reeds)
			}
		}
	}
}

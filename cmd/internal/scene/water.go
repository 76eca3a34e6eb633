package scene

import "math"

// ripples are the bands of the water's small waves: length in metres and
// root-mean-square slope in a light air.
var ripples = []struct{ length, slope float64 }{{0.22, 0.030}, {0.55, 0.034}, {1.4, 0.024}, {4.0, 0.013}}

// reflectWater finishes the samples of open water and wet mud once everything
// they can mirror is drawn.
func (l *land) reflectWater(fm *film, heaven *sky) {
	parallel(fm.w, func(i int) {
		for j := int(fm.cy); j < fm.h; j++ {
			k := j*fm.w + i
			switch fm.regions[k] {
			case Water, Flats:
				l.mirror(fm, heaven, i, j, k)
			}
		}
	})
}

func (l *land) mirror(fm *film, heaven *sky, i, j, k int) {
	z := float64(fm.depth[k])
	ray := fm.ray(float64(i)+0.5, float64(j)+0.5)
	x := ray.x * z
	bed, _ := l.soil(x, z)
	view := ray.unit()
	air := airlight(view)
	open := fm.regions[k] == Water
	wet := 1.0
	if !open {
		if wet = l.wetness(x, z, max(bed, 0)); wet < 0.03 {
			return
		}
	}
	at := vec{x, max(bed, 0), z}
	long, wide := z*z/(fm.f*fm.eye.y), z/fm.f // what one sample covers
	wind := 0.10 + 0.90*step01(-0.12, 0.30, fbm2(x/95+0.002*z, z/(120+0.25*z), 3, l.salt+900))
	shelter := 1.0
	if open {
		shelter = 0.35 + 0.65*step01(0, 0.5, -bed)
	} else {
		wind = 0.35
	}
	var sx, sz, lost float64
	for n, r := range ripples {
		a := r.slope * wind * shelter
		keep := step01(0.9, 0.3, long/r.length) * step01(0.9, 0.3, wide/r.length)
		if keep > 0 {
			q := l.salt + 910 + uint32(2*n)
			sx += keep * a * 2.2 * noise2(x/r.length, z/(0.55*r.length), q)
			sz += keep * a * 3.2 * noise2(x/(1.5*r.length), z/(0.6*r.length), q+1)
		}
		lost += a * a * (1 - keep*keep)
	}
	if !open { // the mud's own unevenness
		e := 0.25
		hx, _ := l.soil(x+e, z)
		hz, _ := l.soil(x, z+e)
		sx += (hx - bed) / e * 0.6
		sz += (hz - bed) / e * 0.6
		sz += 0.022 * noise2(x/0.9, z/0.35, l.salt+933)
		lost += sq(0.012) + sq(0.06*(1-wet))
	}
	// Waves too small to see singly: crests run across the view, so their
	// mean over a sample still varies in long streaks.
	spread := math.Sqrt(lost)
	fi, fj := float64(i)/oversample, float64(j)/oversample
	sz += 0.9 * spread * noise2(fi/9, fj*0.8, l.salt+931)
	sx += 0.5 * spread * noise2(fi/6, fj*0.8, l.salt+932)
	spread *= 0.75
	d := dice(hash2(int32(i), int32(j), l.salt+930))
	var sum rgb
	const tries = 4
	share := 0.0
	for range tries {
		n := vec{-(sx + spread*0.8*d.normal()), 1, -(sz + spread*1.2*d.normal())}.unit()
		cos := -n.dot(view)
		if cos < 0.02 {
			cos = 0.02
		}
		r := view.add(n.scale(2 * cos))
		if r.y < 0.004 {
			r.y = 0.004
		}
		f := 0.021 + 0.979*math.Pow(1-cos, 5)
		sum = sum.add(l.bounce(fm, heaven, at, r.unit()).scale(f))
		share += f
	}
	share /= tries
	sum = sum.scale(1.0 / tries)
	under := fm.get(k)
	if open {
		sun := 1.0
		if l.things != nil && z < 180 {
			sun = l.things.at(at, 0.1)
		}
		e := sunlight.scale(toSun.y * sun).add(skylight)
		clear := math.Exp(bed / 0.16)
		body := rgb{0.052, 0.056, 0.038}.mix(mud.scale(0.55), clear)
		under = veil(e.mul(body), air, z)
	} else {
		share *= wet
		sum = sum.scale(wet)
	}
	c := under.scale(1 - share).add(veil(sum, rgb{}, z))
	if open {
		c = c.add(veil(rgb{}, air, z).scale(share))
	}
	fm.tint(k, c)
}

// bounce follows a reflected ray across the film until it meets something.
func (l *land) bounce(fm *film, heaven *sky, p, r vec) rgb {
	if r.z <= 0.01 {
		r.z = 0.01
		r = r.unit()
	}
	near := p.z + 0.3
	step := 0.25 + 0.004*p.z
	for t := step; t < 16000; t += step {
		q := p.add(r.scale(t))
		x, y := fm.project(q)
		if y < 0 || x < 0 || x >= float64(fm.w) {
			break
		}
		k := int(y)*fm.w + int(x)
		if z := float64(fm.depth[k]); z < q.z && z > near {
			switch fm.regions[k] {
			case Water, Flats, Meadow, Sky:
			default:
				return fm.get(k)
			}
		}
		step *= 1.10
	}
	return heaven.at(r)
}

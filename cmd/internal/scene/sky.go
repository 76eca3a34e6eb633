package scene

import (
	"math"
	"runtime"
	"sync"
)

// sky is the finished sky with its clouds, stored over the tangent plane:
// u = x/z right, v = y/z up. The part in the picture is fine, the part above,
// which only the water shows, coarse.
type sky struct {
	low, high window
}

// window holds |u| up to skyHalfWidth and v from v0 to v1.
type window struct {
	v0, v1     float64
	cols, rows int
	pix        []rgb
}

const skyHalfWidth = 0.64

func newSky(cols int, salt uint32) *sky {
	c := newCumulus(salt)
	return &sky{low: c.window(0, 0.47, cols), high: c.window(0.45, 0.75, cols/4)}
}

func (c *cumulus) window(v0, v1 float64, cols int) window {
	s := window{v0: v0, v1: v1, cols: cols}
	s.rows = max(int(float64(cols)*(v1-v0)/(2*skyHalfWidth)), 2)
	s.pix = make([]rgb, s.cols*s.rows)
	parallel(s.rows, func(j int) {
		v := v0 + (float64(j)+0.5)/float64(s.rows)*(v1-v0)
		for i := range s.cols {
			u := ((float64(i)+0.5)/float64(s.cols)*2 - 1) * skyHalfWidth
			s.pix[j*s.cols+i] = c.look(vec{u, v, 1}.unit(), hash2(int32(i), int32(j), c.salt))
		}
	})
	return s
}

// at is the sky's radiance toward d, which must point forward (z > 0);
// directions outside the stored windows take their edge.
func (s *sky) at(d vec) rgb {
	if d.y < 0.46*d.z {
		return s.low.at(d)
	}
	return s.high.at(d)
}

func (s *window) at(d vec) rgb {
	u, v := d.x/max(d.z, 1e-6), d.y/max(d.z, 1e-6)
	x := clamp((u/skyHalfWidth+1)/2*float64(s.cols)-0.5, 0, float64(s.cols)-1.001)
	y := clamp((v-s.v0)/(s.v1-s.v0)*float64(s.rows)-0.5, 0, float64(s.rows)-1.001)
	i, j := int(x), int(y)
	fx, fy := x-float64(i), y-float64(j)
	p := s.pix[j*s.cols+i:]
	q := s.pix[(j+1)*s.cols+i:]
	return p[0].mix(p[1], fx).mix(q[0].mix(q[1], fx), fy)
}

// cumulus is a layer of fair-weather cloud with flat bases, in kilometres.
type cumulus struct {
	salt  uint32
	tile  []float32 // tileSize³ of cellular noise, 1 in a lump, 0 between
	cover []float32 // coverSize² map of cloudiness, 0–1
}

const (
	cloudBase  = 1.05
	cloudDepth = 1.25
	tileSize   = 64
	coverSize  = 640
	coverCell  = 0.09 // km
)

func newCumulus(salt uint32) *cumulus {
	c := &cumulus{salt: salt}
	c.tile = make([]float32, tileSize*tileSize*tileSize)
	parallel(tileSize, func(k int) {
		for j := range tileSize {
			for i := range tileSize {
				x, y, z := float64(i)/tileSize, float64(j)/tileSize, float64(k)/tileSize
				f := 0.60*lumps(x, y, z, 4, salt) + 0.27*lumps(x, y, z, 8, salt+1) + 0.13*lumps(x, y, z, 16, salt+2)
				c.tile[(k*tileSize+j)*tileSize+i] = float32(f)
			}
		}
	})
	c.cover = make([]float32, coverSize*coverSize)
	parallel(coverSize, func(j int) {
		for i := range coverSize {
			c.cover[j*coverSize+i] = float32(c.cloudiness((float64(i)-coverSize/2)*coverCell, float64(j)*coverCell))
		}
	})
	return c
}

// lumps is one octave of inverted cellular noise that repeats every unit.
func lumps(x, y, z float64, n int32, salt uint32) float64 {
	x, y, z = x*float64(n), y*float64(n), z*float64(n)
	ix, iy, iz := floorInt(x), floorInt(y), floorInt(z)
	best := 9.0
	for k := iz - 1; k <= iz+1; k++ {
		for j := iy - 1; j <= iy+1; j++ {
			for i := ix - 1; i <= ix+1; i++ {
				h := hash3((i+n)%n, (j+n)%n, (k+n)%n, salt)
				dx := float64(i) + unit(h) - x
				dy := float64(j) + unit(mix32(h+1)) - y
				dz := float64(k) + unit(mix32(h+2)) - z
				best = min(best, dx*dx+dy*dy+dz*dz)
			}
		}
	}
	return max(0, 1-math.Sqrt(best))
}

// cloudiness places the clouds: a bank to the right, a smaller one to the
// left, open sky between and above, scattered ones toward the horizon.
func (c *cumulus) cloudiness(x, z float64) float64 {
	n := 0.8*fbm2(x/2.6, z/2.6, 3, c.salt+10) + 0.50*fbm2(x/0.9, z/0.9, 4, c.salt+20)
	n -= 0.30*step01(8.5, 5.5, z) + 0.10*step01(10, 7, z)
	for _, b := range []struct{ x, z, rx, rz, much float64 }{
		{3.6, 10.6, 1.9, 1.1, 0.62},
		{1.9, 9.3, 0.8, 0.6, 0.36},
		{-3.9, 12.6, 1.5, 1.1, 0.42},
		{0.3, 17.5, 2.2, 1.4, 0.30},
		{-0.6, 11.5, 1.5, 1.6, -0.30},
		{4.2, 7.0, 0.9, 0.7, 0.40},
		{-1.4, 5.6, 0.5, 0.35, 0.42},
	} {
		n += b.much * math.Exp(-sq((x-b.x)/b.rx)-sq((z-b.z)/b.rz))
	}
	return math.Pow(clamp((n-0.02)/0.44, 0, 1), 0.7)
}

func (c *cumulus) coverAt(x, z float64) float64 {
	fx, fz := x/coverCell+coverSize/2, z/coverCell
	if fx < 0 || fz < 0 || fx >= coverSize-1 || fz >= coverSize-1 {
		return 0
	}
	i, j := int(fx), int(fz)
	u, v := float32(fx-float64(i)), float32(fz-float64(j))
	p := c.cover[j*coverSize+i:]
	q := c.cover[(j+1)*coverSize+i:]
	a, b := p[0]+(p[1]-p[0])*u, q[0]+(q[1]-q[0])*u
	return float64(a + (b-a)*v)
}

func (c *cumulus) lumpAt(x, y, z float64) float64 {
	x, y, z = x*tileSize, y*tileSize, z*tileSize
	i, j, k := floorInt(x), floorInt(y), floorInt(z)
	fx, fy, fz := float32(x-float64(i)), float32(y-float64(j)), float32(z-float64(k))
	const m = tileSize - 1
	i0, i1 := int(i)&m, int(i+1)&m
	j0, j1 := (int(j)&m)*tileSize, (int(j+1)&m)*tileSize
	k0, k1 := (int(k)&m)*tileSize*tileSize, (int(k+1)&m)*tileSize*tileSize
	row := func(o int) float32 { return c.tile[o+i0] + (c.tile[o+i1]-c.tile[o+i0])*fx }
	a := row(k0 + j0)
	a += (row(k0+j1) - a) * fy
	b := row(k1 + j0)
	b += (row(k1+j1) - b) * fy
	return float64(a + (b-a)*fz)
}

// density is the cloud's substance at a point, 0 outside.
func (c *cumulus) density(p vec) float64 {
	cover := c.coverAt(p.x, p.z)
	if cover <= 0.02 {
		return 0
	}
	h := (p.y - cloudBase) / cloudDepth
	if h < 0 || h > 1 {
		return 0
	}
	top := 0.10 + 0.90*cover*math.Sqrt(cover)
	body := 1.04*cover*(1-h*h/(top*top)) - 0.04
	if body <= 0 {
		return 0
	}
	d := body - 0.92*(0.62-c.lumpAt(p.x/2.3, p.y/2.3+0.3, p.z/2.3))
	if d <= 0 {
		return 0
	}
	if d < 0.6 {
		d -= 0.50 * (0.62 - c.lumpAt(p.x/0.66, p.y/0.66, p.z/0.66))
		if d > 0 && d < 0.3 {
			d -= 0.14 * (0.62 - c.lumpAt(p.x/0.19, p.y/0.19, p.z/0.19))
		}
	}
	return clamp(d*2.6, 0, 1) * step01(0, 0.06, h)
}

// look marches from the ground through the cloud layer.
func (c *cumulus) look(d vec, noise uint32) rgb {
	clear := c.cirrus(d, clearSky(d))
	if d.y < 0.018 {
		return clear
	}
	const thick = 42.0 // extinction of full density, 1/km
	t := cloudBase / d.y
	end := min((cloudBase+cloudDepth)/d.y, 52)
	coarse := clamp(0.006*t, 0.03, 0.13)
	fine := clamp(0.0014*t, 0.009, 0.05)
	t += coarse * unit(noise)
	var sum rgb
	through := 1.0
	hazed, weight := 0.0, 0.0
	inside := 0 // fine steps left before hurrying on
	for t < end && through > 0.01 {
		p := d.scale(t)
		if inside == 0 && c.coverAt(p.x, p.z) <= 0.02 {
			t += coarse
			continue
		}
		dens := c.density(p)
		if dens == 0 {
			if inside > 0 {
				inside--
				t += fine
			} else {
				t += coarse
			}
			continue
		}
		if inside == 0 { // step back and enter slowly
			t -= coarse - fine*unit(mix32(noise+1))
			inside = int(coarse/fine) + 8
			continue
		}
		inside = 8
		dt := fine * (1 + 2*(1-through))
		tau := 0.0
		step, s := 0.022, 0.008
		for range 7 {
			tau += c.density(p.add(toSun.scale(s+step/2))) * step * thick
			s += step
			step *= 1.7
		}
		h := (p.y - cloudBase) / cloudDepth
		lit := 0.50*math.Exp(-tau) + 0.30*math.Exp(-0.30*tau) + 0.17*math.Exp(-0.06*tau)
		l := sunlight.scale(lit * 0.84)
		over := 0.0
		for _, s := range [3]float64{0.03, 0.09, 0.22} {
			over += c.density(vec{p.x - 0.3*s, p.y + s, p.z}) * s * thick
		}
		l = l.add(skylight.scale(0.52 + 0.20*h + 0.50*math.Exp(-0.35*over)))
		l = l.add(rgb{0.25, 0.225, 0.175}.scale(1 - h))
		l = l.scale(0.66 + 0.34*min(1, dens*1.5))
		a := 1 - math.Exp(-dens*thick*dt)
		sum = sum.add(l.scale(through * a))
		hazed += t * through * a
		weight += through * a
		through *= 1 - a
		t += dt
	}
	if weight == 0 {
		return clear
	}
	// Haze thins upward with a scale height near 1 km, so a slant path to
	// the clouds counts about 0.45 of its length.
	col := veil(sum.scale(1/weight), clear, 0.45*1000*hazed/weight)
	return clear.mix(col, 1-through)
}

// cirrus draws thin streaks of ice cloud eight kilometres up.
func (c *cumulus) cirrus(d vec, clear rgb) rgb {
	if d.y < 0.06 {
		return clear
	}
	x, z := 8*d.x/d.y, 8*d.z/d.y
	u, v := 0.9*x+0.43*z, 0.9*z-0.43*x
	v += 1.6 * noise2(u/11, v/11, c.salt+40)
	v += 0.35 * noise2(u/2.3, v/2.3, c.salt+47)
	n := fbm2(u/9, v/3.6, 6, c.salt+41) + 0.6*fbm2(u/30, v/16, 2, c.salt+46)
	a := 0.34 * step01(-0.10, 0.80, n) * step01(0.06, 0.16, d.y)
	return clear.mix(rgb{1.28, 1.22, 1.14}, a)
}

// parallel runs f(0) … f(n−1) on all cores; f must not depend on the order.
func parallel(n int, f func(i int)) {
	var wg sync.WaitGroup
	workers := min(runtime.GOMAXPROCS(0), n)
	for w := range workers {
		wg.Go(func() {
			for i := w; i < n; i += workers {
				f(i)
			}
		})
	}
	wg.Wait()
}

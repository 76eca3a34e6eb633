package scene

import "math"

// mix32 scrambles a 32-bit word (the finaliser of MurmurHash3).
func mix32(h uint32) uint32 {
	h ^= h >> 16
	h *= 0x85ebca6b
	h ^= h >> 13
	h *= 0xc2b2ae35
	h ^= h >> 16
	return h
}

func hash2(x, y int32, salt uint32) uint32 {
	return mix32(uint32(x)*0x9e3779b1 ^ uint32(y)*0x85ebca77 ^ salt*0xc2b2ae3d)
}

func hash3(x, y, z int32, salt uint32) uint32 {
	return mix32(uint32(x)*0x9e3779b1 ^ uint32(y)*0x85ebca77 ^ uint32(z)*0x27d4eb2f ^ salt*0xc2b2ae3d)
}

// unit maps a hash to [0, 1).
func unit(h uint32) float64 { return float64(h>>8) / (1 << 24) }

// dice is a small deterministic generator, one per object so that the order
// in which objects are made does not matter.
type dice uint32

func newDice(salt uint32, n int) dice { return dice(mix32(salt*0x9e3779b1 + uint32(n)*0x85ebca77 + 1)) }

func (d *dice) next() uint32 {
	*d += 0x9e3779b9
	return mix32(uint32(*d))
}

func (d *dice) unit() float64               { return unit(d.next()) }
func (d *dice) span(lo, hi float64) float64 { return lo + (hi-lo)*d.unit() }

// normal is a standard normal deviate (sum of four uniforms, tails cut at 3.5).
func (d *dice) normal() float64 {
	return (d.unit() + d.unit() + d.unit() + d.unit() - 2) * math.Sqrt(3)
}

var gradients = func() (g [16][2]float64) {
	for i := range g {
		a := float64(i) * math.Pi / 8
		g[i] = [2]float64{math.Cos(a), math.Sin(a)}
	}
	return
}()

func grad2(h uint32, x, y float64) float64 {
	g := &gradients[h&15]
	return g[0]*x + g[1]*y
}

func floorInt(x float64) int32 {
	i := int32(x)
	if float64(i) > x {
		i--
	}
	return i
}

func fade(t float64) float64 { return t * t * t * (t*(t*6-15) + 10) }

func lerp(a, b, t float64) float64 { return a + (b-a)*t }

func clamp(x, lo, hi float64) float64 { return max(lo, min(hi, x)) }

// step01 rises smoothly from 0 at a to 1 at b (falls when b < a).
func step01(a, b, x float64) float64 {
	t := clamp((x-a)/(b-a), 0, 1)
	return t * t * (3 - 2*t)
}

// noise2 is gradient noise, about ±1, one feature per unit.
func noise2(x, y float64, salt uint32) float64 {
	ix, iy := floorInt(x), floorInt(y)
	fx, fy := x-float64(ix), y-float64(iy)
	u, v := fade(fx), fade(fy)
	a := lerp(grad2(hash2(ix, iy, salt), fx, fy), grad2(hash2(ix+1, iy, salt), fx-1, fy), u)
	b := lerp(grad2(hash2(ix, iy+1, salt), fx, fy-1), grad2(hash2(ix+1, iy+1, salt), fx-1, fy-1), u)
	return 1.5 * lerp(a, b, v)
}

// fbm2 sums octaves of noise2, each turned, twice as fine and half as strong.
func fbm2(x, y float64, octaves int, salt uint32) float64 {
	sum, amp := 0.0, 0.5
	for i := range octaves {
		sum += amp * noise2(x, y, salt+uint32(i))
		x, y = 1.6*x+1.2*y+3.1, -1.2*x+1.6*y+7.7
		amp *= 0.5
	}
	return sum
}

// ridge2 is fbm2 folded at zero: sharp crests, wide hollows, within 0–1.
func ridge2(x, y float64, octaves int, salt uint32) float64 {
	sum, amp, weight := 0.0, 0.5, 1.0
	for i := range octaves {
		n := 1 - math.Abs(noise2(x, y, salt+uint32(i)))
		n *= n
		sum += amp * n * weight
		weight = clamp(n*1.6, 0, 1)
		x, y = 1.6*x+1.2*y+3.1, -1.2*x+1.6*y+7.7
		amp *= 0.5
	}
	return sum
}

// cell is the nearest of the random points of cellular noise, one point to a
// unit square.
type cell struct {
	d1, d2 float64 // distances to it and to the second nearest
	x, y   float64 // where it is
	id     uint32  // its own hash
}

func cells2(x, y float64, salt uint32) cell {
	ix, iy := floorInt(x), floorInt(y)
	c := cell{d1: 9, d2: 9}
	for j := iy - 1; j <= iy+1; j++ {
		for i := ix - 1; i <= ix+1; i++ {
			h := hash2(i, j, salt)
			px, py := float64(i)+unit(h), float64(j)+unit(mix32(h+1))
			d := (px-x)*(px-x) + (py-y)*(py-y)
			switch {
			case d < c.d1:
				c = cell{d, c.d1, px, py, h}
			case d < c.d2:
				c.d2 = d
			}
		}
	}
	c.d1, c.d2 = math.Sqrt(c.d1), math.Sqrt(c.d2)
	return c
}

package recipe

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Undiluted is the thickness of a wash of tube colour without water, in units of
// the film in which titanium white scatters 1: it all but hides, so that ivory
// black comes within two units of L* of its masstone, and one part to 32 of water
// is a pale tint (this project's judgement; how thick a painter's washes are is
// not known until one is read, see [Palette.ReadWash]).
const Undiluted = 8.0

// How uncertain the thickness of a wash is, as the standard deviation of its
// logarithm: by the scale above alone, a factor of two; once a wash has been
// read, what a brush and the paper leave (this project's judgement).
const (
	WashUnread = math.Ln2
	WashRead   = 0.25
)

// Waters are the parts of water, to one of all paint, of a usual series of washes
// from undiluted colour to the palest tint.
var Waters = []float64{0, 1, 2, 4, 8, 16, 32, 64}

// waterLadder is what a search tries.
var waterLadder = append(append([]int{0}, Ladder...), 48, 64, 96, 128)

// WhitePaper is what white watercolour paper reflects, shine included: L* 95.2,
// b* 2.2, white rag paper without brighteners (this project's assumption; papers
// differ by some units of L* and b*).
var WhitePaper = func() (r optics.Spectrum) {
	for i := range r {
		r[i] = 0.89 - 0.09*math.Exp(-float64(i)/6)
	}
	return r
}()

// GroundOf is a smooth reflectance that shows a D65 colour: that of white paper
// times a slow curve. It refuses colours that no such curve gives, strong ones
// above all.
func GroundOf(c lab.Lab) (optics.Spectrum, error) {
	var basis [3]optics.Spectrum
	var v [3]lab.XYZ
	for j := range basis {
		for i := range basis[j] {
			at := math.Pi * float64(i) / (optics.Bands - 1)
			basis[j][i] = WhitePaper[i] * math.Cos(float64(j)*at)
		}
		v[j] = basis[j].XYZ(optics.D65)
	}
	w := c.XYZ(d65White)
	det := func(a, b, c lab.XYZ) float64 {
		return a.X*(b.Y*c.Z-b.Z*c.Y) - a.Y*(b.X*c.Z-b.Z*c.X) + a.Z*(b.X*c.Y-b.Y*c.X)
	}
	d := det(v[0], v[1], v[2])
	share := [3]float64{det(w, v[1], v[2]) / d, det(v[0], w, v[2]) / d, det(v[0], v[1], w) / d}
	var r optics.Spectrum
	for i := range r {
		for j := range basis {
			r[i] += share[j] * basis[j][i]
		}
		if !(r[i] >= optics.DrySurface.K1 && r[i] <= 1) {
			return r, fmt.Errorf("a ground of L* %.0f a* %.0f b* %.0f is too light, too dark or too vivid to be taken for paper or a toned ground: give one as muted as such a ground is", c.L, c.A, c.B)
		}
	}
	return r, nil
}

// Washing says on what and how thick washes lie.
type Washing struct {
	Ground    *optics.Spectrum // what it reflects, shine included; nil is WhitePaper
	Thickness float64          // of undiluted colour; 0 is Undiluted
	Read      bool             // Thickness comes from a reading
}

func (w Washing) ground() *optics.Spectrum {
	if w.Ground == nil {
		return &WhitePaper
	}
	return w.Ground
}

func (w Washing) thickness() float64 {
	if w.Thickness == 0 {
		return Undiluted
	}
	return w.Thickness
}

func (w Washing) sd() float64 {
	if w.Read {
		return WashRead
	}
	return WashUnread
}

// Wash is colour let down with water, as it dries on its ground.
type Wash struct {
	Parts []Part  // of paint, in mixing order
	Water float64 // parts of water to one of all paint
	// Thickness is the dry film's, in units of the film in which titanium white
	// scatters 1: a wash is laid equally wet, so it is that of undiluted colour
	// over 1 + Water.
	Thickness float64
	Lab       lab.Lab
	Off       Off
	Choice    string // Nearest, OneTube or TwoTubes
	Suggested bool
}

// Wash foretells the reflectance and D65 colour of a wash, by the finite film of
// Kubelka and Munk over its ground ([optics.Paint.Film]). Undiluted colour in
// ever thicker coats comes to the masstone; with ever more water the ground is
// left. Granulation, and pigment that settles in the paper's grain, are not
// foretold.
func (p *Palette) Wash(parts []Part, water float64, w Washing) (optics.Spectrum, lab.Lab) {
	m := p.Paint(parts)
	return p.film(&m, w.thickness()/(1+water), w.ground())
}

func (p *Palette) film(m *optics.Paint, thickness float64, ground *optics.Spectrum) (optics.Spectrum, lab.Lab) {
	inside := optics.DrySurface.Inside(*ground, optics.Included)
	r := optics.DrySurface.Seen(m.Film(thickness, &inside), p.Finish)
	return r, r.Lab(optics.D65)
}

// WashRange maps a photo's colours to what washes of up to two tubes can do, from
// the darkest of them undiluted to the bare ground, as RangeFit does for opaque
// mixes.
func (p *Palette) WashRange(w Washing) RangeFit {
	c := &sums[p.Finish]
	inside := optics.DrySurface.Inside(*w.ground(), optics.Included)
	f := RangeFit{Light: c.seen(&inside)}
	dark := f.Light.Y
	p.subsets(func(set [3]int, m int) {
		if m > 2 {
			return
		}
		var mix optics.Paint
		for d := range directions[m] {
			p.blend(set, &directions[m][d], &mix.K, &mix.S)
			r := mix.Film(w.thickness(), &inside)
			dark = min(dark, c.seen(&r).Y)
		}
	})
	share := dark / f.Light.Y // on the axis of the ground, as there
	f.Dark = lab.XYZ{X: f.Light.X * share, Y: dark, Z: f.Light.Z * share}
	return f
}

// WashSeries foretells washes of a mix, each with so many parts of water to one of
// all paint, and the spread of a real one from what is foretold.
func (p *Palette) WashSeries(parts []Part, waters []float64, w Washing, portionError float64) []Wash {
	parts = slices.Clone(parts)
	p.InOrder(parts)
	var out []Wash
	for _, n := range waters {
		q := Wash{Parts: parts, Water: n, Thickness: w.thickness() / (1 + n)}
		_, q.Lab = p.Wash(parts, q.Water, w)
		q.Off = p.washSpread(&q, w, portionError).OffFrom(q.Lab, q.Lab)
		out = append(out, q)
	}
	return out
}

// washSpread is SpreadOf for a wash: tubes, portions and how thick it lies.
func (p *Palette) washSpread(q *Wash, w Washing, portionError float64) (out Spread) {
	at := func(parts []Part, tube int, to *optics.Paint, thickness float64) lab.Lab {
		paints := make([]*optics.Paint, len(parts))
		amounts := make([]float64, len(parts))
		for i, r := range parts {
			paints[i], amounts[i] = &p.Tubes[r.Tube].Paint, r.Parts
			if r.Tube == tube {
				paints[i] = to
			}
		}
		m := optics.Mix(paints, amounts)
		_, c := p.film(&m, thickness, w.ground())
		return c
	}
	step := func(up, down lab.Lab) {
		out = append(out, lab.Lab{L: (up.L - down.L) / 2, A: (up.A - down.A) / 2, B: (up.B - down.B) / 2})
	}
	for i, r := range q.Parts {
		t := p.Tubes[r.Tube]
		for m := range t.Modes {
			up, down := t.Modes[m].Apply(t.Paint, 1), t.Modes[m].Apply(t.Paint, -1)
			step(at(q.Parts, r.Tube, &up, q.Thickness), at(q.Parts, r.Tube, &down, q.Thickness))
		}
		if portionError > 0 && len(q.Parts) > 1 {
			more, less := slices.Clone(q.Parts), slices.Clone(q.Parts)
			more[i].Parts *= math.Exp(portionError)
			less[i].Parts /= math.Exp(portionError)
			step(at(more, -1, nil, q.Thickness), at(less, -1, nil, q.Thickness))
		}
	}
	e := math.Exp(w.sd())
	step(at(q.Parts, -1, nil, q.Thickness*e), at(q.Parts, -1, nil, q.Thickness/e))
	return out
}

// ReadWash finds how thick a painter's undiluted colour lies from the D65 colour
// of one wash they laid, by the thickness whose foretold colour comes nearest,
// and gives the difference that is left. Strength of the tubes goes into it, so
// it holds best for washes of the same tubes.
func (p *Palette) ReadWash(parts []Part, water float64, seen lab.Lab, w Washing) (Washing, float64, error) {
	if !(water >= 0 && water <= 1000) {
		return w, 0, fmt.Errorf("a wash of 1 part to %v of water: give 0 to 1000 parts of water", water)
	}
	misfit := errors.New("the wash that was read fits no thickness of this colour: check its parts, its water and the ground it was laid on")
	if g := w.ground().Lab(optics.D65); seen.L > g.L+1 {
		return w, 0, misfit
	}
	off := func(t float64) float64 {
		v := w
		v.Thickness = math.Exp(t)
		_, c := p.Wash(parts, water, v)
		return lab.DE00(seen, c)
	}
	// A scan in steps of a tenth, then the golden section within the best.
	const lo, hi = -4.0, 6.0
	best, least := lo, math.Inf(1)
	for t := lo; t <= hi; t += 0.1 {
		if d := off(t); d < least {
			best, least = t, d
		}
	}
	if best < lo+0.1 || best > hi-0.1 {
		return w, 0, misfit
	}
	a, b := best-0.1, best+0.1
	golden := (math.Sqrt(5) - 1) / 2
	for range 40 {
		c, d := b-golden*(b-a), a+golden*(b-a)
		if off(c) < off(d) {
			b = d
		} else {
			a = c
		}
	}
	w.Thickness, w.Read = math.Exp((a+b)/2), true
	return w, off((a + b) / 2), nil
}

// Washes finds washes for colours (D65 Lab), for each the nearest of all and the
// best of one tube and of two: of every tube but whites, in every ratio of the
// ladder, with water from none to 128 parts. That is exact over those; ties go to
// the first. The nearest comes first.
func (p *Palette) Washes(ctx context.Context, aims []lab.Lab, w Washing, portionError float64) ([][]Wash, error) {
	if len(p.colours) == 0 {
		return nil, errors.New("there is no colour among these tubes to make a wash of")
	}
	type found struct {
		set        [3]int
		n          int
		dir, water int
		de00       float64
	}
	c := &sums[p.Finish]
	inside := optics.DrySurface.Inside(*w.ground(), optics.Included)
	var sets []tubeSet
	p.subsets(func(set [3]int, m int) {
		if m <= 2 {
			sets = append(sets, tubeSet{set, m})
		}
	})
	best := make([][]found, len(sets))
	var wg sync.WaitGroup
	next := make(chan int)
	for range max(1, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := range next {
				if ctx.Err() != nil {
					continue
				}
				s := sets[i]
				best[i] = make([]found, len(aims))
				for a := range aims {
					best[i][a] = found{s.tubes, s.n, 0, 0, math.Inf(1)}
				}
				var m optics.Paint
				for d := range directions[s.n] {
					p.blend(s.tubes, &directions[s.n][d], &m.K, &m.S)
					for wi, water := range waterLadder {
						r := m.Film(w.thickness()/float64(1+water), &inside)
						v := c.seen(&r)
						colour := lab.FromXYZ(v, d65White)
						for a := range aims {
							b := &best[i][a]
							if math.Abs(colour.L-aims[a].L) > 1.75*b.de00 { // ΔE00 >= |ΔL*|/1.75
								continue
							}
							if de := lab.DE00(aims[a], colour); de < b.de00 {
								*b = found{s.tubes, s.n, d, wi, de}
							}
						}
					}
				}
			}
		})
	}
	for i := range sets {
		next <- i
	}
	close(next)
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	out := make([][]Wash, len(aims))
	for a := range aims {
		var top [3]*found
		for i := range sets {
			if f := &best[i][a]; top[f.n] == nil || f.de00 < top[f.n].de00 {
				top[f.n] = f
			}
		}
		for n, name := range []string{OneTube, TwoTubes} {
			f := top[n+1]
			if f == nil || n == 1 && f.de00 > top[1].de00 {
				continue
			}
			q := Wash{Choice: name, Water: float64(waterLadder[f.water])}
			for j := range f.n {
				q.Parts = append(q.Parts, Part{f.set[j], float64(directions[f.n][f.dir].parts[j])})
			}
			p.InOrder(q.Parts)
			q.Thickness = w.thickness() / (1 + q.Water)
			_, q.Lab = p.Wash(q.Parts, q.Water, w)
			q.Off = p.washSpread(&q, w, portionError).OffFrom(q.Lab, aims[a])
			out[a] = append(out[a], q)
		}
		slices.SortStableFunc(out[a], func(x, y Wash) int { return cmp.Compare(x.Off.Nominal, y.Off.Nominal) })
		pick := 0
		for i := range out[a] {
			if x, y := &out[a][i], &out[a][pick]; x.Off.Nominal+tubeCost*float64(len(x.Parts)) < y.Off.Nominal+tubeCost*float64(len(y.Parts)) {
				pick = i
			}
		}
		out[a][pick].Suggested = true
	}
	return out, nil
}

// seen gives XYZ of an internal reflectance.
func (c *tristimulus) seen(r *optics.Spectrum) lab.XYZ {
	var x, y, z float64
	for i, v := range r {
		s := v / (1 - optics.DrySurface.K2*v)
		x += s * c.x[i]
		y += s * c.y[i]
		z += s * c.z[i]
	}
	return lab.XYZ{X: c.base.X + x, Y: c.base.Y + y, Z: c.base.Z + z}
}

package scene

import (
	"cmp"
	"math"
	"slices"
)

// leaf is a spray of foliage of a tree one metre tall, lit once for all its
// copies: the figures are shares of sunlight and skylight.
type leaf struct {
	p        vec
	size     float64
	dx, dy   float64 // direction of its long axis on the film
	slim     float64 // short axis by long
	vary     float64 // ±1, for colour
	sun      float64 // direct light reflected
	through  float64 // direct light let through
	sky      float64
	blooming bool
}

type limb struct {
	a, b   vec
	ra, rb float64
}

type tree struct {
	leaves []leaf // far to near
	limbs  []limb
}

// habit is the way a kind of tree grows; lengths are shares of its height.
type habit struct {
	radius   float64 // of the crown
	base     float64 // where the crown begins
	lobes    int
	perLobe  int // clusters
	perTuft  int // sprays in a cluster
	lobeSize float64
	size     float64 // of a spray
	trunk    float64 // its radius at the foot
	conic    bool
	bloom    float64 // share of sprays that are flowers
	dense    float64 // optical depth across the crown
}

func grow(hb habit, d dice) *tree {
	t := &tree{}
	mid := (hb.base + 1) / 2
	half := (1 - hb.base) / 2
	t.limbs = append(t.limbs, limb{vec{}, vec{d.span(-.02, .02), mid, d.span(-.02, .02)}, hb.trunk, hb.trunk * 0.45})
	tilt := vec{d.span(-.08, .08), 0, d.span(-.08, .08)}
	for i := range hb.lobes {
		var c vec
		size := hb.lobeSize * d.span(0.6, 1.4)
		if hb.conic {
			y := (float64(i) + d.unit()) / float64(hb.lobes)
			r := hb.radius * (1 - y) * d.span(0.45, 0.75)
			sin, cos := math.Sincos(d.span(0, 2*math.Pi))
			c = vec{r * cos, hb.base + y*(1-hb.base)*0.97, r * sin}
			size *= 0.35 + 0.8*(1-y)
		} else {
			// Evenly about the axis and in height, set back from the outline.
			y := d.span(-1, 1) * 0.95
			around := (float64(i)*0.618 + d.unit()*0.35) * 2 * math.Pi
			r := math.Sqrt(1-y*y) * d.span(0.12, 0.92)
			if y < 0 {
				r *= 1 + 0.25*y
			}
			sin, cos := math.Sincos(around)
			c = vec{hb.radius * r * cos, mid + half*y*0.80, hb.radius * r * sin}.add(tilt.scale(y))
		}
		root := vec{c.x * 0.15, lerp(hb.base*0.8, c.y, 0.45), c.z * 0.15}
		elbow := root.mid(c, 0.5).add(vec{0, -0.02, 0})
		t.limbs = append(t.limbs, limb{root, elbow, hb.trunk * 0.32, hb.trunk * 0.2}, limb{elbow, c, hb.trunk * 0.2, hb.trunk * 0.08})
		out := vec{c.x, (c.y - mid) * 0.6, c.z}
		for range hb.perLobe {
			// Clusters sit on the lobe's outside and top.
			n := vec{d.normal(), d.normal()*0.8 + 0.35, d.normal()}.add(out.scale(1.6 / max(out.length(), 0.05))).unit()
			k := c.add(n.scale(size * d.span(0.55, 1)))
			if hb.conic {
				k.y -= 0.25 * size
			}
			t.limbs = append(t.limbs, limb{c, k, hb.trunk * 0.06, hb.trunk * 0.02})
			spread := size * d.span(0.40, 0.66)
			mood := 0.45 * d.normal()
			for range hb.perTuft {
				o := vec{d.normal(), d.normal(), d.normal()}
				o = o.scale(min(1, 1.25/o.length()) * spread) // no stray leaves
				o.y *= 0.62
				a := d.span(-1.1, 1.1)
				if hb.conic {
					a = d.span(-0.5, 0.9) * math.Copysign(1, k.x)
				}
				p := k.add(o)
				facing := n.add(o.scale(0.9 / spread)).add(vec{d.normal(), d.normal() + 0.5, d.normal()}.scale(0.9)).unit()
				lambert := facing.dot(toSun)
				sin, cos := math.Sincos(a)
				t.leaves = append(t.leaves, leaf{
					p: p, size: hb.size * d.span(0.6, 1.35), dx: cos, dy: sin, slim: d.span(0.4, 0.85),
					vary: 0.5*d.normal() + mood, sun: max(0, 0.12+0.88*lambert), through: max(0, 0.1-0.9*lambert),
					blooming: d.unit() < hb.bloom && n.y > -0.35,
				})
			}
		}
	}
	t.lightLeaves(hb)
	t.sortLeaves()
	return t
}

// sortLeaves puts the farthest first, ties in the order of growth.
func (t *tree) sortLeaves() {
	type key struct {
		z float64
		i int
	}
	keys := make([]key, len(t.leaves))
	for i := range keys {
		keys[i] = key{t.leaves[i].p.z, i}
	}
	slices.SortFunc(keys, func(a, b key) int { return cmp.Or(cmp.Compare(b.z, a.z), a.i-b.i) })
	sorted := make([]leaf, len(keys))
	for i, k := range keys {
		sorted[i] = t.leaves[k.i]
	}
	t.leaves = sorted
}

// lightLeaves finds how much sun and sky reaches each spray through the rest.
func (t *tree) lightLeaves(hb habit) {
	const n = 40
	reach := max(hb.radius*1.5, 0.2)
	lo := vec{-reach, hb.base - 0.12, -reach}
	step := vec{2 * reach / n, (1.16 - hb.base) / n, 2 * reach / n}
	var dens [n * n * n]float32
	index := func(p vec) (int, bool) {
		i, j, k := int((p.x-lo.x)/step.x), int((p.y-lo.y)/step.y), int((p.z-lo.z)/step.z)
		return (k*n+j)*n + i, p.x >= lo.x && p.y >= lo.y && p.z >= lo.z && i < n && j < n && k < n
	}
	for i := range t.leaves {
		if k, ok := index(t.leaves[i].p); ok {
			dens[k]++
		}
	}
	crown := 4.0 / 3 * math.Pi * hb.radius * hb.radius * (1 - hb.base) / 2
	mean := float64(len(t.leaves)) * step.x * step.y * step.z / crown
	thick := hb.dense / (2 * hb.radius * mean) // optical depth per metre and leaf in a cell
	through := func(p, dir vec) float64 {
		const ds = 0.022
		tau := 0.0
		for s := ds * 1.2; s < 1.2; s += ds {
			k, ok := index(p.add(dir.scale(s)))
			if !ok {
				break
			}
			tau += float64(dens[k]) * thick * ds
		}
		return math.Exp(-tau)
	}
	// Sky light varies slowly: one figure serves a whole cell.
	up := []vec{{0, 1, 0}, {0.8, 0.6, 0}, {-0.8, 0.6, 0}, {0, 0.6, 0.8}, {0, 0.6, -0.8}}
	sky := make([]float64, len(dens))
	for i := range t.leaves {
		lf := &t.leaves[i]
		sun := through(lf.p, toSun)
		lf.sun *= sun
		lf.through *= sun
		k, ok := index(lf.p)
		if !ok {
			lf.sky = 1
			continue
		}
		if sky[k] == 0 {
			x, y, z := k%n, k/n%n, k/(n*n)
			mid := lo.add(vec{(float64(x) + 0.5) * step.x, (float64(y) + 0.5) * step.y, (float64(z) + 0.5) * step.z})
			for _, d := range up {
				sky[k] += through(mid, d) / float64(len(up))
			}
		}
		lf.sky = sky[k]
	}
}

// plant is one tree standing in the picture.
type plant struct {
	at     vec
	tall   float64
	kind   *tree
	tint   rgb
	bloom  rgb
	region Region
	sun    float64 // share of the sun that reaches it past hills and other trees
	near   bool    // look up shadows of near things leaf by leaf
}

func (p *plant) color(lf *leaf, sun float64) rgb {
	a := p.tint
	k := 1 + 0.22*lf.vary
	a = rgb{a.r * (k + 0.10*lf.vary), a.g * k, a.b * k}
	let := rgb{1.5, 1.55, 0.55}
	if lf.blooming {
		a, let = p.bloom.scale(1+0.12*lf.vary), rgb{1, 1, 1}
	}
	e := sunlight.scale(lf.sun*sun + 0.025).add(skylight.scale(0.14 + 0.80*lf.sky))
	c := e.mul(a)
	return c.add(sunlight.mul(a).mul(let).scale(0.55 * lf.through * sun))
}

// draw paints a plant, thinned to what its size on the film can show.
func (p *plant) draw(fm *film, things *sunMap) {
	x, y := fm.project(p.at)
	s := fm.f * p.tall / p.at.z
	if y-1.2*s > float64(fm.h) || y < 0 || x+s < 0 || x-s > float64(fm.w) {
		return
	}
	if p.hidden(fm, x, y, s) {
		return
	}
	dir := p.at.sub(fm.eye)
	air := airlight(dir.unit())
	distance := dir.length()
	for _, lb := range p.kind.limbs {
		p.drawLimb(fm, lb, air, distance, things)
	}
	stride, grown := 1, 1.0
	if want := s * s * 0.30; want < float64(len(p.kind.leaves)) {
		stride = int(float64(len(p.kind.leaves)) / max(want, 24))
		stride = max(stride, 1)
		grown = math.Sqrt(float64(stride))
	}
	for i := 0; i < len(p.kind.leaves); i += stride {
		lf := &p.kind.leaves[i]
		at := p.at.add(lf.p.scale(p.tall))
		sun := p.sun
		if p.near {
			sun *= things.at(at, 4)
		}
		c := veil(p.color(lf, sun), air, distance)
		lx, ly := fm.project(at)
		size := lf.size * grown * fm.f * p.tall / at.z
		fm.speck(lx, ly, at.z, size, size*lf.slim, lf.dx, lf.dy, c, p.region)
	}
}

// hidden looks at a few samples of the crown to see whether hills in front
// cover it.
func (p *plant) hidden(fm *film, x, y, s float64) bool {
	for _, k := range [][2]float64{{0, 0.95}, {0, 0.7}, {-0.25, 0.6}, {0.25, 0.6}, {0, 0.3}} {
		i, j := int(x+k[0]*s), int(y-k[1]*s)
		if i < 0 || j < 0 || i >= fm.w || j >= fm.h || float64(fm.depth[j*fm.w+i]) > p.at.z {
			return false
		}
	}
	return true
}

// drawLimb paints a branch as strips from its lit to its dark side.
func (p *plant) drawLimb(fm *film, lb limb, air rgb, distance float64, things *sunMap) {
	a, b := p.at.add(lb.a.scale(p.tall)), p.at.add(lb.b.scale(p.tall))
	ax, ay := fm.project(a)
	bx, by := fm.project(b)
	wa, wb := 2*lb.ra*p.tall*fm.f/a.z, 2*lb.rb*p.tall*fm.f/b.z
	if wa < 0.3 {
		return
	}
	bark := rgb{0.105, 0.092, 0.074}
	share := 0.8 // of the sun that the crown leaves to the wood
	if lb.a.y > 0.1 {
		share = 0.12
	}
	strips := int(clamp(wa/2, 1, 9))
	for k := range strips {
		o := (float64(k)+0.5)/float64(strips) - 0.5 // across, −½ to ½
		n := vec{2 * o, 0, -math.Sqrt(1 - 4*o*o)}
		sun := p.sun
		if things != nil && p.near {
			sun *= things.at(a.mid(b, 0.5), 1.2)
		}
		sp := spot{albedo: bark, open: 0.2 + 0.5*share, soft: 0.05}
		c := veil(sp.light(n, sun*share), air, distance)
		c2 := c.scale(0.75)
		fm.stroke(ax+o*wa, ay, a.z, wa/float64(strips)+0.4, c, bx+o*wb, by, b.z, wb/float64(strips)+0.4, c2, p.region)
	}
}

// castShadow puts the plant in the way of the sun.
func (p *plant) castShadow(m *sunMap) {
	for i := range p.kind.leaves {
		lf := &p.kind.leaves[i]
		m.add(p.at.add(lf.p.scale(p.tall)), lf.size*p.tall*0.6)
	}
	for _, lb := range p.kind.limbs {
		n := int(lb.b.sub(lb.a).length()*p.tall/0.15) + 1
		for k := range n {
			t := float64(k) / float64(n)
			m.add(p.at.add(lb.a.mid(lb.b, t).scale(p.tall)), lerp(lb.ra, lb.rb, t)*p.tall)
		}
	}
}

var (
	oakHabit    = habit{radius: 0.45, base: 0.13, lobes: 34, perLobe: 12, perTuft: 60, lobeSize: 0.115, size: 0.0080, trunk: 0.026, dense: 4.5}
	ashHabit    = habit{radius: 0.35, base: 0.16, lobes: 28, perLobe: 12, perTuft: 60, lobeSize: 0.100, size: 0.0072, trunk: 0.020, dense: 3.2}
	shrubHabit  = habit{radius: 0.62, base: 0.02, lobes: 20, perLobe: 12, perTuft: 60, lobeSize: 0.19, size: 0.014, trunk: 0.03, dense: 5}
	spruceHabit = habit{radius: 0.22, base: 0.06, lobes: 44, perLobe: 6, perTuft: 34, lobeSize: 0.085, size: 0.011, trunk: 0.016, dense: 5, conic: true}
	grandHabit  = habit{radius: 0.47, base: 0.12, lobes: 80, perLobe: 16, perTuft: 210, lobeSize: 0.092, size: 0.0030, trunk: 0.026, dense: 4.5}
	gorseHabit  = habit{radius: 0.80, base: 0.0, lobes: 26, perLobe: 14, perTuft: 60, lobeSize: 0.20, size: 0.013, trunk: 0.02, dense: 6, bloom: 0.50}
)

// orchard is the small stock of trees of which all woods are made.
type orchard struct {
	broad, tall, spruces, shrubs []*tree
	grand                        *tree
	gorse                        []*tree
}

func newOrchard(salt uint32) *orchard {
	o := &orchard{}
	jobs := []struct {
		to *[]*tree
		hb habit
		n  int
	}{{&o.broad, oakHabit, 5}, {&o.tall, ashHabit, 4}, {&o.spruces, spruceHabit, 3}, {&o.shrubs, shrubHabit, 4}, {&o.gorse, gorseHabit, 2}}
	var flat []func(int)
	for j, job := range jobs {
		*job.to = make([]*tree, job.n)
		for i := range job.n {
			flat = append(flat, func(int) { (*job.to)[i] = grow(job.hb, newDice(salt+uint32(j)*97, i)) })
		}
	}
	flat = append(flat, func(int) { o.grand = grow(grandHabit, newDice(salt+991, 0)) })
	parallel(len(flat), func(i int) { flat[i](i) })
	return o
}

// nearPlants are the trees and bushes of the near bank.
func (l *land) nearPlants(o *orchard) (ps []plant) {
	put := func(x, z, tall float64, kind *tree, tint rgb) *plant {
		h, _ := l.soil(x, z)
		ps = append(ps, plant{at: vec{x, h - 0.1, z}, tall: tall, kind: kind, tint: tint, region: Trees, sun: 1, near: true})
		return &ps[len(ps)-1]
	}
	sycamore, ash, thorn := rgb{0.046, 0.070, 0.022}, rgb{0.066, 0.094, 0.030}, rgb{0.052, 0.070, 0.026}
	put(-27, 46, 15.5, o.grand, sycamore)
	// Out of the picture to the left: only their shadows fall in.
	put(-25, 17, 12, o.broad[0], sycamore)
	put(-34, 26, 13, o.broad[1], sycamore)
	// About the barn.
	put(-33, 113, 13.5, o.broad[2], sycamore)
	put(-41, 118, 15.5, o.broad[3], sycamore.scale(1.12))
	put(-49, 112, 12, o.tall[0], ash)
	put(-25.5, 119, 11.5, o.tall[1], ash)
	put(-8.5, 108, 8.0, o.tall[2], ash.scale(0.95))
	put(-30, 104, 3.6, o.shrubs[0], thorn)
	put(-12, 112, 3.2, o.shrubs[1], thorn)
	d := newDice(l.salt+500, 0)
	for i := range 46 {
		sin, cos := math.Sincos(d.span(0, 2*math.Pi))
		r := math.Sqrt(d.unit())
		x, z := -92+44*r*cos, 170+50*r*sin
		kind := o.broad[i%len(o.broad)]
		tint := sycamore.mix(ash, d.unit()*0.8)
		if d.unit() < 0.3 {
			kind = o.tall[i%len(o.tall)]
		}
		p := put(x, z, d.span(8, 14), kind, tint)
		p.near = false
	}
	// Thorns along the top of the shore bank.
	for i, q := range [][3]float64{{-2.5, 82, 2.6}, {2, 77, 1.7}, {9.5, 64.5, 2.2}, {-38, 96, 2.8}, {-44, 88, 3.2}, {27, 36.5, 1.7}} {
		put(q[0], q[1], q[2], o.shrubs[i%len(o.shrubs)], thorn)
	}
	for i, q := range [][4]float64{{-14.2, 40, 1.6, 1}, {-12.9, 39.2, 1.15, 1}, {-15.9, 41.5, 1.25, 0.35}, {-11.6, 40.6, 0.8, 0.2}} {
		p := put(q[0], q[1], q[2], o.gorse[i%len(o.gorse)], rgb{0.044, 0.060, 0.024})
		p.bloom = p.tint.mix(rgb{0.58, 0.40, 0.022}, q[3])
		p.region = Gorse
	}
	return ps
}

// farPlants are the woods and hedgerow trees of the two lower ridges.
func (l *land) farPlants(o *orchard) (ps []plant) {
	stand := func(z0, z1, pitch float64, salt uint32) {
		for j := int32(z0 / pitch); j < int32(z1/pitch); j++ {
			z := (float64(j) + 0.5) * pitch
			reach := int32(0.58*z/pitch) + 1
			for i := -reach; i < reach; i++ {
				h := hash2(i, j, salt)
				d := dice(h)
				x, zz := (float64(i)+d.unit())*pitch, z+(d.unit()-0.5)*pitch
				base, on := l.soil(x, zz)
				if on == nil {
					continue
				}
				p, ok := l.sapling(o, x, zz, base, on, &d)
				if ok {
					ps = append(ps, p)
				}
			}
		}
	}
	stand(560, 1900, 6.2, l.salt+510)
	stand(1900, 4200, 9.5, l.salt+511)
	return ps
}

func (l *land) sapling(o *orchard, x, z, base float64, on *hill, d *dice) (p plant, ok bool) {
	if on.region != NearRidge && on.region != MiddleRidge || base < 1.4 {
		return
	}
	p = plant{at: vec{x, base - 0.3, z}, region: on.region}
	w := l.wooded(x, z, base, on)
	edge := 99.0
	if l.enclosed(x, z, base, on) > 0.5 {
		_, edge = l.field(x, z, on)
	}
	switch {
	case w > 0.075:
		p.tall = d.span(9, 15)
	case edge < 3 && d.unit() < 0.14:
		p.tall = d.span(6, 11.5)
	case edge < 2.2:
		p.tall = d.span(2.2, 3.8)
	default:
		return p, false
	}
	v := d.unit()
	p.tint = rgb{0.046, 0.068, 0.022}.mix(rgb{0.072, 0.092, 0.028}, v*v)
	pick := d.next()
	switch {
	case p.tall < 4:
		p.kind = o.shrubs[pick%uint32(len(o.shrubs))]
	case l.planted(x, z, on):
		p.kind = o.spruces[pick%uint32(len(o.spruces))]
		p.tint = needles.scale(1.1)
		p.tall *= 1.1
	case pick&0x700 < 0x200:
		p.kind = o.tall[pick%uint32(len(o.tall))]
	default:
		p.kind = o.broad[pick%uint32(len(o.broad))]
	}
	if d.unit() < 0.04 {
		p.tint = rgb{0.105, 0.088, 0.030}
	}
	// The tree's own crown is in the shadow map too, so ask above it.
	p.sun = 0.25 + 0.75*l.sunOnRidge(x, z, base+p.tall*1.05)
	return p, true
}

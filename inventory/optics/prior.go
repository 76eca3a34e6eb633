package optics

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Prior is what is believed of a paint before its readings: log K and log S
// jointly Gaussian. It is shared and not to be changed.
type Prior struct {
	mean      [unknowns]float64
	precision *mat.SymDense
	logDet    float64 // of the precision
}

// Smooth says how far the logarithm of one quantity, K or S, may lie from its
// expected curve: in natural logarithms, either as Curve or as Bend.
type Smooth struct {
	Level float64 // the whole curve up or down
	Curve float64 // smooth curves about that, with a correlation length of 70 nm
	Bend  float64 // or second differences from band to band: free to follow an edge
	Held  bool    // or not at all
}

const curveBands = 7 // correlation length of Smooth.Curve

// Loose is how far a paint may lie from what is expected of it.
type Loose struct {
	precision *mat.SymDense
	logDet    float64
}

// Loosen makes a Loose of what K and S may do. With tie, the correlation of
// the two levels, both must be curves: tinting strength moves both.
func Loosen(k, s Smooth, tie float64) *Loose {
	if tie != 0 {
		return loose(inverse(tied(k, s, tie)))
	}
	p := mat.NewSymDense(unknowns, nil)
	for at, q := range map[int]Smooth{0: k, Bands: s} {
		switch {
		case q.Held:
			for i := range Bands {
				p.SetSym(at+i, at+i, 1e8)
			}
		case q.Bend > 0:
			q.bends(p, at)
		default:
			c := mat.NewSymDense(Bands, nil)
			q.covariance(c, 0)
			inv := inverse(c)
			for i := range Bands {
				for j := i; j < Bands; j++ {
					p.SetSym(at+i, at+j, inv.At(i, j))
				}
			}
		}
	}
	return loose(p)
}

// tied is the covariance of two curves whose levels are correlated by tie.
func tied(k, s Smooth, tie float64) *mat.SymDense {
	c := mat.NewSymDense(unknowns, nil)
	k.covariance(c, 0)
	s.covariance(c, Bands)
	for i := range Bands {
		for j := range Bands {
			c.SetSym(i, Bands+j, tie*k.Level*s.Level)
		}
	}
	return c
}

func loose(precision *mat.SymDense) *Loose {
	var c mat.Cholesky
	if !c.Factorize(precision) {
		panic("optics: a prior is not positive definite")
	}
	return &Loose{precision, c.LogDet()}
}

// covariance fills the block of one quantity: a level and curves about it.
func (q Smooth) covariance(c *mat.SymDense, at int) {
	if q.Curve <= 0 {
		panic("optics: a prior needs a curve, a bend, or to be held")
	}
	for i := range Bands {
		for j := i; j < Bands; j++ {
			v := q.Level*q.Level + q.Curve*q.Curve*matern(float64(j-i), curveBands)
			if i == j {
				v += 1e-6
			}
			c.SetSym(at+i, at+j, v)
		}
	}
}

// bends adds the precision of a curve whose level lies within Level and whose
// second differences lie within Bend.
func (q Smooth) bends(m *mat.SymDense, at int) {
	for i := range Bands {
		m.SetSym(at+i, at+i, m.At(at+i, at+i)+1/(q.Level*q.Level*Bands))
	}
	d := [3]float64{1, -2, 1}
	for i := 0; i+2 < Bands; i++ {
		for a := range 3 {
			for b := a; b < 3; b++ {
				m.SetSym(at+i+a, at+i+b, m.At(at+i+a, at+i+b)+d[a]*d[b]/(q.Bend*q.Bend))
			}
		}
	}
}

// matern is the Matérn correlation of order 5/2 at a distance in bands, for a
// correlation length in bands.
func matern(d, length float64) float64 {
	a := math.Sqrt(5) * d / length
	return (1 + a + a*a/3) * math.Exp(-a)
}

func inverse(c *mat.SymDense) *mat.SymDense {
	var ch mat.Cholesky
	if !ch.Factorize(c) {
		panic("optics: a covariance is not positive definite")
	}
	p := mat.NewSymDense(c.SymmetricDim(), nil)
	if err := ch.InverseTo(p); err != nil {
		panic("optics: " + err.Error())
	}
	return p
}

// About is the prior of a paint expected to be p.
func (l *Loose) About(p *Paint) Prior {
	pr := Prior{precision: l.precision, logDet: l.logDet}
	for i := range p.K {
		pr.mean[i] = math.Log(max(p.K[i], 1e-7))
		pr.mean[Bands+i] = math.Log(max(p.S[i], 1e-7))
	}
	return pr
}

// Shifted is the prior with K and S expected to be exp(by) times as large, and
// that factor open by sd, in logarithm, beside what it was.
func (p Prior) Shifted(by, sd float64) Prior {
	for i := range p.mean {
		p.mean[i] += by
	}
	if sd == 0 {
		return p
	}
	// One direction more of the covariance, by Sherman and Morrison's formula.
	var v [unknowns]float64
	total := 0.0
	for i := range v {
		for j := range v {
			v[i] += p.precision.At(i, j)
		}
		total += v[i]
	}
	q := mat.NewSymDense(unknowns, nil)
	f := 1 / (1/(sd*sd) + total)
	for i := range v {
		for j := i; j < unknowns; j++ {
			q.SetSym(i, j, p.precision.At(i, j)-f*v[i]*v[j])
		}
	}
	p.precision = q
	p.logDet -= math.Log1p(sd * sd * total)
	return p
}

// LevelS is what a fit and its prior say of the mean of log S over the bands:
// the distance from the prior's mean, and the variances after and before.
func (p *Prior) LevelS(f *Fitted) (away, after, before float64) {
	for b := range Bands {
		away += (math.Log(f.Paint.S[b]) - p.mean[Bands+b]) / Bands
	}
	level := func(m *mat.SymDense) (v float64) {
		for i := range Bands {
			for j := range Bands {
				v += m.At(Bands+i, Bands+j) / (Bands * Bands)
			}
		}
		return v
	}
	return away, level(f.Spread), level(inverse(p.precision))
}

// What readings of a tube are worth, and what is believed of it before them.
// The figures were chosen by several measures together, not by any one:
// leave-one-out over the measured oil films of Geldof et al. (Heritage Science
// 6:17, 2018); their tints and shades foretold from masstones and tenth tints;
// and chromatic 1:1 mixes of the two acrylic sets (Berns 2016; Okumura 2005)
// foretold from synthesised masstones and tints with 5 % portioning error, each
// set with the other's paints as prior and with none. From spectra they lie on a
// plateau: noise along wavelength, floor, portions and the curves of S halved or
// doubled, or a surface of k1 0.02–0.04 and k2 0.5–0.7, move leave-one-out and
// the oil tints by 0.25 ΔE00 at most. From Lab colours the level of S decides.

// UsualNoise is what a reading is worth before a set of readings has shown it.
var UsualNoise = Noise{Floor: 0.002, Share: 0.01, Run: 0.06, Colour: 1}

// Standard deviations of the logarithm of parts: of a paint in its white, and
// of a paint and black, of which a little does so much.
const (
	PortionSD      = 0.05
	BlackPortionSD = 0.15
)

// Between one maker's paint and another's of the same code, log K and log S
// differ by a level that both share mostly (tinting strength), and by smooth
// curves: most where the paint is clear, where neither masstone nor tints show
// K or S by itself. Over the nine codes that both acrylic sets hold, levels of
// S lie 0.4 apart (root mean square), single bands 0.3 to 0.9 from there.
const (
	codeLevel, codeLevelTie = 0.6, 0.8 // sd of either level; their correlation
	codeCurveK, codeCurveS  = 1.0, 0.6
)

// A paint that is only like one of the library's may be stronger or weaker by
// more.
const likeLevel = 1.0

// With no code: the level of K anywhere and its slope free to follow an edge;
// S smooth about a level. Over the 39 paints of the two acrylic sets the
// level of log S has a standard deviation of 0.9, and single bands lie 0.7
// from it.
const (
	openLevelK, openBendK  = 3, 1
	openLevelS, openCurveS = 0.9, 0.5
	openK, openS           = 0.1, 0.08
)

// codeWeightS is how far one maker's S tells another's. Makers of one code lie
// about 0.5 apart in log S, pigments 0.75 from their common mean: alone that
// would make it 0.75²/(0.75² + 0.5²) of the way from the mean to the one known.
// But grades of one code, opaque and transparent, differ much more, and spectra
// say little against a wrong S; less trust foretells 1:1 mixes of the other
// maker's paints better. K, which differs much more between pigments, is taken
// as it is.
const codeWeightS = 0.3

var (
	codeK, codeS = Smooth{Level: codeLevel, Curve: codeCurveK}, Smooth{Level: codeLevel, Curve: codeCurveS}

	codeLoose  = Loosen(codeK, codeS, codeLevelTie)
	likeLoose  = Loosen(Smooth{Level: likeLevel, Curve: codeCurveK}, Smooth{Level: likeLevel, Curve: codeCurveS}, codeLevelTie)
	openLoose  = Loosen(Smooth{Level: openLevelK, Bend: openBendK}, Smooth{Level: openLevelS, Curve: openCurveS}, 0)
	whiteLoose = Loosen(Smooth{Level: 1, Bend: 0.1}, Smooth{Held: true}, 0)
	openPaint  = Paint{K: Flat(openK), S: Flat(openS)}
)

// OpenPrior is the prior of a paint of which nothing is known, to be fitted to
// spectra of a masstone and tints.
func OpenPrior() Prior { return openLoose.About(&openPaint) }

// PaintsPrior is the prior of a paint of which nothing is known but that it is
// one of a kind with these, at least two: the Gaussian of their own mean and
// covariance in log K and log S, with as much more as makers of one code
// differ. It tells what goes with what, edges and how S runs beside K, where
// readings do not: Lab colours, tints without a masstone.
func PaintsPrior(of []*Paint) Prior {
	n := float64(len(of))
	var pr Prior
	logs := make([]Prior, len(of))
	for i, p := range of {
		logs[i] = codeLoose.About(p)
		for k, v := range logs[i].mean {
			pr.mean[k] += v / n
		}
	}
	c := tied(codeK, codeS, codeLevelTie)
	for _, l := range logs {
		for k := range unknowns {
			for j := k; j < unknowns; j++ {
				c.SetSym(k, j, c.At(k, j)+(l.mean[k]-pr.mean[k])*(l.mean[j]-pr.mean[j])/(n-1))
			}
		}
	}
	l := loose(inverse(c))
	pr.precision, pr.logDet = l.precision, l.logDet
	return pr
}

// CodePrior is the prior of a paint of the code that p is of. Colours alone
// cannot tell K from S, so that for them the pair is better left together.
func CodePrior(p *Paint, spectra bool) Prior {
	if !spectra {
		return codeLoose.About(p)
	}
	q := *p
	for i := range q.S {
		q.S[i] = openS * math.Pow(max(q.S[i], 1e-7)/openS, codeWeightS)
	}
	return codeLoose.About(&q)
}

// LikePrior is the prior of a paint that is like p in its hue at least.
func LikePrior(p *Paint) Prior { return likeLoose.About(p) }

// WhitePrior is the prior of a white such as p, whose S is taken as it is.
func WhitePrior(p *Paint) Prior { return whiteLoose.About(p) }

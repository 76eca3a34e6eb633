package main

import (
	"fmt"
	"math"
	"strings"

	"paintout/inventory/optics"
)

// part is a share of a known paint in a blend.
type part struct {
	key   string
	parts float64
}

// estimate is a paint nobody has measured for us, built from its nearest
// measured neighbours by steps that each have a physical meaning. Zero values
// are no step. The steps are taken in the order of the fields.
type estimate struct {
	key string
	// from is the neighbour; several are blended by parts, as in a mix.
	from []part
	// widen blurs the absorption's edges along wavelength by that many nm
	// (standard deviation): coarser or less regular crystals.
	widen float64
	// edge moves absorption and scattering along wavelength, nm, + to red:
	// another chromophore of the same kind.
	edge float64
	// absorb multiplies K alone.
	absorb float64
	// scatter multiplies S alone: larger or smaller grains, more or less
	// refractive.
	scatter float64
	// even pulls S that share of the way (in logarithm) to its own mean over
	// wavelength: S of a weak absorber lacks the swing beside a strong band.
	even float64
	// clear multiplies K where it is below its own geometric mean: a purer or
	// dirtier pigment.
	clear float64
	// strength multiplies K and S.
	strength float64
	// standIn marks constants taken over as they are, because the pigment is
	// the same substance: they are derived, not estimated.
	standIn bool
	because string // what kin it rests on
}

func (e *estimate) make(known func(key string) *optics.Paint) (optics.Paint, error) {
	var paints []*optics.Paint
	var parts []float64
	for _, f := range e.from {
		p := known(f.key)
		if p == nil {
			return optics.Paint{}, fmt.Errorf("%s: neighbour %s is not known", e.key, f.key)
		}
		paints, parts = append(paints, p), append(parts, f.parts)
	}
	p := optics.Mix(paints, parts)
	if e.widen != 0 {
		p.K = widen(p.K, e.widen)
	}
	if e.edge != 0 {
		p.K, p.S = shift(p.K, e.edge), shift(p.S, e.edge)
	}
	if e.even != 0 {
		mean := geometricMean(p.S)
		for i := range p.S {
			p.S[i] *= math.Pow(mean/p.S[i], e.even)
		}
	}
	mean := geometricMean(p.K)
	for i := range p.K {
		if e.clear != 0 && p.K[i] < mean {
			p.K[i] = min(mean, p.K[i]*e.clear)
		}
		p.K[i] *= orOne(e.absorb) * orOne(e.strength)
		p.S[i] *= orOne(e.scatter) * orOne(e.strength)
	}
	return p, nil
}

// kin names the neighbours.
func (e *estimate) kin() string {
	var s []string
	for _, f := range e.from {
		if len(e.from) > 1 {
			s = append(s, fmt.Sprintf("%g %s", f.parts, f.key))
		} else {
			s = append(s, f.key)
		}
	}
	return strings.Join(s, " + ")
}

// source says in a painter's words what the paint rests on and how it differs,
// from the steps themselves, so that it cannot say what was not done.
func (e *estimate) source() string {
	if e.standIn {
		return e.kin() + " stands in: " + e.because
	}
	var b strings.Builder
	b.WriteString("from " + e.kin())
	differs := func(v float64, less, more string) {
		switch {
		case v != 0 && v < 1:
			b.WriteString(", " + less)
		case v > 1:
			b.WriteString(", " + more)
		}
	}
	if e.edge != 0 {
		b.WriteString(", its hue moved")
	}
	differs(orOne(e.clear), "cleaner", "duller")
	differs(orOne(e.absorb), "paler", "deeper")
	differs(orOne(e.scatter), "more transparent", "more opaque")
	differs(orOne(e.strength), "weaker", "stronger")
	if e.because != "" {
		b.WriteString("; " + e.because)
	}
	return b.String()
}

// steps says what was done, with its figures.
func (e *estimate) steps() string {
	var b strings.Builder
	b.WriteString("from " + e.kin())
	step := func(format string, v float64) {
		if v != 0 {
			fmt.Fprintf(&b, ", "+format, v)
		}
	}
	step("edges blurred %g nm", e.widen)
	switch {
	case e.edge < 0:
		step("edge moved %g nm toward blue", -e.edge)
	case e.edge > 0:
		step("edge moved %g nm toward red", e.edge)
	}
	step("scattering evened by %g", e.even)
	step("clear bands' absorption × %g", e.clear)
	step("absorption × %g", e.absorb)
	step("scattering × %g", e.scatter)
	step("strength × %g", e.strength)
	return b.String()
}

func orOne(v float64) float64 {
	if v == 0 {
		return 1
	}
	return v
}

func geometricMean(s optics.Spectrum) float64 {
	sum := 0.0
	for _, v := range s {
		sum += math.Log(v) / optics.Bands
	}
	return math.Exp(sum)
}

// shift moves a spectrum by nm toward red, interpolating in logarithm and
// holding the ends.
func shift(s optics.Spectrum, nm float64) (out optics.Spectrum) {
	for i := range out {
		at := min(max(float64(i)-nm/optics.StepNM, 0), optics.Bands-1)
		lo := min(int(at), optics.Bands-2)
		t := at - float64(lo)
		out[i] = math.Exp((1-t)*math.Log(s[lo]) + t*math.Log(s[lo+1]))
	}
	return out
}

// widen blurs a spectrum with a Gaussian of that standard deviation in nm, in
// logarithm, holding the ends.
func widen(s optics.Spectrum, nm float64) (out optics.Spectrum) {
	for i := range out {
		sum, all := 0.0, 0.0
		for j := -2 * optics.Bands; j <= 2*optics.Bands; j++ {
			w := math.Exp(-float64(j*j) * optics.StepNM * optics.StepNM / (2 * nm * nm))
			sum += w * math.Log(s[min(max(i+j, 0), optics.Bands-1)])
			all += w
		}
		out[i] = math.Exp(sum / all)
	}
	return out
}

func one(key string) []part { return []part{{key, 1}} }

// estimates is the list, in an order in which neighbours come first.
var estimates = []estimate{
	// Yellows. Cadmium sulphide's gap of about 2.42 eV lies at 512 nm, cadmium
	// orange's edge at 572 nm; with a little selenide it is put at 532 nm.
	{key: "PY35", from: one("PO20"), edge: -60, because: "cadmium sulphide, the pale kind"},
	{key: "PY37", from: one("PO20"), edge: -40, because: "cadmium sulphide with a little selenide"},
	{key: "PY3", from: one("PY74"), edge: -22, scatter: 0.5, strength: 0.8, because: "a greener arylide"},
	{key: "PY97", from: one("PY74"), edge: -3, scatter: 0.5, strength: 0.7},
	{key: "PY151", from: one("PY74"), edge: -8, strength: 0.6, because: "benzimidazolone, an arylide's kin"},
	{key: "PY154", from: one("PY74"), edge: -4, strength: 0.6, because: "benzimidazolone, an arylide's kin"},
	{key: "PY110", from: one("PY83"), edge: 4, scatter: 0.7, strength: 0.7},
	{key: "PY150", from: []part{{"PY74", 4}, {"PY43", 1}}, widen: 14, edge: -12, scatter: 0.15, because: "gold in masstone, greenish in tints"},
	{key: "PY40", from: []part{{"PY74", 4}, {"PY43", 2}}, widen: 10, edge: -4, scatter: 0.3, strength: 0.25},
	{key: "PY41", from: one("PY43"), edge: -8, clear: 0.5, absorb: 0.5, scatter: 2.5},
	{key: "PY42", from: one("PY43"), clear: 0.6, strength: 1.5, because: "the same hydrated oxide"},
	{key: "PY53", from: []part{{"PY184", 3}, {"PY43", 1}}, widen: 10, absorb: 0.12, scatter: 1.5, because: "a pale titanate about as opaque as white"},
	// Oranges.
	{key: "PO62", from: one("PO73"), edge: -18, strength: 0.7, because: "an orange of about that hue"},
	{key: "PO48", from: []part{{"PV19", 3}, {"PBr7/burnt sienna", 1}}, widen: 8, edge: -35, scatter: 0.5, because: "a yellower, softer quinacridone"},
	// Reds.
	{key: "PR255", from: []part{{"PO73", 2}, {"PR254", 1}}, because: "the pyrrole between orange and red"},
	{key: "PR264", from: one("PR254"), edge: 14, scatter: 0.4, because: "the bluest pyrrole"},
	{key: "PR112", from: []part{{"PR254", 1}, {"PR5", 1}}, edge: -3, because: "a naphthol nearly as bright and yellow as pyrrole red"},
	{key: "PR170", from: []part{{"PR254", 1}, {"PR5", 2}}, because: "a naphthol of middle hue"},
	{key: "PR177", from: []part{{"PR5", 1}, {"PV19", 1}}, widen: 8, scatter: 0.6},
	{key: "PR83", from: one("PR5"), widen: 18, edge: 14, scatter: 0.25, strength: 0.6},
	{key: "PR209", from: one("PV19"), edge: -10, because: "a yellower quinacridone"},
	{key: "PR206", from: []part{{"PV19", 1}, {"PBr7/burnt sienna", 1}}, widen: 10, scatter: 0.5},
	{key: "PR179", from: []part{{"PR5", 1}, {"PR101", 2}}, edge: 5, scatter: 0.3, strength: 0.8},
	{key: "PR102", from: []part{{"PR101", 3}, {"PBr7/burnt sienna", 1}}, strength: 0.6, because: "the same oxide, natural"},
	// Violets.
	{key: "PV14", from: []part{{"PR122", 12}, {"PV23", 1}}, even: 1, absorb: 0.1, scatter: 0.7},
	{key: "PV16", from: []part{{"PR122", 3}, {"PV23", 1}}, even: 1, absorb: 0.12, scatter: 0.4},
	{key: "PV15", from: one("PB29"), edge: -52, even: 0.7, absorb: 0.4, because: "the same blue turned violet"},
	// Blues.
	{key: "PB15:3", from: one("PB15:4"), standIn: true, because: "the same blue crystal; :4 only says that it is kept from flocculating"},
	{key: "PB33", from: one("PB36"), edge: 12, clear: 0.6, absorb: 0.6, scatter: 0.5},
	{key: "PB35", from: one("PB36"), edge: 4, absorb: 0.7, because: "a lighter, greener cerulean"},
	// Greens.
	{key: "PG50", from: []part{{"PB33", 10}, {"PY184", 1}}, edge: 6, clear: 1.8, scatter: 1.5},
	{key: "PG23", from: []part{{"PG18", 1}, {"PBr7/raw sienna", 1}}, strength: 0.4},
	// Earths and blacks.
	{key: "PBr7/raw umber", from: []part{{"PBr7/burnt umber", 1}, {"PBr7/raw sienna", 2}, {"PBk9", 2}}},
	{key: "PBk6", from: one("PBk7"), strength: 0.8},
	{key: "PBk11", from: []part{{"PBk7", 1}, {"PR101", 1}, {"PBr7/burnt umber", 4}}},
}

func estimated(known func(key string) *optics.Paint, sd, standInSD float64) ([]entry, error) {
	var out []entry
	made := map[string]*optics.Paint{}
	for _, e := range estimates {
		p, err := e.make(func(key string) *optics.Paint {
			if p := made[key]; p != nil {
				return p
			}
			return known(key)
		})
		if err != nil {
			return nil, err
		}
		made[e.key] = &p
		n := entry{key: e.key, provenance: "Estimated", source: e.source(), steps: e.steps(), strengthSD: sd, paint: p}
		if e.standIn {
			n.provenance, n.strengthSD = "Derived", standInSD
		}
		out = append(out, n)
	}
	return out, nil
}

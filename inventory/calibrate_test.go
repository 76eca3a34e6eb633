package inventory

import (
	"bufio"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// sharedRows reads a table of the reference data that lies beside a checkout.
func sharedRows(t testing.TB, name string) []string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		f, err := os.Open(filepath.Join(dir, "shared", "data", name))
		if err == nil {
			defer f.Close()
			var out []string
			for sc := bufio.NewScanner(f); sc.Scan(); {
				if s := strings.TrimSpace(sc.Text()); s != "" {
					out = append(out, s)
				}
			}
			return out
		}
		if filepath.Dir(dir) == dir {
			t.Skipf("the reference data (shared/data/%s) do not lie beside this checkout", name)
		}
		dir = filepath.Dir(dir)
	}
}

func toFloat(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// table builds a readings file.
type table struct {
	strings.Builder
	labs bool
}

func newTable(labs bool, more string) *table {
	w := &table{labs: labs}
	w.WriteString("tube,ci,paint_parts,white_parts,black_parts,specular" + more)
	if labs {
		w.WriteString(",L,a,b\n")
		return w
	}
	for i := range optics.Bands {
		fmt.Fprintf(w, ",%d", optics.Wavelength(i))
	}
	w.WriteString("\n")
	return w
}

func (w *table) row(tube, ci string, paint, white, black float64, f optics.Finish, s *optics.Spectrum) {
	fmt.Fprintf(w, "%s,%s,%g,%g,%g,%v", tube, ci, paint, white, black, f)
	if w.labs {
		c := s.Lab(optics.D65)
		fmt.Fprintf(w, ",%.2f,%.2f,%.2f\n", c.L, c.A, c.B)
		return
	}
	for _, v := range s {
		fmt.Fprintf(w, ",%.5f", v)
	}
	w.WriteString("\n")
}

func calibrated(t testing.TB, csv string, present *Box) (*Box, *Report) {
	t.Helper()
	rd, err := ReadReadings("set.csv", strings.NewReader(csv))
	if err != nil {
		t.Fatal(err)
	}
	b, r, err := Calibrate(rd, present)
	if err != nil {
		t.Fatal(err)
	}
	return b, r
}

// quickly is calibrated without leaving rows out.
func quickly(t testing.TB, csv string) *Box {
	t.Helper()
	rd, err := ReadReadings("set.csv", strings.NewReader(csv))
	if err != nil {
		t.Fatal(err)
	}
	b, _, err := calibrate(rd, nil, false)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// mixed is what the box foretells for parts of tubes.
func mixed(t testing.TB, b *Box, f optics.Finish, parts map[string]float64) lab.Lab {
	t.Helper()
	var ps []*optics.Paint
	var ws []float64
	for name, w := range parts {
		tube := b.Tube(name)
		if tube == nil {
			t.Fatalf("no tube %q in the box", name)
		}
		if w > 0 {
			ps, ws = append(ps, &tube.Paint), append(ws, w)
		}
	}
	m := optics.Mix(ps, ws)
	s := m.Reflectance(f)
	return s.Lab(optics.D65)
}

func meanMedian(v []float64) (mean, median float64) {
	slices.Sort(v)
	for _, x := range v {
		mean += x / float64(len(v))
	}
	n := len(v)
	return mean, (v[(n-1)/2] + v[n/2]) / 2
}

// oilFilm is one film of the CC0 set of Geldof, Proaño Gaibor, Kirchner &
// Ligterink, Heritage Science 6:17, 2018, brought to hiding from its readings
// over black and over white.
type oilFilm struct {
	share map[string]float64
	seen  optics.Spectrum
}

func oilSet(t testing.TB) map[string]oilFilm {
	t.Helper()
	spectra := map[string]optics.Spectrum{}
	for _, line := range sharedRows(t, "oil-mixtures/spectra.txt")[1:] {
		f := strings.Fields(line)
		var s optics.Spectrum
		for i := range s {
			s[i] = toFloat(t, f[i+1]) / 100
		}
		spectra[f[0]] = s
	}
	set := map[string]oilFilm{}
	for _, line := range sharedRows(t, "oil-mixtures/mixtures.txt") {
		id, rest, _ := strings.Cut(line, "\t")
		names, shares, _ := strings.Cut(rest, "|")
		film := oilFilm{share: map[string]float64{}}
		n := strings.Split(names, "-")
		for i, s := range strings.Split(shares, "-") {
			film.share[n[i]] = toFloat(t, s) / 100
		}
		ob, ok := spectra[id+"_ob"]
		if !ok {
			continue // 12E has no spectrum
		}
		ow := spectra[id+"_ow"]
		card := func(k string) optics.Spectrum {
			if s, ok := spectra[id+k]; ok {
				return s
			}
			return spectra[id[:2]+"A"+k]
		}
		b, w := card("_b"), card("_w")
		in := func(r float64) float64 {
			return optics.DrySurface.Internal(max(r, optics.DrySurface.K1+0.002), optics.Included)
		}
		for i := range film.seen {
			film.seen[i] = optics.DrySurface.Measured(optics.OpaqueFromTwo(in(ob[i]), in(b[i]), in(ow[i]), in(w[i])), optics.Included)
		}
		set[id] = film
	}
	if len(set) < 80 {
		t.Fatalf("only %d films read", len(set))
	}
	return set
}

// oilCodes are the codes of the set's pigments, where a tube has one.
var oilCodes = map[string]string{
	"01": "", "02": "", "03": "", "04": "NR4", "05": "PR105", "06": "PR106", "09": "PG18",
	"10": "PG21", "11": "PB29", "12": "PB28", "13": "PB27", "14": "PY34",
}

// oilTable writes the set as a readings file: white, greys, and of each
// pigment the films whose letter is in letters.
func oilTable(set map[string]oilFilm, letters string, labs, codes bool, groups ...string) string {
	w := newTable(labs, ",basis")
	out := func(tube, ci, own string, f oilFilm) {
		var row table
		row.labs = labs
		seen := f.seen
		row.row(tube, ci, 100*f.share[own], 100*f.share["ZincWhite"], 100*f.share["BoneBlack"], optics.Included, &seen)
		w.WriteString(strings.Replace(row.String(), ",included,", ",included,mass,", 1))
	}
	out("zinc white", map[bool]string{true: "PW4"}[codes], "", set["07A"])
	black := map[bool]string{true: "PBk9"}[codes]
	for _, id := range []string{"07C", "07D", "07E", "07F"} {
		out("bone black", black, "", set[id])
	}
	if groups == nil {
		groups = oilPigments
	}
	for _, g := range groups {
		own := oilName(set, g)
		for _, l := range letters {
			f, ok := set[g+string(l)]
			if ok && f.share[own] > 0 {
				ci := ""
				if codes {
					ci = oilCodes[g]
				}
				out(own, ci, own, f)
			}
		}
	}
	return w.String()
}

var oilPigments = []string{"01", "02", "03", "04", "05", "06", "09", "10", "11", "12", "13", "14"}

func oilName(set map[string]oilFilm, group string) string {
	for n, s := range set[group+"A"].share {
		if s > 0.5 {
			return n
		}
	}
	return ""
}

// The 50 % tints of all twelve pigments of the oil set, foretold from masstone
// and the about 10 % tint alone; Lab readings beside spectra. The aims are
// those this project was given: 2.5 for the median from spectra, and Lab within
// a tenth of that.
func TestOilHalfTints(t *testing.T) {
	t.Parallel()
	set := oilSet(t)
	for _, c := range []struct {
		labs, codes bool
		letters     string
	}{{false, false, "AB"}, {true, false, "AB"}, {false, false, "ABDEFG"}, {true, false, "ABDEFG"}, {false, true, "AB"}, {true, true, "AB"}} {
		csv := oilTable(set, c.letters, c.labs, c.codes)
		b := quickly(t, csv)
		var off []float64
		for _, g := range oilPigments {
			half, name := set[g+"C"], oilName(set, g)
			got := mixed(t, b, optics.Included, map[string]float64{name: half.share[name], "zinc white": half.share["ZincWhite"]})
			d := lab.DE00(got, half.seen.Lab(optics.D65))
			off = append(off, d)
			if !c.labs && !c.codes && c.letters == "AB" {
				t.Logf("%sC %-14s %.2f", g, name, d)
			}
		}
		mean, median := meanMedian(off)
		t.Logf("films %-6s Lab only %-5v codes %-5v: mean %.2f, median %.2f, largest %.2f ΔE00", c.letters, c.labs, c.codes, mean, median, off[len(off)-1])
		if !c.labs && !c.codes && c.letters == "AB" && median > 2.5 {
			t.Errorf("median %.2f ΔE00, aim 2.5", median)
		}
	}
}

// acrylics are the constants of one of the two acrylic sets of the reference
// data (Berns, Proc. Color and Imaging Conf. 24, 2016; Okumura, thesis,
// Rochester Institute of Technology 2005), by code and name.
func acrylics(t testing.TB, file string) (paints map[string]*optics.Paint, order []string) {
	t.Helper()
	paints = map[string]*optics.Paint{}
	for _, line := range sharedRows(t, "constants/"+file)[1:] {
		var f []string
		if i := strings.Index(line, `"`); i >= 0 { // a name with a comma
			j := strings.LastIndex(line, `"`)
			f = append(strings.Split(line[:i-1], ","), strings.ReplaceAll(line[i+1:j], ",", ""))
			f = append(f, strings.Split(line[j+2:], ",")...)
		} else {
			f = strings.Split(line, ",")
		}
		key := f[0] + "|" + f[1]
		p := paints[key]
		if p == nil {
			p = &optics.Paint{}
			paints[key] = p
			order = append(order, key)
		}
		to := &p.K
		if f[2] == "S" {
			to = &p.S
		}
		for i := range to {
			to[i] = toFloat(t, f[3+i])
		}
	}
	return paints, order
}

// Readings synthesised from known constants, and the 1:1 mixes of any two
// tubes foretold from them. The library holds many of the same constants, so
// that only the lines without codes and with spectra are free of them.
func TestSynthesisedMixes(t *testing.T) {
	t.Parallel()
	for file, finishes := range map[string][]optics.Finish{"heavy-body-acrylic.csv": {optics.Included}, "matte-fluid-acrylic.csv": {optics.Excluded}} {
		truth, order := acrylics(t, file)
		white := *truth["PW6|titanium white"]
		for i := range white.K {
			white.K[i] = max(white.K[i], 4e-4) // the heavy-body white's own is impossibly low
		}
		var black *optics.Paint
		for k, p := range truth {
			if strings.HasPrefix(k, "PBk") {
				black = p
			}
		}
		for _, f := range finishes {
			for _, labs := range []bool{false, true} {
				for _, codes := range []bool{false, true} {
					w := newTable(labs, "")
					film := func(tube, ci string, p *optics.Paint, a, wh, bk float64) {
						m := optics.Mix([]*optics.Paint{p, &white, black}, []float64{a, wh, bk})
						s := m.Reflectance(f)
						w.row(tube, ci, a, wh, bk, f, &s)
					}
					film("titanium white", "PW6", &white, 0, 1, 0)
					var names []string
					for _, k := range order {
						ci, name, _ := strings.Cut(k, "|")
						if ci == "PW6" {
							continue
						}
						// Names that are in no library, so that codes alone tell.
						name = "tube " + strings.ToUpper(name)
						if !strings.HasPrefix(ci, "PBk") {
							names = append(names, k)
						}
						if !codes && !strings.HasPrefix(ci, "PBk") {
							ci = ""
						} else if ci == "PBr7" {
							ci += "/" + strings.TrimPrefix(strings.ToLower(name), "tube ")
						}
						for _, tint := range []float64{0, 1, 4, 9} {
							film(name, ci, truth[k], 1, tint, 0)
						}
						if !strings.HasPrefix(ci, "PBk") {
							film(name, ci, truth[k], 9, 0, 1)
						}
					}
					b := quickly(t, w.String())
					var off []float64
					for i := range names {
						for j := range i {
							_, p, _ := strings.Cut(names[i], "|")
							_, q, _ := strings.Cut(names[j], "|")
							m := optics.Mix([]*optics.Paint{truth[names[i]], truth[names[j]]}, []float64{1, 1})
							s := m.Reflectance(f)
							got := mixed(t, b, f, map[string]float64{"tube " + p: 1, "tube " + q: 1})
							off = append(off, lab.DE00(got, s.Lab(optics.D65)))
						}
					}
					mean, median := meanMedian(off)
					t.Logf("%-24s specular %-8v Lab only %-5v codes %-5v: %d mixes, mean %.2f, median %.2f, 90 %% within %.2f ΔE00", file, f, labs, codes, len(off), mean, median, off[len(off)*9/10])
					limit := 0.5
					if labs {
						limit = 3
					}
					if median > limit {
						t.Errorf("median %.2f ΔE00, limit %.1f", median, limit)
					}
					if b.Finish == nil || *b.Finish != f {
						t.Errorf("the box's finish is %v, the readings' is %v", b.Finish, f)
					}
				}
			}
		}
	}
}

// Paints of another maker than the library's: of the codes that both acrylic
// sets hold, the set that is farther from the library's constants is the truth,
// so that the prior is honest. Masstone, 1:4 and 1:9 with 5 % portioning error
// and 2 % error of gain foretell the 1:1 mixes. The aim for Lab readings is a
// feasibility run's figure on measured paints, mean 3.4 ΔE00.
func TestOtherMakersPaints(t *testing.T) {
	t.Parallel()
	heavy, _ := acrylics(t, "heavy-body-acrylic.csv")
	matte, order := acrylics(t, "matte-fluid-acrylic.csv")
	white := *matte["PW6|titanium white"]
	apart := func(p, q *optics.Paint) (d float64) {
		for i := range p.K {
			d += math.Abs(math.Log(p.K[i]/q.K[i])) + math.Abs(math.Log(p.S[i]/q.S[i]))
		}
		return d
	}
	truth := map[string]*optics.Paint{}
	var codes []string
	for _, k := range order {
		ci, _, _ := strings.Cut(k, "|")
		lib, err := Find(ci)
		if err != nil || lib.White {
			continue
		}
		for h, p := range heavy {
			if strings.HasPrefix(h, ci+"|") {
				truth[ci] = p
				if apart(matte[k], &lib.Paint) > apart(p, &lib.Paint) {
					truth[ci] = matte[k]
				}
				codes = append(codes, ci)
			}
		}
	}
	if len(codes) < 9 {
		t.Fatalf("only %d codes in both sets", len(codes))
	}
	for _, c := range []struct {
		labs, code bool
		tints      []float64
	}{
		{false, true, []float64{0, 4, 9}}, {false, false, []float64{0, 4, 9}},
		{false, true, []float64{0, 4}}, {false, false, []float64{0, 4}},
		{true, true, []float64{0, 4, 9}}, {true, false, []float64{0, 4, 9}},
	} {
		var off []float64
		for seed := range uint64(3) {
			rng := rand.New(rand.NewPCG(seed, 1))
			w := newTable(c.labs, "")
			film := func(tube, ci string, p *optics.Paint, a, wh float64) {
				m := optics.Mix([]*optics.Paint{p, &white}, []float64{a, wh * math.Exp(0.05*rng.NormFloat64())})
				s := m.Reflectance(optics.Included)
				gain := 1 + 0.02*rng.NormFloat64()
				for i := range s {
					s[i] *= gain
				}
				w.row(tube, ci, a, wh, 0, optics.Included, &s)
			}
			film("titanium white", "PW6", &white, 0, 1)
			for i, ci := range codes {
				say := ci
				if !c.code {
					say = ""
				}
				for _, tint := range c.tints {
					film(fmt.Sprintf("tube %d", i), say, truth[ci], 1, tint)
				}
			}
			b := quickly(t, w.String())
			for i := range codes {
				for j := range i {
					m := optics.Mix([]*optics.Paint{truth[codes[i]], truth[codes[j]]}, []float64{1, 1})
					s := m.Reflectance(optics.Included)
					got := mixed(t, b, optics.Included, map[string]float64{fmt.Sprintf("tube %d", i): 1, fmt.Sprintf("tube %d", j): 1})
					off = append(off, lab.DE00(got, s.Lab(optics.D65)))
				}
			}
		}
		mean, median := meanMedian(off)
		t.Logf("Lab only %-5v codes %-5v tints %v: %d mixes, mean %.2f, median %.2f, 90 %% within %.2f, largest %.1f ΔE00", c.labs, c.code, c.tints, len(off), mean, median, off[len(off)*9/10], off[len(off)-1])
		if mean > 3.4 {
			t.Errorf("mean %.2f ΔE00, aim 3.4", mean)
		}
	}
}

// rows writes readings of paints made up for a test.
type maker struct {
	*table
	white, black optics.Paint
	finish       optics.Finish
}

func newMaker(labs bool, f optics.Finish) *maker {
	return &maker{newTable(labs, ""), mustFind("PW6").Paint, mustFind("PBk9").Paint, f}
}

func (m *maker) film(tube, ci string, p *optics.Paint, a, w, k float64) {
	mix := optics.Mix([]*optics.Paint{p, &m.white, &m.black}, []float64{a, w, k})
	s := mix.Reflectance(m.finish)
	m.row(tube, ci, a, w, k, m.finish, &s)
}

// Any sane set of rows gives a box whose tubes foretell their own readings.
func TestCalibrateAnyRows(t *testing.T) {
	t.Parallel()
	blue, yellow := mustFind("PB29").Paint.Strengthened(1.3), mustFind("PY184").Paint.Strengthened(0.8)
	for _, labs := range []bool{false, true} {
		for name, c := range map[string]struct {
			rows  func(m *maker)
			tubes int
			white string
			warns string
			off   float64 // bound on the mean residual, ΔE00
		}{
			"masstone only": {func(m *maker) {
				m.film("W", "PW6", &m.white, 0, 1, 0)
				m.film("b", "PB29", &blue, 1, 0, 0)
			}, 2, "W", "", 1},
			"tints only": {func(m *maker) {
				m.film("W", "PW6", &m.white, 0, 1, 0)
				m.film("b", "PB29", &blue, 1, 4, 0)
				m.film("b", "PB29", &blue, 1, 20, 0)
			}, 2, "W", "", 1},
			"no white": {func(m *maker) {
				m.film("b", "PB29", &blue, 1, 0, 0)
				m.film("b", "PB29", &blue, 1, 4, 0)
			}, 2, "titanium white", "no row of the white alone", 1},
			"white without a code": {func(m *maker) {
				m.film("Opaque Nº 1", "", &m.white, 0, 1, 0)
				m.film("b", "", &blue, 1, 0, 0)
				m.film("b", "", &blue, 1, 4, 0)
			}, 2, "Opaque Nº 1", "", 1},
			"white as paint": {func(m *maker) {
				m.film("zinc-free white", "PW6", &m.white, 1, 0, 0)
				m.film("b", "", &blue, 1, 4, 0)
			}, 2, "zinc-free white", "read as a white's own row", 1},
			"white's row under each tube": {func(m *maker) {
				for _, n := range []string{"b", "c"} {
					m.film(n, "", &blue, 0, 1, 0)
					m.film(n, "", &blue, 1, 0, 0)
					m.film(n, "", &blue, 1, 4, 0)
				}
			}, 3, "white", "", 1},
			"two whites": {func(m *maker) {
				m.film("first white", "PW6", &m.white, 0, 1, 0)
				m.film("second white", "PW6", &m.white, 0, 1, 0)
				m.film("b", "PB29", &blue, 1, 0, 0)
				m.film("b", "PB29", &blue, 1, 4, 0)
			}, 3, "first white", "2 whites were measured", 1},
			"greys with the black's rows": {func(m *maker) {
				m.film("W", "PW6", &m.white, 0, 1, 0)
				m.film("b", "PB29", &blue, 1, 0, 0)
				m.film("b", "PB29", &blue, 8, 4, 1)
				m.film("ivory black", "PBk9", &m.black, 1, 0, 0)
				m.film("ivory black", "PBk9", &m.black, 1, 9, 0)
			}, 3, "W", "", 1},
			"greys of white and black only": {func(m *maker) {
				m.film("W", "PW6", &m.white, 0, 1, 0)
				m.film("W", "PW6", &m.white, 0, 9, 1)
				m.film("W", "PW6", &m.white, 0, 2, 1)
				m.film("b", "PB29", &blue, 8, 4, 1)
			}, 3, "W", "", 1.5},
			"greys without a black": {func(m *maker) {
				m.film("W", "PW6", &m.white, 0, 1, 0)
				m.film("b", "PB29", &blue, 8, 4, 1)
			}, 2, "W", "library's bone black", 1},
			"an unknown code": {func(m *maker) {
				m.film("W", "PW6", &m.white, 0, 1, 0)
				m.film("b", "PB999", &blue, 1, 0, 0)
				m.film("b", "PB999", &blue, 1, 4, 0)
			}, 2, "W", "", 1},
			"one code, two tubes": {func(m *maker) {
				m.film("W", "PW6", &m.white, 0, 1, 0)
				for _, n := range []string{"b", "c"} {
					m.film(n, "PB29", &blue, 1, 0, 0)
					m.film(n, "PB29", &blue, 1, 4, 0)
				}
			}, 3, "W", "", 1},
			"a code with several paints": {func(m *maker) {
				m.film("W", "PW6", &m.white, 0, 1, 0)
				umber := mustFind("PBr7/burnt umber").Paint
				m.film("e", "PBr7", &umber, 1, 0, 0)
				m.film("e", "PBr7", &umber, 1, 4, 0)
			}, 2, "W", "", 1},
			"the wrong code": {func(m *maker) {
				m.film("W", "PW6", &m.white, 0, 1, 0)
				m.film("b", "PB29", &yellow, 1, 0, 0)
				m.film("b", "PB29", &yellow, 1, 4, 0)
			}, 2, "W", "does not read like PB29", 1.5},
			"doubled rows": {func(m *maker) {
				m.film("W", "PW6", &m.white, 0, 1, 0)
				for range 3 {
					m.film("b", "PB29", &blue, 1, 0, 0)
					m.film("b", "PB29", &blue, 1, 4, 0)
				}
			}, 2, "W", "", 1},
			"glossy": {func(m *maker) {
				m.finish = optics.Excluded
				m.film("W", "PW6", &m.white, 0, 1, 0)
				m.film("b", "PB29", &blue, 1, 0, 0)
				m.film("b", "PB29", &blue, 1, 4, 0)
			}, 2, "W", "", 1},
		} {
			m := newMaker(labs, optics.Included)
			c.rows(m)
			b, r := calibrated(t, m.String(), nil)
			if len(b.Tubes) != c.tubes || b.White() == nil || b.White().Name != c.white || r.White != c.white {
				t.Errorf("%s: %d tubes, white %v", name, len(b.Tubes), b.White())
				continue
			}
			for _, tr := range r.Tubes {
				if tr.Residual > c.off {
					t.Errorf("%s, Lab only %v: %s lies %.2f ΔE00 from its own readings (%s)", name, labs, tr.Tube, tr.Residual, tr.Start)
				}
				for _, row := range tr.Rows {
					if row.Suspicious != "" {
						t.Errorf("%s, Lab only %v: false alarm: %s", name, labs, row.Suspicious)
					}
				}
			}
			all := strings.Join(r.Warnings, "\n")
			if c.warns != "" && !strings.Contains(all, c.warns) {
				t.Errorf("%s, Lab only %v: warnings %q do not say %q", name, labs, all, c.warns)
			}
			if data, err := b.encode("b.yaml", nil); err != nil {
				t.Errorf("%s: %v", name, err)
			} else if _, err := ParseBox("b.yaml", data); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}

// Parts by mass are the same problem with other constants: a white 1.4 times
// as dense, within one set, changes no prediction in parts by mass.
func TestCalibrateByMass(t *testing.T) {
	blue, red := mustFind("PB29").Paint, mustFind("PR254").Paint
	const dense = 1.4
	m := newMaker(false, optics.Included)
	film := func(tube string, p *optics.Paint, a, w float64) { // a, w by mass
		mix := optics.Mix([]*optics.Paint{p, &m.white}, []float64{a, w / dense})
		s := mix.Reflectance(m.finish)
		m.row(tube, "", a, w, 0, m.finish, &s)
	}
	film("W", &m.white, 0, 1)
	for n, p := range map[string]*optics.Paint{"b": &blue, "r": &red} {
		for _, w := range []float64{0, 1, 4, 9} {
			film(n, p, 1, w)
		}
	}
	csv := strings.ReplaceAll(strings.Replace(m.String(), "specular", "specular,basis", 1), ",included,", ",included,mass,")
	b, r := calibrated(t, csv, nil)
	if !strings.Contains(strings.Join(r.Warnings, " "), "by mass") {
		t.Errorf("warnings %q", r.Warnings)
	}
	mix := optics.Mix([]*optics.Paint{&blue, &red, &m.white}, []float64{1, 1, 4 / dense})
	want := mix.Reflectance(optics.Included)
	got := mixed(t, b, optics.Included, map[string]float64{"b": 1, "r": 1, "W": 4})
	if d := lab.DE00(got, want.Lab(optics.D65)); d > 1 {
		t.Errorf("mix by mass %.2f ΔE00 off", d)
	}
}

// suspects counts the rows of a tube, or of all, that are called suspicious.
func suspects(t testing.TB, csv, tube string, present *Box) (n int, why string) {
	t.Helper()
	_, r := calibrated(t, csv, present)
	for _, tr := range r.Tubes {
		for _, row := range tr.Rows {
			if row.Suspicious != "" && (tube == "" || tube == tr.Tube) {
				n, why = n+1, row.Suspicious
			}
		}
	}
	return n, why
}

// Of rows that are in order none is called suspicious, over the measured oil
// films; with two rows of a tube swapped, both are named as such, and a row
// that is another tube's is named.
func TestWrongRowsOfATubeAreNamed(t *testing.T) {
	t.Parallel()
	set := oilSet(t)
	for _, labs := range []bool{false, true} {
		for _, codes := range []bool{false, true} {
			if n, why := suspects(t, oilTable(set, "ABCDEFG", labs, codes), "", nil); n > 0 {
				t.Errorf("Lab only %v, codes %v: %d rows called suspicious that are as measured: %s", labs, codes, n, why)
			}
		}
		// White and black are the same in all that follows: fitted once.
		whiteBlack := quickly(t, oilTable(set, "", labs, false))
		alone := func(bad map[string]oilFilm, g string) string {
			var out strings.Builder
			for line := range strings.Lines(oilTable(bad, "ABCDEFG", labs, false, g)) {
				if !strings.HasPrefix(line, "zinc white,") && !strings.HasPrefix(line, "bone black,") {
					out.WriteString(line)
				}
			}
			return out.String()
		}
		for k, swap := range []string{"BC", "AB", "AC"} {
			found, of := 0, 0
			for i, g := range oilPigments {
				if k > 0 && i%2 == k%2 { // half of the tubes each, for time
					continue
				}
				of++
				bad := maps.Clone(set)
				p, q := bad[g+swap[:1]], bad[g+swap[1:]]
				p.seen, q.seen = q.seen, p.seen
				bad[g+swap[:1]], bad[g+swap[1:]] = p, q
				n, why := suspects(t, alone(bad, g), oilName(set, g), whiteBlack)
				if n == 2 && strings.Contains(why, "look swapped") {
					found++
				}
			}
			t.Logf("Lab only %-5v: rows %s swapped: named in %d of %d tubes", labs, swap, found, of)
			if found < of {
				t.Errorf("rows %s swapped: named in only %d of %d tubes", swap, found, of)
			}
		}
		found := 0
		for i, g := range oilPigments {
			if i%2 == 0 == labs {
				continue
			}
			bad := maps.Clone(set)
			p := bad[g+"B"]
			p.seen = set[oilPigments[(i+5)%len(oilPigments)]+"B"].seen
			bad[g+"B"] = p
			if n, _ := suspects(t, alone(bad, g), oilName(set, g), whiteBlack); n > 0 {
				found++
			} else {
				t.Logf("  not in %s", oilName(set, g))
			}
		}
		t.Logf("Lab only %-5v: the 10 %% tint is another tube's: named in %d of %d tubes", labs, found, len(oilPigments)/2)
		if found < 5 {
			t.Errorf("another tube's row named in only %d tubes", found)
		}
	}
}

// otherMaker writes the paints of the matte set under their codes: for the ten
// codes that the library takes from the other acrylic set they are another
// maker's. order gives which masstone stands in which tube's row.
func otherMaker(t testing.TB, labs bool, f optics.Finish, order func(codes []string) []string) (csv string, codes []string) {
	t.Helper()
	truth, keys := acrylics(t, "matte-fluid-acrylic.csv")
	white := truth["PW6|titanium white"]
	w := newTable(labs, "")
	film := func(tube, ci string, p *optics.Paint, a, wh float64) {
		m := optics.Mix([]*optics.Paint{p, white}, []float64{a, wh})
		s := m.Reflectance(f)
		w.row(tube, ci, a, wh, 0, f, &s)
	}
	film("white", "PW6", white, 0, 1)
	paint := map[string]*optics.Paint{}
	for _, k := range keys {
		ci, name, _ := strings.Cut(k, "|")
		if p, err := Find(ci); err != nil {
			ci += "/" + name
		} else if p.White {
			continue
		}
		if ci == "PBr7/raw umber" { // looks wrong in that set
			continue
		}
		paint[ci] = truth[k]
		codes = append(codes, ci)
	}
	for i, ci := range order(slices.Clone(codes)) {
		film("tube "+codes[i], codes[i], paint[ci], 1, 0)
		film("tube "+codes[i], codes[i], paint[codes[i]], 1, 4)
		film("tube "+codes[i], codes[i], paint[codes[i]], 1, 9)
	}
	return w.String(), codes
}

// Another maker's paints under the right codes raise no alarm; with the
// masstones of two tubes swapped, both rows are named, the less surely the more
// alike the two are.
func TestMasstonesOfTwoTubesSwapped(t *testing.T) {
	t.Parallel()
	for _, labs := range []bool{false, true} {
		for _, f := range []optics.Finish{optics.Included, optics.Excluded} {
			csv, codes := otherMaker(t, labs, f, func(c []string) []string { return c })
			if n, why := suspects(t, csv, "", nil); n > 0 {
				t.Errorf("Lab only %v, %v: %d false alarms, such as: %s", labs, f, n, why)
			}
			csv, _ = otherMaker(t, labs, f, func(c []string) []string {
				a, b := slices.Index(c, "PB29"), slices.Index(c, "PG7")
				c[a], c[b] = c[b], c[a]
				return c
			})
			_, r := calibrated(t, csv, nil)
			all := strings.Join(r.Warnings, "\n")
			if strings.Count(all, "look swapped") != 1 || !strings.Contains(all, "masstone of tube PB29") || !strings.Contains(all, "masstone of tube PG7") {
				t.Errorf("Lab only %v, %v: PB29 and PG7 swapped: %s", labs, f, all)
			}
			if labs == (f == optics.Excluded) {
				continue // two of the four are enough for pairs
			}
			pairs, named := 0, 0
			for i := range codes {
				j := (i + 7) % len(codes)
				if i > j {
					continue
				}
				csv, _ = otherMaker(t, labs, f, func(c []string) []string { c[i], c[j] = c[j], c[i]; return c })
				rd, err := ReadReadings("set.csv", strings.NewReader(csv))
				if err != nil {
					t.Fatal(err)
				}
				rd.Tubes = slices.DeleteFunc(rd.Tubes, func(m MeasuredTube) bool {
					return m.Name != "white" && m.Name != "tube "+codes[i] && m.Name != "tube "+codes[j]
				})
				_, r, err := Calibrate(rd, nil)
				if err != nil {
					t.Fatal(err)
				}
				pairs++
				if n := len(r.Tubes); r.Tubes[n-2].Rows[0].Suspicious != "" && r.Tubes[n-1].Rows[0].Suspicious != "" {
					named++
				} else {
					t.Logf("  not both: %s and %s; %s", codes[i], codes[j], strings.Join(r.Warnings, "; "))
				}
			}
			t.Logf("Lab only %-5v specular %v: masstones swapped: both tubes named in %d of %d pairs", labs, f, named, pairs)
			if named < pairs*3/4 {
				t.Errorf("named in only %d of %d", named, pairs)
			}
		}
	}
}

// Paints measured with the surface's reflection left out, under a file that
// says it is counted (the surface: k1 = 0.03, Berns 2016): said aloud and first,
// with the mend, and what is stated is followed.
func TestShineThatIsNotThere(t *testing.T) {
	quick := func(csv string) (*Box, *Report) {
		b, r, err := calibrate(read(t, csv), nil, false)
		if err != nil {
			t.Fatal(err)
		}
		return b, r
	}
	for _, labs := range []bool{false, true} {
		csv, codes := otherMaker(t, labs, optics.Excluded, func(c []string) []string { return c })
		b, r := quick(strings.ReplaceAll(csv, ",excluded,", ",in,"))
		for _, want := range []string{"lines ", "specular in", "these read as specular excluded: say out"} {
			if !strings.Contains(r.Warnings[0], want) {
				t.Errorf("Lab only %v: first warning %q does not say %q", labs, r.Warnings[0], want)
			}
		}
		if b.Finish == nil || *b.Finish != optics.Included {
			t.Errorf("finish %v", b.Finish)
		}
		if _, r := quick(csv); strings.Contains(strings.Join(r.Warnings, " "), "say out") {
			t.Errorf("Lab only %v: false alarm: %q", labs, r.Warnings)
		}
		csv, _ = otherMaker(t, labs, optics.Included, func(c []string) []string { return c })
		if _, r := quick(csv); strings.Contains(strings.Join(r.Warnings, " "), "say out") {
			t.Errorf("Lab only %v: false alarm: %q", labs, r.Warnings)
		}
		// Nothing stated: the same sign decides.
		csv, _ = otherMaker(t, labs, optics.Excluded, func(c []string) []string { return c })
		if b, _ := quick(strings.ReplaceAll(csv, ",excluded,", ",,")); *b.Finish != optics.Excluded {
			t.Errorf("Lab only %v, of %d tubes: taken as counted", labs, len(codes))
		}
	}
	// A red is light enough, but its dark bands tell.
	m := newMaker(false, optics.Excluded)
	red := mustFind("PR254").Paint
	m.film("r", "PR254", &red, 1, 0, 0)
	_, r := quick(strings.ReplaceAll(m.String(), ",excluded,", ",in,"))
	if want := "line 2 is said to count the surface's reflection (specular in) but reads as little as "; !strings.HasPrefix(r.Warnings[0], want) {
		t.Errorf("%q, want %q", r.Warnings[0], want)
	}
	// In a box file there are no lines.
	box := parse(t, "tubes:\n- name: y\n  readings:\n  - {parts: 1, specular: included, lab: [8, 2, -3]}\n")
	if !strings.Contains(strings.Join(box.Notes, " "), "masstone of y is said to count") {
		t.Errorf("%q", box.Notes)
	}
}

// What may be a white and what not; the limits are common practice, no source.
func TestWhichIsTheWhite(t *testing.T) {
	const tints = "blue,PB29,1,0,in,23.4,19.8,-32\nblue,PB29,1,4,in,52.6,9.7,-45\n"
	const head = "tube,ci,paint_parts,white_parts,specular,L,a,b\n"
	for _, c := range []struct{ rows, white, says, err string }{
		{"W,PW6,0,1,in,96,-1,2\n", "W", "", ""},
		{"W,PW6,1,0,in,96,-1,2\n", "W", "read as a white's own row", ""},
		{"soft white,,1,0,in,93,-1,5\n", "soft white", "read as a white's own row", ""},
		{"No. 1,,1,0,in,95,-1,3\n", "No. 1", "has no code, but is nearly neutral and lighter than L* 88", ""},
		{"No. 1,,1,0,in,95,-1,3\nW,PW6,0,1,in,96,-1,2\n", "W", "", ""},
		{"W,PW6,1,0,in,96,-1,2\nZ,PW4,1,0,in,95,-1,2\n", "W", "2 whites were measured", ""},
		{"aged,PW1,0,1,in,86,0,13\n", "aged", "", ""},
		{"cream,,1,0,in,90,2,18\n", "titanium white", "no row of the white alone", ""},
		{"W,PW6,0,1,in,62,-1,2\n", "", "", "r.csv:2: W reads L* 62 and C* 2 as a white by itself"},
		{"W,PW6,1,0,in,45,40,20\n", "", "", "r.csv:2: W reads L* 45 and C* 45 as a white by itself, and no white is below L* 80 or above C* 15: the wrong row, or the wrong code PW6?"},
		{"blue,PB29,0,1,in,52.6,9.7,-45\n", "", "", "paint_parts 0 where 1 was meant?"},
	} {
		b, r, err := Calibrate(read(t, head+c.rows+tints), nil)
		if c.err != "" {
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%q: %v, want %q", c.rows, err, c.err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%q: %v", c.rows, err)
			continue
		}
		if r.White != c.white || b.White() == nil || b.White().Name != c.white {
			t.Errorf("%q: the white is %q", c.rows, r.White)
		}
		if s := strings.Join(r.Warnings, "; "); !strings.Contains(s, c.says) {
			t.Errorf("%q: %q does not say %q", c.rows, s, c.says)
		}
	}
	// Into a box that has a white, the same stays a paint.
	b, r, err := Calibrate(read(t, head+"No. 1,,1,0,in,95,-1,3\n"+tints), Starter())
	if err != nil {
		t.Fatal(err)
	}
	if s := strings.Join(r.Warnings, "; "); b.White().Name != "titanium white" || b.Tube("No. 1").White || !strings.Contains(s, "and not with the box's titanium white") {
		t.Errorf("the white is %s; %s", b.White().Name, s)
	}
}

// Nine-in-ten bounds from the tubes' Modes, portions exact, against films of
// the oil set that were kept out of the fit; mixes with black, in which what a
// colour scatters counts most, also by themselves. The aim given to this
// project is a share of 85 to 95 %, and no film may make a mock of its bound.
func TestModesCoverOilFilms(t *testing.T) {
	t.Parallel()
	set := oilSet(t)
	for _, labs := range []bool{false, true} {
		inside, n, blackInside, blacks := 0, 0, 0, 0
		worst, worstID := 0.0, ""
		var bounds []float64
		for _, letters := range []string{"AB", "AC", "ABC"} {
			b := quickly(t, oilTable(set, letters, labs, false))
			for _, g := range oilPigments {
				name := oilName(set, g)
				for _, l := range "BCDEFG" {
					f, ok := set[g+string(l)]
					if !ok || f.share[name] == 0 || strings.ContainsRune(letters, l) {
						continue
					}
					tubes := []*Tube{b.Tube(name), b.Tube("zinc white"), b.Tube("bone black")}
					parts := []float64{f.share[name], f.share["ZincWhite"], f.share["BoneBlack"]}
					foretold := func(step func() float64) lab.Lab {
						var ps []*optics.Paint
						for _, tube := range tubes {
							p := tube.Paint
							for i := range tube.Modes {
								p = tube.Modes[i].Apply(p, step())
							}
							ps = append(ps, &p)
						}
						m := optics.Mix(ps, parts)
						s := m.Reflectance(optics.Included)
						return s.Lab(optics.D65)
					}
					base := foretold(func() float64 { return 0 })
					rng := rand.New(rand.NewPCG(1, uint64(n)))
					var off []float64
					for range 100 {
						off = append(off, lab.DE00(foretold(rng.NormFloat64), base))
					}
					slices.Sort(off)
					n++
					bounds = append(bounds, off[90])
					d := lab.DE00(base, f.seen.Lab(optics.D65))
					if d/off[90] > worst {
						worst, worstID = d/off[90], g+string(l)+" from "+letters
					}
					if parts[2] > 0 {
						blacks++
					}
					if d <= off[90] {
						inside++
						if parts[2] > 0 {
							blackInside++
						}
					}
				}
			}
		}
		_, median := meanMedian(bounds)
		t.Logf("Lab only %-5v: %d of %d films within their bounds (%d %%), with black %d of %d (%d %%); bounds' median %.1f ΔE00; farthest out %s, %.1f times its bound", labs, inside, n, 100*inside/n, blackInside, blacks, 100*blackInside/blacks, median, worstID, worst)
		if share := float64(inside) / float64(n); share < 0.8 || share > 0.97 {
			t.Errorf("%.0f %% within, aim 85 to 95 %%", 100*share)
		}
		if share := float64(blackInside) / float64(blacks); share < 0.8 {
			t.Errorf("%.0f %% of mixes with black within", 100*share)
		}
		if worst > 2.5 {
			t.Errorf("%s lies %.1f times its bound away", worstID, worst)
		}
	}
}

// A tube without a code is not likened to library paints that are set apart.
func TestGuidesSetApart(t *testing.T) {
	c := &calibration{rd: &Readings{Apart: []string{"Geldof"}}}
	all := len(Library())
	if got := len(c.guides()); got != all-6 {
		t.Errorf("%d of %d paints are left; six were brought over from the oil set", got, all)
	}
	c.rd.Apart = nil
	if got := len(c.guides()); got != all {
		t.Errorf("%d of %d paints with none set apart", got, all)
	}
}

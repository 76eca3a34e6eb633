package inventory

import (
	"bufio"
	"fmt"
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
func oilTable(set map[string]oilFilm, letters string, labs, codes bool) string {
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
	for _, g := range oilPigments {
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
	set := oilSet(t)
	for _, c := range []struct {
		labs, codes bool
		letters     string
	}{{false, false, "AB"}, {true, false, "AB"}, {false, false, "ABDEFG"}, {true, false, "ABDEFG"}, {false, true, "AB"}, {true, true, "AB"}} {
		csv := oilTable(set, c.letters, c.labs, c.codes)
		b, _ := calibrated(t, csv, nil)
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
// tubes foretold from them.
func TestSynthesisedMixes(t *testing.T) {
	for _, file := range []string{"heavy-body-acrylic.csv", "matte-fluid-acrylic.csv"} {
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
		for _, f := range []optics.Finish{optics.Included, optics.Excluded} {
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
					b, r := calibrated(t, w.String(), nil)
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
					residual, left := 0.0, 0.0
					for _, tr := range r.Tubes {
						residual += tr.Residual / float64(len(r.Tubes))
						left += max(tr.LeftOut, 0) / float64(len(r.Tubes))
					}
					t.Logf("%-24s specular %-8v Lab only %-5v codes %-5v: %d mixes, mean %.2f, median %.2f, 90 %% within %.2f ΔE00; residual %.2f, left out %.2f", file, f, labs, codes, len(off), mean, median, off[len(off)*9/10], residual, left)
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
	for _, c := range []struct{ labs, code bool }{{false, true}, {false, false}, {true, true}, {true, false}} {
		var off []float64
		for seed := range uint64(5) {
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
				for _, tint := range []float64{0, 4, 9} {
					film(fmt.Sprintf("tube %d", i), say, truth[ci], 1, tint)
				}
			}
			b, _ := calibrated(t, w.String(), nil)
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
		t.Logf("Lab only %-5v codes %-5v: %d mixes, mean %.2f, median %.2f, 90 %% within %.2f ΔE00", c.labs, c.code, len(off), mean, median, off[len(off)*9/10])
		if mean > 3.4 {
			t.Errorf("mean %.2f ΔE00, aim 3.4", mean)
		}
	}
}

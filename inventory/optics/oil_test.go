package optics_test

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"

	"paintout/analyze/lab"
	. "paintout/inventory/optics"
)

// sharedFile finds a file of the reference data that lies beside a checkout.
func sharedFile(t testing.TB, name string) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		p := filepath.Join(dir, "shared", "data", name)
		if _, err := os.Stat(p); err == nil {
			return p
		}
		if filepath.Dir(dir) == dir {
			t.Skipf("the reference data (shared/data/%s) do not lie beside this checkout", name)
		}
		dir = filepath.Dir(dir)
	}
}

func sharedLines(t testing.TB, name string) []string {
	t.Helper()
	f, err := os.Open(sharedFile(t, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var out []string
	for sc := bufio.NewScanner(f); sc.Scan(); {
		if s := strings.TrimSpace(sc.Text()); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// oilFilm is one film of the CC0 set of Geldof, Proaño Gaibor, Kirchner &
// Ligterink, Heritage Science 6:17, 2018: mass shares by component, and the
// reflectance an opaque film would have, from the readings over both grounds.
type oilFilm struct {
	id    string
	share map[string]float64
	seen  Spectrum
	sd    Spectrum // what reading errors of 0.003 over each ground do to seen
}

func oilSet(t testing.TB) map[string]oilFilm {
	t.Helper()
	spectra := map[string]Spectrum{}
	for _, line := range sharedLines(t, "oil-mixtures/spectra.txt")[1:] {
		f := strings.Fields(line)
		var s Spectrum
		for i := range s {
			v, err := strconv.ParseFloat(f[i+1], 64)
			if err != nil {
				t.Fatal(err)
			}
			s[i] = v / 100
		}
		spectra[f[0]] = s
	}
	set := map[string]oilFilm{}
	for _, line := range sharedLines(t, "oil-mixtures/mixtures.txt") {
		id, rest, _ := strings.Cut(line, "\t")
		names, shares, _ := strings.Cut(rest, "|")
		film := oilFilm{id: id, share: map[string]float64{}}
		n := strings.Split(names, "-")
		for i, s := range strings.Split(shares, "-") {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			film.share[n[i]] = v / 100
		}
		ob, ok1 := spectra[id+"_ob"]
		ow, ok2 := spectra[id+"_ow"]
		if !ok1 || !ok2 {
			continue // 12E has no spectrum
		}
		card := func(k string) Spectrum {
			if s, ok := spectra[id+k]; ok {
				return s
			}
			return spectra[id[:2]+"A"+k]
		}
		b, w := card("_b"), card("_w")
		for i := range film.seen {
			opaque := func(overBlack, overWhite float64) float64 {
				in := func(r float64) float64 { return DrySurface.Internal(max(r, DrySurface.K1+0.002), Included) }
				return DrySurface.Measured(OpaqueFromTwo(in(overBlack), in(b[i]), in(overWhite), in(w[i])), Included)
			}
			film.seen[i] = opaque(ob[i], ow[i])
			film.sd[i] = math.Hypot(opaque(ob[i]+0.003, ow[i])-film.seen[i], opaque(ob[i], ow[i]+0.003)-film.seen[i])
		}
		set[id] = film
	}
	if len(set) < 80 {
		t.Fatalf("only %d films read", len(set))
	}
	return set
}

// zincAndBlack gives the set's white, which defines S = 1 here, and bone black
// from its greys.
func zincAndBlack(t testing.TB, set map[string]oilFilm) (white, black Paint) {
	t.Helper()
	in := DrySurface.Inside(set["07A"].seen, Included)
	for i := range in {
		white.S[i], white.K[i] = 1, RToKS(in[i])
	}
	var greys []Drawdown
	for _, id := range []string{"07C", "07D", "07E", "07F"} {
		f := set[id]
		greys = append(greys, Drawdown{Parts: f.share["BoneBlack"], With: []*Paint{&white}, WithOf: []float64{f.share["ZincWhite"]}, Seen: f.seen, Spread: f.sd})
	}
	fit, err := Fit(greys, OpenPrior(), UsualNoise)
	if err != nil {
		t.Fatal(err)
	}
	return white, fit.Paint
}

// The 50 % tints of all twelve pigments of the oil set, foretold from masstone
// and the about 10 % tint alone, white and black from the greys.
func TestOilSetHalfTints(t *testing.T) {
	set := oilSet(t)
	white, _ := zincAndBlack(t, set)
	var off []float64
	for _, g := range []string{"01", "02", "03", "04", "05", "06", "09", "10", "11", "12", "13", "14"} {
		mass, tint, half := set[g+"A"], set[g+"B"], set[g+"C"]
		of := func(f oilFilm) (p, w float64) {
			for n, s := range f.share {
				switch n {
				case "ZincWhite":
					w = s
				case "BoneBlack":
				default:
					p = s
				}
			}
			return p, w
		}
		var films []Drawdown
		for _, f := range []oilFilm{mass, tint} {
			p, w := of(f)
			films = append(films, Drawdown{Parts: p, With: []*Paint{&white}, WithOf: []float64{w}, Seen: f.seen, Spread: f.sd})
		}
		fit, err := Fit(films, OpenPrior(), UsualNoise)
		if err != nil {
			t.Fatal(err)
		}
		p, w := of(half)
		mix := Mix([]*Paint{&fit.Paint, &white}, []float64{p, w})
		got, want := mix.Reflectance(Included), half.seen
		d := lab.DE00(got.Lab(D65), want.Lab(D65))
		off = append(off, d)
		var name string
		for n := range half.share {
			if n != "ZincWhite" && n != "BoneBlack" {
				name = n
			}
		}
		t.Logf("%sC %-14s %.2f ΔE00   measured %s  foretold %s", g, name, d, show(want.Lab(D65)), show(got.Lab(D65)))
	}
	sort.Float64s(off)
	median := (off[5] + off[6]) / 2
	mean := 0.0
	for _, d := range off {
		mean += d / float64(len(off))
	}
	t.Logf("median %.2f, mean %.2f, largest %.2f ΔE00", median, mean, off[11])
	if median > 2.5 {
		t.Errorf("median %.2f ΔE00, aim 2.5", median)
	}
}

func show(c lab.Lab) string { return fmt.Sprintf("(%.1f %.1f %.1f)", c.L, c.A, c.B) }

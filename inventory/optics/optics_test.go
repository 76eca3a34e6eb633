package optics_test

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
	. "paintout/inventory/optics"
)

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// columns reads a wavelength-by-sample CSV at our 10 nm grid.
func columns(t testing.TB, name string) map[string]*Spectrum {
	t.Helper()
	lines := sharedLines(t, name)
	head := strings.Split(lines[0], ",")
	out := map[string]*Spectrum{}
	for _, h := range head[1:] {
		out[h] = new(Spectrum)
	}
	for _, line := range lines[1:] {
		f := strings.Split(line, ",")
		nm := int(number(t, f[0]))
		if nm < FirstNM || nm > LastNM || (nm-FirstNM)%StepNM != 0 {
			continue
		}
		for i, h := range head[1:] {
			out[h][(nm-FirstNM)/StepNM] = number(t, f[i+1])
		}
	}
	return out
}

// The fifteen CIE test colours (CIE 13.3) against ArgyllCMS spec2cie, which
// also takes 10 nm input. XYZ is compared, since its Lab is against D50 under
// every illuminant. It sees 360–830 nm where we hold the ends of 400–700, so
// saturated and rising spectra differ a little.
func TestCIETestColours(t *testing.T) {
	tcs := columns(t, "reference/cie_tcs15_reflectance_5nm.csv")
	n, worst := 0, 0.0
	for _, line := range sharedLines(t, "reference/tcs_spec2cie_argyll.csv")[1:] {
		f := strings.Split(line, ",")
		if f[2] != "10" {
			continue
		}
		il, err := ParseIlluminant(f[1])
		if err != nil {
			t.Fatal(err)
		}
		want := lab.FromXYZ(lab.XYZ{X: number(t, f[3]), Y: number(t, f[4]), Z: number(t, f[5])}, il.White())
		got := tcs[f[0]].Lab(il)
		d := lab.DE00(got, want)
		worst = max(worst, d)
		n++
		t.Logf("%s %s %.3f", f[0], f[1], d)
		if d > 0.2 {
			t.Errorf("%s %s: %s, ArgyllCMS %s: %.3f ΔE00", f[0], f[1], show(got), show(want), d)
		}
	}
	t.Logf("%d colours, largest difference %.3f ΔE00", n, worst)
	if n < 30 {
		t.Fatalf("only %d reference rows", n)
	}
}

// Ohta's measurements of a 24-patch chart against the E308 integration of
// colour-science 0.4.6 over 380–780 nm.
func TestChart24(t *testing.T) {
	chart := columns(t, "reference/colorchecker24_ohta_reflectance_10nm.csv")
	n, worst := 0, 0.0
	for _, line := range sharedLines(t, "reference/colorchecker24_ohta_xyz_lab_E308.csv")[1:] {
		// Patch names hold commas in neither file.
		f := strings.Split(line, ",")
		il, err := ParseIlluminant(f[1])
		if err != nil {
			t.Fatal(err)
		}
		s, ok := chart[f[0]]
		if !ok {
			t.Fatalf("no reflectance of %q", f[0])
		}
		want := lab.Lab{L: number(t, f[5]), A: number(t, f[6]), B: number(t, f[7])}
		d := lab.DE00(s.Lab(il), want)
		worst = max(worst, d)
		n++
		if d > 0.3 {
			t.Errorf("%s %s: %.3f ΔE00 from the reference", f[0], f[1], d)
		}
	}
	t.Logf("%d colours, largest difference %.3f ΔE00", n, worst)
	if n < 24 {
		t.Fatalf("only %d reference rows", n)
	}
}

// White points published in CIE 15:2018, table T.3 (from the standard's own
// 1 nm tables over 360–830 nm).
func TestWhitePoints(t *testing.T) {
	for il, want := range map[Illuminant]lab.XYZ{D65: lab.D65, D50: lab.D50, A: lab.A, C: lab.C} {
		got := il.White()
		if math.Abs(got.X-want.X) > 0.02 || math.Abs(got.Y-100) > 1e-9 || math.Abs(got.Z-want.Z) > 0.06 {
			t.Errorf("%v: %v, published %v", il, got, want)
		}
	}
}

// K/S and Saunderson's correction by their formulas (k1 = .04, k2 = .6).
func TestSurfaceTable(t *testing.T) {
	s := Surface{K1: 0.04, K2: 0.6}
	for _, row := range [][3]float64{ // R∞, K/S, measured
		{0.01, 49.005, 0.043863}, {0.05, 9.025, 0.059794}, {0.1, 4.05, 0.080851},
		{0.2, 1.6, 0.127273}, {0.3, 0.816667, 0.180488}, {0.4, 0.45, 0.242105},
		{0.5, 0.25, 0.314286}, {0.6, 0.133333, 0.4}, {0.7, 0.064286, 0.503448},
		{0.8, 0.025, 0.630769}, {0.9, 0.005556, 0.791304}, {0.95, 0.001316, 0.888372}, {1, 0, 1},
	} {
		if got := RToKS(row[0]); math.Abs(got-row[1]) > 5e-7 {
			t.Errorf("K/S of %v: %v, want %v", row[0], got, row[1])
		}
		if got := s.Measured(row[0], Included); math.Abs(got-row[2]) > 1e-6 {
			t.Errorf("measured %v: %v, want %v", row[0], got, row[2])
		}
		if got := s.Internal(row[2], Included); math.Abs(got-row[0]) > 1e-5 {
			t.Errorf("internal of %v: %v, want %v", row[2], got, row[0])
		}
	}
}

// Finite layers over white and black against an ODE solution of the two fluxes
// (12 watercolours of Curtis et al., SIGGRAPH 1997, solved with SciPy).
func TestFiniteLayers(t *testing.T) {
	lines := sharedLines(t, "reference/curtis1997_km_layer_ode.csv")[1:]
	for _, line := range lines {
		f := strings.Split(line, ",")
		p := Paint{K: Flat(number(t, f[2])), S: Flat(number(t, f[3]))}
		white, black := Flat(1), Flat(0)
		for _, c := range []struct {
			name string
			got  float64
			want float64
		}{
			{"over white", p.Film(1, &white)[0], number(t, f[4])},
			{"over black", p.Film(1, &black)[0], number(t, f[5])},
			{"opaque", p.Opaque()[0], number(t, f[6])},
		} {
			if math.Abs(c.got-c.want) > 2e-7 {
				t.Errorf("%s %s %s: %.8f, ODE %.8f", f[0], f[1], c.name, c.got, c.want)
			}
		}
	}
	if len(lines) < 36 {
		t.Fatalf("only %d rows", len(lines))
	}
}

func paintGen() *rapid.Generator[Paint] {
	return rapid.Custom(func(t *rapid.T) Paint {
		var p Paint
		for i := range p.K {
			p.K[i] = math.Pow(10, rapid.Float64Range(-4, 1).Draw(t, "logK"))
			p.S[i] = math.Pow(10, rapid.Float64Range(-2.5, 0.3).Draw(t, "logS"))
		}
		return p
	})
}

func TestFilmProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := paintGen().Draw(t, "paint")
		g := Flat(rapid.Float64Range(0, 1).Draw(t, "ground"))
		thick := p.Film(1e6, &g)
		opaque := p.Opaque()
		thin := p.Film(0, &g)
		one, two := p.Film(0.7, &g), p.Film(0.4, &g)
		stacked := p.Film(0.3, &two)
		for i := range opaque {
			if math.Abs(thick[i]-opaque[i]) > 1e-6 {
				t.Fatalf("a very thick film reflects %v, an opaque one %v", thick[i], opaque[i])
			}
			if thin[i] != g[i] {
				t.Fatalf("no film changes the ground")
			}
			if math.Abs(stacked[i]-one[i]) > 1e-9 {
				t.Fatalf("0.3 over 0.4 reflects %v, 0.7 in one %v", stacked[i], one[i])
			}
			if r := KSToR(RToKS(opaque[i])); opaque[i] > 2e-4 && math.Abs(r-opaque[i]) > 1e-9 {
				t.Fatalf("K/S and back: %v became %v", opaque[i], r)
			}
		}
	})
}

func TestTwoGroundsGiveOpaque(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := paintGen().Draw(t, "paint")
		g1, g2 := Flat(0.02), Flat(0.8)
		x := rapid.Float64Range(0.2, 2).Draw(t, "thickness")
		r1, r2, want := p.Film(x, &g1), p.Film(x, &g2), p.Opaque()
		for i := range want {
			if got := OpaqueFromTwo(r1[i], g1[i], r2[i], g2[i]); math.Abs(got-want[i]) > 2e-3 {
				t.Fatalf("band %d: %v, want %v (K %v S %v)", i, got, want[i], p.K[i], p.S[i])
			}
		}
	})
}

// What a fit is given exactly it foretells: readings synthesised from a smooth
// paint come back in an unseen mix.
func TestFitRecoversMixes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p, white Paint
		edge := rapid.Float64Range(450, 650).Draw(t, "edge")
		lo, hi := rapid.Float64Range(-3, -1).Draw(t, "clear"), rapid.Float64Range(-0.5, 1).Draw(t, "dark")
		ls := rapid.Float64Range(-2, -0.5).Draw(t, "scattering")
		tilt := rapid.Float64Range(-0.5, 0.5).Draw(t, "tilt")
		for i := range p.K {
			nm := float64(Wavelength(i))
			w := 1 / (1 + math.Exp((nm-edge)/15))
			p.K[i] = math.Pow(10, lo+(hi-lo)*w)
			p.S[i] = math.Pow(10, ls+tilt*(nm-550)/150)
			white.K[i], white.S[i] = 0.0006, 1
		}
		film := func(a, b float64) Drawdown {
			m := Mix([]*Paint{&p, &white}, []float64{a, b})
			return Drawdown{Parts: a, With: []*Paint{&white}, WithOf: []float64{b}, Seen: m.Reflectance(Included)}
		}
		fit, err := Fit([]Drawdown{film(1, 0), film(1, 4), film(1, 9)}, OpenPrior(), UsualNoise.Scaled(0.15))
		if err != nil {
			t.Fatal(err)
		}
		want := film(1, 1).Seen
		m := Mix([]*Paint{&fit.Paint, &white}, []float64{1, 1})
		got := m.Reflectance(Included)
		if d := lab.DE00(got.Lab(D65), want.Lab(D65)); d > 1 {
			t.Fatalf("1:1 tint foretold %.2f ΔE00 off", d)
		}
	})
}

func TestFitRefusesNonsense(t *testing.T) {
	if _, err := Fit(nil, OpenPrior(), UsualNoise); err == nil {
		t.Error("no readings gave a paint")
	}
	bad := Flat(0.5)
	bad[3] = math.NaN()
	if _, err := Fit([]Drawdown{{Parts: 1, Seen: bad}}, OpenPrior(), UsualNoise); err == nil || !strings.Contains(err.Error(), "430 nm") {
		t.Errorf("NaN: %v", err)
	}
	if _, err := Fit([]Drawdown{{Parts: 0, Seen: Flat(0.5)}}, OpenPrior(), UsualNoise); err == nil {
		t.Error("a film without the paint was fitted")
	}
}

func BenchmarkFit(b *testing.B) {
	var p, w Paint
	for i := range p.K {
		p.K[i], p.S[i], w.K[i], w.S[i] = 0.3, 0.05, 0.0006, 1
	}
	var films []Drawdown
	for _, white := range []float64{0, 4, 9} {
		m := Mix([]*Paint{&p, &w}, []float64{1, white})
		films = append(films, Drawdown{Parts: 1, With: []*Paint{&w}, WithOf: []float64{white}, Seen: m.Reflectance(Included)})
	}
	for b.Loop() {
		if _, err := Fit(films, OpenPrior(), UsualNoise); err != nil {
			b.Fatal(err)
		}
	}
}

// Two paints of one shape whose levels differ by d in K and in S have that
// difference's variance, d²/2, added to what makers differ by.
func TestPaintsPriorSpread(t *testing.T) {
	const d = 1.5
	p := Paint{K: Flat(0.2), S: Flat(0.1)}
	q := p.Strengthened(math.Exp(d))
	masstone := p.Reflectance(Included)
	fit, err := Fit([]Drawdown{{Parts: 1, Seen: masstone}}, OpenPrior(), UsualNoise)
	if err != nil {
		t.Fatal(err)
	}
	wide, maker := PaintsPrior([]*Paint{&p, &q}), CodePrior(&p, false)
	away, _, before := wide.LevelS(fit)
	from, _, one := maker.LevelS(fit)
	if math.Abs(from-away-d/2) > 1e-9 {
		t.Errorf("the mean lies %g from the first paint, not %g", from-away, d/2)
	}
	if math.Abs(before-one-d*d/2) > 1e-6 {
		t.Errorf("the variance is %g wider, not %g", before-one, d*d/2)
	}
}

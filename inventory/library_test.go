package inventory

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"paintout/inventory/internal/figures"
	"paintout/inventory/optics"
)

func TestLibraryHoldsWhatItShould(t *testing.T) {
	codes, keys, names, provenance := map[string]bool{}, map[string]bool{}, map[string]string{}, map[Provenance]int{}
	for _, p := range Library() {
		if keys[p.Key()] {
			t.Errorf("%s twice", p.Key())
		}
		codes[p.Code], keys[p.Key()] = true, true
		provenance[p.Provenance]++
		for _, n := range append([]string{p.Name}, p.Aliases...) {
			n = strings.ToLower(n)
			if names[n] != "" {
				t.Errorf("%q names both %s and %s", n, names[n], p.Key())
			}
			names[n] = p.Key()
		}
		if p.Source == "" || p.FactsFrom == "" {
			t.Errorf("%s says no source", p.Key())
		}
	}
	t.Logf("%d codes, %d paints: %d measured, %d derived, %d estimated",
		len(codes), len(keys), provenance[Measured], provenance[Derived], provenance[Estimated])
	if len(codes) < 55 {
		t.Errorf("%d codes", len(codes))
	}
	if len(keys) != len(libraryTable) {
		t.Errorf("%d paints with facts, %d with constants", len(keys), len(libraryTable))
	}
	for _, read := range []func() (*figures.Set, error){figures.HeavyBody, figures.MatteFluid} {
		set, err := read()
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range set.Paints {
			key := p.Code
			if key == "PBr7" {
				key += "/" + p.Name
			}
			q, err := Find(key)
			switch {
			case err != nil:
				t.Errorf("a measured paint is missing: %v", err)
			case q.Provenance != Measured && key != "PBr7/raw umber":
				t.Errorf("%s is %s though it was measured", key, q.Provenance)
			}
		}
	}
	for _, key := range []string{"PW1", "PW4", "PG18", "PB27", "PY34", "PR106"} {
		if p, err := Find(key); err != nil || p.Provenance != Derived || p.StrengthSD < 0.4 {
			t.Errorf("%s should be derived from the oil set with a wide strength: %+v, %v", key, p, err)
		}
	}
}

// A paint is a paint: constants positive and finite, what it reflects between
// the surface's own share and the whole, within what real surfaces show
// (CIELAB chroma below 110), and each part of white makes it lighter.
func TestLibraryIsPhysical(t *testing.T) {
	white, err := Find("PW6")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range Library() {
		for i := range p.K {
			for _, v := range []float64{p.K[i], p.S[i]} {
				if !(v > 0) || math.IsInf(v, 0) {
					t.Errorf("%s: K %v, S %v at %d nm", p.Key(), p.K[i], p.S[i], optics.Wavelength(i))
				}
			}
		}
		r := p.Reflectance(optics.Included)
		for i, v := range r {
			if v < optics.DrySurface.K1 || v > 1 {
				t.Errorf("%s reflects %.3f at %d nm", p.Key(), v, optics.Wavelength(i))
			}
		}
		c := r.Lab(optics.D65)
		if c.L < 20 || c.L > 98 || c.Chroma() > 110 {
			t.Errorf("%s has the masstone %+v", p.Key(), c)
		}
		if p.White {
			continue
		}
		last := c.L
		for _, parts := range []float64{0.25, 0.5, 1, 2, 4, 8, 16, 32, 64, 128, 256} {
			m := optics.Mix([]*optics.Paint{&p.Paint, &white.Paint}, []float64{1, parts})
			l := labOf(&m).L
			if l <= last {
				t.Errorf("%s with %g of white is L* %.2f, with less white %.2f", p.Key(), parts, l, last)
			}
			last = l
		}
	}
}

// Every paint shows the hue that the trade files it under, in masstone for
// light and warm families and in a tint for dark and cool ones (hue ranges in
// CIELAB degrees from memory). This is what holds the estimates to their names.
func TestHueFamilies(t *testing.T) {
	type span struct {
		tint   bool
		lo, hi float64
	}
	spans := map[string]span{
		"yellow": {false, 75, 100}, "pale yellow": {false, 75, 102}, "orange yellow": {false, 64, 80},
		"orange": {false, 40, 64}, "brown orange": {false, 38, 62}, "orange red": {false, 28, 42},
		"red": {false, 20, 40}, "dark red": {false, 12, 36}, "brown red": {false, 15, 45},
		"violet red": {true, 335, 362}, "magenta": {true, 325, 345},
		"red violet": {true, 312, 335}, "violet": {true, 298, 322}, "blue violet": {true, 290, 312},
		"violet blue": {true, 255, 285}, "blue": {true, 248, 272}, "green blue": {true, 225, 258},
		"blue green": {true, 168, 205}, "green": {true, 150, 175}, "yellow green": {true, 125, 152}, "grey green": {true, 110, 160},
		"earth yellow": {false, 62, 80}, "earth red": {false, 30, 48}, "brown": {false, 45, 85},
	}
	for _, p := range Library() {
		s, ok := spans[p.Family]
		if !ok {
			if p.Family != "white" && p.Family != "black" {
				t.Errorf("%s: family %q", p.Key(), p.Family)
			}
			continue
		}
		h := p.Lean.MasstoneHue
		if s.tint {
			h = p.Lean.TintHue
		}
		if h < s.lo && h+360 > s.hi || h > s.hi {
			t.Errorf("%s %s (%s) has hue %.0f, a %s lies within %g–%g", p.Key(), p.Name, p.Provenance, h, p.Family, s.lo, s.hi)
		}
	}
}

// The facts agree with the trade table that lies beside the project, row by
// row, and no caution is lost.
func TestFactsAgreeWithTradeTable(t *testing.T) {
	f, err := os.Open(filepath.Join(tradeData(t), "pigments-trade.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	opacity := map[string]Opacity{"O": Opaque, "SO": SemiOpaque, "ST": SemiTransparent, "T": Transparent}
	checked := 0
	for _, r := range rows[1:] {
		for _, code := range strings.Split(r[0], "/") {
			p, err := Find(code) // "PBr7 (burnt sienna)" too
			if code == "PY36" {
				continue // zinc chromate: no longer sold to painters
			}
			if err != nil {
				t.Errorf("%s: %v", code, err)
				continue
			}
			checked++
			if p.Opacity != opacity[r[4]] {
				t.Errorf("%s is %s, the table says %s", code, p.Opacity, r[4])
			}
			if p.Strength != r[5] {
				t.Errorf("%s has %s strength, the table says %s", code, p.Strength, r[5])
			}
			for band := range strings.FieldsFuncSeq(r[6], func(r rune) bool { return strings.ContainsRune(" -;(,", r) }) {
				if (strings.Trim(band, "IV") == "") && band != "" && !slices.Contains(strings.FieldsFunc(p.Lightfast, func(r rune) bool { return strings.ContainsRune(" ;:,", r) }), band) {
					t.Errorf("%s: lightfast %q, the table says %q", code, p.Lightfast, r[6])
				}
			}
			for _, metal := range []string{"cadmium", "cobalt", "nickel", "lead", "mercury", "manganese", "vanadium", "chromium", "fugitive", "brittle"} {
				words := strings.ToLower(p.Caution)
				if strings.Contains(strings.ToLower(r[7]), metal) && !strings.Contains(words, metal) && !(metal == "fugitive" && strings.Contains(words, "fades")) {
					t.Errorf("%s: %q does not warn of %s", code, p.Caution, metal)
				}
			}
		}
	}
	if checked < 60 {
		t.Errorf("only %d rows checked", checked)
	}
}

func tradeData(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		p := filepath.Join(dir, "shared", "data")
		if _, err := os.Stat(p); err == nil {
			return p
		}
		if filepath.Dir(dir) == dir {
			t.Skip("the reference data (shared/data) do not lie beside this checkout")
		}
		dir = filepath.Dir(dir)
	}
}

func TestFind(t *testing.T) {
	for asked, want := range map[string]string{
		"PB29": "PB29", "pb29": "PB29", " PB 29 ": "PB29", "pb15:4": "PB15:4",
		"PBr7/burnt sienna": "PBr7/burnt sienna", "pbr7/Raw  Umber": "PBr7/raw umber", "PBr7 (burnt umber)": "PBr7/burnt umber",
		"Ultramarine Blue": "PB29", "French ultramarine": "PB29", "burnt sienna": "PBr7/burnt sienna",
		"PB29/ultramarine": "PB29", "PB15:3": "PB15:3", "PB15": "PB15", "PY1": "PY1",
	} {
		if p, err := Find(asked); err != nil {
			t.Errorf("%q: %v", asked, err)
		} else if p.Key() != want {
			t.Errorf("%q found %s, want %s", asked, p.Key(), want)
		}
	}
	for asked, says := range map[string]string{
		"PBr7":              "PBr7/raw sienna, PBr7/burnt sienna, PBr7/raw umber or PBr7/burnt umber",
		"PBr7/mummy":        "PBr7/burnt umber",
		"PB299":             "PB29 (ultramarine blue)",
		"utramarine blue":   "PB29 (ultramarine blue)",
		"PB29/cobalt blue":  "write PB29",
		"":                  "write a code",
		"unheard of colour": "give the code",
	} {
		if p, err := Find(asked); err == nil {
			t.Errorf("%q found %s", asked, p.Key())
		} else if !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v; should say %q", asked, err, says)
		}
	}
}

// What a painter reads of a paint names no trade mark or maker's grade and no
// step of the computing, and titanium white carries no caution beyond ordinary
// care (the EU's classification of its powder was annulled, Court of Justice, 1
// August 2025).
func TestWordsAreAPainters(t *testing.T) {
	for _, p := range Library() {
		all := strings.Join(append([]string{p.Name, p.Source, p.Lightfast, p.Caution}, p.Aliases...), " ")
		for _, no := range []string{"hansa", "HR70", "k2", "×", " nm", "edge", "scattering"} {
			if strings.Contains(strings.ToLower(all), strings.ToLower(no)) {
				t.Errorf("%s: %q in %q", p.Key(), no, all)
			}
		}
	}
	if p := mustFind("PW6"); p.Caution != "" || !strings.Contains(p.FactsFrom, "ordinary care") || !strings.Contains(strings.Join(GeneralCare, " "), "Do not spray") {
		t.Errorf("PW6: caution %q; %s", p.Caution, p.FactsFrom)
	}
}

func TestStandInsSaySo(t *testing.T) {
	for code, s := range standIns {
		p, err := Find(code)
		if err != nil {
			t.Errorf("%s: %v", code, err)
			continue
		}
		if p.Code != code || p.Provenance != Estimated || !strings.Contains(p.Source, s.key) {
			t.Errorf("%s came back as %s, %s, %q", code, p.Code, p.Provenance, p.Source)
		}
		if real, _ := Find(s.key); real.Code == code || p.Paint != real.Paint {
			t.Errorf("%s does not have the constants of %s, or changed it", code, s.key)
		}
	}
	if p, err := Find("PB15:3"); err != nil || !strings.Contains(p.Source, "PB15:4 stands in") {
		t.Errorf("PB15:3 does not say what it stands on: %v, %v", p, err)
	}
}

func TestTubeModes(t *testing.T) {
	for _, p := range Library() {
		tube := p.Tube()
		if tube.Code() != p.Key() || tube.Name != p.Name || tube.Paint != p.Paint {
			t.Errorf("%s: tube %q of %s", p.Key(), tube.Name, tube.Code())
		}
		if len(tube.Modes) < 3 {
			t.Errorf("%s: %d modes", p.Key(), len(tube.Modes))
			continue
		}
		for i := range tube.Modes[0].DK {
			if tube.Modes[0].DK[i] != p.StrengthSD || tube.Modes[0].DS[i] != p.StrengthSD {
				t.Errorf("%s: the first mode is not tinting strength", p.Key())
				break
			}
		}
		if p.Provenance == Estimated && p.StrengthSD <= shapes[Measured].Strength {
			t.Errorf("%s is estimated and no less sure than a measured paint", p.Key())
		}
		for _, m := range tube.Modes {
			q := m.Apply(p.Paint, 3)
			if c := labOf(&q); !c.Finite() {
				t.Errorf("%s: three sigmas along a mode give %v", p.Key(), c)
			}
		}
	}
}

package inventory

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// Ways in which a whole file of readings goes wrong, each made from readings
// that are in order: what is said of it, and that nothing is said where nothing
// is wrong. Paints are the library's at other strengths (no source).
func TestFileMixups(t *testing.T) {
	t.Parallel()
	codes := []string{"PB29", "PR254", "PY184", "PR101"}
	type film struct {
		tube, ci     string
		paint, white float64
		seen         optics.Spectrum
	}
	films := func(f optics.Finish) []film {
		white := mustFind("PW6").Paint
		out := []film{{"W", "PW6", 0, 1, white.Reflectance(f)}}
		for i, ci := range codes {
			p := mustFind(ci).Paint.Strengthened(0.8 + 0.15*float64(i))
			for _, n := range []float64{0, 4, 9} {
				m := optics.Mix([]*optics.Paint{&p, &white}, []float64{1, n})
				out = append(out, film{"tube " + ci, ci, 1, n, m.Reflectance(f)})
			}
		}
		return out
	}
	labFile := func(all []film, say string, row func(i int, f film) (c lab.Lab, finish string)) string {
		b := "tube,ci,paint_parts,white_parts,basis,illuminant,specular,L,a,b\n"
		for i, f := range all {
			c, finish := row(i, f)
			b += fmt.Sprintf("%s,%s,%g,%g,volume,%s,%s,%.3f,%.3f,%.3f\n", f.tube, f.ci, f.paint, f.white, say, finish, c.L, c.A, c.B)
		}
		return b
	}
	spectraFile := func(all []film, scale func(i int) float64) string {
		b := "tube,ci,paint_parts,white_parts,basis,specular"
		for i := range optics.Bands {
			b += fmt.Sprintf(",%d", optics.Wavelength(i))
		}
		for i, f := range all {
			b += fmt.Sprintf("\n%s,%s,%g,%g,volume,in", f.tube, f.ci, f.paint, f.white)
			for _, v := range f.seen {
				b += fmt.Sprintf(",%.5f", scale(i)*v)
			}
		}
		return b + "\n"
	}
	in, out := films(optics.Included), films(optics.Excluded)
	plain := func(i int, f film) (lab.Lab, string) { return f.seen.Lab(optics.D65), "in" }
	turned := func(i int, f film) (lab.Lab, string) {
		c := f.seen.Lab(optics.D65)
		return lab.Lab{L: c.B, A: c.A, B: c.L}, "in"
	}
	warm := []film{} // whose b is no impossible L
	for _, f := range in {
		if f.ci == "PY184" || f.ci == "PR101" {
			warm = append(warm, f)
		}
	}
	for name, c := range map[string]struct {
		csv, says string
	}{
		"in order":                       {labFile(in, "D65", plain), ""},
		"in order, gloss":                {labFile(out, "D65", func(i int, f film) (lab.Lab, string) { return f.seen.Lab(optics.D65), "out" }), ""},
		"in order, D50":                  {labFile(in, "D50", func(i int, f film) (lab.Lab, string) { return f.seen.Lab(optics.D50), "in" }), ""},
		"in order, fractions":            {spectraFile(in, func(int) float64 { return 1 }), ""},
		"in order, percent":              {spectraFile(in, func(int) float64 { return 100 }), ""},
		"L and b exchanged, white first": {labFile(append(in[:1:1], warm...), "D65", turned), "with L and b exchanged it would be one"},
		"L and b exchanged, a blue":      {labFile(in[1:], "D65", turned), "are L, a and b in their own columns?"},
		"L and b exchanged, warm paints": {labFile(warm, "D65", turned), "with L and b exchanged, such as line"},
		"white in percent, others not":   {spectraFile(in, func(i int) float64 { return map[bool]float64{true: 100, false: 1}[i == 0] }), "where other rows are in percent"},
		"one row a fraction":             {spectraFile(in, func(i int) float64 { return map[bool]float64{true: 1, false: 100}[i == 5] }), "set.csv:7: its reflectances run up to"},
		"gloss said to be matte":         {labFile(out, "D65", func(i int, f film) (lab.Lab, string) { return f.seen.Lab(optics.D65), "in" }), "these read as specular excluded"},
		"no light said":                  {labFile(in, "", plain), "L,a,b under D65"},
	} {
		rd, err := ReadReadings("set.csv", strings.NewReader(c.csv))
		said := ""
		if err == nil {
			var r *Report
			if _, r, err = Calibrate(rd, nil); err == nil {
				said = strings.Join(r.Warnings, "\n")
				for _, tube := range r.Tubes {
					for _, row := range tube.Rows {
						said += row.Suspicious
					}
					if tube.Residual > 1 && c.says == "" {
						t.Errorf("%s: %s lies %.1f ΔE00 from its readings", name, tube.Tube, tube.Residual)
					}
				}
			}
		}
		if err != nil {
			said = err.Error()
		}
		switch {
		case c.says == "" && said != "" && said != "reflectances were read as percent":
			t.Errorf("%s: false alarm: %s", name, said)
		case !strings.Contains(said, c.says):
			t.Errorf("%s: %q does not say %q", name, said, c.says)
		case c.says != "" && strings.Contains(said, "look swapped"):
			t.Errorf("%s: tubes are blamed for the file: %s", name, said)
		}
	}
}

// Colours under D50, said to be so, give the box that the same films give
// under D65; read as D65 they give tubes that are off, which nothing in the
// readings betrays.
func TestD50IsFollowed(t *testing.T) {
	t.Parallel()
	file := func(il optics.Illuminant, say string) string {
		b := "tube,ci,paint_parts,white_parts,basis,illuminant,specular,L,a,b\n"
		white, p := mustFind("PW6").Paint, mustFind("PR254").Paint
		row := func(tube, ci string, a, w float64) {
			m := optics.Mix([]*optics.Paint{&p, &white}, []float64{a, w})
			s := m.Reflectance(optics.Included)
			c := s.Lab(il)
			b += fmt.Sprintf("%s,%s,%g,%g,volume,%s,in,%.3f,%.3f,%.3f\n", tube, ci, a, w, say, c.L, c.A, c.B)
		}
		row("W", "PW6", 0, 1)
		for _, n := range []float64{0, 4, 9} {
			row("r", "PR254", 1, n)
		}
		return b
	}
	mix := map[string]float64{"r": 1, "W": 6}
	want := mixed(t, quickly(t, file(optics.D65, "D65")), optics.Included, mix)
	got := mixed(t, quickly(t, file(optics.D50, "D50")), optics.Included, mix)
	if d := lab.DE00(got, want); d > 0.5 {
		t.Errorf("D50 readings foretell a tint %.2f ΔE00 from what D65 readings do", d)
	}
	wrong := mixed(t, quickly(t, file(optics.D50, "D65")), optics.Included, mix)
	t.Logf("read as D65: %.2f ΔE00 off", lab.DE00(wrong, want))
}

// Exact readings give the constants back: K where the paint absorbs and S
// where a tint shows it, within the limits below, for paints of the library at
// other strengths and with no code to help.
func TestSyntheticReadingsGiveConstantsBack(t *testing.T) {
	t.Parallel()
	white := mustFind("PW6").Paint
	var m strings.Builder
	m.WriteString("tube,ci,paint_parts,white_parts,basis,specular")
	for i := range optics.Bands {
		fmt.Fprintf(&m, ",%d", optics.Wavelength(i))
	}
	m.WriteString("\n")
	row := func(tube, ci string, p *optics.Paint, a, w float64) {
		mix := optics.Mix([]*optics.Paint{p, &white}, []float64{a, w})
		fmt.Fprintf(&m, "%s,%s,%g,%g,volume,in", tube, ci, a, w)
		for _, v := range mix.Reflectance(optics.Included) {
			fmt.Fprintf(&m, ",%.6f", v)
		}
		m.WriteString("\n")
	}
	row("W", "PW6", &white, 0, 1)
	truth := map[string]optics.Paint{}
	for i, ci := range []string{"PB29", "PR254", "PY184", "PR101", "PG7", "PV23", "PBk9"} {
		p := mustFind(ci).Paint.Strengthened(0.7 + 0.1*float64(i))
		truth["t "+ci] = p
		for _, w := range []float64{0, 1, 4, 9, 24} {
			row("t "+ci, "", &p, 1, w)
		}
	}
	box := quickly(t, m.String())
	var offK, offS []float64
	for name, p := range truth {
		got := box.Tube(name).Paint
		for b := range p.K {
			if p.K[b] > 0.02 { // a tint of one in ten is darker than its white by it
				offK = append(offK, math.Abs(math.Log(got.K[b]/p.K[b])))
			}
			if p.K[b] > 0.02 && p.S[b] > 0.01 {
				offS = append(offS, math.Abs(math.Log(got.S[b]/p.S[b])))
			}
		}
	}
	slices.Sort(offK)
	slices.Sort(offS)
	nine := func(v []float64) float64 { return v[len(v)*9/10] }
	_, medK := meanMedian(offK)
	_, medS := meanMedian(offS)
	t.Logf("ln K off by %.3f in the median, %.3f nine in ten (%d bands); ln S by %.3f, %.3f (%d)", medK, nine(offK), len(offK), medS, nine(offS), len(offS))
	if medK > 0.05 || nine(offK) > 0.15 || medS > 0.1 || nine(offS) > 0.3 {
		t.Errorf("ln K off by %.3f, %.3f; ln S by %.3f, %.3f", medK, nine(offK), medS, nine(offS))
	}
}

package inventory

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory/optics"
)

// milky makes a paint as it is before its medium has cleared: the same
// pigment, and in every part of it a medium that scatters by itself, more in
// the blue as small droplets do.
func milky(p optics.Paint, milk float64) optics.Paint {
	for i := range p.S {
		nm := float64(optics.Wavelength(i))
		p.S[i] += milk * math.Pow(550/nm, 2)
	}
	return p
}

// A box whose tubes were read dry and wet foretells the wet colour of mixes
// that were never read: from masstones and one tint, 1:1 mixes and other tints.
// Beside it the shift in Lab, added up by parts, which is what drying is often
// taken for.
func TestDryingForetellsWetMixes(t *testing.T) {
	t.Parallel()
	codes := []string{"PB29", "PY184", "PR254", "PG7", "PR101", "PBr7/burnt umber"}
	const milk = 0.012
	white := mustFind("PW6").Paint
	wetWhite := milky(white, milk)
	wetOf := map[string]optics.Paint{}
	var b strings.Builder
	b.WriteString("tube,ci,paint_parts,white_parts,basis,specular,illuminant,state,L,a,b\n")
	row := func(tube, ci string, a, w float64, wet bool) {
		p, wh := mustFind(ci).Paint, white
		if wet {
			p, wh = milky(p, milk), wetWhite
		}
		m := optics.Mix([]*optics.Paint{&p, &wh}, []float64{a, w})
		s := m.Reflectance(optics.Excluded)
		c := s.Lab(optics.D65)
		state := map[bool]string{true: "wet", false: "dry"}[wet]
		fmt.Fprintf(&b, "%s,%s,%g,%g,volume,out,D65,%s,%g,%g,%g\n", tube, ci, a, w, state, c.L, c.A, c.B)
	}
	for _, wet := range []bool{false, true} {
		row("W", "PW6", 0, 1, wet)
		for _, ci := range codes {
			row("tube "+ci, ci, 1, 0, wet)
			row("tube "+ci, ci, 1, 6, wet)
			wetOf[ci] = milky(mustFind(ci).Paint, milk)
		}
	}
	box, _ := calibrated(t, b.String(), nil)
	var byScattering, byLab []float64
	look := func(parts []float64, tubes []string, truth []*optics.Paint) {
		var wet []*optics.Paint
		var dry []*optics.Paint
		var shift lab.Lab
		total := 0.0
		for i, n := range tubes {
			tube := box.Tube(n)
			w, ok := tube.WetPaint()
			if !ok {
				t.Fatalf("%s has no drying", n)
			}
			wet, dry = append(wet, &w), append(dry, &tube.Paint)
			is, was := tube.Paint.Reflectance(optics.Excluded), w.Reflectance(optics.Excluded)
			d, v := is.Lab(optics.D65), was.Lab(optics.D65)
			shift.L += parts[i] * (v.L - d.L)
			shift.A += parts[i] * (v.A - d.A)
			shift.B += parts[i] * (v.B - d.B)
			total += parts[i]
		}
		at := func(ps []*optics.Paint) lab.Lab {
			m := optics.Mix(ps, parts)
			s := m.Reflectance(optics.Excluded)
			return s.Lab(optics.D65)
		}
		want := at(truth)
		d := at(dry)
		byScattering = append(byScattering, lab.DE00(at(wet), want))
		byLab = append(byLab, lab.DE00(lab.Lab{L: d.L + shift.L/total, A: d.A + shift.A/total, B: d.B + shift.B/total}, want))
	}
	for i, p := range codes {
		x := wetOf[p]
		for _, n := range []float64{2, 20} {
			look([]float64{1, n}, []string{"tube " + p, "W"}, []*optics.Paint{&x, &wetWhite})
		}
		for _, q := range codes[:i] {
			y := wetOf[q]
			look([]float64{1, 1}, []string{"tube " + p, "tube " + q}, []*optics.Paint{&x, &y})
		}
	}
	mean, median := meanMedian(byScattering)
	labMean, labMedian := meanMedian(byLab)
	t.Logf("%d wet mixes foretold by scattering: mean %.2f, median %.2f ΔE00; by a shift of Lab: %.2f, %.2f", len(byScattering), mean, median, labMean, labMedian)
	if mean > 1 {
		t.Errorf("mean %.2f ΔE00, limit 1", mean)
	}
	if mean > labMean/2 {
		t.Errorf("mean %.2f ΔE00 by scattering, %.2f by Lab: the form is not worth keeping", mean, labMean)
	}
	if s := box.Tube("tube PB29").DryingWords(optics.Excluded); !strings.Contains(s, "dries darker") {
		t.Errorf("a milky ultramarine %q", s)
	}
	// Dry readings alone make the dry paint.
	var dryOnly []string
	for _, l := range strings.Split(b.String(), "\n") {
		if !strings.Contains(l, ",wet,") {
			dryOnly = append(dryOnly, l)
		}
	}
	plain, _ := calibrated(t, strings.Join(dryOnly, "\n"), nil)
	for _, p := range plain.Tubes {
		if q := box.Tube(p.Name); q.Paint != p.Paint || p.Drying != nil {
			t.Errorf("%s: wet readings moved the dry paint", p.Name)
		}
	}
	// Box file and readings file both keep it.
	data, err := box.encode("b.yaml", nil)
	if err != nil {
		t.Fatal(err)
	}
	again, err := ParseBox("b.yaml", data)
	if err != nil {
		t.Fatal(err)
	}
	var file bytes.Buffer
	if _, err := box.WriteReadings(&file); err != nil {
		t.Fatal(err)
	}
	anew, _ := calibrated(t, file.String(), nil)
	for _, p := range box.Tubes {
		q := again.Tube(p.Name)
		if q == nil || q.Drying == nil || *q.Drying != *p.Drying || len(q.Readings) != len(p.Readings) {
			t.Errorf("%s: the box file lost its drying", p.Name)
		}
		if q := anew.Tube(p.Name); q == nil || q.Drying == nil || math.Abs(q.Drying[0]-p.Drying[0]) > 1e-3 {
			t.Errorf("%s: the readings file lost its drying", p.Name)
		}
	}
}

func TestDryingOfOddRows(t *testing.T) {
	const head = "tube,ci,paint_parts,white_parts,basis,specular,illuminant,state,L,a,b\n"
	const white = "W,PW6,0,1,volume,out,D65,,96,-1,2\n"
	box, r := calibrated(t, head+white+"u,PB29,1,0,volume,out,D65,wet,20,20,-45\nu,PB29,1,5,volume,out,D65,wet,60,5,-38\n", nil)
	if s := strings.Join(r.Warnings, "; "); !strings.Contains(s, "u was read only wet") || box.Tube("u").Drying != nil {
		t.Errorf("only wet: %q", s)
	}
	box, r = calibrated(t, head+white+"u,PB29,1,0,volume,out,D65,dry,15,22,-45\nu,PB29,1,0,volume,out,D65,wet,15,22,-45\n", nil)
	if d := box.Tube("u").Drying; d == nil || math.Abs(d[0]) > 0.01 || box.Tube("u").DryingWords(optics.Excluded) != "" {
		t.Errorf("no difference, yet it dries: %v", d)
	}
	if s := strings.Join(r.Warnings, "; "); strings.Contains(s, "read wet") {
		t.Errorf("a masstone read wet: %q", s)
	}
	_, r = calibrated(t, head+white+"u,PB29,1,0,volume,out,D65,dry,15,22,-45\nu,PB29,1,5,volume,out,D65,dry,60,5,-38\nu,PB29,1,5,volume,out,D65,wet,64,4,-37\n", nil)
	if s := strings.Join(r.Warnings, "; "); !strings.Contains(s, "mixes with w were read wet, but w by itself was not") && !strings.Contains(s, "mixes with W were read wet, but W by itself was not") {
		t.Errorf("a wet tint, and its white only dry: %q", s)
	}
	_, r = calibrated(t, head+white+"u,PB29,1,0,volume,out,D65,dry,15,22,-45\nu,PB29,1,0,volume,out,D65,wet,15,22,-45\n", nil)
	if n := len(r.Tubes[1].Rows); n != 1 {
		t.Errorf("%d rows are judged, the dry one alone should be", n)
	}
	if _, err := ReadReadings("s.csv", strings.NewReader(head+"u,PB29,1,0,volume,out,D65,damp,15,22,-45\n")); err == nil || !strings.Contains(err.Error(), `s.csv:2: state "damp"`) {
		t.Errorf("%v", err)
	}
}

// A CGATS table says it too.
func TestStateInCGATS(t *testing.T) {
	cgats := `CGATS.17
ILLUMINANT "D65"
SPECULAR "out"
BASIS "volume"
BEGIN_DATA_FORMAT
TUBE CI PAINT_PARTS WHITE_PARTS STATE LAB_L LAB_A LAB_B
END_DATA_FORMAT
BEGIN_DATA
W PW6 0 1 dry 96 -1 2
u PB29 1 0 dry 15 22 -45
u PB29 1 0 wet 21 20 -46
END_DATA
`
	rd, err := ReadReadings("s.txt", strings.NewReader(cgats))
	if err != nil {
		t.Fatal(err)
	}
	box, _, err := Calibrate(rd, nil)
	if err != nil {
		t.Fatal(err)
	}
	if d := box.Tube("u").Drying; d == nil || d[0] <= 0 {
		t.Errorf("%v", d)
	}
}

package recipe

import (
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// A mix looks wet as its tubes' wet paints mix, and only where all are known.
func TestWet(t *testing.T) {
	var tubes []*inventory.Tube
	for _, ci := range []string{"PW6", "PB29", "PY184"} {
		p, err := inventory.Find(ci)
		if err != nil {
			t.Fatal(err)
		}
		tubes = append(tubes, p.Tube())
	}
	tubes[0].Drying, tubes[1].Drying = &inventory.Drying{0.02}, &inventory.Drying{0.8, 0.1}
	p, err := NewPalette(tubes, optics.Excluded)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := p.Wet([]Part{{0, 1}, {2, 1}}); ok {
		t.Error("a tube that was never read wet has a wet colour")
	}
	parts := []Part{{1, 1}, {0, 3}}
	wet, ok := p.Wet(parts)
	_, dry := p.Mix(parts)
	if !ok || wet.L <= dry.L {
		t.Errorf("wet L* %.1f, dry %.1f: more scattering is lighter", wet.L, dry.L)
	}
	u, w := tubes[1].Drying.Wet(tubes[1].Paint), tubes[0].Drying.Wet(tubes[0].Paint)
	m := optics.Mix([]*optics.Paint{&u, &w}, []float64{1, 3})
	s := m.Reflectance(optics.Excluded)
	if d := lab.DE00(wet, s.Lab(optics.D65)); d > 1e-9 {
		t.Errorf("%.3g ΔE00 from the mix of the wet paints", d)
	}
}

package inventory

import "testing"

func TestStarter(t *testing.T) {
	b := Starter()
	if n := len(b.Tubes); n < 14 || n > 18 {
		t.Errorf("%d tubes", n)
	}
	if b.White() == nil || b.White() != b.Tube("titanium white") {
		t.Error("no white, or not the titanium white")
	}
	seen := map[string]bool{}
	for _, tube := range b.Tubes {
		if seen[tube.Name] {
			t.Errorf("%s twice", tube.Name)
		}
		seen[tube.Name] = true
		p, err := Find(tube.CI[0])
		if err != nil || p.Paint != tube.Paint {
			t.Errorf("%s is not the library's %v: %v", tube.Name, tube.CI, err)
		}
		if tube.Provenance != Measured || len(tube.Modes) == 0 {
			t.Errorf("%s: %s, %d modes", tube.Name, tube.Provenance, len(tube.Modes))
		}
	}
	// A change to one box is no change to the next.
	b.Tubes[0].Name = "mine"
	b.Tubes[1].Modes[0].DK[0] = 9
	if c := Starter(); c.Tubes[0].Name == "mine" || c.Tubes[1].Modes[0].DK[0] == 9 {
		t.Error("boxes share their tubes")
	}
}

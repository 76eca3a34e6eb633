package plan

import (
	"math"
	"slices"
	"testing"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// Each cell of the wheel is what its parts give, on the ladder; tubes come round
// in the order of their hues with their mixes between; a greyed cell keeps its
// hue.
func TestLessonWheel(t *testing.T) {
	w := opened(t)
	l, err := w.Lesson("", 0)
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Wheel) != 2*len(l.Tubes) {
		t.Fatalf("%d segments of %d tubes", len(l.Wheel), len(l.Tubes))
	}
	s := shop{w.Palette.Finish}
	paint := func(n int) *optics.Paint { return &w.Box.Tube(l.Tubes[n-1].Name).Paint }
	greyed := 0
	for _, g := range l.Wheel {
		var paints []*optics.Paint
		for _, n := range g.Tubes {
			paints = append(paints, paint(n))
		}
		is := func(c *Cell, paints []*optics.Paint) {
			t.Helper()
			if got := s.see(paints, c.Parts...); lab.DE76(got, c.Lab) > 1e-9 || !onLadder(c.Parts...) {
				t.Errorf("%v: %v give %v, and the cell says %v", g.Tubes, c.Parts, got, c.Lab)
			}
		}
		is(&g.Mix, paints)
		is(g.Tint, append(slices.Clone(paints), &w.Box.Tube(l.White).Paint))
		if (g.Greyed == nil) != (g.Opposite == 0) {
			t.Errorf("%v: greyed %v with %d", g.Tubes, g.Greyed, g.Opposite)
		}
		if g.Greyed == nil {
			continue
		}
		greyed++
		is(g.Greyed, append(slices.Clone(paints), paint(g.Opposite)))
		m, _ := g.Mix.Lab.Notation()
		q, _ := g.Greyed.Lab.Notation()
		if math.Abs(turned(m.Hue, q.Hue)) > 20.0/3+0.01 || q.Chroma > 0.76*m.Chroma || q.Chroma < 0.24*m.Chroma {
			t.Errorf("%v %v is greyed to %v", g.Tubes, m, q)
		}
	}
	if greyed < len(l.Wheel)/2 {
		t.Errorf("only %d of %d are greyed", greyed, len(l.Wheel))
	}
	for i, g := range l.Wheel {
		if want := 1 + i%2; len(g.Tubes) != want {
			t.Errorf("segment %d is of %v", i, g.Tubes)
		}
	}
}

func TestLessonSizes(t *testing.T) {
	var all []string
	for _, p := range inventory.Library() {
		all = append(all, p.Key())
	}
	for _, q := range []struct {
		only                  []string
		tubes, segments, kind int
	}{
		{all, MaxLessonWheel, 2 * MaxLessonWheel, 0},
		{[]string{"PB29"}, 1, 1, 1},
		{[]string{"PB29", "PY184"}, 2, 3, 0},
		{[]string{"PW6", "PY43", "PR108", "PBk9"}, 2, 3, 0},
	} {
		l, err := opened(t, q.only...).Lesson("", 0)
		if err != nil {
			t.Fatal(err)
		}
		if len(l.Tubes) != q.tubes || len(l.Wheel) != q.segments || l.Chart.Kind != []string{PairsChart, LaddersChart}[q.kind] {
			t.Errorf("%v: %d tubes in %d segments, and a chart of %s", q.only, len(l.Tubes), len(l.Wheel), l.Chart.Kind)
		}
		if l.Scope != inventory.CautionScope {
			t.Error("the standing line is missing")
		}
		for _, c := range slices.Concat(l.Tubes, l.Chart.Tubes) {
			if c.Caution != "" && !slices.ContainsFunc(l.Cautions, func(g GroupCaution) bool {
				return g.Caution == c.Caution && slices.Contains(g.Tubes, c.Name)
			}) {
				t.Errorf("%s has no caution on the sheet", c.Name)
			}
		}
	}
	if _, err := opened(t, "PW6", "PBk9").Lesson("", 0); err == nil {
		t.Error("a lesson of white and black is made")
	}
	if l, err := opened(t).Lesson("PB29+PY43", 5); err != nil || len(l.Chart.Rows[0].Cells) != 5 {
		t.Errorf("a lesson with a string: %v", err)
	}
}

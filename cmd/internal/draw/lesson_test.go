package draw

import (
	"slices"
	"testing"

	"paintout/inventory"
)

// The note speaks of a third ring only where there is one.
func TestLessonNoteFitsTheWheel(t *testing.T) {
	l := invented(t).lesson(t)
	with := wheelLessonNote(l)
	for i := range l.Wheel {
		l.Wheel[i].Greyed = nil
	}
	if without := wheelLessonNote(l); len(without) >= len(with) {
		t.Errorf("without greyed cells the note still says %q", without)
	}
}

// A blank sheet has the same cells and words as the filled one, but no colour.
func TestBlankSheetsHaveNoColour(t *testing.T) {
	l := invented(t).lesson(t)
	for _, chart := range []bool{false, true} {
		blank, err := lessonPage(l, Sheet{Chart: chart})
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range blank.marks {
			if m.col.R != m.col.G || m.col.G != m.col.B {
				t.Fatalf("chart %v: a mark of the blank sheet is %v", chart, m.col)
			}
		}
		filled, err := lessonPage(l, Sheet{Chart: chart, Filled: true})
		if err != nil {
			t.Fatal(err)
		}
		var colours []string
		for _, m := range filled.marks {
			if m.words == "" && m.path == nil {
				colours = append(colours, hexOf(m.col))
			}
		}
		for _, g := range l.Wheel {
			if !chart && !slices.Contains(colours, g.Mix.Hex) {
				t.Errorf("the filled wheel lacks %s", g.Mix.Hex)
			}
		}
		for _, q := range l.Chart.Pairs {
			if chart && !slices.Contains(colours, q.Mix.Hex) {
				t.Errorf("the filled chart lacks %s", q.Mix.Hex)
			}
		}
	}
}

// A sheet carries the cautions of its own tubes, by a name that can be read,
// and the standing line.
func TestSheetCautions(t *testing.T) {
	l, err := invented(t).Lesson("Ferry Red+Охра степная", 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, chart := range []bool{false, true} {
		p, err := lessonPage(l, Sheet{Chart: chart})
		if err != nil {
			t.Fatal(err)
		}
		var words []string
		for _, m := range p.marks {
			words = append(words, m.words)
		}
		for says, on := range map[string]bool{
			"Охра степная: Natural earths hold silica and some manganese: no dust.": chart,
			"PG7: Low hazard as paint; stains.":                                     !chart,
			inventory.CautionScope:                                                  true,
		} {
			if slices.Contains(words, says) != on {
				t.Errorf("chart %v: %q stands on the sheet: %v", chart, says, !on)
			}
		}
	}
}

package draw

import (
	"slices"
	"strings"
	"testing"

	"paintout/cmd/internal/plan"
	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
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

// Nothing on a lesson's sheets is set smaller than what reads at arm's length,
// nothing runs off the page or out of its ring, and every cell's parts stand
// there in full, however long they are.
func TestLessonTypeIsNotShrunk(t *testing.T) {
	own := invented(t)
	var lib []*inventory.Tube
	for i, p := range inventory.Library() {
		tube := p.Tube()
		if i%3 == 0 {
			tube.Name = strings.Repeat(tube.Name+" with a very long name ", 3)
		}
		lib = append(lib, tube)
	}
	p, err := recipe.NewPalette(lib, optics.Included)
	if err != nil {
		t.Fatal(err)
	}
	all := &plan.Workspace{Box: &inventory.Box{Name: "all", Tubes: lib}, Palette: p}
	for _, c := range []struct {
		w     *plan.Workspace
		chart string
		steps int
		long  bool // the longest parts that there are, in every cell
	}{
		{own.Workspace, "", 0, false}, {own.Workspace, "Ferry Red+Охра степная", plan.MaxSteps, true}, {own.Workspace, "堰の緑", plan.MaxSteps, false},
		{all, "", 0, false}, {all, "", 0, true}, {own.Workspace, "Ferry Red", plan.MinSteps, false},
	} {
		l, err := c.w.Lesson(c.chart, c.steps)
		if err != nil {
			t.Fatal(err)
		}
		if c.long {
			for i := range l.Wheel {
				for k := range 3 {
					if q := ringCell(&l.Wheel[i], k); q != nil && len(q.Parts) > 1 {
						for j := range q.Parts {
							q.Parts[j] = 256
						}
					}
				}
			}
			for _, r := range l.Chart.Rows {
				for _, q := range r.Cells {
					for j := range q.Parts {
						q.Parts[j] = 128
					}
				}
			}
		}
		for _, s := range []Sheet{{}, {Chart: true}, {Letter: true}, {Chart: true, Letter: true}} {
			page, err := lessonPage(l, s)
			if err != nil {
				t.Fatal(err)
			}
			var said strings.Builder
			for i := range page.marks {
				m := &page.marks[i]
				if m.words == "" {
					continue
				}
				said.WriteString(strings.ReplaceAll(m.words, " ", ""))
				if !strings.HasSuffix(m.words, ":") {
					said.WriteByte('\n')
				}
				if m.size < leastType {
					t.Errorf("%q %v: %q is set in %.1f points", c.chart, s, m.words, m.size)
				}
				if a := m.area(); a.x0 < 0 || a.y0 < 0 || a.x1 > page.w || a.y1 > page.h {
					t.Errorf("%q %v: %q runs off the page", c.chart, s, m.words)
				}
			}
			want := func(q *plan.Cell) {
				if says := strings.ReplaceAll(portions(q.Parts), " ", ""); !c.long && !strings.Contains(said.String(), says+"\n") {
					t.Errorf("%q %v: the parts %s are not on the sheet", c.chart, s, says)
				}
			}
			switch {
			case !s.Chart:
				for i := range l.Wheel {
					for k := range 3 {
						if q := ringCell(&l.Wheel[i], k); q != nil && len(q.Parts) > 1 {
							want(q)
						}
					}
				}
			default:
				for i := range l.Chart.Rows {
					for k := range l.Chart.Rows[i].Cells {
						want(&l.Chart.Rows[i].Cells[k])
					}
				}
				for i := range l.Chart.Pairs {
					want(&l.Chart.Pairs[i].Mix)
				}
			}
		}
	}
}

// Parts that are too long for their cell go on in another line; none is lost.
func TestPartsLines(t *testing.T) {
	for _, c := range []struct {
		parts []float64
		w     float64
		want  []string
	}{
		{[]float64{3, 1}, 100, []string{"3 : 1"}},
		{[]float64{32, 12, 3}, 38, []string{"32:12:3"}},
		{[]float64{256, 128, 32}, 30, []string{"256:", "128:32"}},
		{[]float64{256, 128, 32}, 5, []string{"256:", "128:", "32"}},
	} {
		if got := partsLines(c.parts, c.w); !slices.Equal(got, c.want) {
			t.Errorf("%v in %g points: %q, want %q", c.parts, c.w, got, c.want)
		}
	}
}

package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"strings"
	"testing"

	"paintout/cmd/internal/plan"
)

// The page of a kit names every tube and figure for those who cannot see it,
// whether the kit is one of the curve's sets or not, and stands on its page.
func TestKitPage(t *testing.T) {
	p, _ := fixture(60, 40, 0)
	withKit(p)
	for _, own := range []bool{false, true} {
		k := *p.Kit
		if own {
			k.Tubes, k.Worst, k.Mean = append([]string{}, k.Tubes[:5]...), 7.7, 1.4
		}
		var s bytes.Buffer
		if err := KitSVG(&s, &k, p.Box.Tubes); err != nil {
			t.Fatal(err)
		}
		for d := xml.NewDecoder(bytes.NewReader(s.Bytes())); ; {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatal(err)
			}
		}
		text := s.String()
		for _, c := range k.Curve {
			if !strings.Contains(text, strings.Join(c.Tubes, ", ")) {
				t.Errorf("the set of %d is not told", c.Count)
			}
		}
		if !strings.Contains(text, "(the kit): worst "+figureOf(k.Worst)) {
			t.Error("the kit is not told")
		}
		page, err := kitPage(&k, p.Box.Tubes)
		if err != nil {
			t.Fatal(err)
		}
		rows := 0
		for i := range page.marks {
			m := &page.marks[i]
			a := m.area()
			if a.x0 < 0 || a.y0 < 0 || a.x1 > page.w || a.y1 > page.h {
				t.Errorf("%q leaves the page: %+v", m.words, a)
			}
			if m.words == "the kit" {
				rows++
			}
		}
		if rows != 1 {
			t.Errorf("%d rows are called the kit", rows)
		}
	}
	var b bytes.Buffer
	if err := KitPNG(&b, p.Kit, p.Box.Tubes); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	if img.Bounds().Dx() < 2000 {
		t.Errorf("the page is %v, too small to print", img.Bounds())
	}
	if err := KitPNG(&b, &plan.KitPlan{}, nil); err == nil {
		t.Error("a kit of nothing was drawn")
	}
}

package plan

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// Limits of a lesson's sheets, so that cells are large enough to paint in.
const (
	MaxLessonWheel = 10 // tubes round the wheel
	MaxLessonPairs = 8  // tubes of the chart of pairs
)

// Lesson is a wheel and a chart for a class to mix and paint, with the colours
// foretold for each cell to compare.
type Lesson struct {
	Box      string         `json:"box"`
	Finish   string         `json:"finish"`
	White    string         `json:"white,omitempty"`
	Tubes    []ChartTube    `json:"tubes"` // of the wheel
	Wheel    []Segment      `json:"wheel"` // against the clock, from yellow on
	Chart    *Chart         `json:"chart"`
	Cautions []GroupCaution `json:"cautions,omitempty"`
	Scope    string         `json:"scope"`
	Warnings []string       `json:"warnings"`
}

// Segment is one colour of the wheel to mix: a tube, or two neighbours midway.
type Segment struct {
	Tubes    []int `json:"tubes"`    // numbers; one or two
	Opposite int   `json:"opposite"` // number of the tube it is greyed with; 0 where there is none
	Mix      Cell  `json:"mix"`      // parts of Tubes
	Tint     *Cell `json:"tint,omitempty"`
	Greyed   *Cell `json:"greyed,omitempty"` // parts of Tubes and of Opposite
}

// GroupCaution is a caution and the tubes it holds for.
type GroupCaution struct {
	Tubes   []string `json:"tubes"`
	Caution string   `json:"caution"`
}

// Lesson makes the sheets of a lesson. Chart and steps are as for
// [Workspace.Chart]; empty for the pairs of the wheel's tubes.
//
// The wheel takes up to MaxLessonWheel tubes of colour, earths only where there
// are fewer than three others, spread round the circle as far as they go.
// Between two neighbours stands their mix that looks midway. Each has a tint
// midway to white, and is half greyed by the tube of the wheel that best keeps
// its hue in doing so, if any does.
func (w *Workspace) Lesson(chart string, steps int) (*Lesson, error) {
	out := &Lesson{Box: w.Box.Name, Finish: w.Palette.Finish.String(), Scope: inventory.CautionScope}
	whitePaint := w.tintWhite()
	s := shop{w.Palette.Finish}
	ring, all := w.ring(whitePaint, MaxLessonWheel)
	if len(ring) == 0 {
		return nil, errors.New("there is no tube of colour to lay round a wheel: add one to the box, or name others with --only")
	}
	white := w.ownWhite()
	if white != nil {
		out.White = white.Name
	}
	for i, t := range ring {
		out.Tubes = append(out.Tubes, s.chartTube(i+1, t))
	}
	for i, t := range ring {
		out.Wheel = append(out.Wheel, s.segment([]int{i}, []float64{1}, ring, white))
		if j := (i + 1) % len(ring); j != i && (len(ring) > 2 || i == 0) {
			p := s.pair(i+1, j+1, t, ring[j], nil)
			out.Wheel = append(out.Wheel, s.segment([]int{i, j}, p.Mix.Parts, ring, white))
		}
	}
	var err error
	if chart == "" {
		out.Chart, err = w.lessonPairs(white)
	} else {
		out.Chart, err = w.Chart(chart, steps)
	}
	if err != nil {
		return nil, err
	}
	out.Warnings = append([]string{}, w.Notes...)
	if all > len(ring) {
		out.Warnings = append(out.Warnings, fmt.Sprintf("The wheel shows %d of %d tubes of colour, spread round the circle; choose others with --only.", len(ring), all))
	}
	out.Cautions = grouped(append(slices.Clone(out.Tubes), out.Chart.Tubes...))
	return out, nil
}

// lessonPairs is a chart of pairs of tubes spread round the wheel, or where
// there is but one, its ladders.
func (w *Workspace) lessonPairs(white *inventory.Tube) (*Chart, error) {
	ring, of := w.ring(w.tintWhite(), MaxLessonPairs)
	if len(ring) == 1 {
		return w.ladders(ring[0], 0)
	}
	c := w.pairsOf(ring, white)
	if of > len(ring) {
		c.Of = of
	}
	return c, nil
}

// ring picks at most so many tubes for a wheel, in the order of their hues from
// yellow on, and says how many there were to pick from.
func (w *Workspace) ring(white *optics.Paint, most int) ([]*inventory.Tube, int) {
	type hued struct {
		tube   *inventory.Tube
		hue    float64
		chroma float64
	}
	var bright, earth []hued
	s := shop{w.Palette.Finish}
	for _, t := range w.Palette.Tubes {
		k := s.streak(0, t, white)
		tip := k.Streak[k.Tip]
		h := hued{t, tip.Hue, tip.Chroma}
		switch k.Kind {
		case Bright:
			bright = append(bright, h)
		case Earth:
			earth = append(earth, h)
		}
	}
	if len(bright) < 3 {
		bright = append(bright, earth...)
	}
	of := len(bright)
	apart := func(a, b float64) float64 { d := math.Abs(a - b); return min(d, 100-d) }
	if of > most {
		// The strongest first, then whichever is strong and far from those taken.
		slices.SortStableFunc(bright, func(a, b hued) int { return cmp.Compare(b.chroma, a.chroma) })
		for n := 1; n < most; n++ {
			far, at := -1.0, n
			for i := n; i < of; i++ {
				near := 100.0
				for _, q := range bright[:n] {
					near = min(near, apart(q.hue, bright[i].hue))
				}
				if near *= bright[i].chroma; near > far {
					far, at = near, i
				}
			}
			bright[n], bright[at] = bright[at], bright[n]
		}
		bright = bright[:most]
	}
	yellow := uniqueHues[1].Hue
	first := 0
	slices.SortStableFunc(bright, func(a, b hued) int { return cmp.Compare(a.hue, b.hue) })
	for i, h := range bright {
		if apart(h.hue, yellow) < apart(bright[first].hue, yellow) {
			first = i
		}
	}
	var out []*inventory.Tube
	for i := range bright {
		out = append(out, bright[(first+i)%len(bright)].tube)
	}
	return out, of
}

// segment fills in one colour of the wheel. White may be nil.
func (s shop) segment(of []int, parts []float64, ring []*inventory.Tube, white *inventory.Tube) Segment {
	var g Segment
	var paints []*optics.Paint
	for _, i := range of {
		g.Tubes = append(g.Tubes, i+1)
		paints = append(paints, &ring[i].Paint)
	}
	mix := optics.Mix(paints, parts)
	c := s.alone(&mix)
	g.Mix = cell(c, parts...)
	a, b := int(parts[0]), 0
	if len(parts) > 1 {
		b = int(parts[1])
	}
	// with gives every mix of the ladder with one paint more.
	with := func(more *optics.Paint, most int, look func(lab.Lab, []float64)) {
		for _, m := range whitened(a, b) {
			if m[2] == 0 || m[2] > most {
				continue
			}
			all := []float64{float64(m[0])}
			if len(of) > 1 {
				all = append(all, float64(m[1]))
			}
			all = append(all, float64(m[2]))
			look(s.see(append(slices.Clone(paints), more), all...), all)
		}
	}
	stepped := func(q lab.Lab, all []float64) *Cell {
		out := cell(q, all...)
		out.Step = round(lab.DE00(c, q), 2)
		return &out
	}
	if white != nil {
		cw, off := s.alone(&white.Paint), math.Inf(1)
		with(&white.Paint, 256, func(q lab.Lab, all []float64) {
			if d := math.Abs(lab.DE00(c, q) - lab.DE00(q, cw)); d < off {
				g.Tint, off = stepped(q, all), d
			}
		})
	}
	n, err := c.Notation()
	if err != nil || n.Chroma < leastToGrey {
		return g
	}
	// Half the chroma in the same hue is aimed at, in the plane of hue and
	// chroma.
	off := n.Chroma / 4
	for i, t := range ring {
		if slices.Contains(of, i) {
			continue
		}
		with(&t.Paint, 32, func(q lab.Lab, all []float64) {
			if m, err := q.Notation(); err == nil {
				turn := math.Cos(2 * math.Pi * (m.Hue - n.Hue) / 100)
				half := n.Chroma / 2
				d := math.Sqrt(max(0, m.Chroma*m.Chroma+half*half-2*m.Chroma*half*turn))
				if turn > keepsHue && d < off {
					g.Greyed, g.Opposite, off = stepped(q, all), i+1, d
				}
			}
		})
	}
	return g
}

// keepsHue is the cosine of the turn of hue up to which a greyed colour is still
// of its hue: a third of the way between two of the notation's ten hues.
var keepsHue = math.Cos(2 * math.Pi * 20 / 3 / 100)

// leastToGrey is the notation's chroma below which a colour has too little to
// be greyed by halves.
const leastToGrey = 2.0

// grouped joins the cautions of tubes, each once.
func grouped(tubes []ChartTube) []GroupCaution {
	var out []GroupCaution
	for _, t := range tubes {
		if t.Caution == "" {
			continue
		}
		i := slices.IndexFunc(out, func(g GroupCaution) bool { return g.Caution == t.Caution })
		if i < 0 {
			out = append(out, GroupCaution{Caution: t.Caution})
			i = len(out) - 1
		}
		if !slices.ContainsFunc(out[i].Tubes, func(n string) bool { return strings.EqualFold(n, t.Name) }) {
			out[i].Tubes = append(out[i].Tubes, t.Name)
		}
	}
	return out
}

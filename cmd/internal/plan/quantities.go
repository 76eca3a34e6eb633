package plan

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"paintout/analyze/photo"
)

// Film is how thick paint is laid, wet.
type Film struct {
	Name    string
	Microns float64 // 0 for none: nothing is measured out
}

// ParseFilm reads "brush", "knife" or a thickness: "150um", "150 µm", "0.3mm".
func ParseFilm(s string) (Film, error) {
	t := strings.ToLower(strings.Join(strings.Fields(s), ""))
	for _, w := range Ways {
		if w.Name == t && w.Film > 0 {
			return Film{w.Name, w.Film}, nil
		}
	}
	for unit, by := range map[string]float64{"um": 1, "µm": 1, "μm": 1, "mm": 1000} {
		n, ok := strings.CutSuffix(t, unit)
		v, err := strconv.ParseFloat(n, 64)
		if !ok || err != nil {
			continue
		}
		if v *= by; v >= 5 && v <= 10000 {
			return Film{fmt.Sprintf("%g µm", v), v}, nil
		}
		return Film{}, fmt.Errorf("a film of %s: paint is laid between 5 µm and 10 mm thick", s)
	}
	return Film{}, fmt.Errorf("the film %q: write brush, knife or a thickness such as 150um or 0.3mm", s)
}

// What is added to what lies on the canvas, for what stays on knife, brush and
// palette and for second touches; the least worth mixing, in ml, about a large
// pea; and the bead that comes out of a tube, for which a nozzle is taken to be
// 7 mm wide (common practice, no source).
const (
	quantityMargin = 0.3
	leastPile      = 0.5
	nozzleMM       = 7.0
)

// beadPerML is the length of bead, in cm, that holds one ml.
const beadPerML = 1000 / (math.Pi / 4 * nozzleMM * nozzleMM) / 10

// Quantities says how much paint a canvas takes, and what that rests on.
type Quantities struct {
	Canvas string  `json:"canvas"` // "30×40 cm"
	Area   float64 `json:"area_cm2"`
	Film   string  `json:"film"`
	Thick  float64 `json:"film_um"` // wet
	Margin float64 `json:"margin"`  // share added to what lies on the canvas
	ML     float64 `json:"ml"`      // in all
	Words  string  `json:"words"`
}

// Squeeze is what to squeeze out of one tube.
type Squeeze struct {
	Tube   string   `json:"tube"`
	ML     float64  `json:"ml"`
	BeadCM float64  `json:"bead_cm"`           // from a nozzle 7 mm wide
	LeftML *float64 `json:"left_ml,omitempty"` // in the tube, or its size where no more is known
	Full   bool     `json:"if_full,omitempty"` // LeftML is the tube's size
	Enough *bool    `json:"enough,omitempty"`  // whether that will do; absent where neither is known
}

// Words says it as a painter would.
func (s *Squeeze) Words() string {
	say := MLWords(s.ML)
	if s.BeadCM >= 1 {
		say += fmt.Sprintf(", a bead of %.0f cm", s.BeadCM)
	}
	switch {
	case s.Enough == nil:
	case *s.Enough && s.Full:
		say += fmt.Sprintf("; enough in a full tube of %g ml", *s.LeftML)
	case *s.Enough:
		say += fmt.Sprintf("; %g ml are left, enough", *s.LeftML)
	case s.Full:
		say += fmt.Sprintf("; more than a tube of %g ml holds", *s.LeftML)
	case *s.LeftML == 0:
		say += "; none is left"
	default:
		say += fmt.Sprintf("; only %g ml are left", *s.LeftML)
	}
	return say
}

// MLWords writes a volume with as many digits as mean something.
func MLWords(ml float64) string {
	switch {
	case ml < 0.1:
		return "under 0.1 ml"
	case ml < 10:
		return fmt.Sprintf("%.1f ml", ml)
	}
	return fmt.Sprintf("%.0f ml", ml)
}

// measureOut says how much of each pile and tube a canvas takes: its area times
// the film times each mass's share, with the margin, and no pile less than is
// worth mixing. Nothing is done without canvas or film.
func (p *Plan) measureOut(canvas *photo.Canvas, film Film) {
	if canvas == nil || film.Microns == 0 {
		return
	}
	area := canvas.Width * canvas.Height / 100
	q := &Quantities{Canvas: canvas.String(), Area: round(area, 1), Film: film.Name, Thick: film.Microns, Margin: quantityMargin}
	need := map[string]float64{}
	for i := range p.Masses {
		m := &p.Masses[i]
		pile := max(leastPile, area*film.Microns/1e4*m.Share*(1+quantityMargin))
		m.ML = round(pile, 3)
		q.ML += pile
		first := m.First()
		for j := range m.Recipes {
			r := &m.Recipes[j]
			total := 0.0
			for _, part := range r.Parts {
				total += part.Parts
			}
			for k := range r.Parts {
				ml := pile * r.Parts[k].Parts / total
				r.Parts[k].ML = round(ml, 3)
				if r == first {
					need[r.Parts[k].Tube] += ml
				}
			}
		}
	}
	q.ML = round(q.ML, 1)
	q.Words = fmt.Sprintf("%s take about %s in all, laid %.2g mm thick (%s) with %.0f %% over for knife, palette and second touches, and no pile under %g ml. Thickness varies by a factor of two from painter to painter: these are amounts to squeeze out first, not to the drop.",
		q.Canvas, MLWords(q.ML), film.Microns/1000, filmWords(film), 100*quantityMargin, leastPile)
	p.Quantities = q
	for i := range p.Box.Tubes {
		t := &p.Box.Tubes[i]
		ml := need[t.Name]
		if ml == 0 {
			continue
		}
		s := Squeeze{Tube: t.Name, ML: round(ml, 2), BeadCM: round(ml*beadPerML, 1), LeftML: t.LeftML}
		if s.LeftML == nil && t.SizeML > 0 {
			size := t.SizeML
			s.LeftML, s.Full = &size, true
		}
		if s.LeftML != nil {
			enough := ml <= *s.LeftML
			s.Enough = &enough
			if !enough {
				p.Warnings = append(p.Warnings, fmt.Sprintf("%s will not do: this canvas asks for %s.", t.Name, s.Words()))
			}
		}
		p.Squeeze = append(p.Squeeze, s)
		t.Squeeze = &s
	}
}

func filmWords(f Film) string {
	switch f.Name {
	case "brush", "gouache":
		return "by brush, as an art supplier's guide has it, a litre to 100 square feet"
	case "knife":
		return "by knife, common practice"
	}
	return "as you say"
}

// Package draw turns a plan into things to look at: the page that goes to the
// easel, pictures, and the overview of several plans. Values go in, bytes come
// out; the same plan gives the same bytes. It prints nothing and opens no files.
//
// Start from [Folder] for the page of one photo and [Overview] for several;
// [MassesPNG], [MixedPNG], [ValuesPNG], [PilesPNG] and [StripPNG] are the
// pictures.
package draw

import (
	"fmt"
	"image/color"
	"math"
	"sort"
	"strconv"
	"strings"

	"paintout/analyze/lab"
	"paintout/cmd/internal/plan"
)

// Surround is the neutral grey everything is shown on: sRGB 171 a channel,
// L* 70, reflectance 41 %. It lies inside the 10–60 % that ISO 3664:2009 (from
// memory) allows around a print being judged, and black ink on it keeps a
// contrast of 8 to 1, so one grey serves both for judging colour and for
// reading outdoors; a white page would make every swatch look darker.
var Surround = color.RGBA{171, 171, 171, 255}

// check refuses a plan and pictures that do not belong together.
func check(p *plan.Plan, pics *plan.Pictures) error {
	switch {
	case p == nil || pics == nil || pics.Photo == nil:
		return fmt.Errorf("draw: the plan has no picture to draw on; make the plan again from its photo")
	case len(p.Masses) == 0:
		return fmt.Errorf("draw: the plan of %s has no masses; make it again with at least one", p.Photo.Path)
	case len(p.Masses) > maxMasses:
		return fmt.Errorf("draw: the plan of %s has %d masses, and %d can be drawn; ask for fewer", p.Photo.Path, len(p.Masses), maxMasses)
	}
	b := pics.Photo.Bounds()
	n := pics.W * pics.H
	if b.Dx() != pics.W || b.Dy() != pics.H || n == 0 || len(pics.Masses) != n {
		return fmt.Errorf("draw: the picture of %s (%d × %d) and its masses (%d places) differ in size; make the plan again",
			p.Photo.Path, b.Dx(), b.Dy(), len(pics.Masses))
	}
	for _, m := range pics.Masses {
		if int(m) >= len(p.Masses) {
			return fmt.Errorf("draw: the picture of %s names mass %d of %d; make the plan again", p.Photo.Path, m+1, len(p.Masses))
		}
	}
	for steps, v := range pics.Values {
		if len(v) != n {
			return fmt.Errorf("draw: the %d-step values of %s differ in size from its picture; make the plan again", steps, p.Photo.Path)
		}
		for _, s := range v {
			if int(s) >= len(p.ValueSteps[steps]) {
				return fmt.Errorf("draw: the %d-step values of %s name step %d; make the plan again", steps, p.Photo.Path, s+1)
			}
		}
	}
	return nil
}

// maxMasses is what the page's masks can hold, ten grey levels apart.
const maxMasses = 25

// rgb reads "#5a7d3c"; anything else is the surround, so that a colour missing
// from a plan shows as a hole and never as a wrong colour.
func rgb(hex string) color.RGBA {
	s := strings.TrimPrefix(hex, "#")
	n, err := strconv.ParseUint(s, 16, 32)
	if len(s) != 6 || err != nil {
		return Surround
	}
	return color.RGBA{uint8(n >> 16), uint8(n >> 8), uint8(n), 255}
}

func hexOf(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

func labOf(c color.RGBA) lab.Lab { return lab.FromSRGB8(c.R, c.G, c.B) }

// inkOn is black or white, whichever reads better on c: the contrast ratio of
// WCAG 2.2 (relative luminance plus 0.05) is then never below 4.58.
func inkOn(c color.RGBA) color.RGBA {
	y := labOf(c).XYZ(lab.D65).Y / 100
	if (y+0.05)/0.05 >= 1.05/(y+0.05) {
		return color.RGBA{0, 0, 0, 255}
	}
	return color.RGBA{255, 255, 255, 255}
}

// greyOfValue is the neutral that shows a value of 0–10 on a screen.
func greyOfValue(v float64) color.RGBA {
	y := lab.LuminanceOfValue(v) / 100
	g := uint8(math.Round(255 * lab.EncodeSRGB(y)))
	return color.RGBA{g, g, g, 255}
}

// lightFirst orders masses as they are laid out and mixed: light to dark, the
// accents last.
func lightFirst(masses []plan.Mass) []int {
	order := make([]int, len(masses))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool {
		p, q := masses[order[a]], masses[order[b]]
		if p.Accent != q.Accent {
			return q.Accent
		}
		if p.AimValue != q.AimValue {
			return p.AimValue > q.AimValue
		}
		return p.ID < q.ID
	})
	return order
}

// amount writes parts as a painter says them: no trailing zeros.
func amount(x float64) string { return strconv.FormatFloat(math.Round(x*100)/100, 'f', -1, 64) }

// percent writes a share so that nothing present reads as nothing.
func percent(share float64) string {
	switch p := share * 100; {
	case p <= 0:
		return "0 %"
	case p < 1:
		return "under 1 %"
	default:
		return strconv.Itoa(int(math.Round(p))) + " %"
	}
}

func one(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }

// short is a mix in one line: "6 Chalk White + 1 Harbour Blue".
func short(r plan.Recipe) string {
	parts := make([]string, len(r.Parts))
	for i, p := range r.Parts {
		parts[i] = amount(p.Parts) + " " + p.Tube
	}
	return strings.Join(parts, " + ")
}

package draw

import (
	"strings"

	"paintout/cmd/internal/plan"
)

// PileRow is one step of value on the palette, or a row of accents.
type PileRow struct {
	Value int         `json:"value"`
	Hex   string      `json:"hex"`   // the neutral of that value
	Again bool        `json:"again"` // the step before had more piles than fit one row
	Piles []PilePlace `json:"piles"`
}

// PilePlace is where a pile stands in its row of 12 columns, cool to warm, and
// its outline in a box Wide by 100.
type PilePlace struct {
	Mass  int    `json:"mass"` // index into the masses
	Start int    `json:"start"`
	Len   int    `json:"len"`
	Wide  int    `json:"wide"`
	Path  string `json:"path"` // SVG
}

// Piles lays masses out as the page and the sheet do: value down, cool to warm
// across, accents apart.
func Piles(masses []plan.Mass) (rows, accents []PileRow) {
	pal := arrange(masses)
	lay := func(from []row) []PileRow {
		out := []PileRow{}
		for _, r := range from {
			pr := PileRow{Value: r.Value, Hex: hexOf(greyOfValue(float64(r.Value))), Again: r.Again, Piles: []PilePlace{}}
			for _, s := range r.Spots {
				aspect := float64(s.Len) * pileAspect
				pr.Piles = append(pr.Piles, PilePlace{
					Mass: s.Mass, Start: s.Start, Len: s.Len, Wide: int(100 * aspect), Path: svgPath(pat(masses[s.Mass].ID, aspect)),
				})
			}
			out = append(out, pr)
		}
		return out
	}
	return lay(pal.Rows), lay(pal.Accents)
}

// GreyOfValue is the neutral that shows a value of 0–10 on a screen, #rrggbb.
func GreyOfValue(v float64) string { return hexOf(greyOfValue(v)) }

// pileAspect is how wide a column of the palette is beside a row's height, about
// that of a phone.
const pileAspect = 0.5

// StreakPath is the outline of a streak pulled from a tube, in a box 600 by 100.
func StreakPath(n int) string { return strings.TrimSpace(svgPath(pat(100+n, streakAspect))) }

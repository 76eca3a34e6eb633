package card

import (
	"testing"

	"paintout/analyze/photo"
)

// mosaic is a picture of n by n tiles of many colours, with dark joints.
func mosaic(t testing.TB, n int) *photo.Photo {
	const side = 600
	c := side / n
	return picture(t, side, side, func(x, y int) [3]float64 {
		if x%c < 4 || y%c < 4 {
			return [3]float64{0.01, 0.01, 0.01}
		}
		i := (x/c)*7919 + (y/c)*104729
		return [3]float64{float64(i%17)/20 + 0.05, float64(i%13)/15 + 0.05, float64(i%11)/12 + 0.05}
	})
}

// Tiles in rows are not yet a colour chart; their colours must be its own.
func TestMosaicIsNoChart(t *testing.T) {
	regions, _ := survey(mosaic(t, 12))
	if len(regions) < 90 {
		t.Fatalf("%d of 100 tiles inside the edge were found", len(regions))
	}
	if c := findChart(regions); c != nil {
		t.Errorf("a mosaic was taken for the chart: %d patches, misfit %.2f", c.seen, c.misfit)
	}
}

// The worst for the search: a great many like places in rows.
func BenchmarkFindChart(b *testing.B) {
	regions, _ := survey(mosaic(b, 22))
	for b.Loop() {
		findChart(regions)
	}
}

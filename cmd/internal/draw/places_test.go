package draw

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"testing"

	"paintout/cmd/internal/cardphoto"
	"paintout/cmd/internal/plan"
	"paintout/inventory/optics"
)

// The overview of a swatch card shows the picture, and beside it each place's
// colour as it was read; the same card gives the same bytes.
func TestPlaces(t *testing.T) {
	s, _, _, err := cardphoto.Sheet([]string{"PB29", "PR101"}, "PW6", []float64{4}, optics.Included, true)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "card.jpg")
	if err := os.WriteFile(file, cardphoto.Phone(s, 0, 360).Photo(s), 0o644); err != nil {
		t.Fatal(err)
	}
	r, err := plan.Measure(plan.MeasureOptions{Photo: file})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Places) < 4 || r.Chart == nil {
		t.Fatalf("%d places, chart %v", len(r.Places), r.Chart)
	}
	img := drawn(t, func(w io.Writer) error { return PlacesPNG(w, r) })
	wide := r.Width + 3*placesMargin + placesColumn
	if b := img.Bounds(); b.Dx() != wide || b.Dy() < r.Height {
		t.Errorf("the overview measures %v, the photo %d×%d", b, r.Width, r.Height)
	}
	for i, q := range r.Places {
		x, y := r.Width+2*placesMargin+70, placesMargin+(i+1)*placesRow-8
		if got := at(img, x, y); got != rgb(q.Hex) {
			t.Errorf("place %d is shown as %v, read as %s", q.Number, got, q.Hex)
		}
		// Its outline lies on the photo.
		b := q.Box()
		if got := at(img, placesMargin+b.Min.X, placesMargin+(b.Min.Y+b.Max.Y)/2); got == at(r.Preview, b.Min.X, (b.Min.Y+b.Max.Y)/2) {
			t.Errorf("place %d has no outline", q.Number)
		}
	}
	var one, two bytes.Buffer
	for _, b := range []*bytes.Buffer{&one, &two} {
		if err := PlacesPNG(b, r); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(one.Bytes(), two.Bytes()) {
		t.Error("the same card gives other bytes")
	}
}

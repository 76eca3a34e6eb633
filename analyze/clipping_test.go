package analyze

import (
	"context"
	"testing"
)

// pale is a flat picture of one light.
type pale struct {
	w, h  int
	light float32
}

func (p pale) Size() (int, int) { return p.w, p.h }
func (p pale) Row(_ int, dst []float32) {
	for i := range dst {
		dst[i] = p.light
	}
}

// Light that was pushed past full scale afterwards was not burnt out by the
// camera, and what it burnt out stays so when darkened.
func TestClippingIsAsShot(t *testing.T) {
	for _, c := range []struct {
		name          string
		now, shot     float32
		clip, crushed float64
	}{
		{"brightened", 1.4, 0.7, 0, 0},
		{"darkened", 0.5, 1, 1, 0},
		{"lifted from black", 0.01, 0, 0, 1},
	} {
		a, err := Analyze(context.Background(), pale{40, 30, c.now}, Options{AsShot: pale{40, 30, c.shot}})
		if err != nil {
			t.Fatal(err)
		}
		if a.Clipped != c.clip || a.Crushed != c.crushed {
			t.Errorf("%s: clipped %v and crushed %v of the picture, want %v and %v", c.name, a.Clipped, a.Crushed, c.clip, c.crushed)
		}
	}
}

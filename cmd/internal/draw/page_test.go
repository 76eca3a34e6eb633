package draw

import (
	"bytes"
	"io"
	"os"
	"testing"
)

func TestHTML(t *testing.T) {
	p, pics := fixture(1500, 1000, 6)
	var b bytes.Buffer
	if err := HTML(&b, p, pics); err != nil {
		t.Fatal(err)
	}
	t.Log(b.Len())
	if dir := os.Getenv("PAINTOUT_SHOTS"); dir != "" {
		os.WriteFile(dir+"/plan.html", b.Bytes(), 0o644)
		for n, f := range map[string]func(io.Writer) error{
			"masses": func(w io.Writer) error { return MassesPNG(w, p, pics) },
			"mixed":  func(w io.Writer) error { return MixedPNG(w, p, pics) },
			"v3":     func(w io.Writer) error { return ValuesPNG(w, p, pics, 3) },
			"strip":  func(w io.Writer) error { return StripPNG(w, p) },
			"piles":  func(w io.Writer) error { return PilesPNG(w, p) },
		} {
			b.Reset()
			if err := f(&b); err != nil {
				t.Fatal(err)
			}
			os.WriteFile(dir+"/png-"+n+".png", b.Bytes(), 0o644)
		}
	}
}

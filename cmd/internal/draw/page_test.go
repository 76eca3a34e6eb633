package draw

import (
	"bytes"
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
	}
}

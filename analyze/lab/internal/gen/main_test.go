package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The committed table is what the generator makes of the published figures.
func TestTableIsGenerated(t *testing.T) {
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for dir != filepath.Dir(dir) {
		dir = filepath.Dir(dir)
		in, err := os.Open(filepath.Join(dir, "shared/data/reference/munsell_real_2734.csv"))
		if err != nil {
			continue
		}
		defer in.Close()
		want, err := generate(in)
		if err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile("../../renotation.go")
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Error("renotation.go is not what the generator writes: run go generate in analyze/lab")
		}
		return
	}
	t.Skip("the published figures are not beside the project")
}

func TestGenerateRefuses(t *testing.T) {
	for name, in := range map[string]string{
		"too few samples": "H,V,C,x,y,Y_MgO\n5R,5,2,.35,.32,19.77\n",
		"no table":        "\"",
	} {
		if _, err := generate(strings.NewReader(in)); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

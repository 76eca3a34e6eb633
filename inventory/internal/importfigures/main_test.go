package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// The committed tables are what the importer makes of the published files.
func TestTablesAreTheSource(t *testing.T) {
	from := sharedData(t)
	for file, make := range tables {
		got, err := make(from)
		if err != nil {
			t.Fatal(err)
		}
		want, err := os.ReadFile(filepath.Join("..", "figures", file))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s differs from its source; run importfigures", file)
		}
	}
}

func sharedData(t *testing.T) string {
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		p := filepath.Join(dir, "shared", "data")
		if _, err := os.Stat(p); err == nil {
			return p
		}
		if filepath.Dir(dir) == dir {
			t.Skip("the published files (shared/data) do not lie beside this checkout")
		}
		dir = filepath.Dir(dir)
	}
}

package wholefile

import (
	"os"
	"path/filepath"
	"testing"
)

func TestWrite(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "box.yaml")
	for _, want := range []string{"first, and long", "second", ""} {
		if err := Write(path, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
		if got, err := os.ReadFile(path); err != nil || string(got) != want {
			t.Fatalf("%q, %v; want %q", got, err, want)
		}
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 1 {
		t.Errorf("left behind: %v, %v", entries, err)
	}
}

// What cannot be written leaves the old file and nothing beside it.
func TestWriteFails(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "taken")
	if err := os.MkdirAll(filepath.Join(path, "inside"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := Write(path, []byte("x"), 0o644); err == nil {
		t.Error("a folder was written over")
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 1 {
		t.Errorf("left behind: %v, %v", entries, err)
	}
	if err := Write(filepath.Join(dir, "none", "box.yaml"), nil, 0o644); err == nil {
		t.Error("written into a folder that is not there")
	}
}

//go:build linux

package main

import (
	"path/filepath"
	"testing"
)

// A few of each kind; go run ./cmd/faults tries the rest.
func TestPictures(t *testing.T) {
	tally := &tally{root: filepath.Join("..", "..")}
	kinds, err := tally.kinds()
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range kinds {
		tally.cut(k)
		tally.mutate(k, 20)
	}
	for _, w := range tally.wrong {
		t.Error(w)
	}
	if len(tally.rows) != 2*len(kinds) {
		t.Errorf("%d rows for %d kinds", len(tally.rows), len(kinds))
	}
}

// What is said counts.
func TestSentence(t *testing.T) {
	var y tally
	y.sentence("sound", "a.jpg", "a.jpg: the file is empty; copy it again")
	if len(y.wrong) > 0 {
		t.Error(y.wrong)
	}
	for _, s := range []string{"the file is empty; copy it again", "a.jpg: empty", "a.jpg: cut short;\ncopy it again"} {
		n := len(y.wrong)
		if y.sentence("unsound", "a.jpg", s); len(y.wrong) == n {
			t.Errorf("%q passed", s)
		}
	}
}

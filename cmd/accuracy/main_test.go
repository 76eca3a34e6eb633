package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// sharedData finds the reference data that lie beside a checkout.
func sharedData(t *testing.T) string {
	t.Helper()
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
			t.Skip("the measured films (shared/data) do not lie beside this checkout")
		}
		dir = filepath.Dir(dir)
	}
}

// What is foretold from masstones, tenth tints and greys of the oil set
// (Geldof et al., Heritage Science 6:17, 2018). This project's aims are a mean
// of 3.0 and a median of 2.5 ΔE00 from spectra, and Lab colours within a tenth
// of that; the limits below are what is reached, so that a change for the worse
// shows. The command prints the figures.
func TestForetoldFromFew(t *testing.T) {
	all, err := readFilms(filepath.Join(sharedData(t), "oil-mixtures"))
	if err != nil {
		t.Fatal(err)
	}
	films := make([]*film, len(all))
	for i := range all {
		films[i] = &all[i]
	}
	mean := map[string]float64{}
	for _, way := range ways {
		p, err := fromFew(films, way.by)
		if err != nil {
			t.Fatal(err)
		}
		if len(p) != 35 {
			t.Fatalf("%d films foretold, 35 are others than masstones, tenth tints and greys", len(p))
		}
		var off []float64
		for _, q := range p {
			mean[way.name] += q.off / float64(len(p))
			off = append(off, q.off)
		}
		t.Logf("%-22s %s", way.name, figures(p))
		switch way.name {
		case "spectra":
			if m := quantile(off, 0.5); mean[way.name] > 3.2 || m > 2.6 {
				t.Errorf("spectra: mean %.2f, median %.2f ΔE00", mean[way.name], m)
			}
			if s := share(p, 1); s < 80 {
				t.Errorf("%.0f %% within bounds of nine in ten", s)
			}
		case "Lab colours alone":
			if m := quantile(off, 0.5); mean[way.name] > 4.05 || m > 3.0 {
				t.Errorf("Lab: mean %.2f, median %.2f ΔE00", mean[way.name], m)
			}
		}
	}
	if mean["single-constant K/S"] < 2*mean["spectra"] {
		t.Errorf("one constant misses by %.1f, two by %.1f: it has been given too much or too little", mean["single-constant K/S"], mean["spectra"])
	}
}

// What is left out is not in what it is foretold from.
func TestLeftOutIsLeftOut(t *testing.T) {
	all, err := readFilms(filepath.Join(sharedData(t), "oil-mixtures"))
	if err != nil {
		t.Fatal(err)
	}
	var films []*film
	for i := range all {
		films = append(films, &all[i])
	}
	seen := map[*film]bool{}
	mixes := 0
	_, err = leaveOneOut(films, func(from, test []*film) ([]prediction, error) {
		if len(test) != 1 || len(from) != len(films)-1 {
			t.Errorf("%d films from %d", len(test), len(from))
		}
		for _, f := range from {
			if f == test[0] {
				t.Errorf("%v is foretold from itself", f)
			}
		}
		return []prediction{{film: test[0]}}, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	p, err := leaveOneOut(films, func(_, test []*film) ([]prediction, error) { return []prediction{{film: test[0]}}, nil })
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range p {
		if seen[q.film] {
			t.Errorf("%v is foretold twice", q.film)
		}
		seen[q.film] = true
		if !q.film.masstone() {
			mixes++
		}
	}
	if len(p) < 60 || mixes != 58 {
		t.Errorf("%d films, of which %d mixes", len(p), mixes)
	}
}

func TestRunQuick(t *testing.T) {
	var out bytes.Buffer
	if err := run(&out, sharedData(t), true, false); err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{"Geldof", "spectra", "Lab colours alone", "single-constant", "cross-validated"} {
		if !strings.Contains(out.String(), s) {
			t.Errorf("nothing on %q in:\n%s", s, out.String())
		}
	}
	if err := run(&out, t.TempDir(), true, false); err == nil || !strings.Contains(err.Error(), "spectra.txt") {
		t.Errorf("a folder without films: %v", err)
	}
}

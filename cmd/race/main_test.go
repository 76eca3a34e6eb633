//go:build linux

package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// The sides on a small photo and few tubes: each answers, and our answer to a
// problem made of mixes is near them.
func TestSides(t *testing.T) {
	photo := filepath.Join(t.TempDir(), "photo.jpg")
	if _, err := scale([]string{filepath.Join("..", "..", "testdata", "marrow-sound.jpg"), "0.2", photo}); err != nil {
		t.Fatal(err)
	}
	d, err := decode([]string{photo})
	if err != nil || d.Pixels < 190e3 || d.Pixels > 200e3 {
		t.Fatalf("%+v, %v", d, err)
	}
	m, err := masses([]string{photo})
	if err != nil || len(m.Labs) != 12 {
		t.Fatalf("%+v, %v", m, err)
	}
	colours, err := json.Marshal(m.Labs)
	if err != nil {
		t.Fatal(err)
	}
	twelve, err := judgePhoto([]string{photo, string(colours)})
	if err != nil {
		t.Fatal(err)
	}
	one, err := judgePhoto([]string{photo, "[[50,0,0]]"})
	if err != nil {
		t.Fatal(err)
	}
	if !(twelve.Error > 0 && twelve.Error < one.Error/3) {
		t.Errorf("twelve colours miss by %.2f, one grey by %.2f", twelve.Error, one.Error)
	}
	x, err := mixes([]string{"8", "3"})
	if err != nil || !(x.Worst < 1) {
		t.Errorf("%+v, %v: aims are mixes, which the ladder comes near", x, err)
	}
}

// SciPy's mixes are judged by our own physics: with every triple tried and any
// parts allowed, the aims are met.
func TestSciPySolvesTheSameProblem(t *testing.T) {
	if exec.Command(python(), "-c", "import scipy.optimize").Run() != nil {
		t.Skip("SciPy (Debian: python3-scipy) is not here to compare with")
	}
	dir := t.TempDir()
	script := filepath.Join(dir, "mixes.py")
	file := filepath.Join(dir, "instance.json")
	if err := os.WriteFile(script, []byte(mixesPy), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := instance([]string{"5", "2", file}); err != nil {
		t.Fatal(err)
	}
	for _, way := range []string{"nnls", "slsqp"} {
		out, err := exec.Command(python(), script, file, way).Output()
		var r Report
		if err := errors.Join(err, json.Unmarshal(out, &r)); err != nil {
			t.Fatal(err)
		}
		ms, err := json.Marshal(r.Mixes)
		if err != nil {
			t.Fatal(err)
		}
		got, err := judgeMixes([]string{"5", "2", string(ms)})
		if err != nil || r.Done != 10 || r.All != 10 || !(got.Worst < 0.1) {
			t.Errorf("%s: %+v, judged %+v, %v", way, r, got, err)
		}
	}
}

func TestPlotIsSVG(t *testing.T) {
	p := panel{title: "mixes", axis: "tubes"}
	for n := 1.0; n < 5; n++ {
		p.add(n, n*n/7)
	}
	for d := xml.NewDecoder(bytes.NewReader(plot(p, p))); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

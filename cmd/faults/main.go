//go:build linux

// Faults tries paintout on damaged, hostile and misplaced files, and on disks
// and folders that refuse, and prints a table of what was tried and what came
// of it. It ends with 1 where anything came out wrong.
//
//	go run ./cmd/faults                  # everything, to cmd/faults/FAULTS.md
//	go run ./cmd/faults -mutants 200 -to -
//
// Pictures are damaged in memory and read by the package that reads them; all
// else runs the program itself, whose exit code, words, time and peak memory
// count. What needs root (another user's folders, a small disk) is left out
// without it, and that is said.
package main

import (
	"bytes"
	"flag"
	"fmt"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

func main() {
	log.SetFlags(0)
	mutants := flag.Int("mutants", 10000, "mutants of each kind of picture")
	large := flag.Bool("large", true, "read pictures at the limit of size, too (a minute)")
	to := flag.String("to", filepath.Join("cmd", "faults", "FAULTS.md"), "file to write the table to, or - for standard output")
	flag.Parse()
	t, err := try(*mutants, *large)
	if err != nil {
		log.Fatal(err)
	}
	text := t.text()
	if *to == "-" {
		os.Stdout.Write(text)
	} else if err := os.WriteFile(*to, text, 0o644); err != nil {
		log.Fatal(err)
	}
	for _, w := range t.wrong {
		log.Print("WRONG ", w)
	}
	if len(t.wrong) > 0 {
		os.Exit(1)
	}
}

// A tally is the table as it grows.
type tally struct {
	rows  []row
	left  []string // what could not be tried here
	wrong []string
	root  string // the project
}

// A row is one kind of fault.
type row struct {
	fault          string
	tried, refused int
	read           int
	slowest        time.Duration
	memory         int64  // peak bytes; 0 where it was not measured
	example        string // what was said
}

// failf notes something that came out wrong.
func (t *tally) failf(format string, args ...any) {
	t.wrong = append(t.wrong, fmt.Sprintf(format, args...))
}

func try(mutants int, large bool) (*tally, error) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}").Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w: run it inside the project", err)
	}
	t := &tally{root: strings.TrimSpace(string(out))}
	dir, err := os.MkdirTemp("", "faults")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if err := os.Chmod(dir, 0o755); err != nil {
		return nil, err
	}
	kinds, err := t.kinds()
	if err != nil {
		return nil, err
	}
	// The program first: a child begins with its parent's peak memory.
	p := &program{tally: t, dir: dir, bin: filepath.Join(dir, "paintout")}
	cmd := exec.Command("go", "build", "-o", p.bin, "./cmd/paintout")
	cmd.Dir = t.root
	if out, err := cmd.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("go build: %w\n%s", err, out)
	}
	if err := p.run(kinds, large); err != nil {
		return nil, err
	}
	for _, k := range kinds {
		t.cut(k)
		t.mutate(k, mutants)
	}
	return t, nil
}

func (t *tally) text() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "# Faults tried\n\nWritten by `go run ./cmd/faults` on %s/%s, %d cores; not to be edited. Refused\n"+
		"means one sentence that names the file and says what to do, and exit code 1.\n"+
		"Times and memory are of the whole program where memory is given, else of one\n"+
		"reading, and depend on what else the machine was doing.\n\n"+
		"| fault | tried | refused | read | slowest | peak memory | for instance |\n| --- | ---: | ---: | ---: | ---: | ---: | --- |\n",
		runtime.GOOS, runtime.GOARCH, runtime.NumCPU())
	for _, r := range t.rows {
		memory := ""
		if r.memory > 0 {
			memory = fmt.Sprintf("%d MiB", r.memory>>20)
		}
		fmt.Fprintf(&b, "| %s | %d | %d | %d | %v | %s | %s |\n", r.fault, r.tried, r.refused, r.read,
			r.slowest.Round(time.Millisecond), memory, strings.ReplaceAll(r.example, "|", "\\|"))
	}
	fmt.Fprintf(&b, "\nCame out wrong: %d.\n", len(t.wrong))
	for _, w := range t.wrong {
		fmt.Fprintf(&b, "- %s\n", w)
	}
	for _, l := range t.left {
		fmt.Fprintf(&b, "\nNot tried: %s.\n", l)
	}
	return b.Bytes()
}

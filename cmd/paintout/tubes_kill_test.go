package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"

	"paintout/inventory"
)

// addTube is the program adding a tube to a box, not started yet.
func addTube(box, name string) *exec.Cmd {
	c := exec.Command("paintout", "tubes", "add", name, "--pigment", "PB29", "--tubes", box)
	c.Env = append(os.Environ(), "XDG_CONFIG_HOME="+filepath.Dir(box), "HOME="+filepath.Dir(box))
	return c
}

// tubeNames are the names in a box file; none if there is no file yet.
func tubeNames(t *testing.T, box string) map[string]bool {
	t.Helper()
	names := map[string]bool{}
	if _, err := os.Stat(box); os.IsNotExist(err) {
		return names
	}
	b, err := inventory.LoadBox(box)
	if err != nil {
		t.Fatalf("the box is broken: %v", err)
	}
	for _, tube := range b.Tubes {
		names[tube.Name] = true
	}
	return names
}

// The program is killed again and again at random moments while it adds a tube:
// the box is whole each time and holds every tube it held before, and every one
// whose adding was reported as done. PAINTOUT_KILLS sets how many times.
func TestKilledWhileWriting(t *testing.T) {
	kills := 60
	if s := os.Getenv("PAINTOUT_KILLS"); s != "" {
		var err error
		if kills, err = strconv.Atoi(s); err != nil {
			t.Fatal(err)
		}
	}
	dir := t.TempDir()
	start := time.Now()
	if out, err := addTube(filepath.Join(dir, "try.yaml"), "first").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	usual := time.Since(start)
	killed, written := 0, 0
	var box string
	var held map[string]bool
	for i := range 100 * kills {
		if killed == kills {
			break
		}
		if i%25 == 0 {
			box = filepath.Join(dir, fmt.Sprintf("box %d.yaml", i/25))
			held = map[string]bool{}
		}
		name := fmt.Sprint("tube ", i)
		c := addTube(box, name)
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(rand.Float64() * 1.1 * float64(usual)))
		c.Process.Kill()
		done := c.Wait() == nil
		now := tubeNames(t, box)
		for n := range held {
			if !now[n] {
				t.Fatalf("tube %q is lost after kill %d", n, killed)
			}
		}
		if done && !now[name] {
			t.Fatalf("%q was reported as added, but is not in the box", name)
		}
		if len(now) > len(held)+1 || len(now) == len(held)+1 && !now[name] {
			t.Fatalf("the box holds tubes nobody added: %v", now)
		}
		if !done {
			killed++
			if now[name] {
				written++
			}
		}
		held = now
	}
	t.Logf("killed %d times; in %d of them the tube was in the box already; a run takes %v", killed, written, usual.Round(time.Millisecond))
	if killed < kills {
		t.Errorf("only %d of %d runs were caught at work", killed, kills)
	}
	// What the killed left half-written is swept up by the next that writes.
	if out, err := addTube(box, "last").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	litter, err := filepath.Glob(filepath.Join(dir, "."+filepath.Base(box)+"*[0-9]"))
	if err != nil || len(litter) > 0 {
		t.Errorf("left behind: %v %v", litter, err)
	}
}

// Several runs that write one box at once lose nothing of one another's.
func TestWritersAtOnce(t *testing.T) {
	box := filepath.Join(t.TempDir(), "box.yaml")
	const writers = 8
	var wg sync.WaitGroup
	for i := range writers {
		wg.Go(func() {
			if out, err := addTube(box, fmt.Sprint("tube ", i)).CombinedOutput(); err != nil {
				t.Errorf("%v\n%s", err, out)
			}
		})
	}
	wg.Wait()
	if now := tubeNames(t, box); len(now) != writers {
		t.Errorf("%d of %d tubes are in the box: %v", len(now), writers, now)
	}
}

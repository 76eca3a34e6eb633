//go:build unix

package inventory

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// What is no file, or not there, is refused at once, in one sentence with the
// mend.
func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	pipe := filepath.Join(dir, "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Skip(err)
	}
	secret := filepath.Join(dir, "secret.yaml")
	if err := os.WriteFile(secret, []byte("tubes: []"), 0); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ path, readings, box string }{
		{dir, "is a folder; name the file of readings in it", "is a folder; name the file of tubes in it"},
		{pipe, "is a pipe or a device, not a file; save the readings to a file first", "save the tubes to a file first"},
		{os.DevNull, "is a pipe or a device", "is a pipe or a device"},
		{filepath.Join(dir, "none.yaml"), "there is no such file; check the name and the folder", "no box there; check the name and the folder"},
		{secret, "cannot be read: permission denied", "cannot be read: permission denied"},
	} {
		if c.path == secret && os.Getuid() == 0 {
			continue // root may read all
		}
		done := make(chan bool)
		go func() {
			defer close(done)
			_, err := Open(c.path, "readings")
			_, boxErr := LoadBox(c.path)
			for want, err := range map[string]error{c.readings: err, c.box: boxErr} {
				if err == nil || !strings.Contains(err.Error(), want) || !strings.HasPrefix(err.Error(), c.path) || strings.Count(err.Error(), c.path) != 1 {
					t.Errorf("%s: %v, want %q", c.path, err, want)
				}
				if none := strings.HasSuffix(c.path, "none.yaml"); errors.Is(err, fs.ErrNotExist) != none {
					t.Errorf("%s: fs.ErrNotExist is not %v", c.path, none)
				}
			}
		}()
		select {
		case <-done:
		case <-time.After(10 * time.Second):
			t.Fatalf("%s: never returns", c.path)
		}
	}
	if err := Starter().Save(pipe); err == nil || !strings.Contains(err.Error(), "pipe") {
		t.Errorf("saved into a pipe: %v", err)
	}
	if err := Starter().Save(dir); err == nil || !strings.Contains(err.Error(), "folder") {
		t.Errorf("saved into a folder: %v", err)
	}
}

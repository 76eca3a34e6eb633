package main

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"paintout/cmd/internal/cli"
)

// The page is served at the address that is printed, keeps a photo in the
// configuration folder, and on an interrupt ends with exit code 0.
func TestServe(t *testing.T) {
	home := t.TempDir()
	t.Setenv("HOME", home)
	t.Setenv("XDG_CONFIG_HOME", filepath.Join(home, ".config"))
	from, to := io.Pipe()
	ctx, interrupt := context.WithCancel(context.Background())
	code := make(chan int, 1)
	var errs strings.Builder
	go func() {
		code <- cli.Run(ctx, []string{"serve", "--addr", "127.0.0.1:0"}, cli.Streams{Out: to, Err: &errs, Wide: 96})
	}()
	lines := bufio.NewScanner(from)
	if !lines.Scan() {
		t.Fatal("nothing is printed")
	}
	home, ok := strings.CutPrefix(lines.Text(), "The page: ")
	if !ok || !strings.HasPrefix(home, "http://127.0.0.1:") {
		t.Fatalf("it prints %q", lines.Text())
	}
	go io.Copy(io.Discard, from)
	r, err := http.Get(home)
	if err != nil {
		t.Fatal(err)
	}
	page, err := io.ReadAll(r.Body)
	r.Body.Close()
	if err != nil || !strings.Contains(string(page), "<title>paintout</title>") {
		t.Errorf("the page is %.80q, %v", page, err)
	}
	photo, err := os.Open("../../testdata/marrow-sound.jpg")
	if err != nil {
		t.Fatal(err)
	}
	defer photo.Close()
	if r, err = http.Post(home+"sittings?name=marrow-sound.jpg", "image/jpeg", photo); err != nil {
		t.Fatal(err)
	}
	answer, err := io.ReadAll(r.Body)
	r.Body.Close()
	if err != nil || r.StatusCode != 200 || !strings.Contains(string(answer), `"result"`) {
		t.Errorf("%d, %.200q, %v", r.StatusCode, answer, err)
	}
	interrupt()
	select {
	case c := <-code:
		if c != 0 {
			t.Errorf("interrupted, it ends with %d: %s", c, errs.String())
		}
	case <-time.After(30 * time.Second):
		t.Fatal("interrupted, it goes on")
	}
	if kept, _ := filepath.Glob(filepath.Join(os.Getenv("XDG_CONFIG_HOME"), "paintout", "sittings", "*", "photo")); len(kept) != 1 {
		t.Errorf("kept are %v", kept)
	}
}

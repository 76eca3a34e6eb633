package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"paintout/cmd/internal/cli"
)

// The README's sessions are what the program prints. On a difference the whole
// README as it should be is left beside it as README.md.got; PAINTOUT_UPDATE=1
// writes it in place.
func TestReadmeIsTrue(t *testing.T) {
	root, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(root, "README.md")
	had, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	home := t.TempDir()
	t.Setenv("HOME", home)
	t.Setenv("XDG_CONFIG_HOME", filepath.Join(home, ".config"))
	work := t.TempDir()
	if err := os.Symlink(filepath.Join(root, "testdata"), filepath.Join(work, "testdata")); err != nil {
		t.Skipf("this file system has no symbolic links: %v", err)
	}
	t.Chdir(work)

	const open, end = "```console\n$ paintout ", "```"
	var want strings.Builder
	rest := string(had)
	sessions := 0
	for {
		before, after, ok := strings.Cut(rest, open)
		want.WriteString(before)
		if !ok {
			break
		}
		line, body, _ := strings.Cut(after, "\n")
		if strings.HasPrefix(after, end) {
			t.Fatal("a session without a command")
		}
		at := strings.Index("\n"+body, "\n"+end)
		if at < 0 {
			t.Fatalf("the session %q does not end", line)
		}
		rest = body[at:]
		var out bytes.Buffer
		if code := cli.Run(context.Background(), words(line), cli.Streams{Out: &out, Err: &out, Wide: 96}); code != 0 {
			t.Fatalf("%s: exit %d\n%s", line, code, out.String())
		}
		fmt.Fprintf(&want, "%s%s\n%s", open, line, out.String())
		sessions++
	}
	if sessions < 3 {
		t.Fatalf("only %d sessions found", sessions)
	}
	if want.String() == string(had) {
		return
	}
	if os.Getenv("PAINTOUT_UPDATE") != "" {
		if err := os.WriteFile(path, []byte(want.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	got := path + ".got"
	if err := os.WriteFile(got, []byte(want.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Errorf("the README's sessions are not what the program prints; compare with %s (PAINTOUT_UPDATE=1 puts it right)", got)
}

// words splits a command line as a shell does, with double quotes.
func words(line string) []string {
	var out []string
	for i, piece := range strings.Split(line, `"`) {
		if i%2 == 1 {
			out = append(out, piece)
			continue
		}
		out = append(out, strings.Fields(piece)...)
	}
	return out
}

package cli

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"paintout/cmd/internal/draw"
)

// paperFlag is what sheets are printed on.
type paperFlag struct{ paper string }

func (p *paperFlag) add(f *pflag.FlagSet) {
	f.StringVar(&p.paper, "paper", "a4", "what sheets are laid out for: a4 or letter")
}

func (p *paperFlag) size() (draw.Paper, error) {
	size, err := draw.ParsePaper(p.paper)
	if err != nil {
		return size, usageError{fmt.Errorf("--paper: %w", err)}
	}
	return size, nil
}

// checkPDF refuses, before any work is done, a name that says another format or
// a place that is not there.
func checkPDF(flag, path string) error {
	if path == "" {
		return nil
	}
	if !strings.EqualFold(filepath.Ext(path), ".pdf") {
		return usageError{fmt.Errorf("%s %s: sheets are written as PDF, so give a name that ends in .pdf", flag, path)}
	}
	if dir := filepath.Dir(path); !isFolder(dir) {
		return fmt.Errorf("%s %s: there is no folder %s; make it, or give another place", flag, path, dir)
	}
	return nil
}

func isFolder(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}

// writeBooklet writes the pages whole or not at all.
func writeBooklet(path string, b *draw.Booklet) error {
	var buf bytes.Buffer
	if err := b.PDF(&buf); err != nil {
		return err
	}
	return new(folder).write(path, buf.Bytes())
}

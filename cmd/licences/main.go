// Licences writes LICENCES.md, the list of the modules that paintout is built
// from and checked with and the licences they come under, as found in the
// licence files of the modules themselves.
//
//	go generate ./cmd/licences
package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

//go:generate go run . -to LICENCES.md

func main() {
	log.SetFlags(0)
	to := flag.String("to", "LICENCES.md", "file to write")
	flag.Parse()
	text, err := list()
	if err != nil {
		log.Fatal(err)
	}
	if err := os.WriteFile(*to, text, 0o644); err != nil {
		log.Fatal(err)
	}
}

// module is one that something here is built from.
type module struct {
	Path, Version, Dir string
	use                int
	licences           []found
}

const (
	inProgram = iota
	inTests
	inTools
)

// found is a licence file and what it was recognised as.
type found struct{ file, licence string }

func list() ([]byte, error) {
	all := map[string]*module{}
	add := func(use int, env string, args ...string) error {
		cmd := exec.Command("go", append([]string{"list", "-deps", "-json=Module"}, args...)...)
		cmd.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS="+env)
		cmd.Stderr = os.Stderr
		out, err := cmd.Output()
		if err != nil {
			return fmt.Errorf("go list: %w", err)
		}
		for d := json.NewDecoder(bytes.NewReader(out)); ; {
			var p struct{ Module *module }
			err := d.Decode(&p)
			if errors.Is(err, io.EOF) {
				return nil
			}
			if err != nil {
				return fmt.Errorf("go list: %w", err)
			}
			m := p.Module
			if m == nil || m.Version == "" || all[m.Path] != nil { // the standard library, this module
				continue
			}
			m.use = use
			if m.licences, err = licences(m.Dir); err != nil {
				return fmt.Errorf("%s: %w", m.Path, err)
			}
			if m.licences[0].licence == ownTerms {
				return fmt.Errorf("%s: %s is no licence known here; read it, and teach recognise its words", m.Path, m.licences[0].file)
			}
			all[m.Path] = m
		}
	}
	for _, system := range []string{"linux", "darwin", "windows"} {
		if err := add(inProgram, system, "paintout/cmd/paintout"); err != nil {
			return nil, err
		}
	}
	if err := add(inTests, "linux", "-test", "paintout/..."); err != nil {
		return nil, err
	}
	if err := add(inTools, "linux", "tool"); err != nil {
		return nil, err
	}
	return table(all), nil
}

var licenceFile = regexp.MustCompile(`(?i)^(licen[cs]e|copying)([.-].*)?$`)

var errNotHere = errors.New("not in the module cache: go mod download")

// licences finds the licence files of a module, those of parts it carries
// among them.
func licences(dir string) ([]found, error) {
	if dir == "" {
		return nil, errNotHere
	}
	var all []found
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "testdata" || d.Name() == "vendor"):
			return fs.SkipDir
		case d.IsDir() || !licenceFile.MatchString(d.Name()) || filepath.Ext(path) == ".go":
			return nil
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		name := filepath.ToSlash(strings.TrimPrefix(path, dir+string(filepath.Separator)))
		all = append(all, found{name, recognise(string(data))})
		return nil
	})
	if err == nil && !slices.ContainsFunc(all, func(f found) bool { return !strings.Contains(f.file, "/") }) {
		err = errors.New("no licence file")
	}
	slices.SortFunc(all, func(a, b found) int {
		return cmp.Or(strings.Count(a.file, "/")-strings.Count(b.file, "/"), strings.Compare(a.file, b.file))
	})
	return all, err
}

// ownTerms stands for a text that none of the known licences is in.
const ownTerms = "terms of its own"

// recognise gives the SPDX names of the licences whose words a text holds.
func recognise(text string) string {
	text = strings.ToLower(strings.Join(strings.Fields(text), " "))
	has := func(s string) bool { return strings.Contains(text, s) }
	var names []string
	add := func(ok bool, name string) {
		if ok {
			names = append(names, name)
		}
	}
	add(has("apache license") && (has("version 2.0") || has("licenses/license-2.0")), "Apache-2.0")
	add(has("permission is hereby granted, free of charge"), "MIT")
	if has("redistribution and use in source and binary forms") {
		three := has("neither the name") || has("may not be used to endorse") || has("may be used to endorse")
		add(three, "BSD-3-Clause")
		add(!three, "BSD-2-Clause")
	}
	add(has("permission to use, copy, modify, and/or distribute"), "ISC")
	switch {
	case has("mozilla public license") && has("2.0"): // which names the GNU licences in its own text
		names = append(names, "MPL-2.0")
	case has("gnu lesser general public license"):
		names = append(names, "LGPL-3.0")
	case has("gnu general public license"):
		names = append(names, "GPL")
	}
	add(has("this is free and unencumbered software"), "Unlicense")
	if names == nil {
		return ownTerms
	}
	return strings.Join(names, " and ")
}

func table(all map[string]*module) []byte {
	var b bytes.Buffer
	b.WriteString("# Licences\n\n" +
		"Written by `go generate ./cmd/licences` from the licence files of the modules; not\n" +
		"to be edited. Names are those of SPDX. paintout itself is under the `LICENSE` of\n" +
		"this repository. The LGPL parts are the HEIC decoder, which the program holds as a\n" +
		"file of its own (WebAssembly, run in a sandbox): whoever wants another one puts it\n" +
		"into that module and builds anew.\n")
	for use, title := range []string{"In the program", "In the tests besides", "In the checks besides"} {
		fmt.Fprintf(&b, "\n## %s\n\n| module | version | licence | parts it carries |\n| --- | --- | --- | --- |\n", title)
		var ms []*module
		for _, m := range all {
			if m.use == use {
				ms = append(ms, m)
			}
		}
		slices.SortFunc(ms, func(a, b *module) int { return strings.Compare(a.Path, b.Path) })
		for _, m := range ms {
			var main, parts []string
			for i, f := range m.licences {
				if i == 0 {
					main = append(main, f.licence)
				} else if s := fmt.Sprintf("`%s`: %s", f.file, f.licence); !slices.Contains(parts, s) {
					parts = append(parts, s)
				}
			}
			fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", m.Path, m.Version, strings.Join(main, ", "), strings.Join(parts, "; "))
		}
	}
	return b.Bytes()
}

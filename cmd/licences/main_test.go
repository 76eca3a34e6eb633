package main

import (
	"bytes"
	"errors"
	"os"
	"testing"
)

// The list is of what is built from now.
func TestListIsUpToDate(t *testing.T) {
	want, err := list()
	if errors.Is(err, errNotHere) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile("LICENCES.md")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("LICENCES.md is old: go generate ./cmd/licences\n%s", want)
	}
}

func TestRecognise(t *testing.T) {
	for text, want := range map[string]string{
		"Permission is hereby granted,\n free of charge, to any person":                                           "MIT",
		"Redistribution and use in source and binary forms, with or without modification ... Neither the name of": "BSD-3-Clause",
		"Redistribution and use in source and binary forms, with or without modification ... THIS SOFTWARE":       "BSD-2-Clause",
		"Apache License\n   Version 2.0, January 2004":                                                            "Apache-2.0",
		"Mozilla Public License Version 2.0 ... the GNU Lesser General Public License":                            "MPL-2.0",
		"GNU LESSER GENERAL PUBLIC LICENSE Version 3":                                                             "LGPL-3.0",
		"All rights reserved.": ownTerms,
	} {
		if got := recognise(text); got != want {
			t.Errorf("%q: %s, want %s", text, got, want)
		}
	}
}

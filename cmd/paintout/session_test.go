package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/rogpeppe/go-internal/testscript"

	"paintout/cmd/internal/cli"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"paintout":  func() { os.Exit(cli.Run(context.Background(), os.Args[1:], cli.System())) },
		"cardphoto": cardPhoto,
	})
}

// Whole sessions, as a painter or a script would have them: each starts on a
// fresh machine, with nothing saved.
func TestSessions(t *testing.T) {
	scene, err := filepath.Abs("../../testdata/marrow-sound.jpg")
	if err != nil {
		t.Fatal(err)
	}
	// A small copy for sessions in which the picture does not matter.
	img, err := imaging.Open(scene)
	if err != nil {
		t.Fatal(err)
	}
	small := filepath.Join(t.TempDir(), "marrow-sound.jpg")
	if err := imaging.Save(imaging.Resize(img, 450, 0, imaging.Box), small); err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("HOME", filepath.Join(e.WorkDir, "home"))
			e.Setenv("XDG_CONFIG_HOME", filepath.Join(e.WorkDir, "home", ".config"))
			e.Setenv("SCENE", scene)
			e.Setenv("SMALL", small)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"json": checkJSON,
			"same": sameJSON,
		},
	})
}

// checkJSON is "json FILE PATH [OP VALUE]": it reads FILE ("stdout" for the last
// output) as one JSON object and compares what stands at PATH ("masses.0.id",
// "masses.len" for a length) with VALUE; without OP the path must exist.
func checkJSON(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) < 2 {
		ts.Fatalf("usage: json FILE PATH [=|<|>|<= VALUE]")
	}
	var v any
	d := json.NewDecoder(strings.NewReader(ts.ReadFile(args[0])))
	ts.Check(d.Decode(&v))
	if d.More() {
		ts.Fatalf("more than one JSON value in %s", args[0])
	}
	got, err := find(v, args[1])
	if len(args) == 2 {
		if (err == nil) == neg {
			ts.Fatalf("path %s: %v", args[1], err)
		}
		return
	}
	ts.Check(err)
	ok := compare(got, args[2], args[3])
	if ok == neg {
		ts.Fatalf("%s is %v, which is not %s %s", args[1], got, args[2], args[3])
	}
}

// sameJSON is "same FILE FILE PATH": both files hold the same at PATH.
func sameJSON(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 3 {
		ts.Fatalf("usage: same FILE FILE PATH")
	}
	var at [2]any
	for i := range at {
		var v any
		ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[i])), &v))
		var err error
		at[i], err = find(v, args[2])
		ts.Check(err)
	}
	if reflect.DeepEqual(at[0], at[1]) == neg {
		ts.Fatalf("%s: %v and %v", args[2], at[0], at[1])
	}
}

func find(v any, path string) (any, error) {
	for key := range strings.SplitSeq(path, ".") {
		switch at := v.(type) {
		case map[string]any:
			w, ok := at[key]
			if !ok {
				return nil, fmt.Errorf("no %q among %v", key, reflect.ValueOf(at).MapKeys())
			}
			v = w
		case []any:
			if key == "len" {
				return float64(len(at)), nil
			}
			i, err := strconv.Atoi(key)
			if err != nil || i < 0 || i >= len(at) {
				return nil, fmt.Errorf("no element %q of %d", key, len(at))
			}
			v = at[i]
		default:
			return nil, fmt.Errorf("nothing below %v", v)
		}
	}
	return v, nil
}

func compare(got any, op, want string) bool {
	if n, err := strconv.ParseFloat(want, 64); err == nil {
		if g, ok := got.(float64); ok {
			switch op {
			case "=":
				return g == n
			case "<":
				return g < n
			case "<=":
				return g <= n
			case ">":
				return g > n
			}
		}
	}
	return op == "=" && fmt.Sprint(got) == want
}

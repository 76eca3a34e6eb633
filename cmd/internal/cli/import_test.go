package cli

import (
	"bytes"
	"strings"
	"testing"

	"paintout/cmd/internal/plan"
)

// What is said under a tube's line is not said again below.
func TestSuspicionIsSaidOnce(t *testing.T) {
	const swapped, other = "line 3 and line 4 look swapped", "parts by volume were taken for granted"
	tubes := []plan.CalibratedTube{{Tube: "quay blue", Rows: []plan.ReadingRow{{Suspicious: swapped}, {Suspicious: swapped}, {}}}}
	var out bytes.Buffer
	s := Streams{Out: &out, Wide: 100}
	s.fitted(tubes)
	s.list("Mind", besides([]string{swapped, other}, tubes))
	if got := out.String(); strings.Count(got, swapped) != 1 || strings.Count(got, other) != 1 {
		t.Errorf("said:\n%s", got)
	}
}

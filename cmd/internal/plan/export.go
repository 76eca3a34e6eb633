package plan

import (
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
)

// Schema is the JSON Schema (draft 2020-12) of a plan, as plan --json prints it
// and a plan's folder keeps it. It is made from the types and their comments;
// a later version may add properties.
//
//go:embed plan.schema.json
var Schema []byte

// maxPlanBytes bounds a plan that is read back: those of 24 masses and 60 tubes
// take some 300 kB.
const maxPlanBytes = 16 << 20

// Load reads a plan that was saved as JSON.
func Load(path string) (*Plan, error) {
	no := func(format string, args ...any) error {
		return fmt.Errorf("%s %s: name the plan.json of a plan's folder", path, fmt.Sprintf(format, args...))
	}
	bare := func(err error) error {
		var p *fs.PathError
		if errors.As(err, &p) {
			return p.Err
		}
		return err
	}
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, no("cannot be read (%v)", bare(err))
	case !info.Mode().IsRegular():
		return nil, no("is no file")
	case info.Size() > maxPlanBytes:
		return nil, no("is larger than a plan, %d MB", maxPlanBytes>>20)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, no("cannot be read (%v)", bare(err))
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxPlanBytes))
	if err != nil {
		return nil, no("cannot be read (%v)", bare(err))
	}
	var p Plan
	if err := json.Unmarshal(data, &p); err != nil {
		return nil, no("is not the JSON of a plan (%v)", err)
	}
	if len(p.Masses) == 0 {
		return nil, no("holds no masses")
	}
	return &p, nil
}

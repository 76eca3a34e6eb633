package plan

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"paintout/inventory"
)

// ReadingRow is one reading of a tube against the tube as fitted.
type ReadingRow struct {
	Line       int      `json:"line,omitempty"`
	Drawdown   string   `json:"drawdown"`
	Residual   float64  `json:"de00"`
	LeftOut    *float64 `json:"left_out_de00,omitempty"` // foretold from the tube's other readings
	Suspicious string   `json:"suspicious,omitempty"`
}

// CalibratedTube is one tube after import.
type CalibratedTube struct {
	Tube     string       `json:"tube"`
	CI       string       `json:"ci"`
	Start    string       `json:"start"` // what was believed before the readings
	Strength float64      `json:"strength,omitempty"`
	Residual float64      `json:"mean_de00"`
	LeftOut  *float64     `json:"left_out_de00,omitempty"`
	Rows     []ReadingRow `json:"rows"`
}

// ImportResult says what an import did to a box: a table of tubes adds and
// changes them, readings fit them.
type ImportResult struct {
	Box      string           `json:"box"` // file
	Tubes    int              `json:"tubes_in_box"`
	White    string           `json:"white,omitempty"` // that tints were read against
	Finish   string           `json:"finish,omitempty"`
	Fitted   []CalibratedTube `json:"fitted"`
	Added    []string         `json:"added,omitempty"`
	Changed  []string         `json:"changed,omitempty"`
	Same     []string         `json:"same,omitempty"`     // in the table as in the box
	Unstated []string         `json:"unstated,omitempty"` // illuminant, basis, specular: what had to be taken for granted
	Warnings []string         `json:"warnings"`
}

// Import calibrates tubes from a file of readings, or takes over a table of
// tubes, and saves them in a box, as for [BoxFile], making it if need be. What
// is said of the readings counts where the file does not say it.
func Import(readings, box string, said inventory.Said) (*ImportResult, error) {
	f, err := inventory.Open(readings, "readings")
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxImport))
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", readings, errors.Unwrap(err))
	}
	return ImportData(readings, data, box, said)
}

// ImportData is [Import] of a file's text; name stands for it in errors.
func ImportData(name string, data []byte, box string, said inventory.Said) (*ImportResult, error) {
	boxFile, err := BoxFile(box)
	if err != nil {
		return nil, err
	}
	out := &ImportResult{Box: boxFile, Fitted: []CalibratedTube{}, Warnings: []string{}}
	if inventory.IsBoxCSV(data) {
		if err := out.takeOver(name, data, title(box, boxFile)); err != nil {
			return nil, err
		}
		return out, nil
	}
	rd, err := said.ReadReadings(name, bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	if err := out.calibrate(rd); err != nil {
		return nil, err
	}
	return out, nil
}

// calibrate fits tubes to readings and saves them in the box.
func (r *ImportResult) calibrate(rd *inventory.Readings) error {
	r.Unstated = rd.Unstated
	return inventory.UpdateBox(r.Box, func(present *inventory.Box) (*inventory.Box, error) {
		r.starts(present)
		return r.fitted(rd, present)
	})
}

// starts warns that a box is new.
func (r *ImportResult) starts(present *inventory.Box) {
	if present == nil {
		r.Warnings = append(r.Warnings, "This starts a box of your own with only these tubes in it; with it saved, the starter box is no longer used.")
	}
}

// fitted is the box with tubes fitted to readings.
func (r *ImportResult) fitted(rd *inventory.Readings, present *inventory.Box) (*inventory.Box, error) {
	box, report, err := inventory.Calibrate(rd, present)
	if err != nil {
		return nil, err
	}
	r.Tubes, r.White = len(box.Tubes), report.White
	r.Warnings = append(r.Warnings, report.Warnings...)
	if box.Finish != nil {
		r.Finish = box.Finish.String()
	}
	for _, t := range report.Tubes {
		r.Fitted = append(r.Fitted, calibratedTube(t))
	}
	return box, nil
}

// maxImport is more than any file of readings or tubes may hold.
const maxImport = 16 << 20

// takeOver puts a table of tubes into the box.
func (r *ImportResult) takeOver(name string, data []byte, title string) error {
	return inventory.UpdateBox(r.Box, func(present *inventory.Box) (*inventory.Box, error) {
		b, c, err := inventory.ReadBoxCSV(name, bytes.NewReader(data), present)
		if err != nil {
			return nil, err
		}
		if b.Name == "" && present == nil {
			b.Name = title
		}
		r.Tubes, r.Added, r.Changed, r.Same = len(b.Tubes), c.Added, c.Changed, c.Same
		r.Warnings = append(r.Warnings, c.Notes...)
		if b.Finish != nil {
			r.Finish = b.Finish.String()
		}
		return b, nil
	})
}

func calibratedTube(t inventory.TubeReport) CalibratedTube {
	left := func(v float64) *float64 {
		if v < 0 {
			return nil
		}
		v = round(v, 2)
		return &v
	}
	c := CalibratedTube{
		Tube: t.Tube, CI: (&inventory.Tube{CI: t.CI}).Code(), Start: t.Start, Strength: round(t.Strength, 3),
		Residual: round(t.Residual, 2), LeftOut: left(t.LeftOut),
	}
	for _, r := range t.Rows {
		c.Rows = append(c.Rows, ReadingRow{Line: r.Line, Drawdown: r.Drawdown, Residual: round(r.Residual, 2), LeftOut: left(r.LeftOut), Suspicious: r.Suspicious})
	}
	return c
}

package plan

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

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

// ImportResult says what an import did to a box.
type ImportResult struct {
	Box      string           `json:"box"` // file
	Tubes    int              `json:"tubes_in_box"`
	White    string           `json:"white"`
	Finish   string           `json:"finish,omitempty"`
	Fitted   []CalibratedTube `json:"fitted"`
	Warnings []string         `json:"warnings"`
}

// Import calibrates tubes from a file of readings and saves them in the box
// file, or in the saved box where none is named, making it if need be.
func Import(readings, boxFile string) (*ImportResult, error) {
	f, err := os.Open(readings)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%s: there is no such file; check the name and the folder", readings)
	case err != nil:
		return nil, fmt.Errorf("%s cannot be read: %w", readings, errors.Unwrap(err))
	}
	defer f.Close()
	rd, err := inventory.ReadReadings(readings, f)
	if err != nil {
		return nil, err
	}
	if boxFile == "" {
		if boxFile, err = inventory.DefaultBoxPath(); err != nil {
			return nil, fmt.Errorf("there is no folder for the saved box (%w): name a box file with --tubes", err)
		}
	}
	out := &ImportResult{Box: boxFile, Warnings: []string{}}
	err = inventory.UpdateBox(boxFile, func(present *inventory.Box) (*inventory.Box, error) {
		box, report, err := inventory.Calibrate(rd, present)
		if err != nil {
			return nil, err
		}
		out.Tubes, out.White = len(box.Tubes), report.White
		if present == nil {
			out.Warnings = append(out.Warnings, "This starts a box of your own with only these tubes in it; with it saved, the starter box is no longer used.")
		}
		out.Warnings = append(out.Warnings, report.Warnings...)
		if box.Finish != nil {
			out.Finish = box.Finish.String()
		}
		for _, t := range report.Tubes {
			out.Fitted = append(out.Fitted, calibratedTube(t))
		}
		return box, nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
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

package plan

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// boxName is a name under which a box can be kept.
var boxName = regexp.MustCompile(`^[\pL\pN][\pL\pN _.-]{0,59}$`)

// BoxFile is the file of a box as a painter names it: the saved box where
// nothing is given; a path, which has a slash, ends in .yaml or .yml, or is a
// file that is there; else a box of that name kept beside the saved one.
func BoxFile(given string) (string, error) {
	saved, err := inventory.DefaultBoxPath()
	if given == "" || isPath(given) {
		if given != "" {
			return given, nil
		}
		return saved, err
	}
	if !boxName.MatchString(given) {
		return "", fmt.Errorf("a box cannot be called %q: use letters, digits, spaces, - and _, or give a file such as studio.yaml", given)
	}
	if err != nil {
		return "", err
	}
	return filepath.Join(filepath.Dir(saved), given+".yaml"), nil
}

func isPath(given string) bool {
	if strings.ContainsAny(given, `/\`) || slices.Contains([]string{".yaml", ".yml"}, strings.ToLower(filepath.Ext(given))) {
		return true
	}
	info, err := os.Stat(given)
	return err == nil && !info.IsDir()
}

// missing says that a box is not there, and which are.
func missing(given, file string) error {
	if isPath(given) {
		return fmt.Errorf("%s: no box there; check the name and the folder", file)
	}
	var names []string
	if r, err := Boxes(); err == nil {
		for _, b := range r.Boxes {
			names = append(names, b.Name)
		}
	}
	list := "none is saved yet"
	if len(names) > 0 {
		list = "saved are " + strings.Join(names, ", ")
	}
	if given == "" {
		return fmt.Errorf("no box of yours is saved yet, and the starter box cannot be changed: begin with paintout tubes add, or take the starter box over with paintout tubes export --csv mine.csv and paintout tubes import mine.csv")
	}
	return fmt.Errorf("no box is called %q (%s): check the name, or give a file such as studio.yaml", given, list)
}

// SavedBox is a box in the configuration folder.
type SavedBox struct {
	Name    string `json:"name"`  // for --tubes
	Title   string `json:"title"` // as the box calls itself
	File    string `json:"file"`
	Tubes   int    `json:"tubes"`
	Default bool   `json:"default"` // used where no other is named
	Error   string `json:"error,omitempty"`
}

// ListTubes lists a box, which may be empty.
func ListTubes(s Settings) (*TubesResult, error) {
	w := &Workspace{}
	if err := w.load(s.TubesFile); err != nil {
		return nil, err
	}
	if len(w.Box.Tubes) > 0 {
		w, err := Open(s)
		if err != nil {
			return nil, err
		}
		return w.Tubes(), nil
	}
	finish, err := w.finish(s.Finish)
	if err != nil {
		return nil, err
	}
	return &TubesResult{
		Box: Box{Name: w.Box.Name, From: w.From, Tubes: []Tube{}}, Finish: finish.String(),
		Warnings: append(append([]string{}, w.Notes...), "The box is empty: paintout tubes add puts a tube into it."),
	}, nil
}

// BoxesResult lists the boxes of the configuration folder.
type BoxesResult struct {
	Folder   string     `json:"folder"`
	Boxes    []SavedBox `json:"boxes"`
	Warnings []string   `json:"warnings"`
}

// Boxes lists the saved boxes.
func Boxes() (*BoxesResult, error) {
	saved, err := inventory.DefaultBoxPath()
	if err != nil {
		return nil, err
	}
	r := &BoxesResult{Folder: filepath.Dir(saved), Boxes: []SavedBox{}, Warnings: []string{}}
	entries, err := os.ReadDir(r.Folder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("the folder of the saved boxes: %w", err)
	}
	for _, e := range entries {
		name, ok := strings.CutSuffix(e.Name(), ".yaml")
		if !ok || !boxName.MatchString(name) || e.IsDir() {
			continue
		}
		b := SavedBox{Name: name, File: filepath.Join(r.Folder, e.Name())}
		b.Default = b.File == saved
		if box, err := inventory.LoadBox(b.File); err != nil {
			b.Error = err.Error()
			r.Warnings = append(r.Warnings, b.Error)
		} else {
			b.Title, b.Tubes = box.Name, len(box.Tubes)
		}
		r.Boxes = append(r.Boxes, b)
	}
	if !slices.ContainsFunc(r.Boxes, func(b SavedBox) bool { return b.Default }) {
		r.Warnings = append(r.Warnings, "No box of yours is called box yet: where you name none, "+StarterFrom+" is used.")
	}
	return r, nil
}

// EditResult says what became of a tube.
type EditResult struct {
	Box      string   `json:"box"`   // file
	Title    string   `json:"title"` // as the box calls itself
	Begun    bool     `json:"begun"` // whether the box was made just now
	Tubes    int      `json:"tubes_in_box"`
	Tube     Tube     `json:"tube"`
	Was      string   `json:"was,omitempty"`     // its name before
	Changed  []string `json:"changed,omitempty"` // what was asked to change
	Worth    string   `json:"worth"`             // what the tube's colour rests on, in words
	P90      float64  `json:"worth_p90_de00"`    // nine times in ten a weighed tint of 1 to 4 white lies within this
	Warnings []string `json:"warnings"`
}

// AddTube puts a tube into a box, and makes the box where there is none. A tube
// without a pigment is looked up in the library by its name.
func AddTube(box string, f inventory.Fields) (*EditResult, error) {
	file, err := BoxFile(box)
	if err != nil {
		return nil, err
	}
	r := &EditResult{Box: file, Warnings: []string{}}
	f = maps.Clone(f)
	if f["pigment"] == "" {
		p, err := inventory.Find(f["name"])
		if err != nil {
			return nil, fmt.Errorf("which pigments are in it? Give the code on its label, as in --pigment PB29 (by the name alone: %w)", err)
		}
		f["pigment"] = p.Key()
		r.Warnings = append(r.Warnings, fmt.Sprintf("The name is the library's for %s: taken as its pigment. If the label says otherwise, put it right with paintout tubes edit.", p.Key()))
	}
	err = inventory.UpdateBox(file, func(b *inventory.Box) (*inventory.Box, error) {
		if r.Begun = b == nil; r.Begun {
			b = &inventory.Box{Name: title(box, file)}
		}
		t, err := b.AddTube(f)
		if err != nil {
			return nil, err
		}
		r.fill(b, t)
		return b, nil
	})
	if err != nil {
		return nil, err
	}
	return r, nil
}

// title is what a new box calls itself.
func title(given, file string) string {
	if given == "" {
		return "my box"
	}
	base := filepath.Base(file)
	return strings.TrimSuffix(base, filepath.Ext(base))
}

// EditTube changes of a tube what f names, and nothing else.
func EditTube(box, name string, f inventory.Fields) (*EditResult, error) {
	file, err := existing(box)
	if err != nil {
		return nil, err
	}
	r := &EditResult{Box: file, Changed: slices.Sorted(maps.Keys(f)), Warnings: []string{}}
	err = inventory.UpdateBox(file, func(b *inventory.Box) (*inventory.Box, error) {
		if b == nil {
			return nil, missing(box, file)
		}
		before := slices.Clone(b.Tubes)
		t, err := b.EditTube(name, f)
		if err != nil {
			return nil, err
		}
		if old := before[slices.Index(b.Tubes, t)]; old.Name != t.Name {
			r.Was = old.Name
		}
		r.fill(b, t)
		return b, nil
	})
	if err != nil {
		return nil, err
	}
	return r, nil
}

// existing is BoxFile for a box that must be there.
func existing(box string) (string, error) {
	file, err := BoxFile(box)
	if err != nil {
		return "", err
	}
	if _, err := os.Stat(file); errors.Is(err, fs.ErrNotExist) {
		return "", missing(box, file)
	}
	return file, nil
}

// fill says how the tube and its box stand.
func (r *EditResult) fill(b *inventory.Box, t *inventory.Tube) {
	finish := optics.Included
	if b.Finish != nil {
		finish = *b.Finish
	}
	white := libraryWhite()
	if w := b.White(); w != nil {
		white = &w.Paint
	} else {
		r.Warnings = append(r.Warnings, "There is no white in the box yet, and few mixes do without: paintout tubes add \"titanium white\" --pigment PW6")
	}
	r.Title, r.Tubes, r.Tube = b.Name, len(b.Tubes), tubeOf(t, white, finish, nil)
	r.Worth, r.P90 = worth(t, white, finish)
	if t.LeftML != nil && t.SizeML > 0 && *t.LeftML > t.SizeML {
		r.Warnings = append(r.Warnings, fmt.Sprintf("More is left (%g ml) than the tube holds (%g ml): is one of them wrong?", *t.LeftML, t.SizeML))
	}
	r.Warnings = append(r.Warnings, b.Notes...)
}

// worth says what a tube's colour rests on, and how far a weighed tint of one
// part to four of the given white may lie from what is foretold, ΔE00, nine
// times in ten; of a white itself, how far its masstone may.
func worth(t *inventory.Tube, white *optics.Paint, finish optics.Finish) (string, float64) {
	other := &inventory.Tube{Name: "white", Paint: *white, White: true}
	p, err := recipe.NewPalette([]*inventory.Tube{t, other}, finish)
	if err != nil {
		return "", 0
	}
	parts, film := []recipe.Part{{Tube: 0, Parts: 1}, {Tube: 1, Parts: 4}}, "a weighed tint of 1 part to 4 of white"
	if t.White {
		parts, film = parts[:1], "its masstone"
	}
	_, c := p.Mix(parts)
	p90 := round(p.SpreadOf(parts, 0).OffFrom(c, c).P90, 2)
	within := fmt.Sprintf("%s lies within %.1f ΔE00 of what is foretold, nine times in ten.", film, p90)
	readings := "Readings of your own tube (paintout tubes import) would narrow that."
	switch {
	case len(t.Readings) > 0:
		return fmt.Sprintf("Measured: %s. So %s", t.Source, within), p90
	case len(t.CI) > 1:
		return fmt.Sprintf("Known by its codes alone: taken as %s. So %s %s", strings.TrimSuffix(t.Source, "; measure it to be sure"), within, readings), p90
	case t.Provenance == inventory.Measured:
		return fmt.Sprintf("Known by its code alone: the colour is the library's for %s, somebody else's tube (%s). So %s %s", t.Code(), t.Source, within, readings), p90
	}
	return fmt.Sprintf("Known by its code alone, and the library's colour for %s is %s (%s). So %s Look at a dab of it first. %s", t.Code(), t.Provenance, t.Source, within, readings), p90
}

// RemoveResult says which tubes were taken out of a box.
type RemoveResult struct {
	Box      string   `json:"box"` // file
	Removed  []string `json:"removed"`
	Tubes    int      `json:"tubes_in_box"`
	Backup   string   `json:"backup"`  // the box as it was, until the next change
	Restore  string   `json:"restore"` // a command that brings it back
	Warnings []string `json:"warnings"`
}

// RemoveTubes takes tubes out of a box, all of those named or, on an error,
// none. The box as it was stays beside it.
func RemoveTubes(box string, names []string) (*RemoveResult, error) {
	file, err := existing(box)
	if err != nil {
		return nil, err
	}
	r := &RemoveResult{Box: file, Warnings: []string{}}
	err = inventory.UpdateBox(file, func(b *inventory.Box) (*inventory.Box, error) {
		if b == nil {
			return nil, missing(box, file)
		}
		out, err := b.RemoveTubes(names...)
		if err != nil {
			return nil, err
		}
		for _, t := range out {
			r.Removed = append(r.Removed, t.Name)
		}
		r.Tubes = len(b.Tubes)
		if len(out) > 0 && b.White() == nil && len(b.Tubes) > 0 {
			r.Warnings = append(r.Warnings, "There is no white left in the box, and few mixes do without.")
		}
		return b, nil
	})
	if err != nil {
		return nil, err
	}
	if r.Backup, err = inventory.BackupPath(file); err != nil {
		return nil, err
	}
	r.Restore = "cp " + quoted(r.Backup) + " " + quoted(strings.TrimSuffix(r.Backup, ".bak"))
	return r, nil
}

// quoted is a path as a shell takes it whole.
func quoted(path string) string {
	return "'" + strings.ReplaceAll(path, "'", `'\''`) + "'"
}

// ExportResult is a box as tables for other programs.
type ExportResult struct {
	Box          string   `json:"box"` // file, or "the starter box that comes with paintout"
	Tubes        int      `json:"tubes"`
	Readings     int      `json:"readings"`                // held by its tubes
	TubesFile    string   `json:"csv,omitempty"`           // written
	ReadingsFile string   `json:"readings_file,omitempty"` // written
	Table        string   `json:"table,omitempty"`         // the table of tubes, where it was not written to a file
	Warnings     []string `json:"warnings"`

	TubesCSV, ReadingsCSV []byte `json:"-"`
}

// Export writes a box as a table of its tubes and one of their readings.
func Export(box string) (*ExportResult, error) {
	w := &Workspace{}
	if err := w.load(box); err != nil {
		return nil, err
	}
	r := &ExportResult{Box: w.From, Tubes: len(w.Box.Tubes), Warnings: append([]string{}, w.Notes...)}
	var tubes, readings bytes.Buffer
	if err := w.Box.WriteCSV(&tubes); err != nil {
		return nil, err
	}
	n, err := w.Box.WriteReadings(&readings)
	if err != nil {
		return nil, err
	}
	r.Readings, r.TubesCSV, r.ReadingsCSV = n, tubes.Bytes(), readings.Bytes()
	return r, nil
}

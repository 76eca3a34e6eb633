package plan

import (
	"errors"
	"fmt"
	"io/fs"

	"paintout/inventory"
)

// OwnBox begins a box of the painter's own, as for [BoxFile], with the tubes of
// the starter box. Where there is one already it does nothing.
func OwnBox(box string) error {
	own, err := BoxIsOwn(box)
	if own || err != nil {
		return err
	}
	file, err := BoxFile(box)
	if err != nil {
		return err
	}
	return inventory.UpdateBox(file, func(present *inventory.Box) (*inventory.Box, error) {
		if present != nil {
			return present, nil
		}
		b := inventory.Starter()
		b.Name = title(box, file)
		return b, nil
	})
}

// UndoBox brings a box back as it was before its last change; once more undoes
// that.
func UndoBox(box string) error {
	file, err := existing(box)
	if err != nil {
		return err
	}
	before, err := inventory.BackupPath(file)
	if err != nil {
		return err
	}
	return inventory.UpdateBox(file, func(*inventory.Box) (*inventory.Box, error) {
		b, err := inventory.LoadBox(before)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, errors.New("the box has not been changed yet, so there is nothing to undo")
		}
		return b, err
	})
}

// BoxIsOwn reports whether a box of the painter's own is there.
func BoxIsOwn(box string) (bool, error) {
	_, err := existing(box)
	if err == nil {
		return true, nil
	}
	if box == "" {
		return false, nil
	}
	return false, fmt.Errorf("the box: %w", err)
}

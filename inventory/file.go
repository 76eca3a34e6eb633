package inventory

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"unicode/utf8"
)

// Open opens a file for reading. A folder is refused, and so is what may never
// end: a pipe, a device. what says in a word what the file should hold, such as
// "readings", for an error that says the mend. A missing file is
// fs.ErrNotExist.
func Open(path, what string) (*os.File, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, &absent{fmt.Sprintf("%s: there is no such file; check the name and the folder", path)}
	case err != nil:
		return nil, unreadable(path, err)
	case info.IsDir():
		return nil, fmt.Errorf("%s is a folder; name the file of %s in it", path, what)
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%s is a pipe or a device, not a file; save the %s to a file first", path, what)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, unreadable(path, err)
	}
	return f, nil
}

// absent is fs.ErrNotExist in the painter's words.
type absent struct{ text string }

func (e *absent) Error() string        { return e.text }
func (e *absent) Is(target error) bool { return target == fs.ErrNotExist }

// unreadable leaves out what the system was doing and to which path.
func unreadable(path string, err error) error {
	return fmt.Errorf("%s cannot be read: %w", path, bare(err))
}

// unwritable likewise; what was there before is as it was.
func unwritable(path string, err error) error {
	return fmt.Errorf("%s cannot be written (%w), and nothing was changed: free some space, or put the box where you may write", path, bare(err))
}

// bare is a file error's cause without the path, which may be a file's that
// nobody asked for.
func bare(err error) error {
	var pe *fs.PathError
	var le *os.LinkError
	switch {
	case errors.As(err, &pe):
		return pe.Err
	case errors.As(err, &le):
		return le.Err
	}
	return err
}

// plainText refuses what is no text in UTF-8. A byte order mark of UTF-16 is
// let through: YAML knows it.
func plainText(name string, data []byte, mend string) error {
	if bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}) {
		return nil
	}
	if bytes.ContainsFunc(data, func(r rune) bool { return r < ' ' && r != '\t' && r != '\n' && r != '\r' && r != '\f' }) {
		return fmt.Errorf("%s: not a text file; %s", name, mend)
	}
	if utf8.Valid(data) {
		return nil
	}
	line := 1
	for l := range bytes.Lines(data) {
		if !utf8.Valid(l) {
			break
		}
		line++
	}
	return fmt.Errorf("%s:%d: a letter there is not written in UTF-8; save the file as UTF-8 text", name, line)
}

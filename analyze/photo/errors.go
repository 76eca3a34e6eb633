package photo

import (
	"errors"
	"fmt"
	"strings"
)

// Reasons for which a file is not read; test with errors.Is. The error that
// carries one is a single sentence that names the file and says how to mend it.
var (
	ErrMissing     = errors.New("no such file")
	ErrUnreadable  = errors.New("file cannot be read")
	ErrEmpty       = errors.New("file is empty")
	ErrNotPicture  = errors.New("not a picture")
	ErrUnsupported = errors.New("kind of picture not read here")
	ErrTruncated   = errors.New("file is cut short")
	ErrDamaged     = errors.New("file is damaged")
	ErrTooLarge    = errors.New("picture is too large")
	ErrOption      = errors.New("option does not fit the picture")
)

// fault is an error whose text is a whole sentence about one file.
type fault struct {
	name   string
	reason error
	say    string
}

func (f *fault) Error() string { return f.name + ": " + f.say }
func (f *fault) Unwrap() error { return f.reason }

// failure builds a fault without a name; Decode and Open put the name on.
func failure(reason error, format string, args ...any) error {
	return &fault{reason: reason, say: fmt.Sprintf(format, args...)}
}

// named puts a file's name before the sentence of err.
func named(name string, err error) error {
	var f *fault
	if errors.As(err, &f) {
		return &fault{name: name, reason: f.reason, say: f.say}
	}
	return &fault{name: name, reason: ErrDamaged, say: damaged(err)}
}

func damaged(err error) string {
	return "the picture is damaged (" + clean(err.Error()) + "); copy it again, or open it elsewhere and save it as JPEG"
}

// clean makes text that came out of a file or a library safe to print on one
// line: printable characters only, at most 80 of them.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == 0xfffd || (r >= 0x80 && r < 0xa0) || (r >= 0x202a && r <= 0x202e) || (r >= 0x2066 && r <= 0x2069) {
			return -1
		}
		return r
	}, s)
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > 80 {
		s = string(r[:79]) + "…"
	}
	return s
}

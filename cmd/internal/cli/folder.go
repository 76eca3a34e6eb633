package cli

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"paintout/inventory/wholefile"
)

// manifestName is the file in which a folder remembers what was written to it.
const manifestName = ".paintout-written.json"

// folder is a folder of results. Each file is written whole or not at all. A
// file that was changed since it was written here, or that was there before,
// is kept under another name, never overwritten.
type folder struct {
	dir  string
	kept []string // new names of files that had been changed
	manifest
}

// manifest is what a folder remembers of the last run.
type manifest struct {
	Of      string            `json:"of,omitempty"` // the photo whose plan it holds, absolute
	Written map[string]string `json:"written"`      // name: SHA-256 of what was last written
}

func readManifest(dir string) manifest {
	var m manifest
	data, err := os.ReadFile(filepath.Join(dir, manifestName))
	if err != nil || json.Unmarshal(data, &m) != nil || m.Written == nil {
		m.Written = map[string]string{} // unreadable: treat every file as the painter's
	}
	return m
}

func openFolder(dir string) (*folder, error) {
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return nil, fmt.Errorf("%s is a file, not a folder: give another place with --out", dir)
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, fmt.Errorf("the folder %s cannot be made (%s): give another place with --out", dir, bare(err))
	}
	return &folder{dir: dir, manifest: readManifest(dir)}, nil
}

func digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// put writes a file of results.
func (f *folder) put(name string, data []byte) error {
	path := filepath.Join(f.dir, name)
	old, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return fmt.Errorf("%s is in the way and cannot be read (%s): move it or give another place with --out", path, bare(err))
	case bytes.Equal(old, data):
		f.Written[name] = digest(data)
		return nil
	case digest(old) != f.Written[name]:
		to, err := f.spare(name)
		if err != nil {
			return err
		}
		if err := os.Rename(path, filepath.Join(f.dir, to)); err != nil {
			return fmt.Errorf("%s was changed by hand and cannot be set aside (%s)", path, bare(err))
		}
		f.kept = append(f.kept, to)
	}
	if err := f.write(path, data); err != nil {
		return err
	}
	f.Written[name] = digest(data)
	return nil
}

// offer writes a file unless one of that name is there.
func (f *folder) offer(name string, data []byte) error {
	path := filepath.Join(f.dir, name)
	if _, err := os.Lstat(path); err == nil {
		return nil
	}
	return f.write(path, data)
}

func (f *folder) write(path string, data []byte) error {
	if err := wholefile.Write(path, data, 0o644); err != nil {
		mend := "free some space or give another place with --out"
		if errors.Is(err, fs.ErrNotExist) {
			mend = "make the folder first or give another place with --out"
		}
		return fmt.Errorf("%s cannot be written (%s): %s", path, bare(err), mend)
	}
	return nil
}

// spare finds a free name for a file that is set aside.
func (f *folder) spare(name string) (string, error) {
	ext := filepath.Ext(name)
	for i := 1; i < 10000; i++ {
		to := fmt.Sprintf("%s (yours %d)%s", strings.TrimSuffix(name, ext), i, ext)
		if _, err := os.Lstat(filepath.Join(f.dir, to)); errors.Is(err, fs.ErrNotExist) {
			return to, nil
		}
	}
	return "", fmt.Errorf("%s holds too many kept copies of %s: tidy it first", f.dir, name)
}

// close remembers what was written.
func (f *folder) close() error {
	data, err := json.MarshalIndent(f.manifest, "", " ")
	if err != nil {
		return err
	}
	return f.write(filepath.Join(f.dir, manifestName), append(data, '\n'))
}

// bare is a file error's cause without the path, which the caller names.
func bare(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		return l.Err.Error()
	}
	return err.Error()
}

package wholefile

import (
	"io/fs"
	"os"
	"path/filepath"
)

// Write puts data into the file at path, which is made or replaced. A
// symbolic link at path is replaced, not followed. Of perm Windows knows only
// whether the file may be written. Errors are those of package os.
func Write(path string, data []byte, perm fs.FileMode) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if _, err := f.Write(data); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := os.Chmod(f.Name(), perm); err != nil {
		return err
	}
	// MoveFileEx, which takes the place of a file that is there.
	return os.Rename(f.Name(), path)
}

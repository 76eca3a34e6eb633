//go:build !windows

package wholefile

import (
	"io/fs"
	"path/filepath"

	"github.com/google/renameio/v2"
)

// Write puts data into the file at path, which is made with perm, less the
// umask, or replaced. A symbolic link at path is replaced, not followed.
// Errors are those of package os.
func Write(path string, data []byte, perm fs.FileMode) error {
	return renameio.WriteFile(path, data, perm, renameio.WithTempDir(filepath.Dir(path)))
}

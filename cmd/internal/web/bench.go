package web

import (
	"os"
	"sync"
	"time"

	"paintout/cmd/internal/plan"
)

// bench holds the box, read anew when its file changes.
type bench struct {
	settings plan.Settings
	edits    sync.Mutex // one change of the box at a time

	mu    sync.Mutex
	stamp stamp
	of    [2]*plan.Workspace // with the photo's range fitted, and not
}

// stamp tells one state of the box file from another.
type stamp struct {
	path string
	size int64
	at   time.Time
}

// workspace gives the box, the same as long as its file is the same.
func (b *bench) workspace(noFit bool) (*plan.Workspace, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var now stamp
	if file, err := plan.BoxFile(b.settings.TubesFile); err == nil {
		now.path = file
		if info, err := os.Stat(file); err == nil {
			now.size, now.at = info.Size(), info.ModTime()
		}
	}
	if b.of[0] == nil || now != b.stamp {
		w, err := plan.Open(b.settings)
		if err != nil {
			return nil, err
		}
		fitted, plain := *w, *w
		fitted.NoFit, plain.NoFit = false, true
		b.of, b.stamp = [2]*plan.Workspace{&fitted, &plain}, now
	}
	if noFit {
		return b.of[1], nil
	}
	return b.of[0], nil
}

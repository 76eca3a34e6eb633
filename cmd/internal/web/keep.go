package web

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"paintout/cmd/internal/plan"
	"paintout/inventory/wholefile"
)

// What is kept: so many sittings, of so many bytes of photos together, and so
// many of them decoded in memory, some 60 MB each. The one not used for longest
// goes first.
const (
	maxSittings = 24
	maxKept     = 1 << 30
	maxOpen     = 4

	unfinished = time.Hour // after which a sitting whose choices were never written is none
)

// keeper holds the sittings, each in a folder of its own named by its id.
type keeper struct {
	dir string // empty: in memory only

	mu   sync.Mutex
	of   map[string]*sitting
	gone map[string]bool // ids that had to make room
	busy sync.WaitGroup  // writes under way
}

// sitting is one photo and the painter's choices about it.
type sitting struct {
	id   string
	name string

	mu      sync.Mutex
	choices choices
	used    time.Time
	data    []byte // the photo's file, where it is kept in memory only
	size    int64  // of the file
	open    *plan.Sitting
	wants   reading // what open was read with
	small   []byte  // a small picture, JPEG
}

// kept is what a sitting's file says.
type kept struct {
	Name    string    `json:"name"`
	Used    time.Time `json:"used"`
	Choices choices   `json:"choices"`
}

var idForm = regexp.MustCompile(`^[A-Z2-7]{26}$`)

const (
	photoFile   = "photo"
	smallFile   = "small.jpg"
	choicesFile = "sitting.json"
)

func openKeeper(dir string) (*keeper, error) {
	k := &keeper{dir: dir, of: map[string]*sitting{}, gone: map[string]bool{}}
	if dir == "" {
		return k, nil
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("the folder %s, where sittings are kept, cannot be made: %w", dir, err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("the folder %s, where sittings are kept, cannot be read: %w", dir, err)
	}
	for _, e := range entries {
		if !idForm.MatchString(e.Name()) || !e.IsDir() {
			continue
		}
		if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > unfinished {
			if _, err := os.Stat(filepath.Join(dir, e.Name(), choicesFile)); errors.Is(err, fs.ErrNotExist) {
				os.RemoveAll(filepath.Join(dir, e.Name())) // begun, and the program was killed
				continue
			}
		}
		var m kept
		data, err := os.ReadFile(filepath.Join(dir, e.Name(), choicesFile))
		if err != nil || json.Unmarshal(data, &m) != nil {
			continue // begun and never finished, or not ours
		}
		info, err := os.Stat(filepath.Join(dir, e.Name(), photoFile))
		if err != nil {
			continue
		}
		k.of[e.Name()] = &sitting{id: e.Name(), name: m.Name, choices: m.Choices, used: m.Used, size: info.Size()}
	}
	return k, nil
}

// add keeps a new sitting, and lets the oldest go where there are too many.
func (k *keeper) add(x *sitting, data []byte) error {
	x.id, x.used, x.size = rand.Text(), time.Now(), int64(len(data))
	if k.dir == "" {
		x.data = data
	} else {
		k.busy.Add(1)
		defer k.busy.Done()
		dir := filepath.Join(k.dir, x.id)
		err := os.Mkdir(dir, 0o700)
		if err == nil {
			err = wholefile.Write(filepath.Join(dir, photoFile), data, 0o600)
		}
		if err == nil {
			err = wholefile.Write(filepath.Join(dir, smallFile), x.small, 0o600)
		}
		if err == nil {
			err = k.save(x)
		}
		if err != nil {
			os.RemoveAll(dir)
			return fmt.Errorf("the photo cannot be kept (%w): free some space", err)
		}
	}
	k.mu.Lock()
	k.of[x.id] = x
	var out []*sitting
	for k.overfull() {
		old := k.oldest(x)
		if old == nil {
			break
		}
		delete(k.of, old.id)
		k.gone[old.id] = true
		out = append(out, old)
	}
	k.mu.Unlock()
	for _, old := range out {
		k.erase(old)
	}
	return nil
}

func (k *keeper) overfull() bool {
	var size int64
	for _, x := range k.of {
		size += x.size
	}
	return len(k.of) > maxSittings || size > maxKept
}

// oldest is the sitting not used for longest, other than one.
func (k *keeper) oldest(but *sitting) *sitting {
	var old *sitting
	for _, x := range k.of {
		if x != but && (old == nil || x.lastUsed().Before(old.lastUsed())) {
			old = x
		}
	}
	return old
}

func (x *sitting) lastUsed() time.Time {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.used
}

// get finds a sitting by its id, which is looked up and never made into a path.
func (k *keeper) get(id string) (*sitting, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	x := k.of[id]
	switch {
	case x != nil:
		return x, nil
	case k.gone[id]:
		return nil, sayf(410, "This sitting had to make room for newer ones: only the last %d are kept. Begin again with its photo.", maxSittings)
	}
	return nil, sayf(404, "There is no such sitting here: it was put away, or belongs to another machine. Begin with a photo.")
}

// list gives the sittings, last used first.
func (k *keeper) list() []*sitting {
	k.mu.Lock()
	var all []*sitting
	for _, x := range k.of {
		all = append(all, x)
	}
	k.mu.Unlock()
	at := map[*sitting]time.Time{}
	for _, x := range all {
		at[x] = x.lastUsed()
	}
	slices.SortFunc(all, func(a, b *sitting) int {
		if c := at[b].Compare(at[a]); c != 0 {
			return c
		}
		return strings.Compare(a.id, b.id)
	})
	return all
}

// away forgets a sitting for good.
func (k *keeper) away(id string) error {
	x, err := k.get(id)
	if err != nil {
		return err
	}
	k.mu.Lock()
	delete(k.of, x.id)
	k.mu.Unlock()
	k.erase(x)
	return nil
}

// erase takes a sitting off the disk. x.id was made here.
func (k *keeper) erase(x *sitting) {
	if k.dir != "" {
		k.busy.Add(1)
		defer k.busy.Done()
		os.RemoveAll(filepath.Join(k.dir, x.id))
	}
}

// save writes a sitting's choices, whole or not at all.
func (k *keeper) save(x *sitting) error {
	if k.dir == "" {
		return nil
	}
	k.busy.Add(1)
	defer k.busy.Done()
	x.mu.Lock()
	data, err := json.MarshalIndent(kept{x.name, x.used, x.choices}, "", " ")
	x.mu.Unlock()
	if err != nil {
		return err
	}
	return wholefile.Write(filepath.Join(k.dir, x.id, choicesFile), append(data, '\n'), 0o600)
}

// photo reads the sitting's photo.
func (k *keeper) photo(x *sitting) ([]byte, error) {
	if k.dir == "" {
		return x.data, nil
	}
	data, err := os.ReadFile(filepath.Join(k.dir, x.id, photoFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, sayf(410, "The photo of this sitting is gone from the disk. Begin again with it.")
	}
	return data, err
}

// thumb is the sitting's small picture.
func (k *keeper) thumb(x *sitting) ([]byte, error) {
	if k.dir == "" || x.small != nil {
		return x.small, nil
	}
	return os.ReadFile(filepath.Join(k.dir, x.id, smallFile))
}

// settle keeps at most maxOpen sittings decoded.
func (k *keeper) settle(now *sitting) {
	open := 0
	for _, x := range k.list() {
		x.mu.Lock()
		if x.open != nil && x != now {
			if open++; open >= maxOpen {
				x.open = nil
			}
		}
		x.mu.Unlock()
	}
}

// wait returns when all writes are done.
func (k *keeper) wait() { k.busy.Wait() }

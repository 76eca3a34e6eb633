package inventory

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gofrs/flock"
	"go.yaml.in/yaml/v4"

	"paintout/inventory/optics"
	"paintout/inventory/wholefile"
)

// lockWait is how long a write waits for another process.
const lockWait = 10 * time.Second

func backupPath(path string) string { return path + ".bak" }

// Save writes the box to a file, atomically: at any moment the file is whole,
// the old one or the new. The last good copy is kept beside it as FILE.bak,
// comments in the file are kept, a symbolic link is followed, and a second
// process waits. What was read from a file or calibrated is written so that
// [LoadBox] gives the same box; Notes are not kept.
func (b *Box) Save(path string) error {
	return locked(path, func(path string) error { return b.write(path) })
}

// UpdateBox changes a box file under its lock, so that nothing another process
// writes meanwhile is lost: change gets the box in the file, nil if there is
// no file yet, and returns the box to write.
func UpdateBox(path string, change func(present *Box) (*Box, error)) error {
	return locked(path, func(path string) error {
		present, err := LoadBox(path)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		b, err := change(present)
		if err != nil {
			return err
		}
		return b.write(path)
	})
}

// locked runs f on the file that path leads to, alone among processes.
func locked(path string, f func(path string) error) error {
	path, err := linked(path)
	if err != nil {
		return err
	}
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return unwritable(path, err)
	}
	lock := flock.New(filepath.Join(dir, "."+filepath.Base(path)+".lock"))
	ctx, cancel := context.WithTimeout(context.Background(), lockWait)
	defer cancel()
	ok, err := lock.TryLockContext(ctx, 20*time.Millisecond)
	switch {
	case errors.Is(err, context.DeadlineExceeded) || err == nil && !ok:
		return fmt.Errorf("%s: another run is writing this box; try again when it is done", path)
	case err != nil:
		return unwritable(path, err)
	}
	defer lock.Close()
	sweep(path)
	return f(path)
}

// sweep takes out the half-written files that runs killed while writing this
// box left beside it, ".box.yaml" and a random number. The lock is held: no
// other run is at work on one.
func sweep(path string) {
	dir, base := filepath.Split(path)
	entries, err := os.ReadDir(cmp.Or(dir, "."))
	if err != nil {
		return
	}
	for _, e := range entries {
		rest, ours := strings.CutPrefix(e.Name(), "."+base)
		rest = strings.TrimPrefix(rest, ".bak")
		if ours && len(rest) >= 6 && strings.Trim(rest, "0123456789") == "" && e.Type().IsRegular() {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
}

// linked follows symbolic links, also to a file that is not there yet.
func linked(path string) (string, error) {
	for range 32 {
		to, err := os.Readlink(path)
		if err != nil {
			return path, nil
		}
		if !filepath.IsAbs(to) {
			to = filepath.Join(filepath.Dir(path), to)
		}
		path = to
	}
	return "", fmt.Errorf("%s: symbolic links lead in a circle", path)
}

func (b *Box) write(path string) error {
	old, err := readBoxFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	data, err := b.encode(path, old)
	if err != nil {
		return err
	}
	if bytes.Equal(data, old) {
		return nil
	}
	if old != nil {
		if _, err := ParseBox(path, old); err == nil {
			if err := wholefile.Write(backupPath(path), old, 0o644); err != nil {
				return unwritable(path, err)
			}
		}
	}
	if err := wholefile.Write(path, data, 0o644); err != nil {
		return unwritable(path, err)
	}
	return nil
}

// encode gives the text of the box file, with the comments of the old one.
// What it gives reads back as the same box, or it is an error.
func (b *Box) encode(name string, old []byte) ([]byte, error) {
	root, err := b.node()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	doc := &yaml.Node{Kind: yaml.DocumentNode, Content: []*yaml.Node{root}}
	plain, err := yaml.Dump(doc, yaml.WithIndent(2), yaml.WithLineWidth(-1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(plain) > maxBoxBytes {
		return nil, fmt.Errorf("%s: the box would be over %d MiB; split it", name, maxBoxBytes>>20)
	}
	if err := b.readsBack(name, plain); err != nil {
		return nil, err
	}
	r := &boxReader{name: name}
	if was, err := r.document(old); err == nil {
		keepComments(root, was)
	} else {
		root.HeadComment = "# One box of paint tubes. Edit it freely; your comments are kept.\n# A tube needs a name and the pigment code on its label, or readings."
	}
	data, err := yaml.Dump(doc, yaml.WithIndent(2), yaml.WithLineWidth(-1))
	if err != nil || b.readsBack(name, data) != nil {
		return plain, nil // a comment that YAML would not take at its place
	}
	return data, nil
}

// readsBack makes sure that the text is the box.
func (b *Box) readsBack(name string, data []byte) error {
	got, err := ParseBox(name, data)
	if err != nil {
		return fmt.Errorf("the box cannot be saved: %w", err)
	}
	if got.Name != b.Name || !reflect.DeepEqual(got.Finish, b.Finish) || len(got.Tubes) != len(b.Tubes) {
		return fmt.Errorf("%s: the box cannot be saved: its name, finish or number of tubes would change", name)
	}
	for i, t := range got.Tubes {
		if !sameTube(t, b.Tubes[i]) {
			return fmt.Errorf("%s: the box cannot be saved: tube %q would change", name, b.Tubes[i].Name)
		}
	}
	return nil
}

// sameTube compares tubes; constants to the digits that a strength factor
// leaves.
func sameTube(p, q *Tube) bool {
	for i := range p.Paint.K {
		if math.Abs(p.Paint.K[i]-q.Paint.K[i]) > 1e-11*q.Paint.K[i] || math.Abs(p.Paint.S[i]-q.Paint.S[i]) > 1e-11*q.Paint.S[i] {
			return false
		}
	}
	a, b := *p, *q
	a.Paint, b.Paint = optics.Paint{}, optics.Paint{}
	a.Readings, b.Readings = unlined(a.Readings), unlined(b.Readings)
	for _, t := range []*Tube{&a, &b} {
		if t.Factor == 1 {
			t.Factor = 0
		}
	}
	if len(a.Modes)+len(b.Modes) == 0 {
		a.Modes, b.Modes = nil, nil
	}
	return reflect.DeepEqual(a, b)
}

// unlined drops where readings came from.
func unlined(rs []Reading) []Reading {
	var out []Reading
	for _, r := range rs {
		r.Line = 0
		out = append(out, r)
	}
	return out
}

func scalar(tag, s string) *yaml.Node {
	return &yaml.Node{Kind: yaml.ScalarNode, Tag: tag, Value: s}
}

func textNode(s string) *yaml.Node { return scalar("!!str", s) }

// numberNode writes the shortest digits that read back as v.
func numberNode(v float64) *yaml.Node {
	return &yaml.Node{Kind: yaml.ScalarNode, Value: strconv.FormatFloat(v, 'g', -1, 64)}
}

func numbers(vs ...float64) *yaml.Node {
	n := &yaml.Node{Kind: yaml.SequenceNode, Style: yaml.FlowStyle}
	for _, v := range vs {
		n.Content = append(n.Content, numberNode(v))
	}
	return n
}

func put(m *yaml.Node, key string, v *yaml.Node) {
	m.Content = append(m.Content, textNode(key), v)
}

func (b *Box) node() (*yaml.Node, error) {
	root := &yaml.Node{Kind: yaml.MappingNode}
	put(root, "box", textNode(b.Name))
	if b.Finish != nil {
		put(root, "finish", textNode(b.Finish.String()))
	}
	tubes := &yaml.Node{Kind: yaml.SequenceNode}
	for _, t := range b.Tubes {
		tubes.Content = append(tubes.Content, t.node())
	}
	if len(b.Tubes) == 0 {
		tubes.Style = yaml.FlowStyle
	}
	put(root, "tubes", tubes)
	return root, nil
}

// node writes what the tube's codes do not say already.
func (t *Tube) node() *yaml.Node {
	m := &yaml.Node{Kind: yaml.MappingNode}
	put(m, "name", textNode(t.Name))
	if len(t.CI) == 1 {
		put(m, "pigment", textNode(t.CI[0]))
	} else if len(t.CI) > 1 {
		codes := &yaml.Node{Kind: yaml.SequenceNode, Style: yaml.FlowStyle}
		for _, c := range t.CI {
			codes.Content = append(codes.Content, textNode(c))
		}
		put(m, "pigment", codes)
	}
	usual, err := declared(t)
	if err != nil {
		usual = nil
	}
	words := usual
	if words == nil {
		words = &Tube{White: whiteCodes(t.CI)}
	}
	if t.White != words.White {
		put(m, "white", scalar("!!bool", strconv.FormatBool(t.White)))
	}
	if t.Medium != "" {
		put(m, "medium", textNode(t.Medium))
	}
	ml := func(v float64) *yaml.Node { return textNode(strconv.FormatFloat(v, 'g', -1, 64) + " ml") }
	if t.SizeML != 0 {
		put(m, "size", ml(t.SizeML))
	}
	if t.LeftML != nil {
		put(m, "left", ml(*t.LeftML))
	}
	factor := 1.0
	if t.Factor != 0 && t.Factor != 1 {
		factor = t.Factor
		put(m, "strength", numberNode(factor))
	}
	for _, w := range []struct{ key, is, usual string }{
		{"opacity", string(t.Opacity), string(words.Opacity)},
		{"tinting", t.Strength, words.Strength},
		{"lightfast", t.Lightfast, words.Lightfast},
		{"caution", t.Caution, words.Caution},
		{"note", t.Note, ""},
	} {
		if w.is != w.usual {
			put(m, w.key, textNode(w.is))
		}
	}
	if len(t.Readings) > 0 {
		list := &yaml.Node{Kind: yaml.SequenceNode}
		for i := range t.Readings {
			list.Content = append(list.Content, t.Readings[i].node())
		}
		put(m, "readings", list)
	}
	if usual != nil && len(t.Readings) == 0 {
		if factor != 1 {
			usual.Paint = usual.Paint.Strengthened(factor)
		}
		if usual.Paint == t.Paint && usual.Provenance == t.Provenance && usual.Source == t.Source && reflect.DeepEqual(usual.Modes, t.Modes) && t.Drying == nil {
			return m
		}
	}
	put(m, "constants", t.constantsNode(factor))
	return m
}

func (r *Reading) node() *yaml.Node {
	m := &yaml.Node{Kind: yaml.MappingNode, Style: yaml.FlowStyle}
	put(m, "parts", numberNode(r.Paint))
	if r.White != 0 {
		put(m, "white", numberNode(r.White))
	}
	if r.Black != 0 {
		put(m, "black", numberNode(r.Black))
	}
	if r.WhiteTube != "" {
		put(m, "white tube", textNode(r.WhiteTube))
	}
	if r.BlackTube != "" {
		put(m, "black tube", textNode(r.BlackTube))
	}
	if r.Mass {
		put(m, "basis", textNode("mass"))
	}
	if r.Wet {
		put(m, "state", textNode("wet"))
	}
	put(m, "specular", textNode(r.Finish.String()))
	if r.Spectrum != nil {
		put(m, "spectrum", numbers(r.Spectrum[:]...))
		return m
	}
	if r.Illuminant != optics.D65 {
		put(m, "illuminant", textNode(r.Illuminant.String()))
	}
	put(m, "lab", numbers(r.Lab.L, r.Lab.A, r.Lab.B))
	if r.Uncertainty != 0 {
		put(m, "uncertainty", numberNode(r.Uncertainty))
	}
	return m
}

// constantsNode writes K and S as they are before the strength factor.
func (t *Tube) constantsNode(factor float64) *yaml.Node {
	p := t.Paint
	if factor != 1 {
		for i := range p.K {
			p.K[i], p.S[i] = signif(p.K[i]/factor, 12), signif(p.S[i]/factor, 12)
		}
	}
	m := &yaml.Node{Kind: yaml.MappingNode}
	if len(t.Readings) > 0 {
		m.HeadComment = "# Fitted to the readings above; after changing those, take this out to fit again."
	}
	put(m, "from", textNode(string(t.Provenance)))
	put(m, "source", textNode(t.Source))
	put(m, "K", numbers(p.K[:]...))
	put(m, "S", numbers(p.S[:]...))
	if t.Drying != nil {
		put(m, "drying", numbers(t.Drying[:]...))
	}
	if !reflect.DeepEqual(t.Modes, usualModes(t.Provenance, &p)) {
		list := &yaml.Node{Kind: yaml.SequenceNode}
		if len(t.Modes) == 0 {
			list.Style = yaml.FlowStyle
		}
		for i := range t.Modes {
			list.Content = append(list.Content, numbers(append(t.Modes[i].DK[:], t.Modes[i].DS[:]...)...))
		}
		put(m, "spread", list)
	}
	return m
}

// keepComments copies the comments of an old file to where the same thing
// stands in the new one: by key, tubes by name, other lists by place.
func keepComments(to, from *yaml.Node) {
	copyComments(to, from)
	switch {
	case to.Kind != from.Kind || to.Style&yaml.FlowStyle != 0:
	case to.Kind == yaml.MappingNode:
		for i := 0; i+1 < len(to.Content); i += 2 {
			for j := 0; j+1 < len(from.Content); j += 2 {
				if from.Content[j].Value == to.Content[i].Value {
					copyComments(to.Content[i], from.Content[j])
					keepComments(to.Content[i+1], from.Content[j+1])
				}
			}
		}
	case to.Kind == yaml.SequenceNode:
		var left, lost []int // entries without one of their name
		for i, n := range to.Content {
			name, found := entryName(n), false
			for j, o := range from.Content {
				if name != "" && strings.EqualFold(name, entryName(o)) || name == "" && i == j {
					keepComments(n, o)
					found = true
				}
			}
			if !found {
				left = append(left, i)
			}
		}
		for j, o := range from.Content {
			if name := entryName(o); name != "" && !slices.ContainsFunc(to.Content, func(n *yaml.Node) bool { return strings.EqualFold(name, entryName(n)) }) {
				lost = append(lost, j)
			}
		}
		// One name gone and one new in its place: the tube was renamed.
		if len(left) == 1 && slices.Equal(left, lost) && len(to.Content) == len(from.Content) {
			keepComments(to.Content[left[0]], from.Content[left[0]])
		}
	}
}

func copyComments(to, from *yaml.Node) {
	if from.HeadComment != "" {
		to.HeadComment = from.HeadComment
	}
	to.LineComment, to.FootComment = from.LineComment, from.FootComment
}

// entryName is the value of a mapping's name.
func entryName(n *yaml.Node) string {
	if n.Kind == yaml.MappingNode {
		for i := 0; i+1 < len(n.Content); i += 2 {
			if n.Content[i].Value == "name" {
				return strings.TrimSpace(n.Content[i+1].Value)
			}
		}
	}
	return ""
}

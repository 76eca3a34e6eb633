package inventory

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
)

// Fields are what a tube's entry says, by the keys of a box file: name,
// pigment, medium, size, left, strength (a factor on the tinting strength that
// the code gives), opacity, tinting (strength in a word), lightfast, caution,
// white, note. An empty value takes the key out, so that the library's word
// counts again.
type Fields map[string]string

// AddTube puts a new tube into the box. A tube of that name must not be there.
func (b *Box) AddTube(f Fields) (*Tube, error) {
	return b.edit(nil, f)
}

// EditTube changes what f names of a tube and nothing else. A new name may be
// among it. Where the pigment changes, a tube known by its code takes the new
// code's colour, and a measured one is fitted to its readings again.
func (b *Box) EditTube(name string, f Fields) (*Tube, error) {
	t, err := b.find(name)
	if err != nil {
		return nil, err
	}
	return b.edit(t, f)
}

// RemoveTubes takes tubes out, all of them or, on an error, none.
func (b *Box) RemoveTubes(names ...string) ([]*Tube, error) {
	var out []*Tube
	for _, n := range names {
		t, err := b.find(n)
		if err != nil {
			return nil, err
		}
		if !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	b.Tubes = slices.DeleteFunc(slices.Clone(b.Tubes), func(t *Tube) bool { return slices.Contains(out, t) })
	return out, nil
}

// find gives a tube by its name, or by its code where just one tube has it.
func (b *Box) find(name string) (*Tube, error) {
	if t := b.Tube(name); t != nil {
		return t, nil
	}
	var same []*Tube
	if codes, odd := parseCodes(name); len(codes) > 0 && len(odd) == 0 {
		for _, t := range b.Tubes {
			if slices.Equal(codes, t.CI) || len(codes) == 1 && len(t.CI) == 1 && bareCode(t.CI[0]) == codes[0] {
				same = append(same, t)
			}
		}
	}
	switch len(same) {
	case 0:
		return nil, fmt.Errorf("no tube %q in the box%s", clip(name), b.nearest(name))
	case 1:
		return same[0], nil
	}
	var names []string
	for _, t := range same {
		names = append(names, t.Name)
	}
	return nil, fmt.Errorf("%s is the code of several tubes: name %s", name, orList(names))
}

// nearest says which tubes may have been meant.
func (b *Box) nearest(name string) string {
	type near struct {
		is  string
		far int
	}
	asked := strings.ToLower(strings.TrimSpace(clip(name)))
	var all []near
	for _, t := range b.Tubes {
		is := strings.ToLower(clip(t.Name))
		d := editDistance(asked, is)
		if len(asked) > 3 && strings.Contains(is, asked) {
			d = 1
		}
		if d <= max(1, len(asked)/3) {
			all = append(all, near{t.Name, d})
		}
	}
	slices.SortStableFunc(all, func(a, b near) int { return cmp.Compare(a.far, b.far) })
	if len(all) == 0 {
		return "; list its tubes to see their names"
	}
	var names []string
	for _, n := range all[:min(3, len(all))] {
		names = append(names, n.is)
	}
	return ": did you mean " + orList(names) + "?"
}

// BackupPath is where the last good copy of a box file is kept.
func BackupPath(path string) (string, error) {
	path, err := linked(path)
	return backupPath(path), err
}

func (b *Box) edit(of *Tube, f Fields) (*Tube, error) {
	r := &boxReader{}
	out, err := r.revised(b, []revision{{of: of, to: f}})
	if err != nil {
		return nil, err
	}
	at := len(out.Tubes) - 1
	if of != nil {
		at = slices.Index(b.Tubes, of)
	}
	b.Tubes = out.Tubes
	for _, n := range out.Notes {
		if !slices.Contains(b.Notes, n) {
			b.Notes = append(b.Notes, n)
		}
	}
	return b.Tubes[at], nil
}

// revision is a change of one tube, or a new one where of is nil.
type revision struct {
	of   *Tube
	to   Fields // beside those of [Fields]: readings and constants, as YAML
	line int    // where it is asked for; 0 if not in a file
}

// revised is the box with some tubes changed and others added at its end.
// Tubes that the list does not name are the same.
func (r *boxReader) revised(b *Box, list []revision) (*Box, error) {
	out := *b
	out.Tubes, out.Notes = slices.Clone(b.Tubes), nil
	line := map[string]int{} // of the tubes in the list, by lower-case name
	var fit []*tubeEntry
	for _, v := range list {
		e, err := r.revise(v)
		if err != nil {
			return nil, err
		}
		key := strings.ToLower(e.tube.Name)
		if at, twice := line[key]; twice {
			return nil, r.failf(e.at, "tube %q stands twice, first on line %d; give each its own name", e.tube.Name, at)
		}
		line[key] = v.line
		t, err := e.settle()
		if err != nil {
			return nil, r.failf(e.at, "tube %q: %v", e.tube.Name, err)
		}
		if t == nil {
			t = &e.tube
			fit = append(fit, e)
		}
		if v.of != nil {
			out.Tubes[slices.Index(b.Tubes, v.of)] = t
		} else {
			out.Tubes = append(out.Tubes, t)
		}
	}
	if len(out.Tubes) > maxTubes {
		return nil, fmt.Errorf("the box would hold %d tubes; at most %d", len(out.Tubes), maxTubes)
	}
	seen := map[string]*Tube{}
	for _, t := range out.Tubes {
		key := strings.ToLower(t.Name)
		if o := seen[key]; o != nil {
			if !slices.Contains(b.Tubes, o) {
				o = t // the one that was there
			}
			return nil, fmt.Errorf("%q is in the box already (%s); change that tube, or give the other a name of its own", o.Name, cmp.Or(o.Code(), "no code"))
		}
		seen[key] = t
	}
	if len(fit) > 0 {
		if err := r.calibrate(&out, fit); err != nil {
			return nil, err
		}
	}
	return &out, nil
}

// revise reads one tube's entry with the changes in it.
func (r *boxReader) revise(v revision) (*tubeEntry, error) {
	m := &yaml.Node{Kind: yaml.MappingNode}
	if v.of != nil {
		m = v.of.node()
	}
	for _, key := range slices.Sorted(maps.Keys(v.to)) {
		s, at := v.to[key], -1
		for i := 0; i < len(m.Content); i += 2 {
			if m.Content[i].Value == key {
				at = i
			}
		}
		if s == "" {
			if at >= 0 {
				m.Content = slices.Delete(m.Content, at, at+2)
			}
			continue
		}
		value, err := r.field(key, s, v.line)
		if err != nil {
			return nil, err
		}
		if at >= 0 {
			m.Content[at+1] = value
		} else {
			put(m, key, value)
		}
	}
	relined(m, v.line)
	e, err := r.entry(m)
	if err != nil {
		return nil, err
	}
	if v.of != nil && len(e.tube.Readings) > 0 && !slices.Equal(e.tube.CI, v.of.CI) && v.to["constants"] == "" {
		e.own = nil // fitted from another pigment
	}
	return e, nil
}

// field is the node of a typed value.
func (r *boxReader) field(key, s string, line int) (*yaml.Node, error) {
	if key != "readings" && key != "constants" {
		return textNode(undashed(s)), nil
	}
	var doc yaml.Node
	if err := yaml.Load([]byte(s), &doc); err != nil || doc.Kind != yaml.DocumentNode || len(doc.Content) != 1 || findAlias(&doc) != nil {
		return nil, r.failf(&yaml.Node{Line: line}, "%s are not as they were exported; export them again, or leave the cell empty", key)
	}
	return doc.Content[0], nil
}

// isNone says whether a typed value stands for 'said, but none': a dash. Words
// that are dashes themselves have one more.
func isNone(s string) bool { return s != "" && strings.Trim(s, "-") == "" }

func undashed(s string) string {
	if isNone(s) {
		return s[1:]
	}
	return s
}

func relined(n *yaml.Node, line int) {
	n.Line = line
	for _, c := range n.Content {
		relined(c, line)
	}
}

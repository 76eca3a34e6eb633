package inventory

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"go.yaml.in/yaml/v4"

	"paintout/inventory/optics"
)

// A box file is YAML to be edited by hand:
//
//	box: field box
//	finish: included            # or excluded; leave out if not known
//	tubes:
//	  - name: ultramarine blue
//	    pigment: PB29           # or [PW6, PB29]
//	    medium: oil
//	    size: 37 ml
//	    left: 20 ml
//	    strength: 1.1           # tinting strength beside what the code gives
//	    note: the old tube
//	  - name: my own violet
//	    readings:
//	      - {parts: 1, lab: [21.0, 24.1, -30.2], specular: included}
//	      - {parts: 1, white: 4, lab: [48.9, 22.5, -41.7], specular: included}
//
// A tube needs a code of the library, or readings, or constants (K and S as
// 'tubes import' writes them). Words on the label may override the library's:
// opacity, tinting, lightfast, caution, white.

// Limits of a box file: far above any real one.
const (
	maxBoxBytes    = 4 << 20
	maxBoxReadings = 400 // of one tube
	maxTextRunes   = 2000
)

// DefaultBoxPath is where the painter's box is kept if no other is named:
// paintout/box.yaml in the user's configuration folder.
func DefaultBoxPath() (string, error) {
	dir, err := os.UserConfigDir()
	if err != nil {
		return "", fmt.Errorf("no configuration folder to keep the box in (%w); name a box file", err)
	}
	return filepath.Join(dir, "paintout", "box.yaml"), nil
}

// LoadBox reads a box file. A missing file is fs.ErrNotExist.
func LoadBox(path string) (*Box, error) {
	data, err := readBoxFile(path)
	if err != nil {
		return nil, err
	}
	b, err := ParseBox(path, data)
	if err != nil {
		if _, e := os.Stat(backupPath(path)); e == nil {
			return nil, fmt.Errorf("%w (the last good copy is %s)", err, backupPath(path))
		}
		return nil, err
	}
	return b, nil
}

func readBoxFile(path string) ([]byte, error) {
	f, err := Open(path, "tubes")
	if errors.Is(err, fs.ErrNotExist) {
		return nil, &absent{fmt.Sprintf("%s: no box there; check the name and the folder, or begin a box by adding a tube", path)}
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxBoxBytes+1))
	if err != nil {
		return nil, unreadable(path, err)
	}
	return data, nil
}

// ParseBox reads the text of a box file; name stands for it in errors, which
// say FILE:LINE and the mend. Tubes that have readings but no constants are
// calibrated; what that assumed is in the box's Notes.
func ParseBox(name string, data []byte) (*Box, error) {
	r := &boxReader{name: name}
	root, err := r.document(data)
	if err != nil {
		return nil, err
	}
	b, fit, err := r.box(root)
	if err != nil {
		return nil, err
	}
	if len(fit) > 0 {
		if err := r.calibrate(b, fit); err != nil {
			return nil, err
		}
	}
	return b, nil
}

type boxReader struct{ name string }

// failf names the file and line of n, where it has them: what was typed as a
// command has neither.
func (r *boxReader) failf(n *yaml.Node, format string, args ...any) error {
	if r.name == "" {
		return fmt.Errorf(format, args...)
	}
	return fmt.Errorf("%s:%d: %s", r.name, n.Line, fmt.Sprintf(format, args...))
}

// document gives the top mapping of the only document. Anchors and aliases,
// with which a few lines can stand for millions, are refused.
func (r *boxReader) document(data []byte) (*yaml.Node, error) {
	if len(data) > maxBoxBytes {
		return nil, fmt.Errorf("%s: over %d MiB, too long for a box file", r.name, maxBoxBytes>>20)
	}
	if strings.TrimSpace(string(data)) == "" {
		return nil, fmt.Errorf("%s: empty; a box file needs tubes:, a list with name and pigment of each", r.name)
	}
	if err := plainText(r.name, data, "a box file is YAML, to be read and written in a text editor"); err != nil {
		return nil, err
	}
	var doc yaml.Node
	if err := yaml.Load(data, &doc); err != nil {
		var le *yaml.LoadError
		if errors.As(err, &le) && le.Mark.Line > 0 {
			return nil, fmt.Errorf("%s:%d: not readable as YAML: %s; look at the indentation, colons and quotes there", r.name, le.Mark.Line, le.Message)
		}
		return nil, fmt.Errorf("%s: not readable as YAML (%v); keep one box to a file", r.name, err)
	}
	if doc.Kind != yaml.DocumentNode || len(doc.Content) != 1 || doc.Content[0].Kind != yaml.MappingNode {
		return nil, fmt.Errorf("%s: not a box file; begin with the keys box and tubes", r.name)
	}
	if n := findAlias(&doc); n != nil {
		return nil, r.failf(n, "anchors and aliases (& and *) are not read in a box file; write the value out")
	}
	return doc.Content[0], nil
}

func findAlias(n *yaml.Node) *yaml.Node {
	if n.Kind == yaml.AliasNode || n.Anchor != "" {
		return n
	}
	for _, c := range n.Content {
		if a := findAlias(c); a != nil {
			return a
		}
	}
	return nil
}

// fields walks a mapping: each key must be known and stand once.
func (r *boxReader) fields(n *yaml.Node, what string, read map[string]func(v *yaml.Node) error) error {
	if n.Kind != yaml.MappingNode {
		return r.failf(n, "%s is written as keys and values, such as name: ultramarine blue", what)
	}
	seen := map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, v := n.Content[i], n.Content[i+1]
		f, ok := read[k.Value]
		if k.Kind != yaml.ScalarNode || !ok {
			keys := make([]string, 0, len(read))
			for key := range read {
				keys = append(keys, key)
			}
			slices.Sort(keys)
			near := "; known are " + strings.Join(keys, ", ")
			if key := nearestKey(k.Value, keys); key != "" {
				near = fmt.Sprintf("; did you mean %s?", key)
			}
			return r.failf(k, "unknown key %q in %s%s", clip(k.Value), what, near)
		}
		if at, twice := seen[k.Value]; twice {
			return r.failf(k, "key %s stands twice, first on line %d; keep one", k.Value, at)
		}
		seen[k.Value] = k.Line
		if err := f(v); err != nil {
			return err
		}
	}
	return nil
}

// nearestKey is the key spelt most like what was written, if any is within two
// letters of it.
func nearestKey(written string, keys []string) string {
	near, least := "", 3
	for _, key := range keys {
		if d := editDistance(strings.ToLower(clip(written)), key); d < least && d < len(key) {
			near, least = key, d
		}
	}
	return near
}

// items walks a list.
func (r *boxReader) items(n *yaml.Node, what string, limit int, f func(*yaml.Node) error) error {
	if n.Kind != yaml.SequenceNode {
		return r.failf(n, "%s is a list: one line for each, beginning with a dash, or [a, b]", what)
	}
	if len(n.Content) > limit {
		return r.failf(n, "%d entries in %s; at most %d", len(n.Content), what, limit)
	}
	for _, c := range n.Content {
		if err := f(c); err != nil {
			return err
		}
	}
	return nil
}

// text reads a single line of words; an empty value is no words.
func (r *boxReader) text(n *yaml.Node, what string, limit int) (string, error) {
	if n.Kind != yaml.ScalarNode {
		return "", r.failf(n, "%s is plain text; put it in quotes if it holds a colon", what)
	}
	if n.ShortTag() == "!!null" {
		return "", nil
	}
	s := strings.TrimSpace(n.Value)
	if len([]rune(s)) > limit {
		return "", r.failf(n, "%s is longer than %d letters; shorten it", what, limit)
	}
	if strings.ContainsFunc(s, func(c rune) bool { return unicode.IsControl(c) || c == '\u2028' || c == '\u2029' || c == '\ufeff' }) {
		return "", r.failf(n, "%s holds a line break or a control character; write it on one line", what)
	}
	return s, nil
}

// number reads a finite number within lo and hi.
func (r *boxReader) number(n *yaml.Node, what string, lo, hi float64) (float64, error) {
	v, err := strconv.ParseFloat(n.Value, 64)
	if n.Kind != yaml.ScalarNode || err != nil || math.IsNaN(v) {
		return 0, r.failf(n, "%s %q is not a number", what, clip(n.Value))
	}
	if v < lo || v > hi {
		return 0, r.failf(n, "%s is %g; it lies between %g and %g", what, v, lo, hi)
	}
	return v, nil
}

// volume reads "37 ml", "4 cl", "0.1 l", "1.25 fl oz" or a number of ml.
func (r *boxReader) volume(n *yaml.Node, what string) (float64, error) {
	s := strings.ToLower(strings.TrimSpace(n.Value))
	at := strings.IndexFunc(s, func(c rune) bool { return !strings.ContainsRune("0123456789.+-e", c) })
	num, unit := s, ""
	if at >= 0 {
		num, unit = s[:at], strings.Join(strings.Fields(s[at:]), " ")
	}
	by, ok := map[string]float64{"": 1, "ml": 1, "cl": 10, "l": 1000, "oz": 29.5735, "fl oz": 29.5735}[unit]
	v, err := strconv.ParseFloat(num, 64)
	if n.Kind != yaml.ScalarNode || err != nil || !ok {
		return 0, r.failf(n, "%s %q is not a volume; write it like 37 ml", what, clip(n.Value))
	}
	v *= by
	if !(v >= 0) || v > 1e5 {
		return 0, r.failf(n, "%s is %g ml; a tube holds more than nothing and less than 100 litres", what, v)
	}
	return v, nil
}

func (r *boxReader) spectrum(n *yaml.Node, what string) (optics.Spectrum, error) {
	var s optics.Spectrum
	if n.Kind != yaml.SequenceNode || len(n.Content) != optics.Bands {
		return s, r.failf(n, "%s has %d numbers; it needs %d, 400–700 nm by 10", what, len(n.Content), optics.Bands)
	}
	for i, c := range n.Content {
		v, err := r.number(c, fmt.Sprintf("%s at %d nm", what, optics.Wavelength(i)), math.Inf(-1), math.Inf(1))
		if err != nil {
			return s, err
		}
		if math.IsInf(v, 0) {
			return s, r.failf(c, "%s at %d nm is not a finite number", what, optics.Wavelength(i))
		}
		s[i] = v
	}
	return s, nil
}

// tubeEntry is a tube as its entry declares it.
type tubeEntry struct {
	at       *yaml.Node
	tube     Tube // name, codes, medium, sizes, note, factor, readings
	override []func(*Tube)
	own      *ownConstants
}

// ownConstants are constants given in the file, instead of the library's.
type ownConstants struct {
	from   Provenance
	source string
	paint  optics.Paint
	modes  []optics.Mode
	spread bool    // whether modes were given
	drying *Drying // nil if not given
}

// box reads the top mapping, and says which tubes are still to be calibrated.
func (r *boxReader) box(root *yaml.Node) (*Box, []*tubeEntry, error) {
	b := &Box{}
	var entries []*tubeEntry
	err := r.fields(root, "the box", map[string]func(*yaml.Node) error{
		"box": func(v *yaml.Node) (err error) {
			b.Name, err = r.text(v, "the box's name", maxNameRunes)
			return err
		},
		"finish": func(v *yaml.Node) error {
			s, err := r.text(v, "finish", maxNameRunes)
			if err != nil || s == "" {
				return err
			}
			f, err := optics.ParseFinish(s)
			if err != nil {
				return r.failf(v, "%v", err)
			}
			b.Finish = &f
			return nil
		},
		"tubes": func(v *yaml.Node) error {
			if v.ShortTag() == "!!null" {
				return nil
			}
			return r.items(v, "tubes", maxTubes, func(n *yaml.Node) error {
				e, err := r.entry(n)
				entries = append(entries, e)
				return err
			})
		},
	})
	if err != nil {
		return nil, nil, err
	}
	names := map[string]int{}
	var fit []*tubeEntry
	for _, e := range entries {
		key := strings.ToLower(e.tube.Name)
		if at, twice := names[key]; twice {
			return nil, nil, r.failf(e.at, "tube %q stands twice, first on line %d; give each its own name", e.tube.Name, at)
		}
		names[key] = e.at.Line
		t, err := e.settle()
		if err != nil {
			return nil, nil, r.failf(e.at, "tube %q: %v", e.tube.Name, err)
		}
		if t == nil {
			t = &e.tube
			fit = append(fit, e)
		}
		b.Tubes = append(b.Tubes, t)
	}
	return b, fit, nil
}

func (r *boxReader) entry(n *yaml.Node) (*tubeEntry, error) {
	e := &tubeEntry{at: n}
	t := &e.tube
	words := func(what string, to func(*Tube, string)) func(*yaml.Node) error {
		return func(v *yaml.Node) error {
			s, err := r.text(v, what, maxTextRunes)
			if err != nil {
				return err
			}
			e.override = append(e.override, func(t *Tube) { to(t, s) })
			return nil
		}
	}
	err := r.fields(n, "a tube", map[string]func(*yaml.Node) error{
		"name": func(v *yaml.Node) (err error) {
			t.Name, err = r.text(v, "the tube's name", maxNameRunes)
			return err
		},
		"pigment": func(v *yaml.Node) error {
			list := []*yaml.Node{v}
			if v.Kind == yaml.SequenceNode {
				list = v.Content
			}
			if len(list) > 8 {
				return r.failf(v, "%d pigment codes; a tube has at most 8", len(list))
			}
			for _, c := range list {
				s, err := r.text(c, "the pigment code", maxNameRunes)
				if err != nil {
					return err
				}
				codes, odd := parseCodes(s)
				if len(odd) > 0 {
					return r.failf(c, "%q is not a pigment code; write it as on the label, such as PB29 or PBr7/burnt sienna", clip(odd[0]))
				}
				for _, code := range codes {
					if slices.Contains(t.CI, code) {
						return r.failf(c, "pigment code %s stands twice; keep one", code)
					}
					t.CI = append(t.CI, code)
				}
			}
			return nil
		},
		"medium": func(v *yaml.Node) error {
			s, err := r.text(v, "medium", maxNameRunes)
			if err != nil {
				return err
			}
			if s = strings.ToLower(s); s == "watercolor" {
				s = "watercolour"
			}
			if s != "" && !slices.Contains(media, s) {
				return r.failf(v, "medium %q is not one of %s", clip(s), strings.Join(media, ", "))
			}
			t.Medium = s
			return nil
		},
		"size": func(v *yaml.Node) error {
			ml, err := r.volume(v, "size")
			if err == nil && ml == 0 {
				err = r.failf(v, "size is 0; leave it out if it is not known, and write left: 0 for an empty tube")
			}
			t.SizeML = ml
			return err
		},
		"left": func(v *yaml.Node) error {
			ml, err := r.volume(v, "left")
			t.LeftML = &ml
			return err
		},
		"strength": func(v *yaml.Node) error {
			f, err := r.number(v, "strength", 0.02, 50)
			if err == nil && f != 1 {
				t.Factor = f
			}
			return err
		},
		"note": func(v *yaml.Node) (err error) {
			t.Note, err = r.text(v, "note", maxTextRunes)
			return err
		},
		"opacity": func(v *yaml.Node) error {
			s, err := r.text(v, "opacity", maxNameRunes)
			if err != nil {
				return err
			}
			o := Opacity(strings.ToLower(s))
			if o != "" && !slices.Contains(opacities, o) {
				return r.failf(v, "opacity %q is not one of opaque, semi-opaque, semi-transparent, transparent", clip(s))
			}
			e.override = append(e.override, func(t *Tube) { t.Opacity = o })
			return nil
		},
		"tinting":   words("tinting", func(t *Tube, s string) { t.Strength = s }),
		"lightfast": words("lightfast", func(t *Tube, s string) { t.Lightfast = s }),
		"caution":   words("caution", func(t *Tube, s string) { t.Caution = s }),
		"white": func(v *yaml.Node) error {
			var yes bool
			switch strings.ToLower(v.Value) {
			case "yes", "true":
				yes = true
			case "no", "false":
			default:
				return r.failf(v, "white %q; write yes if other paints are tinted with it, no if not", clip(v.Value))
			}
			e.override = append(e.override, func(t *Tube) { t.White = yes })
			return nil
		},
		"readings": func(v *yaml.Node) error {
			return r.items(v, "readings", maxBoxReadings, func(n *yaml.Node) error {
				rd, err := r.reading(n)
				t.Readings = append(t.Readings, rd)
				return err
			})
		},
		"constants": func(v *yaml.Node) (err error) {
			e.own, err = r.constants(v)
			return err
		},
	})
	if err != nil {
		return e, err
	}
	if t.Name == "" {
		if len(t.CI) == 0 {
			return e, r.failf(n, "a tube without a name; write name: and the pigment code on its label")
		}
		t.Name = strings.Join(t.CI, "+")
	}
	return e, nil
}

// media are the media known, opacities the words for hiding.
var (
	media     = []string{"oil", "acrylic", "gouache", "watercolour", "tempera", "casein"}
	opacities = []Opacity{Opaque, SemiOpaque, SemiTransparent, Transparent}
)

func (r *boxReader) reading(n *yaml.Node) (Reading, error) {
	var rd Reading
	colours := 0
	rd.Paint = math.NaN()
	part := func(to *float64, what string) func(*yaml.Node) error {
		return func(v *yaml.Node) (err error) {
			*to, err = r.number(v, what, 0, 1e6)
			return err
		}
	}
	name := func(to *string, what string) func(*yaml.Node) error {
		return func(v *yaml.Node) (err error) {
			*to, err = r.text(v, what, maxNameRunes)
			return err
		}
	}
	err := r.fields(n, "a reading", map[string]func(*yaml.Node) error{
		"parts":      part(&rd.Paint, "parts"),
		"white":      part(&rd.White, "white"),
		"black":      part(&rd.Black, "black"),
		"white tube": name(&rd.WhiteTube, "white tube"),
		"black tube": name(&rd.BlackTube, "black tube"),
		"basis": func(v *yaml.Node) error {
			switch v.Value {
			case "mass":
				rd.Mass = true
			case "volume":
			default:
				return r.failf(v, "basis %q; write volume or mass", clip(v.Value))
			}
			return nil
		},
		"state": func(v *yaml.Node) error {
			switch v.Value {
			case "wet":
				rd.Wet = true
			case "dry":
			default:
				return r.failf(v, "state %q; write dry, or wet for a film read before it dried", clip(v.Value))
			}
			return nil
		},
		"specular": func(v *yaml.Node) (err error) {
			if rd.Finish, err = optics.ParseFinish(v.Value); err != nil {
				err = r.failf(v, "specular %q; write included or excluded", clip(v.Value))
			}
			return err
		},
		"illuminant": func(v *yaml.Node) (err error) {
			if rd.Illuminant, err = optics.ParseIlluminant(v.Value); err != nil {
				err = r.failf(v, "%v", err)
			}
			return err
		},
		"uncertainty": func(v *yaml.Node) (err error) {
			rd.Uncertainty, err = r.number(v, "uncertainty", 0, maxUncertainty)
			return err
		},
		"lab": func(v *yaml.Node) error {
			colours++
			if v.Kind != yaml.SequenceNode || len(v.Content) != 3 {
				return r.failf(v, "lab is three numbers, [L, a, b]")
			}
			for i, p := range []struct {
				to     *float64
				what   string
				lo, hi float64
			}{{&rd.Lab.L, "L", 0, 105}, {&rd.Lab.A, "a", -160, 160}, {&rd.Lab.B, "b", -160, 160}} {
				var err error
				if *p.to, err = r.number(v.Content[i], p.what, p.lo, p.hi); err != nil {
					return err
				}
			}
			return nil
		},
		"spectrum": func(v *yaml.Node) error {
			colours++
			s, err := r.spectrum(v, "spectrum")
			if err != nil {
				return err
			}
			if err := s.Valid(); err != nil {
				return r.failf(v, "%v; give fractions", err)
			}
			rd.Spectrum = &s
			return nil
		},
	})
	switch {
	case err != nil:
	case !(rd.Paint > 0):
		err = r.failf(n, "a reading needs parts, the parts of this tube's paint, above 0")
	case colours != 1:
		err = r.failf(n, "a reading has one colour: lab: [L, a, b] or spectrum: 31 numbers")
	case rd.Spectrum != nil && rd.Illuminant != optics.D65:
		err = r.failf(n, "a spectrum has no illuminant; take that out")
	case rd.Spectrum != nil && rd.Uncertainty != 0:
		err = r.failf(n, "a spectrum has no uncertainty; take that out")
	}
	return rd, err
}

func (r *boxReader) constants(n *yaml.Node) (*ownConstants, error) {
	o := &ownConstants{from: Measured, source: "constants given in the box file"}
	given := 0
	positive := func(to *optics.Spectrum, what string) func(*yaml.Node) error {
		return func(v *yaml.Node) (err error) {
			given++
			if *to, err = r.spectrum(v, what); err != nil {
				return err
			}
			for i, x := range to {
				if !(x > 0) || x > 1e6 {
					return r.failf(v, "%s at %d nm is %g; it lies above 0 (white's S is 1)", what, optics.Wavelength(i), x)
				}
			}
			return nil
		}
	}
	err := r.fields(n, "constants", map[string]func(*yaml.Node) error{
		"from": func(v *yaml.Node) error {
			o.from = Provenance(v.Value)
			if !slices.Contains([]Provenance{Measured, Derived, Estimated}, o.from) {
				return r.failf(v, "from %q; write measured, derived or estimated", clip(v.Value))
			}
			return nil
		},
		"source": func(v *yaml.Node) (err error) {
			o.source, err = r.text(v, "source", maxTextRunes)
			return err
		},
		"K": positive(&o.paint.K, "K"),
		"S": positive(&o.paint.S, "S"),
		"drying": func(v *yaml.Node) error {
			o.drying = &Drying{}
			i := 0
			err := r.items(v, "drying", dryingCurves, func(c *yaml.Node) (err error) {
				o.drying[i], err = r.number(c, "drying", -mostWetLn, mostWetLn)
				i++
				return err
			})
			if err == nil && i != dryingCurves {
				err = r.failf(v, "drying has %d numbers; it needs %d, as 'tubes import' writes them", i, dryingCurves)
			}
			return err
		},
		"spread": func(v *yaml.Node) error {
			o.spread = true
			return r.items(v, "spread", 64, func(row *yaml.Node) error {
				if row.Kind != yaml.SequenceNode || len(row.Content) != 2*optics.Bands {
					return r.failf(row, "a row of spread has %d numbers; it needs %d, those of K and then of S", len(row.Content), 2*optics.Bands)
				}
				var m optics.Mode
				for i, c := range row.Content {
					x, err := r.number(c, "spread", -50, 50)
					if err != nil {
						return err
					}
					if i < optics.Bands {
						m.DK[i] = x
					} else {
						m.DS[i-optics.Bands] = x
					}
				}
				o.modes = append(o.modes, m)
				return nil
			})
		},
	})
	if err == nil && given != 2 {
		err = r.failf(n, "constants need both K and S, 31 numbers each")
	}
	return o, err
}

// settle makes the tube of an entry from its constants or the library. It is
// nil where readings are still to be fitted.
func (e *tubeEntry) settle() (*Tube, error) {
	t, err := declared(&e.tube)
	switch {
	case e.own != nil:
		if t == nil {
			t = &Tube{White: whiteCodes(e.tube.CI)}
		}
		t.Paint, t.Provenance, t.Source, t.Drying = e.own.paint, e.own.from, e.own.source, e.own.drying
		if t.Modes = e.own.modes; !e.own.spread {
			t.Modes = usualModes(t.Provenance, &t.Paint)
		}
	case len(e.tube.Readings) > 0:
		return nil, nil
	case err != nil:
		return nil, err
	default: // known by its codes: they must say all, whatever name it gets
		e.tube.CI = namedIn(e.tube.CI, e.tube.Name)
	}
	e.dress(t)
	if t.Factor != 0 {
		t.Paint = t.Paint.Strengthened(t.Factor)
	}
	return t, nil
}

// dress gives a tube what its entry says beside the constants.
func (e *tubeEntry) dress(t *Tube) {
	s := &e.tube
	t.Name, t.CI, t.Medium, t.SizeML, t.LeftML, t.Note = s.Name, s.CI, s.Medium, s.SizeML, s.LeftML, s.Note
	t.Factor, t.Readings = s.Factor, s.Readings
	for _, f := range e.override {
		f(t)
	}
}

// usualModes are what is not known of constants that come without a spread.
func usualModes(from Provenance, p *optics.Paint) []optics.Mode {
	sd := shapes[from]
	if from == Measured {
		sd.Strength = strengthCalibrated
	}
	return sd.Modes(p)
}

// declared is the library's tube for a tube's codes. Where a code has several
// paints, the tube's name may say which.
func declared(t *Tube) (*Tube, error) {
	switch len(t.CI) {
	case 0:
		return nil, errors.New("give its pigment code (pigment: PB29, as on the label), or readings of its masstone and a tint")
	case 1:
		p, err := Find(paintNamed(t.CI[0], t.Name))
		if err != nil {
			return nil, fmt.Errorf("%w; or give readings of its masstone and a tint", err)
		}
		return p.Tube(), nil
	}
	return blend(namedIn(t.CI, t.Name))
}

// paintNamed is a code with the paint's name where the code has several and
// the tube's name holds one of theirs; else the code as it is.
func paintNamed(code, tube string) string {
	if _, err := Find(code); err != nil {
		for _, p := range library() {
			if p.Code == bareCode(code) && nameHas(tube, p.Name) {
				return p.Key()
			}
		}
	}
	return code
}

func namedIn(codes []string, tube string) []string {
	var out []string
	for _, c := range codes {
		out = append(out, paintNamed(c, tube))
	}
	return out
}

// Spread of a tube that is known by several codes: how strong it is, and how
// much of each pigment is in it (guesses: no source).
const blendStrength, blendShare = 0.5, 0.7

// blend is a tube of several pigments: an equal mix by volume of the paints
// each would make alone, since labels do not give proportions.
func blend(codes []string) (*Tube, error) {
	var paints []*optics.Paint
	t := &Tube{CI: codes, Provenance: Estimated, White: whiteCodes(codes)}
	join := func(to *string, s string) {
		if s != "" && !strings.Contains(*to, s) {
			*to += map[bool]string{false: "; "}[*to == ""] + s
		}
	}
	parts := make([]float64, len(codes))
	for i, c := range codes {
		p, err := Find(c)
		if err != nil {
			return nil, fmt.Errorf("%w; or give readings of the tube", err)
		}
		paints = append(paints, &p.Paint)
		parts[i] = 1
		join(&t.Caution, p.Caution)
		join(&t.Lightfast, p.Lightfast)
	}
	t.Paint = optics.Mix(paints, parts)
	t.Source = "equal parts of the library's " + strings.Join(codes, " and ") + ", since the label gives no proportions; measure it to be sure"
	t.Modes = []optics.Mode{{DK: optics.Flat(blendStrength), DS: optics.Flat(blendStrength)}}
	for i := range codes {
		parts[i] = math.Exp(blendShare)
		more := optics.Mix(paints, parts)
		parts[i] = 1
		var m optics.Mode
		for b := range m.DK {
			m.DK[b] = math.Log(more.K[b] / t.Paint.K[b])
			m.DS[b] = math.Log(more.S[b] / t.Paint.S[b])
		}
		t.Modes = append(t.Modes, m)
	}
	return t, nil
}

// calibrate fits the tubes that have readings but no constants, against the
// box's whites and blacks.
func (r *boxReader) calibrate(b *Box, fit []*tubeEntry) error {
	rd := &Readings{Name: cmp.Or(r.name, "the box")}
	known := &Box{Name: b.Name, Finish: b.Finish}
	for _, t := range b.Tubes {
		if !slices.ContainsFunc(fit, func(e *tubeEntry) bool { return &e.tube == t }) {
			known.Tubes = append(known.Tubes, t)
		}
	}
	for _, e := range fit {
		m := MeasuredTube{Name: e.tube.Name, CI: e.tube.CI, Line: e.at.Line, Rows: slices.Clone(e.tube.Readings)}
		t := Tube{White: whiteCodes(e.tube.CI)}
		for _, f := range e.override {
			f(&t)
		}
		alone := !slices.ContainsFunc(m.Rows, func(r Reading) bool { return !r.Masstone() })
		if t.White && alone {
			for i := range m.Rows {
				m.Rows[i].Paint, m.Rows[i].White = 0, 1
			}
		}
		rd.Tubes = append(rd.Tubes, m)
	}
	out, report, err := calibrate(rd, known, false)
	if err != nil {
		return err
	}
	for i, t := range b.Tubes {
		for _, e := range fit {
			if &e.tube != t {
				continue
			}
			n := out.Tube(t.Name)
			if n == nil {
				return r.failf(e.at, "tube %q: its readings could not be used; give its masstone or tints with white", t.Name)
			}
			e.dress(n)
			if n.Factor != 0 {
				n.Paint = n.Paint.Strengthened(n.Factor)
			}
			b.Tubes[i] = n
		}
	}
	b.Notes = append(b.Notes, report.Warnings...)
	return nil
}

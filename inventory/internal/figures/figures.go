// Package figures holds the published measurements that the pigment library
// is generated from, as text tables with their sources at the top. The tables
// are written by importfigures and read here; nothing in them is altered.
package figures

import (
	"bufio"
	"embed"
	"fmt"
	"strconv"
	"strings"

	"paintout/inventory/optics"
)

//go:embed *.txt
var tables embed.FS

// Set is one published set of constants: its paints in the order of the
// table, and the surface they were fitted with.
type Set struct {
	Surface optics.Surface
	Paints  []Paint
}

// Paint is one paint of a set, relative to the set's own white, S = 1.
type Paint struct {
	Code, Name string
	optics.Paint
}

// Film is one measured film: shares by mass of its components, 0–1, and
// reflectances (fractions) over the black and white of a card and of the card.
type Film struct {
	ID                                     string
	Share                                  map[string]float64
	OverBlack, OverWhite, BareBlack, White optics.Spectrum
}

// HeavyBody and MatteFluid are the two sets of acrylic paints.
func HeavyBody() (*Set, error)  { return readSet("heavy-body.txt") }
func MatteFluid() (*Set, error) { return readSet("matte-fluid.txt") }

// Find gives the paint of that code, and name if one is given; nil if absent.
func (s *Set) Find(code, name string) *Paint {
	for i := range s.Paints {
		if p := &s.Paints[i]; p.Code == code && (name == "" || p.Name == name) {
			return p
		}
	}
	return nil
}

func readSet(file string) (*Set, error) {
	set := &Set{}
	blocks, err := read(file, "paint", 2)
	if err != nil {
		return nil, err
	}
	for _, b := range blocks {
		code, name, _ := strings.Cut(b.title, " ")
		set.Paints = append(set.Paints, Paint{code, name, optics.Paint{K: b.column[0], S: b.column[1]}})
		set.Surface = b.surface
	}
	if set.Surface == (optics.Surface{}) {
		return nil, fmt.Errorf("%s: no line names the surface", file)
	}
	return set, nil
}

// OilFilms gives the measured oil films by their number in the set.
func OilFilms() (map[string]Film, error) {
	blocks, err := read("oil-films.txt", "film", 4)
	if err != nil {
		return nil, err
	}
	films := map[string]Film{}
	for _, b := range blocks {
		id, of, _ := strings.Cut(b.title, " ")
		f := Film{ID: id, Share: map[string]float64{}}
		for i, dst := range []*optics.Spectrum{&f.OverBlack, &f.OverWhite, &f.BareBlack, &f.White} {
			for j, v := range b.column[i] {
				dst[j] = v / 100
			}
		}
		for _, c := range strings.Split(of, ", ") {
			at := strings.LastIndexByte(c, ' ')
			v, err := strconv.ParseFloat(c[at+1:], 64)
			if err != nil {
				return nil, fmt.Errorf("oil-films.txt, film %s: %w", id, err)
			}
			f.Share[c[:at]] = v / 100
		}
		films[id] = f
	}
	return films, nil
}

type block struct {
	title   string
	surface optics.Surface
	column  []optics.Spectrum
}

// read parses a table: comments, of which "# surface k1 k2" is kept, and
// blocks of one title line and 31 lines of wavelength and columns.
func read(file, word string, columns int) ([]block, error) {
	f, err := tables.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var surface optics.Surface
	var out []block
	row := optics.Bands
	sc := bufio.NewScanner(f)
	for n := 1; sc.Scan(); n++ {
		line := strings.TrimSpace(sc.Text())
		bad := func(why string) error { return fmt.Errorf("%s, line %d: %s", file, n, why) }
		fields := strings.Fields(line)
		switch {
		case line == "":
		case strings.HasPrefix(line, "# surface "):
			if _, err := fmt.Sscan(line[len("# surface "):], &surface.K1, &surface.K2); err != nil {
				return nil, bad(err.Error())
			}
		case line[0] == '#':
		case fields[0] == word:
			if row != optics.Bands {
				return nil, bad("the block before ends early")
			}
			out = append(out, block{title: line[len(word)+1:], surface: surface, column: make([]optics.Spectrum, columns)})
			row = 0
		default:
			if row == optics.Bands || len(fields) != 1+columns || fields[0] != strconv.Itoa(optics.Wavelength(row)) {
				return nil, bad("a wavelength out of turn, or a column too few or too many")
			}
			for c := range columns {
				v, err := strconv.ParseFloat(fields[1+c], 64)
				if err != nil {
					return nil, bad(err.Error())
				}
				out[len(out)-1].column[c][row] = v
			}
			row++
		}
	}
	if row != optics.Bands {
		return nil, fmt.Errorf("%s: the last block ends early", file)
	}
	return out, sc.Err()
}

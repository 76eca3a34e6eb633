package main

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"paintout/inventory/optics"
)

// film is one measured drawdown of the set: shares by mass, and the
// reflectance a film that hides its card would have.
type film struct {
	id    string
	share map[string]float64 // by the set's word for the component; above 0
	own   string             // the component whose reading it is
	white string             // the white in it; empty for none
	seen  optics.Spectrum
}

const zinc, lead, bone = "ZincWhite", "LeadWhite", "BoneBlack"

// extenders are left out: they are hardly visible in oil, and their films over
// black and over white say little of a film that hides.
var extenders = []string{"BariumSulphate", "CalciumCarbonate"}

// faint holds readings this far above the surface's own reflection: thirteen
// films read darker than it.
const faint = 0.002

// readFilms reads mixtures.txt and spectra.txt of the oil set.
func readFilms(dir string) ([]film, error) {
	lines, err := readLines(filepath.Join(dir, "spectra.txt"))
	if err != nil {
		return nil, err
	}
	spectra := map[string]*optics.Spectrum{}
	for _, l := range lines[1:] {
		f := strings.Fields(l)
		if len(f) != 1+optics.Bands {
			return nil, fmt.Errorf("spectra.txt, %s: %d columns, not %d", f[0], len(f), 1+optics.Bands)
		}
		var s optics.Spectrum
		for i := range s {
			v, err := strconv.ParseFloat(f[1+i], 64)
			if err != nil {
				return nil, fmt.Errorf("spectra.txt, %s: %w", f[0], err)
			}
			s[i] = v / 100
		}
		spectra[f[0]] = &s
	}
	if lines, err = readLines(filepath.Join(dir, "mixtures.txt")); err != nil {
		return nil, err
	}
	var out []film
	for _, l := range lines {
		id, rest, _ := strings.Cut(l, "\t")
		names, shares, _ := strings.Cut(rest, "|")
		overBlack, overWhite := spectra[id+"_ob"], spectra[id+"_ow"]
		if overBlack == nil || overWhite == nil {
			continue // 12E has no spectrum
		}
		f := film{id: id, share: map[string]float64{}}
		name := strings.Split(names, "-")
		for i, s := range strings.Split(shares, "-") {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil || i >= len(name) {
				return nil, fmt.Errorf("mixtures.txt, %s: shares %q of %q", id, shares, names)
			}
			if v > 0 {
				f.share[name[i]] = v / 100
			}
		}
		card := func(side string) *optics.Spectrum {
			if s := spectra[id+side]; s != nil {
				return s
			}
			return spectra[id[:2]+"A"+side]
		}
		black, white := card("_b"), card("_w")
		if black == nil || white == nil {
			return nil, fmt.Errorf("spectra.txt: no bare card for %s", id)
		}
		f.seen = hiding(overBlack, overWhite, black, white)
		for c := range f.share {
			switch c {
			case zinc, lead:
				f.white = c
			case bone:
			default:
				f.own = c
			}
		}
		if f.own == "" && f.share[bone] > 0 {
			f.own = bone
		}
		if f.own == "" {
			f.own = f.white
		}
		if f.own == "" || slices.ContainsFunc(extenders, func(e string) bool { return f.share[e] > 0 }) {
			continue
		}
		out = append(out, f)
	}
	return out, nil
}

// hiding is what a film would reflect if it hid its ground, from both readings.
func hiding(overBlack, overWhite, black, white *optics.Spectrum) (s optics.Spectrum) {
	surface := optics.DrySurface
	in := func(r float64) float64 { return surface.Internal(max(r, surface.K1+faint), optics.Included) }
	for i := range s {
		s[i] = surface.Measured(optics.OpaqueFromTwo(in(overBlack[i]), in(black[i]), in(overWhite[i]), in(white[i])), optics.Included)
	}
	return s
}

func (f *film) masstone() bool { return len(f.share) == 1 }

// tint says whether the film is a pigment in zinc white alone, with a share
// between the two.
func (f *film) tint(from, to float64) bool {
	return len(f.share) == 2 && f.white == zinc && f.share[f.own] >= from && f.share[f.own] <= to
}

func (f *film) String() string {
	var s []string
	for c, v := range f.share {
		s = append(s, fmt.Sprintf("%s %.3g", c, math.Round(1000*v)/10))
	}
	slices.Sort(s)
	return f.id + " " + strings.Join(s, ", ")
}

func readLines(file string) ([]string, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var out []string
	sc := bufio.NewScanner(f)
	for sc.Scan() {
		if s := strings.TrimSpace(sc.Text()); s != "" {
			out = append(out, s)
		}
	}
	if len(out) < 2 && sc.Err() == nil {
		return nil, fmt.Errorf("%s: no lines of figures", file)
	}
	return out, sc.Err()
}

// Importfigures writes the tables of internal/figures from the published
// files: two CSVs of constants (columns ci,name,quantity,400…700, one row for
// K and one for S) and the two text files of the measured oil films.
//
//	go run ./inventory/internal/importfigures -from ../shared/data -to inventory/internal/figures
//
// Digits are carried over as they stand; only the form changes.
package main

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"flag"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

const bands, firstNM, stepNM = 31, 400, 10

func main() {
	log.SetFlags(0)
	from := flag.String("from", "", "folder with constants/ and oil-mixtures/")
	to := flag.String("to", "", "folder to write the tables to")
	flag.Parse()
	for file, make := range tables {
		text, err := make(*from)
		if err != nil {
			log.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(*to, file), text, 0o644); err != nil {
			log.Fatal(err)
		}
	}
}

// tables makes each file's text from the folder of published files.
var tables = map[string]func(from string) ([]byte, error){
	"heavy-body.txt": func(from string) ([]byte, error) {
		return constants(filepath.Join(from, "constants", "heavy-body-acrylic.csv"), heavyBody)
	},
	"matte-fluid.txt": func(from string) ([]byte, error) {
		return constants(filepath.Join(from, "constants", "matte-fluid-acrylic.csv"), matteFluid)
	},
	"oil-films.txt": func(from string) ([]byte, error) { return films(filepath.Join(from, "oil-mixtures")) },
}

const heavyBody = `# Heavy-body acrylic paints: absorption and scattering at 10 nm, relative to
# the set's own titanium white, S = 1.
# R. S. Berns, artist paint spectral database, Proc. Color and Imaging Conf. 24,
# 2016, Rochester Institute of Technology; figures from a public transcription.
# Measured specular included; fitted with Saunderson's k1 = 0.03, k2 = 0.65.
# surface 0.03 0.65
# One block per paint: its code and name, then nm, K, S.
`

const matteFluid = `# Matte fluid acrylic paints: absorption and scattering at 10 nm, relative to
# the set's own titanium white, S = 1.
# Y. Okumura, Developing a spectral and colorimetric database of artist paint
# materials, MS thesis, Rochester Institute of Technology, 2005. Codes set from
# the paints' names (PR5 and PB36 from memory).
# Measured specular excluded; k1 = 0.03, k2 = 0.60 reproduce its masstones.
# surface 0.03 0.60
# One block per paint: its code and name, then nm, K, S.
`

func constants(file, head string) ([]byte, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	b := bytes.NewBufferString(head)
	for i := 1; i+1 < len(rows); i += 2 {
		k, s := rows[i], rows[i+1]
		if k[2] != "K" || s[2] != "S" || k[0] != s[0] || k[1] != s[1] || len(k) != 3+bands {
			return nil, fmt.Errorf("%s, line %d: a K row and its S row are expected", file, i+1)
		}
		fmt.Fprintf(b, "\npaint %s %s\n", k[0], k[1])
		for j := range bands {
			fmt.Fprintf(b, "%d %s %s\n", firstNM+stepNM*j, k[3+j], s[3+j])
		}
	}
	return b.Bytes(), nil
}

const oilHead = `# Oil films read over the black and the white of a card: reflectance in per
# cent at 10 nm; the films of the set that the library uses.
# Geldof, Proaño Gaibor, Kirchner & Ligterink, Heritage Science 6:17, 2018,
# doi 10.1186/s40494-018-0181-6; data CC0.
# One block per film: its number and the shares by mass in per cent, then nm,
# film over black, film over white, bare black, bare white. A film whose own
# card was not read has the card of its series.
`

// series are the films carried over: zinc white and bone black, lead white,
// and the pigments that the library takes or is scaled by.
var series = []string{"06", "07", "08", "09", "11", "12", "13", "14"}

// leftOut are films of those series with another binder or with cochineal.
var leftOut = []string{"07B", "08D", "14F"}

func films(dir string) ([]byte, error) {
	spectra := map[string][]string{}
	lines, err := read(filepath.Join(dir, "spectra.txt"))
	if err != nil {
		return nil, err
	}
	for _, l := range lines[1:] {
		f := strings.Fields(l)
		if len(f) != 1+bands {
			return nil, fmt.Errorf("spectra.txt, %s: %d columns", f[0], len(f))
		}
		spectra[f[0]] = f[1:]
	}
	lines, err = read(filepath.Join(dir, "mixtures.txt"))
	if err != nil {
		return nil, err
	}
	b := bytes.NewBufferString(oilHead)
	for _, l := range lines {
		id, rest, _ := strings.Cut(l, "\t")
		over, ok := spectra[id+"_ob"]
		if !ok || !slices.Contains(series, id[:2]) || slices.Contains(leftOut, id) {
			continue // 12E has no spectrum
		}
		names, shares, _ := strings.Cut(rest, "|")
		var of []string
		for i, share := range strings.Split(shares, "-") {
			if v, err := strconv.ParseFloat(share, 64); err != nil {
				return nil, fmt.Errorf("mixtures.txt, %s: %w", id, err)
			} else if v > 0 {
				of = append(of, component[strings.Split(names, "-")[i]]+" "+share)
			}
		}
		card := func(side string) []string {
			if s, ok := spectra[id+side]; ok {
				return s
			}
			return spectra[id[:2]+"A"+side]
		}
		black, white, overWhite := card("_b"), card("_w"), spectra[id+"_ow"]
		fmt.Fprintf(b, "\nfilm %s %s\n", id, strings.Join(of, ", "))
		for j := range bands {
			fmt.Fprintf(b, "%d %s %s %s %s\n", firstNM+stepNM*j, over[j], overWhite[j], black[j], white[j])
		}
	}
	return b.Bytes(), nil
}

// component names the set's components in plain words.
var component = map[string]string{
	"ZincWhite":       "zinc white",
	"LeadWhite":       "lead white",
	"BoneBlack":       "bone black",
	"Vermillion":      "vermilion",
	"ViridianGreen":   "viridian",
	"UltramarineBlue": "ultramarine blue",
	"CobaltBlue":      "cobalt blue",
	"PrussianBlue":    "Prussian blue",
	"ChromeYellow":    "chrome yellow",
}

func read(file string) ([]string, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var out []string
	sc := bufio.NewScanner(f)
	for sc.Scan() {
		if l := strings.TrimSpace(sc.Text()); l != "" {
			out = append(out, l)
		}
	}
	return out, sc.Err()
}

package inventory

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"paintout/inventory/optics"
)

// sample is one measured film of a CGATS or CxF file.
//
// Neither format knows paint, tints or parts. A sample therefore says what it
// is by its name,
//
//	NAME [CODES] PAINT:WHITE[:BLACK]     ultramarine blue PB29 1:4
//	                                     light red (PR101) 1:0:0.5
//	NAME [CODES] masstone                burnt sienna (PBr7/burnt sienna) masstone
//
// with a ratio of parts last and the pigment codes before it, in brackets where
// they have spaces; or by fields of its own: tube, ci, paint_parts, white_parts,
// black_parts, as the columns of a table of readings. A name without parts is
// the tube's masstone, and that of a white is the white itself.
type sample struct {
	line  int // where it stands
	head  int // where its wavelengths stand
	name  string
	said  map[string]string // fields by the names of a table's columns, beside wavelengths
	nm    []float64
	refl  []string
	scale float64 // what a perfect diffuser reads, 1 or 100; 0 if not stated
}

// ratio is PAINT:WHITE[:BLACK]. A code such as PB15:4 begins with letters.
var ratio = regexp.MustCompile(`^(\d+(?:[.,]\d+)?):(\d+(?:[.,]\d+)?)(?::(\d+(?:[.,]\d+)?))?$`)

// oddRatio looks as if it were meant for one.
var oddRatio = regexp.MustCompile(`^(\d+(?:[.,]\d+)?%|[\d.,]+(?:[:/+-]+[\d.,]*)+)$`)

// named is what a sample's name says.
type named struct {
	tube  string
	codes string
	parts []string // paint, white, black; nil if not said
}

// parseName reads a sample's name; ok is false if its end looks like a ratio
// but is none.
func parseName(name string) (n named, ok bool) {
	words := strings.Fields(oneLine(name))
	if len(words) > 0 {
		last := words[len(words)-1]
		if m := ratio.FindStringSubmatch(last); m != nil {
			for _, p := range m[1:] {
				if p == "" {
					p = "0"
				}
				n.parts = append(n.parts, strings.Replace(p, ",", ".", 1))
			}
		} else if strings.EqualFold(last, "masstone") {
			n.parts = []string{"1", "0", "0"}
		} else if oddRatio.MatchString(last) {
			return n, false
		}
		if n.parts != nil {
			words = words[:len(words)-1]
		}
	}
	rest := strings.Join(words, " ")
	if at := strings.LastIndexByte(rest, '('); at >= 0 && strings.HasSuffix(rest, ")") {
		if codes, odd := parseCodes(rest[at+1 : len(rest)-1]); len(codes) > 0 && len(odd) == 0 {
			n.tube, n.codes = strings.TrimSpace(rest[:at]), strings.Join(codes, "+")
			return n, true
		}
	}
	if len(words) > 0 {
		if codes, odd := parseCodes(words[len(words)-1]); len(codes) > 0 && len(odd) == 0 {
			n.codes = strings.Join(codes, "+")
			words = words[:len(words)-1]
		}
	}
	n.tube = strings.Join(words, " ")
	return n, true
}

// white says whether the name or the codes are those of a white.
func (n named) white() bool {
	codes, _ := parseCodes(n.codes)
	return whiteCodes(codes) || len(codes) == 0 && nameHas(n.tube, "white")
}

// justNumber is what programs call samples that nobody named: 12, A1, Sample 3.
var justNumber = regexp.MustCompile(`(?i)^(?:(?:sample|patch|colou?r|spot|measurement|[a-z]{0,2})[ _#-]*\d[\d.,:/_-]*)?$`)

// samples takes the samples of a file in, as the rows of tables that each have
// one set of wavelengths.
func (rd *reader) samples(list []sample) error {
	if len(list) > maxReadingsRows {
		return rd.failf(list[maxReadingsRows].line, "more than %d readings; split the file by tube", maxReadingsRows)
	}
	if scale := usualScale(list); scale != 0 {
		for i := range list {
			if list[i].scale == 0 {
				list[i].scale = scale
			}
		}
		if scale == 100 {
			rd.note("reflectances were read as percent, since some are above %g", inPercent)
		}
	}
	var bare []string
	for i := range list {
		alone, err := rd.identify(&list[i])
		if err != nil {
			return err
		}
		if alone {
			bare = append(bare, list[i].said["tube"])
		}
	}
	if len(bare) > 0 {
		if len(bare) > 8 {
			bare = append(bare[:8], "…")
		}
		rd.note("samples that give no parts were read as the paint alone: %s", strings.Join(bare, ", "))
	}
	rd.comma = '\t' // values are cells already; decimal commas are read
	for len(list) > 0 {
		n := 1
		for n < len(list) && slices.Equal(list[n].nm, list[0].nm) && list[n].scale == list[0].scale {
			n++
		}
		rd.head, rd.headAt, rd.scale = slices.Clone(readingColumns), list[0].head, list[0].scale
		for _, nm := range list[0].nm {
			rd.head = append(rd.head, strconv.FormatFloat(nm, 'f', -1, 64))
		}
		rd.cells, rd.lines = nil, nil
		for _, s := range list[:n] {
			var row []string
			for _, c := range readingColumns {
				row = append(row, s.said[c])
			}
			rd.cells, rd.lines = append(rd.cells, append(row, s.refl...)), append(rd.lines, s.line)
		}
		if err := rd.read(); err != nil {
			return err
		}
		list = list[n:]
	}
	return nil
}

// usualScale is what the spectra that do not state their scale are read by: a
// file has one, or 0 where all state it.
func usualScale(list []sample) float64 {
	scale := 0.0
	for _, s := range list {
		if s.scale != 0 || len(s.refl) == 0 {
			continue
		}
		scale = max(scale, 1)
		for _, v := range s.refl {
			if x, err := strconv.ParseFloat(strings.Replace(v, ",", ".", 1), 64); err == nil && x > inPercent {
				return 100
			}
		}
	}
	return scale
}

// identify settles which tube a sample is of and in which parts; alone is
// whether it gave no parts.
func (rd *reader) identify(s *sample) (alone bool, err error) {
	n, ok := parseName(s.name)
	if s.said["paint_parts"] == "" && s.said["white_parts"]+s.said["black_parts"] != "" {
		return false, rd.failf(s.line, "sample %q gives white or black parts but no paint_parts; give all of them", clip(oneLine(s.name)))
	}
	if s.said["paint_parts"] == "" {
		if !ok {
			return false, rd.failf(s.line, "the parts of sample %q cannot be read; write paint to white, and black if any, as in 1:4 or 1:4:0.5, or masstone", clip(oneLine(s.name)))
		}
		switch {
		case n.parts != nil && !(n.white() && n.parts[1] == "0" && n.parts[2] == "0"):
		case n.white() || whiteCodes(first(parseCodes(s.said["ci"]))):
			n.parts = []string{"0", "1", "0"}
		default:
			n.parts, alone = []string{"1", "0", "0"}, true
		}
		s.said["paint_parts"], s.said["white_parts"], s.said["black_parts"] = n.parts[0], n.parts[1], n.parts[2]
	}
	if s.said["tube"] == "" {
		if n.codes == "" && justNumber.MatchString(n.tube) {
			return false, rd.failf(s.line, `sample %q names no tube; name it like "ultramarine blue PB29 1:4", or give it %s tube`, clip(oneLine(s.name)), rd.place)
		}
		s.said["tube"] = n.tube
	}
	if s.said["ci"] == "" {
		s.said["ci"] = n.codes
	}
	if len(s.nm) == 0 && s.said["l"] == "" {
		return false, rd.failf(s.line, "sample %q has no colour; give L*a*b* or a spectrum", clip(oneLine(s.name)))
	}
	// Beside a spectrum, L,a,b only serve as a check, where they can.
	_, err = optics.ParseIlluminant(s.said["illuminant"])
	if len(s.refl) > 0 && (err != nil || s.said["illuminant"] == "" || !twoDegrees(s.said["observer"])) {
		for _, c := range []string{"l", "a", "b", "illuminant", "observer"} {
			delete(s.said, c)
		}
	}
	return alone, nil
}

func first(codes, _ []string) []string { return codes }

// geometry is what words on an instrument's geometry say of the surface's own
// reflection: "in", "out" or nothing. At 45° to the normal a glossy surface
// sends its reflection past the eye (CIE 15, geometries 45:0 and 0:45); a
// sphere counts it unless it has a gloss trap (di:8 and de:8).
func geometry(s string) string {
	s = strings.ToLower(strings.NewReplacer("_", " ", "°", "", "*", "").Replace(s))
	switch {
	case strings.Contains(s, "excluded") || trapped.MatchString(s):
		return "out"
	case strings.Contains(s, "included") || counted.MatchString(s):
		return "in"
	case angled.MatchString(s):
		return "out"
	}
	return ""
}

var (
	counted = regexp.MustCompile(`\b(sci|spin|di *[:/] *8|8 *[:/] *di|specular in)\b`)
	trapped = regexp.MustCompile(`\b(sce|spex|de *[:/] *8|8 *[:/] *de|specular out)\b`)
	angled  = regexp.MustCompile(`\b(45 *[a-z]? *[:/] *0|0 *[:/] *45)`)
)

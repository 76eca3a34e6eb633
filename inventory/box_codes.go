package inventory

import (
	"regexp"
	"strconv"
	"strings"
)

// codePattern is the Colour Index generic name of a pigment: P for pigment or
// N for a natural one, its hue, a number, and for some a suffix after a colon.
var codePattern = regexp.MustCompile(`(?i)^([PN])(BR|BK|W|Y|O|R|V|B|G|M)[ -]?0*([1-9]\d{0,2})(:\d{1,2})?(?:[ /(]+([^)]*)\)?)?$`)

// maxCodeBytes bounds a code with the paint's name; no label's is near it.
const maxCodeBytes = 80

// parseCode reads one pigment code in its usual spelling ("PB29", "pb 29",
// "PBr7/burnt sienna", "PBr7 (burnt sienna)"). ok is false if s is no code.
func parseCode(s string) (code string, ok bool) {
	m := codePattern.FindStringSubmatch(strings.TrimSpace(s))
	if m == nil {
		return "", false
	}
	hue := strings.ToUpper(m[2][:1]) + strings.ToLower(m[2][1:])
	code = strings.ToUpper(m[1]) + hue + m[3] + m[4]
	if name := oneLine(m[5]); name != "" {
		code += "/" + strings.ToLower(name)
	}
	return code, len(code) <= maxCodeBytes
}

// parseCodes reads the codes of one tube as a label or a table cell gives
// them: "PW6+PB29", "PW6, PB29", "PW6 / PB29". Pieces that are no codes come
// back in odd.
func parseCodes(s string) (codes, odd []string) {
	for _, piece := range strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune("+&,;|\n\t", r) }) {
		piece = strings.TrimSpace(piece)
		if piece == "" {
			continue
		}
		var run []string
		for _, f := range strings.FieldsFunc(piece, func(r rune) bool { return r == ' ' || r == '/' }) {
			if c, ok := parseCode(f); ok {
				run = append(run, c)
			} else {
				run = nil
				break
			}
		}
		if len(run) > 1 {
			codes = append(codes, run...)
		} else if c, ok := parseCode(piece); ok {
			codes = append(codes, c)
		} else {
			odd = append(odd, piece)
		}
	}
	return codes, odd
}

// bareCode is a code without the paint's name: "PBr7" of "PBr7/burnt sienna".
func bareCode(code string) string {
	c, _, _ := strings.Cut(code, "/")
	return c
}

// whiteCodes says whether the codes are those of a white alone.
func whiteCodes(codes []string) bool {
	for _, c := range codes {
		if !strings.HasPrefix(c, "PW") {
			return false
		}
	}
	return len(codes) > 0
}

func blackCodes(codes []string) bool {
	for _, c := range codes {
		if !strings.HasPrefix(c, "PBk") {
			return false
		}
	}
	return len(codes) > 0
}

// signif rounds v to n significant decimal digits, so that what is written to
// a file is what is in memory.
func signif(v float64, n int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', n-1, 64), 64)
	if err != nil {
		return v
	}
	return r
}

package inventory

import (
	"fmt"
	"strings"
)

// DrawdownName is what a drawdown's name says of it, as text for the columns
// of a table of readings.
type DrawdownName struct {
	Tube, CI            string
	Paint, White, Black string // parts
}

// ParseDrawdownName reads a drawdown's name: the tube, its pigment codes if
// given, and parts of paint to white, to black if any, or "masstone":
// "ultramarine blue PB29 1:4", "light red (PR101) 1:0:0.5", "quay blue
// masstone", "titanium white PW6". Only a white's name may leave the parts out.
func ParseDrawdownName(name string) (DrawdownName, error) {
	n, ok := parseName(name)
	say := clip(oneLine(name))
	switch {
	case !ok:
		return DrawdownName{}, fmt.Errorf("the parts of %q cannot be read; write paint to white, and black if any, as in 1:4 or 1:4:0.5, or masstone", say)
	case n.tube == "" && n.codes == "":
		return DrawdownName{}, fmt.Errorf("%q names no tube; write it like \"ultramarine blue PB29 1:4\"", say)
	case n.white() && (n.parts == nil || n.parts[1] == "0" && n.parts[2] == "0"):
		n.parts = []string{"0", "1", "0"}
	case n.parts == nil:
		return DrawdownName{}, fmt.Errorf("%q has no parts; add masstone, or paint to white as in 1:4", say)
	}
	d := DrawdownName{Tube: n.tube, CI: n.codes, Paint: n.parts[0], White: n.parts[1], Black: n.parts[2]}
	if d.Tube == "" {
		d.Tube = strings.TrimSpace(n.codes)
	}
	return d, nil
}

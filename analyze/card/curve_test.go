package card

import (
	"strings"
	"testing"
)

func TestCurveWords(t *testing.T) {
	for _, c := range []struct {
		dark, light float64
		say         string
	}{
		{0.02, -0.04, "added none of its own"},
		{0.23, -0.01, "the darkest 0.2 stops too dark and the lightest as it was."},
		{-0.3, 0.14, "the darkest 0.3 stops too light and the lightest 0.1 stops too light."},
	} {
		if s := curveWords(c.dark, c.light); !strings.Contains(s, c.say) {
			t.Errorf("%v, %v: %s", c.dark, c.light, s)
		}
	}
}

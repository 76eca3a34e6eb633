package recipe

import "testing"

// Distinct ratios on the ladder: 29 of two tubes, 451 of three, and 5,729 of
// three with white up to 32.
func TestLadderCounts(t *testing.T) {
	for m, want := range []int{0, 1, 29, 451} {
		if got := len(directions[m]); got != want {
			t.Errorf("%d tubes: %d ratios, want %d", m, got, want)
		}
	}
	four, more := 0, 0
	for _, d := range directions[3] {
		for _, w := range d.whites[1:] {
			if w.white <= 32 {
				four++
			} else {
				more++
			}
		}
	}
	t.Logf("three tubes and white: %d mixes up to 32, %d beyond", four, more)
	if four != 5729 {
		t.Errorf("three tubes and white: %d mixes, want 5729", four)
	}
}

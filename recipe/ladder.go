package recipe

import "slices"

// Ladder is the roughly geometric scale that a knife's parts are taken from.
// Painters need one part in thirty as well as one in two, and steps finer than
// these are lost in portioning.
var Ladder = []int{1, 2, 3, 4, 6, 8, 12, 16, 24, 32}

// WhiteLadder goes on for white alone: skies and clouds lie beyond 1:32.
var WhiteLadder = []int{48, 64, 96, 128, 256}

// direction is one ratio of the coloured tubes, in lowest terms, with every
// amount of white the ladder allows on top of it.
type direction struct {
	parts  [3]int // of the coloured tubes; unused ones 0
	total  int
	whites []whiteStep // ascending share of white; the first is none
}

// whiteStep is an amount of white on a direction: times·parts of the coloured
// tubes and white parts of white, in lowest terms.
type whiteStep struct {
	times, white int
	perTotal     float64 // white per part of all coloured paint
}

// directions lists, for one, two and three coloured tubes, every distinct
// ratio whose parts stand on the ladder, each with every distinct amount of
// white: 1, 29 and 451 ratios; with white from the ladder up to 32 the last
// make 5,729 mixes more, and WhiteLadder adds to them.
var directions = func() (out [4][]direction) {
	for m := 1; m <= 3; m++ {
		at := map[[3]int]int{}
		seen := map[[4]int]bool{}
		add := func(parts [3]int, white int) {
			all := gcd(white, gcd(parts[0], gcd(parts[1], parts[2])))
			key := [4]int{parts[0] / all, parts[1] / all, parts[2] / all, white / all}
			if seen[key] {
				return
			}
			seen[key] = true
			g := gcd(parts[0], gcd(parts[1], parts[2]))
			low := [3]int{parts[0] / g, parts[1] / g, parts[2] / g}
			i, ok := at[low]
			if !ok {
				i = len(out[m])
				at[low] = i
				out[m] = append(out[m], direction{parts: low, total: low[0] + low[1] + low[2]})
			}
			d := &out[m][i]
			times := g / all
			d.whites = append(d.whites, whiteStep{times, key[3], float64(key[3]) / float64(times*d.total)})
		}
		each(m, func(parts [3]int) {
			add(parts, 0)
			for _, w := range Ladder {
				add(parts, w)
			}
			for _, w := range WhiteLadder {
				add(parts, w)
			}
		})
		for i := range out[m] {
			slices.SortFunc(out[m][i].whites, func(a, b whiteStep) int {
				switch {
				case a.perTotal < b.perTotal:
					return -1
				case a.perTotal > b.perTotal:
					return 1
				}
				return 0
			})
		}
	}
	return out
}()

// each calls f with every choice of m parts from the ladder.
func each(m int, f func([3]int)) {
	var parts [3]int
	var fill func(j int)
	fill = func(j int) {
		if j == m {
			f(parts)
			return
		}
		for _, p := range Ladder {
			parts[j] = p
			fill(j + 1)
		}
		parts[j] = 0
	}
	fill(0)
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

package analyze

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

func anyMask(t *rapid.T) *Mask {
	k := &Mask{W: rapid.IntRange(1, 30).Draw(t, "w"), H: rapid.IntRange(1, 30).Draw(t, "h")}
	k.Index = make([]uint8, k.W*k.H)
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3))
	n := rapid.IntRange(1, 4).Draw(t, "labels")
	for i := range k.Index {
		k.Index[i] = uint8(r.IntN(n))
		if i > 0 && r.IntN(3) > 0 {
			k.Index[i] = k.Index[i-1]
		}
	}
	return k
}

// Patches are checked against a flood fill.
func TestParts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := anyMask(t)
		p := k.parts()
		seen := make([]bool, len(k.Index))
		count := 0
		for i := range k.Index {
			if seen[i] {
				continue
			}
			count++
			size := int32(0)
			stack := []int{i}
			seen[i] = true
			for len(stack) > 0 {
				q := stack[len(stack)-1]
				stack = stack[:len(stack)-1]
				size++
				if p.of[q] != p.of[i] {
					t.Fatalf("pixels %d and %d are one patch", i, q)
				}
				x, y := q%k.W, q/k.W
				for _, d := range [][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
					x, y := x+d[0], y+d[1]
					if x < 0 || y < 0 || x >= k.W || y >= k.H {
						continue
					}
					if j := y*k.W + x; !seen[j] && k.Index[j] == k.Index[i] {
						seen[j] = true
						stack = append(stack, j)
					}
				}
			}
			if p.size[p.of[i]] != size {
				t.Fatalf("patch of %d has %d pixels, want %d", i, p.size[p.of[i]], size)
			}
		}
		if len(p.size) != count {
			t.Fatalf("%d patches, want %d", len(p.size), count)
		}
	})
}

// The chamfer 3-4 stays within 8 % of Euclidean distance (Borgefors 1986),
// and is exact along rows and columns.
func TestDepth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := anyMask(t)
		depth := k.depth()
		for i, got := range depth {
			x, y := i%k.W, i/k.W
			want := float64(min(x, y, k.W-1-x, k.H-1-y) + 1)
			for j, l := range k.Index {
				if l != k.Index[i] {
					want = min(want, math.Hypot(float64(j%k.W-x), float64(j/k.W-y)))
				}
			}
			if d := float64(got) / 3; d < 0.9*want || d > 1.09*want {
				t.Fatalf("pixel %d, %d lies %.2f deep, want %.2f", x, y, d, want)
			}
		}
	})
}

func TestTidy(t *testing.T) {
	k := &Mask{W: 100, H: 100, Index: make([]uint8, 10000)}
	for i := range k.Index {
		if i%100 >= 50 {
			k.Index[i] = 1
		}
	}
	clean := append([]uint8(nil), k.Index...)
	k.Index[30*100+20] = 1                        // an odd pixel
	k.Index[60*100+70], k.Index[60*100+71] = 0, 0 // a pair
	k.Index[80*100+80] = 2                        // an accent of one pixel
	k.tidy(3, 2, massSpeck)
	clean[80*100+80] = 2
	for i := range clean {
		if k.Index[i] != clean[i] {
			t.Fatalf("pixel %d, %d is %d, want %d", i%100, i/100, k.Index[i], clean[i])
		}
	}

	// Specks go, larger patches stay.
	for y := 10; y < 13; y++ {
		for x := 10; x < 13; x++ {
			k.Index[y*100+x] = 1
		}
	}
	for y := 30; y < 40; y++ {
		for x := 10; x < 20; x++ {
			k.Index[y*100+x] = 1
		}
	}
	k.tidy(3, 2, 1e-3)
	if k.Index[11*100+11] != 0 || k.Index[35*100+15] != 1 {
		t.Errorf("speck is %d, patch is %d; want 0 and 1", k.Index[11*100+11], k.Index[35*100+15])
	}
}

// The label of a mass stands on it, at its widest place.
func TestLabelsStandInside(t *testing.T) {
	a := analyze(t, sceneWithAccents(480, 320), Options{K: 12})
	depth := a.Mask.depth()
	for i, m := range a.Masses {
		at := int(m.CY*float64(a.Mask.H))*a.Mask.W + int(m.CX*float64(a.Mask.W))
		if int(a.Mask.Index[at]) != i {
			t.Errorf("label of mass %d stands on mass %d", m.ID, a.Mask.Index[at]+1)
		}
		for j, l := range a.Mask.Index {
			if int(l) == i && depth[j] > depth[at] {
				t.Errorf("label of mass %d stands %d deep where %d is possible", m.ID, depth[at], depth[j])
				break
			}
		}
	}
}

func TestEdges(t *testing.T) {
	src := shoot(300, 200, func(x, y int) rgb {
		if y >= 100 { // below, a hard edge; above, a slow turn
			if x < 150 {
				return rgb{60, 90, 50}
			}
			return rgb{150, 110, 80}
		}
		v := 255 * min(max((float64(x)-50)/200, 0), 1)
		return rgb{255 - v/3, 255 - v/4, 255}
	}, 2)
	a := analyze(t, src, Options{K: 4})
	for _, m := range a.Masses {
		if m.CY > 0.5 && m.Edge < 0.8 {
			t.Errorf("hard mass %s has edge %.2f", m.Lab.Hex(), m.Edge)
		}
	}
	soft := analyze(t, shoot(300, 200, func(x, y int) rgb { return rgb{255 - float64(x)/2, 255 - float64(x)/2, 255} }, 3), Options{K: 3})
	for _, m := range soft.Masses {
		if m.Edge > 0.5 {
			t.Errorf("mass %s in a gradient has edge %.2f", m.Lab.Hex(), m.Edge)
		}
	}
}

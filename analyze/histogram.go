package analyze

import (
	"context"
	"errors"
	"math"
	"runtime"
	"sort"
	"sync"
	"sync/atomic"

	"paintout/analyze/lab"
)

// Bins of the histogram are cubes of binSide in L*, a* and b*, with the
// neutral axis in the middle of its column so that greys do not straddle two.
// The a*, b* limits hold the primaries of Display P3 and Adobe RGB; what lies
// beyond falls into the outermost bin, whose sums still keep its true colour.
const (
	binSide = 1.5
	binsL   = 71  // L* −0.75 … 105.75
	binsA   = 221 // a* ±165.75
	binsB   = 221 // b* ±165.75
)

// fixedOne is linear full scale in the bins' fixed-point sums. Integers add
// up to the same total in any order, so the histogram does not depend on
// which goroutine took which row.
const fixedOne = 1 << 24

// channelLimit bounds a linear component before it is summed: far beyond any
// working space's primaries, and safe for 2^34 pixels in an int64.
const channelLimit = 16

// A pixel is clipped when a channel reaches 254/255 in sRGB encoding, and
// crushed when none passes 2/255: there the camera recorded no detail
// (common practice, no source). A pixel with a negative component comes from
// a wider space than sRGB, where a channel above 1 is a colour and not a
// burnt-out highlight.
var (
	clippedFrom = float32(lab.DecodeSRGB(254.0/255) - 1e-6)
	crushedTo   = float32(lab.DecodeSRGB(2.0/255) + 1e-7)
)

// cell is one occupied bin: pixels and linear-light sums in fixed point.
type cell struct{ n, r, g, b int64 }

// census is what one pass over the picture leaves.
type census struct {
	cells            []cell // in ascending order of bin, so independent of scheduling
	pixels           int64  // finite pixels, the sum of n over cells
	unreadable       int64  // pixels with a component that is not a number
	clipped, crushed int64
	small            *Small
}

// The CIELAB function f is read from a table of straight pieces, 32 to the
// octave, found by the leading bits of the float32: within 3e-5 of f, 0.02 in
// a*. That only decides which bin a pixel falls into; colours come from the
// bins' exact sums. Below 2^-12 one piece does, negative light counts as none,
// and the last piece goes on beyond 2^6.
const (
	pieceBits = 5
	pieceDrop = 23 - pieceBits
	pieceLow  = (127 - 12) << pieceBits
	pieceHigh = (127 + 6) << pieceBits
)

type piece struct{ at0, slope float32 }

var fPieces = func() *[1 << (32 - pieceDrop)]piece {
	var t [1 << (32 - pieceDrop)]piece
	for i := pieceLow; i < pieceHigh; i++ {
		lo := float64(math.Float32frombits(uint32(i) << pieceDrop))
		hi := float64(math.Float32frombits(uint32(i+1) << pieceDrop))
		if i == pieceLow {
			lo = 0 // f is straight down here
		}
		f0, f1 := cielabF(lo), cielabF(hi)
		s := (f1 - f0) / (hi - lo)
		t[i] = piece{float32(f0 - s*lo), float32(s)}
	}
	for i := range t {
		switch {
		case i < pieceLow:
			t[i] = t[pieceLow]
		case i >= 1<<(31-pieceDrop):
			t[i] = piece{at0: t[pieceLow].at0}
		case i >= pieceHigh:
			t[i] = t[pieceHigh-1]
		}
	}
	return &t
}()

// cielabF is f of CIE 15:2018, 8.2.1, taken from lab by way of L* = 116f − 16.
func cielabF(t float64) float64 {
	return (lab.FromLinear(t, t, t).L + 16) / 116
}

func fastF(t float32) float32 {
	p := &fPieces[math.Float32bits(t)>>pieceDrop]
	return p.at0 + p.slope*t
}

// toWhite is linear sRGB to XYZ over the white's XYZ: the matrix by which
// lab.FromLinear works, read off its inverse functions at the primaries.
var toWhite = func() (m [3][3]float32) {
	for c := range 3 {
		var rgb [3]float64
		rgb[c] = 1
		p := lab.FromLinear(rgb[0], rgb[1], rgb[2]).XYZ(lab.XYZ{X: 1, Y: 1, Z: 1})
		m[0][c], m[1][c], m[2][c] = float32(p.X), float32(p.Y), float32(p.Z)
	}
	return m
}()

// tally is one worker's share of the histogram: slots point into cells, 0
// being an empty bin.
type tally struct {
	slots            []int32
	cells            []cell
	bins             []int32
	unreadable       int64
	clipped, crushed int64
}

func newTally() *tally {
	return &tally{slots: make([]int32, binsL*binsA*binsB), cells: make([]cell, 1, 4096), bins: make([]int32, 1, 4096)}
}

func (t *tally) cell(bin int) *cell {
	s := t.slots[bin]
	if s == 0 {
		s = int32(len(t.cells))
		t.slots[bin] = s
		t.cells = append(t.cells, cell{})
		t.bins = append(t.bins, int32(bin))
	}
	return &t.cells[s]
}

// add counts a run of linear pixels and gives the sums of its readable ones
// and their number. It is the one loop over all pixels, so the way from a pixel
// to its bin is written out in it.
func (t *tally) add(run []float32) (sr, sg, sb float32, n int) {
	m := &toWhite
	for ; len(run) >= 3; run = run[3:] {
		r, g, b := run[0], run[1], run[2]
		if !(r*r+g*g+b*b < channelLimit*channelLimit) {
			if s := r + g + b; s-s != 0 { // not a number, or infinite
				t.unreadable++
				continue
			}
			r = min(max(r, -channelLimit), channelLimit)
			g = min(max(g, -channelLimit), channelLimit)
			b = min(max(b, -channelLimit), channelLimit)
		}
		if burnt(r, g, b) {
			t.clipped++
		}
		if sunk(r, g, b) {
			t.crushed++
		}
		fx := fastF(m[0][0]*r + m[0][1]*g + m[0][2]*b)
		fy := fastF(m[1][0]*r + m[1][1]*g + m[1][2]*b)
		fz := fastF(m[2][0]*r + m[2][1]*g + m[2][2]*b)
		l := int((116/binSide)*fy + (-16/binSide + 0.5))
		u := int((500/binSide)*(fx-fy) + (binsA / 2.0))
		v := int((200/binSide)*(fy-fz) + (binsB / 2.0))
		if uint(l) >= binsL || uint(u) >= binsA || uint(v) >= binsB {
			l = min(max(l, 0), binsL-1)
			u = min(max(u, 0), binsA-1)
			v = min(max(v, 0), binsB-1)
		}
		c := t.cell((l*binsA+u)*binsB + v)
		c.n++
		c.r += int64(r * fixedOne)
		c.g += int64(g * fixedOne)
		c.b += int64(b * fixedOne)
		sr += r
		sg += g
		sb += b
		n++
	}
	return
}

// smallSize fits w×h into a long side, never enlarging.
func smallSize(w, h, side int) (int, int) {
	long := max(w, h)
	if long <= side {
		return w, h
	}
	scale := func(v int) int { return max(1, (v*side+long/2)/long) }
	return scale(w), scale(h)
}

// A tally takes 14 MB, so not too many, and none for a few pixels.
const (
	maxWorkers   = 8
	workerPixels = 1 << 16
)

// count makes the one pass over the pixels: the histogram, and beside it the
// picture reduced by averaging in linear light. Every source pixel belongs to
// exactly one reduced pixel.
func count(ctx context.Context, src Source, side int, progress func(done, total int)) (*census, error) {
	w, h := src.Size()
	if w <= 0 || h <= 0 {
		return nil, errors.New("the picture has no pixels; give one with a width and a height")
	}
	sw, sh := smallSize(w, h, side)
	small := &Small{W: sw, H: sh, Pix: make([]float32, 3*sw*sh)}
	edge := make([]int, sw+1) // first source column of each reduced column
	for x := range edge {
		edge[x] = x * w / sw
	}

	workers := min(runtime.GOMAXPROCS(0), sh, maxWorkers, 1+w*h/workerPixels)
	tallies := make([]*tally, workers)
	var next, done atomic.Int64
	var gate sync.Mutex
	var wg sync.WaitGroup
	for i := range tallies {
		t := newTally()
		tallies[i] = t
		wg.Go(func() {
			row := make([]float32, 3*w)
			sum := make([]float32, 3*sw)
			num := make([]int32, sw)
			for ctx.Err() == nil {
				sy := int(next.Add(1)) - 1
				if sy >= sh {
					return
				}
				clear(sum)
				clear(num)
				y0, y1 := sy*h/sh, (sy+1)*h/sh
				for y := y0; y < y1; y++ {
					src.Row(y, row)
					for x := range num {
						r, g, b, n := t.add(row[3*edge[x] : 3*edge[x+1]])
						sum[3*x] += r
						sum[3*x+1] += g
						sum[3*x+2] += b
						num[x] += int32(n)
					}
				}
				out := small.Pix[3*sw*sy : 3*sw*(sy+1)]
				for x, n := range num {
					f := 1 / float32(n) // not a number where none could be read
					out[3*x], out[3*x+1], out[3*x+2] = sum[3*x]*f, sum[3*x+1]*f, sum[3*x+2]*f
				}
				if progress != nil {
					gate.Lock()
					progress(int(done.Add(int64(y1-y0))), h)
					gate.Unlock()
				}
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}

	c := &census{small: small}
	first := tallies[0]
	for i, t := range tallies {
		c.unreadable += t.unreadable
		c.clipped += t.clipped
		c.crushed += t.crushed
		if i == 0 {
			continue
		}
		for j := 1; j < len(t.cells); j++ {
			to, from := first.cell(int(t.bins[j])), t.cells[j]
			to.n += from.n
			to.r += from.r
			to.g += from.g
			to.b += from.b
		}
	}
	order := make([]int, len(first.cells)-1)
	for i := range order {
		order[i] = i + 1
	}
	sort.Slice(order, func(i, j int) bool { return first.bins[order[i]] < first.bins[order[j]] })
	c.cells = make([]cell, len(order))
	for i, j := range order {
		c.cells[i] = first.cells[j]
		c.pixels += first.cells[j].n
	}
	if c.pixels == 0 {
		return nil, errors.New("none of the picture's pixels can be read (every one is not a number); save it again from the program that made it")
	}
	if c.unreadable > 0 {
		small.mend()
	}
	return c, nil
}

// mend gives pixels without any readable source the colour of the nearest
// before them, or for want of one after them, in reading order.
func (s *Small) mend() {
	unread := func(i int) bool { return s.Pix[i] != s.Pix[i] }
	for i := 3; i < len(s.Pix); i += 3 {
		if unread(i) {
			copy(s.Pix[i:i+3], s.Pix[i-3:i])
		}
	}
	for i := len(s.Pix) - 6; i >= 0; i -= 3 {
		if unread(i) {
			copy(s.Pix[i:i+3], s.Pix[i+3:i+6])
		}
	}
}

package plan

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"paintout/analyze"
	"paintout/analyze/lab"
	"paintout/inventory"
	"paintout/recipe"
)

// own is a workspace that may note what it looked up without the others seeing.
func (w *Workspace) own() *Workspace {
	q := *w
	q.Notes = slices.Clone(w.Notes)
	return &q
}

// Reach asks whether the tubes that are carried reach the colour of a place, and
// if not, why not and what would.
func (s *Sitting) Reach(ctx context.Context, w *Workspace, c Carried, x, y, radius float64, progress Progress) (*ReachResult, error) {
	sp, err := s.spot(x, y, radius)
	if err != nil {
		return nil, err
	}
	aim := w.aim(sp.Lab)
	rig, err := s.rig(w, c)
	if err != nil {
		return nil, err
	}
	return rig.own().reach(ctx, sp.Name, sp.Lab, aim, recipe.ReachTolerance, nil, progress.at(Mixing))
}

// String is a colour to mix as a string of piles to premix, light to dark, from
// the fewest of the tubes that are carried.
func (s *Sitting) String(ctx context.Context, w *Workspace, c Carried, aim lab.Lab, progress Progress) (*MassString, error) {
	if !aim.Finite() || aim.L < 0 || aim.L > 100 || aim.Chroma() > 200 {
		return nil, fmt.Errorf("no paint is L* %.4g a* %.4g b* %.4g: ask for a colour to mix", aim.L, aim.A, aim.B)
	}
	rig, err := s.rig(w, c)
	if err != nil {
		return nil, err
	}
	return rig.massString(ctx, aim, progress.at(Mixing))
}

// Why explains what the coloured tubes of a mix, by name, do to each other.
func (w *Workspace) Why(ctx context.Context, parts []Part, progress Progress) (*WhyResult, error) {
	if len(parts) == 0 || len(parts) > 4 {
		return nil, errors.New("a mix of one to three tubes and white can be explained")
	}
	p := w.Palette
	var list []recipe.Part
	var names []string
	for _, q := range parts {
		at := slices.IndexFunc(p.Tubes, func(t *inventory.Tube) bool { return t.Name == q.Tube })
		if at < 0 {
			return nil, fmt.Errorf("%q is not in the box any more: ask for the mixes again", q.Tube)
		}
		if !(q.Parts > 0 && q.Parts < 1e9) {
			return nil, fmt.Errorf("%q has %v parts: parts are positive numbers", q.Tube, q.Parts)
		}
		list = append(list, recipe.Part{Tube: at, Parts: q.Parts})
		names = append(names, q.Tube)
	}
	y, err := p.Why(ctx, list, recipe.WhyOptions{Progress: progress.at(Mixing)})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", strings.Join(names, ", "), err)
	}
	return w.own().whyOf(y), nil
}

// Preview is the picture as the tubes that are carried can paint it.
type Preview struct {
	Image *image.RGBA
	Lost  *analyze.Mask // per pixel: 0 within reach, 1 lost, 2 lost by far
	// Shares of the area: Kept lies within 3 ΔE00 of a mix, Far lies more than
	// twice as far off. To about half a unit, see [recipe.Cloud].
	Kept, Far float64
}

// paintBin is the side of the bins in which colours to mix share a nearest
// colour, in units of L*, a* and b*.
const paintBin = 1.5

// Preview paints every place of the picture in the nearest colour that the
// carried tubes can mix. What is within their reach keeps its colour to mix;
// what is not is moved by as much as the middle of its bin has to be.
func (s *Sitting) Preview(ctx context.Context, w *Workspace, c Carried, progress Progress) (*Preview, error) {
	rig, err := s.rig(w, c)
	if err != nil {
		return nil, err
	}
	return s.previews.get(ctx, previewOf{rig.Palette, w.NoFit}, func(ctx context.Context) (*Preview, error) {
		cloud, err := rig.Palette.Cloud(ctx, progress.at(Mixing))
		if err != nil {
			return nil, err
		}
		return s.paint(ctx, w, cloud)
	})
}

type previewOf struct {
	palette *recipe.Palette
	noFit   bool
}

// bin is a place among colours to mix, and what the tubes make of them.
type bin struct {
	sum   [3]float64
	n     float64
	shift [3]float32
	lost  uint8
	de00  float64
}

func (s *Sitting) paint(ctx context.Context, w *Workspace, cloud *recipe.Cloud) (*Preview, error) {
	small := s.study.analysis.Small
	n := small.W * small.H
	aims := make([][3]float32, n)
	fit := w.rangeFit()
	inStrips(small.H, func(y0, y1 int) {
		for i := y0 * small.W; i < y1*small.W; i++ {
			c := lab.FromLinear(float64(small.Pix[3*i]), float64(small.Pix[3*i+1]), float64(small.Pix[3*i+2]))
			if !w.NoFit {
				c = fit.Aim(c)
			}
			aims[i] = [3]float32{float32(c.L), float32(c.A), float32(c.B)}
		}
	})
	key := func(v [3]float32) [3]int16 {
		return [3]int16{int16(math.Floor(float64(v[0]) / paintBin)), int16(math.Floor(float64(v[1]) / paintBin)), int16(math.Floor(float64(v[2]) / paintBin))}
	}
	at := map[[3]int16]int32{}
	var bins []bin
	of := make([]int32, n)
	for i, v := range aims {
		k := key(v)
		j, known := at[k]
		if !known {
			j = int32(len(bins))
			at[k] = j
			bins = append(bins, bin{})
		}
		of[i] = j
		b := &bins[j]
		b.n++
		for c := range v {
			b.sum[c] += float64(v[c])
		}
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	inParallel(len(bins), func(i int) {
		if ctx.Err() != nil {
			return
		}
		b := &bins[i]
		aim := lab.Lab{L: b.sum[0] / b.n, A: b.sum[1] / b.n, B: b.sum[2] / b.n}
		mix, d := cloud.Nearest(aim)
		b.de00 = d
		if d > recipe.CloudSlack {
			b.shift = [3]float32{float32(mix.L - aim.L), float32(mix.A - aim.A), float32(mix.B - aim.B)}
		}
		switch {
		case d > 2*near:
			b.lost = 2
		case d > near:
			b.lost = 1
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	out := &Preview{Image: image.NewRGBA(image.Rect(0, 0, small.W, small.H)), Lost: &analyze.Mask{W: small.W, H: small.H, Index: make([]uint8, n)}}
	for _, b := range bins {
		if b.lost == 0 {
			out.Kept += b.n / float64(n)
		} else if b.lost == 2 {
			out.Far += b.n / float64(n)
		}
	}
	inStrips(small.H, func(y0, y1 int) {
		for i := y0 * small.W; i < y1*small.W; i++ {
			b := &bins[of[i]]
			c := lab.Lab{L: float64(aims[i][0] + b.shift[0]), A: float64(aims[i][1] + b.shift[1]), B: float64(aims[i][2] + b.shift[2])}
			r, g, bl, _ := c.SRGB8()
			copy(out.Image.Pix[4*i:4*i+4], []uint8{r, g, bl, 255})
			out.Lost.Index[i] = b.lost
		}
	})
	prevail(out.Lost, 4)
	return out, ctx.Err()
}

// prevail gives each place the index that most of the window of side 2r+1 about
// it have, so that marks stand on shapes and not on specks.
func prevail(m *analyze.Mask, r int) {
	most := int(slices.Max(m.Index)) + 1
	across := make([]uint8, len(m.Index))
	for _, pass := range []struct {
		from, to             []uint8
		n, step, lines, line int
	}{{m.Index, across, m.W, 1, m.H, m.W}, {across, m.Index, m.H, m.W, m.W, 1}} {
		inStrips(pass.lines, func(l0, l1 int) {
			counts := make([]int, most)
			for l := l0; l < l1; l++ {
				clear(counts)
				at := l * pass.line
				for i := range min(r, pass.n) {
					counts[pass.from[at+i*pass.step]]++
				}
				for i := range pass.n {
					if i+r < pass.n {
						counts[pass.from[at+(i+r)*pass.step]]++
					}
					if i-r > 0 {
						counts[pass.from[at+(i-r-1)*pass.step]]--
					}
					best := 0
					for v, n := range counts {
						if n > counts[best] {
							best = v
						}
					}
					pass.to[at+i*pass.step] = uint8(best)
				}
			}
		})
	}
}

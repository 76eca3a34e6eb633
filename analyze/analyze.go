// Package analyze turns a photo into what a painter lays in first: its masses
// of colour and value, the few accents that carry it, and value plans of a few
// steps.
//
// Start from [Analyze]; [Analysis.WithK] cuts the same picture into more or
// fewer masses without reading it again, [Analysis.ValueSteps] makes a value
// plan.
//
// Its stance: averages are taken in linear light, as a half-closed eye takes
// them, never in encoded values; shares come from every pixel of the
// picture, masks from a reduced one; each mass of one number of masses is
// split in at most one place for the next; nothing is left to chance, so the
// same picture gives the same answer whatever the number of cores. Colours are
// CIELAB under D65, 2° observer, differences CIEDE2000.
package analyze

import (
	"context"
	"fmt"

	"paintout/analyze/lab"
)

// Source is a picture in linear light.
type Source interface {
	// Size is the width and height in pixels.
	Size() (w, h int)
	// Row writes row y as r, g, b triples with sRGB primaries and white D65
	// into dst, whose length is 3 times the width. 1 is full scale;
	// colours outside sRGB leave [0, 1]. Concurrent calls must be safe.
	Row(y int, dst []float32)
}

// KMin and KMax bound the number of masses that can be asked for.
const (
	KMin = 3
	KMax = leafMax
)

// defaultMaskSide is the long side of masks in pixels: as much as a page or a
// sheet shows.
const defaultMaskSide = 1024

// Options say how to analyze. The zero value is the usual way.
type Options struct {
	// K is the number of masses, KMin–KMax, accents included: of every four
	// one may be an accent. 0 lets the picture decide, see [Analysis].
	K int
	// NoAccents keeps no slots for accents.
	NoAccents bool
	// MaskSide is the long side of the reduced picture and the masks in
	// pixels, 1024 if 0. A picture is never enlarged. Accents are looked for
	// in it, so that much smaller masks miss the smallest.
	MaskSide int
	// AsShot, where the picture was balanced or brightened after it was taken,
	// is the same picture without that: what is burnt out or black without
	// detail is counted there. Nil means the picture itself.
	AsShot Source
	// Progress, if not nil, is told how many rows of the picture are done. It
	// is called from several goroutines, one at a time.
	Progress func(done, total int)
}

// Mass is one mass of the picture, or an accent.
type Mass struct {
	// ID counts from 1: masses from light to dark by value, then accents from
	// light to dark.
	ID    int
	Share float64 // of the picture's area; all shares sum to 1
	Lab   lab.Lab // the mean in linear light
	// Accent marks a small colour far from the rest of the picture, which
	// keeps a slot of its own.
	Accent bool
	// Warmth is the score of [lab.Warmth], Temperature the words of
	// [lab.TemperatureAmong] among the other masses by area.
	Warmth      float64
	Temperature string
	// CX, CY is a point well inside the mass, as shares of width and height
	// from the left and the top, for a label.
	CX, CY float64
	// Components is the number of separate patches in the mask; 0 if the mass
	// is too scattered to show there.
	Components int
	// Edge tells how hard the mass's edges are on average, from 0, lost in a
	// gradient, to 1, cut with a knife: the share of the colour change across
	// 16 pixels of the reduced picture that happens within 4.
	Edge float64
}

// Fit is the ΔE00 of the picture's pixels against their masses.
type Fit struct {
	Mean, P99 float64 // area-weighted mean and 99th percentile
}

// Small is the picture reduced by averaging in linear light.
type Small struct {
	W, H int
	Pix  []float32 // linear r, g, b triples, row by row, as in Source.Row
}

// Mask gives every pixel of the reduced picture its mass or step.
type Mask struct {
	W, H  int
	Index []uint8 // row by row
}

// Analysis is a picture cut into masses. Left to itself a picture gets as many
// masses as each bring it nearer by 1.8 ΔE00 over an eighth of its area, and
// the accents found; that can be fewer than KMin on a bare wall. An Analysis is
// not to be changed; its methods may be called concurrently.
type Analysis struct {
	Masses []Mass
	Fit    Fit
	// Clipped is the share of the area in which a channel is at 254/255 or
	// more of full scale; Crushed that in which none is above 2/255.
	Clipped, Crushed float64
	Mask             *Mask // indexes Masses
	Small            *Small
	// Warnings are plain sentences on what is true but uncertain.
	Warnings []string

	m       *model
	accents bool
	of      []uint8 // mass of each bin of the histogram
}

// Analyze reads the picture once and cuts it into masses. It fails if the
// picture has no readable pixels, if o.K is out of range, or with ctx's error
// if that ends first.
func Analyze(ctx context.Context, src Source, o Options) (*Analysis, error) {
	if o.K != 0 && (o.K < KMin || o.K > KMax) {
		return nil, fmt.Errorf("%d masses cannot be cut: ask for %d…%d, accents included, or 0 to let the picture decide", o.K, KMin, KMax)
	}
	if o.MaskSide < 0 {
		return nil, fmt.Errorf("a mask cannot be %d pixels long: give its long side in pixels, or 0 for %d", o.MaskSide, defaultMaskSide)
	}
	side := o.MaskSide
	if side == 0 {
		side = defaultMaskSide
	}
	c, err := count(ctx, src, side, o.Progress)
	if err != nil {
		return nil, err
	}
	if o.AsShot != nil {
		if err := c.recount(ctx, o.AsShot); err != nil {
			return nil, err
		}
	}
	m, err := newModel(ctx, c)
	if err != nil {
		return nil, err
	}
	return m.cut(o.K, !o.NoAccents), nil
}

// WithK cuts the same picture into k masses, without another look at its
// pixels. 0 lets the picture decide; other numbers outside KMin–KMax are taken
// to the nearest.
func (a *Analysis) WithK(k int) *Analysis {
	if k != 0 {
		k = min(max(k, KMin), KMax)
	}
	return a.m.cut(k, a.accents)
}

// WithAccents is WithK with slots kept for accents, or not.
func (a *Analysis) WithAccents(k int, accents bool) *Analysis {
	if k != 0 {
		k = min(max(k, KMin), KMax)
	}
	return a.m.cut(k, accents)
}

// Package inventory knows paints: a library of pigments with their measured
// optics, the painter's own tubes and the box that holds them, and how a tube
// is calibrated from readings.
//
// Start from [Library] and [Find] for pigments by code, [Starter] or
// [LoadBox] for a box of tubes, [ReadReadings] for measurements. A [Tube] is
// all that mixing needs: its constants, and how far they may be wrong.
package inventory

import (
	"strings"

	"paintout/inventory/optics"
)

// Provenance says where a paint's constants come from.
type Provenance string

const (
	Measured  Provenance = "measured"  // fitted to published or own measurements of this pigment
	Derived   Provenance = "derived"   // measured elsewhere and brought onto this scale by a stated step
	Estimated Provenance = "estimated" // built from a neighbour; colour to be checked against the tube
)

// Tube is one paint of a box.
type Tube struct {
	Name       string   // as the painter calls it; unique in its box
	CI         []string // pigment codes on the label, with the paint's name where a code has several ("PBr7/burnt sienna")
	Paint      optics.Paint
	White      bool // a white: the paint others are tinted with
	Provenance Provenance
	Source     string        // one line: which measurements, or which neighbour
	Modes      []optics.Mode // independent one-sigma steps of what is not known: tinting strength first
	Opacity    Opacity
	Strength   string // tinting strength in words: low, medium, high, very high
	Lightfast  string // ASTM band and remark
	Caution    string // usual caution; empty if none beyond ordinary care
	Medium     string // oil, acrylic, gouache, watercolour; empty if not said
	SizeML     float64
	LeftML     *float64 // what is left of it; nil if not said
	Note       string
	Factor     float64   // the painter's own strength factor, already in Paint; 0 or 1 means none
	Readings   []Reading // what was measured of it
	Drying     *Drying   // how it looks wet; nil if that was never read
}

// Code joins the tube's pigment codes for display, "PW6+PB29".
func (t *Tube) Code() string { return strings.Join(t.CI, "+") }

// Opacity is how well a usual film hides what is under it.
type Opacity string

const (
	Opaque          Opacity = "opaque"
	SemiOpaque      Opacity = "semi-opaque"
	SemiTransparent Opacity = "semi-transparent"
	Transparent     Opacity = "transparent"
)

// Box is what a painter owns.
type Box struct {
	Name   string
	Tubes  []*Tube
	Finish *optics.Finish // finish the tubes were measured in, for predictions that name no other; nil if not known
	Notes  []string       // what was assumed while it was read
}

// Tube finds a tube by name, ignoring case and spaces around; nil if absent.
func (b *Box) Tube(name string) *Tube {
	name = strings.TrimSpace(name)
	for _, t := range b.Tubes {
		if strings.EqualFold(t.Name, name) {
			return t
		}
	}
	return nil
}

// White is the box's white: the first tube that is one, or nil.
func (b *Box) White() *Tube {
	for _, t := range b.Tubes {
		if t.White {
			return t
		}
	}
	return nil
}

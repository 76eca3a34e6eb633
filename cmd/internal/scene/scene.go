package scene

import (
	"cmp"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"slices"
)

// The demonstration photo is Render(Width, Height, Salt), written by [Encode].
const (
	Width  = 1800
	Height = 1200
	Salt   = 7 // picks one of the many pictures that hash noise can give
)

// Quality is the JPEG quality of [Encode], on Go's scale of 1–100; Go's
// encoder halves the colour resolution both ways (4:2:0), as phones do.
const Quality = 88

// MinSize is the least width and height that [Render] accepts, in pixels.
const MinSize = 48

// Region is one of the parts the picture is made of.
type Region uint8

const (
	Sky         Region = iota // with its clouds and gulls
	Skyline                   // the last mountains, 10–17 km off
	FarRidge                  // 5–9 km
	MiddleRidge               // 2–4 km, fields below and moor above
	NearRidge                 // 0.7–2 km, woods, fields, houses
	Water                     // the channel at low tide
	Flats                     // mud and sand between the tides
	Reeds
	Trees
	Barn
	Meadow // and the fence in it
	Track
	Boat  // the first accent: a vermilion hull
	Gorse // the second accent: a bush in yellow flower
	regionCount
)

var regionNames = [regionCount]string{
	"sky", "skyline", "far ridge", "middle ridge", "near ridge", "water", "flats",
	"reeds", "trees", "barn", "meadow", "track", "boat", "gorse",
}

// String is the region's name in plain words.
func (r Region) String() string {
	if r < regionCount {
		return regionNames[r]
	}
	return fmt.Sprintf("region %d", uint8(r))
}

// Regions lists all regions in the order of their numbers.
func Regions() []Region {
	rs := make([]Region, regionCount)
	for i := range rs {
		rs[i] = Region(i)
	}
	return rs
}

// Picture is a rendered photo and the truth about it.
type Picture struct {
	Image *image.RGBA // opaque, sRGB

	// Regions names what most of each pixel shows, row by row from the top
	// left, Image's width times its height.
	Regions []Region
}

// Share is the part of the picture's area that a region takes, 0–1.
func (p *Picture) Share(r Region) float64 {
	n := 0
	for _, q := range p.Regions {
		if q == r {
			n++
		}
	}
	return float64(n) / float64(len(p.Regions))
}

// Composition, in shares of the picture's width and height.
const (
	focal   = 0.94  // focal length: a field of view of 56°
	horizon = 0.405 // below the top
	eyeHigh = 15.9  // metres above the water
)

// Render draws the scene at w×h pixels. The same arguments give the same
// picture; another salt moves the clouds, woods, grasses and stones, but only
// [Salt] has been composed. It returns an error when w or h is below
// [MinSize].
func Render(w, h int, salt uint32) (*Picture, error) {
	if w < MinSize || h < MinSize {
		return nil, fmt.Errorf("a picture of %d×%d pixels is too small to draw: ask for at least %d×%d", w, h, MinSize, MinSize)
	}
	l := newLand(salt)
	heaven := newSky(w*8/9, salt)
	stock := newOrchard(salt)
	near := l.nearPlants(stock)
	l.things = newSunMap(-75, 0, 60, 190, 32)
	for i := range near {
		near[i].castShadow(l.things)
	}
	l.things.addBarn()
	l.boatShadow()
	l.fenceShadow()

	fm := newFilm(w, h, vec{0, eyeHigh, 0})
	parallel(fm.w, func(col int) { l.march(fm, col, heaven) })
	plants := append(l.farPlants(stock), near...)
	slices.SortStableFunc(plants, func(a, b plant) int { return cmp.Compare(b.at.z, a.at.z) })
	for i := range plants {
		plants[i].draw(fm, l.things)
	}
	l.houses(fm)
	l.sheep(fm)
	l.drawBarn(fm)
	l.drawBoat(fm)
	l.reedBed(fm)
	l.litter(fm)
	l.fence(fm)
	l.sward(fm)
	l.gulls(fm)
	l.reflectWater(fm, heaven)
	return &Picture{Image: develop(fm, salt), Regions: fm.regionsByPixel()}, nil
}

// Encode writes a picture as the demonstration photo is stored: a JPEG of
// [Quality] without metadata.
func Encode(w io.Writer, p *Picture) error {
	return jpeg.Encode(w, p.Image, &jpeg.Options{Quality: Quality})
}

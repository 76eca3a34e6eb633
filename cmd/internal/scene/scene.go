package scene

import (
	"cmp"
	"image"
	"slices"
)

// Region names the main parts of the picture.
type Region uint8

const (
	Sky Region = iota
	Skyline
	FarRidge
	MiddleRidge
	NearRidge
	Water
	Flats
	Reeds
	Trees
	Barn
	Meadow
	Track
	Boat
	Gorse
	regionCount
)

const (
	focal   = 0.94 // of the picture's width
	horizon = 0.405
)

func Render(w, h int, seed uint32) *image.RGBA {
	l := newLand(seed)
	heaven := newSky(max(w*2/3, 64), seed)
	fm := newFilm(w, h, vec{0, 15.9, 0})
	o := newOrchard(seed)
	near := l.nearPlants(o)
	l.things = newSunMap(-75, 0, 60, 190, 32)
	for i := range near {
		near[i].castShadow(l.things)
	}
	barnShadow(l.things)
	boatShadow(l.things)
	parallel(fm.w, func(col int) { l.march(fm, col, heaven) })
	ps := append(l.farPlants(o), near...)
	slices.SortStableFunc(ps, func(a, b plant) int { return cmp.Compare(b.at.z, a.at.z) })
	for i := range ps {
		ps[i].draw(fm, l.things)
	}
	l.drawBarn(fm)
	l.drawBoat(fm)
	l.reedBed(fm)
	l.sward(fm)
	l.reflectWater(fm, heaven)
	return develop(fm, seed)
}

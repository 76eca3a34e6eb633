package card

import (
	"fmt"
	"math"
	"slices"

	"paintout/analyze/photo"
)

// A Sample is the light of one uniform place in the picture.
type Sample struct {
	X, Y, Radius int        // pixels of the part of the picture that was read
	Light        [3]float64 // the trimmed mean: linear light of the primaries that the picture was saved in
	Error        [3]float64 // its standard error, from what is uneven in the place
	Pixels       int
	Burnt        float64 // share of pixels with a channel at the top
	Drowned      float64 // share of pixels with a channel at the bottom
	Shine        float64 // share of pixels left out as shine
	Slope        float64 // between opposite sides, as a share of the light
	Grain        float64 // from pixel to pixel (standard deviation), likewise

	in *space
}

// What is at an end of the scale: 254 and 1 of 255, encoded as sRGB.
const (
	burntLight   = 0.991
	drownedLight = 0.00031
)

// Bounds of samples, from trials on rendered cards.
const (
	fewPixels  = 30   // fewer say little
	mostPixels = 6000 // more say nothing new: a raster of them is taken
	mostBurnt  = 0.02 // shares of pixels above which a place is not to be trusted
	cutShare   = 0.1
	mostShine  = 0.12
	mostSlope  = 0.12
	mostGrain  = 0.12
	grainNoise = 0.008 // of light: what a sensor's noise may add
)

// usualRadius is how far a sample reaches about a place the painter points at.
func usualRadius(p *photo.Photo) int { return max(4, max(p.Width, p.Height)/160) }

func samplePoint(p *photo.Photo, at photo.Point) (Sample, error) {
	x, y, err := p.Pixel(at)
	if err != nil {
		return Sample{}, err
	}
	return sample(p, x, y, usualRadius(p)), nil
}

// sample reads the disc about x, y as far as it lies in the picture. Light
// that shines out from its surroundings in the disc is left out, then a
// quarter of the rest at either end of luminance: the middle half is averaged.
func sample(p *photo.Photo, x, y, radius int) Sample {
	s := Sample{X: x, Y: y, Radius: max(radius, 1), in: spaceOf(p)}
	type pixel struct {
		v    [3]float64
		y    float64
		side int // quadrant
	}
	var px []pixel
	step := max(1, int(math.Sqrt(math.Pi*float64(s.Radius*s.Radius)/mostPixels)))
	row := make([]float32, 3*p.Width)
	for yy := max(0, y-s.Radius); yy <= min(p.Height-1, y+s.Radius); yy += step {
		half := int(math.Sqrt(float64(s.Radius*s.Radius - (yy-y)*(yy-y))))
		p.Row(yy, row)
		for xx := max(0, x-half); xx <= min(p.Width-1, x+half); xx += step {
			q := pixel{v: s.in.light([3]float64{float64(row[3*xx]), float64(row[3*xx+1]), float64(row[3*xx+2])})}
			if max(q.v[0], q.v[1], q.v[2]) >= burntLight {
				s.Burnt++
			}
			if min(q.v[0], q.v[1], q.v[2]) <= drownedLight {
				s.Drowned++
			}
			q.y = s.in.xyz(q.v).Y / 100
			if xx > x {
				q.side |= 1
			}
			if yy > y {
				q.side |= 2
			}
			px = append(px, q)
		}
	}
	n := float64(len(px))
	s.Pixels = len(px)
	s.Burnt, s.Drowned = s.Burnt/n, s.Drowned/n
	slices.SortFunc(px, func(a, b pixel) int {
		switch {
		case a.y < b.y:
			return -1
		case a.y > b.y:
			return 1
		}
		return 0
	})
	// Shine lies above by far more than the darker half lies below.
	mid, low := px[len(px)/2].y, px[len(px)/10].y
	top := mid + 3*(mid-low) + 0.04*mid + 0.002
	keep := px
	for len(keep) > 1 && keep[len(keep)-1].y > top {
		keep = keep[:len(keep)-1]
	}
	s.Shine = 1 - float64(len(keep))/n
	var side [4]float64
	var count [4]int
	spread := 0.0
	for _, q := range keep {
		side[q.side] += q.y
		count[q.side]++
	}
	least, most := math.Inf(1), math.Inf(-1)
	for i := range side {
		if count[i] > 0 {
			side[i] /= float64(count[i])
			least, most = min(least, side[i]), max(most, side[i])
		}
	}
	for _, q := range keep {
		spread += (q.y - side[q.side]) * (q.y - side[q.side])
	}
	if mid > 0 {
		s.Slope = (most - least) / mid
		s.Grain = math.Sqrt(spread/float64(len(keep))) / mid
	}
	core := keep[len(keep)/4 : len(keep)-len(keep)/4]
	for _, q := range core {
		for k, v := range q.v {
			s.Light[k] += v / float64(len(core))
		}
	}
	// Neighbours in a picture are not independent (demosaicing, JPEG blocks of
	// 8): each 16 pixels count as one. A slope stands for a place that is not
	// one colour: a twelfth of its range squared is the variance of a ramp.
	whole := 0.0
	var varc [3]float64
	for _, q := range core {
		whole++
		for k, v := range q.v {
			varc[k] += (v - s.Light[k]) * (v - s.Light[k])
		}
	}
	for k := range varc {
		ramp := s.Slope * s.Light[k] / 4
		s.Error[k] = math.Sqrt(varc[k]/whole/max(1, whole/16)+ramp*ramp/12) + 1e-6
	}
	if s.cut() {
		k := slices.Index(s.Light[:], slices.Min(s.Light[:]))
		s.Error[k] = quadrature(s.Error[k], beyond*slices.Max(s.Light[:]))
	}
	return s
}

// usable is an error for a place that says nothing.
func (s *Sample) usable(file, what string) error {
	switch {
	case s.Burnt > 0.5:
		return fmt.Errorf("%s: %s is burnt out, so its colour is lost; photograph it again with less exposure", file, what)
	case max(s.Light[0], s.Light[1], s.Light[2]) < 0.002:
		return fmt.Errorf("%s: %s is black in the picture, so its colour is lost; photograph it again with more light", file, what)
	}
	return nil
}

// cut says whether the picture cut a channel off at 0.
func (s *Sample) cut() bool { return s.Drowned > cutShare }

// faults says in words what makes a sample doubtful, and the mend.
func (s *Sample) faults(what string) []string {
	out := s.spoilt(what)
	switch {
	case !s.cut():
	case max(s.Light[0], s.Light[1], s.Light[2]) < 0.02:
		out = append(out, fmt.Sprintf("%s is drowned (a channel is at the bottom of the scale in %.0f %% of it), so that it reads less deep than it is: give the camera a stop more", what, 100*s.Drowned))
	default:
		out = append(out, fmt.Sprintf("%s is stronger than the picture's colour space holds (a channel is at the bottom in %.0f %% of it) and may read less clean than it is: have the camera save Display P3 or Adobe RGB", what, 100*s.Drowned))
	}
	return out
}

// spoilt is faults but for colours that the picture cannot hold.
func (s *Sample) spoilt(what string) []string {
	var out []string
	say := func(format string, args ...any) { out = append(out, what+" "+fmt.Sprintf(format, args...)) }
	if s.Pixels < fewPixels {
		say("is only %d pixels: photograph it nearer, or point at its middle", s.Pixels)
	}
	if s.Burnt > mostBurnt {
		say("is partly burnt out (%.0f %% of it): photograph it with less exposure", 100*s.Burnt)
	}
	switch {
	case s.Shine > 0.3:
		say("is not one colour: %.0f %% of it is much lighter than the rest, as over an edge; point at the middle of an even part", 100*s.Shine)
	case s.Shine > mostShine:
		say("shines in %.0f %% of it: those parts were left out; tilt it out of the glare", 100*s.Shine)
	}
	switch {
	case s.Slope > mostSlope && s.Slope > s.Grain:
		say("is not even: its sides differ by %.0f %%, as by a shadow's edge or two paints; point at an even part, or light it evenly", 100*s.Slope)
	case s.Grain > mostGrain+grainNoise/max(s.in.xyz(s.Light).Y/100, 1e-3):
		say("is not uniform: its pixels differ by %.0f %%, by brushmarks, noise or an edge; point at an even part", 100*s.Grain)
	}
	return out
}

func quadrature(v ...float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x * x
	}
	return math.Sqrt(sum)
}

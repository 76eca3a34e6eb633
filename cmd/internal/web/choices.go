package web

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"

	"paintout/analyze"
	"paintout/analyze/photo"
	"paintout/cmd/internal/plan"
)

// choices are what a painter decided about a photo. They are written to the disk
// at every change.
type choices struct {
	Version   int         `json:"version"` // counts the changes
	K         int         `json:"k"`       // masses, 0: the picture decides
	NoAccents bool        `json:"no_accents"`
	NoFit     bool        `json:"no_fit"`
	Crop      *[4]float64 `json:"crop"`   // left, top, width, height as shares of the whole upright picture
	Canvas    string      `json:"canvas"` // as typed, "30x40cm"
	Grey      *[2]float64 `json:"grey"`   // a neutral place, as shares of the whole upright picture
	Out       []string    `json:"out"`    // tubes that stay at home
	Was       [][]string  `json:"was"`    // what Out was before, the last first
	Keep      []string    `json:"keep"`   // tubes that every kit of the curve has
	Leave     []string    `json:"leave"`  // and those that none has
	Film      string      `json:"film"`   // how thick paint is laid: "brush", "knife" or a thickness
	Mixed     []mark      `json:"mixed"`  // piles that are done
	Notes     []mark      `json:"notes"`
}

// mark sticks to a colour to mix, since masses change their numbers.
type mark struct {
	Lab  [3]float64 `json:"lab"`
	Text string     `json:"text,omitempty"`
}

// Bounds on what a browser may have kept for it.
const (
	maxOut   = 200
	maxWas   = 30
	maxMarks = 100
	maxText  = 2000
	maxName  = 200
)

// change is what a browser asks to be changed: only what is not nil.
type change struct {
	K         *int        `json:"k"`
	NoAccents *bool       `json:"no_accents"`
	NoFit     *bool       `json:"no_fit"`
	Crop      *[]float64  `json:"crop"` // empty: the whole picture
	Canvas    *string     `json:"canvas"`
	Grey      *[]float64  `json:"grey"` // empty: as the camera had it; shares of the picture as shown
	Out       *[]string   `json:"out"`
	Undo      bool        `json:"undo"` // of the last change of tubes
	Settle    *settled    `json:"settle"`
	Film      *string     `json:"film"`
	Mixed     *[3]float64 `json:"mixed"`
	Unmixed   *[3]float64 `json:"unmixed"`
	Note      *mark       `json:"note"`
}

// settled says of one tube whether a kit must have it, may or must not.
type settled struct {
	Tube string `json:"tube"`
	As   string `json:"as"` // "keep", "leave" or ""
}

// sameColour is the distance in Lab within which a mark belongs to a mass: half
// of what an eye can tell apart.
const sameColour = 0.4

func (m mark) at(c [3]float64) bool {
	return math.Hypot(math.Hypot(m.Lab[0]-c[0], m.Lab[1]-c[1]), m.Lab[2]-c[2]) <= sameColour
}

// with gives the choices with a change made. frame is the part of the picture
// that is shown.
func (c choices) with(ch change, frame [4]float64) (choices, error) {
	bad := func(format string, args ...any) (choices, error) {
		return c, sayf(http.StatusBadRequest, format, args...)
	}
	if ch.K != nil {
		if *ch.K != 0 && (*ch.K < analyze.KMin || *ch.K > analyze.KMax) {
			return bad("%d masses: a picture is cut into %d to %d.", *ch.K, analyze.KMin, analyze.KMax)
		}
		c.K = *ch.K
	}
	if ch.NoAccents != nil {
		c.NoAccents = *ch.NoAccents
	}
	if ch.NoFit != nil {
		c.NoFit = *ch.NoFit
	}
	if ch.Crop != nil {
		c.Crop = nil
		if v := *ch.Crop; len(v) > 0 {
			const least = 0.02
			if len(v) != 4 || !(v[0] >= 0 && v[1] >= 0 && v[2] >= least && v[3] >= least && v[0]+v[2] <= 1+1e-9 && v[1]+v[3] <= 1+1e-9) {
				return bad("This part does not lie inside the picture, or is too small: choose another.")
			}
			c.Crop = (*[4]float64)(slices.Clone(v))
		}
	}
	if ch.Canvas != nil {
		c.Canvas = strings.TrimSpace(*ch.Canvas)
		if c.Canvas != "" {
			if _, err := photo.ParseCanvas(c.Canvas); err != nil {
				return c, said{http.StatusBadRequest, err}
			}
		}
	}
	if ch.Grey != nil {
		c.Grey = nil
		if v := *ch.Grey; len(v) > 0 {
			if len(v) != 2 || !(v[0] >= 0 && v[0] <= 1 && v[1] >= 0 && v[1] <= 1) {
				return bad("This place lies outside the picture: touch it inside.")
			}
			c.Grey = &[2]float64{frame[0] + v[0]*frame[2], frame[1] + v[1]*frame[3]}
		}
	}
	if ch.Undo {
		if len(c.Was) == 0 {
			return bad("There is nothing to undo.")
		}
		c.Out, c.Was = c.Was[0], c.Was[1:]
	} else if ch.Out != nil {
		out := slices.Compact(slices.Sorted(slices.Values(*ch.Out)))
		if len(out) > maxOut || slices.ContainsFunc(out, func(n string) bool { return len(n) > maxName }) {
			return bad("More tubes are taken out than a box can hold.")
		}
		if !slices.Equal(out, c.Out) {
			c.Was = slices.Insert(slices.Clone(c.Was), 0, c.Out)
			c.Was, c.Out = c.Was[:min(len(c.Was), maxWas)], out
		}
	}
	if t := ch.Settle; t != nil {
		without := func(list []string) []string {
			return slices.DeleteFunc(slices.Clone(list), func(n string) bool { return n == t.Tube })
		}
		c.Keep, c.Leave = without(c.Keep), without(c.Leave)
		switch t.As {
		case "keep":
			c.Keep = append(c.Keep, t.Tube)
		case "leave":
			c.Leave = append(c.Leave, t.Tube)
		case "":
		default:
			return bad("A tube always comes, never comes or may come: %.20q is none of these.", t.As)
		}
		if len(c.Keep)+len(c.Leave) > maxOut || len(t.Tube) > maxName {
			return bad("More tubes are settled than a box can hold.")
		}
	}
	if ch.Film != nil {
		if _, err := plan.ParseFilm(*ch.Film); err != nil {
			return c, said{http.StatusBadRequest, err}
		}
		c.Film = *ch.Film
	}
	without := func(list []mark, at [3]float64) []mark {
		return slices.DeleteFunc(slices.Clone(list), func(m mark) bool { return m.at(at) })
	}
	for _, at := range []*[3]float64{ch.Mixed, ch.Unmixed} {
		if at != nil {
			c.Mixed = without(c.Mixed, *at)
		}
	}
	if ch.Mixed != nil {
		c.Mixed = append(c.Mixed, mark{Lab: *ch.Mixed})
	}
	if ch.Note != nil {
		c.Notes = without(c.Notes, ch.Note.Lab)
		if ch.Note.Text != "" {
			c.Notes = append(c.Notes, *ch.Note)
		}
		if len(ch.Note.Text) > maxText {
			return bad("A note has at most %d letters: shorten it.", maxText)
		}
	}
	if len(c.Mixed) > maxMarks || len(c.Notes) > maxMarks {
		return bad("More than %d piles carry a mark: take some off.", maxMarks)
	}
	c.Version++
	return c, nil
}

// full has lists where there is nothing, for those who count them.
func (c choices) full() choices {
	if c.Out == nil {
		c.Out = []string{}
	}
	if c.Was == nil {
		c.Was = [][]string{}
	}
	for i := range c.Was {
		if c.Was[i] == nil {
			c.Was = slices.Clone(c.Was)
			c.Was[i] = []string{}
		}
	}
	if c.Keep == nil {
		c.Keep = []string{}
	}
	if c.Leave == nil {
		c.Leave = []string{}
	}
	if c.Mixed == nil {
		c.Mixed = []mark{}
	}
	if c.Notes == nil {
		c.Notes = []mark{}
	}
	return c
}

// division is how the photo is cut.
func (c *choices) division() plan.Division { return plan.Division{K: c.K, NoAccents: c.NoAccents} }

// film is how thick paint is laid, by brush unless something else is said.
func (c *choices) film() string {
	if c.Film == "" {
		return "brush"
	}
	return c.Film
}

// reading is all that decides how the photo's file is read.
type reading struct {
	crop    [4]float64
	canvas  string
	grey    [2]float64
	cropped bool
	greyed  bool
}

func (c *choices) reading() (r reading) {
	if c.Crop != nil {
		r.crop, r.cropped = *c.Crop, true
	}
	if c.Grey != nil {
		r.grey, r.greyed = *c.Grey, true
	}
	r.canvas = c.Canvas
	return r
}

func (r reading) options() (photo.Options, error) {
	o := photo.Options{MaxPixels: maxPixels}
	percent := func(v float64) photo.Measure {
		return photo.Measure{Value: min(100, max(0, 100*v)), Percent: true}
	}
	if r.cropped {
		o.Crop = &photo.Crop{X: percent(r.crop[0]), Y: percent(r.crop[1]), W: percent(min(r.crop[2], 1-r.crop[0])), H: percent(min(r.crop[3], 1-r.crop[1]))}
	}
	if r.greyed {
		o.Grey = &photo.Point{X: percent(r.grey[0]), Y: percent(r.grey[1])}
	}
	if r.canvas != "" {
		v, err := photo.ParseCanvas(r.canvas)
		if err != nil {
			return o, err
		}
		o.Canvas = &v
	}
	return o, nil
}

// number reads a number from the address.
func number(r *http.Request, name string, least, most float64) (float64, error) {
	var v float64
	text := r.URL.Query().Get(name)
	if len(text) > 32 {
		text = text[:32]
	}
	if _, err := fmt.Sscanf(text, "%g", &v); err != nil || !(v >= least && v <= most) {
		return 0, sayf(http.StatusBadRequest, "%s is %q: give a number from %g to %g.", name, text, least, most)
	}
	return v, nil
}

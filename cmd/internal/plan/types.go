// Package plan holds the use cases: from a photo and a box of tubes to masses,
// aims, mixes and the whole paint plan, and the JSON that scripts read. The
// command line, the page and the sheet only call it. It prints nothing.
//
// Start from [Make] for the whole job; [ReadPhoto] with [Workspace.Masses] for
// the photo alone, [Workspace.Recipes] and [Workspace.Mix] for colours.
package plan

import "paintout/analyze/lab"

// Photo is what was read of a picture file.
type Photo struct {
	Path        string   `json:"path"`
	Width       int      `json:"width"`      // after orientation and crop
	Height      int      `json:"height"`     //
	FileWidth   int      `json:"file_width"` // as stored
	FileHeight  int      `json:"file_height"`
	Format      string   `json:"format"`
	Profile     string   `json:"profile"`
	Orientation int      `json:"orientation"` // EXIF, 1–8
	Notes       []string `json:"notes,omitempty"`
}

// Part is one tube's share of a mix, in parts by volume.
type Part struct {
	Tube  string  `json:"tube"`
	CI    string  `json:"ci"`
	Parts float64 `json:"parts"`
	Hex   string  `json:"hex,omitempty"` // the tube's masstone, to look at
	White bool    `json:"white,omitempty"`
	ML    float64 `json:"ml,omitempty"` // of it in the pile, where a canvas is given
}

// Recipe is one way to mix a colour.
type Recipe struct {
	Choice    string   `json:"choice,omitempty"`    // why it is offered: "nearest", "two tubes", "more forgiving", …
	Suggested bool     `json:"suggested,omitempty"` // the one to try first: near, forgiving and few tubes
	Parts     []Part   `json:"parts"`
	Lab       lab.Lab  `json:"lab"`
	Hex       string   `json:"hex"`
	DE00      float64  `json:"de00"`          // foretold mix against the colour to mix
	Expected  float64  `json:"expected_de00"` // mean, with the spread of tubes and knife
	P90       float64  `json:"p90_de00"`      // nine times in ten within this
	Grade     string   `json:"grade"`         // words for DE00: "can't tell apart", "close", …
	Miss      string   `json:"miss,omitempty"`
	Order     []string `json:"order"`
	Notes     []string `json:"notes"`
	Why       string   `json:"why,omitempty"` // what dulls the mix or keeps it clean
	Wet       *Wet     `json:"wet,omitempty"` // where every tube was read wet and dry; Lab is the dry colour
}

// Wet is what a pile looks like before it dries.
type Wet struct {
	Lab lab.Lab `json:"lab"`
	Hex string  `json:"hex"`
	Say string  `json:"say"` // how it dries, in words
}

// Mass is one mass of the picture, its colour to mix, and how.
type Mass struct {
	ID          int         `json:"id"`
	Name        string      `json:"name"` // plain words, "pale blue-grey"
	Share       float64     `json:"share"`
	Lab         lab.Lab     `json:"lab"` // in the photo
	Aim         lab.Lab     `json:"aim"` // the colour to mix, after range fitting
	Hex         string      `json:"hex"`
	AimHex      string      `json:"aim_hex"`
	Value       float64     `json:"value"` // 0–10, of the photo's colour
	AimValue    float64     `json:"aim_value"`
	ML          float64     `json:"ml,omitempty"` // of paint for it, where a canvas is given
	Notation    string      `json:"notation"`
	Warmth      float64     `json:"warmth"`
	Temperature string      `json:"temperature"`
	Accent      bool        `json:"accent"`
	Anchor      [2]float64  `json:"anchor"` // where its number stands, as shares of width and height
	Recipes     []Recipe    `json:"recipes,omitempty"`
	Why         string      `json:"why,omitempty"`      // what stands between the aim and the best mix
	BoxDE00     float64     `json:"box_de00,omitempty"` // of the nearest mix of all the tubes that might be carried
	String      *MassString `json:"string,omitempty"`   // the mass in piles from light to dark, to premix
}

// MassString is a mass's colour in equal steps of value, from few tubes.
type MassString struct {
	Tubes []string     `json:"tubes"`
	Piles []StringPile `json:"piles"` // light to dark
	Worst float64      `json:"worst_de00"`
	Says  string       `json:"says"`
}

// AccentReach says whether the kit reaches an accent, and if not what would.
type AccentReach struct {
	Mass      int        `json:"mass"` // its ID
	Name      string     `json:"name"`
	Tolerance float64    `json:"tolerance"`
	Reachable bool       `json:"reachable"`
	DE00      float64    `json:"de00"`       // of the kit's nearest mix
	BoxDE00   float64    `json:"box_de00"`   // of the nearest of all the tubes that might be carried
	Chroma    float64    `json:"chroma"`     // C*ab asked for
	MaxChroma float64    `json:"max_chroma"` // the kit's highest at that hue and value; 0 where no mix stands there
	Miss      string     `json:"miss,omitempty"`
	Own       *AddedTube `json:"own,omitempty"` // a tube left at home that would help most
	Add       *AddedTube `json:"add,omitempty"` // a tube of the library that would
	Says      string     `json:"says"`
}

// Fit is the difference between the picture and its masses.
type Fit struct {
	Mean float64 `json:"mean_de00"`
	P99  float64 `json:"p99_de00"`
}

// Tube is a tube of the box as a plan shows it.
type Tube struct {
	Name       string  `json:"name"`
	CI         string  `json:"ci"`
	Hex        string  `json:"hex"`      // masstone
	TintHex    string  `json:"tint_hex"` // 1 part to 9 of white
	Lab        lab.Lab `json:"lab"`
	TintLab    lab.Lab `json:"tint_lab"`
	White      bool    `json:"white,omitempty"`
	Lean       string  `json:"lean"`
	Opacity    string  `json:"opacity,omitempty"`
	Strength   string  `json:"strength,omitempty"`
	Lightfast  string  `json:"lightfastness,omitempty"`
	Provenance string  `json:"provenance"`
	Source     string  `json:"source,omitempty"`
	Caution    string  `json:"caution,omitempty"`
	UsedIn     []int   `json:"used_in,omitempty"` // masses whose first mix needs it

	Medium   string   `json:"medium,omitempty"`
	SizeML   float64  `json:"size_ml,omitempty"`
	LeftML   *float64 `json:"left_ml,omitempty"`
	Factor   float64  `json:"strength_factor,omitempty"` // the painter's, on the tinting strength of its code
	Note     string   `json:"note,omitempty"`
	Readings int      `json:"readings,omitempty"` // how many were taken of it
	Squeeze  *Squeeze `json:"-"`                  // as in the plan's list

	LongerLived *LongerLived `json:"longer_lived,omitempty"` // of a tube that fades: what may take its place

	Dries string          `json:"dries,omitempty"` // in words, where it was read wet and dry
	Fit   *CalibratedTube `json:"fit,omitempty"`   // how its own readings agree; where a tube is shown
}

// LongerLived is a paint of the library that lasts, near one that fades.
type LongerLived struct {
	CI       string  `json:"ci"`
	Name     string  `json:"name"`
	Masstone float64 `json:"masstone_de00"` // from the tube's
	Tint     float64 `json:"tint_de00"`     // let down with white to one lightness
	Words    string  `json:"words"`
}

// Box names the tubes a plan was made from.
type Box struct {
	Name  string `json:"name"`
	From  string `json:"from"` // a file, or "the starter box that comes with paintout"
	Tubes []Tube `json:"tubes"`
}

// Range says how the photo's range was fitted to the paint's.
type Range struct {
	Fitted     bool    `json:"fitted"`
	PhotoBlack float64 `json:"photo_black_L"`
	PhotoWhite float64 `json:"photo_white_L"`
	PaintBlack lab.Lab `json:"paint_black"` // darkest mix of the box
	PaintWhite lab.Lab `json:"paint_white"` // lightest
	Note       string  `json:"note"`
}

// ValueStep is one step of a value plan.
type ValueStep struct {
	Value float64 `json:"value"` // 0–10
	Share float64 `json:"share"`
}

// Plan is the whole answer for one photo.
type Plan struct {
	Title      string              `json:"title"`
	Photo      Photo               `json:"photo"`
	Box        Box                 `json:"box"`
	Finish     string              `json:"finish"`
	Range      Range               `json:"range"`
	Masses     []Mass              `json:"masses"`
	Fit        Fit                 `json:"fit"`
	Clipped    float64             `json:"clipped"` // share of the area
	Crushed    float64             `json:"crushed"`
	Within3    float64             `json:"area_within_3"` // share of the area whose first mix is within 3 ΔE00
	ValueSteps map[int][]ValueStep `json:"value_steps"`   // for 2, 3 and 5 steps, light to dark
	Cautions   []string            `json:"cautions"`
	Warnings   []string            `json:"warnings"`
	Kit        *KitPlan            `json:"kit,omitempty"`
	Accents    []AccentReach       `json:"accents"`              // whether what carries the picture can be mixed
	Quantities *Quantities         `json:"quantities,omitempty"` // where a canvas is given
	Squeeze    []Squeeze           `json:"squeeze,omitempty"`    // likewise
}

// First is the recipe to try first: the suggested one, else the nearest; nil
// where there is none.
func (m *Mass) First() *Recipe {
	for i := range m.Recipes {
		if m.Recipes[i].Suggested {
			return &m.Recipes[i]
		}
	}
	if len(m.Recipes) > 0 {
		return &m.Recipes[0]
	}
	return nil
}

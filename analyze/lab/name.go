package lab

// Name puts a colour into a painter's plain words: "pale blue-grey", "dark
// olive green", "bright orange". The wording is this project's own. It follows
// a fixed rule on the notation, says how the colour looks and never names a
// paint or pigment, and is meant for captions, not for matching.
//
// The rule. Chroma in the greens and blues (hue 45–80), whose strongest colours
// reach less far, counts 1.25 times.
//   - Below chroma 0.5 a colour is white, grey or black by value alone.
//   - Below chroma 2 it is a tinged grey, "-white" from value 8.75 and "-black"
//     below value 2.2.
//   - From there the hue gives the noun, with the words that light, dull and
//     dark colours of that hue have (pink, tan, brown, olive, plum …), and
//     value and chroma give the adjective before it.
//
// L* outside 0–100 is taken as 0 or 100; a colour that is not a number is "no
// colour".
func Name(c Lab) string {
	c.L = min(max(c.L, 0), 100)
	n, err := c.Notation()
	if err != nil {
		return "no colour"
	}
	chroma := shownChroma(n)
	switch {
	case chroma < 0.5:
		return step(n.Value, neutralNames)
	case chroma < greyBelow:
		words := hueWordsAt(n.Hue)
		switch {
		case n.Value >= 8.75:
			return words.white + "-white"
		case n.Value < 2.2:
			return words.tinge + "-black"
		}
		return phrase(step(n.Value, greyAdjectives), words.tinge+"-grey")
	}
	noun := hueNoun(n)
	if noun == "cream" {
		return noun
	}
	words := step(n.Value, adjectives)
	adjective := words.vivid
	switch {
	case chroma < 4:
		adjective = words.muted
		// A noun of its own already says that a middle colour is dull.
		if n.Value >= 4 && n.Value < 8 && noun != hueWordsAt(n.Hue).plain {
			adjective = ""
		}
	case chroma < strongFrom:
		adjective = words.middling
	case chroma < 12:
		adjective = words.strong
	}
	return phrase(adjective, noun)
}

const (
	greyBelow  = 2.0
	strongFrom = 8.0
)

func phrase(adjective, noun string) string {
	if adjective == "" {
		return noun
	}
	return adjective + " " + noun
}

func shownChroma(n Notation) float64 {
	if n.Hue >= 45 && n.Hue < 80 {
		return 1.25 * n.Chroma
	}
	return n.Chroma
}

// band is what holds from a value upward.
type band[T any] struct {
	from float64
	is   T
}

// step gives the first band, from the light end, that v reaches.
func step[T any](v float64, bands []band[T]) T {
	for _, b := range bands[:len(bands)-1] {
		if v >= b.from {
			return b.is
		}
	}
	return bands[len(bands)-1].is
}

var neutralNames = []band[string]{
	{9.3, "white"}, {8.5, "off-white"}, {7, "pale grey"}, {5.75, "light grey"}, {4.25, "grey"},
	{2.5, "dark grey"}, {1.2, "near black"}, {0, "black"},
}

var greyAdjectives = []band[string]{{7, "pale"}, {5.75, "light"}, {4, ""}, {0, "dark"}}

// adjectives go by chroma: muted below 4, middling below 8, strong below 12.
var adjectives = []band[struct{ muted, middling, strong, vivid string }]{
	{8, struct{ muted, middling, strong, vivid string }{"pale", "light", "bright", "bright"}},
	{6.5, struct{ muted, middling, strong, vivid string }{"soft", "light", "bright", "bright"}},
	{5.5, struct{ muted, middling, strong, vivid string }{"muted", "", "strong", "bright"}},
	{4, struct{ muted, middling, strong, vivid string }{"muted", "", "strong", "vivid"}},
	{2.5, struct{ muted, middling, strong, vivid string }{"dark", "dark", "deep", "deep"}},
	{0, struct{ muted, middling, strong, vivid string }{"very dark", "deep", "deep", "deep"}},
}

// hueWords are the nouns of one stretch of the hue circle, up to a hue: plain
// for strong colours; light below chroma 8 from value 6.5 (a pink is a pink at any
// chroma); between that and the dark ones, middling from chroma 4 to 8 and dull
// below 4; dark below a value and chroma of their own; and the tinge that whites and other greys take.
type hueWords struct {
	to                                 float64
	plain, light, middling, dull, dark string
	darkValue, darkChroma              float64
	white, tinge                       string
}

var hueNouns = []hueWords{
	{3, "red", "pink", "red", "rose", "red", 4, 6, "rose", "rose"},
	{8, "red", "pink", "red", "red-brown", "red-brown", 4, 6, "rose", "rose"},
	{12, "orange-red", "peach", "red-brown", "red-brown", "red-brown", 4.5, 9, "cream", "brown"},
	{18, "orange", "peach", "tan", "tan", "brown", 5.5, 11, "cream", "brown"},
	{22.5, "golden yellow", "sand", "tan", "tan", "brown", 5.5, 11, "cream", "brown"},
	{28, "yellow", "straw", "mustard", "straw", "olive", 5, 11, "cream", "yellow"},
	{33, "green-yellow", "green-yellow", "yellow-green", "olive", "olive", 5.5, 11, "cream", "olive"},
	{38, "yellow-green", "yellow-green", "yellow-green", "olive green", "olive green", 4.75, 6, "green", "green"},
	{50, "green", "green", "green", "green", "green", 0, 0, "green", "green"},
	{61, "blue-green", "blue-green", "blue-green", "blue-green", "blue-green", 0, 0, "green", "green"},
	{79, "blue", "blue", "blue", "blue", "blue", 0, 0, "blue", "blue"},
	{84, "violet-blue", "lavender", "violet-blue", "violet-blue", "violet-blue", 0, 0, "violet", "violet"},
	{92, "violet", "lilac", "violet", "violet", "violet", 0, 0, "violet", "violet"},
	{94.5, "purple", "mauve", "purple", "mauve", "plum", 4, 6, "violet", "mauve"},
	{100, "rose", "pink", "rose", "rose", "wine red", 4, 6, "rose", "rose"},
}

func hueWordsAt(hue float64) *hueWords {
	i := 0
	for i < len(hueNouns)-1 && hue >= hueNouns[i].to {
		i++
	}
	return &hueNouns[i]
}

// hueNoun is the noun of a colour that is no grey.
func hueNoun(n Notation) string {
	w, chroma := hueWordsAt(n.Hue), shownChroma(n)
	switch {
	case chroma < 4 && n.Value >= 8.5 && n.Hue >= 15 && n.Hue < 28:
		return "cream"
	case n.Value < w.darkValue && chroma < w.darkChroma:
		return w.dark
	case n.Value >= 6.5 && (chroma < strongFrom || w.light == "pink"):
		return w.light
	case chroma >= strongFrom:
		return w.plain
	case chroma >= 4:
		return w.middling
	case n.Value >= 4:
		return w.dull
	}
	return w.plain
}

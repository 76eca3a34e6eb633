package lab

import "math"

// Warmth is how warm or cool people rate a colour on its own, from the
// colour-emotion equation WC = −0.5 + 0.02 C*^1.07 cos(h − 50°) of Ou, Luo,
// Woodcock & Wright, "A study of colour emotion and colour preference. Part I",
// Color Res. Appl. 29:232–240, 2004: above 0 warm, below 0 cool, about −2 to 2.5.
// Every grey scores −0.5 and nothing below C* of about 20 scores warm; for
// greys among other colours see [TemperatureAmong].
func Warmth(c Lab) float64 {
	if c.A == 0 && c.B == 0 {
		return greyWarmth
	}
	chroma := c.Chroma()
	sin50, cos50 := math.Sincos(50 * radian)
	// C*^1.07 cos(h − 50°), with cos(h − 50°) = (a* cos 50° + b* sin 50°)/C*.
	return greyWarmth + 0.02*math.Pow(chroma, 0.07)*(c.A*cos50+c.B*sin50)
}

const (
	greyWarmth = -0.5 // the equation at C* 0
	greyChroma = 20   // C* below which the equation never says warm
	// sameWarmth is the difference in warmth that is let pass as none: a step
	// of about two CIELAB units along the warm–cool axis of a grey.
	sameWarmth = 0.05
)

// Temperature calls a colour on its own "warm" where [Warmth] is above 0, "cool"
// where it has colour (C* from 20 up) and scores below a grey's −0.5, and
// "neutral" otherwise: all greys, and the yellow-greens and red-violets that
// lean neither way.
func Temperature(c Lab) string {
	switch w := Warmth(c); {
	case w > 0:
		return "warm"
	case w < greyWarmth && c.Chroma() >= greyChroma:
		return "cool"
	}
	return "neutral"
}

// TemperatureAmong says how warm or cool a colour reads among the other colours
// of a picture. A warm or cool colour stays "warm" or "cool" (see
// [Temperature]). A neutral one is ranked against the mean [Warmth] of its
// neighbours: "warmer grey", "cooler grey" or, where the difference would not
// show, "neutral grey"; from chroma 2 up the noun that [Name] has for its hue
// stands in for grey, as in "cooler blue" or "warmer tan". That answer is
// relative: the same grey is warmer beside a blue and cooler beside an orange.
//
// Weights, such as shares of the picture's area, go with the neighbours one to
// one and are not negative; nil means equal weights. Without neighbours, or
// without any weight, the answer is "neutral grey", "neutral tan" and so on. It
// panics if the lengths differ.
func TemperatureAmong(self Lab, neighbours []Lab, weights []float64) string {
	if weights != nil && len(weights) != len(neighbours) {
		panic("lab: TemperatureAmong needs one weight for each neighbour")
	}
	if own := Temperature(self); own != "neutral" {
		return own
	}
	var sum, total float64
	for i, n := range neighbours {
		w := 1.0
		if weights != nil {
			w = weights[i]
		}
		sum += w * Warmth(n)
		total += w
	}
	noun := "grey"
	if n, err := self.Notation(); err == nil && shownChroma(n) >= greyBelow {
		noun = hueNoun(n)
	}
	if total > 0 {
		switch d := Warmth(self) - sum/total; {
		case d > sameWarmth:
			return "warmer " + noun
		case d < -sameWarmth:
			return "cooler " + noun
		}
	}
	return "neutral " + noun
}

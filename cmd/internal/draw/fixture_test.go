package draw

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand"

	"paintout/analyze/lab"
	"paintout/cmd/internal/plan"
)

// An invented place, an invented box: the estuary at Tarn Hollow seen from the
// sea wall, on a grey morning that clears from the west.

type fixtureMass struct {
	name   string
	lab    lab.Lab
	accent bool
}

var tarnHollow = []fixtureMass{
	{"pale warm white", lab.Lab{L: 93, A: 1, B: 8}, false},
	{"pale blue-grey", lab.Lab{L: 78, A: -3, B: -9}, false},
	{"soft blue", lab.Lab{L: 66, A: -5, B: -18}, false},
	{"grey violet", lab.Lab{L: 58, A: 4, B: -11}, false},
	{"blue-green grey", lab.Lab{L: 50, A: -9, B: -6}, false},
	{"straw", lab.Lab{L: 76, A: 4, B: 30}, false},
	{"dull olive", lab.Lab{L: 47, A: -7, B: 26}, false},
	{"sage", lab.Lab{L: 61, A: -10, B: 18}, false},
	{"dark green", lab.Lab{L: 30, A: -11, B: 11}, false},
	{"warm brown", lab.Lab{L: 37, A: 12, B: 18}, false},
	{"wet mud", lab.Lab{L: 52, A: 3, B: 9}, false},
	{"near-black violet", lab.Lab{L: 17, A: 4, B: -5}, false},
	{"vermilion", lab.Lab{L: 52, A: 58, B: 42}, true},
	{"bright yellow", lab.Lab{L: 82, A: 6, B: 72}, true},
}

// fixture is a whole plan by hand, with a picture w × h that has every mass in
// it. Noise of that standard deviation, in 8-bit levels, lies over the photo and
// frays the edges of the masses.
func fixture(w, h int, noise float64) (*plan.Plan, *plan.Pictures) {
	return fixtureOf(tarnHollow, w, h, noise)
}

func fixtureOf(places []fixtureMass, w, h int, noise float64) (*plan.Plan, *plan.Pictures) {
	rnd := rand.New(rand.NewSource(7))
	pics := &plan.Pictures{W: w, H: h, Photo: image.NewRGBA(image.Rect(0, 0, w, h)), Masses: make([]uint8, w*h), Values: map[int][]uint8{}}
	count := make([]int, len(places))
	var cx, cy = make([]float64, len(places)), make([]float64, len(places))
	base := make([]color.RGBA, len(places))
	for i, f := range places {
		base[i] = rgb(f.lab.Hex())
	}
	for y := range h {
		for x := range w {
			u, v := float64(x)/float64(w), float64(y)/float64(h)
			fray := noise / 2500
			i := land(u+fray*rnd.NormFloat64(), v+fray*rnd.NormFloat64())
			if len(places) > len(tarnHollow) && i < 12 && rnd.Float64() < 0.4 {
				i = 12 + rnd.Intn(len(places)-12)
			}
			pics.Masses[y*w+x] = uint8(i)
			count[i]++
			cx[i] += u
			cy[i] += v
			c := base[i]
			r, g, b := c.R, c.G, c.B
			n := 12*math.Sin(9*v) + 5*math.Sin(23*u+7*v) + noise*rnd.NormFloat64()
			pics.Photo.SetRGBA(x, y, color.RGBA{add(r, n), add(g, n+noise*rnd.NormFloat64()/2), add(b, n), 255})
		}
	}
	p := &plan.Plan{
		Title: "Tarn Hollow, the sea wall",
		Photo: plan.Photo{Path: "tarn-hollow.jpg", Width: 4000, Height: 2667, Format: "JPEG", Profile: "sRGB", Orientation: 1,
			Notes: []string{"No colour profile in the file, so sRGB was taken."}},
		Finish: "matte film in diffuse light",
		Range: plan.Range{Fitted: true, PhotoBlack: 3, PhotoWhite: 98, PaintBlack: lab.Lab{L: 23, A: 0, B: -1}, PaintWhite: lab.Lab{L: 96.5, A: -0.5, B: 2},
			Note: "The darkest shadows gain the most."},
		Fit: plan.Fit{Mean: 4.2, P99: 13.1}, Clipped: 0.004, Crushed: 0.021, Within3: 0.94,
		Warnings:   []string{"2 % of the picture is crushed to black: look into those shadows on the spot, the photo can't say."},
		Cautions:   []string{"Ferry Red: organic, usual caution.", "Weir Green: may contain traces of copper compounds; keep sanding dust off."},
		ValueSteps: map[int][]plan.ValueStep{},
		Box:        plan.Box{Name: "the Tarn Hollow box", From: "the starter box that comes with paintout"},
	}
	tubes := []plan.Tube{
		tube("Chalk Wall White", "PW6", lab.Lab{L: 96.5, A: -.5, B: 2}, lab.Lab{L: 96.5, A: -.5, B: 2}),
		tube("Gorse Yellow", "PY184", lab.Lab{L: 88, A: -7, B: 88}, lab.Lab{L: 93, A: -8, B: 50}),
		tube("Quarry Ochre", "PY43", lab.Lab{L: 57, A: 15, B: 42}, lab.Lab{L: 81, A: 6, B: 27}),
		tube("Ferry Red", "PR254", lab.Lab{L: 43, A: 60, B: 38}, lab.Lab{L: 66, A: 45, B: 14}),
		tube("Kiln Brown", "PBr7", lab.Lab{L: 33, A: 14, B: 14}, lab.Lab{L: 65, A: 12, B: 17}),
		tube("Slack Tide Blue", "PB29", lab.Lab{L: 23, A: 18, B: -38}, lab.Lab{L: 58, A: 4, B: -42}),
		tube("Weir Green", "PG7", lab.Lab{L: 24, A: -14, B: -2}, lab.Lab{L: 62, A: -46, B: -3}),
		tube("Smithy Black", "PBk9", lab.Lab{L: 24, A: 0, B: 0}, lab.Lab{L: 62, A: -1, B: -3}),
		tube("Heath Magenta", "PV19", lab.Lab{L: 31, A: 38, B: 8}, lab.Lab{L: 60, A: 45, B: -6}),
	}
	tubes[0].White, tubes[0].Strength = true, ""
	tubes[6].Caution = "holds copper; don't sand or burn it"
	p.Box.Tubes = tubes
	mixes := [][]int{{0, 2}, {0, 5, 7}, {0, 5}, {0, 5, 4}, {0, 6, 5, 4}, {0, 2, 1}, {2, 7, 0, 1}, {2, 6, 0}, {6, 4, 2}, {4, 2}, {0, 4, 7}, {5, 4}, {3, 1}, {1, 2, 0}}
	ladder := []float64{1, 12, 3, 6, 2, 32, 8, 1, 4, 16}
	for i, f := range places {
		aim := fitted(f.lab, p.Range)
		lch := f.lab.LCh()
		m := plan.Mass{ID: i + 1, Name: f.name, Accent: f.accent, Share: float64(count[i]) / float64(w*h),
			Lab: f.lab, Aim: aim, Hex: f.lab.Hex(), AimHex: aim.Hex(), Value: f.lab.Value(), AimValue: aim.Value(),
			Notation: fmt.Sprintf("5PB %.1f/%.0f", aim.Value(), lch.C/5),
			Warmth:   -0.5 + 0.02*math.Pow(lch.C, 1.07)*math.Cos((lch.H-50)*math.Pi/180)}
		m.Temperature = map[bool]string{true: "warm here", false: "cool here"}[m.Warmth > -0.45]
		if count[i] > 0 {
			m.Anchor = nearest(pics, uint8(i), cx[i]/float64(count[i]), cy[i]/float64(count[i]))
		}
		for k, choice := range []string{"nearest", "fewer tubes", "more forgiving"} {
			mix := mixes[i%len(mixes)]
			if k == 1 && len(mix) > 2 {
				mix = mix[:2]
			}
			got := aim
			got.L += 0.5 + float64(k)
			got.A -= 0.7 * float64(k)
			r := plan.Recipe{Choice: choice, Lab: got, Hex: got.Hex(), DE00: lab.DE00(aim, got), Expected: 1.9 + float64(k)*.6, P90: 3.6 + float64(k)*.9,
				Grade: []string{"can't tell apart", "close", "shows side by side"}[k]}
			for n, t := range mix {
				r.Parts = append(r.Parts, plan.Part{Tube: tubes[t].Name, CI: tubes[t].CI, Parts: ladder[(i+3*n+k)%len(ladder)], Hex: tubes[t].Hex, White: tubes[t].White})
				if k == 0 {
					tubes[t].UsedIn = append(tubes[t].UsedIn, m.ID)
				}
			}
			last := mix[len(mix)-1]
			r.Order = []string{"Start with " + tubes[mix[0]].Name + ".", "Draw in " + tubes[last].Name + " last, a touch at a time: it is strong."}
			if i == 0 {
				r.Parts[0].Parts = 128
				r.Notes = []string{"Pre-tint in two steps: 1 part into 12 of white, then that into the rest."}
			}
			m.Recipes = append(m.Recipes, r)
		}
		if i == 12 {
			m.Recipes[0].Miss = "too dark, too dull"
			m.Why = "No tube here is as bright as this red in sunlight; an orange leaning red would come within 2 ΔE00."
		}
		p.Masses = append(p.Masses, m)
	}
	var lightness [256]float64 // by the green, near enough
	for i := range lightness {
		lightness[i] = lab.FromSRGB8(uint8(i), uint8(i), uint8(i)).L
	}
	for _, n := range []int{2, 3, 5} {
		v := make([]uint8, w*h)
		sums, counts := make([]float64, n), make([]int, n)
		for k := range v {
			l := lightness[pics.Photo.Pix[4*k+1]]
			s := min(n-1, max(0, int(float64(n)*(1-l/100))))
			v[k] = uint8(s)
			sums[s] += l / 10
			counts[s]++
		}
		for s := range n {
			p.ValueSteps[n] = append(p.ValueSteps[n], plan.ValueStep{Value: sums[s] / float64(max(1, counts[s])), Share: float64(counts[s]) / float64(w*h)})
		}
		pics.Values[n] = v
	}
	return p, pics
}

// fitted eases a colour into the range of the paint, in linear light.
func fitted(c lab.Lab, r plan.Range) lab.Lab {
	xyz, dark, light := c.XYZ(lab.D65), r.PaintBlack.XYZ(lab.D65), r.PaintWhite.XYZ(lab.D65)
	return lab.FromXYZ(lab.XYZ{
		X: dark.X + xyz.X/lab.D65.X*(light.X-dark.X),
		Y: dark.Y + xyz.Y/lab.D65.Y*(light.Y-dark.Y),
		Z: dark.Z + xyz.Z/lab.D65.Z*(light.Z-dark.Z)}, lab.D65)
}

// nearest is the place of the mass nearest to u, v.
func nearest(pics *plan.Pictures, mass uint8, u, v float64) [2]float64 {
	best, at := math.Inf(1), [2]float64{u, v}
	for k, m := range pics.Masses {
		if m != mass {
			continue
		}
		x, y := (float64(k%pics.W)+0.5)/float64(pics.W), (float64(k/pics.W)+0.5)/float64(pics.H)
		if d := math.Hypot(x-u, y-v); d < best {
			best, at = d, [2]float64{x, y}
		}
	}
	return at
}

func tube(name, ci string, masstone, tint lab.Lab) plan.Tube {
	return plan.Tube{Name: name, CI: ci, Lab: masstone, TintLab: tint, Hex: masstone.Hex(), TintHex: tint.Hex(),
		Lean: "leaning one way in the tint", Opacity: "half-opaque", Strength: "strong", Lightfast: "I", Provenance: "measured", Source: "an invented swatch card"}
}

func add(v uint8, n float64) uint8 { return uint8(min(255, max(0, math.Round(float64(v)+n)))) }

// land says which mass lies at u, v of the picture, both 0–1.
func land(u, v float64) int {
	far := 0.40 + 0.03*math.Sin(7*u) + 0.015*math.Sin(19*u+1)
	mid := 0.50 + 0.05*math.Sin(4.1*u+2) + 0.01*math.Sin(31*u)
	shore := 0.66 + 0.02*math.Sin(6*u)
	switch {
	case math.Hypot((u-0.71)*1.5, v-0.705) < 0.014:
		return 13
	case u > 0.24 && u < 0.272 && v > 0.575 && v < 0.605:
		return 12
	case u > 0.80 && v > 0.36-0.03*math.Sin(30*u) && v < 0.72 && u < 0.93:
		return 8
	case u > 0.855 && u < 0.87 && v >= 0.72 && v < 0.76:
		return 11
	case v < far:
		if math.Hypot((u-0.3)*0.8, (v-0.16)*1.8) < 0.16+0.02*math.Sin(14*u) {
			return 0
		}
		if v < 0.16+0.05*math.Sin(5*u+1) {
			return 2
		}
		return 1
	case v < mid:
		return 3
	case v < mid+0.045:
		return 4
	case v < shore:
		if math.Sin(9*u+14*v) > 0.35 {
			return 7
		}
		return 6
	case v < shore+0.12-0.1*u:
		return 1
	case v < shore+0.2-0.16*u:
		return 10
	case v < 0.9-0.1*math.Sin(3*u):
		return 5
	case v > 0.985-0.03*math.Sin(40*u)*math.Sin(9*u):
		return 11
	default:
		return 9
	}
}

package plan

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"paintout/analyze/card"
	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/cmd/internal/cardphoto"
	"paintout/inventory"
	"paintout/inventory/optics"
)

// cardLights are the lights that the three rendered phones are held in.
var cardLights = [3]optics.Spectrum{cardphoto.Planck(5200), cardphoto.LED(0.9), cardphoto.Planck(3200)}

// cardPigments are what lies on rendered cards: the library's own spectra.
var cardPigments = []string{"PB29", "PY43", "PR101", "PG7", "PV19", "PY184", "PBr7/burnt umber"}

// shot is a rendered swatch card.
type shot struct {
	file   string // of the running test
	jpeg   []byte
	camera *cardphoto.Camera
	scene  *cardphoto.Scene
	laid   []cardphoto.Drawdown
	grey   photo.Point
}

// shots keeps what was rendered for the next test.
var shots = map[string]*shot{}

func (s *shot) save(t testing.TB) {
	t.Helper()
	s.file = filepath.Join(t.TempDir(), "card.jpg")
	if err := os.WriteFile(s.file, s.jpeg, 0o644); err != nil {
		t.Fatal(err)
	}
}

// at is where millimetres of the card are in the picture.
func (s *shot) at(t testing.TB, x, y float64) photo.Point {
	t.Helper()
	px, py := s.camera.Middle(s.scene, x, y)
	p, err := photo.ParsePoint(fmt.Sprintf("%.0f,%.0f", px, py))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// shoot renders a card as a phone sees it: lit from one side, a colour cast, a
// dark-cornered lens with some veil, a tone curve, noise and JPEG.
func shoot(t testing.TB, sensor int, chart bool, change func(*cardphoto.Scene, *cardphoto.Camera)) *shot {
	t.Helper()
	key := fmt.Sprint(sensor, chart)
	if old := shots[key]; old != nil && change == nil {
		old.save(t)
		return old
	}
	s, laid, grey, err := cardphoto.Sheet(cardPigments, "PW6", []float64{1, 4}, optics.Included, chart)
	if err != nil {
		t.Fatal(err)
	}
	s.Light = cardLights[sensor]
	s.FallX, s.FallY, s.Bow = 0.25, -0.15, 0.15
	c := cardphoto.Phone(s, sensor, 600)
	c.Cast = [3]float64{1.08, 1, 0.93}
	if change != nil {
		change(s, c)
	}
	out := &shot{camera: c, scene: s, laid: laid, jpeg: c.Photo(s)}
	out.save(t)
	out.grey = out.at(t, grey[0], grey[1])
	if change == nil {
		shots[key] = out
	}
	return out
}

// named names all swatches of a card by where they lie.
func (s *shot) named(t testing.TB) (out []string) {
	for _, d := range s.laid {
		name := d.Pigment + " masstone"
		switch {
		case d.Paint == 0:
			name = "titanium white PW6"
		case d.White > 0:
			name = fmt.Sprintf("%s 1:%g", d.Pigment, d.White)
		}
		if code, paint, ok := strings.Cut(d.Pigment, "/"); ok {
			name = strings.Replace(name, d.Pigment, paint+" ("+code+"/"+paint+")", 1)
		}
		out = append(out, name+"@"+s.at(t, d.X, d.Y).String())
	}
	return out
}

// misses are the distances of a card's readings from the truth, the root mean
// square of them in units of what their uncertainty foretells, and how many lie
// within the distance that nine in ten should: 2.5 times the uncertainty, the
// 90th percentile of three independent normal errors together.
func (s *shot) misses(r *MeasureResult) (de []float64, honest float64, within int) {
	for i, d := range s.laid {
		e := lab.DE00(r.Swatches[i].Lab, d.Reflectance.Lab(optics.D65))
		de = append(de, e)
		if e <= 2.5*r.Swatches[i].Uncertainty {
			within++
		}
		honest += e * e / (3 * r.Swatches[i].Uncertainty * r.Swatches[i].Uncertainty)
	}
	return de, math.Sqrt(honest / float64(len(de))), within
}

func mean(v []float64) (m float64) {
	for _, x := range v {
		m += x / float64(len(v))
	}
	return m
}

// mixMisses are how far weighed 1:1 mixes of the card's paints, as a box
// foretells them, lie from what those paints give.
func mixMisses(t testing.TB, box *inventory.Box) (de []float64) {
	t.Helper()
	var truth, fitted []optics.Paint
	for _, key := range cardPigments {
		p, err := inventory.Find(key)
		if err != nil {
			t.Fatal(err)
		}
		truth = append(truth, cardphoto.Maker(p))
		name := key
		if _, paint, ok := strings.Cut(key, "/"); ok {
			name = paint
		}
		q := box.Tube(name)
		if q == nil {
			t.Fatalf("no %s in the box", name)
		}
		fitted = append(fitted, q.Paint)
	}
	for i := range truth {
		for j := range i {
			m := optics.Mix([]*optics.Paint{&truth[i], &truth[j]}, []float64{1, 1})
			f := optics.Mix([]*optics.Paint{&fitted[i], &fitted[j]}, []float64{1, 1})
			a, b := m.Reflectance(optics.Included), f.Reflectance(optics.Included)
			de = append(de, lab.DE00(a.Lab(optics.D65), b.Lab(optics.D65)))
		}
	}
	return de
}

// exactMixMisses is [mixMisses] from readings without any error.
func exactMixMisses(t testing.TB) []float64 {
	t.Helper()
	_, laid, _, err := cardphoto.Sheet(cardPigments, "PW6", []float64{1, 4}, optics.Included, true)
	if err != nil {
		t.Fatal(err)
	}
	csv := "tube,ci,paint_parts,white_parts,specular,L,a,b\n"
	for _, d := range laid {
		name, code := d.Pigment, d.Pigment
		if _, paint, ok := strings.Cut(d.Pigment, "/"); ok {
			name = paint
		}
		c := d.Reflectance.Lab(optics.D65)
		csv += fmt.Sprintf("%s,%s,%g,%g,in,%.4f,%.4f,%.4f\n", name, code, d.Paint, d.White, c.L, c.A, c.B)
	}
	rd, err := inventory.ReadReadings("exact.csv", strings.NewReader(csv))
	if err != nil {
		t.Fatal(err)
	}
	box, _, err := inventory.Calibrate(rd, nil)
	if err != nil {
		t.Fatal(err)
	}
	return mixMisses(t, box)
}

// Rendered cards with known truth: three sensors in three lights, 22 swatches
// each, with the colour chart in the picture and with a grey card alone. The mean
// is what painters are told, the limit what was reached, and a little.
func TestMeasureRenderedCards(t *testing.T) {
	for _, chart := range []bool{true, false} {
		said, limitMost, what := card.TrialChart, 6.5, "colour chart"
		if !chart {
			said, limitMost, what = card.TrialGrey, 7.0, "grey card alone"
		}
		var all, mixes []float64
		within := 0
		for sensor := range 3 {
			s := shoot(t, sensor, chart, nil)
			o := MeasureOptions{Photo: s.file, Swatches: s.named(t), Box: filepath.Join(t.TempDir(), "box.yaml")}
			finish := optics.Included
			o.Said.Finish = &finish
			if !chart {
				o.Grey = []card.Grey{{Place: s.grey}}
			}
			r, err := Measure(o)
			if err != nil {
				t.Fatal(err)
			}
			de, honest, n := s.misses(r)
			all = append(all, de...)
			within += n
			box, err := inventory.LoadBox(o.Box)
			if err != nil {
				t.Fatal(err)
			}
			m := mixMisses(t, box)
			mixes = append(mixes, m...)
			t.Logf("%s, sensor %d: readings off by %.2f on average, %.2f at most ΔE00, %.2f of what their uncertainty says; 1:1 mixes off by %.2f; bound %.1f, an instrument's %.1f", what, sensor, mean(de), slices.Max(de), honest, mean(m), r.Effect.P90, r.Effect.Instrument)
			if c := r.Chart; c != nil {
				t.Logf("  chart %s: %.2f on average, %.2f at most; left out %.2f and %.2f", c.Colours, c.Mean, c.Max, c.LeftOutMean, c.LeftOutMax)
			}
			if honest > 1.25 || honest < 0.3 {
				t.Errorf("%s, sensor %d: readings miss by %.2f of what their uncertainty says", what, sensor, honest)
			}
			if (r.Chart != nil) != chart {
				t.Errorf("%s, sensor %d: chart found: %v", what, sensor, r.Chart != nil)
			}
			if !(r.Effect.P90 > r.Effect.Instrument) {
				t.Errorf("%s: the photo costs nothing: %+v", what, r.Effect)
			}
		}
		exact := mean(exactMixMisses(t))
		slices.Sort(all)
		t.Logf("%s: %d readings, mean %.2f, 95th percentile %.2f ΔE00; %d mixes, mean %.2f, from exact readings %.2f", what, len(all), mean(all), all[len(all)*95/100], len(mixes), mean(mixes), exact)
		share := float64(within) / float64(len(all))
		t.Logf("%s: %.0f %% of the readings lie within the distance that nine in ten should", what, 100*share)
		if share < 0.85 {
			t.Errorf("%s: only %.0f %% of the readings lie within the distance that nine in ten should", what, 100*share)
		}
		if m := mean(all); math.Abs(m-said) > 0.2 {
			t.Errorf("%s: readings off by %.2f ΔE00 on average; %.1f is what painters are told", what, m, said)
		}
		if m := all[len(all)-1]; m > limitMost {
			t.Errorf("%s: a reading is off by %.2f ΔE00, limit %.1f", what, m, limitMost)
		}
	}
}

// However the camera is held, the chart is found, each patch for what it is,
// and pointing at its corner patches in any order gives the same colours.
func TestMeasureFindsTheChart(t *testing.T) {
	for name, change := range map[string]func(*cardphoto.Scene, *cardphoto.Camera){
		"turned a quarter": func(_ *cardphoto.Scene, c *cardphoto.Camera) {
			c.W, c.H = c.H, c.W
			c.Corners = [4][2]float64{{0.95, 0.05}, {0.96, 0.94}, {0.05, 0.95}, {0.04, 0.06}}
		},
		"upside down": func(_ *cardphoto.Scene, c *cardphoto.Camera) {
			c.Corners = [4][2]float64{{0.95, 0.96}, {0.06, 0.94}, {0.04, 0.05}, {0.94, 0.06}}
		},
		"dabs of the knife": func(s *cardphoto.Scene, _ *cardphoto.Camera) {
			for i := range s.Patches {
				s.Patches[i].Dab = i > 24 // after the chart and its frame
			}
		},
		"from the side": func(_ *cardphoto.Scene, c *cardphoto.Camera) {
			c.Corners = [4][2]float64{{0.2, 0.08}, {0.8, 0.05}, {0.97, 0.95}, {0.03, 0.92}}
		},
	} {
		s := shoot(t, 0, true, change)
		r, err := Measure(MeasureOptions{Photo: s.file})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if r.Chart == nil || !r.Chart.Found || r.Chart.Mean > 1.2 {
			t.Errorf("%s: chart %+v", name, r.Chart)
			continue
		}
		// Chart lays its corner patches out 24 mm apart from 22 mm in.
		var corners []photo.Point
		for _, i := range []int{18, 5, 0, 23} {
			at := s.at(t, 22+24*(float64(i%6)+0.57), 22+24*(float64(i/6)+0.57))
			corners = append(corners, at)
			x, y := r.Chart.Patches[i].X, r.Chart.Patches[i].Y
			if d := math.Hypot(float64(x)-at.X.Value, float64(y)-at.Y.Value); d > 5 {
				t.Errorf("%s: %s found %.1f pixels from its middle", name, r.Chart.Patches[i].Name, d)
			}
		}
		if len(r.Places) < 19 {
			t.Errorf("%s: %d even places, 21 are not white on white", name, len(r.Places))
		}
		// The chart's middle grey serves as a grey card to check by.
		grey := s.at(t, 22+24*(3+0.57), 22+24*(3+0.57))
		by, err := Measure(MeasureOptions{Photo: s.file, Chart: corners, Grey: []card.Grey{{Place: grey}}})
		if err != nil {
			t.Errorf("%s, pointed at: %v", name, err)
			continue
		}
		if by.GreyCheck == nil || *by.GreyCheck > 1.5 {
			t.Errorf("%s: a grey lies %v ΔE00 from neutral", name, by.GreyCheck)
		}
		for i := range by.Places {
			if d := lab.DE00(by.Places[i].Lab, r.Places[i].Lab); d > 0.7 {
				t.Errorf("%s: place %d differs by %.2f ΔE00 between chart found and pointed at", name, i+1, d)
			}
		}
	}
}

// What is wrong with a picture is named.
func TestMeasureNamesFaults(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*cardphoto.Scene, *cardphoto.Camera)
		want   string
	}{
		"shadow": {func(s *cardphoto.Scene, _ *cardphoto.Camera) { s.Shadow, s.ShadowBy = 0.87*s.W, 0.55 }, "a shadow or a stain lies on the card"},
		"shine":  {func(s *cardphoto.Scene, _ *cardphoto.Camera) { s.Patches[26].Shine = 0.5 }, "shines in"},
		"burnt":  {func(_ *cardphoto.Scene, c *cardphoto.Camera) { c.Exposure = 1.35 }, "burnt out"},
		"lamp":   {func(s *cardphoto.Scene, _ *cardphoto.Camera) { s.Tinge = [3]float64{0.1, 0, -0.15} }, "changes colour by"},
		"tiny":   {func(_ *cardphoto.Scene, c *cardphoto.Camera) { c.W, c.H = 100, 190 }, "no 24-patch chart"},
	} {
		s := shoot(t, 0, true, c.change)
		r, err := Measure(MeasureOptions{Photo: s.file, NoSave: true, Swatches: s.named(t)[1:2], Box: filepath.Join(t.TempDir(), "box.yaml")})
		said := fmt.Sprint(err)
		if err == nil {
			said = strings.Join(r.Warnings, "; ")
			if d := lab.DE00(r.Swatches[0].Lab, s.laid[1].Reflectance.Lab(optics.D65)); d > 4 {
				t.Errorf("%s: the swatch is off by %.1f ΔE00", name, d)
			}
		}
		if !strings.Contains(said, c.want) {
			t.Errorf("%s: %q, want %q", name, said, c.want)
		}
	}
}

func TestMeasureRefuses(t *testing.T) {
	chart, grey := shoot(t, 0, true, nil), shoot(t, 0, false, nil)
	point := func(s string) photo.Point {
		p, err := photo.ParsePoint(s)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	list := filepath.Join(t.TempDir(), "list.csv")
	if err := os.WriteFile(list, []byte("place,tube,ci,paint_parts,white_parts\n99,quay blue,PB29,1,0\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for want, o := range map[string]MeasureOptions{
		"no 24-patch chart was found and no grey card": {Photo: grey.file},
		"no place has the number 99: they run from 1":  {Photo: chart.file, List: list},
		"the chart has 2 corners":                      {Photo: chart.file, Chart: []photo.Point{point("1,1"), point("2,2")}},
		"are not those of the 24-patch chart":          {Photo: chart.file, Chart: []photo.Point{point("20%,50%"), point("60%,50%"), point("60%,80%"), point("20%,80%")}},
		"lies outside the picture":                     {Photo: chart.file, Swatches: []string{"quay blue PB29 masstone@9000,2"}},
		"says no place":                                {Photo: chart.file, Swatches: []string{"quay blue PB29 masstone"}},
		"has no parts":                                 {Photo: chart.file, Swatches: []string{"quay blue PB29@3"}},
		"are the same place":                           {Photo: chart.file, Swatches: []string{"quay blue PB29 masstone@3", "quay blue PB29 1:4@3"}},
		"put all of them into the list":                {Photo: chart.file, List: list, Swatches: []string{"quay blue PB29 1:4@3"}},
		"no such file":                                 {Photo: "nowhere.jpg"},
	} {
		o.NoSave = true
		_, err := Measure(o)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

// The chart's colours are those of its reflectances by the project's own sums,
// and both those of the reference (Ohta's measurements, as the open
// colour-science library 0.4.6 carries them).
func TestChartReference(t *testing.T) {
	for i := range card.Reference {
		p := &card.Reference[i]
		s := optics.Spectrum(p.Reflectance)
		if d := lab.DE00(s.Lab(optics.D65), p.Lab()); d > 0.1 {
			t.Errorf("%s: its reflectance gives %v, the table %v, %.2f ΔE00 apart", p.Name, s.Lab(optics.D65), p.Lab(), d)
		}
	}
}

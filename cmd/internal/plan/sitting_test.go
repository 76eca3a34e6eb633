package plan

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/recipe"
)

func sittingOf(t testing.TB, data []byte, o photo.Options) *Sitting {
	t.Helper()
	s, err := NewSitting(context.Background(), "test.jpg", data, o, nil)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// What is mixed when tubes are taken out is what a search among the others
// finds, for all masses and whichever tubes.
func TestTubesOutIsExact(t *testing.T) {
	ctx := context.Background()
	w := starter(t)
	s := sittingOf(t, landscape(600, 400), photo.Options{})
	d := Division{K: 7}
	all, err := s.Mixes(ctx, w, d, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(1, 2))
	fell := 0
	for range 12 {
		var out []string
		for _, i := range rnd.Perm(16)[:4+rnd.IntN(11)] {
			out = append(out, w.Palette.Tubes[i].Name)
		}
		c, err := w.Carry(out)
		if err != nil {
			t.Fatal(err)
		}
		got, err := s.Mixes(ctx, w, d, c, nil)
		if err != nil {
			t.Fatal(err)
		}
		kit, err := w.carrying(c)
		if err != nil {
			t.Fatal(err)
		}
		for i, m := range got.Masses {
			aim := w.aim(s.cut(d).Masses[i].Lab)
			table, err := kit.Palette.Search(ctx, []lab.Lab{aim}, recipe.SearchOptions{Slack: slack})
			if err != nil {
				t.Fatal(err)
			}
			if want := round(table.Best(0), 3); m.DE00 != want {
				t.Errorf("without %v mass %d is off by %.3f, a search among the others says %.3f", out, m.ID, m.DE00, want)
			}
			if m.BoxDE00 != all.Masses[i].DE00 {
				t.Errorf("mass %d: the whole box's best is %.3f and was %.3f", m.ID, m.BoxDE00, all.Masses[i].DE00)
			}
			if m.DE00 > m.BoxDE00+slack {
				fell++
			}
			a, b := m.Recipes, kit.recipes(aim, table.Recipes(0, w.PortionError))
			if !slices.EqualFunc(a, b, func(x, y Recipe) bool {
				return x.Choice == y.Choice && x.Hex == y.Hex && x.DE00 == y.DE00 && x.P90 == y.P90 && slices.Equal(x.Order, y.Order)
			}) {
				t.Errorf("without %v mass %d gets %v, and by itself %v", out, m.ID, a, b)
			}
		}
	}
	if fell == 0 {
		t.Error("no mass fell far behind the box, which was to be tried")
	}
}

// chequers is a board of single black and white pixels with a plain red field.
func chequers(t *testing.T) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 200, 100))
	for y := range 100 {
		for x := range 200 {
			c := color.RGBA{0, 0, 0, 255}
			if (x+y)%2 == 0 {
				c = color.RGBA{255, 255, 255, 255}
			}
			if x >= 120 {
				c = color.RGBA{180, 60, 40, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A spot is averaged in light: half black and half white is sRGB 188 (IEC
// 61966-2-1), value 7.6, and not 128.
func TestSpotIsReadInLight(t *testing.T) {
	s := sittingOf(t, chequers(t), photo.Options{})
	board, err := s.spot(0.25, 0.5, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	if r, _, _, _ := board.Lab.SRGB8(); math.Abs(float64(r)-188) > 1 {
		t.Errorf("black and white average to %d, %v", r, board.Lab)
	}
	if board.Uneven < unevenSpot || board.Note == "" {
		t.Errorf("the board is said to be even (%.1f)", board.Uneven)
	}
	red, err := s.spot(0.8, 0.5, 0.02)
	if err != nil {
		t.Fatal(err)
	}
	if want := lab.FromSRGB8(180, 60, 40); lab.DE00(red.Lab, want) > 0.1 || lab.DE00(red.Median, want) > 0.1 || red.Uneven > 0.1 {
		t.Errorf("the red field reads %v, in the middle %v, uneven by %.2f; it is %v", red.Lab, red.Median, red.Uneven, want)
	}
	// Half over the edge the median keeps to what there is more of.
	edge, err := s.spot(0.605, 0.5, 0.02)
	if err != nil {
		t.Fatal(err)
	}
	if lab.DE00(edge.Lab, red.Lab) < 3 {
		t.Errorf("over the edge the mean is %v", edge.Lab)
	}
	for _, bad := range [][3]float64{{-0.1, 0.5, 0}, {0.5, 1.1, 0}, {math.NaN(), 0.5, 0}, {0.5, 0.5, 0.3}, {0.5, 0.5, math.NaN()}} {
		if _, err := s.spot(bad[0], bad[1], bad[2]); err == nil {
			t.Errorf("a spot at %v is read", bad)
		}
	}
}

// What tubes can paint of a picture: with all of them nearly everything; of what
// is kept and what is lost the search says the same, but for the cloud's slack.
func TestPreviewAgreesWithTheSearch(t *testing.T) {
	ctx := context.Background()
	w := starter(t)
	s := sittingOf(t, landscape(300, 200), photo.Options{})
	var out []string
	for _, tube := range w.Palette.Tubes {
		if !slices.Contains([]string{"titanium white", "yellow ochre", "light red", "ivory black"}, tube.Name) {
			out = append(out, tube.Name)
		}
	}
	c, err := w.Carry(out)
	if err != nil || len(c) != 4 {
		t.Fatalf("%d tubes carried, %v", len(c), err)
	}
	all, err := s.Preview(ctx, w, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	few, err := s.Preview(ctx, w, c, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !(all.Kept > 0.97 && few.Kept < all.Kept-0.05) {
		t.Errorf("kept: %.3f by all, %.3f by four earths", all.Kept, few.Kept)
	}
	kit, err := w.carrying(c)
	if err != nil {
		t.Fatal(err)
	}
	small := s.study.analysis.Small
	var aims []lab.Lab
	var lost []uint8
	for i := 137; i < small.W*small.H; i += 1009 {
		aims = append(aims, w.aim(lab.FromLinear(float64(small.Pix[3*i]), float64(small.Pix[3*i+1]), float64(small.Pix[3*i+2]))))
		lost = append(lost, few.Lost.Index[i])
	}
	table, err := kit.Palette.Search(ctx, aims, recipe.SearchOptions{Improving: true})
	if err != nil {
		t.Fatal(err)
	}
	for i := range aims {
		// Bins are 1.5 units wide, so that their middle may lie 1.3 off.
		best := table.Best(i)
		if lost[i] == 0 && best > near+1.3 || lost[i] > 0 && best < near-recipe.CloudSlack-1.3 {
			t.Errorf("%v: off by %.2f at best, and marked %d", aims[i], best, lost[i])
		}
	}
}

// The plan that is taken along is what the page showed.
func TestPlanIsWhatWasSeen(t *testing.T) {
	ctx := context.Background()
	w := starter(t)
	canvas := photo.Canvas{Width: 400, Height: 300}
	s := sittingOf(t, landscape(600, 400), photo.Options{Canvas: &canvas})
	d := Division{K: 6}
	c, err := w.Carry([]string{"ivory black", "cadmium orange"})
	if err != nil {
		t.Fatal(err)
	}
	film, err := ParseFilm("knife")
	if err != nil {
		t.Fatal(err)
	}
	m, err := s.Plan(ctx, w, d, c, film, false, nil)
	if err != nil {
		t.Fatal(err)
	}
	look, err := s.Mixes(ctx, w, d, c, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, mass := range m.Plan.Masses {
		seen := look.Masses[i].Recipes
		if len(mass.Recipes) != len(seen) || mass.Recipes[0].Hex != seen[0].Hex || mass.Recipes[0].DE00 != seen[0].DE00 {
			t.Errorf("mass %d: planned %v, seen %v", mass.ID, mass.Recipes[0], seen[0])
		}
	}
	if m.Plan.Kit == nil || len(m.Plan.Kit.Tubes) != 14 || m.Plan.Quantities == nil {
		t.Errorf("the plan carries %v, measures out %v", m.Plan.Kit, m.Plan.Quantities)
	}
	if w, h := m.Pictures.W, m.Pictures.H; math.Abs(float64(w)/float64(h)-4.0/3) > 0.01 {
		t.Errorf("cut to 4 by 3 the picture is %d × %d", w, h)
	}
}

// Who asks for what somebody else works out waits for it; where that one gives
// up, the next takes it up.
func TestKeptOnce(t *testing.T) {
	var k kept[int, int]
	k.most = 2
	begun, works := make(chan bool), 0
	ctx, stop := context.WithCancel(context.Background())
	var wg sync.WaitGroup
	wg.Go(func() {
		_, err := k.get(ctx, 1, func(ctx context.Context) (int, error) {
			close(begun)
			<-ctx.Done()
			return 0, ctx.Err()
		})
		if !errors.Is(err, context.Canceled) {
			t.Errorf("the one who gave up hears %v", err)
		}
	})
	<-begun
	for range 5 {
		wg.Go(func() {
			v, err := k.get(context.Background(), 1, func(context.Context) (int, error) {
				works++ // never twice at once
				return 7, nil
			})
			if v != 7 || err != nil {
				t.Errorf("%d, %v", v, err)
			}
		})
	}
	time.Sleep(10 * time.Millisecond)
	stop()
	wg.Wait()
	if works != 1 {
		t.Errorf("it was worked out %d times", works)
	}
	for i := range 4 {
		if _, err := k.get(context.Background(), i, func(context.Context) (int, error) { return i, nil }); err != nil {
			t.Fatal(err)
		}
	}
	if len(k.of) != 2 || len(k.age) != 2 {
		t.Errorf("%d are kept, in an order of %d", len(k.of), len(k.age))
	}
	func() {
		defer func() { recover() }()
		k.get(context.Background(), 9, func(context.Context) (int, error) { panic("a fault") })
	}()
	if v, err := k.get(context.Background(), 9, func(context.Context) (int, error) { return 9, nil }); v != 9 || err != nil {
		t.Errorf("after a fault: %d, %v", v, err)
	}
}

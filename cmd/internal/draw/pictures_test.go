package draw

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"testing"

	"pgregory.net/rapid"

	"paintout/analyze/lab"
	"paintout/cmd/internal/plan"
)

func drawn(t *testing.T, f func(io.Writer) error) image.Image {
	t.Helper()
	var b bytes.Buffer
	if err := f(&b); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

func at(img image.Image, x, y int) color.RGBA {
	r, g, b, a := img.At(x, y).RGBA()
	return color.RGBA{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8), uint8(a >> 8)}
}

// Away from numbers and outlines a repainted picture is in its masses' colours.
func TestRepainted(t *testing.T) {
	p, pics := fixture(600, 400, 0)
	masses := drawn(t, func(w io.Writer) error { return MassesPNG(w, p, pics) })
	mixed := drawn(t, func(w io.Writer) error { return MixedPNG(w, p, pics) })
	if masses.Bounds() != image.Rect(0, 0, 600, 400) {
		t.Fatalf("the picture measures %v", masses.Bounds())
	}
	plain := 0
	for i, v := range pics.Masses {
		x, y := i%600, i/600
		m := p.Masses[v]
		if at(masses, x, y) == rgb(m.AimHex) {
			plain++
		}
		if got, want := at(mixed, x, y), rgb(m.First().Hex); got != want {
			t.Fatalf("at %d, %d the mixes give %v, want %v", x, y, got, want)
		}
	}
	if share := float64(plain) / float64(len(pics.Masses)); share < 0.9 || share == 1 {
		t.Errorf("%.3f of the picture is in its masses' colours, want most of it but numbers and outlines", share)
	}
}

func TestValuesAreNeutral(t *testing.T) {
	p, pics := fixture(300, 200, 4)
	for _, n := range []int{2, 3, 5} {
		img := drawn(t, func(w io.Writer) error { return ValuesPNG(w, p, pics, n) })
		for i, v := range pics.Values[n] {
			c := at(img, i%300, i/300)
			if c.R != c.G || c.G != c.B {
				t.Fatalf("%d values: %v is not neutral", n, c)
			}
			// Half an 8-bit level is at most 0.03 of a value above value 1.
			if want := p.ValueSteps[n][v].Value; math.Abs(labOf(c).Value()-want) > 0.03 {
				t.Fatalf("%d values: a step of value %.2f is shown as %.2f", n, want, labOf(c).Value())
			}
		}
	}
}

// Contrast is that of WCAG 2.2: (Y1 + 0.05)/(Y2 + 0.05); its AA asks for 4.5.
func TestInkReads(t *testing.T) {
	y := func(c color.RGBA) float64 { return labOf(c).XYZ(lab.D65).Y / 100 }
	contrast := func(a, b color.RGBA) float64 {
		p, q := y(a)+0.05, y(b)+0.05
		return max(p, q) / min(p, q)
	}
	for r := 0; r < 256; r += 15 {
		for g := 0; g < 256; g += 5 {
			for b := 0; b < 256; b += 15 {
				c := color.RGBA{uint8(r), uint8(g), uint8(b), 255}
				if got := contrast(c, inkOn(c)); got < 4.5 {
					t.Fatalf("ink on %v has a contrast of %.2f", c, got)
				}
			}
		}
	}
	if got := contrast(Surround, ink); got < 7 {
		t.Errorf("ink on the surround has a contrast of %.2f, want 7 (WCAG 2.2 AAA)", got)
	}
	if got := labOf(Surround).L; math.Abs(got-70) > 0.5 {
		t.Errorf("the surround is L* %.1f, and says 70", got)
	}
	if got := y(Surround); math.Abs(got-0.41) > 0.005 {
		t.Errorf("the surround reflects %.3f, and says 41 %%", got)
	}
}

// Whatever the masses, each pile stands once, within the field, on its own
// ground, light rows above dark ones and cooler piles left of warmer ones.
func TestArrange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, maxMasses).Draw(t, "masses")
		masses := make([]plan.Mass, n)
		for i := range masses {
			masses[i] = plan.Mass{ID: i + 1,
				AimValue: rapid.Float64Range(0, 10).Draw(t, "value"),
				Warmth:   rapid.Float64Range(-1.5, 1.5).Draw(t, "warmth"),
				Share:    rapid.Float64Range(0, 1).Draw(t, "share"),
				Accent:   rapid.Bool().Draw(t, "accent")}
		}
		seen := map[int]bool{}
		rows := func(rows []row, accents bool) {
			last := math.Inf(1)
			for _, r := range rows {
				if !accents && float64(r.Value) > last {
					t.Fatalf("a row of value %d stands below one of %g", r.Value, last)
				}
				last = float64(r.Value)
				end := 0
				for k, s := range r.Spots {
					m := masses[s.Mass]
					if s.Start < end || s.Len < pileMin || s.Start+s.Len > fieldCols {
						t.Fatalf("pile %d lies at %d, %d wide, after %d", m.ID, s.Start, s.Len, end)
					}
					end = s.Start + s.Len
					if k > 0 && masses[r.Spots[k-1].Mass].Warmth > m.Warmth {
						t.Fatalf("pile %d is cooler than the one to its left", m.ID)
					}
					if m.Accent != accents || !accents && math.Abs(m.AimValue-float64(r.Value)) > 0.5 {
						t.Fatalf("pile %d of value %.2f (accent %v) lies in row %d", m.ID, m.AimValue, m.Accent, r.Value)
					}
					if seen[s.Mass] {
						t.Fatalf("pile %d lies twice", m.ID)
					}
					seen[s.Mass] = true
				}
			}
		}
		pal := arrange(masses)
		rows(pal.Rows, false)
		rows(pal.Accents, true)
		if len(seen) != n {
			t.Fatalf("%d of %d piles lie on the palette", len(seen), n)
		}
	})
}

// A strip fills its width, and gives each mass its share of what is free.
func TestStrip(t *testing.T) {
	p, _ := fixture(300, 200, 0)
	bands := strip(p.Masses, 1500, 32)
	x := 0
	for _, b := range bands {
		if b.X0 != x || b.X1-b.X0 < 32 {
			t.Fatalf("mass %d lies from %d to %d, after %d", b.Mass, b.X0, b.X1, x)
		}
		x = b.X1
		if want := 32 + p.Masses[b.Mass].Share*float64(1500-32*len(bands)); math.Abs(float64(b.X1-b.X0)-want) > 1 {
			t.Errorf("mass %d is %d wide, want %.1f", b.Mass, b.X1-b.X0, want)
		}
	}
	if x != 1500 || len(bands) != len(p.Masses) {
		t.Errorf("%d bands end at %d", len(bands), x)
	}
	if got := strip([]plan.Mass{{}, {}}, 100, 10); got[0].X1 != 50 {
		t.Errorf("masses without shares are divided at %d, want 50", got[0].X1)
	}
}

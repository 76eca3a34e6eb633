package draw

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"image"
	imagedraw "image/draw"
	"image/jpeg"
	"io"
	"math"

	"paintout/cmd/internal/plan"
	"paintout/inventory"
)

var (
	//go:embed assets/overview.html
	overviewHTML string
	//go:embed assets/overview.css
	overviewCSS string

	overviewTemplate = template.Must(template.New("overview").Funcs(template.FuncMap{"code": codeOf}).Parse(overviewHTML))
)

// Item is one photo of an overview.
type Item struct {
	Plan     *plan.Plan
	Pictures *plan.Pictures
	Link     string // the plan's page, relative to the overview
}

type overviewFacts struct {
	CSP    string
	CSS    template.CSS
	Photos []overviewPhoto
	Tubes  []overviewTube
	Scope  string
	Care   []string
}

type overviewPhoto struct {
	N        int
	Title    string
	Page     string
	Photo    template.URL
	W, H     int
	Piles    int
	Tubes    int
	Within   string
	Bars     []overviewBar
	Warnings []string
}

type overviewBar struct {
	X, Width int
	Colour   string
}

type overviewTube struct {
	plan.Tube
	Class string
	For   []int // photos, by number
}

const thumbSide = 720

// Overview writes the page that lies on top of several plans: each photo with
// its masses in a strip and a link to its page, and the tubes for all of them.
// Like [Folder] it is one file that asks for nothing else.
func Overview(w io.Writer, items []Item) error {
	if err := checkItems(items); err != nil {
		return err
	}
	sheet := newSheet()
	f := overviewFacts{Scope: inventory.CautionScope, Care: inventory.GeneralCare}
	for n, e := range items {
		tw, th := thumbSize(e.Pictures, thumbSide)
		var b bytes.Buffer
		if err := jpeg.Encode(&b, shrink(e.Pictures.Photo, tw, th), &jpeg.Options{Quality: 78}); err != nil {
			return fmt.Errorf("draw: the overview's picture of %s: %w", e.Plan.Photo.Path, err)
		}
		o := overviewPhoto{N: n + 1, Title: e.Plan.Title, Page: e.Link, Photo: dataURI("image/jpeg", b.Bytes()), W: tw, H: th,
			Piles: len(e.Plan.Masses), Within: percent(e.Plan.Within3), Warnings: e.Plan.Warnings}
		for _, s := range strip(e.Plan.Masses, 1000, 12) {
			o.Bars = append(o.Bars, overviewBar{s.X0, s.X1 - s.X0, hexOf(rgb(e.Plan.Masses[s.Mass].AimHex))})
		}
		for _, t := range e.Plan.Box.Tubes {
			if len(t.UsedIn) > 0 {
				o.Tubes++
			}
		}
		f.Photos = append(f.Photos, o)
	}
	for _, t := range allTubes(items) {
		t.Class = sheet.colour(t.Hex)
		f.Tubes = append(f.Tubes, t)
	}
	f.CSS = template.CSS(overviewCSS + sheet.String())
	f.CSP = fmt.Sprintf("default-src 'none'; img-src data:; style-src '%s'; base-uri 'none'; form-action 'none'", sourceHash(string(f.CSS)))
	var buf bytes.Buffer
	if err := overviewTemplate.Execute(&buf, f); err != nil {
		return fmt.Errorf("draw: the overview: %w", err)
	}
	_, err := w.Write(buf.Bytes())
	return err
}

// OverviewPNG is the overview as one picture, 1600 pixels wide: the photos two
// abreast, each over its strip of masses.
func OverviewPNG(w io.Writer, items []Item) error {
	if err := checkItems(items); err != nil {
		return err
	}
	const width, margin, gap, high, bar, foot = 1600, 40, 40, 500, 70, 84
	cell := (width - 2*margin - gap) / 2
	rows := (len(items) + 1) / 2
	c := newCanvas(width, margin+rows*(high+bar+foot))
	for n, e := range items {
		x, y := margin+n%2*(cell+gap), margin+n/2*(high+bar+foot)
		s := min(float64(cell)/float64(e.Pictures.W), high/float64(e.Pictures.H))
		tw, th := max(1, int(s*float64(e.Pictures.W))), max(1, int(s*float64(e.Pictures.H)))
		at := image.Rect(x, y+high-th, x+tw, y+high) // stands on its strip
		imagedraw.Draw(c.RGBA, at, shrink(e.Pictures.Photo, tw, th), image.Point{}, imagedraw.Src)
		for _, b := range strip(e.Plan.Masses, cell, 10) {
			c.rect(x+b.X0, y+high, x+b.X1, y+high+bar, rgb(e.Plan.Masses[b.Mass].AimHex))
		}
		label := c.fitted(fmt.Sprintf("%d  %s", n+1, e.Plan.Title), float64(cell), true, 30)
		c.text(float64(x), float64(y+high+bar+40), label, true, 30, ink)
	}
	return c.png(w)
}

func checkItems(items []Item) error {
	if len(items) == 0 {
		return fmt.Errorf("draw: an overview needs at least one plan")
	}
	for _, e := range items {
		if err := check(e.Plan, e.Pictures); err != nil {
			return err
		}
	}
	return nil
}

func thumbSize(pics *plan.Pictures, side int) (w, h int) {
	s := min(1, float64(side)/float64(max(pics.W, pics.H)))
	return max(1, int(math.Round(s*float64(pics.W)))), max(1, int(math.Round(s*float64(pics.H))))
}

// allTubes joins the tubes that any plan's first mixes need, in the order they
// first appear.
func allTubes(items []Item) []overviewTube {
	var out []overviewTube
	at := map[[2]string]int{}
	for n, e := range items {
		for _, t := range e.Plan.Box.Tubes {
			if len(t.UsedIn) == 0 {
				continue
			}
			k := [2]string{t.Name, t.CI}
			i, ok := at[k]
			if !ok {
				i = len(out)
				at[k] = i
				out = append(out, overviewTube{Tube: t})
			}
			out[i].For = append(out[i].For, n+1)
		}
	}
	return out
}

//go:build linux

package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"time"

	"golang.org/x/image/draw"

	"paintout/analyze"
	"paintout/analyze/lab"
	"paintout/analyze/photo"
	"paintout/inventory"
	"paintout/inventory/optics"
	"paintout/recipe"
)

// side does one side's work in a process of its own and prints a Report.
func side(name string, args []string) error {
	f := map[string]func([]string) (Report, error){
		"scale": scale, "decode": decode, "analyze": masses, "judge": judgePhoto, "labs": labs,
		"mixes": mixes, "instance": instance, "judgemixes": judgeMixes, "box": box,
	}[name]
	if f == nil {
		return fmt.Errorf("no side %q", name)
	}
	r, err := f(args)
	if err != nil {
		return err
	}
	return json.NewEncoder(os.Stdout).Encode(r)
}

// scale makes a JPEG of so many megapixels from another, with grain as a
// camera's, which is what decoding takes time for: photo, megapixels, file.
func scale(args []string) (Report, error) {
	f, err := os.Open(args[0])
	if err != nil {
		return Report{}, err
	}
	defer f.Close()
	src, err := jpeg.Decode(bufio.NewReader(f))
	if err != nil {
		return Report{}, err
	}
	mp, err := strconv.ParseFloat(args[1], 64)
	if err != nil {
		return Report{}, err
	}
	by := math.Sqrt(mp * 1e6 / float64(src.Bounds().Dx()*src.Bounds().Dy()))
	m := image.NewRGBA(image.Rect(0, 0, int(by*float64(src.Bounds().Dx())), int(by*float64(src.Bounds().Dy()))))
	draw.ApproxBiLinear.Scale(m, m.Rect, src, src.Bounds(), draw.Src, nil)
	rng := rand.New(rand.NewPCG(24, 1))
	for i := range m.Pix {
		if i%4 < 3 {
			m.Pix[i] = uint8(min(max(int(m.Pix[i])+rng.IntN(9)-4, 0), 255))
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 90}); err != nil {
		return Report{}, err
	}
	return Report{}, os.WriteFile(args[2], b.Bytes(), 0o644)
}

func decode(args []string) (Report, error) {
	start := time.Now()
	data, err := os.ReadFile(args[0])
	if err != nil {
		return Report{}, err
	}
	m, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		return Report{}, err
	}
	return Report{Seconds: time.Since(start).Seconds(), Pixels: m.Bounds().Dx() * m.Bounds().Dy()}, nil
}

func masses(args []string) (Report, error) {
	start := time.Now()
	p, err := photo.Open(args[0], photo.Options{})
	if err != nil {
		return Report{}, err
	}
	a, err := analyze.Analyze(context.Background(), p, analyze.Options{K: 12, NoAccents: len(args) > 1})
	if err != nil {
		return Report{}, err
	}
	r := Report{Seconds: time.Since(start).Seconds(), Pixels: p.Width * p.Height}
	for _, m := range a.Masses {
		r.Labs = append(r.Labs, [3]float64{m.Lab.L, m.Lab.A, m.Lab.B})
	}
	return r, nil
}

// judgePhoto gives the mean ΔE00 of every 97th pixel from the nearest of some
// colours: photo, colours.
func judgePhoto(args []string) (Report, error) {
	p, err := photo.Open(args[0], photo.Options{})
	if err != nil {
		return Report{}, err
	}
	var colours [][3]float64
	if err := json.Unmarshal([]byte(args[1]), &colours); err != nil || len(colours) == 0 {
		return Report{}, fmt.Errorf("no colours: %w", err)
	}
	row := make([]float32, 3*p.Width)
	sum, n := 0.0, 0
	for y := range p.Height {
		p.Row(y, row)
		for x := (97 - y*p.Width%97) % 97; x < p.Width; x += 97 {
			v := lab.FromLinear(float64(row[3*x]), float64(row[3*x+1]), float64(row[3*x+2]))
			least := math.Inf(1)
			for _, c := range colours {
				least = min(least, lab.DE00(v, lab.Lab{L: c[0], A: c[1], B: c[2]}))
			}
			sum += least
			n++
		}
	}
	return Report{Error: sum / float64(n), Pixels: n}, nil
}

// labs writes the Lab of every pixel as float32: photo, file.
func labs(args []string) (Report, error) {
	p, err := photo.Open(args[0], photo.Options{})
	if err != nil {
		return Report{}, err
	}
	f, err := os.Create(args[1])
	if err != nil {
		return Report{}, err
	}
	w := bufio.NewWriter(f)
	row := make([]float32, 3*p.Width)
	for y := range p.Height {
		p.Row(y, row)
		for x := 0; x < len(row); x += 3 {
			v := lab.FromLinear(float64(row[x]), float64(row[x+1]), float64(row[x+2]))
			row[x], row[x+1], row[x+2] = float32(v.L), float32(v.A), float32(v.B)
		}
		if err := binary.Write(w, binary.LittleEndian, row); err != nil {
			return Report{}, err
		}
	}
	if err := w.Flush(); err != nil {
		return Report{}, err
	}
	return Report{}, f.Close()
}

// labsOf is the Lab of 8-bit sRGB triples.
func labsOf(rgb []byte) (out [][3]float64) {
	for i := 0; i+3 <= len(rgb); i += 3 {
		v := lab.FromSRGB8(rgb[i], rgb[i+1], rgb[i+2])
		out = append(out, [3]float64{v.L, v.A, v.B})
	}
	return out
}

// tubes are one white and n coloured tubes spread over the library.
func tubes(n int) ([]*inventory.Tube, error) {
	white, err := inventory.Find("PW6")
	if err != nil {
		return nil, err
	}
	out := []*inventory.Tube{white.Tube()}
	var colours []*inventory.Tube
	for _, p := range inventory.Library() {
		if t := p.Tube(); !t.White {
			colours = append(colours, t)
		}
	}
	if n > len(colours) {
		return nil, fmt.Errorf("%d coloured tubes asked for, the library has %d", n, len(colours))
	}
	for i := range n {
		out = append(out, colours[i*len(colours)/n])
	}
	return out, nil
}

// problem is a palette and aims that are mixes of three of its tubes with
// white, in amounts no ladder has: tubes, aims.
func problem(args []string) (p *recipe.Palette, aims []lab.Lab, spectra []optics.Spectrum, err error) {
	n, e := strconv.Atoi(args[0])
	if e != nil {
		return nil, nil, nil, e
	}
	k, e := strconv.Atoi(args[1])
	if e != nil {
		return nil, nil, nil, e
	}
	ts, err := tubes(n)
	if err != nil {
		return nil, nil, nil, err
	}
	p, err = recipe.NewPalette(ts, optics.Included)
	if err != nil {
		return nil, nil, nil, err
	}
	rng := rand.New(rand.NewPCG(12, 34))
	for range k {
		of := rng.Perm(n)
		s, l := p.Mix([]recipe.Part{{Tube: 0, Parts: 20 * rng.Float64()}, {Tube: 1 + of[0], Parts: rng.Float64()}, {Tube: 1 + of[1], Parts: rng.Float64()}, {Tube: 1 + of[2], Parts: rng.Float64()}})
		aims, spectra = append(aims, l), append(spectra, s)
	}
	return p, aims, spectra, nil
}

func mixes(args []string) (Report, error) {
	p, aims, _, err := problem(args)
	if err != nil {
		return Report{}, err
	}
	start := time.Now()
	t, err := p.Search(context.Background(), aims, recipe.SearchOptions{Slack: 2.5})
	if err != nil {
		return Report{}, err
	}
	r := Report{Seconds: time.Since(start).Seconds()}
	for a := range aims {
		r.Error += t.Best(a) / float64(len(aims))
		r.Worst = max(r.Worst, t.Best(a))
	}
	return r, nil
}

// instance writes a problem for the other side: tubes, aims, file.
func instance(args []string) (Report, error) {
	p, aims, spectra, err := problem(args)
	if err != nil {
		return Report{}, err
	}
	x, y, z := optics.D65.Weights()
	w := optics.D65.White()
	d := struct {
		K, S, Weights, Spectra [][]float64
		White                  [3]float64
		Aims                   [][3]float64
		K1, K2                 float64
	}{White: [3]float64{w.X, w.Y, w.Z}, K1: optics.DrySurface.K1, K2: optics.DrySurface.K2}
	for _, t := range p.Tubes {
		d.K, d.S = append(d.K, t.Paint.K[:]), append(d.S, t.Paint.S[:])
	}
	for _, s := range []*optics.Spectrum{x, y, z} {
		d.Weights = append(d.Weights, s[:])
	}
	for i, a := range aims {
		d.Aims = append(d.Aims, [3]float64{a.L, a.A, a.B})
		d.Spectra = append(d.Spectra, spectra[i][:])
	}
	data, err := json.Marshal(d)
	if err != nil {
		return Report{}, err
	}
	return Report{}, os.WriteFile(args[2], data, 0o644)
}

// judgeMixes gives the ΔE00 of mixes from their aims: tubes, aims, mixes.
func judgeMixes(args []string) (Report, error) {
	p, aims, _, err := problem(args)
	if err != nil {
		return Report{}, err
	}
	var ms [][]Amount
	if err := json.Unmarshal([]byte(args[2]), &ms); err != nil || len(ms) != len(aims) {
		return Report{}, fmt.Errorf("%d mixes for %d aims: %w", len(ms), len(aims), err)
	}
	var r Report
	for i, m := range ms {
		var parts []recipe.Part
		for _, a := range m {
			parts = append(parts, recipe.Part{Tube: a.Tube, Parts: a.Parts})
		}
		_, l := p.Mix(parts)
		e := lab.DE00(l, aims[i])
		r.Error += e / float64(len(ms))
		r.Worst = max(r.Worst, e)
	}
	return r, nil
}

// box saves a box: coloured tubes, file.
func box(args []string) (Report, error) {
	n, err := strconv.Atoi(args[0])
	if err != nil {
		return Report{}, err
	}
	ts, err := tubes(n)
	if err != nil {
		return Report{}, err
	}
	b := &inventory.Box{Tubes: ts}
	return Report{}, b.Save(args[1])
}

//go:build linux

package main

import (
	"bytes"
	"fmt"
	"math"
	"strings"
)

// A panel is CPU seconds against one size.
type panel struct {
	title, axis string
	x, y        []float64
}

func (p *panel) add(x, y float64) { p.x, p.y = append(p.x, x), append(p.y, y) }

// plot draws panels side by side, each from nought, points joined.
func plot(panels ...panel) []byte {
	const w, h, left, top, right, bottom = 300.0, 260.0, 46.0, 34.0, 18.0, 44.0
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%g" height="%g" font-family="sans-serif" font-size="11" fill="#222">`+"\n"+`<rect width="100%%" height="100%%" fill="#fff"/>`+"\n", w*float64(len(panels)), h)
	for i, p := range panels {
		x0 := w * float64(i)
		xs, ys := ticks(p.x), ticks(p.y)
		px := func(v float64) float64 { return x0 + left + v/xs[len(xs)-1]*(w-left-right) }
		py := func(v float64) float64 { return h - bottom - v/ys[len(ys)-1]*(h-top-bottom) }
		text := func(x, y float64, anchor, s string) {
			fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" text-anchor="%s">%s</text>`+"\n", x, y, anchor, s)
		}
		text(x0+left, top-16, "start", p.title+": CPU seconds")
		for _, v := range ys {
			fmt.Fprintf(&b, `<path d="M%.1f %.1fH%.1f" stroke="#ddd"/>`+"\n", px(0), py(v), px(xs[len(xs)-1]))
			text(px(0)-6, py(v)+4, "end", fmt.Sprintf("%g", v))
		}
		for _, v := range xs {
			text(px(v), py(0)+16, "middle", fmt.Sprintf("%g", v))
		}
		text(px(xs[len(xs)-1]/2), h-10, "middle", p.axis)
		var line strings.Builder
		for k := range p.x {
			fmt.Fprintf(&line, "%.1f,%.1f ", px(p.x[k]), py(p.y[k]))
			fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="3" fill="#24557a"/>`+"\n", px(p.x[k]), py(p.y[k]))
		}
		fmt.Fprintf(&b, `<polyline points="%s" fill="none" stroke="#24557a" stroke-width="1.5"/>`+"\n", line.String())
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}

// ticks are round steps from nought to past the greatest value.
func ticks(v []float64) []float64 {
	most := 1e-9
	for _, x := range v {
		most = max(most, x)
	}
	step := math.Pow(10, math.Floor(math.Log10(most/4)))
	for _, by := range []float64{1, 2, 5, 10} {
		if most/(by*step) <= 5 {
			step *= by
			break
		}
	}
	out := []float64{0}
	for k := 1.0; out[len(out)-1] < most; k++ {
		out = append(out, math.Round(k*step*1e6)/1e6)
	}
	return out
}

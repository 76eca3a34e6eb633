package main

import (
	"fmt"
	"os"
	"strings"

	"paintout/cmd/internal/cardphoto"
	"paintout/inventory/optics"
)

// cardPhoto is "cardphoto chart|grey": it renders card.jpg, the swatches of the
// evening class on the Marrow Sound (invented), and writes card.csv, which
// names them by where they lie; with a grey card it prints where that is.
func cardPhoto() {
	chart := len(os.Args) > 1 && os.Args[1] == "chart"
	s, laid, grey, err := cardphoto.Sheet([]string{"PB29", "PY43", "PR101"}, "PW6", []float64{1, 4}, optics.Included, chart)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	s.FallX, s.Bow = 0.2, 0.1
	c := cardphoto.Phone(s, 0, 480)
	names := map[string]string{"PW6": "chalk white", "PB29": "quay blue", "PY43": "dune ochre", "PR101": "brick red"}
	list := "tube,ci,paint_parts,white_parts,specular,basis,x,y\n"
	for _, d := range laid {
		x, y := c.Middle(s, d.X, d.Y)
		list += fmt.Sprintf("%s,%s,%g,%g,in,volume,%.0f,%.0f\n", names[d.Pigment], d.Pigment, d.Paint, d.White, x, y)
	}
	if !chart {
		x, y := c.Middle(s, grey[0], grey[1])
		fmt.Printf("%.0f,%.0f\n", x, y)
	}
	for name, data := range map[string][]byte{"card.jpg": c.Photo(s), "card.csv": []byte(list), "far.csv": []byte(strings.Replace(list, "chalk white,PW6,0,1,in,volume,", "chalk white,PW6,0,1,in,volume,9", 1))} {
		if err := os.WriteFile(name, data, 0o666); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
}

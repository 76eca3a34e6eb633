package inventory_test

import (
	"fmt"

	"paintout/inventory"
)

func ExampleFind() {
	p, err := inventory.Find("french ultramarine")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(p.Key(), p.Name, "–", p.Lean.Words)
	_, err = inventory.Find("PBr7")
	fmt.Println(err)
	// Output:
	// PB29 ultramarine blue – blue leaning red
	// PBr7 is the code of several paints: write PBr7/raw sienna, PBr7/burnt sienna, PBr7/raw umber or PBr7/burnt umber
}

func ExampleStarter() {
	b := inventory.Starter()
	fmt.Println(len(b.Tubes), "tubes, white:", b.White().Name)
	// Output:
	// 16 tubes, white: titanium white
}

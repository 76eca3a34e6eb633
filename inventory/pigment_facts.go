package inventory

// What the trade says of each pigment. Most of it is from memory of ASTM's
// lightfastness tables (D4302 oil, D5067 watercolour, D5098 acrylic) and of
// common practice and was not checked against them again, so the label on the
// tube wins; from says what else stands behind a row.

// LabelWins goes with every fact of the trade that is shown.
const LabelWins = "Usual values for the pigment; grades differ, and the label on the tube wins."

// Where the facts of a row are from.
const (
	memory       = "from memory"
	mostlyMemory = "; the rest from memory"
)

type facts struct {
	code, name string
	aliases    []string
	family     string
	opacity    Opacity
	strength   string
	lightfast  string
	caution    string
	from       string
}

// Tinting strength in words.
const (
	low      = "low"
	medium   = "medium"
	high     = "high"
	veryHigh = "very high"
)

// tradeFacts is the library's order.
var tradeFacts = []facts{
	{"PW6", "titanium white", nil, "white", Opaque, high, "ASTM I", "", "ordinary care as for any paint (no dust, no spray): the EU's classification of the powder was annulled on 1 August 2025" + mostlyMemory},
	{"PW4", "zinc white", []string{"Chinese white"}, "white", SemiTransparent, low, "ASTM I", cautionZinc, "brittleness: D. Rogala, Smithsonian Museum Conservation Institute" + mostlyMemory},
	{"PW1", "lead white", []string{"flake white", "Cremnitz white"}, "white", SemiOpaque, low, "ASTM I", cautionLead, "hazard: Center for Safety in the Arts; EU REACH Annex XVII, 16–17" + mostlyMemory},

	{"PY3", "arylide lemon yellow", []string{"lemon yellow", "arylide yellow light"}, "yellow", Transparent, low, "ASTM II; grades differ", "", "M. Boddy-Evans, painting.about.com"},
	{"PY184", "bismuth yellow", []string{"bismuth vanadate yellow"}, "yellow", Opaque, medium, "ASTM I", cautionVanadium, memory},
	{"PY53", "nickel titanate yellow", []string{"nickel titanium yellow"}, "pale yellow", Opaque, low, "ASTM I", cautionNickel, "hazard class: a supplier's heavy-metal list" + mostlyMemory},
	{"PY35", "cadmium yellow light", []string{"cadmium lemon", "cadmium yellow pale", "cadmium yellow lemon"}, "yellow", Opaque, medium, "ASTM I", cautionCadmium, "opacity and lightfastness: V. Elliott; grades run from lemon to medium: C. Payzant, American Society of Botanical Artists" + mostlyMemory},
	{"PY151", "benzimidazolone yellow H4G", []string{"azo yellow light"}, "yellow", SemiTransparent, medium, "ASTM I", "", memory},
	{"PY154", "benzimidazolone yellow H3G", []string{"benzimidazolone yellow"}, "yellow", SemiTransparent, medium, "ASTM I", "", "middle hue: B. MacEvoy, handprint.com" + mostlyMemory},
	{"PY74", "arylide yellow", []string{"arylide yellow medium", "arylide yellow opaque"}, "yellow", SemiTransparent, high, "ASTM I to II, by grade", "", memory + "; opaque grades exist, and the one measured is one"},
	{"PY97", "arylide yellow FGL", nil, "yellow", SemiTransparent, medium, "ASTM II", "", memory},
	{"PY150", "nickel azo yellow", []string{"nickel azomethine yellow"}, "yellow", Transparent, high, "ASTM I", cautionNickel, "use on a palette: B. MacEvoy, handprint.com" + mostlyMemory},
	{"PY40", "aureolin", []string{"cobalt yellow"}, "yellow", Transparent, low, "ASTM I in oil; II in watercolour, where it was seen to grey", cautionCobalt, memory},
	{"PY37", "cadmium yellow medium", []string{"cadmium yellow", "cadmium yellow deep"}, "yellow", Opaque, medium, "ASTM I", cautionCadmium, "lean, opacity and lightfastness: C. Payzant, American Society of Botanical Artists" + mostlyMemory},
	{"PY34", "chrome yellow", nil, "yellow", Opaque, medium, "not recommended; darkens", cautionChromate, "hazard: Center for Safety in the Arts" + mostlyMemory},
	{"PY83", "diarylide yellow", []string{"deep yellow"}, "orange yellow", SemiTransparent, high, "ASTM I in its opaque grades; check the label", "", memory},
	{"PY110", "isoindolinone yellow", []string{"isoindolinone yellow R"}, "orange yellow", SemiTransparent, medium, "ASTM I", "", memory},
	{"PY41", "genuine Naples yellow", []string{"lead antimonate", "Naples yellow"}, "pale yellow", Opaque, medium, "ASTM I", cautionLead + " It also holds antimony.", "hazard: noteaccess.com" + mostlyMemory + "; most tubes called Naples yellow are mixes without it"},

	{"PO20", "cadmium orange", nil, "orange", Opaque, medium, "ASTM I", cautionCadmium, memory},
	{"PO62", "benzimidazolone orange", []string{"benzimidazolone orange H5G"}, "orange", SemiOpaque, medium, "ASTM I", "", memory},
	{"PO73", "pyrrole orange", nil, "orange", SemiOpaque, high, "ASTM I or tested by the maker; tints can fade, check the label", "", memory},
	{"PO48", "quinacridone burnt orange", []string{"quinacridone gold"}, "brown orange", Transparent, medium, "ASTM I", "", memory},

	{"PR108", "cadmium red", []string{"cadmium red light", "cadmium red medium"}, "red", Opaque, high, "ASTM I", cautionCadmium, "opacity, strength, lightfastness: V. Elliott; deep grades lean blue" + mostlyMemory},
	{"PR255", "pyrrole scarlet", nil, "orange red", SemiOpaque, high, "ASTM I", "", memory},
	{"PR106", "vermilion", []string{"cinnabar"}, "orange red", Opaque, medium, "ASTM I in oil; may darken", cautionMercury, "hazard: noteaccess.com" + mostlyMemory},
	{"PR254", "pyrrole red", nil, "red", SemiOpaque, high, "ASTM I", "", "lightfastness, opacity: V. Elliott and B. MacEvoy" + mostlyMemory},
	{"PR112", "naphthol red AS-D", []string{"naphthol red light", "naphthol scarlet"}, "red", SemiOpaque, high, "ASTM II", "", memory},
	{"PR170", "naphthol red F3RK", []string{"naphthol red deep"}, "red", SemiOpaque, high, "ASTM I to II, by grade", "", memory},
	{"PR5", "naphthol red medium", []string{"naphthol crimson"}, "red", SemiTransparent, high, "ASTM II", "", memory},
	{"PR209", "quinacridone coral", []string{"quinacridone red Y"}, "red", Transparent, medium, "ASTM I in oil and acrylic; II in watercolour", "", memory},
	{"PR177", "anthraquinone red", nil, "violet red", Transparent, high, "check the label; disputed in watercolour", "", memory},
	{"PR264", "pyrrole rubine", []string{"pyrrole crimson"}, "violet red", Transparent, high, "about ASTM I by makers' tests; check the label", "", "stands in for alizarin: J. Gurney" + mostlyMemory},
	{"PR83", "alizarin crimson", []string{"alizarin", "rose madder hue"}, "violet red", Transparent, high, "ASTM III in oil, III to IV in watercolour: fugitive, fades in tints", cautionFugitive, "lightfastness and substitutes (PR264, PR206, PV19): J. Gurney; strength: J. McGurl" + mostlyMemory},
	{"PR179", "perylene maroon", nil, "dark red", SemiTransparent, medium, "ASTM I", "", memory},
	{"PR206", "quinacridone burnt scarlet", nil, "brown red", Transparent, medium, "ASTM I", "", "stands in for alizarin: J. Gurney" + mostlyMemory},
	{"PV19", "quinacridone red", []string{"quinacridone rose", "permanent rose"}, "violet red", Transparent, medium, "ASTM I", "", "lightfastness: B. MacEvoy, handprint.com" + mostlyMemory + "; the violet form of the code is another colour"},
	{"PR122", "quinacridone magenta", nil, "magenta", Transparent, high, "ASTM I in oil and acrylic; III in watercolour, disputed", "", "lightfastness: B. MacEvoy, by way of J. Gurney" + mostlyMemory},

	{"PV14", "cobalt violet", nil, "red violet", SemiTransparent, low, "ASTM I", cautionCobalt + " An old kind is an arsenate and poisonous.", "lightfastness: paintmaking.com; hue: B. MacEvoy" + mostlyMemory},
	{"PV16", "manganese violet", nil, "violet", SemiTransparent, low, "ASTM I", cautionManganese, memory},
	{"PV15", "ultramarine violet", nil, "violet", Transparent, low, "ASTM I", "", memory},
	{"PV23", "dioxazine violet", []string{"dioxazine purple"}, "blue violet", Transparent, veryHigh, "ASTM I to II by shade in oil and acrylic; III in older watercolour tests; tints may fade", "", "lightfastness: American Society of Botanical Artists; strength: artists' consensus" + mostlyMemory},

	{"PB60", "indanthrone blue", []string{"anthraquinone blue"}, "violet blue", Transparent, high, "ASTM I", "", memory},
	{"PB29", "ultramarine blue", []string{"ultramarine", "French ultramarine"}, "violet blue", Transparent, medium, "ASTM I; attacked by acids", "", memory},
	{"PB28", "cobalt blue", nil, "blue", SemiTransparent, low, "ASTM I", cautionCobalt, "lightfastness: V. Elliott; hazard class: Center for Safety in the Arts" + mostlyMemory},
	{"PB15:1", "phthalo blue red shade", []string{"phthalocyanine blue red shade"}, "blue", Transparent, veryHigh, "ASTM I", cautionPhthalo, "transparency, staining: B. MacEvoy, handprint.com" + mostlyMemory},
	{"PB15:3", "phthalo blue", []string{"phthalocyanine blue"}, "green blue", Transparent, veryHigh, "ASTM I", cautionPhthalo, "transparency, staining: B. MacEvoy, handprint.com" + mostlyMemory},
	{"PB15:4", "phthalo blue green shade", []string{"phthalocyanine blue green shade"}, "green blue", Transparent, veryHigh, "ASTM I", cautionPhthalo, "as PB15:3"},
	{"PB27", "Prussian blue", []string{"iron blue", "Milori blue"}, "green blue", Transparent, veryHigh, "ASTM I; tints with white can fade", cautionPrussian, "strength: J. McGurl; fading tints: a National Gallery study, at second hand" + mostlyMemory},
	{"PB36:1", "cerulean blue chromium", nil, "green blue", SemiOpaque, medium, "ASTM I", cautionCobalt + " It also holds chromium(III).", "against PB35 darker, clearer, stronger: V. Elliott" + mostlyMemory},
	{"PB36", "cobalt chromite blue", []string{"cobalt turquoise"}, "green blue", SemiOpaque, medium, "ASTM I", cautionCobalt + " It also holds chromium(III).", "as PB36:1"},
	{"PB35", "cerulean blue", nil, "green blue", Opaque, low, "ASTM I", cautionCobalt, "lightfastness, hazard: CAMEO, Museum of Fine Arts Boston; opacity: V. Elliott; strength from memory"},
	{"PB33", "manganese blue", nil, "green blue", Transparent, low, "ASTM I", cautionManganese + " It also holds barium.", memory + "; no longer made, and most tubes of the name are phthalo mixes"},

	{"PG50", "cobalt titanate green", []string{"cobalt teal", "cobalt green light"}, "blue green", Opaque, low, "ASTM I", cautionCobalt + " It may hold nickel or lithium.", memory},
	{"PG18", "viridian", nil, "blue green", Transparent, low, "ASTM I", cautionChromium, "clearer and weaker than PG17: V. Elliott, who calls it semi-opaque; lightfastness: paintmaking.com" + mostlyMemory},
	{"PG7", "phthalo green", []string{"phthalo green blue shade", "phthalocyanine green"}, "blue green", Transparent, veryHigh, "ASTM I", cautionPhthalo, "staining, lightfastness: B. MacEvoy, handprint.com" + mostlyMemory},
	{"PG36", "phthalo green yellow shade", []string{"phthalocyanine green yellow shade"}, "green", Transparent, veryHigh, "ASTM I", cautionPhthalo, "use on a palette: B. MacEvoy, handprint.com" + mostlyMemory},
	{"PG17", "chromium oxide green", []string{"oxide of chromium"}, "yellow green", Opaque, medium, "ASTM I", cautionChromium, "opacity: V. Elliott; lightfastness and dust: paintmaking.com" + mostlyMemory},
	{"PG23", "green earth", []string{"terre verte"}, "grey green", Transparent, low, "ASTM I", "", "strength: J. McGurl" + mostlyMemory},

	{"PY43", "yellow ochre", nil, "earth yellow", SemiOpaque, low, "ASTM I", cautionEarth, "lightfastness, hazard: iconofile.com" + mostlyMemory},
	{"PY42", "Mars yellow", []string{"synthetic ochre", "yellow iron oxide"}, "earth yellow", SemiOpaque, medium, "ASTM I", "", memory},
	{"PBr7", "raw sienna", nil, "earth yellow", SemiTransparent, low, "ASTM I", cautionEarth, "weaker and clearer when natural: S. Saitzyk, Art Hardware" + mostlyMemory},
	{"PBr7", "burnt sienna", nil, "earth red", SemiTransparent, medium, "ASTM I", cautionEarth, "often a synthetic oxide under this code: B. MacEvoy, handprint.com" + mostlyMemory},
	{"PR101", "red iron oxide", []string{"light red", "red oxide", "Mars red", "Venetian red", "English red"}, "earth red", Opaque, high, "ASTM I", "", memory + "; deep grades (Indian red) lean blue, transparent grades exist"},
	{"PR102", "natural red earth", []string{"red ochre"}, "earth red", SemiOpaque, medium, "ASTM I", cautionEarth, memory},
	{"PBr7", "raw umber", nil, "brown", SemiTransparent, low, "ASTM I", cautionManganese, "strength: J. McGurl" + mostlyMemory},
	{"PBr7", "burnt umber", nil, "brown", SemiTransparent, medium, "ASTM I", cautionManganese, memory},

	{"PBk9", "ivory black", []string{"bone black"}, "black", SemiOpaque, medium, "ASTM I", "", "leans blue when tinted: portrait-artist.org" + mostlyMemory},
	{"PBk11", "Mars black", []string{"iron oxide black"}, "black", Opaque, high, "ASTM I", "", memory},
	{"PBk6", "lamp black", nil, "black", Opaque, veryHigh, "ASTM I", cautionCarbon, "hazard: Center for Safety in the Arts" + mostlyMemory},
	{"PBk7", "carbon black", nil, "black", Opaque, veryHigh, "ASTM I", cautionCarbon, "as PBk6"},
}

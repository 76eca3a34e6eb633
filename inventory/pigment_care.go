package inventory

// CautionScope goes with every caution that is shown.
const CautionScope = "This is the usual caution only; the label, the safety data sheet and local rules prevail."

// GeneralCare is what holds for every tube in the box, one line each.
var GeneralCare = []string{
	"Do not eat, drink or smoke at work, and never point a brush with the lips.",
	"Do not spray, sand or heat paint; its dust and fumes are what harms most.",
	"Wash hands after work; keep paint off food, children and animals.",
	"Keep rinse water, paint sludge and solvent out of drains, streams and soil.",
	"Solvents: open air or a draught, a closed jar, no flame near.",
	"Rags with drying oil can set themselves alight: keep them wet in a closed metal tin, or spread them to dry outdoors.",
	"Labels to look for: ASTM D4236 (chronic hazards of art materials, United States) and the hazard signs of EU CLP, Regulation (EC) 1272/2008.",
}

// Usual cautions by what is in the pigment.
const (
	cautionCadmium   = "Cadmium compound: do not spray, sand or heat it, keep it out of the mouth, wash hands."
	cautionCobalt    = "Cobalt compound: may make some people allergic; no dust, no spray."
	cautionNickel    = "Nickel compound: may make some people allergic; no dust, no spray."
	cautionManganese = "Holds manganese: no dust, no spray."
	cautionVanadium  = "Vanadium compound: no dust, no spray."
	cautionChromium  = "Chromium(III) oxide: no dust, no spray."
	cautionLead      = "LEAD: poisonous to nerves, blood and the unborn. Not for children or in pregnancy; never sand or spray; its sale as paint is restricted in the EU and elsewhere."
	cautionChromate  = "LEAD and CHROMATE (hexavalent chromium): causes cancer, poisonous. Use a substitute such as PY74 or PY83."
	cautionMercury   = "MERCURY sulphide: never heat, sand or spray; keep it out of the mouth."
	cautionZinc      = "In oil, zinc white turns brittle and can crack or let go of the layers over it; harmful to water life."
	cautionPrussian  = "Do not heat it or mix it with acid, which can free cyanide."
	cautionPhthalo   = "Low hazard as paint; stains, and its rinse water should not reach streams."
	cautionEarth     = "Natural earths hold silica and some manganese: no dust."
	cautionCarbon    = "Fine carbon: no dust."
	cautionFugitive  = "Low hazard, but it fades: not for work that is to last."
)

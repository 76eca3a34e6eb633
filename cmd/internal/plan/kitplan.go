package plan

// KitPlan is the few tubes to carry for one or several photos, and what is lost
// with fewer. All differences are ΔE00, of each mass's best mix against its
// colour to mix, as foretold before knife and tube add their own.
type KitPlan struct {
	Tubes     []string     `json:"tubes"`           // the white among them
	Given     bool         `json:"given,omitempty"` // the painter named them; they were not sought
	Proven    bool         `json:"proven"`          // no smaller set does it, over the ratios that were tried
	Tolerance float64      `json:"tolerance"`       // every mass within this, or named in Blocked
	Worst     float64      `json:"worst_de00"`      // over the masses of all the photos
	Mean      float64      `json:"mean_de00"`       // weighted by area
	BoxWorst  float64      `json:"box_worst_de00"`  // what the whole box would do with the same colours to mix
	BoxMean   float64      `json:"box_mean_de00"`
	Needed    int          `json:"needed,omitempty"` // tubes it would take, where fewer were allowed
	Blocked   []KitBlocked `json:"blocked"`          // masses that no mix of the tubes to choose from brings within Tolerance
	Short     []KitMassRef `json:"short,omitempty"`  // masses that more tubes would bring within it
	Curve     []KitStep    `json:"curve"`            // fewest tubes first
	Uses      []KitUse     `json:"uses"`             // in the order of Tubes
	Unused    []string     `json:"unused"`           // tubes that could be taken out of the box with nothing lost
	Cost      string       `json:"cost"`             // what carrying the kit and not the box costs, in a sentence
}

// KitBlocked is a mass that can't be mixed within the tolerance, and what would
// help: the one tube of the library that brings it nearest and, where tubes
// were left out, the one of the painter's own that does.
type KitBlocked struct {
	Photo string  `json:"photo"`
	Mass  int     `json:"mass"` // its ID
	Name  string  `json:"name"`
	DE00  float64 `json:"de00"` // of the best mix of all the tubes to choose from
	Add   string  `json:"add"`  // empty where no tube helps
	// AddDE00 is what Add brings it to; Own and OwnDE00 are the same of the
	// painter's own tubes.
	AddDE00 float64 `json:"add_de00,omitempty"`
	Own     string  `json:"own,omitempty"`
	OwnDE00 float64 `json:"own_de00,omitempty"`
}

// KitMassRef names a mass of a photo.
type KitMassRef struct {
	Photo string `json:"photo"`
	Mass  int    `json:"mass"` // its ID
}

// KitStep is the best set of at most Count tubes. Best sets need not nest, so
// each says what changes against the step before it.
type KitStep struct {
	Count  int      `json:"count"`
	Tubes  []string `json:"tubes"`
	Worst  float64  `json:"worst_de00"`
	Mean   float64  `json:"mean_de00"`
	In     []string `json:"in"`
	Out    []string `json:"out"`
	Proven bool     `json:"proven"`
}

// KitUse says what a tube of the kit is there for.
type KitUse struct {
	Tube   string       `json:"tube"`
	Masses []KitMassRef `json:"masses"`              // whose nearest mix from the kit has it
	Lost   []KitMassRef `json:"lost"`                // that the rest of the kit cannot mix near enough
	Worst  float64      `json:"without_worst_de00"`  // the greatest miss without it; 0 where nothing remains to mix with
	Mean   float64      `json:"without_mean_de00"`   // likewise
	Only   bool         `json:"only_tube,omitempty"` // nothing remains without it
	Says   string       `json:"says"`
}

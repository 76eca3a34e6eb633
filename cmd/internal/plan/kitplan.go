package plan

// KitPlan is the few tubes to carry for one or several photos, and what is lost
// with fewer. All differences are ΔE00, of each mass's best mix against its
// colour to mix, as foretold before knife and tube add their own.
type KitPlan struct {
	Tubes     []string     `json:"tubes"`      // the white among them
	Proven    bool         `json:"proven"`     // no smaller set does it, over the ratios that were tried
	Tolerance float64      `json:"tolerance"`  // every mass within this, or named in Blocked
	Worst     float64      `json:"worst_de00"` // over the masses
	Mean      float64      `json:"mean_de00"`  // weighted by area
	Blocked   []KitBlocked `json:"blocked"`    // masses that no mix of the whole box brings within Tolerance
	Curve     []KitStep    `json:"curve"`      // fewest tubes first
	Uses      []KitUse     `json:"uses"`       // in the order of Tubes
	Unused    []string     `json:"unused"`     // tubes of the box that stay at home
	Cost      string       `json:"cost"`       // what carrying the kit and not the box costs, in a sentence
}

// KitBlocked is a mass that the box can't mix within the tolerance.
type KitBlocked struct {
	Photo string  `json:"photo"`
	Mass  int     `json:"mass"` // its ID
	DE00  float64 `json:"de00"` // of the whole box's best mix
	Add   string  `json:"add"`  // the tube that would help most; empty where none does
}

// KitStep is the best set of at most Count tubes. Best sets need not nest, so
// each says what changes against the step before it.
type KitStep struct {
	Count int      `json:"count"`
	Tubes []string `json:"tubes"`
	Worst float64  `json:"worst_de00"`
	Mean  float64  `json:"mean_de00"`
	In    []string `json:"in"`
	Out   []string `json:"out"`
}

// KitUse says what a tube of the kit is there for.
type KitUse struct {
	Tube   string `json:"tube"`
	Masses []int  `json:"masses"` // IDs of the masses whose mix has it
	Says   string `json:"says"`
}

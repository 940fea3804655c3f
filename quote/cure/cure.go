// Package cure holds the times that glue and paint need: flash-off, touch, recoat windows, handling, through-dry and full
// cure of generic materials, with the source of each figure, and how the room changes them.
//
// Each figure is converted from its own reference room to the shop's. Reactions with a published activation energy follow
// Arrhenius's law, other reactions and solvents the 10 °C rule. Water-borne materials follow the vapour pressure deficit of
// the air (Dalton, Magnus); that already includes temperature, so no temperature rule is added. Hot melt sets by cooling
// and keeps the figures of the table. Cold and damp lengthen minima; heat and dry air shorten maxima, and no room lengthens
// a maximum beyond its figure in the table. Where a source gives a range of energies, minima use the slower end and maxima
// the faster. No source gives times by thickness: the figures hold for the coat that the material's spread lays down.
//
// It refuses a room outside a material's limits, naming every limit broken and what would be right, and a room in which a
// window would close before it opens. It never replaces the product's data sheet: every answer is a planning value. What
// always holds: a colder room never shortens a minimum, a damper one never a water-borne minimum, and a figure's own
// reference room gives back the figure itself.
package cure

// Room is the air at the bench.
type Room struct {
	Celsius  float64 `json:"celsius"`
	Humidity float64 `json:"humidity"` // relative, percent
}

// Window is an interval after a coat or glue-up in which the next step may start, in minutes; Latest 0: no end.
type Window struct {
	Earliest float64 `json:"earliest"`
	Latest   float64 `json:"latest,omitempty"`
}

// Times are a material's planning times in one room, minutes after application.
type Times struct {
	Touch   float64  `json:"touch"`
	Recoat  []Window `json:"recoat"`  // for the next coat of the same kind; several windows if the time between them is forbidden
	Topcoat []Window `json:"topcoat"` // for a coat of another kind
	Handle  float64  `json:"handle"`
	Full    float64  `json:"full"`
	Place   Window   `json:"place"`           // adhesives: for joining the coated faces; zero for coatings
	Notes   []string `json:"notes,omitempty"` // if the room is allowed but not at its best for the material
}

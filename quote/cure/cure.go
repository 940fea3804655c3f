// Package cure knows how long glue and paint need: flash-off, touch, recoat windows, handling, through-dry and full
// cure of generic materials, with the source of each figure, and how the room changes them.
//
// Each figure is moved from its own reference room into the shop's. Reactions of a published activation energy follow
// Arrhenius's law, other reactions and solvents the 10 °C rule; water-borne materials follow the air's vapour pressure
// deficit (Dalton, Magnus), which has the temperature in it, and no temperature rule besides. Hot melt sets by cooling
// and is left as the table has it. Cold and damp lengthen minima; heat and dry air shorten maxima, and no room
// lengthens one beyond its row. Where an energy is a range, minima take the slower end and maxima the faster.
// No source gives times by thickness: the figures hold for the coat that the material's spread lays down.
//
// It refuses a room that a material's limits exclude, with every limit broken and what would be right, and a room in
// which a window closes before it opens. It never replaces the product's data sheet: every answer is a planning value.
// What always holds: a colder room never shortens a minimum, a damper one never a water-borne minimum, and in a
// figure's own reference room the figure itself comes back.
package cure

// Room is the air at the bench.
type Room struct {
	Celsius  float64 `json:"celsius"`
	Humidity float64 `json:"humidity"` // relative, percent
}

// Window is an interval after a coat or glue-up in which the next step may start, in minutes; Latest 0 means no end.
type Window struct {
	Earliest float64 `json:"earliest"`
	Latest   float64 `json:"latest,omitempty"`
}

// Times are a material's planning times in one room, minutes after application.
type Times struct {
	Touch   float64  `json:"touch"`
	Recoat  []Window `json:"recoat"`  // when the next coat of its own kind may go on; several where the middle is forbidden
	Topcoat []Window `json:"topcoat"` // when a coat of another kind may go on
	Handle  float64  `json:"handle"`
	Full    float64  `json:"full"`
	Place   Window   `json:"place"`           // adhesives: when the coated faces may be joined; zero for coatings
	Notes   []string `json:"notes,omitempty"` // where the room is allowed but not at its best for the material
}

package geom

// Turn says how a piece may be turned on the sheet.
type Turn string

// Turn freedoms; they follow from the texture of the foam's face.
const (
	TurnAny     Turn = "any"
	TurnQuarter Turn = "quarter"
	TurnHalf    Turn = "half"
	TurnNone    Turn = "none"
)

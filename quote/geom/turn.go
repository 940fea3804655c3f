package geom

// Turn says how a piece may be turned on the sheet.
type Turn string

// Turn freedoms; the texture direction of the foam's face decides.
const (
	TurnAny     Turn = "any"
	TurnQuarter Turn = "quarter"
	TurnHalf    Turn = "half"
	TurnNone    Turn = "none"
)

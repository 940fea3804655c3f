// Package nest lays outlines on sheets.
//
// Problem in, solution out; the budget is a number of evaluations, never seconds, so that the same problem with the
// same seed gives the same layout on any run and a quote's picture can be made again byte for byte. One evaluation
// tests one outline, in one turn at one height of a sheet, against one piece lying there, over all positions along
// the sheet at once. The first layout is made whatever the budget, and a try under way is finished, so a solution may
// count some more than the budget. True outlines are used, not boxes; holes are not filled with other pieces.
//
// It refuses a piece that fits on no sheet in the stock, by name, with its size and the largest sheet. What always
// holds for a solution: every item is placed as often as demanded, inside its sheet less the margin, turned and
// mirrored only as allowed, and no two pieces on a sheet are nearer than the gap; Check is run on every solution
// before it leaves.
//
// Pieces are packed from x = 0 on; the sheet with the offcut is the last one, and its offcut is the far end.
package nest

import "benchbell/quote/geom"

// Turn says by which angles an item may be turned.
type Turn string

// Turn freedoms.
const (
	TurnAny     Turn = "any"
	TurnQuarter Turn = "quarter"
	TurnHalf    Turn = "half"
	TurnNone    Turn = "none"
)

// Item is an outline to place Demand times.
type Item struct {
	ID      string     `json:"id"`
	Shape   geom.Shape `json:"shape"`
	Demand  int        `json:"demand"`
	Turn    Turn       `json:"turn"`
	MayFlip bool       `json:"may_flip"`
}

// Sheet is a kind of sheet in stock. Price is in minor units of any one currency; it only ranks sheets.
type Sheet struct {
	ID     string  `json:"id"`
	Width  geom.MM `json:"width"`
	Height geom.MM `json:"height"`
	Count  int     `json:"count,omitempty"` // 0: as many as needed
	Price  int64   `json:"price"`
}

// Problem is one thickness of foam to be cut.
type Problem struct {
	Items       []Item  `json:"items"`
	Sheets      []Sheet `json:"sheets"`
	Gap         geom.MM `json:"gap"`    // between pieces
	Margin      geom.MM `json:"margin"` // from the sheet's edges
	Evaluations int     `json:"evaluations"`
	Seed        uint64  `json:"seed"`
}

// Placed is one copy of an item on a sheet.
type Placed struct {
	Item string         `json:"item"`
	Copy int            `json:"copy"` // 1..Demand
	At   geom.Placement `json:"at"`
}

// Layout is one sheet with what is cut from it; x from 0 to Width, y from 0 to Height.
type Layout struct {
	Sheet  string   `json:"sheet"`
	Width  geom.MM  `json:"width"`
	Height geom.MM  `json:"height"`
	Placed []Placed `json:"placed"`
	Used   float64  `json:"used"` // share of the sheet's area that becomes pieces, 0..1
}

// Solution is a set of layouts.
type Solution struct {
	Layouts     []Layout `json:"layouts"`
	Cost        int64    `json:"cost"`    // sum of sheet prices
	Density     float64  `json:"density"` // piece area / area of sheets used, 0..1
	Evaluations int      `json:"evaluations"`
}

// Progress is told now and then while solving.
type Progress struct {
	Evaluations, Budget int
	Sheets              int
	Density             float64
}

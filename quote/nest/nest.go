// Package nest is the words of nesting: outlines to place, sheets and offcuts to place them on, and the layouts that come of it.
//
// It holds values only; package lay makes layouts, package inspect looks at them. Lengths are in millimetres, y up, a layout
// begins at its sheet's lower left corner.
package nest

import "benchbell/quote/geom"

// Item is an outline to place Demand times.
type Item struct {
	ID      string     `json:"id"`
	Shape   geom.Shape `json:"shape"`
	Demand  int        `json:"demand"`
	Turn    geom.Turn  `json:"turn"`
	Turns   []float64  `json:"turns,omitempty"` // in degrees; where given, these and no others
	MayFlip bool       `json:"may_flip"`
	// Priority: where the stock is too small and Partial is set, items of higher priority are placed first.
	Priority int    `json:"priority,omitempty"`
	Owner    string `json:"owner,omitempty"` // whose piece it is, kept on the layout
}

// Sheet is a kind of sheet in stock. Price is in minor units of any one currency; it only ranks sheets.
type Sheet struct {
	ID     string  `json:"id"`
	Width  geom.MM `json:"width"`
	Height geom.MM `json:"height"`
	Count  int     `json:"count,omitempty"` // 0: as many as needed
	Price  int64   `json:"price"`
	// Outline of an offcut, within 0..Width and 0..Height; none: the whole rectangle.
	Outline geom.Ring `json:"outline,omitempty"`
	// Defects are places that no piece may cover; the margin is kept from them too.
	Defects []geom.Ring `json:"defects,omitempty"`
}

// Problem is one thickness of foam to be cut.
type Problem struct {
	Items  []Item  `json:"items"`
	Sheets []Sheet `json:"sheets,omitempty"`
	// Strip, where over 0, is the height of a strip that takes the sheets' place; its length is what is sought.
	Strip       geom.MM `json:"strip,omitempty"`
	Gap         geom.MM `json:"gap"`            // between pieces
	Margin      geom.MM `json:"margin"`         // from the sheet's edges and defects
	Kerf        geom.MM `json:"kerf,omitempty"` // width that the blade takes away: added to the gap, half of it to the margin
	Evaluations int     `json:"evaluations"`
	Workers     int     `json:"workers,omitempty"` // searchers side by side; 0: DefaultWorkers
	Seed        uint64  `json:"seed"`
	// Partial: what a stock too small has no room for is left out and named, rather than refused.
	Partial bool `json:"partial,omitempty"`
}

// DefaultWorkers is how many searchers run side by side where a problem does not say.
const DefaultWorkers = 2

// between is what two pieces keep from each other, edge what a piece keeps from a sheet's border.
func (p Problem) Between() float64 { return float64(p.Gap) + float64(p.Kerf) }
func (p Problem) Edge() float64    { return float64(p.Margin) + float64(p.Kerf)/2 }

// Placed is one copy of an item on a sheet.
type Placed struct {
	Item  string         `json:"item"`
	Copy  int            `json:"copy"` // 1..Demand
	At    geom.Placement `json:"at"`
	Owner string         `json:"owner,omitempty"`
}

// Layout is one sheet with what is cut from it; x from 0 to Width, y from 0 to Height.
type Layout struct {
	Sheet  string   `json:"sheet"`
	Width  geom.MM  `json:"width"`
	Height geom.MM  `json:"height"`
	Placed []Placed `json:"placed"`
	Used   float64  `json:"used"` // share of the sheet's area that becomes pieces, 0..1
}

// Offcut is what remains of a sheet in one piece, in the sheet's coordinates: farther from every piece than gap and kerf, and
// with the sheet's defects as holes.
type Offcut struct {
	Layout int        `json:"layout"` // index of the layout
	Shape  geom.Shape `json:"shape"`
}

// Missing is an item of which copies have no place.
type Missing struct {
	Item   string `json:"item"`
	Copies int    `json:"copies"`
}

// Solution is a set of layouts.
type Solution struct {
	Layouts     []Layout  `json:"layouts"`
	Cost        int64     `json:"cost"`    // sum of sheet prices
	Density     float64   `json:"density"` // piece area / area of sheets used, 0..1
	Evaluations int       `json:"evaluations"`
	Offcut      *Offcut   `json:"offcut,omitempty"`
	Missing     []Missing `json:"missing,omitempty"`
}

// Progress is told now and then while solving.
type Progress struct {
	Evaluations, Budget int
	Sheets              int
	Density             float64
}

// StripID is the sheet that a strip's one layout names; its width is the length used.
const StripID = "strip"

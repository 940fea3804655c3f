package drawing

import "benchbell/quote/geom"

// Layer is a kind of line in a cut file, by our own names; a machine's operator maps each to a tool.
type Layer string

// Layers of a cut file.
const (
	Through Layer = "cut-through" // outlines, last to be cut
	Inside  Layer = "cut-inside"  // holes and slots, cut before the outline
	PartWay Layer = "cut-partway" // score lines
	Pen     Layer = "pen"         // notches, bend axes, seats, alignment lines
	Words   Layer = "words"       // piece labels, never cut
	Border  Layer = "sheet-edge"  // the sheet's outline, never cut
)

// CutSheet is one sheet for a knife, laser or router: millimetres, origin at the sheet's lower left corner, y up.
type CutSheet struct {
	Title         string // "C0007 r2 sheet 1 of 3, 10 mm"
	Width, Height geom.MM
	Edge          geom.Ring // the sheet's or offcut's outline; nil is the rectangle
	Lines         []CutLine
	Words         []CutWords
	Kerf          geom.MM // width that the tool removes: outlines move out and holes in by half of it
}

// CutLine is one line to follow.
type CutLine struct {
	Layer  Layer
	Points geom.Path
	Closed bool
	Circle *Circle // written as a circle where set
	Piece  string  // label of the piece it belongs to
}

// CutWords is a label.
type CutWords struct {
	At    geom.Point // middle of the text
	Size  geom.MM
	Turn  float64 // degrees counter-clockwise
	Value string
}

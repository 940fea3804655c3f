// Package paper prints graded pieces at 1:1 to cut from: a pattern tiled over the paper the maker has.
//
// A pattern is spread over tiles of A4, Letter, A3 or a plotter roll, with an overlap, a map of the tiles, registration
// marks, and check squares of 100 mm and 4 in, so that a printer set to "fit to page" is noticed before foam is cut. Every
// piece has its name, copies, thickness and the client's commission number; cuts, scores, holes, notches and bends are
// distinguished by line style and text, never by colour. A bend away from the drawn face has one dot between its dashes, a
// bend toward it two, and both are labelled.
//
// A piece that fits on one tile, upright or turned a quarter, is never laid over a seam. A piece's name stands on its foam
// if there is room, or else beside it with a leader. Text is never mirrored, not even on mirrored pieces.
//
// It refuses, by name and with what would be right: pieces without area, longer than 5 m or with lines far outside their
// outline, papers too small for the check squares, overlaps that cannot be glued, and more than 400 pages (naming a paper
// that would do). What always holds: one unit is one millimetre on paper, no line is lost between tiles, text keeps off
// lines, and the same pattern gives the same bytes.
package paper

import (
	"time"

	"benchbell/quote/geom"
)

// Size is a size of paper. Height 0 is a roll, cut off where the pattern ends.
type Size struct {
	Key           string // "a4", "letter", "a3", "roll-610", "roll-914"
	Title         string
	Width, Height geom.MM
}

// LineKind says what a line means to the maker.
type LineKind string

// Line kinds.
const (
	Score LineKind = "score"
	Notch LineKind = "notch"
	Bend  LineKind = "bend" // away from the drawn face, which ends up on the outside
	Seat  LineKind = "seat"
	Align LineKind = "align"

	BendToward LineKind = "bend toward" // toward the drawn face, which ends up on the inside
)

// Piece is one graded piece, mm, y up.
type Piece struct {
	Label     string // as on the cut list: "1L-A2"
	Title     string
	Count     int // how many of this outline are cut
	Mirrored  bool
	Thickness geom.MM
	Shape     geom.Shape
	Lines     []Line
	Drills    []Drill
	Turn      string // how the foam's texture may run, in words; empty: any way
}

// Line is a mark inside a piece. The label of a bend says what it is formed about or over; that of a notch is its number,
// the same as its mate's; that of a seat or alignment line names what goes there.
type Line struct {
	Kind  LineKind
	Path  geom.Path
	Label string
}

// Drill is a hole for a tool of a given size.
type Drill struct {
	At       geom.Point
	Diameter geom.MM
	Size     string // "5 mm", "3/16 in"
}

// Pattern is a print job.
type Pattern struct {
	Title      string // "Forearm cuff, pair"
	Studio     string
	Commission string // "C0007 r2"
	Paper      Size
	Overlap    geom.MM // glued or taped over the next tile
	Margin     geom.MM // border the printer cannot reach
	Pieces     []Piece
	Cautions   []string
	Date       time.Time // of the document
}

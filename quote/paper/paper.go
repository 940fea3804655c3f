// Package paper prints graded pieces at 1:1 to cut from: a pattern tiled over the paper that the maker has.
//
// A pattern is spread over tiles of A4, Letter, A3 or a plotter roll with an overlap, a tile map, registration marks
// and a check square of 100 mm and one of 4 in, so that a printer that "fits to page" is found out before foam is cut.
// Every piece carries its name, copy, thickness and the client's commission number; cut, score, hole, notch and bend
// are told apart by line style and words, never by colour. A bend away from the drawn face has one dot between its
// dashes, a bend toward it two, and both say so in words.
//
// A piece that fits on one tile, upright or turned a quarter, is never laid over a seam; a piece's name stands on its foam
// where it has room and beside it with a leader where not. Words are never mirrored, also on mirrored pieces.
//
// It refuses, by name and with what would be right: pieces without area, longer than 5 m or with lines far outside their
// outline, papers too small for the check squares, overlaps that cannot be glued, more than 400 pages (and says which
// paper would do). What always holds: one unit is one millimetre on paper, no line is lost between tiles, words keep off
// lines, and the same pattern gives the same bytes.
package paper

import (
	"time"

	"benchbell/quote/geom"
)

// Size is a paper. Height 0 is a roll that is cut off where the pattern ends.
type Size struct {
	Key           string // "a4", "letter", "a3", "roll-610", "roll-914"
	Title         string
	Width, Height geom.MM
}

// LineKind says what a line is to the maker.
type LineKind string

// Line kinds.
const (
	Score LineKind = "score"
	Notch LineKind = "notch"
	Bend  LineKind = "bend" // away from the drawn face, which ends up outside
	Seat  LineKind = "seat"
	Align LineKind = "align"

	BendToward LineKind = "bend toward" // the drawn face ends up inside
)

// Piece is one graded piece, mm, y up.
type Piece struct {
	Label     string // "1L-A2": as on the cut list
	Title     string
	Count     int // how many are cut from this pattern (same outline)
	Mirrored  bool
	Thickness geom.MM
	Shape     geom.Shape
	Lines     []Line
	Drills    []Drill
	Turn      string // how the foam's texture may lie, in words; empty: any
}

// Line is a mark inside a piece. A bend's label says about or over what it is formed; a notch's is the number that its
// mate has too; a seat's and an alignment line's name what comes there.
type Line struct {
	Kind  LineKind
	Path  geom.Path
	Label string
}

// Drill is a hole of a tool's size.
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
	Margin     geom.MM // the printer cannot reach this border
	Pieces     []Piece
	Cautions   []string
	Date       time.Time // of the document
}

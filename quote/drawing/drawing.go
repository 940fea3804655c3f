// Package drawing reads vector drawings as editors write them, SVG and DXF, and writes cut files in both formats.
//
// Read returns only lines: flattened, in millimetres, y up, in document order, each with what the file says about it
// (layer, enclosing groups, id, label, classes, colour, dash) and its place in the file. What a line means to the shop
// (outline, hole, score) is not decided here. Curves are flattened to Flatness; a circle, even one written as arcs or
// curves, keeps its centre and radius beside its polyline, because drills are chosen by it.
//
// It refuses hostile files within a bound on memory and work: document types that declare more than a few plain texts,
// cycles of use, more elements or points than a pattern ever has, places more than 20 m away, deep nesting. It refuses
// path data with an error in it, because a pattern drawn in part would be cut in part. It never fetches anything: an image
// or a use of another file is skipped and listed in Notes. What always holds: the same bytes give the same drawing; every
// coordinate is finite; Read reads back what WriteSVG and WriteDXF write, within 0.01 mm.
package drawing

import "benchbell/quote/geom"

// Flatness is the largest distance between a curve and its polyline: a tenth of a knife's width.
const Flatness geom.MM = 0.02

// Bounds on a drawing; even a large hand-made set stays far below each.
const (
	maxBytes          = 8 << 20
	maxNodes          = 20_000
	maxPoints         = 400_000
	maxDepth          = 64
	maxExtent geom.MM = 20_000
)

// Drawing is the lines of a file.
type Drawing struct {
	Lines []Line
	Texts []Text
	Notes []string // what was skipped, assumed or repaired: one sentence each, for the maker
}

// Line is one polyline.
type Line struct {
	Points geom.Path // closed lines do not repeat their first point
	Closed bool
	Circle *Circle // the circle the line follows, after its transform, or nil
	Layer  string  // DXF layer, or the label (id if it has none) of the outermost editor layer, or else of the outermost named group
	Groups []Group // enclosing groups, outermost first; a DXF block insertion is a group named by the block
	ID     string
	Label  string // the editor's name of the object, or its title
	Class  []string
	Data   map[string]string // data-* attributes, keyed without "data-"
	Stroke string            // resolved "#rrggbb", "" for none or default
	Fill   string            // likewise
	Dashed bool
	Hidden bool   // display:none, visibility:hidden, or on a layer that is switched off
	At     string // where in the file: "line 12", "entity 5 (LWPOLYLINE)"
}

// Circle is a true circle.
type Circle struct {
	Centre geom.Point
	Radius geom.MM
}

// Group is an enclosing group, layer or block.
type Group struct {
	ID    string
	Label string
	Layer bool // the editor marks it as a layer
	Class []string
}

// Text is a label, located by its anchor. Text that an SVG hides is left out.
type Text struct {
	Value  string
	Place  geom.Point
	Layer  string
	Groups []Group
	At     string
}

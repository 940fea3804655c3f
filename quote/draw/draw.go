// Package draw is Benchbell's drawing board: a picture is described once as a Scene and painted as SVG for pages, as PNG
// for chat, and by package pdf into documents.
//
// Scene coordinates are millimetres on the picture, x to the right and y down; the size of a text is its em in millimetres.
// Colours are opaque RGB. Every picture must also be readable without colour, so hatches and dashes carry the meaning and
// colour only helps. The shop's drawings build on that: Layout (a sheet to cut), Gantt (a plan with its cures), Pieces
// (what is made), Checked (a set with everything read from its drawing) and Fault (where a drawing is wrong).
//
// It refuses only a PNG with too many pixels. Figures whose coordinates are not numbers, or far off the picture, are left
// out; characters the fonts lack are replaced. What always holds: the same scene gives the same bytes; text is drawn with
// the Go fonts from a module, so nothing depends on the fonts of the machine.
package draw

import "benchbell/quote/geom"

// Color is opaque 0xRRGGBB.
type Color uint32

// None means not filled, or not stroked.
const None Color = 1 << 24

// Font selects one of the Go fonts.
type Font int

// Fonts.
const (
	Regular Font = iota
	Bold
	Italic
	Mono
)

// Anchor aligns text horizontally at its point.
type Anchor int

// Anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// Style says how a closed or open figure is painted.
type Style struct {
	Fill   Color
	Stroke Color
	Width  geom.MM   // of the stroke
	Dash   []geom.MM // on, off, …; empty is solid
	Hatch  *Hatch    // drawn over the fill, clipped to the figure
}

// Hatch is a family of parallel lines.
type Hatch struct {
	Angle   float64 // degrees
	Spacing geom.MM
	Width   geom.MM
	Color   Color
}

// Figure is one element of a scene: exactly one of its kinds is set.
type Figure struct {
	Shape *geom.Shape // closed, even-odd with its holes
	Path  geom.Path   // open
	Text  *Text
	Style Style
}

// Text is one line of text; At is on the baseline.
type Text struct {
	At     geom.Point
	Size   geom.MM
	Font   Font
	Anchor Anchor
	Turn   float64 // degrees counter-clockwise on the picture
	Value  string
	Color  Color
}

// Scene is a picture of a given size, painted in order.
type Scene struct {
	Width, Height geom.MM
	Title         string // for screen readers: the SVG's title, the chat attachment's description
	Figures       []Figure
}

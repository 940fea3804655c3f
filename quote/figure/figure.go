// Package figure draws a plain standing body to its measurements. It shows where measurements are taken, one at a time and
// enlarged (HowToOne) or all together (HowTo), and how graded pieces sit on the body from front and back (Dressed).
//
// The body is a symbol, not a likeness: girths become widths through ellipses of fixed aspects, heights are shares of the
// stature, and what is not measured is usual for the height; the shares come from a survey named beside them. A piece is
// bent around its part of the body as around a tube or a dome. Every picture is readable without colour.
//
// It refuses nothing: a measurement without a place is explained in text alone, a piece with an unknown region is left out,
// an impossible measurement is drawn at a bound. What always holds: the same input gives the same scene, every coordinate
// is finite, and in the front view the body's right is on the picture's left.
package figure

import "benchbell/quote/draw"

// Entry is a measurement to show: its key, its name and how it is taken.
type Entry struct{ Key, Label, How string }

const (
	ink     draw.Color = 0x20242b
	skin    draw.Color = 0xe6e3dd
	line    draw.Color = 0xa33b20
	faint   draw.Color = 0x6a6f78
	contour draw.Color = 0x4a4f57
)

// edge is the margin of a picture, mm.
const edge = 8

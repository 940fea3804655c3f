// Package figure draws a plain standing body to its measurements, shows on it where measurements are taken, one by one
// enlarged (HowToOne) and all together (HowTo), and how graded pieces sit on it from front and back (Dressed).
//
// The body is a sign, not a person: girths become widths through ellipses of named aspects, heights are shares of the
// stature, and what is not measured is usual for the height; the shares are a survey's, named where they stand. A piece
// is bent around the part of the body it is worn on as around a tube or a dome. Every picture reads without colour.
//
// It refuses nothing: a measurement it has no place for is explained in words alone, a piece on no region is left out,
// a measurement no body has is drawn at a bound. What always holds: the same input gives the same scene, every
// coordinate is finite, the body's right is on the picture's left from the front.
package figure

import "benchbell/quote/draw"

// Entry is one measurement to show: its key, what it is called and how it is taken.
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

// Package pattern reads cutting-pattern sets and grades them to a body.
//
// A set is a drawing (SVG or DXF, read by package drawing; outlines, holes, score lines, marks) and a sidecar,
// pattern.toml, that says what a drawing cannot: thickness, copies, layers, frames, control sections, ease, seams,
// darts, hardware, operations. A bare drawing gets a starter sidecar by Draft. The set is parsed once and graded as often
// as wanted; all of it is pure functions of the input.
//
// What a line is to the bench is said by its class, else by a layer, group or object named after a role: outline, hole,
// slot, drill, row, score, notch, bend, seat, align, point (names an end of an edge) or guide (skipped). Where the
// drawing does not say, the outermost closed line is a piece's outline, closed lines in it are holes (small circles are
// drilled), open lines are scores and dashed ones bends. A bend goes away from the drawn face, which is the outer one,
// unless its data-form or the name of its layer says toward. A piece is a group, a layer, or an outline with all that
// lies in it. The drawing is the right side of the body.
//
// A piece is graded in one of four frames. Flat: across its held line by the ratio of client to base width at its
// control sections, blended without a kink between them, and along by its length driver. Cone: as a developed frustum,
// polar about the apex, so that a graded cuff is again an exact frustum. Gore: along a meridian, its sections the
// latitudes of a dome. Fixed: not at all. A section's width follows the measurement, ease, mock-up allowance, clothing
// and the bend allowance of all foam beneath. After grading, darts and seams that are marked for it are trued by sharing
// the difference, seams are walked with their notches, rows of holes are spaced anew, holes fitted to the studio's tools.
//
// It refuses, by piece and place and with what would be right: unknown keys, outlines that are open by more than the
// gap, cross themselves, have no area, are drawn twice or lie in one another so that it is not clear what is cut; seams
// whose edges do not exist, do not match or cannot be trued; sections driven by a measurement that is not given; holes
// and seats that leave their piece or leave too little foam; small holes that neither tool nor knife makes; lines of more
// than 6000 corners, drawings and rings too large to be checked in bounded work.
// What always holds: grading to the set's own base measurements changes nothing (1e-6 mm) apart from holes fitted to
// tools; copies of a closed cuff or gore go round the girth that is asked within 0.5 mm; slots and hardware seats keep
// their size; outlines leave this package counter-clockwise and simple; the legs of a dart and the edges of a trued seam
// are equal; a bend says to which side it is formed. When a measurement grows, no piece gets a smaller area, and before
// truing none gets narrower at a section or shorter along its frame, which in a cone are its arcs and its slant: the box
// of its sheet may get lower, for less taper lies flatter. Truing moves the mouth of a dart's leg by half of what the
// two legs differ. They are equal at the base and differ more the further a body is from it, so the box of such a piece
// may lose up to 0.1 mm of its height for each hundredth by which a measurement comes nearer to the base.
package pattern

import (
	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// Fit is all that grading needs to know besides the set itself.
type Fit struct {
	Body     map[string]geom.MM // measurement key (package measure) → value for this side
	Side     foam.Side          // the set's drawing is the right side; Left is its mirror image
	FoamK    float64            // neutral line of the bend as a share of the thickness (0..1), studio setting
	Clothing geom.MM            // thickness worn beneath, added under the innermost layer
	// Allowance is the mock-up allowance: added to the girth and taken off again at the first fitting. A section takes
	// its share of it.
	Allowance geom.MM
	// Uncertain is the standard deviation of a measurement that was estimated; sections driven by it get ease for it.
	Uncertain map[string]geom.MM
	// Tools are the drills and punches that the studio owns; holes snap to the nearest. Empty: holes stay as drawn.
	Tools []foam.Tool
}

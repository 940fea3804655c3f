// Package pattern reads cutting-pattern sets and grades them to a body.
//
// A set is a drawing (SVG or DXF, read by package drawing; outlines, holes, score lines, marks) and a spec sheet,
// pattern.toml, that says what a drawing cannot: thickness, copies, layers, frames, control sections, ease, seams, darts,
// hardware, operations. For a bare drawing, Draft writes a first spec sheet. The set is parsed once and can then be graded
// any number of times; the package is made of pure functions of the input.
//
// What a line means at the bench is given by its class, or else by a layer, group or object named after a role: outline,
// hole, slot, drill, row, score, notch, bend, seat, align, point (names an end of an edge) or guide (skipped). If the
// drawing does not say, the outermost closed line is a piece's outline, closed lines in it are holes (small circles are
// drilled), open lines are scores and dashed ones bends. A bend goes away from the drawn face, which is the outer one,
// unless its data-form or the name of its layer says toward. A piece is a group, a layer, or an outline with everything
// inside it. The drawing is for the right side of the body.
//
// A piece is graded in one of four frames. Flat: across its held line by the ratio of client width to base width at its
// control sections, blended smoothly between them, and along by its length driver. Cone: as a developed frustum, polar
// about the apex, so that a graded cuff is again an exact frustum. Gore: along a meridian, with the latitudes of a dome as
// sections. Fixed: not at all. The width of a section follows the measurement, ease, mock-up allowance, clothing and the
// bend allowance of all foam beneath. After grading, darts and the seams marked for it are trued by sharing the difference,
// seams are walked with their notches, rows of holes are spaced again, and holes are fitted to the studio's tools.
//
// It refuses, by piece and place and with what would be right: unknown keys; outlines that are open by more than the gap,
// cross themselves, have no area, are drawn twice, or overlap so that it is not clear what is cut; seams whose edges do not
// exist, do not match or cannot be trued; sections driven by a measurement not given; holes and seats that leave their
// piece or leave too little foam; small holes that neither tool nor knife can make; lines of more than 6000 corners, and
// drawings and rings too large to check in bounded work.
//
// What always holds: grading to the set's own base measurements changes nothing (1e-6 mm) except holes fitted to tools; the
// copies of a closed cuff or gore go around the required girth within 0.5 mm; slots and hardware seats keep their size;
// outlines leave this package counter-clockwise and simple; the legs of a dart and the edges of a trued seam are equal; a
// bend says to which side it is formed. If a measurement grows, the area of no piece shrinks, and before truing no piece
// gets narrower at a section or shorter along its frame, which in a cone means its arcs and its slant: the bounding box may
// get lower, because less taper lies flatter. Truing moves the mouth of a dart's leg by half the difference of the two
// legs. They are equal at the base and differ more the further a body is from it, so the box of such a piece may lose up to
// 0.1 mm of its height for each hundredth by which a measurement comes nearer to the base.
package pattern

import (
	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// Fit is everything grading needs besides the set itself.
type Fit struct {
	Body     map[string]geom.MM // measurement key (package measure) → value for this side
	Side     foam.Side          // the drawing is the right side; Left is its mirror image
	FoamK    float64            // neutral line of the bend as a share of the thickness (0..1), from the studio's settings
	Clothing geom.MM            // thickness worn underneath, added under the innermost layer
	// Allowance is the mock-up allowance: added to the girth and removed again at the first fitting. A section takes its
	// share of it.
	Allowance geom.MM
	// Uncertain maps estimated measurements to their standard deviation; sections they drive get ease for it.
	Uncertain map[string]geom.MM
	// Tools are the studio's drills and punches; holes take the size of the nearest. Empty: holes stay as drawn.
	Tools []foam.Tool
}

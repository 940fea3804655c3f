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

import "benchbell/quote/geom"

// Side tells the body side of a graded set.
type Side string

// Sides. A set that has no side (a chest plate, a sword) is graded with NoSide.
const (
	NoSide Side = ""
	Left   Side = "left"
	Right  Side = "right"
)

// Fit is all that grading needs to know besides the set itself.
type Fit struct {
	Body     map[string]geom.MM // measurement key (package measure) → value for this side
	Side     Side               // the set's drawing is the right side; Left is its mirror image
	FoamK    float64            // neutral line of the bend as a share of the thickness (0..1), studio setting
	Clothing geom.MM            // thickness worn beneath, added under the innermost layer
	// Allowance is the mock-up allowance: added to the girth and taken off again at the first fitting. A section takes
	// its share of it.
	Allowance geom.MM
	// Uncertain is the standard deviation of a measurement that was estimated; sections driven by it get ease for it.
	Uncertain map[string]geom.MM
	// Tools are the drills and punches that the studio owns; holes snap to the nearest. Empty: holes stay as drawn.
	Tools []Tool
}

// Tool is a drill or punch by the name that the bench uses: "5 mm", "3/16 in".
type Tool struct {
	Name     string  `json:"name"`
	Diameter geom.MM `json:"diameter"`
}

// Graded is a set cut to one body, ready to be nested, priced and planned.
type Graded struct {
	Set      string     `json:"set"`
	Title    string     `json:"title"`
	Side     Side       `json:"side,omitempty"`
	Pieces   []Piece    `json:"pieces"`
	Seams    []Seam     `json:"seams,omitempty"`
	Loose    []Seam     `json:"loose,omitempty"` // walked, not glued
	Domes    []Dome     `json:"domes,omitempty"`
	Hardware []Hardware `json:"hardware,omitempty"`
	Notes    []string   `json:"notes,omitempty"` // remarks for the maker: trued seams, moved holes
}

// Turn says how a piece may be turned on the sheet.
type Turn string

// Turn freedoms; the texture direction of the foam's face decides.
const (
	TurnAny     Turn = "any"
	TurnQuarter Turn = "quarter"
	TurnHalf    Turn = "half"
	TurnNone    Turn = "none"
)

// Piece is one piece of foam, one copy.
type Piece struct {
	ID        string      `json:"id"` // letter or short name within the set: "A", "lame2"
	Title     string      `json:"title"`
	Copy      int         `json:"copy"`     // 1..n
	Mirrored  bool        `json:"mirrored"` // the outline here is the mirror image of the drawing
	Thickness geom.MM     `json:"thickness"`
	Layer     int         `json:"layer"` // 0 is next to the body
	Shape     geom.Shape  `json:"shape"` // mm, outer ring counter-clockwise; holes include drill holes as polygons
	Drills    []Drill     `json:"drills,omitempty"`
	Scores    []geom.Path `json:"scores,omitempty"` // cut part-way, opened with heat
	Marks     []Mark      `json:"marks,omitempty"`
	Turn      Turn        `json:"turn"`
	MayFlip   bool        `json:"may_flip"` // both faces alike, so the piece may be cut mirrored
	Bevel     geom.MM     `json:"bevel"`    // length of edge to bevel
	Glue      geom.MM     `json:"glue"`     // length of this piece's edges that lie in seams or darts
	Lap       geom.MM2    `json:"lap"`      // area glued flat onto a layer below
	Formed    bool        `json:"formed"`   // shaped with heat
	Sealed    bool        `json:"sealed"`   // heat-sealed and coated on its outer face
	Worn      Worn        `json:"worn"`
}

// Region is the part of the body that a piece lies on.
type Region string

// Regions. Carried things are held or hung, not fitted.
const (
	Head     Region = "head"
	Neck     Region = "neck"
	Shoulder Region = "shoulder"
	UpperArm Region = "upper-arm"
	Forearm  Region = "forearm"
	Hand     Region = "hand"
	Chest    Region = "chest" // front and back of the trunk, down to the waist
	Waist    Region = "waist"
	Hip      Region = "hip"
	Thigh    Region = "thigh"
	Shin     Region = "shin"
	Foot     Region = "foot"
	Carried  Region = "carried"
)

// Worn says where a piece sits, for the picture on the body figure.
type Worn struct {
	Region Region  `json:"region,omitempty"` // empty: not shown
	Facing float64 `json:"facing"`           // degrees about the body or limb: 0 front, 90 outward, 180 back
	Height float64 `json:"height"`           // where the piece's middle lies, 0 bottom of the region … 1 top
}

// Dome is the curvature that a dart, or a closed ring of gores, gives.
type Dome struct {
	Name  string  `json:"name"`
	Piece string  `json:"piece,omitempty"` // of a dart
	Angle float64 `json:"angle"`           // degrees taken out of the full turn about the tip
	Cone  float64 `json:"cone"`            // degrees: half the cone's opening angle a, sin a = 1 − angle/360
	Depth geom.MM `json:"depth"`           // how far the tip stands above the mouth's rim: leg · cos a
}

// Drill is a hole of a fixed size.
type Drill struct {
	At       geom.Point `json:"at"`
	Diameter geom.MM    `json:"diameter"`
	Tool     string     `json:"tool,omitempty"` // name of the tool it was snapped to
}

// MarkKind names what a mark is for.
type MarkKind string

// Mark kinds.
const (
	Notch MarkKind = "notch" // where mated edges must meet
	Bend  MarkKind = "bend"  // axis about which the piece is formed
	Seat  MarkKind = "seat"  // place of hardware, never scaled
	Align MarkKind = "align" // outline of a layer above
)

// Form is to which side a bend is formed, as seen on the drawn face.
type Form string

// Forms. The drawn face is the outer one, so most bends go away from it: it ends up outside the bend.
const (
	Away   Form = "away"
	Toward Form = "toward"
)

// Mark is a line drawn on the foam, not cut.
type Mark struct {
	Kind  MarkKind  `json:"kind"`
	Form  Form      `json:"form,omitempty"` // of a bend only, where it is never empty
	Label string    `json:"label,omitempty"`
	Path  geom.Path `json:"path"`
}

// Seam is a pair of mated edges after grading, with both lengths. Its glued area is length × the thinner thickness.
type Seam struct {
	Name      string  `json:"name"`
	PieceA    string  `json:"piece_a"`
	PieceB    string  `json:"piece_b"`
	LengthA   geom.MM `json:"length_a"`
	LengthB   geom.MM `json:"length_b"`
	Thickness geom.MM `json:"thickness"`
	Count     int     `json:"count"` // how many such seams the set has (copies)
	// BeforeA and BeforeB are the lengths as graded, where the seam was trued; Trued is the difference that was shared.
	BeforeA geom.MM `json:"before_a,omitempty"`
	BeforeB geom.MM `json:"before_b,omitempty"`
	Trued   geom.MM `json:"trued,omitempty"`
	Notches int     `json:"notches,omitempty"` // pairs of notches that were compared
	Dart    bool    `json:"dart"`
	// PathA and PathB are the two edges on the pieces as drawn, the right side's; a picture numbers them alike.
	PathA geom.Path `json:"-"`
	PathB geom.Path `json:"-"`
}

// Hardware is something bought and fixed: counted, or, for webbing and elastic, a length.
type Hardware struct {
	Kind   string  `json:"kind"` // key of the studio's price book: "side-release-buckle-25"
	Count  int     `json:"count,omitempty"`
	Length geom.MM `json:"length,omitempty"`
}

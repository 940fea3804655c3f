// Package foam holds the vocabulary for what is cut: the pieces of a set graded to one body, their marks and seams, and the
// hardware that goes with them.
//
// It holds values only. Lengths are in millimetres; outlines are counter-clockwise and lie as drawn, y up.
package foam

import (
	"cmp"
	"slices"

	"benchbell/quote/geom"
)

// Side is the side of the body a graded set is for.
type Side string

// Sides. A set without sides (a chest plate, a sword) is graded with NoSide.
const (
	NoSide Side = ""
	Left   Side = "left"
	Right  Side = "right"
)

// Tool is a drill or punch, named as on the bench: "5 mm", "3/16 in".
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
	Loose    []Seam     `json:"loose,omitempty"` // walked but not glued
	Domes    []Dome     `json:"domes,omitempty"`
	Hardware []Hardware `json:"hardware,omitempty"`
	Notes    []string   `json:"notes,omitempty"` // remarks for the maker: trued seams, moved holes
}

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
	Scores    []geom.Path `json:"scores,omitempty"` // cut part-way and opened with heat
	Marks     []Mark      `json:"marks,omitempty"`
	Turn      geom.Turn   `json:"turn"`
	MayFlip   bool        `json:"may_flip"` // both faces are alike, so the piece may be cut mirrored
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

// Worn says where a piece sits, for the picture on the figure.
type Worn struct {
	Region Region  `json:"region,omitempty"` // empty: not shown
	Facing float64 `json:"facing"`           // degrees about the body or limb: 0 front, 90 outward, 180 back
	Height float64 `json:"height"`           // of the piece's middle: 0 bottom of the region … 1 top
}

// Dome is the curvature made by a dart or by a closed ring of gores.
type Dome struct {
	Name  string  `json:"name"`
	Piece string  `json:"piece,omitempty"` // of a dart
	Angle float64 `json:"angle"`           // degrees missing from the full turn around the tip
	Cone  float64 `json:"cone"`            // degrees: half the cone's opening angle a, sin a = 1 − angle/360
	Depth geom.MM `json:"depth"`           // height of the tip above the rim of the opening: leg · cos a
}

// Drill is a hole of a fixed size.
type Drill struct {
	At       geom.Point `json:"at"`
	Diameter geom.MM    `json:"diameter"`
	Tool     string     `json:"tool,omitempty"` // name of the tool it was fitted to
}

// MarkKind says what a mark is for.
type MarkKind string

// Mark kinds.
const (
	Notch MarkKind = "notch" // where joined edges must meet
	Bend  MarkKind = "bend"  // axis the piece is bent about
	Seat  MarkKind = "seat"  // place of hardware; never scaled
	Align MarkKind = "align" // outline of a layer above
)

// Form says to which side a bend is formed, as seen on the drawn face.
type Form string

// Forms. The drawn face is the outer one, so most bends go away from it: it ends up on the outside of the bend.
const (
	Away   Form = "away"
	Toward Form = "toward"
)

// Mark is a line drawn on the foam, not cut.
type Mark struct {
	Kind  MarkKind  `json:"kind"`
	Form  Form      `json:"form,omitempty"` // of a bend only, and never empty there
	Label string    `json:"label,omitempty"`
	Path  geom.Path `json:"path"`
}

// Seam is a pair of joined edges after grading, with both lengths. The glued area is length × the smaller thickness.
type Seam struct {
	Name      string  `json:"name"`
	PieceA    string  `json:"piece_a"`
	PieceB    string  `json:"piece_b"`
	LengthA   geom.MM `json:"length_a"`
	LengthB   geom.MM `json:"length_b"`
	Thickness geom.MM `json:"thickness"`
	Count     int     `json:"count"` // how many such seams the set has (copies)
	// BeforeA and BeforeB are the lengths as graded, if the seam was trued; Trued is the difference that was shared.
	BeforeA geom.MM `json:"before_a,omitempty"`
	BeforeB geom.MM `json:"before_b,omitempty"`
	Trued   geom.MM `json:"trued,omitempty"`
	Notches int     `json:"notches,omitempty"` // pairs of notches that were compared
	Dart    bool    `json:"dart"`
	// PathA and PathB are the two edges on the pieces as drawn, for the right side; a picture gives both the same number.
	PathA geom.Path `json:"-"`
	PathB geom.Path `json:"-"`
}

// Hardware is something bought and attached: counted or, for webbing and elastic, measured by length.
type Hardware struct {
	Kind   string  `json:"kind"` // key of the studio's price book: "side-release-buckle-25"
	Count  int     `json:"count,omitempty"`
	Length geom.MM `json:"length,omitempty"`
}

// Thicknesses lists the thicknesses of all pieces, thickest first.
func Thicknesses(graded []Graded) []geom.MM {
	var out []geom.MM
	for _, g := range graded {
		for _, p := range g.Pieces {
			if !slices.Contains(out, p.Thickness) {
				out = append(out, p.Thickness)
			}
		}
	}
	slices.SortFunc(out, func(a, b geom.MM) int { return cmp.Compare(b, a) })
	return out
}

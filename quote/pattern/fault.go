package pattern

import (
	"errors"
	"fmt"
	"strings"

	"benchbell/quote/geom"
)

// Fault is something in a drawing that cannot be used, with its place, so that a picture can mark the spot. Find it in an
// error of Parse, Draft or Grade with errors.As.
type Fault struct {
	Piece string // empty if it is not known which piece
	What  string // what is wrong and what would be right
	At    geom.Point
	Lines []geom.Path // the lines at fault, as drawn; may be empty
}

// Error says what is wrong, naming the piece.
func (f *Fault) Error() string {
	if f.Piece == "" {
		return f.What
	}
	return fmt.Sprintf("piece %q: %s", f.Piece, f.What)
}

// fault makes a fault; the piece is filled in by a caller who knows it.
func fault(at geom.Point, lines []geom.Path, format string, args ...any) error {
	return &Fault{What: fmt.Sprintf(format, args...), At: at, Lines: lines}
}

// inPiece names the piece in an error: in the fault, if it is one, or else before the message.
func inPiece(id string, err error) error {
	var f *Fault
	if errors.As(err, &f) && f.Piece == "" && err == error(f) {
		g := *f
		g.Piece = id
		return &g
	}
	return fmt.Errorf("piece %q: %w", id, err)
}

// Where places are measured from: y points up here, but down in the rulers of most SVG editors. A DXF has no page, and its
// editors show its own coordinates.
const (
	corner = "mm from the lower left corner"
	zero   = "mm from the drawing's zero point"
)

// asIn words the place of a fault to suit the kind of drawing.
func asIn(dxf bool, err error) error {
	var f *Fault
	if !dxf || !errors.As(err, &f) || err != error(f) {
		return err
	}
	g := *f
	g.What = strings.ReplaceAll(f.What, corner, zero)
	return &g
}

// place prints a point as errors name places.
func place(p geom.Point) string { return fmt.Sprintf("(%.1f, %.1f) %s", p.X, p.Y, corner) }

// places prints two points, naming their corner once.
func places(a, b geom.Point) string {
	return fmt.Sprintf("(%.1f, %.1f) and (%.1f, %.1f) %s", a.X, a.Y, b.X, b.Y, corner)
}

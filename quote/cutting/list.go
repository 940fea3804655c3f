package cutting

import (
	"bytes"
	"encoding/csv"
	"fmt"

	"benchbell/quote"
	"benchbell/quote/foam"
)

// CutList writes the pieces as CSV (RFC 4180), lengths in mm, areas in cm². A piece's position is the lower left corner of
// its bounding box, measured from the sheet's lower left corner.
func CutList(q quote.Quote) string {
	shapes := q.Shapes()
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Write(cutColumns)
	for i, p := range q.Pieces {
		w.Write(row(p, shapes[i]))
	}
	w.Flush() // a bytes.Buffer never fails
	return b.String()
}

var cutColumns = []string{"piece", "set", "side", "name", "copy", "mirrored", "thickness_mm", "width_mm", "height_mm", "area_cm2", "cut_length_mm", "grams", "sheet", "x_mm", "y_mm", "turn_deg", "flipped"}

// row is a piece's line of the cut list.
func row(p quote.CutPiece, g foam.Piece) []string {
	corner := p.At.Shape(g.Shape).Bounds().Min
	return []string{
		p.Label, p.Set, string(p.Side), p.Title, fmt.Sprint(p.Copy), yes(p.Mirrored), fmt.Sprintf("%g", float64(p.Thickness)),
		fmt.Sprintf("%.1f", float64(p.Width)), fmt.Sprintf("%.1f", float64(p.Height)), fmt.Sprintf("%.1f", float64(p.Area)/100),
		fmt.Sprintf("%.0f", float64(p.CutLength)), fmt.Sprintf("%.1f", p.Grams), fmt.Sprint(p.Sheet),
		fmt.Sprintf("%.1f", corner.X), fmt.Sprintf("%.1f", corner.Y), fmt.Sprintf("%.1f", p.At.Turn), yes(p.At.Mirrored),
	}
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

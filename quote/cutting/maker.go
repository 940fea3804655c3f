package cutting

import (
	"archive/zip"
	"bytes"
	"fmt"
	"strings"
	"time"

	"benchbell/quote"
	"benchbell/quote/draw"
	"benchbell/quote/drawing"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/paper"
)

// PaperPattern prints the quoted pieces at 1:1, tiled on a paper size (a key of package paper; empty: the studio's own).
// The quote must be the one computed from s. Identical pieces are printed once with their count; left and right are both
// printed.
func PaperPattern(s quote.Snapshot, q quote.Quote, size string) (quote.File, error) {
	if size == "" {
		size = s.Studio.Bench.Paper
	}
	sheet, err := paper.Lookup(strings.ToLower(size))
	if err != nil {
		return quote.File{}, err
	}
	if _, err := q.ByLabel(); err != nil {
		return quote.File{}, err
	}
	shapes := q.Shapes()
	p := paper.Pattern{
		Title: fmt.Sprintf("Pattern for %s", s.Client), Studio: s.Studio.Name,
		Commission: fmt.Sprintf("%s r%d", q.Commission, q.Revision), Paper: sheet,
		Overlap: s.Studio.Bench.Overlap, Margin: s.Studio.Bench.Border, Date: s.At.UTC(), Cautions: s.Studio.Cautions,
	}
	at := map[string]int{}
	for i, c := range q.Pieces {
		// Copies of a piece on one side share one outline, however often the set is ordered; the label is that of the
		// first.
		k := fmt.Sprintf("%s %s %s %v", c.Set, c.Side, c.Piece, c.Mirrored)
		if j, ok := at[k]; ok {
			p.Pieces[j].Count++
			continue
		}
		at[k] = len(p.Pieces)
		p.Pieces = append(p.Pieces, onPaper(c, shapes[i]))
	}
	data, err := paper.Print(p)
	if err != nil {
		return quote.File{}, err
	}
	return quote.File{Name: fmt.Sprintf("%s-r%d-pattern-%s.pdf", q.Commission, q.Revision, sheet.Key), MIME: "application/pdf", Data: data}, nil
}

var paperLines = map[foam.MarkKind]paper.LineKind{
	foam.Notch: paper.Notch, foam.Bend: paper.Bend, foam.Seat: paper.Seat, foam.Align: paper.Align,
}

var turnWords = map[geom.Turn]string{
	geom.TurnHalf: "texture along the arrow, either way", geom.TurnNone: "texture along the arrow, this way only",
	geom.TurnQuarter: "texture along or across",
}

func onPaper(c quote.CutPiece, g foam.Piece) paper.Piece {
	label, _, _ := strings.Cut(c.Label, "/") // one outline for all copies
	p := paper.Piece{Label: label, Title: c.Title, Count: 1, Mirrored: c.Mirrored, Thickness: c.Thickness,
		Shape: geom.Shape{Outer: g.Shape.Outer, Holes: cutOuts(g)}, Turn: turnWords[g.Turn]}
	for _, l := range g.Scores {
		p.Lines = append(p.Lines, paper.Line{Kind: paper.Score, Path: l})
	}
	for _, m := range g.Marks {
		kind := paperLines[m.Kind]
		if m.Form == foam.Toward {
			kind = paper.BendToward
		}
		p.Lines = append(p.Lines, paper.Line{Kind: kind, Path: m.Path, Label: m.Label})
	}
	for _, d := range g.Drills {
		p.Drills = append(p.Drills, paper.Drill{At: d.At, Diameter: d.Diameter, Size: drillSize(d)})
	}
	return p
}

func drillSize(d foam.Drill) string {
	if d.Tool != "" {
		return d.Tool
	}
	return d.Diameter.String()
}

// cutOuts are the holes of a piece that are not drilled. Drilled holes come last among the holes, in the order of Drills.
func cutOuts(g foam.Piece) []geom.Ring {
	return g.Shape.Holes[:len(g.Shape.Holes)-len(g.Drills)]
}

// CutFiles are the quoted sheets as files for a knife, laser or router: an SVG and a DXF of each, allowing for the studio's
// kerf. The quote must be the one computed from s.
func CutFiles(s quote.Snapshot, q quote.Quote) ([]quote.File, error) {
	shapes, err := q.ByLabel()
	if err != nil {
		return nil, err
	}
	var out []quote.File
	for _, l := range q.Sheets {
		fs, err := cutFiles(fmt.Sprintf("%s-r%d-sheet-%d-%gmm", q.Commission, q.Revision, l.Number, float64(l.Thickness)),
			SheetTitle(q, l), l, shapes, s.Studio.Bench.Kerf)
		if err != nil {
			return nil, err
		}
		out = append(out, fs...)
	}
	return out, nil
}

// cutFiles are one sheet's files.
func cutFiles(name, title string, l quote.SheetLayout, shapes map[string]foam.Piece, kerf geom.MM) ([]quote.File, error) {
	sheet := cutSheet(title, l.Layout, shapes)
	sheet.Kerf = kerf
	svg, err := drawing.WriteSVG(sheet)
	if err != nil {
		return nil, fmt.Errorf("sheet %d: %w", l.Number, err)
	}
	dxf, err := drawing.WriteDXF(sheet)
	if err != nil {
		return nil, fmt.Errorf("sheet %d: %w", l.Number, err)
	}
	return []quote.File{{Name: name + ".svg", MIME: "image/svg+xml", Data: svg}, {Name: name + ".dxf", MIME: "image/vnd.dxf", Data: dxf}}, nil
}

// wordSize is the height of a piece's label on the sheet; on small pieces it shrinks, down to leastWord.
const (
	wordSize  geom.MM = 8
	leastWord geom.MM = 2
)

// cutSheet is a layout as lines; shapes are the graded pieces by label.
func cutSheet(title string, l nest.Layout, shapes map[string]foam.Piece) drawing.CutSheet {
	sheet := drawing.CutSheet{Title: title, Width: l.Width, Height: l.Height}
	line := func(layer drawing.Layer, piece string, p geom.Path, closed bool) {
		sheet.Lines = append(sheet.Lines, drawing.CutLine{Layer: layer, Points: p, Closed: closed, Piece: piece})
	}
	for _, pl := range l.Placed {
		g := shapes[pl.Item]
		for _, h := range cutOuts(g) {
			line(drawing.Inside, pl.Item, geom.Path(pl.At.Ring(h)), true)
		}
		for _, d := range g.Drills {
			at := pl.At.Apply(d.At)
			sheet.Lines = append(sheet.Lines, drawing.CutLine{Layer: drawing.Inside, Closed: true, Piece: pl.Item,
				Circle: &drawing.Circle{Centre: at, Radius: d.Diameter / 2}})
		}
		for _, p := range g.Scores {
			line(drawing.PartWay, pl.Item, pl.At.Path(p), false)
		}
		for _, m := range g.Marks {
			line(drawing.Pen, pl.Item, pl.At.Path(m.Path), false)
		}
		outline := pl.At.Shape(g.Shape)
		line(drawing.Through, pl.Item, geom.Path(outline.Outer), true)
		at, room := draw.Roomiest(outline)
		size := min(wordSize, 2*room*0.8/geom.MM(max(1, len(pl.Item)))*1.6) // a letter is about 0.6 of its height wide
		if size >= leastWord {
			sheet.Words = append(sheet.Words, drawing.CutWords{At: at, Size: size, Value: pl.Item})
		}
	}
	return sheet
}

// Archive packs files into a zip (APPNOTE 6.3), in order and all with the same time: the same files give the same bytes.
func Archive(name string, files []quote.File, at time.Time) (quote.File, error) {
	var buf bytes.Buffer
	z := zip.NewWriter(&buf)
	for _, f := range files {
		w, err := z.CreateHeader(&zip.FileHeader{Name: f.Name, Method: zip.Deflate, Modified: at.UTC().Truncate(2 * time.Second)})
		if err != nil {
			return quote.File{}, fmt.Errorf("%s could not be packed: %w", f.Name, err)
		}
		if _, err := w.Write(f.Data); err != nil {
			return quote.File{}, fmt.Errorf("%s could not be packed: %w", f.Name, err)
		}
	}
	if err := z.Close(); err != nil {
		return quote.File{}, fmt.Errorf("%s could not be packed: %w", name, err)
	}
	return quote.File{Name: name, MIME: "application/zip", Data: buf.Bytes()}, nil
}

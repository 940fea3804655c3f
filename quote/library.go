package quote

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"benchbell/quote/draw"
	"benchbell/quote/pattern"
)

// Inspection is what a maker is told about a pattern set before it enters the library.
type Inspection struct {
	Set      *pattern.Set
	Report   string    // plain text: pieces, seams with both lengths, darts, warnings
	Pictures []Picture // every piece with its seams, sections, holes and labels
}

// Inspect reads a set and grades it to its own base measurements with the studio's tools. The error names the piece and the
// place; FaultPicture draws it.
func Inspect(src PatternSource, tools []pattern.Tool) (Inspection, error) {
	set, err := pattern.Parse([]byte(src.Drawing), []byte(src.TOML))
	if err != nil {
		return Inspection{}, err
	}
	fit := baseFit(set, tools)
	g, err := set.Grade(fit)
	if err != nil {
		return Inspection{}, err
	}
	in := Inspection{Set: set, Report: set.Report(fit, g).Text()}
	for i, scene := range []draw.Scene{draw.Pieces(set.Title, []draw.PieceGroup{{Pieces: named(g)}}, drawingWidth)} {
		p, err := picture(fmt.Sprintf("%s-pieces-%d.png", set.Name, i+1), scene, fmt.Sprintf("The pieces of %s with seams, holes and sections", set.Title))
		if err != nil {
			return Inspection{}, err
		}
		in.Pictures = append(in.Pictures, p)
	}
	return in, nil
}

func baseFit(set *pattern.Set, tools []pattern.Tool) pattern.Fit {
	side := pattern.NoSide
	if set.Sided {
		side = pattern.Right
	}
	f := set.BaseFit(side)
	f.Tools = tools
	return f
}

// FaultPicture marks the spot that an error of Inspect or pattern.Draft complains about; false where it has no place.
func FaultPicture(err error) (Picture, bool) {
	var f *pattern.Fault
	if !errors.As(err, &f) {
		return Picture{}, false
	}
	p, err := picture("fault.png", draw.Fault("Piece "+f.Piece, f.Lines, f.At, f.What), "Where the drawing is at fault: "+f.What)
	return p, err == nil
}

// LibraryPicture draws a set at its own base measurements, for choosing it.
func LibraryPicture(src PatternSource) (draw.Scene, error) {
	set, g, err := asDrawn(src)
	if err != nil {
		return draw.Scene{}, err
	}
	return draw.Pieces(set.Title, []draw.PieceGroup{{Pieces: named(g)}}, drawingWidth), nil
}

// shownInOverview is how many pieces stand for a set where all sets are drawn together.
const shownInOverview = 3

// LibraryOverview draws all sets together to one scale, each by its largest pieces.
func LibraryOverview(srcs []PatternSource) (draw.Scene, error) {
	var groups []draw.PieceGroup
	for _, src := range srcs {
		set, g, err := asDrawn(src)
		if err != nil {
			return draw.Scene{}, err
		}
		pieces := named(g)
		slices.SortStableFunc(pieces, func(a, b draw.NamedPiece) int { return cmp.Compare(b.Shape.Area(), a.Shape.Area()) })
		pieces = pieces[:min(len(pieces), shownInOverview)]
		for i := range pieces {
			pieces[i].Name, pieces[i].Count = "", 1
		}
		groups = append(groups, draw.PieceGroup{Title: set.Title, Pieces: pieces})
	}
	return draw.Pieces("The library", groups, drawingWidth), nil
}

func asDrawn(src PatternSource) (*pattern.Set, pattern.Graded, error) {
	set, err := pattern.Parse([]byte(src.Drawing), []byte(src.TOML))
	if err != nil {
		return nil, pattern.Graded{}, err
	}
	g, err := set.Grade(baseFit(set, nil))
	return set, g, err
}

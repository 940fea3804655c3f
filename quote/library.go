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
	r := set.Report(fit, g)
	p, err := picture(set.Name+"-checked.png", checked(g, r), fmt.Sprintf("The pieces of %s with their seams, sections, holes and marks", set.Title))
	if err != nil {
		return Inspection{}, err
	}
	return Inspection{Set: set, Report: r.Text(), Pictures: []Picture{p}}, nil
}

// checked describes a graded set for the drawing board: mated edges carry one number on both pieces.
func checked(g pattern.Graded, r pattern.Report) draw.Scene {
	c := draw.CheckedSet{Title: g.Title}
	at := map[string]int{}
	first := map[string]pattern.Piece{}
	for _, p := range g.Pieces {
		if _, ok := first[p.ID]; !ok {
			first[p.ID] = p
		}
	}
	for _, pr := range r.Pieces {
		p := first[pr.ID]
		cp := draw.CheckedPiece{Name: pr.ID + " · " + pr.Title, Note: fmt.Sprintf("%d ×, %s", pr.Copies, pr.Thickness), Shape: p.Shape, Scores: p.Scores}
		for _, s := range pr.Sections {
			cp.Sections = append(cp.Sections, draw.SectionLine{Path: s.Line, Label: s.Measure})
		}
		for _, m := range p.Marks {
			cp.Marks = append(cp.Marks, draw.MarkLine{Path: m.Path, Label: m.Label, Notch: m.Kind == pattern.Notch})
		}
		at[pr.ID] = len(c.Pieces)
		c.Pieces = append(c.Pieces, cp)
	}
	for i, s := range r.Seams {
		n := i + 1
		c.Seams = append(c.Seams, fmt.Sprintf("%s: %s to %s, %.1f and %.1f mm", s.Name, s.PieceA, s.PieceB, float64(s.LengthA), float64(s.LengthB)))
		a, b := at[s.PieceA], at[s.PieceB]
		c.Pieces[a].Seams = append(c.Pieces[a].Seams, draw.SeamLine{Number: n, Path: s.PathA})
		c.Pieces[b].Seams = append(c.Pieces[b].Seams, draw.SeamLine{Number: n, Path: s.PathB})
	}
	return draw.Checked(c)
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

package pattern

import (
	"errors"
	"fmt"
	"strings"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// Draft writes a first spec sheet for a bare drawing, SVG or DXF by content: every piece found, 5 mm thick, not graded,
// with comments that say what to fill in next. name is what the maker calls the set; the set's own name is made from it.
// The spec sheet parses with the drawing as it is; set is the result, and notes say what was assumed, skipped or repaired.
//
// It refuses what Parse refuses of a drawing; if a picture can mark the spot the error is a *Fault.
func Draft(data []byte, name string) (spec []byte, set *Set, notes []string, err error) {
	r, err := readDrawing(data, gapDefault, nil)
	if err != nil {
		return nil, nil, nil, err
	}
	title := plain(name)
	id := slug(strings.ToLower(name))
	if id == "" {
		id = "pattern"
	}
	if title == "" {
		title = "Pattern"
	}
	var b strings.Builder
	fmt.Fprintf(&b, draftHead, quoted(id), quoted(title), quoted("A pattern of "+count(len(r.order), "piece")+"."), quoted(title))
	for _, id := range r.order {
		if err := r.draftPiece(&b, id); err != nil {
			return nil, nil, nil, asIn(r.dxf, inPiece(id, err))
		}
	}
	b.WriteString(draftFoot)
	spec = []byte(b.String())
	if set, err = Parse(data, spec); err != nil {
		return nil, nil, nil, err
	}
	return spec, set, set.Notes, nil
}

// quoted is a TOML basic string of printable text; the two escapes it needs are the same as Go's.
func quoted(s string) string { return fmt.Sprintf("%q", s) }

// draftPiece writes one piece's entry. If the drawing leaves less foam around its holes than is usual, the piece gets the
// bridge it has, so that it can be looked at.
func (r *reading) draftPiece(b *strings.Builder, id string) error {
	d := r.pieces[id]
	title := d.title
	if title == "" {
		title = "Piece " + id
	}
	fmt.Fprintf(b, "\n[[piece]]\nid = %s\ntitle = %s\nthickness = %d # 2, 5 or 10 mm\nframe = \"fixed\" # next: flat, cone or gore, with sections\n", quoted(id), quoted(title), draftThickness)
	p := &part{drawn: *d, doc: pieceDoc{Thickness: draftThickness}}
	rows, err := p.draftRows()
	if err != nil {
		return err
	}
	if err := p.fixHoles(); err != nil {
		return err
	}
	f := newFence(p.outline)
	drills := append([]foam.Drill(nil), p.drills...)
	for _, r := range p.rows {
		drills = append(drills, r.holes(r.path)...)
	}
	var short *Fault
	for err := p.bridges(f, p.cuts(), drills); err != nil; err = p.bridges(f, p.cuts(), drills) {
		if !errors.As(err, &short) || p.bridge <= holeMargin {
			return err
		}
		p.bridge = max(holeMargin, p.bridge-0.5)
	}
	if short != nil {
		fmt.Fprintf(b, "bridge = %g # mm of foam around a hole, as drawn; %g is better\n", float64(p.bridge), float64(leastBridge))
	}
	b.WriteString(rows)
	return nil
}

const draftThickness = 5

// cuts is what the knife cuts out of the drawn piece.
func (p *part) cuts() []geom.Ring {
	return append(append([]geom.Ring(nil), p.holes...), p.slots...)
}

// draftRows gives a common size to rows that say nothing about their holes: a line of class row would be refused otherwise.
func (p *part) draftRows() (string, error) {
	var out strings.Builder
	for i := range p.rows {
		r := &p.rows[i]
		if r.diameter != 0 && r.pitch != 0 {
			continue
		}
		if r.name == "" {
			return "", fault(r.path[0], []geom.Path{r.path}, "the row at %s has neither data-diameter and data-pitch nor an id by which the spec sheet could give them", place(r.path[0]))
		}
		r.diameter, r.pitch, r.inset = draftHole, draftPitch, 0
		fmt.Fprintf(&out, "[[piece.row]]\nline = %s\ndiameter = %d\npitch = %d\n", quoted(r.name), draftHole, draftPitch)
	}
	return out.String(), nil
}

// The hole of a rivet and the usual distance between rivets, mm (common practice, no source).
const (
	draftHole  = 4
	draftPitch = 30
)

const draftHead = `# First spec sheet for a bare drawing. It can be used as it is; the comments say what to do next.
# The README of the pattern library explains every key.
name = %s
title = %s
kind = "prop" # or "armour", which is worn
summary = %s # one or two sentences for a client
# region = "forearm" # where it is worn: head, neck, shoulder, upper-arm, forearm, hand, chest, waist, hip, thigh, shin, foot
sided = false # true if left and right differ; draw the right one
assembly = %s # what the bench calls the finished thing
operations = ["cut", "bevel", "glue", "seal", "prime", "paint"] # in working order
finishes = ["primed", "painted"]
cautions = [] # what the wearer must know; include one for children
measures = [] # next: the measurements it is made to, in asking order

[base] # next: the body it is drawn for, in mm, one line per measure
# wrist-girth = 170
`

const draftFoot = `
# Next, for a piece that is made to measure, in its own entry above: the frame it was drawn in and what drives it.
#
# frame = "flat" # instead of "fixed"
# length = { measure = "elbow-wrist-length" }
# [[piece.section]]
# at = 0 # 0 is the bottom of the piece, 1 the top
# measure = "wrist-girth"
# share = 0.5 # of the girth
# ease = 16 # mm on the whole girth
#
# Next, for edges that are glued to each other: name their ends with points in the drawing, list the edges in the piece's
# entry, edges = { side = ["a", "b"] } going counter-clockwise, and join them in a seam.
#
# [[seam]]
# name = "side"
# a = "A.side"
# b = "B.side"
`

package pattern

import (
	"math"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// copies makes the numbered copies of a piece: as drawn and, of a pair, the mirror images; for the left side all are
// mirrored.
func copies(p *part, pc foam.Piece, left bool) []foam.Piece {
	var out []foam.Piece
	for half := 0; half < 2; half++ {
		if half == 1 && !p.doc.Pair {
			break
		}
		for i := 0; i < p.copies; i++ {
			c := pc
			if left != (half == 1) {
				c = mirroredPiece(c)
			} else {
				c = clonedPiece(c)
			}
			c.Copy = len(out) + 1
			if p.frame == frameGore && p.doc.Closed && c.Worn.Region != "" {
				c.Worn.Facing = turned(c.Worn.Facing, p.apart()*float64(i), c.Mirrored)
			}
			out = append(out, c)
		}
	}
	return out
}

// apart is the angle between the copies of a closed gore; mirror images take the other half of the ring.
func (p *part) apart() float64 { return 360 / float64(p.physical()) }

// turned adds an angle to a facing, subtracts it for a mirror image, and keeps the result within ±180.
func turned(facing, by float64, mirrored bool) float64 {
	if mirrored {
		by = -by
	}
	facing += by
	return facing - 360*math.Floor((facing+180-1e-9)/360)
}

// movedPiece is the piece moved by a placement, sharing no memory with it.
func movedPiece(p foam.Piece, t geom.Placement) foam.Piece {
	p.Shape = t.Shape(p.Shape)
	drills := p.Drills
	p.Drills = nil
	for _, d := range drills {
		d.At = t.Apply(d.At)
		p.Drills = append(p.Drills, d)
	}
	scores := p.Scores
	p.Scores = nil
	for _, s := range scores {
		p.Scores = append(p.Scores, t.Path(s))
	}
	marks := p.Marks
	p.Marks = nil
	for _, m := range marks {
		m.Path = t.Path(m.Path)
		p.Marks = append(p.Marks, m)
	}
	return p
}

func clonedPiece(p foam.Piece) foam.Piece { return movedPiece(p, geom.Placement{}) }

// mirroredPiece turns the piece over about its own vertical middle line, so that it stays where it was drawn.
func mirroredPiece(p foam.Piece) foam.Piece {
	x := p.Shape.Bounds().Centre().X
	out := movedPiece(p, geom.Placement{Mirrored: true, Move: geom.Pt(2*x, 0)})
	out.Mirrored = true
	out.Worn.Facing = 0 - out.Worn.Facing // not −x, which would print the front as -0
	return out
}

package drawing

import (
	"math"
	"slices"

	"benchbell/quote/geom"
)

// travelOrder sorts lines by layer, piece and distance to travel (nearest neighbour, a heuristic; the shortest path would
// take a solver and save a few seconds per sheet).
func travelOrder(lines []CutLine) []CutLine {
	pieces := pieceOrder(lines)
	out := make([]CutLine, 0, len(lines))
	for _, layer := range cutOrder {
		var head geom.Point
		for _, piece := range pieces {
			var left []CutLine
			for _, l := range piece {
				if l.Layer == layer {
					left = append(left, l)
				}
			}
			for len(left) > 0 {
				best, start, _ := nearest(left, head)
				l := left[best].from(start)
				left = slices.Delete(left, best, best+1)
				head = l.end(head)
				out = append(out, l)
			}
		}
	}
	return out
}

// pieceOrder groups the lines by piece, the nearest piece next; a piece ends where its nearest line was reached.
func pieceOrder(lines []CutLine) (out [][]CutLine) {
	var left [][]CutLine
	index := map[string]int{}
	for _, l := range lines {
		i, ok := index[l.Piece]
		if !ok {
			i = len(left)
			index[l.Piece] = i
			left = append(left, nil)
		}
		left[i] = append(left[i], l)
	}
	var head geom.Point
	for len(left) > 0 {
		best, near, at := 0, math.Inf(1), head
		for i, piece := range left {
			if k, start, d := nearest(piece, head); d < near {
				best, near, at = i, d, piece[k].from(start).end(head)
			}
		}
		out, head = append(out, left[best]), at
		left = slices.Delete(left, best, best+1)
	}
	return out
}

// nearest is the best line to follow next from a place, where to start it, and how far that is.
func nearest(lines []CutLine, head geom.Point) (best, start int, near float64) {
	near = math.Inf(1)
	for i := range lines {
		if k, d := lines[i].start(head); d < near {
			best, start, near = i, k, d
		}
	}
	return best, start, near
}

// start is the index of the point at which to start the line coming from a place, and how far that is.
func (l CutLine) start(from geom.Point) (int, float64) {
	switch {
	case l.Circle != nil:
		return 0, math.Abs(from.Dist(l.Circle.Centre) - float64(l.Circle.Radius))
	case !l.Closed:
		a, b := from.Dist(l.Points[0]), from.Dist(l.Points[len(l.Points)-1])
		if b < a {
			return len(l.Points) - 1, b
		}
		return 0, a
	}
	best, near := 0, math.Inf(1)
	for i, p := range l.Points {
		if d := from.Dist(p); d < near {
			best, near = i, d
		}
	}
	return best, near
}

// from is the line started at a point chosen by start.
func (l CutLine) from(start int) CutLine {
	if l.Circle != nil || start == 0 {
		return l
	}
	if l.Closed {
		l.Points = slices.Concat(l.Points[start:], l.Points[:start])
	} else {
		l.Points = slices.Clone(l.Points)
		slices.Reverse(l.Points)
	}
	return l
}

// end is where the tool is after the line.
func (l CutLine) end(from geom.Point) geom.Point {
	switch {
	case l.Circle != nil: // entered and left at the nearest point
		away := from.Sub(l.Circle.Centre).Unit()
		return l.Circle.Centre.Add(away.Mul(float64(l.Circle.Radius)))
	case l.Closed:
		return l.Points[0]
	}
	return l.Points[len(l.Points)-1]
}

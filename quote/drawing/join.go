package drawing

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"benchbell/quote/geom"
)

// meetGap is the distance within which two ends are the same point: what two or three decimals in a file leave between
// them.
const meetGap geom.MM = 0.01

// outlineGaps is how many gaps long a line must be to be closed onto itself: a shorter one is a tick, not an outline.
const outlineGaps = 3

// maxPlaces bounds how many places or kinds are listed one by one; a drawing with more is wrong as a whole.
const maxPlaces = 12

// Join joins open lines whose ends meet within gap into one line each, and closes those that return to their start; many
// editors write an outline as loose segments. Lines are joined only if the file says the same about them: layer, groups,
// label, classes, data, colours, dash. Where more than two ends meet it does not guess: these ends stay separate and a note
// says where. Ends that meet within 0.01 mm are paired first, so that a wide gap does not mistake a short segment's own
// ends for a meeting; a wider gap is bridged by a straight line and noted. A joined line is in the place of its first
// member, runs in the same direction and keeps its ID and place. Coordinates must be finite. The same lines give the same
// result.
func Join(lines []Line, gap geom.MM) (joined []Line, notes []string) {
	lines = slices.Clone(lines)
	if !(gap > 0) {
		return lines, nil
	}
	before := len(lines)
	if gap > meetGap {
		lines, _ = joinPass(lines, meetGap)
	}
	lines, notes = joinPass(lines, gap)
	if n := before - len(lines); n > 0 {
		notes = append([]string{fmt.Sprintf("loose lines were joined where their ends meet: %d lines became %d", before, len(lines))}, notes...)
	}
	return lines, notes
}

// lineEnd is one end of an open line.
type lineEnd struct {
	line int
	last bool
}

func (e lineEnd) other() lineEnd { return lineEnd{e.line, !e.last} }

func (e lineEnd) in(lines []Line) geom.Point {
	p := lines[e.line].Points
	if e.last {
		return p[len(p)-1]
	}
	return p[0]
}

// joinPass joins what meets within gap. Its notes are the places it left alone and the gaps above meetGap that it bridged.
func joinPass(lines []Line, gap geom.MM) (joined []Line, notes []string) {
	mate, notes := mates(lines, gap)
	done := make([]bool, len(lines))
	for i := range lines {
		if done[i] {
			continue
		}
		done[i] = true
		chain, closed := chainOf(lineEnd{i, false}, mate)
		if len(chain) == 1 && !closed {
			joined = append(joined, lines[i])
			continue
		}
		l, widest := weld(lines, i, chain, closed)
		if closed && geom.Ring(l.Points).Area() <= geom.MM2(float64(meetGap)*float64(l.Points.Length())) {
			notes = append(notes, fmt.Sprintf("the line at %s runs out and back; its ends are left as they are", lines[i].At))
			for _, e := range chain {
				delete(mate, e)
				delete(mate, e.other())
			}
			joined = append(joined, lines[i])
			continue
		}
		for _, e := range chain {
			done[e.line] = true
		}
		if widest > float64(meetGap) {
			what := "the line at %s was joined over a gap of %.2f mm"
			if closed {
				what = "the outline at %s was closed over a gap of %.2f mm"
			}
			notes = append(notes, fmt.Sprintf(what, lines[i].At, widest))
		}
		joined = append(joined, l)
	}
	if n := len(notes); n > maxPlaces {
		notes = append(notes[:maxPlaces:maxPlaces], fmt.Sprintf("and %d more such places", n-maxPlaces))
	}
	return joined, notes
}

// mates are the ends that belong together, each mapped to the other, and a note for every place where more than two meet.
func mates(lines []Line, gap geom.MM) (mate map[lineEnd]lineEnd, notes []string) {
	var kinds []string
	ends := map[string][]lineEnd{}
	for i := range lines {
		if l := &lines[i]; !l.Closed && len(l.Points) >= 2 {
			k := sameKind(l)
			if ends[k] == nil {
				kinds = append(kinds, k)
			}
			ends[k] = append(ends[k], lineEnd{i, false}, lineEnd{i, true})
		}
	}
	mate = map[lineEnd]lineEnd{}
	for _, k := range kinds {
		for _, c := range clusters(lines, ends[k], float64(gap)) {
			a, b := c[0], c[1]
			switch own := lines[a.line].Points; {
			case len(c) > 2:
				p := a.in(lines)
				notes = append(notes, fmt.Sprintf("%d line ends meet at (%.1f, %.1f), the first of %s; it is unclear which belong together, so they are left separate",
					len(c), p.X, p.Y, lines[a.line].At))
			case a.line == b.line && (len(own) < 3 || own.Length() <= outlineGaps*gap): // a tick
			default:
				mate[a], mate[b] = b, a
			}
		}
	}
	return mate, notes
}

// chainOf is the chain that the line of e belongs to, each member given by the end at which it is entered, and whether the
// chain returns to its start. A closed chain starts with e; an open one where walking back from e ends.
func chainOf(e lineEnd, mate map[lineEnd]lineEnd) (chain []lineEnd, closed bool) {
	start := e
	for {
		m, ok := mate[start]
		if !ok {
			break
		}
		start = m.other()
		if start == e {
			closed = true
			break
		}
	}
	for at := start; ; {
		chain = append(chain, at)
		m, ok := mate[at.other()]
		if !ok || m == start {
			return chain, closed
		}
		at = m
	}
}

// weld is the chain as one line, with what the file says about its first member, and the widest gap in it.
func weld(lines []Line, first int, chain []lineEnd, closed bool) (Line, float64) {
	var points geom.Path
	var widest float64
	for _, e := range chain {
		p := slices.Clone(lines[e.line].Points)
		if e.last {
			slices.Reverse(p)
		}
		if len(points) > 0 {
			d := points[len(points)-1].Dist(p[0])
			widest = math.Max(widest, d)
			if d <= float64(meetGap) {
				p = p[1:]
			}
		}
		points = append(points, p...)
	}
	if n := len(points); closed {
		d := points[n-1].Dist(points[0])
		widest = math.Max(widest, d)
		if d <= float64(meetGap) {
			points = points[:n-1]
		}
	}
	l := lines[first]
	l.Points, l.Closed = points, closed
	return l, widest
}

// sameKind is everything the file says about a line except its geometry, identity and place.
func sameKind(l *Line) string {
	s := fmt.Sprintf("%q %q %q %q %q %v %v", l.Layer, l.Label, l.Class, l.Stroke, l.Fill, l.Dashed, l.Hidden)
	for _, g := range l.Groups {
		s += fmt.Sprintf(" (%q %q %q)", g.ID, g.Label, g.Class)
	}
	for _, k := range slices.Sorted(maps.Keys(l.Data)) {
		s += fmt.Sprintf(" %q=%q", k, l.Data[k])
	}
	return s
}

// clusters are the groups of two or more ends that meet, each end within gap of another in its group, in the order of their
// first end. Grid cells are so small that all ends in one meet.
func clusters(lines []Line, ends []lineEnd, gap float64) [][]lineEnd {
	type cell struct{ x, y float64 }
	side := gap / math.Sqrt2 * 0.999
	cells := map[cell][]int{}
	var order []cell
	for i, e := range ends {
		p := e.in(lines)
		c := cell{math.Floor(p.X / side), math.Floor(p.Y / side)}
		if cells[c] == nil {
			order = append(order, c)
		}
		cells[c] = append(cells[c], i)
	}
	parent := make([]int, len(ends))
	for i := range parent {
		parent[i] = i
	}
	root := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	meet := func(a, b []int) bool {
		for _, i := range a {
			for _, k := range b {
				if ends[i].in(lines).Dist(ends[k].in(lines)) <= gap {
					return true
				}
			}
		}
		return false
	}
	for _, c := range order {
		own := cells[c]
		for _, i := range own[1:] {
			parent[root(i)] = root(own[0])
		}
		for dx := -2.0; dx <= 2; dx++ {
			for dy := -2.0; dy <= 2; dy++ {
				near := cells[cell{c.x + dx, c.y + dy}]
				if len(near) == 0 || root(own[0]) == root(near[0]) {
					continue
				}
				if len(own) > 2 && len(near) > 2 { // both stay separate anyway; comparing all with all would take hours
					continue
				}
				if meet(own, near) {
					parent[root(near[0])] = root(own[0])
				}
			}
		}
	}
	groups := map[int][]lineEnd{}
	for i, e := range ends {
		groups[root(i)] = append(groups[root(i)], e)
	}
	var out [][]lineEnd
	for i := range ends {
		if g := groups[root(i)]; len(g) >= 2 && g[0] == ends[i] {
			out = append(out, g)
		}
	}
	return out
}

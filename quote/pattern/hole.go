package pattern

import (
	"fmt"
	"math"
	"strings"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// Rules of holes.
const (
	// leastBridge is the least foam between a hole and the edge, or another hole: with less, a rivet tears out (common
	// practice, no source). A piece may ask for less or more.
	leastBridge geom.MM = 3
	// bridgeShare of the thickness is left if that is more: a drill wanders in thick foam (common practice, no source).
	bridgeShare = 0.4
	// holeMargin is the least that a piece can ask for: a knife cannot leave less (common practice, no source).
	holeMargin geom.MM = 1
	// A hole takes the diameter of the studio's nearest drill or punch if that changes it by at most snapShare of what is
	// drawn, or by at most snapLeast, which the foam takes up; any further and it is a different hole (common practice, no
	// source).
	snapShare         = 0.1
	snapLeast geom.MM = 0.5
	// knifeLeast: a hole that no tool fits is cut with the knife, which cannot turn in a hole smaller than this (common
	// practice, no source).
	knifeLeast geom.MM = 4
	// snapNote: smaller changes of diameter are not worth mentioning.
	snapNote geom.MM = 0.2
	// maxRowHoles bounds the holes of one row; ten metres of lacing at 50 mm need fewer.
	maxRowHoles = 200
)

// row is a line with equal holes along it.
type row struct {
	name     string
	path     geom.Path
	closed   bool // the path then ends where it starts
	diameter geom.MM
	pitch    geom.MM
	inset    geom.MM // from either end to the first hole
}

// fixHoles checks the bridge and completes the rows from the spec sheet.
func (p *part) fixHoles() error {
	d := p.doc
	p.bridge = max(leastBridge, geom.MM(bridgeShare*d.Thickness))
	if d.Bridge != nil {
		p.bridge = geom.MM(*d.Bridge)
		if !(p.bridge >= holeMargin && p.bridge <= 50) {
			return fmt.Errorf("bridge is %g; it must be from %g to 50 mm", *d.Bridge, float64(holeMargin))
		}
	}
	for i := range d.Rows {
		rd := &d.Rows[i]
		found := false
		for j := range p.rows {
			r := &p.rows[j]
			if r.name != rd.Line || rd.Line == "" {
				continue
			}
			found = true
			r.diameter, r.pitch, r.inset = geom.MM(rd.Diameter), geom.MM(rd.Pitch), geom.MM(rd.Inset)
		}
		if !found {
			return fmt.Errorf("row %d: the drawing has no line of class row named %q", i+1, clip(rd.Line))
		}
	}
	for _, r := range p.rows {
		l := r.path.Length()
		switch {
		case !(r.diameter >= 1 && r.diameter <= 100):
			return fmt.Errorf("the row at %s: its holes are %s wide; they must be from 1 to 100 mm (data-diameter, or a [[piece.row]] that names the line)", place(r.path[0]), r.diameter)
		case !(r.pitch > r.diameter):
			return fmt.Errorf("the row at %s: a pitch of %s leaves no foam between holes of %s", place(r.path[0]), r.pitch, r.diameter)
		case !(r.inset >= 0 && 2*r.inset < l):
			return fmt.Errorf("the row at %s: an inset of %s uses up its length of %s", place(r.path[0]), r.inset, l)
		case l/r.pitch > maxRowHoles:
			return fmt.Errorf("the row at %s would have more than %d holes", place(r.path[0]), maxRowHoles)
		}
	}
	return nil
}

// holes spaces the row's holes along its graded path: the whole number of equal steps nearest to the pitch.
func (r row) holes(path geom.Path) []foam.Drill {
	l := path.Length()
	at := func(d geom.MM) foam.Drill {
		q, _ := path.At(d)
		return foam.Drill{At: q, Diameter: r.diameter}
	}
	if r.closed {
		n := max(1, r.steps(l))
		out := make([]foam.Drill, n)
		for i := range out {
			out[i] = at(l * geom.MM(i) / geom.MM(n))
		}
		return out
	}
	free := l - 2*r.inset
	n := r.steps(free)
	if n == 0 {
		return []foam.Drill{at(l / 2)}
	}
	out := make([]foam.Drill, n+1)
	for i := range out {
		out[i] = at(r.inset + free*geom.MM(i)/geom.MM(n))
	}
	return out
}

func (r row) steps(l geom.MM) int {
	return min(2*maxRowHoles, int(math.Round(math.Max(0, float64(l/r.pitch)))))
}

// nearest is the tool nearest to a diameter; of two equally near ones the smaller, because a punch can widen its hole.
func nearest(tools []foam.Tool, d geom.MM) foam.Tool {
	best := tools[0]
	for _, t := range tools[1:] {
		a, b := math.Abs(float64(t.Diameter-d)), math.Abs(float64(best.Diameter-d))
		if a < b || a == b && t.Diameter < best.Diameter {
			best = t
		}
	}
	return best
}

// snap gives each drill the diameter of the nearest tool. Holes that no tool fits are returned as cut, the others as
// drilled, both in order.
func (p *part) snap(drills []foam.Drill, tools []foam.Tool) (drilled, cut []foam.Drill, notes []string, err error) {
	if len(tools) == 0 {
		return drills, nil, nil, nil
	}
	var changed, kept []string
	add := func(to *[]string, s string) {
		if index(*to, s) < 0 {
			*to = append(*to, s)
		}
	}
	for _, d := range drills {
		t := nearest(tools, d.Diameter)
		diff := math.Abs(float64(t.Diameter - d.Diameter))
		if diff > snapShare*float64(d.Diameter) && diff > float64(snapLeast) {
			if d.Diameter < knifeLeast {
				return nil, nil, nil, fault(d.At, nil, "the hole of %s at %s: the studio has no drill or punch of that size (the nearest is %s), and it is too small for the knife; add a tool of that size or change the hole to fit one", d.Diameter, place(d.At), t.Name)
			}
			add(&kept, fmt.Sprintf("%s (the nearest is %s)", d.Diameter, t.Name))
			cut = append(cut, d)
			continue
		}
		if diff > float64(snapNote) {
			add(&changed, fmt.Sprintf("%s became %s", d.Diameter, t.Name))
		}
		d.Diameter, d.Tool = t.Diameter, t.Name
		drilled = append(drilled, d)
	}
	if len(changed) > 0 {
		notes = append(notes, fmt.Sprintf("piece %s: holes changed to fit the tools: %s", p.doc.ID, strings.Join(changed, ", ")))
	}
	if len(kept) > 0 {
		notes = append(notes, fmt.Sprintf("piece %s: the studio has no drill or punch for holes of %s; they stay as drawn and are cut out with the knife", p.doc.ID, strings.Join(kept, ", ")))
	}
	return drilled, cut, notes, nil
}

// drillRing draws the drill as an inscribed polygon, within flattenTolerance of the circle.
func drillRing(d foam.Drill) geom.Ring {
	r := float64(d.Diameter) / 2
	n := max(12, int(math.Ceil(math.Pi/math.Acos(1-math.Min(1, float64(flattenTolerance)/r)))))
	out := make(geom.Ring, n)
	for i := range out {
		s, c := geom.SinCosDeg(360 * float64(i) / float64(n))
		out[i] = geom.Pt(d.At.X+r*c, d.At.Y+r*s)
	}
	return out
}

// bridges checks that enough foam is left around every hole. Cut-outs are given as rings; drills as circles, for which one
// distance is enough.
func (p *part) bridges(f *fence, cuts []geom.Ring, drills []foam.Drill) error {
	w := float64(p.bridge) - bridgeRounding
	for i, h := range cuts {
		if !f.contains(h[0]) { // with no edge near it, a hole is either all inside or all outside
			return p.tooNear(h.Centroid())
		}
		for j, q := range h {
			if f.near(q, h[(j+1)%len(h)], w) {
				return p.tooNear(h.Centroid())
			}
		}
		for _, o := range cuts[:i] {
			if ringsNear(h, o, w) {
				return p.tooClose(o.Centroid(), h.Centroid())
			}
		}
	}
	for i, d := range drills {
		r := float64(d.Diameter) / 2
		if !f.contains(d.At) || f.near(d.At, d.At, r+w) {
			return p.tooNear(d.At)
		}
		for _, o := range drills[:i] {
			if o.At.Dist(d.At) < r+float64(o.Diameter)/2+w {
				return p.tooClose(o.At, d.At)
			}
		}
		for _, h := range cuts {
			if h.Bounds().Grow(geom.MM(r+w)).Contains(d.At) && (h.Contains(d.At) || float64(h.DistanceTo(d.At)) < r+w) {
				return p.tooClose(h.Centroid(), d.At)
			}
		}
	}
	return nil
}

// bridgeRounding in mm: a bridge drawn exactly as wide as required is wide enough.
const bridgeRounding = 1e-3

func (p *part) tooNear(at geom.Point) error {
	return fault(at, nil, "the hole at %s lies outside the outline or within %s of it: move it inwards, or give the piece a smaller bridge", place(at), p.bridge)
}

func (p *part) tooClose(a, b geom.Point) error {
	return fault(b, []geom.Path{{a, b}}, "the holes at %s overlap or leave less than %s between them: move them apart, or give the piece a smaller bridge", places(a, b), p.bridge)
}

// ringsNear reports whether two cut-outs overlap or come closer than d.
func ringsNear(a, b geom.Ring, d float64) bool {
	if !a.Bounds().Grow(geom.MM(d)).Overlaps(b.Bounds()) {
		return false
	}
	f := newFence(a)
	for i, q := range b {
		if f.near(q, b[(i+1)%len(b)], d) {
			return true
		}
	}
	return a.Contains(b[0]) || b.Contains(a[0])
}

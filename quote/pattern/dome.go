package pattern

import (
	"fmt"
	"math"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// domeRule is a ring of gores that meet at a crown.
type domeRule struct {
	name  string
	parts []*part
	apex  []int // vertex of each part's drawn outline
}

func (s *Set) joinDomes(doc setDoc) error {
	for i, d := range doc.Domes {
		r := domeRule{name: d.Name}
		if d.Apex == "" {
			d.Apex = "apex"
		}
		if d.Name == "" || len(d.Pieces) == 0 {
			return fmt.Errorf("dome %d: give it a name and list the pieces that close around its crown", i+1)
		}
		for j, id := range d.Pieces {
			p := s.find(id)
			if p == nil || index(d.Pieces[:j], id) >= 0 {
				return fmt.Errorf("dome %d (%q): %q is not a piece of this set, or is listed twice", i+1, clip(d.Name), clip(id))
			}
			v, ok := p.named[d.Apex]
			if !ok {
				return fmt.Errorf("dome %d (%q): piece %q has no point %q at the crown", i+1, clip(d.Name), id, clip(d.Apex))
			}
			r.parts, r.apex = append(r.parts, p), append(r.apex, v)
		}
		if err := r.closes(s); err != nil {
			return fmt.Errorf("dome %d (%q): %w", i+1, clip(d.Name), err)
		}
		s.domes = append(s.domes, r)
	}
	return nil
}

// closes checks that gores of different shapes go around the girth together: their shares add up to one and, if all have a
// section, they are drawn as wide as those need. A ring of fixed pieces has no girth to match.
func (r domeRule) closes(s *Set) error {
	excess, share := map[float64]float64{}, map[float64]float64{}
	have := map[float64]int{}
	var ats []float64
	for _, p := range r.parts {
		if p.frame != frameGore {
			return nil
		}
		n := float64(p.physical())
		for _, c := range p.sections {
			if have[c.at] == 0 {
				ats = append(ats, c.at)
			}
			have[c.at]++
			excess[c.at] += n * (p.widthAt(c.at) - c.width(s.base, p))
			share[c.at] += n * c.share
		}
	}
	for _, at := range ats {
		const whole = 1e-3 // shares are written with a few digits
		switch {
		case have[at] < len(r.parts):
		case math.Abs(share[at]-1) > whole:
			return fmt.Errorf("the shares of its gores at %g add up to %.4g; they must add up to 1", at, share[at])
		case math.Abs(excess[at]) > closedTolerance:
			return fmt.Errorf("the gores at %g together are drawn %+.1f mm wider than girth, ease and bend allowance require", at, excess[at])
		}
	}
	return nil
}

// setRange reads the range of angles a dart must stay in, and checks the drawing against it.
func (r *seamRule) setRange(d dartDoc) error {
	r.least, r.most = 0, 360
	if d.Least != nil {
		r.least = *d.Least
	}
	if d.Most != nil {
		r.most = *d.Most
	}
	if !(r.least >= 0 && r.least < r.most && r.most <= 360) {
		return fmt.Errorf("least %g and most %g must be degrees from 0 to 360, with least below most", r.least, r.most)
	}
	ea, eb := r.a.edges[r.edgeA], r.a.edges[r.edgeB]
	o := r.a.outline
	if a := wedge(o[ea.from], o[ea.to], o[eb.to]); a < r.least || a > r.most {
		return fmt.Errorf("it is drawn at %.1f°, outside its own range of %g° to %g°", a, r.least, r.most)
	}
	return nil
}

// wedge is the angle in degrees, 0 to 360, from tip → from counter-clockwise to tip → to.
func wedge(from, tip, to geom.Point) float64 {
	u, v := from.Sub(tip), to.Sub(tip)
	a := math.Atan2(u.Cross(v), u.Dot(v)) * 180 / math.Pi
	if a < 0 {
		a += 360
	}
	return a
}

// coneOf is half the opening angle, in degrees, of the cone that a disc becomes if a wedge of d degrees is taken out and
// the cut is closed: the rim of slant s is (2π − d)·s long and has the radius s·sin a, so sin a = 1 − d/2π (elementary
// geometry of the developed cone). Putting a wedge in instead, d below 0, gives not a cone but a saddle: 90.
func coneOf(d float64) float64 {
	return math.Asin(math.Max(0, math.Min(1, 1-d/360))) * 180 / math.Pi
}

// curve records the curvature that the graded darts and rings of gores give the sheet, and warns of darts bent out of their
// range.
func (s *Set) curve(g *foam.Graded, workpieces []*workpiece) {
	for _, r := range s.seams {
		if !r.dart {
			continue
		}
		w := workpieces[r.a.index]
		ea, eb := r.a.edges[r.edgeA], r.a.edges[r.edgeB]
		from, tip, to := w.outer[w.at[ea.from]], w.outer[w.at[ea.to]], w.outer[w.at[eb.to]]
		d := foam.Dome{Name: r.name, Piece: r.a.doc.ID, Angle: wedge(from, tip, to)}
		d.Cone = coneOf(d.Angle)
		d.Depth = geom.MM((from.Dist(tip) + to.Dist(tip)) / 2 * math.Cos(d.Cone*math.Pi/180))
		g.Domes = append(g.Domes, d)
		if d.Angle < r.least || d.Angle > r.most {
			g.Notes = append(g.Notes, fmt.Sprintf("piece %s: dart %q comes to %.1f°, outside its range of %g° to %g°, which makes the dome %s deep: check with a paper mock-up before cutting", d.Piece, r.name, d.Angle, r.least, r.most, d.Depth))
		}
	}
	for _, r := range s.domes {
		g.Domes = append(g.Domes, r.measure(workpieces))
	}
}

// domeSteps is how finely a ring of gores is followed from rim to crown; halving the step changes the depth of a hemisphere
// by less than 0.2 %.
const domeSteps = 256

// measure is the curvature of a ring of gores: the angle defect at the crown, 360° minus the gores' own angles there (the
// discrete Gauss curvature of the vertex), and the depth of the surface of revolution whose girth at each latitude is the
// total width of the gores.
func (r domeRule) measure(workpieces []*workpiece) foam.Dome {
	d := foam.Dome{Name: r.name, Angle: 360}
	girth := make([]float64, domeSteps+1)
	var meridian, all float64
	for i, p := range r.parts {
		w, n := workpieces[p.index], float64(p.physical())
		v := w.at[r.apex[i]]
		size := len(w.outer)
		d.Angle -= n * wedge(w.outer[(v+1)%size], w.outer[v], w.outer[(v+size-1)%size])
		b := w.outer.Bounds()
		meridian += n * float64(b.Height())
		all += n
		for k := range girth {
			// The middle of the outer half of the first and last step, where even a flat rim has a width.
			y := b.Min.Y + float64(b.Height())*math.Max(1e-6, math.Min(1-1e-6, float64(k)/domeSteps))
			lo, hi := crossings(w.outer, y)
			if hi > lo {
				girth[k] += n * (hi - lo)
			}
		}
	}
	d.Cone = coneOf(d.Angle)
	ds := meridian / all / domeSteps
	for k := 1; k < len(girth); k++ {
		dr := (girth[k] - girth[k-1]) / (2 * math.Pi)
		d.Depth += geom.MM(math.Sqrt(math.Max(0, ds*ds-dr*dr)))
	}
	return d
}

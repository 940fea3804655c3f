package pattern

import (
	"errors"
	"fmt"
	"math"

	"benchbell/quote/geom"
)

// coneBase is the frame of a piece drawn as a developed frustum: the middle of the small end, the lengths of both ends
// along the neutral line, and the slant. The drawing has the small end at the bottom.
type coneBase struct {
	origin geom.Point // middle of the small end
	small  float64    // width at the small end
	big    float64
	slant  float64
}

func (c coneBase) theta() float64 { return (c.big - c.small) / c.slant }

// put maps frustum coordinates, u across (−½..½ of the width) and t along (0 small end, 1 big end), to the sheet. Written
// with sin(φ)/φ so that a cylinder (angle 0) and a cone that tapers the other way need no special case.
func (c coneBase) put(u, t float64) geom.Point {
	phi := u * c.theta()
	w := u * (c.small + t*(c.big-c.small))
	h := sinc(phi / 2)
	return geom.Pt(c.origin.X+w*sinc(phi), c.origin.Y+t*c.slant-w*phi/2*h*h)
}

// take is the inverse of put on the drawn base, whose angle is never zero.
func (c coneBase) take(p geom.Point) (u, t float64) {
	r0 := c.small / c.theta()
	d := p.Sub(geom.Pt(c.origin.X, c.origin.Y-r0))
	phi := math.Atan2(d.X, d.Y)
	return phi / c.theta(), (d.Norm() - r0) / c.slant
}

func sinc(x float64) float64 {
	if math.Abs(x) < 1e-4 {
		return 1 - x*x/6 // next term x⁴/120 is below 1e-18
	}
	return math.Sin(x) / x
}

// closedTolerance is how closely the drawn width of a closed cuff must match its base width, so that the graded girth is
// within half a millimetre of what the body needs.
const closedTolerance = 0.4

func (p *part) setCone(s *Set) error {
	if len(p.sections) != 2 || p.sections[0].at != 0 || p.sections[1].at != 1 {
		return errors.New("frame \"cone\" needs exactly two sections: at 0 (small end, drawn at the bottom) and at 1")
	}
	x := p.outline.Bounds().Centre().X
	lo, hi := math.Inf(1), math.Inf(-1)
	n := len(p.outline)
	for i, a := range p.outline {
		c := p.outline[(i+1)%n]
		if (a.X-x)*(c.X-x) <= 0 && a.X != c.X {
			y := a.Y + (c.Y-a.Y)*(x-a.X)/(c.X-a.X)
			lo, hi = math.Min(lo, y), math.Max(hi, y)
		}
	}
	cb := coneBase{
		origin: geom.Pt(x, lo), slant: hi - lo,
		small: p.sections[0].width(s.base, p),
		big:   p.sections[1].width(s.base, p),
	}
	// The apex of a near-cylinder is kilometres away, and the polar inverse would lose its digits.
	if !(cb.slant > 1) || !(cb.theta() > 1e-3) || !(cb.theta() < math.Pi) {
		return fmt.Errorf("the base is not a cone that lies flat: %.1f mm at the bottom, %.1f mm at the top, slant %.1f mm; the bottom must be the smaller end", cb.small, cb.big, cb.slant)
	}
	p.base = cb
	if !p.doc.Closed {
		return nil
	}
	for i, c := range p.sections {
		ulo, uhi := math.Inf(1), math.Inf(-1)
		for _, q := range p.outline {
			if u, t := cb.take(q); math.Abs(t-c.at)*cb.slant <= closedTolerance {
				ulo, uhi = math.Min(ulo, u), math.Max(uhi, u)
			}
		}
		want := cb.small
		if i == 1 {
			want = cb.big
		}
		if got := (uhi - ulo) * want; !(math.Abs(got-want) <= closedTolerance) {
			return fmt.Errorf("section %d: the drawing is %.1f mm wide there but a closed piece must be %.1f mm (girth, ease and bend allowance)", i+1, got, want)
		}
	}
	return nil
}

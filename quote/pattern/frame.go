package pattern

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"benchbell/quote/geom"
)

// width is what a section asks of its piece, measured along the foam's neutral line:
//
//	share·(measurement + ease) + 2π·turns·(clothing + thickness beneath + K·T)
//
// The second term is the bend allowance BA = A·(π/180)·(R + K·T) of Machinery's Handbook (sheet-metal bends; formula
// from memory, worked values in the test) for A = turns·360° less the body's own girth 2πR·turns. For foam K ≈ 0.5,
// the middle of the sheet, is common practice, no source.
func (c section) width(body map[string]geom.MM, p *part, k float64, clothing geom.MM) float64 {
	m := float64(body[c.measure])
	if c.doc.Toward != "" {
		m += (float64(body[c.doc.Toward]) - m) * c.doc.Part
	}
	return c.share*(m*(1+c.doc.EasePercent/100)+c.doc.Ease) +
		2*math.Pi*c.turns*(float64(clothing)+float64(p.beneath)+k*p.doc.Thickness)
}

// coneBase is the frame of a piece drawn as a developed frustum: the small end's middle, both ends' lengths along the
// neutral line, and the slant. The drawing has the small end at the bottom.
type coneBase struct {
	origin geom.Point // middle of the small end
	small  float64    // width at the small end
	big    float64
	slant  float64
}

func (c coneBase) theta() float64 { return (c.big - c.small) / c.slant }

// put maps frustum coordinates, u across (−½..½ of the width) and t along (0 small end, 1 big end), onto the sheet.
// Written with sin(φ)/φ so that a cylinder (angle 0) and a cone that tapers the other way need no special case.
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

// closedTolerance: a closed cuff's drawn width and its base width must agree this well, so that the graded girth is
// within half a millimetre of what the body asks.
const closedTolerance = 0.4

// setFrame chooses the piece's frame and checks that the drawing suits it.
func (p *part) setFrame(s *Set) error {
	b := p.outline.Bounds()
	p.holdX = b.Centre().X
	switch p.doc.Hold {
	case "", "middle":
	case "left":
		p.holdX = b.Min.X
	case "right":
		p.holdX = b.Max.X
	default:
		return fmt.Errorf("hold %q must be left, middle or right", clip(p.doc.Hold))
	}
	if p.doc.Closed && p.doc.Frame != "cone" {
		return errors.New("closed needs frame \"cone\"")
	}
	switch p.doc.Frame {
	case "fixed":
		if len(p.sections) > 0 || p.doc.Length != nil {
			return errors.New("frame \"fixed\" can have neither sections nor a length driver")
		}
		p.frame = frameFixed
	case "", "flat":
		p.frame = frameFlat
		if len(p.sections) == 0 && p.doc.Length == nil {
			p.frame = frameFixed
		}
	case "cone":
		p.frame = frameCone
		return p.setCone(s)
	default:
		return fmt.Errorf("frame %q must be flat, cone or fixed", clip(p.doc.Frame))
	}
	return nil
}

func (p *part) setCone(s *Set) error {
	if len(p.sections) != 2 || p.sections[0].at != 0 || p.sections[1].at != 1 {
		return errors.New("frame \"cone\" needs exactly two sections, at 0 (small end, drawn at the bottom) and at 1")
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
		small: p.sections[0].width(s.Base, p, s.DrawnK, 0),
		big:   p.sections[1].width(s.Base, p, s.DrawnK, 0),
	}
	// A near-cylinder has its apex kilometres away, and the polar inverse loses its digits.
	if !(cb.slant > 1) || !(cb.theta() > 1e-3) || !(cb.theta() < math.Pi) {
		return fmt.Errorf("the base is no developable cone: %.1f mm at the bottom, %.1f mm at the top, slant %.1f mm; the bottom must be the smaller end", cb.small, cb.big, cb.slant)
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
			return fmt.Errorf("section %d: the drawing is %.1f mm wide there, a closed piece needs %.1f mm (girth, ease and bend allowance)", i+1, got, want)
		}
	}
	return nil
}

// mapping takes a point of the drawing to the graded piece.
type mapping func(geom.Point) geom.Point

// grading is the piece's mapping for one fit.
func (p *part) grading(s *Set, f Fit) (mapping, error) {
	if p.frame == frameFixed {
		return func(q geom.Point) geom.Point { return q }, nil
	}
	along := 1.0
	if l := p.doc.Length; l != nil {
		along += p.follow * (float64(f.Body[l.Measure])/float64(s.Base[l.Measure]) - 1)
	}
	scale := make([]float64, len(p.sections))
	widths := make([]float64, len(p.sections))
	for i, c := range p.sections {
		widths[i] = c.width(f.Body, p, f.FoamK, f.Clothing)
		scale[i] = widths[i] / c.width(s.Base, p, s.DrawnK, 0)
		if !(scale[i] >= 1.0/maxRatio && scale[i] <= maxRatio) {
			return nil, fmt.Errorf("section %d comes to %.1f mm, which is not within a factor %g of the drawing: check %s", i+1, widths[i], maxRatio, c.measure)
		}
	}
	if p.frame == frameCone {
		to := p.base
		to.small, to.big, to.slant = widths[0], widths[1], p.base.slant*along
		if math.Abs(to.theta()) >= math.Pi {
			return nil, fmt.Errorf("a taper from %.1f to %.1f mm over %.1f mm is no cone that lies flat: check %s and %s", to.small, to.big, to.slant, p.sections[0].measure, p.sections[1].measure)
		}
		return func(q geom.Point) geom.Point { return to.put(p.base.take(q)) }, nil
	}
	b := p.outline.Bounds()
	y0, h := b.Min.Y, float64(b.Height())
	return func(q geom.Point) geom.Point {
		k := p.scaleAt(scale, (q.Y-y0)/h)
		return geom.Pt(q.X+(q.X-p.holdX)*(k-1), q.Y+(q.Y-y0)*(along-1))
	}, nil
}

// maxRatio: nobody is two and a half times the body a set was drawn for; it is a wrong unit or a wrong limb.
const maxRatio = 2.5

// scaleAt interpolates the sections' scales at position t; beyond the outermost sections they hold.
func (p *part) scaleAt(scale []float64, t float64) float64 {
	if len(scale) == 0 {
		return 1 // only its length is driven: a strip along the limb
	}
	i := sort.Search(len(p.sections), func(i int) bool { return p.sections[i].at >= t })
	switch {
	case i == 0:
		return scale[0]
	case i == len(p.sections):
		return scale[i-1]
	}
	a, b := p.sections[i-1].at, p.sections[i].at
	return scale[i-1] + (scale[i]-scale[i-1])*(t-a)/(b-a)
}

// sag bounds how far a graded edge may run from where the mapping would bend it: the flattening tolerance again.
const sag = float64(FlattenTolerance)

// line maps an open path; extra points appear only where the mapping bends a straight edge.
func (m mapping) line(p geom.Path) geom.Path {
	out := geom.Path{m(p[0])}
	for i := 1; i < len(p); i++ {
		out = m.segment(out, p[i-1], p[i], 6)
	}
	return out
}

func (m mapping) segment(out geom.Path, a, b geom.Point, depth int) geom.Path {
	fa, fb := m(a), m(b)
	bent := false
	for _, t := range []float64{0.25, 0.5, 0.75} {
		bent = bent || m(a.Lerp(b, t)).Dist(fa.Lerp(fb, t)) > sag
	}
	if !bent || depth == 0 {
		return append(out, fb)
	}
	mid := a.Lerp(b, 0.5)
	return m.segment(m.segment(out, a, mid, depth-1), mid, b, depth-1)
}

// ring maps a closed ring and says where each drawn vertex went.
func (m mapping) ring(r geom.Ring) (geom.Ring, []int) {
	at := make([]int, len(r))
	out := geom.Path{m(r[0])}
	for i := range r {
		at[i] = len(out) - 1
		out = m.segment(out, r[i], r[(i+1)%len(r)], 6)
	}
	return geom.Ring(out[:len(out)-1]), at
}

// rigid is the motion that carries something of fixed size centred at c: it moves with c and turns with the piece's
// lengthwise direction there, and never scales.
func (m mapping) rigid(c geom.Point) mapping {
	const step = 0.01 // mm; far below any curvature of the mapping, far above rounding
	to := m(c)
	up := m(c.Add(geom.Pt(0, step))).Sub(m(c.Sub(geom.Pt(0, step)))).Unit()
	return func(q geom.Point) geom.Point {
		d := q.Sub(c)
		return geom.Pt(to.X+d.X*up.Y+d.Y*up.X, to.Y-d.X*up.X+d.Y*up.Y)
	}
}

package pattern

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"benchbell/quote/geom"
)

type frameKind int

const (
	frameFixed frameKind = iota
	frameFlat
	frameCone
	frameGore // graded like flat: along the meridian and across it; only what its sections ask for differs
)

// setFrame chooses the piece's frame and checks that it suits the drawing.
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
	if p.doc.Closed && p.doc.Frame != "cone" && p.doc.Frame != "gore" {
		return errors.New("closed = true needs frame \"cone\" or \"gore\"")
	}
	switch p.doc.Frame {
	case "fixed":
		if len(p.sections) > 0 || p.doc.Length != nil {
			return errors.New("frame \"fixed\" takes no sections and no length driver")
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
	case "gore":
		p.frame = frameGore
		return p.setGore(s)
	default:
		return fmt.Errorf("frame %q must be flat, cone, gore or fixed", clip(p.doc.Frame))
	}
	return nil
}

// setGore checks that the copies of a gore close around the girth its sections ask for.
func (p *part) setGore(s *Set) error {
	if len(p.sections) == 0 {
		return errors.New("frame \"gore\" needs at least one section, at 0 for the rim")
	}
	if p.doc.Hold != "" && p.doc.Hold != "middle" {
		return errors.New("frame \"gore\" always holds its middle, the meridian; leave out hold")
	}
	if !p.doc.Closed {
		return nil
	}
	n := float64(p.physical())
	for i, c := range p.sections {
		want := c.width(s.base, p) / c.share
		if got := n * p.widthAt(c.at); !(math.Abs(got-want) <= closedTolerance) {
			return fmt.Errorf("section %d: %g gores as drawn come to %.1f mm there but a closed ring needs %.1f mm (girth, ease and bend allowance), so each must be %.2f mm wide", i+1, n, got, want, want/n)
		}
	}
	return nil
}

// widthAt is the width of the drawn outline at a share of its height.
func (p *part) widthAt(at float64) float64 {
	b := p.outline.Bounds()
	const inside = 1e-3 // mm: at its very ends a flat rim has no width, only corners
	y := math.Max(b.Min.Y+inside, math.Min(b.Max.Y-inside, b.Min.Y+at*float64(b.Height())))
	lo, hi := crossings(p.outline, y)
	return hi - lo
}

// crossings are the leftmost and the rightmost place where the ring meets the level y.
func crossings(r geom.Ring, y float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for i, a := range r {
		c := r[(i+1)%len(r)]
		if (a.Y > y) != (c.Y > y) {
			x := a.X + (c.X-a.X)*(y-a.Y)/(c.Y-a.Y)
			lo, hi = math.Min(lo, x), math.Max(hi, x)
		}
	}
	return lo, hi
}

// mapping maps a point of the drawing to the graded piece.
type mapping func(geom.Point) geom.Point

// grading is the piece's mapping for one fit.
func (p *part) grading(s *Set, f Fit) (mapping, error) {
	if p.frame == frameFixed {
		return func(q geom.Point) geom.Point { return q }, nil
	}
	along := 1.0
	if l := p.doc.Length; l != nil {
		along += p.follow * (l.asked(f, p)/l.asked(s.base, p) - 1)
		if !(along >= 1.0/maxRatio && along <= maxRatio) {
			return nil, fmt.Errorf("its length comes to %.2f of the drawing; it must be within a factor of %g: check %s", along, maxRatio, strings.Join(l.Measures, ", "))
		}
	}
	scale := make([]float64, len(p.sections))
	widths := make([]float64, len(p.sections))
	for i, c := range p.sections {
		widths[i] = c.width(f, p)
		scale[i] = widths[i] / c.width(s.base, p)
		if !(scale[i] >= 1.0/maxRatio && scale[i] <= maxRatio) {
			return nil, fmt.Errorf("section %d comes to %.1f mm; it must be within a factor of %g of the drawing: check %s", i+1, widths[i], maxRatio, c.measure)
		}
	}
	if p.frame == frameCone {
		to := p.base
		to.small, to.big, to.slant = widths[0], widths[1], p.base.slant*along
		if math.Abs(to.theta()) >= math.Pi {
			return nil, fmt.Errorf("a taper from %.1f to %.1f mm over %.1f mm is not a cone that lies flat: check %s and %s", to.small, to.big, to.slant, p.sections[0].measure, p.sections[1].measure)
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

// maxRatio: nobody is two and a half times the size a set was drawn for; that is a wrong unit or the wrong limb.
const maxRatio = 2.5

package drawing

import (
	"fmt"
	"math"

	"benchbell/quote/geom"
)

// pathParser reads path data (SVG 1.1, 8.3; SVG 2, 9.3). SVG draws up to an error; a pattern drawn in part would be cut in
// part, so here an error refuses the drawing.
type pathParser struct {
	scanner
	t       *pathTrace
	at      geom.Point // position of the pen, in user units
	begin   geom.Point // start of the subpath
	control geom.Point // last control point, which smooth curves mirror
	last    byte       // upper case of the last command
}

func tracePath(n *svgNode, _ svgContext, t *pathTrace) error {
	d := n.attr("d")
	if d == "none" {
		return nil
	}
	p := pathParser{scanner: scanner{s: d}, t: t}
	if err := p.run(); err != nil {
		return fmt.Errorf("path data, character %d: %w", p.i+1, err)
	}
	return nil
}

func (p *pathParser) run() error {
	for p.spaces(); p.more(); p.spaces() {
		command := p.peek()
		upper := command &^ 0x20
		if segments[upper] == nil && upper != 'Z' {
			return fmt.Errorf("expected a path command, found %s", p.found())
		}
		if p.last == 0 && upper != 'M' {
			return fmt.Errorf("path data begins with %q; it must begin with M", command)
		}
		p.i++
		if upper == 'Z' {
			p.t.close()
			p.at, p.last = p.begin, 'Z'
			continue
		}
		if err := p.segments(upper, command != upper); err != nil {
			return err
		}
	}
	return nil
}

// segments runs a command over all its sets of coordinates; those after a moveto's first are linetos.
func (p *pathParser) segments(command byte, relative bool) error {
	for first := true; ; first = false {
		if first {
			p.spaces()
		} else {
			mark := p.i
			p.separator()
			if !p.startsNumber() {
				p.i = mark
				return nil
			}
		}
		if command != 'M' && !p.t.drawing { // after a close the next subpath starts at the same place
			if err := p.t.moveTo(p.begin); err != nil {
				return err
			}
		}
		origin := geom.Point{}
		if relative {
			origin = p.at
		}
		if err := segments[command](p, origin); err != nil {
			return err
		}
		p.last = command
		if command == 'M' {
			command = 'L'
		}
	}
}

// segments read one set of coordinates each, relative to origin, and draw. They move p.at.
var segments = map[byte]func(p *pathParser, origin geom.Point) error{
	'M': func(p *pathParser, origin geom.Point) error {
		to, err := p.from(origin)
		if err != nil {
			return err
		}
		p.at, p.begin = to, to
		return p.t.moveTo(to)
	},
	'L': func(p *pathParser, origin geom.Point) error {
		to, err := p.from(origin)
		if err != nil {
			return err
		}
		p.at = to
		return p.t.lineTo(to)
	},
	'H': func(p *pathParser, origin geom.Point) error {
		x, err := p.number()
		if err != nil {
			return err
		}
		p.at.X = origin.X + x
		return p.t.lineTo(p.at)
	},
	'V': func(p *pathParser, origin geom.Point) error {
		y, err := p.number()
		if err != nil {
			return err
		}
		p.at.Y = origin.Y + y
		return p.t.lineTo(p.at)
	},
	'C': func(p *pathParser, origin geom.Point) error {
		c, err := p.points(origin, 3)
		if err != nil {
			return err
		}
		return p.cubic(c[0], c[1], c[2])
	},
	'S': func(p *pathParser, origin geom.Point) error {
		c, err := p.points(origin, 2)
		if err != nil {
			return err
		}
		return p.cubic(p.mirrored('C', 'S'), c[0], c[1])
	},
	'Q': func(p *pathParser, origin geom.Point) error {
		c, err := p.points(origin, 2)
		if err != nil {
			return err
		}
		return p.quadratic(c[0], c[1])
	},
	'T': func(p *pathParser, origin geom.Point) error {
		c, err := p.points(origin, 1)
		if err != nil {
			return err
		}
		return p.quadratic(p.mirrored('Q', 'T'), c[0])
	},
	'A': (*pathParser).arc,
}

func (p *pathParser) cubic(c1, c2, to geom.Point) error {
	p.at, p.control = to, c2
	return p.t.cubicTo(c1, c2, to)
}

func (p *pathParser) quadratic(c, to geom.Point) error {
	p.at, p.control = to, c
	return p.t.quadraticTo(c, to)
}

// mirrored is the first control point of a smooth curve: the last curve's, mirrored, or else the pen's position.
func (p *pathParser) mirrored(kind, smooth byte) geom.Point {
	if p.last != kind && p.last != smooth {
		return p.at
	}
	return p.at.Mul(2).Sub(p.control)
}

func (p *pathParser) points(origin geom.Point, n int) (c [3]geom.Point, err error) {
	for i := range n {
		if i > 0 {
			p.separator()
		}
		if c[i], err = p.from(origin); err != nil {
			return c, err
		}
	}
	return c, nil
}

func (p *pathParser) from(origin geom.Point) (geom.Point, error) {
	q, err := p.point()
	return origin.Add(q), err
}

// point reads a pair of numbers.
func (s *scanner) point() (geom.Point, error) {
	x, err := s.number()
	if err != nil {
		return geom.Point{}, err
	}
	s.separator()
	y, err := s.number()
	return geom.Pt(x, y), err
}

// flag reads an arc's flag: one digit, which anything may follow directly.
func (s *scanner) flag() (bool, error) {
	switch s.peek() {
	case '0':
		s.i++
		return false, nil
	case '1':
		s.i++
		return true, nil
	}
	return false, fmt.Errorf("expected an arc's flag, 0 or 1, found %s", s.found())
}

// arc reads and draws an elliptical arc; out-of-range parameters are corrected as in SVG 1.1, appendix F.6.2.
func (p *pathParser) arc(origin geom.Point) error {
	radii, err := p.point()
	if err != nil {
		return err
	}
	p.separator()
	degrees, err := p.number()
	if err != nil {
		return err
	}
	p.separator()
	large, err := p.flag()
	if err != nil {
		return err
	}
	p.separator()
	positive, err := p.flag()
	if err != nil {
		return err
	}
	p.separator()
	to, err := p.from(origin)
	if err != nil {
		return err
	}
	from := p.at
	p.at = to
	if from == to {
		p.t.moved = true
		return nil
	}
	rx, ry := math.Abs(radii.X), math.Abs(radii.Y)
	if rx == 0 || ry == 0 {
		return p.t.lineTo(to)
	}
	e, start, sweep := arcThrough(from, to, rx, ry, degrees, large, positive)
	if err := p.t.arcTo(e, start, sweep); err != nil {
		return err
	}
	return p.t.endAt(to)
}

// arcThrough is the ellipse of an arc between two points, and the arc's angles on it (SVG 1.1 Second Edition, appendix
// F.6.5 and F.6.6), computed in the circle of which the ellipse is an affine image.
func arcThrough(from, to geom.Point, rx, ry, degrees float64, large, positive bool) (e ellipse, start, sweep float64) {
	sin, cos := geom.SinCosDeg(degrees)
	flat := func(v geom.Point) geom.Point { // into the frame where the ellipse is the unit circle
		return geom.Pt((cos*v.X+sin*v.Y)/rx, (cos*v.Y-sin*v.X)/ry)
	}
	half := flat(from.Sub(to).Mul(0.5)) // from the chord's middle to its start
	reach := half.Norm()
	centre := geom.Point{} // from the chord's middle
	if reach >= 1 {        // radii too short are scaled until they reach
		rx, ry = rx*reach, ry*reach
		half = half.Mul(1 / reach)
	} else {
		h := math.Sqrt(1-reach*reach) / reach
		if large == positive {
			h = -h
		}
		centre = half.Perp().Mul(-h)
	}
	a, b := half.Sub(centre), half.Mul(-1).Sub(centre)
	start = math.Atan2(a.Y, a.X)
	sweep = math.Atan2(a.Cross(b), a.Dot(b))
	if positive && sweep < 0 {
		sweep += 2 * math.Pi
	}
	if !positive && sweep > 0 {
		sweep -= 2 * math.Pi
	}
	mid := from.Lerp(to, 0.5)
	u, v := geom.Pt(cos*rx, sin*rx), geom.Pt(-sin*ry, cos*ry)
	return ellipse{mid.Add(u.Mul(centre.X)).Add(v.Mul(centre.Y)), u, v}, start, sweep
}

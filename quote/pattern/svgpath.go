package pattern

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"benchbell/quote/geom"
)

// FlattenTolerance is how far a flattened chord may lie from its drawn bézier or arc: a tenth of what a blade held by
// hand can follow (common practice, no source), so flattening is never what makes an edge not fit.
const FlattenTolerance geom.MM = 0.05

// maxCoord bounds every coordinate of a drawing; a sheet of foam is far smaller than ten metres.
const maxCoord = 10000

// maxPathPoints bounds one flattened path: outlines have hundreds of points, and the crossing check is quadratic.
const maxPathPoints = 3000

// affine is the SVG matrix [a c e; b d f].
type affine struct{ a, b, c, d, e, f float64 }

var identity = affine{a: 1, d: 1}

func (m affine) apply(p geom.Point) geom.Point {
	return geom.Pt(m.a*p.X+m.c*p.Y+m.e, m.b*p.X+m.d*p.Y+m.f)
}

// mul is m after n: points go through n first.
func (m affine) mul(n affine) affine {
	return affine{
		a: m.a*n.a + m.c*n.b, b: m.b*n.a + m.d*n.b,
		c: m.a*n.c + m.c*n.d, d: m.b*n.c + m.d*n.d,
		e: m.a*n.e + m.c*n.f + m.e, f: m.b*n.e + m.d*n.f + m.f,
	}
}

// stretch bounds how much the matrix lengthens any vector.
func (m affine) stretch() float64 {
	return math.Hypot(math.Hypot(m.a, m.b), math.Hypot(m.c, m.d))
}

// similarity reports the scale of a matrix that keeps circles round, mirrored or not.
func (m affine) similarity() (float64, bool) {
	u, v := math.Hypot(m.a, m.b), math.Hypot(m.c, m.d)
	const rel = 1e-6 // transforms are written with about seven digits
	ok := u > 0 && math.Abs(u-v) <= rel*u && math.Abs(m.a*m.c+m.b*m.d) <= rel*u*u
	return u, ok
}

// scanner reads the number lists of SVG attributes.
type scanner struct {
	s string
	i int
}

func (s *scanner) space() {
	for s.i < len(s.s) {
		switch s.s[s.i] {
		case ' ', '\t', '\n', '\r', '\f', ',':
			s.i++
		default:
			return
		}
	}
}

func (s *scanner) done() bool { s.space(); return s.i >= len(s.s) }

// number reads one SVG number; "1.5.5" and "1-2" are two numbers each.
func (s *scanner) number() (float64, error) {
	s.space()
	start, i := s.i, s.i
	digits := func() bool {
		j := i
		for i < len(s.s) && s.s[i] >= '0' && s.s[i] <= '9' {
			i++
		}
		return i > j
	}
	if i < len(s.s) && (s.s[i] == '+' || s.s[i] == '-') {
		i++
	}
	had := digits()
	if i < len(s.s) && s.s[i] == '.' {
		i++
		had = digits() || had
	}
	if !had {
		return 0, fmt.Errorf("a number is missing at character %d of %q", start+1, clip(s.s))
	}
	if i < len(s.s) && (s.s[i] == 'e' || s.s[i] == 'E') {
		j := i
		i++
		if i < len(s.s) && (s.s[i] == '+' || s.s[i] == '-') {
			i++
		}
		if !digits() {
			i = j
		}
	}
	v, err := strconv.ParseFloat(s.s[start:i], 64)
	if err != nil || math.Abs(v) > 1e9 {
		return 0, fmt.Errorf("the number %q is out of range", clip(s.s[start:i]))
	}
	s.i = i
	return v, nil
}

// flag reads an arc flag, which may touch the number after it.
func (s *scanner) flag() (bool, error) {
	s.space()
	if s.i < len(s.s) && (s.s[s.i] == '0' || s.s[s.i] == '1') {
		s.i++
		return s.s[s.i-1] == '1', nil
	}
	return false, fmt.Errorf("an arc flag at character %d must be 0 or 1", s.i+1)
}

func clip(s string) string {
	if len(s) > 40 {
		return s[:40] + "…"
	}
	return s
}

// polyline is one flattened subpath.
type polyline struct {
	pts    geom.Path
	closed bool
}

// pen flattens drawing commands; control points are in user units, emitted points already transformed.
type pen struct {
	m     affine
	out   []polyline
	cur   geom.Point // user units
	start geom.Point
	open  bool
	total int
}

func (p *pen) emit(q geom.Point) error {
	t := p.m.apply(q)
	if !t.Finite() || math.Abs(t.X) > maxCoord || math.Abs(t.Y) > maxCoord {
		return fmt.Errorf("a point lies outside ±%d mm", maxCoord)
	}
	if p.total++; p.total > maxPathPoints {
		return fmt.Errorf("a path has more than %d points, simplify it", maxPathPoints)
	}
	l := &p.out[len(p.out)-1]
	if n := len(l.pts); n == 0 || l.pts[n-1].Dist(t) > joinTolerance {
		l.pts = append(l.pts, t)
	}
	p.cur = q
	return nil
}

// joinTolerance: points nearer than this are one point; drawing programs write three decimals.
const joinTolerance = 1e-4

func (p *pen) moveTo(q geom.Point) error {
	p.out = append(p.out, polyline{})
	p.start, p.open = q, true
	return p.emit(q)
}

func (p *pen) begin() error {
	if p.open {
		return nil
	}
	return p.moveTo(p.cur)
}

func (p *pen) lineTo(q geom.Point) error {
	if err := p.begin(); err != nil {
		return err
	}
	return p.emit(q)
}

func (p *pen) close() {
	if len(p.out) == 0 {
		return
	}
	l := &p.out[len(p.out)-1]
	l.closed = true
	if n := len(l.pts); n > 1 && l.pts[0].Dist(l.pts[n-1]) <= joinTolerance {
		l.pts = l.pts[:n-1]
	}
	p.cur, p.open = p.start, false
}

// cubicTo flattens by the second-difference bound: n equal parameter steps of a cubic err by at most
// (6/8)·M/n², M the longer second difference of the control polygon.
func (p *pen) cubicTo(c1, c2, q geom.Point) error {
	if err := p.begin(); err != nil {
		return err
	}
	a := p.cur
	d := math.Max(a.Sub(c1.Mul(2)).Add(c2).Norm(), c1.Sub(c2.Mul(2)).Add(q).Norm()) * p.m.stretch()
	n := math.Ceil(math.Sqrt(0.75 * d / float64(FlattenTolerance)))
	if !(n <= maxPathPoints) {
		return errors.New("a curve is too large")
	}
	for i := 1.0; i < n; i++ {
		t := i / n
		u := 1 - t
		pt := a.Mul(u * u * u).Add(c1.Mul(3 * u * u * t)).Add(c2.Mul(3 * u * t * t)).Add(q.Mul(t * t * t))
		if err := p.emit(pt); err != nil {
			return err
		}
	}
	return p.emit(q)
}

func (p *pen) quadTo(c, q geom.Point) error {
	return p.cubicTo(p.cur.Lerp(c, 2.0/3), q.Lerp(c, 2.0/3), q)
}

// arcTo follows SVG 1.1 appendix F.6 (endpoint to centre parameterisation, radii scaled up where too small).
func (p *pen) arcTo(rx, ry, rotDeg float64, large, sweep bool, q geom.Point) error {
	if err := p.begin(); err != nil {
		return err
	}
	a := p.cur
	rx, ry = math.Abs(rx), math.Abs(ry)
	if a == q {
		return nil
	}
	if rx == 0 || ry == 0 {
		return p.emit(q)
	}
	sin, cos := math.Sincos(rotDeg * math.Pi / 180)
	h := a.Sub(q).Mul(0.5)
	x1, y1 := cos*h.X+sin*h.Y, -sin*h.X+cos*h.Y
	if l := x1*x1/(rx*rx) + y1*y1/(ry*ry); l > 1 {
		rx, ry = rx*math.Sqrt(l), ry*math.Sqrt(l)
	}
	num := rx*rx*ry*ry - rx*rx*y1*y1 - ry*ry*x1*x1
	k := math.Sqrt(math.Max(0, num/(rx*rx*y1*y1+ry*ry*x1*x1)))
	if large == sweep {
		k = -k
	}
	cx1, cy1 := k*rx*y1/ry, -k*ry*x1/rx
	mid := a.Lerp(q, 0.5)
	c := geom.Pt(cos*cx1-sin*cy1+mid.X, sin*cx1+cos*cy1+mid.Y)
	t0 := math.Atan2((y1-cy1)/ry, (x1-cx1)/rx)
	dt := math.Atan2((-y1-cy1)/ry, (-x1-cx1)/rx) - t0
	if sweep && dt < 0 {
		dt += 2 * math.Pi
	} else if !sweep && dt > 0 {
		dt -= 2 * math.Pi
	}
	n, err := arcSteps(math.Max(rx, ry)*p.m.stretch(), dt)
	if err != nil {
		return err
	}
	for i := 1; i < n; i++ {
		s, co := math.Sincos(t0 + dt*float64(i)/float64(n))
		x, y := rx*co, ry*s
		if err := p.emit(geom.Pt(cos*x-sin*y+c.X, sin*x+cos*y+c.Y)); err != nil {
			return err
		}
	}
	return p.emit(q)
}

// arcSteps is how many chords keep an arc's sagitta r·(1−cos(step/2)) within FlattenTolerance.
func arcSteps(r, angle float64) (int, error) {
	if !(r < 100*maxCoord) {
		return 0, errors.New("an arc is too large")
	}
	x := math.Min(1, float64(FlattenTolerance)/math.Max(r, 1e-9))
	n := int(math.Ceil(math.Abs(angle) / (2 * math.Acos(1-x))))
	if n > maxPathPoints {
		return 0, errors.New("an arc is too large")
	}
	return max(n, int(math.Ceil(math.Abs(angle)/(math.Pi/4)))), nil
}

// ellipse draws a full ellipse.
func (p *pen) ellipse(c geom.Point, rx, ry float64) error {
	if !(rx > 0) || !(ry > 0) {
		return errors.New("a radius must be greater than 0")
	}
	if err := p.moveTo(geom.Pt(c.X+rx, c.Y)); err != nil {
		return err
	}
	for _, x := range []float64{c.X - rx, c.X + rx} {
		if err := p.arcTo(rx, ry, 0, false, true, geom.Pt(x, c.Y)); err != nil {
			return err
		}
	}
	p.close()
	return nil
}

// path draws SVG path data: every command, absolute and relative, smooth ones included.
func (p *pen) path(d string) error {
	s := &scanner{s: d}
	var cmd byte
	var ctrl geom.Point // last control point, for smooth commands
	var prev byte
	for !s.done() {
		if ch := s.s[s.i]; (ch|0x20) >= 'a' && (ch|0x20) <= 'z' {
			cmd = ch
			s.i++
		} else if cmd == 0 || cmd|0x20 == 'z' {
			return fmt.Errorf("path data has a number where a command is due at character %d", s.i+1)
		} else if cmd|0x20 == 'm' {
			cmd = cmd - 'm' + 'l' // further pairs after a move are lines, in the same case
		}
		rel := cmd >= 'a'
		op := cmd | 0x20
		if len(p.out) == 0 && op != 'm' {
			return errors.New("path data must begin with a move (M)")
		}
		var n [6]float64
		need := map[byte]int{'m': 2, 'l': 2, 'h': 1, 'v': 1, 'c': 6, 's': 4, 'q': 4, 't': 2, 'a': 3, 'z': 0}
		k, known := need[op]
		if !known {
			return fmt.Errorf("path command %q is not one of M L H V C S Q T A Z", cmd)
		}
		for i := 0; i < k; i++ {
			v, err := s.number()
			if err != nil {
				return err
			}
			n[i] = v
		}
		pt := func(i int) geom.Point {
			q := geom.Pt(n[i], n[i+1])
			if rel {
				q = q.Add(p.cur)
			}
			return q
		}
		reflect := func(kinds string) geom.Point {
			for i := 0; i < len(kinds); i++ {
				if prev == kinds[i] {
					return p.cur.Mul(2).Sub(ctrl)
				}
			}
			return p.cur
		}
		var err error
		switch op {
		case 'm':
			err = p.moveTo(pt(0))
		case 'l':
			err = p.lineTo(pt(0))
		case 'h':
			q := geom.Pt(n[0], p.cur.Y)
			if rel {
				q.X += p.cur.X
			}
			err = p.lineTo(q)
		case 'v':
			q := geom.Pt(p.cur.X, n[0])
			if rel {
				q.Y += p.cur.Y
			}
			err = p.lineTo(q)
		case 'c':
			c1, c2, q := pt(0), pt(2), pt(4)
			err, ctrl = p.cubicTo(c1, c2, q), c2
		case 's':
			c1, c2, q := reflect("cs"), pt(0), pt(2)
			err, ctrl = p.cubicTo(c1, c2, q), c2
		case 'q':
			c, q := pt(0), pt(2)
			err, ctrl = p.quadTo(c, q), c
		case 't':
			c, q := reflect("qt"), pt(0)
			err, ctrl = p.quadTo(c, q), c
		case 'a':
			var large, sweep bool
			if large, err = s.flag(); err != nil {
				return err
			}
			if sweep, err = s.flag(); err != nil {
				return err
			}
			for i := 3; i < 5; i++ {
				if n[i], err = s.number(); err != nil {
					return err
				}
			}
			err = p.arcTo(n[0], n[1], n[2], large, sweep, pt(3))
		case 'z':
			p.close()
		}
		if err != nil {
			return err
		}
		prev = op
	}
	return nil
}

// parseTransform reads an SVG transform list.
func parseTransform(t string) (affine, error) {
	m := identity
	s := &scanner{s: t}
	for !s.done() {
		j := s.i
		for s.i < len(t) && t[s.i] != '(' {
			s.i++
		}
		if s.i == len(t) {
			return m, fmt.Errorf("transform %q lacks a bracket", clip(t))
		}
		name := trimSpace(t[j:s.i])
		s.i++
		var v []float64
		for {
			s.space()
			if s.i < len(t) && t[s.i] == ')' {
				s.i++
				break
			}
			x, err := s.number()
			if err != nil {
				return m, fmt.Errorf("transform %q: %w", clip(t), err)
			}
			if v = append(v, x); len(v) > 6 {
				return m, fmt.Errorf("transform %q has too many numbers", clip(t))
			}
		}
		n, err := transformStep(name, v)
		if err != nil {
			return m, err
		}
		m = m.mul(n)
	}
	return m, nil
}

func transformStep(name string, v []float64) (affine, error) {
	tan := func(deg float64) float64 { return math.Tan(deg * math.Pi / 180) }
	switch {
	case name == "matrix" && len(v) == 6:
		return affine{v[0], v[1], v[2], v[3], v[4], v[5]}, nil
	case name == "translate" && len(v) == 1:
		return affine{1, 0, 0, 1, v[0], 0}, nil
	case name == "translate" && len(v) == 2:
		return affine{1, 0, 0, 1, v[0], v[1]}, nil
	case name == "scale" && len(v) == 1:
		return affine{v[0], 0, 0, v[0], 0, 0}, nil
	case name == "scale" && len(v) == 2:
		return affine{v[0], 0, 0, v[1], 0, 0}, nil
	case name == "rotate" && (len(v) == 1 || len(v) == 3):
		s, c := geom.SinCosDeg(v[0])
		r := affine{c, s, -s, c, 0, 0}
		if len(v) == 3 {
			r = affine{1, 0, 0, 1, v[1], v[2]}.mul(r).mul(affine{1, 0, 0, 1, -v[1], -v[2]})
		}
		return r, nil
	case name == "skewX" && len(v) == 1:
		return affine{1, 0, tan(v[0]), 1, 0, 0}, nil
	case name == "skewY" && len(v) == 1:
		return affine{1, tan(v[0]), 0, 1, 0, 0}, nil
	}
	return identity, fmt.Errorf("transform %q with %d numbers is not one of matrix, translate, scale, rotate, skewX, skewY", clip(name), len(v))
}

func trimSpace(s string) string {
	for len(s) > 0 && (s[0] == ' ' || s[0] == ',' || s[0] == '\n' || s[0] == '\t' || s[0] == '\r') {
		s = s[1:]
	}
	for len(s) > 0 && (s[len(s)-1] == ' ' || s[len(s)-1] == '\n' || s[len(s)-1] == '\t') {
		s = s[:len(s)-1]
	}
	return s
}

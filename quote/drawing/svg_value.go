package drawing

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"benchbell/quote/geom"
)

// maxUserUnits is more than anything that could land inside maxExtent under a sane transform, and its products stay finite.
const maxUserUnits = 1e9

// pixel is a CSS pixel: 96 to the inch (W3C CSS Values and Units 3, 5.2).
const pixel = float64(geom.Inch) / 96

var errTooManyPoints = fmt.Errorf("when flattened, the drawing has more than %d points; simplify its paths", maxPoints)

// withinExtent refuses places beyond maxExtent and coordinates that are not numbers.
func withinExtent(places ...geom.Point) error {
	const most = float64(maxExtent)
	for _, p := range places {
		if !(math.Abs(p.X) <= most && math.Abs(p.Y) <= most) {
			return fmt.Errorf("it reaches %.4g, %.4g mm; the limit is %.0f mm from the page's corner, so check the document's unit", p.X, p.Y, most)
		}
	}
	return nil
}

// scanner reads SVG's numbers, which need not be separated by anything.
type scanner struct {
	s string
	i int
}

func (s *scanner) more() bool { return s.i < len(s.s) }

// peek is the next byte, zero at the end.
func (s *scanner) peek() byte {
	if s.i < len(s.s) {
		return s.s[s.i]
	}
	return 0
}

func (s *scanner) spaces() {
	for s.i < len(s.s) && isSpace(s.s[s.i]) {
		s.i++
	}
}

func isSpace(c byte) bool { return c == ' ' || c == '\t' || c == '\n' || c == '\r' || c == '\f' }

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// separator skips white space and at most one comma.
func (s *scanner) separator() {
	s.spaces()
	if s.peek() == ',' {
		s.i++
		s.spaces()
	}
}

// startsNumber reports whether a number starts here.
func (s *scanner) startsNumber() bool {
	c := s.peek()
	return isDigit(c) || c == '.' || c == '+' || c == '-'
}

// number reads one number (SVG 1.1, 4.2); an exponent counts only if digits follow, so that "1em" is 1 and a unit.
func (s *scanner) number() (float64, error) {
	from := s.i
	if c := s.peek(); c == '+' || c == '-' {
		s.i++
	}
	digits := s.digits()
	if s.peek() == '.' {
		s.i++
		digits += s.digits()
	}
	if digits == 0 {
		s.i = from
		return 0, fmt.Errorf("expected a number, found %s", s.found())
	}
	if c := s.peek(); c == 'e' || c == 'E' {
		mark := s.i
		s.i++
		if c := s.peek(); c == '+' || c == '-' {
			s.i++
		}
		if s.digits() == 0 {
			s.i = mark
		}
	}
	text := s.s[from:s.i]
	v, err := strconv.ParseFloat(text, 64)
	if math.Abs(v) > maxUserUnits {
		s.i = from
		return 0, fmt.Errorf("the number %.20s is too large", text)
	}
	if err != nil {
		s.i = from
		return 0, fmt.Errorf("%.20q is not a number", text)
	}
	return v, nil
}

func (s *scanner) digits() int {
	from := s.i
	for s.i < len(s.s) && isDigit(s.s[s.i]) {
		s.i++
	}
	return s.i - from
}

// word reads letters.
func (s *scanner) word() string {
	from := s.i
	for s.i < len(s.s) && (s.s[s.i]|0x20 >= 'a' && s.s[s.i]|0x20 <= 'z') {
		s.i++
	}
	return s.s[from:s.i]
}

func (s *scanner) found() string {
	if !s.more() {
		return "the end"
	}
	return fmt.Sprintf("%.10q", s.s[s.i:min(len(s.s), s.i+10)])
}

// numbers reads a list of at most most numbers that fills the whole text.
func numbers(text string, most int) ([]float64, error) {
	s := scanner{s: text}
	var all []float64
	for s.spaces(); s.more(); s.separator() {
		v, err := s.number()
		if err != nil {
			return nil, err
		}
		if all = append(all, v); len(all) > most {
			return nil, fmt.Errorf("has more than %d numbers", most)
		}
	}
	return all, nil
}

// unitLengths are CSS's absolute units in millimetres (CSS Values and Units 3, 5.2); without a unit it is a pixel.
var unitLengths = map[string]float64{
	"": pixel, "px": pixel, "mm": 1, "cm": 10, "q": 0.25, "in": float64(geom.Inch), "pt": float64(geom.Inch) / 72, "pc": float64(geom.Inch) / 6,
}

// length reads a length in user units; a percentage is of whole.
func length(text string, whole float64) (float64, error) {
	v, unit, err := dimension(text)
	if err != nil {
		return 0, err
	}
	if unit == "%" {
		return v / 100 * whole, nil
	}
	return v * (unitLengths[unit] / pixel), nil
}

// dimension reads a number and its unit: one of unitLengths, or "%".
func dimension(text string) (float64, string, error) {
	s := scanner{s: strings.TrimSpace(text)}
	v, err := s.number()
	if err != nil {
		return 0, "", err
	}
	unit := s.s[s.i:]
	if lower := strings.ToLower(unit); unitLengths[lower] != 0 {
		return v, lower, nil
	}
	if unit == "%" {
		return v, unit, nil
	}
	return 0, "", fmt.Errorf("%.20q has a unit that is not supported; use mm, cm, in, pt, pc, px or Q", text)
}

// Which part of the viewport a percentage refers to.
type axis int

const (
	along  axis = iota // its width
	across             // its height
	either             // its diagonal over √2
)

// measure reads a length attribute; absent or "auto" means it is not there.
func (n *svgNode) measure(name string, ctx svgContext, of axis) (v float64, there bool, err error) {
	text := strings.TrimSpace(n.attr(name))
	if text == "" || text == "auto" {
		return 0, false, nil
	}
	whole := ctx.width
	switch of {
	case across:
		whole = ctx.height
	case either:
		whole = math.Hypot(ctx.width, ctx.height) / math.Sqrt2
	}
	if v, err = length(text, whole); err != nil {
		return 0, false, fmt.Errorf("%s: %w", name, err)
	}
	return v, true, nil
}

// lengths2 reads an x and a y, for which text may have lists: the first number counts.
func (n *svgNode) lengths2(xName, yName string, ctx svgContext) (x, y float64, err error) {
	for _, c := range []struct {
		name  string
		to    *float64
		whole float64
	}{{xName, &x, ctx.width}, {yName, &y, ctx.height}} {
		text := strings.TrimSpace(n.attr(c.name))
		if cut := strings.IndexAny(text, ", \t\r\n"); cut >= 0 {
			text = text[:cut]
		}
		if text == "" {
			continue
		}
		if *c.to, err = length(text, c.whole); err != nil {
			return 0, 0, fmt.Errorf("%s: %w", c.name, err)
		}
	}
	return x, y, nil
}

// parseTransform reads a list of transforms (SVG 1.1, 7.6). The units px and deg, which CSS requires, are accepted.
func parseTransform(text string) (affine, error) {
	m := identity
	s := scanner{s: text}
	if strings.TrimSpace(text) == "none" {
		return m, nil
	}
	for s.spaces(); s.more(); s.separator() {
		name := s.word()
		s.spaces()
		if name == "" || s.peek() != '(' {
			return m, fmt.Errorf("transform, character %d: expected a transform such as rotate(30), found %s", s.i+1, s.found())
		}
		s.i++
		var v []float64
		for s.spaces(); s.peek() != ')'; s.separator() {
			x, err := s.number()
			if err != nil {
				return m, fmt.Errorf("transform, character %d: %w", s.i+1, err)
			}
			if unit := s.word(); unit != "" && unit != "px" && unit != "deg" {
				return m, fmt.Errorf("transform, character %d: the unit %.10q is not supported in a transform", s.i, unit)
			}
			if v = append(v, x); len(v) > 6 {
				return m, fmt.Errorf("transform, character %d: %.20s has more than six numbers", s.i, name)
			}
		}
		s.i++
		one, ok := transform(name, v)
		if !ok {
			return m, fmt.Errorf("transform, character %d: %.20s cannot have %d numbers", s.i, name, len(v))
		}
		m = m.mul(one)
	}
	if !m.finite() {
		return m, errors.New("transform: its numbers are too large")
	}
	return m, nil
}

// transform is one transform by its name and numbers.
func transform(name string, v []float64) (affine, bool) {
	one := len(v) == 1
	two := len(v) == 2
	switch {
	case name == "matrix" && len(v) == 6:
		return affine{v[0], v[1], v[2], v[3], v[4], v[5]}, true
	case name == "translate" && two:
		return translation(v[0], v[1]), true
	case (name == "translate" || name == "translateX") && one:
		return translation(v[0], 0), true
	case name == "translateY" && one:
		return translation(0, v[0]), true
	case name == "scale" && two:
		return scaling(v[0], v[1]), true
	case name == "scale" && one:
		return scaling(v[0], v[0]), true
	case name == "scaleX" && one:
		return scaling(v[0], 1), true
	case name == "scaleY" && one:
		return scaling(1, v[0]), true
	case name == "rotate" && one:
		return turning(v[0]), true
	case name == "rotate" && len(v) == 3:
		return translation(v[1], v[2]).mul(turning(v[0])).mul(translation(-v[1], -v[2])), true
	case name == "skewX" && one:
		return affine{a: 1, c: math.Tan(v[0] * math.Pi / 180), d: 1}, true
	case name == "skewY" && one:
		return affine{a: 1, b: math.Tan(v[0] * math.Pi / 180), d: 1}, true
	}
	return affine{}, false
}

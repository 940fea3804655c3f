package drawing

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"benchbell/quote/geom"

	"golang.org/x/image/colornames"
)

// property is one of the few properties that distinguish lines.
type property int

const (
	propStroke property = iota
	propFill
	propColour
	propDash
	propDisplay
	propVisibility
	propertyCount
)

var properties = map[string]property{
	"stroke": propStroke, "fill": propFill, "color": propColour, "stroke-dasharray": propDash,
	"display": propDisplay, "visibility": propVisibility,
}

// Values that properties are normalised to, besides "#rrggbb".
const (
	valueInherit = "inherit"
	valueNone    = "none"
	valueColour  = "currentcolor"
	valueDashed  = "dashed"
	valueHidden  = "hidden"
	valueShown   = "visible"
)

// declared is what attributes, style sheets and the style attribute together say about one element; "" says nothing.
type declared struct {
	value     [propertyCount]string
	transform *affine
	origin    *geom.Point // of the transform
	clipped   bool        // has a clip or mask
	geometry  string      // a property of a shape's geometry that is set in a style
	err       error
}

// declaration is one normalised "property: value".
type declaration struct {
	property  property
	value     string
	transform *affine
	origin    *geom.Point
	clipped   bool
	geometry  string
	important bool
}

func (d *declared) apply(x declaration) {
	switch {
	case x.transform != nil:
		d.transform = x.transform
	case x.origin != nil:
		d.origin = x.origin
	case x.clipped:
		d.clipped = true
	case x.geometry != "":
		d.geometry = x.geometry
	default:
		d.value[x.property] = x.value
	}
}

// declare normalises one declaration; ok is false for a property that does not matter here or a value that CSS ignores.
func declare(name, value string) (x declaration, ok bool, err error) {
	switch name {
	case "transform":
		if value == valueInherit || value == "initial" || value == "unset" {
			return x, false, nil
		}
		m, err := parseTransform(value)
		if err != nil {
			return x, false, err
		}
		return declaration{transform: &m}, true, nil
	case "transform-origin":
		v, err := numbers(strings.ReplaceAll(value, "px", ""), 3)
		if err != nil || len(v) < 2 {
			return x, false, fmt.Errorf("transform-origin %.40q is not supported; use two numbers", value)
		}
		return declaration{origin: &geom.Point{X: v[0], Y: v[1]}}, true, nil
	case "clip-path", "mask":
		return declaration{clipped: true}, value != valueNone && value != "", nil
	}
	x.property, ok = properties[name]
	if !ok {
		return x, false, nil
	}
	x.value, ok = normal(x.property, value)
	return x, ok, nil
}

// normal is a property's value, reduced to the few words used here.
func normal(p property, value string) (string, bool) {
	value = strings.ToLower(strings.TrimSpace(value))
	switch value {
	case "inherit":
		return valueInherit, true
	case "unset", "revert":
		if p == propDisplay {
			return valueShown, true
		}
		return valueInherit, true
	case "initial":
		value = [propertyCount]string{propStroke: valueNone, propFill: "black", propColour: "black", propDash: valueNone, propDisplay: "inline", propVisibility: valueShown}[p]
	}
	switch p {
	case propDisplay:
		if value == valueNone {
			return valueHidden, true
		}
		return valueShown, value != ""
	case propVisibility:
		switch value {
		case "hidden", "collapse":
			return valueHidden, true
		case "visible":
			return valueShown, true
		}
		return "", false
	case propDash:
		return normalDash(value)
	}
	return normalPaint(value)
}

// normalDash tells dashes from a line without gaps: gaps are every second number of the list, which is doubled if its count
// is odd (SVG 1.1, 11.4).
func normalDash(value string) (string, bool) {
	if value == valueNone {
		return valueNone, true
	}
	s := scanner{s: value}
	count, gaps, all := 0, false, false
	for s.spaces(); s.more(); s.separator() {
		v, err := s.number()
		if err != nil || v < 0 {
			return "", false
		}
		if unit := s.word(); unit == "" && s.peek() == '%' {
			s.i++
		}
		all = all || v > 0
		gaps = gaps || (v > 0 && count%2 == 1)
		count++
	}
	if gaps || (all && count%2 == 1) {
		return valueDashed, true
	}
	return valueNone, count > 0
}

// normalPaint reads a paint: none, a colour, currentColor, or a paint server, of which only a fallback colour is used.
func normalPaint(value string) (string, bool) {
	if strings.HasPrefix(value, "url(") {
		end := strings.IndexByte(value, ')')
		if end < 0 {
			return "", false
		}
		if value = strings.TrimSpace(value[end+1:]); value == "" {
			return valueNone, true
		}
	}
	switch {
	case value == valueNone, value == "transparent", value == "context-stroke", value == "context-fill":
		return valueNone, true
	case value == valueColour:
		return valueColour, true
	case strings.HasPrefix(value, "#"):
		return hexColour(value)
	case strings.HasPrefix(value, "rgb("), strings.HasPrefix(value, "rgba("):
		return rgbColour(value)
	}
	name, _, _ := strings.Cut(value, " ") // an icc-color() may follow
	c, ok := colornames.Map[name]         // SVG 1.1, 4.4
	return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B), ok
}

// hexColour reads #rgb, #rgba, #rrggbb and #rrggbbaa; opacity does not matter for a line, but what is fully transparent is
// not painted.
func hexColour(value string) (string, bool) {
	digits, _, _ := strings.Cut(value[1:], " ")
	if _, err := strconv.ParseUint(digits, 16, 64); err != nil {
		return "", false
	}
	switch len(digits) {
	case 3, 4:
		var long strings.Builder
		for _, c := range []byte(digits) {
			long.WriteByte(c)
			long.WriteByte(c)
		}
		digits = long.String()
	case 6, 8:
	default:
		return "", false
	}
	if len(digits) == 8 && digits[6:] == "00" {
		return valueNone, true
	}
	return "#" + digits[:6], true
}

// rgbColour reads rgb() and rgba() with numbers or percentages, separated by commas or as in CSS Color 4.
func rgbColour(value string) (string, bool) {
	open, end := strings.IndexByte(value, '('), strings.IndexByte(value, ')')
	if end < 0 {
		return "", false
	}
	s := scanner{s: value[open+1 : end]}
	var part [4]float64
	count := 0
	for s.spaces(); s.more(); s.separator() {
		v, err := s.number()
		if err != nil || count == len(part) {
			return "", false
		}
		if s.peek() == '%' {
			s.i++
			v = v * 255 / 100
		}
		part[count] = math.Round(min(max(v, 0), 255))
		if count == 3 && v <= 0 {
			return valueNone, true
		}
		count++
		if s.spaces(); s.peek() == '/' {
			s.i++
		}
	}
	return fmt.Sprintf("#%02x%02x%02x", int(part[0]), int(part[1]), int(part[2])), count >= 3
}

// svgStyle is what an element's lines look like, including what is inherited.
type svgStyle struct {
	stroke, fill, current string // normalised paints, "" for the default
	dashed                bool
	invisible             bool // by visibility, which elements inside may undo
	gone                  bool // by display, which they may not
}

// with is the style of an element inside.
func (s svgStyle) with(d *declared) svgStyle {
	s.stroke = inherited(s.stroke, d.value[propStroke])
	s.fill = inherited(s.fill, d.value[propFill])
	if v := d.value[propColour]; v != valueColour { // on color itself it means inherit (CSS Color 3, 4.4)
		s.current = inherited(s.current, v)
	}
	switch d.value[propDash] {
	case valueDashed:
		s.dashed = true
	case valueNone:
		s.dashed = false
	}
	switch d.value[propVisibility] {
	case valueHidden:
		s.invisible = true
	case valueShown:
		s.invisible = false
	}
	s.gone = s.gone || d.value[propDisplay] == valueHidden
	return s
}

func inherited(outer, own string) string {
	if own == "" || own == valueInherit {
		return outer
	}
	return own
}

func (s svgStyle) hidden() bool { return s.invisible || s.gone }

// colour is a paint as Line stores it.
func (s svgStyle) colour(paint string) string {
	if paint == valueColour {
		paint = s.current
	}
	if paint == valueNone || paint == valueColour {
		return ""
	}
	return paint
}

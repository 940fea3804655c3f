package drawing

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"benchbell/quote/geom"
)

// dxfPair is a group: a code that says what its value is.
type dxfPair struct {
	code  int
	value string
}

// dxfEntity is an entity with its groups, and the vertices or attributes that follow it.
type dxfEntity struct {
	kind     string
	index    int    // from 1, in its section or block
	block    string // it is defined in, "" for none
	pairs    []dxfPair
	children []dxfEntity
}

func (e *dxfEntity) at() string {
	if e.block != "" {
		return fmt.Sprintf("entity %d (%s) of block %s", e.index, e.kind, e.block)
	}
	return fmt.Sprintf("entity %d (%s)", e.index, e.kind)
}

// maxValue is how many bytes of a value are kept: the longest text that the format allows in one group.
const maxValue = 2049

// scanDXF splits a file into groups, without comments. The file's lines may end in LF, CRLF or CR.
func scanDXF(data []byte) ([]dxfPair, error) {
	text := strings.TrimPrefix(string(data), "\xef\xbb\xbf")
	if !utf8.ValidString(text) {
		text = fromLatin1(text)
	}
	line := 0
	next := func() (string, bool) {
		if text == "" {
			return "", false
		}
		line++
		i := strings.IndexAny(text, "\r\n")
		if i < 0 {
			s := text
			text = ""
			return s, true
		}
		s := text[:i]
		if strings.HasPrefix(text[i:], "\r\n") {
			i++
		}
		text = text[i+1:]
		return s, true
	}
	pairs := make([]dxfPair, 0, strings.Count(text, "\n")/2+1)
	for {
		c, ok := next()
		if c = strings.Trim(c, " \t\x1a"); !ok || (c == "" && strings.Trim(text, " \t\r\n\x1a") == "") {
			return pairs, nil
		}
		code, err := strconv.Atoi(c)
		if err != nil {
			return nil, fmt.Errorf("line %d: a group code must be a whole number but is %q; the file is not ASCII DXF or is damaged", line, clip(c))
		}
		value, ok := next()
		if !ok {
			return nil, fmt.Errorf("line %d: the file ends after a group code; it was cut short", line)
		}
		if code == 0 && strings.TrimSpace(value) == "EOF" {
			return append(pairs, dxfPair{0, "EOF"}), nil
		}
		if code != 999 {
			if len(value) > maxValue {
				value = strings.ToValidUTF8(value[:maxValue], "")
			}
			pairs = append(pairs, dxfPair{code, value})
		}
	}
}

// fromLatin1 reads bytes above 127 as Latin-1, close enough to the code page of western files; it affects only layer names
// and texts.
func fromLatin1(s string) string {
	runes := make([]rune, len(s))
	for i := range len(s) {
		runes[i] = rune(s[i])
	}
	return string(runes)
}

// clip shortens what an error quotes.
func clip(s string) string {
	if len(s) > 40 {
		return strings.ToValidUTF8(s[:40], "") + "..."
	}
	return s
}

// fields reads an entity's groups; the first one that cannot be read is kept as err.
type fields struct {
	entity *dxfEntity
	err    error
}

func (f *fields) find(code int) (string, bool) {
	for _, p := range f.entity.pairs {
		if p.code == code {
			return p.value, true
		}
	}
	return "", false
}

// text is a name or a label, "" if absent.
func (f *fields) text(code int) string {
	s, _ := f.find(code)
	return unescape(strings.TrimSpace(s))
}

func (f *fields) number(code int, absent float64) float64 {
	s, ok := f.find(code)
	if !ok {
		return absent
	}
	return f.parse(code, s)
}

// maxNumber bounds a coordinate before units: beyond it a double cannot hold thousandths of a millimetre.
const maxNumber = 1e12

func (f *fields) parse(code int, s string) float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if (err != nil || math.IsNaN(v) || math.Abs(v) > maxNumber) && f.err == nil {
		f.err = fmt.Errorf("group %d is %q; it must be a number of at most %.0e", code, clip(s), maxNumber)
	}
	if f.err != nil {
		return 0
	}
	return v
}

func (f *fields) integer(code, absent int) int {
	s, ok := f.find(code)
	if !ok {
		return absent
	}
	v, err := strconv.Atoi(strings.TrimSpace(s))
	if err != nil && f.err == nil {
		f.err = fmt.Errorf("group %d is %q; it must be a whole number", code, clip(s))
	}
	return v
}

// point is the point whose x has the given code; its y has code+10.
func (f *fields) point(code int) geom.Point {
	x, okx := f.find(code)
	y, oky := f.find(code + 10)
	if (!okx || !oky) && f.err == nil {
		f.err = fmt.Errorf("the point of groups %d and %d is missing", code, code+10)
	}
	if f.err != nil {
		return geom.Point{}
	}
	return geom.Pt(f.parse(code, x), f.parse(code+10, y))
}

// points are all points with a code, in order; each starts with its x.
func (f *fields) points(code int) []geom.Point {
	var out []geom.Point
	for _, p := range f.entity.pairs {
		switch p.code {
		case code:
			out = append(out, geom.Pt(f.parse(code, p.value), 0))
		case code + 10:
			if len(out) == 0 {
				f.err = errors.Join(f.err, fmt.Errorf("group %d stands before group %d", code+10, code))
				return nil
			}
			out[len(out)-1].Y = f.parse(p.code, p.value)
		}
	}
	return out
}

// numbers are all values with a code, in order.
func (f *fields) numbers(code int) []float64 {
	var out []float64
	for _, p := range f.entity.pairs {
		if p.code == code {
			out = append(out, f.parse(code, p.value))
		}
	}
	return out
}

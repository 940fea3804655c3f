package drawing

import (
	"math"
	"strconv"
	"strings"
)

// maxLabel is how many bytes of a text are kept: more than any piece's name, little enough for every copy of a block.
const maxLabel = 1000

// attributeHidden is the flag of an ATTRIB that is not displayed.
const attributeHidden = 1

// text adds a TEXT, ATTRIB or MTEXT, located by its anchor. Texts in paper space do not get here; those on switched-off
// layers do, because they often name the pieces.
func (r *dxfDrawer) text(f *fields, at dxfPlace) {
	own, ok := r.plane(f)
	place := f.point(10)
	var value string
	switch f.entity.kind {
	case "MTEXT":
		for _, p := range f.entity.pairs { // long texts come in parts of 250 characters
			if (p.code == 1 || p.code == 3) && len(value) < maxLabel {
				value += p.value
			}
		}
		value = paragraphOfCodes(value)
		own = identity // its place is not in its own plane
	default:
		if f.entity.kind == "ATTRIB" && f.integer(70, 0)&attributeHidden != 0 {
			return
		}
		s, _ := f.find(1)
		value = textOfCodes(s)
		across, up := f.integer(72, 0), f.integer(73, f.integer(74, 0))
		if _, aligned := f.find(11); aligned && (across == 1 || across == 2 || across == 4 || up != 0) {
			place = f.point(11)
		}
	}
	p := at.m.mul(own).apply(place)
	if value = strings.TrimSpace(value); len(value) > maxLabel {
		value = strings.ToValidUTF8(value[:maxLabel], "")
	}
	if value == "" || !ok || f.err != nil {
		return
	}
	if !p.Finite() || math.Max(math.Abs(p.X), math.Abs(p.Y)) > maxNumber {
		return
	}
	layer, _ := r.layer(f, at)
	r.texts = append(r.texts, Text{Value: value, Place: p, Layer: layer, Groups: at.groups, At: f.entity.at()})
}

// unescape replaces \U+XXXX, which R12 to 2004 write for characters missing from their code page.
func unescape(s string) string {
	i := strings.Index(s, `\U+`)
	if i < 0 {
		return s
	}
	var b strings.Builder
	for ; i >= 0; i = strings.Index(s, `\U+`) {
		b.WriteString(s[:i])
		s = s[i:]
		v, err := strconv.ParseUint(s[3:min(7, len(s))], 16, 16)
		if err != nil || len(s) < 7 {
			b.WriteString(s[:3])
			s = s[3:]
			continue
		}
		b.WriteRune(rune(v))
		s = s[7:]
	}
	return b.String() + s
}

// textOfCodes resolves the control codes in a one-line text: %%d, %%p, %%c are signs, %%u and %%o toggle lines, %%nnn is a
// character.
func textOfCodes(s string) string {
	s = unescape(s)
	var b strings.Builder
	for {
		i := strings.Index(s, "%%")
		if i < 0 || i+2 >= len(s) {
			return b.String() + s
		}
		b.WriteString(s[:i])
		c := s[i+2]
		s = s[i+3:]
		switch c {
		case 'd', 'D':
			b.WriteRune('°')
		case 'p', 'P':
			b.WriteRune('±')
		case 'c', 'C':
			b.WriteRune('Ø')
		case 'u', 'U', 'o', 'O', 'k', 'K':
		case '%':
			b.WriteByte('%')
		default:
			if len(s) >= 2 {
				if v, err := strconv.ParseUint(string(c)+s[:2], 10, 8); err == nil {
					b.WriteRune(rune(v))
					s = s[2:]
					continue
				}
			}
			b.WriteByte(c)
		}
	}
}

// paragraphOfCodes removes the format codes from a paragraph text; its lines are joined by a space.
func paragraphOfCodes(s string) string {
	s = textOfCodes(s)
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '{' || c == '}':
		case c == '^' && i+1 < len(s): // a control character: tab, line feed, return
			i++
			if s[i] == ' ' {
				b.WriteByte('^')
			} else {
				b.WriteByte(' ')
			}
		case c != '\\' || i+1 == len(s):
			b.WriteByte(c)
		default:
			i++
			switch s[i] {
			case 'P', 'X', 'N', '~':
				b.WriteByte(' ')
			case '\\', '{', '}':
				b.WriteByte(s[i])
			case 'L', 'l', 'O', 'o', 'K', 'k':
			case 'S': // a stacked fraction
				end := strings.IndexByte(s[i:], ';')
				if end < 0 {
					return strings.Join(strings.Fields(b.String()), " ")
				}
				b.WriteString(strings.Trim(strings.NewReplacer("^", "/", "#", "/").Replace(s[i+1:i+end]), " /"))
				i += end
			default: // font, height, colour, width, slant, tracking, alignment, paragraph: up to a semicolon
				end := strings.IndexByte(s[i:], ';')
				if end < 0 {
					return strings.Join(strings.Fields(b.String()), " ")
				}
				i += end
			}
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

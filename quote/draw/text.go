package draw

import (
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"github.com/golang/freetype/truetype"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/math/fixed"

	"benchbell/quote/geom"
)

// TTF is the font's file. The whole program shares the slice: a library that may write to it gets a clone.
func (f Font) TTF() []byte {
	switch f {
	case Bold:
		return gobold.TTF
	case Italic:
		return goitalic.TTF
	case Mono:
		return gomono.TTF
	}
	return goregular.TTF
}

// known maps a font out of range to Regular.
func (f Font) known() Font {
	if f < Regular || f > Mono {
		return Regular
	}
	return f
}

// bend is a step of an outline: a line to To, a curve through control point Via if Curved, or a fresh start.
type bend struct {
	Via, To       geom.Point
	Start, Curved bool
}

// glyph is a character's outline in font units, y down, and its advance width.
type glyph struct {
	index   truetype.Index
	advance float64
	outline []bend
}

// face is a parsed font with the glyphs used so far. The lock guards the cache and the parser's scratch buffer.
type face struct {
	mu     sync.Mutex
	font   *truetype.Font
	buffer truetype.GlyphBuf
	glyphs map[rune]glyph
	em     float64
}

var faces = sync.OnceValue(func() [Mono + 1]*face {
	var out [Mono + 1]*face
	for f := range out {
		parsed, err := truetype.Parse(Font(f).TTF())
		if err != nil {
			panic("draw: a Go font does not parse: " + err.Error()) // the bytes are compiled in
		}
		out[f] = &face{font: parsed, glyphs: map[rune]glyph{}, em: float64(parsed.FUnitsPerEm())}
	}
	return out
})

// glyph of a rune; the font's missing-character box if it has none.
func (f *face) glyph(r rune) glyph {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.locked(r)
}

// width of a printable text in font units.
func (f *face) width(s string) float64 {
	f.mu.Lock()
	defer f.mu.Unlock()
	w := 0.0
	for _, r := range s {
		w += f.locked(r).advance
	}
	return w
}

// locked is glyph for callers that hold the lock.
func (f *face) locked(r rune) glyph {
	if g, ok := f.glyphs[r]; ok {
		return g
	}
	scale := fixed.Int26_6(f.font.FUnitsPerEm()) // makes the results font units
	g := glyph{index: f.font.Index(r)}
	g.advance = float64(f.font.HMetric(scale, g.index).AdvanceWidth)
	if err := f.buffer.Load(f.font, scale, g.index, font.HintingNone); err == nil {
		start := 0
		for _, end := range f.buffer.Ends {
			g.outline = append(g.outline, contour(f.buffer.Points[start:end])...)
			start = end
		}
	}
	f.glyphs[r] = g
	return g
}

// contour turns TrueType points, on and off the curve, into bends: two off-curve points in a row imply one between them.
func contour(ps []truetype.Point) []bend {
	if len(ps) == 0 {
		return nil
	}
	at := func(i int) (geom.Point, bool) {
		p := ps[i%len(ps)]
		return geom.Pt(float64(p.X), -float64(p.Y)), p.Flags&1 != 0
	}
	first, on := at(0)
	from := 1
	if !on {
		last, lastOn := at(len(ps) - 1)
		if first, from = last, 0; !lastOn {
			p, _ := at(0)
			first = p.Lerp(last, 0.5)
		}
	}
	out := []bend{{To: first, Start: true}}
	for i := from; i < len(ps); i++ {
		p, on := at(i)
		if on {
			out = append(out, bend{To: p})
			continue
		}
		to := first
		if i+1 < len(ps) {
			next, nextOn := at(i + 1)
			if nextOn {
				to = next
				i++
			} else {
				to = p.Lerp(next, 0.5)
			}
		}
		out = append(out, bend{Via: p, To: to, Curved: true})
	}
	return out
}

// has reports whether the font draws the rune.
func (f *face) has(r rune) bool { return f.glyph(r).index != 0 }

// TextWidth is the width of one line of text as it will be painted, that is, of Printable(s).
func TextWidth(font Font, size geom.MM, s string) geom.MM {
	f := faces()[font.known()]
	return geom.MM(f.width(Printable(s))/f.em) * size
}

// noBreak is a space at which Fit does not break: it keeps an amount and its currency on one line.
const noBreak = '\u00a0'

// missing, a box, replaces what the fonts cannot draw.
const missing = '□'

// Printable is the text with everything the Go fonts lack replaced. Letters followed by combining accents become one letter
// if there is one; spaces of all kinds and line ends become a space (no-break spaces the one the fonts have); invisible
// characters are dropped; a run of anything else unknown (emoji, Chinese, Japanese, Korean, above U+FFFF) becomes one
// box.
func Printable(s string) string {
	plain := true
	for i := 0; i < len(s); i++ {
		if s[i] < 0x20 || s[i] > 0x7e {
			plain = false
			break
		}
	}
	if plain {
		return s
	}
	f := faces()[Regular]
	out := make([]rune, 0, len(s))
	for _, r := range s {
		switch {
		case r == '\u200d' || r >= 0xfe00 && r <= 0xfe0f || r >= 0x1f3fb && r <= 0x1f3ff:
			// Joiners, variation selectors and skin tones modify the emoji before them.
		case r == 0xad || unicode.Is(unicode.Cf, r):
		case r == noBreak || r == 0x202f:
			out = append(out, noBreak)
		case unicode.IsSpace(r):
			out = append(out, ' ')
		case unicode.IsControl(r):
		case unicode.Is(unicode.Mn, r):
			if n := len(out); n > 0 {
				if j, ok := joined[[2]rune{out[n-1], r}]; ok && f.has(j) {
					out[n-1] = j
				}
			}
		case r > 0xffff || r == unicode.ReplacementChar || !f.has(r):
			if n := len(out); n == 0 || out[n-1] != missing {
				out = append(out, missing)
			}
		default:
			out = append(out, r)
		}
	}
	return string(out)
}

// joined maps a letter and a combining accent to the letter that has both (Unicode's canonical compositions, the part used
// in European names). From memory; checked by eye in the pairs below.
var joined = func() map[[2]rune]rune {
	m := map[[2]rune]rune{}
	for _, row := range []struct {
		accent rune
		pairs  string
	}{
		{0x300, "AÀEÈIÌOÒUÙNǸWẀYỲaàeèiìoòuùnǹwẁyỳ"},
		{0x301, "AÁEÉIÍOÓUÚYÝCĆLĹNŃRŔSŚZŹWẂaáeéiíoóuúyýcćlĺnńrŕsśzźwẃΑΆΕΈΗΉΙΊΟΌΥΎΩΏαάεέηήιίοόυύωώϊΐϋΰГЃКЌгѓкќ"},
		{0x302, "AÂEÊIÎOÔUÛCĈGĜHĤJĴSŜWŴYŶaâeêiîoôuûcĉgĝhĥjĵsŝwŵyŷ"},
		{0x303, "AÃNÑOÕIĨUŨaãnñoõiĩuũ"},
		{0x304, "AĀEĒIĪOŌUŪaāeēiīoōuū"},
		{0x306, "AĂEĔGĞIĬOŎUŬИЙУЎaăeĕgğiĭoŏuŭийуў"},
		{0x307, "CĊEĖGĠIİZŻcċeėgġzż"},
		{0x308, "AÄEËIÏOÖUÜYŸWẄaäeëiïoöuüyÿwẅΙΪΥΫιϊυϋЕЁІЇеёії"},
		{0x30a, "AÅUŮaåuů"},
		{0x30b, "OŐUŰoőuű"},
		{0x30c, "CČDĎEĚNŇRŘSŠTŤZŽLĽcčdďeěnňrřsštťzžlľ"},
		{0x327, "CÇGĢKĶLĻNŅRŖSŞTŢcçkķlļnņrŗsştţ"},
		{0x328, "AĄEĘIĮUŲaąeęiįuų"},
	} {
		rs := []rune(row.pairs)
		for i := 0; i+1 < len(rs); i += 2 {
			m[[2]rune{rs[i], row.accent}] = rs[i+1]
		}
	}
	return m
}()

// ellipsis ends a text that was cut off.
const ellipsis = "…"

// Fit breaks a text into lines no wider than width, at spaces, and within a word only if the word alone is too wide. Line
// ends in s are kept. If there are more than max lines the rest is dropped and the last line ends in an ellipsis; max below
// one keeps all. An empty text gives no lines; a width too small for anything gives one character a line.
func Fit(font Font, size, width geom.MM, s string, max int) []string {
	var lines []string
	for _, para := range strings.Split(strings.ReplaceAll(s, "\r\n", "\n"), "\n") {
		words := strings.FieldsFunc(Printable(para), func(r rune) bool { return r == ' ' })
		if len(words) == 0 {
			if len(lines) > 0 {
				lines = append(lines, "")
			}
			continue
		}
		line := ""
		for _, w := range words {
			next := w
			if line != "" {
				next = line + " " + w
			}
			if TextWidth(font, size, next) <= width {
				line = next
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			for w != "" && TextWidth(font, size, w) > width {
				head := prefix(font, size, width, w)
				lines = append(lines, head)
				w = w[len(head):]
			}
			line = w
		}
		if line != "" {
			lines = append(lines, line)
		}
	}
	for len(lines) > 0 && lines[len(lines)-1] == "" {
		lines = lines[:len(lines)-1]
	}
	if max < 1 || len(lines) <= max {
		return lines
	}
	lines = lines[:max]
	last := lines[max-1]
	for last != "" && TextWidth(font, size, last+ellipsis) > width {
		_, n := utf8.DecodeLastRuneInString(last)
		last = last[:len(last)-n]
	}
	lines[max-1] = strings.TrimRight(last, " ") + ellipsis
	return lines
}

// prefix is the longest start of w that fits, at least one character.
func prefix(font Font, size, width geom.MM, w string) string {
	f := faces()[font.known()]
	var sum float64
	for i, r := range w {
		sum += f.glyph(r).advance
		if i > 0 && geom.MM(sum/f.em)*size > width {
			return w[:i]
		}
	}
	return w
}

// Short is the text on one line, cut with an ellipsis to fit the width; empty if not even the ellipsis fits.
func Short(font Font, size, width geom.MM, s string) string {
	s = Printable(s)
	if TextWidth(font, size, s) <= width {
		return s
	}
	if TextWidth(font, size, ellipsis) > width {
		return ""
	}
	for s != "" && TextWidth(font, size, s+ellipsis) > width {
		_, n := utf8.DecodeLastRuneInString(s)
		s = s[:len(s)-n]
	}
	return strings.TrimRight(s, " ") + ellipsis
}

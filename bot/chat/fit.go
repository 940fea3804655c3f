package chat

import (
	"fmt"
	"sort"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/rivo/uniseg"
)

// cutMark ends what was cut.
const cutMark = "…"

// Clip shortens s to at most n characters, "…" included where something was cut; no n, no limit. It cuts at a word's end
// and, where one word alone is too long, between what a reader takes for letters (a base with its accents, an emoji of
// several parts).
func Clip(s string, n int) string {
	if n <= 0 {
		return s
	}
	return Limits{Text: n}.Clip(s)
}

// Clip shortens a text to what one message holds, at a word's end and ending in "…". Emphasis that the cut would leave open
// is taken off.
func (l Limits) Clip(text string) string {
	if l.Text == 0 || l.Size(text) <= l.Text {
		return text
	}
	for room := l.Text - 1; room > 0; room-- {
		head, rest := l.split(text, room, false)
		if out := closeEmphasis(tidyEnd(head), rest) + cutMark; l.Size(out) <= l.Text {
			return out
		}
	}
	return cutMark
}

// Split cuts a text into pieces that one message holds each: between lines where it can, else between words.
func (l Limits) Split(text string) []string {
	if l.Text == 0 {
		return []string{text}
	}
	var out []string
	for text = strings.Trim(text, "\n"); text != ""; {
		head, rest := l.split(text, l.Text, true)
		if head == "" { // not even one letter fits: better too long than lost
			head, rest = text, ""
		}
		if strings.TrimSpace(head) != "" {
			out = append(out, head)
		}
		text = strings.TrimLeft(rest, "\n")
	}
	return out
}

// Fit puts a head, lines and a foot below each other in what one message holds. Where not all lines have room, a last line
// says how many are left out, in the words of more; nil says "… and 3 more". A part that is empty takes no line. Head and
// foot are always there, the head cut where it must be; a first line that is too long by itself is cut too.
func (l Limits) Fit(head string, lines []string, foot string, more func(left int) string) string {
	if more == nil {
		more = func(left int) string { return fmt.Sprintf("… and %d more", left) }
	}
	with := func(shown []string) string {
		parts := append([]string{head}, shown...)
		if left := len(lines) - len(shown); left > 0 {
			parts = append(parts, more(left))
		}
		return stack(append(parts, foot)...)
	}
	fits := func(text string) bool { return l.Text == 0 || l.Size(text) <= l.Text }
	if all := with(lines); fits(all) {
		return all
	}
	n := 0
	for n < len(lines)-1 && fits(with(lines[:n+1])) {
		n++
	}
	text := with(lines[:n])
	if n == 0 && len(lines) > 0 && fits(text) {
		// What is said of the other lines needs its place beside the piece of the first.
		rest := with([]string{""})
		if room := l.Text - l.Size(rest) - 1; room >= shortest {
			if one := with([]string{Limits{Text: room, Length: l.Length}.Clip(lines[0])}); fits(one) {
				return one
			}
		}
	}
	if fits(text) {
		return text
	}
	// Head and foot alone are too long.
	tail := strings.TrimPrefix(text, head)
	if room := l.Text - l.Size(tail); room > 0 {
		return Limits{Text: room, Length: l.Length}.Clip(head) + tail
	}
	return l.Clip(text)
}

// shortest is how many characters of a line's beginning still say something.
const shortest = 24

// stack puts the parts that aren't empty below each other.
func stack(parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, "\n")
}

// split cuts s where a piece of at most n ends best: at white space in its second half (at a line's end, if lines says so,
// before any other), else between words, else between letters. The white space belongs to neither part, but for the line
// ends that rest begins with.
func (l Limits) split(s string, n int, lines bool) (head, rest string) {
	if l.Size(s) <= n {
		return s, ""
	}
	// Ends of letters, in bytes, and which of them end a word; no letter counts for less than one.
	var ends []int
	var words []bool
	for left, state := s, -1; left != "" && len(ends) < n; {
		var bounds int
		_, left, bounds, state = uniseg.StepString(left, state)
		ends = append(ends, len(s)-len(left))
		words = append(words, bounds&uniseg.MaskWord != 0)
	}
	most := sort.Search(len(ends), func(i int) bool { return l.Size(s[:ends[i]]) > n })
	if most == 0 {
		return "", s
	}
	last := most - 1
	at := ends[last]
	if r, _ := utf8.DecodeRuneInString(s[at:]); !unicode.IsSpace(r) {
		space := strings.LastIndexFunc(s[:at], unicode.IsSpace)
		half := ends[last/2]
		switch {
		case space >= half:
			at = space
		default:
			for i := last; i >= 0; i-- {
				if words[i] {
					at = ends[i]
					break
				}
			}
		}
	}
	if lines {
		if nl := strings.LastIndexByte(s[:at], '\n'); nl >= ends[last/2] {
			at = nl
		}
	}
	head, rest = strings.TrimRightFunc(s[:at], unicode.IsSpace), s[at:]
	return head, strings.TrimLeft(rest, " \t")
}

// tidyEnd takes off what cannot stand before "…".
func tidyEnd(s string) string {
	return strings.TrimRightFunc(s, func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune(",;:-–—([{“‘•·", r) })
}

// closeEmphasis takes the last asterisk off where it opens an emphasis that rest would have closed.
func closeEmphasis(s, rest string) string {
	from := strings.LastIndexByte(s, '\n') + 1
	after, _, _ := strings.Cut(rest, "\n")
	if strings.Count(s[from:], "*")%2 == 0 || !strings.Contains(after, "*") {
		return s
	}
	i := strings.LastIndexByte(s, '*')
	return tidyEnd(s[:i] + s[i+1:])
}

package chat

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/rivo/uniseg"
	"pgregory.net/rapid"
)

// words are what people write, with letters that are several characters each.
var words = rapid.SampledFrom([]string{"foam", "97,5", "cm", "a", "Fußgröße", "e\u0301tude", "👩‍🔧", "🇳🇱", "木の盾", "forearm-cuff", "*Bench*", "(left)",
	"overlapping", "…", "https://a.example/b/c", "naïve", "क्षि", strings.Repeat("scale", 9)})

// text is words, lines and odd characters.
func text(t *rapid.T) string {
	var b strings.Builder
	for i := range rapid.IntRange(0, 40).Draw(t, "words") {
		if i > 0 {
			b.WriteString(rapid.SampledFrom([]string{" ", " ", " ", "\n", "  "}).Draw(t, "gap"))
		}
		b.WriteString(words.Draw(t, "word"))
	}
	return b.String()
}

// doubled counts some characters twice, as a transport does that must escape them.
func doubled(s string) int {
	return utf8.RuneCountInString(s) + strings.Count(s, "*") + strings.Count(s, "-")
}

func count(t *rapid.T) func(string) int {
	return rapid.SampledFrom([]func(string) int{nil, doubled}).Draw(t, "length")
}

// letters are the ends of what a reader takes for letters, in bytes.
func letters(s string) map[int]bool {
	out, at := map[int]bool{0: true}, 0
	for g := uniseg.NewGraphemes(s); g.Next(); {
		at += len(g.Str())
		out[at] = true
	}
	return out
}

func TestClipEndsAtAWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, l := text(t), Limits{Text: rapid.IntRange(1, 80).Draw(t, "n"), Length: count(t)}
		got := l.Clip(s)
		if n := l.Size(got); n > l.Text {
			t.Fatalf("%q is clipped to %q, %d of %d", s, got, n, l.Text)
		}
		if l.Size(s) <= l.Text {
			if got != s {
				t.Fatalf("%q fits, but is clipped to %q", s, got)
			}
			return
		}
		kept, ok := strings.CutSuffix(got, "…")
		if !ok {
			t.Fatalf("%q is clipped to %q without a mark", s, got)
		}
		plain := func(x string) string { return strings.ReplaceAll(x, "*", "") }
		if !strings.HasPrefix(plain(s), plain(kept)) {
			t.Fatalf("%q is clipped to %q, which is not its beginning", s, got)
		}
		if strings.Count(kept, "*")%2 != 0 && strings.Count(s, "*")%2 == 0 {
			t.Fatalf("%q is clipped to %q, which leaves an emphasis open", s, got)
		}
		at := len(plain(kept))
		if !letters(plain(s))[at] {
			t.Fatalf("%q is clipped within a letter to %q", s, got)
		}
		before, _ := utf8.DecodeLastRuneInString(plain(kept))
		after, _ := utf8.DecodeRuneInString(plain(s)[at:])
		inWord := func(r rune) bool {
			return (unicode.IsLetter(r) || unicode.IsDigit(r)) && !unicode.Is(unicode.Han, r) && !unicode.Is(unicode.Hiragana, r)
		}
		if inWord(before) && inWord(after) && strings.ContainsFunc(plain(kept), unicode.IsSpace) {
			t.Fatalf("%q is clipped in mid-word to %q", s, got)
		}
	})
}

func TestClip(t *testing.T) {
	for _, c := range []struct {
		s    string
		n    int
		want string
	}{
		{"Head, around", 0, "Head, around"},
		{"Head, around", 12, "Head, around"},
		{"Head, around", 9, "Head…"},
		{"Start: C0007 second coat of primer", 30, "Start: C0007 second coat of…"},
		{"Donaudampfschifffahrt", 6, "Donau…"},
		{"an overlong-word-that-has-hyphens-in-it", 20, "an overlong-word…"},
		{"👩‍🔧👩‍🔧👩‍🔧", 7, "👩‍🔧👩‍🔧…"},
		{"first line\nsecond *bold words* here", 26, "first line\nsecond bold…"},
		{"six is 2 * 3 and seven is not", 20, "six is 2 * 3 and…"},
		{"木の盾と鎧", 4, "木の盾…"},
		{"x", 1, "x"}, {"xy", 1, "…"},
	} {
		if got := Clip(c.s, c.n); got != c.want {
			t.Errorf("%q in %d is %q, want %q", c.s, c.n, got, c.want)
		}
	}
}

func TestSplitLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, l := text(t), Limits{Text: rapid.IntRange(12, 80).Draw(t, "n"), Length: count(t)}
		got := l.Split(s)
		for _, piece := range got {
			if l.Size(piece) > l.Text {
				t.Fatalf("%q has a piece %q of %d, more than %d", s, piece, l.Size(piece), l.Text)
			}
		}
		// A word longer than a piece is cut, hence without white space.
		bare := func(x string) string {
			return strings.Map(func(r rune) rune {
				if unicode.IsSpace(r) {
					return -1
				}
				return r
			}, x)
		}
		if bare(strings.Join(got, "")) != bare(s) {
			t.Fatalf("%q comes in the pieces %q", s, got)
		}
	})
	if got := (Limits{}).Split("a\nb"); len(got) != 1 || got[0] != "a\nb" {
		t.Errorf("without a limit: %q", got)
	}
	if got := (Limits{Text: 12}).Split("one two\nthree four"); fmt.Sprint(got) != "[one two three four]" || len(got) != 2 {
		t.Errorf("between lines: %q", got)
	}
}

func TestFitSaysHowManyAreLeftOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Limits{Text: rapid.IntRange(90, 400).Draw(t, "n"), Length: count(t)}
		head := rapid.SampledFrom([]string{"", "*Orders*", "*The shop's plan, Mon 2 Nov 2026*"}).Draw(t, "head")
		foot := rapid.SampledFrom([]string{"", "Nothing moves."}).Draw(t, "foot")
		var lines []string
		for i := range rapid.IntRange(0, 30).Draw(t, "lines") {
			lines = append(lines, fmt.Sprintf("• line %d", i)+strings.Repeat(" more", rapid.IntRange(0, 4).Draw(t, "length")))
		}
		got := l.Fit(head, lines, foot, nil)
		if n := l.Size(got); n > l.Text {
			t.Fatalf("%d, more than %d: %q", n, l.Text, got)
		}
		rest, first := strings.CutPrefix(got, head)
		rest, last := strings.CutSuffix(rest, foot)
		if !first || !last {
			t.Fatalf("head or foot is lost: %q", got)
		}
		shown, left := 0, 0
		for _, x := range strings.Split(strings.Trim(rest, "\n"), "\n") {
			switch n, more := strings.CutPrefix(x, "… and "); {
			case more:
				var err error
				if left, err = strconv.Atoi(strings.TrimSuffix(n, " more")); err != nil {
					t.Fatal(err)
				}
			case x != "":
				piece, cut := strings.CutSuffix(x, "…")
				if x != lines[shown] && !(shown == 0 && cut && strings.HasPrefix(lines[0], piece)) {
					t.Fatalf("line %d is %q, want %q", shown, x, lines[shown])
				}
				shown++
			}
		}
		if shown+left != len(lines) {
			t.Fatalf("%d lines are shown and %d said to be left out, of %d: %q", shown, left, len(lines), got)
		}
		if left > 0 {
			more := ""
			if left > 1 {
				more = fmt.Sprintf("… and %d more", left-1)
			}
			parts := append([]string{head}, lines[:shown+1]...)
			if one := stack(append(parts, more, foot)...); l.Size(one) <= l.Text {
				t.Fatalf("one more of %d lines has room in %d: %q", len(lines), l.Text, got)
			}
		}
	})
}

func TestFit(t *testing.T) {
	more := func(n int) string { return fmt.Sprintf("… and %d more; ask where with a number.", n) }
	long := "a line that is much longer than what there is room for in one message of this transport"
	for _, c := range []struct {
		n          int
		head       string
		lines      []string
		foot, want string
	}{
		{0, "head", []string{"a", "b"}, "foot", "head\na\nb\nfoot"},
		{0, "", nil, "", ""},
		{20, "head", []string{"a", "", "b"}, "", "head\na\nb"},
		{60, "", []string{"one", strings.Repeat("two ", 20), "three"}, "", "one\n… and 2 more; ask where with a number."},
		{80, "", []string{long, "b"}, "", "a line that is much longer than what…\n… and 1 more; ask where with a number."},
		{50, "", []string{long}, "", "a line that is much longer than what there is…"},
		{50, long, nil, "foot", "a line that is much longer than what there…\nfoot"},
	} {
		if got := (Limits{Text: c.n}).Fit(c.head, c.lines, c.foot, more); got != c.want {
			t.Errorf("in %d: %q, want %q", c.n, got, c.want)
		}
	}
}

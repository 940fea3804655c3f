package browser

import (
	"fmt"
	"html"
	"regexp"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/bot/chat"
)

func TestEmphasis(t *testing.T) {
	for in, want := range map[string]string{
		"plain":               "plain",
		"*bold* and *more*":   "<strong>bold</strong> and <strong>more</strong>",
		"2 * 3 * 4":           "2 * 3 * 4",
		"4*5*6":               "4*5*6",
		"*a\nb*":              "*a\nb*",
		"**":                  "**",
		"*<i>*":               "<strong>&lt;i&gt;</strong>",
		"(*412,50*), é*x*":    "(<strong>412,50</strong>), é<strong>x</strong>",
		"*open and *closed*!": "*open and <strong>closed</strong>!",
	} {
		if got := string(emphasis(in)); got != want {
			t.Errorf("%q gives %q, want %q", in, got, want)
		}
	}
}

// Whatever is written, the only markup is emphasis, and putting the asterisks back gives the text.
func TestEmphasisLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := rapid.StringOf(rapid.SampledFrom([]rune("* \n<>&\"'ab1é木"))).Draw(t, "text")
		out := strings.NewReplacer("<strong>", "*", "</strong>", "*").Replace(string(emphasis(in)))
		if strings.ContainsAny(out, "<>") || html.UnescapeString(out) != in {
			t.Fatalf("%q came back as %q", in, out)
		}
	})
}

var slugShape = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

func TestSlug(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name, ok := tidyName(rapid.String().Draw(t, "name"))
		if !ok {
			return
		}
		if s := slug(name); !slugShape.MatchString(s) {
			t.Fatalf("%q gives %q", name, s)
		}
		if again, ok := tidyName(name); !ok || again != name {
			t.Fatalf("tidied %q again to %q", name, again)
		}
	})
	if slug("まら") == slug("みり") || slug("Mara") != slug(" MARA ") || slug("Ana") == slug("Aña") {
		t.Error("names meet or part where they shouldn't")
	}
}

func FuzzFileName(f *testing.F) {
	for _, s := range []string{"a.png", `..\..\x`, "/etc/passwd", "..", "\x00", "a\u202egnp.exe", strings.Repeat("木", 300) + ".pdf"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := fileName(s)
		if got == "" || got == "." || got == ".." || strings.ContainsAny(got, "/\\\"<>\r\n\x00") || len([]rune(got)) > 100 {
			t.Errorf("%q gives %q", s, got)
		}
		if again := fileName(got); again != got {
			t.Errorf("%q gives %q, then %q", s, got, again)
		}
	})
}

func FuzzSniff(f *testing.F) {
	f.Add("a.svg", []byte("<?xml?><svg/>"))
	f.Add("a.csv", []byte("a,b"))
	f.Add("a.png", []byte("<html>"))
	f.Fuzz(func(t *testing.T, name string, data []byte) {
		if kind := sniff(name, data); kind == "" || kind == "text/html" || kind == "image/svg+xml" && !strings.Contains(string(data), "<svg") {
			t.Errorf("%q is sniffed as %q", name, kind)
		}
	})
}

func TestBar(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := &chat.Bar{Stages: rapid.SliceOfN(rapid.StringMatching(`[a-z]{1,6}`), 1, 8).Draw(t, "stages"),
			At: rapid.IntRange(-2, 10).Draw(t, "at"), Share: rapid.Float64Range(-1, 2).Draw(t, "share"), Failed: rapid.Bool().Draw(t, "failed")}
		v := viewBar(b)
		if v.Percent < 0 || v.Percent > 100 || len(v.Stages) != len(b.Stages) {
			t.Fatalf("%+v gives %d %% of %d stages", b, v.Percent, len(v.Stages))
		}
		more := *b
		more.At++
		if viewBar(&more).Percent < v.Percent {
			t.Fatalf("a stage on, %d %% fell to %d %%", v.Percent, viewBar(&more).Percent)
		}
	})
}

func TestRefusalNamesFields(t *testing.T) {
	fields := []chat.Field{{Key: "w", Label: "Wrist girth"}, {Key: "l", Label: "Wrist girth, left"}, {Key: "h", Label: "Head"}, {Key: "none"}}
	for say, want := range map[string]string{
		"wrist girth, left: give it in cm":            "map[l:true]",
		"wrist girth is needed":                       "map[w:true]",
		"head and wrist girth, left are both unusual": "map[h:true l:true]",
		"": "map[]",
	} {
		if got := fmt.Sprint(named(say, fields)); got != want {
			t.Errorf("%q names %s, want %s", say, got, want)
		}
	}
}

func TestCabinetForgetsTheOldest(t *testing.T) {
	c := newCabinet()
	at := func(i int) place { return place{chat.PersonID("browser:p"), chat.ThreadID(rune('a' + i))} }
	big := chat.Reply{Files: []chat.File{{Data: make([]byte, maxHeld/3)}}}
	for i := range 5 {
		c.put(at(i), card{id: "x", origin: "x", at: time.Time{}, reply: big})
	}
	if len(c.at(at(0))) != 0 || len(c.at(at(4))) != 1 || c.held() > maxHeld {
		t.Errorf("held %d bytes; the first place has %d cards, the last %d", c.held(), len(c.at(at(0))), len(c.at(at(4))))
	}
	for i := range 5 {
		c.keep(at(i+10), "say ", draft{values: map[string]string{"note": strings.Repeat("x", maxHeld/3)}})
	}
	if _, ok := c.draft(at(10), "say "); ok || c.held() > maxHeld {
		t.Errorf("of what was typed %d bytes are held, the oldest still among them: %v", c.held(), ok)
	}
	for i := range maxCards + 3 {
		c.put(at(9), card{id: string(rune('a' + i)), origin: string(rune('a' + i))})
	}
	if n := len(c.at(at(9))); n != maxCards {
		t.Errorf("%d cards in one place, want %d", n, maxCards)
	}
}

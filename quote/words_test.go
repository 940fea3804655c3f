package quote

import (
	"testing"
	"time"
)

func TestWords(t *testing.T) {
	for d, want := range map[time.Duration]string{-time.Hour: "0 min", 0: "0 min", time.Second: "1 min", 59 * time.Minute: "59 min", time.Hour: "1 h", 125 * time.Minute: "2 h 5 min",
		47*time.Hour + 59*time.Minute: "47 h 59 min", 48 * time.Hour: "2 days", 60 * time.Hour: "3 days", 7 * 24 * time.Hour: "7 days"} {
		if got := TimeWords(d); got != want {
			t.Errorf("%s reads %q, want %q", d, got, want)
		}
	}
	for _, x := range []struct{ got, want string }{
		{LongDate("2026-12-18"), "Friday 18 December 2026"}, {DateWords("2026-12-18"), "Fri 18 Dec 2026"}, {ShortDate("2026-12-18"), "Fri 18 Dec"}, {ShortDate("soon"), "soon"},
		{Capital("ärmel"), "Ärmel"}, {Capital(""), ""}, {Capital("2 sets"), "2 sets"},
	} {
		if x.got != x.want {
			t.Errorf("%q, want %q", x.got, x.want)
		}
	}
}

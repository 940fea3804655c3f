package quote

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// The quiet hours end at a time that is not in them, within a day and at the minute that the studio says.
func TestQuietHoursEnd(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin") // which has a night of 23 and one of 25 hours
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		n := Notices{QuietFrom: rapid.IntRange(0, 24*60-1).Draw(t, "from"), QuietUntil: rapid.IntRange(0, 24*60-1).Draw(t, "until")}
		at := time.Date(2026, 3, 28, 12, 0, 0, 0, zone).Add(time.Duration(rapid.IntRange(0, 300*24*60).Draw(t, "minutes")) * time.Minute)
		end := n.Decent(at)
		switch {
		case n.QuietFrom == n.QuietUntil && (n.Quiet(at) || !end.Equal(at)):
			t.Fatalf("without quiet hours %s is quiet", at)
		case !n.Quiet(at) && !end.Equal(at):
			t.Fatalf("%s is not quiet, and waits until %s", at, end)
		case n.Quiet(at) && (!end.After(at) || end.Sub(at) > 25*time.Hour):
			t.Fatalf("quiet at %s until %s", at, end)
		case n.Quiet(at) && (end.Hour() != 2 && end.Hour() != 3) && end.Hour()*60+end.Minute() != n.QuietUntil:
			t.Fatalf("the quiet hours end at %s, not at minute %d", end, n.QuietUntil)
		}
	})
	n := Notices{QuietFrom: 20 * 60, QuietUntil: 7*60 + 30}
	for clock, quiet := range map[string]bool{"19:59": false, "20:00": true, "23:59": true, "00:00": true, "07:29": true, "07:30": false} {
		at, err := time.ParseInLocation("2006-01-02 15:04", "2026-11-02 "+clock, zone)
		if err != nil {
			t.Fatal(err)
		}
		if n.Quiet(at) != quiet {
			t.Errorf("at %s it is quiet: %t", clock, !quiet)
		}
	}
}

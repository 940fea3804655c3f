package plan

import (
	"testing"
	"time"
)

// Work begins with the first shift of the next open day that is still to begin.
func TestBegins(t *testing.T) {
	c := Calendar{Closed: []string{"2026-11-04"}}
	for d := time.Monday; d <= time.Friday; d++ {
		c.Shifts = append(c.Shifts, Shift{Weekday: d, From: 9 * 60, To: 12 * 60}, Shift{Weekday: d, From: 13 * 60, To: 17 * 60})
	}
	const layout = "2006-01-02 15:04"
	for at, want := range map[string]string{
		"2026-11-02 07:00": "2026-11-02 09:00", "2026-11-02 09:00": "2026-11-03 09:00", "2026-11-02 12:30": "2026-11-03 09:00",
		"2026-11-03 23:00": "2026-11-05 09:00", "2026-11-06 18:00": "2026-11-09 09:00",
	} {
		from, err := time.Parse(layout, at)
		if err != nil {
			t.Fatal(err)
		}
		if got := c.Begins(from).Format(layout); got != want {
			t.Errorf("after %s work begins at %s, want %s", at, got, want)
		}
	}
	for at, want := range map[string]bool{"2026-11-02 08:59": false, "2026-11-02 09:00": true, "2026-11-02 12:00": false, "2026-11-02 16:59": true,
		"2026-11-04 10:00": false, "2026-11-07 10:00": false} {
		from, err := time.Parse(layout, at)
		if err != nil {
			t.Fatal(err)
		}
		if c.Working(from) != want {
			t.Errorf("at %s somebody works: %t", at, !want)
		}
	}
}

package plan

import (
	"testing"
	"time"
)

// What is ready after closing time, or while the shop is closed, waits for the next open day.
func TestHandover(t *testing.T) {
	zone := time.FixedZone("shop", 3600)
	at := func(s string) time.Time {
		x, err := time.ParseInLocation("2006-01-02 15:04", s, zone)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	week := Calendar{Closed: []string{"2026-12-24"}, Shifts: []Shift{{Weekday: time.Monday, From: 540, To: 1020}, {Weekday: time.Thursday, From: 540, To: 720}, {Weekday: time.Thursday, From: 780, To: 1020}}}
	for _, c := range []struct {
		c        Calendar
		at, want string
	}{
		{week, "2026-12-07 17:00", "2026-12-07 17:00"}, // Monday, closing time
		{week, "2026-12-07 17:01", "2026-12-10 00:00"},
		{week, "2026-12-10 12:30", "2026-12-10 12:30"}, // between two shifts
		{week, "2026-12-22 10:00", "2026-12-28 00:00"}, // the Thursday is closed
		{Calendar{}, "2026-12-13 23:59", "2026-12-13 23:59"},
		{Calendar{Closed: []string{"2026-12-13"}}, "2026-12-13 10:00", "2026-12-14 00:00"},
	} {
		if got := c.c.Handover(at(c.at)); !got.Equal(at(c.want)) {
			t.Errorf("ready %s is handed over %s, want %s", c.at, got.Format("2006-01-02 15:04"), c.want)
		}
	}
	var never Calendar
	for d := range 400 {
		never.Closed = append(never.Closed, at("2026-12-01 00:00").AddDate(0, 0, d).Format(time.DateOnly))
	}
	if x := at("2026-12-01 10:00"); !never.Handover(x).Equal(x) {
		t.Error("a shop that is closed for a year hands over at another time than is asked")
	}
}

// What is ready at a time is handed over that day exactly where it is ready by its closing.
func TestClosingIsTheLastHandover(t *testing.T) {
	zone := time.FixedZone("shop", 3600)
	for _, c := range []Calendar{
		{},
		{Closed: []string{"2026-12-10"}},
		{Closed: []string{"2026-12-24"}, Shifts: []Shift{{Weekday: time.Monday, From: 540, To: 1020}, {Weekday: time.Thursday, From: 780, To: 1020}, {Weekday: time.Thursday, From: 540, To: 720}}},
	} {
		for at := time.Date(2026, 12, 7, 0, 0, 0, 0, zone); at.Year() == 2026; at = at.Add(30 * time.Minute) {
			closes := c.Closing(at)
			if today := c.Handover(at).YearDay() == at.YearDay(); today != (!closes.IsZero() && !at.After(closes)) {
				t.Errorf("%+v: ready at %s, closing at %s, handed over on the same day: %t", c, at.Format("2006-01-02 15:04"), closes.Format("2006-01-02 15:04"), today)
			}
		}
	}
}

// Open hours between two moments are those of the shifts, counted once, without closed days and with what is worked in addition.
func TestOpenTime(t *testing.T) {
	zone := time.FixedZone("shop", 3600)
	week := Calendar{Closed: []string{"2026-12-24"}, Extra: []Extra{{Date: "2026-12-24", From: 600, To: 660}, {Date: "2026-12-10", From: 990, To: 1080}},
		Shifts: []Shift{{Weekday: time.Monday, From: 540, To: 1020}, {Weekday: time.Thursday, From: 540, To: 720}, {Weekday: time.Thursday, From: 780, To: 1020}}}
	for _, c := range []struct {
		c        Calendar
		from, to string
		want     time.Duration
	}{
		{week, "2026-12-07 10:00", "2026-12-07 10:45", 45 * time.Minute},
		{week, "2026-12-07 16:00", "2026-12-10 10:00", 2 * time.Hour}, // over two closed days
		{week, "2026-12-10 11:30", "2026-12-10 13:30", time.Hour},     // over noon
		{week, "2026-12-10 16:00", "2026-12-10 23:00", 2 * time.Hour}, // an evening that overlaps the shift
		{week, "2026-12-24 00:00", "2026-12-25 00:00", time.Hour},
		{week, "2026-12-07 20:00", "2026-12-07 21:00", 0},
		{week, "2026-12-07 11:00", "2026-12-07 10:00", 0},
		{Calendar{}, "2026-12-13 22:00", "2026-12-14 01:00", 3 * time.Hour},
	} {
		at := func(s string) time.Time {
			x, err := time.ParseInLocation("2006-01-02 15:04", s, zone)
			if err != nil {
				t.Fatal(err)
			}
			return x
		}
		if got := c.c.OpenTime(at(c.from), at(c.to).UTC()); got != c.want {
			t.Errorf("from %s to %s the shop is open for %s, want %s", c.from, c.to, got, c.want)
		}
	}
}

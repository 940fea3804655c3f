package check

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/plan"
)

// calendar draws working hours with odd minutes, breaks, shifts up to midnight and from it, closed days and overtime.
func calendar(t *rapid.T, zone *time.Location, about time.Time) plan.Calendar {
	c := plan.Calendar{Zone: zone.String()}
	shift := func() (int, int) {
		from := rapid.SampledFrom([]int{0, 7 * 60, 8*60 + 58, 9 * 60, 13*60 + 1, 14 * 60, 22 * 60}).Draw(t, "from")
		return from, min(24*60, from+rapid.SampledFrom([]int{3, 120, 121, 240, 600}).Draw(t, "length"))
	}
	for range rapid.IntRange(1, 12).Draw(t, "shifts") {
		from, to := shift()
		c.Shifts = append(c.Shifts, plan.Shift{Weekday: time.Weekday(rapid.IntRange(0, 6).Draw(t, "weekday")), From: from, To: to})
	}
	date := func() string { return about.AddDate(0, 0, rapid.IntRange(-2, 9).Draw(t, "day")).Format(time.DateOnly) }
	for range rapid.IntRange(0, 2).Draw(t, "closed") {
		c.Closed = append(c.Closed, date())
	}
	for range rapid.IntRange(0, 2).Draw(t, "extra") {
		from, to := shift()
		c.Extra = append(c.Extra, plan.Extra{Date: date(), From: from, To: to})
	}
	return c
}

// wallOpen reads the shop's clock on the wall during one step of the grid: is the whole of it in one shift of that day?
func wallOpen(c plan.Calendar, from time.Time) bool {
	date, minute := from.Format(time.DateOnly), from.Hour()*60+from.Minute()
	in := func(a, b int) bool { return a <= minute && minute+int(plan.Grid) <= b }
	return slices.ContainsFunc(c.Extra, func(x plan.Extra) bool { return x.Date == date && in(x.From, x.To) }) ||
		!slices.Contains(c.Closed, date) && slices.ContainsFunc(c.Shifts, func(s plan.Shift) bool { return s.Weekday == from.Weekday() && in(s.From, s.To) })
}

// Step by step through ten days, two changes of the clocks among them, the shop is open when a clock on its wall says so. In
// the hours that the wall skips or shows twice the wall says nothing.
func TestHoursAreTheWalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		zone, err := time.LoadLocation(rapid.SampledFrom([]string{"UTC", "Europe/Berlin", "America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe", "America/Santiago"}).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		first := time.Date(2026, time.Month(rapid.SampledFrom([]int{3, 4, 6, 9, 10}).Draw(t, "month")), rapid.IntRange(1, 28).Draw(t, "day"), 0, 0, 0, 0, zone)
		first = down(first.Add(time.Duration(rapid.IntRange(0, 1440).Draw(t, "minute")) * time.Minute))
		last := first.AddDate(0, 0, 8)
		c := calendar(t, zone, first)
		h, err := open(c, first, last)
		if err != nil {
			t.Fatal(err)
		}
		var sum time.Duration
		for at := first; at.Before(last); at = at.Add(step) {
			_, got := h.at(at)
			local := at.In(zone)
			_, before := local.Add(-2 * time.Hour).Zone()
			if _, after := local.Add(2 * time.Hour).Zone(); before == after && got != wallOpen(c, local) {
				t.Fatalf("at %s the wall says %t, the hours %t", local, !got, got)
			}
			if got {
				sum += step
			}
		}
		if got := h.between(first, last); got != sum {
			t.Fatalf("open for %s, step by step for %s", got, sum)
		}
		for k := range h {
			if !h[k].from.Before(h[k].to) || k > 0 && !h[k-1].to.Before(h[k].from) {
				t.Fatalf("stretch %d, %s to %s, is empty or touches the one before", k, h[k].from, h[k].to)
			}
		}
	})
}

// On the day the clocks change, shifts keep their times on the wall.
func TestHoursWhenClocksChange(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	c := plan.Calendar{Zone: "Europe/Berlin", Shifts: []plan.Shift{{Weekday: time.Sunday, From: 60, To: 300}, {Weekday: time.Sunday, From: 9 * 60, To: 13 * 60}}}
	for day, want := range map[time.Time]string{
		time.Date(2026, 3, 29, 0, 0, 0, 0, zone):  "00:00-03:00 07:00-11:00",
		time.Date(2026, 6, 28, 0, 0, 0, 0, zone):  "23:00-03:00 07:00-11:00",
		time.Date(2026, 10, 25, 0, 0, 0, 0, zone): "23:00-04:00 08:00-12:00",
	} {
		h, err := open(c, day, day)
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		for k, s := range h {
			if k > 0 {
				got += " "
			}
			got += fmt.Sprintf("%s-%s", s.from.UTC().Format("15:04"), s.to.UTC().Format("15:04"))
		}
		if got != want {
			t.Errorf("%s: open %s in UTC, want %s", day.Format(time.DateOnly), got, want)
		}
	}
}

// Whoever is given the same units and needs finds a unit for each need where there is a way, however they are listed.
func TestUnmet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := checker{resources: map[string]plan.Resource{}}
		var units []string
		var needs []plan.Need
		for i := range rapid.IntRange(0, 5).Draw(t, "n") {
			r := plan.Resource{ID: fmt.Sprint(i), Kind: rapid.SampledFrom([]string{"maker", "maker", "booth"}).Draw(t, "kind")}
			r.Skills = rapid.SliceOfN(rapid.SampledFrom([]string{"a", "b", "c"}), 0, 3).Draw(t, "skills")
			c.resources[r.ID] = r
			units = append(units, r.ID)
			need := plan.Need{Kind: r.Kind, Skill: rapid.SampledFrom(append([]string{""}, r.Skills...)).Draw(t, "asked for")}
			if rapid.IntRange(0, 9).Draw(t, "other") == 0 { // else there is a way
				need.Skill = "c"
			}
			needs = append(needs, need)
		}
		needs = rapid.Permutation(needs).Draw(t, "order")
		if got, want := c.unmet(needs, units) < 0, anyOrder(c, needs, units); got != want {
			t.Fatalf("%+v from %+v: met %t, of all orders one meets them: %t", needs, c.resources, got, want)
		}
	})
}

// anyOrder tries all ways to give the units to the needs.
func anyOrder(c checker, needs []plan.Need, units []string) bool {
	if len(needs) == 0 {
		return true
	}
	for u, id := range units {
		r := c.resources[id]
		if r.Kind == needs[0].Kind && (needs[0].Skill == "" || slices.Contains(r.Skills, needs[0].Skill)) &&
			anyOrder(c, needs[1:], slices.Delete(slices.Clone(units), u, u+1)) {
			return true
		}
	}
	return false
}

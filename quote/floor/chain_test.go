package floor

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// What holds a commission's date is so: the chain begins with what has begun or can begin, each step begins only once the one
// before lets it, by its own words, and the last ends the commission. Every operation left has its reason.
func TestChainsHold(t *testing.T) {
	open := opened(t, 5)
	first := planned(t, open, shopNow)
	open = promise(take(open, first), first, func(i int) int { return i - 2 })
	now := shopNow.Add(50 * time.Hour)
	open = worked(open, now, func(string) time.Duration { return 25 * time.Minute })
	p := planned(t, open, now)
	others, waits := 0, map[string]int{}
	for _, l := range p.Outlooks {
		if len(l.Reasons) != len(l.Left) || len(l.Chain) == 0 {
			t.Fatalf("%s has %d operations left, %d reasons and a chain of %d", l.Commission, len(l.Left), len(l.Reasons), len(l.Chain))
		}
		ends := time.Time{}
		for _, x := range l.Left {
			ends = latest(ends, x.End)
		}
		if last := l.Chain[len(l.Chain)-1]; last.Commission != l.Commission || !last.End.Equal(ends) {
			t.Errorf("%s ends at %s, its chain with %s at %s", l.Commission, ends, last.Title, last.End)
		}
		for k, x := range l.Chain {
			if x.Commission != l.Commission {
				others++
			}
			for _, word := range []string{"to be done", "to cure", "busy with", "in hand", "promised"} {
				if strings.Contains(x.Waits, word) {
					waits[word]++
				}
			}
			begun := strings.HasPrefix(x.Waits, "in hand") || x.Waits == "done"
			if k == 0 {
				if !begun && x.Waits != "" && !strings.HasPrefix(x.Waits, "not before") && !strings.Contains(x.Waits, "promised") && len(l.Chain) < mostSteps {
					t.Errorf("%s: the chain begins with %s, which %s", l.Commission, x.Title, x.Waits)
				}
				continue
			}
			before := l.Chain[k-1]
			if x.Start.Before(before.End) && !strings.Contains(x.Waits, "busy") {
				t.Errorf("%s: %s begins at %s, before %s ends at %s", l.Commission, x.Title, x.Start, before.Title, before.End)
			}
			if !strings.Contains(x.Waits, before.Title) {
				t.Errorf("%s: %s comes after %s and %q", l.Commission, x.Title, before.Title, x.Waits)
			}
			if strings.Contains(x.Waits, "busy with") && !slices.ContainsFunc(x.Who, func(who string) bool { return strings.Contains(x.Waits, who) && slices.Contains(before.Who, who) }) {
				t.Errorf("%s: %s by %v %s, which is by %v", l.Commission, x.Title, x.Who, x.Waits, before.Who)
			}
		}
	}
	if others == 0 || waits["to be done"] == 0 || waits["to cure"] == 0 || waits["busy with"] == 0 || waits["in hand"] == 0 {
		t.Errorf("chains pass %d operations of others, and wait for %v: little is shown", others, waits)
	}
}

// Two plans explain their difference: nothing has moved where nothing happened; after a late start the commissions that move are
// the ones said to, by as much, and what is named has moved.
func TestShiftsAreTrue(t *testing.T) {
	open := opened(t, 5)
	first := planned(t, open, shopNow)
	open = promise(take(open, first), first, func(i int) int { return 20 })
	for _, l := range planned(t, open, shopNow).Outlooks {
		if l.Shift != (Shift{}) {
			t.Errorf("nothing has happened, and %s differs by %+v", l.Commission, l.Shift)
		}
	}
	now := shopNow.Add(52 * time.Hour) // and nobody has begun
	named := 0
	for i, l := range planned(t, open, now).Outlooks {
		moved, was, is := 0, time.Time{}, time.Time{}
		for _, a := range open[i].Actual {
			k := slices.IndexFunc(l.Reasons, func(r Reason) bool { return r.Op == a.Op })
			if !l.Reasons[k].Start.Equal(a.Start) {
				moved++
			}
			was, is = latest(was, a.End), latest(is, l.Reasons[k].End)
		}
		if l.Shift.Moved != moved || moved != l.Moved || l.Shift.Later != is.Sub(was) {
			t.Errorf("%s: %d operations move and it ends %s later; it is said %+v", l.Commission, moved, is.Sub(was), l.Shift)
		}
		if l.Shift.First != "" {
			named++
			if !slices.ContainsFunc(l.Chain, func(r Reason) bool { return strings.HasPrefix(l.Shift.First, r.Title) }) {
				t.Errorf("%s: %s is not on its chain", l.Commission, l.Shift.First)
			}
		}
		t.Log(l.Commission, l.Shift)
	}
	if named == 0 {
		t.Error("no operation is named that makes a commission move")
	}
}

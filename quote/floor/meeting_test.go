package floor

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/quote"
	"benchbell/quote/plan"
)

// meet has a client pick a time.
func meet(open []Open, i int, m Meeting) []Open {
	open = slices.Clone(open)
	open[i].Meetings = append(slices.Clone(open[i].Meetings), m)
	return open
}

// placed is an operation of a commission in a plan.
func placed(t *testing.T, p Shop, i int, op string) plan.Scheduled {
	t.Helper()
	k := slices.IndexFunc(p.Outlooks[i].Left, func(x plan.Scheduled) bool { return x.ID == op })
	if k < 0 {
		t.Fatalf("%s has no %s left", p.Outlooks[i].Commission, op)
	}
	return p.Outlooks[i].Left[k]
}

// A time that a client has picked stands in the plan so far and in every new plan, and no coat is put on before it. Where work is
// late it is said that it cannot be kept; where nothing could keep it, or it is over, there is a plan all the same.
func TestAPickedTimeStands(t *testing.T) {
	open := opened(t, 3)
	first := planned(t, open, shopNow)
	open = promise(take(open, first), first, func(int) int { return 20 })
	own := placed(t, first, 0, quote.FirstFitting)
	picked := time.Date(own.Start.Year(), own.Start.Month(), own.Start.Day()+4, 9, 0, 0, 0, time.UTC)
	for picked.Weekday() == time.Saturday || picked.Weekday() == time.Sunday {
		picked = picked.AddDate(0, 0, 1)
	}
	with := meet(open, 0, Meeting{Op: quote.FirstFitting, At: picked})
	look := func(open []Open, now time.Time) Shop {
		t.Helper()
		p, err := Look(t.Context(), open, shopStudio(), now)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	for what, p := range map[string]Shop{"the plan so far": look(with, shopNow), "a new plan": planned(t, with, shopNow)} {
		if at := placed(t, p, 0, quote.FirstFitting).Start; !at.Equal(picked) || len(p.Outlooks[0].Unkept) > 0 {
			t.Errorf("%s has the fitting at %v, picked is %v: %v", what, at, picked, p.Outlooks[0].Unkept)
		}
		for _, x := range p.Outlooks[0].Left {
			if slices.Contains([]string{"seal", "prime", "paint", "clear"}, x.Kind) && x.Start.Before(picked) {
				t.Errorf("%s: %s is at %v, before the fitting at %v", what, x.ID, x.Start, picked)
			}
		}
	}
	// Nobody has begun until the day before: what is tried on cannot be ready.
	p := look(with, picked.Add(-22*time.Hour))
	if u := p.Outlooks[0].Unkept; len(u) != 1 || u[0].Op != quote.FirstFitting || !u[0].Picked.Equal(picked) || !u[0].Now.After(picked) {
		t.Errorf("work is days late, and of the time picked it is said: %v", u)
	}
	// The final fitting is picked for before the first one, which nothing could keep; and one that is over.
	both := meet(with, 0, Meeting{Op: quote.FinalFitting, At: picked.Add(-24 * time.Hour)})
	if u := look(both, shopNow).Outlooks[0].Unkept; len(u) != 1 || u[0].Op != quote.FinalFitting {
		t.Errorf("a final fitting before the first is said to be kept: %v", u)
	}
	if at := placed(t, look(with, picked.Add(time.Hour)), 0, quote.FirstFitting).Start; at.Before(picked.Add(time.Hour)) {
		t.Errorf("a fitting that is over is planned at %v", at)
	}
	planned(t, both, shopNow)
}

// By pictures the fitting is shorter for the maker and later, as the client chooses, whatever the quote had.
func TestPicturesChangeThePlan(t *testing.T) {
	open := opened(t, 1)
	person := placed(t, planned(t, open, shopNow), 0, quote.FirstFitting)
	pictures := placed(t, planned(t, meet(open, 0, Meeting{Op: quote.FirstFitting, How: quote.ByPictures}), shopNow), 0, quote.FirstFitting)
	if !pictures.Start.After(person.Start) || pictures.End.Sub(pictures.Start) >= person.End.Sub(person.Start) || !strings.Contains(pictures.Title, "pictures") {
		t.Errorf("by pictures it is %v to %v, %q; in person %v to %v", pictures.Start, pictures.End, pictures.Title, person.Start, person.End)
	}
}

// However much a new plan has to gain, it moves no time that a client has picked, as long as the plan so far keeps it.
func TestNoGainMovesAPickedTime(t *testing.T) {
	st := shopStudio()
	st.Resources = slices.DeleteFunc(st.Resources, func(r plan.Resource) bool { return r.ID == "jonas" })
	made := func(open []Open, f func(context.Context, []Open, quote.Studio, time.Time) (Shop, error)) Shop {
		t.Helper()
		p, err := f(t.Context(), open, st, shopNow)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	anew := func(ctx context.Context, open []Open, st quote.Studio, now time.Time) (Shop, error) {
		return Plan(ctx, open, st, now, nil)
	}
	open := opened(t, 4)
	first := made(open, anew)
	open = promise(take(open, first), first, func(i int) int { return []int{9, -4, -3, -6}[i] }) // everybody else is late
	own := placed(t, first, 0, quote.FirstFitting)
	tried, moved := 0, 0
	for n := range 40 {
		at := own.Start.Add(time.Duration(n*3+1) * time.Hour)
		with := meet(open, 0, Meeting{Op: quote.FirstFitting, At: at})
		if so := made(with, Look); !placed(t, so, 0, quote.FirstFitting).Start.Equal(at) {
			continue // not a time that could be picked
		}
		tried++
		p := made(with, anew)
		if moved += p.Moved; !placed(t, p, 0, quote.FirstFitting).Start.Equal(at) {
			t.Errorf("picked is %v, a new plan has the fitting at %v", at, placed(t, p, 0, quote.FirstFitting).Start)
		}
	}
	if tried < 3 || moved == 0 {
		t.Errorf("%d times were tried, and %d operations moved: little is shown", tried, moved)
	}
}

// What holds a date up is named where that is a fitting, and asked whether the date can be sooner, an earlier fitting is a way that
// costs nothing.
func TestAFittingHoldsTheDateUp(t *testing.T) {
	open := opened(t, 1)
	first := planned(t, open, shopNow)
	open = promise(take(open, first), first, func(int) int { return 1 })
	own := placed(t, first, 0, quote.FirstFitting)
	picked := time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC) // weeks after it could be
	if picked.Sub(own.Start) < 10*24*time.Hour {
		t.Fatalf("the fitting could be at %v", own.Start)
	}
	look := func(open []Open, st quote.Studio) Outlook {
		t.Helper()
		p, err := Look(t.Context(), open, st, shopNow)
		if err != nil {
			t.Fatal(err)
		}
		return p.Outlooks[0]
	}
	late := meet(open, 0, Meeting{Op: quote.FirstFitting, How: quote.InPerson, At: picked})
	l := look(late, shopStudio())
	zone, err := time.LoadLocation(shopStudio().Calendar.Zone)
	if err != nil {
		t.Fatal(err)
	}
	const when = "Mon 2 Jan, 15:04"
	if want := "the work waits for the first fitting on " + picked.In(zone).Format(when); !l.Danger || l.Why != want {
		t.Errorf("%t: %q, want %q", l.Danger, l.Why, want)
	}
	i := slices.IndexFunc(l.Reasons, func(r Reason) bool { return r.Op == quote.FirstFitting })
	if i < 0 || l.Reasons[i].Waits != "at the time agreed with the client" {
		t.Errorf("what is left is there for these reasons: %+v", l.Reasons)
	}
	if l := look(meet(open, 0, Meeting{Op: quote.FirstFitting, How: quote.InPerson, NotBefore: picked}), shopStudio()); !strings.Contains(l.Why, "of which the client has notice until "+picked.In(zone).Format(when)) {
		t.Errorf("with notice: %q", l.Why)
	}
	shut := shopStudio()
	for d := shopNow.AddDate(0, 0, 1); d.Before(picked); d = d.AddDate(0, 0, 1) {
		shut.Calendar.Closed = append(shut.Calendar.Closed, d.Format(time.DateOnly))
	}
	if l := look(open, shut); !strings.Contains(l.Why, "until the shop opens on Wed 2 Dec") {
		t.Errorf("with the shop shut for three weeks: %q", l.Why)
	}

	choices := func(open []Open) (out []Choice) {
		t.Helper()
		all, err := WhatIf(t.Context(), open, shopStudio(), shopNow, open[0].Snapshot.Commission, open[0].Promise)
		if err != nil {
			t.Fatal(err)
		}
		return slices.DeleteFunc(all, func(c Choice) bool { return c.Way != ByEarlierFitting })
	}
	if c := choices(late); len(c) != 1 || !c[0].Kept || c[0].Cost != 0 || !strings.HasPrefix(c[0].Name, "first fitting (") {
		t.Errorf("sooner it is %+v", c)
	}
	if c := choices(meet(open, 0, Meeting{Op: quote.FirstFitting, How: quote.InPerson, NotBefore: picked})); len(c) > 0 {
		t.Errorf("with no time agreed there is %+v", c)
	}
}

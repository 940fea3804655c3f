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

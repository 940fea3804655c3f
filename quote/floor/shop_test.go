package floor

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/quote"
	"benchbell/quote/pattern"
	"benchbell/quote/plan"
	"benchbell/quote/plan/check"
	"benchbell/quote/quotetest"
	"benchbell/quote/settings"
	"benchbell/templates"
)

// shopStudio is the demo studio with a budget for tests and a finish whose recoat windows close.
func shopStudio() quote.Studio {
	st := settings.Demo()
	st.Spread = plan.Spread{} // what is tested is the plan; the odds of work with common causes are calibrated in package schedule
	st.Schedules, st.Runs = 40, 100
	st.Finishes = append([]quote.Finish{{Key: "resin", Title: "Resin and enamel",
		Coats: []quote.Coat{{Op: "prime", Material: "epoxy resin", Coats: 2}, {Op: "paint", Material: "solvent aerosol enamel", Coats: 2}}}}, st.Finishes...)
	return st
}

// opened is n commissions of one or two sets of the library each, quoted and not begun, without a plan or a promise.
func opened(t testing.TB, n int) []Open {
	t.Helper()
	names := templates.Sets()
	var out []Open
	for i := range n {
		out = append(out, ordered(t, i, slices.Compact([]string{names[i%len(names)], names[(i*i+1)%len(names)]})...))
	}
	return out
}

// props is one commission in which nothing is worn.
func props(t testing.TB) []Open { return []Open{ordered(t, 2, "short-sword", "round-shield")} }

// ordered is a commission of some sets, the i-th.
func ordered(t testing.TB, i int, sets ...string) Open {
	t.Helper()
	s := quote.Snapshot{Version: quote.Version, Commission: quote.CommissionID(fmt.Sprintf("C%04d", i+7)), Revision: 1, Studio: shopStudio(), Seed: uint64(i),
		Patterns: map[string]quote.PatternSource{}, At: time.Date(2026, 11, 2, 9, 30, 0, 0, time.UTC)}
	s.Finish = s.Studio.Finishes[i%len(s.Studio.Finishes)].Key
	for _, name := range sets {
		svg, toml, err := templates.Source(name)
		if err != nil {
			t.Fatal(err)
		}
		set, err := pattern.Parse(svg, toml)
		if err != nil {
			t.Fatal(err)
		}
		s.Patterns[name] = quote.PatternSource{Drawing: string(svg), TOML: string(toml)}
		it := quote.Item{Set: name, Count: 1}
		if set.Sided {
			it.Sides = quote.Pair
		}
		s.Items = append(s.Items, it)
		for _, k := range set.Measures {
			if !slices.ContainsFunc(s.Body, func(t quote.Taken) bool { return t.Key == k }) {
				s.Body = append(s.Body, quote.Taken{Key: k, Value: set.Base[k]})
			}
		}
	}
	return Open{Snapshot: s, Quote: quotetest.Graded(t, s)}
}

// take takes a plan over, as the desk does.
func take(open []Open, p Shop) []Open {
	open = slices.Clone(open)
	for i := range open {
		was := map[string]Actual{}
		for _, a := range open[i].Actual {
			was[a.Op] = a
		}
		var now []Actual
		for _, x := range p.Outlooks[i].Left {
			a := was[x.ID]
			delete(was, x.ID)
			if a.Started.IsZero() {
				a.Op, a.Title, a.Start, a.End, a.Spans, a.Resources = x.ID, x.Title, x.Start, x.End, x.Spans, x.Resources
			}
			now = append(now, a)
		}
		for _, a := range open[i].Actual {
			if _, kept := was[a.Op]; kept {
				now = append(now, a)
			}
		}
		open[i].Actual = now
	}
	return open
}

// promise gives each commission its sure date, some days off.
func promise(open []Open, p Shop, days func(i int) int) []Open {
	open = slices.Clone(open)
	for i := range open {
		at, err := time.Parse(time.DateOnly, p.Outlooks[i].P80)
		if err != nil {
			panic(err)
		}
		open[i].Promise = at.AddDate(0, 0, days(i)).Format(time.DateOnly)
	}
	return open
}

func planned(t testing.TB, open []Open, now time.Time) Shop {
	t.Helper()
	p, err := Plan(t.Context(), open, shopStudio(), now, nil)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

var shopNow = time.Date(2026, 11, 9, 8, 0, 0, 0, time.UTC)

// worked does what the plan has until then: begun operations are started, ended ones finished late minutes after that.
func worked(open []Open, until time.Time, late func(op string) time.Duration) []Open {
	open = slices.Clone(open)
	for i := range open {
		open[i].Actual = slices.Clone(open[i].Actual)
		for k := range open[i].Actual {
			a := &open[i].Actual[k]
			if !a.Start.Before(until) {
				continue
			}
			a.Started = a.Start
			if end := a.End.Add(late(a.Op)); !end.After(until) {
				a.Finished = end
			}
		}
	}
	return open
}

func punctual(string) time.Duration { return 0 }

// Nothing has changed since the plan was taken over: planning again changes nothing, with promises that are kept and with
// promises that cannot be.
func TestPlanAgainChangesNothing(t *testing.T) {
	base := opened(t, 5)
	first := planned(t, base, shopNow)
	rng := rand.New(rand.NewPCG(1, 2))
	for range 8 {
		open := take(base, first)
		open = promise(open, first, func(int) int { return rng.IntN(18) - 12 })
		now := shopNow.Add(time.Duration(rng.IntN(60)) * time.Hour)
		open = worked(open, now, punctual)
		second := planned(t, open, now)
		open = take(open, second)
		third := planned(t, open, now)
		if third.Moved != 0 {
			t.Fatalf("planned again, %d operations move", third.Moved)
		}
		for i, l := range third.Outlooks {
			if s := second.Outlooks[i]; l.P80 != s.P80 || l.P50 != s.P50 || l.Kept != s.Kept || l.Why != s.Why {
				t.Fatalf("%s is %s, %s, kept in %g, %s; it was %s, %s, kept in %g, %s", l.Commission, l.P50, l.P80, l.Kept, l.Why, s.P50, s.P80, s.Kept, s.Why)
			}
		}
	}
}

// What is finished or running stays as it was, whatever is planned; the plan is one that check.Plan accepts.
func TestPlanKeepsHistory(t *testing.T) {
	open := opened(t, 4)
	first := planned(t, open, shopNow)
	open = promise(take(open, first), first, func(i int) int { return 1 })
	now := shopNow.Add(30 * time.Hour)
	late := func(op string) time.Duration { return 25 * time.Minute }
	open = worked(open, now, late)
	_, sh, err := shopProblem(open, shopStudio(), now)
	if err != nil {
		t.Fatal(err)
	}
	got := planned(t, open, now)
	if err := check.Plan(got.sh.problem, got.Plan); err != nil {
		t.Fatal(err)
	}
	began, done := 0, 0
	for _, x := range got.Plan.Operations {
		a := sh.actual[x.ID]
		switch {
		case !a.Finished.IsZero():
			done++
			if d := x.End.Sub(a.Finished); d < 0 || d >= 5*time.Minute {
				t.Errorf("%s was finished at %s and stands until %s", x.ID, a.Finished, x.End)
			}
		case !a.Started.IsZero():
			began++
			if !slices.Equal(x.Resources, a.Resources) {
				t.Errorf("%s is in hand on %v and is planned on %v", x.ID, a.Resources, x.Resources)
			}
		case x.Start.Before(now):
			t.Errorf("%s is planned for %s, which is past", x.ID, x.Start)
		}
	}
	if began == 0 || done == 0 {
		t.Fatalf("%d operations are in hand and %d done: the test shows nothing", began, done)
	}
	for _, l := range got.Outlooks {
		for _, x := range l.Left {
			if a := sh.actual[shopID(l.Commission, x.ID)]; !a.Finished.IsZero() {
				t.Errorf("%s of %s is done and is said to be left", x.ID, l.Commission)
			}
		}
	}
}

// A promise that the plan cannot keep is in danger, with a reason; one that it can is not.
func TestPlanDanger(t *testing.T) {
	open := opened(t, 3)
	first := planned(t, open, shopNow)
	open = promise(take(open, first), first, func(i int) int { return []int{20, -6, 20}[i] })
	got := planned(t, open, shopNow)
	for i, l := range got.Outlooks {
		if l.Danger != (i == 1) {
			t.Errorf("%s is promised for %s and sure by %s: danger is %t", l.Commission, l.Promise, l.P80, l.Danger)
		}
		if l.P50 > l.P80 || l.P80 > l.P95 {
			t.Errorf("%s: dates %s, %s, %s are not in order", l.Commission, l.P50, l.P80, l.P95)
		}
		if (l.Kept >= 0.8) == l.Danger {
			t.Errorf("%s is kept in %.0f %% of the runs, danger is %t", l.Commission, 100*l.Kept, l.Danger)
		}
		if l.Why == "" {
			t.Errorf("%s has no reason for its date", l.Commission)
		}
		t.Log(l.Commission, l.Promise, l.P50, l.P80, l.Kept, l.Missed, l.Why)
	}
	if pics, err := got.Draw(); err != nil || len(pics) == 0 {
		t.Errorf("there are %d pictures, %v", len(pics), err)
	}
}

// A commission that is ready in 8 of 10 runs on the promised day itself is not in danger.
func TestReadyOnThePromisedDayIsNoDanger(t *testing.T) {
	open := opened(t, 1)
	first := planned(t, open, shopNow)
	open = promise(take(open, first), first, func(int) int { return 0 })
	l := planned(t, open, shopNow).Outlooks[0]
	if l.P80 != l.Promise {
		t.Fatalf("promised for %s and sure by %s: the boundary was not met", l.Promise, l.P80)
	}
	if l.Danger {
		t.Errorf("promised for %s, ready on that day in 8 of 10 runs, and said to be in danger", l.Promise)
	}
}

// A recoat window that closed over a weekend does not keep the shop from having a plan, and is said.
func TestPlanClosedWindow(t *testing.T) {
	open := opened(t, 3)
	open = take(open, planned(t, open, shopNow))
	zone, err := time.LoadLocation(shopStudio().Calendar.Zone)
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for i := range open {
		for _, o := range open[i].Quote.Work.Operations {
			for _, l := range o.After {
				if l.Max == 0 || found {
					continue
				}
				found = true
				// All up to the coat before is done, as planned; then nobody comes for as long as the window is open.
				var done time.Time
				for k := range open[i].Actual {
					if a := &open[i].Actual[k]; a.Op == l.After {
						done = a.End
					}
				}
				open = worked(open, done, punctual)
				now := done.Add(time.Duration(l.Max)*time.Minute + time.Hour)
				got := planned(t, open, now)
				closes := done.Add(time.Duration(l.Max) * time.Minute).In(zone).Format("15:04")
				if c := strings.Join(got.Outlooks[i].Closed, "; "); !strings.Contains(c, "key the surface") || !strings.Contains(c, closes) {
					t.Errorf("the window of %s closed on %s, said is %q", o.ID, done.Add(time.Duration(l.Max)*time.Minute), c)
				}
				// In its last moments, too.
				planned(t, open, done.Add(time.Duration(l.Max)*time.Minute-time.Minute))
			}
		}
	}
	if !found {
		t.Fatal("no finish of the test has a closing window")
	}
}

// The work is read from the quote: without patterns and pieces, and in a release whose rates would make other operations of
// them, the plan is the same.
func TestPlanReadsTheQuote(t *testing.T) {
	open := opened(t, 2)
	want := planned(t, open, shopNow)
	for i := range open {
		open[i].Snapshot.Patterns, open[i].Snapshot.Items, open[i].Snapshot.Body, open[i].Quote.Graded = nil, nil, nil, nil
		open[i].Snapshot.Studio.Rates = nil
	}
	if got := planned(t, open, shopNow); !reflect.DeepEqual(got.Plan, want.Plan) {
		t.Error("the plan of the quotes alone is another")
	}
}

// Errors say what is wrong with which commission.
func TestPlanRefuses(t *testing.T) {
	open := opened(t, 2)
	for want, o := range map[string][]Open{
		"listed twice":      {open[0], open[0]},
		"is not a date":     {{Snapshot: open[0].Snapshot, Quote: open[0].Quote, Promise: "soon"}},
		"at the bench":      {{Snapshot: open[0].Snapshot, Quote: open[0].Quote, Actual: []Actual{{Op: "cut-5"}}}},
		"no work breakdown": {{Snapshot: open[0].Snapshot, Quote: quote.Quote{Graded: open[0].Quote.Graded}}},
	} {
		if _, err := Plan(t.Context(), o, shopStudio(), shopNow, nil); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want an error with %q", err, want)
		}
	}
	if p, err := Plan(t.Context(), nil, shopStudio(), shopNow, nil); err != nil || len(p.Outlooks) > 0 {
		t.Errorf("an empty shop has %d outlooks, %v", len(p.Outlooks), err)
	}
}

// TestPlanPictures writes the pictures of a shop of twelve where BENCHBELL_PICTURES names a folder.
func TestPlanPictures(t *testing.T) {
	dir := os.Getenv("BENCHBELL_PICTURES")
	if dir == "" {
		t.Skip("BENCHBELL_PICTURES names no folder")
	}
	open := opened(t, 12)
	first := planned(t, open, shopNow)
	open = promise(take(open, first), first, func(i int) int { return i%4 - 1 })
	now := shopNow.Add(51 * time.Hour)
	got := planned(t, worked(open, now, punctual), now)
	pics, err := got.Draw()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range pics {
		if err := os.WriteFile(filepath.Join(dir, p.Name), p.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, l := range got.Outlooks {
		t.Logf("%s promised %s expected %s sure %s kept %.2f missed %.2f danger %t: %s", l.Commission, l.Promise, l.P50, l.P80, l.Kept, l.Missed, l.Danger, l.Why)
	}
}

func BenchmarkPlan(b *testing.B) {
	open := opened(b, 12)
	st := settings.Demo()
	first, err := Plan(b.Context(), open, st, shopNow, nil)
	if err != nil {
		b.Fatal(err)
	}
	open = promise(take(open, first), first, func(i int) int { return i%4 - 2 })
	now := shopNow.Add(51 * time.Hour)
	open = worked(open, now, func(string) time.Duration { return 40 * time.Minute })
	defer b.ReportMetric(float64(len(first.Plan.Operations)), "operations")
	for b.Loop() {
		if _, err := Plan(b.Context(), open, st, now, nil); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDraw(b *testing.B) {
	open := opened(b, 12)
	p, err := Plan(b.Context(), open, settings.Demo(), shopNow, nil)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := p.Draw(); err != nil {
			b.Fatal(err)
		}
	}
}

// A shop of 125 commissions: planned from scratch, planned again after everything ended 40 minutes late, asked what if.
func BenchmarkFullShop(b *testing.B) {
	st := settings.Demo()
	open := opened(b, 125)
	first, err := Plan(b.Context(), open, st, shopNow, nil)
	if err != nil {
		b.Fatal(err)
	}
	size := float64(len(first.Plan.Operations))
	b.Run("scratch", func(b *testing.B) {
		b.ReportMetric(size, "operations")
		for b.Loop() {
			if _, err := Plan(b.Context(), open, st, shopNow, nil); err != nil {
				b.Fatal(err)
			}
		}
	})
	open = promise(take(open, first), first, func(i int) int { return i%4 - 2 })
	now := shopNow.Add(51 * time.Hour)
	open = worked(open, now.Add(-30*time.Minute), punctual) // and for half an hour nobody has begun anything
	var again Shop
	b.Run("again", func(b *testing.B) {
		for b.Loop() {
			if again, err = Plan(b.Context(), open, st, now, nil); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(again.sh.soFar.Objectives[0].Value), "missed-pushed-back") // promises come first in the order
		b.ReportMetric(float64(again.Plan.Objectives[0].Value), "missed")
	})
	open = take(open, again)
	b.Run("one event", func(b *testing.B) { // what was running is done half an hour later than planned, and nothing else
		now := now.Add(30 * time.Minute)
		open := worked(open, now, punctual)
		for _, o := range open {
			if k := slices.IndexFunc(o.Actual, func(a Actual) bool { return !a.Started.IsZero() && a.Finished.IsZero() }); k >= 0 {
				o.Actual[k].Finished = now
				break
			}
		}
		for b.Loop() {
			if _, err := Plan(b.Context(), open, st, now, nil); err != nil {
				b.Fatal(err)
			}
		}
	})
	l := again.Outlooks[10]
	at, err := time.Parse(time.DateOnly, l.P80)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("what if", func(b *testing.B) {
		for b.Loop() {
			if _, err := WhatIf(b.Context(), open, st, now, l.Commission, at.AddDate(0, 0, -2).Format(time.DateOnly)); err != nil {
				b.Fatal(err)
			}
		}
	})
}

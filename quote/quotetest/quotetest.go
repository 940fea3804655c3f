// Package quotetest makes commissions for tests: sets of the library on an invented body. It is for tests only. What it
// makes is complete: everything in it can be quoted.
package quotetest

import (
	"testing"
	"time"

	"benchbell/quote"
	"benchbell/quote/body"
	"benchbell/quote/breakdown"
	"benchbell/quote/geom"
	"benchbell/quote/pattern"
	"benchbell/quote/settings"
	"benchbell/templates"
)

// Snapshot orders each of the named sets once, as a pair if it has sides, with small budgets; without names every set of
// the library. The body is a twenty-fifth larger than the sets' own.
func Snapshot(t testing.TB, sets ...string) quote.Snapshot {
	t.Helper()
	s := quote.Snapshot{
		Version: quote.Version, Commission: "C0001", Revision: 1, Client: "Ilka Brandt · Ώρα · Привет 🛡", Finish: "painted",
		Wanted: "2027-03-01", Notes: "scratched look at the edges, please", Patterns: map[string]quote.PatternSource{}, Studio: settings.Demo(),
		At: time.Date(2026, 11, 2, 9, 30, 0, 0, time.UTC), Seed: 7,
	}
	s.Studio.Evaluations, s.Studio.Schedules, s.Studio.Runs = 3000, 20, 40
	if len(sets) == 0 {
		sets = templates.Sets()
	}
	taken := map[string]bool{}
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
			if !taken[k] {
				taken[k] = true
				s.Body = append(s.Body, quote.Taken{Key: k, Value: set.Base[k] * 1.04})
			}
		}
	}
	return s
}

// Graded is the quote of a snapshot with only its pieces and its work, made quickly: without sheets, price, plan and paper.
// Its pieces are labelled a, b, c and so on.
func Graded(t testing.TB, s quote.Snapshot) quote.Quote {
	t.Helper()
	q := quote.Quote{Commission: s.Commission, Revision: s.Revision}
	var as []quote.Assembly
	for i, it := range s.Items {
		set, err := pattern.Parse([]byte(s.Patterns[it.Set].Drawing), []byte(s.Patterns[it.Set].TOML))
		if err != nil {
			t.Fatal(err)
		}
		x := breakdown.Ordered{Number: i + 1, Title: it.Named(set.Title), Steps: set.Operations, Finishes: set.Finishes}
		for _, side := range body.Sides(it.Sides) {
			fit := pattern.Fit{Body: map[string]geom.MM{}, Side: side, FoamK: s.Studio.FoamK, Tools: s.Studio.Bench.Tools}
			for k, v := range body.On(s.Body, side) {
				fit.Body[k] = v.Value
			}
			g, err := set.Grade(fit)
			if err != nil {
				t.Fatal(err)
			}
			x.Graded = append(x.Graded, g)
			for range g.Pieces {
				x.Labels = append(x.Labels, string(rune('a'+len(x.Labels)%26)))
			}
		}
		q.Graded = append(q.Graded, x.Graded...)
		as = append(as, breakdown.Measure(x))
	}
	finish, err := s.FinishOrdered()
	if err != nil {
		t.Fatal(err)
	}
	if q.Work, _, err = breakdown.Make(s.Studio, finish, as); err != nil {
		t.Fatal(err)
	}
	return q
}

package document

import (
	"slices"
	"testing"
	"time"

	"benchbell/quote"
	"benchbell/quote/pdf"
	"benchbell/quote/plan"
)

// The first page names both fittings with their days in the studio's zone and how they are held; of props it names none.
func TestFittingsAreNamed(t *testing.T) {
	zone := time.FixedZone("east", 9*60*60) // where the first is on the next day
	q := quote.Quote{Plan: plan.Solution{Operations: []plan.Scheduled{
		{ID: quote.FirstFitting, Start: time.Date(2026, 11, 9, 23, 0, 0, 0, time.UTC)}, {ID: quote.FinalFitting, Start: time.Date(2026, 11, 20, 3, 0, 0, 0, time.UTC)}}}}
	named := func(q quote.Quote, how quote.How) string {
		s := quote.Snapshot{Studio: quote.Studio{Appointments: quote.Appointments{Fittings: how}}}
		list := facts(q, s, quote.Finish{}, zone)
		if i := slices.IndexFunc(list, func(f pdf.Fact) bool { return f.Label == "Fittings" }); i >= 0 {
			return list[i].Value
		}
		return ""
	}
	for how, want := range map[quote.How]string{
		quote.InPerson:   "in the workshop, the first about Tuesday 10 November, the final one about Friday 20 November; you pick the times",
		quote.ByPictures: "by pictures, the first about Tuesday 10 November, the final one about Friday 20 November; you agree the days",
	} {
		if got := named(q, how); got != want {
			t.Errorf("%s: %q, want %q", how, got, want)
		}
	}
	if got := named(quote.Quote{}, quote.InPerson); got != "" {
		t.Errorf("nothing is worn, and the quote says %q", got)
	}
}

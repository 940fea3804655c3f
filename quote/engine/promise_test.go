package engine

import (
	"testing"
	"time"

	"benchbell/quote/plan/schedule"
	"benchbell/quote/quotetest"
)

// The promised day is the first on which work that is ready by closing time is as likely as the studio asks for, or so near to it
// that the runs cannot tell; its odds are those of its whole day.
func TestPromiseIsTheFirstDayThatIsLikelyEnough(t *testing.T) {
	nearly := 0
	for seed := range uint64(8) {
		for _, confidence := range []int{50, 80, 95} {
			s := quotetest.Snapshot(t, "forearm-cuff", "collar")
			s.Seed, s.Studio.Confidence = seed, confidence
			s.Studio.Evaluations, s.Studio.Schedules, s.Studio.Runs = 50, 20, 400
			s.Studio.Calendar.Zone = "Europe/Berlin"
			q, err := Reckon(t.Context(), s)
			if err != nil {
				t.Fatal(err)
			}
			zone, _ := time.LoadLocation(s.Studio.Calendar.Zone)
			own := s.Problem(q.Work.Plan(), s.Studio.FirstDay(s.At.In(zone)), s.Promised)
			m := &making{snapshot: s, quote: q}
			whole := m.among(own)
			kept := func(by time.Time) float64 {
				whole.Projects[0].Due = by.UTC()
				all, err := schedule.Settle(t.Context(), whole)
				if err != nil {
					t.Fatal(err)
				}
				return all.Dates[0].Kept
			}
			end := q.Plan.End.In(zone)
			d := time.Date(end.Year(), end.Month(), end.Day(), 0, 0, 0, 0, zone)
			if !end.Equal(s.Studio.Calendar.Handover(end)) {
				d = d.AddDate(0, 0, 1)
			}
			for ; ; d = d.AddDate(0, 0, 1) {
				if closes := s.Studio.Calendar.Closing(d); !closes.IsZero() {
					if odds := kept(closes); odds >= float64(confidence)/100-0.02 {
						if odds < float64(confidence)/100 {
							nearly++
						}
						break
					}
				}
			}
			if got := d.Format(time.DateOnly); q.Promise != got {
				t.Errorf("seed %d, %d %%: promised for %s, want %s", seed, confidence, q.Promise, got)
			}
			if odds := kept(d.AddDate(0, 0, 1)); q.Odds != odds {
				t.Errorf("seed %d, %d %%: odds of %v told for %s, the whole day has %v", seed, confidence, q.Odds, q.Promise, odds)
			}
		}
	}
	if nearly == 0 {
		t.Error("no day was promised that is only nearly likely enough; the test shows nothing of those")
	}
}

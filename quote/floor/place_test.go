package floor

import (
	"math/rand/v2"
	"testing"
	"time"
)

// One commission on an empty shop has the best plan there is, whatever it is and whenever it begins: it ends where the bound
// proves that none ends earlier.
func TestOneCommissionOnAnEmptyShopIsOptimal(t *testing.T) {
	open := opened(t, 28) // every set of the library, with one finish or another
	rng := rand.New(rand.NewPCG(2, 1))
	const n = 100
	proved := 0
	for range n {
		o := open[rng.IntN(len(open))]
		o.Snapshot.Studio.Schedules, o.Snapshot.Studio.Runs = 1500, 20 // the default
		days, minutes := rng.IntN(60), rng.IntN(500)
		if rng.IntN(2) == 0 {
			minutes = rng.IntN(24 * 60)
		}
		from := shopNow.AddDate(0, 0, days).Add(time.Duration(minutes) * time.Minute)
		s, err := Place(t.Context(), o.Snapshot, o.Quote, from, nil)
		if err != nil {
			t.Fatal(err)
		}
		switch gap := s.End.Sub(s.LowerBound); {
		case len(s.Broken) > 0 || gap > 24*time.Hour:
			t.Errorf("%s with %s from %s ends at %s, no plan before %s; broken: %q", o.Snapshot.Commission, o.Snapshot.Finish, from, s.End, s.LowerBound, s.Broken)
		case gap == 0:
			proved++
		}
	}
	t.Logf("%d of %d proved", proved, n)
	if proved < n {
		t.Errorf("%d of %d plans are proved to be the best", proved, n)
	}
}

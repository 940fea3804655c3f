package ledger

import (
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"benchbell/quote"
	"benchbell/quote/engine"
	"benchbell/quote/quotetest"
)

// A ledger from before quotes kept their work is given it once: what was quoted stays as it is, a quote that cannot be
// worked out is named and holds up no other, and a second start has nothing left to do.
func TestKeepWork(t *testing.T) {
	l := open(t, filepath.Join(t.TempDir(), "ledger.db"))
	s := quotetest.Snapshot(t, "lantern-prop")
	q, err := engine.Compute(t.Context(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	want := q.Work
	old := q
	old.Work = quote.Breakdown{}
	var ids []quote.CommissionID
	for i := range 3 {
		in(t, l, func(tx *Tx) error {
			c, err := tx.NewCommission(Commission{Client: "stage:mara", State: Quoted, OpenedAt: time.Now()})
			if err != nil {
				return err
			}
			ids = append(ids, c.ID)
			own := s
			if i == 1 {
				own.Patterns = nil
			}
			if err := tx.AddRevision(Revision{Commission: c.ID, Revision: 1, Snapshot: own}); err != nil || i == 2 {
				return err
			}
			_, err = tx.StoreQuote(c.ID, 1, old)
			return err
		})
	}
	kept, err := l.KeepWork(t.Context(), engine.Breakdown)
	if kept != 1 || err == nil || !strings.Contains(err.Error(), string(ids[1])) || strings.Contains(err.Error(), string(ids[2])) {
		t.Errorf("%d quotes got their work, %v; one must, and %s alone be refused", kept, err, ids[1])
	}
	in(t, l, func(tx *Tx) error {
		r, err := tx.Revision(ids[0], 1)
		if !reflect.DeepEqual(r.Quote.Work, want) {
			t.Errorf("the work kept is not that of the quote:\n%+v\n%+v", r.Quote.Work, want)
		}
		if r.Quote.Estimate.Total != q.Estimate.Total || r.Quote.Promise != q.Promise {
			t.Error("the quote changed with it")
		}
		return err
	})
	if kept, err = l.KeepWork(t.Context(), func(quote.Snapshot, quote.Quote) (quote.Breakdown, error) { return quote.Breakdown{Version: 99}, nil }); kept != 1 || err != nil {
		t.Errorf("a second time %d quotes were worked out, %v; only the one refused before is without", kept, err)
	}
}

package ledger

import (
	"context"
	"errors"
	"fmt"

	"benchbell/quote"
)

// KeepWork gives every quote that was filed before quotes kept their work breakdown its own, worked out by derive from its
// snapshot, once and for ever; it returns how many. A quote that derive refuses stays without, is among the errors returned
// (joined, by commission and revision), and keeps nobody else's from being filed.
func (l *Ledger) KeepWork(ctx context.Context, derive func(quote.Snapshot, quote.Quote) (quote.Breakdown, error)) (kept int, err error) {
	type named struct {
		id quote.CommissionID
		n  int
	}
	var without []named
	err = l.Tx(ctx, func(t *Tx) (err error) {
		without, err = all(t, func(s scanner) (x named, err error) { return x, s.Scan(&x.id, &x.n) },
			`select commission, revision from revisions where quote <> '' and coalesce(json_extract(quote, '$.work.version'), 0) = 0
				order by commission, revision`)
		return err
	})
	if err != nil {
		return 0, err
	}
	var refused []error
	for _, x := range without {
		err := l.Tx(ctx, func(t *Tx) error {
			r, err := t.Revision(x.id, x.n)
			if err != nil {
				return err
			}
			if r.Quote.Work, err = derive(r.Snapshot, r.Quote); err != nil {
				refused = append(refused, fmt.Errorf("the work of %s, revision %d, cannot be worked out from its quote: %w", x.id, x.n, err))
				return nil
			}
			text, err := encode(r.Quote)
			if err != nil {
				return err
			}
			kept++
			return t.exec(`update revisions set quote = ? where commission = ? and revision = ?`, text, string(x.id), x.n)
		})
		if err != nil {
			return kept, err
		}
	}
	return kept, errors.Join(refused...)
}

package shop

import (
	"context"
	"errors"
	"time"

	"benchbell/bot/ledger"
)

// Due does everything that is due by now without anybody acting: it sends lost requests again, lets quotes expire and gives up the
// places held for them, tells of deposits that have not come, rings bells, warns of closing windows, offers times for what is to be
// agreed with clients, and looks at the promises.
func (s *Shop) Due(ctx context.Context) error {
	if err := s.withShelf(ctx); err != nil {
		return err
	}
	now := s.cfg.Now()
	return errors.Join(s.overdue(ctx, now, now), s.expire(ctx, now), s.endHolds(ctx, now), s.remind(ctx, now), s.ring(ctx, now), s.warnClosing(ctx, now), s.offerDue(ctx, now), s.lookAhead(ctx, now))
}

// NextDue is when something falls due by itself next; zero where nothing does.
func (s *Shop) NextDue(ctx context.Context) (at time.Time, err error) {
	err = s.ledger.Tx(ctx, func(t *ledger.Tx) error {
		at, err = t.NextDue()
		return err
	})
	return at, err
}

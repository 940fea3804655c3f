package desk

import (
	"context"
	"fmt"
	"slices"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
)

// closingWarning is how long before a recoat window closes the bench is told: long enough to stir, mask and begin, short
// enough not to be forgotten again (common practice, no source).
const closingWarning = 30 * time.Minute

// warnClosing tells the bench of recoat windows that close soon and whose coat has not been begun. The bell's row says
// that it was dealt with, in the transaction of the notice, so that it is told once, also across a restart.
func (d *Desk) warnClosing(ctx context.Context, now time.Time) error {
	return d.ledger.Tx(ctx, func(t *ledger.Tx) error {
		bells, err := t.ClosingBells(now.Add(closingWarning))
		if err != nil {
			return err
		}
		w := &work{d: d, t: t, now: now}
		for _, b := range bells {
			if err := w.warnOne(b); err != nil {
				return err
			}
		}
		return nil
	})
}

func (w *work) warnOne(b ledger.Bell) error {
	if err := w.t.Warned(b.ID, w.now); err != nil {
		return err
	}
	c, err := w.t.Commission(b.Commission)
	if err != nil {
		return err
	}
	// A window that closed while nobody looked is told of when its coat is begun.
	if c.State != ledger.Working || !b.Latest.After(w.now) {
		return nil
	}
	s, err := w.shop(c)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(s.ops, func(o ledger.Operation) bool { return o.Seq == b.Seq })
	if i < 0 {
		return fmt.Errorf("bell %s belongs to no operation", b.ID)
	}
	o := s.ops[i]
	// The first that waits for it is the next coat.
	n := slices.IndexFunc(s.ops, func(x ledger.Operation) bool { return slices.Contains(x.After, o.Op) })
	if n < 0 || s.ops[n].State != ledger.Planned {
		return nil
	}
	by := w.d.local(b.Latest).Format("15:04")
	if day := w.d.local(b.Latest).Format(time.DateOnly); day != w.d.local(w.now).Format(time.DateOnly) {
		by = w.d.when(b.Latest)
	}
	text := fmt.Sprintf("*%s: %s must be on by %s.* The window of %s closes then.", c.ID, opWords(s.ops[n]), by, o.Cure)
	if err := w.t.Record(ledger.Event{At: w.now, Commission: c.ID, What: "window closes", Detail: s.ops[n].Op}); err != nil {
		return err
	}
	buttons := []chat.Button(nil)
	if w.waits(s, s.ops[n]) == "" {
		buttons = append(buttons, chat.Button{Action: fmt.Sprintf("start/%s/%d", c.ID, s.ops[n].Seq), Label: "Start", Tone: chat.Good})
	}
	return w.noteTo("closing/"+b.ID, text, buttons, nil, []chat.PersonID{o.DoneBy})
}

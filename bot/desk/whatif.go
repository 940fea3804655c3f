package desk

import (
	"context"
	"fmt"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote/floor"
	"benchbell/quote/plan/schedule"
)

// whatIf answers the studio whether a commission can be ready by a day. It reads the ledger and changes nothing.
func (d *Desk) whatIf(ctx context.Context, in chat.Incoming, now time.Time) (*chat.Reply, error) {
	if d.cfg.WhatIf == nil {
		return nil, refuse("this desk plans no shop")
	}
	var c ledger.Commission
	var by string
	err := d.ledger.Tx(ctx, func(t *ledger.Tx) (err error) {
		w := &work{d: d, t: t, in: in, now: now}
		if c, err = w.named(in.Values["number"]); err != nil {
			return err
		}
		if c.State != ledger.Working {
			return refuse("%s is %s; ask about a commission in work", c.ID, stateWords[c.State])
		}
		by, err = w.wishedDay(oneLine(in.Values["date"]))
		return err
	})
	if err != nil {
		return nil, err
	}
	open, _, err := d.openNow(ctx, now)
	if err != nil {
		return nil, err
	}
	choices, err := d.cfg.WhatIf(ctx, open, d.cfg.Studio(), now, c.ID, by)
	if err != nil {
		return nil, &chat.Refusal{Say: err.Error()}
	}
	var b strings.Builder
	fmt.Fprintf(&b, "*Can %s be ready by %s?*", c.ID, dateWords(by))
	if c.Promise != "" {
		fmt.Fprintf(&b, " Promised is %s.", dateWords(c.Promise))
	}
	for _, x := range choices {
		b.WriteString("\n• " + d.choiceLine(x))
	}
	b.WriteString("\nNothing is changed by asking.")
	return &chat.Reply{Text: clip(b.String(), chat.MaxText)}, nil
}

// wishedDay reads a day; one without a year is the next such day.
func (w *work) wishedDay(typed string) (string, error) {
	if typed == "" {
		return "", refuse("say by which day, such as 12 December")
	}
	today := w.d.local(w.now)
	by, err := parseDate(typed, today)
	for y := today.Year(); err != nil && y <= today.Year()+1; y++ {
		if next, other := parseDate(fmt.Sprintf("%s %d", typed, y), today); other == nil {
			by, err = next, nil
		}
	}
	if err != nil {
		return "", refuse("%s", err.Error())
	}
	return by, nil
}

// choiceLine says one way to have a commission by a day: what it costs, when it is ready, what it does to others.
func (d *Desk) choiceLine(x floor.Choice) string {
	way := "As planned"
	switch x.Way {
	case schedule.ByOvertime:
		way = "Overtime, " + strings.Replace(x.Name, "extra shift", "evening", 1)
	case schedule.ByHire:
		way = "Another maker"
	case schedule.ByParts:
		way = "In parts"
	case schedule.ByVariation:
		way = "Finish “" + x.Name + "” instead"
	}
	answer := "*no*"
	if x.Kept {
		answer = "*yes*"
	}
	line := fmt.Sprintf("%s: %s, sure %s", way, answer, dateWords(x.P80))
	switch {
	case x.Way == schedule.ByParts && len(x.First) > 0:
		line = fmt.Sprintf("%s: %s with %s, the rest sure %s; a second delivery to pay for", way, answer, strings.Join(x.First, ", "), dateWords(x.P80))
	case x.Cost > 0:
		line += ", costs " + x.Cost.Format(d.cfg.Studio().Prices.Currency)
	case x.Cost < 0:
		line += fmt.Sprintf(", bench time for %s less", (-x.Cost).Format(d.cfg.Studio().Prices.Currency))
	}
	for _, e := range x.Others {
		line += fmt.Sprintf("; %s %s instead of %s", e.Commission, shortDate(e.To), shortDate(e.From))
		if e.Danger {
			line += ", *promise in danger*"
		}
	}
	return line + "."
}

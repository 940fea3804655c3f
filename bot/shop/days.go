package shop

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/document"
)

// Days looks at the coming working days: who does what where, what dries until when, what is agreed with clients.
type Days struct {
	Paper string // what its picture and its print are made for, one of document.DaysPapers; empty: the first
	Print bool
}

// ComingDays are these, as facts, as a picture, and to print.
type ComingDays struct {
	document.Days
	Papers  []string
	Picture []byte       // SVG
	File    quote.File   // only where it is to be printed
	AtWork  []AtWorkLine // commissions at work or approved, whose traveller and labels can be printed
}

// AtWorkLine is a commission with what it is.
type AtWorkLine struct {
	Commission quote.CommissionID
	Promise    string
}

// daysShown is how many working days are looked ahead: a week (common practice, no source).
const daysShown = 5

func comingDays(_ context.Context, _ *Shop, _ Call, a Days, read reading) (o ComingDays, err error) {
	err = read(func(j *job, _ ledger.Commission) error {
		o.Days = j.openDays()
		return j.fillDays(&o)
	})
	if err != nil {
		return o, err
	}
	o.Papers = document.DaysPapers
	paper := cmp.Or(strings.ToUpper(OneLine(a.Paper)), o.Papers[0])
	if o.Picture, err = o.Days.Picture(paper); err != nil {
		return o, &Refusal{Kind: NotPrintable, Cause: err}
	}
	if a.Print {
		if o.File, err = o.Days.Print(paper); err != nil {
			return o, &Refusal{Kind: NotPrintable, Cause: err}
		}
	}
	return o, nil
}

// openDays are the coming working days, today among them until it closes.
func (j *job) openDays() document.Days {
	c := j.s.cfg.Studio().Calendar
	o := document.Days{At: j.local(j.now)}
	for day := j.midnight(); len(o.Days) < daysShown && day.Sub(j.now) < 60*24*time.Hour; day = day.AddDate(0, 0, 1) {
		closes := c.Closing(day)
		if closes.IsZero() || !closes.After(j.now) {
			continue
		}
		o.Days = append(o.Days, document.Day{Opens: c.Opening(day), Closes: closes})
	}
	return o
}

// fillDays adds what is done, dries and is agreed on these days.
func (j *job) fillDays(o *ComingDays) error {
	if len(o.Days.Days) == 0 {
		return nil
	}
	last := o.Days.Days[len(o.Days.Days)-1].Closes
	cs, err := j.t.Commissions(ledger.Approved, ledger.Working, ledger.Ready)
	if err != nil {
		return err
	}
	work := map[string][]document.DaysWork{}
	for _, c := range cs {
		b, err := j.bench(c)
		if err != nil {
			return err
		}
		if c.State != ledger.Ready {
			o.AtWork = append(o.AtWork, AtWorkLine{c.ID, c.Promise})
		}
		j.agreeDays(o, c)
		if err := j.meetDays(o, c); err != nil {
			return err
		}
		if c.State != ledger.Working {
			continue
		}
		for _, op := range b.ops {
			for _, x := range j.stepsOf(op) {
				if x.From.After(last) {
					continue
				}
				for _, r := range op.Resources {
					work[r] = append(work[r], document.DaysWork{Commission: c.ID, Titles: []string{op.Title}, From: x.From, To: x.To,
						InHand: op.State == ledger.Running, Done: op.State == ledger.Done})
				}
			}
			if op.State != ledger.Done && op.Cure != "" && op.CureFor > 0 && !op.End.After(last) && op.End.After(j.now) {
				o.Wet = append(o.Wet, document.DaysWet{Commission: c.ID, Material: op.Cure, From: op.End, To: op.End.Add(op.CureFor), Planned: true})
			}
		}
		for _, x := range b.bells {
			if op, ok := b.numbered(x.Seq); ok && x.Due.After(j.now) {
				o.Wet = append(o.Wet, document.DaysWet{Commission: c.ID, Material: op.Cure, From: op.DoneAt, To: x.Due})
			}
		}
	}
	for i := range o.Days.Days {
		slices.SortStableFunc(o.Days.Days[i].Agreed, func(a, b document.DaysAgreed) int { return a.At.Compare(b.At) })
	}
	slices.SortStableFunc(o.Wet, func(a, b document.DaysWet) int {
		if a.Planned != b.Planned { // what is wet now is looked for first
			if a.Planned {
				return 1
			}
			return -1
		}
		return a.To.Compare(b.To)
	})
	for _, r := range j.s.cfg.Studio().Resources {
		if r.Kind == "rack" {
			continue // what stands there dries, and is said as that
		}
		o.Rows = append(o.Rows, document.DaysRow{Title: r.Title, Maker: r.Kind == "maker", Work: together(work[r.ID], j.s.zone())})
	}
	return nil
}

// together joins what is done on one commission without a longer break on one day.
func together(work []document.DaysWork, zone *time.Location) (out []document.DaysWork) {
	slices.SortStableFunc(work, func(a, b document.DaysWork) int { return a.From.Compare(b.From) })
	for _, x := range work {
		if n := len(out) - 1; n >= 0 && out[n].Commission == x.Commission && out[n].Done == x.Done && out[n].InHand == x.InHand &&
			x.From.Sub(out[n].To) <= spellGap && !x.From.Before(out[n].From) && sameDay(out[n].From, x.From, zone) {
			if !slices.Contains(out[n].Titles, x.Titles[0]) {
				out[n].Titles = append(out[n].Titles, x.Titles...)
			}
			if x.To.After(out[n].To) {
				out[n].To = x.To
			}
			continue
		}
		out = append(out, x)
	}
	return out
}

// agreeDays adds the date that a client was told, on its day.
func (j *job) agreeDays(o *ComingDays, c ledger.Commission) {
	for i := range o.Days.Days {
		if c.Promise != "" && c.State != ledger.Ready && o.Days.Days[i].Opens.Format(time.DateOnly) == c.Promise {
			o.Days.Days[i].Agreed = append(o.Days.Days[i].Agreed, document.DaysAgreed{Commission: c.ID})
		}
	}
}

// meetDays adds the appointments of a commission.
func (j *job) meetDays(o *ComingDays, c ledger.Commission) error {
	all, err := j.t.Standing(c.ID)
	if err != nil {
		return err
	}
	for _, a := range all {
		for i := range o.Days.Days {
			if !a.At.IsZero() && sameDay(a.At, o.Days.Days[i].Opens, j.s.zone()) {
				o.Days.Days[i].Agreed = append(o.Days.Days[i].Agreed, document.DaysAgreed{Commission: c.ID, What: string(a.Which), At: a.At})
			}
		}
	}
	return nil
}

package board

import (
	"fmt"
	"net/url"
	"strings"
	"time"

	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/plan"
)

// clock is a moment as it stands beside work: the time today, with its day on another.
func (f frame) clock(t time.Time) string {
	l := t.In(f.Zone)
	if l.Format(time.DateOnly) == f.At.Format(time.DateOnly) {
		return l.Format("15:04")
	}
	return l.Format("Mon 2 Jan, 15:04")
}

// waits says what an operation waits for; of is the piece that it is about, which is not said again.
func (f frame) waits(x shop.Wait, of string) string {
	if x.Until.IsZero() {
		what := x.For.Words()
		if x.For.Group == of {
			what = x.For.Title
		}
		return fmt.Sprintf("“%s” must be done first", what)
	}
	what := x.For.Group
	if what == "" {
		what = x.For.Title
	}
	return fmt.Sprintf("waits for %s: %s dry at %s, another %s", what, x.For.Cure, f.clock(x.Until), quote.TimeWords(x.Left))
}

// takes is how long an operation is worked on, as planned.
func takes(o shop.Operation) time.Duration {
	return plan.Worked(o.Start, o.End, o.Spans)
}

// effectWords says what becomes of a promise.
func effectWords(e shop.Effect) string {
	what := "promised for "
	if e.Undecided {
		what = "quoted for "
	}
	line := fmt.Sprintf("%s · %s, %s%s: kept in %d of 100 simulated runs", e.Commission, e.Client, what, quote.ShortDate(e.Promise), shop.Of100(e.After))
	if e.Before >= 0 {
		line += fmt.Sprintf(" instead of %d", shop.Of100(e.Before))
	}
	return line
}

// brokenWords says what else would be broken.
func (f frame) brokenWords(b shop.Broken) string {
	of := fmt.Sprintf("%s · %s", b.Commission, b.Client)
	if b.Which == "" {
		return fmt.Sprintf("%s: a recoat window would close before its coat is on, in %d of 100 simulated runs", of, shop.Of100(b.Missed))
	}
	return fmt.Sprintf("%s: %s agreed for %s; it could be %s at the earliest", of, b.Which, f.when(b.Picked), f.when(b.Now))
}

// ago is how long something is back, to the unit that matters.
func (f frame) ago(t time.Time) string {
	switch d := f.At.Sub(t); {
	case t.IsZero() || d < 0:
		return "just now"
	case d < time.Minute:
		return "just now"
	case d < time.Hour:
		return fmt.Sprintf("%d min ago", int(d.Minutes()))
	case d < 24*time.Hour:
		return fmt.Sprintf("%d h ago", int(d.Hours()))
	case d < 48*time.Hour:
		return "1 day ago"
	default:
		return fmt.Sprintf("%d days ago", int(d.Hours()/24))
	}
}

// when is a moment with its day, and its year where that is another.
func (f frame) when(t time.Time) string {
	l := t.In(f.Zone)
	if l.Year() != f.At.Year() {
		return l.Format("Mon 2 Jan 2006, 15:04")
	}
	return l.Format("Mon 2 Jan, 15:04")
}

// date is the day of a moment; one at the very end of a day, as days that are given end, is that day.
func (f frame) date(t time.Time) string {
	return f.promised(t.Add(-time.Second).In(f.Zone).Format(time.DateOnly))
}

// promised is "2026-12-18" as "Fri 18 Dec", with its year where that is another.
func (f frame) promised(date string) string {
	if len(date) >= 4 && date[:4] != f.At.Format("2006") {
		return quote.ShortDate(date) + " " + date[:4]
	}
	return quote.ShortDate(date)
}

// commissionPath is the address of a commission's page.
func (f frame) commissionPath(id string) string {
	return f.Base + "commission?of=" + url.QueryEscape(id)
}

// threadPath is the address of a thread at the desk that the page is of; empty for one somewhere else.
func (f frame) threadPath(thread string) string {
	door, _, _ := strings.Cut(string(f.Person.ID), ":")
	if rest, ok := strings.CutPrefix(thread, door+":"); ok {
		return f.Base + "t/" + url.PathEscape(rest)
	}
	return ""
}

package floor

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/quote"
	"benchbell/quote/plan"
)

// Reason is why an operation has its place in the plan.
type Reason struct {
	Commission quote.CommissionID
	Op         string // the commission's own ID of it
	Title      string // with the assembly
	Start, End time.Time
	Who        []string // makers and places, by title
	Waits      string   // what it waits for, a clause; empty: it can begin as soon as the shop is open
}

// Shift is how a commission's work differs between two plans.
type Shift struct {
	Moved int           // operations that start at another time
	Later time.Duration // that its last work ends; less than zero is earlier
	First string        // the first of the operations that hold its date which has moved, from when to when and what it waits for, a clause; empty: none
}

// mostSteps is the longest chain that is told: from there back it is long past what anybody can change.
const mostSteps = 40

// reasoned is a plan made ready for asking why.
type reasoned struct {
	sh *shop
	at map[string]plan.Scheduled // by shop ID
}

// reason says why an operation has its place; others than of commission of are named as such.
func (r *reasoned) reason(x plan.Scheduled, of quote.CommissionID) Reason {
	id, op := splitID(x.ID)
	out := Reason{Commission: id, Op: op, Title: opTitle(r.sh.ops[x.ID]), Start: x.Start, End: x.End, Waits: r.waits(x, of)}
	for _, res := range slices.Compact(slices.Clone(x.Resources)) {
		out.Who = append(out.Who, r.sh.resource(res))
	}
	return out
}

func (r *reasoned) when(t time.Time) string { return t.In(r.sh.zone).Format("Mon 2 Jan, 15:04") }

// named is another operation, with its commission where that is another one.
func (r *reasoned) named(id string, of quote.CommissionID) string {
	title := opTitle(r.sh.ops[id])
	if c, _ := splitID(id); c != of {
		title += " of " + string(c)
	}
	return title
}

// waits says what an operation waits for, a clause.
func (r *reasoned) waits(x plan.Scheduled, of quote.CommissionID) string {
	o := r.sh.ops[x.ID]
	w := x.Wait
	_, agreed := r.sh.agreedOn(x)
	before := plan.Scheduled{}
	if w != nil {
		before = r.at[w.For]
	}
	switch {
	case !o.Finished.IsZero():
		return "done"
	case !o.Started.IsZero():
		return "in hand since " + r.when(o.Started)
	case w == nil:
		return ""
	case w.Why == plan.WaitRelease && agreed != "":
		return agreed
	case w.Why == plan.WaitRelease:
		return "not before " + r.when(x.Start)
	case w.Why == plan.WaitOrder:
		return fmt.Sprintf("waits for %s to be done, %s", r.named(w.For, of), r.when(before.End))
	case w.Why == plan.WaitCure:
		what, ready := "", x.Start
		for _, l := range o.After {
			if l.After == w.For {
				if l.Cure != "" {
					what = l.Cure
				}
				ready = before.End.Add(time.Duration(l.Min) * time.Minute)
				for _, k := range l.Windows { // the one that the start lies in
					if opens := before.End.Add(time.Duration(k.From) * time.Minute); !opens.After(x.Start) {
						ready = opens
					}
				}
			}
		}
		if what == "" { // nothing cures: a client has notice, or sends pictures
			return fmt.Sprintf("gives the client time after %s, until %s", r.named(w.For, of), r.when(ready))
		}
		return fmt.Sprintf("waits for %s on %s to cure, %s", what, r.named(w.For, of), r.when(ready))
	case w.For == "":
		return fmt.Sprintf("waits for %s, away until then", r.sh.resource(w.Why)) // nothing else is busy in the shop plan
	}
	until := before.End
	if before.Rack == w.Why && before.Cure != nil {
		until = before.Cure.Ready
	}
	return fmt.Sprintf("waits for %s, busy with %s until %s", r.sh.resource(w.Why), r.named(w.For, of), r.when(until))
}

// chain is the operations that hold a commission's date, the last first: from what ends last, each time what that waited for,
// whosever it is, back to what has begun or waits for nothing.
func (r *reasoned) chain(last plan.Scheduled) []plan.Scheduled {
	var out []plan.Scheduled
	for x := last; x.ID != "" && len(out) < mostSteps; {
		out = append(out, x)
		if !r.sh.ops[x.ID].Started.IsZero() || x.Wait == nil {
			break
		}
		x = r.at[x.Wait.For]
	}
	return out
}

// shift is how a commission's work that has not begun differs from where it was, by shop ID.
func (r *reasoned) shift(of quote.CommissionID, chain, left []plan.Scheduled, was func(id string) (start, end time.Time)) Shift {
	var s Shift
	var before, now time.Time
	for _, x := range left {
		start, end := was(x.ID)
		if !r.sh.ops[x.ID].Started.IsZero() || start.IsZero() {
			continue
		}
		if !start.Equal(x.Start) {
			s.Moved++
		}
		before, now = latest(before, end), latest(now, x.End)
	}
	s.Later = now.Sub(before)
	for k := len(chain) - 1; k >= 0 && s.Moved > 0 && s.First == ""; k-- {
		x := chain[k]
		start, _ := was(x.ID)
		if !r.sh.ops[x.ID].Started.IsZero() || start.IsZero() || start.Equal(x.Start) {
			continue
		}
		var who []string
		for _, res := range slices.Compact(slices.Clone(x.Resources)) {
			who = append(who, r.sh.resource(res))
		}
		s.First = fmt.Sprintf("%s (%s) at %s instead of %s", r.named(x.ID, of), strings.Join(who, ", "), r.when(x.Start), r.when(start))
		if w := r.waits(x, of); w != "" {
			s.First += ", " + w
		}
	}
	return s
}

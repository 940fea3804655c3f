package floor

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/quote/breakdown"
	"benchbell/quote/plan"
)

// Unkept is a time picked by a client that a plan does not keep.
type Unkept struct {
	Op     string
	Picked time.Time
	Now    time.Time // when that plan has it instead
}

// operations are those of the quote, its fittings held as the client chose.
func (sh *shop) operations(o Open) ([]plan.Operation, error) {
	ops := o.Quote.Work.Plan()
	for _, m := range o.Meetings {
		i := slices.IndexFunc(ops, func(x plan.Operation) bool { return x.ID == m.Op })
		if i < 0 {
			continue // of an earlier revision
		}
		x, err := breakdown.Refit(o.Snapshot.Studio, o.Quote.Work.Operations[i], m.How)
		if err != nil {
			return nil, err
		}
		ops[i] = x.Operation
	}
	return ops, nil
}

// agreed pins what has not begun to the time that the client picked. One that is past, or that nothing could keep any more, no
// longer binds, or there would be no plan; what could not be earlier anyway keeps it as the earliest.
func (sh *shop) agreed(o Open, ops []plan.Operation) {
	ready := map[string]time.Time{} // the earliest end of each, were nobody else in the shop
	for i := range ops {
		op := &ops[i]
		if !op.Started.IsZero() {
			continue
		}
		head := sh.now
		for _, l := range op.After {
			least := l.Min
			if len(l.Windows) > 0 {
				least = l.Windows[0].From
			}
			if e, ok := ready[l.After]; ok {
				head = latest(head, e.Add(time.Duration(least)*time.Minute))
			}
		}
		k := slices.IndexFunc(o.Meetings, func(m Meeting) bool { return m.Op == op.ID })
		if k >= 0 && o.Meetings[k].At.IsZero() && o.Meetings[k].NotBefore.After(sh.now) {
			op.Release = o.Meetings[k].NotBefore
			head = latest(head, op.Release)
		}
		if k >= 0 && o.Meetings[k].At.After(sh.now) {
			at := o.Meetings[k].At
			op.Planned = at
			if at.Before(head) {
				op.Release = at
			} else {
				op.Pinned = at
				head = at
			}
		}
		ready[op.ID] = head.Add(time.Duration(op.Duration) * time.Minute)
	}
}

// meeting is how an operation was agreed with a client.
func (sh *shop) meeting(id string) (Meeting, bool) {
	c, op := splitID(id)
	for _, o := range sh.open {
		if o.Snapshot.Commission != c {
			continue
		}
		if i := slices.IndexFunc(o.Meetings, func(m Meeting) bool { return m.Op == op }); i >= 0 {
			return o.Meetings[i], true
		}
	}
	return Meeting{}, false
}

// agreedOn says what was agreed with a client that an operation has its time from, as what other work waits for and of the operation
// itself; empty where it has its time for another reason.
func (sh *shop) agreedOn(x plan.Scheduled) (others, own string) {
	m, ok := sh.meeting(x.ID)
	what, _, _ := strings.Cut(strings.ToLower(x.Title), ",")
	when := func(t time.Time) string { return t.In(sh.zone).Format("Mon 2 Jan, 15:04") }
	switch {
	case !ok:
	case !m.At.IsZero() && x.Start.Equal(m.At):
		return fmt.Sprintf("the %s on %s", what, when(m.At)), "at the time agreed with the client"
	case m.At.IsZero() && m.NotBefore.After(sh.now) && x.Wait != nil && x.Wait.Why == plan.WaitRelease:
		return fmt.Sprintf("the %s, of which the client has notice until %s", what, when(m.NotBefore)), "the client has notice until " + when(m.NotBefore)
	}
	return "", ""
}

// lateMeeting is how much later than agreed an appointment may be planned without a word: the client comes in, takes the coat off
// and sits down meanwhile.
const lateMeeting = 2 * time.Duration(plan.Grid) * time.Minute

// unkept are the times picked for a commission that a plan does not keep.
func (sh *shop) unkept(o Open, s plan.Solution) []Unkept {
	var out []Unkept
	for _, m := range o.Meetings {
		id := shopID(o.Snapshot.Commission, m.Op)
		if op, ok := sh.ops[id]; !ok || m.At.IsZero() || !m.At.After(sh.now) || !op.Started.IsZero() {
			continue
		}
		for _, x := range s.Operations {
			if x.ID == id && x.Start.Sub(m.At).Abs() > lateMeeting {
				out = append(out, Unkept{Op: m.Op, Picked: m.At, Now: x.Start})
			}
		}
	}
	return out
}

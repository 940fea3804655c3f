package rehearsal

import (
	"context"
	"fmt"
	"slices"
	"time"

	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/plan"
)

// maker works through what the bench shows: first what is planned for them, in the order of the plan; then, rather than wait, what
// is overdue and planned for somebody who is busy or away.
type maker struct {
	plan.Resource
	hours  hours
	inHand *hand
	worked time.Duration // from when the shop is full to the end of the weeks
	all    time.Duration
}

// hand is an operation in hand.
type hand struct {
	op     ledger.Operation
	makers []*maker
	places []string
	began  time.Time
}

// opKey names an operation.
type opKey struct {
	id quote.CommissionID
	op string
}

// fits reports whether an operation can be begun with so much of a shift left: a coat or a glue-up is not left half done (common
// practice, no source).
func fits(o ledger.Operation, left time.Duration) bool {
	return o.Cure == "" || spent(o) <= left || spent(o) > longestShift
}

// fittings are the operations for which a client comes.
var fittings = map[ledger.Which]string{ledger.FirstFitting: quote.FirstFitting, ledger.FinalFitting: quote.FinalFitting}

// longestShift is longer than any coat that somebody waits for a whole shift to do.
const longestShift = 3 * time.Hour

// spent is the working time of an operation by the plan.
func spent(o ledger.Operation) time.Duration { return plan.Worked(o.Start, o.End, o.Spans) }

// here reports whether a maker is in the shop now.
func (q *quarter) here(m *maker) bool {
	_, ok := m.hours.at(q.now)
	return ok
}

// occupied is how many operations are worked on at a place now.
func (q *quarter) occupied(place string) (n int) {
	for _, h := range q.hands {
		if slices.Contains(h.places, place) && slices.ContainsFunc(h.makers, q.here) {
			n++
		}
	}
	return n
}

// dispatch has every maker who is free begin what comes first, until nobody finds anything. They look at the bench where something
// may have changed for them.
func (q *quarter) dispatch(ctx context.Context) error {
	if !q.stirred {
		return nil
	}
	q.stirred = false
	for {
		var free []*maker
		for _, m := range q.makers {
			if m.inHand == nil && q.here(m) {
				free = append(free, m)
			}
		}
		if len(free) == 0 {
			return nil
		}
		b := q.shown
		if !b.At.Equal(q.now) { // else it is what the last act showed
			var err error
			if b, err = q.bench(ctx); err != nil {
				return err
			}
		}
		began := false
		for _, m := range free {
			if m.inHand != nil { // another took them along
				continue
			}
			if h := q.choose(m, b); h != nil {
				if err := q.begin(ctx, h); err != nil {
					return err
				}
				began = true
				break // the bench is another now
			}
		}
		if !began {
			return nil
		}
	}
}

// choose is what a maker begins; nil for nothing.
func (q *quarter) choose(m *maker, b shop.Bench) *hand {
	for _, pass := range []func(shop.BenchLine) bool{
		func(l shop.BenchLine) bool { return q.urgent[keyOf(l.Operation)] },
		func(l shop.BenchLine) bool { return slices.Contains(l.Operation.Resources, m.ID) },
		func(l shop.BenchLine) bool { return !l.Operation.Start.After(q.now) },
	} {
		for _, l := range b.Lines {
			if l.Rank == shop.InHand || !pass(l) || q.comesLater(l) {
				continue
			}
			if h := q.canBegin(m, l.Operation); h != nil {
				return h
			}
		}
	}
	return nil
}

// early is how long before the time that was agreed a client may be there (common practice, no source).
const early = 30 * time.Minute

// comesLater reports whether a fitting's client is not there yet.
func (q *quarter) comesLater(l shop.BenchLine) bool {
	if l.Meeting == nil || l.Meeting.How != quote.InPerson || !l.Meeting.At.Add(-early).After(q.now) {
		return false
	}
	q.look(l.Meeting.At.Add(-early))
	return true
}

func keyOf(o ledger.Operation) opKey { return opKey{o.Commission, o.Op} }

// canBegin is an operation taken in hand by a maker with whoever else it takes; nil where that cannot be now.
func (q *quarter) canBegin(m *maker, o ledger.Operation) *hand {
	until, _ := m.hours.at(q.now)
	if !q.skilled(m, o) || !fits(o, until.Sub(q.now)) || q.wetBefore(o) {
		return nil
	}
	h := &hand{op: o, began: q.now}
	var others []*maker
	mine := false
	for _, r := range o.Resources {
		i := slices.IndexFunc(q.makers, func(x *maker) bool { return x.ID == r })
		switch {
		case i < 0:
			if q.occupied(r) >= q.places[r].Capacity {
				return nil
			}
			h.places = append(h.places, r)
		case q.makers[i] == m:
			mine = true
		default:
			others = append(others, q.makers[i])
		}
	}
	if !mine { // in place of one who cannot; who can begins it themselves
		i := slices.IndexFunc(others, func(x *maker) bool { return x.inHand != nil || !q.here(x) })
		if i < 0 {
			return nil
		}
		others = slices.Delete(others, i, i+1)
	}
	if slices.ContainsFunc(others, func(x *maker) bool { return x.inHand != nil || !q.here(x) }) || !q.racks(o) {
		return nil
	}
	h.makers = append(others, m)
	return h
}

// skilled reports whether a maker can do the kind of work.
func (q *quarter) skilled(m *maker, o ledger.Operation) bool {
	for _, n := range q.books[o.Commission][o.Op].Needs {
		if n.Kind == "maker" && n.Skill != "" {
			return slices.Contains(m.Skills, n.Skill) || len(m.Skills) == 0
		}
	}
	return true
}

// wetBefore reports whether something that an operation goes on is still wet to the touch, though its bell has rung.
func (q *quarter) wetBefore(o ledger.Operation) bool {
	return slices.ContainsFunc(o.After, func(id string) bool { return q.wet[opKey{o.Commission, id}].After(q.now) })
}

// racks reports whether there is a place for what an operation leaves to cure.
func (q *quarter) racks(o ledger.Operation) bool {
	kind := q.studio.RackKind()
	if o.Cure == "" || kind == "" {
		return true
	}
	n := 0
	for _, r := range q.studio.Resources {
		if r.Kind == kind {
			n += r.Capacity
		}
	}
	for _, until := range q.wet {
		if until.After(q.now) {
			n--
		}
	}
	for _, h := range q.hands {
		if h.op.Cure != "" {
			n--
		}
	}
	return n > 0
}

// begin has makers begin an operation, and arranges its end at its real time.
func (q *quarter) begin(ctx context.Context, h *hand) error {
	book, err := q.book(ctx, h.op.Commission)
	if err != nil {
		return err
	}
	o, ok := book[h.op.Op]
	if !ok {
		return fmt.Errorf("%s has an operation %s at the bench that its quote has not", h.op.Commission, h.op.Op)
	}
	if err := q.start(ctx, h.op); err != nil {
		return err
	}
	delete(q.urgent, keyOf(h.op))
	minutes, again := q.world.takes(h.op.Commission, o)
	if again {
		q.reworked++
		q.commissions[h.op.Commission].again = true
	}
	work := time.Duration(minutes) * time.Minute
	end := h.makers[0].hours.after(q.now, work)
	for _, m := range h.makers {
		m.inHand = h
		if e := m.hours.after(q.now, work); e.After(end) || e.IsZero() {
			end = e // the slowest to be back ends it
		}
	}
	if o.Whole && work <= longestShift { // what is nearly done is not left for the next day
		end = q.now.Add(work)
	}
	if end.IsZero() {
		return fmt.Errorf("the work on %s is never done; give the shop opening hours", h.op.Commission)
	}
	q.hands = append(q.hands, h)
	q.arrange(end, func(ctx context.Context) error { return q.ends(ctx, h, o) })
	return nil
}

// ends has makers report an operation done, unless it was given up meanwhile.
func (q *quarter) ends(ctx context.Context, h *hand, o plan.Operation) error {
	q.hands = slices.DeleteFunc(q.hands, func(x *hand) bool { return x == h })
	for _, m := range h.makers {
		m.inHand = nil
		m.worked += m.hours.between(later(h.began, q.full()), earlier(q.now, q.end))
		m.all += m.hours.between(h.began, q.now)
	}
	for _, p := range h.places {
		q.used[p] += q.hours.between(later(h.began, q.full()), earlier(q.now, q.end))
	}
	if q.commissions[h.op.Commission].closed {
		return nil
	}
	if err := q.done(ctx, h.op); err != nil {
		return err
	}
	if h.op.CureFor <= 0 {
		return nil
	}
	long := h.op.CureFor
	if q.waterborne(h.op) {
		long = time.Duration(float64(long) * q.world.damp(q.now)).Truncate(time.Minute)
	}
	dry := q.now.Add(long)
	q.wet[keyOf(h.op)] = dry
	q.look(dry)
	q.look(q.now.Add(h.op.CureFor))
	if h.op.Window > 0 { // the board is warned before it closes
		q.arrange(q.now.Add(h.op.Window-warned), func(ctx context.Context) error {
			q.moment()
			return q.settle(ctx)
		})
	}
	return nil
}

// warned is how long before a window closes the board is told at the earliest; the shop's own words decide.
const warned = 30 * time.Minute

// waterborne reports whether what an operation leaves cures by the air's dampness.
func (q *quarter) waterborne(done ledger.Operation) bool {
	book := q.books[done.Commission]
	if book[done.Op].TailWater {
		return true
	}
	for _, o := range book {
		for _, l := range o.After {
			if l.After == done.Op && l.Water {
				return true
			}
		}
	}
	return false
}

// book is the work of a commission by its quote.
func (q *quarter) book(ctx context.Context, id quote.CommissionID) (map[string]plan.Operation, error) {
	if b, ok := q.books[id]; ok {
		return b, nil
	}
	var rev ledger.Revision
	err := q.led.Tx(ctx, func(t *ledger.Tx) error {
		c, err := t.Commission(id)
		if err != nil {
			return err
		}
		rev, err = t.Revision(id, c.Revision)
		return err
	})
	if err != nil {
		return nil, err
	}
	b := map[string]plan.Operation{}
	for _, o := range rev.Quote.Work.Operations {
		b[o.ID] = o.Operation
	}
	q.books[id] = b
	return b, nil
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

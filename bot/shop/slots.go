package shop

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
)

const (
	// mostSlots is how many times are offered at once: as many as a thumb reaches without scrolling.
	mostSlots = 5
	// slotTries bounds how many times are tried for a list: each is a look at the whole plan.
	slotTries = 10
	// slotStep is what times are offered on: people meet on the half hour.
	slotStep = 30 * time.Minute
	// slotDays is how far ahead of the first possible time others are looked for.
	slotDays = 21
	// collectNotice is the least time between being told that something is ready and collecting it (common practice, no source).
	collectNotice = 2 * time.Hour
)

// meets is an operation of a commission in a plan; false where it is not left.
func meets(p floor.Shop, id quote.CommissionID, op string) (plan.Scheduled, bool) {
	for _, l := range p.Outlooks {
		if l.Commission != id {
			continue
		}
		if i := slices.IndexFunc(l.Left, func(x plan.Scheduled) bool { return x.ID == op }); i >= 0 {
			return l.Left[i], true
		}
	}
	return plan.Scheduled{}, false
}

// takes is how long a client is there for a fitting: at most as long as the longest shift, in which all that can be asked is that it
// begins with it.
func (is present) takes(own plan.Scheduled) time.Duration {
	most := 0
	for _, x := range is.studio.Calendar.Shifts {
		most = max(most, x.To-x.From)
	}
	takes := plan.Worked(own.Start, own.End, own.Spans)
	if most == 0 {
		return takes
	}
	return min(takes, time.Duration(most)*time.Minute)
}

// Fit is how well a time suits.
type Fit int

// Fits, from worst to best. Only the last three can be had.
const (
	Passed      Fit = iota // it is over
	Shut                   // the shop is closed at some moment of it
	NotReady               // the work before it is not done by then
	NobodyFree             // nobody who can do it is free then
	HurtsOthers            // it hurts somebody else's promise, or breaks something else that was agreed or planned
	hurtsOwn               // its own commission's promise is hurt by it
	closesOwn              // a recoat window of its own commission is likely to close by it
	harmless
)

// fits is the plan with an appointment at a time, and how well that suits, against the plan before. A time is judged in the same way
// when it is offered and when it is picked.
func (s *Shop) fits(ctx context.Context, is present, before floor.Shop, a ledger.Appointment, at time.Time) (floor.Shop, Fit, error) {
	own, ok := meets(before, a.Commission, fittingOps[a.Which])
	switch {
	case !at.After(is.now):
		return floor.Shop{}, Passed, nil
	case ok && !openFor(is.studio.Calendar, at.In(s.zone()), is.takes(own)):
		return floor.Shop{}, Shut, nil
	}
	a.At = at
	is = is.withMeeting(a)
	p, err := s.look(ctx, is)
	if err != nil {
		return p, NobodyFree, err
	}
	x, ok := meets(p, a.Commission, fittingOps[a.Which])
	if !ok || !x.Start.Equal(at) {
		if w := x.Wait; w != nil && slices.Contains([]string{plan.WaitOrder, plan.WaitCure, plan.WaitRelease}, w.Why) {
			return p, NotReady, nil
		}
		return p, NobodyFree, nil
	}
	how := harmless
	for _, e := range effects(is, before, p) {
		switch {
		case e.Hurt && e.Commission != a.Commission:
			return p, HurtsOthers, nil
		case e.Hurt:
			how = hurtsOwn
		}
	}
	for _, b := range broken(is, before, p) {
		if b.Commission != a.Commission || b.Which != "" {
			return p, HurtsOthers, nil
		}
		how = min(how, closesOwn)
	}
	return p, how, nil
}

// openFor reports whether the shop is open for a while from a moment of its zone.
func openFor(c plan.Calendar, at time.Time, takes time.Duration) bool {
	return slices.ContainsFunc(halfDays(c, at, 1), func(x plan.Span) bool { return x.From.Equal(at) && !at.Add(takes).After(x.To) })
}

// slots are times for a fitting after a moment: on different half-days on which the shop is open, not before what is tried on is
// ready and the client has had notice, when a maker who can do it is free or can leave other work for it, and without hurting a
// promise. Where no time leaves its own promise and recoat windows unhurt, since work is late or nobody came, they are those that hurt no other: the
// client has to come some day, and the studio sees the danger.
func (s *Shop) slots(ctx context.Context, is present, a ledger.Appointment, after time.Time) ([]time.Time, error) {
	a.At, a.PickedBy = time.Time{}, ""
	is = is.withMeeting(a)
	before, err := s.look(ctx, is)
	if err != nil {
		return nil, err
	}
	own, ok := meets(before, a.Commission, fittingOps[a.Which])
	if !ok {
		return nil, nil
	}
	from := own.Start
	if from.Before(after) {
		from = after
	}
	if a.How == quote.InPerson {
		if told := is.now.Add(time.Duration(is.studio.Appointments.Ahead()) * time.Minute); from.Before(told) {
			from = told
		}
	}
	var out, hurting []time.Time
	tries := 0
	for _, half := range halfDays(is.studio.Calendar, from.In(s.zone()), slotDays) {
		at := s.freeIn(is, before, own, half)
		if at.IsZero() { // whoever is there can leave other work for it, if that hurts nobody
			at = half.From.Add(slotStep - 1).Truncate(slotStep).UTC()
		}
		if at.Add(is.takes(own)).After(half.To) {
			continue
		}
		if tries++; tries > slotTries {
			break
		}
		_, how, err := s.fits(ctx, is, before, a, at)
		if err != nil {
			return nil, err
		}
		switch how {
		case hurtsOwn, closesOwn:
			hurting = append(hurting, at)
		case harmless:
			out = append(out, at)
		}
		if len(out) == mostSlots {
			break
		}
	}
	if len(out) == 0 {
		out = hurting[:min(len(hurting), mostSlots)]
	}
	return out, nil
}

// halfDays are the shifts from a moment on, in the shop's zone, the first of them from that moment.
func halfDays(c plan.Calendar, from time.Time, days int) []plan.Span {
	var out []plan.Span
	for n := range days {
		day := time.Date(from.Year(), from.Month(), from.Day()+n, 0, 0, 0, 0, from.Location())
		if !c.Open(day) {
			continue
		}
		for _, x := range c.Shifts {
			if x.Weekday != day.Weekday() {
				continue
			}
			at := func(minutes int) time.Time {
				return time.Date(day.Year(), day.Month(), day.Day(), 0, minutes, 0, 0, day.Location())
			}
			span := plan.Span{From: at(x.From), To: at(x.To)}
			if span.From.Before(from) {
				span.From = from
			}
			if span.From.Before(span.To) {
				out = append(out, span)
			}
		}
	}
	return out
}

// freeIn is the first time within a half-day at which somebody who can do the fitting has nothing else in the plan; zero: none.
func (s *Shop) freeIn(is present, p floor.Shop, own plan.Scheduled, half plan.Span) time.Time {
	takes := is.takes(own)
	for at := half.From.Add(slotStep - 1).Truncate(slotStep); !at.Add(takes).After(half.To); at = at.Add(slotStep) {
		end := at.Add(takes)
		for _, r := range is.studio.Resources {
			if r.Kind != "maker" || len(r.Skills) > 0 && !slices.Contains(r.Skills, own.Kind) {
				continue
			}
			if !busy(p, r.ID, own, at, end) {
				return at.UTC()
			}
		}
	}
	return time.Time{}
}

// busy reports whether a maker works on anything else in a stretch of time.
func busy(p floor.Shop, maker string, own plan.Scheduled, from, to time.Time) bool {
	for _, l := range p.Outlooks {
		for _, x := range l.Left {
			if x.Project == own.Project && x.ID == own.ID || !slices.Contains(x.Resources, maker) {
				continue
			}
			for _, span := range x.Spans {
				if span.From.Before(to) && from.Before(span.To) {
					return true
				}
			}
		}
	}
	return false
}

// handingSlots are times for collecting within opening hours, one for each half-day; for posting, the next day that is open.
func (j *job) handingSlots(how quote.How, after time.Time) []time.Time {
	from := j.local(j.now.Add(collectNotice))
	if j.local(after).After(from) {
		from = j.local(after)
	}
	var out []time.Time
	for _, half := range halfDays(j.s.cfg.Studio().Calendar, from, slotDays) {
		at := half.From.Add(slotStep - 1).Truncate(slotStep).UTC()
		if !at.Before(half.To) {
			continue
		}
		if out = append(out, at); how == quote.Ship || len(out) == mostSlots {
			break
		}
	}
	return out
}

// PickSlot has a client come at a time. One that is not among those offered now is refused as SlotStale, so that an old button moves
// nothing; one that suits no longer as SlotGone, with those that do; one with which the commission's own date is in danger as
// SlotHurts, unless it is taken anyway.
type PickSlot struct {
	OfAppointment
	At     time.Time
	Anyway bool
	Seen   string // Refusal.Seen of the refusal that offered the time; empty: it was offered in the thread
}

// SlotPicked is an appointment with its time.
type SlotPicked struct {
	Commission  ledger.Commission
	Appointment ledger.Appointment
	Until       time.Time // when it ends; zero where that is not planned
}

// agreedMark is a short text that differs once another time is agreed.
func agreedMark(x ledger.Appointment) string {
	if x.At.IsZero() {
		return "none"
	}
	return x.At.UTC().Format("200601021504")
}

// stale reports whether a time is not among those offered now.
func (a PickSlot) stale(x ledger.Appointment) bool {
	return a.Seen != agreedMark(x) && !slices.ContainsFunc(x.Slots, a.At.Equal) || x.State == ledger.ApptPicked && x.At.Equal(a.At)
}

func canPick(ctx context.Context, s *Shop, _ Call, a PickSlot, read reading) (m met, err error) {
	is, x, err := appointmentNow(read, a.N, begun)
	if err != nil || x.Which == ledger.HandingOver {
		return m, err
	}
	free := func() error { // times that are
		m.slots, err = s.slots(ctx, is, x, is.now)
		m.slots = slices.DeleteFunc(m.slots, x.At.Equal) // agreed already
		return err
	}
	if a.stale(x) {
		if m.slots = later(x.Slots, is.now); len(m.slots) == 0 {
			err = free()
		}
		return m, err
	}
	open := x
	open.At = time.Time{}
	before, err := s.look(ctx, is.withMeeting(open))
	if err != nil {
		return m, err
	}
	p, how, err := s.fits(ctx, is, before, x, a.At)
	if err != nil {
		return m, err
	}
	if m.fit = how; how < hurtsOwn {
		return m, free()
	}
	m.plan = p
	for _, l := range p.Outlooks {
		if how == hurtsOwn && l.Commission == a.Commission {
			m.ready = l.Sure
		}
	}
	if m.ready != "" && a.Anyway {
		open.At = a.At
		m.odds, err = s.oddsOf(ctx, is.withMeeting(open), p, a.Commission, m.ready)
	}
	return m, err
}

// later are the times after a moment.
func later(slots []time.Time, now time.Time) []time.Time {
	return slices.DeleteFunc(slices.Clone(slots), func(at time.Time) bool { return !at.After(now) })
}

func pickSlot(j *job, c ledger.Commission, a PickSlot, m met) (SlotPicked, error) {
	x, err := j.appointment(c, a.N)
	if err != nil {
		return SlotPicked{}, err
	}
	no := &Refusal{Kind: SlotGone, Commission: c, Appointment: x, Until: a.At, Slots: m.slots, Seen: agreedMark(x), Fit: m.fit}
	o := SlotPicked{Commission: c}
	if x.Which == ledger.HandingOver {
		if no.Slots = later(x.Slots, j.now); len(no.Slots) == 0 {
			no.Slots = j.handingSlots(x.How, time.Time{})
		}
	}
	if a.stale(x) {
		no.Kind = SlotStale
		return o, no
	}
	if x.Which == ledger.HandingOver {
		if no.Fit = Shut; !a.At.After(j.now) {
			no.Fit = Passed
		}
		if no.Fit == Passed || !openFor(j.s.cfg.Studio().Calendar, j.local(a.At), 0) {
			no.Slots = j.handingSlots(x.How, time.Time{})
			return o, no
		}
	} else {
		own, ok := meets(m.plan, c.ID, fittingOps[x.Which])
		if !ok {
			return o, no
		}
		if m.ready > c.Promise && !a.Anyway {
			no.Kind, no.Name = SlotHurts, m.ready
			return o, no
		}
		o.Until = own.End
		if _, err := j.placeAll(m.plan); err != nil {
			return o, err
		}
		if err := j.offerAnew(x, own); err != nil {
			return o, err
		}
		if err := j.goesOn(&c, m.ready, m.odds); err != nil {
			return o, err
		}
		o.Commission = c
	}
	x.State, x.At, x.PickedBy, x.ToldAt, x.Warned, x.Looked = ledger.ApptPicked, a.At.UTC(), j.by.ID, j.now, time.Time{}, false
	x.Slots = nil // nothing is offered until other times are asked for
	if x.Message == "" {
		x.Message = AppointmentMessage(c.ID, x.N)
	}
	o.Appointment = x
	return o, j.saveAppointment(c, x, "slot picked", x.At.Format(time.RFC3339))
}

// offerAnew has times offered again to those who could have picked one that is taken now.
func (j *job) offerAnew(taken ledger.Appointment, own plan.Scheduled) error {
	all, err := j.t.AllStanding()
	if err != nil {
		return err
	}
	for _, a := range all {
		if a.Commission == taken.Commission || a.State != ledger.ApptOffered || a.Which == ledger.HandingOver {
			continue
		}
		if slices.ContainsFunc(a.Slots, func(at time.Time) bool { return !at.Before(own.Start.Add(-slotStep)) && at.Before(own.End) }) {
			a.State = ledger.ApptWanted
			if err := j.t.SaveAppointment(a); err != nil {
				return err
			}
		}
	}
	return nil
}

// AskSlots asks for other times than those offered: later ones, or the first ones again.
type AskSlots struct {
	OfAppointment
	First bool
}

// SlotsOffered is an appointment for which a client can pick a time.
type SlotsOffered struct {
	Commission  ledger.Commission
	Appointment ledger.Appointment
	Takes       time.Duration // how long it is planned to take; 0: not planned
	Again       bool          // the client was told of it before
	Later       bool          // there are earlier ones that can be asked for
}

// others asks for times after those offered, or from the beginning where there are none later, or those are asked for; with whether
// there are earlier ones.
func (a AskSlots) others(x ledger.Appointment, now time.Time, from func(time.Time) ([]time.Time, error)) ([]time.Time, bool, error) {
	other := func(after time.Time) ([]time.Time, error) {
		slots, err := from(after)
		return slices.DeleteFunc(slots, x.At.Equal), err // it is agreed already
	}
	if n := len(x.Slots); n > 0 && !a.First {
		if slots, err := other(x.Slots[n-1].Add(slotStep)); err != nil || len(slots) > 0 {
			return slots, true, err
		}
	}
	slots, err := other(now)
	return slots, false, err
}

func otherSlots(ctx context.Context, s *Shop, _ Call, a AskSlots, read reading) (m met, err error) {
	is, x, err := appointmentNow(read, a.N, begun)
	if err != nil || x.Which == ledger.HandingOver {
		return m, err
	}
	m.slots, m.later, err = a.others(x, is.now, func(after time.Time) ([]time.Time, error) { return s.slots(ctx, is, x, after) })
	if err == nil && len(m.slots) == 0 { // there are no others; those that were offered are not lost
		m.slots = later(x.Slots, is.now)
	}
	return m, err
}

func askSlots(j *job, c ledger.Commission, a AskSlots, m met) (SlotsOffered, error) {
	x, err := j.appointment(c, a.N)
	if err != nil {
		return SlotsOffered{}, err
	}
	if x.Which == ledger.HandingOver {
		m.slots, m.later, err = a.others(x, j.now, func(after time.Time) ([]time.Time, error) { return j.handingSlots(x.How, after), nil })
		if err != nil {
			return SlotsOffered{}, err
		}
	}
	o, err := j.offer(c, x, m.slots)
	o.Later = m.later
	return o, err
}

// offer offers times. What is picked stays picked until another time is.
func (j *job) offer(c ledger.Commission, a ledger.Appointment, slots []time.Time) (SlotsOffered, error) {
	o := SlotsOffered{Commission: c, Again: !a.ToldAt.IsZero()}
	if a.State == ledger.ApptWanted {
		a.State = ledger.ApptOffered
	}
	a.Slots, a.Message, a.ToldAt = slots, AppointmentMessage(c.ID, a.N), j.now
	ops, err := j.t.Operations(c.ID)
	if err != nil {
		return o, err
	}
	for _, x := range ops {
		if x.Op == fittingOps[a.Which] {
			o.Takes = plan.Worked(x.Start, x.End, x.Spans)
		}
	}
	o.Appointment = a
	return o, j.saveAppointment(c, a, "slots offered", fmt.Sprint(len(slots)))
}

// handOn offers times for collecting what is ready, or says when it is posted.
func (j *job) handOn(c ledger.Commission, a ledger.Appointment) (SlotsOffered, error) {
	slots := j.handingSlots(a.How, time.Time{})
	if a.How == quote.Ship && len(slots) > 0 {
		a.State, a.At, slots = ledger.ApptPicked, slots[0], nil
	}
	return j.offer(c, a, slots)
}

// offerDue offers times for what is due to be agreed: a fitting that comes near, one whose times have all passed, one for which there
// was no time a day ago. Shortly before
// a time that was picked it has the plan looked at once more, since nobody may have begun.
func (s *Shop) offerDue(ctx context.Context, now time.Time) error {
	var is present
	var due []ledger.Appointment
	err := s.inTx(ctx, now, chat.Person{}, func(j *job) error {
		all, err := j.t.AllStanding()
		if err != nil {
			return err
		}
		asked := map[quote.CommissionID]bool{} // one thing at a time
		for _, a := range all {
			if a.Which != ledger.HandingOver && asked[a.Commission] {
				continue
			}
			asked[a.Commission] = true
			switch ok, err := j.toOffer(a); {
			case err != nil:
				return err
			case ok:
				due = append(due, a)
			}
		}
		if len(due) == 0 {
			return nil
		}
		is, err = j.present()
		return err
	})
	if err != nil {
		return err
	}
	for _, a := range due {
		var slots []time.Time
		if a.Which != ledger.HandingOver {
			if slots, err = s.slots(ctx, is, a, is.now); err != nil {
				if ctx.Err() != nil {
					return err
				}
				s.log.Error("no times are offered", "commission", a.Commission, "for", a.Which, "err", err)
			}
		}
		err := s.inTx(ctx, now, chat.Person{}, func(j *job) error {
			is, err := j.t.Appointment(a.Commission, a.N)
			if err != nil || is.State != a.State || is.How != a.How || !is.EndedAt.IsZero() {
				return err // somebody was quicker
			}
			c, err := j.t.Commission(a.Commission)
			if err != nil {
				return err
			}
			if a.Which == ledger.HandingOver {
				o, err := j.handOn(c, is)
				if err != nil {
					return err
				}
				return j.tell(o)
			}
			if slices.EqualFunc(slots, is.Slots, time.Time.Equal) && is.State == ledger.ApptOffered {
				is.ToldAt = j.now // what was told still holds
				return j.t.SaveAppointment(is)
			}
			o, err := j.offer(c, is, slots)
			if err != nil {
				return err
			}
			return j.tell(o)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// toOffer reports whether times are to be offered for an appointment now.
func (j *job) toOffer(a ledger.Appointment) (bool, error) {
	if a.State == ledger.ApptPicked {
		near := a.At.Add(-time.Duration(j.s.cfg.Studio().Appointments.Ahead()) * time.Minute)
		if a.Looked || a.Which == ledger.HandingOver || j.now.Before(near) {
			return false, nil
		}
		a.Looked = true
		return false, errors.Join(j.t.SaveAppointment(a), j.planChanged())
	}
	if a.State == ledger.ApptOffered {
		until := a.ToldAt.Add(ledger.LookAgain)
		if n := len(a.Slots); n > 0 {
			until = a.Slots[n-1]
		}
		if until.After(j.now) {
			return false, nil
		}
	}
	if a.Which == ledger.HandingOver {
		return true, nil
	}
	ops, err := j.t.Operations(a.Commission)
	if err != nil {
		return false, err
	}
	i := slices.IndexFunc(ops, func(o ledger.Operation) bool { return o.Op == fittingOps[a.Which] })
	return i >= 0 && ops[i].State == ledger.Planned && !ops[i].Start.After(j.now.Add(ledger.AskAhead)), nil // NextDue is that moment
}

package shop

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
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
	// slotRuns is how many simulated runs a time is tried with; its promise was worked out with the studio's own number.
	slotRuns = 100
	// slotStep is what times are offered on: people meet on the half hour.
	slotStep = 30 * time.Minute
	// slotDays is how far ahead of the first possible time others are looked for.
	slotDays = 21
	// collectNotice is the least time between being told that something is ready and collecting it (common practice, no source).
	collectNotice = 2 * time.Hour
)

// Where clients are met, and what refuses elsewhere.
var (
	atWork      = []ledger.State{ledger.Working, ledger.Ready}
	meetingElse = with(everyElse(NotInWork), map[ledger.State]Kind{ledger.Approved: NotPaid, ledger.Delivered: Closed, ledger.Declined: Closed, ledger.Cancelled: Closed})
)

// fittingOps are the operations that fittings are.
var fittingOps = map[ledger.Which]string{ledger.FirstFitting: quote.FirstFitting, ledger.FinalFitting: quote.FinalFitting}

// appointed is the fitting that an operation is; empty where it is none.
func appointed(op string) ledger.Which {
	for w, id := range fittingOps {
		if id == op {
			return w
		}
	}
	return ""
}

// Ways to hold the fittings as they are given with the details.
const (
	FittingsInPerson   = "in person"
	FittingsByPictures = "by pictures"
)

// fittingsTyped reads how the fittings are to be held.
func fittingsTyped(typed string) (quote.How, error) {
	switch strings.ToLower(OneLine(typed)) {
	case "":
		return "", nil
	case FittingsInPerson:
		return quote.InPerson, nil
	case FittingsByPictures, string(quote.ByPictures):
		return quote.ByPictures, nil
	}
	return "", fmt.Errorf("“%s” should be %s or %s", OneLine(typed), FittingsInPerson, FittingsByPictures)
}

// OfAppointment says which appointment of whose commission an act is about.
type OfAppointment struct {
	Of
	N int // its number
}

// appointment finds one that stands.
func (j *job) appointment(c ledger.Commission, n int) (ledger.Appointment, error) {
	a, err := j.t.Appointment(c.ID, n)
	switch {
	case errors.Is(err, ledger.ErrNone):
		return a, &Refusal{Kind: NoAppointment, Commission: c, Count: n}
	case err != nil:
		return a, err
	case !a.EndedAt.IsZero():
		return a, &Refusal{Kind: AppointmentOver, Commission: c, Appointment: a}
	}
	return a, nil
}

// standing is the appointment of that kind that stands; ledger.ErrNone where none does.
func (j *job) standing(id quote.CommissionID, w ledger.Which) (ledger.Appointment, error) {
	all, err := j.t.Standing(id)
	if err != nil {
		return ledger.Appointment{}, err
	}
	if i := slices.IndexFunc(all, func(a ledger.Appointment) bool { return a.Which == w }); i >= 0 {
		return all[i], nil
	}
	return ledger.Appointment{}, ledger.ErrNone
}

// appoint makes the appointments that the operations of a commission ask for.
func (j *job) appoint(c ledger.Commission, ops []ledger.Operation, how quote.How) error {
	for _, a := range firstWanted(c.ID, how, func(op string) bool {
		return slices.ContainsFunc(ops, func(o ledger.Operation) bool { return o.Op == op })
	}) {
		if _, err := j.want(c, a.Which, a.How); err != nil {
			return err
		}
	}
	return nil
}

// firstWanted are the fittings of a commission that enters the plan with these operations.
func firstWanted(id quote.CommissionID, how quote.How, has func(op string) bool) (out []ledger.Appointment) {
	for _, w := range []ledger.Which{ledger.FirstFitting, ledger.FinalFitting} {
		if has(fittingOps[w]) {
			out = append(out, ledger.Appointment{Commission: id, Which: w, How: cmp.Or(how, quote.InPerson)})
		}
	}
	return out
}

// want makes an appointment for which no times are offered yet.
func (j *job) want(c ledger.Commission, w ledger.Which, how quote.How) (ledger.Appointment, error) {
	return j.t.AddAppointment(ledger.Appointment{Commission: c.ID, Which: w, How: how, State: ledger.ApptWanted, MadeAt: j.now})
}

// meetings are how a commission's client is met, for the plan. Of one not picked the plan chooses a time of its own, of which the
// client has notice.
func (j *job) meetings(c ledger.Commission) ([]floor.Meeting, error) {
	all, err := j.t.Standing(c.ID)
	var out []floor.Meeting
	for _, a := range all {
		if op := fittingOps[a.Which]; op != "" {
			out = append(out, meeting(j.s.cfg.Studio(), a, j.now))
		}
	}
	return out, err
}

func meeting(st quote.Studio, a ledger.Appointment, now time.Time) floor.Meeting {
	m := floor.Meeting{Op: fittingOps[a.Which], How: a.How, At: a.At}
	if a.At.IsZero() && a.How == quote.InPerson {
		m.NotBefore = now.Add(time.Duration(st.Appointments.Ahead()) * time.Minute) // nobody can pick a time before that any more
	}
	return m
}

// withMeeting is the shop with an appointment as it is given.
func (is present) withMeeting(a ledger.Appointment) present {
	is.open = slices.Clone(is.open)
	for i := range is.open {
		if o := &is.open[i]; o.Snapshot.Commission == a.Commission {
			m := meeting(is.studio, a, is.now)
			o.Meetings = append(slices.DeleteFunc(slices.Clone(o.Meetings), func(x floor.Meeting) bool { return x.Op == m.Op }), m)
		}
	}
	return is
}

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

// fit is how well a time suits.
type fit int

const (
	notKept  fit = iota // the plan cannot keep it, or it hurts somebody else's promise
	hurtsOwn            // its own commission's promise is hurt by it
	harmless
)

// fits is the plan with an appointment at a time, and how well that suits, against the plan before.
func (s *Shop) fits(ctx context.Context, is present, before floor.Shop, a ledger.Appointment, at time.Time) (floor.Shop, fit, error) {
	a.At = at
	is = is.withMeeting(a)
	p, err := s.look(ctx, is)
	if err != nil {
		return p, notKept, err
	}
	if x, ok := meets(p, a.Commission, fittingOps[a.Which]); !ok || !x.Start.Equal(at) {
		return p, notKept, nil
	}
	own := harmless
	for _, e := range effects(is, before, p) {
		switch {
		case e.Hurt && e.Commission != a.Commission:
			return p, notKept, nil
		case e.Hurt:
			own = hurtsOwn
		}
	}
	return p, own, nil
}

// slots are times for a fitting after a moment: on different half-days on which the shop is open, not before what is tried on is
// ready and the client has had notice, when a maker who can do it is free or can leave other work for it, and without hurting a
// promise. Where no time leaves its own promise unhurt, since work is late or nobody came, they are those that hurt no other: the
// client has to come some day, and the studio sees the danger.
func (s *Shop) slots(ctx context.Context, is present, a ledger.Appointment, after time.Time) ([]time.Time, error) {
	a.At, a.PickedBy = time.Time{}, ""
	is.studio.Runs = min(is.studio.Runs, slotRuns)
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
		if at.Add(own.End.Sub(own.Start)).After(half.To) {
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
		case hurtsOwn:
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
	takes := own.End.Sub(own.Start)
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

// met is the shop's plan with an appointment as somebody wants it, made before the act's transaction.
type met struct {
	plan  floor.Shop
	ready string      // the date that can be kept then, where the promise of the commission itself is hurt; empty: it is not
	slots []time.Time // that are free
}

// appointmentNow reads an appointment for what is prepared of it.
func appointmentNow(read reading, n int, see func(*job, ledger.Commission, ledger.Appointment) error) (is present, a ledger.Appointment, err error) {
	err = read(func(j *job, c ledger.Commission) (err error) {
		if a, err = j.appointment(c, n); err != nil {
			return err
		}
		if see != nil {
			if err := see(j, c, a); err != nil {
				return err
			}
		}
		is, err = j.present()
		return err
	})
	return is, a, err
}

// begun refuses what is about a fitting that is in hand or over.
func begun(j *job, c ledger.Commission, a ledger.Appointment) error {
	b, err := j.bench(c)
	if err != nil {
		return err
	}
	o, ok := b.op(fittingOps[a.Which])
	switch {
	case ok && o.State == ledger.Running:
		return &Refusal{Kind: OpRunning, Commission: c, Operation: o}
	case ok && o.State == ledger.Done:
		return &Refusal{Kind: OpDone, Commission: c, Operation: o}
	}
	return nil
}

// PickSlot has a client come at a time. One that is free no longer is refused as SlotGone, with those that are; one with which the
// commission's own date is in danger as SlotHurts, unless it is taken anyway.
type PickSlot struct {
	OfAppointment
	At     time.Time
	Anyway bool
}

// SlotPicked is an appointment with its time.
type SlotPicked struct {
	Commission  ledger.Commission
	Appointment ledger.Appointment
	Until       time.Time // when it ends; zero where that is not planned
}

func canPick(ctx context.Context, s *Shop, _ Call, a PickSlot, read reading) (m met, err error) {
	is, x, err := appointmentNow(read, a.N, begun)
	if err != nil || x.Which == ledger.HandingOver {
		return m, err
	}
	free := x
	free.At = time.Time{}
	before, err := s.look(ctx, is.withMeeting(free))
	if err != nil {
		return m, err
	}
	how := notKept
	if a.At.After(is.now) {
		if m.plan, how, err = s.fits(ctx, is, before, x, a.At); err != nil {
			return m, err
		}
	}
	if how == hurtsOwn {
		for _, l := range m.plan.Outlooks {
			if l.Commission == a.Commission {
				m.ready = l.Sure
			}
		}
	}
	if how == notKept || how == hurtsOwn && !slices.ContainsFunc(x.Slots, a.At.Equal) { // offered, it was known to hurt
		m.plan = floor.Shop{}
		m.slots, err = s.slots(ctx, is, x, is.now)
	}
	return m, err
}

func pickSlot(j *job, c ledger.Commission, a PickSlot, m met) (SlotPicked, error) {
	x, err := j.appointment(c, a.N)
	if err != nil {
		return SlotPicked{}, err
	}
	gone := &Refusal{Kind: SlotGone, Commission: c, Appointment: x, Until: a.At, Slots: m.slots}
	o := SlotPicked{Commission: c}
	if x.Which == ledger.HandingOver {
		if !a.At.After(j.now) || !withinHours(j.s.cfg.Studio().Calendar, j.local(a.At)) {
			gone.Slots = j.handingSlots(x.How, time.Time{})
			return o, gone
		}
	} else {
		own, ok := meets(m.plan, c.ID, fittingOps[x.Which])
		if !ok {
			return o, gone
		}
		if m.ready > c.Promise && !a.Anyway {
			return o, &Refusal{Kind: SlotHurts, Commission: c, Appointment: x, Until: a.At, Name: m.ready}
		}
		o.Until = own.End
		if err := j.placeAll(m.plan); err != nil {
			return o, err
		}
		if err := j.offerAnew(x, own); err != nil {
			return o, err
		}
	}
	x.State, x.At, x.PickedBy, x.ToldAt, x.Warned, x.Looked = ledger.ApptPicked, a.At.UTC(), j.by.ID, j.now, time.Time{}, false
	if x.Message == "" {
		x.Message = AppointmentMessage(c.ID, x.N)
	}
	o.Appointment = x
	return o, j.saveAppointment(c, x, "slot picked", x.At.Format(time.RFC3339))
}

// withinHours reports whether the shop is open at a moment of its zone.
func withinHours(c plan.Calendar, at time.Time) bool {
	return slices.ContainsFunc(halfDays(c, at, 1), func(x plan.Span) bool { return x.From.Equal(at) })
}

// saveAppointment keeps one with its event; the promises are looked at again.
func (j *job) saveAppointment(c ledger.Commission, a ledger.Appointment, what, detail string) error {
	return errors.Join(j.t.SaveAppointment(a), j.record(c, what, fmt.Sprintf("%s: %s", a.Which, detail)), j.planChanged())
}

// placeAll gives every operation that the plan moves its place.
func (j *job) placeAll(p floor.Shop) error {
	for _, l := range p.Outlooks {
		if l.Moved == 0 {
			continue
		}
		if err := j.place(l, nil); err != nil {
			return err
		}
	}
	return nil
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

// AppointmentMessage is the key of the post about an appointment.
func AppointmentMessage(id quote.CommissionID, n int) string {
	return fmt.Sprintf("%s/appointment/%d", id, n)
}

// AskSlots asks for other times than those offered.
type AskSlots struct{ OfAppointment }

// SlotsOffered is an appointment for which a client can pick a time.
type SlotsOffered struct {
	Commission  ledger.Commission
	Appointment ledger.Appointment
	Takes       time.Duration // how long it is planned to take; 0: not planned
	Again       bool          // the client was told of it before
}

func otherSlots(ctx context.Context, s *Shop, _ Call, a AskSlots, read reading) (m met, err error) {
	is, x, err := appointmentNow(read, a.N, begun)
	if err != nil || x.Which == ledger.HandingOver {
		return m, err
	}
	after := is.now
	if n := len(x.Slots); n > 0 {
		after = x.Slots[n-1].Add(slotStep)
	}
	if m.slots, err = s.slots(ctx, is, x, after); err == nil && len(m.slots) == 0 { // none is later: from the beginning
		m.slots, err = s.slots(ctx, is, x, is.now)
	}
	return m, err
}

func askSlots(j *job, c ledger.Commission, a AskSlots, m met) (SlotsOffered, error) {
	x, err := j.appointment(c, a.N)
	if err != nil {
		return SlotsOffered{}, err
	}
	if x.Which == ledger.HandingOver {
		after := j.now
		if n := len(x.Slots); n > 0 {
			after = x.Slots[n-1].Add(slotStep)
		}
		if m.slots = j.handingSlots(x.How, after); len(m.slots) == 0 {
			m.slots = j.handingSlots(x.How, j.now)
		}
	}
	return j.offer(c, x, m.slots)
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
			o.Takes = x.End.Sub(x.Start)
		}
	}
	o.Appointment = a
	return o, j.saveAppointment(c, a, "slots offered", fmt.Sprint(len(slots)))
}

// ChooseHow has an appointment held another way: a fitting in person or by pictures, which the final fitting follows; handing
// over by collecting or by post.
type ChooseHow struct {
	OfAppointment
	How quote.How
}

// HowChosen is an appointment that is held another way; times for it are offered anew.
type HowChosen struct {
	Commission  ledger.Commission
	Appointment ledger.Appointment
	Offered     *SlotsOffered // at once, for handing over
}

// ways are how each kind of appointment can be held.
func waysOf(w ledger.Which) []quote.How {
	if w == ledger.HandingOver {
		return []quote.How{quote.Collect, quote.Ship}
	}
	return []quote.How{quote.InPerson, quote.ByPictures}
}

// heldAs is an appointment that is held another way, with no time.
func heldAs(a ledger.Appointment, how quote.How, now time.Time) ledger.Appointment {
	a.How, a.State, a.At, a.PickedBy, a.Slots, a.Warned, a.Looked = how, ledger.ApptWanted, time.Time{}, "", nil, time.Time{}, false
	if a.How == quote.InPerson {
		a.MadeAt = now // there is notice from now
	}
	return a
}

func canHold(ctx context.Context, s *Shop, _ Call, a ChooseHow, read reading) (m met, err error) {
	is, x, err := appointmentNow(read, a.N, func(j *job, c ledger.Commission, x ledger.Appointment) error {
		if !slices.Contains(waysOf(x.Which), a.How) {
			return &Refusal{Kind: NoSuchWay, Commission: c, Appointment: x}
		}
		return begun(j, c, x)
	})
	if err != nil || x.Which == ledger.HandingOver || x.How == a.How {
		return m, err
	}
	m.plan, err = s.look(ctx, is.withMeeting(heldAs(x, a.How, is.now)))
	return m, err
}

func chooseHow(j *job, c ledger.Commission, a ChooseHow, m met) (HowChosen, error) {
	x, err := j.appointment(c, a.N)
	if err != nil {
		return HowChosen{}, err
	}
	if !slices.Contains(waysOf(x.Which), a.How) {
		return HowChosen{}, &Refusal{Kind: NoSuchWay, Commission: c, Appointment: x}
	}
	o := HowChosen{Commission: c, Appointment: x}
	if x.How == a.How {
		return o, &Refusal{Kind: HeldSo, Commission: c, Appointment: x}
	}
	made := x.MadeAt
	x = heldAs(x, a.How, j.now)
	x.MadeAt = made
	o.Appointment = x
	if err := j.saveAppointment(c, x, "way chosen", string(a.How)); err != nil {
		return o, err
	}
	switch x.Which {
	case ledger.HandingOver:
		offered, err := j.handOn(c, x)
		o.Appointment, o.Offered = offered.Appointment, &offered
		return o, err
	case ledger.FirstFitting:
		final, err := j.standing(c.ID, ledger.FinalFitting)
		if err == nil && final.State == ledger.ApptWanted {
			final.How = a.How
			err = j.t.SaveAppointment(final)
		}
		if err != nil && !errors.Is(err, ledger.ErrNone) {
			return o, err
		}
	}
	return o, j.placeAll(m.plan)
}

// handOn offers times for collecting what is ready, or says when it is posted.
func (j *job) handOn(c ledger.Commission, a ledger.Appointment) (SlotsOffered, error) {
	slots := j.handingSlots(a.How, time.Time{})
	if a.How == quote.Ship && len(slots) > 0 {
		a.State, a.At = ledger.ApptPicked, slots[0]
	}
	return j.offer(c, a, slots)
}

// MissSlot says that nobody came at the time picked. The time is free again, and others are offered.
type MissSlot struct{ OfAppointment }

// SlotMissed is an appointment at which nobody came, and the one that is made instead.
type SlotMissed struct {
	Commission ledger.Commission
	Missed     ledger.Appointment
	Next       ledger.Appointment
}

// CallOff takes a time back that the studio cannot keep; others are offered.
type CallOff struct{ OfAppointment }

// CalledOff is an appointment that the studio could not keep, and the one that is made instead.
type CalledOff struct {
	Commission ledger.Commission
	Off        ledger.Appointment
	Next       ledger.Appointment
}

// canFree plans the shop without the time that was picked.
func canFree[A interface{ number() int }](ctx context.Context, s *Shop, _ Call, a A, read reading) (m met, err error) {
	is, x, err := appointmentNow(read, a.number(), nil)
	if err != nil || x.Which == ledger.HandingOver {
		return m, err
	}
	is = is.withMeeting(heldAs(x, x.How, is.now))
	for i := range is.open {
		if is.open[i].Snapshot.Commission != x.Commission {
			continue
		}
		is.open[i].Actual = slices.Clone(is.open[i].Actual)
		for k := range is.open[i].Actual {
			if o := &is.open[i].Actual[k]; o.Op == fittingOps[x.Which] && o.Finished.IsZero() {
				o.Started = time.Time{} // begun in vain
			}
		}
	}
	m.plan, err = s.look(ctx, is)
	return m, err
}

func (o OfAppointment) number() int { return o.N }

// free ends an appointment and makes another of its kind.
func (j *job) free(c ledger.Commission, n int, as ledger.AppointmentState, what string, m met) (was, next ledger.Appointment, err error) {
	if was, err = j.appointment(c, n); err != nil {
		return was, next, err
	}
	if was.State != ledger.ApptPicked {
		return was, next, &Refusal{Kind: NotPicked, Commission: c, Appointment: was}
	}
	if as == ledger.ApptMissed && was.At.After(j.now) {
		return was, next, &Refusal{Kind: NotYet, Commission: c, Appointment: was, Until: was.At}
	}
	b, err := j.bench(c)
	if err != nil {
		return was, next, err
	}
	if o, ok := b.op(fittingOps[was.Which]); ok && o.State != ledger.Planned {
		if o.State == ledger.Done {
			return was, next, &Refusal{Kind: OpDone, Commission: c, Operation: o}
		}
		// It was begun in vain.
		o.State, o.StartedAt, o.StartedBy = ledger.Planned, time.Time{}, ""
		if err := j.t.MoveOperation(o); err != nil {
			return was, next, err
		}
	}
	was.State, was.EndedAt = as, j.now
	if err := j.saveAppointment(c, was, what, was.At.Format(time.RFC3339)); err != nil {
		return was, next, err
	}
	if next, err = j.want(c, was.Which, was.How); err != nil {
		return was, next, err
	}
	return was, next, j.placeAll(m.plan)
}

func missSlot(j *job, c ledger.Commission, a MissSlot, m met) (o SlotMissed, err error) {
	o.Commission = c
	o.Missed, o.Next, err = j.free(c, a.N, ledger.ApptMissed, "slot missed", m)
	return o, err
}

func callOff(j *job, c ledger.Commission, a CallOff, m met) (o CalledOff, err error) {
	o.Commission = c
	o.Off, o.Next, err = j.free(c, a.N, ledger.ApptVoid, "slot called off", m)
	return o, err
}

// keep ends an appointment that took place.
func (j *job) keep(c ledger.Commission, w ledger.Which) error {
	a, err := j.standing(c.ID, w)
	if errors.Is(err, ledger.ErrNone) {
		return nil
	}
	if err != nil {
		return err
	}
	a.State, a.EndedAt = ledger.ApptKept, j.now
	if err := j.t.SaveAppointment(a); err != nil {
		return err
	}
	return j.tell(AppointmentKept{c, a})
}

// AppointmentKept is an appointment that took place.
type AppointmentKept struct {
	Commission  ledger.Commission
	Appointment ledger.Appointment
}

// SlotUnkept is a time picked that the plan cannot keep any more. Nobody but the studio is told.
type SlotUnkept struct {
	Commission  ledger.Commission
	Appointment ledger.Appointment
	Now         time.Time // when it is planned instead
}

// sayUnkept tells the studio of times picked that the plan so far does not keep, once for each time they would be instead.
func (j *job) sayUnkept(c ledger.Commission, l floor.Outlook) error {
	for _, u := range l.Unkept {
		a, err := j.standing(c.ID, appointed(u.Op))
		if errors.Is(err, ledger.ErrNone) {
			continue
		}
		if err != nil {
			return err
		}
		if !a.At.Equal(u.Picked) || a.Warned.Equal(u.Now) {
			continue
		}
		a.Warned = u.Now
		if err := errors.Join(j.t.SaveAppointment(a), j.tell(SlotUnkept{c, a, u.Now})); err != nil {
			return err
		}
	}
	return nil
}

// offerDue offers times for what is due to be agreed: a fitting that comes near, one whose times have all passed. Shortly before
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
				return nil
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
	if a.State == ledger.ApptOffered && (len(a.Slots) == 0 || a.Slots[len(a.Slots)-1].After(j.now)) {
		return false, nil
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

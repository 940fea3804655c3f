package shop

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
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

// met is the shop's plan with an appointment as somebody wants it, made before the act's transaction.
type met struct {
	plan  floor.Shop
	ready string      // the date that can be kept then, where the promise of the commission itself is hurt; empty: it is not
	odds  float64     // of that date, where it is gone on with
	slots []time.Time // that are free
	later bool        // there are earlier ones
	fit   Fit         // of the time picked
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

// saveAppointment keeps one with its event; the promises are looked at again.
func (j *job) saveAppointment(c ledger.Commission, a ledger.Appointment, what, detail string) error {
	return errors.Join(j.t.SaveAppointment(a), j.record(c, what, fmt.Sprintf("%s: %s", a.Which, detail)), j.planChanged())
}

// AppointmentMessage is the key of the post about an appointment.
func AppointmentMessage(id quote.CommissionID, n int) string {
	return fmt.Sprintf("%s/appointment/%d", id, n)
}

// ChooseHow has an appointment held another way: a fitting in person or by pictures, which the final fitting follows; handing
// over by collecting or by post. Where that hurts promises, it is refused as Hurts until it is done with the mark of what was
// shown; only the studio can do it where promises to others are hurt.
type ChooseHow struct {
	OfAppointment
	How  quote.How
	Seen string // Refusal.Seen of the effects that were looked at
}

// HowChosen is an appointment that is held another way; times for it are offered anew.
type HowChosen struct {
	Commission  ledger.Commission
	Appointment ledger.Appointment
	Offered     *SlotsOffered // at once, for handing over
}

// waysOf are how each kind of appointment can be held.
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

func canHold(ctx context.Context, s *Shop, _ Call, a ChooseHow, read reading) (m change, err error) {
	var final ledger.Appointment
	is, x, err := appointmentNow(read, a.N, func(j *job, c ledger.Commission, x ledger.Appointment) (err error) {
		if !slices.Contains(waysOf(x.Which), a.How) {
			return &Refusal{Kind: NoSuchWay, Commission: c, Appointment: x}
		}
		if x.Which == ledger.FirstFitting {
			if final, err = j.following(c.ID); err != nil {
				return err
			}
		}
		return begun(j, c, x)
	})
	if err != nil || x.Which == ledger.HandingOver || x.How == a.How {
		return m, err
	}
	before, err := s.look(ctx, is)
	if err != nil {
		return m, err
	}
	x = heldAs(x, a.How, is.now)
	is = is.withMeeting(x)
	if final.N > 0 {
		is = is.withMeeting(heldAs(final, a.How, is.now))
	}
	if m, err = s.change(ctx, before, is, a.Seen, true); err != nil || m.hurts == nil {
		return m, err
	}
	m.hurts.Appointment = x
	for _, e := range m.effects {
		if e.Hurt && e.Commission == a.Commission && a.Seen == m.hurts.Seen {
			m.date = e.Ask
			m.odds, err = s.oddsOf(ctx, is, m.plan, a.Commission, m.date)
		}
	}
	return m, err
}

// following is the final fitting of a commission that is held as the first one; none where its client has chosen, or was asked.
func (j *job) following(id quote.CommissionID) (ledger.Appointment, error) {
	a, err := j.standing(id, ledger.FinalFitting)
	if errors.Is(err, ledger.ErrNone) || err == nil && a.State != ledger.ApptWanted {
		return ledger.Appointment{}, nil
	}
	return a, err
}

func chooseHow(j *job, c ledger.Commission, a ChooseHow, m change) (HowChosen, error) {
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
	if no := m.hurts; no != nil && (a.Seen != no.Seen || !j.by.Studio && no.Others(c.ID)) {
		no.Commission = c
		return o, no
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
		final, err := j.following(c.ID)
		if err != nil {
			return o, err
		}
		if final.N > 0 {
			final.How = a.How
			if err := j.t.SaveAppointment(final); err != nil {
				return o, err
			}
		}
	}
	if _, err = j.placeAll(m.plan); err != nil {
		return o, err
	}
	err = j.goesOn(&c, m.date, m.odds)
	o.Commission = c
	return o, err
}

// MissSlot says that nobody came at the time picked. The time is free again, and others are offered.
type MissSlot struct{ OfAppointment }

// SlotMissed is an appointment at which nobody came, and the one that is made instead.
type SlotMissed struct {
	Commission ledger.Commission
	Missed     ledger.Appointment
	Next       ledger.Appointment
}

// CallOff takes a time back that the studio cannot keep; others are offered. Where that hurts promises, it is refused as Hurts until
// it is done with the mark of what was shown.
type CallOff struct {
	OfAppointment
	Seen string // Refusal.Seen of the effects that were looked at
}

// CalledOff is an appointment that the studio could not keep, and the one that is made instead.
type CalledOff struct {
	Commission ledger.Commission
	Off        ledger.Appointment
	Next       ledger.Appointment
}

// canMiss plans the shop without the time at which nobody came.
func canMiss(ctx context.Context, s *Shop, _ Call, a MissSlot, read reading) (m change, err error) {
	_, is, x, err := freed(read, a.N)
	if err == nil && x.Which != ledger.HandingOver {
		m.plan, err = s.look(ctx, is)
	}
	return m, err
}

// canCallOff plans the shop without a time that was picked.
func canCallOff(ctx context.Context, s *Shop, _ Call, a CallOff, read reading) (m change, err error) {
	was, is, x, err := freed(read, a.N)
	if err != nil || x.Which == ledger.HandingOver {
		return m, err
	}
	before, err := s.look(ctx, was)
	if err != nil {
		return m, err
	}
	if m, err = s.change(ctx, before, is, a.Seen, true); m.hurts != nil {
		m.hurts.Appointment = x
	}
	return m, err
}

// freed is the shop as it is, and as it is without a time that was picked.
func freed(read reading, n int) (was, is present, x ledger.Appointment, err error) {
	if was, x, err = appointmentNow(read, n, nil); err != nil || x.Which == ledger.HandingOver {
		return was, is, x, err
	}
	is = was.withMeeting(heldAs(x, x.How, was.now))
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
	return was, is, x, nil
}

// free ends an appointment and makes another of its kind.
func (j *job) free(c ledger.Commission, n int, as ledger.AppointmentState, what, seen string, m change) (was, next ledger.Appointment, err error) {
	if was, err = j.appointment(c, n); err != nil {
		return was, next, err
	}
	if was.State != ledger.ApptPicked {
		return was, next, &Refusal{Kind: NotPicked, Commission: c, Appointment: was}
	}
	if as == ledger.ApptMissed && was.At.After(j.now) {
		return was, next, &Refusal{Kind: NotYet, Commission: c, Appointment: was, Until: was.At}
	}
	if m.hurts != nil && seen != m.hurts.Seen {
		m.hurts.Commission = c
		return was, next, m.hurts
	}
	b, err := j.bench(c)
	if err != nil {
		return was, next, err
	}
	o, ok := b.op(fittingOps[was.Which])
	if w := b.wait(o, j.now); ok && w != nil && as == ledger.ApptMissed { // it is not for the client that nobody could try it on
		return was, next, &Refusal{Kind: NothingToTryOn, Commission: c, Operation: o, Wait: w, Appointment: was}
	}
	if ok && o.State != ledger.Planned {
		if o.State == ledger.Done {
			return was, next, &Refusal{Kind: OpDone, Commission: c, Operation: o}
		}
		// It was begun in vain.
		if err := j.unbegun(&o); err != nil {
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
	_, err = j.placeAll(m.plan)
	return was, next, err
}

func missSlot(j *job, c ledger.Commission, a MissSlot, m change) (o SlotMissed, err error) {
	o.Commission = c
	o.Missed, o.Next, err = j.free(c, a.N, ledger.ApptMissed, "slot missed", "", m)
	return o, err
}

func callOff(j *job, c ledger.Commission, a CallOff, m change) (o CalledOff, err error) {
	o.Commission = c
	o.Off, o.Next, err = j.free(c, a.N, ledger.ApptVoid, "slot called off", a.Seen, m)
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

// KeptAgain is a time picked of which the studio was told that the plan cannot keep it, and which it keeps after all.
type KeptAgain struct {
	Commission  ledger.Commission
	Appointment ledger.Appointment
}

// sayUnkept tells the studio of times picked that the plan so far does not keep, once for each time they would be instead, and where
// it keeps them again.
func (j *job) sayUnkept(c ledger.Commission, l floor.Outlook) error {
	standing, err := j.t.Standing(c.ID)
	if err != nil {
		return err
	}
	for _, a := range standing {
		op, was := fittingOps[a.Which], a
		if op == "" || a.State != ledger.ApptPicked {
			continue
		}
		i := slices.IndexFunc(l.Unkept, func(u floor.Unkept) bool { return u.Op == op && u.Picked.Equal(a.At) })
		switch {
		case i >= 0 && !a.Warned.Equal(l.Unkept[i].Now):
			a.Warned = l.Unkept[i].Now
			err = j.tell(SlotUnkept{c, a, a.Warned})
		case i < 0 && !a.Warned.IsZero() && a.At.After(j.now):
			a.Warned = time.Time{}
			err = j.tell(KeptAgain{c, was})
		default:
			continue
		}
		if err := errors.Join(j.t.SaveAppointment(a), err); err != nil {
			return err
		}
	}
	return nil
}

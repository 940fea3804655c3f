package ledger

import (
	"time"

	"benchbell/bot/chat"
	"benchbell/quote"
)

// AskAhead is how long before a fitting is planned its client is offered times: sooner, the plan would have changed by then;
// later, they would have no choice (common practice, no source).
const AskAhead = 14 * 24 * time.Hour

// LookAgain is how long after a client was told that there is no time for a fitting it is looked for one again: by then work was done
// or moved, and once a day is often enough for somebody who waits.
const LookAgain = 24 * time.Hour

// Which says what an appointment is for.
type Which string

// Appointments of a commission, in their order.
const (
	FirstFitting Which = "first fitting"
	FinalFitting Which = "final fitting"
	HandingOver  Which = "handing over"
)

// AppointmentState says how far an appointment is.
type AppointmentState string

// Appointment states. The first three stand.
const (
	ApptWanted  AppointmentState = "wanted"  // no times are offered yet
	ApptOffered AppointmentState = "offered" // the client can pick
	ApptPicked  AppointmentState = "picked"
	ApptKept    AppointmentState = "kept"
	ApptMissed  AppointmentState = "missed" // nobody came
	ApptVoid    AppointmentState = "void"   // the studio called it off
)

// Appointment is one meeting with a client.
type Appointment struct {
	Commission quote.CommissionID
	N          int // 1-based, of the commission
	Which      Which
	How        quote.How
	State      AppointmentState
	Slots      []time.Time // offered last
	At         time.Time   // picked; zero: none
	PickedBy   chat.PersonID
	MadeAt     time.Time
	ToldAt     time.Time // when the client was last told something new of it; zero: not yet
	Message    string    // key of the post that tells it
	Warned     time.Time // the time that the studio was last told it would be instead; zero: none
	Looked     bool      // whether it can be kept was looked at shortly before it
	EndedAt    time.Time // zero: it stands
}

const appointmentColumns = `commission, n, which, how, state, slots, slot_at, picked_by, made_at, told_at, message, warned_at, looked, ended_at`

func scanAppointment(s scanner) (a Appointment, err error) {
	return a, s.Scan(&a.Commission, &a.N, &a.Which, &a.How, &a.State, encoded{&a.Slots}, moment{&a.At}, &a.PickedBy, moment{&a.MadeAt},
		moment{&a.ToldAt}, &a.Message, moment{&a.Warned}, &a.Looked, moment{&a.EndedAt})
}

// AddAppointment files one and numbers it.
func (t *Tx) AddAppointment(a Appointment) (Appointment, error) {
	n, err := one(t, func(s scanner) (n int, err error) { return n, s.Scan(&n) },
		`select coalesce(max(n), 0) + 1 from appointments where commission = ?`, string(a.Commission))
	if err != nil {
		return a, err
	}
	a.N = n
	err = t.exec(`insert into appointments (commission, n, which, how, state, made_at) values (?, ?, ?, ?, ?, ?)`,
		string(a.Commission), a.N, string(a.Which), string(a.How), string(a.State), stamp(a.MadeAt))
	if err != nil {
		return a, err
	}
	return a, t.SaveAppointment(a)
}

// SaveAppointment writes all that can change of one.
func (t *Tx) SaveAppointment(a Appointment) error {
	if a.Slots == nil {
		a.Slots = []time.Time{}
	}
	slots, err := encode(a.Slots)
	if err != nil {
		return err
	}
	looked := 0
	if a.Looked {
		looked = 1
	}
	return t.exec(`update appointments set how = ?, state = ?, slots = ?, slot_at = ?, picked_by = ?, told_at = ?, message = ?, warned_at = ?,
		looked = ?, ended_at = ? where commission = ? and n = ?`,
		string(a.How), string(a.State), slots, stamp(a.At), string(a.PickedBy), stamp(a.ToldAt), a.Message, stamp(a.Warned), looked, stamp(a.EndedAt),
		string(a.Commission), a.N)
}

// Appointment of a commission by its number; ErrNone where there is none.
func (t *Tx) Appointment(id quote.CommissionID, n int) (Appointment, error) {
	return one(t, scanAppointment, `select `+appointmentColumns+` from appointments where commission = ? and n = ?`, string(id), n)
}

// Appointments of a commission, all there have been, in order.
func (t *Tx) Appointments(id quote.CommissionID) ([]Appointment, error) {
	return all(t, scanAppointment, `select `+appointmentColumns+` from appointments where commission = ? order by n`, string(id))
}

const (
	stands   = `state in ('wanted', 'offered', 'picked')`
	inTheirs = `case which when 'first fitting' then 1 when 'final fitting' then 2 else 3 end, n` // order
)

// Standing are the appointments of a commission that are neither over nor called off, in the order in which they come.
func (t *Tx) Standing(id quote.CommissionID) ([]Appointment, error) {
	return all(t, scanAppointment, `select `+appointmentColumns+` from appointments where commission = ? and `+stands+` order by `+inTheirs, string(id))
}

// AllStanding are those of every commission at work or ready, in the order of commissions and in which they come.
func (t *Tx) AllStanding() ([]Appointment, error) {
	return all(t, scanAppointment, `select `+appointmentColumns+` from appointments where `+stands+`
		and commission in (select id from commissions where state in ('working', 'ready')) order by commission, `+inTheirs)
}

package shop

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
)

// Where hours can be corrected, and what refuses elsewhere.
var (
	logged     = []ledger.State{ledger.Working, ledger.Ready, ledger.Delivered}
	loggedElse = with(everyElse(NotInWork), map[ledger.State]Kind{ledger.Approved: NotPaid})
)

// Pause puts an operation in hand down. Start takes it up again, whoever does; what lies between is not work.
type Pause struct{ OfOperation }

// Paused is an operation that was put down.
type Paused struct {
	Operation ledger.Operation
	Bench     Bench // as it is now
}

func pause(j *job, c ledger.Commission, a Pause) (Paused, error) {
	op, err := j.operation(c, a.Operation)
	switch {
	case err != nil:
		return Paused{}, err
	case op.State != ledger.Running:
		return Paused{}, &Refusal{Kind: NotInHand, Commission: c, Operation: op}
	case !op.PausedAt.IsZero():
		return Paused{}, &Refusal{Kind: OpPaused, Commission: c, Operation: op}
	}
	op.PausedAt = j.now
	if err := errors.Join(j.endSpell(op), j.t.MoveOperation(op), j.record(c, "paused", op.Op)); err != nil {
		return Paused{}, err
	}
	o := Paused{Operation: op}
	o.Bench, err = j.today()
	return o, err
}

// operation finds an operation of a commission by its number.
func (j *job) operation(c ledger.Commission, seq int) (ledger.Operation, error) {
	b, err := j.bench(c)
	if err != nil {
		return ledger.Operation{}, err
	}
	op, ok := b.numbered(seq)
	if !ok {
		return op, &Refusal{Kind: NoOperation, Commission: c, Count: seq}
	}
	return op, nil
}

// rested is for how long the shop was open while work lay at pause.
func (j *job) rested(from, to time.Time) time.Duration {
	return j.s.cfg.Studio().Calendar.OpenTime(j.local(from), to)
}

// takeUp has an operation in hand from now on, and begins a spell of work on it.
func (j *job) takeUp(op *ledger.Operation) error {
	if op.State == ledger.Running {
		op.Rested += j.rested(op.PausedAt, j.now)
	} else {
		op.State, op.StartedAt, op.StartedBy, op.Rested = ledger.Running, j.now, j.by.ID, 0
	}
	op.PausedAt = time.Time{}
	return errors.Join(j.t.MoveOperation(*op), j.t.AddSpell(ledger.Spell{Commission: op.Commission, Seq: op.Seq, Round: op.Round, By: j.by.ID, From: j.now}))
}

// endSpell ends the spell in hand. Of work that was done without having been started nobody knows when it began.
func (j *job) endSpell(op ledger.Operation) error {
	x, err := j.lastSpell(op)
	switch {
	case err != nil:
		return err
	case x.N > 0 && x.Until.IsZero():
		x.Until = j.now
		return j.t.SaveSpell(x)
	case x.N == 0:
		return j.t.AddSpell(ledger.Spell{Commission: op.Commission, Seq: op.Seq, Round: op.Round, By: j.by.ID, Until: j.now})
	}
	return nil // it lay at pause
}

// lastSpell is the last spell of an operation this time; one without a number where there is none.
func (j *job) lastSpell(op ledger.Operation) (x ledger.Spell, err error) {
	all, err := j.spells(op)
	if len(all) > 0 {
		x = all[len(all)-1]
	}
	return x, err
}

// spells are those of an operation this time.
func (j *job) spells(op ledger.Operation) ([]ledger.Spell, error) {
	all, err := j.t.SpellsOf(op.Commission, op.Seq)
	return slices.DeleteFunc(all, func(x ledger.Spell) bool { return x.Round != op.Round }), err
}

// unbegun has an operation not begun this time; what was logged of that goes.
func (j *job) unbegun(op *ledger.Operation) error {
	all, err := j.spells(*op)
	for _, x := range all {
		err = errors.Join(err, j.t.DropSpell(x))
	}
	op.State, op.StartedAt, op.StartedBy, op.DoneAt, op.DoneBy, op.PausedAt, op.Rested = ledger.Planned, time.Time{}, "", time.Time{}, "", time.Time{}, 0
	return errors.Join(err, j.t.MoveOperation(*op))
}

// Log is a spell of work with what it counts for.
type Log struct {
	ledger.Spell
	Name string        // who worked, where that is a member
	Took time.Duration // as typed, or as it ran without the hours in which the shop was shut in between; 0: not known
}

// log reads a spell by now.
func (j *job) log(x ledger.Spell) Log {
	l := Log{Spell: x}
	until := x.Until
	if until.IsZero() {
		until = j.now
	}
	switch {
	case x.Minutes > 0:
		l.Took = time.Duration(x.Minutes) * time.Minute
	case x.From.IsZero():
	case sameDay(x.From, until, j.s.zone()):
		l.Took = until.Sub(x.From)
	default: // nobody worked all night
		l.Took = j.rested(x.From, until)
	}
	return l
}

// CorrectHours says how long a spell of work really took, as typed: 35, 1:20, 1 h 20 min.
type CorrectHours struct {
	OfOperation
	Spell int
	Typed string
}

// HoursCorrected is a spell that counts as typed from now on.
type HoursCorrected struct {
	Operation ledger.Operation
	Log       Log
}

// mostMinutes is the longest that anybody works on one thing in one go.
const mostMinutes = 24 * 60

func correctHours(j *job, c ledger.Commission, a CorrectHours) (HoursCorrected, error) {
	op, err := j.operation(c, a.Operation)
	if err != nil {
		return HoursCorrected{}, err
	}
	minutes := minutesTyped(a.Typed)
	if minutes < 1 || minutes > mostMinutes {
		return HoursCorrected{}, &Refusal{Kind: BadMinutes, Commission: c, Operation: op, Name: OneLine(a.Typed)}
	}
	all, err := j.t.SpellsOf(c.ID, op.Seq)
	if err != nil {
		return HoursCorrected{}, err
	}
	i := slices.IndexFunc(all, func(x ledger.Spell) bool { return x.N == a.Spell })
	switch {
	case i < 0:
		return HoursCorrected{}, &Refusal{Kind: NoSpell, Commission: c, Operation: op, Count: a.Spell}
	case all[i].Until.IsZero():
		return HoursCorrected{}, &Refusal{Kind: OpRunning, Commission: c, Operation: op}
	}
	x := all[i]
	was := "not known"
	if l := j.log(x); l.Took > 0 {
		was = fmt.Sprintf("%d min", int(math.Round(l.Took.Minutes())))
	}
	x.Minutes, x.CorrectedAt, x.CorrectedBy = minutes, j.now, j.by.ID
	if err := errors.Join(j.t.SaveSpell(x), j.record(c, "hours corrected", fmt.Sprintf("%s, spell %d: %d min, was %s", op.Op, x.N, minutes, was))); err != nil {
		return HoursCorrected{}, err
	}
	return HoursCorrected{op, j.log(x)}, nil
}

// typedMinutes are 35, 35 min, 1:20, 1 h, 1 h 20, 1h20min, 1.5 h.
var typedMinutes = regexp.MustCompile(`^(?:(\d{1,2}(?:[.,]\d{1,2})?) ?h(?: ?(\d{1,2}) ?(?:min)?)?|(\d{1,2}):(\d\d)|(\d{1,4}) ?(?:min)?)$`)

// minutesTyped reads a duration; 0 where it is none.
func minutesTyped(typed string) int {
	m := typedMinutes.FindStringSubmatch(strings.ToLower(OneLine(typed)))
	if m == nil {
		return 0
	}
	n := func(s string) int { v, _ := strconv.Atoi(s); return v } // nothing is 0
	hours, _ := strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64)
	return int(math.Round(hours*60)) + n(m[2]) + 60*n(m[3]) + n(m[4]) + n(m[5])
}

// logs are the spells of a commission with who worked.
func (j *job) logs(id quote.CommissionID) ([]Log, error) {
	all, err := j.t.Spells(id)
	if err != nil {
		return nil, err
	}
	members, err := j.t.Members()
	var out []Log
	for _, x := range all {
		l := j.log(x)
		if i := slices.IndexFunc(members, func(m ledger.Member) bool { return m.Person() == x.By }); i >= 0 {
			l.Name = members[i].Name
		}
		out = append(out, l)
	}
	return out, err
}

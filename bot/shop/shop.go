// Package shop holds the rules of the studio: what can be done with a commission, by whom, from which state, what it
// changes, and what happens by itself as time passes. Typed in, typed out: an act is a value (Approve, Start, …), what came
// of it an outcome, and what refuses it a *Refusal with all that words need. The table in table.go has a row for each act
// and for each thing that can be looked at.
//
// It knows no door: nothing here is worded for people, and a door (a conversation, a page) calls Do and See and words what
// comes back. Only where something typed could not be read does the reader's own sentence go along, as a cause. The trail's
// entries and what a revision is said to change are part of the record and are written here.
//
// It refuses acts out of order, acts by somebody else than the row says, and what was computed before its transaction for a
// world that has moved since. What always holds: an act is one ledger transaction with its event and whatever the doors
// make of it; an act delivered twice changes nothing and gives the same outcome, to nobody but the one who did it; a
// commission is approved at most once, in a revision that was current and had not expired, and the hash in the approval is
// that of the PDF bytes in the ledger; a commission is cut on at most one cutting day, and an offcut used on at most one.
package shop

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
)

// Config is what a shop works with. Ledger, Studio, Library and the planners are needed, the rest has defaults.
type Config struct {
	Ledger  *ledger.Ledger
	Studio  func() quote.Studio // the settings as they are now
	Library []Set
	Now     func() time.Time // default time.Now
	Log     *slog.Logger     // default: none
	// Fits says why what is ordered cannot be made to the body, in words for a client; engine.Fits. Nil: it is found out when
	// the quote is worked out.
	Fits func(s quote.Snapshot) error
	// Place gives a quoted commission its operations in the shop plan from now on; floor.Place.
	Place func(ctx context.Context, s quote.Snapshot, q quote.Quote, from time.Time, busy []plan.Busy) (plan.Solution, error)
	// Plan plans all commissions at work together; floor.Plan.
	Plan func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, progress func(float64)) (floor.Shop, error)
	// Look is the shop's plan so far as it can be kept; floor.Look.
	Look func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error)
	// WhatIf answers whether a commission can be ready by a day; floor.WhatIf.
	WhatIf func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, id quote.CommissionID, by string) ([]floor.Choice, error)
	// Patience is how long a request may go without a word before it is sent again; default 2 minutes.
	Patience time.Duration
}

// MaxAttempts is how often a request is sent before the shop gives up and says so.
const MaxAttempts = 5

// defaultPatience is twice what a slow quote takes on a small machine, and above the time a queue needs to notice a
// killed worker (60 to 120 s with asynq), so that the queue's own retry usually comes first.
const defaultPatience = 2 * time.Minute

// A Teller hears of everything that happens, whichever door it came through.
type Teller interface {
	// Tell is called in the transaction of what happened, so that what it writes there is kept with it or not at all. An
	// error undoes both.
	Tell(t *ledger.Tx, told Told) error
	// Wake is called once that transaction is kept.
	Wake()
}

// Told is one outcome with its circumstances.
type Told struct {
	At      time.Time
	By      chat.Person // zero where it happened by itself
	Outcome Outcome
}

// Outcome is what came of an act or of time: one of the types named after acts in the past (Approved, Paid, …).
type Outcome any

// Act is something to be done: one of the types that have a row in the table.
type Act any

// Call is one act of one person. The same ID by the same person is the same act delivered again; without an ID it is new
// each time.
type Call struct {
	ID     string
	Person chat.Person
	Act    Act
}

// Of says whose commission an act is about.
type Of struct{ Commission quote.CommissionID }

// On is short for Of{id}.
func On(id quote.CommissionID) Of { return Of{Commission: id} }

// Shop applies the rules. It is safe for concurrent use.
type Shop struct {
	cfg     Config
	ledger  *ledger.Ledger
	log     *slog.Logger
	tellers []Teller

	planning sync.Mutex // one plan at a time: each must see the one before
	shown    []shown    // plans looked at; held with planning
	shelves  sync.Mutex // guards shelf
	shelf    *shelf     // nil until it is read

	remembered remembered
}

// New makes a shop.
func New(cfg Config) *Shop {
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	if cfg.Patience <= 0 {
		cfg.Patience = defaultPatience
	}
	return &Shop{cfg: cfg, ledger: cfg.Ledger, log: cfg.Log}
}

// Listen adds a teller; to be called before anything is done.
func (s *Shop) Listen(t Teller) { s.tellers = append(s.tellers, t) }

// Do does one act. The error is a *Refusal where the act must not be done; then nothing has changed. Any other is a fault.
func (s *Shop) Do(ctx context.Context, c Call) (Outcome, error) { return s.run(ctx, c, false) }

// See answers a question, which changes nothing.
func (s *Shop) See(ctx context.Context, who chat.Person, question Act) (any, error) {
	return s.run(ctx, Call{Person: who, Act: question}, true)
}

func (s *Shop) run(ctx context.Context, c Call, reads bool) (Outcome, error) {
	r, ok := rowOf(c.Act)
	if !ok || r.head().Reads != reads {
		return nil, fmt.Errorf("the shop has no row for %T", c.Act)
	}
	if err := s.withShelf(ctx); err != nil {
		return nil, err
	}
	o, err := r.run(ctx, s, c)
	var no *Refusal
	switch {
	case errors.As(err, &no):
		no.Act = r.head().Name
		return nil, err
	case err != nil:
		return nil, fmt.Errorf("%s by %s: %w", r.head().Name, c.Person.ID, err)
	}
	if !reads {
		s.wake()
	}
	return o, nil
}

func (s *Shop) wake() {
	for _, t := range s.tellers {
		t.Wake()
	}
}

// zone is the studio's time zone; UTC where its name is not known.
func (s *Shop) zone() *time.Location {
	loc, err := time.LoadLocation(s.cfg.Studio().Calendar.Zone)
	if err != nil {
		return time.UTC
	}
	return loc
}

// job is one transaction of somebody, or of nobody where time does it.
type job struct {
	s    *Shop
	t    *ledger.Tx
	now  time.Time
	by   chat.Person // as they sign: a member as such, whichever door they came through
	door chat.Person // as they came
	// clients: what is done is a client's to do, of their own commission.
	clients bool
	knownAs
}

// inTx runs f in a transaction of its own. What happens in it happens when the transaction has its turn, however long it
// waited for that since now: the trail is in the order of its times.
func (s *Shop) inTx(ctx context.Context, now time.Time, by chat.Person, f func(*job) error) error {
	return s.ledger.Tx(ctx, func(t *ledger.Tx) error {
		if turn := s.cfg.Now(); turn.After(now) {
			now = turn
		}
		j := &job{s: s, t: t, now: now, by: by, door: by}
		if err := j.identify(); err != nil {
			return err
		}
		return f(j)
	})
}

func (j *job) local(t time.Time) time.Time { return t.In(j.s.zone()) }

// tell hands an outcome to every teller.
func (j *job) tell(o Outcome) error {
	for _, t := range j.s.tellers {
		if err := t.Tell(j.t, Told{At: j.now, By: j.by, Outcome: o}); err != nil {
			return err
		}
	}
	return nil
}

// record appends an event; the studio doing what is the client's to do is recorded as such.
func (j *job) record(c ledger.Commission, what, detail string) error {
	e := ledger.Event{At: j.now, Commission: c.ID, Person: string(j.by.ID), Name: OneLine(j.by.Name), What: what, Detail: detail}
	if j.by.Studio && j.clients && c.ID != "" && j.door.ID != c.Client {
		e.OnBehalf = string(c.Client)
	}
	return j.t.Record(e)
}

// save stores the commission with the event that changed it.
func (j *job) save(c *ledger.Commission, what, detail string) error {
	c.ChangedAt = j.now
	if err := j.t.SaveCommission(*c); err != nil {
		return err
	}
	return j.record(*c, what, detail)
}

// commission by its number.
func (j *job) commission(id quote.CommissionID) (ledger.Commission, error) {
	c, err := j.t.Commission(id)
	if errors.Is(err, ledger.ErrNone) {
		return c, &Refusal{Kind: NoCommission, Name: string(id)}
	}
	return c, err
}

// CommissionOf is the commission that a thread belongs to; ledger.ErrNone where it belongs to none.
func (s *Shop) CommissionOf(ctx context.Context, th chat.ThreadID) (id quote.CommissionID, err error) {
	err = s.ledger.Tx(ctx, func(t *ledger.Tx) error {
		c, err := t.CommissionOfThread(th)
		id = c.ID
		return err
	})
	return id, err
}

// answered is an act that was done, as it is kept.
type answered struct {
	Act     string          `json:"act"`
	Outcome json.RawMessage `json:"outcome"`
}

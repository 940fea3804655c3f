package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/quote"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// State of a commission.
type State string

// States, roughly in their order.
const (
	Choosing  State = "choosing"  // sets, finish, details
	Measuring State = "measuring" // measurements are coming in
	Checking  State = "checking"  // all are in, to be confirmed
	Computing State = "computing" // a worker is at it
	Quoted    State = "quoted"
	Approved  State = "approved" // deposit awaited
	Working   State = "working"  // in the shop plan
	Ready     State = "ready"    // to be collected
	Delivered State = "delivered"
	Declined  State = "declined"
	Cancelled State = "cancelled"
	Expired   State = "expired"
	Failed    State = "failed" // the computation
)

// Closed reports whether nothing more can happen.
func (s State) Closed() bool { return s == Delivered || s == Declined || s == Cancelled }

// Commission is one client's order from first message to collection.
type Commission struct {
	ID            quote.CommissionID
	Client        chat.PersonID
	ClientName    string
	Scheme        string
	Thread        chat.ThreadID // empty until opened
	State         State
	Finish        string
	Wanted        string // "2027-03-01"
	WantedTyped   string // as written; with Wanted empty it was not understood
	Clothing      geom.MM
	ClothingTyped string
	Allowance     geom.MM // mock-up allowance on every girth
	AllowTyped    string
	Fittings      quote.How // as the client chose before the quote; empty: as the studio does
	Notes         string
	Apart         bool // left and right measured apart
	ChangeTyped   string
	Revision      int
	Promise       string
	OpenedAt      time.Time
	ChangedAt     time.Time
	DepositAt     time.Time
	DepositBy     string
}

const commissionColumns = `id, client, client_name, scheme, thread, state, finish, wanted, wanted_typed, clothing_mm,
	clothing_typed, allowance_mm, allowance_typed, fittings, notes, apart, change_typed, revision, promise, opened_at, changed_at, deposit_at, deposit_by`

func scanCommission(s scanner) (c Commission, err error) {
	return c, s.Scan(c.columns()...)
}

// columns are where commissionColumns go, in their order.
func (c *Commission) columns() []any {
	return []any{&c.ID, &c.Client, &c.ClientName, &c.Scheme, &c.Thread, &c.State, &c.Finish, &c.Wanted, &c.WantedTyped,
		&c.Clothing, &c.ClothingTyped, &c.Allowance, &c.AllowTyped, &c.Fittings, &c.Notes, &c.Apart, &c.ChangeTyped, &c.Revision, &c.Promise,
		moment{&c.OpenedAt}, moment{&c.ChangedAt}, moment{&c.DepositAt}, &c.DepositBy}
}

// NewCommission numbers and stores a commission. A client without an ID is known by the commission's number.
func (t *Tx) NewCommission(c Commission) (Commission, error) {
	n, err := t.Next("commission")
	if err != nil {
		return c, err
	}
	c.ID = quote.CommissionID(fmt.Sprintf("C%04d", n))
	if c.Client == "" {
		c.Client = chat.PersonID(c.Scheme + ":" + string(c.ID))
	}
	c.ChangedAt = c.OpenedAt
	err = t.exec(`insert into commissions (`+commissionColumns+`) values (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)`,
		string(c.ID), string(c.Client), c.ClientName, c.Scheme, string(c.Thread), string(c.State), c.Finish, c.Wanted, c.WantedTyped,
		float64(c.Clothing), c.ClothingTyped, float64(c.Allowance), c.AllowTyped, string(c.Fittings), c.Notes, c.Apart, c.ChangeTyped, c.Revision, c.Promise,
		stamp(c.OpenedAt), stamp(c.ChangedAt), stamp(c.DepositAt), c.DepositBy)
	return c, err
}

// SaveCommission writes all that can change of a commission.
func (t *Tx) SaveCommission(c Commission) error {
	return t.exec(`update commissions set thread=?, state=?, finish=?, wanted=?, wanted_typed=?, clothing_mm=?, clothing_typed=?,
		allowance_mm=?, allowance_typed=?, fittings=?, notes=?, apart=?, change_typed=?, revision=?, promise=?, changed_at=?, deposit_at=?, deposit_by=? where id=?`,
		string(c.Thread), string(c.State), c.Finish, c.Wanted, c.WantedTyped, float64(c.Clothing), c.ClothingTyped,
		float64(c.Allowance), c.AllowTyped, string(c.Fittings), c.Notes, c.Apart, c.ChangeTyped, c.Revision, c.Promise, stamp(c.ChangedAt), stamp(c.DepositAt), c.DepositBy, string(c.ID))
}

// Commission by its number; ErrNone where there is none.
func (t *Tx) Commission(id quote.CommissionID) (Commission, error) {
	return one(t, scanCommission, `select `+commissionColumns+` from commissions where id = ?`, string(id))
}

// CommissionOfThread finds the commission that a thread belongs to.
func (t *Tx) CommissionOfThread(th chat.ThreadID) (Commission, error) {
	if th == "" {
		return Commission{}, ErrNone
	}
	return one(t, scanCommission, `select `+commissionColumns+` from commissions where thread = ?`, string(th))
}

// Commissions in any of the states, oldest first; all where no state is given.
func (t *Tx) Commissions(states ...State) ([]Commission, error) {
	where, args := "", []any{}
	if len(states) > 0 {
		where = ` where state in (?` + strings.Repeat(",?", len(states)-1) + `)`
		for _, s := range states {
			args = append(args, string(s))
		}
	}
	return all(t, scanCommission, `select `+commissionColumns+` from commissions`+where+` order by id`, args...)
}

// CommissionsOf a client, oldest first.
func (t *Tx) CommissionsOf(p chat.PersonID) ([]Commission, error) {
	return all(t, scanCommission, `select `+commissionColumns+` from commissions where client = ? order by id`, string(p))
}

// SetItems replaces the sets ordered.
func (t *Tx) SetItems(id quote.CommissionID, items []quote.Item) error {
	if err := t.exec(`delete from items where commission = ?`, string(id)); err != nil {
		return err
	}
	for i, it := range items {
		if err := t.exec(`insert into items (commission, line, set_name, count, sides) values (?, ?, ?, ?, ?)`,
			string(id), i+1, it.Set, it.Count, string(it.Sides)); err != nil {
			return err
		}
	}
	return nil
}

// Items ordered, in order.
func (t *Tx) Items(id quote.CommissionID) ([]quote.Item, error) {
	return all(t, func(s scanner) (it quote.Item, err error) { return it, s.Scan(&it.Set, &it.Count, &it.Sides) },
		`select set_name, count, sides from items where commission = ? order by line`, string(id))
}

// Measurement is one as it was given: what was typed and, where that was understood (or it was estimated), its value.
type Measurement struct {
	quote.Taken
	Known   bool   // Value holds
	Problem string // why it was not understood
}

// SetMeasurement stores one, replacing what was there.
func (t *Tx) SetMeasurement(id quote.CommissionID, m Measurement) error {
	var mm any
	if m.Known {
		mm = float64(m.Value)
	}
	return t.exec(`insert into measurements (commission, key, side, typed, mm, problem, deviation_mm) values (?, ?, ?, ?, ?, ?, ?)
		on conflict (commission, key, side) do update set typed = excluded.typed, mm = excluded.mm, problem = excluded.problem,
			deviation_mm = excluded.deviation_mm`,
		string(id), m.Key, string(m.Side), m.Typed, mm, m.Problem, float64(m.Deviation))
}

// DropMeasurement forgets one.
func (t *Tx) DropMeasurement(id quote.CommissionID, key string, side foam.Side) error {
	return t.exec(`delete from measurements where commission = ? and key = ? and side = ?`, string(id), key, string(side))
}

// Measurements given so far.
func (t *Tx) Measurements(id quote.CommissionID) ([]Measurement, error) {
	return all(t, func(s scanner) (m Measurement, err error) {
		var mm *float64
		err = s.Scan(&m.Key, &m.Side, &m.Typed, &mm, &m.Problem, &m.Deviation)
		if mm != nil {
			m.Known, m.Value = true, geom.MM(*mm)
		}
		return m, err
	}, `select key, side, typed, mm, problem, deviation_mm from measurements where commission = ? order by key, side`, string(id))
}

// AddPicture stores a reference picture once; it returns how many there are and whether this one is new.
func (t *Tx) AddPicture(id quote.CommissionID, f chat.File, by chat.PersonID, at time.Time) (n int, fresh bool, err error) {
	sum := sha256.Sum256(f.Data)
	before, err := t.PictureCount(id)
	if err != nil {
		return 0, false, err
	}
	err = t.exec(`insert into pictures (commission, n, name, mime, sha256, sent_by, at, data) values (?, ?, ?, ?, ?, ?, ?, ?)
		on conflict (commission, sha256) do nothing`,
		string(id), before+1, f.Name, f.MIME, hex.EncodeToString(sum[:]), string(by), stamp(at), f.Data)
	if err != nil {
		return 0, false, err
	}
	after, err := t.PictureCount(id)
	return after, after > before, err
}

// PictureCount is how many reference pictures a commission has.
func (t *Tx) PictureCount(id quote.CommissionID) (int, error) {
	return one(t, func(s scanner) (n int, err error) { return n, s.Scan(&n) }, `select count(*) from pictures where commission = ?`, string(id))
}

// Pictures the client sent as reference.
func (t *Tx) Pictures(id quote.CommissionID) ([]chat.File, error) {
	return all(t, func(s scanner) (f chat.File, err error) { return f, s.Scan(&f.Name, &f.MIME, &f.Data) },
		`select name, mime, data from pictures where commission = ? order by n`, string(id))
}

// PictureHeads are the pictures that the client sent as reference.
func (t *Tx) PictureHeads(id quote.CommissionID) ([]FileHead, error) {
	return all(t, scanFileHead, `select n, name, '' from pictures where commission = ? order by n`, string(id))
}

// Picture is one of them, or ErrNone.
func (t *Tx) Picture(id quote.CommissionID, n int) (chat.File, error) {
	return one(t, func(s scanner) (f chat.File, err error) { return f, s.Scan(&f.Name, &f.MIME, &f.Data) },
		`select name, mime, data from pictures where commission = ? and n = ?`, string(id), n)
}

// Act is what came of an act already done, as it was saved; ok is false for a new one.
func (t *Tx) Act(id string) (answer []byte, ok bool, err error) {
	answer, err = one(t, func(s scanner) (a []byte, err error) { return a, s.Scan(&a) }, `select reply from acts where id = ?`, id)
	if errors.Is(err, ErrNone) {
		return nil, false, nil
	}
	return answer, err == nil, err
}

// SaveAct remembers what came of an act, as JSON.
func (t *Tx) SaveAct(id string, by chat.PersonID, at time.Time, answer []byte) error {
	return t.exec(`insert into acts (id, person, at, reply) values (?, ?, ?, ?)`, id, string(by), stamp(at), string(answer))
}

// SetBoard makes a thread the studio's notice board on its transport.
func (t *Tx) SetBoard(scheme string, th chat.ThreadID) error {
	return t.exec(`insert into boards (scheme, thread) values (?, ?) on conflict (scheme) do update set thread = excluded.thread`,
		scheme, string(th))
}

// Board is a studio's notice board.
type Board struct {
	Scheme string
	Thread chat.ThreadID
}

// Boards of the studio.
func (t *Tx) Boards() ([]Board, error) {
	return all(t, func(s scanner) (b Board, err error) { return b, s.Scan(&b.Scheme, &b.Thread) },
		`select scheme, thread from boards order by scheme`)
}

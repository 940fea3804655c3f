package ledger

import (
	"errors"
	"fmt"
	"time"

	"benchbell/bot/chat"
	"benchbell/quote"
	"benchbell/quote/geom"
)

// OffcutState says where an offcut is.
type OffcutState string

// Offcut states.
const (
	Racked OffcutState = "racked"
	Used   OffcutState = "used"
	Thrown OffcutState = "thrown"
)

// Offcut is foam left over that was put on the rack.
type Offcut struct {
	ID        string // R0001
	Thickness geom.MM
	Outline   geom.Ring // counter-clockwise, its box beginning at 0, 0
	Origin    string    // "D0001/2", "C0007/3": cutting day or commission, and its sheet; empty where it was typed by hand
	State     OffcutState
	UsedIn    string // cutting day
	At        time.Time
	By        chat.PersonID
}

// Size of the box round it.
func (o Offcut) Size() (width, height geom.MM) {
	b := o.Outline.Bounds()
	return b.Width(), b.Height()
}

// Stock is the offcut as the engine takes it.
func (o Offcut) Stock() quote.Offcut {
	return quote.Offcut{ID: o.ID, Thickness: o.Thickness, Outline: o.Outline}
}

const offcutColumns = `id, thickness_mm, outline, origin, state, used_in, at, by`

func scanOffcut(s scanner) (o Offcut, err error) {
	return o, s.Scan(&o.ID, &o.Thickness, encoded{&o.Outline}, &o.Origin, &o.State, &o.UsedIn, moment{&o.At}, &o.By)
}

// RackOffcut numbers an offcut and puts it on the rack. What is there with the same origin, or was, stays as it is and is
// returned; added is false then.
func (t *Tx) RackOffcut(o Offcut) (racked Offcut, added bool, err error) {
	if o.Origin != "" {
		was, err := one(t, scanOffcut, `select `+offcutColumns+` from rack where origin = ?`, o.Origin)
		if !errors.Is(err, ErrNone) {
			return was, false, err
		}
	}
	n, err := t.Next("offcut")
	if err != nil {
		return o, false, err
	}
	o.ID, o.State, o.UsedIn = fmt.Sprintf("R%04d", n), Racked, ""
	outline, err := encode(o.Outline)
	if err != nil {
		return o, false, err
	}
	w, h := o.Size()
	return o, true, t.exec(`insert into rack (id, thickness_mm, outline, width_mm, height_mm, origin, state, at, by) values (?,?,?,?,?,?,?,?,?)`,
		o.ID, float64(o.Thickness), outline, float64(w), float64(h), o.Origin, string(o.State), stamp(o.At), string(o.By))
}

// Offcut by its number; ErrNone where there is none.
func (t *Tx) Offcut(id string) (Offcut, error) {
	return one(t, scanOffcut, `select `+offcutColumns+` from rack where id = ?`, id)
}

// Rack is what is on it, by thickness, the thickest first, then by number.
func (t *Tx) Rack() ([]Offcut, error) {
	return all(t, scanOffcut, `select `+offcutColumns+` from rack where state = 'racked' order by thickness_mm desc, id`)
}

// RackedFrom are the offcuts that came from a commission's or cutting day's sheets, whatever became of them.
func (t *Tx) RackedFrom(id string) ([]Offcut, error) {
	return all(t, scanOffcut, `select `+offcutColumns+` from rack where origin >= ? and origin < ? order by id`, id+"/", id+"0")
}

// LeaveRack takes an offcut off the rack; ErrNone where it is not on it any more. cutting is the day it is used on, empty
// where it is thrown away.
func (t *Tx) LeaveRack(id string, state OffcutState, cutting string, at time.Time, by chat.PersonID) error {
	_, err := one(t, func(s scanner) (x string, err error) { return x, s.Scan(&x) },
		`update rack set state = ?, used_in = ?, at = ?, by = ? where id = ? and state = 'racked' returning id`,
		string(state), cutting, stamp(at), string(by), id)
	return err
}

// CuttingState of a plan.
type CuttingState string

// Cutting states.
const (
	CutPlanned CuttingState = "planned"
	CutDone    CuttingState = "cut"
)

// CutCommission is a commission of a cutting day, in the revision that is cut.
type CutCommission struct {
	ID       quote.CommissionID `json:"id"`
	Revision int                `json:"revision"`
}

// Cutting is a plan for cutting several commissions together, or the day on which it was done.
type Cutting struct {
	ID          string // D0001
	Commissions []CutCommission
	Used        []string       // offcuts taken from the rack
	Rests       []quote.Offcut // what remains and goes on it
	Summary     string
	SHA256      string // of summary and files
	State       CuttingState
	At          time.Time
	By          chat.PersonID
}

const cuttingColumns = `id, commissions, used, rests, summary, sha256, state, at, by`

func scanCutting(s scanner) (c Cutting, err error) {
	return c, s.Scan(&c.ID, encoded{&c.Commissions}, encoded{&c.Used}, encoded{&c.Rests}, &c.Summary, &c.SHA256, &c.State, moment{&c.At}, &c.By)
}

// PlanCutting files a plan with what is cut from. The same plan again is the one there is; another plan of the same
// commissions replaces it unless it was carried out.
func (t *Tx) PlanCutting(c Cutting, files []chat.File) (Cutting, error) {
	commissions, err := encode(c.Commissions)
	if err != nil {
		return c, err
	}
	was, err := one(t, scanCutting, `select `+cuttingColumns+` from cuttings where commissions = ? and sha256 = ?`, commissions, c.SHA256)
	if !errors.Is(err, ErrNone) {
		return was, err
	}
	if err := t.dropPlans(`commissions = ?`, commissions); err != nil {
		return c, err
	}
	n, err := t.Next("cutting")
	if err != nil {
		return c, err
	}
	c.ID, c.State = fmt.Sprintf("D%04d", n), CutPlanned
	used, err := encode(c.Used)
	if err != nil {
		return c, err
	}
	rests, err := encode(c.Rests)
	if err != nil {
		return c, err
	}
	err = t.exec(`insert into cuttings (`+cuttingColumns+`) values (?,?,?,?,?,?,?,?,?)`, c.ID, commissions, used, rests, c.Summary, c.SHA256,
		string(c.State), stamp(c.At), string(c.By))
	if err != nil {
		return c, err
	}
	for i, f := range files {
		if err := t.exec(`insert into cutting_files (cutting, n, name, mime, alt, data) values (?,?,?,?,?,?)`, c.ID, i+1, f.Name, f.MIME, f.Alt, f.Data); err != nil {
			return c, err
		}
	}
	return c, nil
}

// dropPlans forgets plans that were not carried out.
func (t *Tx) dropPlans(where string, args ...any) error {
	where = `state = 'planned' and ` + where
	if err := t.exec(`delete from cutting_files where cutting in (select id from cuttings where `+where+`)`, args...); err != nil {
		return err
	}
	return t.exec(`delete from cuttings where `+where, args...)
}

// Cutting by its number; ErrNone where there is none, or a plan that another one has replaced.
func (t *Tx) Cutting(id string) (Cutting, error) {
	return one(t, scanCutting, `select `+cuttingColumns+` from cuttings where id = ?`, id)
}

// CuttingOf is the day on which a commission was cut together with others; ErrNone where it was not.
func (t *Tx) CuttingOf(id quote.CommissionID) (Cutting, error) {
	return one(t, scanCutting, `select `+cuttingColumns+` from cuttings where id = (select cutting from cut_commissions where commission = ?)`, string(id))
}

// CuttingFiles are what a plan is cut from.
func (t *Tx) CuttingFiles(id string) ([]chat.File, error) {
	return all(t, func(s scanner) (f chat.File, err error) { return f, s.Scan(&f.Name, &f.MIME, &f.Alt, &f.Data) },
		`select name, mime, alt, data from cutting_files where cutting = ? order by n`, id)
}

// Cut records that a plan was carried out: its offcuts leave the rack, what remains goes on it, and its commissions are not
// planned for cutting again. ErrNone where an offcut is not on the rack any more; then the transaction must not be kept.
func (t *Tx) Cut(c Cutting, at time.Time, by chat.PersonID) (racked []Offcut, err error) {
	for _, id := range c.Used {
		if err := t.LeaveRack(id, Used, c.ID, at, by); err != nil {
			return nil, err
		}
	}
	for _, o := range c.Rests {
		r, _, err := t.RackOffcut(Offcut{Thickness: o.Thickness, Outline: o.Outline, Origin: fmt.Sprintf("%s/%d", c.ID, o.Sheet), At: at, By: by})
		if err != nil {
			return nil, err
		}
		racked = append(racked, r)
	}
	for _, k := range c.Commissions {
		if err := t.exec(`insert into cut_commissions (commission, cutting) values (?, ?)`, string(k.ID), c.ID); err != nil {
			return nil, err
		}
	}
	if err := t.exec(`update cuttings set state = 'cut', at = ?, by = ? where id = ?`, stamp(at), string(by), c.ID); err != nil {
		return nil, err
	}
	// Plans with a commission that is cut now can never be carried out.
	for _, k := range c.Commissions {
		if err := t.dropPlans(`exists (select 1 from json_each(commissions) where json_extract(value, '$.id') = ?)`, string(k.ID)); err != nil {
			return nil, err
		}
	}
	return racked, nil
}

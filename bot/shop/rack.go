package shop

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/cutting"
	"benchbell/quote/geom"
)

// What an offcut measures that is put on the rack by hand: less cannot be cut from within the margins, more is a roll.
// Common practice, no source.
const (
	LeastOffcut geom.MM = 50
	MostOffcut  geom.MM = 3000
)

// Rack looks at the offcuts there are.
type Rack struct{}

// OnRack are the offcuts there are.
type OnRack struct {
	At      time.Time
	Offcuts []ledger.Offcut
}

func rack(j *job, _ Rack) (OnRack, error) {
	all, err := j.t.Rack()
	return OnRack{j.now, all}, err
}

// RackOffcut puts an offcut on the rack that was measured by hand.
type RackOffcut struct{ Thickness, Width, Height geom.MM }

// OffcutRacked is an offcut that was put on the rack.
type OffcutRacked struct {
	Offcut ledger.Offcut
	Rack   []ledger.Offcut // as it is now
}

func rackOffcut(j *job, a RackOffcut) (OffcutRacked, error) {
	var sold []string
	for _, s := range j.s.cfg.Studio().Prices.Sheets {
		if !slices.Contains(sold, s.Thickness.String()) {
			sold = append(sold, s.Thickness.String())
		}
	}
	if !slices.Contains(sold, a.Thickness.String()) {
		return OffcutRacked{}, &Refusal{Kind: NotSold, Width: a.Thickness, Names: sold}
	}
	if min(a.Width, a.Height) < LeastOffcut || max(a.Width, a.Height) > MostOffcut {
		return OffcutRacked{}, &Refusal{Kind: OddSize, Width: a.Width, Height: a.Height}
	}
	o, _, err := j.t.RackOffcut(ledger.Offcut{Thickness: a.Thickness, At: j.now, By: j.by.ID,
		Outline: geom.Ring{{}, {X: float64(a.Width)}, {X: float64(a.Width), Y: float64(a.Height)}, {Y: float64(a.Height)}}})
	if err != nil {
		return OffcutRacked{}, err
	}
	if err := j.record(ledger.Commission{}, "offcut racked", fmt.Sprintf("%s %s, %.0f × %.0f mm", o.ID, o.Thickness, float64(a.Width), float64(a.Height))); err != nil {
		return OffcutRacked{}, err
	}
	all, err := j.t.Rack()
	return OffcutRacked{o, all}, err
}

// ThrowAway takes an offcut off the rack for good.
type ThrowAway struct {
	Offcut string
	Sure   bool // without it, it is refused as Grave
}

// ThrownAway is an offcut that is not on the rack any more.
type ThrownAway struct {
	Offcut string
	Rack   []ledger.Offcut // as it is now
}

func throwAway(j *job, a ThrowAway) (ThrownAway, error) {
	o, err := j.t.Offcut(a.Offcut)
	if errors.Is(err, ledger.ErrNone) {
		return ThrownAway{}, &Refusal{Kind: NoOffcut, Name: a.Offcut}
	}
	if err == nil {
		err = offRack(o)
	}
	if err != nil {
		return ThrownAway{}, err
	}
	if !a.Sure {
		return ThrownAway{}, &Refusal{Kind: Grave, Offcut: o}
	}
	if err := j.t.LeaveRack(o.ID, ledger.Thrown, "", j.now, j.by.ID); err != nil {
		return ThrownAway{}, err
	}
	if err := j.record(ledger.Commission{}, "offcut thrown away", o.ID); err != nil {
		return ThrownAway{}, err
	}
	all, err := j.t.Rack()
	return ThrownAway{o.ID, all}, err
}

// offRack refuses an offcut that is not on the rack any more.
func offRack(o ledger.Offcut) error {
	switch o.State {
	case ledger.Used:
		return &Refusal{Kind: OffcutUsed, Offcut: o}
	case ledger.Thrown:
		return &Refusal{Kind: OffcutThrown, Offcut: o}
	}
	return nil
}

// RackRest puts on the rack what a commission's own sheets left at a cutting operation. It is done by hand, never unasked:
// only the maker sees whether the rest is worth keeping.
type RackRest struct{ OfOperation }

// RestRacked is what was left.
type RestRacked struct {
	Operation ledger.Operation
	Racked    []ledger.Offcut
	Before    bool // all of it was put on the rack before
}

// rests works out what a commission's sheets leave.
func rests(_ context.Context, _ *Shop, _ Call, _ RackRest, read reading) ([]quote.Offcut, error) {
	var rev ledger.Revision
	var com ledger.Commission
	err := read(func(j *job, c ledger.Commission) (err error) {
		com = c
		rev, err = j.t.Revision(c.ID, c.Revision)
		return err
	})
	if err != nil {
		return nil, err
	}
	left, err := cutting.Offcuts(rev.Snapshot, rev.Quote)
	if err != nil {
		return nil, &Refusal{Kind: NotCuttable, Commission: com, Cause: err}
	}
	return left, nil
}

// cutAlone refuses an operation that has left nothing of its own.
func cutAlone(j *job, c ledger.Commission, a RackRest) error {
	b, err := j.bench(c)
	if err != nil {
		return err
	}
	if o, ok := b.numbered(a.Operation); !ok || o.Kind != CutKind || o.State != ledger.Done {
		return &Refusal{Kind: NothingLeft, Commission: c, Count: a.Operation}
	}
	d, err := j.t.CuttingOf(c.ID)
	if err == nil {
		return &Refusal{Kind: CutWith, Commission: c, Cutting: d}
	}
	if !errors.Is(err, ledger.ErrNone) {
		return err
	}
	return nil
}

func rackRest(j *job, c ledger.Commission, a RackRest, left []quote.Offcut) (RestRacked, error) {
	b, err := j.bench(c)
	if err != nil {
		return RestRacked{}, err
	}
	op, _ := b.numbered(a.Operation)
	o := RestRacked{Operation: op, Before: true}
	for _, x := range left {
		if quote.CutOperation(x.Thickness) != op.Op {
			continue
		}
		r, added, err := j.t.RackOffcut(ledger.Offcut{Thickness: x.Thickness, Outline: x.Outline, Origin: fmt.Sprintf("%s/%d", c.ID, x.Sheet), At: j.now, By: j.by.ID})
		if err != nil {
			return o, err
		}
		o.Racked, o.Before = append(o.Racked, r), o.Before && !added
	}
	if o.Before || len(o.Racked) == 0 {
		return o, nil
	}
	ids := make([]string, len(o.Racked))
	for i, r := range o.Racked {
		ids[i] = r.ID
	}
	return o, j.record(c, "rest racked", op.Op+": "+strings.Join(ids, ", "))
}

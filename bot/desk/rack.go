package desk

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/cutting"
	"benchbell/quote/geom"
	"benchbell/quote/measure"
)

// What an offcut measures that is put on the rack by hand: less cannot be cut from within the margins, more is a roll.
// Common practice, no source.
const (
	leastOffcut geom.MM = 50
	mostOffcut  geom.MM = 3000
)

// rack lists the offcuts, adds one that was measured by hand, or takes one off that was thrown away.
func (w *work) rack() (chat.Reply, error) {
	v := func(key string) string { return strings.TrimSpace(w.in.Values[key]) }
	if id := strings.ToUpper(v("throw")); id != "" {
		return w.throwAway(id)
	}
	if v("thickness") != "" || v("size") != "" {
		return w.rackByHand(v("thickness"), v("size"))
	}
	return w.rackList("")
}

func (w *work) rackList(say string) (chat.Reply, error) {
	rack, err := w.t.Rack()
	if err != nil {
		return chat.Reply{}, err
	}
	if len(rack) == 0 {
		return chat.Reply{Text: strings.TrimSpace(say + " The rack is empty.")}, nil
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n*On the rack: %s*", say, many(len(rack), "offcut"))
	for i, o := range rack {
		if i == 0 || rack[i-1].Thickness != o.Thickness {
			fmt.Fprintf(&b, "\n*%s*", o.Thickness)
		}
		b.WriteString("\n• " + offcutWords(o))
	}
	return chat.Reply{Text: clip(strings.TrimSpace(b.String()), chat.MaxText)}, nil
}

// offcutWords of an offcut whose thickness is said already.
func offcutWords(o ledger.Offcut) string {
	width, height := o.Size()
	s := fmt.Sprintf("%s, %.0f × %.0f mm", o.ID, float64(width), float64(height))
	if len(o.Outline) != 4 || float64(width)*float64(height)-float64(o.Outline.Area()) > 1 {
		s += fmt.Sprintf(" at most, %.0f cm²", float64(o.Outline.Area())/100)
	}
	if from, sheet, ok := strings.Cut(o.Origin, "/"); ok {
		s += fmt.Sprintf(", from %s sheet %s", from, sheet)
	}
	return s
}

func offcutLines(list []ledger.Offcut) string {
	var b strings.Builder
	for _, o := range list {
		fmt.Fprintf(&b, "\n• %s: %s", o.Thickness, offcutWords(o))
	}
	return b.String()
}

func (w *work) rackByHand(thickness, size string) (chat.Reply, error) {
	if thickness == "" || size == "" {
		return chat.Reply{}, refuse("give the offcut's thickness and its size, such as 5 mm and 40 × 30 cm")
	}
	t, err := measure.Parse(thickness, measure.MM)
	if err != nil {
		return chat.Reply{}, refuse("the thickness was not understood: %s", err)
	}
	var sold []string
	for _, s := range w.d.cfg.Studio().Prices.Sheets {
		if !slices.Contains(sold, s.Thickness.String()) {
			sold = append(sold, s.Thickness.String())
		}
	}
	if !slices.Contains(sold, t.String()) {
		return chat.Reply{}, refuse("the studio works with no %s foam; give one of: %s", t, orNone(sold))
	}
	width, height, err := parseSize(size)
	if err != nil {
		return chat.Reply{}, err
	}
	if min(width, height) < leastOffcut || max(width, height) > mostOffcut {
		return chat.Reply{}, refuse("an offcut of %s × %s is not kept; each side must be from %s to %s", width, height, leastOffcut, mostOffcut)
	}
	o, _, err := w.t.RackOffcut(ledger.Offcut{Thickness: t, At: w.now, By: w.in.Person.ID,
		Outline: geom.Ring{{}, {X: float64(width)}, {X: float64(width), Y: float64(height)}, {Y: float64(height)}}})
	if err != nil {
		return chat.Reply{}, err
	}
	if err := w.rackEvent("offcut racked", fmt.Sprintf("%s %s %s", o.ID, o.Thickness, offcutWords(o))); err != nil {
		return chat.Reply{}, err
	}
	return w.rackList(fmt.Sprintf("*%s is on the rack*; letter it so.", o.ID))
}

var times = regexp.MustCompile(`(?i)\s*(?:×|\*|x|\bby\b)\s*`)

// parseSize reads "400 × 300 mm", "40 cm x 30 cm", "12 1/2 by 10 in". A bare number has the unit of the one after it; without
// any unit, millimetres.
func parseSize(text string) (width, height geom.MM, err error) {
	parts := times.Split(text, -1)
	if len(parts) != 2 {
		return 0, 0, refuse("%q is no size; write width × height, such as 40 × 30 cm", text)
	}
	if height, err = measure.Parse(parts[1], measure.MM); err != nil {
		return 0, 0, refuse("the size was not understood: %s", err)
	}
	width, err = measure.Parse(parts[0], measure.NoUnit)
	var bare *measure.MissingUnit
	if errors.As(err, &bare) {
		unit := strings.TrimLeft(parts[1], "0123456789.,/½¼¾⅛⅜⅝⅞- ")
		width, err = measure.Parse(parts[0]+" "+unit, measure.MM)
	}
	if err != nil {
		return 0, 0, refuse("the size was not understood: %s", err)
	}
	return width, height, nil
}

func (w *work) throwAway(id string) (chat.Reply, error) {
	o, err := w.t.Offcut(id)
	if errors.Is(err, ledger.ErrNone) {
		return chat.Reply{}, refuse("there is no offcut %q; they are numbered like R0003, ask rack for the list", id)
	}
	if err != nil {
		return chat.Reply{}, err
	}
	switch o.State {
	case ledger.Used:
		return chat.Reply{}, refuse("offcut %s was used on %s, with %s", id, w.d.when(o.At), o.UsedIn)
	case ledger.Thrown:
		return chat.Reply{}, refuse("offcut %s was thrown away on %s", id, w.d.when(o.At))
	}
	if err := w.t.LeaveRack(id, ledger.Thrown, "", w.now, w.in.Person.ID); err != nil {
		return chat.Reply{}, err
	}
	if err := w.rackEvent("offcut thrown away", id); err != nil {
		return chat.Reply{}, err
	}
	return w.rackList(fmt.Sprintf("*%s is off the rack.*", id))
}

func (w *work) rackEvent(what, detail string) error {
	return w.t.Record(ledger.Event{At: w.now, Person: string(w.in.Person.ID), What: what, Detail: detail})
}

// keepOffer is the button that puts on the rack what a commission's own sheets leave. It is offered, never done unasked:
// only the maker sees whether the rest is worth keeping. What was cut on a cutting day is on the rack already.
func (w *work) keepOffer(c ledger.Commission, o ledger.Operation) ([]chat.Button, error) {
	if o.Kind != cutKind {
		return nil, nil
	}
	_, err := w.t.CuttingOf(c.ID)
	if errors.Is(err, ledger.ErrNone) {
		return []chat.Button{{Action: fmt.Sprintf("keep/%s/%d", c.ID, o.Seq), Label: "Put the rest on the rack"}}, nil
	}
	return nil, err
}

// rests is what the sheets of one revision leave.
type rests struct {
	id       quote.CommissionID
	revision int
	offcuts  []quote.Offcut
}

// rests works out what a commission's sheets leave; nil where there is no such commission, which the act then refuses.
func (d *Desk) rests(ctx context.Context, id quote.CommissionID) (*rests, error) {
	var rev ledger.Revision
	err := d.ledger.Tx(ctx, func(t *ledger.Tx) error {
		c, err := t.Commission(id)
		if err != nil || c.Revision == 0 {
			return err
		}
		rev, err = t.Revision(id, c.Revision)
		return err
	})
	if errors.Is(err, ledger.ErrNone) || err == nil && rev.Revision == 0 {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	left, err := cutting.Offcuts(rev.Snapshot, rev.Quote)
	if err != nil {
		return nil, &chat.Refusal{Say: err.Error()}
	}
	return &rests{id, rev.Revision, left}, nil
}

// keep puts on the rack what a cutting operation left; "keep/C0007/1".
func (w *work) keep(c ledger.Commission, seq int) (chat.Reply, error) {
	ops, err := w.t.Operations(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	i := slices.IndexFunc(ops, func(o ledger.Operation) bool { return o.Seq == seq && o.Kind == cutKind })
	if i < 0 || ops[i].State != ledger.Done {
		return chat.Reply{}, refuse("operation %d of %s has left nothing; the rest goes on the rack once foam is cut", seq, c.ID)
	}
	if day, err := w.t.CuttingOf(c.ID); err == nil {
		return chat.Reply{}, refuse("%s was cut with %s; what remained is on the rack", c.ID, day.ID)
	} else if !errors.Is(err, ledger.ErrNone) {
		return chat.Reply{}, err
	}
	if w.left == nil || w.left.id != c.ID || w.left.revision != c.Revision {
		return chat.Reply{}, refuse("%s has just been changed; press again", c.ID)
	}
	var racked []ledger.Offcut
	fresh := false
	for _, o := range w.left.offcuts {
		if quote.CutOperation(o.Thickness) != ops[i].Op {
			continue
		}
		r, added, err := w.t.RackOffcut(ledger.Offcut{Thickness: o.Thickness, Outline: o.Outline, Origin: fmt.Sprintf("%s/%d", c.ID, o.Sheet), At: w.now, By: w.in.Person.ID})
		if err != nil {
			return chat.Reply{}, err
		}
		racked, fresh = append(racked, r), fresh || added
	}
	if len(racked) == 0 {
		return chat.Reply{Text: fmt.Sprintf("“%s” of %s leaves no offcut worth keeping.", opWords(ops[i]), c.ID)}, nil
	}
	if !fresh {
		return chat.Reply{Text: "That was put on the rack already:" + offcutLines(racked)}, nil
	}
	if err := w.record(c, "rest racked", fmt.Sprintf("%s: %s", ops[i].Op, many(len(racked), "offcut"))); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: "Letter what remains and put it on the rack:" + offcutLines(racked)}, nil
}

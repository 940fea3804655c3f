package shop

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

// folderPage is how many messages, and how many acts of the trail, a folder shows at once.
const folderPage = 20

// Folder looks at everything of one commission.
type Folder struct {
	Of
	Messages, Trail int // pages of them, from 0
}

// Whole is everything of one commission.
type Whole struct {
	At time.Time
	Order
	Finish     string // its title; empty: none is chosen
	Revisions  []ledger.RevisionHead
	Assemblies []Assembly // as the current quote has them
	Drawn      Revision   // of that quote, which has the outlines of the pieces
	Hours      Hours
	Money      *Money // of the current quote; nil: there is none
	Promises   []ledger.Promise
	Meetings   []ledger.Appointment
	Approval   *ledger.Approval
	Pictures   []ledger.FileHead // of the current quote
	Sent       []ledger.FileHead // by the client, as reference
	Body       *BodyTaken        // nil: not for who asks
	Messages   []ledger.Message  // latest first
	Trail      []ledger.Event    // latest first
	// There are more messages, or acts, than those of this page.
	MoreMessages, MoreTrail bool
}

// Assembly is what goes through the shop together, with how far its pieces are.
type Assembly struct {
	Title  string
	Pieces []PieceGroup // in the order of the cut list
}

// PieceGroup are copies of a piece that are equally far.
type PieceGroup struct {
	Title  string
	Labels []string
	State  PieceState
}

// PieceState is how far a piece is: the last thing that was done with it, in the trade's order.
type PieceState string

// Piece states.
const (
	Uncut         PieceState = "not cut yet"
	Cut           PieceState = "cut"
	Bevelled      PieceState = "bevelled"
	Formed        PieceState = "formed"
	Glued         PieceState = "glued"
	Sealed        PieceState = "sealed"
	Primed        PieceState = "primed"
	ReadyForPaint PieceState = "ready for paint" // the primer is through-dry
	Painted       PieceState = "painted"
	Weathered     PieceState = "weathered"
	FinishedPiece PieceState = "finished"
	Fitted        PieceState = "fitted"
	Packed        PieceState = "packed"
)

// pieceStates are the kinds of operations after which a piece has a state, in the trade's order.
var pieceStates = []struct {
	kind  string
	state PieceState
}{{"cut", Cut}, {"bevel", Bevelled}, {"form", Formed}, {"glue", Glued}, {"seal", Sealed}, {"prime", Primed}, {"paint", Painted}, {"wash", Weathered},
	{"clear", FinishedPiece}, {"final", Fitted}, {"pack", Packed}}

// PieceStates are all of them, in the trade's order.
func PieceStates() []PieceState {
	out := []PieceState{Uncut}
	for _, x := range pieceStates {
		if out = append(out, x.state); x.state == Primed {
			out = append(out, ReadyForPaint)
		}
	}
	return out
}

// Hours are how long the work takes.
type Hours struct {
	Quoted, Low, High float64 // hours as quoted, and within which 10 and 90 of 100 simulated runs stay; 0: there is no quote
	Planned           time.Duration
	Worked            time.Duration // of all spells of work, as typed or as they ran while the shop was open
	Known, Done, All  int           // operations of which that is known, that are done, that there are
}

// Money is what a commission costs and what of it is due.
type Money struct {
	Currency                string
	Total, Deposit, Balance price.Money
	DepositBy               time.Time // until when it is awaited; zero: it is not
	PaidAt                  time.Time // zero: the deposit is not confirmed
	PaidBy                  string
}

// BodyTaken are the measurements that a commission is made to.
type BodyTaken struct{ Taken []BodyMeasure }

// BodyMeasure is one of them.
type BodyMeasure struct {
	Label     string
	Value     geom.MM
	Known     bool
	Typed     string
	Estimated bool
}

func folder(j *job, c ledger.Commission, a Folder) (o Whole, err error) {
	o.At = j.now
	x, err := j.t.Order(c.ID)
	if err != nil {
		return o, err
	}
	if o.Order, err = j.order(x); err != nil {
		return o, err
	}
	for _, f := range j.s.cfg.Studio().Finishes {
		if f.Key == c.Finish {
			o.Finish = f.Title
		}
	}
	if o.Revisions, err = j.t.RevisionHeads(c.ID); err != nil {
		return o, err
	}
	if err = j.worked(&o, c); err != nil {
		return o, err
	}
	if o.Promises, err = j.t.Promises(c.ID); err != nil {
		return o, err
	}
	if o.Meetings, err = j.t.Appointments(c.ID); err != nil {
		return o, err
	}
	if o.Sent, err = j.t.PictureHeads(c.ID); err != nil {
		return o, err
	}
	if j.roles&(ledger.Owner|ledger.Maker) != 0 {
		all, _, err := j.wants(c)
		if err != nil {
			return o, err
		}
		o.Body = &BodyTaken{}
		for _, m := range all {
			o.Body.Taken = append(o.Body.Taken, BodyMeasure{Label: m.Label(), Value: m.Value, Known: m.Known, Typed: m.Typed, Estimated: m.Estimated()})
		}
	}
	if o.Messages, err = j.t.MessagesOf(c.ID, folderPage+1, max(a.Messages, 0)*folderPage); err != nil {
		return o, err
	}
	o.Messages, o.MoreMessages = firstPage(o.Messages)
	if o.Trail, err = j.t.EventsPage(c.ID, folderPage+1, max(a.Trail, 0)*folderPage); err != nil {
		return o, err
	}
	o.Trail, o.MoreTrail = firstPage(o.Trail)
	return o, nil
}

// firstPage is what fits a page, and whether there was more.
func firstPage[T any](list []T) ([]T, bool) {
	return list[:min(len(list), folderPage)], len(list) > folderPage
}

// worked is what the current quote says of the work, and how far it is.
func (j *job) worked(o *Whole, c ledger.Commission) error {
	if a, err := j.t.Approval(c.ID); err == nil {
		o.Approval = &a
	} else if !errors.Is(err, ledger.ErrNone) {
		return err
	}
	if !slices.ContainsFunc(o.Revisions, func(r ledger.RevisionHead) bool { return r.Revision == c.Revision && !r.IssuedAt.IsZero() }) {
		return nil
	}
	rev, err := j.issued(c.ID, c.Revision)
	if err != nil {
		return err
	}
	if o.Pictures, err = j.t.RevisionPictureHeads(c.ID, c.Revision); err != nil {
		return err
	}
	q := rev.Quote
	e := q.Estimate
	o.Money = &Money{Currency: e.Currency, Total: e.Total, Deposit: e.Deposit, Balance: e.Balance, DepositBy: o.Due, PaidAt: c.DepositAt}
	if o.Money.PaidBy, err = j.nameOf(chat.PersonID(c.DepositBy)); err != nil {
		return err
	}
	b, err := j.bench(c)
	if err != nil {
		return err
	}
	logs, err := j.logs(c.ID)
	if err != nil {
		return err
	}
	o.Hours, o.Drawn = hours(b, logs), rev
	o.Hours.Quoted, o.Hours.Low, o.Hours.High = q.Hours, q.HoursLow, q.HoursHigh
	o.Assemblies = assemblies(q, b, j.now)
	return nil
}

// nameOf is what a person is called in the studio; of who is no member, what they signed as.
func (j *job) nameOf(p chat.PersonID) (string, error) {
	ms, err := j.t.Members()
	for _, m := range ms {
		if m.Person() == p {
			return m.Name, nil
		}
	}
	return "", err
}

// hours sums up what is planned and was worked, by the spells of work with what they count for.
func hours(b bench, logs []Log) (h Hours) {
	known := map[int]bool{}
	for _, l := range logs {
		h.Worked += l.Took
		known[l.Seq] = known[l.Seq] || l.Took > 0
	}
	for _, o := range b.ops {
		h.All++
		h.Planned += plan.Worked(o.Start, o.End, o.Spans)
		if o.State == ledger.Done {
			h.Done++
			if known[o.Seq] {
				h.Known++
			}
		}
	}
	return h
}

// assemblies are the pieces of a quote with how far they are at the bench.
func assemblies(q quote.Quote, b bench, now time.Time) (out []Assembly) {
	kinds := map[string][]ledger.Operation{} // by piece and kind
	for _, w := range q.Work.Operations {
		if op, ok := b.op(w.ID); ok {
			kind := w.Kind
			if w.ID == quote.FinalFitting { // both fittings are of one kind
				kind = "final"
			}
			for _, p := range w.Pieces {
				kinds[p+" "+kind] = append(kinds[p+" "+kind], op)
			}
		}
	}
	state := func(label string) PieceState {
		s := Uncut
		for _, x := range pieceStates {
			ops := kinds[label+" "+x.kind]
			if len(ops) == 0 || slices.ContainsFunc(ops, func(o ledger.Operation) bool { return o.State != ledger.Done }) {
				continue
			}
			if s = x.state; s == Primed && !slices.ContainsFunc(ops, func(o ledger.Operation) bool { return b.cure(o, now) != nil }) {
				s = ReadyForPaint
			}
		}
		return s
	}
	titles, name := map[string]string{}, map[string]string{}
	for _, p := range q.Pieces {
		titles[p.Label], name[p.Label] = cmp.Or(p.Title, p.Piece), p.Piece+" "+string(p.Side)
		if p.Side != foam.NoSide {
			titles[p.Label] += ", " + string(p.Side)
		}
	}
	for _, a := range q.Work.Assemblies {
		v := Assembly{Title: a.Title}
		for _, label := range a.Pieces {
			s := state(label)
			i := slices.IndexFunc(v.Pieces, func(g PieceGroup) bool { return g.State == s && name[g.Labels[0]] == name[label] })
			if i < 0 {
				v.Pieces = append(v.Pieces, PieceGroup{Title: cmp.Or(titles[label], label), State: s, Labels: []string{label}})
				continue
			}
			v.Pieces[i].Labels = append(v.Pieces[i].Labels, label)
		}
		out = append(out, v)
	}
	return out
}

// Document asks for a file of a commission: the paper of a revision, one of its pictures, or one that the client sent.
type Document struct {
	Of
	Revision int
	Picture  int // of the revision, from 1; 0: its paper
	Sent     int // of those the client sent, from 1; 0: none
}

func documentOf(j *job, c ledger.Commission, a Document) (f File, err error) {
	switch {
	case a.Sent > 0:
		f, err = j.t.Picture(c.ID, a.Sent)
	case a.Picture > 0:
		f, err = j.t.RevisionPicture(c.ID, a.Revision, a.Picture)
	default:
		heads, err := j.t.RevisionHeads(c.ID)
		if err != nil {
			return f, err
		}
		if !slices.ContainsFunc(heads, func(r ledger.RevisionHead) bool { return r.Revision == a.Revision && !r.IssuedAt.IsZero() }) {
			return f, &Refusal{Kind: NoDocument, Commission: c}
		}
		f.Name, f.MIME = fmt.Sprintf("%s-%d.pdf", c.ID, a.Revision), "application/pdf"
		f.Data, _, err = j.t.PDF(c.ID, a.Revision)
		return f, err
	}
	if errors.Is(err, ledger.ErrNone) {
		err = &Refusal{Kind: NoDocument, Commission: c}
	}
	return f, err
}

package shop

import (
	"errors"
	"fmt"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
)

// Ordered looks at what the client of a commission is shown of it: what is ordered, how it stands, and its quote.
type Ordered struct{ Of }

// OrderSheet is a commission as its client is shown it.
type OrderSheet struct {
	Standing
	Items    []quote.Item
	Pictures int               // reference pictures given
	Request  ledger.Request    // of the revision that is being worked out, or was last
	Quote    ledger.Revision   // as last quoted; Revision 0: none was
	Before   ledger.Revision   // quoted before that, for what differs; the same
	Promise  ledger.Promise    // that stands; empty: none does
	Approval ledger.Approval   // the same
	Change   map[string]string // what was asked to be changed of the quote and not understood, by field
}

func ordered(j *job, c ledger.Commission, _ Ordered) (o OrderSheet, err error) {
	none := func(err error) error {
		if errors.Is(err, ledger.ErrNone) {
			return nil
		}
		return err
	}
	if o.Standing, err = j.stands(c); err != nil {
		return o, err
	}
	if o.Items, err = j.t.Items(c.ID); err != nil {
		return o, err
	}
	if o.Pictures, err = j.t.PictureCount(c.ID); err != nil {
		return o, err
	}
	if o.Promise, err = j.t.StandingPromise(c.ID); none(err) != nil {
		return o, err
	}
	if o.Approval, err = j.t.Approval(c.ID); none(err) != nil {
		return o, err
	}
	if c.Revision > 0 {
		if o.Request, err = j.t.LastRequest(c.ID, c.Revision); none(err) != nil {
			return o, err
		}
	}
	for n := c.Revision; n > 0 && o.Before.Revision == 0; n-- {
		rev, err := j.issued(c.ID, n)
		switch {
		case err != nil:
			return o, err
		case rev.IssuedAt.IsZero():
		case o.Quote.Revision == 0:
			o.Quote = rev
		default:
			o.Before = rev
		}
	}
	o.Change = changeTyped(c)
	return o, nil
}

// Paper looks at the printed quote of a revision.
type Paper struct{ OfRevision }

// QuotePaper is the PDF of a quote.
type QuotePaper struct {
	Commission ledger.Commission
	Name       string
	PDF        []byte
}

func paper(j *job, c ledger.Commission, a Paper) (QuotePaper, error) {
	o := QuotePaper{Commission: c, Name: fmt.Sprintf("quote-%s-r%d.pdf", c.ID, a.Revision)}
	rev, err := j.issued(c.ID, a.Revision)
	if errors.Is(err, ledger.ErrNone) || err == nil && rev.IssuedAt.IsZero() {
		return o, &Refusal{Kind: NoRevision, Commission: c, Revision: a.Revision}
	}
	if err != nil {
		return o, err
	}
	o.PDF, _, err = j.t.PDF(c.ID, a.Revision)
	return o, err
}

// Photograph looks at a reference picture of a commission, by its number from 1.
type Photograph struct {
	Of
	N int
}

func photograph(j *job, c ledger.Commission, a Photograph) (chat.File, error) {
	f, err := j.t.Picture(c.ID, a.N)
	if errors.Is(err, ledger.ErrNone) {
		err = &Refusal{Kind: NoPictures, Commission: c}
	}
	return f, err
}

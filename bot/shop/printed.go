package shop

import (
	"context"
	"errors"
	"net/url"
	"slices"
	"strings"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/document"
	"benchbell/quote/plan"
)

// Traveller looks at the sheet that goes through the shop with a commission. Desk is the address of the desk, to which its code leads;
// empty: it has none.
type Traveller struct {
	Of
	Desk string
}

// Labels looks at the labels of a commission's box and pieces.
type Labels struct {
	Of
	Desk string
	Size document.LabelSize // zero: the usual one
}

// OffcutLabels looks at the labels of offcuts on the rack.
type OffcutLabels struct {
	Offcuts []string // their numbers; none: all
	Desk    string
	Size    document.LabelSize // zero: the usual one
}

// Printed is something to print.
type Printed struct {
	Commission ledger.Commission // none: it is of no one's
	File       quote.File
}

// Addresses of the desk's pages that codes lead to.
const (
	commissionPage = "/to/commission?of="
	rackPage       = "/to/rack?of="
)

func pageAt(desk, page, of string) string {
	if desk == "" {
		return ""
	}
	return desk + page + url.QueryEscape(of)
}

// atWorkOf is a commission as it stands in the plan.
func (j *job) atWorkOf(c ledger.Commission) (w document.AtWork, err error) {
	rev, err := j.cutFrom(c)
	if err != nil {
		return w, err
	}
	ops, err := j.t.Operations(c.ID)
	if err != nil {
		return w, err
	}
	w = document.AtWork{Snapshot: rev.Snapshot, Quote: rev.Quote, Done: map[string]bool{}, Promise: c.Promise}
	for _, o := range ops {
		w.Operations = append(w.Operations, plan.Scheduled{ID: o.Op, Title: o.Title, Group: o.Group, Kind: o.Kind,
			Start: o.Start, End: o.End, Spans: o.Spans, Resources: o.Resources})
		w.Done[o.Op] = o.State == ledger.Done
	}
	return w, nil
}

// printing prepares what is printed of a commission.
func printing[A any](make func(A, document.AtWork) (quote.File, error)) func(context.Context, *Shop, Call, A, reading) (Printed, error) {
	return func(_ context.Context, _ *Shop, _ Call, a A, read reading) (o Printed, err error) {
		var w document.AtWork
		if err = read(func(j *job, c ledger.Commission) error {
			o.Commission = c
			w, err = j.atWorkOf(c)
			return err
		}); err != nil {
			return o, err
		}
		if o.File, err = make(a, w); err != nil {
			return o, &Refusal{Kind: NotPrintable, Commission: o.Commission, Cause: err}
		}
		return o, fitting([]quote.File{o.File})
	}
}

func makeTraveller(a Traveller, w document.AtWork) (quote.File, error) {
	return document.Traveller(w, pageAt(a.Desk, commissionPage, string(a.Commission)))
}

func makeLabels(a Labels, w document.AtWork) (quote.File, error) {
	return document.PieceLabels(w, pageAt(a.Desk, commissionPage, string(a.Commission)), sized(a.Size))
}

// sized is the usual size where none is said.
func sized(s document.LabelSize) document.LabelSize {
	if s.Width == 0 && s.Height == 0 {
		s.Width, s.Height = document.UsualLabel.Width, document.UsualLabel.Height
	}
	return s
}

func makeOffcutLabels(_ context.Context, s *Shop, _ Call, a OffcutLabels, read reading) (o Printed, err error) {
	var rack []ledger.Offcut
	if err = read(func(j *job, _ ledger.Commission) error {
		if len(a.Offcuts) == 0 {
			rack, err = j.t.Rack()
			return err
		}
		for _, id := range a.Offcuts {
			x, err := j.t.Offcut(strings.ToUpper(OneLine(id)))
			if errors.Is(err, ledger.ErrNone) {
				return &Refusal{Kind: NoOffcut, Name: OneLine(id)}
			}
			if err == nil {
				err = offRack(x)
			}
			if err != nil {
				return err
			}
			rack = append(rack, x)
		}
		return nil
	}); err != nil {
		return o, err
	}
	var stock []quote.Offcut
	for _, x := range rack {
		stock = append(stock, x.Stock())
	}
	at := pageAt(a.Desk, rackPage, "")
	last := slices.MaxFunc(append(rack, ledger.Offcut{}), func(a, b ledger.Offcut) int { return a.At.Compare(b.At) }).At
	if o.File, err = document.OffcutLabels(s.cfg.Studio(), stock, last, at, sized(a.Size)); err != nil {
		return o, &Refusal{Kind: NotPrintable, Cause: err}
	}
	return o, fitting([]quote.File{o.File})
}

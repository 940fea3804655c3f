package engine

import (
	"context"
	"errors"
	"slices"
	"strings"

	"benchbell/quote"
	"benchbell/quote/breakdown"
	"benchbell/quote/labour"
	"benchbell/quote/price"
)

// cost works out the work, and what it and the material cost.
func (m *making) cost(context.Context) error {
	if err := m.breakDown(); err != nil {
		return err
	}
	q := &m.quote
	bill := m.bill()
	var err error
	if q.Estimate, err = m.snapshot.Studio.Prices.Estimate(bill); err != nil {
		return err
	}
	var times []labour.Time
	for _, o := range q.Work.Operations {
		q.Minutes.Low += o.Time.Low
		q.Minutes.Likely += o.Time.Likely
		q.Minutes.High += o.Time.High
		times = append(times, o.Time)
	}
	expected, _ := labour.Sum(times)
	q.Hours = expected / 60
	q.Grams = massOf(q, m.snapshot, bill)
	q.Parcel = parcelOf(q, m.snapshot)
	return nil
}

// breakDown works out the operations.
func (m *making) breakDown() error {
	finish, err := m.snapshot.FinishOrdered()
	if err != nil {
		return err
	}
	var as []quote.Assembly
	for _, x := range m.ordered {
		as = append(as, breakdown.Measure(x))
	}
	m.quote.Work, m.charges, err = breakdown.Make(m.snapshot.Studio, finish, as)
	return err
}

// bill is everything that is charged.
func (m *making) bill() price.Bill {
	bill := price.Bill{Liquids: m.charges.Liquids, Labour: m.charges.Labour}
	for _, sh := range m.snapshot.Studio.Prices.Sheets {
		use := price.SheetUse{Key: sh.Key}
		for _, l := range m.quote.Sheets {
			if l.Layout.Sheet == sh.Key {
				use.Shares = append(use.Shares, l.Layout.Used)
			}
		}
		if len(use.Shares) > 0 {
			bill.Sheets = append(bill.Sheets, use)
		}
	}
	for _, g := range m.quote.Graded {
		for _, h := range g.Hardware {
			i := slices.IndexFunc(bill.Hardware, func(u price.HardwareUse) bool { return u.Key == h.Kind })
			if i < 0 {
				i = len(bill.Hardware)
				bill.Hardware = append(bill.Hardware, price.HardwareUse{Key: h.Kind})
			}
			bill.Hardware[i].Count += h.Count
			bill.Hardware[i].Length += h.Length
		}
	}
	slices.SortStableFunc(bill.Hardware, func(a, b price.HardwareUse) int { return strings.Compare(a.Key, b.Key) })
	return bill
}

var errOther = errors.New("the quote does not belong to this snapshot: it has fewer graded sets or pieces than were ordered")

// Breakdown works out the work of a quote made before quotes stored theirs. The quote must be the one computed from the
// snapshot.
func Breakdown(s quote.Snapshot, q quote.Quote) (quote.Breakdown, error) {
	m := &making{snapshot: s}
	if err := m.parse(); err != nil {
		return quote.Breakdown{}, err
	}
	// Use the quote's own pieces: this release might grade them differently.
	graded, pieces := q.Graded, q.Pieces
	for _, it := range s.Items {
		set := m.sets[it.Set]
		sides, err := units(it, set)
		if err != nil {
			return quote.Breakdown{}, err
		}
		if len(graded) < len(sides) {
			return quote.Breakdown{}, errOther
		}
		x := breakdown.Ordered{Number: len(m.ordered) + 1, Title: it.Named(set.Title), Steps: set.Operations, Finishes: set.Finishes, Graded: graded[:len(sides)]}
		graded = graded[len(sides):]
		for _, g := range x.Graded {
			if len(pieces) < len(g.Pieces) {
				return quote.Breakdown{}, errOther
			}
			for i := range g.Pieces {
				x.Labels = append(x.Labels, pieces[i].Label)
			}
			pieces = pieces[len(g.Pieces):]
		}
		m.ordered = append(m.ordered, x)
	}
	err := m.breakDown()
	return m.quote.Work, err
}

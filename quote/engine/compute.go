// Package engine makes quotes: a snapshot of everything a quote depends on goes in, and out comes the quote with graded
// pieces, cut lists on real sheets, cost, hours, a plan with its cures and a delivery date, and the PDF.
//
// It combines the packages beside it (pattern, cutting, breakdown, price, plan, document) and is pure: no clock, no
// network, no files, no randomness but the snapshot's seed. The same snapshot gives the same bytes, PDF and pictures
// included.
//
// It refuses a snapshot of another version, an unknown set, finish or material, and a missing measurement, in one sentence
// that says what would be right. What always holds: every piece of every set is on exactly one sheet, the lines add up to
// the total, every operation of the plan comes after what it needs, and the quote contains the work breakdown that was
// planned and charged.
package engine

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	"benchbell/quote"
	"benchbell/quote/breakdown"
	"benchbell/quote/cutting"
	"benchbell/quote/document"
	"benchbell/quote/pattern"
	"benchbell/quote/pdf"
)

// making is a quote in the making.
type making struct {
	snapshot quote.Snapshot
	progress quote.Progress
	sets     map[string]*pattern.Set
	ordered  []breakdown.Ordered
	charges  breakdown.Charges
	quote    quote.Quote
}

// Compute makes the quote. progress, which may be nil, receives the stage and the share of it done (0..1), from this
// goroutine. Compute returns ctx's error if ctx ends first; any other error is a sentence fit to be shown.
func Compute(ctx context.Context, s quote.Snapshot, progress quote.Progress) (quote.Quote, error) {
	return compute(ctx, s, progress, true)
}

// Reckon is Compute without the stage that prints: pieces, sheets, price, work, plan and date are the same, and the quote has no
// paper, cut list, summary or pictures. It is for asking what would be, where nobody reads the quote.
func Reckon(ctx context.Context, s quote.Snapshot) (quote.Quote, error) {
	return compute(ctx, s, nil, false)
}

// Dated is a reckoned quote with the plan and the date of another snapshot of the same order: what Reckon gives for that one where
// body, items, finish, prices, rates and seed are the same.
func Dated(ctx context.Context, s quote.Snapshot, q quote.Quote) (quote.Quote, error) {
	q.Commission, q.Revision, q.Issued, q.Remarks = s.Commission, s.Revision, s.At, nil
	m := &making{snapshot: s, progress: func(quote.Step) {}, quote: q}
	err := m.plan(ctx)
	return m.quote, err
}

// Work is the work of what a snapshot orders, without its sheets, price and date. It takes milliseconds.
func Work(ctx context.Context, s quote.Snapshot) (quote.Breakdown, error) {
	m := &making{snapshot: s, progress: func(quote.Step) {}}
	if err := m.scale(ctx); err != nil {
		return quote.Breakdown{}, err
	}
	err := m.breakDown()
	return m.quote.Work, err
}

func compute(ctx context.Context, s quote.Snapshot, progress quote.Progress, paper bool) (quote.Quote, error) {
	if progress == nil {
		progress = func(quote.Step) {}
	}
	if s.Version != quote.Version {
		return quote.Quote{}, fmt.Errorf("this snapshot has version %d but this program computes version %d; run the same release of bot and workers", s.Version, quote.Version)
	}
	m := &making{snapshot: s, progress: progress, quote: quote.Quote{Commission: s.Commission, Revision: s.Revision, Issued: s.At}}
	for _, x := range []struct {
		stage quote.Stage
		do    func(context.Context) error
	}{
		{quote.Scaling, m.scale}, {quote.Nesting, m.nest}, {quote.Costing, m.cost}, {quote.Planning, m.plan}, {quote.Printing, m.print},
	} {
		if x.stage == quote.Printing && !paper {
			continue
		}
		progress.At(x.stage, 0)
		if err := x.do(ctx); err != nil {
			return quote.Quote{}, err
		}
		progress.At(x.stage, 1)
	}
	return m.quote, nil
}

// nest lays the pieces out on sheets.
func (m *making) nest(ctx context.Context) error {
	return cutting.Nest(ctx, &m.quote, m.snapshot, func(share, used float64) {
		m.progress(quote.Step{Stage: quote.Nesting, Share: share, Used: used})
	})
}

// remark lists what is to be told of the plan and the pieces.
func (m *making) remark() {
	q := &m.quote
	q.Remarks = append(q.Remarks, q.Plan.Broken...)
	for _, g := range q.Graded {
		for _, n := range g.Notes {
			q.Remarks = append(q.Remarks, strings.TrimSpace(g.Title+" "+string(g.Side))+": "+n)
		}
	}
}

// late reports whether the promised day is after the day asked for, both as "2026-12-18"; if no day was asked for, nothing
// is late.
func late(promise, wanted string) bool { return wanted != "" && promise > wanted }

// print makes the pictures, the cut list, the summary and the PDF.
func (m *making) print(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	q := &m.quote
	q.CutList = cutting.CutList(*q)
	q.Summary = document.Summary(*q, m.snapshot, m.sets)
	doc, pictures, err := document.Make(*q, m.snapshot, m.sets)
	if err != nil {
		return err
	}
	q.Pictures = pictures
	if q.PDF, err = pdf.Print(doc); err != nil {
		return fmt.Errorf("the quote could not be printed: %w", err)
	}
	sum := sha256.Sum256(q.PDF)
	q.SHA256 = hex.EncodeToString(sum[:])
	return nil
}

package desk

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/cutting"
)

// cutting makes what the maker cuts from: the paper pattern, and the cut files of every sheet in one archive. They are made
// from the revision that holds now, anew each time: the same revision gives the same bytes.
func (d *Desk) cutting(ctx context.Context, in chat.Incoming) (*chat.Reply, error) {
	var rev ledger.Revision
	var day ledger.Cutting
	err := d.ledger.Tx(ctx, func(t *ledger.Tx) error {
		w := &work{d: d, t: t, in: in}
		c, err := w.named(in.Values["number"])
		if err != nil {
			return err
		}
		if rev, err = w.cutFrom(c); err != nil {
			return err
		}
		if day, err = t.CuttingOf(c.ID); errors.Is(err, ledger.ErrNone) {
			return nil
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	pdf, err := cutting.PaperPattern(rev.Snapshot, rev.Quote, strings.TrimSpace(in.Values["paper"]))
	if err != nil {
		return nil, &chat.Refusal{Say: err.Error()}
	}
	cuts, err := cutting.CutFiles(rev.Snapshot, rev.Quote)
	if err != nil {
		return nil, &chat.Refusal{Say: err.Error()}
	}
	zip, err := cutting.Archive(fmt.Sprintf("%s-r%d-cut-files.zip", rev.Commission, rev.Revision), cuts, rev.Snapshot.At)
	if err != nil {
		return nil, err
	}
	rep := chat.Reply{Text: fmt.Sprintf("*%s, revision %d*: the pattern at 1:1 and %s for the cutter. Print the pattern at 100 %% and measure its check squares before cutting.",
		rev.Commission, rev.Revision, many(len(cuts), "file"))}
	if rev.State != ledger.RevApproved {
		rep.Text += " *It is not approved yet.*"
	}
	if day.ID != "" {
		rep.Text += fmt.Sprintf(" *Its foam was cut on %s, with %s, after other layouts.*", d.when(day.At), day.ID)
	}
	for _, f := range []quote.File{pdf, zip} {
		if len(f.Data) > chat.MaxFile {
			return nil, tooLarge(f)
		}
		rep.Files = append(rep.Files, attached(f))
	}
	return &rep, nil
}

// noteCutting gives the maker what a commission is cut from, unless a cutting day has its layouts.
func (w *work) noteCutting(c ledger.Commission) error {
	key := fmt.Sprintf("%s/note/cutting", c.ID)
	day, err := w.t.CuttingOf(c.ID)
	if err == nil {
		return w.note(key, fmt.Sprintf("%s · %s: cut together with others, after the layouts of %s and no others.", c.ID, c.ClientName, day.ID), nil, nil)
	}
	if !errors.Is(err, ledger.ErrNone) {
		return err
	}
	files, err := w.cuttingFiles(c)
	if err != nil {
		return err
	}
	return w.note(key, fmt.Sprintf("%s · %s: cut list and layouts.", c.ID, c.ClientName), nil, files)
}

// cuttingFiles are what the maker cuts from: the cut list and a picture of each sheet.
func (w *work) cuttingFiles(c ledger.Commission) ([]chat.File, error) {
	rev, err := w.t.Revision(c.ID, c.Revision)
	if err != nil {
		return nil, err
	}
	files := []chat.File{{Name: fmt.Sprintf("cut-list-%s-r%d.csv", c.ID, c.Revision), MIME: "text/csv",
		Alt: fmt.Sprintf("Cut list of %s, revision %d", c.ID, c.Revision), Data: []byte(rev.Quote.CutList)}}
	pics, err := w.t.RevisionPictures(c.ID, c.Revision)
	if err != nil {
		return nil, err
	}
	for _, p := range pics {
		if strings.Contains(p.Name, "-sheet-") && len(files) <= maxShown {
			files = append(files, p)
		}
	}
	return files, nil
}

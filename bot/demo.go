package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/sync/errgroup"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/cutting"
	"benchbell/quote/settings"
)

// The demo's clock begins on a fixed Monday morning, so that every run prints the same dates.
var demoStart = time.Date(2026, 11, 2, 9, 10, 0, 0, time.UTC)

// demoPatience is how long the demo waits for anything before it says that it is stuck.
const demoPatience = 2 * time.Minute

// demo runs one invented commission from first message to handover over the embedded stack: real queue, real ledger
// in a temporary folder, real engine. Only the people and their clock are made up.
func demo(ctx context.Context, out string, stdout io.Writer) error {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return fmt.Errorf("the folder %s for the results cannot be made; name another with -out: %w", out, err)
	}
	data, err := os.MkdirTemp("", "benchbell-demo-")
	if err != nil {
		return fmt.Errorf("no temporary folder for the demo's ledger: %w", err)
	}
	defer os.RemoveAll(data)
	led, err := ledger.Open(ctx, filepath.Join(data, "ledger.db"))
	if err != nil {
		return err
	}
	defer led.Close()

	ctx, stop := context.WithCancel(ctx)
	defer stop()
	g, ctx := errgroup.WithContext(ctx)
	none := func(string) string { return "" }
	q, err := openQueue(ctx, g, none, slog.New(slog.DiscardHandler))
	if err != nil {
		return err
	}
	defer q.Close()
	s := newStage(stdout, demoStart)
	o, err := newOffice(led, q, []chat.Transport{s}, settings.Demo())
	if err != nil {
		return err
	}
	mara := chat.Person{ID: "demo:mara", Name: "Mara (studio)", Studio: true}
	o.timed(s.now)
	o.desk.Boards = []chat.PersonID{mara.ID}
	// Deadlines are made on the demo's clock and kept on the machine's, which has gone on since.
	o.shop.Patience = max(0, time.Since(demoStart)) + time.Hour
	d := o.open()
	s.desk = d
	g.Go(func() error { return converse(ctx, new(errgroup.Group), d, []chat.Transport{s}) })

	playErr := play(ctx, s, led, mara, out)
	stop()
	if err := g.Wait(); err != nil && !errors.Is(err, context.Canceled) && playErr == nil {
		return err
	}
	if playErr != nil {
		return playErr
	}
	abs, err := filepath.Abs(out)
	if err != nil {
		abs = out
	}
	fmt.Fprintf(stdout, "\nquote, cut list, cut layouts, cut files, paper pattern and plan are in %s\n", abs)
	return nil
}

// play is the invented scenario: a client who measures in two unit systems, slips once, changes her mind once and comes to both
// fittings, and a studio that works the job off.
func play(ctx context.Context, s *stage, led *ledger.Ledger, mara chat.Person, out string) error {
	ilka := chat.Person{ID: "demo:ilka", Name: "Ilka Brandt"}
	zone, err := time.LoadLocation(settings.Demo().Calendar.Zone)
	if err != nil {
		return err
	}
	steps := []func() error{
		func() error { return s.command(ctx, ilka, "commission", nil) },
		func() error { return s.pick(ctx, ilka, "Pattern sets", "forearm-cuff", "shoulder-cap") },
		func() error { return s.pick(ctx, ilka, "Finish", "painted") },
		func() error {
			return s.form(ctx, ilka, "Details", map[string]string{"wanted": "18 December 2026", "clothing": "2 mm", "notes": "Weathered bronze, scratches at the edges. Für den Wintermarkt – Größe bitte prüfen!"})
		},
		func() error { return s.measure(ctx, ilka, "Go on") },
		func() error { return s.press(ctx, ilka, "These are right") },
		func() error { return s.await(ctx, "Approve") },
		func() error {
			return s.form(ctx, ilka, "Ask for a change", map[string]string{"what": "A dark wash in the recesses, please", "finish": "weathered"})
		},
		func() error { return s.awaitText(ctx, "revision 2", "Approve") },
		func() error { return save(ctx, led, "C0001", out) },
		func() error { return s.press(ctx, ilka, "Approve") },
		func() error { return s.command(ctx, ilka, "where", nil) },
		func() error { return s.advance(ctx, 26*time.Hour) },
		func() error { return s.command(ctx, mara, "orders", nil) },
		func() error { return s.press(ctx, mara, "Deposit received") },
		func() error { return s.work(ctx, mara, ilka) },
		func() error { return s.collected(ctx, ilka, zone) },
		func() error { return s.command(ctx, ilka, "where", nil) },
		func() error { return s.press(ctx, mara, "Handed over") },
		func() error { return s.settle(ctx) },
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// What the client types for a measurement, in the ways people write; the first try at forearm-girth could be read
// two ways and is asked again.
var demoTyped = map[string][]string{
	"wrist-girth": {"17,4"}, "forearm-girth": {"1,265 mm", "26,5 cm"}, "elbow-wrist-length": {"25.5cm"},
	"upper-arm-girth": {`12 3/8"`}, "shoulder-elbow-length": {"34,5 cm"}, "biacromial-breadth": {"38"},
	"chest-girth": {"97,5 cm"}, "waist-girth": {"81"}, "neck-girth": {"36"}, "front-waist-length": {"41,5"},
}

// save writes what the client got, and the cut list and the plan behind it, to the folder.
func save(ctx context.Context, led *ledger.Ledger, id quote.CommissionID, out string) error {
	var rev ledger.Revision
	var pdf []byte
	var pictures []chat.File
	err := led.Tx(ctx, func(t *ledger.Tx) error {
		c, err := t.Commission(id)
		if err != nil {
			return err
		}
		if rev, err = t.Revision(id, c.Revision); err != nil {
			return err
		}
		if pictures, err = t.RevisionPictures(id, c.Revision); err != nil {
			return err
		}
		pdf, _, err = t.PDF(id, c.Revision)
		return err
	})
	if err != nil {
		return err
	}
	plan, err := json.MarshalIndent(rev.Quote.Plan, "", "  ")
	if err != nil {
		return err
	}
	files := append(pictures, chat.File{Name: "quote.pdf", Data: pdf}, chat.File{Name: "cut-list.csv", Data: []byte(rev.Quote.CutList)},
		chat.File{Name: "plan.json", Data: append(plan, '\n')})
	cuts, err := cutting.CutFiles(rev.Snapshot, rev.Quote)
	if err != nil {
		return err
	}
	paper, err := cutting.PaperPattern(rev.Snapshot, rev.Quote, "")
	if err != nil {
		return err
	}
	for _, f := range append(cuts, paper) {
		files = append(files, chat.File{Name: f.Name, Data: f.Data})
	}
	for _, f := range files {
		if err := os.WriteFile(filepath.Join(out, f.Name), f.Data, 0o644); err != nil {
			return fmt.Errorf("the results cannot be written to %s; name another folder with -out: %w", out, err)
		}
	}
	return nil
}

package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"runtime/debug"
	"time"

	"benchbell/bot/browser"
	"benchbell/bot/chat"
	"benchbell/bot/desk"
	"benchbell/bot/ledger"
	"benchbell/bot/rehearsal"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/quote"
)

// fill leaves a shop that is made up in a folder, to be looked at.
func fill(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	fs := flag.NewFlagSet("fill", flag.ContinueOnError)
	fs.SetOutput(stderr)
	f := rehearsal.Filling{}
	fs.IntVar(&f.Commissions, "commissions", 100, fmt.Sprintf("how many, 1 to %d", rehearsal.MaxFilled))
	fs.Uint64Var(&f.Seed, "seed", 1, "of what is made up; the same seed until the same moment gives the same shop")
	data := fs.String("data", "", "folder for the ledger; BENCHBELL_DATA then names it")
	until := fs.String("until", "", "date at noon of which the shop is left, such as 2026-11-30 (default: now)")
	file := fs.String("studio", "", "studio.toml to be filled (default: the invented demo studio)")
	if err := fs.Parse(args); err != nil {
		if errors.Is(err, flag.ErrHelp) {
			return nil
		}
		return fmt.Errorf("the flags of fill were not understood; see bot fill -h: %w", err)
	}
	switch {
	case fs.NArg() > 0:
		return fmt.Errorf("fill takes no %q; see bot fill -h", fs.Arg(0))
	case *data == "":
		return errors.New("fill needs a folder for the ledger; name one with -data")
	}
	var err error
	if f.Studio, err = studioFrom(*file, "name a studio.toml with -studio"); err != nil {
		return err
	}
	zone, err := time.LoadLocation(f.Studio.Calendar.Zone)
	if err != nil {
		return fmt.Errorf("the studio's time zone %q is not known: %w", f.Studio.Calendar.Zone, err)
	}
	if f.Until = clock(); *until != "" {
		day, err := time.ParseInLocation(time.DateOnly, *until, zone)
		if err != nil {
			return fmt.Errorf("%q is not a date; write it like 2026-11-30: %w", *until, err)
		}
		f.Until = day.Add(12 * time.Hour)
	}
	path := filepath.Join(*data, "ledger.db")
	if _, err := os.Stat(path); err == nil {
		return fmt.Errorf("%s has a ledger already; name another folder with -data", *data)
	}
	if err := os.MkdirAll(*data, 0o700); err != nil {
		return fmt.Errorf("the folder %s cannot be made; name another with -data: %w", *data, err)
	}
	led, err := ledger.OpenScratch(ctx, path)
	if err != nil {
		return err
	}
	defer led.Close()
	debug.SetGCPercent(lavish)
	began := time.Now()
	f.Ledger, f.Door = led, chat.Scheme(string(browser.StudioID))
	var told *desk.Desk
	f.Listen = func(s *shop.Shop, now func() time.Time) error {
		b, err := browser.New(browser.Options{Listen: "127.0.0.1:0", Store: shelf{led.Pages()}, Log: slog.New(slog.DiscardHandler), Studio: f.Studio.Name, Zone: zone, Now: now})
		if err != nil {
			return err
		}
		// It is a store of threads here: nobody comes in while the clock runs.
		if err := b.Close(); err != nil {
			return err
		}
		told = desk.New(desk.Config{Shop: s, Ledger: led, Studio: func() quote.Studio { return f.Studio }, Queue: idle{}, Transports: []chat.Transport{b}, Now: now})
		return nil
	}
	f.Daily = func(ctx context.Context) error { return told.Tick(ctx) }
	if err := rehearsal.Fill(ctx, f); err != nil {
		if ctx.Err() != nil {
			return fmt.Errorf("filling was stopped; delete %s: %w", *data, ctx.Err())
		}
		return err
	}
	_, err = fmt.Fprintf(stdout, "%d commissions are in %s, after %s; look at them with BENCHBELL_DATA=%s go run ./bot\n", f.Commissions, *data, time.Since(began).Round(time.Second), *data)
	return err
}

// idle is the queue of a shop that is made up: what the ledger asks for is answered in this process.
type idle struct{}

func (idle) Send(context.Context, jobs.Request) error { return nil }

func (idle) Work(ctx context.Context, _ jobs.Computer) error { return wait(ctx) }

func (idle) Answers(ctx context.Context, _ func(context.Context, jobs.Answer) error) error {
	return wait(ctx)
}

func (idle) Close() error { return nil }

func wait(ctx context.Context) error {
	<-ctx.Done()
	return ctx.Err()
}

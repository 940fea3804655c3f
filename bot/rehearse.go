package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"

	"benchbell/bot/rehearsal"
)

// lavish is for a program that ends soon: memory is swept up a quarter as often, which makes a rehearsal a tenth faster.
const lavish = 400

// rehearse plays quarters of a studio that are made up, prints what came of them and writes it to a folder.
func rehearse(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	fs := flag.NewFlagSet("rehearse", flag.ContinueOnError)
	fs.SetOutput(stderr)
	s := rehearsal.Settings{}
	fs.IntVar(&s.Weeks, "weeks", 13, fmt.Sprintf("weeks in which clients ask, 1 to %d", rehearsal.MaxWeeks))
	fs.Uint64Var(&s.Seed, "seed", 1, "the quarter to be played; the same seed gives the same quarter")
	fs.IntVar(&s.Seeds, "seeds", 1, fmt.Sprintf("how many quarters, each with the next seed, 1 to %d", rehearsal.MaxSeeds))
	fs.IntVar(&s.Load, "load", rehearsal.DefaultLoad, "how much of the makers' hours the work of those who accept is to take, in percent")
	fs.BoolVar(&s.AnotherMaker, "another-maker", false, "play the same clients once more with one more maker")
	out := fs.String("out", "", "folder for the results")
	file := fs.String("studio", "", "studio.toml to be rehearsed (default: the invented demo studio)")
	examples := fs.Bool("examples", false, "print examples of what contradicted what was said before")
	if err := fs.Parse(args); err != nil {
		if errors.Is(err, flag.ErrHelp) {
			return nil
		}
		return fmt.Errorf("the flags of rehearse were not understood; see bot rehearse -h: %w", err)
	}
	switch {
	case fs.NArg() > 0:
		return fmt.Errorf("rehearse takes no %q; see bot rehearse -h", fs.Arg(0))
	case *out == "":
		return errors.New("rehearse needs a folder for its results; name one with -out")
	}
	var err error
	if s.Studio, err = studioFrom(*file, "name a studio.toml with -studio"); err != nil {
		return err
	}
	if err := os.MkdirAll(*out, 0o755); err != nil {
		return fmt.Errorf("the folder %s for the results cannot be made; name another with -out: %w", *out, err)
	}
	if s.Scratch, err = os.MkdirTemp("", "benchbell-rehearsal-"); err != nil {
		return fmt.Errorf("no temporary folder for the ledgers of the rehearsal: %w", err)
	}
	defer os.RemoveAll(s.Scratch)
	debug.SetGCPercent(lavish)
	r, err := rehearsal.Run(ctx, s)
	switch {
	case ctx.Err() != nil:
		return fmt.Errorf("the rehearsal was stopped and nothing is written; give it more time, or fewer -weeks: %w", ctx.Err())
	case err != nil:
		return err
	}
	files, err := r.Files()
	if err != nil {
		return err
	}
	for _, f := range files {
		if err := os.WriteFile(filepath.Join(*out, f.Name), f.Data, 0o644); err != nil {
			return fmt.Errorf("the results cannot be written to %s; name another folder with -out: %w", *out, err)
		}
	}
	if _, err := io.WriteString(stdout, r.Table()); err != nil {
		return err
	}
	if *examples {
		for _, e := range r.Broken() {
			fmt.Fprintln(stdout, e)
		}
	}
	abs, err := filepath.Abs(*out)
	if err != nil {
		abs = *out
	}
	_, err = fmt.Fprintf(stdout, "\ncommissions, quarters, a picture and all numbers are in %s\n", abs)
	return err
}

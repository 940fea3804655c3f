package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"benchbell/quote/draw"
	"benchbell/quote/nest"
	"benchbell/quote/nest/lay"
)

// nestDefault is the time for a problem without a budget of its own.
const nestDefault = 10 * time.Second

// nestCall is the parsed command line of worker nest.
type nestCall struct {
	in, out, svg string
	budget       time.Duration
	evaluations  int
	workers      int
	seed         uint64
	gap          float64
	given        map[string]bool // flags that were given
}

func nestFlags(args []string) (nestCall, error) {
	var c nestCall
	fs := flag.NewFlagSet("worker nest", flag.ContinueOnError)
	fs.SetOutput(io.Discard) // the error is returned, and printed once
	fs.StringVar(&c.in, "in", "", "")
	fs.StringVar(&c.out, "out", "", "")
	fs.StringVar(&c.svg, "svg", "", "")
	fs.DurationVar(&c.budget, "budget", 0, "")
	fs.IntVar(&c.evaluations, "evaluations", 0, "")
	fs.IntVar(&c.workers, "workers", nest.DefaultWorkers, "")
	fs.Uint64Var(&c.seed, "seed", 1, "")
	fs.Float64Var(&c.gap, "gap", 0, "")
	if err := fs.Parse(args); err != nil {
		return c, err
	}
	c.given = map[string]bool{}
	fs.Visit(func(f *flag.Flag) { c.given[f.Name] = true })
	switch {
	case c.in == "" || c.out == "" || fs.NArg() > 0:
		return c, errors.New("worker nest takes -in FILE and -out NAME and, optionally, -budget, -evaluations, -workers, -seed, -gap and -svg")
	case c.given["budget"] && c.given["evaluations"]:
		return c, errors.New("worker nest takes either -budget or -evaluations, not both")
	case c.budget < 0 || c.given["budget"] && c.budget == 0:
		return c, fmt.Errorf("a budget of %v is not above 0; give one like 10s", c.budget)
	}
	return c, nil
}

// nestCommand lays a problem out on sheets or a strip and writes the layout in the exchange format; given a folder, each
// problem in it.
func nestCommand(ctx context.Context, args []string, stdout io.Writer) error {
	c, err := nestFlags(args)
	if err != nil {
		return err
	}
	info, err := os.Stat(c.in)
	if err != nil {
		return fmt.Errorf("the input could not be read: %w", err)
	}
	if !info.IsDir() {
		_, err := c.file(ctx, c.in, c.out, c.svg, stdout)
		return err
	}
	return c.folder(ctx, stdout)
}

// folder runs every instance in a folder and writes a table of the results beside the layouts.
func (c nestCall) folder(ctx context.Context, stdout io.Writer) error {
	names, err := instances(c.in, c.out, ".json", ".txt")
	if err != nil {
		return err
	}
	if c.svg != "" {
		if err := os.MkdirAll(c.svg, 0o755); err != nil {
			return fmt.Errorf("the folder for the pictures could not be created: %w", err)
		}
	}
	rows := [][]string{{"instance", "pieces", "sheets", "width", "density", "seconds", "evaluations"}}
	for _, file := range names {
		name := strings.TrimSuffix(file, filepath.Ext(file))
		svg := ""
		if c.svg != "" {
			svg = filepath.Join(c.svg, name+".svg")
		}
		fmt.Fprintf(stdout, "%s: ", name)
		row, err := c.file(ctx, filepath.Join(c.in, file), filepath.Join(c.out, resultOf(file)), svg, stdout)
		if err != nil {
			return err
		}
		rows = append(rows, row)
	}
	return writeSummary(c.out, rows)
}

// file runs one instance and returns its row of the table.
func (c nestCall) file(ctx context.Context, in, out, svg string, stdout io.Writer) ([]string, error) {
	b, err := read(in)
	if err != nil {
		return nil, err
	}
	name := strings.TrimSuffix(filepath.Base(in), filepath.Ext(in))
	e, err := lay.Read(name, b, c.gap)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", in, err)
	}
	p := &e.Problem
	if c.given["workers"] || p.Workers == 0 {
		p.Workers = c.workers
	}
	if c.given["seed"] || p.Seed == 0 {
		p.Seed = c.seed
	}
	if c.given["evaluations"] {
		p.Evaluations = c.evaluations
	}
	start := time.Now()
	var s nest.Solution
	told := start
	progress := func(g nest.Progress) {
		if now := time.Now(); now.Sub(told) >= time.Second && g.Density > 0 {
			told = now
			fmt.Fprintf(stdout, "%.2f %% after %.1f s\n", 100*g.Density, now.Sub(start).Seconds())
		}
	}
	if budget := c.budget; budget > 0 || p.Evaluations == 0 && !c.given["evaluations"] {
		if budget == 0 {
			budget = nestDefault
		}
		s, err = lay.SolveUntil(ctx, *p, func(int) float64 { return time.Since(start).Seconds() / budget.Seconds() }, progress)
	} else {
		s, err = lay.Solve(ctx, *p, progress)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", in, err)
	}
	took := time.Since(start).Seconds()
	if b, err = e.Layouts(s); err != nil {
		return nil, err
	}
	if err := write(out, append(b, '\n')); err != nil {
		return nil, err
	}
	if svg != "" {
		if err := nestPictures(svg, e, s); err != nil {
			return nil, err
		}
	}
	pieces := 0
	for _, l := range s.Layouts {
		pieces += len(l.Placed)
	}
	num := func(v float64, digits int) string { return strconv.FormatFloat(v, 'f', digits, 64) }
	sheets := "1 sheet"
	if len(s.Layouts) != 1 {
		sheets = fmt.Sprintf("%d sheets", len(s.Layouts))
	}
	fmt.Fprintf(stdout, "%s, width %.6g, %.3f %% of the area used, %.1f s, %d evaluations\n",
		sheets, e.Width(s), 100*s.Density, took, s.Evaluations)
	return []string{e.Name, strconv.Itoa(pieces), strconv.Itoa(len(s.Layouts)), num(e.Width(s), 6), num(100*s.Density, 4), num(took, 2), strconv.Itoa(s.Evaluations)}, nil
}

// nestPictures draws each layout; if there are several, a number is put before the file extension.
func nestPictures(name string, e lay.Exchanged, s nest.Solution) error {
	items := map[string]nest.Item{}
	for _, it := range e.Problem.Items {
		items[it.ID] = it
	}
	sheets := map[string]nest.Sheet{}
	for _, k := range e.Problem.Sheets {
		sheets[k.ID] = k
	}
	for i, l := range s.Layouts {
		pic := draw.SheetPicture{
			Title: fmt.Sprintf("%s · %s · sheet %d of %d · %.1f %% used", e.Name, l.Sheet, i+1, len(s.Layouts), 100*l.Used),
			Width: l.Width, Height: l.Height, Edge: sheets[l.Sheet].Outline, Defects: sheets[l.Sheet].Defects,
		}
		if s.Offcut != nil && s.Offcut.Layout == i {
			pic.Offcut = s.Offcut.Shape.Outer
		}
		for _, q := range l.Placed {
			label := q.Item
			if items[q.Item].Demand > 1 {
				label = fmt.Sprintf("%s/%d", q.Item, q.Copy)
			}
			pic.Pieces = append(pic.Pieces, draw.LaidPiece{Label: label, Shape: q.At.Shape(items[q.Item].Shape), Mirrored: q.At.Mirrored, Owner: q.Owner})
		}
		file := name
		if len(s.Layouts) > 1 {
			ext := filepath.Ext(name)
			file = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, ext), i+1, ext)
		}
		scene := draw.Layout(pic)
		if err := write(file, scene.SVG()); err != nil {
			return err
		}
	}
	return nil
}

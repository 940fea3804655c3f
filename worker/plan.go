package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"time"

	"benchbell/quote/plan"
	"benchbell/quote/plan/project"
	"benchbell/quote/plan/schedule"
)

// planSchedules is the default budget.
const planSchedules = 5000

// planCall is the parsed command line of worker plan.
type planCall struct {
	in, out   string
	schedules int
	budget    time.Duration
	seed      uint64
	workers   int
	given     map[string]bool // flags that were given
}

func planFlags(args []string) (planCall, error) {
	var c planCall
	fs := flag.NewFlagSet("worker plan", flag.ContinueOnError)
	fs.SetOutput(io.Discard) // the error is returned, and printed once
	fs.StringVar(&c.in, "in", "", "")
	fs.StringVar(&c.out, "out", "", "")
	fs.IntVar(&c.schedules, "schedules", planSchedules, "")
	fs.DurationVar(&c.budget, "budget", 0, "")
	fs.Uint64Var(&c.seed, "seed", 1, "")
	fs.IntVar(&c.workers, "workers", runtime.GOMAXPROCS(0), "")
	if err := fs.Parse(args); err != nil {
		return c, err
	}
	c.given = map[string]bool{}
	fs.Visit(func(f *flag.Flag) { c.given[f.Name] = true })
	switch {
	case c.in == "" || c.out == "" || fs.NArg() > 0:
		return c, errors.New("worker plan takes -in FILE and -out NAME and, optionally, -schedules, -budget, -seed and -workers")
	case c.given["budget"] && c.given["schedules"]:
		return c, errors.New("worker plan takes either -schedules or -budget, not both")
	case c.given["budget"] && c.budget <= 0:
		return c, fmt.Errorf("a budget of %v is not above 0; give one like 2s", c.budget)
	case c.schedules < 1:
		return c, fmt.Errorf("a budget of %d schedules is not above 0; give one like %d", c.schedules, planSchedules)
	case c.workers < 1 || c.workers > maxWorkers:
		return c, fmt.Errorf("-workers is %d; give a number from 1 to %d", c.workers, maxWorkers)
	}
	return c, nil
}

// planCommand schedules the operations of a problem; or solves a project in an open format, or a folder of them.
func planCommand(ctx context.Context, args []string, stdout io.Writer) error {
	c, err := planFlags(args)
	if err != nil {
		return err
	}
	info, err := os.Stat(c.in)
	if err != nil {
		return fmt.Errorf("the input could not be read: %w", err)
	}
	if info.IsDir() {
		return c.folder(ctx, stdout)
	}
	b, err := read(c.in)
	if err != nil {
		return err
	}
	if bytes.HasPrefix(bytes.TrimSpace(b), []byte("{")) {
		return c.shop(ctx, b, stdout)
	}
	s, err := c.project(ctx, c.in, c.out, c.workers)
	if err != nil {
		return err
	}
	fmt.Fprintln(stdout, s.words())
	return nil
}

// solve plans a problem within the budget of the call: of schedules, with -workers goroutines or the given one; or of time from
// begin on. So many goroutines make no difference to a budget of schedules.
func (c planCall) solve(ctx context.Context, p plan.Problem, begin time.Time, workers int) (plan.Solution, error) {
	o := schedule.Options{Workers: workers}
	if c.budget > 0 {
		// writing takes time too
		end := begin.Add(c.budget - c.budget/50)
		o.Endless, o.Stop = true, func() bool { return !time.Now().Before(end) }
	}
	return o.Solve(ctx, p)
}

// shop plans a problem in our own format.
func (c planCall) shop(ctx context.Context, b []byte, stdout io.Writer) error {
	begin := time.Now()
	p, err := schedule.Decode(b)
	if err != nil {
		return fmt.Errorf("%s: %w", c.in, err)
	}
	if c.given["schedules"] {
		p.Schedules = c.schedules
	}
	if c.given["seed"] {
		p.Seed = c.seed
	}
	s, err := c.solve(ctx, p, begin, c.workers)
	if err != nil {
		return fmt.Errorf("%s: %w", c.in, err)
	}
	if b, err = indent(s); err != nil {
		return err
	}
	if err := write(c.out, b); err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%d operations, planned end %s, done by %s in 8 of 10 runs\n", len(s.Operations),
		s.End.Format("2006-01-02 15:04 MST"), s.P80.Format("2006-01-02 15:04 MST"))
	for _, w := range s.Broken {
		fmt.Fprintln(stdout, "cannot be kept:", w)
	}
	return nil
}

// status is what is known of a project after a search.
type status string

const (
	feasible   status = "feasible"   // a schedule was found
	infeasible status = "infeasible" // proved to have none
	unknown    status = "none"       // neither found nor proved
)

// projectPlan is the schedule of a project as it is written to the file.
type projectPlan struct {
	Makespan   int     `json:"makespan"`
	Start      []int   `json:"start"` // by job in the order of the file, dummies included
	LowerBound int     `json:"lower_bound"`
	Schedules  int     `json:"schedules"`
	Seconds    float64 `json:"seconds"`
	Status     status  `json:"status"`
	Why        string  `json:"why,omitempty"` // if infeasible
	name       string
}

func (s projectPlan) words() string {
	switch s.Status {
	case feasible:
		return fmt.Sprintf("%s: makespan %d, at least %d, %d schedules, %.3f s", s.name, s.Makespan, s.LowerBound, s.Schedules, s.Seconds)
	case infeasible:
		return fmt.Sprintf("%s: no schedule exists: %s", s.name, s.Why)
	default:
		return fmt.Sprintf("%s: no schedule found in %.3f s, nor proof that there is none", s.name, s.Seconds)
	}
}

// project solves one published project.
func (c planCall) project(ctx context.Context, in, out string, workers int) (projectPlan, error) {
	s := projectPlan{name: filepath.Base(in), Start: []int{}}
	b, err := read(in)
	if err != nil {
		return s, err
	}
	begin := time.Now()
	p, err := project.Read(b)
	if err != nil {
		return s, fmt.Errorf("%s: %w", in, err)
	}
	p.Schedules, p.Seed = c.schedules, c.seed
	r, err := c.solve(ctx, p, begin, workers)
	var no *schedule.Impossible
	switch {
	case errors.As(err, &no):
		s.Status, s.Why = infeasible, cmp.Or(project.Clash(b), no.Error())
	case errors.Is(err, schedule.ErrNotFound):
		s.Status = unknown
	case err != nil:
		return s, fmt.Errorf("%s: %w", in, err)
	default:
		s.Start, s.Makespan = project.Starts(p, r)
		s.LowerBound, s.Schedules, s.Status = project.Periods(p, r.LowerBound), r.Schedules, feasible
	}
	s.Seconds = time.Since(begin).Seconds()
	if b, err = json.Marshal(s); err != nil {
		return s, err
	}
	return s, write(out, append(b, '\n'))
}

// folder solves every instance in a folder: with a budget of schedules as many at once as there are workers; with a budget
// of time one after the other on all workers, so that each has the machine to itself.
func (c planCall) folder(ctx context.Context, stdout io.Writer) error {
	names, err := instances(c.in, c.out, ".sm", ".sch", ".rcp")
	if err != nil {
		return err
	}
	atOnce, workers := c.workers, 1
	if c.budget > 0 {
		atOnce, workers = 1, c.workers
	}
	plans, errs := make([]projectPlan, len(names)), make([]error, len(names))
	next := make(chan int, len(names))
	for k := range names {
		next <- k
	}
	close(next)
	var wait sync.WaitGroup
	for range atOnce {
		wait.Go(func() {
			for k := range next {
				plans[k], errs[k] = c.project(ctx, filepath.Join(c.in, names[k]), filepath.Join(c.out, resultOf(names[k])), workers)
			}
		})
	}
	wait.Wait()
	rows := [][]string{{"instance", "makespan", "lower_bound", "schedules", "seconds", "status"}}
	for k, s := range plans {
		if errs[k] != nil {
			return errs[k]
		}
		fmt.Fprintln(stdout, s.words())
		rows = append(rows, []string{s.name, strconv.Itoa(s.Makespan), strconv.Itoa(s.LowerBound), strconv.Itoa(s.Schedules),
			strconv.FormatFloat(s.Seconds, 'f', 4, 64), string(s.Status)})
	}
	return writeSummary(c.out, rows)
}

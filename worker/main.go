// Command worker computes quotes: without arguments it serves the queue on a Redis, with a subcommand it computes from a
// file.
//
// It keeps nothing: a request contains everything needed, and killing a worker loses only time.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"runtime"
	"strconv"
	_ "time/tzdata" // plans use the studio's time zone, even on a machine without time zone data

	"benchbell/deploy/process"
	"benchbell/jobs/queue"
	"benchbell/worker/compute"
)

const help = `worker computes quotes.

  worker                                    serve the queue on BENCHBELL_REDIS_URL until stopped
  worker quote -in snapshot.json -out DIR   compute one quote to DIR, without queue or bot
  worker nest -in problem.json -out layout.json [-budget 10s | -evaluations N] [-workers 2] [-seed 1] [-gap MM]
              [-svg picture.svg]            lay out one nesting problem, strip JSON or bin text on its sheets;
                                            given two folders, do each instance and write a summary.csv
  worker plan -in problem.json -out plan.json [-schedules N | -budget 2s] [-seed 1] [-workers 2]
                                            plan one set of operations, or a project in .sm, .SCH or .rcp;
                                            given two folders, do each project and write a summary.csv
  worker pattern check FOLDER [-out DIR] [-studio FILE]
                                            report on a pattern set and draw it
  worker pattern draft DRAWING -out FOLDER  make a set from a bare drawing, SVG or DXF
  worker -h                                 print this text

Environment:
  BENCHBELL_REDIS_URL   redis://:password@host:6379/0, rediss://… with TLS,
                        redis-sentinel://host:26379,host2:26379?master=name,
                        redis-socket:///path; Redis 6 or later
  BENCHBELL_WORKERS     how many computations to run at once (default: one per core)

On SIGINT or SIGTERM it takes no more work, gives running computations a few seconds to finish and hands the rest back
to the queue. Without BENCHBELL_REDIS_URL the bot computes in its own process and needs no worker.
`

// maxWorkers is far more than any machine has cores: anything above is a typing mistake.
const maxWorkers = 1024

func main() { process.Main("worker", run) }

// run is the program apart from its process.
func run(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) error {
	if len(args) == 0 {
		return serve(ctx, env, stdout, stderr)
	}
	subcommands := map[string]func(context.Context, []string, io.Writer) error{
		"quote": quoteCommand, "nest": nestCommand, "plan": planCommand, "pattern": patternCommand,
	}
	subcommand, ok := subcommands[args[0]]
	switch args[0] {
	case "-h", "-help", "--help", "help":
		subcommand = func(context.Context, []string, io.Writer) error { return flag.ErrHelp }
	default:
		if !ok {
			return fmt.Errorf("unknown subcommand %q; use quote, nest, plan or pattern, or no argument to serve the queue", args[0])
		}
	}
	err := subcommand(ctx, args[1:], stdout)
	if errors.Is(err, flag.ErrHelp) {
		_, err = io.WriteString(stdout, help)
	}
	return err
}

// serve works on the queue until ctx ends.
func serve(ctx context.Context, env func(string) string, stdout, stderr io.Writer) error {
	url := env("BENCHBELL_REDIS_URL")
	if url == "" {
		return errors.New("BENCHBELL_REDIS_URL is not set; give the Redis that the bot uses, like redis://127.0.0.1:6379/0 " +
			"(a bot without it computes by itself and needs no worker)")
	}
	n, err := workers(env("BENCHBELL_WORKERS"))
	if err != nil {
		return err
	}
	name := compute.Name()
	log := slog.New(slog.NewTextHandler(stderr, nil)).With("worker", name)
	q, err := queue.Open(ctx, url, queue.Options{Workers: n, Worker: name, Log: log})
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "worker %s serves the queue, %d at a time\n", name, n)
	err = q.Work(ctx, compute.New())
	if err == nil {
		fmt.Fprintln(stdout, "worker stopped; unfinished work is back in the queue")
	}
	return errors.Join(err, q.Close())
}

func workers(s string) (int, error) {
	if s == "" {
		return runtime.GOMAXPROCS(0), nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 || n > maxWorkers {
		return 0, fmt.Errorf("BENCHBELL_WORKERS is %q; it must be a whole number from 1 to %d", s, maxWorkers)
	}
	return n, nil
}

// Package process runs a program as a process: with the machine's arguments, environment and streams, until it is done or
// told to stop. The program itself is a function, so that tests call it without a process.
//
// The first interrupt or termination signal ends the program's context, a second one the process at once. An error is
// printed once, after the program's name, and the exit status is 1.
package process

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
)

// Main runs a program and ends the process where it fails.
func Main(name string, run func(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) error) {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second signal ends the process at once
	err := run(ctx, os.Args[1:], os.Getenv, os.Stdout, os.Stderr)
	stop()
	if err != nil {
		fmt.Fprintf(os.Stderr, "%s: %v\n", name, err)
		os.Exit(1)
	}
}

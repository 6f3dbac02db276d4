// Command pottrail watches needle biopsies from the needle to the answer. Everything is in package cli; here are only
// the signals and the exit code.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // zones on machines that have none

	"github.com/pottrail/pottrail/cmd/internal/cli"
)

func main() { os.Exit(run()) }

func run() int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return cli.Run(ctx, os.Args[1:], cli.Streams{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Getenv: os.Getenv})
}

package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/cmd/internal/examine"
)

// trial is one test of the campaign.
type trial struct {
	name  string
	about string
	long  int // cycles at full length
	short int // cycles in the ordinary tests
	run   func(ctx context.Context, o options) (result, error)
}

// trials lists the campaign in the order in which it runs.
func trials() []trial {
	return []trial{
		{"flips", "a single bit of a ledger's file is changed: every change that matters is found", 1000, 60, flips},
		{"cuts", "a ledger's file is cut off at any length: it is found", 100, 10, cuts},
		{"swaps", "two pages of a ledger's file are exchanged: it is found", 100, 10, swaps},
		{"edits", "an entry is changed and hashes are made to fit: it is found, and where", 100, 12, edits},
		{"rollback", "an older copy of the ledger is put in its place: checkpoints beside it show that, and a printed one", 10, 4, rollbacks},
		{"kills", "a daemon is killed at any instant under load: what it said is recorded is there, once", 200, 10, kills},
		{"orders", "the same events in any order, some twice, give the same cases", 5000, 150, orders},
		{"clock", "the machine's clock is set forward and back: nothing is refused, and flags are those of the hour", 200, 25, clocks},
		{"broker", "the folder of NATS is deleted under load: the stream is made whole again from the ledger", 100, 4, brokers},
		{"hostile", "hundreds of bad clients at once: what is scanned meanwhile is recorded", 1000, 60, hostile},
		{"power", "power is cut at any instant of a traced run: what was acknowledged is there, and it opens and goes on", 10000, 150, power},
		{"calls", "the system refuses the nth call to write, sync, grow or open: nothing is said to be recorded that is not", 1400, 42, calls},
		{"full", "the disk gets full and free again: refused in words, read all the same, and it goes on by itself", 20, 1, full},
		{"model", "a ledger on disk and a simple model in memory, step by step, senseless ones too: no difference", 100_000, 1500, model},
	}
}

// options are what a trial runs with.
type options struct {
	seed   uint64
	cycles int
	folder string                                     // of its own, empty
	self   func(mode string, args ...string) []string // how this program is started as a child
}

// result is what came of a trial.
type result struct {
	Trial        string  `json:"trial"`
	Seed         uint64  `json:"seed"`
	Cycles       int     `json:"cycles"`
	Acknowledged int     `json:"acknowledged"`
	Stored       int     `json:"stored"`
	Lost         int     `json:"lost"`   // acknowledged and not there, or altered and not noticed
	Double       int     `json:"double"` // there twice
	Seconds      float64 `json:"seconds"`
	// Control is how often the control noticed the promise that it broke; it must be more than never.
	Control int    `json:"control"`
	Note    string `json:"note"`
	Wrong   string `json:"wrong,omitzero"` // what else went against the promise
}

func (r result) kept() bool { return r.Lost == 0 && r.Double == 0 && r.Control > 0 && r.Wrong == "" }

func (r result) String() string {
	text := fmt.Sprintf("%-8s seed %d  cycles %d  acknowledged %d  stored %d  lost %d  double %d  %.1f s  control noticed %d  %s",
		r.Trial, r.Seed, r.Cycles, r.Acknowledged, r.Stored, r.Lost, r.Double, r.Seconds, r.Control, r.Note)
	if r.Wrong != "" {
		text += "\n         WRONG: " + r.Wrong
	}
	return text
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if len(os.Args) > 1 && child(ctx, os.Args[1:], os.Stdin, os.Stdout) {
		return
	}
	os.Exit(campaign(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// child does what a trial started this program for, and reports whether it was started so.
func child(ctx context.Context, args []string, in io.Reader, out io.Writer) bool {
	var err error
	switch args[0] {
	case examine.Hidden:
		err = examine.Child(ctx, in, out)
	case modeDigest:
		err = printDigest(args[1], out)
	case modeDaemon:
		err = serve(ctx, args[1], args[2:], out)
	case modeRun:
		err = powerRun(args[1], whole(args[2]), uint64(whole(args[3])), len(args) > 4, out)
	case modeFull:
		err = inFull(ctx, args[1:])
	case modeLook:
		err = look(in, out)
	default:
		return false
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	return true
}

// whole reads a number that this program wrote.
func whole(text string) int {
	n, err := strconv.Atoi(text)
	if err != nil {
		panic(err)
	}
	return n
}

// asChild is how this program, or its tests, are started as a child.
func asChild(mode string, args ...string) []string {
	program, err := os.Executable()
	if err != nil {
		program = os.Args[0]
	}
	return append([]string{program, mode}, args...)
}

func campaign(ctx context.Context, args []string, out, complaints io.Writer) int {
	f := flag.NewFlagSet("campaign", flag.ContinueOnError)
	f.SetOutput(complaints)
	seed := f.Uint64("seed", 1, "what all chance comes from")
	cycles := f.Int("cycles", 0, "how many, in place of each trial's own number")
	short := f.Bool("short", false, "as many as the ordinary tests do")
	asJSON := f.Bool("json", false, "print JSON, a line a trial")
	f.Usage = func() {
		fmt.Fprintln(complaints, "campaign [options] [trial…]\n\ntrials:")
		for _, t := range trials() {
			fmt.Fprintf(complaints, "  %-8s %s (%d cycles)\n", t.name, t.about, t.long)
		}
		f.PrintDefaults()
	}
	const couldNot, broken = 2, 1
	if err := f.Parse(args); err != nil {
		return couldNot
	}
	for _, name := range f.Args() {
		if !slices.ContainsFunc(trials(), func(t trial) bool { return t.name == name }) {
			fmt.Fprintf(complaints, "there is no trial %q; -help lists them\n", name)
			return couldNot
		}
	}
	code := 0
	for _, t := range trials() {
		if f.NArg() > 0 && !slices.Contains(f.Args(), t.name) {
			continue
		}
		n := t.long
		if *short {
			n = t.short
		}
		if *cycles > 0 {
			n = *cycles
		}
		r, err := t.once(ctx, *seed, n)
		switch {
		case err != nil:
			fmt.Fprintf(complaints, "%s: %v\n", t.name, err)
			return couldNot
		case *asJSON:
			line, err := json.Marshal(r, json.Deterministic(true))
			if err != nil {
				fmt.Fprintln(complaints, err)
				return couldNot
			}
			fmt.Fprintf(out, "%s\n", line)
		default:
			fmt.Fprintln(out, r)
		}
		if !r.kept() {
			code = broken
		}
	}
	return code
}

// once runs a trial in a folder of its own.
func (t trial) once(ctx context.Context, seed uint64, cycles int) (result, error) {
	if err := t.needs(); err != nil {
		return result{}, err
	}
	folder, err := os.MkdirTemp("", "campaign-"+t.name+"-")
	if err != nil {
		return result{}, err
	}
	defer func() { _ = os.RemoveAll(folder) }()
	start := time.Now()
	r, err := t.run(ctx, options{seed: seed, cycles: cycles, folder: folder, self: asChild})
	if err != nil {
		return result{}, fmt.Errorf("seed %d: %w", seed, err)
	}
	r.Trial, r.Seed, r.Cycles, r.Seconds = t.name, seed, cycles, time.Since(start).Seconds()
	r.Note = strings.TrimSpace(r.Note)
	return r, nil
}

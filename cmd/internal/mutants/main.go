package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
)

// errBite says that too few faults were noticed, or that one lives without a reason.
var errBite = errors.New("the tests do not bite as they should")

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	switch err := run(ctx, os.Args[1:], os.Stdout, os.Stderr); {
	case err == nil, errors.Is(err, flag.ErrHelp):
	case errors.Is(err, errBite):
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	default:
		fmt.Fprintln(os.Stderr, err)
		os.Exit(2)
	}
}

// options are what the command line asks for.
type options struct {
	pkg       string  // folder of the package whose code is changed and whose tests are run
	numbers   string  // an embedded TOML file whose numbers are changed, "" for none
	only      string  // base names of files, separated by commas; "" for all
	list      bool    // only say which mutants there are
	jobs      int     // how many test processes at once
	sample    int     // how many mutants to try, 0 for all
	seed      string  // chooses the sample
	survivors string  // the list of those that may live
	least     float64 // the least share that must die
	again     string  // what an earlier run said; only mutants that lived then are tried
	look      bool    // run the tests once, without faults, to see which mutants they could notice at all
	all       bool    // tell each mutant's fate, not only that of survivors
}

func parseOptions(args []string, stderr io.Writer) (options, error) {
	var o options
	flags := flag.NewFlagSet("mutants", flag.ContinueOnError)
	flags.SetOutput(stderr)
	flags.StringVar(&o.pkg, "package", "./tracker", "`folder` of the package whose code is changed and whose tests must notice")
	flags.StringVar(&o.numbers, "numbers", "", "embedded TOML `file` whose numbers are changed instead, one at a time; the tests beside it count too")
	flags.StringVar(&o.only, "only", "", "base names of the `files` to change, separated by commas")
	flags.BoolVar(&o.list, "list", false, "say which mutants there are, and run nothing")
	flags.IntVar(&o.jobs, "jobs", 1, "test processes at once")
	flags.IntVar(&o.sample, "sample", 0, "try so `many` mutants, drawn by -seed; 0 for all")
	flags.StringVar(&o.seed, "seed", "1", "`word` that draws the sample; the same word draws the same mutants from the same code")
	flags.StringVar(&o.survivors, "survivors", "cmd/internal/mutants/testdata/survivors.tsv", "`file` that lists who may live, and why")
	flags.Float64Var(&o.least, "least", 0.95, "least `share` of mutants that must die")
	flags.StringVar(&o.again, "again", "", "`file` with what an earlier run said: try only those that lived")
	flags.BoolVar(&o.look, "look", false, "only see which mutants the tests could notice at all: quick, and whatever is told lives for certain")
	flags.BoolVar(&o.all, "all", false, "tell each mutant's fate")
	if err := flags.Parse(args); err != nil {
		return o, err
	}
	if flags.NArg() > 0 {
		return o, fmt.Errorf("%q is not understood: everything is said by flags, see -help", flags.Arg(0))
	}
	o.jobs = max(o.jobs, 1)
	return o, nil
}

func run(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	o, err := parseOptions(args, stderr)
	if err != nil {
		return err
	}
	reasons, err := readReasons(o.survivors)
	if err != nil {
		return err
	}
	work, err := os.MkdirTemp("", "mutants")
	if err != nil {
		return fmt.Errorf("make a folder for instrumented files: %w", err)
	}
	defer os.RemoveAll(work)
	var got *outcome
	if o.numbers != "" {
		got, err = tryNumbers(ctx, o, work, stdout, stderr)
	} else {
		got, err = tryCode(ctx, o, work, stdout, stderr)
	}
	if err != nil || got == nil {
		return err
	}
	return got.tell(stdout, reasons, o)
}

// tryCode changes the code of the package. Its outcome is nil when the mutants were only listed.
func tryCode(ctx context.Context, o options, work string, stdout, stderr io.Writer) (*outcome, error) {
	p, err := load(ctx, o.pkg)
	if err != nil {
		return nil, err
	}
	all := p.find(strings.FieldsFunc(o.only, func(r rune) bool { return r == ',' }))
	number(all)
	if o.list {
		for _, m := range mutantsOf(all) {
			fmt.Fprintln(stdout, m)
		}
		return nil, nil
	}
	dropped, err := p.instrument(all, filepath.Join(work, "code"))
	if err != nil {
		return nil, err
	}
	for _, m := range dropped {
		fmt.Fprintf(stderr, "left out, since it does not compile: %s\n", m)
	}
	binary := filepath.Join(work, "code.test")
	if err := build(ctx, p.dir, filepath.Join(work, "code", "overlay.json"), binary); err != nil {
		return nil, err
	}
	chosen, err := chosen(mutantsOf(all), o)
	if err != nil {
		return nil, err
	}
	r := &runner{binary: binary, dir: p.dir, work: work, rapid: p.rapid, log: stderr, look: o.look}
	out := &outcome{dropped: len(dropped)}
	return out, r.try(ctx, chosen, o.jobs, out)
}

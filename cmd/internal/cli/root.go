package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/config"
)

// The exit codes.
const (
	exitDone     = 0
	exitWrong    = 1 // done, and something is wrong
	exitUsage    = 2 // usage, or input that cannot be read
	exitCouldNot = 3
)

// Streams is where a command reads and writes, and its environment.
type Streams struct {
	In     io.Reader
	Out    io.Writer
	Err    io.Writer
	Getenv func(string) string
}

// exitError is an error with its exit code. An empty text says nothing: everything has been said.
type exitError struct {
	code int
	err  error
	hint string
}

func (e *exitError) Error() string {
	if e.err == nil {
		return ""
	}
	return e.err.Error()
}

func (e *exitError) Unwrap() error { return e.err }

// wrong ends a command that did its work and found something wrong.
func wrong() error { return &exitError{code: exitWrong} }

// usage is a mistake in how the command was called, or input that cannot be read.
func usage(format string, args ...any) error {
	return &exitError{code: exitUsage, err: fmt.Errorf(format, args...)}
}

// couldNot is something that stood in the way.
func couldNot(err error, hint string) error {
	return &exitError{code: exitCouldNot, err: err, hint: hint}
}

// app is what all commands share.
type app struct {
	Streams
	options config.Options
	file    string // --config
	json    bool
}

// Run runs one command line and returns its exit code. The context ends long-running commands in good order.
func Run(ctx context.Context, args []string, s Streams) int {
	a := &app{Streams: s, options: config.Defaults(s.Getenv)}
	root := a.root()
	root.SetArgs(args)
	root.SetIn(s.In)
	root.SetOut(s.Out)
	root.SetErr(s.Err)
	return a.report(root.ExecuteContext(ctx))
}

// report says what went wrong, where, and what to do next.
func (a *app) report(err error) int {
	if err == nil {
		return exitDone
	}
	var e *exitError
	if !errors.As(err, &e) {
		e = &exitError{code: exitUsage, err: calledWrongly(err)} // what cobra itself refuses is usage
	}
	if text := e.Error(); text != "" {
		fmt.Fprintf(a.Err, "pottrail: %s\n", text)
		switch {
		case e.hint != "":
			fmt.Fprintf(a.Err, "          %s\n", e.hint)
		case e.code == exitUsage && !errors.As(err, new(*inputError)):
			fmt.Fprintf(a.Err, "          --help shows how, with an example\n")
		}
	}
	return e.code
}

// inputError is input that cannot be read, as against a command that was called wrongly.
type inputError struct{ err error }

func (e *inputError) Error() string { return e.err.Error() }
func (e *inputError) Unwrap() error { return e.err }

// unreadable is input that cannot be read: exit 2, without the hint at --help.
func unreadable(format string, args ...any) error {
	return &exitError{code: exitUsage, err: &inputError{fmt.Errorf(format, args...)}}
}

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "pottrail",
		Short: "Watches needle biopsies from the needle to the answer",
		Long: strings.TrimSpace(`
Pottrail watches needle biopsies from the moment a core leaves the patient to the moment the patient has been
told: it knows where every pot is, who holds it, what clock is running on it, and what must be done next by whom.

It records and reminds. Local policy and licensed practice decide.

Exit codes: 0 done; 1 done and something is wrong (flags, refusals); 2 usage or unreadable input; 3 could not.`),
		Example:           "  pottrail demo\n  pottrail serve --data ./clinic\n  pottrail flags --data ./clinic",
		SilenceUsage:      true,
		SilenceErrors:     true,
		PersistentPreRunE: a.before,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return fmt.Errorf("there is no command %q; `pottrail --help` lists them", args[0])
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	a.options.AddFlags(root.PersistentFlags(), config.PartFolder)
	root.PersistentFlags().StringVar(&a.file, "config", "", "configuration `FILE` (default: pottrail/pottrail.toml in the user's configuration folder)")
	root.AddCommand(a.serve(), a.demo(), a.open(), a.labels(), a.scan(), a.record(), a.export(), a.trail(), a.chase(),
		a.flags(), a.check(), a.forecast(), a.backup(), a.restore(), a.rebuild(), a.fsck(), a.examineHidden(), a.protocol(), a.printers(), a.people(), a.clients(), a.places(), a.staff(), a.stations(), a.version())
	root.AddCommand(a.prove(), a.verify(), a.checkpoint(), a.certificates())
	for _, c := range allCommands(root) {
		tag(c)
	}
	return root
}

func allCommands(c *cobra.Command) []*cobra.Command {
	all := []*cobra.Command{c}
	for _, sub := range c.Commands() {
		all = append(all, allCommands(sub)...)
	}
	return all
}

// tag marks errors of a command's own work that carry no exit code as "could not"; all others are usage.
func tag(c *cobra.Command) {
	run := c.RunE
	if run == nil {
		return
	}
	c.RunE = func(cmd *cobra.Command, args []string) error {
		err := run(cmd, args)
		if err == nil || errors.As(err, new(*exitError)) {
			return err
		}
		return couldNot(err, "")
	}
}

// before fills in environment and configuration file.
func (a *app) before(cmd *cobra.Command, _ []string) error {
	switch cmd.Name() {
	case "completion", "help", cobra.ShellCompRequestCmd, cobra.ShellCompNoDescRequestCmd:
		return nil
	}
	parts := []config.Part{config.PartFolder}
	if cmd.Flags().Lookup("http") != nil {
		parts = append(parts, config.PartDaemon)
	}
	if cmd.Flags().Lookup("tls") != nil {
		parts = append(parts, config.PartTLS)
	}
	if err := a.options.Load(cmd.Flags(), a.file, a.Getenv, parts...); err != nil {
		return unreadable("%w", err)
	}
	if err := a.options.Validate(); err != nil {
		return usage("%w", err)
	}
	return nil
}

// withJSON adds --json to a command that prints data.
func (a *app) withJSON(c *cobra.Command) *cobra.Command {
	c.Flags().BoolVar(&a.json, "json", false, "print JSON")
	return c
}

// openInput opens a file named on the command line, "-" or "" being standard input.
func (a *app) openInput(name string) (io.ReadCloser, error) {
	if name == "" || name == "-" {
		return io.NopCloser(a.In), nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, unreadable("%w", err)
	}
	return f, nil
}

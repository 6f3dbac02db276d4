package cli

import (
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

func (a *app) protocol() *cobra.Command {
	c := &cobra.Command{
		Use: "protocol", Short: "Show, check and adopt the rules of a clinic", Args: cobra.NoArgs,
		Long:    "A protocol is one TOML file of rules for one clinic: media, studies, limits, targets, places, each number with\nits source. One ships inside the program. Which one is right is for the responsible clinician and the laboratory.",
		Example: "  pottrail protocol show >ours.toml\n  pottrail protocol check ours.toml",
		RunE:    func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(a.protocolShow(), a.protocolCheck(), a.protocolClosures(), a.protocolAdopt())
	return c
}

func (a *app) protocolAdopt() *cobra.Command {
	var clinic, by, station string
	var stopped bool
	c := &cobra.Command{
		Use: "adopt FILE", Short: "Put a protocol in force for a clinic", Args: cobra.ExactArgs(1),
		Long: "Puts a protocol in force for a clinic: an event like any other, with the whole text and its SHA-256, kept for ever. What\n" +
			"is open is judged anew. A file with a mistake is refused, with line and column. `protocol check` first says what changes.\n" +
			"--stopped is for a daemon that does not start because this release cannot use the last protocol adopted.",
		Example: "  pottrail protocol adopt ours.toml --clinic MBY --by lead.varga",
		RunE: func(cmd *cobra.Command, args []string) error {
			rules, err := a.readRules(args[0])
			if err != nil {
				return err
			}
			if err := tracker.CheckClinic(clinic); err != nil {
				return usage("--clinic: %w", err)
			}
			p := rules.Protocol()
			e := newEvent(clinic, by, station, time.Now(), nil, &tracker.ProtocolAdopted{SHA256: p.SHA256, Text: p.Text})
			if stopped {
				err = a.adoptStopped(e)
			} else {
				err = a.recordOwn(cmd.Context(), []*tracker.Event{e})
			}
			if err != nil {
				return err
			}
			_, err = fmt.Fprintf(a.Out, "%s is in force for %s: %q, SHA-256 %s\n", args[0], clinic, p.Title, p.SHA256)
			return err
		},
	}
	c.Flags().StringVar(&clinic, "clinic", "", "the `CLINIC`'s key")
	c.Flags().BoolVar(&stopped, "stopped", false, stoppedUsage)
	addBy(c, &by, &station)
	_ = c.MarkFlagRequired("clinic") // it exists: it was just added
	return c
}

// adoptStopped records an adoption in the ledger itself.
func (a *app) adoptStopped(e *tracker.Event) error {
	verdict, err := daemon.StoppedAdopt(a.options, e)
	switch {
	case err != nil:
		return couldNot(err, daemon.Hint(err))
	case !verdict.OK:
		return &exitError{code: exitWrong, err: fmt.Errorf("%s was refused: %s", e.Kind, verdict.Error.Text)}
	}
	return nil
}

// readRules reads a protocol file strictly; a mistake is told with line and column.
func (a *app) readRules(name string) (*tracker.Rules, error) {
	in, err := a.openInput(name)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	text, err := io.ReadAll(in)
	if err != nil {
		return nil, unreadable("%s: %w", name, err)
	}
	p, err := protocol.Parse(text)
	if err != nil {
		return nil, protocolFault(name, err)
	}
	rules, err := tracker.NewRules(p, time.LoadLocation)
	if err != nil {
		return nil, unreadable("%s: %w", name, err)
	}
	return rules, nil
}

// protocolFault tells every mistake of a protocol, one a line.
func protocolFault(name string, err error) error {
	var several interface{ Unwrap() []error }
	if errors.As(err, &several) {
		text := ""
		for _, one := range several.Unwrap() {
			text += "\n  " + one.Error()
		}
		return unreadable("%s has mistakes:%s", name, text)
	}
	return unreadable("%s: %w", name, err)
}

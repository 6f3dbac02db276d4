package cli

import (
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

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

func (a *app) protocolShow() *cobra.Command {
	return a.withJSON(&cobra.Command{
		Use: "show", Short: "Print the protocol inside the program", Args: cobra.NoArgs,
		Long:    "Prints the protocol inside the program, to start one's own from. Needs no daemon.",
		Example: "  pottrail protocol show >ours.toml",
		RunE: func(*cobra.Command, []string) error {
			p := protocol.Default()
			if a.json {
				return a.printJSON(map[string]string{"title": p.Title, "sha256": p.SHA256, "text": p.Text})
			}
			_, err := io.WriteString(a.Out, p.Text)
			return err
		},
	})
}

func (a *app) protocolCheck() *cobra.Command {
	return a.withJSON(&cobra.Command{
		Use: "check FILE", Short: "Check a protocol file", Args: cobra.ExactArgs(1),
		Long:    "Checks a protocol file: unknown keys, references to nothing, impossible windows, each with line and column.\nNeeds no daemon. Exit 2 when it has a mistake.",
		Example: "  pottrail protocol check ours.toml",
		RunE: func(_ *cobra.Command, args []string) error {
			rules, err := a.readRules(args[0])
			if err != nil {
				return err
			}
			p := rules.Protocol()
			if a.json {
				return a.printJSON(map[string]string{"title": p.Title, "sha256": p.SHA256})
			}
			_, err = fmt.Fprintf(a.Out, "%s: no mistake found: %q, %d media, %d studies, %d places\n", args[0], p.Title, len(p.Media), len(p.Studies), len(p.Places))
			return err
		},
	})
}

func (a *app) protocolAdopt() *cobra.Command {
	var clinic, by, station string
	c := &cobra.Command{
		Use: "adopt FILE", Short: "Put a protocol in force for a clinic", Args: cobra.ExactArgs(1),
		Long:    "Puts a protocol in force for a clinic: an event like any other, kept for ever. What is open is judged anew.",
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
			if err := a.recordOwn(cmd.Context(), []*tracker.Event{e}); err != nil {
				return err
			}
			_, err = fmt.Fprintf(a.Out, "%s is in force for %s\n", args[0], clinic)
			return err
		},
	}
	c.Flags().StringVar(&clinic, "clinic", "", "the `CLINIC`'s key")
	addBy(c, &by, &station)
	_ = c.MarkFlagRequired("clinic") // it exists: it was just added
	return c
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

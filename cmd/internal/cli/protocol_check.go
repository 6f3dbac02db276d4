package cli

import (
	"fmt"
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// checked is the answer of `protocol check --json`.
type checked struct {
	Title     string            `json:"title"`
	SHA256    string            `json:"sha256"`
	Against   string            `json:"against"`   // title of what it was compared with
	Changes   []say.Change      `json:"changes"`   // none when nothing differs
	Transport map[string]string `json:"transport"` // of media with formaldehyde, by key
}

func (a *app) protocolCheck() *cobra.Command {
	var against string
	c := &cobra.Command{
		Use: "check FILE", Short: "Check a protocol file, and say what it changes", Args: cobra.ExactArgs(1),
		Long: "Checks a protocol file: unknown keys, references to nothing, contradictions, each with line and column. Then says, a line\n" +
			"each, what it changes against the protocol inside the program, or against another file: limits, which medium serves\n" +
			"which study, targets, places, hours, rounds, people; and how media with formaldehyde may travel.\n" +
			"Needs no daemon. Exit 2 when it has a mistake.",
		Example: "  pottrail protocol check ours.toml\n  pottrail protocol check ours.toml --against last-year.toml",
		RunE: func(_ *cobra.Command, args []string) error {
			rules, err := a.readRules(args[0])
			if err != nil {
				return err
			}
			p, other, name := rules.Protocol(), protocol.Default(), "the protocol inside the program"
			if against != "" {
				rules, err := a.readRules(against)
				if err != nil {
					return err
				}
				other, name = rules.Protocol(), against
			}
			answer := checked{Title: p.Title, SHA256: p.SHA256, Against: other.Title, Changes: say.ProtocolChanges(other, p), Transport: map[string]string{}}
			for key, m := range p.Media {
				if m.Formaldehyde > 0 {
					answer.Transport[key] = say.Transport(m.Formaldehyde)
				}
			}
			if a.json {
				return a.printJSON(answer)
			}
			return a.tellChecked(args[0], name, p, answer)
		},
	}
	c.Flags().StringVar(&against, "against", "", "compare with this `FILE` in place of the protocol inside the program")
	return a.withJSON(c)
}

func (a *app) tellChecked(file, against string, p *protocol.Protocol, answer checked) error {
	fmt.Fprintf(a.Out, "%s: no mistake found: %q, %d media, %d studies, %d places\n", file, p.Title, len(p.Media), len(p.Studies), len(p.Places))
	for _, key := range slices.Sorted(maps.Keys(answer.Transport)) {
		fmt.Fprintf(a.Out, "%s: %s\n", p.Media[key].Name, answer.Transport[key])
	}
	if len(answer.Changes) == 0 {
		fmt.Fprintf(a.Out, "It says the same as %s.\n", against)
		return nil
	}
	fmt.Fprintf(a.Out, "It changes against %s:\n", against)
	for _, change := range answer.Changes {
		fmt.Fprintf(a.Out, "  %s\n", change)
	}
	return nil
}

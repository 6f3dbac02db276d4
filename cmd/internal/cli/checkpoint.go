package cli

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"

	"github.com/pottrail/pottrail/events/evidence"
)

func (a *app) checkpoint() *cobra.Command {
	var now, note, key bool
	c := &cobra.Command{
		Use: "checkpoint", Short: "Print the latest signed checkpoint of the record", Args: cobra.NoArgs,
		Long: "Prints the latest signed checkpoint of the record: how many entries there are, and a hash over all of them. One is made every\n" +
			"hour when something is new (--checkpoint-every of serve), at the end, and with --now.\n\n" +
			"A checkpoint is worth what others hold of it. The short form, the number of entries and five groups of four digits, is for\n" +
			"paper: the handoff sheet, the day's log; `pottrail verify --paper` takes it. --note prints the whole, signed, for a file,\n" +
			"the laboratory or the mail; every listener on NATS gets the same. --key prints the public key by which all of it is checked:\n" +
			"give it once, by another way, to whoever will check.",
		Example: "  pottrail checkpoint\n  pottrail checkpoint --now --note >friday.checkpoint\n  pottrail checkpoint --key >clinic.key",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if note && key {
				return usage("--note or --key, one at a time")
			}
			var answer ask.CheckpointAnswer
			if err := a.client().post(cmd.Context(), pathCheckpoint, ask.CheckpointRequest{Make: now}, &answer); err != nil {
				return err
			}
			switch {
			case a.json:
				return a.printJSON(answer)
			case key:
				_, err := fmt.Fprintln(a.Out, answer.Key)
				return err
			case note:
				return a.printNotes(answer)
			}
			return a.tellCheckpoints(answer)
		},
	}
	c.Flags().BoolVar(&now, "now", false, "sign one now, if something is new")
	c.Flags().BoolVar(&note, "note", false, "print it whole and signed, this node's own only")
	c.Flags().BoolVar(&key, "key", false, "print the public key")
	return a.withJSON(c)
}

// ownOf reports whether a checkpoint is of the node's own log.
func ownOf(answer ask.CheckpointAnswer, c ask.CheckpointLine) bool {
	return strings.HasPrefix(answer.Key, evidence.NodeName(c.Origin)+"+")
}

func (a *app) printNotes(answer ask.CheckpointAnswer) error {
	for _, c := range answer.Checkpoints {
		if ownOf(answer, c) {
			_, err := fmt.Fprint(a.Out, c.Note)
			return err
		}
	}
	return couldNot(fmt.Errorf("there is no checkpoint yet"), "--now makes one, once something is recorded")
}

func (a *app) tellCheckpoints(answer ask.CheckpointAnswer) error {
	if len(answer.Checkpoints) == 0 {
		_, err := fmt.Fprintln(a.Out, "there is no checkpoint yet; --now makes one, once something is recorded")
		return err
	}
	out := tabwriter.NewWriter(a.Out, 0, 8, 2, ' ', 0)
	fmt.Fprintln(out, "ENTRIES AND ROOT\tMADE\tSINCE\tRECORD OF")
	for _, c := range answer.Checkpoints {
		fmt.Fprintf(out, "%s\t%s\t%s\t%s\n", c.Short, c.Made.Local().Format("2006-01-02 15:04"), fmt.Sprintf("%d new", c.New), evidence.NodeName(c.Origin))
	}
	return out.Flush()
}

// firstLine is the first line of a file that holds one.
func firstLine(text string) string {
	line, _, _ := strings.Cut(strings.TrimSpace(text), "\n")
	return strings.TrimSpace(line)
}

package cli

import (
	"bufio"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

func (a *app) export() *cobra.Command {
	var clinic, since, until string
	c := &cobra.Command{
		Use: "export", Short: "Print the ledger as events", Args: cobra.NoArgs,
		Long: "Prints the ledger, one event a line (NDJSON) in ledger order, with seq, origin, oseq, recorded and skew.\n" +
			"`pottrail check` takes these lines. The output is JSON always.",
		Example: "  pottrail export --clinic MBY --since 2026-03-01T00:00:00Z >march.ndjson",
		RunE: func(cmd *cobra.Command, _ []string) error {
			request := ask.Request{Clinic: clinic}
			var err error
			if request.Since, err = timeOption("--since", since); err != nil {
				return err
			}
			if request.Until, err = timeOption("--until", until); err != nil {
				return err
			}
			out, daemon := bufio.NewWriterSize(a.Out, 64<<10), a.client()
			for {
				var stretch ask.EventsAnswer
				if err := daemon.question(cmd.Context(), "events", request, &stretch); err != nil {
					return err
				}
				for _, line := range stretch.Events {
					if _, err := fmt.Fprintf(out, "%s\n", line); err != nil {
						return err
					}
				}
				if !stretch.More {
					return out.Flush()
				}
				request.From = stretch.Next
			}
		},
	}
	c.Flags().StringVar(&clinic, "clinic", "", "only events of this `CLINIC`")
	c.Flags().StringVar(&since, "since", "", "only what happened at or after this `TIME`")
	c.Flags().StringVar(&until, "until", "", "only what happened before this `TIME`")
	return a.withJSON(c)
}

// timeOption reads a time given to an option; "" is none.
func timeOption(option, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return time.Time{}, usage("%s %q: write a time with its offset, as in 2026-03-06T15:42:10+00:00", option, text)
	}
	return at, nil
}

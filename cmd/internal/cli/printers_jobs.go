package cli

import (
	"fmt"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
)

func (a *app) printersJobs() *cobra.Command {
	var request ask.JobsRequest
	c := &cobra.Command{
		Use: "jobs", Short: "List labels that wait or ask", Args: cobra.NoArgs,
		Long: "Lists the labels that wait for a printer, and those of which nobody knows whether they came out: look, then say so\n" +
			"with `printers settle`. With --all also those that are done. Exit 1 when one asks.",
		Example: "  pottrail printers jobs --printer room-2",
		RunE: func(cmd *cobra.Command, _ []string) error {
			var answer ask.JobsAnswer
			if err := a.client().post(cmd.Context(), pathJobs, request, &answer); err != nil {
				return err
			}
			asks := false
			for _, j := range answer.Jobs {
				asks = asks || j.State == ask.PrintUnknown
			}
			if a.json {
				if err := a.printJSON(answer); err != nil {
					return err
				}
			} else if err := a.tellJobs(answer.Jobs); err != nil {
				return err
			}
			if asks {
				return wrong()
			}
			return nil
		},
	}
	c.Flags().StringVar(&request.Printer, "printer", "", "only of this `PRINTER`")
	c.Flags().BoolVar(&request.All, "all", false, "also those that are done")
	return a.withJSON(c)
}

func (a *app) tellJobs(jobs []ask.PrintJob) error {
	now := time.Now()
	for _, j := range jobs {
		_, err := fmt.Fprintf(a.Out, "%-5d %s  %s\n", j.Job, say.Instant(j.Changed, time.Local, now), question(j))
		if err != nil {
			return err
		}
	}
	if len(jobs) == 0 {
		_, err := fmt.Fprintln(a.Out, "No label waits, and none asks.")
		return err
	}
	return nil
}

// question is a job in a list: what it waits for, or what it asks.
func question(j ask.PrintJob) string {
	if j.State != ask.PrintUnknown {
		return outcome(j)
	}
	why := ""
	if j.Problem != "" {
		why = " (" + j.Problem + ")"
	}
	return fmt.Sprintf("Did %s come out of %s?%s\n      pottrail printers settle %d --came-out | --did-not", j.What(), j.Printer, why, j.Job)
}

func (a *app) printersSettle() *cobra.Command {
	var by, station string
	var cameOut, didNot bool
	c := &cobra.Command{
		Use: "settle JOB", Short: "Say whether a label came out", Args: cobra.ExactArgs(1),
		Long: "Says of a label whether it came out of its printer. With --did-not it is recorded as spoiled, and may be printed anew\n" +
			"under the next copy; should the old one turn up after all, a scan of it is flagged.",
		Example: "  pottrail printers settle 17 --came-out",
		RunE: func(cmd *cobra.Command, args []string) error {
			id, err := jobArgument(args[0])
			if err != nil {
				return err
			}
			if cameOut == didNot {
				return usage("say one of --came-out and --did-not: look at the printer first")
			}
			return a.settled(cmd, pathSettle, ask.SettleRequest{Job: id, CameOut: cameOut, By: by, Station: station})
		},
	}
	c.Flags().BoolVar(&cameOut, "came-out", false, "the label is there")
	c.Flags().BoolVar(&didNot, "did-not", false, "the label never came out")
	addBy(c, &by, &station)
	return a.withJSON(c)
}

func (a *app) printersCallOff() *cobra.Command {
	var by, station string
	c := &cobra.Command{
		Use: "call-off JOB", Short: "Take back a label that waits", Args: cobra.ExactArgs(1),
		Long:    "Takes a label back that waits for its printer: it will not come out, and is recorded as spoiled.",
		Example: "  pottrail printers call-off 17",
		RunE: func(cmd *cobra.Command, args []string) error {
			id, err := jobArgument(args[0])
			if err != nil {
				return err
			}
			return a.settled(cmd, pathCallOff, ask.CallOffRequest{Job: id, By: by, Station: station})
		},
	}
	addBy(c, &by, &station)
	return a.withJSON(c)
}

func jobArgument(text string) (uint64, error) {
	id, err := strconv.ParseUint(text, 10, 64)
	if err != nil {
		return 0, usage("%q is not a job's number; `pottrail printers jobs` lists them", text)
	}
	return id, nil
}

// settled sends a person's word and tells what it came to.
func (a *app) settled(cmd *cobra.Command, path string, request any) error {
	var answer ask.JobsAnswer
	if err := a.client().post(cmd.Context(), path, request, &answer); err != nil {
		return err
	}
	if a.json {
		return a.printJSON(answer)
	}
	for _, j := range answer.Jobs {
		if _, err := fmt.Fprintln(a.Out, outcome(j)); err != nil {
			return err
		}
	}
	return nil
}

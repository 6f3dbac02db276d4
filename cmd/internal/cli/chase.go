package cli

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/tracker"
)

func (a *app) chase() *cobra.Command {
	var request ask.Request
	c := &cobra.Command{
		Use: "chase", Short: "List the cases that want action", Args: cobra.NoArgs,
		Long: "Lists the cases that want action, worst first: what is wrong, who has it, whom to ring and what to ask.\n" +
			"Those asleep after a call come last. Exit 1 when there is anything. `chase log` logs a call.",
		Example: "  pottrail chase --clinic MBY",
		RunE: func(cmd *cobra.Command, _ []string) error {
			var answer ask.ChaseAnswer
			if err := a.client().question(cmd.Context(), "chase", request, &answer); err != nil {
				return err
			}
			if a.json {
				if err := a.printJSON(answer); err != nil {
					return err
				}
			} else {
				a.tellChase(answer)
			}
			if len(answer.Rows) > 0 {
				return wrong()
			}
			return nil
		},
	}
	c.Flags().StringVar(&request.Clinic, "clinic", "", "only of this `CLINIC`")
	c.AddCommand(a.chaseLog())
	return a.withJSON(c)
}

func (a *app) tellChase(answer ask.ChaseAnswer) {
	for _, row := range answer.Rows {
		asleep := ""
		if row.Asleep && row.Last != nil {
			asleep = ", asleep until " + say.Instant(row.Last.SleepUntil, time.Local, answer.At)
		}
		fmt.Fprintf(a.Out, "%-5s %s  %s%s\n      %s\n      %s\n      %s", strings.ToUpper(string(row.Severity)), row.Case.Printed(),
			row.Priority, asleep, row.Text, row.Ask, row.Who)
		if row.Place != "" {
			fmt.Fprintf(a.Out, " · at %s with %s", row.Place, row.Holder)
		}
		if more := len(row.Flags) - 1; more > 0 {
			fmt.Fprintf(a.Out, " · and %s", say.Count(more, "other flag"))
		}
		if row.Last != nil {
			fmt.Fprintf(a.Out, "\n      asked %s: %s", say.Instant(row.Last.When, time.Local, answer.At), row.Last.Asked)
			if row.Last.Answer != "" {
				fmt.Fprintf(a.Out, " — %s", row.Last.Answer)
			}
		}
		fmt.Fprintln(a.Out)
	}
	if len(answer.Rows) == 0 {
		fmt.Fprintln(a.Out, "Nobody needs to be chased.")
	}
}

func (a *app) chaseLog() *cobra.Command {
	var by, station, next string
	var fact tracker.ChaseLogged
	c := &cobra.Command{
		Use: "log CODE", Short: "Log a call", Args: cobra.ExactArgs(1),
		Long:    "Logs a call about a case, pot or bag. With --next the case sleeps until then; a new or worse flag wakes it.",
		Example: "  pottrail chase log MBY-26-00417 --asked 'is it cut up?' --answer 'tomorrow' --next 2026-03-10T09:00:00+00:00",
		RunE: func(cmd *cobra.Command, args []string) error {
			item, err := itemArgument(args[0])
			if err != nil {
				return err
			}
			if fact.Next, err = timeOption("--next", next); err != nil {
				return err
			}
			e := newEvent(item.Name.Clinic(), by, station, time.Now(), []tracker.Item{item}, &fact)
			if err := a.recordOwn(cmd.Context(), []*tracker.Event{e}); err != nil {
				return err
			}
			_, err = fmt.Fprintf(a.Out, "logged for %s\n", item.Name.Printed())
			return err
		},
	}
	c.Flags().StringVar(&fact.Asked, "asked", "", "what was `ASKED`")
	c.Flags().StringVar(&fact.Answer, "answer", "", "the `ANSWER`")
	c.Flags().StringVar(&next, "next", "", "when to ask again, a `TIME` with its offset")
	c.Flags().IntVar(&fact.Level, "level", 0, "how far up it went, from `1`")
	_ = c.MarkFlagRequired("asked") // it exists: it was just added
	addBy(c, &by, &station)
	return c
}

package cli

import (
	"fmt"
	"strconv"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
)

func (a *app) staffSessions() *cobra.Command {
	var request ask.SessionsRequest
	c := &cobra.Command{
		Use: "sessions", Short: "List who is signed in where", Args: cobra.NoArgs,
		Long: "Lists who is signed in where, the latest first; with --ended also who was, and why that ended. It is kept for 90 days:\n" +
			"scans that were made while a phone had no network are judged by who was signed in when they were made.",
		Example: "  pottrail staff sessions\n  pottrail staff sessions --ended --limit 50",
		RunE: func(cmd *cobra.Command, _ []string) error {
			var answer ask.SessionsAnswer
			if err := a.client().post(cmd.Context(), pathSessions, request, &answer); err != nil {
				return err
			}
			return a.tellSessions(answer)
		},
	}
	c.Flags().BoolVar(&request.Ended, "ended", false, "also sessions that have ended")
	c.Flags().IntVar(&request.Limit, "limit", 100, "most `SESSIONS` that have ended; 0: all")
	return a.withJSON(c)
}

func (a *app) tellSessions(answer ask.SessionsAnswer) error {
	if a.json {
		return a.printJSON(answer)
	}
	now := time.Now()
	table := tabwriter.NewWriter(a.Out, 0, 0, 2, ' ', 0)
	for _, s := range answer.Sessions {
		state := "open, until " + say.Clock(s.Idle, time.Local) + " if nothing is done"
		if !s.Ended.IsZero() {
			state = "until " + say.Instant(s.Ended, time.Local, now) + ": " + s.Why
		}
		fmt.Fprintf(table, "%d\t%s\t%s\t%s\t%s\n", s.Number, plain(s.Staff), plain(s.Station), say.Instant(s.Since, time.Local, now), state)
	}
	if err := table.Flush(); err != nil {
		return err
	}
	if len(answer.Sessions) == 0 {
		_, err := fmt.Fprintln(a.Out, "Nobody is signed in.")
		return err
	}
	return nil
}

func (a *app) staffEndSession() *cobra.Command {
	var request ask.EndSessionRequest
	c := &cobra.Command{
		Use: "end-session NUMBER", Short: "Sign somebody out", Args: cobra.ExactArgs(1),
		Long:    "Ends a session, by its number in `staff sessions`: after a phone was lost, say. `stations remove` makes its key useless too.",
		Example: "  pottrail staff end-session 17",
		RunE: func(cmd *cobra.Command, args []string) error {
			number, err := strconv.ParseUint(args[0], 10, 64)
			if err != nil {
				return usage("%q is no session's number; `pottrail staff sessions` lists them", args[0])
			}
			request.Number = number
			var answer ask.SessionsAnswer
			if err := a.client().post(cmd.Context(), pathSessionEnd, request, &answer); err != nil {
				return err
			}
			if a.json {
				return a.printJSON(answer)
			}
			_, err = fmt.Fprintf(a.Out, "session %d has ended\n", number)
			return err
		},
	}
	addBy(c, &request.By, &request.Station)
	return a.withJSON(c)
}

func (a *app) staffDoubts() *cobra.Command {
	var request ask.DoubtsRequest
	c := &cobra.Command{
		Use: "doubts", Short: "List steps that nobody vouched for", Args: cobra.NoArgs,
		Long: "Lists physical steps that were recorded, as every one is, although nobody vouched for whom they name: sent from a station\n" +
			"where that person was not signed in when it happened, say. Ask them whether they did it. `trail` shows the event, and\n" +
			"strikes it if it was wrong. Exit 1 when there are any.",
		Example: "  pottrail staff doubts --limit 20",
		RunE: func(cmd *cobra.Command, _ []string) error {
			var answer ask.DoubtsAnswer
			if err := a.client().post(cmd.Context(), pathDoubts, request, &answer); err != nil {
				return err
			}
			if err := a.tellDoubts(answer); err != nil {
				return err
			}
			if len(answer.Doubts) > 0 {
				return wrong()
			}
			return nil
		},
	}
	c.Flags().IntVar(&request.Limit, "limit", 100, "most `STEPS` that are listed; 0: all")
	return a.withJSON(c)
}

func (a *app) tellDoubts(answer ask.DoubtsAnswer) error {
	if a.json {
		return a.printJSON(answer)
	}
	now := time.Now()
	for _, d := range answer.Doubts {
		who := ""
		if d.SignedIn != "" {
			who = "; signed in was " + plain(d.SignedIn)
		}
		fmt.Fprintf(a.Out, "%s  %s by %s at %s%s\n  %s\n  event %s, recorded %s\n", say.Instant(d.At, time.Local, now), plain(d.Kind), plain(d.By), plain(d.Station), who, plain(d.Why),
			plain(d.Event), say.Instant(d.Recorded, time.Local, now))
	}
	if len(answer.Doubts) == 0 {
		fmt.Fprintln(a.Out, "Every step on record was vouched for.")
	}
	if answer.Dropped > 0 {
		fmt.Fprintf(a.Out, "%d older ones are no longer kept\n", answer.Dropped)
	}
	return nil
}

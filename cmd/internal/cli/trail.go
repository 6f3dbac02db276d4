package cli

import (
	"context"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

func (a *app) trail() *cobra.Command {
	var proof bool
	c := &cobra.Command{
		Use: "trail CODE", Short: "Print everything that happened to a case, pot or bag", Args: cobra.ExactArgs(1),
		Long: "Prints everything that happened to a case, pot, piece or bag, as a timeline in the clinic's own time.\n" +
			"Struck events stay readable. --proof prints instead, as JSON, the proofs that its events are in the record.",
		Example: "  pottrail trail MBY-26-00417\n  pottrail trail MBY2600417A001Y --json",
		RunE: func(cmd *cobra.Command, args []string) error {
			item, err := itemArgument(args[0])
			if err != nil {
				return err
			}
			request := ask.Request{Name: item.String()}
			if proof {
				var answer ask.ProofAnswer
				if err := a.client().question(cmd.Context(), "proof", request, &answer); err != nil {
					return err
				}
				return a.printJSON(answer)
			}
			if thing := item.Name.Thing(); thing == tracker.ThingPot || thing == tracker.ThingPiece {
				return a.trailOfPot(cmd.Context(), request)
			}
			return a.trailOfCase(cmd.Context(), request)
		},
	}
	c.Flags().BoolVar(&proof, "proof", false, "print the proofs that its events are in the record")
	return a.withJSON(c)
}

// itemArgument reads a code or name given as an argument.
func itemArgument(text string) (tracker.Item, error) {
	item, err := tracker.ParseItem(text)
	if err != nil {
		return tracker.Item{}, unreadable("%w", err)
	}
	return item, nil
}

func (a *app) trailOfCase(ctx context.Context, request ask.Request) error {
	var answer ask.CaseAnswer
	if err := a.client().question(ctx, "case", request, &answer); err != nil {
		return err
	}
	if a.json {
		return a.printJSON(answer)
	}
	fmt.Fprintf(a.Out, "%s, %s\n", answer.Summary.Name.Printed(), answer.Summary.Step)
	return a.tellTrail(answer.Zone, answer.Trail, answer.Flags)
}

func (a *app) trailOfPot(ctx context.Context, request ask.Request) error {
	var answer ask.PotAnswer
	if err := a.client().question(ctx, "pot", request, &answer); err != nil {
		return err
	}
	if a.json {
		return a.printJSON(answer)
	}
	fmt.Fprintf(a.Out, "%s", answer.Name.Printed())
	if p := answer.Pot; p != nil {
		fmt.Fprintf(a.Out, ", %s for %s", p.Medium, strings.Join(p.Studies, ", "))
		if p.Place != "" {
			fmt.Fprintf(a.Out, ", at %s with %s", p.Place, p.Holder)
		}
	}
	fmt.Fprintln(a.Out)
	return a.tellTrail(answer.Zone, answer.Trail, answer.Flags)
}

// tellTrail prints a timeline, a day at a time, and what is wrong at its end.
func (a *app) tellTrail(zoneName string, trail []ask.TrailEvent, flags []tracker.Flag) error {
	zone, err := time.LoadLocation(zoneName)
	if err != nil {
		return fmt.Errorf("the clinic's zone: %w", err)
	}
	day := ""
	out := tabwriter.NewWriter(a.Out, 0, 8, 2, ' ', 0)
	for _, t := range trail {
		e, err := events.DecodeRecorded(t.Event)
		if err != nil {
			return fmt.Errorf("an event of the trail: %w", err)
		}
		if d := say.Day(e.When(), zone); d != day {
			day = d
			fmt.Fprintf(out, "\n%s\n", day)
		}
		struck := ""
		if t.Struck {
			struck = "(struck) "
		}
		fmt.Fprintf(out, "  %s\t%s\t%s%s\t%s, %s\n", say.Clock(e.When(), zone), itemsOf(e), struck, say.Event(e, zone), e.By, e.Station)
	}
	if err := out.Flush(); err != nil {
		return err
	}
	if len(flags) > 0 {
		fmt.Fprintln(a.Out)
		a.tellFindings(ask.FlagsAnswer{Flags: flags})
	}
	return nil
}

func itemsOf(e *tracker.Event) string {
	switch len(e.Items) {
	case 0:
		return ""
	case 1:
		return e.Items[0].Name.Printed()
	}
	return e.Items[0].Name.Printed() + " and " + say.Count(len(e.Items)-1, "other")
}

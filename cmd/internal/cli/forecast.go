package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/forecast"
	"github.com/pottrail/pottrail/tracker/protocol"
)

func (a *app) forecast() *cobra.Command {
	var file, rulesFile, at string
	c := &cobra.Command{
		Use: "forecast CODE", Short: "Say which processor run a pot makes, and what keeps it inside its window", Args: cobra.ExactArgs(1),
		Long: "Looks ahead over rounds, opening hours and processor runs of the protocol for a case or one of its pots: the planned run and\n" +
			"the hours in fixative by then, every run that keeps it inside, the last departure that does, and what would if none does.\n" +
			"Asks the daemon; with --events it needs none, as `check`.\n\n" +
			"Exit 0 inside, or nothing to foresee; 1 when something will be outside.",
		Example: "  pottrail forecast MBY-26-00417\n  pottrail forecast MBY-26-00417-A --events day.ndjson --protocol ours.toml --at 2026-03-06T16:00:00+00:00",
		RunE: func(cmd *cobra.Command, args []string) error {
			item, err := itemArgument(args[0])
			if err != nil {
				return err
			}
			if thing := item.Name.Thing(); thing != tracker.ThingCase && thing != tracker.ThingPot && thing != tracker.ThingPiece {
				return usage("%s is a %s: give a case, a pot or a piece", item.Name.Printed(), thing)
			}
			if file == "" && (rulesFile != "" || at != "") {
				return usage("--protocol and --at go with --events")
			}
			now := time.Now()
			if at != "" {
				if now, err = timeOption("--at", at); err != nil {
					return err
				}
			}
			gathered, rules, err := a.caseAhead(cmd.Context(), item.Name.Case(), file, rulesFile, now)
			if err != nil {
				return err
			}
			return a.tellForecast(item.Name, gathered, rules, now)
		},
	}
	c.Flags().StringVar(&file, "events", "", "`FILE` of events, one a line, in place of the daemon; - is standard input")
	c.Flags().StringVar(&rulesFile, "protocol", "", "with --events: protocol `FILE`")
	c.Flags().StringVar(&at, "at", "", "with --events: look ahead from this `TIME`, with its offset (default: now)")
	return a.withJSON(c)
}

// caseAhead finds the events of a case and its clinic's rules: in a file, or from the daemon.
func (a *app) caseAhead(ctx context.Context, name tracker.Name, file, rulesFile string, now time.Time) ([]*tracker.Event, *tracker.Rules, error) {
	if file != "" {
		in, err := a.openInput(file)
		if err != nil {
			return nil, nil, err
		}
		defer in.Close()
		all, err := readEvents(file, in)
		if err != nil {
			return nil, nil, err
		}
		all = slices.DeleteFunc(all, func(e *tracker.Event) bool { return e.When().After(now) })
		rules, err := a.rulesFor(rulesFile, all)
		if err != nil {
			return nil, nil, err
		}
		filed := tracker.File(all)
		gathered, err := tracker.Gather(name, func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil })
		return gathered, rules(name.Clinic()), err
	}
	var answer ask.CaseAnswer
	if err := a.client().question(ctx, "case", ask.Request{Name: string(name)}, &answer); err != nil {
		return nil, nil, err
	}
	var gathered []*tracker.Event
	for _, line := range answer.Trail {
		e, err := events.DecodeRecorded(line.Event)
		if err != nil {
			return nil, nil, fmt.Errorf("an event of %s: %w", name, err)
		}
		gathered = append(gathered, e)
	}
	var force ask.ProtocolAnswer
	if err := a.client().post(ctx, pathProtocol, ask.ProtocolRequest{Clinic: name.Clinic()}, &force); err != nil {
		return nil, nil, err
	}
	p, err := protocol.Parse([]byte(force.Text))
	if err != nil {
		return nil, nil, fmt.Errorf("the protocol of %s: %w", name.Clinic(), err)
	}
	rules, err := tracker.NewRules(p, time.LoadLocation)
	return gathered, rules, err
}

// potAhead is what `forecast --json` says of a pot.
type potAhead struct {
	Pot      tracker.Name    `json:"pot"`
	Known    bool            `json:"known"`
	Why      string          `json:"why,omitzero"` // why nothing is foreseen
	Place    string          `json:"place,omitzero"`
	FirstIn  time.Time       `json:"first_in,omitzero"` // into fixative
	LastIn   time.Time       `json:"last_in,omitzero"`
	Min      string          `json:"min,omitzero"`
	Max      string          `json:"max,omitzero"`
	Planned  *runAhead       `json:"planned,omitzero"`
	Inside   []runAhead      `json:"inside,omitzero"`
	LastTime time.Time       `json:"last_departure,omitzero"`
	Would    []forecast.Idea `json:"would,omitzero"`
	Doubt    string          `json:"doubt,omitzero"`
}

// runAhead is one run that a pot can go with.
type runAhead struct {
	forecast.Option
	Shortest float64 `json:"shortest_hours"` // in fixative
	Longest  float64 `json:"longest_hours"`
	Inside   bool    `json:"inside"`
}

// forecastAnswer is the answer of `forecast --json`.
type forecastAnswer struct {
	At    time.Time      `json:"at"`
	Pots  []potAhead     `json:"pots"`
	Flags []tracker.Flag `json:"flags"` // those that look ahead
}

func (a *app) tellForecast(name tracker.Name, gathered []*tracker.Event, rules *tracker.Rules, now time.Time) error {
	c := tracker.Fold(name.Case(), gathered)
	if !c.Known {
		return unreadable("%s: nothing is recorded of it", name.Printed())
	}
	only := tracker.Name("")
	if name.Thing() != tracker.ThingCase {
		only = name.Pot()
	}
	answer := forecastAnswer{At: now, Pots: []potAhead{}, Flags: []tracker.Flag{}}
	for _, f := range rules.Forecasts(c, only, now) {
		answer.Pots = append(answer.Pots, ahead(f))
	}
	for _, f := range tracker.Check(c, rules, now).Flags {
		if slices.Contains(tracker.ForeseenKinds(), f.Kind) && (only == "" || f.Item == only) {
			answer.Flags = append(answer.Flags, f)
		}
	}
	if a.json {
		if err := a.printJSON(answer); err != nil {
			return err
		}
	} else {
		for _, p := range answer.Pots {
			a.tellPotAhead(p, rules)
		}
		for _, f := range answer.Flags {
			fmt.Fprintf(a.Out, "%s %s\n      %s\n", strings.ToUpper(string(f.Severity)), f.Text, f.Remedy)
		}
	}
	outside := slices.ContainsFunc(answer.Pots, func(p potAhead) bool { return p.Planned != nil && !p.Planned.Inside })
	if outside || len(answer.Flags) > 0 {
		return wrong()
	}
	return nil
}

func ahead(f tracker.PotForecast) potAhead {
	out := potAhead{Pot: f.Pot, Known: f.Known, Why: f.Why, Place: f.Place, FirstIn: f.First, LastIn: f.Last, Doubt: f.Answer.Doubt}
	if !f.Known {
		return out
	}
	run := func(o forecast.Option) runAhead {
		return runAhead{Option: o, Shortest: o.Shortest.Hours(), Longest: o.Longest.Hours(),
			Inside: (f.Min == 0 || o.Shortest >= f.Min) && (f.Max == 0 || o.Longest <= f.Max)}
	}
	if f.Min > 0 {
		out.Min = protocol.FormatElapsed(f.Min)
	}
	if f.Max > 0 {
		out.Max = protocol.FormatElapsed(f.Max)
	}
	planned := run(f.Answer.Planned)
	out.Planned = &planned
	for _, o := range f.Answer.Inside {
		out.Inside = append(out.Inside, run(o))
	}
	out.LastTime, out.Would = f.Answer.Last, f.Answer.Ideas
	return out
}

// tellPotAhead says a forecast in words, in the clinic's own time.
func (a *app) tellPotAhead(p potAhead, rules *tracker.Rules) {
	clock := func(t time.Time) string { return t.In(rules.Zone()).Format("Mon 2 Jan 15:04") }
	if !p.Known {
		fmt.Fprintf(a.Out, "%s: nothing is foreseen: %s\n", p.Pot.Printed(), p.Why)
		return
	}
	spent := func(o runAhead) string {
		least := protocol.FormatElapsed(o.Option.Shortest.Truncate(time.Minute))
		if most := protocol.FormatElapsed(o.Option.Longest.Truncate(time.Minute)); most != least {
			return least + " to " + most
		}
		return least
	}
	inside := "inside"
	if !p.Planned.Inside {
		inside = "OUTSIDE"
	}
	fmt.Fprintf(a.Out, "%s: in fixative since %s, wanted %s\n", p.Pot.Printed(), clock(p.FirstIn), wanted(p))
	fmt.Fprintf(a.Out, "  planned  %-10s loaded %s, leaves fixative %s, %s: %s\n", p.Planned.Run, clock(p.Planned.Load), clock(p.Planned.Leaves), spent(*p.Planned), inside)
	for _, o := range p.Inside {
		fmt.Fprintf(a.Out, "  inside   %-10s loaded %s, leaves fixative %s, %s; last departure %s\n", o.Run, clock(o.Load), clock(o.Leaves), spent(o), clock(o.Departs))
	}
	if !p.LastTime.IsZero() {
		fmt.Fprintf(a.Out, "  the last departure that keeps it inside: %s\n", clock(p.LastTime))
	}
	if p.Doubt != "" {
		fmt.Fprintf(a.Out, "  not sure of later days: %s\n", p.Doubt)
	}
}

func wanted(p potAhead) string {
	switch {
	case p.Min == "":
		return "at most " + p.Max
	case p.Max == "":
		return "at least " + p.Min
	}
	return p.Min + " to " + p.Max
}

package cli

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"maps"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

func (a *app) check() *cobra.Command {
	var file, rulesFile, at string
	var under bool
	c := &cobra.Command{
		Use: "check", Short: "Judge events in a file at a time", Args: cobra.NoArgs,
		Long: "Judges the events of a file at a time, by a protocol: the arithmetic alone, with no daemon. It tells whoever\n" +
			"writes the protocol what it would do. Events later than --at are left out, so that a day can be replayed.\n" +
			"Protocol: --protocol, else the last one adopted in the file, else the one inside the program.\n\n" +
			"Exit 0 no flags, 1 flags, 2 when a line cannot be read (told with its number).",
		Example: "  pottrail check --events day.ndjson --at 2026-03-09T09:00:00+00:00 --json",
		RunE: func(*cobra.Command, []string) error {
			now := time.Now()
			if at != "" {
				var err error
				if now, err = timeOption("--at", at); err != nil {
					return err
				}
			}
			answer, err := a.judgeFile(file, rulesFile, now, under)
			if err != nil {
				return err
			}
			return a.printFindings(answer)
		},
	}
	c.Flags().StringVar(&file, "events", "", "`FILE` of events, one a line; - is standard input")
	c.Flags().StringVar(&rulesFile, "protocol", "", "protocol `FILE`")
	c.Flags().BoolVar(&under, "under", false, "say under which protocol each was raised")
	c.Flags().StringVar(&at, "at", "", "judge at this `TIME`, with its offset (default: now)")
	_ = c.MarkFlagRequired("events") // it exists: it was just added
	return a.withJSON(c)
}

func (a *app) judgeFile(file, rulesFile string, now time.Time, under bool) (ask.FlagsAnswer, error) {
	in, err := a.openInput(file)
	if err != nil {
		return ask.FlagsAnswer{}, err
	}
	defer in.Close()
	all, err := readEvents(file, in)
	if err != nil {
		return ask.FlagsAnswer{}, err
	}
	all = slices.DeleteFunc(all, func(e *tracker.Event) bool { return e.When().After(now) })
	rules, err := a.rulesFor(rulesFile, all)
	if err != nil {
		return ask.FlagsAnswer{}, err
	}
	answer, err := judgeAll(all, rules, now)
	if err != nil || !under {
		return answer, err
	}
	return answer, a.tellUnder(&answer, rulesFile, all, rules)
}

// readEvents reads lines of events, recorded or not; the first that intake would refuse ends it.
func readEvents(name string, in io.Reader) ([]*tracker.Event, error) {
	lines := bufio.NewScanner(in)
	lines.Buffer(make([]byte, 0, 64<<10), longestLine)
	var all []*tracker.Event
	byID := map[tracker.EventID]*tracker.Event{}
	number := 0
	for lines.Scan() {
		number++
		line := bytes.TrimSpace(lines.Bytes())
		if len(line) == 0 {
			continue
		}
		e, err := events.DecodeRecorded(line)
		if err != nil {
			return nil, unreadable("%s, line %d: %w", name, number, err)
		}
		if known := byID[e.ID]; known != nil {
			if !events.Same(known, e) {
				return nil, unreadable("%s, line %d: the id %s was seen before with other content", name, number, e.ID)
			}
			if e.EarlierRecord(known) < 0 {
				*known = *e
			}
			continue
		}
		byID[e.ID] = e
		all = append(all, e)
	}
	if err := lines.Err(); err != nil {
		return nil, unreadable("%s, line %d: %w", name, number+1, err)
	}
	return all, nil
}

// rulesFor finds the rules of each clinic: a file for all of them, else what each has adopted last, else the default.
func (a *app) rulesFor(file string, all []*tracker.Event) (func(clinic string) *tracker.Rules, error) {
	if file != "" {
		rules, err := a.readRules(file)
		return func(string) *tracker.Rules { return rules }, err
	}
	fallback, err := tracker.NewRules(protocol.Default(), time.LoadLocation)
	if err != nil {
		return nil, fmt.Errorf("the protocol inside the program: %w", err)
	}
	last := map[string]*tracker.Event{}
	for _, e := range all {
		if e.Kind == tracker.KindProtocolAdopted && (last[e.Clinic] == nil || last[e.Clinic].Compare(e) < 0) {
			last[e.Clinic] = e
		}
	}
	adopted := map[string]*tracker.Rules{}
	for clinic, e := range last {
		fact, ok := e.Data.(*tracker.ProtocolAdopted)
		if !ok {
			continue
		}
		p, err := protocol.Parse([]byte(fact.Text))
		if err != nil {
			return nil, protocolFault("the protocol that "+clinic+" adopted last", err)
		}
		if adopted[clinic], err = tracker.NewRules(p, time.LoadLocation); err != nil {
			return nil, unreadable("the protocol that %s adopted last: %w", clinic, err)
		}
	}
	return func(clinic string) *tracker.Rules {
		if rules := adopted[clinic]; rules != nil {
			return rules
		}
		return fallback
	}, nil
}

// judgeAll judges every watched thing that the events are about.
func judgeAll(all []*tracker.Event, rules func(string) *tracker.Rules, now time.Time) (ask.FlagsAnswer, error) {
	filed := tracker.File(all)
	load := func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil }
	answer := ask.FlagsAnswer{At: now, Flags: []tracker.Flag{}, Held: []tracker.HeldFlag{}}
	for _, watched := range slices.Sorted(maps.Keys(filed)) {
		gathered, err := tracker.Gather(watched, load)
		if err != nil {
			return ask.FlagsAnswer{}, err
		}
		answer.Add(tracker.Judge(watched, gathered, rules(watched.Clinic()), now).Findings)
	}
	answer.Sort()
	return answer, nil
}

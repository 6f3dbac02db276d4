package tracker_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// defaultRules are those of the protocol inside the program.
func defaultRules(t require.TestingT) *tracker.Rules {
	rules, err := tracker.NewRules(protocol.Default(), time.LoadLocation)
	require.NoError(t, err)
	return rules
}

// judged is what a case comes to: the whole state, and what is wrong at an instant.
func judged(name tracker.Name, events []*tracker.Event, rules *tracker.Rules, now time.Time) tracker.Judgement {
	gathered, _ := tracker.Gather(name, loadFrom(events))
	return tracker.Judge(name, gathered, rules, now)
}

func loadFrom(events []*tracker.Event) func(tracker.Name) ([]*tracker.Event, error) {
	filed := tracker.File(events)
	return func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil }
}

func TestLawOrderSplitAndRepetitionDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		want := map[tracker.Name]*tracker.Case{}
		for _, name := range h.cases {
			want[name] = tracker.Fold(name, h.events)
		}
		again := append(slices.Clone(h.events), drawRepeats(t, h.events)...)
		again = rapid.Permutation(again).Draw(t, "order")
		for name, folded := range want {
			require.Equal(t, folded, tracker.Fold(name, again), "%s in another order, with repeats", name)
			gathered, err := tracker.Gather(name, loadFrom(again))
			require.NoError(t, err)
			require.Equal(t, folded, tracker.Fold(name, gathered), "%s from what a ledger would gather", name)
		}
	})
}

func TestLawABagIsTheSameHoweverItIsTold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		again := rapid.Permutation(append(slices.Clone(h.events), drawRepeats(t, h.events)...)).Draw(t, "order")
		for _, name := range []tracker.Name{bagOne, bagTwo} {
			want := tracker.FoldBag(name, h.events)
			require.Equal(t, want, tracker.FoldBag(name, again), "%s in another order, with repeats", name)
			gathered, err := tracker.Gather(name, loadFrom(again))
			require.NoError(t, err)
			require.Equal(t, want, tracker.FoldBag(name, gathered), "%s from what a ledger would gather", name)
		}
	})
}

// drawRepeats draws events that arrive again, some first recorded at another node later.
func drawRepeats(t *rapid.T, events []*tracker.Event) []*tracker.Event {
	var again []*tracker.Event
	for _, e := range events {
		if rapid.IntRange(0, 3).Draw(t, "again") != 0 {
			continue
		}
		twin := *e
		if !e.Record.Recorded.IsZero() && rapid.Bool().Draw(t, "elsewhere") {
			twin.Record.Origin = "node-z"
			twin.Record.Recorded = e.Record.Recorded.Add(time.Hour)
		}
		again = append(again, &twin)
	}
	return again
}

// TestLawNothingChangesBeforeWake: by the default protocol, and by one with vans, hours and runs that are looked ahead over.
func TestLawNothingChangesBeforeWake(t *testing.T) {
	protocols := []*tracker.Rules{defaultRules(t), rulesWithVans(t, vans)}
	rapid.Check(t, func(t *rapid.T) {
		rules := protocols[rapid.IntRange(0, 1).Draw(t, "protocol")]
		h := drawHistory(t)
		for _, name := range h.watched {
			now := drawInstant(t)
			found := judged(name, h.events, rules, now).Findings
			for range 6 {
				end := now.Add(3000 * time.Hour)
				if !found.Wake.IsZero() {
					require.True(t, found.Wake.After(now), "wake %s is not after %s", found.Wake, now)
					end = found.Wake
				}
				for _, between := range []time.Time{end.Add(-1), now.Add(end.Sub(now) / 2), now.Add(time.Duration(rapid.Int64Range(0, int64(end.Sub(now)-1)).Draw(t, "between")))} {
					later := judged(name, h.events, rules, between).Findings
					require.Equal(t, found.Flags, later.Flags, "%s at %s and %s", name, now, between)
					require.Equal(t, found.Held, later.Held)
				}
				if found.Wake.IsZero() {
					break
				}
				now = found.Wake
				found = judged(name, h.events, rules, now).Findings
			}
		}
	})
}

func TestLawEveryLabelledPieceIsInOnePlaceOrFlagged(t *testing.T) {
	rules := defaultRules(t)
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		for _, name := range h.cases {
			c := tracker.Fold(name, h.events)
			far := start.AddDate(1, 0, 0)
			found := tracker.Check(c, rules, far)
			if !c.Known {
				continue
			}
			flagged := func(kind tracker.FlagKind, item tracker.Name) bool {
				has := func(f tracker.Flag) bool { return f.Kind == kind && f.Item == item }
				return slices.ContainsFunc(found.Flags, has) || slices.ContainsFunc(found.Held, func(f tracker.HeldFlag) bool { return has(f.Flag) })
			}
			seen := map[tracker.Name]bool{}
			for _, s := range c.Pieces {
				require.False(t, seen[s.Name], "%s stands twice", s.Name)
				seen[s.Name] = true
				require.NotEmpty(t, s.Pot, "%s is in no pot and not out", s.Name)
			}
			for _, l := range c.Labels {
				if l.Thing.Thing() != tracker.ThingPiece || l.Printed.When.IsZero() || l.Downtime {
					continue
				}
				require.True(t, l.Used || l.Spoiled != nil || flagged(tracker.FlagLabelLeftOver, l.Thing), "label %s of %s is nowhere", l.Copy, l.Thing)
			}
		}
	})
}

func TestLawCustodyNeverOverlapsUnflagged(t *testing.T) {
	rules := defaultRules(t)
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		for _, name := range h.cases {
			c := tracker.Fold(name, h.events)
			found := tracker.Check(c, rules, start.AddDate(1, 0, 0))
			for _, p := range c.Pots {
				for i := 1; i < len(p.Custody); i++ {
					a, b := p.Custody[i-1], p.Custody[i]
					require.False(t, b.When.Before(a.When), "custody of %s goes back in time", p.Name)
					if !b.When.Equal(a.When) || a.Place == b.Place && a.Holder == b.Holder || i < len(p.Custody)-1 {
						continue // the earlier ends where the later begins
					}
					closed := c.Closing != nil && c.Closing.Why != ""
					broken := slices.ContainsFunc(found.Flags, func(f tracker.Flag) bool { return f.Kind == tracker.FlagCustodyBroken && f.Item == p.Name })
					settled := slices.ContainsFunc(c.Answers, func(a tracker.Answer) bool { return a.Flag == tracker.FlagCustodyBroken && a.Item == p.Name })
					require.True(t, broken || settled || closed || !p.HasEvents || !c.Known, "%s is in two hands at %s", p.Name, b.When)
				}
			}
		}
	})
}

func TestLawOtherThingsNeverChangeACase(t *testing.T) {
	rules := defaultRules(t)
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		name := h.cases[0]
		gathered, err := tracker.Gather(name, loadFrom(h.events))
		require.NoError(t, err)
		linked := map[*tracker.Event]bool{}
		for _, e := range gathered {
			linked[e] = true
		}
		others := slices.DeleteFunc(slices.Clone(h.events), func(e *tracker.Event) bool { return linked[e] })
		now := drawInstant(t)
		alone := tracker.Judge(name, gathered, rules, now)
		require.Equal(t, alone, tracker.Judge(name, append(slices.Clone(gathered), others...), rules, now))
	})
}

func TestLawAnEventTouchesEverythingItChanges(t *testing.T) {
	rules := defaultRules(t)
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		i := rapid.IntRange(0, len(h.events)-1).Draw(t, "which arrives last")
		e := h.events[i]
		before := slices.Delete(slices.Clone(h.events), i, i+1)
		touched, err := tracker.Touched(e, loadFrom(h.events))
		require.NoError(t, err)
		now := drawInstant(t)
		names := slices.Clone(h.watched)
		for name := range tracker.File(h.events) {
			if name.Thing() == tracker.ThingRoomDay {
				names = append(names, name)
			}
		}
		slices.Sort(names)
		for _, name := range names {
			a, b := judged(name, before, rules, now), judged(name, h.events, rules, now)
			if !slices.Contains(touched, name) {
				require.Equal(t, a, b, "%s changed by %s %v, which touches only %v", name, e.Kind, e.Items, touched)
			}
		}
	})
}

// The generator must reach what the laws are about.
func TestTheGeneratorDrawsEverything(t *testing.T) {
	kinds := map[tracker.Kind]int{}
	situations := map[string]int{}
	draw := func(t *rapid.T) {
		h := drawHistory(t)
		byID := map[tracker.EventID]*tracker.Event{}
		rooms := map[string]map[tracker.Name]bool{}
		for _, e := range h.events {
			kinds[e.Kind]++
			byID[e.ID] = e
		}
		for _, e := range h.events {
			switch d := e.Data.(type) {
			case *tracker.EventStruck:
				if target := byID[d.Event]; target != nil && target.Kind == tracker.KindEventStruck {
					situations["a strike of a strike"]++
				}
			case *tracker.PatientChecked:
				if rooms[d.Room] == nil {
					rooms[d.Room] = map[tracker.Name]bool{}
				}
				rooms[d.Room][e.Items[0].Name] = true
				if len(rooms[d.Room]) > 1 {
					situations["two cases in a room"]++
				}
			case *tracker.CustodyTaken:
				if e.Items[0].Name.Thing() == tracker.ThingBag {
					situations["a bag changes hands"]++
				}
			case *tracker.CaseAmended:
				if d.Pots != nil {
					situations["pots amended"]++
				}
			}
		}
		for _, bag := range []tracker.Name{bagOne, bagTwo} {
			for _, d := range tracker.FoldBag(bag, h.events).Differences {
				situations[fmt.Sprintf("a bag differs, opened %v, extra %v", d.Opened, d.Extra)]++
			}
		}
	}
	for range 4 {
		rapid.Check(t, draw)
	}
	for _, info := range tracker.Kinds() {
		if info.Kind != tracker.KindProtocolAdopted {
			require.NotZero(t, kinds[info.Kind], "%s never came up", info.Kind)
		}
	}
	for _, s := range []string{"a strike of a strike", "two cases in a room", "a bag changes hands", "pots amended",
		"a bag differs, opened true, extra false", "a bag differs, opened true, extra true", "a bag differs, opened false, extra false",
		"a bag differs, opened false, extra true"} {
		require.NotZero(t, situations[s], "%s never came up", s)
	}
}

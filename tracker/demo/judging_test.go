package demo_test

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/demo"
	"github.com/pottrail/pottrail/tracker/protocol"
	"github.com/pottrail/pottrail/tracker/timetable"
)

// judging judges the things of a network by their clinics' protocols.
type judging struct {
	t     testing.TB
	filed map[tracker.Name][]*tracker.Event
	rules map[string]*tracker.Rules
}

// newJudging has the events recorded as by a daemon that is started at now: what claims to be later is recorded then.
func newJudging(t testing.TB, n *demo.Network, now time.Time) *judging {
	t.Helper()
	j := &judging{t: t, rules: map[string]*tracker.Rules{}}
	recorded := slices.Clone(n.Events)
	for i, e := range recorded {
		if e.At.After(now) {
			copied := *e
			copied.Record.Recorded = now
			recorded[i] = &copied
		}
	}
	j.filed = tracker.File(recorded)
	for key, text := range n.Protocols {
		p, err := protocol.Parse([]byte(text))
		require.NoError(t, err, key)
		j.rules[key], err = tracker.NewRules(p, time.LoadLocation)
		require.NoError(t, err, key)
	}
	return j
}

func (j *judging) watched() []tracker.Name { return slices.Sorted(maps.Keys(j.filed)) }

// gather is all that counts for a thing, by when.
func (j *judging) gather(watched tracker.Name) []*tracker.Event {
	j.t.Helper()
	gathered, err := tracker.Gather(watched, func(n tracker.Name) ([]*tracker.Event, error) { return j.filed[n], nil })
	require.NoError(j.t, err)
	gathered = slices.Clone(gathered)
	slices.SortFunc(gathered, (*tracker.Event).Compare)
	return slices.Compact(gathered)
}

// judge judges by what had happened up to an instant; gathered comes by when.
func (j *judging) judge(watched tracker.Name, gathered []*tracker.Event, at time.Time) tracker.Judgement {
	past, _ := slices.BinarySearchFunc(gathered, at, func(e *tracker.Event, at time.Time) int {
		if e.When().After(at) {
			return 1
		}
		return -1
	})
	return tracker.Judge(watched, gathered[:past], j.rules[watched.Clinic()], at)
}

// walk judges a thing at every instant at which anything about it can change, until now.
func (j *judging) walk(watched tracker.Name, now time.Time, visit func(at time.Time, found tracker.Findings)) {
	gathered := j.gather(watched)
	next := 0
	for at := gathered[0].When(); !at.After(now); {
		found := j.judge(watched, gathered, at).Findings
		visit(at, found)
		for next < len(gathered) && !gathered[next].When().After(at) {
			next++
		}
		wake := found.Wake
		if next < len(gathered) && (wake.IsZero() || gathered[next].When().Before(wake)) {
			wake = gathered[next].When()
		}
		if wake.IsZero() {
			return
		}
		at = wake
	}
}

// planned lists the kinds of flags that were put in on purpose, by what they are found on.
func planned(n *demo.Network) map[tracker.Name][]tracker.FlagKind {
	by := map[tracker.Name][]tracker.FlagKind{}
	for _, f := range n.Faults {
		by[f.Watched] = append(by[f.Watched], f.Flag)
	}
	return by
}

// whileTheyCome reports whether a flag only says that not all pieces have been taken yet, as of every good case between its
// first piece and its last.
func (j *judging) whileTheyCome(f tracker.Flag, at time.Time) bool {
	if f.Kind != tracker.FlagPiecesFew || f.Severity != tracker.Watch {
		return false
	}
	for _, e := range j.gather(f.Case) {
		if (e.Kind == tracker.KindProcedureEnded || e.Kind == tracker.KindPotSealed && e.Items[0].Name == f.Item) && !e.At.After(at) {
			return false
		}
	}
	return true
}

// foreseen reports whether a flag only says that something went with a van and its scan is still to come, or that a live
// case is planned for an hour at which no bench is open: both are so, and neither is a fault of the network.
func (j *judging) foreseen(f tracker.Flag) bool {
	switch f.Kind {
	case tracker.FlagFixationWillBeLong, tracker.FlagFixationWillBeShort, tracker.FlagFreshLate:
		zone := j.rules[f.Item.Clinic()].Zone()
		calendar, err := timetable.NewCalendar(zone, timetable.RegionEnglandWales, nil, nil)
		require.NoError(j.t, err)
		since := f.Since.In(zone)
		lateList := since.Weekday() != time.Friday || since.Hour() >= 15 // the timetable does not say which van goes before a holiday
		return f.Severity == tracker.Watch && f.Due.Sub(f.Since) == 30*time.Minute || strings.Contains(f.Text, "taken as planned") ||
			f.Kind == tracker.FlagFixationWillBeLong && lateList && !calendar.Working(since.AddDate(0, 0, 1))
	}
	return false
}

// What was not made to go wrong raises nothing but that pieces are still to come, at any instant of its history: false flags teach people to look away. Where
// something was, nothing else goes wrong.
func TestNothingElseEverGoesWrong(t *testing.T) {
	everyNetwork(t, 1, func(t *testing.T, n *demo.Network, now time.Time) {
		j, faulty := newJudging(t, n, now), planned(n)
		ordinary := 0
		for _, watched := range j.watched() {
			if len(faulty[watched]) == 0 {
				ordinary++
			}
			j.walk(watched, now, func(at time.Time, found tracker.Findings) {
				for _, f := range found.Flags {
					if !slices.Contains(faulty[watched], f.Kind) && !j.whileTheyCome(f, at) && !j.foreseen(f) {
						t.Errorf("%s %s: %s %s on %s: %s", at.Format("Mon 2 Jan 15:04:05"), watched, f.Severity, f.Kind, f.Item, f.Text)
					}
				}
			})
		}
		require.Greater(t, ordinary, 250)
	})
}

// Of what was made to go wrong, each fault raises its flag, and nothing else is wrong with its case.
func TestEveryFaultRaisesItsFlag(t *testing.T) {
	inForce := map[tracker.FlagKind]bool{}
	for _, info := range tracker.FlagCatalog() {
		inForce[info.Kind] = true
	}
	everyNetwork(t, 3, func(t *testing.T, n *demo.Network, now time.Time) {
		j, faulty := newJudging(t, n, now), planned(n)
		for _, f := range n.Faults {
			require.NotEmpty(t, f.What)
			require.False(t, f.Since.After(now))
			if !inForce[f.Flag] {
				continue
			}
			at := f.Since
			if f.Open() {
				at = now
			}
			gathered := j.gather(f.Watched)
			found := j.judge(f.Watched, gathered, at).Findings
			raised := func(kind tracker.FlagKind, item tracker.Name) bool {
				return slices.ContainsFunc(found.Flags, func(flag tracker.Flag) bool { return flag.Kind == kind && flag.Item == item })
			}
			require.True(t, raised(f.Flag, f.Item), "%s of %s from %s: %s", f.Flag, f.Item, f.Since, f.What)
			for _, flag := range found.Flags {
				if !j.whileTheyCome(flag, at) && !j.foreseen(flag) {
					require.Contains(t, faulty[f.Watched], flag.Kind, "%s: %s", f.What, flag.Text)
				}
			}
			if !f.Open() {
				found = j.judge(f.Watched, gathered, f.Until).Findings
				require.False(t, raised(f.Flag, f.Item), "%s of %s was settled %s: %s", f.Flag, f.Item, f.Until, f.What)
			}
		}
	})
}

// The faults that a real day has are all there, whatever the hour, and most of those in force are open.
func TestFaultsOfRealDays(t *testing.T) {
	open := []tracker.FlagKind{
		"pieces-poor", "container-wrong", "bag-short", "result-unread", "patient-waiting", "fixative-time-missing", "cold-ischaemia-long",
		"label-left-over", "label-superseded", "room-open", "read-back-missing", "pot-lost", "lab-refused", "pieces-differ", "result-overdue",
		"result-changed", "discordant", "clock-doubtful", "unknown-item", "fixation-short", "needs-meeting",
	}
	once := []tracker.FlagKind{"fixation-will-be-long", "fixation-long", "label-before-check", "medium-expired", "lab-queried", "handoff-gap"}
	everyNetwork(t, 3, func(t *testing.T, n *demo.Network, now time.Time) {
		ever, still := map[tracker.FlagKind]bool{}, map[tracker.FlagKind]bool{}
		for _, f := range n.Faults {
			ever[f.Flag] = true
			if f.Open() {
				still[f.Flag] = true
			}
		}
		for _, kind := range open {
			require.True(t, still[kind], "no open %s", kind)
		}
		for _, kind := range once {
			require.True(t, ever[kind], "no %s", kind)
		}
	})
}

// A day's open flags stay few enough to be read.
func TestOpenFlagsAreFew(t *testing.T) {
	everyNetwork(t, 1, func(t *testing.T, n *demo.Network, now time.Time) {
		j := newJudging(t, n, now)
		count := map[tracker.Severity]int{}
		for _, watched := range j.watched() {
			for _, f := range j.judge(watched, j.gather(watched), now).Findings.Flags {
				count[f.Severity]++
			}
		}
		require.Greater(t, count[tracker.Now], 4, fmt.Sprint(count))
		require.Less(t, count[tracker.Now]+count[tracker.Today], 45, fmt.Sprint(count))
	})
}

// Turnaround has the shape of published ones: half of the final results within a working week of receipt, nearly all in
// ten days. Source: reference values of practice, section 3.2, D2 to D4, and 3.1, T1.
func TestTurnaroundLooksReal(t *testing.T) {
	n := generate(t, 1, localTime("2026-03-11 15:20"))
	j := newJudging(t, n, localTime("2026-03-11 15:20"))
	var spans []time.Duration
	for _, watched := range j.watched() {
		if watched.Thing() != tracker.ThingCase {
			continue
		}
		gathered := j.gather(watched)
		c := tracker.Fold(watched, gathered)
		for _, r := range c.Results {
			if r.Stage != tracker.StageFinal || r.Studies != nil && !slices.Contains(r.Studies, "histology") {
				continue
			}
			for _, held := range c.Pot(r.Pots[0]).Custody {
				if held.Place == "lab-reception" {
					spans = append(spans, r.When.Sub(held.When))
					break
				}
			}
		}
	}
	slices.SortFunc(spans, cmp.Compare)
	require.Greater(t, len(spans), 200)
	day := 24 * time.Hour
	median, late := spans[len(spans)/2], spans[len(spans)*98/100]
	require.Greater(t, median, 2*day)
	require.Less(t, median, 6*day)
	require.Less(t, late, 10*day)
	require.Greater(t, spans[len(spans)-1], 10*day, "a few are late")
}

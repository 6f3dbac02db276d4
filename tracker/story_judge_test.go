package tracker_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// knownAt is when an event became known: when it was recorded, else when it happened.
func knownAt(e *tracker.Event) time.Time {
	if e.Record.Recorded.IsZero() {
		return e.At
	}
	return e.Record.Recorded
}

// until lists the events that are known at an instant.
func (s *story) until(now time.Time) []*tracker.Event {
	var known []*tracker.Event
	for _, e := range s.events {
		if !knownAt(e).After(now) {
			known = append(known, e)
		}
	}
	return known
}

// judge folds and checks a watched thing ("case", "bag" or a name) by what is known at an instant, and holds the answer
// against the laws of page 3: the order of telling does not matter, wake is later than now or absent, nothing changes
// before it, and every flag says what, when, who and why.
func (s *story) judge(watched string, now time.Time) tracker.Findings {
	s.t.Helper()
	thing := tracker.Name(watched)
	if thing.Thing() != tracker.ThingRoomDay {
		thing = s.thing(watched).Name
	}
	filed := tracker.File(s.until(now))
	load := func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil }
	events, err := tracker.Gather(thing, load)
	require.NoError(s.t, err)
	check := func(events []*tracker.Event, at time.Time) tracker.Findings {
		if thing.Thing() == tracker.ThingRoomDay {
			return tracker.CheckRoom(thing, events, s.rules)
		}
		if thing.Thing() == tracker.ThingBag {
			return tracker.CheckBag(tracker.FoldBag(thing, events), s.rules, at)
		}
		return tracker.Check(tracker.Fold(thing, events), s.rules, at)
	}
	got := check(events, now)

	reversed := slices.Clone(events)
	slices.Reverse(reversed)
	require.Equal(s.t, asJSON(s.t, got), asJSON(s.t, check(reversed, now)), "the order of telling changed the answer at %s", now)

	instants := []time.Time{now.AddDate(20, 0, 0)}
	if !got.Wake.IsZero() {
		require.True(s.t, got.Wake.After(now), "wake %s is not later than now %s", got.Wake, now)
		instants = []time.Time{now.Add(got.Wake.Sub(now) / 2), got.Wake.Add(-time.Second), got.Wake.Add(-time.Nanosecond)}
	}
	for _, at := range instants {
		if at.Before(now) {
			continue
		}
		later := check(events, at)
		require.Equal(s.t, asJSON(s.t, got.Flags), asJSON(s.t, later.Flags), "flags changed at %s by themselves, wake was %s", at, got.Wake)
		require.Equal(s.t, asJSON(s.t, got.Held), asJSON(s.t, later.Held), "held flags changed at %s by themselves, wake was %s", at, got.Wake)
	}
	for _, f := range got.Flags {
		s.lawful(f, now)
	}
	for _, f := range got.Held {
		s.lawful(f.Flag, now)
		require.NotEmpty(s.t, f.By)
	}
	return got
}

func (s *story) lawful(f tracker.Flag, now time.Time) {
	s.t.Helper()
	require.NotEmpty(s.t, f.Text, f.Kind)
	require.NotEmpty(s.t, f.Remedy, f.Kind)
	require.NotEmpty(s.t, f.Who, f.Kind)
	require.NotEmpty(s.t, f.Basis, f.Kind)
	require.True(s.t, strings.HasSuffix(f.Text, ".") || strings.HasSuffix(f.Text, "?"), f.Text)
	require.False(s.t, f.Since.IsZero(), f.Kind)
	require.False(s.t, f.Since.After(now), "%s is true since %s, later than now %s", f.Kind, f.Since, now)
	require.NotContains(s.t, f.Text, " ago", "texts name instants, never ages")
	if f.Kind == tracker.FlagUnknownItem || f.Item.Thing() == tracker.ThingBag {
		require.Empty(s.t, f.Case)
	} else {
		require.Equal(s.t, f.Item.Case(), f.Case)
	}
}

func asJSON(t testing.TB, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	require.NoError(t, err)
	return string(text)
}

// line is a flag in short: "now cold-ischaemia-long A01".
func (s *story) line(f tracker.Flag) string {
	return fmt.Sprintf("%s %s %s", f.Severity, f.Kind, s.short(f.Item))
}

// flags lists what is wrong at an instant, and what is held back: "held not-at-lab A by pot-lost".
func (s *story) flags(watched, at string) []string {
	s.t.Helper()
	return s.lines(s.judge(watched, s.instant(at)))
}

func (s *story) lines(found tracker.Findings) []string {
	lines := []string{}
	for _, f := range found.Flags {
		lines = append(lines, s.line(f))
	}
	for _, f := range found.Held {
		lines = append(lines, fmt.Sprintf("held %s %s by %s", f.Kind, s.short(f.Item), f.By))
	}
	return lines
}

// flag is the one flag of a kind on a thing.
func (s *story) flag(kind tracker.FlagKind, thing, at string) tracker.Flag {
	s.t.Helper()
	watched := tracker.Watched(s.thing(thing).Name)
	found := s.judge(string(watched), s.instant(at))
	for _, f := range found.Flags {
		if f.Kind == kind && f.Item == s.thing(thing).Name {
			return f
		}
	}
	require.Failf(s.t, "no such flag", "%s on %s at %s; there are %v", kind, thing, at, s.lines(found))
	return tracker.Flag{}
}

// none asserts that a kind is not raised at an instant, held or not.
func (s *story) none(kind tracker.FlagKind, at string) {
	s.t.Helper()
	for _, line := range s.flags("case", at) {
		require.NotContains(s.t, strings.Fields(line)[1], kind, "at %s", at)
	}
}

// course follows one kind of flag through the whole story, from its first event to long after its last, from one
// event or wake to the next, and lists each change: "Fri 6 Mar 15:52:00 watch A01". "-" is none; "(A01 by …)" is held.
func (s *story) course(kind tracker.FlagKind) []string { return s.courseOf("case", kind) }

func (s *story) courseOf(watched string, kind tracker.FlagKind) []string {
	s.t.Helper()
	changes := []string{}
	state := "-"
	s.walk(watched, func(now time.Time, found tracker.Findings) {
		var lines []string
		for _, f := range found.Flags {
			if f.Kind == kind {
				lines = append(lines, string(f.Severity)+" "+s.short(f.Item))
			}
		}
		for _, f := range found.Held {
			if f.Kind == kind {
				lines = append(lines, fmt.Sprintf("(%s %s by %s)", f.Severity, s.short(f.Item), f.By))
			}
		}
		slices.Sort(lines)
		is := strings.Join(lines, ", ")
		if is == "" {
			is = "-"
		}
		if is != state {
			state = is
			changes = append(changes, now.In(london).Format("Mon 2 Jan 15:04:05")+" "+is)
		}
	})
	return changes
}

// walk judges the story at every instant at which anything could change: each event when it became known, and each wake.
func (s *story) walk(watched string, visit func(now time.Time, found tracker.Findings)) {
	s.t.Helper()
	var steps []time.Time
	for _, e := range s.events {
		steps = append(steps, knownAt(e))
	}
	slices.SortFunc(steps, time.Time.Compare)
	const most = 500
	now := steps[0]
	for range most {
		found := s.judge(watched, now)
		visit(now, found)
		next := found.Wake
		for _, step := range steps {
			if step.After(now) && (next.IsZero() || step.Before(next)) {
				next = step
			}
		}
		if next.IsZero() {
			return
		}
		now = next
	}
	require.Fail(s.t, "the story never comes to rest")
}

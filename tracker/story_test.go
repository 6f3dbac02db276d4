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

// story is a case told step by step. Each verb records one event at the story's own clock; things are spelled as people
// in the room say them: "A01" a piece, "A" a pot, "case" the request form, "bag" the transport bag, "A01/2" the second
// copy of a label. Names in full may stand for things of other cases.
type story struct {
	t       testing.TB
	name    tracker.Name
	bag     tracker.Name
	clock   time.Time
	person  string
	station string
	events  []*tracker.Event
	request tracker.CaseOpened // for the next opening
	rules   *tracker.Rules
}

var london = mustZone("Europe/London")

const (
	minute  = time.Minute
	rfc3339 = time.RFC3339
)

func mustZone(name string) *time.Location {
	zone, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return zone
}

// newStory starts a story on Friday 6 March 2026 in the second room of the Marram Bay clinic.
func newStory(t testing.TB) *story {
	t.Helper()
	return &story{t: t, name: "MBY-26-00417", bag: "MBY-26-00012-Z", rules: defaultRules(t),
		clock: time.Date(2026, time.March, 6, 9, 0, 0, 0, london), person: "nurse.osei", station: "room-2",
		request: tracker.CaseOpened{Patient: "p-4c1a", Priority: "routine", Room: "room-2",
			Lesions: []tracker.Lesion{{Key: "L1", Organ: "breast", Side: "left", Position: "2 o'clock", Target: "mass", Imaging: "U5"}}}}
}

// instant reads "15:42", "15:42:10", "2026-03-09 07:00" or an RFC 3339 time; a clock alone is on the story's day.
func (s *story) instant(text string) time.Time {
	s.t.Helper()
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t
	}
	day, clock, dated := strings.Cut(text, " ")
	if !dated {
		day, clock = s.clock.In(london).Format(time.DateOnly), text
	}
	if strings.Count(clock, ":") == 1 {
		clock += ":00"
	}
	t, err := time.ParseInLocation(time.DateTime, day+" "+clock, london)
	require.NoError(s.t, err)
	return t
}

// at moves the story's clock.
func (s *story) at(text string) *story {
	s.t.Helper()
	s.clock = s.instant(text)
	return s
}

// by says who does what follows, and at which station.
func (s *story) by(person, station string) *story {
	s.person, s.station = person, station
	return s
}

// thing spells a name in full.
func (s *story) thing(short string) tracker.Item {
	s.t.Helper()
	short, copies, scanned := strings.Cut(short, "/")
	var item tracker.Item
	switch {
	case short == "case":
		item.Name = s.name
	case short == "bag":
		item.Name = s.bag
	case len(short) <= 3:
		item.Name = s.name + "-" + tracker.Name(short)
	default:
		item.Name = tracker.Name(short)
	}
	parsed, err := tracker.ParseName(string(item.Name))
	require.NoError(s.t, err)
	require.Equal(s.t, item.Name, parsed)
	if scanned {
		item.Copy = tracker.Copy(copies[0])
	}
	return item
}

func (s *story) names(short ...string) []tracker.Name {
	names := make([]tracker.Name, 0, len(short))
	for _, one := range short {
		names = append(names, s.thing(one).Name)
	}
	return names
}

// short is the spelling of the story for a name.
func (s *story) short(n tracker.Name) string {
	switch {
	case n == s.name:
		return "case"
	case n == s.bag:
		return "bag"
	case strings.HasPrefix(string(n), string(s.name)+"-"):
		return string(n[len(s.name)+1:])
	}
	return string(n)
}

// record adds an event; its id is a UUIDv7 of the story's clock, in the order of telling.
func (s *story) record(fact tracker.Fact, things ...string) *tracker.Event {
	s.t.Helper()
	items := make([]tracker.Item, 0, len(things))
	for _, thing := range things {
		items = append(items, s.thing(thing))
	}
	id := fmt.Sprintf("%012x", s.clock.UnixMilli())
	e := &tracker.Event{ID: tracker.EventID(fmt.Sprintf("%s-%s-7000-8000-%012x", id[:8], id[8:], len(s.events)+1)),
		Kind: fact.Kind(), Clinic: "MBY", At: s.clock, By: s.person, Station: s.station, Items: items, Data: fact}
	s.events = append(s.events, e)
	return e
}

// plan is a pot to be asked for, of the first lesion.
func plan(letter, medium string, studies ...string) tracker.PlannedPot {
	return tracker.PlannedPot{Pot: letter, Lesion: "L1", Medium: medium, Studies: studies}
}

func (s *story) opened(pots ...tracker.PlannedPot) *tracker.Event {
	s.t.Helper()
	request := s.request
	request.Pots = pots
	return s.record(&request, "case")
}

func (s *story) amended(change tracker.CaseAmended) *tracker.Event {
	s.t.Helper()
	change.Why = "as the clinician asked"
	return s.record(&change, "case")
}

func (s *story) checked() *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}, Confirmed: []string{"side", "site", "consent"}, Room: "room-2"}, "case")
}

func (s *story) printed(things ...string) {
	s.t.Helper()
	for _, thing := range things {
		s.record(&tracker.LabelPrinted{Copy: '1'}, thing)
	}
}

func (s *story) reprinted(thing string, copy, replaces tracker.Copy) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.LabelPrinted{Copy: copy, Replaces: replaces}, thing)
}

func (s *story) spoiled(thing string, copy tracker.Copy) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.LabelSpoiled{Copy: copy, Why: "smudged"}, thing)
}

func (s *story) bound(label, to string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.LabelBound{To: s.thing(to).Name}, label)
}

func (s *story) taken(pieces ...string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.PieceTaken{Lesion: "L1", What: "core", Gauge: 14, LengthMM: 18, Look: "firm-white"}, pieces...)
}

func (s *story) potted(pieces ...string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.PiecePotted{}, pieces...)
}

func (s *story) filled(pot, medium string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.PotFilled{Medium: medium}, pot)
}

// sealed closes a pot; pieces below zero are not read aloud.
func (s *story) sealed(pot, with string, pieces int) *tracker.Event {
	s.t.Helper()
	fact := &tracker.PotSealed{ReadBackWith: with}
	if pieces >= 0 {
		fact.Pieces = &pieces
	}
	return s.record(fact, pot)
}

func (s *story) cleared() *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.RoomCleared{Room: "room-2"}, "case")
}

func (s *story) packed(pots ...string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.BagPacked{Pots: s.names(pots...)}, "bag")
}

func (s *story) unpacked(pots ...string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.BagOpened{Pots: s.names(pots...)}, "bag")
}

// handed is a scan that takes things over at a place.
func (s *story) handed(place string, things ...string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.CustodyTaken{Place: place}, things...)
}

func (s *story) lost(thing string) *tracker.Event  { return s.record(&tracker.PotLost{}, thing) }
func (s *story) found(thing string) *tracker.Event { return s.record(&tracker.PotFound{}, thing) }
func (s *story) discarded(thing string) *tracker.Event {
	return s.record(&tracker.PotDiscarded{}, thing)
}

func (s *story) accessioned(thing string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.LabAccessioned{Number: "T26-1234"}, thing)
}

func (s *story) refused(pot, why string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.LabRefused{Why: why}, pot)
}

// counted is the laboratory taking a pot out for description.
func (s *story) counted(pot string, pieces int) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.LabOpened{Pieces: &pieces}, pot)
}

// loaded puts a thing on the processor; leaves is when it leaves formalin, or "".
func (s *story) loaded(thing, leaves string) *tracker.Event {
	s.t.Helper()
	fact := &tracker.LabLoaded{}
	if leaves != "" {
		fact.LeavesFormalin = s.instant(leaves)
	}
	return s.record(fact, thing)
}

func (s *story) added(pot string, studies ...string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.StudiesAdded{Studies: studies}, pot)
}

func (s *story) issued(stage tracker.Stage, category string, things ...string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.ResultIssued{Stage: stage, Category: category}, things...)
}

// answeredStudies is a result that names its studies.
func (s *story) answeredStudies(stage tracker.Stage, studies []string, things ...string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.ResultIssued{Stage: stage, Studies: studies}, things...)
}

func ids(results []*tracker.Event) []tracker.EventID {
	out := []tracker.EventID{}
	for _, e := range results {
		out = append(out, e.ID)
	}
	return out
}

func (s *story) seen(results ...*tracker.Event) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.ResultSeen{Results: ids(results)}, "case")
}

func (s *story) discussed(concordance, plan string, results ...*tracker.Event) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.CaseDiscussed{Results: ids(results), Concordance: concordance, Plan: plan}, "case")
}

func (s *story) told(how string, results ...*tracker.Event) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.PatientTold{Results: ids(results), How: how}, "case")
}

func (s *story) closed(outcome, why string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.CaseClosed{Outcome: outcome, Why: why}, "case")
}

func (s *story) paused(until string, thing string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.ClockPaused{Why: "waits for the first report", Until: s.instant(until)}, thing)
}

func (s *story) resumed(thing string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.ClockResumed{Why: "it came"}, thing)
}

func (s *story) answered(kind tracker.FlagKind, thing string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.FlagAnswered{Flag: kind, Done: "asked and written down"}, thing)
}

// struck takes an event out.
func (s *story) struck(e *tracker.Event) *tracker.Event {
	s.t.Helper()
	strike := s.record(&tracker.EventStruck{Event: e.ID, Why: "entered by mistake"})
	strike.Items = slices.Clone(e.Items)
	return strike
}

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
	thing := s.thing(watched).Name
	filed := tracker.File(s.until(now))
	load := func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil }
	events, err := tracker.Gather(thing, load)
	require.NoError(s.t, err)
	check := func(events []*tracker.Event, at time.Time) tracker.Findings {
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
	require.True(s.t, strings.HasSuffix(f.Text, "."), f.Text)
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

package tracker_test

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
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

// storyRules are the default protocol's, made ready once: rules are immutable.
var storyRules = sync.OnceValues(func() (*tracker.Rules, error) {
	return tracker.NewRules(protocol.Default(), time.LoadLocation)
})

// newStory starts a story on Friday 6 March 2026 in the second room of the Marram Bay clinic.
func newStory(t testing.TB) *story {
	t.Helper()
	rules, err := storyRules()
	require.NoError(t, err)
	return &story{t: t, name: "MBY-26-00417", bag: "MBY-26-00012-Z", rules: rules,
		clock: time.Date(2026, time.March, 6, 9, 0, 0, 0, london), person: "nurse.osei", station: "room-2",
		request: tracker.CaseOpened{Patient: "p-4c1a", Priority: "routine", Room: "room-2",
			Lesions: []tracker.Lesion{{Key: "L1", Organ: "other", Side: "left", Position: "flank", Target: "mass", Imaging: "U5"}}}}
}

// newBreastStory starts a story of an organ that asks for its side and for a number of pieces; the site of [newStory] asks for
// neither, so that its stories are about one thing.
func newBreastStory(t testing.TB) *story {
	t.Helper()
	s := newStory(t)
	s.request.Lesions = []tracker.Lesion{{Key: "L1", Organ: "breast", Side: "left", Position: "2 o'clock", Target: "mass", Imaging: "U5"}}
	return s
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

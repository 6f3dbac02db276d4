package tracker_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// struckCase writes one note and strikes about it in the order of the given minutes; a strike's target is an earlier or
// later line by number, 0 being the identity check that everything is about.
func struckCase(t *testing.T, strikes ...[2]int) *tracker.Case {
	t.Helper()
	id := func(n int) tracker.EventID { return tracker.EventID(fmt.Sprintf("0199f1c2-7b1e-7c3a-9d55-%012x", n)) }
	items := []tracker.Item{{Name: caseOne}}
	events := []*tracker.Event{{ID: id(0), Kind: tracker.KindPatientChecked, Clinic: "MBY", At: start, By: "nurse.osei", Station: "room-2", Items: items,
		Data: &tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}}}}
	for i, s := range strikes {
		events = append(events, &tracker.Event{ID: id(i + 1), Kind: tracker.KindEventStruck, Clinic: "MBY", At: start.Add(time.Duration(s[0]) * time.Minute),
			By: "nurse.osei", Station: "room-2", Items: items, Data: &tracker.EventStruck{Event: id(s[1]), Why: "mistake"}})
	}
	return tracker.Fold(caseOne, events)
}

func TestStrikesAreWorkedOutFromLastToFirst(t *testing.T) {
	for name, row := range map[string]struct {
		strikes [][2]int // minute, which line it strikes
		counts  bool     // the identity check still counts
	}{
		"nothing struck":                               {nil, true},
		"a strike takes its target out":                {[][2]int{{5, 0}}, false},
		"whatever the order of the two":                {[][2]int{{-5, 0}}, false},
		"striking a strike restores":                   {[][2]int{{5, 0}, {6, 1}}, true},
		"and striking that takes out again":            {[][2]int{{5, 0}, {6, 1}, {7, 2}}, false},
		"a strike never takes out a later strike":      {[][2]int{{6, 0}, {5, 1}}, false},
		"two strikes of one event, one of them struck": {[][2]int{{5, 0}, {6, 0}, {7, 1}}, false},
		"a strike of nothing known":                    {[][2]int{{5, 9}}, true},
		"a strike of itself":                           {[][2]int{{5, 1}}, true},
	} {
		t.Run(name, func(t *testing.T) {
			c := struckCase(t, row.strikes...)
			require.Equal(t, row.counts, len(c.Checks) == 1)
		})
	}
}

func TestAStrikeWorksOnlyWithTheNamesOfItsTarget(t *testing.T) {
	item := func(names ...tracker.Name) (items []tracker.Item) {
		for _, n := range names {
			items = append(items, tracker.Item{Name: n})
		}
		return items
	}
	pots := item(caseOne+"-A", caseOne+"-B")
	for name, row := range map[string]struct {
		items []tracker.Item
		works bool
	}{
		"the same":              {pots, true},
		"in another order":      {item(caseOne+"-B", caseOne+"-A"), true},
		"named and not scanned": {[]tracker.Item{{Name: caseOne + "-A", Copy: '1'}, {Name: caseOne + "-B"}}, true},
		"one missing":           {item(caseOne + "-A"), false},
		"one more":              {item(caseOne+"-A", caseOne+"-B", caseOne+"-C"), false},
		"another case's":        {item(caseTwo+"-A", caseTwo+"-B"), false},
	} {
		t.Run(name, func(t *testing.T) {
			filled := &tracker.Event{ID: "0199f1c2-7b1e-7c3a-9d55-000000000001", Kind: tracker.KindPotFilled, Clinic: "MBY", At: start, By: "nurse.osei",
				Station: "room-2", Items: pots, Data: &tracker.PotFilled{Medium: "formalin"}}
			strike := &tracker.Event{ID: "0199f1c2-7b1e-7c3a-9d55-000000000002", Kind: tracker.KindEventStruck, Clinic: "MBY", At: start.Add(time.Minute),
				By: "nurse.osei", Station: "room-2", Items: row.items, Data: &tracker.EventStruck{Event: filled.ID, Why: "mistake"}}
			c := tracker.Fold(caseOne, []*tracker.Event{filled, strike})
			require.Equal(t, row.works, len(c.Pot(caseOne+"-A").Fillings) == 0)
		})
	}
}

// The effect on the target alone would not show it: the later strike has already worked when the earlier comes up.
func TestALaterStrikeIsNeverItselfStruckByAnEarlierOne(t *testing.T) {
	note := &tracker.Event{ID: "0199f1c2-7b1e-7c3a-9d55-000000000001", Kind: tracker.KindNoteAdded, Clinic: "MBY", At: start, By: "nurse.osei",
		Station: "room-2", Items: []tracker.Item{{Name: caseOne}}, Data: &tracker.NoteAdded{Text: "seen"}}
	strike := func(id tracker.EventID, minute int, target tracker.EventID) *tracker.Event {
		return &tracker.Event{ID: id, Kind: tracker.KindEventStruck, Clinic: "MBY", At: start.Add(time.Duration(minute) * time.Minute), By: "nurse.osei",
			Station: "room-2", Items: note.Items, Data: &tracker.EventStruck{Event: target, Why: "mistake"}}
	}
	later := strike("0199f1c2-7b1e-7c3a-9d55-000000000002", 6, note.ID)
	earlier := strike("0199f1c2-7b1e-7c3a-9d55-000000000003", 5, later.ID)
	require.Equal(t, map[tracker.EventID]tracker.EventID{note.ID: later.ID}, tracker.Struck([]*tracker.Event{note, later, earlier}))
}

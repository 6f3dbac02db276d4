package tracker_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// next goes on with another case.
func (s *story) next(name tracker.Name) *story {
	s.name = name
	return s
}

// sharedRoom is a first patient from 9:30 in room-2 with a label at 9:50 and a piece at 10:00, and a second at 10:20.
func sharedRoom(t *testing.T) *story {
	t.Helper()
	s := newStory(t)
	s.at("09:30").opened(plan("A", "formalin", "histology"))
	s.at("09:45").checked()
	s.at("09:50").printed("A")
	s.at("10:00").taken("A01")
	s.at("10:02").potted("A01")
	s.next("MBY-26-00418").at("09:31").opened(plan("A", "formalin", "histology"))
	s.at("10:20").checked()
	s.at("10:25").printed("A")
	return s
}

// first is the first patient's case in these stories.
const first = "MBY-26-00417"

func (s *story) sharing(day string) []string {
	s.t.Helper()
	return s.next("MBY-26-00999").courseOf("MBY/room-2/"+day, tracker.FlagRoomShared) // so that names come in full
}

func TestOnePatientAtATimeInARoom(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"a label for the next while the first lies there", func(*story) {}, []string{"Fri 6 Mar 10:25:00 now " + first}},
		{"cleared before it", func(s *story) { s.next(first).at("10:10").cleared() }, []string{}},
		{"cleared at that moment", func(s *story) { s.next(first).at("10:25").cleared() }, []string{}},
		{"cleared after it", func(s *story) { s.next(first).at("10:31").cleared() }, []string{"Fri 6 Mar 10:25:00 now " + first, "Fri 6 Mar 10:31:00 -"}},
		{"once, not for each label", func(s *story) { s.at("10:26").reprinted("A", '2', '1') }, []string{"Fri 6 Mar 10:25:00 now " + first}},
		{"cleared, and printed for again", func(s *story) {
			s.next(first).at("10:10").cleared()
			s.at("10:15").reprinted("A", '2', '1')
		}, []string{"Fri 6 Mar 10:25:00 now " + first}},
		{"the second went to another room", func(s *story) {
			s.at("10:21").record(&tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}, Room: "room-1"}, "case")
		}, []string{}},
		{"the next patient's clearing is not the first's", func(s *story) { s.at("10:40").cleared() }, []string{"Fri 6 Mar 10:25:00 now " + first}},
		{"an answer clears no room", func(s *story) { s.next(first).at("10:40").answered(tracker.FlagRoomShared, "case") }, []string{"Fri 6 Mar 10:25:00 now " + first}},
		{"the label was struck", func(s *story) {
			for _, e := range s.events {
				if e.Kind == tracker.KindLabelPrinted && e.Items[0].Name == "MBY-26-00418-A" {
					s.at("10:30").struck(e)
					return
				}
			}
		}, []string{"Fri 6 Mar 10:25:00 now " + first, "Fri 6 Mar 10:30:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := sharedRoom(t)
			tt.then(s)
			require.Equal(t, tt.want, s.sharing("2026-03-06"))
		})
	}
	found := sharedRoom(t).judge("MBY/room-2/2026-03-06", newStory(t).instant("11:00"))
	require.Len(t, found.Flags, 1)
	require.Equal(t, tracker.Name(first), found.Flags[0].Case)
	require.Contains(t, found.Flags[0].Text, "Fri 6 Mar 10:25")
	require.True(t, found.Wake.IsZero(), "time alone changes nothing")
}

// TestTheRoomIsThatOfTheRequestWhereNobodyCheckedElse: the room of the last check, else of the request.
func TestTheRoomIsThatOfTheRequestWhereNobodyCheckedElse(t *testing.T) {
	s := newStory(t)
	s.at("09:30").opened(plan("A", "formalin", "histology"))
	s.at("09:50").printed("A")
	s.next("MBY-26-00418").at("09:55").opened(plan("A", "formalin", "histology"))
	s.at("10:25").printed("A")
	require.Equal(t, []string{"Fri 6 Mar 10:25:00 now " + first}, s.sharing("2026-03-06"))
}

// TestARoomsDayIsLocal: what lay there yesterday is yesterday's; a station that sends UTC parts the clinic's day in two.
func TestARoomsDayIsLocal(t *testing.T) {
	night := func(utc bool) *story {
		s := newStory(t)
		s.at("2026-07-09 23:10").opened(plan("A", "formalin", "histology"))
		s.at("2026-07-09 23:30").checked()
		s.at("2026-07-09 23:40").printed("A")
		s.next("MBY-26-00418").at("2026-07-10 00:20").opened(plan("A", "formalin", "histology"))
		s.at("2026-07-10 00:25").printed("A")
		s.next("MBY-26-00419").at("2026-07-10 01:10").opened(plan("A", "formalin", "histology"))
		s.at("2026-07-10 01:25").printed("A")
		for _, e := range s.events {
			if utc {
				e.At = e.At.UTC()
			}
		}
		return s
	}
	want := []string{"Fri 10 Jul 01:25:00 now MBY-26-00418"}
	require.Empty(t, night(false).sharing("2026-07-09"), "another day by the clock on the wall")
	require.Equal(t, want, night(false).sharing("2026-07-10"))
	require.Equal(t, want, night(true).sharing("2026-07-09"), "by UTC it was still the day before")
	require.Empty(t, night(true).sharing("2026-07-10"), "and it is found once")
}

// TestARoomIsJudgedByWhateverTouchesIt: an event that changes who shares a room touches its day; a piece of a case whose
// labels lie there already, uncleared, changes nothing.
func TestARoomIsJudgedByWhateverTouchesIt(t *testing.T) {
	s := sharedRoom(t)
	filed := tracker.File(s.events)
	load := func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil }
	for _, e := range s.events {
		if e.Kind == tracker.KindPiecePotted {
			continue
		}
		touched, err := tracker.Touched(e, load)
		require.NoError(t, err)
		if e.Kind == tracker.KindPieceTaken && e.Items[0].Name.Case() == "MBY-26-00417" {
			require.NotContains(t, touched, tracker.Name("MBY/room-2/2026-03-06"), "its labels lie there")
			continue
		}
		require.Contains(t, touched, tracker.Name("MBY/room-2/2026-03-06"), e.Kind)
	}
}

// TestAPieceInARoomThatMayChangeIt: a piece changes who shares a room only where nothing of its case is sure to lie there.
func TestAPieceInARoomThatMayChangeIt(t *testing.T) {
	for name, test := range map[string]struct {
		tell func(s *story)
		want bool
	}{
		"after a label of its own":        {func(s *story) { s.at("09:50").printed("A") }, false},
		"after another piece":             {func(s *story) { s.at("09:50").taken("A01") }, false},
		"nothing lay there":               {func(*story) {}, true},
		"the label came later":            {func(s *story) { s.at("10:05").printed("A") }, true},
		"the label is from another day":   {func(s *story) { s.at("2026-03-05 09:50").printed("A") }, true},
		"the room was cleared since":      {func(s *story) { s.at("09:50").printed("A"); s.at("09:55").cleared() }, true},
		"the room was cleared afterwards": {func(s *story) { s.at("09:50").printed("A"); s.at("10:30").cleared() }, true},
		"the room was cleared before":     {func(s *story) { s.at("09:40").cleared(); s.at("09:50").printed("A") }, false},
		"the label was struck":            {func(s *story) { s.at("09:50").printed("A"); s.struck(s.events[len(s.events)-1]) }, true},
		"the label is of a roll for downtime": {func(s *story) {
			s.at("09:50").record(&tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime}, "A")
		}, true},
		"the label is of the hours of a night": {func(s *story) { s.at("01:50").printed("A") }, true},
	} {
		t.Run(name, func(t *testing.T) {
			s := newStory(t)
			s.at("09:30").opened(plan("A", "formalin", "histology"))
			s.at("09:35").checked()
			test.tell(s)
			s.at("2026-03-06 10:00").taken("A02")
			filed := tracker.File(s.events)
			touched, err := tracker.Touched(s.events[len(s.events)-1], func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil })
			require.NoError(t, err)
			require.Equal(t, test.want, slices.Contains(touched, "MBY/room-2/2026-03-06"))
		})
	}
}

// What was scanned on a label of a downtime roll lies in the room as the patient's for whose thing it stands, from the binding
// on and until that is struck; each of both touches the room's day.
func TestARollsLabelSharesTheRoomAsItsPatient(t *testing.T) {
	s := newStory(t)
	s.at("08:00").record(&tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime}, "MBY-26-00900-A01")
	s.at("09:30").opened(plan("A", "formalin", "histology"))
	s.at("09:45").checked()
	s.at("10:00").taken("MBY-26-00900-A01/1")
	s.next("MBY-26-00418").at("10:10").opened(plan("A", "formalin", "histology"))
	s.at("10:20").checked()
	s.at("10:25").printed("A")
	require.Empty(t, s.sharing("2026-03-06"), "nobody knows whose core it is, nor in which room")
	bound := s.next(first).at("10:40").bound("MBY-26-00900-A01", "A01")
	struck := s.at("10:50").struck(bound)
	require.Equal(t, []string{"Fri 6 Mar 10:40:00 now " + first, "Fri 6 Mar 10:50:00 -"}, s.sharing("2026-03-06"))
	filed := tracker.File(s.events)
	for _, e := range []*tracker.Event{bound, struck} {
		touched, err := tracker.Touched(e, func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil })
		require.NoError(t, err)
		require.Contains(t, touched, tracker.Name("MBY/room-2/2026-03-06"), e.Kind)
	}
}

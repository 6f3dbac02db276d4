package tracker_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

func TestMediumPastItsDateMayNotBeFilled(t *testing.T) {
	fill := func(s *story, at, expires string) *tracker.Event {
		e := s.at(at).filled("A", "formalin")
		e.Data.(*tracker.PotFilled).Expires = tracker.Date(expires)
		return e
	}
	tests := []struct {
		name string
		tell func(s *story)
		want []string
	}{
		{"good to the end of its day", func(s *story) { fill(s, "23:59:59", "2026-03-06") }, []string{}},
		{"the first instant of the next day", func(s *story) { fill(s, "2026-03-07 00:00", "2026-03-06") },
			[]string{"Sat 7 Mar 00:00:00 now A"}},
		{"the clinic's day, not that of UTC", func(s *story) { fill(s, "2026-06-06T00:00:00+01:00", "2026-06-05") },
			[]string{"Sat 6 Jun 00:00:00 now A"}},
		{"an hour before that it is still the day before", func(s *story) { fill(s, "2026-06-05T23:59:59+01:00", "2026-06-05") }, []string{}},
		{"no date known", func(s *story) { s.at("15:30").filled("A", "formalin") }, []string{}},
		{"filled again from a fresh lot", func(s *story) {
			fill(s, "15:30", "2026-03-05")
			fill(s, "15:35", "2027-01-31")
		}, []string{"Fri 6 Mar 15:30:00 now A", "Fri 6 Mar 15:35:00 -"}},
		{"answered", func(s *story) {
			fill(s, "15:30", "2026-03-05")
			s.at("15:40").answered(tracker.FlagMediumExpired, "A")
		}, []string{"Fri 6 Mar 15:30:00 now A", "Fri 6 Mar 15:40:00 -"}},
		{"answered, and the same fault again", func(s *story) {
			fill(s, "15:30", "2026-03-05")
			s.at("15:40").answered(tracker.FlagMediumExpired, "A")
			fill(s, "15:45", "2026-03-05")
		}, []string{"Fri 6 Mar 15:30:00 now A", "Fri 6 Mar 15:40:00 -", "Fri 6 Mar 15:45:00 now A"}},
		{"struck", func(s *story) {
			wrong := fill(s, "15:30", "2026-03-05")
			s.at("15:31").struck(wrong)
		}, []string{"Fri 6 Mar 15:30:00 now A", "Fri 6 Mar 15:31:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "histology"))
			tt.tell(s)
			require.Equal(t, tt.want, s.course(tracker.FlagMediumExpired))
		})
	}
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	fill(s, "15:30", "2026-03-05")
	f := s.flag(tracker.FlagMediumExpired, "A", "15:30")
	require.Equal(t, s.instant("15:30"), f.Since.In(london))
	require.Contains(t, f.Text, "15:30")
	require.Contains(t, f.Text, "5 Mar 2026")
	require.Equal(t, "operator", f.Who)
}

func TestTheRoomStaysOpenHalfAnHourAfterTheLastPiece(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"nothing more is done", func(*story) {}, []string{"Fri 6 Mar 16:12:00 now case"}},
		{"sealed and cleared a second before", func(s *story) {
			s.at("16:00").sealed("A", "nurse.lund", 1)
			s.at("16:11:59").cleared()
		}, []string{}},
		{"sealed and not cleared", func(s *story) { s.at("16:00").sealed("A", "nurse.lund", 1) },
			[]string{"Fri 6 Mar 16:12:00 now case"}},
		{"cleared and not sealed", func(s *story) { s.at("16:00").cleared() }, []string{"Fri 6 Mar 16:12:00 now case"}},
		{"both late", func(s *story) {
			s.at("16:20").sealed("A", "nurse.lund", 1)
			s.at("16:25").cleared()
		}, []string{"Fri 6 Mar 16:12:00 now case", "Fri 6 Mar 16:25:00 -"}},
		{"another piece starts it again", func(s *story) { s.at("16:00").taken("A02") }, []string{"Fri 6 Mar 16:30:00 now case"}},
		{"a piece cut from another does not", func(s *story) {
			s.at("16:00").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.thing("A01").Name}, "A02")
		}, []string{"Fri 6 Mar 16:12:00 now case"}},
		{"cleared before the last piece does not count", func(s *story) {
			s.at("15:50").sealed("A", "nurse.lund", 1)
			s.at("15:55").cleared()
			s.at("16:00").taken("A02")
		}, []string{"Fri 6 Mar 16:30:00 now case"}},
		{"cleared a minute before it at the same station", func(s *story) {
			s.at("15:41").cleared()
			s.at("15:50").sealed("A", "nurse.lund", 1)
		}, []string{"Fri 6 Mar 16:12:00 now case"}},
		{"cleared a minute before it by another station's clock", func(s *story) {
			s.at("15:41").by("nurse.lund", "tablet-1").cleared()
			s.at("15:43").sealed("A", "nurse.osei", 1)
		}, []string{}},
		{"the clearing is struck", func(s *story) {
			s.at("15:50").sealed("A", "nurse.lund", 1)
			done := s.at("15:55").cleared()
			s.at("16:40").struck(done)
		}, []string{"Fri 6 Mar 16:40:00 now case"}},
		{"a pot that nothing went into may stay open", func(s *story) {
			s.at("15:50").sealed("A", "nurse.lund", 1)
			s.at("15:51").filled("B", "rpmi")
			s.at("15:55").cleared()
		}, []string{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := inTheRoom(t)
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagRoomOpen))
		})
	}
	s := inTheRoom(t)
	f := s.flag(tracker.FlagRoomOpen, "case", "16:12")
	require.Equal(t, s.instant("16:12"), f.Since.In(london))
	require.Contains(t, f.Text, "15:42")
	require.Contains(t, f.Text, "pot A")
	require.Contains(t, f.Text, "30 min")
	require.Equal(t, "operator", f.Who)
}

func TestALabelIsReadBackByTwo(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"with a second person", func(s *story) { s.at("15:50").sealed("A", "nurse.lund", 1) }, []string{}},
		{"with the patient", func(s *story) { s.at("15:50").sealed("A", tracker.ReadBackPatient, 1) }, []string{}},
		{"alone: a phone may be unsent for two hours", func(s *story) { s.at("15:50").sealed("A", "nurse.osei", 1) },
			[]string{"Fri 6 Mar 15:50:00 watch A", "Fri 6 Mar 17:50:00 today A"}},
		{"alone, then again with a second person", func(s *story) {
			s.at("15:50").sealed("A", "nurse.osei", 1)
			s.at("18:00").sealed("A", "nurse.lund", 1)
		}, []string{"Fri 6 Mar 15:50:00 watch A", "Fri 6 Mar 17:50:00 today A", "Fri 6 Mar 18:00:00 -"}},
		{"it changes hands unsealed", func(s *story) { s.at("16:30").by("porter.hale", "phone-1").handed("hatch", "A") },
			[]string{"Fri 6 Mar 16:30:00 watch A", "Fri 6 Mar 18:30:00 today A"}},
		{"it changes hands unsealed, and the sealing comes in late", func(s *story) {
			s.at("15:50").sealed("A", "nurse.lund", 1).Record.Recorded = s.instant("18:31")
			s.at("16:30").by("porter.hale", "phone-1").handed("hatch", "A")
		}, []string{"Fri 6 Mar 16:30:00 watch A", "Fri 6 Mar 18:30:00 today A", "Fri 6 Mar 18:31:00 -"}},
		{"sealed a minute after it changed hands, by another station's clock", func(s *story) {
			s.at("15:50").by("porter.hale", "phone-1").handed("hatch", "A").Record.Recorded = s.instant("15:52")
			s.at("15:51").by("nurse.osei", "room-2").sealed("A", "nurse.lund", 1)
		}, []string{}},
		{"answered", func(s *story) {
			s.at("15:50").sealed("A", "nurse.osei", 1)
			s.at("18:00").answered(tracker.FlagReadBackMissing, "A")
		}, []string{"Fri 6 Mar 15:50:00 watch A", "Fri 6 Mar 17:50:00 today A", "Fri 6 Mar 18:00:00 -"}},
		{"answered, then it leaves without being sealed again: the seal was there", func(s *story) {
			s.at("15:50").sealed("A", "nurse.osei", 1)
			s.at("16:00").answered(tracker.FlagReadBackMissing, "A")
			s.at("16:30").handed("hatch", "A")
		}, []string{"Fri 6 Mar 15:50:00 watch A", "Fri 6 Mar 16:00:00 -"}},
		{"the sealing is struck", func(s *story) {
			seal := s.at("15:50").sealed("A", "nurse.lund", 1)
			s.at("16:30").by("porter.hale", "phone-1").handed("hatch", "A")
			s.at("16:40").by("nurse.osei", "room-2").struck(seal)
		}, []string{"Fri 6 Mar 16:40:00 watch A", "Fri 6 Mar 18:30:00 today A"}},
		{"a bag's scan hands over its pots", func(s *story) {
			s.at("16:00").packed("A")
			s.at("16:30").by("porter.hale", "phone-1").handed("van", "bag")
		}, []string{"Fri 6 Mar 16:30:00 watch A", "Fri 6 Mar 18:30:00 today A"}},
		{"a scan of the whole case hands over what it holds", func(s *story) {
			s.at("16:30").by("porter.hale", "phone-1").handed("hatch", "case")
		}, []string{"Fri 6 Mar 16:30:00 watch A", "Fri 6 Mar 18:30:00 today A"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := inTheRoom(t)
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagReadBackMissing))
		})
	}
	s := inTheRoom(t)
	s.at("16:30").by("porter.hale", "phone-1").handed("hatch", "A")
	f := s.flag(tracker.FlagReadBackMissing, "A", "16:30")
	require.Equal(t, s.instant("16:30"), f.Since.In(london))
	require.Equal(t, s.instant("18:30"), f.Due.In(london))
	require.Contains(t, f.Text, "16:30")
	require.Equal(t, "operator", f.Who)
}

func TestAPotThatWasNotUsedIsNotMissedWhenTheCaseChangesHands(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"))
	s.at("15:30").filled("B", "rpmi")
	s.at("15:42").taken("A01")
	s.at("15:43").potted("A01")
	s.at("15:50").sealed("A", "nurse.lund", 1)
	s.at("15:52").record(&tracker.ProcedureEnded{Outcome: "partly", Unused: []string{"B"}}, "case")
	s.at("15:55").cleared()
	s.at("16:30").by("porter.hale", "phone-1").handed("hatch", "case")
	require.Empty(t, s.course(tracker.FlagReadBackMissing))
	require.Empty(t, s.flags("case", "18:40"))
	s.at("16:40").handed("hatch", "B")
	require.Equal(t, []string{"Fri 6 Mar 16:40:00 watch B", "Fri 6 Mar 18:40:00 today B"}, s.course(tracker.FlagReadBackMissing),
		"scanned itself, it did leave the room")
}

func TestPiecesReadAloudMustBeThosePotted(t *testing.T) {
	three := func(t *testing.T, aloud int) *story {
		s := inTheRoom(t)
		s.at("15:43").taken("A02", "A03")
		s.at("15:44").potted("A01", "A02", "A03")
		s.at("15:50").sealed("A", "nurse.lund", aloud)
		return s
	}
	tests := []struct {
		name  string
		aloud int
		then  func(s *story)
		want  []string
	}{
		{"the same", 3, func(*story) {}, []string{}},
		{"nothing was read aloud", -1, func(*story) {}, []string{}},
		{"one fewer: now while it can be looked for, then today", 2, func(s *story) { s.at("15:56").cleared() },
			[]string{"Fri 6 Mar 15:50:00 now A", "Fri 6 Mar 15:56:00 today A"}},
		{"one more: now, then watch", 4, func(s *story) { s.at("15:56").cleared() },
			[]string{"Fri 6 Mar 15:50:00 now A", "Fri 6 Mar 15:56:00 watch A"}},
		{"none: now, and it stays now", 0, func(s *story) { s.at("15:56").cleared() }, []string{"Fri 6 Mar 15:50:00 now A"}},
		{"struck and read again", 2, func(s *story) {
			s.at("15:52").struck(s.events[len(s.events)-1])
			s.at("15:53").sealed("A", "nurse.lund", 3)
		}, []string{"Fri 6 Mar 15:50:00 now A", "Fri 6 Mar 15:52:00 -"}},
		{"the scans of the fourth piece come in late", 4, func(s *story) {
			s.at("15:45").taken("A04").Record.Recorded = s.instant("15:58")
			s.at("15:46").potted("A04").Record.Recorded = s.instant("15:58")
		}, []string{"Fri 6 Mar 15:50:00 now A", "Fri 6 Mar 15:58:00 -"}},
		{"answered too early", 2, func(s *story) {
			s.at("15:52").answered(tracker.FlagPiecesDiffer, "A")
			s.at("15:56").cleared()
		}, []string{"Fri 6 Mar 15:50:00 now A", "Fri 6 Mar 15:56:00 today A"}},
		{"answered after the room was cleared", 2, func(s *story) {
			s.at("15:56").cleared()
			s.at("16:10").answered(tracker.FlagPiecesDiffer, "A")
		}, []string{"Fri 6 Mar 15:50:00 now A", "Fri 6 Mar 15:56:00 today A", "Fri 6 Mar 16:10:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := three(t, tt.aloud)
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagPiecesDiffer))
		})
	}
	f := three(t, 2).flag(tracker.FlagPiecesDiffer, "A", "15:50")
	require.Contains(t, f.Text, "2 pieces")
	require.Contains(t, f.Text, "3 recorded")
	require.Equal(t, "operator", f.Who)
	require.Equal(t, time.Date(2026, time.March, 6, 15, 50, 0, 0, london), f.Since.In(london))
}

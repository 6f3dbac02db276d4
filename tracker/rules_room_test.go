package tracker_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// inTheRoom is a story in which one pot was planned for receptors and its first core left the patient at 15:42.
func inTheRoom(t *testing.T) *story {
	t.Helper()
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology", "receptors"))
	s.at("15:42").taken("A01")
	return s
}

// Thresholds: contract page on flags, row fixative-time-missing (common practice, no source).
func TestTimeIntoFixativeIsMissedFromTenMinutes(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"nobody writes it down: watch, then now, then the cold ischaemia speaks for it", func(*story) {},
			[]string{"Fri 6 Mar 15:52:00 watch A01", "Fri 6 Mar 16:02:00 now A01", "Fri 6 Mar 16:42:01 (now A01 by cold-ischaemia-long)"}},
		{"potted a second before", func(s *story) { s.at("15:51:59").potted("A01") }, []string{}},
		{"potted at ten minutes", func(s *story) { s.at("15:52").potted("A01") }, []string{}},
		{"potted later", func(s *story) { s.at("15:52:01").potted("A01") },
			[]string{"Fri 6 Mar 15:52:00 watch A01", "Fri 6 Mar 15:52:01 -"}},
		{"the lid goes on first: no hurry any more, but today", func(s *story) { s.at("15:50").sealed("A", "nurse.lund", 1) },
			[]string{"Fri 6 Mar 15:52:00 today A01"}},
		{"the lid goes on while it is urgent", func(s *story) { s.at("16:05").sealed("A", "nurse.lund", 1) },
			[]string{"Fri 6 Mar 15:52:00 watch A01", "Fri 6 Mar 16:02:00 now A01", "Fri 6 Mar 16:05:00 today A01"}},
		{"it left the room without a sealing: the lid is on", func(s *story) { s.at("15:53").handed("hatch", "A") },
			[]string{"Fri 6 Mar 15:52:00 watch A01", "Fri 6 Mar 15:53:00 today A01"}},
		{"answered", func(s *story) {
			s.at("15:50").sealed("A", "nurse.lund", 1)
			s.at("17:00").answered(tracker.FlagFixativeTimeMissing, "A01")
		}, []string{"Fri 6 Mar 15:52:00 today A01", "Fri 6 Mar 17:00:00 -"}},
		{"an answer for another piece does not settle it", func(s *story) {
			s.at("15:50").sealed("A", "nurse.lund", 1)
			s.at("17:00").answered(tracker.FlagFixativeTimeMissing, "A02")
		}, []string{"Fri 6 Mar 15:52:00 today A01"}},
		{"the potting is struck", func(s *story) {
			s.at("15:50").sealed("A", "nurse.lund", 1)
			in := s.at("15:51").potted("A01")
			s.at("16:30").struck(in)
		}, []string{"Fri 6 Mar 16:30:00 today A01"}},
		{"the taking is struck", func(s *story) { s.at("15:55").struck(s.events[1]) },
			[]string{"Fri 6 Mar 15:52:00 watch A01", "Fri 6 Mar 15:55:00 -"}},
		{"it went into another pot", func(s *story) {
			s.at("15:45").record(&tracker.PiecePotted{Pot: s.thing("B").Name}, "A01")
		}, []string{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := inTheRoom(t)
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagFixativeTimeMissing))
		})
	}
}

func TestTimeIntoFixativeIsAskedForOnlyWhereFixationMatters(t *testing.T) {
	for _, fresh := range []string{"flow", "culture", "tb", "karyotype", "immunofluorescence", "crystals"} {
		s := newStory(t)
		s.opened(plan("A", "saline", fresh))
		s.at("15:42").taken("A01")
		require.Empty(t, s.course(tracker.FlagFixativeTimeMissing), fresh)
		require.Empty(t, s.course(tracker.FlagColdIschaemiaLong), fresh)
	}
	for _, fixed := range []string{"histology", "stains", "receptors", "sequencing"} {
		s := newStory(t)
		s.opened(plan("A", "formalin", fixed))
		s.at("15:42").taken("A01")
		require.Equal(t, "Fri 6 Mar 15:52:00 watch A01", s.course(tracker.FlagFixativeTimeMissing)[0], fixed)
	}
}

func TestTimeIntoFixativeSaysWhoWhatAndUntilWhen(t *testing.T) {
	s := inTheRoom(t)
	watch := s.flag(tracker.FlagFixativeTimeMissing, "A01", "15:52")
	require.Equal(t, s.instant("15:52"), watch.Since.In(london))
	require.Equal(t, s.instant("16:02"), watch.Due.In(london), "it gets worse at twenty minutes")
	require.Equal(t, "operator", watch.Who)
	require.Contains(t, watch.Text, "15:42")
	require.Contains(t, watch.Text, "60 min")
	now := s.flag(tracker.FlagFixativeTimeMissing, "A01", "16:02")
	require.Equal(t, s.instant("15:52"), now.Since.In(london))
	require.Equal(t, s.instant("16:42"), now.Due.In(london), "it cannot be put right after the limit")
}

// A study's time to fixation is a closed limit. Source: ASCO/CAP clarification notice 2011, FAQ item 1 (one hour for
// breast receptors); closed by the contract page on flags, "Edges, decided".
func TestColdIschaemiaIsLongAfterAnHour(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"still out", func(*story) {}, []string{"Fri 6 Mar 16:42:01 now A01"}},
		{"one second before the hour", func(s *story) { s.at("16:41:59").potted("A01") }, []string{}},
		{"at the hour", func(s *story) { s.at("16:42:00").potted("A01") }, []string{}},
		{"one second after the hour: tell the laboratory", func(s *story) { s.at("16:42:01").potted("A01") },
			[]string{"Fri 6 Mar 16:42:01 today A01"}},
		{"out, then in: urgent, then no longer", func(s *story) { s.at("17:00").potted("A01") },
			[]string{"Fri 6 Mar 16:42:01 now A01", "Fri 6 Mar 17:00:00 today A01"}},
		{"answered after it went in", func(s *story) {
			s.at("17:00").potted("A01")
			s.at("17:05").answered(tracker.FlagColdIschaemiaLong, "A01")
		}, []string{"Fri 6 Mar 16:42:01 now A01", "Fri 6 Mar 17:00:00 today A01", "Fri 6 Mar 17:05:00 -"}},
		{"answered too early, while it can still be put right", func(s *story) {
			s.at("16:50").answered(tracker.FlagColdIschaemiaLong, "A01")
			s.at("17:00").potted("A01")
		}, []string{"Fri 6 Mar 16:42:01 now A01", "Fri 6 Mar 17:00:00 today A01"}},
		{"sealed without a time: unknown, not long", func(s *story) { s.at("16:00").sealed("A", "nurse.lund", 1) }, []string{}},
		{"a late scan says that it was in time", func(s *story) {
			s.at("15:50").potted("A01").Record.Recorded = s.instant("17:10")
		}, []string{"Fri 6 Mar 16:42:01 now A01", "Fri 6 Mar 17:10:00 -"}},
		{"the potting in time is struck", func(s *story) {
			in := s.at("15:50").potted("A01")
			s.at("17:00").struck(in)
		}, []string{"Fri 6 Mar 17:00:00 now A01"}},
		{"formalin came after the piece and before the lid", func(s *story) {
			s.at("15:43").potted("A01")
			s.at("16:42:01").filled("A", "formalin")
		}, []string{"Fri 6 Mar 16:42:01 today A01"}},
		{"formalin came after the piece, in time", func(s *story) {
			s.at("15:43").potted("A01")
			s.at("16:42:00").filled("A", "formalin")
		}, []string{}},
		{"formalin after the lid is not the start", func(s *story) {
			s.at("15:43").potted("A01")
			s.at("15:50").sealed("A", "nurse.lund", 1)
			s.at("17:30").filled("A", "formalin")
		}, []string{}},
		{"saline first: fixation starts with the formalin", func(s *story) {
			s.at("15:42:30").filled("A", "saline")
			s.at("15:43").potted("A01")
			s.at("16:50").filled("A", "formalin")
		}, []string{"Fri 6 Mar 16:50:00 today A01"}},
		{"only the first filling with a fixing medium counts", func(s *story) {
			s.at("15:42:30").filled("A", "formalin")
			s.at("15:43").potted("A01")
			s.at("16:50").filled("A", "formalin")
		}, []string{}},
		{"a piece cut from it has its time", func(s *story) {
			s.at("15:50").potted("A01")
			s.at("16:20").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.thing("A01").Name}, "A02")
		}, []string{"Fri 6 Mar 16:42:01 now A02"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := inTheRoom(t)
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagColdIschaemiaLong))
		})
	}
}

// Contract page on flags, Defaults: these three are today and never now; of equal limits the worse severity is shown.
func TestColdIschaemiaIsUrgentOnlyForReceptors(t *testing.T) {
	for _, study := range []string{"histology", "stains", "sequencing"} {
		s := newStory(t)
		s.opened(plan("A", "formalin", study))
		s.at("15:42").taken("A01")
		s.at("17:00").potted("A01")
		require.Equal(t, []string{"Fri 6 Mar 16:42:01 today A01"}, s.course(tracker.FlagColdIschaemiaLong), study)
	}
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology", "sequencing", "receptors", "stains"))
	s.at("15:42").taken("A01")
	f := s.flag(tracker.FlagColdIschaemiaLong, "A01", "16:42:01")
	require.Equal(t, tracker.Now, f.Severity)
	require.Contains(t, f.Basis, "ASCO/CAP")
	require.Contains(t, f.Text, s.rules.Protocol().Studies["receptors"].Name)
}

func TestColdIschaemiaSaysWhoWhatAndSinceWhen(t *testing.T) {
	s := inTheRoom(t)
	out := s.flag(tracker.FlagColdIschaemiaLong, "A01", "16:42:01")
	require.Equal(t, s.instant("16:42"), out.Since.In(london))
	require.Equal(t, "operator", out.Who)
	require.Contains(t, out.Text, "15:42")
	require.Contains(t, out.Text, "60 min")
	s.at("16:50:10").potted("A01")
	in := s.flag(tracker.FlagColdIschaemiaLong, "A01", "16:51")
	require.Contains(t, in.Text, "15:42")
	require.Contains(t, in.Text, "16:50:10")
	require.Contains(t, in.Text, "1 h 8 min 10 s")
	require.Contains(t, in.Remedy, "laboratory")
	require.Equal(t, []string{"now room-open case", "today cold-ischaemia-long A01"}, s.flags("case", "16:51"))
}

// Windows are elapsed time, so a night with a clock change counts what passed.
// Clock changes 2026: 29 March and 25 October, 01:00 UTC (reference on working days and calendars, section 10.7).
func TestColdIschaemiaCountsWhatPassedOnANightWithAClockChange(t *testing.T) {
	tests := []struct {
		name, taken, potted string
		long                bool
	}{
		{"spring: two hours by the wall clock are one", "2026-03-29T00:30:00Z", "2026-03-29T02:30:00+01:00", false},
		{"spring: a second more", "2026-03-29T00:30:00Z", "2026-03-29T02:30:01+01:00", true},
		{"autumn: no time by the wall clock is an hour", "2026-10-25T01:30:00+01:00", "2026-10-25T01:30:00Z", false},
		{"autumn: a second more", "2026-10-25T01:30:00+01:00", "2026-10-25T01:30:01Z", true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "receptors"))
			s.at(tt.taken).taken("A01")
			s.at(tt.potted).potted("A01")
			got := slices.Contains(s.lines(s.judge("case", s.clock)), "today cold-ischaemia-long A01")
			require.Equal(t, tt.long, got)
		})
	}
}

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

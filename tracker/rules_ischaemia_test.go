package tracker_test

import (
	"slices"
	"testing"

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

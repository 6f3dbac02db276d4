package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

func (s *story) poured(pot, medium string, ml float64) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.PotFilled{Medium: medium, VolumeML: ml}, pot)
}

// A full 14 gauge cylinder of 18 mm is 0.06 mL: π/4 × (2.108 mm)² × 18 mm. Ten times as much fixative: JSP guidelines 1.10.
func TestATissueHasTenTimesItsVolumeOfFixative(t *testing.T) {
	begin := func(t *testing.T) *story {
		s := newStory(t)
		s.at("08:00").opened(plan("A", "formalin", "histology"))
		return s
	}
	tellAll(t, tracker.FlagMediumScant, begin, []telling{
		{"20 mL for six cores are plenty", func(s *story) {
			s.at("09:00").poured("A", "formalin", 20)
			s.at("10:00").taken("A01", "A02", "A03", "A04", "A05", "A06")
		}, []string{}},
		{"1 mL does for one core, not for two", func(s *story) {
			s.at("09:00").poured("A", "formalin", 1)
			s.at("10:00").taken("A01")
			s.at("10:05").taken("A02")
		}, []string{"Fri 6 Mar 10:05:00 now A"}},
		{"0.63 mL for one core is just enough", func(s *story) {
			s.at("09:00").poured("A", "formalin", 0.63)
			s.at("10:00").taken("A01")
		}, []string{}},
		{"0.62 mL is not", func(s *story) {
			s.at("09:00").poured("A", "formalin", 0.62)
			s.at("10:00").taken("A01")
		}, []string{"Fri 6 Mar 10:00:00 now A"}},
		{"more of it adds up", func(s *story) {
			s.at("09:00").poured("A", "formalin", 1)
			s.at("10:00").taken("A01", "A02")
			s.at("10:03").poured("A", "formalin", 0.2)
			s.at("10:04").poured("A", "formalin", 0.2)
		}, []string{"Fri 6 Mar 10:00:00 now A", "Fri 6 Mar 10:04:00 -"}},
		{"another medium takes its place", func(s *story) {
			s.at("09:00").poured("A", "saline", 20)
			s.at("09:10").poured("A", "formalin", 1)
			s.at("10:00").taken("A01", "A02")
		}, []string{"Fri 6 Mar 10:00:00 now A"}},
		{"a fresh lot takes the place of one past its date", func(s *story) {
			s.at("09:00").record(&tracker.PotFilled{Medium: "formalin", VolumeML: 20, Expires: "2026-03-01"}, "A")
			s.at("09:10").poured("A", "formalin", 1)
			s.at("10:00").taken("A01", "A02")
		}, []string{"Fri 6 Mar 10:00:00 now A"}},
		{"until the lid", func(s *story) {
			s.at("09:00").poured("A", "formalin", 1)
			s.at("10:00").taken("A01", "A02")
			s.at("10:10").sealed("A", "nurse.lund", 2)
		}, []string{"Fri 6 Mar 10:00:00 now A", "Fri 6 Mar 10:10:00 -"}},
		{"saline fixes nothing", func(s *story) {
			s.at("09:00").poured("A", "saline", 0.1)
			s.at("10:00").taken("A01", "A02")
		}, []string{}},
		{"how much is not known", func(s *story) {
			s.at("09:00").filled("A", "formalin")
			s.at("09:10").poured("A", "formalin", 0.1)
			s.at("10:00").taken("A01", "A02")
		}, []string{}},
		{"nobody filled it: filled before", func(s *story) { s.at("10:00").taken("A01", "A02") }, []string{}},
		{"slides and aspirates take up nothing", func(s *story) {
			s.at("09:00").poured("A", "formalin", 0.1)
			s.at("10:00").pass("A01", "aspirate", 1, "")
		}, []string{}},
		{"a part counts with what it was cut from", func(s *story) {
			s.at("09:00").poured("A", "formalin", 1)
			s.at("10:00").taken("A01")
			s.at("10:05").record(&tracker.PieceTaken{Lesion: "L1", What: "core", Gauge: 14, LengthMM: 18, From: s.thing("A01").Name}, "A02")
		}, []string{}},
		{"the second core is struck", func(s *story) {
			s.at("09:00").poured("A", "formalin", 1)
			s.at("10:00").taken("A01")
			second := s.at("10:05").taken("A02")
			s.at("10:07").struck(second)
		}, []string{"Fri 6 Mar 10:05:00 now A", "Fri 6 Mar 10:07:00 -"}},
		{"still too little after a little more", func(s *story) {
			s.at("09:00").poured("A", "formalin", 0.5)
			s.at("10:00").taken("A01", "A02")
			s.at("10:03").poured("A", "formalin", 0.2)
		}, []string{"Fri 6 Mar 10:00:00 now A"}},
	})
	// True since the second core, although it would not have been with what was filled in later.
	s := begin(t)
	s.at("09:00").poured("A", "formalin", 1)
	s.at("09:30").record(&tracker.SpecimenImaged{Calcium: "seen"}, "A05") // of a core that nobody recorded: it has no time
	s.at("10:00").taken("A01", "A02")
	s.at("10:05").taken("A03")
	s.at("10:06").poured("A", "formalin", 0.5)
	require.Equal(t, s.instant("10:00"), s.flag(tracker.FlagMediumScant, "A", "10:06").Since)

	s = newStory(t)
	s.at("08:00").opened(plan("A", "formalin", "histology"), plan("B", "formalin", "histology"))
	s.at("09:00").poured("B", "formalin", 1)
	s.at("10:00").taken("A01")
	for _, part := range []string{"B01", "B02"} {
		s.at("10:05").record(&tracker.PieceTaken{Lesion: "L1", What: "core", Gauge: 14, LengthMM: 18, From: s.thing("A01").Name}, part)
	}
	require.Equal(t, []string{"Fri 6 Mar 10:05:00 now B"}, s.course(tracker.FlagMediumScant), "parts are where they were put")

	s = begin(t)
	s.at("09:00").poured("A", "formalin", 0.5)
	s.at("10:00").taken("A01", "A02")
	s.at("10:01").record(&tracker.PieceTaken{Lesion: "L1", What: "core", LengthMM: 18}, "A03")
	s.at("10:03").poured("A", "formalin", 0.2)
	f := s.flag(tracker.FlagMediumScant, "A", "10:03")
	require.Equal(t, "Pot A: 0.7 mL of formalin for 0.13 mL of tissue; 10 times the tissue is wanted, 1.3 mL. 1 core is without a known needle or length and not counted.", f.Text)
	require.Equal(t, "Add at least 0.6 mL before the lid goes on, and scan how much.", f.Remedy)
	require.Equal(t, s.instant("10:00"), f.Since)
	require.Equal(t, "operator", f.Who)
	require.Contains(t, f.Basis, "1.10")
}

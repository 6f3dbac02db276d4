package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/tracker"
)

func TestPoorPiecesAreSaidWhileThePatientIsThere(t *testing.T) {
	tellAll(t, tracker.FlagPiecesPoor, breastCase, []telling{
		{"the first alone is all", func(s *story) {
			s.at("10:00").look("A01", "grey-brown")
			s.at("10:02").taken("A02")
		}, []string{"Fri 6 Mar 10:00:00 now A", "Fri 6 Mar 10:02:00 -"}},
		{"half is not over half", func(s *story) {
			s.at("10:00").taken("A01", "A02")
			s.at("10:02").look("A03", "fatty")
			s.at("10:04").look("A04", "pus")
			s.at("10:06").look("A05", "fluid")
			s.at("10:08").taken("A06")
		}, []string{"Fri 6 Mar 10:06:00 now A", "Fri 6 Mar 10:08:00 -"}},
		{"until the room is cleared, then today, until the final", func(s *story) {
			s.at("10:00").look("A01", "blood-only")
			s.at("10:10").sealed("A", "nurse.lund", 1)
			s.at("10:20").cleared()
			s.at("2026-03-10 11:00").issued(tracker.StageFinal, "B1", "A")
		}, []string{"Fri 6 Mar 10:00:00 now A", "Fri 6 Mar 10:20:00 today A", "Tue 10 Mar 11:00:00 -"}},
		{"the room was cleared before the last", func(s *story) {
			s.at("09:59").cleared()
			s.at("10:00").look("A01", "blood-only")
		}, []string{"Fri 6 Mar 10:00:00 now A"}},
		{"two minutes before by another station's clock", func(s *story) {
			s.at("09:58").by("nurse.lund", "tablet-1").cleared()
			s.at("10:00").by("nurse.osei", "room-2").look("A01", "blood-only")
		}, []string{"Fri 6 Mar 10:00:00 today A"}},
		{"two minutes and a second before", func(s *story) {
			s.at("09:57:59").by("nurse.lund", "tablet-1").cleared()
			s.at("10:00").by("nurse.osei", "room-2").look("A01", "blood-only")
		}, []string{"Fri 6 Mar 10:00:00 now A"}},
		{"at the same moment as the last", func(s *story) {
			s.at("10:00").look("A01", "blood-only")
			s.cleared()
		}, []string{"Fri 6 Mar 10:00:00 today A"}},
		{"a look that nobody noted is not poor, nor is a broken core", func(s *story) {
			s.at("10:00").look("A01", "")
			s.at("10:01").look("A02", "fragmented")
		}, []string{}},
		{"the poor one is struck", func(s *story) {
			poor := s.at("10:00").look("A01", "grey-brown")
			s.at("10:03").struck(poor)
		}, []string{"Fri 6 Mar 10:00:00 now A", "Fri 6 Mar 10:03:00 -"}},
	})
	of := func(organ, target string, studies ...string) *story {
		s := newBreastStory(t)
		s.request.Lesions[0].Organ, s.request.Lesions[0].Target = organ, target
		s.at("08:00").opened(plan("A", "saline", studies...))
		s.at("09:55").checked()
		return s
	}
	now := []string{"Fri 6 Mar 10:00:00 now A"}
	for _, tt := range []struct {
		organ, target, study, look string
		want                       []string
	}{
		{"breast", "mass", "histology", "fatty", now},
		{"node", "node", "histology", "fatty", now},
		{"axillary-node", "node", "histology", "fatty", now},
		{"soft-tissue", "mass", "histology", "fatty", []string{}}, // a lipoma is fat
		{"thyroid", "mass", "cytology", "fatty", []string{}},
		{"other", "mass", "histology", "grey-brown", now},
		{"node", "node", "culture", "pus", []string{}},
		{"node", "node", "tb", "fluid", []string{}},
		{"node", "node", "culture", "grey-brown", now},
		{"node", "node", "histology", "pus", now},
		{"breast", "fluid", "cytology", "fluid", []string{}}, // it was what was wanted
		{"breast", "fluid", "cytology", "blood-only", now},
	} {
		s := of(tt.organ, tt.target, tt.study)
		s.at("10:00").look("A01", tt.look)
		require.Equal(t, tt.want, s.course(tracker.FlagPiecesPoor), "%v", tt)
	}
	s := of("thyroid", "mass", "cytology")
	s.at("10:00").pass("A01", "rinse", 1, "fluid")
	s.none(tracker.FlagPiecesPoor, "10:00") // a rinse is fluid by nature
}

func TestPoorPiecesComeWithAdvice(t *testing.T) {
	s := breastCase(t)
	s.at("10:00").look("A01", "grey-brown")
	s.at("10:02").look("A02", "grey-brown")
	s.at("10:04").look("A03", "fatty")
	s.at("10:06").taken("A04")
	s.at("10:20").cleared()
	f := s.flag(tracker.FlagPiecesPoor, "A", "10:06")
	require.Equal(t, "Left breast, 2 o'clock: 3 of 4 pieces look poor: 2 grey-brown and 1 fatty.", f.Text)
	require.Equal(t, "A grey-brown piece is usually necrotic and often of no use for a diagnosis. Cores that float are likely fat. "+
		"Aim for the solid, vascular periphery, keeping clear of large vessels; within the planned track if sarcoma is suspected. "+
		"Take more before the patient leaves.", f.Remedy)
	require.Equal(t, s.instant("10:00"), f.Since)
	require.Equal(t, "operator", f.Who)
	require.Contains(t, f.Basis, "common practice, no source")
	require.Contains(t, s.flag(tracker.FlagPiecesPoor, "A", "10:20").Remedy, "Tell the laboratory what to expect, and ask the clinician")

	s = breastCase(t)
	s.at("10:00").look("A01", "grey-brown")
	s.at("10:02").taken("A02")
	s.at("10:04").look("A03", "fatty")
	require.Equal(t, s.instant("10:04"), s.flag(tracker.FlagPiecesPoor, "A", "10:04").Since, "between, half were good")

	s = newStory(t)
	s.at("08:00").opened(plan("A", "formalin", "histology"))
	s.at("10:00").look("A01", "grey-brown")
	require.Contains(t, s.flag(tracker.FlagPiecesPoor, "A", "10:00").Remedy, "Aim for another part of the lesion.")
}

func TestPoorPiecesHoldThatTheyAreFew(t *testing.T) {
	s := breastCase(t)
	s.at("10:00").look("A01", "grey-brown")
	s.at("10:05").taken("A02")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 (watch A by pieces-poor)", "Fri 6 Mar 10:05:00 watch A"}, s.course(tracker.FlagPiecesFew))
}

// For any history poor pieces hold that they are few, and what the generator draws reaches the rules on pieces.
func TestLawPoorPiecesAreSaidOnce(t *testing.T) {
	rules := defaultRules(t)
	reached := map[tracker.FlagKind]int{}
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		now := drawInstant(t)
		for _, name := range h.cases {
			found := judged(name, h.events, rules, now).Findings
			poor := map[tracker.Name]bool{}
			for _, f := range found.Flags {
				reached[f.Kind]++
				poor[f.Item] = poor[f.Item] || f.Kind == tracker.FlagPiecesPoor
			}
			for _, f := range found.Flags {
				require.False(t, f.Kind == tracker.FlagPiecesFew && poor[f.Item], "%s is said to have few pieces and poor ones", f.Item)
			}
		}
	})
	for _, kind := range []tracker.FlagKind{tracker.FlagPiecesFew, tracker.FlagPiecesPoor, tracker.FlagSideMismatch} {
		require.NotZero(t, reached[kind], "%s never came up", kind)
	}
}

package tracker_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// wholeStory is an ordinary case from its opening to its closing: three cores for histology and receptors in formalin, one
// for flow in a fresh medium, everything done in its time.
func wholeStory(t testing.TB) *story {
	s := newBreastStory(t)
	s.at("2026-03-05 10:00").by("clerk.moss", "desk-2")
	s.opened(plan("A", "formalin", "histology", "receptors"), plan("B", "rpmi", "flow"))
	s.at("2026-03-06 10:30").by("nurse.osei", "room-2").checked()
	s.at("10:31").printed("case", "A", "A01", "A02", "A03", "B", "B01")
	s.at("10:35").filled("B/1", "rpmi")
	s.at("10:42").taken("A01/1")
	s.at("10:43").potted("A01/1")
	s.at("10:44").taken("A02/1")
	s.at("10:45").potted("A02/1")
	s.at("10:46").taken("A03/1")
	s.at("10:47").potted("A03/1")
	s.at("10:49").taken("B01/1")
	s.at("10:50").potted("B01/1")
	s.at("10:52").sealed("A/1", "nurse.lund", 3)
	s.at("10:53").sealed("B/1", tracker.ReadBackPatient, 1)
	s.at("10:54").record(&tracker.ProcedureEnded{Outcome: "done"}, "case")
	s.at("10:56").cleared()
	s.at("11:10").porter().handed("hatch", "A/1", "B/1")
	s.at("11:20").packed("A", "B")
	s.at("11:30").handed("van", "bag", "case/1")
	s.at("12:10").lab().handed("lab-reception", "bag", "case/1")
	s.at("12:15").unpacked("A", "B")
	s.at("12:20").accessioned("case")
	s.at("12:40").counted("B", 1)
	s.at("13:00").counted("A", 3)
	s.at("13:10").loaded("A", "19:30")
	flow := s.at("2026-03-09 15:00").answeredStudies(tracker.StageFinal, []string{"flow"}, "B")
	final := s.at("2026-03-11 11:00").issued(tracker.StageFinal, "B5b", "A")
	s.at("15:00").doctor().seen(flow, final)
	receptors := s.at("2026-03-12 15:00").lab().answeredStudies(tracker.StageAddendum, []string{"receptors"}, "A")
	s.at("2026-03-13 09:00").doctor().seen(receptors)
	s.at("11:00").discussed("concordant", "treat", flow, final, receptors)
	s.at("14:00").told("in-person", flow, final, receptors)
	s.at("14:10").closed("surgery", "")
	return s
}

// Nothing but that the pieces are few while they come: from the first to the last but one.
func TestAnOrdinaryCaseRaisesNothingAtAnyInstant(t *testing.T) {
	for _, watched := range []string{"case", "bag"} {
		s := wholeStory(t)
		judged := 0
		s.walk(watched, func(now time.Time, found tracker.Findings) {
			judged++
			want := []string{}
			if watched == "case" && !now.Before(s.instant("2026-03-06 10:42")) && now.Before(s.instant("2026-03-06 10:49")) {
				want = []string{"watch pieces-few A"}
			}
			require.Equal(t, want, s.lines(found), "%s at %s", watched, now)
		})
		require.Greater(t, judged, len(s.events)/2)
	}
}

// Without any one of these steps a flag comes up, and it is the one that is about the step.
func TestWithoutAnyOneStepAFlagComesUp(t *testing.T) {
	tests := []struct {
		missing tracker.Kind
		nth     int // of that kind, from 0
		want    tracker.FlagKind
	}{
		{tracker.KindPatientChecked, 0, tracker.FlagLabelBeforeCheck},
		{tracker.KindPiecePotted, 0, tracker.FlagFixativeTimeMissing},
		{tracker.KindPotSealed, 0, tracker.FlagReadBackMissing},
		{tracker.KindRoomCleared, 0, tracker.FlagRoomOpen},
		{tracker.KindResultIssued, 0, tracker.FlagResultOverdue},
		{tracker.KindResultIssued, 1, tracker.FlagResultOverdue},
		{tracker.KindResultIssued, 2, tracker.FlagResultOverdue},
		{tracker.KindResultSeen, 0, tracker.FlagResultUnread},
		{tracker.KindResultSeen, 1, tracker.FlagResultUnread},
		{tracker.KindPatientTold, 0, tracker.FlagPatientWaiting},
		{tracker.KindCaseOpened, 0, tracker.FlagUnknownItem},
	}
	for _, tt := range tests {
		t.Run(string(tt.missing)+" "+string(tt.want), func(t *testing.T) {
			s := wholeStory(t)
			n := 0
			for i, e := range s.events {
				if e.Kind != tt.missing {
					continue
				}
				if n == tt.nth {
					s.events = append(s.events[:i], s.events[i+1:]...)
					break
				}
				n++
			}
			raised := map[tracker.FlagKind]bool{}
			s.walk("case", func(_ time.Time, found tracker.Findings) {
				for _, f := range found.Flags {
					raised[f.Kind] = true
				}
			})
			require.Contains(t, raised, tt.want)
		})
	}
}

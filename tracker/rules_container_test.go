package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

func TestTheContainerMustServeTheStudies(t *testing.T) {
	tests := []struct {
		name string
		plan tracker.PlannedPot
		then func(s *story)
		want []string
	}{
		{"planned wrong, amended before the needle", plan("A", "formalin", "flow"), func(s *story) {
			s.at("10:00").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "rpmi", "flow")}})
		}, []string{"Fri 6 Mar 09:00:00 now A", "Fri 6 Mar 10:00:00 -"}},
		{"planned wrong, the lid goes on", plan("A", "formalin", "flow"), func(s *story) { s.at("15:50").sealed("A", "nurse.lund", 1) },
			[]string{"Fri 6 Mar 09:00:00 now A", "Fri 6 Mar 15:50:00 today A"}},
		{"planned wrong, it leaves without a sealing", plan("A", "formalin", "flow"), func(s *story) { s.at("16:30").handed("hatch", "A") },
			[]string{"Fri 6 Mar 09:00:00 now A", "Fri 6 Mar 16:30:00 today A"}},
		{"planned right, filled wrong, filled right", plan("A", "rpmi", "flow"), func(s *story) {
			s.at("15:30").filled("A", "formalin")
			s.at("15:31").filled("A", "rpmi")
		}, []string{"Fri 6 Mar 15:30:00 now A", "Fri 6 Mar 15:31:00 -"}},
		{"the wrong filling is struck", plan("A", "rpmi", "flow"), func(s *story) {
			e := s.at("15:30").filled("A", "formalin")
			s.at("15:32").struck(e)
		}, []string{"Fri 6 Mar 15:30:00 now A", "Fri 6 Mar 15:32:00 -"}},
		{"planned right, filled right, the piece went into another", plan("A", "rpmi", "flow"), func(s *story) {
			s.at("15:30").filled("A", "rpmi")
			s.at("15:42").taken("A01")
			s.at("15:43").record(&tracker.PiecePotted{Medium: "formalin"}, "A01")
		}, []string{"Fri 6 Mar 15:43:00 now A"}},
		{"planned with loss", plan("A", "saline", "histology"), func(s *story) { s.at("15:50").sealed("A", "nurse.lund", 1) },
			[]string{"Fri 6 Mar 09:00:00 watch A"}},
		{"came with loss instead of what was planned", plan("A", "formalin", "histology"), func(s *story) {
			s.at("15:30").filled("A", "saline")
			s.at("15:50").sealed("A", "nurse.lund", 1)
		}, []string{"Fri 6 Mar 15:30:00 now A", "Fri 6 Mar 15:50:00 today A"}},
		{"a study is asked for later", plan("A", "formalin", "histology"), func(s *story) {
			s.at("15:50").sealed("A", "nurse.lund", 1)
			s.at("2026-03-09 10:00").added("A", "flow")
		}, []string{"Mon 9 Mar 10:00:00 today A"}},
		{"the added study is struck", plan("A", "formalin", "histology"), func(s *story) {
			e := s.at("10:00").added("A", "flow")
			s.at("10:05").struck(e)
		}, []string{"Fri 6 Mar 10:00:00 now A", "Fri 6 Mar 10:05:00 -"}},
		{"the pot was not used", plan("A", "formalin", "flow"), func(s *story) {
			s.at("15:52").record(&tracker.ProcedureEnded{Outcome: "partly", Unused: []string{"A"}}, "case")
		}, []string{"Fri 6 Mar 09:00:00 now A", "Fri 6 Mar 15:52:00 -"}},
		{"nothing was done", plan("A", "formalin", "flow"), func(s *story) {
			s.at("15:52").record(&tracker.ProcedureEnded{Outcome: "not-done"}, "case")
		}, []string{"Fri 6 Mar 09:00:00 now A", "Fri 6 Mar 15:52:00 -"}},
		{"said to be not done, but a piece was taken", plan("A", "formalin", "flow"), func(s *story) {
			s.at("15:42").taken("A01")
			s.at("15:52").record(&tracker.ProcedureEnded{Outcome: "not-done"}, "case")
		}, []string{"Fri 6 Mar 09:00:00 now A"}},
		{"done, and the pot is not said to be unused", plan("A", "formalin", "flow"), func(s *story) {
			s.at("15:52").record(&tracker.ProcedureEnded{Outcome: "done"}, "case")
		}, []string{"Fri 6 Mar 09:00:00 now A"}},
		{"an answer is no right medium", plan("A", "formalin", "flow"), func(s *story) {
			s.at("15:52").answered(tracker.FlagContainerWrong, "A")
		}, []string{"Fri 6 Mar 09:00:00 now A"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(tt.plan)
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagContainerWrong))
		})
	}
}

func TestTheContainerFlagNamesStudyAndMediumAndSinceWhen(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology", "flow", "receptors"))
	f := s.flag(tracker.FlagContainerWrong, "A", "12:00")
	p := s.rules.Protocol()
	require.Contains(t, f.Text, p.Studies["flow"].Name)
	require.Contains(t, f.Text, p.Media["formalin"].Name)
	require.NotContains(t, f.Text, p.Studies["receptors"].Name)
	require.Contains(t, f.Remedy, "give each study a pot of its own")
	require.Equal(t, "operator", f.Who)
	require.Equal(t, s.instant("09:00"), f.Since.In(london))

	s = newStory(t)
	s.opened(plan("A", "rpmi", "flow"))
	s.at("15:30").filled("A", "formalin")
	f = s.flag(tracker.FlagContainerWrong, "A", "15:31")
	require.Equal(t, s.instant("15:30"), f.Since.In(london))
	require.Contains(t, f.Remedy, p.Media["rpmi"].Name)

	s = newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("14:00").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "formalin", "histology", "flow")}})
	s.at("14:10").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "formalin", "karyotype", "histology", "flow")}})
	require.Equal(t, s.instant("14:00"), s.flag(tracker.FlagContainerWrong, "A", "14:11").Since.In(london), "true since the request was changed")

	s = newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("14:30").added("A", "flow")
	require.Equal(t, s.instant("14:30"), s.flag(tracker.FlagContainerWrong, "A", "14:31").Since.In(london), "true since the study was asked for")
}

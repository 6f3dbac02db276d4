package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// critical is a malignant, critical final of Wednesday 11 March 11:00.
func critical(t *testing.T) (*story, *tracker.Event) {
	t.Helper()
	s, final := reported(t, "B5b")
	final.Data.(*tracker.ResultIssued).Critical = true
	return s, final
}

// TestACriticalResultIsTakenOnTheSameDay: CAP/ADASP consensus, Arch Pathol Lab Med 2012;136:148-54: the same day.
func TestACriticalResultIsTakenOnTheSameDay(t *testing.T) {
	s, _ := critical(t)
	require.Equal(t, []string{"Thu 12 Mar 00:00:00 now case"}, s.course(tracker.FlagResultCritical))
	require.Empty(t, s.flags("case", "2026-03-11 23:59:59"))
	f := s.flag(tracker.FlagResultCritical, "case", "2026-03-12 03:59:59")
	require.Equal(t, "clinician", f.Who)
	require.Equal(t, s.instant("2026-03-12 04:00"), f.Due.In(london))
	f = s.flag(tracker.FlagResultCritical, "case", "2026-03-12 04:00")
	require.Equal(t, "clinician, coordinator", f.Who)
	require.Contains(t, f.Text, "Wed 11 Mar 11:00")
	require.Equal(t, []string{"now result-critical case", "held result-unread case by result-critical"}, s.flags("case", "2026-03-13 12:00"))

	s, final := critical(t)
	s.at("2026-03-11 23:59:59").doctor().seen(final)
	require.Empty(t, s.course(tracker.FlagResultCritical), "read on the day")
	s, final = critical(t)
	s.at("2026-03-12 08:00").doctor().seen(final)
	require.Equal(t, []string{"Thu 12 Mar 00:00:00 now case", "Thu 12 Mar 08:00:00 -"}, s.course(tracker.FlagResultCritical))
	s, final = critical(t)
	s.at("2026-03-11 15:00").doctor().seen(s.events[0])
	require.Equal(t, []string{"Thu 12 Mar 00:00:00 now case"}, s.course(tracker.FlagResultCritical), "a reading of something else")
	s.at("2026-03-12 09:00").answered(tracker.FlagResultCritical, "case")
	require.Equal(t, []string{"Thu 12 Mar 00:00:00 now case"}, s.course(tracker.FlagResultCritical), "an answer is no reading")
	final.Data.(*tracker.ResultIssued).Critical = false
	require.Empty(t, s.course(tracker.FlagResultCritical), "not critical")
}

// TestAResultIsHeldByTheSameResultOnly: one critical result does not hide that another lies unread.
func TestAResultIsHeldByTheSameResultOnly(t *testing.T) {
	s, _ := critical(t)
	s.at("2026-03-11 12:00").lab().answeredStudies(tracker.StageFinal, []string{"flow"}, "A")
	require.Equal(t, []string{"now result-critical case", "today result-unread case", "held result-unread case by result-critical"}, s.flags("case", "2026-03-13 12:00"))
}

func TestASampleThatWasNotEnoughWantsAPlan(t *testing.T) {
	for _, category := range []string{"B1", "C1", "L1", "Thy1", "Thy1c", "I", "Bethesda I", "inadequate", "Insufficient", "non-diagnostic", "Unsatisfactory"} {
		s, _ := reported(t, category)
		require.Equal(t, []string{"Wed 11 Mar 11:00:00 today case"}, s.course(tracker.FlagSampleInadequate), category)
	}
	for _, category := range []string{"B2", "B3", "Thy2c", "II", "VI", "", "a note"} {
		s, _ := reported(t, category)
		require.Empty(t, s.course(tracker.FlagSampleInadequate), category)
	}
	s, final := reported(t, "B1")
	s.at("2026-03-12 10:00").doctor().seen(final)
	s.at("2026-03-13 10:00").discussed("not-assessed", "review")
	require.Equal(t, []string{"Wed 11 Mar 11:00:00 today case", "Fri 13 Mar 10:00:00 -"}, s.course(tracker.FlagSampleInadequate), "a plan settles it")
	s, _ = reported(t, "B1")
	s.at("2026-03-10 10:00").doctor().discussed("not-assessed", "review")
	require.Equal(t, []string{"Wed 11 Mar 11:00:00 today case"}, s.course(tracker.FlagSampleInadequate), "not one made before it")
	s, _ = reported(t, "B1")
	s.at("2026-03-12 10:00").lab().issued(tracker.StageAmended, "B2", "A")
	require.Equal(t, []string{"Wed 11 Mar 11:00:00 today case", "Thu 12 Mar 10:00:00 -"}, s.course(tracker.FlagSampleInadequate), "amended")
	s, _ = reported(t, "B1")
	s.at("2026-03-12 10:00").doctor().closed("transferred", "her own hospital repeats it")
	require.Equal(t, []string{"Wed 11 Mar 11:00:00 today case", "Thu 12 Mar 10:00:00 -"}, s.course(tracker.FlagSampleInadequate), "closed with a reason")
}

// TestUncertainResultsWantAMeeting: page 3's list; divided categories as in RCPath G150 and G089 and the NHS Data
// Dictionary.
func TestUncertainResultsWantAMeeting(t *testing.T) {
	for _, category := range []string{"B3", "B3a", "B3b", "B4", "C3", "C4", "Thy3", "Thy3a", "thy 3f", "Thy4", "III", "IV", "V", "Bethesda IV"} {
		s, _ := reported(t, category)
		require.Equal(t, []string{"Wed 11 Mar 11:00:00 today case"}, s.course(tracker.FlagNeedsMeeting), category)
	}
	for _, category := range []string{"B1", "B2", "B5a", "C2", "C5", "L3", "L4", "Thy2", "Thy5", "I", "II", "VI", ""} {
		s, _ := reported(t, category)
		require.Empty(t, s.course(tracker.FlagNeedsMeeting), category)
	}
	for category, which := range map[string]string{"B3": "Ask the laboratory which it is: B3a or B3b.", "Thy3": "Ask the laboratory which it is: Thy3a or Thy3f."} {
		s, _ := reported(t, category)
		require.Contains(t, s.flag(tracker.FlagNeedsMeeting, "case", "2026-03-11 11:00").Remedy, which)
	}
	s, _ := reported(t, "B3a")
	require.NotContains(t, s.flag(tracker.FlagNeedsMeeting, "case", "2026-03-11 11:00").Remedy, "which it is")
	s.at("2026-03-12 10:00").doctor().discussed("concordant", "excise", s.events[0])
	require.Equal(t, []string{"Wed 11 Mar 11:00:00 today case"}, s.course(tracker.FlagNeedsMeeting), "a discussion of something else")
	s, final := reported(t, "B3a")
	s.at("2026-03-12 10:00").doctor().discussed("not-assessed", "review", final)
	require.Equal(t, []string{"Wed 11 Mar 11:00:00 today case", "Thu 12 Mar 10:00:00 -"}, s.course(tracker.FlagNeedsMeeting), "discussed, naming it")
}

// discussedPlan is a read and told case with a plan of Thursday 12 March 10:00.
func discussedPlan(t *testing.T, plan string) (*story, *tracker.Event) {
	t.Helper()
	s, final := reported(t, "B3b")
	s.at("2026-03-12 09:00").doctor().seen(final)
	s.at("2026-03-12 10:00").discussed("concordant", plan, final)
	s.at("2026-03-12 11:00").told("in-person", final)
	return s, final
}

// repeatOpened is another case that says it repeats this one.
func (s *story) repeatOpened(name string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.CaseOpened{Patient: "p-4c1a", Priority: "routine", Lesions: s.request.Lesions, Pots: []tracker.PlannedPot{plan("A", "formalin", "histology")},
		RepeatOf: s.name}, name)
}

func TestWhatWasPlannedIsDone(t *testing.T) {
	raised := "Thu 26 Mar 10:00:00 today case" // ten working days after Thursday 12 March
	for _, does := range []string{"repeat-biopsy", "excise", "refer"} {
		s, _ := discussedPlan(t, does)
		require.Equal(t, []string{raised}, s.course(tracker.FlagPlanNotDone), does)
		require.Empty(t, s.flags("case", "2026-03-26 09:59:59"), does)
	}
	for _, does := range []string{"discharge", "review", "treat"} {
		s, _ := discussedPlan(t, does)
		require.Empty(t, s.course(tracker.FlagPlanNotDone), does)
	}
	tests := []struct {
		name string
		then func(s *story, final *tracker.Event)
		want []string
	}{
		{"a case repeats it", func(s *story, _ *tracker.Event) { s.at("2026-03-20 10:00").repeatOpened("MBY-26-00500") }, []string{}},
		{"late", func(s *story, _ *tracker.Event) { s.at("2026-03-30 10:00").repeatOpened("MBY-26-00500") }, []string{raised, "Mon 30 Mar 10:00:00 -"}},
		{"that request is struck", func(s *story, _ *tracker.Event) {
			e := s.at("2026-03-20 10:00").repeatOpened("MBY-26-00500")
			s.at("2026-03-30 10:00").struck(e)
		}, []string{"Mon 30 Mar 10:00:00 today case"}},
		{"it repeats another in the end", func(s *story, _ *tracker.Event) {
			s.at("2026-03-20 10:00").repeatOpened("MBY-26-00500")
			other := tracker.Name("MBY-26-00001")
			s.at("2026-03-30 10:00").record(&tracker.CaseAmended{RepeatOf: &other, Why: "the wrong one"}, "MBY-26-00500")
		}, []string{"Mon 30 Mar 10:00:00 today case"}},
		{"amended to repeat it", func(s *story, _ *tracker.Event) {
			other := s.name
			s.at("2026-03-20 10:00").record(&tracker.CaseAmended{RepeatOf: &other, Why: "forgotten"}, "MBY-26-00500")
		}, []string{}},
		{"closed as surgery", func(s *story, _ *tracker.Event) { s.at("2026-03-20 10:00").closed("surgery", "") }, []string{}},
		{"closed as repeat", func(s *story, _ *tracker.Event) { s.at("2026-03-20 10:00").closed("repeat", "") }, []string{}},
		{"closed as referred", func(s *story, _ *tracker.Event) { s.at("2026-03-20 10:00").closed("referred", "") }, []string{}},
		{"closed otherwise", func(s *story, _ *tracker.Event) { s.at("2026-03-20 10:00").closed("review", "") }, []string{raised}},
		{"closed otherwise with a reason", func(s *story, _ *tracker.Event) { s.at("2026-03-20 10:00").closed("withdrawn", "she does not want it") }, []string{}},
		{"decided anew", func(s *story, final *tracker.Event) {
			s.at("2026-03-20 10:00").discussed("concordant", "review", final)
		}, []string{}},
		{"decided again", func(s *story, final *tracker.Event) {
			s.at("2026-03-20 10:00").discussed("concordant", "excise", final)
		},
			[]string{"Tue 7 Apr 10:00:00 today case"}},
		{"an answer settles nothing", func(s *story, _ *tracker.Event) { s.at("2026-03-27 10:00").answered(tracker.FlagPlanNotDone, "case") }, []string{raised}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, final := discussedPlan(t, "repeat-biopsy")
			tt.then(s, final)
			require.Equal(t, tt.want, s.course(tracker.FlagPlanNotDone))
		})
	}
}

func TestACaseThatIsToldIsClosed(t *testing.T) {
	s, _ := discussedPlan(t, "review")
	require.Equal(t, []string{"Mon 13 Apr 11:00:00 watch case"}, s.course(tracker.FlagCaseUnfinished), "20 working days over Easter")
	s.at("2026-04-20 11:00").closed("review", "")
	require.Equal(t, []string{"Mon 13 Apr 11:00:00 watch case", "Mon 20 Apr 11:00:00 -"}, s.course(tracker.FlagCaseUnfinished))
}

func TestACaseIsNotClosedOverWhatIsOwed(t *testing.T) {
	tests := []struct {
		name  string
		story func(t *testing.T) *story
		want  []string
	}{
		{"nothing is left", func(t *testing.T) *story { s, _ := discussedPlan(t, "review"); return s }, []string{}},
		{"a result is unread", func(t *testing.T) *story { s, _ := reported(t, "B2"); return s }, []string{"Mon 16 Mar 09:00:00 today case"}},
		{"a patient is not told", func(t *testing.T) *story {
			s, final := reported(t, "B2")
			s.at("2026-03-12 09:00").doctor().seen(final)
			return s
		}, []string{"Mon 16 Mar 09:00:00 today case"}},
		{"a malignant one only by letter", func(t *testing.T) *story {
			s, final := reported(t, "B5b")
			s.at("2026-03-12 09:00").doctor().seen(final)
			s.at("2026-03-12 10:00").told("letter", final)
			return s
		}, []string{"Mon 16 Mar 09:00:00 today case"}},
		{"a study has no answer", func(t *testing.T) *story { return atLab(t) }, []string{"Mon 16 Mar 09:00:00 today case"}},
		{"nothing was ever taken", func(t *testing.T) *story {
			s := newStory(t)
			s.opened(plan("A", "formalin", "histology"))
			return s
		}, []string{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := tt.story(t)
			s.at("2026-03-16 09:00").doctor().closed("review", "")
			require.Equal(t, tt.want, s.course(tracker.FlagCaseUnfinished))
			s.at("2026-03-16 09:00").closed("review", "as agreed with her")
			require.Empty(t, s.course(tracker.FlagCaseUnfinished), "closed with a reason")
		})
	}
	s, final := reported(t, "B5b")
	s.at("2026-03-12 09:00").doctor().seen(final)
	s.at("2026-03-16 09:00").closed("died", "")
	require.Empty(t, s.course(tracker.FlagCaseUnfinished), "nobody is left to be told")
}

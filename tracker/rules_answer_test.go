package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// atLab is a story of one pot that the laboratory received on Friday 6 March at 17:40.
func atLab(t *testing.T) *story {
	t.Helper()
	s := roomDone(t).collected()
	s.at("17:40").lab().handed("lab-reception", "A")
	return s
}

func (s *story) doctor() *story { return s.by("dr.vale", "desk-1") }

// reported is atLab with a final result of Wednesday 11 March 11:00; the receptors came with it.
func reported(t *testing.T, category string) (*story, *tracker.Event) {
	t.Helper()
	s := atLab(t)
	final := s.at("2026-03-11 11:00").lab().issued(tracker.StageFinal, category, "A")
	final.Data.(*tracker.ResultIssued).Studies = []string{"histology", "receptors"}
	return s, final
}

func TestAResultIsReadInTwoWorkingDays(t *testing.T) {
	tests := []struct {
		name, category, at string
		then               func(s *story, r *tracker.Event)
		want               []string
	}{
		{"benign: two working days", "B2", "2026-03-11 11:00", func(*story, *tracker.Event) {}, []string{"Fri 13 Mar 11:00:00 today case"}},
		{"uncertain: two working days", "B3a", "2026-03-11 11:00", func(*story, *tracker.Event) {}, []string{"Fri 13 Mar 11:00:00 today case"}},
		{"malignant: one", "B5b", "2026-03-11 11:00", func(*story, *tracker.Event) {}, []string{"Thu 12 Mar 11:00:00 today case"}},
		{"suspicious: one", "B4", "2026-03-11 11:00", func(*story, *tracker.Event) {}, []string{"Thu 12 Mar 11:00:00 today case"}},
		{"over a weekend", "B2", "2026-03-13 11:00", func(*story, *tracker.Event) {}, []string{"Tue 17 Mar 11:00:00 today case"}},
		{"over Easter", "B5b", "2026-04-02 16:00", func(*story, *tracker.Event) {}, []string{"Tue 7 Apr 16:00:00 today case"}},
		{"over Christmas", "B2", "2026-12-24 16:00", func(*story, *tracker.Event) {}, []string{"Wed 30 Dec 16:00:00 today case"}},
		{"read a second before", "B2", "2026-03-11 11:00", func(s *story, r *tracker.Event) { s.at("2026-03-13 10:59:59").seen(r) }, []string{}},
		{"read late", "B2", "2026-03-11 11:00", func(s *story, r *tracker.Event) { s.at("2026-03-16 10:00").seen(r) },
			[]string{"Fri 13 Mar 11:00:00 today case", "Mon 16 Mar 10:00:00 -"}},
		{"a reading of something else", "B2", "2026-03-11 11:00", func(s *story, _ *tracker.Event) { s.at("2026-03-12 10:00").seen(s.events[0]) },
			[]string{"Fri 13 Mar 11:00:00 today case"}},
		{"the reading is struck", "B2", "2026-03-11 11:00", func(s *story, r *tracker.Event) {
			e := s.at("2026-03-12 10:00").seen(r)
			s.at("2026-03-16 09:00").struck(e)
		}, []string{"Mon 16 Mar 09:00:00 today case"}},
		{"an answer is no reading", "B2", "2026-03-11 11:00", func(s *story, _ *tracker.Event) {
			s.at("2026-03-14 10:00").answered(tracker.FlagResultUnread, "case")
		}, []string{"Fri 13 Mar 11:00:00 today case"}},
		{"the final that took its place is read", "B2", "2026-03-11 11:00", func(s *story, _ *tracker.Event) {
			amended := s.at("2026-03-12 09:00").issued(tracker.StageAmended, "B2", "A")
			s.at("2026-03-12 15:00").seen(amended)
		}, []string{}},
		{"closed with a reason", "B2", "2026-03-11 11:00", func(s *story, _ *tracker.Event) {
			s.at("2026-03-12 09:00").closed("transferred", "her own hospital reads it")
		}, []string{}},
		{"closed without one", "B2", "2026-03-11 11:00", func(s *story, _ *tracker.Event) { s.at("2026-03-12 09:00").closed("discharged", "") },
			[]string{"Fri 13 Mar 11:00:00 today case"}},
		{"closed with a reason before it came", "B5b", "2026-03-11 11:00", func(s *story, _ *tracker.Event) {
			s.at("2026-03-10 09:00").closed("withdrawn", "the patient wished so")
		}, []string{"Thu 12 Mar 11:00:00 today case"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := atLab(t)
			r := s.at(tt.at).lab().issued(tracker.StageFinal, tt.category, "A")
			tt.then(s.doctor(), r)
			require.Equal(t, tt.want, s.course(tracker.FlagResultUnread))
		})
	}
	s, _ := reported(t, "B5b")
	f := s.flag(tracker.FlagResultUnread, "case", "2026-03-12 11:00")
	require.Equal(t, s.instant("2026-03-12 11:00"), f.Since.In(london))
	require.Equal(t, "clinician", f.Who)
	for _, part := range []string{"B5b", "final", "pot A", "Wed 11 Mar 11:00", "1 working day"} {
		require.Contains(t, f.Text, part)
	}
}

func TestAChangedResultIsReadAndTold(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story, r *tracker.Event)
		want []string
	}{
		{"amended before anybody read it", func(s *story, _ *tracker.Event) {
			s.at("2026-03-12 09:00").lab().issued(tracker.StageAmended, "B4", "A")
		}, []string{}},
		{"amended after it was read", func(s *story, r *tracker.Event) {
			s.at("2026-03-11 12:00").doctor().seen(r)
			s.at("2026-03-12 09:00").lab().issued(tracker.StageAmended, "B2", "A")
		}, []string{"Thu 12 Mar 09:00:00 now case"}},
		{"read, then told", func(s *story, r *tracker.Event) {
			s.at("2026-03-11 12:00").doctor().seen(r)
			a := s.at("2026-03-12 09:00").lab().issued(tracker.StageAmended, "B4", "A")
			s.at("2026-03-12 10:00").doctor().seen(a)
			s.at("2026-03-12 15:00").told("in-person", a)
		}, []string{"Thu 12 Mar 09:00:00 now case", "Thu 12 Mar 15:00:00 -"}},
		{"a reading of the old one again does not count", func(s *story, r *tracker.Event) {
			s.at("2026-03-11 12:00").doctor().seen(r)
			s.at("2026-03-12 09:00").lab().issued(tracker.StageAmended, "B4", "A")
			s.at("2026-03-12 10:00").doctor().seen(r)
			s.at("2026-03-12 15:00").told("in-person", r)
		}, []string{"Thu 12 Mar 09:00:00 now case"}},
		{"a final of another category", func(s *story, r *tracker.Event) {
			s.at("2026-03-11 12:00").doctor().seen(r)
			s.at("2026-03-12 09:00").lab().issued(tracker.StageFinal, "B4", "A")
		}, []string{"Thu 12 Mar 09:00:00 now case"}},
		{"a final of the same category", func(s *story, r *tracker.Event) {
			s.at("2026-03-11 12:00").doctor().seen(r)
			s.at("2026-03-12 09:00").lab().issued(tracker.StageFinal, "B2", "A")
		}, []string{}},
		{"an addendum on other studies", func(s *story, r *tracker.Event) {
			s.at("2026-03-11 12:00").doctor().seen(r)
			s.at("2026-03-12 09:00").lab().answeredStudies(tracker.StageAddendum, []string{"stains"}, "A")
		}, []string{}},
		{"a result on another pot", func(s *story, r *tracker.Event) {
			s.at("2026-03-11 12:00").doctor().seen(r)
			s.at("2026-03-12 09:00").lab().issued(tracker.StageFinal, "B4", "B")
		}, []string{}},
		{"after the patient was told, on a phone by the desk that did not see it", func(s *story, r *tracker.Event) {
			s.at("2026-03-11 12:00").doctor().told("telephone", r)
			s.at("2026-03-12 09:00").lab().issued(tracker.StageAmended, "B4", "A")
		}, []string{"Thu 12 Mar 09:00:00 now case"}},
		{"after the case was closed with a reason", func(s *story, _ *tracker.Event) {
			s.at("2026-03-11 12:00").doctor().closed("withdrawn", "the patient wished so")
			s.at("2026-03-12 09:00").lab().issued(tracker.StageAmended, "B4", "A")
		}, []string{"Thu 12 Mar 09:00:00 now case"}},
		{"the patient died: read is enough", func(s *story, r *tracker.Event) {
			s.at("2026-03-11 12:00").doctor().seen(r)
			s.at("2026-03-12 08:00").closed("died", "")
			a := s.at("2026-03-12 09:00").lab().issued(tracker.StageAmended, "B4", "A")
			s.at("2026-03-12 10:00").doctor().seen(a)
		}, []string{"Thu 12 Mar 09:00:00 now case", "Thu 12 Mar 10:00:00 -"}},
		{"the amendment is struck", func(s *story, r *tracker.Event) {
			s.at("2026-03-11 12:00").doctor().seen(r)
			a := s.at("2026-03-12 09:00").lab().issued(tracker.StageAmended, "B4", "A")
			s.at("2026-03-12 09:30").struck(a)
		}, []string{"Thu 12 Mar 09:00:00 now case", "Thu 12 Mar 09:30:00 -"}},
		{"a reading comes in late: it was read before the change", func(s *story, r *tracker.Event) {
			s.at("2026-03-12 09:00").lab().issued(tracker.StageAmended, "B4", "A")
			s.at("2026-03-11 12:00").doctor().seen(r).Record.Recorded = s.instant("2026-03-12 11:00")
		}, []string{"Thu 12 Mar 11:00:00 now case"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, r := reported(t, "B2")
			tt.then(s, r)
			require.Equal(t, tt.want, s.course(tracker.FlagResultChanged))
		})
	}
	s, r := reported(t, "B2")
	s.at("2026-03-11 12:00").doctor().seen(r)
	s.at("2026-03-11 15:00").told("telephone", r)
	s.at("2026-03-12 09:00").lab().issued(tracker.StageAmended, "B5b", "A")
	f := s.flag(tracker.FlagResultChanged, "case", "2026-03-12 09:00")
	require.Equal(t, s.instant("2026-03-12 09:00"), f.Since.In(london))
	require.Equal(t, "clinician", f.Who)
	for _, part := range []string{"B5b", "amended", "Thu 12 Mar 09:00", "told", "B2"} {
		require.Contains(t, f.Text, part)
	}
}

// Contract page on flags, row discordant; NHS five-point scale and BI-RADS as the reference on practice has them, 6.1.
func TestImagingAndPathologyMustGoTogether(t *testing.T) {
	tests := []struct{ imaging, category, want string }{
		{"U4", "B2", "now"}, {"U5", "B2", "now"}, {"M4", "B2", "now"}, {"M5", "B2", "now"}, {"P4", "B2", "now"}, {"P5", "C2", "now"},
		{"U5", "Thy2", "now"}, {"U5", "Thy2c", "now"}, {"U5", "II", "now"}, {"U5", "L2", "now"},
		{"BI-RADS 4C", "B2", "now"}, {"BI-RADS 5", "B2", "now"},
		{"U3", "B2", "watch"}, {"BI-RADS 4", "B2", "watch"}, {"BI-RADS 4A", "B2", "watch"}, {"BI-RADS 4B", "C2", "watch"},
		{"U2", "B2", ""}, {"U1", "B2", ""}, {"BI-RADS 3", "B2", ""}, {"BI-RADS 2", "B2", ""}, {"", "B2", ""},
		{"U5", "B5b", ""}, {"U5", "B4", ""}, {"U5", "B3", ""}, {"U5", "B1", ""}, {"U3", "B5a", ""}, {"BI-RADS 5", "", ""},
	}
	for _, tt := range tests {
		t.Run(tt.imaging+" and "+tt.category, func(t *testing.T) {
			s := newStory(t)
			s.request.Lesions[0].Imaging = tt.imaging
			s.opened(plan("A", "formalin", "histology"))
			s.at("15:42").taken("A01")
			s.potted("A01")
			s.at("2026-03-11 11:00").issued(tracker.StageFinal, tt.category, "A")
			got := s.course(tracker.FlagDiscordant)
			if tt.want == "" {
				require.Empty(t, got)
				return
			}
			require.Equal(t, []string{"Wed 11 Mar 11:00:00 " + tt.want + " case"}, got)
		})
	}
}

func TestAPotThatNobodyPlannedIsOfItsPiecesLesion(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:42").taken("B01")
	s.potted("B01")
	s.at("2026-03-11 11:00").issued(tracker.StageFinal, "B2", "B")
	require.Equal(t, []string{"Wed 11 Mar 11:00:00 now case"}, s.course(tracker.FlagDiscordant))
}

// Each lesion has its own imaging: a result speaks of the lesions of its pots and of no others.
func TestAResultSpeaksOfTheLesionsOfItsPots(t *testing.T) {
	two := func(t *testing.T) *story {
		s := newStory(t)
		s.request.Lesions = append(s.request.Lesions, tracker.Lesion{Key: "L2", Organ: "breast", Side: "right", Target: "calcification", Imaging: "U2"})
		second := plan("B", "formalin", "histology")
		second.Lesion = "L2"
		s.opened(plan("A", "formalin", "histology"), second)
		s.at("2026-03-11 11:00")
		return s
	}
	s := two(t)
	s.issued(tracker.StageFinal, "B2", "B")
	require.Empty(t, s.course(tracker.FlagDiscordant), "U2 and B2 go together")
	s = two(t)
	s.issued(tracker.StageFinal, "B2", "A")
	require.Contains(t, s.flag(tracker.FlagDiscordant, "case", "2026-03-11 11:00").Text, "lesion L1")
	s = two(t)
	s.issued(tracker.StageFinal, "B2", "case")
	require.Contains(t, s.flag(tracker.FlagDiscordant, "case", "2026-03-11 11:00").Text, "lesion L1", "about the case is about both")

	s = two(t)
	s.at("15:43").potted("A01", "B01") // nobody scanned the taking: the pot says which lesion it is of
	s.record(&tracker.SpecimenImaged{Calcium: "not-seen"}, "B")
	s.record(&tracker.SpecimenImaged{Calcium: "seen"}, "A")
	s.at("2026-03-12 11:00").issued(tracker.StageFinal, "B2", "B")
	require.Equal(t, []string{"Thu 12 Mar 11:00:00 today case"}, s.course(tracker.FlagDiscordant), "calcium seen in the other lesion is no help")
}

func TestDiscordanceIsSettledByADiscussion(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story, r *tracker.Event)
		want []string
	}{
		{"concordant, with a plan", func(s *story, r *tracker.Event) { s.at("2026-03-12 09:00").discussed("concordant", "discharge", r) },
			[]string{"Wed 11 Mar 11:00:00 now case", "Thu 12 Mar 09:00:00 -"}},
		{"discordant, with a plan", func(s *story, r *tracker.Event) { s.at("2026-03-12 09:00").discussed("discordant", "repeat-biopsy", r) },
			[]string{"Wed 11 Mar 11:00:00 now case", "Thu 12 Mar 09:00:00 -"}},
		{"not assessed", func(s *story, r *tracker.Event) { s.at("2026-03-12 09:00").discussed("not-assessed", "review", r) },
			[]string{"Wed 11 Mar 11:00:00 now case"}},
		{"another result", func(s *story, _ *tracker.Event) {
			s.at("2026-03-12 09:00").discussed("concordant", "discharge", s.events[0])
		}, []string{"Wed 11 Mar 11:00:00 now case"}},
		{"read and told do not settle it", func(s *story, r *tracker.Event) {
			s.at("2026-03-12 09:00").seen(r)
			s.told("in-person", r)
		}, []string{"Wed 11 Mar 11:00:00 now case"}},
		{"an answer does not", func(s *story, _ *tracker.Event) {
			s.at("2026-03-12 09:00").answered(tracker.FlagDiscordant, "case")
		}, []string{"Wed 11 Mar 11:00:00 now case"}},
		{"closing the case does not", func(s *story, _ *tracker.Event) {
			s.at("2026-03-12 09:00").closed("discharged", "all is well")
		}, []string{"Wed 11 Mar 11:00:00 now case"}},
		{"the discussion is struck", func(s *story, r *tracker.Event) {
			e := s.at("2026-03-12 09:00").discussed("concordant", "discharge", r)
			s.at("2026-03-12 10:00").struck(e)
		}, []string{"Wed 11 Mar 11:00:00 now case", "Thu 12 Mar 09:00:00 -", "Thu 12 Mar 10:00:00 now case"}},
		{"amended to malignant", func(s *story, _ *tracker.Event) {
			s.at("2026-03-12 09:00").lab().issued(tracker.StageAmended, "B5b", "A")
		}, []string{"Wed 11 Mar 11:00:00 now case", "Thu 12 Mar 09:00:00 -"}},
		{"the imaging is corrected", func(s *story, _ *tracker.Event) {
			benign := s.request.Lesions[0]
			benign.Imaging = "U2"
			s.at("2026-03-12 09:00").amended(tracker.CaseAmended{Lesions: []tracker.Lesion{benign}})
		}, []string{"Wed 11 Mar 11:00:00 now case", "Thu 12 Mar 09:00:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, r := reported(t, "B2")
			tt.then(s.doctor(), r)
			require.Equal(t, tt.want, s.course(tracker.FlagDiscordant))
		})
	}
	s, _ := reported(t, "B2")
	f := s.flag(tracker.FlagDiscordant, "case", "2026-03-11 11:00")
	require.Equal(t, s.instant("2026-03-11 11:00"), f.Since.In(london))
	require.Equal(t, "clinician", f.Who)
	for _, part := range []string{"B2", "U5", "L1"} {
		require.Contains(t, f.Text, part)
	}
}

func TestCalcificationThatWasTheTargetMustBeSeen(t *testing.T) {
	tests := []struct {
		name string
		tell func(s *story)
		want []string
	}{
		{"none was seen", func(s *story) { s.record(&tracker.SpecimenImaged{Calcium: "not-seen"}, "A") }, []string{"Wed 11 Mar 11:00:00 today case"}},
		{"some was seen in one piece", func(s *story) {
			s.record(&tracker.SpecimenImaged{Calcium: "not-seen"}, "A01")
			s.record(&tracker.SpecimenImaged{Calcium: "seen"}, "A02")
		}, []string{}},
		{"nobody looked", func(*story) {}, []string{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.request.Lesions[0].Imaging, s.request.Lesions[0].Target = "M3", "calcification"
			s.opened(plan("A", "formalin", "histology"))
			s.at("15:42").taken("A01", "A02")
			s.potted("A01", "A02")
			s.at("15:48")
			tt.tell(s)
			s.at("2026-03-11 11:00").issued(tracker.StageFinal, "B1", "A")
			require.Equal(t, tt.want, s.course(tracker.FlagDiscordant))
		})
	}
}

func TestThePatientIsTold(t *testing.T) {
	tests := []struct {
		name, category string
		then           func(s *story, r *tracker.Event)
		want           []string
	}{
		{"not told: watch from three working days, today from five", "B2", func(*story, *tracker.Event) {},
			[]string{"Mon 16 Mar 12:00:00 watch case", "Wed 18 Mar 12:00:00 today case"}},
		{"told a second before", "B2", func(s *story, r *tracker.Event) { s.at("2026-03-16 11:59:59").told("letter", r) }, []string{}},
		{"told late", "B2", func(s *story, r *tracker.Event) { s.at("2026-03-17 09:00").told("letter", r) },
			[]string{"Mon 16 Mar 12:00:00 watch case", "Tue 17 Mar 09:00:00 -"}},
		{"told of another result", "B2", func(s *story, _ *tracker.Event) { s.at("2026-03-13 09:00").told("letter", s.events[0]) },
			[]string{"Mon 16 Mar 12:00:00 watch case", "Wed 18 Mar 12:00:00 today case"}},
		{"malignant: a letter alone does not settle it", "B5b", func(s *story, r *tracker.Event) { s.at("2026-03-13 09:00").told("letter", r) },
			[]string{"Mon 16 Mar 12:00:00 watch case", "Wed 18 Mar 12:00:00 today case"}},
		{"malignant: a letter and a conversation", "B5b", func(s *story, r *tracker.Event) {
			s.at("2026-03-13 09:00").told("letter", r)
			s.at("2026-03-17 09:00").told("telephone", r)
		}, []string{"Mon 16 Mar 12:00:00 watch case", "Tue 17 Mar 09:00:00 -"}},
		{"suspicious: a letter settles it", "B4", func(s *story, r *tracker.Event) { s.at("2026-03-13 09:00").told("letter", r) }, []string{}},
		{"the telling is struck", "B2", func(s *story, r *tracker.Event) {
			e := s.at("2026-03-13 09:00").told("in-person", r)
			s.at("2026-03-19 09:00").struck(e)
		}, []string{"Thu 19 Mar 09:00:00 today case"}},
		{"the patient died", "B5b", func(s *story, _ *tracker.Event) { s.at("2026-03-16 13:00").closed("died", "") },
			[]string{"Mon 16 Mar 12:00:00 watch case", "Mon 16 Mar 13:00:00 -"}},
		{"closed without a reason: the patient waits all the same", "B2", func(s *story, _ *tracker.Event) { s.at("2026-03-12 09:00").closed("discharged", "") },
			[]string{"Mon 16 Mar 12:00:00 watch case", "Wed 18 Mar 12:00:00 today case"}},
		{"an answer is no telling", "B2", func(s *story, _ *tracker.Event) {
			s.at("2026-03-16 13:00").answered(tracker.FlagPatientWaiting, "case")
		}, []string{"Mon 16 Mar 12:00:00 watch case", "Wed 18 Mar 12:00:00 today case"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, r := reported(t, tt.category)
			s.at("2026-03-11 12:00").doctor().seen(r)
			tt.then(s, r)
			require.Equal(t, tt.want, s.course(tracker.FlagPatientWaiting))
		})
	}
	s, r := reported(t, "B2")
	require.Empty(t, s.course(tracker.FlagPatientWaiting), "nobody has read it yet: that is another flag")
	s.at("2026-03-11 12:00").doctor().seen(r)
	f := s.flag(tracker.FlagPatientWaiting, "case", "2026-03-16 12:00")
	require.Equal(t, s.instant("2026-03-18 12:00"), f.Due.In(london))
	require.Equal(t, s.instant("2026-03-16 12:00"), f.Since.In(london))
	require.Equal(t, "clinician", f.Who)
	for _, part := range []string{"B2", "Wed 11 Mar 12:00", "5 working days"} {
		require.Contains(t, f.Text, part)
	}
}

func TestACriticalResultWantsMoreThanALetter(t *testing.T) {
	s := atLab(t)
	r := s.at("2026-03-11 11:00").lab().issued(tracker.StageFinal, "B2", "A")
	r.Data.(*tracker.ResultIssued).Critical = true
	s.at("2026-03-11 12:00").doctor().seen(r)
	s.at("2026-03-12 09:00").told("letter", r)
	require.Equal(t, []string{"Mon 16 Mar 12:00:00 watch case", "Wed 18 Mar 12:00:00 today case"}, s.course(tracker.FlagPatientWaiting))
	require.Contains(t, s.flag(tracker.FlagPatientWaiting, "case", "2026-03-16 12:00").Text, "letter")
}

func TestAResultReadAfterTheCaseWasClosedIsToldToo(t *testing.T) {
	s := atLab(t)
	s.at("2026-03-10 09:00").doctor().closed("withdrawn", "the patient wished so")
	r := s.at("2026-03-11 11:00").lab().issued(tracker.StageFinal, "B5b", "A")
	s.at("2026-03-11 12:00").doctor().seen(r)
	require.Equal(t, []string{"Mon 16 Mar 12:00:00 watch case", "Wed 18 Mar 12:00:00 today case"}, s.course(tracker.FlagPatientWaiting))
}

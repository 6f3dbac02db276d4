package tracker_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// recorded says when and where an event was first recorded.
func recorded(e *tracker.Event, origin string, at time.Time) *tracker.Event {
	e.Record.Origin, e.Record.OSeq, e.Record.Recorded = origin, 1, at
	return e
}

func TestAClockIsDoubtful(t *testing.T) {
	tests := []struct {
		name string
		tell func(s *story)
		want []string
	}{
		{"five minutes ahead of the recorder", func(s *story) { recorded(s.at("15:42").taken("A01"), "mby", s.instant("15:37")) }, []string{}},
		{"a second more", func(s *story) { recorded(s.at("15:42:01").taken("A01"), "mby", s.instant("15:37")) },
			[]string{"Fri 6 Mar 15:37:00 watch A01"}},
		{"late is not ahead", func(s *story) { recorded(s.at("15:42").taken("A01"), "mby", s.instant("19:00")) }, []string{}},
		{"measured two minutes slow", func(s *story) { s.at("15:42").taken("A01").Record.Skew = 2 * time.Minute }, []string{}},
		{"a second more", func(s *story) { s.at("15:42").taken("A01").Record.Skew = 2*time.Minute + time.Second },
			[]string{"Fri 6 Mar 15:42:00 watch A01"}},
		{"measured two minutes and a second fast", func(s *story) { s.at("15:42").taken("A01").Record.Skew = -2*time.Minute - time.Second },
			[]string{"Fri 6 Mar 15:42:00 watch A01"}},
		{"potted before it was taken", func(s *story) {
			s.at("15:40").potted("A01")
			s.at("15:42").taken("A01")
		}, []string{"Fri 6 Mar 15:42:00 watch A01"}},
		{"potted at the moment it was taken", func(s *story) {
			s.at("15:42").taken("A01")
			s.potted("A01")
		}, []string{}},
		{"out of formalin before it was in", func(s *story) {
			s.at("15:42").taken("A01")
			s.at("15:43").potted("A01")
			s.at("18:10").loaded("A", "15:42:59")
		}, []string{"Fri 6 Mar 18:10:00 watch A"}},
		{"answered", func(s *story) {
			s.at("15:40").potted("A01")
			s.at("15:42").taken("A01")
			s.at("16:00").answered(tracker.FlagClockDoubtful, "A01")
		}, []string{"Fri 6 Mar 15:42:00 watch A01", "Fri 6 Mar 16:00:00 -"}},
		{"answered, and wrong again", func(s *story) {
			s.at("15:42").taken("A01").Record.Skew = time.Hour
			s.at("15:43").answered(tracker.FlagClockDoubtful, "A01")
			s.at("15:44").potted("A01").Record.Skew = time.Hour
		}, []string{"Fri 6 Mar 15:42:00 watch A01", "Fri 6 Mar 15:43:00 -", "Fri 6 Mar 15:44:00 watch A01"}},
		{"struck and told again", func(s *story) {
			wrong := s.at("15:40").potted("A01")
			s.at("15:42").taken("A01")
			s.at("15:50").struck(wrong)
			s.at("15:43").potted("A01").Record.Recorded = s.instant("15:50")
		}, []string{"Fri 6 Mar 15:42:00 watch A01", "Fri 6 Mar 15:50:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "histology", "receptors"))
			tt.tell(s)
			require.Equal(t, tt.want, s.course(tracker.FlagClockDoubtful))
		})
	}
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:42").taken("A01").Record.Skew = 7 * time.Minute
	f := s.flag(tracker.FlagClockDoubtful, "A01", "15:42")
	require.Equal(t, "administrator", f.Who)
	require.Contains(t, f.Text, "7 min")
	require.Contains(t, f.Text, "2 min")
	require.Equal(t, s.instant("15:42"), f.Since.In(london))
}

// The instant that counts is at, or the recorder's clock when at is later than that.
func TestAnEventFromTheFutureHappenedWhenItWasRecorded(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "receptors"))
	recorded(s.at("18:42").taken("A01"), "mby", s.instant("15:42"))
	require.Equal(t, []string{"Fri 6 Mar 15:52:00 watch A01", "Fri 6 Mar 16:02:00 now A01", "Fri 6 Mar 16:42:01 (now A01 by cold-ischaemia-long)"},
		s.course(tracker.FlagFixativeTimeMissing))
	require.Contains(t, s.flag(tracker.FlagClockDoubtful, "A01", "15:42").Text, "3 h")
}

func TestAnUnknownThingIsScanned(t *testing.T) {
	const stranger = "MBY-26-00999"
	tests := []struct {
		name string
		tell func(s *story)
		want []string
	}{
		{"a piece of a case that nobody opened", func(s *story) { s.at("15:42").taken(stranger + "-A01") },
			[]string{"Fri 6 Mar 15:42:00 watch MBY-26-00999-A01", "Fri 6 Mar 17:42:00 today MBY-26-00999-A01"}},
		{"its case is opened later, by a phone that had been away", func(s *story) {
			s.at("15:42").taken(stranger + "-A01")
			s.name = stranger
			s.at("09:30").opened(plan("A", "formalin", "histology")).Record.Recorded = s.instant("18:00")
			s.name = "MBY-26-00417"
		}, []string{"Fri 6 Mar 15:42:00 watch MBY-26-00999-A01", "Fri 6 Mar 17:42:00 today MBY-26-00999-A01", "Fri 6 Mar 18:00:00 -"}},
		{"a label was printed for its pot", func(s *story) {
			s.at("15:30").printed(stranger + "-A")
			s.at("15:42").taken(stranger + "-A01")
		}, []string{}},
		{"it is of a reserved roll", func(s *story) {
			s.at("09:05").record(&tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime}, stranger)
			s.at("15:42").taken(stranger + "-A01")
		}, []string{}},
		{"answered", func(s *story) {
			s.at("15:42").taken(stranger + "-A01")
			s.at("16:00").answered(tracker.FlagUnknownItem, stranger+"-A01")
		}, []string{"Fri 6 Mar 15:42:00 watch MBY-26-00999-A01", "Fri 6 Mar 16:00:00 -"}},
		{"struck", func(s *story) {
			e := s.at("15:42").taken(stranger + "-A01")
			s.at("16:00").struck(e)
		}, []string{"Fri 6 Mar 15:42:00 watch MBY-26-00999-A01", "Fri 6 Mar 16:00:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			tt.tell(s)
			require.Equal(t, tt.want, s.courseOf(stranger, tracker.FlagUnknownItem))
		})
	}
	s := newStory(t)
	s.at("15:42").taken(stranger + "-A01")
	found := s.judge(stranger, s.instant("15:43"))
	require.Len(t, found.Flags, 1, "of an unknown case nothing else is judged")
	f := found.Flags[0]
	require.Equal(t, "coordinator", f.Who)
	require.Equal(t, s.instant("17:42"), f.Due.In(london))
	require.Contains(t, f.Text, "room 2")
	require.Contains(t, f.Text, "15:42")
	require.Contains(t, s.judge(stranger, s.instant("17:42")).Flags[0].Remedy, "nurse.osei", "whom to ask")
}

func TestAnUnknownBagIsScanned(t *testing.T) {
	s := newStory(t)
	s.at("16:30").porter().handed("van", "bag")
	require.Equal(t, []string{"Fri 6 Mar 16:30:00 watch bag", "Fri 6 Mar 18:30:00 today bag"}, s.courseOf("bag", tracker.FlagUnknownItem))
	s.at("16:00").by("nurse.osei", "room-2").packed("A").Record.Recorded = s.instant("17:00")
	require.Equal(t, []string{"Fri 6 Mar 16:30:00 watch bag", "Fri 6 Mar 17:00:00 -"}, s.courseOf("bag", tracker.FlagUnknownItem))
}

func TestACaseIsOpenedTwice(t *testing.T) {
	other := "p-77aa"
	tests := []struct {
		name string
		tell func(s *story)
		want []string
	}{
		{"once", func(*story) {}, []string{}},
		{"twice", func(s *story) { s.at("10:00").opened(plan("A", "formalin", "histology")) }, []string{"Fri 6 Mar 10:00:00 now case"}},
		{"the second is struck", func(s *story) {
			e := s.at("10:00").opened(plan("A", "formalin", "histology"))
			s.at("10:10").struck(e)
		}, []string{"Fri 6 Mar 10:00:00 now case", "Fri 6 Mar 10:10:00 -"}},
		{"answered", func(s *story) {
			s.at("10:00").opened(plan("A", "formalin", "histology"))
			s.at("10:10").answered(tracker.FlagCaseOpenedTwice, "case")
		}, []string{"Fri 6 Mar 10:00:00 now case", "Fri 6 Mar 10:10:00 -"}},
		{"answered, and opened a third time", func(s *story) {
			s.at("10:00").opened(plan("A", "formalin", "histology"))
			s.at("10:10").answered(tracker.FlagCaseOpenedTwice, "case")
			s.at("11:00").opened(plan("A", "formalin", "histology"))
		}, []string{"Fri 6 Mar 10:00:00 now case", "Fri 6 Mar 10:10:00 -", "Fri 6 Mar 11:00:00 now case"}},
		{"another patient before any label", func(s *story) { s.at("10:00").amended(tracker.CaseAmended{Patient: &other}) }, []string{}},
		{"another patient after a label", func(s *story) {
			s.at("10:00").printed("A")
			s.at("10:05").amended(tracker.CaseAmended{Patient: &other})
		}, []string{"Fri 6 Mar 10:05:00 now case"}},
		{"the same patient after a label", func(s *story) {
			s.at("10:00").printed("A")
			s.at("10:05").amended(tracker.CaseAmended{Patient: &s.request.Patient})
		}, []string{}},
		{"opened twice and answered, then another patient", func(s *story) {
			s.at("10:00").opened(plan("A", "formalin", "histology"))
			s.at("10:10").answered(tracker.FlagCaseOpenedTwice, "case")
			s.at("10:20").printed("A")
			s.at("10:30").amended(tracker.CaseAmended{Patient: &other})
		}, []string{"Fri 6 Mar 10:00:00 now case", "Fri 6 Mar 10:10:00 -", "Fri 6 Mar 10:30:00 now case"}},
		{"the amendment is struck", func(s *story) {
			s.at("10:00").printed("A")
			e := s.at("10:05").amended(tracker.CaseAmended{Patient: &other})
			s.at("10:06").struck(e)
		}, []string{"Fri 6 Mar 10:05:00 now case", "Fri 6 Mar 10:06:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "histology"))
			tt.tell(s)
			require.Equal(t, tt.want, s.course(tracker.FlagCaseOpenedTwice))
		})
	}
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("10:00").by("clerk.moss", "desk-2").opened(plan("A", "formalin", "histology"))
	f := s.flag(tracker.FlagCaseOpenedTwice, "case", "10:00")
	require.Equal(t, "clinician", f.Who)
	for _, part := range []string{"9:00", "nurse.osei", "10:00", "clerk.moss"} {
		require.Contains(t, f.Text, part)
	}
}

func TestTheProtocolLacksAWord(t *testing.T) {
	tests := []struct {
		name, word, item string
		tell             func(s *story)
	}{
		{"medium of the plan", "aether", "A", func(s *story) { s.opened(plan("A", "aether", "histology")) }},
		{"medium filled", "aether", "A", func(s *story) {
			s.opened(plan("A", "formalin", "histology"))
			s.at("15:30").filled("A", "aether")
		}},
		{"medium of a piece", "aether", "A", func(s *story) {
			s.opened(plan("A", "formalin", "histology"))
			s.record(&tracker.PiecePotted{Medium: "aether"}, "A01")
		}},
		{"study of the plan", "auras", "A", func(s *story) { s.opened(plan("A", "formalin", "histology", "auras")) }},
		{"study added", "auras", "A", func(s *story) {
			s.opened(plan("A", "formalin", "histology"))
			s.added("A", "auras")
		}},
		{"study answered", "auras", "case", func(s *story) {
			s.opened(plan("A", "formalin", "histology"))
			s.answeredStudies(tracker.StageAddendum, []string{"auras"}, "A")
		}},
		{"organ", "gill", "case", func(s *story) {
			s.request.Lesions = []tracker.Lesion{{Key: "L1", Organ: "gill"}}
			s.opened(plan("A", "formalin", "histology"))
		}},
		{"priority", "whenever", "case", func(s *story) {
			s.request.Priority = "whenever"
			s.opened(plan("A", "formalin", "histology"))
		}},
		{"place of custody", "tower", "A", func(s *story) {
			s.opened(plan("A", "formalin", "histology"))
			s.handed("tower", "A")
		}},
		{"laboratory that a pot is for", "tower", "A", func(s *story) {
			to := plan("A", "formalin", "histology")
			to.To = "tower"
			s.opened(to)
		}},
		{"room", "tower", "case", func(s *story) {
			s.request.Room = "tower"
			s.opened(plan("A", "formalin", "histology"))
		}},
		{"outcome", "vanished", "case", func(s *story) {
			s.opened(plan("A", "formalin", "histology"))
			s.closed("vanished", "nobody knows")
		}},
		{"processor run", "nightly", "A", func(s *story) {
			s.opened(plan("A", "formalin", "histology"))
			s.record(&tracker.LabLoaded{Run: "nightly"}, "A")
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			tt.tell(s)
			f := s.flag(tracker.FlagProtocolGap, tt.item, s.clock.Format(rfc3339))
			require.Equal(t, tracker.Today, f.Severity)
			require.Contains(t, f.Text, `"`+tt.word+`"`)
			require.Equal(t, "administrator", f.Who)
			s.answered(tracker.FlagProtocolGap, tt.item)
			s.flag(tracker.FlagProtocolGap, tt.item, s.clock.Format(rfc3339)) // an answer teaches the protocol nothing
		})
	}
}

func TestWhatTheProtocolLacksIsNotJudged(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "aether", "histology", "auras"))
	require.Equal(t, []string{"today protocol-gap A"}, s.flags("case", "12:00"))
	text := s.flag(tracker.FlagProtocolGap, "A", "12:00").Text
	require.Contains(t, text, `"aether"`)
	require.Contains(t, text, `"auras"`)
	s.at("13:00").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "formalin", "histology")}})
	require.Empty(t, s.flags("case", "13:00"))
}

// A fault in the rules never stops recording: the case says that it is not judged.
func TestAFaultInTheRulesIsAFlag(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:42").taken("A01")
	var broken tracker.Rules // no protocol in it: every rule fails
	j := tracker.Judge(s.name, s.events, &broken, s.instant("16:00"))
	require.Len(t, j.Findings.Flags, 1)
	f := j.Findings.Flags[0]
	require.Equal(t, tracker.FlagNotJudged, f.Kind)
	require.Equal(t, tracker.Now, f.Severity)
	require.Equal(t, s.name, f.Item)
	require.Equal(t, s.name, f.Case)
	require.Equal(t, "administrator", f.Who)
	require.Equal(t, s.instant("15:42"), f.Since.In(london))
	require.Equal(t, s.name, j.Summary.Name)
	require.True(t, j.Findings.Wake.IsZero())

	s.at("16:30").packed("A")
	j = tracker.Judge(s.bag, s.events, &broken, s.instant("16:40"))
	require.Len(t, j.Findings.Flags, 1)
	require.Equal(t, tracker.FlagNotJudged, j.Findings.Flags[0].Kind)
	require.Empty(t, j.Findings.Flags[0].Case)
}

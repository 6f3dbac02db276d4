package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// received is a story of one pot for the studies, received on Friday 6 March at 17:40.
func received(t *testing.T, priority string, studies ...string) *story {
	t.Helper()
	s := newStory(t)
	s.request.Priority = priority
	s.opened(plan("A", "formalin", studies...))
	s.at("15:42").taken("A01")
	s.at("15:43").potted("A01")
	s.at("15:50").sealed("A", "nurse.lund", 1)
	s.at("15:56").cleared()
	s.at("16:30").porter().handed("van", "A")
	s.at("17:40").lab().handed("lab-reception", "A")
	return s
}

// Targets: defaults of the contract page on flags, 10 and 7 calendar days from receipt, next-day 1 working day; watch at
// 80 of 100, today one second after the target, now at 150 of 100 for urgent.
func TestAResultIsDueByItsTarget(t *testing.T) {
	final := func(at string) func(s *story) {
		return func(s *story) { s.at(at).issued(tracker.StageFinal, "B2", "A") }
	}
	tests := []struct {
		name, priority string
		studies        []string
		then           func(s *story)
		want           []string
	}{
		{"routine: ten days", "routine", []string{"histology"}, func(*story) {},
			[]string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A"}},
		{"urgent: seven days, and now at half as long again", "urgent", []string{"histology"}, func(*story) {},
			[]string{"Thu 12 Mar 08:04:00 watch A", "Fri 13 Mar 17:40:01 today A", "Tue 17 Mar 05:40:00 now A"}},
		{"routine with an answer a second before eight days", "routine", []string{"histology"}, final("2026-03-14 17:39:59"), []string{}},
		{"an answer at the target", "routine", []string{"histology"}, final("2026-03-16 17:40:00"),
			[]string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:00 -"}},
		{"an answer a second after the target", "routine", []string{"histology"}, final("2026-03-16 17:40:01"),
			[]string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 -"}},
		{"an answer later", "routine", []string{"histology"}, final("2026-03-18 09:00"),
			[]string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A", "Wed 18 Mar 09:00:00 -"}},
		{"the answer is struck", "routine", []string{"histology"}, func(s *story) {
			e := s.at("2026-03-12 09:00").issued(tracker.StageFinal, "B2", "A")
			s.at("2026-03-18 09:00").struck(e)
		}, []string{"Wed 18 Mar 09:00:00 today A"}},
		{"a provisional answer is not the final one", "routine", []string{"histology"}, func(s *story) {
			s.at("2026-03-12 09:00").issued(tracker.StageProvisional, "B2", "A")
		}, []string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A"}},
		{"an addendum on something else is not the final one", "routine", []string{"histology"}, func(s *story) {
			s.at("2026-03-12 09:00").answeredStudies(tracker.StageAddendum, []string{"stains"}, "A")
		}, []string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A"}},
		{"a result about the case answers all its pots", "routine", []string{"histology"}, func(s *story) {
			s.at("2026-03-12 09:00").issued(tracker.StageFinal, "B2", "case")
		}, []string{}},
		{"a result on another pot does not", "routine", []string{"histology"}, func(s *story) {
			s.at("2026-03-12 09:00").issued(tracker.StageFinal, "B2", "B")
		}, []string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A"}},
		{"a final that names no studies answers cytology", "routine", []string{"cytology"}, final("2026-03-12 09:00"), []string{}},
		{"but not stains, which have two working days more", "routine", []string{"stains"}, final("2026-03-12 09:00"),
			[]string{"Mon 16 Mar 08:04:00 watch A", "Wed 18 Mar 17:40:01 today A"}},
		{"a final that names them does", "routine", []string{"histology", "stains"}, func(s *story) {
			s.at("2026-03-12 09:00").answeredStudies(tracker.StageFinal, []string{"histology", "stains"}, "A")
		}, []string{}},
		{"receptors: two working days after the final", "routine", []string{"histology", "receptors"}, final("2026-03-12 09:00"),
			[]string{"Sun 15 Mar 13:48:00 watch A", "Mon 16 Mar 09:00:01 today A"}},
		{"receptors in an addendum", "routine", []string{"histology", "receptors"}, func(s *story) {
			s.at("2026-03-12 09:00").issued(tracker.StageFinal, "B5b", "A")
			s.at("2026-03-13 09:00").answeredStudies(tracker.StageAddendum, []string{"receptors"}, "A")
		}, []string{}},
		{"receptors in the final itself", "routine", []string{"histology", "receptors"}, func(s *story) {
			s.at("2026-03-12 09:00").answeredStudies(tracker.StageFinal, []string{"histology", "receptors"}, "A")
		}, []string{}},
		{"provisional receptors are no addendum", "routine", []string{"histology", "receptors"}, func(s *story) {
			s.at("2026-03-11 09:00").answeredStudies(tracker.StageProvisional, []string{"receptors"}, "A")
			s.at("2026-03-12 09:00").issued(tracker.StageFinal, "B5b", "A")
		}, []string{"Sun 15 Mar 13:48:00 watch A", "Mon 16 Mar 09:00:01 today A"}},
		{"receptors alone still want an answer", "routine", []string{"receptors"}, func(*story) {},
			[]string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A"}},
		{"tb: its own 42 days", "routine", []string{"tb"}, func(*story) {},
			[]string{"Thu 9 Apr 08:16:00 watch A", "Fri 17 Apr 17:40:01 today A"}},
		{"a study that was asked for later", "routine", []string{"histology"}, func(s *story) {
			s.at("2026-03-12 09:00").issued(tracker.StageFinal, "B2", "A")
			s.at("2026-03-12 10:00").added("A", "receptors")
		}, []string{"Sun 15 Mar 13:48:00 watch A", "Mon 16 Mar 09:00:01 today A"}},
		{"accessioned later: the earliest receipt counts", "routine", []string{"histology"}, func(s *story) {
			s.at("2026-03-09 09:00").accessioned("A")
			s.handed("lab-reception", "A")
		}, []string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A"}},
		{"an earlier receipt comes to be known", "routine", []string{"histology"}, func(s *story) {
			s.at("16:40").handed("lab-reception", "A").Record.Recorded = s.instant("2026-03-10 09:00")
		}, []string{"Sat 14 Mar 16:40:00 watch A", "Mon 16 Mar 16:40:01 today A"}},
		{"closed with a reason", "routine", []string{"histology"}, func(s *story) {
			s.at("2026-03-17 09:00").closed("withdrawn", "the patient wished so")
		}, []string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A", "Tue 17 Mar 09:00:00 -"}},
		{"an answer to the flag is no result", "routine", []string{"histology"}, func(s *story) {
			s.at("2026-03-17 09:00").answered(tracker.FlagResultOverdue, "A")
		}, []string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := received(t, tt.priority, tt.studies...)
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagResultOverdue))
		})
	}
}

func TestNextDayWantsAProvisionalAnswerFirst(t *testing.T) {
	s := received(t, "next-day", "histology")
	require.Equal(t, []string{"Mon 9 Mar 03:16:00 watch A", "Mon 9 Mar 17:40:01 today A"}, s.course(tracker.FlagResultOverdue)[:2],
		"one working day from Friday's receipt")
	s.at("2026-03-09 17:00").issued(tracker.StageProvisional, "C5", "A")
	require.Equal(t, []string{"Mon 9 Mar 03:16:00 watch A", "Mon 9 Mar 17:00:00 -", "Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A"},
		s.course(tracker.FlagResultOverdue)[:4], "then the final as routine")
	f := s.flag(tracker.FlagResultOverdue, "A", "2026-03-16 17:40:01")
	require.Contains(t, f.Text, "final")
}

func TestWithNoReceiptAResultIsDueFromWhenItWasTaken(t *testing.T) {
	s := roomDone(t)
	require.Equal(t, []string{"Tue 17 Mar 20:30:00 watch A", "Fri 20 Mar 15:42:01 today A"}, s.course(tracker.FlagResultOverdue), "14 days")
	f := s.flag(tracker.FlagResultOverdue, "A", "2026-03-20 15:42:01")
	require.Contains(t, f.Text, "Fri 20 Mar 15:42")
	require.Contains(t, f.Text, "14 days")
	require.Equal(t, "coordinator", f.Who)
	require.Equal(t, s.instant("2026-03-20 15:42"), f.Due.In(london))

	s = roomDone(t)
	s.at("2026-03-12 09:00").lab().issued(tracker.StageProvisional, "B2", "case")
	require.Equal(t, []string{"Tue 17 Mar 20:30:00 watch A", "Fri 20 Mar 15:42:01 today A"}, s.course(tracker.FlagResultOverdue),
		"a provisional answer about the case is neither a receipt nor the final one")
	s.at("2026-03-18 09:00").issued(tracker.StageFinal, "B2", "case")
	require.Equal(t, []string{"Tue 17 Mar 20:30:00 watch A", "Wed 18 Mar 09:00:00 -", "Thu 19 Mar 23:24:00 watch A", "Fri 20 Mar 09:00:01 today A"},
		s.course(tracker.FlagResultOverdue), "now the receptors are awaited")

	s = newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	require.Empty(t, s.course(tracker.FlagResultOverdue), "nothing was taken, nothing is owed")
}

func TestNothingIsDueForAPotThatWasNotUsed(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"), plan("C", "saline", "culture"))
	s.at("15:35").filled("B", "rpmi")
	s.at("15:42").taken("A01")
	s.at("15:43").potted("A01")
	s.at("15:50").sealed("A", "nurse.lund", 1)
	s.at("15:52").record(&tracker.ProcedureEnded{Outcome: "partly", Unused: []string{"B"}}, "case")
	s.at("15:56").cleared()
	s.at("17:40").lab().handed("lab-reception", "case")
	require.Equal(t, []string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A"}, s.course(tracker.FlagResultOverdue),
		"B was left out, and C was never touched")
}

func TestCalendarDaysGoByTheWallClock(t *testing.T) {
	s := newStory(t)
	s.at("2026-03-20 09:00").opened(plan("A", "formalin", "histology"))
	s.at("2026-03-24 10:00").taken("A01")
	s.potted("A01")
	s.at("2026-03-24 12:00").lab().handed("lab-reception", "A")
	got := s.course(tracker.FlagResultOverdue)
	require.Equal(t, "Fri 3 Apr 12:00:01 today A", got[len(got)-1], "ten days over the spring clock change, at the same wall clock")
}

func TestAPauseStopsTheClockOfAResult(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"five days before any of it", func(s *story) { s.at("2026-03-09 17:40").paused("2026-03-14 17:40", "A") },
			[]string{"Thu 19 Mar 17:40:00 watch A", "Sat 21 Mar 17:40:01 today A"}},
		{"resumed early", func(s *story) {
			s.at("2026-03-09 17:40").paused("2026-03-14 17:40", "A")
			s.at("2026-03-10 17:40").resumed("A")
		}, []string{"Sun 15 Mar 17:40:00 watch A", "Tue 17 Mar 17:40:01 today A"}},
		{"of the whole case", func(s *story) { s.at("2026-03-09 17:40").paused("2026-03-14 17:40", "case") },
			[]string{"Thu 19 Mar 17:40:00 watch A", "Sat 21 Mar 17:40:01 today A"}},
		{"two that overlap count once", func(s *story) {
			s.at("2026-03-09 17:40").paused("2026-03-12 17:40", "A")
			s.at("2026-03-11 17:40").paused("2026-03-14 17:40", "A")
		}, []string{"Thu 19 Mar 17:40:00 watch A", "Sat 21 Mar 17:40:01 today A"}},
		{"when it is late already it is held back, no longer", func(s *story) { s.at("2026-03-17 17:40").paused("2026-03-20 17:40", "A") },
			[]string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A", "Tue 17 Mar 17:40:00 (today A by clock.paused)", "Fri 20 Mar 17:40:00 today A"}},
		{"between the watch and the target", func(s *story) { s.at("2026-03-15 17:40").paused("2026-03-20 17:40", "A") },
			[]string{"Sat 14 Mar 17:40:00 watch A", "Sun 15 Mar 17:40:00 (watch A by clock.paused)", "Fri 20 Mar 17:40:00 watch A", "Sat 21 Mar 17:40:01 today A"}},
		{"struck", func(s *story) {
			e := s.at("2026-03-09 17:40").paused("2026-03-14 17:40", "A")
			s.at("2026-03-10 17:40").struck(e)
		}, []string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := received(t, "routine", "histology")
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagResultOverdue))
		})
	}
}

func TestAPauseHoldsBackALateResultAlone(t *testing.T) {
	s := roomDone(t)
	s.at("2026-03-07 09:00").paused("2026-06-01 09:00", "case")
	require.Equal(t, []string{"now not-at-lab A", "today collection-late A"}, s.flags("case", "2026-03-20 15:42:01"))
}

func TestAPauseIsTakenOutOfAllShares(t *testing.T) {
	s := received(t, "urgent", "histology")
	s.at("2026-03-07 17:40").paused("2026-03-17 17:40", "A")
	require.Equal(t, []string{"Sun 22 Mar 08:04:00 watch A", "Mon 23 Mar 17:40:01 today A", "Fri 27 Mar 05:40:00 now A"},
		s.course(tracker.FlagResultOverdue), "ten days later than without the pause")
}

func TestALateResultSaysWhatIsDueWhenAndWhomToAsk(t *testing.T) {
	s := received(t, "routine", "histology")
	s.at("17:45").accessioned("A")
	watch := s.flag(tracker.FlagResultOverdue, "A", "2026-03-14 17:40")
	require.Equal(t, s.instant("2026-03-16 17:40"), watch.Due.In(london))
	late := s.flag(tracker.FlagResultOverdue, "A", "2026-03-16 17:40:01")
	require.Equal(t, s.instant("2026-03-16 17:40"), late.Due.In(london))
	for _, part := range []string{"final", "Mon 16 Mar 17:40", "10 days", "receipt", s.rules.Protocol().Studies["histology"].Name} {
		require.Contains(t, late.Text, part)
	}
	require.Contains(t, late.Remedy, "T26-1234")
	require.Contains(t, late.Remedy, "laboratory")
	require.Equal(t, "coordinator", late.Who)
	require.NotEmpty(t, late.Basis)
}

func TestWhatIsDueTogetherIsSaidTogether(t *testing.T) {
	s := received(t, "routine", "histology", "cytology", "stains")
	p := s.rules.Protocol()
	together := p.Studies["histology"].Name + " and " + p.Studies["cytology"].Name
	f := s.flag(tracker.FlagResultOverdue, "A", "2026-03-16 17:40:01")
	require.Equal(t, tracker.Today, f.Severity)
	require.Contains(t, f.Text, together)
	require.NotContains(t, f.Text, p.Studies["stains"].Name, "stains have two working days more")
	require.Contains(t, s.flag(tracker.FlagResultOverdue, "A", "2026-03-18 17:40:01").Text, p.Studies["stains"].Name)
}

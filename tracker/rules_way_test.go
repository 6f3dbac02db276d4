package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// roomDone is a story in which a pot of two cores was taken, sealed and left in a cleared room on Friday at 15:56.
func roomDone(t *testing.T) *story {
	t.Helper()
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology", "receptors"))
	s.at("15:42").taken("A01")
	s.at("15:43").potted("A01")
	s.at("15:44").taken("A02")
	s.at("15:45").potted("A02")
	s.at("15:50").sealed("A", "nurse.lund", 2)
	s.at("15:56").cleared()
	return s
}

func (s *story) porter() *story { return s.by("porter.hale", "phone-1") }
func (s *story) lab() *story    { return s.by("lab.reed", "lab-1") }

// collected carries the pot to the van at 16:30.
func (s *story) collected() *story {
	s.at("16:30").porter().handed("van", "A")
	return s
}

func TestAPotMustBeAtTheLaboratoryAWorkingDayLater(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"nothing is heard of it over the weekend", func(*story) {}, []string{"Mon 9 Mar 15:42:00 now A"}},
		{"received a second before", func(s *story) { s.at("2026-03-09 15:41:59").lab().handed("lab-reception", "A") }, []string{}},
		{"received later", func(s *story) { s.at("2026-03-09 16:00").lab().handed("lab-reception", "A") },
			[]string{"Mon 9 Mar 15:42:00 now A", "Mon 9 Mar 16:00:00 -"}},
		{"an accession is a receipt", func(s *story) { s.at("2026-03-09 16:00").lab().accessioned("A") },
			[]string{"Mon 9 Mar 15:42:00 now A", "Mon 9 Mar 16:00:00 -"}},
		{"the van is no laboratory", func(s *story) { s.at("2026-03-09 16:00").porter().handed("van", "A") }, []string{"Mon 9 Mar 15:42:00 now A"}},
		{"the receipt is struck", func(s *story) {
			e := s.at("2026-03-06 17:40").lab().handed("lab-reception", "A")
			s.at("2026-03-10 09:00").struck(e)
		}, []string{"Tue 10 Mar 09:00:00 now A"}},
		{"lost: that says it", func(s *story) { s.at("2026-03-09 12:00").porter().lost("A") },
			[]string{"Mon 9 Mar 15:42:00 (now A by pot-lost)"}},
		{"lost, found, and still not there", func(s *story) {
			s.at("2026-03-09 12:00").porter().lost("A")
			s.at("2026-03-09 17:00").porter().found("A")
		}, []string{"Mon 9 Mar 15:42:00 (now A by pot-lost)", "Mon 9 Mar 17:00:00 now A"}},
		{"lost, with a plan: nothing more is owed for it", func(s *story) {
			s.at("2026-03-09 12:00").porter().lost("A")
			s.at("2026-03-09 14:00").by("dr.vale", "desk-1").discussed("not-assessed", "repeat-biopsy")
		}, []string{}},
		{"the taking was struck: nothing left the patient", func(s *story) {
			s.at("16:00").struck(s.events[1])
			s.struck(s.events[3])
		}, []string{}},
		{"closed with a reason", func(s *story) { s.at("2026-03-09 18:00").closed("withdrawn", "the patient wished so") },
			[]string{"Mon 9 Mar 15:42:00 now A", "Mon 9 Mar 18:00:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := roomDone(t)
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagNotAtLab))
		})
	}
	s := roomDone(t).collected()
	f := s.flag(tracker.FlagNotAtLab, "A", "2026-03-09 15:42")
	require.Equal(t, s.instant("2026-03-09 15:42"), f.Since.In(london))
	require.Equal(t, "coordinator", f.Who)
	require.Contains(t, f.Text, "Fri 6 Mar 15:42")
	require.Contains(t, f.Text, "1 working day")
	require.Contains(t, f.Remedy, "porter.hale", "who had it last")
	require.Contains(t, f.Remedy, "16:30")
	f = roomDone(t).flag(tracker.FlagNotAtLab, "A", "2026-03-09 15:42")
	require.Contains(t, f.Remedy, s.rules.Protocol().Places["room-2"].Name, "nobody had it: where it was taken")
}

// Working days of England and Wales 2026. Source: gov.uk list of bank holidays (reference on working days, sections 10.1
// and 10.4: Thu 2 Apr + 1 is Tue 7 Apr, Thu 24 Dec + 1 is Tue 29 Dec).
func TestAWorkingDayLaterGoesByTheCalendar(t *testing.T) {
	tests := []struct{ name, taken, want string }{
		{"in the week", "2026-03-04 11:00", "Thu 5 Mar 11:00:00 now A"},
		{"over a weekend", "2026-03-06 11:00", "Mon 9 Mar 11:00:00 now A"},
		{"on a Saturday it counts from Monday's first minute", "2026-03-07 11:00", "Tue 10 Mar 00:00:00 now A"},
		{"over Easter", "2026-04-02 14:55", "Tue 7 Apr 14:55:00 now A"},
		{"on Good Friday it counts from Tuesday's first minute", "2026-04-03 10:00", "Wed 8 Apr 00:00:00 now A"},
		{"over the spring bank holiday", "2026-05-22 16:30", "Tue 26 May 16:30:00 now A"},
		{"over Christmas, Boxing Day on the Monday", "2026-12-24 11:00", "Tue 29 Dec 11:00:00 now A"},
		{"over the new year", "2026-12-31 09:30", "Mon 4 Jan 09:30:00 now A"},
		{"over the spring clock change: the same wall clock", "2026-03-27 15:00", "Mon 30 Mar 15:00:00 now A"},
		{"over the autumn clock change: the same wall clock", "2026-10-23 15:00", "Mon 26 Oct 15:00:00 now A"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.at("2026-03-02 09:00").opened(plan("A", "formalin", "histology"))
			s.at(tt.taken).taken("A01")
			require.Equal(t, []string{tt.want}, s.course(tracker.FlagNotAtLab))
		})
	}
}

func TestAPotIsLost(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"lost", func(s *story) { s.at("17:00").lost("A") }, []string{"Fri 6 Mar 17:00:00 now A"}},
		{"lost and found", func(s *story) {
			s.at("17:00").lost("A")
			s.at("18:30").found("A")
		}, []string{"Fri 6 Mar 17:00:00 now A", "Fri 6 Mar 18:30:00 -"}},
		{"lost, and the loss is struck", func(s *story) {
			e := s.at("17:00").lost("A")
			s.at("18:30").struck(e)
		}, []string{"Fri 6 Mar 17:00:00 now A", "Fri 6 Mar 18:30:00 -"}},
		{"a plan exists", func(s *story) {
			s.at("17:00").lost("A")
			s.at("18:30").discussed("not-assessed", "repeat-biopsy")
		}, []string{"Fri 6 Mar 17:00:00 now A", "Fri 6 Mar 18:30:00 -"}},
		{"a plan from before it was lost is none", func(s *story) {
			s.at("16:40").discussed("not-assessed", "review")
			s.at("17:00").lost("A")
		}, []string{"Fri 6 Mar 17:00:00 now A"}},
		{"an answer is no plan", func(s *story) {
			s.at("17:00").lost("A")
			s.at("18:00").answered(tracker.FlagPotLost, "A")
		}, []string{"Fri 6 Mar 17:00:00 now A"}},
		{"thrown away before a final result", func(s *story) { s.at("17:00").discarded("A") }, []string{"Fri 6 Mar 17:00:00 now A"}},
		{"thrown away after a provisional result", func(s *story) {
			s.at("17:00").lab().issued(tracker.StageProvisional, "B2", "A")
			s.at("18:00").discarded("A")
		}, []string{"Fri 6 Mar 18:00:00 now A"}},
		{"thrown away after a final result", func(s *story) {
			s.at("17:00").lab().issued(tracker.StageFinal, "B5b", "A")
			s.at("18:00").discarded("A")
		}, []string{}},
		{"said to be thrown away, and found", func(s *story) {
			s.at("17:00").discarded("A")
			s.at("18:30").found("A")
		}, []string{"Fri 6 Mar 17:00:00 now A", "Fri 6 Mar 18:30:00 -"}},
		{"lost with its bag, and found with it", func(s *story) {
			s.at("16:40").packed("A")
			s.at("17:00").porter().lost("bag")
			s.at("18:30").found("bag")
		}, []string{"Fri 6 Mar 17:00:00 now A", "Fri 6 Mar 18:30:00 -"}},
		{"lost out of its bag, and the bag goes on without it", func(s *story) {
			s.at("16:40").packed("A")
			s.at("17:00").porter().lost("A")
			s.at("17:30").porter().handed("van", "bag")
		}, []string{"Fri 6 Mar 17:00:00 now A"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := roomDone(t).collected()
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagPotLost))
		})
	}
	s := roomDone(t).collected()
	s.at("17:00").lost("A")
	first := s.flag(tracker.FlagPotLost, "A", "20:59:59")
	require.Equal(t, "coordinator", first.Who)
	require.Equal(t, s.instant("17:00"), first.Since.In(london))
	require.Equal(t, s.instant("21:00"), first.Due.In(london))
	require.Contains(t, first.Text, "17:00")
	require.Contains(t, first.Remedy, "porter.hale")
	later := s.flag(tracker.FlagPotLost, "A", "21:00")
	require.Contains(t, later.Who, "clinician", "after four hours")
	require.Contains(t, later.Who, "coordinator")
}

func TestALostPotHoldsBackWhatFollowsFromIt(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"))
	s.at("15:42").taken("A01", "B01")
	s.at("15:43").potted("A01", "B01")
	s.at("15:50").sealed("A", "nurse.lund", 1)
	s.sealed("B", "nurse.lund", 1)
	s.at("15:56").cleared()
	s.at("16:30").porter().handed("van", "A", "B")
	s.at("17:00").lost("A")
	require.Equal(t, []string{"now fresh-late B", "now not-at-lab B", "now pot-lost A", "held not-at-lab A by pot-lost", "held handoff-gap A by pot-lost",
		"held handoff-gap B by not-at-lab"}, s.flags("case", "2026-03-09 15:42"), "the other pot is not excused")
	require.Equal(t, []string{"now fresh-late B", "now not-at-lab B", "now pot-lost A", "today result-overdue B",
		"held not-at-lab A by pot-lost", "held handoff-gap A by pot-lost", "held handoff-gap B by not-at-lab", "held result-overdue A by pot-lost"}, s.flags("case", "2026-03-20 15:42:01"))
}

func TestThePotIsRefused(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"refused", func(*story) {}, []string{"Fri 6 Mar 17:45:00 now A"}},
		{"accessioned after it", func(s *story) { s.at("18:30").accessioned("A") },
			[]string{"Fri 6 Mar 17:45:00 now A", "Fri 6 Mar 18:30:00 -"}},
		{"accessioned with its case after it", func(s *story) { s.at("18:30").accessioned("case") },
			[]string{"Fri 6 Mar 17:45:00 now A", "Fri 6 Mar 18:30:00 -"}},
		{"accessioned before it", func(s *story) { s.at("17:44").accessioned("A") }, []string{"Fri 6 Mar 17:45:00 now A"}},
		{"accessioned, and refused again", func(s *story) {
			s.at("18:30").accessioned("A")
			s.at("19:00").refused("A", "insufficient")
		}, []string{"Fri 6 Mar 17:45:00 now A", "Fri 6 Mar 18:30:00 -", "Fri 6 Mar 19:00:00 now A"}},
		{"a plan exists", func(s *story) { s.at("18:30").discussed("not-assessed", "repeat-biopsy") },
			[]string{"Fri 6 Mar 17:45:00 now A", "Fri 6 Mar 18:30:00 -"}},
		{"an answer is no plan", func(s *story) { s.at("18:30").answered(tracker.FlagLabRefused, "A") }, []string{"Fri 6 Mar 17:45:00 now A"}},
		{"struck", func(s *story) { s.at("18:00").struck(s.events[len(s.events)-1]) },
			[]string{"Fri 6 Mar 17:45:00 now A", "Fri 6 Mar 18:00:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := roomDone(t).collected()
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("17:45").refused("A", "unlabelled")
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagLabRefused))
		})
	}
	s := roomDone(t).collected()
	s.at("17:45").lab().refused("A", "unlabelled")
	f := s.flag(tracker.FlagLabRefused, "A", "17:45")
	require.Equal(t, s.instant("17:45"), f.Since.In(london))
	require.Contains(t, f.Text, "17:45")
	require.Contains(t, f.Text, "no label")
	require.Equal(t, "Keep the pot, discard nothing; the person who took it comes and identifies it, record who did; is a repeat needed?", f.Remedy)
	require.Equal(t, "operator, clinician", f.Who)
	require.Equal(t, []string{"now lab-refused A", "held handoff-gap A by lab-refused", "held result-overdue A by lab-refused"}, s.flags("case", "2026-03-17 12:00"))
	s.at("2026-03-18 10:00").by("dr.vale", "desk-1").discussed("not-assessed", "repeat-biopsy")
	require.Empty(t, s.flags("case", "2026-03-30 10:00"), "with a plan nothing more is owed for it")
	require.Equal(t, []string{"today plan-not-done case"}, s.flags("case", "2026-06-01 10:00"), "but the plan itself")
}

func TestPiecesCountedAreThoseSent(t *testing.T) {
	tests := []struct {
		name    string
		counted int
		then    func(s *story)
		want    []string
	}{
		{"the same", 2, func(*story) {}, []string{}},
		{"none: look now", 0, func(*story) {}, []string{"Fri 6 Mar 18:00:00 now A"}},
		{"fewer", 1, func(*story) {}, []string{"Fri 6 Mar 18:00:00 today A"}},
		{"more: cores break", 3, func(*story) {}, []string{"Fri 6 Mar 18:00:00 watch A"}},
		{"answered", 1, func(s *story) { s.at("18:30").answered(tracker.FlagPiecesDiffer, "A") },
			[]string{"Fri 6 Mar 18:00:00 today A", "Fri 6 Mar 18:30:00 -"}},
		{"answered before it was counted", 1, func(s *story) { s.at("17:59").answered(tracker.FlagPiecesDiffer, "A") },
			[]string{"Fri 6 Mar 18:00:00 today A"}},
		{"the count is struck and made again", 1, func(s *story) {
			s.at("18:10").struck(s.events[len(s.events)-1])
			s.at("18:11").counted("A", 2)
		}, []string{"Fri 6 Mar 18:00:00 today A", "Fri 6 Mar 18:10:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := roomDone(t).collected()
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("18:00").counted("A", tt.counted)
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagPiecesDiffer))
		})
	}
	s := roomDone(t).collected()
	s.at("18:00").lab().counted("A", 0)
	f := s.flag(tracker.FlagPiecesDiffer, "A", "18:00")
	require.Contains(t, f.Text, "2 pieces")
	require.Contains(t, f.Text, "18:00")
	for _, place := range []string{"lid", "gauze", "waste"} {
		require.Contains(t, f.Remedy, place)
	}
	require.Equal(t, "operator, laboratory", f.Who)
	require.Equal(t, s.instant("18:00"), f.Since.In(london))
}

func TestAPotWhosePiecesNobodyRecordedIsCountedAgainstWhatWasReadAloud(t *testing.T) {
	tests := []struct {
		aloud, counted int // -1: not read aloud
		want           []string
	}{
		{2, 2, []string{}},
		{2, 1, []string{"Fri 6 Mar 18:00:00 today A"}},
		{-1, 1, []string{}},
	}
	for _, tt := range tests {
		s := newStory(t)
		s.opened(plan("A", "formalin", "histology"))
		s.at("15:50").sealed("A", "nurse.lund", tt.aloud)
		s.at("18:00").lab().counted("A", tt.counted)
		require.Equal(t, tt.want, s.course(tracker.FlagPiecesDiffer), "%d read aloud, %d counted", tt.aloud, tt.counted)
	}
}

func TestAPieceWithoutATimeMayOrMayNotBeInThePot(t *testing.T) {
	for counted, want := range map[int][]string{1: {}, 2: {}, 0: {"Fri 6 Mar 18:00:00 now A"}, 3: {"Fri 6 Mar 18:00:00 watch A"}} {
		s := inTheRoom(t)
		s.at("15:43").potted("A01")
		s.at("15:44").taken("A02")
		s.at("15:50").sealed("A", "nurse.lund", -1)
		s.at("18:00").lab().counted("A", counted)
		require.Equal(t, want, s.course(tracker.FlagPiecesDiffer), "%d counted", counted)
	}
}

package tracker_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// A step that named its pot without scanning counts for the newest copy that was printed by then and is not spoiled, two
// minutes allowed between clocks; else for the first.
func TestWhichCopyAStepWithoutAScanUses(t *testing.T) {
	used := func(tell func(s *story)) (copies string) {
		s := newStory(t)
		s.opened(plan("A", "formalin", "histology"))
		tell(s)
		for _, l := range s.folded().Labels {
			if l.Used {
				copies += l.Copy.String()
			}
		}
		return copies
	}
	three := func(s *story) {
		s.at("10:00").printed("A")
		s.at("10:10").reprinted("A", '2', 0)
		s.at("10:20").reprinted("A", '3', 0)
	}
	for name, row := range map[string]struct {
		tell func(s *story)
		want string
	}{
		"the newest":                     {func(s *story) { three(s); s.at("10:30").filled("A", "formalin") }, "3"},
		"not one printed later":          {func(s *story) { three(s); s.at("10:15").filled("A", "formalin") }, "2"},
		"two minutes later is as good":   {func(s *story) { three(s); s.at("10:18").filled("A", "formalin") }, "3"},
		"a second more is not":           {func(s *story) { three(s); s.at("10:17:59").filled("A", "formalin") }, "2"},
		"not a spoiled one":              {func(s *story) { three(s); s.spoiled("A", '3'); s.at("10:30").filled("A", "formalin") }, "2"},
		"the first if there is no other": {func(s *story) { three(s); s.at("09:30").filled("A", "formalin") }, "1"},
		"all spoiled: the first": {func(s *story) {
			three(s)
			s.spoiled("A", '1')
			s.spoiled("A", '2')
			s.spoiled("A", '3')
			s.at("10:30").filled("A", "formalin")
		}, "1"},
		"a scan uses what was scanned":     {func(s *story) { three(s); s.at("10:30").filled("A/2", "formalin") }, "2"},
		"a scan of what was never printed": {func(s *story) { three(s); s.at("10:30").filled("A/7", "formalin") }, ""},
		"a note uses nothing":              {func(s *story) { three(s); s.at("10:30").record(&tracker.NoteAdded{Text: "x"}, "A") }, ""},
		"accession of the pot uses none":   {func(s *story) { three(s); s.at("10:30").accessioned("A") }, ""},
		"a piece's label by its taking":    {func(s *story) { s.at("10:00").printed("A01", "A02"); s.at("10:30").taken("A02") }, "1"},
		"a piece's not by its loading":     {func(s *story) { s.at("10:00").printed("A01"); s.at("10:30").loaded("A01", "") }, ""},
		"a case's by its accession":        {func(s *story) { s.at("10:00").printed("case"); s.at("10:30").accessioned("case") }, "1"},
		"a case's not by its discussion":   {func(s *story) { s.at("10:00").printed("case"); s.at("10:30").discussed("concordant", "treat") }, ""},
		"a bag's scan for its pots":        {func(s *story) { three(s); s.at("10:30").packed("A"); s.porter().handed("van", "bag") }, "3"},
	} {
		require.Equal(t, row.want, used(row.tell), name)
	}
}

// Only this case's labels in hand make a change of its patient dangerous.
func TestAnotherCasesLabelsAreNoneOfThisOne(t *testing.T) {
	s := newStory(t)
	s.next("MBY-26-00418").at("09:00").printed("A")
	s.next(first).at("09:30").opened(plan("A", "formalin", "histology"))
	s.at("09:40").amended(tracker.CaseAmended{Patient: ptr("p-9")})
	require.Zero(t, tracker.Fold(first, s.events).PatientChanged)
	s.at("09:50").printed("A")
	s.at("10:00").amended(tracker.CaseAmended{Patient: ptr("p-9")})
	require.Zero(t, tracker.Fold(first, s.events).PatientChanged, "the same patient once more")
	s.at("10:10").amended(tracker.CaseAmended{Patient: ptr("p-10")})
	require.Equal(t, s.instant("10:10"), tracker.Fold(first, s.events).PatientChanged)
}

// A study or medium that the protocol lacks is told, and nothing else is made of it.
func TestNothingIsMadeOfWordsThatTheProtocolLacks(t *testing.T) {
	s := received(t, "routine", "astrology")
	for _, at := range []string{"2026-03-20 12:00", "2026-04-30 12:00"} {
		s.none(tracker.FlagResultOverdue, at)
	}
	require.Contains(t, s.flags("case", "2026-03-20 12:00"), "today protocol-gap A")
}

// A pot that nobody planned serves with loss: then it came so instead of what was planned.
func TestAPotThatNobodyPlannedServesWithLoss(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("10:00").filled("B", "saline")
	s.added("B", "histology")
	require.Equal(t, tracker.Now, s.flag(tracker.FlagContainerWrong, "B", "10:00").Severity)
}

// What the laboratory wrote about its refusal is said.
func TestARefusalSaysWhatTheLaboratoryWrote(t *testing.T) {
	s := atLab(t)
	s.at("18:00").record(&tracker.LabRefused{Why: "leaked", Note: "half of it is gone"}, "A")
	require.Contains(t, s.flag(tracker.FlagLabRefused, "A", "18:00").Text, "it leaked (half of it is gone)")
}

// Answers in the very second of the cause settle it; a plan of that second too.
func TestAnAnswerInTheSecondOfItsCauseCounts(t *testing.T) {
	s := newStory(t)
	s.at("10:00").handed("hatch", "MBY-26-00777-A")
	s.answered(tracker.FlagUnknownItem, "MBY-26-00777-A")
	require.Empty(t, s.next("MBY-26-00777").flags("case", "10:00"))

	s = atLab(t)
	s.at("18:00").refused("A", "leaked")
	s.discussed("not-assessed", "repeat-biopsy")
	s.none(tracker.FlagLabRefused, "18:00")

	s = atLab(t)
	s.at("18:00").refused("A", "leaked")
	s.discussed("not-assessed", "")
	require.Equal(t, tracker.Now, s.flag(tracker.FlagLabRefused, "A", "18:00").Severity, "without a plan nothing is settled")

	s = atLab(t)
	s.at("18:00").refused("A", "leaked")
	s.accessioned("A")
	require.Equal(t, tracker.Now, s.flag(tracker.FlagLabRefused, "A", "18:00").Severity, "accessioned with it, not after it")
}

// A result answers by default the histology or the cytology of its pots, and replaces what it speaks of wholly.
func TestWhatAResultReplaces(t *testing.T) {
	step := func(tell func(s *story)) tracker.Step {
		s := atLab(t)
		tell(s)
		return s.step("2026-03-20 12:00")
	}
	for name, row := range map[string]struct {
		first, second []string
		want          tracker.Step // the first was read, the second not
	}{
		"one without studies by one with histology": {nil, []string{"histology"}, tracker.StepAnswered},
		"one without studies by one with cytology":  {nil, []string{"cytology"}, tracker.StepAnswered},
		"one of histology by one without studies":   {[]string{"histology"}, nil, tracker.StepAnswered},
	} {
		require.Equal(t, row.want, step(func(s *story) {
			a := s.at("2026-03-11 09:00").answeredStudies(tracker.StageFinal, row.first, "A")
			s.at("2026-03-12 09:00").answeredStudies(tracker.StageFinal, row.second, "A")
			s.at("2026-03-13 09:00").seen(a)
			s.at("2026-03-14 09:00").told("telephone", a)
		}), name)
		require.Equal(t, tracker.StepTold, step(func(s *story) {
			s.at("2026-03-11 09:00").answeredStudies(tracker.StageFinal, row.first, "A")
			b := s.at("2026-03-12 09:00").answeredStudies(tracker.StageFinal, row.second, "A")
			s.at("2026-03-13 09:00").seen(b)
			s.at("2026-03-14 09:00").told("telephone", b)
		}), "%s: the first is replaced, so the second alone is owed", name)
	}
	// Told of the second alone, the first of other studies stays owed.
	require.Equal(t, tracker.StepAnswered, step(func(s *story) {
		s.at("2026-03-11 09:00").answeredStudies(tracker.StageFinal, []string{"receptors", "stains"}, "A")
		b := s.at("2026-03-12 09:00").answeredStudies(tracker.StageFinal, []string{"receptors"}, "A")
		s.at("2026-03-13 09:00").seen(b)
		s.at("2026-03-14 09:00").told("telephone", b)
	}))
	// A provisional answer replaces nothing, and of two in one second neither replaces the other.
	require.Equal(t, tracker.StepRead, step(func(s *story) {
		a := s.at("2026-03-11 09:00").issued(tracker.StageFinal, "B2", "A")
		b := s.issued(tracker.StageFinal, "B2", "A")
		s.at("2026-03-13 09:00").seen(a, b)
		s.at("2026-03-14 09:00").told("telephone", b)
	}))
}

// A fault in the rules dates from the last thing that happened, in whatever order it is told.
func TestAFaultInTheRulesDatesFromTheLastEvent(t *testing.T) {
	s := roomDone(t)
	reversed := slices.Clone(s.events)
	slices.Reverse(reversed)
	for _, events := range [][]*tracker.Event{s.events, reversed} {
		j := tracker.Judge(s.name, events, &tracker.Rules{}, s.instant("17:00"))
		require.Equal(t, tracker.FlagNotJudged, j.Findings.Flags[0].Kind)
		require.Equal(t, s.instant("15:56"), j.Findings.Flags[0].Since)
	}
}

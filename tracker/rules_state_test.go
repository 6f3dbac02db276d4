package tracker_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// folded is the case as all that is known tells it.
func (s *story) folded() *tracker.Case {
	s.t.Helper()
	filed := tracker.File(s.events)
	events, err := tracker.Gather(s.name, func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil })
	require.NoError(s.t, err)
	return tracker.Fold(s.name, events)
}

func (s *story) potLetters() []string {
	s.t.Helper()
	var letters []string
	for _, p := range s.folded().Pots {
		letters = append(letters, p.Name.Letter())
	}
	return letters
}

// In an amendment a list replaces the whole list, but a pot that has events stays.
func TestAnAmendmentReplacesTheListOfPots(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"), plan("C", "saline", "culture"))
	s.at("15:30").filled("B", "rpmi")
	s.at("15:35").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "formalin", "histology"), plan("D", "saline", "tb")}})
	require.Equal(t, []string{"A", "B", "D"}, s.potLetters(), "C was never touched")
	require.Equal(t, []string{"flow"}, s.folded().Pot(s.thing("B").Name).Studies, "B keeps what was asked of it")

	s.at("15:40").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "formalin", "histology", "receptors")}})
	require.Equal(t, []string{"A", "B"}, s.potLetters())
	require.Equal(t, []string{"histology", "receptors"}, s.folded().Pot(s.thing("A").Name).Studies)
}

func TestAnAmendmentLeavesWhatItDoesNotName(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	urgent := "urgent"
	s.at("10:00").amended(tracker.CaseAmended{Priority: &urgent})
	request := s.folded().Request
	require.Equal(t, "urgent", request.Priority)
	require.Equal(t, s.request.Lesions, request.Lesions)
	require.Equal(t, []string{"A"}, s.potLetters())
}

// What is in a pot belongs to the other name from then on, with all that happened to it.
func TestARelabelledPotTakesItsPiecesAlong(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology", "receptors"), plan("B", "formalin", "histology", "receptors"))
	s.at("15:42").taken("A01")
	s.at("15:43").potted("A01")
	s.at("15:50").sealed("A", "nurse.lund", 1)
	s.at("15:55").record(&tracker.PotRelabelled{New: s.thing("B").Name, Why: "label of the wrong lesion", Witness: "nurse.lund"}, "A")
	s.at("15:56").cleared()
	s.at("16:30").porter().handed("van", "B")
	c := s.folded()
	require.Len(t, slices.Collect(c.PiecesIn(s.thing("B").Name)), 1)
	require.Empty(t, slices.Collect(c.PiecesIn(s.thing("A").Name)))
	require.Len(t, c.Pot(s.thing("B").Name).Seals, 1)
	require.Equal(t, []string{"now not-at-lab B", "held handoff-gap B by not-at-lab"}, s.flags("case", "2026-03-09 15:42"))
}

// The contents may go to another case altogether.
func TestARelabelledPotMayBelongToAnotherCase(t *testing.T) {
	const other = "MBY-26-00418"
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.name = other
	s.at("09:10").opened(plan("A", "formalin", "histology"))
	s.name = "MBY-26-00417"
	s.at("15:42").taken("A01")
	s.at("15:43").potted("A01")
	s.at("15:50").sealed("A", "nurse.lund", 1)
	s.at("15:55").record(&tracker.PotRelabelled{New: other + "-A", Why: "label of the patient before", Witness: "nurse.lund"}, "A")
	s.at("15:56").cleared()
	require.Empty(t, s.flags("case", "2026-03-09 15:42"), "nothing of this case left the room")
	require.Equal(t, []string{"now not-at-lab MBY-26-00418-A", "today collection-late MBY-26-00418-A"}, dropRoom(s.flags(other, "2026-03-09 15:42")))
}

func dropRoom(lines []string) []string {
	return slices.DeleteFunc(lines, func(line string) bool { return line == "now room-open MBY-26-00418" })
}

// An id recorded at two nodes is in both nodes' logs and counts once, as the lower of (recorded, origin).
func TestAnEventRecordedAtTwoNodesCountsOnce(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "receptors"))
	first := recorded(s.at("18:00").taken("A01"), "mby", s.instant("15:42"))
	again := *first
	recorded(&again, "hcx", s.instant("15:50"))
	s.events = append(s.events, &again)
	c := s.folded()
	require.Len(t, c.Pieces, 1)
	require.Equal(t, s.instant("15:42"), c.Pieces[0].Taken.When.In(london), "its at is later than both recordings, so the lower counts")
	require.Equal(t, 2, c.Events)

	opened := *s.events[0]
	recorded(s.events[0], "mby", s.instant("09:01"))
	recorded(&opened, "hcx", s.instant("09:02"))
	s.events = append(s.events, &opened)
	require.Len(t, s.folded().Openings, 1)
	require.Empty(t, s.course(tracker.FlagCaseOpenedTwice), "one opening, recorded at two places, is one")
}

// An event that arrives late gives the state that it would have given on time.
func TestLateEventsGiveTheStateTheyWouldHaveGivenOnTime(t *testing.T) {
	onTime := wholeStory(t)
	want := asJSON(t, onTime.judge("case", onTime.instant("2026-04-01 09:00")))
	for late := range onTime.events {
		s := wholeStory(t)
		s.events[late].Record.Recorded = s.instant("2026-03-31 09:00")
		require.Equal(t, want, asJSON(t, s.judge("case", s.instant("2026-04-01 09:00"))), "%s arrives late", s.events[late].Kind)
	}
}

// The bag of the story carries pots of two cases: each case sees its own.
func TestABagCarriesPotsOfTwoCases(t *testing.T) {
	const other = "MBY-26-00418"
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.name = other
	s.at("09:10").opened(plan("B", "formalin", "histology"))
	s.name = "MBY-26-00417"
	s.at("15:42").taken("A01", other+"-B01")
	s.at("16:00").packed("A", other+"-B")
	s.at("16:30").porter().handed("van", "bag")
	s.at("17:30").handed("hatch", other+"-B")
	s.at("17:40").lab().handed("lab-reception", "bag")
	require.Equal(t, "lab-reception in a bag", s.where("A"))
	s.name = other
	require.Equal(t, "hatch", s.where("B"))
}

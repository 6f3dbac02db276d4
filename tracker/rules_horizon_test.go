package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// TestADateBeyondTheCalendarIsSaidToBeUnsure: the clinic knows its closures to Friday 6 March only. What is counted in
// working days past that says so; what is counted in hours or calendar days does not, nor does a date that is still known.
func TestADateBeyondTheCalendarIsSaidToBeUnsure(t *testing.T) {
	const says = " The calendar has no entry after Fri 6 Mar 2026: closures there are not counted."
	ends := rulesWith(t, "[calendars.england-wales]\n", "[calendars.england-wales]\nuntil = \"2026-03-06\"\n")
	sure := newStory(t).rules
	texts := func(s *story, kind tracker.FlagKind, thing, at string) (before, after string) {
		s.rules = sure
		before = s.flag(kind, thing, at).Text
		s.rules = ends
		after = s.flag(kind, thing, at).Text
		return before, after
	}

	taken := newStory(t)
	taken.opened(plan("A", "formalin", "histology"))
	taken.at("15:42").taken("A01")
	before, after := texts(taken, tracker.FlagNotAtLab, "A", "2026-03-09 15:42")
	require.Equal(t, before+says, after, "a working day from Friday")
	before, after = texts(taken, tracker.FlagRoomOpen, "case", "2026-03-09 15:42")
	require.Equal(t, before, after, "30 minutes")
	earlier := newStory(t)
	earlier.opened(plan("A", "formalin", "histology"))
	earlier.at("2026-03-05 15:42").taken("A01")
	before, after = texts(earlier, tracker.FlagNotAtLab, "A", "2026-03-09 15:42")
	require.Equal(t, before, after, "due on Friday, which is known")

	stains := received(t, "routine", "stains")
	before, after = texts(stains, tracker.FlagResultOverdue, "A", "2026-03-19 12:00")
	require.Equal(t, before+says, after, "ten days and two working days")
	histology := received(t, "routine", "histology")
	before, after = texts(histology, tracker.FlagResultOverdue, "A", "2026-03-19 12:00")
	require.Equal(t, before, after, "ten days by the wall clock need no calendar")
	receptors := received(t, "routine", "histology", "receptors")
	receptors.at("2026-03-10 09:00").issued(tracker.StageFinal, "B2", "A")
	before, after = texts(receptors, tracker.FlagResultOverdue, "A", "2026-03-19 12:00")
	require.Equal(t, before+says, after, "an addendum two working days after the final")

	answer := received(t, "routine", "histology")
	r := answer.at("2026-03-10 09:00").issued(tracker.StageFinal, "B2", "A")
	before, after = texts(answer, tracker.FlagResultUnread, "case", "2026-03-19 12:00")
	require.Equal(t, before+says, after)
	answer.at("2026-03-10 10:00").seen(r)
	before, after = texts(answer, tracker.FlagPatientWaiting, "case", "2026-03-19 12:00")
	require.Equal(t, before+says, after)
	answer.at("2026-03-10 11:00").told("telephone", r)
	before, after = texts(answer, tracker.FlagCaseUnfinished, "case", "2026-05-19 12:00")
	require.Equal(t, before+says, after)
	answer.at("2026-03-10 12:00").discussed("discordant", "repeat-biopsy", r)
	before, after = texts(answer, tracker.FlagPlanNotDone, "case", "2026-05-19 12:00")
	require.Equal(t, before+says, after)
}

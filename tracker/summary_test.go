package tracker_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// judged is what is known of a watched thing of the story at an instant.
func (s *story) judged(watched, at string) tracker.Judgement {
	s.t.Helper()
	thing := s.thing(watched).Name
	filed := tracker.File(s.until(s.instant(at)))
	events, err := tracker.Gather(thing, func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil })
	require.NoError(s.t, err)
	return tracker.Judge(thing, events, s.rules, s.instant(at))
}

func (s *story) step(at string) tracker.Step { return s.judged("case", at).Summary.Step }

// The steps of a case, for people: as far as its hindmost pot that holds something.
func TestHowFarACaseHasCome(t *testing.T) {
	s := newStory(t)
	s.at("09:00").opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"))
	s.at("15:30").checked()
	s.at("15:42").taken("A01")
	s.at("15:43").potted("A01")
	s.at("15:50").sealed("A", "nurse.lund", 1)
	s.at("15:52").taken("B01")
	s.at("15:56").cleared()
	s.at("15:58").sealed("B", "nurse.lund", 1)
	s.at("16:30").porter().handed("van", "A")
	s.at("16:40").handed("hatch", "B")
	s.at("17:40").lab().handed("lab-reception", "A")
	s.at("18:00").accessioned("B")
	flow := s.at("18:30").answeredStudies(tracker.StageFinal, []string{"flow"}, "B")
	final := s.at("18:40").issued(tracker.StageFinal, "B2", "A")
	s.at("19:00").doctor().seen(flow)
	s.at("19:10").seen(final)
	s.at("19:20").told("telephone", flow)
	s.at("19:30").told("telephone", final)
	s.at("19:40").closed("discharged", "")
	s.at("19:50").record(&tracker.CaseReopened{Why: "the patient rang"}, "case")
	for _, row := range []struct {
		at   string
		want tracker.Step
	}{
		{"15:29:59", tracker.StepPlanned},
		{"15:30", tracker.StepRoom},
		{"15:56", tracker.StepRoom}, // pot B has no lid yet
		{"15:58", tracker.StepWaiting},
		{"16:30", tracker.StepWaiting}, // pot B still is there
		{"16:40", tracker.StepOnTheWay},
		{"17:40", tracker.StepOnTheWay},
		{"18:00", tracker.StepLab},
		{"18:30", tracker.StepAnswered},
		{"19:00", tracker.StepAnswered}, // one of two was read
		{"19:10", tracker.StepRead},
		{"19:20", tracker.StepRead},
		{"19:30", tracker.StepTold},
		{"19:40", tracker.StepClosed},
		{"19:50", tracker.StepTold},
	} {
		require.Equal(t, row.want, s.step(row.at), row.at)
	}
	require.False(t, s.judged("case", "19:30").Summary.Closed)
	closed := s.judged("case", "19:40").Summary
	require.True(t, closed.Closed)
	require.Equal(t, "discharged", closed.Outcome)
}

func TestStepsOfUnusualCases(t *testing.T) {
	s := newStory(t)
	s.at("15:42").handed("hatch", "A")
	require.Equal(t, tracker.StepUnknown, s.step("15:42"), "nobody made it known")
	require.False(t, s.judged("case", "15:42").Summary.Known)

	s = newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:42").handed("room-2", "A")
	require.Equal(t, tracker.StepRoom, s.step("15:42"), "a pot laid out in the room")

	s = newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:42").sealed("A", "nurse.lund", 0)
	require.Equal(t, tracker.StepRoom, s.step("15:42"), "a lid and nothing else")
	s.at("15:43").cleared()
	require.Equal(t, tracker.StepWaiting, s.step("15:43"))

	s = newStory(t)
	s.opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"))
	s.at("15:42").taken("B01")
	s.at("15:43").cleared()
	require.Equal(t, tracker.StepRoom, s.step("15:43"), "cleared, but the pot has no lid")
	s.at("15:44").sealed("B", "nurse.lund", 1)
	require.Equal(t, tracker.StepWaiting, s.step("15:44"), "the pot that was not used holds nothing up")

	s = newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:42").taken("A01")
	s.at("15:43").sealed("A", "nurse.lund", 1)
	first := s.at("16:00").issued(tracker.StageFinal, "B2", "A")
	s.at("16:10").seen(first)
	s.at("16:20").issued(tracker.StageAmended, "B3", "A")
	require.Equal(t, tracker.StepAnswered, s.step("16:20"), "the amended result counts, and nobody read it")
}

func TestASummarySaysWhatIsKnown(t *testing.T) {
	s := newStory(t)
	s.request.Planned = s.instant("15:30")
	s.opened(tracker.PlannedPot{Pot: "A", Lesion: "L1", Medium: "formalin", Pieces: 4, Studies: []string{"histology", "receptors"}})
	before := s.judged("case", "09:00").Summary
	require.Equal(t, tracker.Summary{Name: s.name, Known: true, Step: tracker.StepPlanned, Patient: "p-4c1a", Priority: "routine", Rank: 2,
		Room: "room-2", Planned: s.instant("15:30"), Last: s.instant("09:00"),
		Pots: []tracker.PotSummary{{Name: s.name + "-A", Lesion: "L1", Medium: "formalin", Studies: []string{"histology", "receptors"}, Planned: 4}}}, before)

	s.at("15:31").record(&tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}, Room: "room-1"}, "case")
	s.at("15:42").taken("A01", "A02")
	s.at("15:43").potted("A01")
	s.at("15:50").sealed("A", "nurse.lund", 2)
	s.at("16:00").packed("A")
	s.at("16:30").porter().handed("van", "bag")
	s.at("17:40").lab().handed("lab-reception", "bag")
	s.at("17:50").accessioned("A")
	after := s.judged("case", "18:00").Summary
	require.Equal(t, "room-1", after.Room, "where the patient was checked last")
	require.Equal(t, s.instant("17:50"), after.Last)
	require.Equal(t, tracker.PotSummary{Name: s.name + "-A", Lesion: "L1", Medium: "formalin", Studies: []string{"histology", "receptors"}, Planned: 4,
		Taken: 2, Potted: 1, Sealed: true, Place: "lab-reception", Role: "laboratory", Holder: "lab.reed", Since: s.instant("17:40"), Bag: s.bag,
		Received: s.instant("17:40"), Accession: "T26-1234"}, after.Pots[0])
	require.Equal(t, tracker.StepLab, after.Step)
	require.Nil(t, after.Call)

	s.at("18:10").checked()
	s.at("18:11").record(&tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}}, "case")
	require.Equal(t, "room-2", s.judged("case", "18:10").Summary.Room)
	require.Equal(t, "room-2", s.judged("case", "18:11").Summary.Room, "no room was said: that of the request")

	bag := s.judged("bag", "18:00").Summary
	require.Equal(t, tracker.Summary{Name: s.bag, Known: true, Step: tracker.StepBag, Place: "lab-reception", Holder: "lab.reed",
		Inside: s.names("A"), Last: s.instant("17:40")}, bag)
	require.Empty(t, s.judged("bag", "16:00").Summary.Place, "packed, and nobody took it")
}

// A pot of which only its case was scanned is not known to be there.
func TestAPotThatNobodyTouchedIsNowhere(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("16:30").porter().handed("hatch", "case")
	pot := s.judged("case", "16:30").Summary.Pots[0]
	require.Empty(t, pot.Place)
	require.Empty(t, pot.Holder)
	s.at("16:31").filled("A", "formalin")
	pot = s.judged("case", "16:31").Summary.Pots[0]
	require.Equal(t, "hatch", pot.Place, "it was used, so it went with its case")
	require.Equal(t, "hatch", pot.Role)
	require.Equal(t, "porter.hale", pot.Holder)
	require.Equal(t, s.instant("16:30"), pot.Since)
}

// late is a story whose room stays open: a flag that counts minutes from 16:12 on.
func lateRoom(t *testing.T) *story {
	t.Helper()
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:42").taken("A01")
	s.at("15:43").potted("A01")
	return s
}

func (s *story) called(next string) *tracker.Event {
	s.t.Helper()
	fact := &tracker.ChaseLogged{Asked: "room 2", Answer: "the nurse is coming", Level: 2}
	if next != "" {
		fact.Next = s.instant(next)
	}
	return s.record(fact, "case")
}

// Contract page on flags, chase list: logging a call puts the row to sleep until `next`; a new or worse flag wakes it, a
// `now` sleeps four hours at most.
func TestACallPutsACaseToSleep(t *testing.T) {
	tests := []struct {
		name string
		tell func(s *story)
		at   string
		want string // until when it sleeps; "" is awake
	}{
		{"until it said to ask again", func(s *story) { s.at("16:30").called("18:00") }, "16:30", "18:00"},
		{"still the same later", func(s *story) { s.at("16:30").called("18:00") }, "20:00", "18:00"},
		{"with no time to ask again it does not sleep", func(s *story) { s.at("16:30").called("") }, "16:31", ""},
		{"asked again in the same second", func(s *story) { s.at("16:30").called("16:30") }, "16:31", ""},
		{"a flag of minutes sleeps four hours at most", func(s *story) { s.at("16:30").called("22:00") }, "16:31", "20:30"},
		{"four hours to the second", func(s *story) { s.at("16:30").called("20:30") }, "16:31", "20:30"},
		{"a new flag wakes it", func(s *story) {
			s.at("16:30").called("18:00")
			s.at("16:40").refused("A", "leaked")
		}, "16:40", ""},
		{"the last call counts", func(s *story) {
			s.at("16:30").called("18:00")
			s.at("16:40").refused("A", "leaked")
			s.at("16:45").called("17:30")
		}, "16:45", "17:30"},
		{"a flag on something else is new", func(s *story) {
			s.at("16:25").taken("B01")
			s.potted("B01")
			s.at("16:26").refused("B", "leaked")
			s.at("16:57").called("18:00")
			s.at("17:00").refused("A", "leaked")
		}, "17:00", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := lateRoom(t)
			tt.tell(s)
			call := s.judged("case", tt.at).Summary.Call
			require.NotNil(t, call)
			require.Equal(t, "nurse.osei", call.By)
			require.Equal(t, []any{"room 2", "the nurse is coming", 2}, []any{call.Asked, call.Answer, call.Level})
			if tt.want == "" {
				require.Zero(t, call.SleepUntil)
				return
			}
			require.Equal(t, s.instant(tt.want), call.SleepUntil.In(london))
		})
	}
}

// A flag that gets worse wakes the case, one that gets better does not; what is only watched never does.
func TestAWorseFlagWakesACase(t *testing.T) {
	s := atLab(t)
	s.at("2026-03-17 09:00").called("2026-03-20 09:00") // result overdue since the evening before: today
	require.Equal(t, tracker.Today, s.flag(tracker.FlagResultOverdue, "A", "2026-03-17 09:00").Severity)
	require.Equal(t, s.instant("2026-03-20 09:00"), s.judged("case", "2026-03-18 12:00").Summary.Call.SleepUntil.In(london), "today sleeps as long as was said")

	s = newStory(t)
	s.request.Priority = "urgent"
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:42").taken("A01")
	s.at("15:43").potted("A01")
	s.at("15:50").sealed("A", "nurse.lund", 1)
	s.at("15:56").cleared()
	s.at("16:30").porter().handed("van", "A")
	s.at("17:40").lab().handed("lab-reception", "A")
	s.at("17:50").accessioned("A")
	s.at("2026-03-12 10:00").called("2026-03-25 09:00")
	overdue := func(at string) tracker.Severity { return s.flag(tracker.FlagResultOverdue, "A", at).Severity }
	require.Equal(t, tracker.Watch, overdue("2026-03-12 10:00"))
	require.NotZero(t, s.judged("case", "2026-03-13 12:00").Summary.Call.SleepUntil, "only watched")
	require.Equal(t, tracker.Today, overdue("2026-03-14 12:00"))
	require.Zero(t, s.judged("case", "2026-03-14 12:00").Summary.Call.SleepUntil, "it got worse")
	s.at("2026-03-14 12:00").called("2026-03-25 09:00")
	require.Equal(t, s.instant("2026-03-25 09:00"), s.judged("case", "2026-03-16 12:00").Summary.Call.SleepUntil.In(london))
	require.Equal(t, tracker.Now, overdue("2026-03-17 06:00"))
	require.Zero(t, s.judged("case", "2026-03-17 06:00").Summary.Call.SleepUntil, "worse again")
}

// row is a judgement with flags, for the chase list alone.
func row(name tracker.Name, rank int, flags ...tracker.Flag) tracker.Judgement {
	return tracker.Judgement{Summary: tracker.Summary{Name: name, Priority: "routine", Rank: rank}, Findings: tracker.Findings{Flags: flags}}
}

// Contract page on flags, chase list: one row a case that wants action; order: severity, then due (longest overdue first),
// then priority. Those asleep come last.
func TestTheChaseListIsInOrder(t *testing.T) {
	at := func(minutes int) time.Time { return start.Add(time.Duration(minutes) * time.Minute) }
	flag := func(s tracker.Severity, due time.Time) tracker.Flag {
		return tracker.Flag{Kind: tracker.FlagRoomOpen, Severity: s, Due: due, Text: "text", Remedy: "remedy", Who: "operator"}
	}
	asleep := row("MBY-26-00001", 0, flag(tracker.Now, at(-60)))
	asleep.Summary.Call = &tracker.Call{SleepUntil: at(1)}
	awake := row("MBY-26-00002", 0, flag(tracker.Now, at(-50)))
	awake.Summary.Call = &tracker.Call{SleepUntil: at(0)}
	judgements := []tracker.Judgement{
		asleep,
		row("MBY-26-00009", 2, flag(tracker.Today, at(-30))),
		row("MBY-26-00008", 1, flag(tracker.Today, at(-30))),
		row("MBY-26-00007", 2, flag(tracker.Today, time.Time{})),
		row("MBY-26-00006", 2, flag(tracker.Now, time.Time{})),
		row("MBY-26-00005", 2, flag(tracker.Now, at(10))),
		row("MBY-26-00010", 1, flag(tracker.Today, at(-30))),
		row("MBY-26-00004", 0, flag(tracker.Watch, at(-90))),
		row("MBY-26-00003", 0),
		awake,
		row("MBY-26-00011", 0, flag(tracker.Today, time.Time{})),
	}
	for range len(judgements) { // whatever the order they come in
		judgements = append(judgements[1:], judgements[0])
		var got []tracker.Name
		for _, r := range tracker.Chase(judgements, start) {
			got = append(got, r.Case)
			require.Equal(t, r.Case == "MBY-26-00001", r.Asleep)
		}
		require.Equal(t, []tracker.Name{"MBY-26-00002", "MBY-26-00005", "MBY-26-00006", "MBY-26-00008", "MBY-26-00010", "MBY-26-00009",
			"MBY-26-00011", "MBY-26-00007", "MBY-26-00001"}, got)
	}
	require.Equal(t, []tracker.ChaseRow{}, tracker.Chase(nil, start), "an empty list, not none")
	two := []tracker.Judgement{asleep, row("MBY-26-00000", 0, flag(tracker.Now, at(-60)))}
	two[1].Summary.Call = &tracker.Call{SleepUntil: at(5)}
	require.Equal(t, tracker.Name("MBY-26-00000"), tracker.Chase(two, start)[0].Case, "both asleep: in the usual order")
}

// A row says what is wrong, who has it, whom to call, what to ask.
func TestARowOfTheChaseList(t *testing.T) {
	worst := tracker.Flag{Kind: tracker.FlagNotAtLab, Case: caseOne, Item: caseOne + "-B", Severity: tracker.Now, Due: start, Text: "Not there.", Remedy: "Ring the van.", Who: "coordinator"}
	watched := tracker.Flag{Kind: tracker.FlagClockDoubtful, Item: caseOne, Severity: tracker.Watch}
	other := tracker.Flag{Kind: tracker.FlagRoomOpen, Item: caseOne, Severity: tracker.Today, Text: "Open."}
	j := row(caseOne, 1, worst, other, watched)
	j.Summary.Pots = []tracker.PotSummary{{Name: caseOne + "-A", Place: "hatch", Holder: "porter.hale"}, {Name: caseOne + "-B", Place: "van", Holder: "porter.lind"},
		{Name: caseOne + "-C", Place: "fridge", Holder: "nurse.lund"}}
	j.Summary.Call = &tracker.Call{Asked: "the van"}
	rows := tracker.Chase([]tracker.Judgement{j}, start)
	require.Len(t, rows, 1)
	r := rows[0]
	require.Equal(t, []tracker.Flag{worst, other}, r.Flags, "what is watched is left out")
	require.Equal(t, []any{caseOne, tracker.Now, start, "routine", "Not there.", "Ring the van.", "coordinator", "porter.lind", "van"},
		[]any{r.Case, r.Severity, r.Due, r.Priority, r.Text, r.Ask, r.Who, r.Holder, r.Place})
	require.Equal(t, j.Summary.Call, r.Last)
	require.False(t, r.Asleep, "a call that does not let it sleep")

	j = row(caseOne, 1, other)
	j.Summary.Pots = []tracker.PotSummary{{Name: caseOne + "-A"}, {Name: caseOne + "-B", Place: "van", Holder: "porter.lind"}, {Name: caseOne + "-C", Place: "fridge"}}
	require.Equal(t, "van", tracker.Chase([]tracker.Judgement{j}, start)[0].Place, "about the whole case: the first place that is known")
}

// A flag on the day of a room is chased as the case it is about.
func TestADayOfARoomIsChasedAsItsCase(t *testing.T) {
	const day = tracker.Name("MBY/room-2/2026-03-06")
	j := row(day, 0, tracker.Flag{Kind: tracker.FlagRoomShared, Case: caseTwo, Item: caseTwo, Severity: tracker.Now})
	require.Equal(t, caseTwo, tracker.Chase([]tracker.Judgement{j}, start)[0].Case)
}

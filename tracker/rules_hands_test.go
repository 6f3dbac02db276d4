package tracker_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// under has the story judged by the default protocol with more lines at its end.
func (s *story) under(lines string) *story {
	s.t.Helper()
	p, err := protocol.Parse([]byte(protocol.Default().Text + "\n" + lines))
	require.NoError(s.t, err)
	s.rules, err = tracker.NewRules(p, time.LoadLocation)
	require.NoError(s.t, err)
	return s
}

// Page 3: with no rounds in the protocol, four hours after sealing.
func TestASealedPotIsCollectedWithinFourHoursWhereThereAreNoRounds(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"nobody comes", func(*story) {}, []string{"Fri 6 Mar 19:50:00 today A"}},
		{"taken a second before", func(s *story) { s.at("19:49:59").porter().handed("hatch", "A") }, []string{}},
		{"taken later", func(s *story) { s.at("20:10").porter().handed("hatch", "A") },
			[]string{"Fri 6 Mar 19:50:00 today A", "Fri 6 Mar 20:10:00 -"}},
		{"taken with its bag", func(s *story) {
			s.at("16:00").packed("A")
			s.at("16:30").porter().handed("van", "bag")
		}, []string{}},
		{"packed, and the bag is still there", func(s *story) { s.at("16:00").packed("A") }, []string{"Fri 6 Mar 19:50:00 today A"}},
		{"taken with its case", func(s *story) { s.at("16:30").porter().handed("van", "case") }, []string{}},
		{"brought to the laboratory unscanned", func(s *story) { s.at("18:00").lab().accessioned("A") }, []string{}},
		{"the scan that took it is struck", func(s *story) {
			e := s.at("16:30").porter().handed("van", "A")
			s.at("20:00").struck(e)
		}, []string{"Fri 6 Mar 20:00:00 today A"}},
		{"sealed again: the first lid counts", func(s *story) { s.at("17:00").sealed("A", "nurse.lund", 2) }, []string{"Fri 6 Mar 19:50:00 today A"}},
		{"sealed again after another piece went in", func(s *story) {
			s.at("16:10").taken("A03")
			s.at("16:11").potted("A03")
			s.at("16:12").sealed("A", "nurse.lund", 3)
		}, []string{"Fri 6 Mar 20:12:00 today A"}},
		{"a piece went in after its only lid: that lid counts", func(s *story) {
			s.at("16:10").taken("A03")
			s.at("16:11").potted("A03")
		}, []string{"Fri 6 Mar 19:50:00 today A"}},
		{"said to be unused, and a piece was taken into it", func(s *story) {
			s.at("16:00").record(&tracker.ProcedureEnded{Outcome: "done", Unused: []string{"A"}}, "case")
		}, []string{"Fri 6 Mar 19:50:00 today A"}},
		{"lost", func(s *story) { s.at("18:00").lost("A") }, []string{"Fri 6 Mar 19:50:00 (today A by pot-lost)"}},
		{"lost, with a plan", func(s *story) {
			s.at("18:00").lost("A")
			s.at("20:00").by("dr.vale", "desk-1").discussed("not-assessed", "repeat-biopsy")
		}, []string{"Fri 6 Mar 19:50:00 (today A by pot-lost)", "Fri 6 Mar 20:00:00 -"}},
		{"closed with a reason", func(s *story) { s.at("20:00").closed("withdrawn", "the patient wished so") },
			[]string{"Fri 6 Mar 19:50:00 today A", "Fri 6 Mar 20:00:00 -"}},
		{"an answer does not fetch it", func(s *story) { s.at("20:00").answered(tracker.FlagCollectionLate, "A") }, []string{"Fri 6 Mar 19:50:00 today A"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := roomDone(t)
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagCollectionLate))
		})
	}
	s := roomDone(t)
	f := s.flag(tracker.FlagCollectionLate, "A", "20:49:59")
	require.Equal(t, "porter", f.Who)
	require.Equal(t, s.instant("19:50"), f.Since.In(london))
	require.Equal(t, s.instant("20:50"), f.Due.In(london))
	require.Equal(t, "Pot A was sealed Fri 6 Mar 15:50 and nobody has taken it; limit 4 h.", f.Text)
	require.Contains(t, f.Remedy, "room 2")
	require.Equal(t, "porter, coordinator", s.flag(tracker.FlagCollectionLate, "A", "20:50").Who, "an hour later")
}

func TestAPotIsFetchedFromWhereThePatientWasChecked(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:30").record(&tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}, Room: "room-1"}, "case")
	s.at("15:31").record(&tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}}, "case")
	s.at("15:40").potted("A01")
	s.at("15:50").sealed("A", "nurse.lund", -1)
	require.Contains(t, s.flag(tracker.FlagCollectionLate, "A", "19:50").Remedy, "from room 1", "and a piece that was only put in is in it")
}

func TestAnEmptyPotIsNotCollected(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"), plan("B", "formalin", "histology"))
	s.at("15:50").sealed("A", "nurse.lund", 0)
	s.sealed("B", "nurse.lund", 2)
	require.Equal(t, []string{"Fri 6 Mar 19:50:00 today B"}, s.course(tracker.FlagCollectionLate), "two were read aloud, though nobody recorded them")
	s.at("16:00").record(&tracker.ProcedureEnded{Outcome: "not-done", Why: "the patient was unwell"}, "case")
	require.Empty(t, s.course(tracker.FlagCollectionLate), "nothing was taken")
}

const twoRounds = `
[rounds.afternoon]
from = "hatch"
to = "lab-reception"
days = ["mon", "tue", "wed", "thu", "fri"]
departs = ["10:30", "16:30"]
takes = "35m"
source = "the porters' timetable, invented [P1]"
`

// Page 3: next round + 30 min. Working days of England and Wales 2026. Source: gov.uk list of bank holidays.
func TestASealedPotIsCollectedWithTheNextRound(t *testing.T) {
	tests := []struct{ name, sealed, rounds, want string }{
		{"the afternoon's", "2026-03-06 15:50", twoRounds, "Fri 6 Mar 17:00:00 today A"},
		{"at the very minute it leaves", "2026-03-06 16:30", twoRounds, "Fri 6 Mar 17:00:00 today A"},
		{"a second later: Monday's", "2026-03-06 16:30:01", twoRounds, "Mon 9 Mar 11:00:00 today A"},
		{"not on Good Friday, nor on Easter Monday", "2026-04-02 16:31", twoRounds, "Tue 7 Apr 11:00:00 today A"},
		{"on Good Friday, if it goes daily", "2026-04-02 16:31", twoRounds + "daily = true\n", "Fri 3 Apr 11:00:00 today A"},
		{"on a Saturday, if that is a day of it", "2026-03-06 16:31", strings.Replace(twoRounds, `"fri"`, `"fri", "sat"`, 1), "Sat 7 Mar 11:00:00 today A"},
		{"by wall clock over the change of clocks", "2026-03-27 16:31", twoRounds, "Mon 30 Mar 11:00:00 today A"},
		{"a round from the room itself goes before the hatch's", "2026-03-06 15:50", twoRounds + `
[rounds.room]
from = "room-2"
to = "hatch"
days = ["fri"]
departs = ["17:15"]
takes = "5m"
source = "the porters' timetable, invented [P1]"
`, "Fri 6 Mar 17:45:00 today A"},
		{"a round from another room does not pass here", "2026-03-06 15:50", twoRounds + `
[rounds.room]
from = "room-1"
to = "hatch"
days = ["fri"]
departs = ["16:00"]
takes = "5m"
source = "the porters' timetable, invented [P1]"
`, "Fri 6 Mar 17:00:00 today A"},
		{"a round that only brings things here collects nothing", "2026-03-06 15:50", `
[rounds.back]
from = "lab-reception"
to = "hatch"
days = ["fri"]
departs = ["16:00"]
takes = "35m"
source = "the porters' timetable, invented [P1]"
`, "Fri 6 Mar 19:50:00 today A"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t).under(tt.rounds)
			s.at("2026-03-02 09:00").opened(plan("A", "formalin", "histology"))
			s.at(tt.sealed).sealed("A", "nurse.lund", 2)
			require.Equal(t, []string{tt.want}, s.course(tracker.FlagCollectionLate))
		})
	}
	s := newStory(t).under(strings.Replace(twoRounds, "takes", "calendar = \"short\"\ntakes", 1) + `
[calendars.short]
region = "none"
closed = []
open = []
until = "2026-03-06"
source = "the porters' timetable, invented [P1]"
`)
	s.opened(plan("A", "formalin", "histology"))
	s.at("16:31").sealed("A", "nurse.lund", 2)
	require.Equal(t, []string{"Fri 6 Mar 20:31:00 today A"}, s.course(tracker.FlagCollectionLate), "no round is known of any more: as if there were none")

	s = roomDone(t).under(twoRounds)
	f := s.flag(tracker.FlagCollectionLate, "A", "17:00")
	require.Equal(t, "Pot A was sealed Fri 6 Mar 15:50 and nobody has taken it, not with the round from the hatch at Fri 6 Mar 16:30; limit 30 min after that.", f.Text)
	require.Equal(t, "porter, coordinator", s.flag(tracker.FlagCollectionLate, "A", "18:00").Who)
	s.at("16:59:59").porter().handed("van", "A")
	require.Empty(t, s.course(tracker.FlagCollectionLate))
}

// Page 3: room 2 h, hatch 4 h, vehicle 4 h, fridge 24 h, laboratory to accession 1 working day.
func TestAPotIsNotKeptLongerThanItsPlaceAllows(t *testing.T) {
	tests := []struct{ place, over, worse string }{
		{"room-2", "Fri 6 Mar 18:00:01", "2026-03-06 20:00"},
		{"hatch", "Fri 6 Mar 20:00:01", "2026-03-07 00:00"},
		{"van", "Fri 6 Mar 20:00:01", "2026-03-07 00:00"},
		{"fridge", "Sat 7 Mar 16:00:01", "2026-03-08 16:00"},
		{"lab-reception", "Mon 9 Mar 16:00:01", "2026-03-10 16:00"},
	}
	for _, tt := range tests {
		t.Run(tt.place, func(t *testing.T) {
			s := roomDone(t)
			s.at("16:00").porter().handed(tt.place, "A")
			first := s.course(tracker.FlagHandoffGap)[0]
			require.Equal(t, tt.over+" today A", first)
			over, err := time.ParseInLocation("2006 Mon 2 Jan 15:04:05", "2026 "+tt.over, london)
			require.NoError(t, err)
			f := s.flag(tracker.FlagHandoffGap, "A", over.Format(rfc3339))
			require.Equal(t, "porter.hale", f.Who)
			require.Equal(t, over.Add(-time.Second), f.Since.In(london))
			require.Equal(t, s.instant(tt.worse), f.Due.In(london))
			require.Contains(t, f.Text, "Fri 6 Mar 16:00")
			if tt.place == "lab-reception" || tt.place == "fridge" {
				return // not-at-lab holds it by then, or it is about a number
			}
			require.Equal(t, "porter.hale, coordinator", s.flag(tracker.FlagHandoffGap, "A", tt.worse).Who)
		})
	}
}

func TestAPotThatIsTakenOnWasNotKept(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"nobody takes it on", func(*story) {}, []string{"Fri 6 Mar 20:00:01 today A", "Mon 9 Mar 15:42:00 (today A by not-at-lab)"}},
		{"taken on at the very limit", func(s *story) { s.at("20:00").porter().handed("lab-reception", "A"); s.accessioned("A") }, []string{}},
		{"taken on later", func(s *story) {
			s.at("20:30").porter().handed("lab-reception", "A")
			s.accessioned("A")
		}, []string{"Fri 6 Mar 20:00:01 today A", "Fri 6 Mar 20:30:00 -"}},
		{"taken on with its bag, and the bag is kept", func(s *story) {
			s.at("16:10").packed("A")
			s.at("16:30").porter().handed("van", "bag")
		}, []string{"Fri 6 Mar 20:30:01 today A", "Mon 9 Mar 15:42:00 (today A by not-at-lab)"}},
		{"at the laboratory, by its accession", func(s *story) { s.at("18:00").lab().accessioned("A") }, []string{}},
		{"received, and it has its number within a working day", func(s *story) {
			s.at("18:00").lab().handed("lab-reception", "A")
			s.at("2026-03-09 18:00").accessioned("A")
		}, []string{}},
		{"received, and it has no number", func(s *story) {
			s.at("18:00").lab().handed("lab-reception", "A")
			s.at("2026-03-09 18:30").accessioned("A")
		}, []string{"Mon 9 Mar 18:00:01 today A", "Mon 9 Mar 18:30:00 -"}},
		{"the number was there before the receipt was scanned", func(s *story) {
			s.at("17:55").lab().accessioned("A")
			s.at("18:00").handed("lab-reception", "A")
		}, []string{}},
		{"received, and opened without a number", func(s *story) {
			s.at("18:00").lab().handed("lab-reception", "A")
			s.at("18:30").counted("A", 2)
		}, []string{}},
		{"received, and loaded without a number", func(s *story) {
			s.at("18:00").lab().handed("lab-reception", "A")
			s.at("18:30").loaded("A", "2026-03-07 06:00")
		}, []string{}},
		{"received, and one of its pieces loaded", func(s *story) {
			s.at("18:00").lab().handed("lab-reception", "A")
			s.at("18:30").loaded("A01", "2026-03-07 06:00")
		}, []string{}},
		{"received, and answered", func(s *story) {
			s.at("18:00").lab().handed("lab-reception", "A")
			s.at("18:30").issued(tracker.StageProvisional, "B5", "case")
		}, []string{}},
		{"received, and sent on for another opinion", func(s *story) {
			s.at("18:00").lab().handed("lab-reception", "A")
			s.at("18:30").record(&tracker.LabReferred{To: "Moor End"}, "A")
		}, []string{}},
		{"an answer on another pot says nothing of this one", func(s *story) {
			s.at("18:00").lab().handed("lab-reception", "A")
			s.at("18:30").issued(tracker.StageProvisional, "B5", "B")
		}, []string{"Mon 9 Mar 18:00:01 today A"}},
		{"asked about is not accessioned", func(s *story) {
			s.at("18:00").lab().handed("lab-reception", "A")
			s.at("18:30").record(&tracker.LabQueried{Why: "which side?"}, "A")
		}, []string{"Mon 9 Mar 18:00:01 today A"}},
		{"on its way to another place after it had its number", func(s *story) {
			s.at("18:00").lab().accessioned("A")
			s.at("18:30").porter().handed("van", "A")
		}, []string{"Fri 6 Mar 22:30:01 today A"}},
		{"what has its final result waits nowhere", func(s *story) {
			s.at("18:00").lab().issued(tracker.StageFinal, "B2", "A")
			s.at("18:30").porter().handed("van", "A")
		}, []string{}},
		{"a case's scan says nothing of a pot that was not used", func(s *story) {
			s.at("15:57").record(&tracker.ProcedureEnded{Outcome: "done", Unused: []string{"B"}}, "case")
			s.at("16:10").porter().handed("hatch", "case")
			s.at("17:00").lab().accessioned("A")
		}, []string{}},
		{"lost", func(s *story) { s.at("18:00").lost("A") }, []string{"Fri 6 Mar 20:00:01 (today A by pot-lost)"}},
		{"lost and found: whoever found it has it in hand", func(s *story) {
			s.at("18:00").lost("A")
			s.at("19:00").found("A")
			s.at("23:30").porter().handed("lab-reception", "A")
			s.accessioned("A")
		}, []string{"Fri 6 Mar 23:00:01 today A", "Fri 6 Mar 23:30:00 -"}},
		{"refused", func(s *story) {
			s.at("18:00").lab().handed("lab-reception", "A")
			s.at("18:30").refused("A", "unlabelled")
			s.at("2026-03-10 10:00").by("dr.vale", "desk-1").discussed("not-assessed", "repeat-biopsy")
		}, []string{"Mon 9 Mar 18:00:01 (today A by lab-refused)", "Tue 10 Mar 10:00:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"))
			s.at("15:42").taken("A01", "A02")
			s.at("15:43").potted("A01", "A02")
			s.at("15:50").sealed("A", "nurse.lund", 2)
			s.at("15:56").cleared()
			s.at("16:00").porter().handed("hatch", "A")
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagHandoffGap))
		})
	}
	s := roomDone(t)
	s.at("16:00").porter().handed("hatch", "A")
	f := s.flag(tracker.FlagHandoffGap, "A", "20:00:01")
	lab := roomDone(t)
	lab.at("18:00").lab().handed("lab-reception", "A")
	require.Equal(t, "Pot A was received at laboratory reception on Fri 6 Mar 18:00 by lab.reed and has no number of the laboratory; the limit is 1 working day.",
		lab.flag(tracker.FlagHandoffGap, "A", "2026-03-09 18:00:01").Text)
	require.Equal(t, "Pot A is at the hatch, since Fri 6 Mar 16:00, with porter.hale; the limit there is 4 h.", f.Text)
	require.Contains(t, f.Basis, "pottrail default")
}

func TestAPotGoesToTheLaboratoryThatWasAsked(t *testing.T) {
	const second = `
[places.moor-end]
name = "Moor End laboratory"
role = "laboratory"
`
	to := func(place string) tracker.PlannedPot {
		p := plan("A", "formalin", "histology")
		p.To = place
		return p
	}
	tests := []struct {
		name string
		to   string
		then func(s *story)
		want []string
	}{
		{"where it was meant to go", "lab-reception", func(s *story) { s.handed("lab-reception", "A") }, []string{}},
		{"another", "lab-reception", func(s *story) { s.handed("moor-end", "A") }, []string{"Fri 6 Mar 17:40:00 today A"}},
		{"another, with its bag", "lab-reception", func(s *story) {
			s.packed("A")
			s.handed("moor-end", "bag")
		}, []string{"Fri 6 Mar 17:40:00 today A"}},
		{"sent on with the van", "lab-reception", func(s *story) {
			s.handed("moor-end", "A")
			s.at("18:30").porter().handed("van", "A")
		}, []string{"Fri 6 Mar 17:40:00 today A", "Fri 6 Mar 18:30:00 -"}},
		{"arrived after all", "lab-reception", func(s *story) {
			s.handed("moor-end", "A")
			s.at("19:30").lab().handed("lab-reception", "A")
		}, []string{"Fri 6 Mar 17:40:00 today A", "Fri 6 Mar 19:30:00 -"}},
		{"moved inside the laboratory that has it", "lab-reception", func(s *story) {
			s.handed("moor-end", "A")
			s.at("18:30").lab().handed("lab-processor", "A")
		}, []string{"Fri 6 Mar 17:40:00 today A"}},
		{"moved inside the right laboratory", "lab-reception", func(s *story) {
			s.handed("lab-reception", "A")
			s.at("18:30").lab().handed("lab-processor", "A")
		}, []string{}},
		{"the request is amended", "lab-reception", func(s *story) {
			s.handed("moor-end", "A")
			s.at("18:00").by("nurse.osei", "room-2").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{to("moor-end")}})
		}, []string{"Fri 6 Mar 17:40:00 today A", "Fri 6 Mar 18:00:00 -"}},
		{"answered", "lab-reception", func(s *story) {
			s.handed("moor-end", "A")
			s.at("18:00").answered(tracker.FlagWrongDestination, "A")
		}, []string{"Fri 6 Mar 17:40:00 today A", "Fri 6 Mar 18:00:00 -"}},
		{"nobody asked for one", "", func(s *story) { s.handed("moor-end", "A") }, []string{}},
		{"the protocol does not know the one that was asked for", "fell-end", func(s *story) { s.handed("moor-end", "A") }, []string{}},
		{"lost, with a plan", "lab-reception", func(s *story) {
			s.handed("moor-end", "A")
			s.at("18:00").lost("A")
			s.at("18:30").discussed("not-assessed", "repeat-biopsy")
		}, []string{"Fri 6 Mar 17:40:00 today A", "Fri 6 Mar 18:30:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t).under(second)
			s.opened(to(tt.to))
			s.at("15:42").taken("A01")
			s.at("15:43").potted("A01")
			s.at("17:40").lab()
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagWrongDestination))
		})
	}
	s := newStory(t).under(second)
	s.opened(to("lab-reception"))
	s.at("17:40").lab().handed("moor-end", "A")
	f := s.flag(tracker.FlagWrongDestination, "A", "17:40")
	require.Equal(t, "laboratory", f.Who)
	require.Equal(t, "Pot A was received at Moor End laboratory on Fri 6 Mar 17:40 by lab.reed, but the request sends it to laboratory reception.", f.Text)
}

// condition is a scan that says how a thing looked.
func (s *story) condition(place, condition, thing string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.CustodyTaken{Place: place, Condition: condition}, thing)
}

func TestAPotThatLeaksOrIsDamagedIsSeenTo(t *testing.T) {
	tests := []struct {
		name   string
		hazard []string
		then   func(s *story)
		want   []string
	}{
		{"intact", nil, func(s *story) { s.condition("van", "intact", "A") }, []string{}},
		{"leaking", nil, func(s *story) { s.condition("van", "leaking", "A") }, []string{"Fri 6 Mar 16:30:00 today A"}},
		{"damaged", nil, func(s *story) { s.condition("van", "damaged", "A") }, []string{"Fri 6 Mar 16:30:00 today A"}},
		{"may hold tuberculosis", []string{"tb"}, func(s *story) { s.condition("van", "leaking", "A") }, []string{"Fri 6 Mar 16:30:00 now A"}},
		{"another hazard", []string{"blood-borne"}, func(s *story) { s.condition("van", "leaking", "A") }, []string{"Fri 6 Mar 16:30:00 today A"}},
		{"its bag leaks", nil, func(s *story) {
			s.at("16:20").packed("A")
			s.at("16:30").condition("van", "leaking", "bag")
		}, []string{"Fri 6 Mar 16:30:00 today A"}},
		{"its case's form is wet: what was not used is not meant", nil, func(s *story) { s.condition("van", "leaking", "case") }, []string{"Fri 6 Mar 16:30:00 today A"}},
		{"intact at the next scan: what happened is still to be answered", nil, func(s *story) {
			s.condition("van", "leaking", "A")
			s.at("17:30").lab().condition("lab-reception", "intact", "A")
		}, []string{"Fri 6 Mar 16:30:00 today A"}},
		{"answered", nil, func(s *story) {
			s.condition("van", "leaking", "A")
			s.at("16:40").answered(tracker.FlagPotDamaged, "A")
		}, []string{"Fri 6 Mar 16:30:00 today A", "Fri 6 Mar 16:40:00 -"}},
		{"answered, and it leaks again", nil, func(s *story) {
			s.condition("van", "leaking", "A")
			s.at("16:40").answered(tracker.FlagPotDamaged, "A")
			s.at("17:30").lab().condition("lab-reception", "leaking", "A")
		}, []string{"Fri 6 Mar 16:30:00 today A", "Fri 6 Mar 16:40:00 -", "Fri 6 Mar 17:30:00 today A"}},
		{"struck", nil, func(s *story) {
			e := s.condition("van", "leaking", "A")
			s.at("16:40").struck(e)
		}, []string{"Fri 6 Mar 16:30:00 today A", "Fri 6 Mar 16:40:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.request.Hazard = tt.hazard
			s.opened(plan("A", "formalin", "histology"), plan("B", "formalin", "histology"))
			s.at("15:42").taken("A01")
			s.at("15:43").potted("A01")
			s.at("16:30").porter()
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagPotDamaged))
		})
	}
	s := roomDone(t)
	s.at("16:30").porter().condition("van", "leaking", "A")
	f := s.flag(tracker.FlagPotDamaged, "A", "16:30")
	require.Equal(t, "porter.hale", f.Who)
	require.Equal(t, "Pot A was leaking when porter.hale took it over at the van on Fri 6 Mar 16:30.", f.Text)
	s.at("16:40").packed("A")
	s.at("16:50").answered(tracker.FlagPotDamaged, "A")
	s.at("17:00").condition("van", "damaged", "bag")
	require.Equal(t, "The bag with pot A was damaged when porter.hale took it over at the van on Fri 6 Mar 17:00.", s.flag(tracker.FlagPotDamaged, "A", "17:00").Text)
	for _, care := range []string{"gloves", "formalin", "the laboratory"} {
		require.Contains(t, f.Remedy, care)
	}
}

func TestTheLaboratoryAsksTheClinic(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"asked", func(*story) {}, []string{"Fri 6 Mar 18:00:00 today A"}},
		{"accessioned after it", func(s *story) { s.at("18:30").accessioned("A") }, []string{"Fri 6 Mar 18:00:00 today A", "Fri 6 Mar 18:30:00 -"}},
		{"accessioned before it", func(s *story) { s.at("17:50").accessioned("A") }, []string{"Fri 6 Mar 18:00:00 today A"}},
		{"accessioned with its case", func(s *story) { s.at("18:30").accessioned("case") }, []string{"Fri 6 Mar 18:00:00 today A", "Fri 6 Mar 18:30:00 -"}},
		{"opened after it", func(s *story) { s.at("18:30").counted("A", 2) }, []string{"Fri 6 Mar 18:00:00 today A", "Fri 6 Mar 18:30:00 -"}},
		{"opened before it", func(s *story) { s.at("17:50").counted("A", 2) }, []string{"Fri 6 Mar 18:00:00 today A"}},
		{"loaded: it went on", func(s *story) { s.at("18:30").loaded("A", "2026-03-09 06:00") }, []string{"Fri 6 Mar 18:00:00 today A", "Fri 6 Mar 18:30:00 -"}},
		{"refused: that says it", func(s *story) { s.at("18:30").refused("A", "mismatch") }, []string{"Fri 6 Mar 18:00:00 today A", "Fri 6 Mar 18:30:00 -"}},
		{"a result came", func(s *story) { s.at("18:30").issued(tracker.StageFinal, "B2", "case") }, []string{"Fri 6 Mar 18:00:00 today A", "Fri 6 Mar 18:30:00 -"}},
		{"a result came before it was asked", func(s *story) { s.at("17:59").issued(tracker.StageProvisional, "B2", "case") },
			[]string{"Fri 6 Mar 18:00:00 today A"}},
		{"a result came on another pot", func(s *story) { s.at("18:30").issued(tracker.StageFinal, "B2", "B") }, []string{"Fri 6 Mar 18:00:00 today A"}},
		{"asked again after it went on", func(s *story) {
			s.at("18:30").accessioned("A")
			s.at("19:00").record(&tracker.LabQueried{Why: "which side?"}, "A")
		}, []string{"Fri 6 Mar 18:00:00 today A", "Fri 6 Mar 18:30:00 -", "Fri 6 Mar 19:00:00 today A"}},
		{"an answer of the tool is not one to the laboratory", func(s *story) { s.at("18:30").answered(tracker.FlagLabQueried, "A") },
			[]string{"Fri 6 Mar 18:00:00 today A"}},
		{"struck", func(s *story) { s.at("18:30").struck(s.events[len(s.events)-1]) }, []string{"Fri 6 Mar 18:00:00 today A", "Fri 6 Mar 18:30:00 -"}},
		{"closed with a reason", func(s *story) { s.at("18:30").closed("withdrawn", "the patient wished so") },
			[]string{"Fri 6 Mar 18:00:00 today A", "Fri 6 Mar 18:30:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := roomDone(t).collected()
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("18:00").record(&tracker.LabQueried{Why: "the form does not say which side."}, "A")
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagLabQueried))
		})
	}
	s := roomDone(t).collected()
	s.at("18:00").lab().record(&tracker.LabQueried{Why: "the form does not say which side.", Needs: "a word from the operator"}, "A")
	f := s.flag(tracker.FlagLabQueried, "A", "18:00")
	require.Equal(t, "operator", f.Who)
	require.Equal(t, "Pot A: the laboratory keeps it and asks since Fri 6 Mar 18:00: the form does not say which side. It needs: a word from the operator.", f.Text)
}

func TestWhatWasSentElsewhereComesBack(t *testing.T) {
	sent := func(s *story, what, due string) *tracker.Event {
		f := &tracker.LabReferred{To: "Moor End", What: what}
		if due != "" {
			f.Due = s.instant(due)
		}
		return s.record(f, "A")
	}
	back := func(s *story, to, what string) *tracker.Event {
		return s.record(&tracker.LabReturned{To: to, What: what}, "A")
	}
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"away", func(s *story) { sent(s, "slides", "2026-03-16 12:00") }, []string{"Mon 16 Mar 12:00:01 today A"}},
		{"nobody said until when", func(s *story) { sent(s, "slides", "") }, []string{}},
		{"back at the very time", func(s *story) {
			sent(s, "slides", "2026-03-16 12:00")
			back(s.at("2026-03-16 12:00"), "Moor End", "slides")
		}, []string{}},
		{"back later", func(s *story) {
			sent(s, "slides", "2026-03-16 12:00")
			back(s.at("2026-03-17 09:00"), "Moor End", "")
		}, []string{"Mon 16 Mar 12:00:01 today A", "Tue 17 Mar 09:00:00 -"}},
		{"the return names where it came back to", func(s *story) {
			sent(s, "slides", "2026-03-16 12:00")
			back(s.at("2026-03-14 09:00"), "lab-reception", "slides")
		}, []string{}},
		{"the slides are back, the block is not", func(s *story) {
			sent(s, "block", "2026-03-16 12:00")
			sent(s, "slides", "2026-03-16 12:00")
			back(s.at("2026-03-14 09:00"), "Moor End", "slides")
		}, []string{"Mon 16 Mar 12:00:01 today A"}},
		{"sent again after it was back", func(s *story) {
			sent(s, "slides", "2026-03-16 12:00")
			back(s.at("2026-03-14 09:00"), "Moor End", "slides")
			sent(s.at("2026-03-14 10:00"), "slides", "2026-03-18 12:00")
		}, []string{"Wed 18 Mar 12:00:01 today A"}},
		{"an answer does not bring it back", func(s *story) {
			sent(s, "slides", "2026-03-16 12:00")
			s.at("2026-03-17 09:00").answered(tracker.FlagReferralLate, "A")
		}, []string{"Mon 16 Mar 12:00:01 today A"}},
		{"struck", func(s *story) {
			e := sent(s, "slides", "2026-03-16 12:00")
			s.at("2026-03-17 09:00").struck(e)
		}, []string{"Mon 16 Mar 12:00:01 today A", "Tue 17 Mar 09:00:00 -"}},
		{"recorded when its day was over", func(s *story) { sent(s, "slides", "2026-03-09 08:00") }, []string{"Mon 9 Mar 10:00:00 today A"}},
		{"closed with a reason", func(s *story) {
			sent(s, "slides", "2026-03-16 12:00")
			s.at("2026-03-17 09:00").closed("withdrawn", "the patient wished so")
		}, []string{"Mon 16 Mar 12:00:01 today A", "Tue 17 Mar 09:00:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := roomDone(t).collected()
			s.at("17:40").lab().handed("lab-reception", "A")
			s.accessioned("A")
			s.at("2026-03-09 10:00")
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagReferralLate))
		})
	}
	s := roomDone(t)
	sent(s.at("2026-03-09 10:00").lab(), "slides", "2026-03-16 12:00")
	f := s.flag(tracker.FlagReferralLate, "A", "2026-03-17 09:00")
	require.Equal(t, "laboratory", f.Who)
	require.Equal(t, "Pot A: slides went to Moor End on Mon 9 Mar 10:00, to be back by Mon 16 Mar 12:00, and no return is recorded.", f.Text)
	require.Equal(t, s.instant("2026-03-16 12:00"), f.Since.In(london))
	s = roomDone(t)
	sent(s.at("2026-03-09 10:00").lab(), "", "2026-03-16 12:00")
	require.Contains(t, s.flag(tracker.FlagReferralLate, "A", "2026-03-17 09:00").Text, "Pot A: material went to")
}

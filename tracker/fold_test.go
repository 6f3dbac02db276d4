package tracker_test

import (
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

var update = flag.Bool("update", false, "write golden files anew")

// whole compares what a story comes to, every field of it, with a golden file that was read line by line. -update writes
// it anew.
func (s *story) whole(golden string, state any) {
	s.t.Helper()
	text, err := json.MarshalIndent(state, "", "\t")
	require.NoError(s.t, err)
	text = append(text, '\n')
	name := filepath.Join("testdata", "fold", golden+".json")
	if *update {
		require.NoError(s.t, os.MkdirAll(filepath.Dir(name), 0o755))
		require.NoError(s.t, os.WriteFile(name, text, 0o644))
	}
	want, err := os.ReadFile(name)
	require.NoError(s.t, err)
	require.Equal(s.t, string(want), string(text))
}

func ptr[T any](v T) *T { return &v }

// What happens in the room, each kind of it, and what a request says after two amendments.
func TestWhatTheRoomComesTo(t *testing.T) {
	s := newStory(t)
	s.request.Order, s.request.Clinical, s.request.Hazard = "O-1", "a lump", []string{"tb"}
	s.opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"), plan("C", "saline", "culture"))
	s.at("09:10").amended(tracker.CaseAmended{Priority: ptr("urgent"), Room: ptr("room-1"), Planned: ptr(s.instant("15:30")), Order: ptr("O-2"),
		Clinical: ptr("two lumps"), RepeatOf: ptr(tracker.Name("MBY-25-00400")), Hazard: []string{"blood-borne"},
		Lesions: []tracker.Lesion{{Key: "L1", Organ: "breast", Side: "right"}, {Key: "L2", Organ: "node"}}})
	s.at("09:20").amended(tracker.CaseAmended{Patient: ptr("p-9")}) // no label yet: nobody has the wrong one in hand
	s.at("09:30").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "formalin", "histology", "receptors"), plan("B", "saline", "flow"), plan("D", "dry", "culture")}})
	s.at("09:31").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "formalin", "histology", "receptors"), plan("B", "saline", "flow"), plan("Z", "dry", "culture")}})
	s.at("15:30").checked()
	s.at("15:31").record(&tracker.PatientChecked{Room: "room-1"}, "case")
	s.at("15:32").printed("case", "A", "A01", "A02", "B", "B01")
	s.at("15:33").reprinted("A", '2', '1')
	s.at("15:34").spoiled("A", '1')
	s.at("15:34:30").spoiled("A", '1')
	s.at("15:35").amended(tracker.CaseAmended{Patient: ptr("p-10")})
	s.at("15:36").record(&tracker.PotFilled{Medium: "formalin", VolumeML: 20, Expires: "2027-01-31"}, "A")
	s.at("15:42").taken("A01/1", "A02")
	s.at("15:42:30").taken("A01") // said again: the first counts
	s.at("15:43").potted("A01/1")
	s.at("15:44").record(&tracker.PiecePotted{Pot: s.name + "-B", Medium: "saline"}, "A02")
	s.at("15:45").potted("A01")
	s.at("15:46").taken("B01")
	s.at("15:46:10").record(&tracker.PiecePotted{Pot: "MBY-26-00418-A"}, "B01")
	s.at("15:47").record(&tracker.PieceTaken{Lesion: "L1", What: "core", Pass: 2, From: s.name + "-A01"}, "A03")
	s.at("15:47:10").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.name + "-A03"}, "A04")
	s.at("15:47:20").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.name + "-A05"}, "A05")
	s.at("15:47:30").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: "MBY-26-00418-A01"}, "A06")
	s.at("15:48").record(&tracker.SpecimenImaged{Calcium: "not-seen"}, "A01")
	s.at("15:48:10").record(&tracker.SpecimenImaged{Calcium: "seen"}, "A01")
	s.at("15:48:20").record(&tracker.SpecimenImaged{Calcium: "not-seen"}, "A")
	s.at("15:49").record(&tracker.AdequacyChecked{Lesion: "L1", Adequate: ptr(true)}, "A01")
	s.at("15:50").sealed("A/2", "nurse.lund", 3)
	s.at("15:51").record(&tracker.ProcedureEnded{Outcome: "partly", Unused: []string{"c", "D", "MBY-26-00417-E", "nonsense"}}, "case")
	s.at("15:56").cleared()
	s.at("16:00").record(&tracker.NoteAdded{Text: "all well"}, "A/1")
	s.at("16:01").handed("hatch", "case/1")
	s.whole("room", s.folded())
}

// One kind of event on each pot: what counts as something that happened to it, and what as a first sign of it at the
// laboratory.
func TestWhatEachStepDoesToAPot(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	steps := []tracker.Fact{
		&tracker.PotFilled{Medium: "formalin"}, &tracker.PotSealed{ReadBackWith: "patient"}, &tracker.SpecimenImaged{Calcium: "seen"},
		&tracker.CustodyTaken{Place: "hatch", Holder: "porter.lind", Condition: "leaking"}, &tracker.PotLost{}, &tracker.PotDiscarded{},
		&tracker.LabAccessioned{Number: "T1"}, &tracker.LabQueried{Why: "which side?"}, &tracker.LabRefused{Why: "leaked", Note: "wet"},
		&tracker.LabOpened{}, &tracker.LabLoaded{Run: "evening"}, &tracker.StudiesAdded{Studies: []string{"flow", "flow", "histology"}},
		&tracker.ResultIssued{Stage: tracker.StageFinal}, &tracker.ClockPaused{Until: s.instant("2026-03-10 09:00"), Why: "waits"}, &tracker.NoteAdded{Text: "x"},
		&tracker.LabReferred{To: "elsewhere", Due: s.instant("2026-03-12 09:00")}, &tracker.LabReturned{To: "elsewhere"}, &tracker.PotFound{},
		&tracker.FlagAnswered{Flag: tracker.FlagRoomOpen, Done: "asked"}, &tracker.ChaseLogged{Asked: "the van", Next: s.instant("2026-03-07 09:00")},
	}
	for i, fact := range steps {
		s.clock = s.clock.Add(time.Minute)
		s.record(fact, string("ABCDEFGHJKLMNPQRSTUVWXY"[i]))
	}
	s.whole("pots", s.folded())
}

// The same steps about the whole case: a pot that nobody touched stays untouched.
func TestWhatAStepOnTheCaseDoesToItsPots(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"))
	s.at("09:01").filled("A", "formalin")
	s.at("09:02").record(&tracker.CustodyTaken{Place: "hatch"}, "case/1")
	s.at("09:03").record(&tracker.StudiesAdded{Studies: []string{"stains"}}, "case")
	s.at("09:04").accessioned("case")
	s.at("09:05").issued(tracker.StageFinal, "B2", "case")
	s.at("09:06").paused("2026-03-10 09:00", "case")
	s.whole("case", s.folded())

	for name, fact := range map[string]tracker.Fact{"accession": &tracker.LabAccessioned{Number: "T1"}, "result": &tracker.ResultIssued{Stage: tracker.StageFinal}} {
		s := newStory(t)
		s.opened(plan("A", "formalin", "histology"))
		s.at("09:04").record(fact, "case")
		p := s.folded().Pot("MBY-26-00417-A")
		require.False(t, p.HasEvents, name)
		require.Equal(t, name == "accession", !p.Arrived.IsZero(), name)
		s.at("09:05").record(fact, "A")
		require.True(t, s.folded().Pot("MBY-26-00417-A").HasEvents, name)
	}
}

// Steps that come twice: what is kept of the first and of the last.
func TestWhatIsKeptOfStepsThatComeTwice(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("09:10").opened(plan("B", "rpmi", "flow"))
	s.at("09:20").taken("A01")
	for _, at := range []string{"10:00", "11:00"} {
		s.at(at).record(&tracker.LabAccessioned{Number: "T" + at}, "A")
		s.record(&tracker.LabOpened{Pieces: ptr(len(s.events))}, "A")
		s.record(&tracker.LabOpened{}, "A")
		s.record(&tracker.LabLoaded{Run: at}, "A")
		s.record(&tracker.LabLoaded{Run: at}, "A01")
		s.record(&tracker.LabRefused{Why: "leaked"}, "A")
		s.record(&tracker.ProcedureEnded{Outcome: "done"}, "case")
		s.record(&tracker.CaseClosed{Outcome: "review"}, "case")
		s.paused("2026-03-10 09:00", "A")
	}
	s.at("12:00").resumed("A")
	s.at("12:01").record(&tracker.ClockPaused{Until: s.instant("12:05")}, "A")
	s.at("12:05").resumed("A")
	s.at("12:06").resumed("A")
	s.whole("twice", s.folded())
	s.at("13:00").record(&tracker.CaseReopened{Why: "more to do"}, "case")
	require.Nil(t, s.folded().Closing)
}

// A piece loaded by itself is a first sign of its pot at the laboratory; a pot found again is neither lost nor discarded.
func TestSignsOfAPot(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("10:00").loaded("A01", "")
	p := s.folded().Pot(s.name + "-A")
	require.Equal(t, s.instant("10:00"), p.Arrived)
	require.True(t, p.HasEvents)
	s.at("11:00").lost("A")
	s.discarded("A")
	require.NotNil(t, s.folded().Pot(s.name+"-A").Lost)
	require.NotNil(t, s.folded().Pot(s.name+"-A").Discarded)
	s.at("12:00").found("A")
	require.Nil(t, s.folded().Pot(s.name+"-A").Lost)
	require.Nil(t, s.folded().Pot(s.name+"-A").Discarded)
}

// What befalls a bag befalls the pots in it; two minutes are allowed between the clocks of two stations. Source: contract
// page on flags, Edges.
func TestWhatABagCarries(t *testing.T) {
	places := func(s *story, pot string) (out []string) {
		for _, h := range s.folded().Pot(s.name + "-" + tracker.Name(pot)).Custody {
			out = append(out, h.When.In(london).Format("15:04:05")+" "+h.Place)
		}
		return out
	}
	in := func(s *story, pot string) tracker.Name { return s.folded().Pot(s.name + "-" + tracker.Name(pot)).Bag }
	tests := []struct {
		name string
		tell func(s *story)
		want []string
		bag  bool
	}{
		{"packed, then taken", func(s *story) { s.at("10:00").packed("A"); s.at("10:30").porter().handed("van", "bag") }, []string{"10:30:00 van"}, true},
		{"taken two minutes before it was packed, by another clock", func(s *story) {
			s.at("10:00").porter().handed("van", "bag")
			s.at("10:02").by("nurse.osei", "room-2").packed("A")
		},
			[]string{"10:00:00 van"}, true},
		{"a second more", func(s *story) {
			s.at("10:00").porter().handed("van", "bag")
			s.at("10:02:01").by("nurse.osei", "room-2").packed("A")
		}, nil, true},
		{"the same clock", func(s *story) { s.at("10:00").handed("van", "bag"); s.at("10:01").packed("A") }, nil, true},
		{"opened two minutes before it was taken, by another clock", func(s *story) {
			s.at("10:00").packed("A")
			s.at("11:00").lab().unpacked()
			s.at("11:02").porter().handed("van", "bag")
		}, []string{"11:02:00 van"}, false},
		{"opened longer before", func(s *story) {
			s.at("10:00").packed("A")
			s.at("11:00").lab().unpacked()
			s.at("11:02:01").porter().handed("van", "bag")
		}, nil, false},
		{"taken out by an opening that names it", func(s *story) { s.at("11:00").lab().unpacked("A"); s.at("11:10").handed("van", "bag") }, nil, false},
		{"its own scan takes it out", func(s *story) {
			s.at("10:00").packed("A")
			s.at("10:30").porter().handed("hatch", "A")
			s.at("11:00").handed("van", "bag")
		}, []string{"10:30:00 hatch"}, false},
		{"so does its loss", func(s *story) {
			s.at("10:00").packed("A")
			s.at("10:30").lost("A")
			s.at("11:00").porter().handed("van", "bag")
		}, nil, false},
		{"and its being thrown away", func(s *story) {
			s.at("10:00").packed("A")
			s.at("10:30").discarded("A")
			s.at("11:00").porter().handed("van", "bag")
		}, nil, false},
		{"not the loss of the bag", func(s *story) {
			s.at("10:00").packed("A")
			s.at("10:30").lost("bag")
			s.at("11:00").porter().handed("van", "bag")
		},
			[]string{"11:00:00 van"}, true},
		{"a scan of its case does not take it out", func(s *story) {
			s.at("10:00").packed("A")
			s.at("10:30").porter().handed("hatch", "case")
			s.at("11:00").handed("van", "bag")
		}, []string{"10:30:00 hatch", "11:00:00 van"}, true},
		{"another bag", func(s *story) { s.at("10:00").packed("A"); s.at("11:00").porter().handed("van", "MBY-26-00013-Z") }, nil, true},
		{"a late packing of a scan that came first stands in order", func(s *story) {
			s.at("10:00").porter().handed("van", "bag")
			s.at("10:01").by("nurse.osei", "room-2").handed("hatch", "A")
			s.at("10:02").packed("A")
		}, []string{"10:00:00 van", "10:01:00 hatch"}, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "histology"))
			tt.tell(s)
			require.Equal(t, tt.want, places(s, "A"))
			require.Equal(t, tt.bag, in(s, "A") != "")
			if len(s.events) > 1 && (in(s, "A") != "" || tt.want != nil) {
				require.True(t, s.folded().Pot(s.name+"-A").HasEvents)
			}
		})
	}
}

// A bag's own state, every field of it.
func TestWhatABagComesTo(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("10:00").printed("bag")
	s.at("10:00:10").printed("bag") // said again
	s.at("10:01").reprinted("bag", '2', '1')
	s.at("10:02").spoiled("bag", '1')
	s.at("10:03").packed("A", "B")
	s.events[len(s.events)-1].Items[0].Copy = '2'
	s.at("10:04").record(&tracker.NoteAdded{Text: "torn"}, "bag/3")
	s.at("10:05").record(&tracker.ChaseLogged{Asked: "the van"}, "bag/4")
	s.at("10:06").record(&tracker.FlagAnswered{Flag: tracker.FlagLabelSuperseded, Done: "burnt"}, "bag/5")
	s.at("10:07").struck(s.record(&tracker.CustodyTaken{Place: "fridge"}, "bag/6"))
	s.at("10:30").porter().record(&tracker.CustodyTaken{Place: "van", Holder: "porter.lind", Condition: "intact", Count: ptr(2)}, "bag/2")
	late := s.at("10:40").handed("hatch", "bag")
	late.Record.Recorded = s.instant("10:39") // its clock runs a minute ahead
	fine := s.at("10:41").handed("hatch", "bag")
	fine.Record.Recorded = s.instant("10:40:01")
	s.at("10:45").record(&tracker.BagOpened{Pots: s.names("A")}, "bag")
	s.at("10:50").packed("C")
	s.whole("bag", tracker.FoldBag(s.bag, s.events))

	s = newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("10:30").record(&tracker.FlagAnswered{Flag: tracker.FlagBagShort, Done: "asked"}, "bag")
	s.at("10:31").struck(s.at("10:30:30").record(&tracker.NoteAdded{Text: "x"}, "bag"))
	require.Empty(t, tracker.FoldBag(s.bag, s.events).Strangers, "an answer and a strike are no scans")
	s.at("10:40").porter().handed("van", "A", "bag")
	s.at("10:50").handed("fridge", "bag")
	b := tracker.FoldBag(s.bag, s.events)
	require.False(t, b.Known)
	require.Len(t, b.Strangers, 1)
	require.Equal(t, s.instant("10:40"), b.Strangers[0].Mark.When)
	require.Len(t, b.Custody, 2)
	require.Equal(t, 4, b.Events, "the struck note does not count")
}

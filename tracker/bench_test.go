package tracker_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// wholeCase is a case of 60 events from opening to closing, in the order in which a ledger holds them.
func wholeCase() []*tracker.Event {
	var events []*tracker.Event
	at := start
	add := func(after time.Duration, kind tracker.Kind, data tracker.Fact, names ...tracker.Name) tracker.EventID {
		at = at.Add(after)
		id := tracker.EventID(fmt.Sprintf("0199f1c2-7b1e-7c3a-9d55-%012x", len(events)+1))
		e := &tracker.Event{ID: id, Kind: kind, Clinic: "MBY", At: at, By: "nurse.osei", Station: "room-2", Data: data,
			Record: tracker.Record{Seq: uint64(len(events) + 1), Origin: "node-a", OSeq: uint64(len(events) + 1), Recorded: at}}
		for _, n := range names {
			e.Items = append(e.Items, tracker.Item{Name: n, Copy: '1'})
		}
		events = append(events, e)
		return id
	}
	const bag = tracker.Name("MBY-26-00012-Z")
	pots := []tracker.Name{caseOne + "-A", caseOne + "-B"}
	add(0, tracker.KindCaseOpened, &tracker.CaseOpened{Patient: "p1", Priority: "routine", Room: "room-2",
		Lesions: []tracker.Lesion{{Key: "L1", Organ: "breast", Side: "left", Imaging: "U4"}, {Key: "L2", Organ: "axillary-node", Side: "left"}},
		Pots: []tracker.PlannedPot{{Pot: "A", Lesion: "L1", Medium: "formalin", Studies: []string{"histology", "receptors"}, Pieces: 5, To: "lab-reception"},
			{Pot: "B", Lesion: "L2", Medium: "formalin", Studies: []string{"histology"}, Pieces: 4, To: "lab-reception"}}}, caseOne)
	add(time.Hour, tracker.KindPatientChecked, &tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}, Confirmed: []string{"side"}, Room: "room-2"}, caseOne)
	var pieces []tracker.Name
	for i, pot := range pots {
		add(time.Minute, tracker.KindLabelPrinted, &tracker.LabelPrinted{Copy: '1'}, pot)
		for n := range 5 - i {
			piece, _ := pot.WithPiece(n + 1)
			pieces = append(pieces, piece)
			add(time.Second, tracker.KindLabelPrinted, &tracker.LabelPrinted{Copy: '1'}, piece)
		}
	}
	lesions := map[tracker.Name]string{pots[0]: "L1", pots[1]: "L2"}
	for _, s := range pieces {
		add(time.Minute, tracker.KindPieceTaken, &tracker.PieceTaken{Lesion: lesions[s.Pot()], What: "core"}, s)
		add(time.Minute, tracker.KindPiecePotted, &tracker.PiecePotted{}, s)
	}
	for _, pot := range pots {
		add(time.Minute, tracker.KindPotSealed, &tracker.PotSealed{ReadBackWith: "dr.varga"}, pot)
	}
	add(time.Minute, tracker.KindProcedureEnded, &tracker.ProcedureEnded{Outcome: "done"}, caseOne)
	add(time.Minute, tracker.KindRoomCleared, &tracker.RoomCleared{Room: "room-2"}, caseOne)
	add(time.Minute, tracker.KindCustodyTaken, &tracker.CustodyTaken{Place: "hatch"}, pots...)
	add(time.Minute, tracker.KindBagPacked, &tracker.BagPacked{Pots: pots}, bag)
	add(time.Hour, tracker.KindCustodyTaken, &tracker.CustodyTaken{Place: "van"}, bag)
	add(time.Hour, tracker.KindCustodyTaken, &tracker.CustodyTaken{Place: "lab-reception"}, bag)
	add(time.Minute, tracker.KindBagOpened, &tracker.BagOpened{Pots: pots}, bag)
	for _, pot := range pots {
		five := 5
		if pot == pots[1] {
			five = 4
		}
		add(time.Minute, tracker.KindLabAccessioned, &tracker.LabAccessioned{Number: "T26-100"}, pot)
		add(time.Minute, tracker.KindLabOpened, &tracker.LabOpened{Pieces: &five}, pot)
		add(8*time.Hour, tracker.KindLabLoaded, &tracker.LabLoaded{LeavesFormalin: at.Add(10 * time.Hour)}, pot)
	}
	final := add(24*time.Hour, tracker.KindResultIssued, &tracker.ResultIssued{Stage: tracker.StageFinal, Category: "B5b"}, caseOne)
	addendum := add(24*time.Hour, tracker.KindResultIssued, &tracker.ResultIssued{Stage: tracker.StageAddendum, Studies: []string{"receptors"}}, pots[0])
	both := []tracker.EventID{final, addendum}
	add(time.Hour, tracker.KindResultSeen, &tracker.ResultSeen{Results: both}, caseOne)
	add(time.Hour, tracker.KindCaseDiscussed, &tracker.CaseDiscussed{Results: both, Concordance: "concordant", Plan: "treat"}, caseOne)
	add(time.Hour, tracker.KindPatientTold, &tracker.PatientTold{Results: both, How: "in-person"}, caseOne)
	for len(events) < 59 {
		add(time.Minute, tracker.KindNoteAdded, &tracker.NoteAdded{Text: "seen"}, caseOne)
	}
	add(time.Hour, tracker.KindCaseClosed, &tracker.CaseClosed{Outcome: "treatment"}, caseOne)
	return events
}

// BenchmarkFoldAndCheck is one judgement of a case of 60 events; the bar is 60 µs.
func BenchmarkFoldAndCheck(b *testing.B) {
	rules := defaultRules(b)
	events := wholeCase()
	now := events[len(events)-1].At.Add(time.Hour)
	b.ReportAllocs()
	for b.Loop() {
		tracker.Judge(caseOne, events, rules, now)
	}
}

// BenchmarkCheck is one check of a folded case, at three steps of its way, without the folding; a million of them take as
// many seconds as one takes microseconds.
func BenchmarkCheck(b *testing.B) {
	rules := defaultRules(b)
	events := wholeCase()
	for _, step := range []struct {
		name string
		n    int
	}{{"in the room", 25}, {"on the way", 42}, {"closed", len(events)}} {
		b.Run(step.name, func(b *testing.B) {
			c := tracker.Fold(caseOne, events[:step.n])
			now := events[step.n-1].At.Add(time.Minute)
			b.ReportAllocs()
			for b.Loop() {
				tracker.Check(c, rules, now)
			}
		})
	}
}

// BenchmarkForecast is one look ahead for a pot at the hatch, over two vans a day, opening hours and an evening run.
func BenchmarkForecast(b *testing.B) {
	p, err := protocol.Parse([]byte(withVans()))
	if err != nil {
		b.Fatal(err)
	}
	rules, err := tracker.NewRules(p, time.LoadLocation)
	if err != nil {
		b.Fatal(err)
	}
	events := wholeCase()[:40]
	c := tracker.Fold(caseOne, events)
	now := events[len(events)-1].At.Add(time.Minute)
	if f := rules.Forecasts(c, "", now); len(f) == 0 || !f[0].Known {
		b.Fatalf("nothing is foreseen: %+v", f)
	}
	b.ReportAllocs()
	for b.Loop() {
		rules.Forecasts(c, caseOne+"-A", now)
	}
}

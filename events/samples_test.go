package events_test

import (
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// Things of the samples.
const (
	sampleCase  tracker.Name = "MBY-26-00417"
	samplePot   tracker.Name = "MBY-26-00417-A"
	samplePiece tracker.Name = "MBY-26-00417-A03"
	sampleBag   tracker.Name = "MBY-26-00012-Z"
)

var (
	sampleTime   = time.Date(2026, 3, 6, 15, 42, 10, 0, time.UTC)
	sampleLater  = time.Date(2026, 3, 9, 9, 30, 0, 500_000_000, time.FixedZone("", 3600))
	sampleID     = tracker.EventID("0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77")
	sampleResult = tracker.EventID("0199f1c3-0000-7000-8000-00000000002a")
)

func ptr[T any](v T) *T { return &v }

// sampleFacts has one fact a kind in which every field says something.
func sampleFacts() []tracker.Fact {
	lesions := []tracker.Lesion{{Key: "L1", Organ: "breast", Side: "left", Position: "2 o'clock", FromNippleMM: 40, SizeMM: 12.5, Target: "mass", Imaging: "U4"}}
	pots := []tracker.PlannedPot{{Pot: "A", Lesion: "L1", Medium: "formalin", Studies: []string{"histology", "receptors"}, Pieces: 4, Carrier: "cassette", To: "lab-reception"}}
	results := []tracker.EventID{sampleResult}
	protocol := "title = \"Marram Bay\"\n"
	sum := sha256.Sum256([]byte(protocol))
	return []tracker.Fact{
		&tracker.CaseOpened{Patient: "p-7f3a", Priority: "urgent", Room: "room-2", Planned: sampleLater, Lesions: lesions, Pots: pots,
			Order: "O-118", Clinical: "palpable, firm & <fixed>", Hazard: []string{"tb", "blood-borne"}, RepeatOf: "MBY-26-00399"},
		&tracker.CaseAmended{Patient: ptr("p-7f3a"), Priority: ptr("routine"), Room: ptr("room-1"), Planned: &sampleLater, Lesions: lesions, Pots: pots,
			Order: ptr("O-119"), Clinical: ptr("soft"), Hazard: []string{"tb"}, RepeatOf: ptr(tracker.Name("MBY-26-00399")), Why: "side corrected"},
		&tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}, Confirmed: []string{"side", "consent"}, With: "dr.varga", Room: "room-2"},
		&tracker.LabelPrinted{Copy: '2', Replaces: '1', Printer: "room-2-labels", Layout: "downtime"},
		&tracker.LabelSpoiled{Copy: 'Z', Why: "smudged"},
		&tracker.LabelBound{To: "MBY-26-00417-B"},
		&tracker.PieceTaken{Lesion: "L1", What: "core", Pass: 2, From: "MBY-26-00417-A01", Collector: "dr.varga", Gauge: 14, LengthMM: 18.5, Look: "grey-brown"},
		&tracker.PiecePotted{Pot: "MBY-26-00417-B", Medium: "saline"},
		&tracker.PotFilled{Medium: "formalin", VolumeML: 20, Lot: "F-2601", Expires: "2027-01-31"},
		&tracker.SpecimenImaged{Calcium: "not-seen"},
		&tracker.AdequacyChecked{Lesion: "L1", Adequate: ptr(false), Text: "few cells"},
		&tracker.MarkerPlaced{Lesion: "L1", Type: "coil", Lot: "M-9"},
		&tracker.PotSealed{ReadBackWith: "patient", Pieces: ptr(0)},
		&tracker.ProcedureEnded{Outcome: "partly", Why: "faint", Unused: []string{"C", "MBY-26-00417-D"}},
		&tracker.RoomCleared{Room: "room-2"},
		&tracker.PotRelabelled{New: "MBY-26-00417-B", Why: "label on the lid", Witness: "dr.varga"},
		&tracker.BagPacked{Pots: []tracker.Name{samplePot, "MBY-26-00417-B"}},
		&tracker.BagOpened{Pots: []tracker.Name{samplePot}},
		&tracker.CustodyTaken{Place: "van", Holder: "courier.3", Count: ptr(2), TemperatureC: ptr(-2.5), Condition: "leaking", Reference: "C-44"},
		&tracker.PotLost{Why: "not in the fridge", Place: "fridge"},
		&tracker.PotFound{Why: "behind the rack", Place: "fridge"},
		&tracker.PotDiscarded{Why: "asked by the laboratory", Place: "lab-reception"},
		&tracker.LabAccessioned{Number: "TR26-10032"},
		&tracker.LabQueried{Why: "which side?", Needs: "new form"},
		&tracker.LabRefused{Why: "wrong-medium", Note: "formalin for flow"},
		&tracker.LabOpened{Pieces: ptr(4)},
		&tracker.LabLoaded{Run: "overnight", LeavesFormalin: sampleLater},
		&tracker.LabReferred{To: "hollin-cross", What: "block", Due: sampleLater},
		&tracker.LabReturned{To: "hollin-cross", What: "slides", Due: sampleLater},
		&tracker.StudiesAdded{Studies: []string{"stains"}},
		&tracker.ResultIssued{Stage: "final", Studies: []string{"histology"}, Category: "B5b", Text: "invasive", Report: "R-1", Critical: true,
			Via: "telephone", GivenBy: "dr.lindt", ReadBack: true},
		&tracker.ResultSeen{Results: results},
		&tracker.CaseDiscussed{Results: results, Concordance: "concordant", Plan: "treat"},
		&tracker.PatientTold{Results: results, How: "in-person"},
		&tracker.CaseClosed{Outcome: "treatment", Why: "all answered"},
		&tracker.CaseReopened{Why: "addendum expected"},
		&tracker.ClockPaused{Why: "patient away", Until: sampleLater},
		&tracker.ClockResumed{Why: "patient back"},
		&tracker.ChaseLogged{Asked: "when will it be out?", Answer: "Thursday", Next: sampleLater, Level: 2},
		&tracker.FlagAnswered{Flag: "fixation-short", Done: "told the laboratory"},
		&tracker.NoteAdded{Text: "second needle used"},
		&tracker.EventStruck{Event: sampleResult, Why: "wrong pot scanned"},
		&tracker.ProtocolAdopted{SHA256: hex.EncodeToString(sum[:]), Text: protocol},
	}
}

// itemFor is a sample of a thing.
func itemFor(thing tracker.Thing) tracker.Item {
	switch thing {
	case tracker.ThingCase:
		return tracker.Item{Name: sampleCase}
	case tracker.ThingPot:
		return tracker.Item{Name: samplePot, Copy: '1'}
	case tracker.ThingPiece:
		return tracker.Item{Name: samplePiece, Copy: 'A'}
	}
	return tracker.Item{Name: sampleBag}
}

// minimal is the fact with only what it must have.
func minimal(full tracker.Fact) tracker.Fact {
	in := reflect.ValueOf(full).Elem()
	out := reflect.New(in.Type())
	keepRequired(in, out.Elem())
	return out.Interface().(tracker.Fact)
}

func keepRequired(in, out reflect.Value) {
	for i := range in.NumField() {
		must := in.Type().Field(i).Tag.Get("must") == "present"
		// A breast lesion needs its side although the tag cannot say so.
		must = must || in.Type().Field(i).Name == "Side"
		if !must {
			continue
		}
		from, to := in.Field(i), out.Field(i)
		if from.Kind() == reflect.Slice && from.Type().Elem().Kind() == reflect.Struct {
			to.Set(reflect.MakeSlice(from.Type(), from.Len(), from.Len()))
			for j := range from.Len() {
				keepRequired(from.Index(j), to.Index(j))
			}
			continue
		}
		to.Set(from)
	}
}

// sampleEvent puts a fact into an envelope about the things that its kind can be about.
func sampleEvent(fact tracker.Fact, things []tracker.Thing) *tracker.Event {
	e := &tracker.Event{ID: sampleID, Kind: fact.Kind(), Clinic: "MBY", At: sampleTime, By: "nurse.osei", Station: "room-2", Data: fact}
	for _, thing := range things {
		e.Items = append(e.Items, itemFor(thing))
	}
	return e
}

// samples are two events a kind, by name: everything said, and only what must be.
func samples() (names []string, events map[string][2]*tracker.Event) {
	events = map[string][2]*tracker.Event{}
	facts := sampleFacts()
	for i, info := range tracker.Kinds() {
		full := sampleEvent(facts[i], info.Things)
		full.At, full.Entered = sampleLater, tracker.EnteredPaper
		full.Record = tracker.Record{Origin: "mby-1", OSeq: 18231, Recorded: sampleTime.Add(1500 * time.Microsecond), Skew: -250 * time.Millisecond}
		var few []tracker.Thing
		if len(info.Things) > 0 {
			few = info.Things[:1]
		}
		names = append(names, string(info.Kind))
		events[string(info.Kind)] = [2]*tracker.Event{full, sampleEvent(minimal(facts[i]), few)}
	}
	return names, events
}

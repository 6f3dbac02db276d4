package tracker_test

import (
	"fmt"
	"time"

	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/tracker"
)

// start is a Friday afternoon's morning: windows over a weekend and working days come into play.
var start = time.Date(2026, time.March, 6, 9, 0, 0, 0, time.UTC)

// history is a drawn set of events about two cases in one room, a stranger, two bags and a downtime roll.
type history struct {
	events  []*tracker.Event
	cases   []tracker.Name
	watched []tracker.Name // cases and bags
}

func drawInstant(t *rapid.T) time.Time {
	return start.Add(time.Duration(rapid.Int64Range(0, int64(60*24*time.Hour/time.Second)).Draw(t, "now")) * time.Second)
}

type drawing struct {
	t       *rapid.T
	n       int
	history history
}

const (
	caseOne  = tracker.Name("MBY-26-00417")
	caseTwo  = tracker.Name("MBY-26-00418")
	stranger = tracker.Name("MBY-26-00500")
	roll     = tracker.Name("MBY-26-00900")
	bagOne   = tracker.Name("MBY-26-00012-Z")
	bagTwo   = tracker.Name("MBY-26-00013-Z")
)

func drawHistory(t *rapid.T) history {
	d := &drawing{t: t}
	d.history.cases = []tracker.Name{caseOne, caseTwo, stranger, roll}
	d.history.watched = append(append([]tracker.Name{}, d.history.cases...), bagOne, bagTwo)
	for range rapid.IntRange(8, 45).Draw(t, "events") {
		d.step()
	}
	return d.history
}

func pick[T any](d *drawing, label string, from ...T) T {
	return rapid.SampledFrom(from).Draw(d.t, label)
}

func (d *drawing) patientCase() tracker.Name {
	return pick(d, "case", caseOne, caseOne, caseTwo, caseTwo, stranger, roll)
}
func (d *drawing) pot() tracker.Name {
	return d.patientCase() + "-" + pick[tracker.Name](d, "letter", "A", "B", "C")
}
func (d *drawing) piece() tracker.Name {
	return d.pot() + pick[tracker.Name](d, "number", "01", "02", "03")
}
func (d *drawing) bag() tracker.Name { return pick(d, "bag", bagOne, bagTwo) }
func (d *drawing) pots() []tracker.Name {
	first, second := d.pot(), d.pot()
	if first == second || rapid.Bool().Draw(d.t, "one") {
		return []tracker.Name{first}
	}
	return []tracker.Name{first, second}
}

func (d *drawing) add(kind tracker.Kind, data tracker.Fact, names ...tracker.Name) {
	t := d.t
	d.n++
	at := start.Add(time.Duration(rapid.IntRange(0, 200).Draw(t, "minute"))*time.Minute + time.Duration(rapid.IntRange(0, 2).Draw(t, "day"))*24*time.Hour)
	if rapid.IntRange(0, 3).Draw(t, "odd second") == 0 {
		at = at.Add(time.Duration(rapid.IntRange(1, 59).Draw(t, "second")) * time.Second)
	}
	e := &tracker.Event{ID: tracker.EventID(fmt.Sprintf("0199f1c2-7b1e-7c3a-9d55-%012x", d.n)), Kind: kind, Clinic: "MBY", At: at,
		By: pick(d, "by", "nurse.osei", "porter.lund", "dr.varga"), Station: pick(d, "station", "room-2", "phone-1", "lab-1"), Data: data}
	if rapid.IntRange(0, 4).Draw(t, "recorded") != 0 {
		e.Record = tracker.Record{Seq: uint64(d.n), Origin: pick(d, "origin", "node-a", "node-b"), OSeq: uint64(d.n),
			Recorded: at.Add(time.Duration(rapid.IntRange(-10, 10).Draw(t, "delay")) * time.Minute),
			Skew:     time.Duration(rapid.IntRange(-3, 3).Draw(t, "skew")) * time.Minute}
	}
	for _, n := range names {
		item := tracker.Item{Name: n}
		if rapid.Bool().Draw(t, "scanned") {
			item.Copy = pick[tracker.Copy](d, "copy", '1', '1', '2')
		}
		e.Items = append(e.Items, item)
	}
	d.history.events = append(d.history.events, e)
}

func (d *drawing) lesions() []tracker.Lesion {
	return []tracker.Lesion{{Key: "L1", Organ: pick(d, "organ", "breast", "breast", "node", "thyroid", "liver"), Side: pick(d, "side", "left", "right"),
		Target: pick(d, "target", "mass", "calcification"), Imaging: pick(d, "imaging", "U5", "U3", "BI-RADS 4A", "")}}
}

func (d *drawing) plan() []tracker.PlannedPot {
	var plan []tracker.PlannedPot
	for _, letter := range []string{"A", "B"}[:rapid.IntRange(1, 2).Draw(d.t, "planned pots")] {
		plan = append(plan, tracker.PlannedPot{Pot: letter, Lesion: pick(d, "lesion", "L1", "L1", "L1", "L2"), Medium: pick(d, "medium", "formalin", "rpmi", "saline", "honey", "slides-dried"),
			Studies: []string{pick(d, "study", "histology", "receptors", "flow", "cytology"), "stains"}, Pieces: 2, To: "lab-reception"})
	}
	return plan
}

func (d *drawing) results() []tracker.EventID {
	return []tracker.EventID{d.someID(tracker.KindResultIssued), d.someID(tracker.KindResultIssued)}
}

// someID is the id of an event of the kind that was drawn before, or of none.
func (d *drawing) someID(kind tracker.Kind) tracker.EventID {
	var ids []tracker.EventID
	for _, e := range d.history.events {
		if e.Kind == kind {
			ids = append(ids, e.ID)
		}
	}
	if len(ids) == 0 {
		return "0199f1c2-7b1e-7c3a-9d55-ffffffffffff"
	}
	return rapid.SampledFrom(ids).Draw(d.t, "id")
}

// step draws one event. Kinds that carry a case on are drawn more often, so that the later ones find something.
func (d *drawing) step() {
	kinds := []tracker.Kind{tracker.KindCaseOpened, tracker.KindPieceTaken, tracker.KindPiecePotted, tracker.KindCustodyTaken,
		tracker.KindLabelPrinted, tracker.KindBagPacked, tracker.KindBagPacked, tracker.KindCustodyTaken, tracker.KindResultIssued, tracker.KindEventStruck, tracker.KindEventStruck}
	for _, info := range tracker.Kinds() {
		if info.Kind != tracker.KindProtocolAdopted {
			kinds = append(kinds, info.Kind)
		}
	}
	switch kind := rapid.SampledFrom(kinds).Draw(d.t, "kind"); kind {
	case tracker.KindEventStruck:
		d.strike()
	case tracker.KindLabelPrinted, tracker.KindLabelSpoiled, tracker.KindLabelBound, tracker.KindFlagAnswered, tracker.KindNoteAdded, tracker.KindChaseLogged:
		d.stepOnAny(kind)
	case tracker.KindBagPacked, tracker.KindBagOpened, tracker.KindCustodyTaken, tracker.KindPotLost, tracker.KindPotFound, tracker.KindPotDiscarded:
		d.stepOnTheWay(kind)
	default:
		if !d.stepInRoom(kind) {
			d.stepAfter(kind)
		}
	}
}

// strike takes out an event that was drawn before, sometimes under other names, so that it must not work.
func (d *drawing) strike() {
	if len(d.history.events) == 0 {
		return
	}
	target := rapid.SampledFrom(d.history.events).Draw(d.t, "target")
	if strike := d.someID(tracker.KindEventStruck); rapid.IntRange(0, 2).Draw(d.t, "again") == 0 {
		for _, e := range d.history.events {
			if e.ID == strike {
				target = e
			}
		}
	}
	var names []tracker.Name
	for _, item := range target.Items {
		names = append(names, item.Name)
	}
	if rapid.IntRange(0, 9).Draw(d.t, "wrong names") == 0 {
		names = []tracker.Name{d.pot()}
	}
	d.add(tracker.KindEventStruck, &tracker.EventStruck{Event: target.ID, Why: "mistake"}, names...)
}

func (d *drawing) stepOnAny(kind tracker.Kind) {
	thing := pick(d, "thing", d.patientCase(), d.pot(), d.piece(), d.bag())
	switch kind {
	case tracker.KindLabelPrinted:
		f := &tracker.LabelPrinted{Copy: pick[tracker.Copy](d, "copy", '1', '2')}
		if f.Copy == '2' && rapid.Bool().Draw(d.t, "replaces") {
			f.Replaces = '1'
		}
		if thing.Case() == roll {
			f.Layout = tracker.LayoutDowntime
		}
		d.add(kind, f, thing)
	case tracker.KindLabelSpoiled:
		d.add(kind, &tracker.LabelSpoiled{Copy: '1', Why: "jam"}, thing)
	case tracker.KindLabelBound:
		if rapid.Bool().Draw(d.t, "pot") {
			d.add(kind, &tracker.LabelBound{To: d.pot()}, roll+"-A")
		} else {
			d.add(kind, &tracker.LabelBound{To: d.piece()}, roll+"-A01")
		}
	case tracker.KindFlagAnswered:
		d.add(kind, &tracker.FlagAnswered{Flag: rapid.SampledFrom(tracker.FlagCatalog()).Draw(d.t, "flag").Kind, Done: "told"}, thing)
	case tracker.KindNoteAdded:
		d.add(kind, &tracker.NoteAdded{Text: "seen"}, thing)
	case tracker.KindChaseLogged:
		if thing.Thing() == tracker.ThingPiece {
			thing = thing.Pot()
		}
		d.add(kind, &tracker.ChaseLogged{Asked: "where?", Next: start.Add(72 * time.Hour)}, thing)
	}
}

func (d *drawing) stepOnTheWay(kind tracker.Kind) {
	thing := pick(d, "thing", d.pot(), d.bag())
	switch kind {
	case tracker.KindBagPacked:
		d.add(kind, &tracker.BagPacked{Pots: d.pots()}, d.bag())
		if n := rapid.IntRange(-1, 1).Draw(d.t, "counted with it"); n >= 0 {
			d.add(tracker.KindCustodyTaken, &tracker.CustodyTaken{Place: "van", Count: &n}, d.bag())
		}
	case tracker.KindBagOpened:
		d.add(kind, &tracker.BagOpened{Pots: d.pots()}, d.bag())
	case tracker.KindCustodyTaken:
		thing = pick(d, "thing", thing, d.patientCase())
		f := &tracker.CustodyTaken{Place: pick(d, "place", "hatch", "van", "lab-reception", "cellar")}
		if n := rapid.IntRange(-1, 2).Draw(d.t, "things counted"); n >= 0 {
			f.Count = &n
		}
		d.add(kind, f, thing)
	case tracker.KindPotLost:
		d.add(kind, &tracker.PotLost{}, thing)
	case tracker.KindPotFound:
		d.add(kind, &tracker.PotFound{}, thing)
	case tracker.KindPotDiscarded:
		d.add(kind, &tracker.PotDiscarded{}, thing)
	}
}

func (d *drawing) stepInRoom(kind tracker.Kind) bool {
	switch kind {
	case tracker.KindCaseOpened:
		d.add(kind, &tracker.CaseOpened{Patient: pick(d, "patient", "p1", "p2"), Priority: pick(d, "priority", "routine", "urgent", "next-day"),
			Room: "room-2", Planned: pick(d, "planned", time.Time{}, start), Lesions: d.lesions(), Pots: d.plan()}, d.patientCase())
	case tracker.KindCaseAmended:
		f := &tracker.CaseAmended{Why: "mistyped"}
		if rapid.Bool().Draw(d.t, "pots") {
			f.Pots = d.plan()
		} else {
			patient := pick(d, "patient", "p1", "p2")
			f.Patient, f.Lesions = &patient, d.lesions()
		}
		d.add(kind, f, d.patientCase())
	case tracker.KindPatientChecked:
		d.add(kind, &tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}, Confirmed: pick(d, "confirmed", nil, []string{"consent", "side"}), Room: "room-2"}, d.patientCase())
	case tracker.KindPieceTaken:
		f := &tracker.PieceTaken{Lesion: "L1", What: pick(d, "what", "core", "core", "aspirate", "slide"), Look: pick(d, "look", "", "firm-white", "grey-brown", "fatty", "pus"),
			Pass: pick(d, "pass", 0, 1, 2), Gauge: pick(d, "gauge", 0.0, 14, 18), LengthMM: pick(d, "length", 0.0, 18)}
		if rapid.IntRange(0, 4).Draw(d.t, "cut") == 0 {
			f.From = d.piece()
		}
		d.add(kind, f, d.piece())
	case tracker.KindPiecePotted:
		f := &tracker.PiecePotted{}
		if rapid.IntRange(0, 3).Draw(d.t, "other medium") == 0 {
			f.Medium = "saline"
		}
		d.add(kind, f, d.piece())
	case tracker.KindPotFilled:
		d.add(kind, &tracker.PotFilled{Medium: pick(d, "medium", "formalin", "rpmi"), VolumeML: pick(d, "volume", 0, 0.2, 0.6, 20), Expires: pick[tracker.Date](d, "expires", "", "2026-03-06")}, d.pot())
	case tracker.KindSpecimenImaged:
		d.add(kind, &tracker.SpecimenImaged{Calcium: pick(d, "calcium", "seen", "not-seen")}, pick(d, "thing", d.pot(), d.piece()))
	case tracker.KindAdequacyChecked:
		adequate := rapid.Bool().Draw(d.t, "adequate")
		d.add(kind, &tracker.AdequacyChecked{Lesion: "L1", Adequate: &adequate}, pick(d, "thing", d.patientCase(), d.piece()))
	case tracker.KindMarkerPlaced:
		d.add(kind, &tracker.MarkerPlaced{Lesion: "L1"}, d.patientCase())
	case tracker.KindPotSealed:
		n := rapid.IntRange(0, 3).Draw(d.t, "read aloud")
		d.add(kind, &tracker.PotSealed{ReadBackWith: pick(d, "with", "nurse.osei", "patient"), Pieces: &n}, d.pot())
	case tracker.KindProcedureEnded:
		d.add(kind, &tracker.ProcedureEnded{Outcome: pick(d, "outcome", "done", "not-done"), Unused: []string{"B"}}, d.patientCase())
	case tracker.KindRoomCleared:
		d.add(kind, &tracker.RoomCleared{Room: "room-2"}, d.patientCase())
	case tracker.KindPotRelabelled:
		d.add(kind, &tracker.PotRelabelled{New: d.pot(), Why: "mixed up", Witness: "dr.varga"}, d.pot())
	default:
		return false
	}
	return true
}

func (d *drawing) stepAfter(kind tracker.Kind) {
	n := rapid.IntRange(0, 3).Draw(d.t, "counted")
	switch kind {
	case tracker.KindLabAccessioned:
		d.add(kind, &tracker.LabAccessioned{Number: "T26-1"}, pick(d, "thing", d.pot(), d.patientCase()))
	case tracker.KindLabQueried:
		d.add(kind, &tracker.LabQueried{Why: "side?"}, d.pot())
	case tracker.KindLabRefused:
		d.add(kind, &tracker.LabRefused{Why: "leaked"}, d.pot())
	case tracker.KindLabOpened:
		d.add(kind, &tracker.LabOpened{Pieces: &n}, d.pot())
	case tracker.KindLabLoaded:
		d.add(kind, &tracker.LabLoaded{Run: "night"}, pick(d, "thing", d.pot(), d.piece()))
	case tracker.KindLabReferred:
		d.add(kind, &tracker.LabReferred{To: "elsewhere"}, d.pot())
	case tracker.KindLabReturned:
		d.add(kind, &tracker.LabReturned{To: "elsewhere"}, d.pot())
	case tracker.KindStudiesAdded:
		d.add(kind, &tracker.StudiesAdded{Studies: []string{"stains", "receptors"}}, d.pot())
	case tracker.KindResultIssued:
		f := &tracker.ResultIssued{Stage: pick(d, "stage", tracker.StageProvisional, tracker.StageFinal, tracker.StageAddendum, tracker.StageAmended),
			Category: pick(d, "category", "B2", "B5b", ""), Critical: rapid.Bool().Draw(d.t, "critical")}
		if rapid.Bool().Draw(d.t, "named") {
			f.Studies = []string{"receptors"}
		}
		d.add(kind, f, pick(d, "thing", d.pot(), d.patientCase()))
	case tracker.KindResultSeen:
		d.add(kind, &tracker.ResultSeen{Results: d.results()}, d.patientCase())
	case tracker.KindCaseDiscussed:
		d.add(kind, &tracker.CaseDiscussed{Results: d.results(), Concordance: pick(d, "concordance", "concordant", "not-assessed"), Plan: "review"}, d.patientCase())
	case tracker.KindPatientTold:
		d.add(kind, &tracker.PatientTold{Results: d.results(), How: pick(d, "how", "letter", "in-person")}, d.patientCase())
	case tracker.KindCaseClosed:
		d.add(kind, &tracker.CaseClosed{Outcome: pick(d, "outcome", "discharged", "died", "gone"), Why: pick(d, "why", "", "told all")}, d.patientCase())
	case tracker.KindCaseReopened:
		d.add(kind, &tracker.CaseReopened{Why: "more"}, d.patientCase())
	case tracker.KindClockPaused:
		d.add(kind, &tracker.ClockPaused{Why: "holiday", Until: start.Add(96 * time.Hour)}, pick(d, "thing", d.pot(), d.patientCase()))
	case tracker.KindClockResumed:
		d.add(kind, &tracker.ClockResumed{Why: "back"}, pick(d, "thing", d.pot(), d.patientCase()))
	}
}

package tracker

// KindInfo is one row of the table of kinds.
type KindInfo struct {
	Kind   Kind
	Things []Thing     // what its items may be; nil for protocol.adopted, which has none
	New    func() Fact // an empty fact of this kind
}

// The kinds of events.
const (
	KindCaseOpened      Kind = "case.opened"
	KindCaseAmended     Kind = "case.amended"
	KindPatientChecked  Kind = "patient.checked"
	KindLabelPrinted    Kind = "label.printed"
	KindLabelSpoiled    Kind = "label.spoiled"
	KindLabelBound      Kind = "label.bound"
	KindPieceTaken      Kind = "piece.taken"
	KindPiecePotted     Kind = "piece.potted"
	KindPotFilled       Kind = "pot.filled"
	KindSpecimenImaged  Kind = "specimen.imaged"
	KindAdequacyChecked Kind = "adequacy.checked"
	KindMarkerPlaced    Kind = "marker.placed"
	KindPotSealed       Kind = "pot.sealed"
	KindProcedureEnded  Kind = "procedure.ended"
	KindRoomCleared     Kind = "room.cleared"
	KindPotRelabelled   Kind = "pot.relabelled"
	KindBagPacked       Kind = "bag.packed"
	KindBagOpened       Kind = "bag.opened"
	KindCustodyTaken    Kind = "custody.taken"
	KindPotLost         Kind = "pot.lost"
	KindPotFound        Kind = "pot.found"
	KindPotDiscarded    Kind = "pot.discarded"
	KindLabAccessioned  Kind = "lab.accessioned"
	KindLabQueried      Kind = "lab.queried"
	KindLabRefused      Kind = "lab.refused"
	KindLabOpened       Kind = "lab.opened"
	KindLabLoaded       Kind = "lab.loaded"
	KindLabReferred     Kind = "lab.referred"
	KindLabReturned     Kind = "lab.returned"
	KindStudiesAdded    Kind = "studies.added"
	KindResultIssued    Kind = "result.issued"
	KindResultSeen      Kind = "result.seen"
	KindCaseDiscussed   Kind = "case.discussed"
	KindPatientTold     Kind = "patient.told"
	KindCaseClosed      Kind = "case.closed"
	KindCaseReopened    Kind = "case.reopened"
	KindClockPaused     Kind = "clock.paused"
	KindClockResumed    Kind = "clock.resumed"
	KindChaseLogged     Kind = "chase.logged"
	KindFlagAnswered    Kind = "flag.answered"
	KindNoteAdded       Kind = "note.added"
	KindEventStruck     Kind = "event.struck"
	KindProtocolAdopted Kind = "protocol.adopted"
)

// Kinds lists every kind in the order of the contract's tables.
func Kinds() []KindInfo {
	const c, p, s, b = ThingCase, ThingPot, ThingPiece, ThingBag
	any := []Thing{c, p, s, b}
	return []KindInfo{
		{KindCaseOpened, []Thing{c}, func() Fact { return new(CaseOpened) }},
		{KindCaseAmended, []Thing{c}, func() Fact { return new(CaseAmended) }},
		{KindPatientChecked, []Thing{c}, func() Fact { return new(PatientChecked) }},
		{KindLabelPrinted, any, func() Fact { return new(LabelPrinted) }},
		{KindLabelSpoiled, any, func() Fact { return new(LabelSpoiled) }},
		{KindLabelBound, []Thing{c, p, s}, func() Fact { return new(LabelBound) }},
		{KindPieceTaken, []Thing{s}, func() Fact { return new(PieceTaken) }},
		{KindPiecePotted, []Thing{s}, func() Fact { return new(PiecePotted) }},
		{KindPotFilled, []Thing{p}, func() Fact { return new(PotFilled) }},
		{KindSpecimenImaged, []Thing{p, s}, func() Fact { return new(SpecimenImaged) }},
		{KindAdequacyChecked, []Thing{c, s}, func() Fact { return new(AdequacyChecked) }},
		{KindMarkerPlaced, []Thing{c}, func() Fact { return new(MarkerPlaced) }},
		{KindPotSealed, []Thing{p}, func() Fact { return new(PotSealed) }},
		{KindProcedureEnded, []Thing{c}, func() Fact { return new(ProcedureEnded) }},
		{KindRoomCleared, []Thing{c}, func() Fact { return new(RoomCleared) }},
		{KindPotRelabelled, []Thing{p}, func() Fact { return new(PotRelabelled) }},
		{KindBagPacked, []Thing{b}, func() Fact { return new(BagPacked) }},
		{KindBagOpened, []Thing{b}, func() Fact { return new(BagOpened) }},
		{KindCustodyTaken, []Thing{p, b, c}, func() Fact { return new(CustodyTaken) }},
		{KindPotLost, []Thing{p, b}, func() Fact { return new(PotLost) }},
		{KindPotFound, []Thing{p, b}, func() Fact { return new(PotFound) }},
		{KindPotDiscarded, []Thing{p, b}, func() Fact { return new(PotDiscarded) }},
		{KindLabAccessioned, []Thing{c, p}, func() Fact { return new(LabAccessioned) }},
		{KindLabQueried, []Thing{p}, func() Fact { return new(LabQueried) }},
		{KindLabRefused, []Thing{p}, func() Fact { return new(LabRefused) }},
		{KindLabOpened, []Thing{p}, func() Fact { return new(LabOpened) }},
		{KindLabLoaded, []Thing{p, s}, func() Fact { return new(LabLoaded) }},
		{KindLabReferred, []Thing{p}, func() Fact { return new(LabReferred) }},
		{KindLabReturned, []Thing{p}, func() Fact { return new(LabReturned) }},
		{KindStudiesAdded, []Thing{p}, func() Fact { return new(StudiesAdded) }},
		{KindResultIssued, []Thing{c, p}, func() Fact { return new(ResultIssued) }},
		{KindResultSeen, []Thing{c}, func() Fact { return new(ResultSeen) }},
		{KindCaseDiscussed, []Thing{c}, func() Fact { return new(CaseDiscussed) }},
		{KindPatientTold, []Thing{c}, func() Fact { return new(PatientTold) }},
		{KindCaseClosed, []Thing{c}, func() Fact { return new(CaseClosed) }},
		{KindCaseReopened, []Thing{c}, func() Fact { return new(CaseReopened) }},
		{KindClockPaused, []Thing{c, p}, func() Fact { return new(ClockPaused) }},
		{KindClockResumed, []Thing{c, p}, func() Fact { return new(ClockResumed) }},
		{KindChaseLogged, []Thing{c, p, b}, func() Fact { return new(ChaseLogged) }},
		{KindFlagAnswered, any, func() Fact { return new(FlagAnswered) }},
		{KindNoteAdded, any, func() Fact { return new(NoteAdded) }},
		{KindEventStruck, any, func() Fact { return new(EventStruck) }},
		{KindProtocolAdopted, nil, func() Fact { return new(ProtocolAdopted) }},
	}
}

package tracker

import "fmt"

// Right is one line of the table of who may do what: recording a kind of event, or seeing and doing something that is no
// event. The table is the only place where that stands; README and flags draw on it. No published source gives it: all of
// it is common practice, and the clinic's lists of staff say who has which role.
type Right struct {
	Key   string // a kind of event, or one of the May… keys
	Roles Roles  // who may; of physical steps: who does it
	// Physical says that recording it is never refused, since it has happened, whoever scanned it: the wrong role is flagged.
	Physical bool
	Doing    string // begins a sentence when its first letter is made large: "sealing a pot"
	But      string // what narrows or widens it, for the table; "" for nothing
	Why      string // why just these
}

// inTheRoom are those who do the biopsy.
const inTheRoom = Operators | Clinicians

// atWork are those who have a case's tissue or its answer in their care, porters excepted, who carry closed bags.
const atWork = inTheRoom | LaboratoryStaff | Coordinators

// RecordRights lists what each kind of event needs, in the order of [Kinds].
func RecordRights() []Right {
	const place = "at a room, hatch or fridge an operator, a clinician or a porter; in a vehicle or at a laboratory a porter or the laboratory; at a place that the protocol lacks anybody"
	hand := func(kind Kind, roles Roles, doing, why string) Right {
		return Right{Key: string(kind), Roles: roles, Physical: true, Doing: doing, Why: why}
	}
	word := func(kind Kind, roles Roles, doing, why string) Right {
		return Right{Key: string(kind), Roles: roles, Doing: doing, Why: why}
	}
	but := func(r Right, but string) Right { r.But = but; return r }
	const (
		room  = "done at the patient, by those who do the biopsy"
		label = "a label is there, or gone, whoever says so"
		lab   = "done at the laboratory"
	)
	return []Right{
		word(KindCaseOpened, inTheRoom|Coordinators|Administrators, "opening a case", "whoever takes requests, or loads the clinic's list"),
		word(KindCaseAmended, inTheRoom|Coordinators, "correcting a request", "whoever has the request and the patient before them"),
		hand(KindPatientChecked, inTheRoom, "checking identity", room),
		hand(KindLabelPrinted, Everybody, "printing a label", label),
		hand(KindLabelSpoiled, Everybody, "destroying a label", label),
		hand(KindLabelBound, Everybody, "saying what a label of a downtime roll stands for", "the label is on the thing already; binding asks for a right where a candidate is picked"),
		hand(KindPieceTaken, inTheRoom, "taking a piece", room),
		hand(KindPiecePotted, inTheRoom, "putting a piece into its pot", room),
		hand(KindPotFilled, inTheRoom, "filling a pot", room),
		hand(KindSpecimenImaged, inTheRoom, "imaging the specimen", room),
		hand(KindAdequacyChecked, inTheRoom|LaboratoryStaff, "microscopy on the spot", "the laboratory may come to the room"),
		hand(KindMarkerPlaced, inTheRoom, "placing a marker", room),
		hand(KindPotSealed, inTheRoom, "sealing a pot", room),
		hand(KindProcedureEnded, inTheRoom, "ending the procedure", room),
		hand(KindRoomCleared, inTheRoom, "clearing the room", room),
		hand(KindPotRelabelled, inTheRoom|LaboratoryStaff, "giving a pot another label", "the laboratory may find the swap"),
		hand(KindBagPacked, Operators|Porters|LaboratoryStaff, "packing a bag", "those who send and carry"),
		hand(KindBagOpened, Operators|Porters|LaboratoryStaff, "opening a bag", "those who carry and receive"),
		but(hand(KindCustodyTaken, inTheRoom|Porters|LaboratoryStaff, "taking a thing over at such a place", "those who pass it on"), place),
		hand(KindPotLost, atWork|Porters, "saying what is lost or found", "whoever misses it"),
		hand(KindPotFound, atWork|Porters, "saying what is lost or found", "whoever finds it, coordinators look for it"),
		hand(KindPotDiscarded, inTheRoom|LaboratoryStaff, "throwing a thing away", "those who answer for tissue"),
		hand(KindLabAccessioned, LaboratoryStaff, "giving a thing the laboratory's number", lab),
		hand(KindLabQueried, LaboratoryStaff, "asking or refusing for the laboratory", lab),
		hand(KindLabRefused, LaboratoryStaff, "asking or refusing for the laboratory", lab),
		hand(KindLabOpened, LaboratoryStaff, "opening a pot for description", lab),
		hand(KindLabLoaded, LaboratoryStaff, "loading the processor", lab),
		hand(KindLabReferred, LaboratoryStaff, "sending on and taking back for the laboratory", lab),
		hand(KindLabReturned, LaboratoryStaff, "sending on and taking back for the laboratory", lab),
		word(KindStudiesAdded, atWork, "asking for more studies", "a clinician or the laboratory asks, others write it down; too much is asked for at worst"),
		but(word(KindResultIssued, LaboratoryStaff, "issuing a result", "a result is the laboratory's word"),
			"one that came by telephone or on paper also a clinician or a coordinator, who took it down"),
		word(KindResultSeen, Clinicians, "reading and taking on a result", "who reads it answers for what follows"),
		word(KindCaseDiscussed, Clinicians, "putting imaging and pathology side by side", "it settles discordance"),
		word(KindPatientTold, Clinicians|Coordinators, "saying that the patient was told", "it ends every reminder to tell them"),
		word(KindCaseClosed, Clinicians|Coordinators, "closing a case", "nothing is watched for afterwards"),
		word(KindCaseReopened, inTheRoom|Coordinators, "opening a closed case again", "it makes the program watch again: nothing is lost by it"),
		word(KindClockPaused, Clinicians|Coordinators, "pausing a clock", "it silences what is overdue, so not the laboratory, whose clock it is"),
		word(KindClockResumed, atWork, "letting a clock go on", "nothing is lost by it"),
		word(KindChaseLogged, inTheRoom|Coordinators, "logging a call", "it puts a row of the chase list to sleep"),
		but(word(KindFlagAnswered, atWork, "answering a flag", "what was done about it stays readable, a strike takes it back"),
			"of the way a porter too; of the record itself an administrator too"),
		word(KindNoteAdded, Everybody, "adding a note", "it changes nothing"),
		word(KindEventStruck, atWork|Administrators, "striking an event", "it takes something out that somebody said; the struck event stays readable"),
		word(KindProtocolAdopted, Administrators, "adopting a protocol", "all rules and rights hang on it"),
	}
}

// recordRight is [RecordRights] by kind, made once and never changed.
var recordRight = func() map[Kind]Right {
	m := map[Kind]Right{}
	for _, r := range RecordRights() {
		m[Kind(r.Key)] = r
	}
	return m
}()

// RecordRight is the line of one kind of event; a kind that is none has the zero Right, which nobody has.
func RecordRight(kind Kind) Right { return recordRight[kind] }

// Physical reports whether recording an event of the kind is never refused for want of a right.
func Physical(kind Kind) bool { return recordRight[kind].Physical }

// Recorders are the roles that may record just this event, or do this step. A custody scan goes by the role of its place;
// at a place that the protocol does not know nobody is out of place. A result that came by telephone or on paper may be
// taken down in the clinic. A flag may be answered by those who are shown it.
func (r *Rules) Recorders(e *Event) Roles {
	right := recordRight[e.Kind]
	switch d := e.Data.(type) {
	case *CustodyTaken:
		switch r.role(d.Place) {
		case roleLaboratory, roleVehicle:
			return LaboratoryStaff | Porters
		case roleRoom, roleHatch, roleFridge:
			return inTheRoom | Porters
		}
		return Everybody
	case *ResultIssued:
		if d.Via == "telephone" || d.Via == "paper" {
			return right.Roles | Clinicians | Coordinators
		}
	case *FlagAnswered:
		return right.Roles | FlagSeers(d.Flag)&^QualityLeads
	}
	return right.Roles
}

// FlagSeers are the roles that are shown flags of a kind. Porters see what goes wrong on the way, and administrators what is
// wrong with the record itself; neither sees a lesion or a result by that role alone.
func FlagSeers(kind FlagKind) Roles {
	const seers = atWork | QualityLeads
	switch kind {
	case FlagCollectionLate, FlagHandoffGap, FlagNotAtLab, FlagBagShort, FlagBagExtra, FlagBagUnfit, FlagCustodyBroken, FlagWrongDestination,
		FlagPotDamaged, FlagPotLost, FlagUnknownItem, FlagLabelSuperseded, FlagFreshLate, FlagFixationWillBeShort, FlagFixationWillBeLong:
		return seers | Porters
	case FlagClockDoubtful, FlagRoleDoubtful, FlagProtocolGap, FlagNotJudged:
		return seers | Administrators
	}
	return seers
}

// Lacks says of somebody with these roles what they may not do, and whom to ask, in sentences for staff. It repeats no
// content of the event.
func (r *Rules) Lacks(doing string, may Roles, staff string) string {
	has := "no list of the protocol names " + staff
	if roles := r.RolesOf(staff); roles != 0 {
		has = fmt.Sprintf("the protocol has %s as %s", staff, roles)
	}
	return capital(doing) + " is for " + may.String() + ", and " + has + ". " + r.WhomToAsk(may)
}

// WhomToAsk is the sentence that names who can help when a right is missing: one of those who have it, with the number if
// the protocol gives one.
func (r *Rules) WhomToAsk(may Roles) string {
	for _, helper := range []Roles{Coordinators, Clinicians, LaboratoryStaff, Operators, Administrators} {
		if may&helper == 0 {
			continue
		}
		key := helper.Keys()[0]
		who := "the " + key
		if contact := r.p.Contacts[key]; contact != "" {
			who += " (" + contact + ")"
		}
		if helper == Administrators {
			return "Ask " + who + "."
		}
		return "Ask " + who + ", or the administrator if the lists of staff lack a role."
	}
	return "Ask the administrator."
}

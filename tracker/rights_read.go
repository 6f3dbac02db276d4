package tracker

// What may be seen or done that is no event, by its key in the table of rights. Questions have the key of their word.
const (
	MaySeeCase        = "case"          // where a case or bag stands, with its trail
	MaySeePot         = "pot"           // the same of a pot or piece
	MaySeeFlags       = "flags"         // what is wrong; which kinds, says [FlagSeers]
	MaySeeChase       = "chase"         // the chase list
	MaySeeCodes       = "codes"         // what a code stands for, and where it is
	MaySeeProof       = "proof"         // a case's events, with proof
	MaySeeEvents      = "events"        // the record, event by event
	MaySeeBoard       = "board"         // the live page, and what changes on it
	MaySeeTurnaround  = "turnaround"    // measures, of no single patient
	MaySeeProtocol    = "protocol"      // the rules in force
	MaySeeCheckpoint  = "checkpoint"    // signed roots of the record
	MaySeeRefused     = "refused"       // messages that were refused, as they came
	MaySeeReads       = "people-reads"  // who was shown what of whom
	MaySeeDoubts      = "doubts"        // what was recorded of people who were not signed in
	MayOpen           = "open"          // a case, with its patient
	MayPrint          = "print"         // labels of things, which show the patient
	MayReserve        = "reserve"       // numbers for a downtime roll
	MayBind           = "bind"          // pick what a label of a downtime roll stands for
	MayFindPeople     = "people-find"   // a patient by name and birth date, or a number
	MayForget         = "people-forget" // destroy a patient's record
	MayRotateKey      = "people-key"    // change the master key
	MaySeePrinters    = "printers"      // how printers are, and what waits for them
	MayTendPrinters   = "printers-tend" // calibrate, say whether a label came out, call one off
	MayManageStaff    = "staff"         // badges, PINs, lockouts
	MayManageStations = "stations"      // enrol and remove
	MayBackUp         = "backup"        // a copy of everything that is recorded
	MayCheckLedger    = "fsck"          // have every hash computed again
)

// ReadRights lists what may be seen and done that is no event.
func ReadRights() []Right {
	may := func(key string, roles Roles, doing, why string) Right {
		return Right{Key: key, Roles: roles, Doing: doing, Why: why}
	}
	but := func(r Right, but string) Right { r.But = but; return r }
	const (
		trail   = "lesions and results stand in it: for those who have the case in their care, and for quality, since it names no patient"
		patient = "a patient is shown: each look is noted"
		setUp   = "set-up"
	)
	return []Right{
		but(may(MaySeeCase, atWork|QualityLeads, "looking at a case", trail), "of a bag a porter too"),
		may(MaySeePot, atWork|QualityLeads, "looking at a pot", trail),
		but(may(MaySeeFlags, atWork|QualityLeads, "looking at flags", "their sentences tell lesions and results"),
			"of one kind of the way a porter too; of one kind of the record itself an administrator too"),
		may(MaySeeChase, inTheRoom|Coordinators, "looking at the chase list", "those who chase and are chased"),
		but(may(MaySeeCodes, Everybody, "looking up a code", "whoever scans must be told what it is, where it is and who has it"),
			"how bad its worst flag is, only those who may look at flags"),
		may(MaySeeProof, Clinicians|LaboratoryStaff|Coordinators|QualityLeads, "handing out a proof", "it holds every event of the case; it leaves the house in a file"),
		may(MaySeeEvents, Clinicians|Coordinators|QualityLeads, "reading the record event by event", "all cases of a clinic at once"),
		may(MaySeeBoard, atWork|QualityLeads, "looking at what is open", "as flags"),
		may(MaySeeTurnaround, Everybody, "looking at turnaround", "figures of many cases"),
		may(MaySeeProtocol, Everybody, "reading the protocol", "everybody is judged by it"),
		may(MaySeeCheckpoint, Everybody, "looking at checkpoints", "they are given out to anybody"),
		may(MaySeeRefused, Clinicians|Coordinators, "looking at what was refused", "results and names may stand in it; each look is noted"),
		may(MaySeeReads, Administrators, "looking at who was shown whom", "whoever reads records does not also watch who reads them"),
		may(MaySeeDoubts, Coordinators|Administrators, "looking at what nobody signed in for", "they know who was where"),
		may(MayOpen, inTheRoom|Coordinators|Administrators, "opening a case", "as the event"),
		but(may(MayPrint, inTheRoom|Coordinators, "printing labels", patient), "of a bag a porter and the laboratory too"),
		may(MayReserve, inTheRoom|Coordinators|Administrators, "reserving a downtime roll", "numbers alone, and they are many"),
		may(MayBind, atWork, "picking what a downtime label stands for", patient),
		may(MayFindPeople, inTheRoom|Coordinators, "finding a patient", patient),
		may(MayForget, Administrators, "forgetting a patient", "it cannot be taken back"),
		may(MayRotateKey, Administrators, "changing the master key", setUp),
		may(MaySeePrinters, atWork|Administrators, "looking at printers", "codes and no names"),
		may(MayTendPrinters, inTheRoom|Coordinators|Administrators, "tending printers", "whoever stands at one"),
		may(MayManageStaff, Administrators, "setting up staff", setUp),
		may(MayManageStations, Administrators, "setting up stations", setUp),
		may(MayBackUp, Administrators, "making a backup", setUp),
		may(MayCheckLedger, Administrators, "checking the whole record", setUp),
	}
}

// readRight is [ReadRights] by key, made once and never changed.
var readRight = func() map[string]Right {
	m := map[string]Right{}
	for _, r := range ReadRights() {
		m[r.Key] = r
	}
	return m
}()

// ReadRight is the line of one of the May… keys; a key that is none has the zero Right, which nobody has.
func ReadRight(key string) Right { return readRight[key] }

// Readers are the roles that may see or do what a key says of just this thing, or this kind of flag; both may be "". A bag is
// the porter's too: neither its trail nor its label tells of a patient.
func Readers(key string, about Name, kind FlagKind) Roles {
	may := readRight[key].Roles
	switch {
	case key == MaySeeFlags && kind != "":
		return FlagSeers(kind)
	case about.Thing() != ThingBag:
	case key == MaySeeCase:
		may |= Porters
	case key == MayPrint:
		may |= Porters | LaboratoryStaff
	}
	return may
}

package tracker

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// handling is one physical step: which event, and the thing that was scanned.
type handling struct {
	Item  Name
	Event *Event
}

// people is a set of roles of people.
type people uint8

const (
	operators people = 1 << iota
	clinicians
	porters
	laboratories
	coordinators
	administrators // and those who see to quality: they take no tissue in hand
)

// peopleOf reads a role of a protocol's staff.
func peopleOf(role string) people {
	switch role {
	case "operator":
		return operators
	case "clinician":
		return clinicians
	case "porter":
		return porters
	case "laboratory":
		return laboratories
	case "coordinator":
		return coordinators
	}
	return administrators
}

// whoDoes lists the roles of people that do a physical step of a kind, or nil when the kind is none: writing, printing and
// answering may be anybody's. A custody scan goes by the role of its place; at a place that the protocol does not know
// nobody is out of place. Those who lead, count and administer take no tissue in hand. Common practice, no source:
//
//	in the room               operators and clinicians
//	on-site microscopy        the laboratory too
//	pot.relabelled            the laboratory too, which may find the swap
//	bags                      operators, porters, the laboratory
//	custody in a room, at the hatch or fridge    operators, clinicians, porters
//	custody in a vehicle      porters, the laboratory
//	custody at a laboratory   the laboratory, porters
//	lost and found            all of these, and coordinators, who look for it
//	thrown away               operators, clinicians, the laboratory
//	lab.*                     the laboratory
func whoDoes(kind Kind, place string) people {
	const inTheRoom = operators | clinicians
	switch kind {
	case KindPatientChecked, KindPieceTaken, KindPiecePotted, KindPotFilled, KindSpecimenImaged, KindMarkerPlaced, KindPotSealed,
		KindProcedureEnded, KindRoomCleared:
		return inTheRoom
	case KindAdequacyChecked, KindPotRelabelled, KindPotDiscarded:
		return inTheRoom | laboratories
	case KindBagPacked, KindBagOpened:
		return operators | porters | laboratories
	case KindCustodyTaken:
		switch place {
		case roleLaboratory, roleVehicle:
			return laboratories | porters
		case roleRoom, roleHatch, roleFridge:
			return inTheRoom | porters
		}
		return inTheRoom | porters | laboratories | coordinators | administrators
	case KindPotLost, KindPotFound:
		return inTheRoom | porters | laboratories | coordinators
	case KindLabAccessioned, KindLabQueried, KindLabRefused, KindLabOpened, KindLabLoaded, KindLabReferred, KindLabReturned:
		return laboratories
	}
	return 0
}

// physical reports whether an event of the kind is something done by hand to tissue, its pot or its bag.
func physical(kind Kind) bool { return whoDoes(kind, "") != 0 }

// staffOf says which roles each person has that a protocol lists.
func staffOf(p *protocol.Protocol) map[string]people {
	staff := map[string]people{}
	for role, keys := range p.Staff {
		for _, key := range keys {
			staff[key] |= peopleOf(role)
		}
	}
	return staff
}

// roles looks for physical steps scanned by somebody whose role does not do them. Whom no list of the protocol names may
// do everything. It is said once of a thing and a person.
func (k *checking) roles(steps []handling) {
	if len(k.r.staff) == 0 {
		return
	}
	for i, s := range steps {
		e := s.Event
		has := k.r.staff[e.By]
		if has == 0 || has&whoDoes(e.Kind, k.placeOf(e)) != 0 || k.answered(FlagRoleDoubtful, s.Item, e.When(), time.Time{}) ||
			slices.ContainsFunc(steps[:i], func(other handling) bool { return k.alreadyDoubted(other, s) }) {
			continue
		}
		k.raise(Flag{Kind: FlagRoleDoubtful, Item: s.Item, Severity: Watch, Since: e.When(), Who: "administrator", Basis: "common practice, no source",
			Text: fmt.Sprintf("%s is not done by %s, and %s did it with %s on %s.", capital(stepWord(e.Kind)), has, e.By, thingWord(s.Item), k.clock(e.When())),
			Remedy: fmt.Sprintf("Ask whether %s did it, or somebody else with that badge. Add the role to the protocol, strike the event and record it again, or answer.",
				e.By)})
	}
}

// alreadyDoubted reports whether an earlier step of the same person with the same thing was doubted and not answered.
func (k *checking) alreadyDoubted(other, s handling) bool {
	e := other.Event
	return other.Item == s.Item && e.By == s.Event.By && k.r.staff[e.By]&whoDoes(e.Kind, k.placeOf(e)) == 0 &&
		!k.answered(FlagRoleDoubtful, other.Item, e.When(), time.Time{})
}

// placeOf is the role of the place of a custody scan.
func (k *checking) placeOf(e *Event) string {
	if d, ok := e.Data.(*CustodyTaken); ok {
		return k.r.role(d.Place)
	}
	return ""
}

// String names the roles for people: "a porter", "an operator or a clinician".
func (p people) String() string {
	var words []string
	for i, word := range [...]string{"an operator", "a clinician", "a porter", "the laboratory", "a coordinator", "those who administer"} {
		if p&(1<<i) != 0 {
			words = append(words, word)
		}
	}
	return strings.Join(words, " or ")
}

// thingWord is how a sentence calls a scanned thing.
func thingWord(n Name) string {
	if n.Thing() == ThingCase {
		return "the case"
	}
	return labelWord(n)
}

// stepWord says what a physical step was.
func stepWord(kind Kind) string {
	switch kind {
	case KindPatientChecked:
		return "checking identity"
	case KindPieceTaken:
		return "taking a piece"
	case KindPiecePotted:
		return "putting a piece into its pot"
	case KindPotFilled:
		return "filling a pot"
	case KindSpecimenImaged:
		return "imaging the specimen"
	case KindAdequacyChecked:
		return "microscopy on the spot"
	case KindMarkerPlaced:
		return "placing a marker"
	case KindPotSealed:
		return "sealing a pot"
	case KindProcedureEnded:
		return "ending the procedure"
	case KindRoomCleared:
		return "clearing the room"
	case KindPotRelabelled:
		return "giving a pot another label"
	case KindBagPacked:
		return "packing a bag"
	case KindBagOpened:
		return "opening a bag"
	case KindCustodyTaken:
		return "taking a thing over at such a place"
	case KindPotLost, KindPotFound:
		return "saying what is lost or found"
	case KindPotDiscarded:
		return "throwing a thing away"
	case KindLabAccessioned:
		return "giving a thing the laboratory's number"
	case KindLabQueried, KindLabRefused:
		return "asking or refusing for the laboratory"
	case KindLabOpened:
		return "opening a pot for description"
	case KindLabLoaded:
		return "loading the processor"
	}
	return "sending on and taking back for the laboratory"
}

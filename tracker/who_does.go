package tracker

import (
	"fmt"
	"slices"
	"time"
)

// handling is one physical step: which event, and the thing that was scanned.
type handling struct {
	Item  Name
	Event *Event
}

// byHand reports whether an event of the kind is something that some roles do to tissue, its pot or its bag, and others
// do not: writing, printing and answering are none.
func byHand(kind Kind) bool {
	right := recordRight[kind]
	return right.Physical && right.Roles != Everybody
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
		if has == 0 || has&k.r.Recorders(e) != 0 || k.answered(FlagRoleDoubtful, s.Item, e.When(), time.Time{}) ||
			slices.ContainsFunc(steps[:i], func(other handling) bool { return k.alreadyDoubted(other, s) }) {
			continue
		}
		k.raise(Flag{Kind: FlagRoleDoubtful, Item: s.Item, Severity: Watch, Since: e.When(), Who: "administrator", Basis: "common practice, no source",
			Text: fmt.Sprintf("%s is not done by %s, and %s did it with %s on %s.", capital(RecordRight(e.Kind).Doing), has, e.By, thingWord(s.Item), k.clock(e.When())),
			Remedy: fmt.Sprintf("Ask whether %s did it, or somebody else with that badge. Add the role to the protocol, strike the event and record it again, or answer.",
				e.By)})
	}
}

// alreadyDoubted reports whether an earlier step of the same person with the same thing was doubted and not answered.
func (k *checking) alreadyDoubted(other, s handling) bool {
	e := other.Event
	return other.Item == s.Item && e.By == s.Event.By && k.r.staff[e.By]&k.r.Recorders(e) == 0 &&
		!k.answered(FlagRoleDoubtful, other.Item, e.When(), time.Time{})
}

// thingWord is how a sentence calls a scanned thing.
func thingWord(n Name) string {
	if n.Thing() == ThingCase {
		return "the case"
	}
	return labelWord(n)
}

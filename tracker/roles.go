package tracker

import (
	"strings"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// Roles is a set of roles of people. A protocol's lists of staff say who has which; one person may have several.
type Roles uint8

// The roles of people.
const (
	Operators       Roles = 1 << iota // do the biopsy, or assist
	Clinicians                        // answer for the patient: read results, plan, tell
	Porters                           // carry, couriers too
	LaboratoryStaff                   // receive, prepare, report
	Coordinators                      // chase what waits, at a desk with a telephone
	QualityLeads                      // measure
	Administrators                    // set up
)

// Everybody is all roles.
const Everybody = Operators | Clinicians | Porters | LaboratoryStaff | Coordinators | QualityLeads | Administrators

// roleWords are the roles in the order of their bits: as protocols write them, and as sentences say one of them.
var roleWords = [...]struct{ key, one string }{
	{"operator", "an operator"}, {"clinician", "a clinician"}, {"porter", "a porter"}, {"laboratory", "the laboratory"},
	{"coordinator", "a coordinator"}, {"quality", "those who see to quality"}, {"administrator", "those who administer"},
}

// ParseRole reads a role as a protocol's staff lists write it; ok is false for a word that is none.
func ParseRole(word string) (r Roles, ok bool) {
	for i, w := range roleWords {
		if w.key == word {
			return 1 << i, true
		}
	}
	return 0, false
}

// Keys lists the roles as protocols write them.
func (r Roles) Keys() []string {
	var keys []string
	for i, w := range roleWords {
		if r&(1<<i) != 0 {
			keys = append(keys, w.key)
		}
	}
	return keys
}

// String names the roles for people: "a porter", "an operator, a clinician or the laboratory".
func (r Roles) String() string {
	var words []string
	for i, w := range roleWords {
		if r&(1<<i) != 0 {
			words = append(words, w.one)
		}
	}
	if last := len(words) - 1; last > 0 {
		return strings.Join(words[:last], ", ") + " or " + words[last]
	}
	return strings.Join(words, "")
}

// staffOf says which roles each person has that a protocol lists.
func staffOf(p *protocol.Protocol) map[string]Roles {
	staff := map[string]Roles{}
	for word, keys := range p.Staff {
		role, _ := ParseRole(word) // a protocol that parses has no other words
		for _, key := range keys {
			staff[key] |= role
		}
	}
	return staff
}

// RolesOf says which roles the protocol gives to a staff key; none when no list names it.
func (r *Rules) RolesOf(staff string) Roles { return r.staff[staff] }

// ListedRoles is every role that the protocol gives to anybody; none when it has no staff lists.
func (r *Rules) ListedRoles() Roles {
	var all Roles
	for _, roles := range r.staff {
		all |= roles
	}
	return all
}

// Permits reports whether somebody has a right that some roles have. Whom no list of the protocol names may do everything
// while nobody signs in, since a clinic that has written down its porters need not have written down its clinicians. Where
// people sign in it is strict: then they may do only what nobody on the lists may, or everybody.
func (r *Rules) Permits(staff string, may Roles, strict bool) bool {
	if has := r.staff[staff]; has != 0 {
		return has&may != 0
	}
	return !strict || may == Everybody || r.ListedRoles()&may == 0
}

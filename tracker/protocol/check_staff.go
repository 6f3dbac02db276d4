package protocol

import (
	"slices"
	"strings"
)

// mostStaffKey is the greatest length of a staff key, in bytes.
const mostStaffKey = 80

// staffRoles are what people can be; rules use them by name.
func staffRoles() []string {
	return []string{"administrator", "clinician", "coordinator", "laboratory", "operator", "porter", "quality"}
}

// staff: who has which role.
func (c *checker) staff() {
	for _, role := range keys(c.p.Staff) {
		at := "staff." + role
		c.among(at, role, "role of people", staffRoles())
		for i, key := range c.p.Staff[role] {
			switch {
			case !IsStaffKey(key):
				c.fail(member(at, i), `letters, digits, dots and hyphens, as "nurse.osei"`, "%q is no staff key", key)
			case slices.Contains(c.p.Staff[role][:i], key):
				c.fail(member(at, i), "", "%q stands in the list twice", key)
			}
		}
	}
}

// IsStaffKey reports whether a text may name somebody of the staff: letters, digits, dots and hyphens, 80 at most, neither first nor
// last a dot or hyphen.
func IsStaffKey(key string) bool {
	if key == "" || len(key) > mostStaffKey || strings.Trim(key, ".-") != key {
		return false
	}
	return !strings.ContainsFunc(key, func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') && r != '.' && r != '-'
	})
}

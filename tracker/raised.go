package tracker

import (
	"slices"
	"time"
)

// Adoption is a protocol put in force for a clinic; the zero When is the protocol inside the program, which holds before
// any other.
type Adoption struct {
	When  time.Time
	By    string
	Rules *Rules // nil when this release cannot read it
}

// RaisedUnder says under which of a clinic's protocols a flag was raised: the one in force since it became true or, when
// it was true already by the rules before, an earlier one. Adoptions are in order, the first is what held at the beginning;
// gathered are the events of the watched thing. It judges again what was known at each change of rules, so it is for
// questions, not for every event.
func RaisedUnder(f Flag, watched Name, gathered []*Event, adoptions []Adoption) Adoption {
	for i := len(adoptions) - 1; i > 0; i-- {
		a, before := adoptions[i], adoptions[i-1]
		if !f.Since.Before(a.When) || before.Rules == nil {
			return a
		}
		then := a.When.Add(-time.Nanosecond)
		known := slices.DeleteFunc(slices.Clone(gathered), func(e *Event) bool { return e.When().After(then) })
		had := slices.ContainsFunc(Judge(watched, known, before.Rules, then).Findings.Flags, func(g Flag) bool {
			return g.Kind == f.Kind && g.Item == f.Item
		})
		if !had {
			return a
		}
	}
	return adoptions[0]
}

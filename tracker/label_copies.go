package tracker

import (
	"slices"
	"time"
)

// Copies lists the copies of a thing's label that are about: printed, not destroyed, and not replaced by one that is. They
// come in the order of their prints. There is more than one where a copy was printed beside another.
func Copies(labels []*Label, thing Name) []*Label {
	var about []*Label
	for _, l := range labels {
		if l.Thing != thing || l.Printed.When.IsZero() || l.Spoiled != nil {
			continue
		}
		if by, _ := Replacement(labels, l); by == nil {
			about = append(about, l)
		}
	}
	slices.SortFunc(about, func(a, b *Label) int { return int(a.Copy) - int(b.Copy) })
	return about
}

// Replacement is the copy that took the place of a label, and since when, or nil: one that says it replaces it and, if that
// one was destroyed in turn, whatever replaced it. A copy that was destroyed and not replaced gives the place back, as if it
// had never been printed. Copies are numbered in the order of their prints, and only a later one replaces: clocks of
// stations differ, numbers do not.
func Replacement(labels []*Label, l *Label) (by *Label, since time.Time) {
	for _, other := range labels {
		if other.Thing != l.Thing || other.Replaces != l.Copy || other.Copy <= l.Copy || other.Printed.When.IsZero() {
			continue
		}
		took, from := other, other.Printed.When
		if other.Spoiled != nil {
			heir, inherited := Replacement(labels, other)
			if heir == nil {
				continue
			}
			if took = heir; other.Spoiled.When.Before(inherited) && inherited.After(from) {
				from = inherited // the old copy was good in between
			}
		}
		if by == nil || from.Before(since) {
			by, since = took, from
		}
	}
	return by, since
}

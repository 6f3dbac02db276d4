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
		if other.Thing != l.Thing || other.Replaces != l.Copy || other.Copy <= l.Copy {
			continue
		}
		took, from := other, other.Printed.When
		if other.Spoiled != nil {
			heir, inherited := Replacement(labels, other)
			if heir == nil {
				continue
			}
			if took = heir; other.Gone.Before(inherited) {
				from = inherited // the old copy was good in between
			}
		}
		if by == nil || from.Before(since) {
			by, since = took, from
		}
	}
	return by, since
}

// LabelsNeeded lists the things of a case that need a label and have none: no copy of their own about, and no label of a
// downtime roll that stands for them. They come in the order in which the hand needs them: each pot and then its pieces,
// the request form last. Labeled reports whether pieces on a carrier have labels of their own; "" is a carrier that nobody
// named. When the procedure has ended, what is empty needs none.
func (c *Case) LabelsNeeded(labeled func(carrier string) bool) []Name {
	var needed []Name
	for _, n := range c.Labelable(labeled) {
		if c.Ended != nil && c.empty(n) || c.StandIn(n) != "" || len(Copies(c.Labels, n)) > 0 {
			continue
		}
		needed = append(needed, n)
	}
	return needed
}

// Labelable lists the things of a case that a label can be on: each pot that is planned or used and then its pieces, planned
// or taken, the request form last. What was thrown away or said to be unused is left out, and so are pieces on a carrier
// that has no labels; see [Case.LabelsNeeded].
func (c *Case) Labelable(labeled func(carrier string) bool) []Name {
	var things []Name
	for _, p := range c.Pots {
		if p.Discarded != nil || c.unused(p) {
			continue
		}
		things = append(things, p.Name)
		if p.Plan == nil || !labeled(p.Plan.Carrier) {
			continue
		}
		var pieces []Name
		for s := range c.PiecesIn(p.Name) {
			pieces = append(pieces, s.Name)
		}
		for n := 1; n <= p.Plan.Pieces; n++ {
			if piece, err := p.Name.WithPiece(n); err == nil {
				pieces = append(pieces, piece)
			}
		}
		slices.Sort(pieces)
		things = append(things, slices.Compact(pieces)...)
	}
	return append(things, c.Name)
}

// StandIn is the label of another name that stands for a thing of the case and was not destroyed, or "".
func (c *Case) StandIn(n Name) Name {
	for _, s := range c.StandIns {
		if s.For == n && !s.Spoiled {
			return s.Label
		}
	}
	return ""
}

// empty reports whether a pot holds no piece, or a piece was never taken.
func (c *Case) empty(n Name) bool {
	return n.Thing() != ThingCase && !slices.ContainsFunc(c.Pieces, func(s *Piece) bool { return s.Name == n || s.Pot == n })
}

package daemon

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
)

const (
	// recentCases is how far from the first scan on a downtime label the procedure of a case may lie for its things to be
	// listed: a daemon is not away for longer. Pottrail default.
	recentCases = 7 * 24 * time.Hour
	// mostCandidates is how many things are listed for a pick; what is not among them is named.
	mostCandidates = 30
)

// likelihood orders candidates.
type likelihood struct {
	candidate ask.BindCandidate
	sibling   bool          // other labels of the same case of the roll stand for things of its case
	touched   bool          // something was recorded of it under its own name
	medium    bool          // it is planned for what was filled into the pot under the label
	away      time.Duration // from its procedure to the first scan on the label
	same      bool          // its letter and number are those on the label
}

func (a likelihood) compare(b likelihood) int {
	first := func(x, y bool) int {
		switch {
		case x == y:
			return 0
		case x:
			return -1
		}
		return 1
	}
	return cmp.Or(first(a.sibling, b.sibling), first(b.touched, a.touched), first(a.medium, b.medium), cmp.Compare(a.away, b.away), first(a.same, b.same),
		strings.Compare(string(a.candidate.Name), string(b.candidate.Name)))
}

// candidates lists what a label may stand for: things of its sort in open cases of its clinic, of recent days, whose own
// label is not in use and for which no other label of a roll stands. The most likely come first.
func (s *Service) candidates(label *rollLabel, now time.Time) (list []ask.BindCandidate, more int, err error) {
	about := now
	if n, first := label.scans(); n > 0 {
		about = first
	}
	siblings := label.boundCases()
	var all []likelihood
	for snapshot, err := range s.ledger.Snapshots(store.Filter{Clinic: label.name.Clinic(), Open: true}) {
		if err != nil {
			return nil, 0, err
		}
		name := snapshot.Summary.Name
		if name.Thing() != tracker.ThingCase || name == label.name.Case() || snapshot.Summary.Closed || longAgo(snapshot.Summary, about) {
			continue
		}
		gathered, err := s.ledger.Events(name)
		if err != nil {
			return nil, 0, err
		}
		c := tracker.Fold(name, gathered)
		found, err := s.candidatesOf(c, label, about)
		if err != nil {
			return nil, 0, err
		}
		for _, l := range found {
			l.sibling = slices.Contains(siblings, name)
			all = append(all, l)
		}
	}
	slices.SortFunc(all, likelihood.compare)
	list = make([]ask.BindCandidate, 0, min(len(all), mostCandidates))
	for _, l := range all[:min(len(all), mostCandidates)] {
		list = append(list, l.candidate)
	}
	return list, len(all) - len(list), nil
}

// longAgo reports whether a case was done with long before an instant, as its summary tells without its events being read.
func longAgo(s tracker.Summary, about time.Time) bool {
	return about.Sub(s.Last) > recentCases && (s.Planned.IsZero() || about.Sub(s.Planned).Abs() > recentCases)
}

// candidatesOf lists what a label may stand for in one case.
func (s *Service) candidatesOf(c *tracker.Case, label *rollLabel, about time.Time) ([]likelihood, error) {
	if len(c.Openings) == 0 { // of a roll itself
		return nil, nil
	}
	when := c.Request.Planned
	if when.IsZero() {
		when = c.Openings[0].When
	}
	away := about.Sub(when).Abs()
	if away > recentCases && about.Sub(c.LastMark.When).Abs() > recentCases {
		return nil, nil
	}
	patient, _, err := s.people.get(c.Request.Patient)
	if err != nil {
		return nil, err
	}
	p := s.rules(c.Name.Clinic()).Protocol()
	var found []likelihood
	for _, n := range c.Labelable(func(carrier string) bool { return p.Carriers[or(carrier, usualCarrier)].Labeled }) {
		used := slices.ContainsFunc(c.Labels, func(l *tracker.Label) bool { return l.Thing == n && l.Used })
		if n.Thing() != label.name.Thing() || used || c.StandIn(n) != "" {
			continue
		}
		content := ask.LabelContent{Name: n}
		if n.Thing() != tracker.ThingCase {
			describe(&content, c, p)
		}
		pot := c.Pot(n)
		found = append(found, likelihood{touched: touched(c, n), away: away, same: tail(n) == tail(label.name),
			medium: label.medium != "" && pot != nil && pot.Plan != nil && pot.Plan.Medium == label.medium,
			candidate: ask.BindCandidate{Name: n, Patient: ask.Patient{Family: patient.Family, Given: patient.Given, BirthDate: patient.BirthDate},
				Organ: content.Organ, Side: content.Side, Position: content.Position, Medium: content.Medium, Room: c.Request.Room, When: when}})
	}
	return found, nil
}

// tail is what a name says of a pot and a piece.
func tail(n tracker.Name) string { return strings.TrimPrefix(string(n), string(n.Case())) }

// touched reports whether something was done to a thing under its own name: then it is less likely to be the one under a
// downtime label.
func touched(c *tracker.Case, n tracker.Name) bool {
	switch n.Thing() {
	case tracker.ThingCase:
		return len(c.Checks) > 0 || c.Ended != nil
	case tracker.ThingPot:
		p := c.Pot(n)
		return p != nil && p.HasEvents
	}
	return slices.ContainsFunc(c.Pieces, func(s *tracker.Piece) bool { return s.Name == n })
}

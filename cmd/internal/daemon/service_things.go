package daemon

import (
	"context"
	"slices"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// Case is a case or a bag; see [ask.Service].
func (s *Service) Case(_ context.Context, r ask.Request) (*ask.CaseAnswer, error) {
	item, err := r.Thing()
	if err != nil {
		return nil, err
	}
	now := time.Now()
	watched := tracker.Watched(item.Name)
	j, trail, err := s.thing(watched, now)
	if err != nil {
		return nil, err
	}
	answer := &ask.CaseAnswer{At: now, Zone: s.rules(watched.Clinic()).Zone().String(), Summary: j.Summary, Wake: j.Findings.Wake, Trail: trailLines(trail, nil)}
	found := ask.FlagsAnswer{Flags: j.Findings.Flags, Held: j.Findings.Held}
	found.Sort()
	answer.Flags, answer.Held = found.Flags, found.Held
	return answer, nil
}

// Pot is a pot or a piece; see [ask.Service].
func (s *Service) Pot(_ context.Context, r ask.Request) (*ask.PotAnswer, error) {
	item, err := r.Thing()
	if err != nil {
		return nil, err
	}
	name := item.Name
	if thing := name.Thing(); thing != tracker.ThingPot && thing != tracker.ThingPiece {
		return nil, &ask.Error{Kind: ask.Invalid, Code: string(tracker.ReasonThing), Field: "name", Text: name.Printed() + " is a " + thing.String() + "; a pot or piece is asked for here"}
	}
	now := time.Now()
	j, trail, err := s.thing(name.Case(), now)
	if err != nil {
		return nil, err
	}
	answer := &ask.PotAnswer{At: now, Zone: s.rules(name.Clinic()).Zone().String(), Name: name, Case: name.Case(),
		Trail: trailLines(trail, func(e *tracker.Event) bool { return aboutPot(e, name) })}
	for _, p := range j.Summary.Pots {
		if p.Name == name.Pot() {
			answer.Pot = &p
		}
	}
	if answer.Pot == nil && len(answer.Trail) == 0 {
		return nil, errNotKnown(name)
	}
	found := ask.FlagsAnswer{}
	found.Add(j.Findings)
	found.Flags = slices.DeleteFunc(found.Flags, func(f tracker.Flag) bool { return !within(f.Item, name) })
	found.Held = slices.DeleteFunc(found.Held, func(h tracker.HeldFlag) bool { return !within(h.Item, name) })
	found.Sort()
	answer.Flags, answer.Held = found.Flags, found.Held
	return answer, nil
}

// thing judges one watched thing at now and gives what counts for it, in order.
func (s *Service) thing(watched tracker.Name, now time.Time) (tracker.Judgement, []*tracker.Event, error) {
	gathered, err := s.ledger.Events(watched)
	if err != nil {
		return tracker.Judgement{}, nil, err
	}
	if len(gathered) == 0 {
		return tracker.Judgement{}, nil, errNotKnown(watched)
	}
	return tracker.Judge(watched, gathered, s.rules(watched.Clinic()), now), gathered, nil
}

// aboutPot reports whether an event belongs into the trail of a pot or piece: its own, its pieces' or its pot's, its
// bags', and the whole case's.
func aboutPot(e *tracker.Event, name tracker.Name) bool {
	for _, n := range e.Concerns() {
		if n == name || n == name.Case() || n == name.Pot() || within(n, name) {
			return true
		}
	}
	return len(e.Items) > 0 && e.Items[0].Name.Thing() == tracker.ThingBag && e.Kind != tracker.KindBagPacked && e.Kind != tracker.KindBagOpened
}

// trailLines gives events in the order of what happened, struck ones marked.
func trailLines(gathered []*tracker.Event, wanted func(*tracker.Event) bool) []ask.TrailEvent {
	struck := tracker.Struck(gathered)
	lines := make([]ask.TrailEvent, 0, len(gathered))
	for _, e := range gathered {
		if wanted != nil && !wanted(e) {
			continue
		}
		_, out := struck[e.ID]
		lines = append(lines, ask.TrailEvent{Event: events.AppendExport(nil, events.EncodeRecorded(e), e.Record.Seq), Struck: out})
	}
	return lines
}

// Codes is what a code or name stands for; see [ask.Service].
func (s *Service) Codes(_ context.Context, r ask.Request) (*ask.CodesAnswer, error) {
	item, err := r.Thing()
	if err != nil {
		return nil, scanFault(r.Name, err)
	}
	name := item.Name
	known, err := s.ledger.Codes(name)
	if err != nil {
		return nil, err
	}
	answer := &ask.CodesAnswer{Name: name, Thing: name.Thing().String(), Printed: name.Printed(), Case: name.Case(), Known: known.Known,
		For: known.For, Copy: item.Copy.String(), Copies: []string{}, Seen: []string{}}
	for _, c := range known.Printed {
		answer.Copies = append(answer.Copies, c.String())
	}
	last := lastCopy(known.Printed)
	if item.Copy != 0 && slices.Contains(known.Printed, item.Copy) {
		answer.Destroyed = slices.Contains(known.Spoiled, item.Copy)
		if answer.ReplacedBy, err = s.replacedCopy(item); err != nil {
			return nil, err
		}
		answer.Superseded = answer.ReplacedBy != ""
	}
	for _, c := range known.Seen {
		answer.Seen = append(answer.Seen, c.String())
	}
	if next, ok := last.Next(); ok {
		answer.Next = next.String()
	}
	snapshot, ok, err := s.ledger.Snapshot(name)
	if err != nil || !ok {
		return answer, err
	}
	j, err := s.judged(snapshot, time.Now())
	if err != nil {
		return nil, err
	}
	answer.Step, answer.Place, answer.Holder = j.Summary.Step, j.Summary.Place, j.Summary.Holder
	for _, p := range j.Summary.Pots {
		if p.Name == name.Pot() {
			answer.Place, answer.Holder, answer.Since = p.Place, p.Holder, p.Since
		}
	}
	for _, f := range j.Findings.Flags {
		if within(f.Item, name) && (answer.Worst == "" || f.Severity.Rank() < answer.Worst.Rank()) {
			answer.Worst = f.Severity
		}
	}
	return answer, nil
}

// replacedCopy is the copy that took the place of the one that was scanned, or "".
func (s *Service) replacedCopy(item tracker.Item) (string, error) {
	gathered, err := s.ledger.Events(item.Name)
	if err != nil {
		return "", err
	}
	labels := tracker.Fold(item.Name.Case(), gathered).Labels
	if item.Name.Thing() == tracker.ThingBag {
		labels = tracker.FoldBag(item.Name, gathered).Labels
	}
	for _, l := range labels {
		if l.Thing == item.Name && l.Copy == item.Copy {
			if by, _ := tracker.Replacement(labels, l); by != nil {
				return by.Copy.String(), nil
			}
		}
	}
	return "", nil
}

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
	answer := &ask.CaseAnswer{At: now, Zone: s.rules(watched.Clinic()).Zone().String(), Summary: j.Summary, Wake: j.Findings.Wake,
		Trail: trailLines(trail, aboutCase(watched, tracker.StandsFor(trail)))}
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
		Trail: trailLines(trail, aboutPot(name, tracker.StandsFor(trail)))}
	for _, p := range j.Summary.Pots {
		if p.Name == name.Pot() {
			answer.Pot = &p
		}
	}
	if answer.Pot == nil && len(answer.Trail) == 0 {
		return nil, s.notKnown(name)
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
		return tracker.Judgement{}, nil, s.notKnown(watched)
	}
	return tracker.Judge(watched, gathered, s.rules(watched.Clinic()), now), gathered, nil
}

// aboutCase reports whether an event belongs into the trail of a case or bag. What was scanned on a label of a downtime roll
// is of the case that the label stands for, and not of all cases that the roll's labels stand for.
func aboutCase(name tracker.Name, standsFor func(tracker.Name) tracker.Name) func(*tracker.Event) bool {
	return func(e *tracker.Event) bool {
		of := 0
		for _, n := range e.Concerns() {
			if n.Case() == "" || n.Case() == name || standsFor(n).Case() == name {
				return true
			}
			of++
		}
		return of == 0 || name.Thing() == tracker.ThingBag
	}
}

// aboutPot reports whether an event belongs into the trail of a pot or piece: its own, its pieces' or its pot's, its
// bags', and the whole case's, and what was scanned on labels that stand for these.
func aboutPot(name tracker.Name, standsFor func(tracker.Name) tracker.Name) func(*tracker.Event) bool {
	about := func(n tracker.Name) bool { return n == name || n == name.Case() || n == name.Pot() || within(n, name) }
	return func(e *tracker.Event) bool {
		for _, n := range e.Concerns() {
			if about(n) || about(standsFor(n)) {
				return true
			}
		}
		return len(e.Items) > 0 && e.Items[0].Name.Thing() == tracker.ThingBag && e.Kind != tracker.KindBagPacked && e.Kind != tracker.KindBagOpened
	}
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
	return s.codes(r, func(tracker.FlagKind) bool { return true })
}

// codes tells how bad the worst flag is of those that may be seen.
func (s *Service) codes(r ask.Request, seen func(tracker.FlagKind) bool) (*ask.CodesAnswer, error) {
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
	if err := s.tellLabel(answer, item, known.Spoiled); err != nil {
		return nil, err
	}
	answer.Unprinted = item.Copy != 0 && !slices.Contains(known.Printed, item.Copy)
	if known.PutBack != nil && (!known.Known || answer.Unprinted) {
		answer.PutBack = known.PutBack.From
	}
	for _, c := range known.Seen {
		answer.Seen = append(answer.Seen, c.String())
	}
	if next, ok := known.Next(); ok {
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
		if within(f.Item, name) && seen(f.Kind) && (answer.Worst == "" || f.Severity.Rank() < answer.Worst.Rank()) {
			answer.Worst = f.Severity
		}
	}
	return answer, nil
}

// tellLabel says of a label whether it is of a downtime roll and, of the copy that was scanned, what became of it.
func (s *Service) tellLabel(answer *ask.CodesAnswer, item tracker.Item, spoiled []tracker.Copy) error {
	gathered, err := s.ledger.Events(item.Name)
	if err != nil {
		return err
	}
	var labels []*tracker.Label
	if item.Name.Thing() == tracker.ThingBag {
		labels = tracker.FoldBag(item.Name, gathered).Labels
	} else {
		labels = tracker.Fold(item.Name.Case(), gathered).Labels
		if to := tracker.StandsFor(gathered)(item.Name); to != item.Name {
			answer.For = to
		}
	}
	for _, l := range labels {
		if l.Thing != item.Name {
			continue
		}
		answer.Roll = answer.Roll || l.Downtime
		if l.Copy != item.Copy || l.Printed.When.IsZero() {
			continue
		}
		answer.Destroyed = slices.Contains(spoiled, item.Copy)
		if by, _ := tracker.Replacement(labels, l); by != nil {
			answer.Superseded, answer.ReplacedBy = true, by.Copy.String()
		}
	}
	return nil
}

package daemon

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// replacedBy says which of the copies about a print replaces, 0 for none: the one that was named, else the only one, else
// the one that was scanned. Where several are about and nothing says which, it asks.
func replacedBy(about []*tracker.Label, item tracker.Item, r ask.LabelsRequest, zone *time.Location) (tracker.Copy, error) {
	isAbout := func(c tracker.Copy) bool {
		return slices.ContainsFunc(about, func(l *tracker.Label) bool { return l.Copy == c })
	}
	switch {
	case r.Replaces != "":
		var named tracker.Copy
		if err := named.UnmarshalText([]byte(strings.ToUpper(r.Replaces))); err != nil {
			return 0, ask.CodeFault("replaces", err)
		}
		if !isAbout(named) {
			return 0, &ask.Error{Kind: ask.Invalid, Code: "no-such-copy", Field: "replaces",
				Text: fmt.Sprintf("copy %s of the label of %s is not about, so it cannot be replaced: %s", named, item.Name.Printed(), copiesAbout(about, zone))}
		}
		return named, nil
	case r.OneMore || len(about) == 0:
		return 0, nil
	case len(about) == 1:
		return about[0].Copy, nil
	case isAbout(item.Copy):
		return item.Copy, nil
	case r.Preview:
		return 0, nil
	}
	return 0, &ask.Error{Kind: ask.Invalid, Code: "which-copy", Field: "replaces",
		Text: fmt.Sprintf("%s has several labels: %s. Say which one the new one replaces (--replaces COPY), or that it is one more (--one-more)", item.Name.Printed(), copiesAbout(about, zone))}
}

// copiesAbout says in words which copies of a label are about.
func copiesAbout(about []*tracker.Label, zone *time.Location) string {
	if len(about) == 0 {
		return "none is"
	}
	words := make([]string, len(about))
	for i, l := range about {
		use := "not used yet"
		if l.Used {
			use = "in use"
		}
		words[i] = fmt.Sprintf("copy %s, printed %s, %s", l.Copy, say.Instant(l.Printed.When, zone, time.Time{}), use)
	}
	return strings.Join(words, "; ")
}

// takeCopy gives a label its copy. A preview uses no copy up.
func (s *Service) takeCopy(content *ask.LabelContent, preview bool) error {
	all := &ask.Error{Kind: ask.Conflict, Code: "no-copies", Text: content.Name.Printed() + " has had its 35 labels: open another pot or case for it"}
	if preview {
		known, err := s.ledger.Codes(content.Name)
		if err != nil {
			return err
		}
		var ok bool
		if content.Copy, ok = known.Next(); !ok {
			return all
		}
		return nil
	}
	next, err := s.ledger.NextCopy(content.Name)
	if errors.Is(err, store.ErrCopies) {
		return all
	}
	content.Copy = next
	return err
}

// ownLabel refuses a label for a piece that travels loose or on foam: its pot's label stands for it.
func ownLabel(c *tracker.Case, name tracker.Name, p *protocol.Protocol) error {
	if name.Thing() != tracker.ThingPiece {
		return nil
	}
	pot := c.Pot(name.Pot())
	if pot == nil || pot.Plan == nil {
		return nil // nobody said how it travels
	}
	carrier := or(pot.Plan.Carrier, usualCarrier)
	if known, ok := p.Carriers[carrier]; !ok || known.Labeled {
		return nil
	}
	how := "are loose in it"
	if carrier != "loose" {
		how = "lie in it on " + or(p.Carriers[carrier].Name, carrier)
	}
	return &ask.Error{Kind: ask.Invalid, Code: "no-label-of-its-own", Field: "items",
		Text: fmt.Sprintf("%s has no label of its own: the pieces of pot %s %s, and the label of %s stands for them all; print that",
			name.Printed(), name.Letter(), how, name.Pot().Printed())}
}

// neededLabels lists what a case needs labels for and of which none is about, in the order in which the hand needs them:
// each pot and then its pieces, and last the request form that goes along.
func (s *Service) neededLabels(name tracker.Name) ([]tracker.Item, error) {
	if name.Thing() != tracker.ThingCase {
		return nil, &ask.Error{Kind: ask.Invalid, Code: string(tracker.ReasonThing), Field: "items",
			Text: fmt.Sprintf("%s is a %s: what is needed is asked for a whole case", name.Printed(), name.Thing())}
	}
	gathered, err := s.ledger.Events(name)
	if err != nil {
		return nil, err
	}
	c := tracker.Fold(name, gathered)
	if len(c.Openings) == 0 {
		return nil, s.notOpened(name)
	}
	var needed []tracker.Item
	p := s.rules(name.Clinic()).Protocol()
	for _, n := range c.LabelsNeeded(func(carrier string) bool { return p.Carriers[or(carrier, usualCarrier)].Labeled }) {
		needed = append(needed, tracker.Item{Name: n})
	}
	return needed, nil
}

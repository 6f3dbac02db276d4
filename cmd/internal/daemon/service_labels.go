package daemon

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// Labels gives what goes on labels; see [ask.Local]. Everything that can be refused is refused before a copy is taken.
func (s *Service) Labels(_ context.Context, r ask.LabelsRequest) (*ask.LabelsAnswer, error) {
	answer, err := s.labels(r)
	if err != nil {
		return nil, err
	}
	var names []tracker.Name
	for _, l := range answer.Labels {
		if l.Patient != (ask.Patient{}) {
			names = append(names, l.Name)
		}
	}
	return answer, s.noteReadsOf(answer.At, ask.Read{By: r.By, Station: r.Station, How: readForLabels}, names)
}

func (s *Service) labels(r ask.LabelsRequest) (*ask.LabelsAnswer, error) {
	if len(r.Items) == 0 || len(r.Items) > batchEvents {
		return nil, &ask.Error{Kind: ask.Invalid, Code: "bad-number", Field: "items", Text: "items: 1 to 500 labels at once"}
	}
	answer := &ask.LabelsAnswer{At: time.Now(), Labels: []ask.LabelContent{}}
	wanted, err := s.wanted(r)
	if err != nil {
		return nil, err
	}
	for _, item := range wanted {
		zone := s.rules(item.Name.Clinic()).Zone()
		if answer.Zone != "" && answer.Zone != zone.String() {
			return nil, &ask.Error{Kind: ask.Invalid, Code: "two-zones", Field: "items", Text: "items are of clinics in different time zones: print them apart"}
		}
		answer.Zone = zone.String()
		content, about, err := s.labelContent(item.Name, r.Roll)
		if err != nil {
			return nil, err
		}
		if content.Replaces, err = replacedBy(about, item, r, zone); err != nil {
			return nil, err
		}
		for _, l := range about {
			if l.Copy != content.Replaces {
				content.Beside = append(content.Beside, l.Copy)
			}
		}
		answer.Labels = append(answer.Labels, content)
	}
	for i := range answer.Labels {
		if err := s.takeCopy(&answer.Labels[i], r.Preview); err != nil {
			return nil, err
		}
	}
	return answer, nil
}

// wanted lists the things to print labels for: what was named, each once, or what the named cases need.
func (s *Service) wanted(r ask.LabelsRequest) ([]tracker.Item, error) {
	if r.Replaces != "" && (r.OneMore || r.Needed || len(r.Items) != 1) {
		return nil, &ask.Error{Kind: ask.Invalid, Code: "bad-option", Field: "replaces", Text: "which copy is replaced is said for one label alone: print the others apart"}
	}
	if r.OneMore && r.Needed {
		return nil, &ask.Error{Kind: ask.Invalid, Code: "bad-option", Field: "one_more", Text: "what is needed is what has no label yet: name the thing that is to have one more"}
	}
	var wanted []tracker.Item
	seen := map[tracker.Name]bool{}
	for _, text := range r.Items {
		item, err := tracker.ParseItem(text)
		if err != nil {
			return nil, ask.CodeFault("items", err)
		}
		if seen[item.Name] {
			return nil, &ask.Error{Kind: ask.Invalid, Code: "twice", Field: "items", Text: item.Name.Printed() + " is named twice: print one label, then one more"}
		}
		seen[item.Name] = true
		if !r.Needed {
			wanted = append(wanted, item)
			continue
		}
		needed, err := s.neededLabels(item.Name)
		if err != nil {
			return nil, err
		}
		wanted = append(wanted, needed...)
	}
	return wanted, nil
}

// labelContent gathers what is said on the label of one thing, and which copies of it are about. A blank label of a downtime
// roll says nothing but its code, and is for things of a case that was never opened.
func (s *Service) labelContent(name tracker.Name, blank bool) (content ask.LabelContent, about []*tracker.Label, err error) {
	content.Name = name
	gathered, err := s.ledger.Events(name)
	if err != nil {
		return content, nil, err
	}
	if name.Thing() == tracker.ThingBag { // read by everybody on the way: no patient
		return content, tracker.Copies(tracker.FoldBag(name, gathered).Labels, name), nil
	}
	c := tracker.Fold(name.Case(), gathered)
	if blank {
		if len(c.Openings) > 0 {
			return content, nil, &ask.Error{Kind: ask.Conflict, Code: "opened", Field: "items", Text: name.Case().Printed() + " is an open case: print its own labels"}
		}
		content.Roll = true
		return content, tracker.Copies(c.Labels, name), nil
	}
	if len(c.Openings) == 0 {
		return content, nil, s.notOpened(name)
	}
	protocol := s.rules(name.Clinic()).Protocol()
	if err := ownLabel(c, name, protocol); err != nil {
		return content, nil, err
	}
	patient, ok, err := s.people.get(c.Request.Patient)
	if err != nil {
		return content, nil, err
	}
	if !ok {
		since, gone, err := s.people.file.Forgotten(c.Request.Patient)
		switch {
		case err != nil:
			return content, nil, err
		case gone:
			return content, nil, errDestroyed(name, since)
		}
		return content, nil, &ask.Error{Kind: ask.Conflict, Code: "patient-not-known", Field: "items",
			Text: name.Case().Printed() + ": its patient is not in the people file here, so a label would lack both identifiers: print it where the case was opened"}
	}
	content.Patient, content.StandIn = patient, c.StandIn(name)
	if name.Thing() != tracker.ThingCase {
		if err := describe(&content, c, protocol); err != nil {
			return content, nil, err
		}
	}
	return content, tracker.Copies(c.Labels, name), nil
}

// notOpened says why there is no label for a thing of a case that nobody opened; one of a downtime roll may stand for another.
func (s *Service) notOpened(name tracker.Name) error {
	known, err := s.ledger.Codes(name)
	if err != nil {
		return err
	}
	if known.For != "" {
		return &ask.Error{Kind: ask.Conflict, Code: "stands-for-another", Field: "items",
			Text: name.Printed() + " is of a downtime roll and stands for " + known.For.Printed() + ": print the label of that"}
	}
	return &ask.Error{Kind: ask.Conflict, Code: "not-opened", Field: "items",
		Text: name.Case().Printed() + " was never opened here, so it is not known whose label this is: open the case first, or take one from the downtime roll"}
}

// describe says where the tissue is from and what is in the pot. Of an organ with two sides a label without its side would be
// taken for either, so there is none.
func describe(content *ask.LabelContent, c *tracker.Case, p *protocol.Protocol) error {
	pot := c.Pot(content.Name.Pot())
	if pot == nil {
		return nil
	}
	var key string
	if pot.Plan != nil {
		key, content.Medium = pot.Plan.Lesion, pot.Plan.Medium
		if content.Name.Thing() == tracker.ThingPiece {
			content.Carrier = pot.Plan.Carrier
		}
	}
	if n := len(pot.Fillings); n > 0 {
		content.Medium = pot.Fillings[n-1].Medium
	}
	if i := slices.IndexFunc(c.Pieces, func(s *tracker.Piece) bool { return s.Name == content.Name }); i >= 0 && c.Pieces[i].Lesion != "" {
		key = c.Pieces[i].Lesion
	}
	if l := c.Request.Lesion(key); l != nil {
		content.Organ, content.Side, content.Position = or(p.Organs[l.Organ].Name, l.Organ), l.Side, positionOf(l)
		if p.Organs[l.Organ].Sided && l.Side == "" {
			return &ask.Error{Kind: ask.Conflict, Code: "no-side", Field: "items", Text: fmt.Sprintf("%s: the request does not say on which side the %s is: "+
				"confirm it with the patient, amend the request, then print", content.Name.Printed(), strings.ToLower(content.Organ))}
		}
	}
	for _, study := range pot.Studies {
		content.Studies = append(content.Studies, or(p.Studies[study].Name, study))
	}
	if m, ok := p.Media[content.Medium]; ok {
		content.Caution = m.Warning()
		content.Medium = or(m.Name, content.Medium)
	}
	content.Organ = strings.ToLower(content.Organ)
	return nil
}

// positionOf says where in the organ a lesion is: two at the same hour are told apart by their distance from the nipple.
func positionOf(l *tracker.Lesion) string {
	if l.FromNippleMM == 0 {
		return l.Position
	}
	distance := fmt.Sprintf("%g mm from nipple", l.FromNippleMM)
	if l.Position == "" {
		return distance
	}
	return l.Position + ", " + distance
}

func or(name, key string) string {
	if name == "" {
		return key
	}
	return name
}

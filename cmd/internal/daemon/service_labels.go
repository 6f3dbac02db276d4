package daemon

import (
	"context"
	"errors"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// Labels gives what goes on labels; see [ask.Local].
func (s *Service) Labels(_ context.Context, r ask.LabelsRequest) (*ask.LabelsAnswer, error) {
	if len(r.Items) == 0 || len(r.Items) > batchEvents {
		return nil, &ask.Error{Kind: ask.Invalid, Code: "bad-number", Field: "items", Text: "items: 1 to 500 labels at once"}
	}
	answer := &ask.LabelsAnswer{}
	for _, text := range r.Items {
		item, err := tracker.ParseItem(text)
		if err != nil {
			return nil, ask.CodeFault("items", err)
		}
		zone := s.rules(item.Name.Clinic()).Zone().String()
		if answer.Zone != "" && answer.Zone != zone {
			return nil, &ask.Error{Kind: ask.Invalid, Code: "two-zones", Field: "items", Text: "items are of clinics in different time zones: print them apart"}
		}
		answer.Zone = zone
		content, err := s.labelContent(item.Name)
		if err != nil {
			return nil, err
		}
		if err := s.labelCopy(&content, r.Preview); err != nil {
			return nil, err
		}
		answer.Labels = append(answer.Labels, content)
	}
	return answer, nil
}

// labelCopy says which copy this print is, and which it replaces. A preview uses no copy up.
func (s *Service) labelCopy(content *ask.LabelContent, preview bool) error {
	known, err := s.ledger.Codes(content.Name)
	if err != nil {
		return err
	}
	all := &ask.Error{Kind: ask.Conflict, Code: "no-copies", Text: content.Name.Printed() + " has had its 35 labels: open another pot or case for it"}
	if preview {
		var ok bool
		if content.Copy, ok = lastCopy(known.Printed).Next(); !ok {
			return all
		}
	} else if content.Copy, err = s.ledger.NextCopy(content.Name); errors.Is(err, store.ErrCopies) {
		return all
	} else if err != nil {
		return err
	}
	for _, c := range known.Printed {
		if !slices.Contains(known.Spoiled, c) && c != content.Copy {
			content.Replaces = c
		}
	}
	return nil
}

// lastCopy is the latest of the printed copies, 0 when there is none.
func lastCopy(printed []tracker.Copy) tracker.Copy {
	var last tracker.Copy
	for _, c := range printed {
		last = max(last, c) // figures stand before letters, as they are given out
	}
	return last
}

// labelContent gathers what is said on the label of one thing.
func (s *Service) labelContent(name tracker.Name) (ask.LabelContent, error) {
	content := ask.LabelContent{Name: name}
	if name.Thing() == tracker.ThingBag {
		return content, nil // read by everybody on the way: no patient
	}
	gathered, err := s.ledger.Events(name.Case())
	if err != nil {
		return content, err
	}
	c := tracker.Fold(name.Case(), gathered)
	if len(c.Openings) == 0 {
		return content, &ask.Error{Kind: ask.Conflict, Code: "not-opened", Field: "items",
			Text: name.Case().Printed() + " was never opened here, so it is not known whose label this is: open the case first, or take one from the downtime roll"}
	}
	patient, ok, err := s.people.get(c.Request.Patient)
	if err != nil {
		return content, err
	}
	if !ok {
		return content, &ask.Error{Kind: ask.Conflict, Code: "patient-not-known", Field: "items",
			Text: name.Case().Printed() + ": its patient is not in the people file here, so a label would lack both identifiers: print it where the case was opened"}
	}
	content.Patient = patient
	if name.Thing() == tracker.ThingCase {
		return content, nil
	}
	describe(&content, c, s.rules(name.Clinic()).Protocol())
	return content, nil
}

// cautionFixing is the word of warning on a pot with a fixative: formalin and its like are toxic. Common practice, no
// source.
const cautionFixing = "toxic"

// describe says where the tissue is from and what is in the pot.
func describe(content *ask.LabelContent, c *tracker.Case, p *protocol.Protocol) {
	pot := c.Pot(content.Name.Pot())
	if pot == nil {
		return
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
		content.Organ, content.Side, content.Position = or(p.Organs[l.Organ].Name, l.Organ), l.Side, l.Position
	}
	for _, study := range pot.Studies {
		content.Studies = append(content.Studies, or(p.Studies[study].Name, study))
	}
	if m, ok := p.Media[content.Medium]; ok {
		if m.Fixing {
			content.Caution = cautionFixing
		}
		content.Medium = or(m.Name, content.Medium)
	}
	content.Organ = strings.ToLower(content.Organ)
}

func or(name, key string) string {
	if name == "" {
		return key
	}
	return name
}

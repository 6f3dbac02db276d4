package daemon

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/press"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/tracker"
)

// usualPriority is that of a request which names none. Source: contract page 3, keys.
const usualPriority = "routine"

// Open opens a case; see [ask.Local]. Everything that can be refused is refused before a number is taken.
func (s *Service) Open(ctx context.Context, r ask.OpenRequest) (*ask.Opened, error) {
	if err := tracker.CheckClinic(r.Clinic); err != nil {
		return nil, ask.CodeFault("clinic", err)
	}
	if err := checkPatient(r.Patient); err != nil {
		return nil, err
	}
	rules := s.rules(r.Clinic)
	if err := checkNational(r.Patient.NationalNumber, r.NationalKind, rules.Protocol()); err != nil {
		return nil, err
	}
	opened := &ask.Opened{}
	fact, err := requestOf(r)
	if err != nil {
		return nil, err
	}
	if fact.Pots == nil {
		studies := make([][]string, len(r.Lesions))
		for i, l := range r.Lesions {
			studies[i] = l.Studies
		}
		if fact.Pots, opened.Why, err = planPots(rules.Protocol(), fact.Lesions, studies); err != nil {
			return nil, err
		}
	}
	if err := s.mayOpenAgain(r); err != nil {
		return nil, err
	}
	now := time.Now()
	ref, updated, err := s.people.ref(r.Patient)
	if err != nil {
		return nil, fmt.Errorf("patient: %w", err)
	}
	fact.Patient, opened.Updated = ref, updated
	e := &tracker.Event{ID: tracker.EventID(uuid.Must(uuid.NewV7()).String()), Kind: tracker.KindCaseOpened, Clinic: r.Clinic, At: now,
		By: r.By, Station: r.Station, Data: fact, Entered: tracker.EnteredTyped}
	year := now.In(rules.Zone()).Year() % 100
	if e, err = s.rehearse(e, r, year); err != nil {
		return nil, err
	}
	if err := s.mayRecord(e); err != nil {
		return nil, err
	}
	if err := s.people.put(ref, r.Patient); err != nil {
		return nil, fmt.Errorf("patient: %w", err)
	}
	if opened.Case, err = s.numberFor(r, year); err != nil {
		return nil, err
	}
	e.Items = []tracker.Item{{Name: opened.Case}}
	verdicts, err := s.intake.submit(ctx, []store.Intake{{Event: e, SentAt: now}})
	if err != nil {
		return nil, err
	}
	s.counts.verdict(e.Kind, verdicts[0])
	if v := verdicts[0]; !v.OK {
		return nil, refusalAsError(v.Error)
	}
	opened.Event, opened.Pots, opened.Raised = e.ID, fact.Pots, verdicts[0].Raised
	if opened.Labels, err = labelsFor(rules.Protocol(), opened.Case, fact.Pots); err != nil {
		return nil, err
	}
	opened.Unprintable = s.unprintable(append(opened.Labels, opened.Case))
	return opened, nil
}

// unprintable says what is wrong with the first label that cannot be drawn: of a name in letters that no label has, the desk
// hears now and the room need not. Of each sort of label one is tried.
func (s *Service) unprintable(names []tracker.Name) string {
	if s.printing == nil {
		return ""
	}
	tried := map[string]bool{}
	for _, name := range names {
		content, _, err := s.labelContent(name, false)
		if err != nil {
			return err.Error()
		}
		sort := name.Thing().String() + content.Carrier
		if tried[sort] && name.Thing() != tracker.ThingPot {
			continue
		}
		tried[sort] = true
		content.Copy = '1'
		if _, err := s.printing.artist.Draw(content, press.Wish{DotsPerMM: trialDots, Preview: true, At: time.Now()}); err != nil {
			return err.Error()
		}
	}
	return ""
}

// trialDots is the resolution at which it is tried whether a label can be drawn: that of most printers.
const trialDots = 8

// rehearse holds the event against the codec, and its free text against the patient, before anything is done. The event
// that it gives is the canonical one.
func (s *Service) rehearse(e *tracker.Event, r ask.OpenRequest, year int) (*tracker.Event, error) {
	placeholder, err := tracker.CaseName(r.Clinic, year, 1)
	if err != nil {
		return nil, err
	}
	e.Items = []tracker.Item{{Name: placeholder}}
	e, err = events.Decode(events.Encode(e))
	if err != nil {
		return nil, refusalAsError(events.AsRefusal(err))
	}
	for _, t := range freeText(e.Data) {
		if people.Person(r.Patient).Mentions(t.text) {
			return nil, &ask.Error{Kind: ask.Invalid, Code: string(events.CodeIdentifiersInText), Field: t.field,
				Text: t.field + " holds the patient's own name, birth date or number; say it without"}
		}
	}
	return e, nil
}

func refusalAsError(r *events.Refusal) error {
	kind := ask.Invalid
	switch r.Code {
	case events.CodeNoSpace:
		kind = ask.NoSpace
	case events.CodeRightMissing:
		kind = ask.Forbidden
	}
	return &ask.Error{Kind: kind, Code: string(r.Code), Field: r.Field, Text: r.Text}
}

// checkPatient asks for the two identifiers that every label carries.
func checkPatient(p ask.Patient) error {
	lacks := func(field, why string) error {
		return &ask.Error{Kind: ask.Invalid, Code: string(events.CodeMissingField), Field: "patient." + field, Text: "patient." + field + ": " + why}
	}
	switch {
	case strings.TrimSpace(p.Family) == "":
		return lacks("family", "a label needs the patient's name")
	case strings.TrimSpace(p.BirthDate) == "":
		return lacks("birth_date", "a label needs the birth date")
	case p.RecordNumber == "" && p.NationalNumber == "":
		return lacks("record_number", "name and birth date alone may fit two people: give the record number or the national number")
	}
	if _, err := tracker.ParseDate(p.BirthDate); err != nil {
		return &ask.Error{Kind: ask.Invalid, Code: string(events.CodeBadDate), Field: "patient.birth_date", Text: "patient.birth_date is no day; write it as 1961-02-14"}
	}
	return nil
}

// requestOf turns what was asked for into the fact of an opened case; lesions without a key are numbered.
func requestOf(r ask.OpenRequest) (*tracker.CaseOpened, error) {
	fact := &tracker.CaseOpened{Priority: r.Priority, Room: r.Room, Planned: r.Planned, Pots: r.Pots, Order: r.Order, Clinical: r.Clinical,
		Hazard: r.Hazard, RepeatOf: r.RepeatOf}
	if fact.Priority == "" {
		fact.Priority = usualPriority
	}
	if len(r.Lesions) == 0 {
		return nil, &ask.Error{Kind: ask.Invalid, Code: string(events.CodeMissingField), Field: "lesions", Text: "lesions: say what is to be biopsied"}
	}
	for i, l := range r.Lesions {
		key := l.Key
		if key == "" {
			key = fmt.Sprint(i + 1)
		}
		fact.Lesions = append(fact.Lesions, tracker.Lesion{Key: key, Organ: l.Organ, Side: l.Side, Position: l.Position,
			FromNippleMM: l.FromNippleMM, SizeMM: l.SizeMM, Target: l.Target, Imaging: l.Imaging})
	}
	return fact, nil
}

// serials takes numbers, and says what stands in the way.
func (s *Service) serials(clinic string, year, n int) (int, error) {
	first, err := s.ledger.TakeSerials(clinic, year, n)
	switch {
	case errors.Is(err, store.ErrSerials):
		return 0, &ask.Error{Kind: ask.Conflict, Code: "no-serials", Text: fmt.Sprintf("%s has used all its numbers of this year: use a second clinic key until the new year", clinic)}
	case errors.Is(err, store.ErrNoSpace):
		return 0, &ask.Error{Kind: ask.NoSpace, Code: string(events.CodeNoSpace), Text: "there is no space left for the ledger: make space, then do it again"}
	}
	return first, err
}

// Reserve takes numbers for a downtime roll; see [ask.Local].
func (s *Service) Reserve(_ context.Context, r ask.ReserveRequest) (*ask.Reserved, error) {
	if err := tracker.CheckClinic(r.Clinic); err != nil {
		return nil, ask.CodeFault("clinic", err)
	}
	if r.Count < 1 || r.Count > batchEvents {
		return nil, &ask.Error{Kind: ask.Invalid, Code: "bad-number", Field: "count", Text: fmt.Sprintf("count: 1 to %d cases at once", batchEvents)}
	}
	year := time.Now().In(s.rules(r.Clinic).Zone()).Year() % 100
	first, err := s.serials(r.Clinic, year, r.Count)
	if err != nil {
		return nil, err
	}
	out := &ask.Reserved{}
	for i := range r.Count {
		name, err := tracker.CaseName(r.Clinic, year, first+i)
		if err != nil {
			return nil, err
		}
		out.Cases = append(out.Cases, name)
	}
	return out, nil
}

// Protocol is the one in force for a clinic; see [ask.Local].
func (s *Service) Protocol(_ context.Context, r ask.ProtocolRequest) (*ask.ProtocolAnswer, error) {
	if err := tracker.CheckClinic(r.Clinic); err != nil {
		return nil, ask.CodeFault("clinic", err)
	}
	return protocolAnswer(s.ledger, r.Clinic), nil
}

// Refused lists what was refused; see [ask.Local].
func (s *Service) Refused(_ context.Context, r ask.RefusedRequest) (*ask.RefusedAnswer, error) {
	if err := s.noteReads(time.Now(), ask.Read{By: r.By, Station: r.Station, How: readRefused}, ""); err != nil {
		return nil, err
	}
	return s.people.refused()
}

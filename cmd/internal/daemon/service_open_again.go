package daemon

import (
	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

// numberFor gives a case its number: a new one or, for what is opened again, the one on its labels.
func (s *Service) numberFor(r ask.OpenRequest, year int) (tracker.Name, error) {
	if r.Case != "" {
		return r.Case, nil
	}
	serial, err := s.serials(r.Clinic, year, 1)
	if err != nil {
		return "", err
	}
	return tracker.CaseName(r.Clinic, year, serial)
}

// mayOpenAgain lets a number be named only where the record was put back from a backup and this number was passed over then:
// so no two cases ever come to one number by hand.
func (s *Service) mayOpenAgain(r ask.OpenRequest) error {
	if r.Case == "" {
		return nil
	}
	refuse := func(kind ask.Kind, code, text string) error {
		return &ask.Error{Kind: kind, Code: code, Field: "case", Text: "case: " + text}
	}
	if r.Case.Thing() != tracker.ThingCase || r.Case.Clinic() != r.Clinic {
		return refuse(ask.Invalid, "no-case", r.Case.Printed()+" is no case of "+r.Clinic)
	}
	known, err := s.ledger.Codes(r.Case)
	switch {
	case err != nil:
		return err
	case known.PutBack == nil || !known.PutBack.Passes(r.Case):
		return refuse(ask.Conflict, "not-passed-over", "numbers are given out here. One is named only for a case that was opened after the backup from which this record was put back, and "+
			r.Case.Printed()+" is none of those: leave it out")
	}
	gathered, err := s.ledger.Events(r.Case)
	if err != nil {
		return err
	}
	if len(tracker.Fold(r.Case, gathered).Openings) > 0 {
		return refuse(ask.Conflict, "opened-already", r.Case.Printed()+" is opened already")
	}
	return nil
}

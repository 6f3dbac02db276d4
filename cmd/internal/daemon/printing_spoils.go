package daemon

import (
	"context"
	"strings"
	"time"
	"unicode"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

// accountFor tells the ledger of a label that was recorded as printed and never came out, with the id that the queue made for
// it, so that it is told once however often this is tried.
func (s *Service) accountFor(ctx context.Context, job prints.Job) error {
	if job.Name == "" {
		return nil
	}
	e := s.spoiled(job)
	verdicts, err := s.intake.submit(ctx, []store.Intake{{Event: e, SentAt: time.Now()}})
	if err != nil {
		return err
	}
	s.counts.verdict(e.Kind, verdicts[0])
	if v := verdicts[0]; !v.OK && v.Error.Code != events.CodeDifferentContent { // different content: told before, in other words
		return v.Error
	}
	return nil
}

// spoiled is what the ledger is told of a label that never came out. What a printer says of itself is left out where it
// would not do as a text of an event.
func (s *Service) spoiled(job prints.Job) *tracker.Event {
	by, station := job.By, job.Station
	if job.SettledBy != "" {
		by, station = job.SettledBy, or(job.SettledAt, station)
	}
	fact := &tracker.LabelSpoiled{Copy: job.Copy, Why: "never came out of printer " + job.Printer}
	e := &tracker.Event{ID: job.Spoiled, Kind: tracker.KindLabelSpoiled, Clinic: job.Name.Clinic(), At: job.Changed, By: by, Station: station,
		Items: []tracker.Item{{Name: job.Name}}, Data: fact, Entered: tracker.EnteredTyped}
	if job.Problem == "" || strings.ContainsFunc(job.Problem, unicode.IsControl) {
		return e
	}
	plain := fact.Why
	fact.Why += ": " + job.Problem
	told, err := events.Decode(events.Encode(e))
	if err == nil && s.namesPatient(told, map[tracker.Name]string{}) == nil {
		return told
	}
	fact.Why = plain
	return e
}

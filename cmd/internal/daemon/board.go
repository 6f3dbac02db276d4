package daemon

import (
	"context"
	"fmt"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/web"
	"github.com/pottrail/pottrail/events"
)

// Board is everything that is open, for the live page; see [web.Board].
func (s *Service) Board(context.Context) (web.BoardAnswer, error) {
	now := time.Now()
	all, err := s.judgements(ask.Request{}, now)
	if err != nil {
		return web.BoardAnswer{}, fmt.Errorf("what is open: %w", err)
	}
	printing, err := s.printing.trouble(now)
	if err != nil {
		return web.BoardAnswer{}, fmt.Errorf("the print queue: %w", err)
	}
	answer := web.BoardAnswer{At: now, Open: all, Printing: printing}
	if s.nightly != nil {
		answer.Backup = s.nightly.trouble()
	}
	return answer, nil
}

// Zone is a clinic's time zone.
func (s *Service) Zone(clinic string) *time.Location { return s.rules(clinic).Zone() }

// PlaceName is what a clinic's protocol calls a place, or its key.
func (s *Service) PlaceName(clinic, place string) string {
	return or(s.rules(clinic).Protocol().Places[place].Name, place)
}

// Signal is closed at the next change of the ledger; see [web.Live].
func (s *Service) Signal() <-chan struct{} { return s.ledger.Changed() }

// Changes lists changes of flags from a position on. Those of a change of rules come together, when it is worked through.
func (s *Service) Changes(_ context.Context, from uint64, limit int) ([]web.Change, uint64, error) {
	if s.ledger.Sweeping() {
		return nil, from, nil
	}
	rows, err := s.ledger.FlagChanges(from, limit)
	if err != nil {
		return nil, from, fmt.Errorf("changes of flags: %w", err)
	}
	out := make([]web.Change, len(rows))
	for i, row := range rows {
		out[i] = web.Change{Seq: row.Seq, Clinic: row.Flag.Item.Clinic(), JSON: events.EncodeFlagChange(row.FlagChange)}
		from = row.Seq + 1
	}
	return out, from, nil
}

// Last is the position of the next change of a flag, and of the last event.
func (s *Service) Last() (nextChange, lastSeq uint64) {
	lastSeq, _ = s.ledger.Last()
	return s.ledger.LastFlagChange() + 1, lastSeq
}

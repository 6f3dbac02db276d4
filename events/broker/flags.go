package broker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strconv"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// flagSpring gives changes of flags. An empty stream first gets what is open now, as raised; changes from before are
// nobody's business any more.
type flagSpring struct {
	source    Source
	log       *slog.Logger
	opening   []outgoing // what is open, not yet published
	position  uint64     // of the last change given
	forgotten bool       // the log no longer reaches back to the stream's last message
}

func (s *flagSpring) changed() <-chan struct{} { return s.source.Changed() }

// unfinished marks what is open now but for the last of it, so that an opening cut short is known when resuming.
const unfinished = 0

func (s *flagSpring) resume(ctx context.Context, stream jetstream.Stream) (again bool, err error) {
	info, err := stream.Info(ctx)
	if err != nil {
		return false, fmt.Errorf("stream %s: %w", StreamFlags, err)
	}
	open, end, err := s.source.OpenFlags()
	if err != nil {
		return false, fmt.Errorf("open flags: %w", err)
	}
	s.opening = nil
	if info.State.Msgs == 0 {
		s.forgotten = false
		s.open(open, end)
		return false, nil
	}
	if s.forgotten {
		return true, nil
	}
	msg, err := stream.GetMsg(ctx, info.State.LastSeq)
	if errors.Is(err, jetstream.ErrMsgNotFound) {
		return true, nil
	}
	if err != nil {
		return false, fmt.Errorf("stream %s: last message: %w", StreamFlags, err)
	}
	last, err := strconv.ParseUint(msg.Header.Get(events.HeaderFlagSeq), 10, 64)
	if err != nil || last == unfinished || last > end {
		return true, nil
	}
	s.position = last
	return false, nil
}

func (s *flagSpring) open(flags []tracker.Flag, end uint64) {
	s.position = end
	for _, flag := range flags {
		if out, ok := s.message(events.FlagChange{Change: events.ChangeRaised, Flag: flag}, unfinished); ok {
			s.opening = append(s.opening, out)
		}
	}
	if n := len(s.opening); n > 0 {
		s.opening[n-1].msg.Header.Set(events.HeaderFlagSeq, strconv.FormatUint(end, 10))
		s.opening[n-1].position = end
	}
}

func (s *flagSpring) next(limit int) ([]outgoing, error) {
	if len(s.opening) > 0 {
		batch := s.opening[:min(limit, len(s.opening))]
		s.opening = s.opening[len(batch):]
		return batch, nil
	}
	var batch []outgoing
	for len(batch) == 0 {
		entries, err := s.source.FlagChanges(s.position+1, limit)
		if err != nil {
			return nil, fmt.Errorf("changes of flags from %d on: %w", s.position+1, err)
		}
		if len(entries) == 0 {
			break
		}
		for _, entry := range entries {
			if entry.Seq != s.position+1 {
				s.forgotten = true
				return nil, errForgotten
			}
			s.position = entry.Seq
			if out, ok := s.message(entry.Change, entry.Seq); ok {
				batch = append(batch, out)
			}
		}
	}
	return batch, nil
}

// message makes the message of a change. A flag on nothing has no clinic, hence no subject; the rules raise none.
func (s *flagSpring) message(change events.FlagChange, position uint64) (outgoing, bool) {
	item := change.Flag.Item
	if item.Thing() == 0 {
		s.log.Error("a flag is about nothing and was not published", "kind", change.Flag.Kind)
		return outgoing{}, false
	}
	msg := nats.NewMsg(events.FlagSubject(item.Clinic(), change.Flag.Kind))
	msg.Data = events.EncodeFlagChange(change)
	msg.Header.Set(events.HeaderFlagSeq, strconv.FormatUint(position, 10))
	return outgoing{msg: msg, position: position}, true
}

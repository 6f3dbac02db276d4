package broker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sort"
	"strconv"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"github.com/pottrail/pottrail/events"
)

// trailSpring gives the events of the node's own log.
type trailSpring struct {
	source   Source
	limits   Limits
	log      *slog.Logger
	position uint64 // of the next event
}

func (s *trailSpring) changed() <-chan struct{} { return s.source.Changed() }

// resume goes on after the stream's last message. A stream that does not fit this ledger is made anew: one with a
// gap, one that is ahead of the ledger, one with something strange in it.
func (s *trailSpring) resume(ctx context.Context, stream jetstream.Stream) (again bool, err error) {
	info, err := stream.Info(ctx)
	if err != nil {
		return false, fmt.Errorf("stream %s: %w", StreamTrail, err)
	}
	state := info.State
	if state.Msgs == 0 {
		s.position, err = s.start()
		return false, err
	}
	last, ok, err := s.read(ctx, stream, state.LastSeq)
	if err != nil || !ok {
		return !ok, err
	}
	if last.origin != s.source.Origin() {
		// A restored node began a new log; what the old one published stays in the stream.
		s.position, err = s.start()
		return false, err
	}
	if end := s.source.LastOSeq(); last.oseq > end {
		s.log.Error("the stream is ahead of the ledger", "stream", StreamTrail, "last", last.oseq, "ledger", end)
		return true, nil
	}
	first, ok, err := s.read(ctx, stream, state.FirstSeq)
	if err != nil || !ok {
		return !ok, err
	}
	if first.origin == last.origin && state.Msgs != last.oseq-first.oseq+1 {
		s.log.Error("the stream has a gap", "stream", StreamTrail, "first", first.oseq, "last", last.oseq, "messages", state.Msgs)
		return true, nil
	}
	s.position = last.oseq + 1
	return false, nil
}

// published is where a message of the stream stands in its log.
type published struct {
	origin string
	oseq   uint64
}

// read looks at one message; ok is false when it is not there or none of ours.
func (s *trailSpring) read(ctx context.Context, stream jetstream.Stream, sequence uint64) (p published, ok bool, err error) {
	msg, err := stream.GetMsg(ctx, sequence)
	if errors.Is(err, jetstream.ErrMsgNotFound) {
		return p, false, nil
	}
	if err != nil {
		return p, false, fmt.Errorf("stream %s: message %d: %w", StreamTrail, sequence, err)
	}
	oseq, err := strconv.ParseUint(msg.Header.Get(events.HeaderOSeq), 10, 64)
	if err != nil {
		return p, false, nil
	}
	e, err := events.DecodeRecorded(msg.Data)
	if err != nil || e.Record.OSeq != oseq {
		return p, false, nil
	}
	return published{origin: e.Record.Origin, oseq: oseq}, true, nil
}

// leastMessage is less than the smallest event takes up in a stream, in bytes.
const leastMessage = 256

// start is the first event that an empty stream would still hold in the end: earlier ones would only be published to
// be dropped again.
func (s *trailSpring) start() (uint64, error) {
	last := s.source.LastOSeq()
	from := uint64(1)
	for _, most := range []int64{s.limits.MaxMsgs, s.limits.MaxBytes / leastMessage} {
		if most > 0 && last > uint64(most) {
			from = max(from, last-uint64(most)+1)
		}
	}
	if s.limits.MaxAge <= 0 || from > last {
		return from, nil
	}
	// Clocks of one recorder never go back, so the first young enough is found by halving.
	oldest := time.Now().Add(-s.limits.MaxAge)
	var failed error
	n := sort.Search(int(last-from+1), func(i int) bool {
		entries, err := s.source.Events(from+uint64(i), 1)
		if err != nil || len(entries) == 0 {
			failed = errors.Join(failed, err)
			return true
		}
		e, err := events.DecodeRecorded(entries[0].Leaf)
		if err != nil {
			failed = errors.Join(failed, err)
			return true
		}
		return !e.Record.Recorded.Before(oldest)
	})
	if failed != nil {
		return 0, fmt.Errorf("the first event for stream %s: %w", StreamTrail, failed)
	}
	return from + uint64(n), nil
}

func (s *trailSpring) next(limit int) ([]outgoing, error) {
	entries, err := s.source.Events(s.position, limit)
	if err != nil {
		return nil, fmt.Errorf("events from %d on: %w", s.position, err)
	}
	batch := make([]outgoing, 0, len(entries))
	for _, entry := range entries {
		if entry.OSeq != s.position {
			return nil, fmt.Errorf("the ledger gave event %d of this node where %d follows", entry.OSeq, s.position)
		}
		head, ok := events.HeadOf(entry.Leaf)
		if !ok {
			return nil, fmt.Errorf("event %d of this node is not in canonical spelling", entry.OSeq)
		}
		msg := nats.NewMsg(events.EventSubject(head.Clinic, head.Kind))
		msg.Data = entry.Leaf
		msg.Header.Set(events.HeaderMsgID, string(head.ID))
		msg.Header.Set(events.HeaderOSeq, strconv.FormatUint(entry.OSeq, 10))
		batch = append(batch, outgoing{msg: msg, position: entry.OSeq})
		s.position++
	}
	return batch, nil
}

package broker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strconv"
	"strings"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"github.com/pottrail/pottrail/events"
)

// CheckpointEntry is one signed checkpoint of the record, and to whom it is told.
type CheckpointEntry struct {
	Position uint64    // among the node's checkpoints, from 1
	Made     time.Time // by the node's clock
	Origin   string    // whose log it is of
	Note     string    // as it was signed
	Clinics  []string  // that the record has something of
}

// checkpointSpring gives signed checkpoints, a message to each clinic. They have a stream, since a checkpoint is worth
// what others hold of it, and a laboratory that was away for the night must still get last night's.
type checkpointSpring struct {
	source   Source
	log      *slog.Logger
	position uint64 // of the next checkpoint
}

func (s *checkpointSpring) changed() <-chan struct{} { return s.source.Changed() }

// resume goes on after the stream's last message. One that is ahead of the ledger is left as it is, since it shows what
// the ledger has lost; what is new goes behind it.
func (s *checkpointSpring) resume(ctx context.Context, stream jetstream.Stream) (again bool, err error) {
	info, err := stream.Info(ctx)
	if err != nil {
		return false, fmt.Errorf("stream %s: %w", StreamCheckpoints, err)
	}
	s.position = 1
	if info.State.Msgs == 0 {
		return false, nil
	}
	msg, err := stream.GetMsg(ctx, info.State.LastSeq)
	if errors.Is(err, jetstream.ErrMsgNotFound) {
		return true, nil
	}
	if err != nil {
		return false, fmt.Errorf("stream %s: last message: %w", StreamCheckpoints, err)
	}
	last, whole, ok := readCSeq(msg.Header.Get(events.HeaderCSeq))
	if !ok {
		return true, nil
	}
	if s.position = last; whole {
		s.position++
	}
	if list, err := s.source.Checkpoints(last, 1); err != nil {
		return false, fmt.Errorf("checkpoint %d: %w", last, err)
	} else if len(list) == 0 {
		s.log.Error("the stream of checkpoints is ahead of the ledger: an older copy of the ledger may have been put in its place", "stream", StreamCheckpoints, "last", last)
		return false, s.end()
	}
	return false, nil
}

// end sets the position behind the last checkpoint that there is.
func (s *checkpointSpring) end() error {
	for s.position = 1; ; {
		list, err := s.source.Checkpoints(s.position, 1000)
		if err != nil || len(list) == 0 {
			return err
		}
		s.position = list[len(list)-1].Position + 1
	}
}

// cseq says which checkpoint a message is of, and which of its messages: "7 2/3".
func cseq(position uint64, n, of int) string { return fmt.Sprintf("%d %d/%d", position, n, of) }

func readCSeq(text string) (position uint64, whole, ok bool) {
	first, rest, _ := strings.Cut(text, " ")
	n, of, found := strings.Cut(rest, "/")
	position, err := strconv.ParseUint(first, 10, 64)
	return position, n == of, found && err == nil && position > 0
}

func (s *checkpointSpring) next(limit int) ([]outgoing, error) {
	var batch []outgoing
	for len(batch) == 0 {
		list, err := s.source.Checkpoints(s.position, limit)
		if err != nil {
			return nil, fmt.Errorf("checkpoints from %d on: %w", s.position, err)
		}
		if len(list) == 0 {
			break
		}
		for _, c := range list {
			for i, clinic := range c.Clinics {
				msg := nats.NewMsg(events.CheckpointSubject(clinic, c.Origin))
				msg.Data = []byte(c.Note)
				msg.Header.Set(events.HeaderCSeq, cseq(c.Position, i+1, len(c.Clinics)))
				msg.Header.Set(events.HeaderMade, c.Made.UTC().Format(time.RFC3339))
				batch = append(batch, outgoing{msg: msg, position: c.Position})
			}
			s.position = c.Position + 1
		}
	}
	return batch, nil
}

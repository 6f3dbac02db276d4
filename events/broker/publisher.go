package broker

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/nats-io/nats.go/jetstream"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// Source is the ledger as the publisher needs it. Its methods may be called at any time, from several goroutines, and
// must not wait for recording.
type Source interface {
	// Origin is the name of this node's log.
	Origin() string
	// LastOSeq is the highest position in that log, 0 when it is empty.
	LastOSeq() uint64
	// Events gives entries of this node's own log from a position on, in order, at most limit.
	Events(from uint64, limit int) ([]Stored, error)
	// OpenFlags gives the flags that are open, and the position in the log of flags as of which they are.
	OpenFlags() ([]tracker.Flag, uint64, error)
	// FlagChanges gives changes of flags from a position on, in order, at most limit. The log of flags is bounded: it may
	// begin later than asked.
	FlagChanges(from uint64, limit int) ([]FlagEntry, error)
	// Checkpoints gives signed checkpoints from a position on, in order, at most limit.
	Checkpoints(from uint64, limit int) ([]CheckpointEntry, error)
	// Changed gives a channel that is closed after the next commit.
	Changed() <-chan struct{}
}

// Stored is one entry of a node's own log.
type Stored struct {
	OSeq uint64
	Leaf []byte // canonical bytes with the record, as hashed
}

// FlagEntry is one row of the log of flags.
type FlagEntry struct {
	Seq    uint64 // from 1
	Change events.FlagChange
}

// PublisherOptions limits the streams. All of it has defaults.
type PublisherOptions struct {
	Trail  Limits // of TRAIL; default half the store, a million events, 90 days
	Flags  Limits // of FLAGS; default an eighth of the store, 200,000 changes, 30 days
	Window int    // messages under way at once; default 256
	Log    *slog.Logger
}

// Publisher keeps the streams equal to the ledger: every event first recorded at this node in TRAIL, in ledger order,
// every change of a flag in FLAGS, and every signed checkpoint in CHECKPOINTS. It reads the ledger after the fact and never holds up recording.
type Publisher struct {
	trail, flags, checkpoints *feed
}

// PublisherStats says how far the streams are.
type PublisherStats struct {
	OSeq     uint64 // position of the last event that TRAIL has acknowledged since the start; 0 when none
	FlagSeq  uint64 // the same of FLAGS
	Restarts uint64 // times that one of them had to begin again
}

// acknowledgedWithin is how long a message may be under way before publishing begins again.
const acknowledgedWithin = 10 * time.Second

// NewPublisher prepares publishing; [Publisher.Run] does it.
func NewPublisher(s *Server, source Source, o PublisherOptions) (*Publisher, error) {
	o.Window = or(o.Window, 256)
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	trailLimits := o.Trail.or(trailDefault(s.options.MaxStore))
	flagsLimits := o.Flags.or(flagsDefault(s.options.MaxStore))
	checkpointsLimits := checkpointsDefault(s.options.MaxStore)
	if most := s.options.MaxStore; trailLimits.MaxBytes+flagsLimits.MaxBytes+checkpointsLimits.MaxBytes > most {
		return nil, fmt.Errorf("streams %s, %s and %s may take %d, %d and %d bytes, and the store has %d: lower their limits or raise it",
			StreamTrail, StreamFlags, StreamCheckpoints, trailLimits.MaxBytes, flagsLimits.MaxBytes, checkpointsLimits.MaxBytes, most)
	}
	trail, err := newFeed(s, o, config(StreamTrail, events.SubjectEvents, trailLimits), &trailSpring{source: source, limits: trailLimits, log: o.Log})
	if err != nil {
		return nil, err
	}
	flags, err := newFeed(s, o, config(StreamFlags, events.SubjectFlags, flagsLimits), &flagSpring{source: source, log: o.Log})
	if err != nil {
		return nil, err
	}
	checkpoints, err := newFeed(s, o, config(StreamCheckpoints, events.SubjectCheckpoints, checkpointsLimits), &checkpointSpring{source: source, log: o.Log})
	if err != nil {
		return nil, err
	}
	return &Publisher{trail: trail, flags: flags, checkpoints: checkpoints}, nil
}

func newFeed(s *Server, o PublisherOptions, c jetstream.StreamConfig, from spring) (*feed, error) {
	conn, err := s.Connect("publisher of " + c.Name)
	if err != nil {
		return nil, err
	}
	js, err := jetstream.New(conn, jetstream.WithPublishAsyncMaxPending(2*o.Window), jetstream.WithPublishAsyncTimeout(acknowledgedWithin))
	if err != nil {
		return nil, err
	}
	return &feed{server: s, conn: conn, js: js, config: c, source: from, window: o.Window, log: o.Log, flush: make(chan chan struct{})}, nil
}

// Run publishes until the context ends. Nothing that goes wrong with a stream ends it: it begins again.
func (p *Publisher) Run(ctx context.Context) {
	var all sync.WaitGroup
	for _, f := range p.feeds() {
		all.Go(func() { f.run(ctx) })
	}
	all.Wait()
}

func (p *Publisher) feeds() []*feed { return []*feed{p.trail, p.flags, p.checkpoints} }

// Flush waits until all that is in the ledger by now has been published and acknowledged. It needs a running [Publisher.Run],
// and gives the context's error when that does not happen in time.
func (p *Publisher) Flush(ctx context.Context) error {
	for _, f := range p.feeds() {
		done := make(chan struct{})
		select {
		case f.flush <- done:
		case <-ctx.Done():
			return ctx.Err()
		}
		select {
		case <-done:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

// Stats says how far the streams are.
func (p *Publisher) Stats() PublisherStats {
	return PublisherStats{OSeq: p.trail.position.Load(), FlagSeq: p.flags.position.Load(), Restarts: p.trail.restarts.Load() + p.flags.restarts.Load() + p.checkpoints.restarts.Load()}
}

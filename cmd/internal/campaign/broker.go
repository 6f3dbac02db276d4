package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/google/uuid"
	"github.com/nats-io/nats.go/jetstream"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/broker"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// source is a ledger as the publisher sees it, as the daemon makes it.
type source struct{ *store.Ledger }

// Events gives this node's own log.
func (s source) Events(from uint64, limit int) ([]broker.Stored, error) {
	entries, err := s.ByOrigin("", from, limit)
	out := make([]broker.Stored, len(entries))
	for i, e := range entries {
		out[i] = broker.Stored{OSeq: e.OSeq, Leaf: e.Leaf}
	}
	return out, err
}

// OpenFlags gives what is open, and as of which position.
func (s source) OpenFlags() ([]tracker.Flag, uint64, error) {
	position := s.LastFlagChange()
	flags, err := s.Ledger.OpenFlags()
	return flags, position, err
}

// FlagChanges gives the log of flags.
func (s source) FlagChanges(from uint64, limit int) ([]broker.FlagEntry, error) {
	rows, err := s.Ledger.FlagChanges(from, limit)
	out := make([]broker.FlagEntry, len(rows))
	for i, row := range rows {
		out[i] = broker.FlagEntry{Seq: row.Seq, Change: row.FlagChange}
	}
	return out, err
}

// Checkpoints gives none: this ledger signs nothing.
func (s source) Checkpoints(uint64, int) ([]broker.CheckpointEntry, error) { return nil, nil }

// published reads all that is on the stream.
func published(ctx context.Context, s *broker.Server) (ids []tracker.EventID, err error) {
	conn, err := s.Connect("campaign")
	if err != nil {
		return nil, err
	}
	js, err := jetstream.New(conn)
	if err != nil {
		return nil, err
	}
	stream, err := js.Stream(ctx, broker.StreamTrail)
	if err != nil {
		return nil, err
	}
	state := stream.CachedInfo().State
	for n := state.FirstSeq; state.Msgs > 0 && n <= state.LastSeq; n++ {
		msg, err := stream.GetMsg(ctx, n)
		if err != nil {
			return nil, err
		}
		e, err := events.DecodeRecorded(msg.Data)
		if err != nil {
			return nil, fmt.Errorf("message %d: %w", n, err)
		}
		ids = append(ids, e.ID)
	}
	return ids, nil
}

// compare counts what the ledger has and the stream has not, and what is on the stream twice or out of order.
func compare(want []*tracker.Event, got []tracker.EventID) (lost, double int) {
	there := map[tracker.EventID]int{}
	for _, id := range got {
		there[id]++
	}
	for _, e := range want {
		switch n := there[e.ID]; n {
		case 0:
			lost++
		default:
			double += n - 1
		}
	}
	if lost+double == 0 && !slices.EqualFunc(want, got, func(e *tracker.Event, id tracker.EventID) bool { return e.ID == id }) {
		double++ // in another order
	}
	return lost, double
}

// noteAbout is an event about one of many cases: a few for each, so that judging is quick however long it lasts.
func noteAbout(n int) *tracker.Event {
	const each = 5
	name, err := tracker.CaseName("MBY", 26, 1+n/each%tracker.MaxSerial)
	if err != nil {
		panic(err) // the number is in range
	}
	return &tracker.Event{ID: tracker.EventID(uuid.Must(uuid.NewV7()).String()), Kind: tracker.KindNoteAdded, Clinic: "MBY", At: time.Now(),
		By: "nurse.osei", Station: "desk", Items: []tracker.Item{{Name: name}}, Data: &tracker.NoteAdded{Text: "seen"}}
}

// brokers deletes the folder of NATS, or a part of it, while events are recorded and published. In the end the stream must
// hold each event once, in order. The control shows the stream without one message, and with one twice.
func brokers(ctx context.Context, o options) (out result, err error) {
	r := rand.New(rand.NewPCG(o.seed, 14))
	l, err := store.Open(filepath.Join(o.folder, "ledger.db"), store.Options{Origin: storetest.Origin})
	if err != nil {
		return out, err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	dir := filepath.Join(o.folder, "nats")
	server, err := broker.Start(broker.Options{StoreDir: dir, MaxStore: 512 << 20})
	if err != nil {
		return out, err
	}
	defer func() { server.Stop(context.Background()) }()
	publisher, err := broker.NewPublisher(server, source{l}, broker.PublisherOptions{})
	if err != nil {
		return out, err
	}
	running, stop := context.WithCancel(ctx)
	var all sync.WaitGroup
	all.Go(func() { publisher.Run(running) })
	defer all.Wait()
	defer stop()

	var acknowledged atomic.Int64
	deleted, failed := make(chan struct{}), make(chan error, 1) // closed when the last deletion is over
	all.Go(func() {
		for n := 0; ; n++ {
			select {
			case <-deleted:
				failed <- nil
				return
			case <-running.Done():
				failed <- running.Err()
				return
			case <-time.After(time.Millisecond):
			}
			batch := make([]*tracker.Event, 5)
			for i := range batch {
				batch[i] = noteAbout(n*len(batch) + i)
			}
			verdicts, err := l.Record(time.Now(), storetest.Intakes(batch...)) // of what was recorded months ago a new stream holds nothing
			if err != nil {
				failed <- err
				return
			}
			acknowledged.Add(int64(len(verdicts)))
		}
	})
	for range o.cycles {
		select {
		case <-time.After(time.Duration(50+r.IntN(250)) * time.Millisecond):
		case <-ctx.Done():
			return out, ctx.Err()
		}
		inside := []string{"", "jetstream", "jetstream/$G/streams", "jetstream/$G/streams/TRAIL"}[r.IntN(4)]
		for os.RemoveAll(filepath.Join(dir, filepath.FromSlash(inside))) != nil && ctx.Err() == nil { // the server may be putting a file into it
		}
	}
	close(deleted)
	if err := <-failed; err != nil {
		return out, err
	}
	began := time.Now()
	flush, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	if err := publisher.Flush(flush); err != nil {
		out.Wrong = "the stream was not made whole within a minute of the last deletion: " + err.Error()
		return out, nil
	}
	healed := time.Since(began)
	ledger := newKept()
	if err := ledger.readOn(l); err != nil {
		return out, err
	}
	got, err := published(ctx, server)
	if err != nil {
		return out, err
	}
	out.Lost, out.Double = compare(ledger.events, got)
	out.Double += ledger.double
	out.Acknowledged, out.Stored = int(acknowledged.Load()), len(got)
	out.Lost += max(0, out.Acknowledged-int(ledger.last))
	gone := r.IntN(len(got))
	if lost, _ := compare(ledger.events, slices.Delete(slices.Clone(got), gone, gone+1)); lost == 1 {
		out.Control++
	}
	if _, double := compare(ledger.events, append(slices.Clone(got), got[gone])); double == 1 {
		out.Control++
	}
	out.Note = fmt.Sprintf("whole %s after the last deletion; the publisher began again %d times", healed.Round(time.Millisecond), publisher.Stats().Restarts)
	return out, nil
}

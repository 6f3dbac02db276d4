package broker_test

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/broker"
	"github.com/pottrail/pottrail/tracker"
)

// ledger is a source in memory, with what a real one promises.
type ledger struct {
	mu      sync.Mutex
	origin  string
	leaves  [][]byte
	open    []tracker.Flag
	flags   []broker.FlagEntry
	signed  []broker.CheckpointEntry
	dropped int // rows of the log of flags that are gone from its front
	change  chan struct{}
}

func newLedger(origin string) *ledger {
	return &ledger{origin: origin, change: make(chan struct{})}
}

func (l *ledger) Origin() string { return l.origin }

func (l *ledger) LastOSeq() uint64 {
	l.mu.Lock()
	defer l.mu.Unlock()
	return uint64(len(l.leaves))
}

func (l *ledger) Events(from uint64, limit int) ([]broker.Stored, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []broker.Stored
	for i := from; i <= uint64(len(l.leaves)) && len(out) < limit; i++ {
		out = append(out, broker.Stored{OSeq: i, Leaf: l.leaves[i-1]})
	}
	return out, nil
}

func (l *ledger) OpenFlags() ([]tracker.Flag, uint64, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return append([]tracker.Flag(nil), l.open...), uint64(len(l.flags)), nil
}

func (l *ledger) FlagChanges(from uint64, limit int) ([]broker.FlagEntry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	start := max(int(from)-1, l.dropped)
	end := min(start+limit, len(l.flags))
	if start >= end {
		return nil, nil
	}
	return append([]broker.FlagEntry(nil), l.flags[start:end]...), nil
}

func (l *ledger) Checkpoints(from uint64, limit int) ([]broker.CheckpointEntry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	start := min(max(int(from), 1)-1, len(l.signed))
	return append([]broker.CheckpointEntry(nil), l.signed[start:min(start+limit, len(l.signed))]...), nil
}

// sign makes so many checkpoints, told to two clinics.
func (l *ledger) sign(n int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for range n {
		position := uint64(len(l.signed) + 1)
		l.signed = append(l.signed, broker.CheckpointEntry{Position: position, Made: today, Origin: l.origin, Note: fmt.Sprintf("checkpoint %d", position), Clinics: []string{"HCX", "MBY"}})
	}
	l.commitLocked()
}

func (l *ledger) Changed() <-chan struct{} {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.change
}

func (l *ledger) commitLocked() {
	close(l.change)
	l.change = make(chan struct{})
}

// record appends so many events, recorded at that time.
func (l *ledger) record(n int, recorded time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for range n {
		oseq := uint64(len(l.leaves) + 1)
		l.leaves = append(l.leaves, leaf(l.origin, oseq, recorded))
	}
	l.commitLocked()
}

// flag changes flags, and what is open.
func (l *ledger) flag(change events.Change, flags ...tracker.Flag) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, f := range flags {
		l.flags = append(l.flags, broker.FlagEntry{Seq: uint64(len(l.flags) + 1), Change: events.FlagChange{Change: change, Flag: f}})
		if change == events.ChangeRaised {
			l.open = append(l.open, f)
		}
	}
	l.commitLocked()
}

// leaf is a stored event.
func leaf(origin string, oseq uint64, recorded time.Time) []byte {
	name, _ := tracker.CaseName("MBY", 26, int(oseq%tracker.MaxSerial)+1)
	return events.EncodeRecorded(&tracker.Event{
		ID: tracker.EventID(fmt.Sprintf("0199f1c2-7b1e-7c3a-9d55-%012x", oseq)), Kind: tracker.KindNoteAdded, Clinic: "MBY",
		At: recorded, By: "nurse.osei", Station: "room-2", Items: []tracker.Item{{Name: name}}, Data: &tracker.NoteAdded{Text: "seen"},
		Record: tracker.Record{Origin: origin, OSeq: oseq, Recorded: recorded.UTC()},
	})
}

func flagOn(pot string) tracker.Flag {
	return tracker.Flag{Kind: tracker.FlagPotLost, Case: "MBY-26-00417", Item: tracker.Name("MBY-26-00417-" + pot), Severity: tracker.Now,
		Text: "Pot " + pot + " is lost.", Remedy: "Look."}
}

// within is a context for one test; tests end by what they wait for, and this only keeps a broken one from hanging.
func within(t *testing.T) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	t.Cleanup(cancel)
	return ctx
}

// started is a running server in a folder, stopped at the end of the test.
func started(t *testing.T, dir string) *broker.Server {
	t.Helper()
	s, err := broker.Start(broker.Options{StoreDir: dir, MaxStore: 64 << 20})
	require.NoError(t, err)
	t.Cleanup(func() { s.Stop(context.Background()) })
	return s
}

// publishing runs a publisher until the returned stop or the end of the test.
func publishing(t *testing.T, s *broker.Server, source broker.Source, o broker.PublisherOptions) (p *broker.Publisher, stop func()) {
	t.Helper()
	if os.Getenv("VERBOSE") != "" {
		o.Log = slog.New(slog.NewTextHandler(os.Stderr, nil))
	}
	p, err := broker.NewPublisher(s, source, o)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		p.Run(ctx)
		close(done)
	}()
	stop = func() {
		cancel()
		<-done
	}
	t.Cleanup(stop)
	return p, stop
}

// connect is a connection inside the process.
func connect(t *testing.T, s *broker.Server) (*nats.Conn, jetstream.JetStream) {
	t.Helper()
	conn, err := s.Connect("test")
	require.NoError(t, err)
	js, err := jetstream.New(conn)
	require.NoError(t, err)
	return conn, js
}

// messages reads all that a stream holds.
func messages(ctx context.Context, t *testing.T, s *broker.Server, stream string) []*jetstream.RawStreamMsg {
	t.Helper()
	_, js := connect(t, s)
	handle, err := js.Stream(ctx, stream)
	require.NoError(t, err)
	state := handle.CachedInfo().State
	var out []*jetstream.RawStreamMsg
	for sequence := state.FirstSeq; state.Msgs > 0 && sequence <= state.LastSeq; sequence++ {
		msg, err := handle.GetMsg(ctx, sequence)
		require.NoError(t, err)
		out = append(out, msg)
	}
	return out
}

// requireTrail holds the stream against the ledger: these positions, each once, in order, with their bytes.
func requireTrail(ctx context.Context, t *testing.T, s *broker.Server, l *ledger, from, to int) {
	t.Helper()
	got := messages(ctx, t, s, broker.StreamTrail)
	positions := make([]string, len(got))
	for i, msg := range got {
		positions[i] = msg.Header.Get("Trail-Oseq")
	}
	var want []string
	for i := from; i <= to; i++ {
		want = append(want, strconv.Itoa(i))
	}
	require.Equal(t, want, positions)
	for i, msg := range got {
		require.Equal(t, string(l.leaves[from+i-1]), string(msg.Data))
		require.Equal(t, "trail.v1.MBY.event.note.added", msg.Subject)
		var id struct{ ID string }
		require.NoError(t, json.Unmarshal(msg.Data, &id))
		require.Equal(t, id.ID, msg.Header.Get("Nats-Msg-Id"))
	}
}

// flagsIn tells what FLAGS holds: change, item and position of each message.
func flagsIn(ctx context.Context, t *testing.T, s *broker.Server) []string {
	t.Helper()
	var out []string
	for _, msg := range messages(ctx, t, s, broker.StreamFlags) {
		c, err := events.DecodeFlagChange(msg.Data)
		require.NoError(t, err)
		require.Equal(t, "trail.v1.MBY.flag.pot-lost", msg.Subject)
		out = append(out, fmt.Sprintf("%s %s %s", c.Change, c.Flag.Item.Letter(), msg.Header.Get("Trail-Fseq")))
	}
	return out
}

package daemon

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
)

const (
	// leastRounds is how many times each number of clients is measured, at least.
	leastRounds = 5
	// roundTime is how long clients send in one round.
	roundTime = 1500 * time.Millisecond
	// preloaded is how many events the ledger holds before anything is measured: some thousand cases.
	preloaded = 100_000
	// connections is how many TCP connections all clients share, as in the measurements that the targets come from.
	connections = 8
)

// BenchmarkVerdicts measures durable verdicts over NATS, all of the daemon running (rules, Merkle leaves, log of flags,
// publisher to JetStream), beside bare bbolt commits of the very puts that the ledger made, in the same batches, in a
// file with the same content and options on the same disk. Clients wait for a verdict before they send the next event;
// they run in this process too, and what they cost counts against the daemon.
//
// Rounds of 1, 16 and 256 clients come in shuffled order, and so does who goes first, the daemon or the bare run (which
// then replays the batches of the round before). For each number of clients it reports, as medians of the rounds with
// the least and the most:
//
//	ratio-N     verdicts a second over events a second of the bare run
//	p50x-1      median time of one client's verdict over the median bare commit
//	p99x-1      the same of the 99th percentile
//	ev/s-N, bare/s-N, p50ms-N, p99ms-N, batch-N, behind-N
//
// where batch is the mean events of a batch, and behind is how many events the publisher still had to send when the last
// verdict of a round was given.
func BenchmarkVerdicts(b *testing.B) {
	t := newTrial(b)
	clients := []int{1, 16, 256}
	for _, n := range clients { // one round to warm up, and to have something to replay
		t.waiting = append(t.waiting, t.ours(n))
	}
	for len(t.waiting) > 1 {
		t.replayNext()
	}
	counted := map[int][]*round{}
	measure := func() {
		for _, i := range rand.Perm(len(clients)) {
			r := t.turn(clients[i])
			counted[clients[i]] = append(counted[clients[i]], r)
		}
	}
	for b.Loop() {
		measure()
	}
	for len(counted[1]) < leastRounds {
		measure()
	}
	for len(t.waiting) > 0 {
		t.replayNext()
	}
	b.ReportMetric(0, "ns/op") // of a round: of no interest
	for _, n := range clients {
		report(b, n, counted[n])
	}
}

// trial is a daemon under load and the bare file beside it.
type trial struct {
	b       *testing.B
	daemon  *running
	conns   []*nats.Conn
	tellers []*teller
	bare    *bolt.DB

	mu      sync.Mutex
	batches [][]store.Put // of the round under way
	waiting []*round      // not yet replayed, the oldest first
}

// round is what one number of clients did in one stretch, and what the bare file made of it.
type round struct {
	clients  int
	events   int
	took     time.Duration
	each     []time.Duration // of a verdict
	behind   int
	batches  [][]store.Put
	bareTook time.Duration
	bareEach []time.Duration // of a commit
	commits  int
}

func newTrial(b *testing.B) *trial {
	w := newWorkload(b)
	dir := b.TempDir()
	t := &trial{b: b}
	var err error
	t.bare, err = bolt.Open(filepath.Join(dir, "bare.db"), 0o600, &bolt.Options{Timeout: time.Second, FreelistType: bolt.FreelistMapType, InitialMmapSize: 1 << 30})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, t.bare.Close()) })
	o := Options{Options: config.Defaults(func(string) string { return "" }), Log: slog.New(slog.DiscardHandler), Version: "v0.0.0", Tap: t.tap}
	o.Folder.Dir, o.Web.Listen, o.NATS.Listen = filepath.Join(dir, "data"), "127.0.0.1:0", "127.0.0.1:0"
	t.daemon = &running{o: o, broken: make(chan error, 1)}
	setCollector(os.Getenv)
	require.NoError(b, t.daemon.start())
	b.Cleanup(t.daemon.stop)
	for _, p := range w.network.People {
		require.NoError(b, t.daemon.service.people.put(p.Ref, ask.Patient{Family: p.Family, Given: p.Given, BirthDate: string(p.Born),
			RecordNumber: p.Record, NationalNumber: p.National, Address: p.Address}))
	}
	const most = 256
	for n := range most {
		t.tellers = append(t.tellers, w.newTeller(n))
	}
	t.preload()
	secret, err := t.daemon.folder.credentials()
	require.NoError(b, err)
	for range connections {
		conn, err := nats.Connect(secret.URL, nats.UserInfo(secret.User, secret.Password))
		require.NoError(b, err)
		b.Cleanup(conn.Close)
		t.conns = append(t.conns, conn)
	}
	return t
}

// tap notes what the ledger writes.
func (t *trial) tap(puts []store.Put) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.batches = append(t.batches, puts)
}

func (t *trial) take() [][]store.Put {
	t.mu.Lock()
	defer t.mu.Unlock()
	batches := t.batches
	t.batches = nil
	return batches
}

// preload records events of all clinics through the daemon's own intake, and gives the bare file the same content.
func (t *trial) preload() {
	for done := 0; done < preloaded; done += batchEvents {
		batch := make([]store.Intake, batchEvents)
		for i := range batch {
			e, err := events.Decode(t.tellers[(done+i)%len(t.tellers)].next())
			require.NoError(t.b, err)
			batch[i].Event = e
		}
		verdicts, err := t.daemon.service.intake.submit(t.b.Context(), batch)
		require.NoError(t.b, err)
		for _, v := range verdicts {
			require.True(t.b, v.OK, "%v", v.Error)
		}
		for _, puts := range t.take() {
			t.apply(puts)
		}
	}
	t.settle()
}

// settle waits until all is on the streams.
func (t *trial) settle() {
	ctx, cancel := context.WithTimeout(t.b.Context(), time.Minute)
	defer cancel()
	require.NoError(t.b, t.daemon.link.publisher.Flush(ctx))
}

// turn measures one number of clients, before or after a bare run.
func (t *trial) turn(clients int) *round {
	if rand.IntN(2) == 0 {
		t.replayNext()
		r := t.ours(clients)
		t.waiting = append(t.waiting, r)
		return r
	}
	r := t.ours(clients)
	t.waiting = append(t.waiting, r)
	t.replayNext()
	return r
}

// ours lets clients send for a while.
func (t *trial) ours(clients int) *round {
	r := &round{clients: clients}
	prepared := make([][][]byte, clients)
	for i := range prepared { // more than can be sent
		for range 40_000 / (clients + 9) {
			prepared[i] = append(prepared[i], t.tellers[i].next())
		}
	}
	t.take()
	took := make([][]time.Duration, clients)
	var sending sync.WaitGroup
	start := time.Now()
	for i := range clients {
		sending.Go(func() { took[i] = t.client(i, prepared[i], start.Add(roundTime)) })
	}
	sending.Wait()
	r.took = time.Since(start)
	r.behind = int(t.daemon.link.lag())
	r.batches = t.take()
	for i := range took {
		r.each = append(r.each, took[i]...)
		t.tellers[i].back(prepared[i][len(took[i]):])
	}
	r.events = len(r.each)
	t.settle()
	return r
}

// client sends one event after the other, and waits for each verdict.
func (t *trial) client(i int, prepared [][]byte, until time.Time) (took []time.Duration) {
	conn := t.conns[i%len(t.conns)]
	subject := events.RecordSubject(t.tellers[i].clinic)
	for _, event := range prepared {
		start := time.Now()
		if start.After(until) {
			break
		}
		answer, err := conn.Request(subject, event, 10*time.Second)
		took = append(took, time.Since(start))
		if err != nil {
			t.b.Errorf("no answer: %v", err)
			break
		}
		if !bytes.Contains(answer.Data, []byte(`,"ok":true,`)) {
			t.b.Errorf("not recorded: %s", answer.Data)
			break
		}
	}
	return took
}

// replayNext commits the batches of the oldest round that waits.
func (t *trial) replayNext() {
	r := t.waiting[0]
	t.waiting = t.waiting[1:]
	start := time.Now()
	for _, puts := range r.batches {
		before := time.Now()
		t.apply(puts)
		r.bareEach = append(r.bareEach, time.Since(before))
	}
	r.bareTook = time.Since(start)
	r.commits = len(r.batches)
	r.batches = nil
}

// apply commits one batch to the bare file, with the same filling of leaves as the ledger.
func (t *trial) apply(puts []store.Put) {
	require.NoError(t.b, t.bare.Update(func(tx *bolt.Tx) error {
		var in *bolt.Bucket
		name := ""
		for i := range puts {
			p := &puts[i]
			if p.Bucket != name || in == nil {
				var err error
				if in, err = tx.CreateBucketIfNotExists([]byte(p.Bucket)); err != nil {
					return err
				}
				name = p.Bucket
				switch name {
				case "entries", "tree", "flaglog", "runs": // their keys only ever ascend
					in.FillPercent = 0.95
				}
			}
			var err error
			if p.Delete {
				err = in.Delete(p.Key)
			} else {
				err = in.Put(p.Key, p.Value)
			}
			if err != nil {
				return err
			}
		}
		return nil
	}))
}

// report gives the figures of one number of clients.
func report(b *testing.B, clients int, rounds []*round) {
	of := func(figure func(r *round) float64) []float64 {
		all := make([]float64, len(rounds))
		for i, r := range rounds {
			all[i] = figure(r)
		}
		slices.Sort(all)
		return all
	}
	say := func(name string, figure func(r *round) float64, ranged bool) {
		all := of(figure)
		b.ReportMetric(all[len(all)/2], fmt.Sprintf("%s-%d", name, clients))
		if ranged {
			b.ReportMetric(all[0], fmt.Sprintf("%s-%d-min", name, clients))
			b.ReportMetric(all[len(all)-1], fmt.Sprintf("%s-%d-max", name, clients))
		}
	}
	perSecond := func(r *round) float64 { return float64(r.events) / r.took.Seconds() }
	bare := func(r *round) float64 { return float64(r.events) / r.bareTook.Seconds() }
	say("ratio", func(r *round) float64 { return perSecond(r) / bare(r) }, true)
	if clients == 1 {
		say("p50x", func(r *round) float64 { return quantile(r.each, 0.5) / quantile(r.bareEach, 0.5) }, true)
		say("p99x", func(r *round) float64 { return quantile(r.each, 0.99) / quantile(r.bareEach, 0.99) }, true)
	}
	say("ev/s", perSecond, true)
	say("bare/s", bare, true)
	say("p50ms", func(r *round) float64 { return quantile(r.each, 0.5) * 1000 }, false)
	say("p99ms", func(r *round) float64 { return quantile(r.each, 0.99) * 1000 }, false)
	say("batch", func(r *round) float64 { return float64(r.events) / float64(max(1, r.commits)) }, false)
	say("behind", func(r *round) float64 { return float64(r.behind) }, false)
}

// quantile is in seconds.
func quantile(all []time.Duration, q float64) float64 {
	if len(all) == 0 {
		return 0
	}
	sorted := slices.Sorted(slices.Values(all))
	return sorted[int(q*float64(len(sorted)-1))].Seconds()
}

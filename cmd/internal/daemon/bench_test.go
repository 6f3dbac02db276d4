package daemon_test

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker/demo"
)

// tape takes down what the ledger writes, batch by batch.
type tape struct {
	mu      sync.Mutex
	batches [][]store.Put
}

func (t *tape) take(puts []store.Put) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.batches = append(t.batches, puts)
}

func (t *tape) cut() [][]store.Put {
	t.mu.Lock()
	defer t.mu.Unlock()
	out := t.batches
	t.batches = nil
	return out
}

// bench is a daemon with everything on, clients over loopback TCP, and a bare bbolt file that gets the same puts.
type bench struct {
	tape  tape
	conns []*nats.Conn
	feed  []*nats.Msg
	next  atomic.Int64
	bare  *bolt.DB
	stop  func()
}

const benchConnections = 8

func newBench(b *testing.B) *bench {
	b.Helper()
	w := &bench{}
	folder := filepath.Join(b.TempDir(), "clinic")
	o := config.Defaults(os.Getenv)
	o.Folder.Dir, o.Web.Listen, o.NATS.Listen = folder, "127.0.0.1:0", "127.0.0.1:0"
	ready, ended := make(chan daemon.Ready, 1), make(chan error, 1)
	ctx, cancel := context.WithCancel(context.Background())
	go func() {
		ended <- daemon.Run(ctx, daemon.Options{Options: o, Log: slog.New(slog.DiscardHandler), Tap: w.tape.take, Ready: func(r daemon.Ready) { ready <- r }})
	}()
	var r daemon.Ready
	select {
	case r = <-ready:
	case err := <-ended:
		require.NoError(b, err)
	}
	secret, err := daemon.ReadCredentials(folder)
	require.NoError(b, err)
	for range benchConnections {
		conn, err := nats.Connect(r.NATS, nats.UserInfo(secret.User, secret.Password))
		require.NoError(b, err)
		w.conns = append(w.conns, conn)
	}
	network, err := demo.Generate(demo.Options{Seed: 7, Now: time.Now(), Weeks: demo.MostWeeks})
	require.NoError(b, err)
	for _, e := range network.Events {
		msg := nats.NewMsg(events.RecordSubject(e.Clinic))
		msg.Data = events.Encode(e)
		w.feed = append(w.feed, msg)
	}
	w.bare, err = bolt.Open(filepath.Join(b.TempDir(), "bare.db"), 0o600, &bolt.Options{FreelistType: bolt.FreelistMapType, InitialMmapSize: 1 << 30})
	require.NoError(b, err)
	w.stop = func() {
		for _, conn := range w.conns {
			conn.Close()
		}
		cancel()
		require.NoError(b, <-ended)
		require.NoError(b, w.bare.Close())
	}
	return w
}

// ours sends n events from so many clients, each waiting for its verdict, and gives the time it took and each latency.
func (w *bench) ours(b *testing.B, clients, n int) (total time.Duration, latencies []time.Duration) {
	b.Helper()
	end := w.next.Load() + int64(n)
	if int(end) > len(w.feed) {
		b.Fatalf("the feed has %d events, %d are wanted", len(w.feed), end)
	}
	each := make([][]time.Duration, clients)
	var all sync.WaitGroup
	began := time.Now()
	for c := range clients {
		all.Go(func() {
			conn := w.conns[c%len(w.conns)]
			for {
				i := w.next.Add(1) - 1
				if i >= end {
					return
				}
				sent := time.Now()
				answer, err := conn.RequestMsg(w.feed[i], 30*time.Second)
				each[c] = append(each[c], time.Since(sent))
				if err != nil || !bytes.Contains(answer.Data[:min(64, len(answer.Data))], []byte(`"ok":true`)) {
					b.Errorf("event %d: %v", i, err)
					return
				}
			}
		})
	}
	all.Wait()
	total = time.Since(began)
	w.next.Store(end)
	return total, slices.Concat(each...)
}

// replay commits the same puts in the same batches to the bare file.
func (w *bench) replay(b *testing.B, batches [][]store.Put) (total time.Duration, commits []time.Duration) {
	b.Helper()
	began := time.Now()
	for _, puts := range batches {
		one := time.Now()
		err := w.bare.Update(func(tx *bolt.Tx) error {
			for _, p := range puts {
				bucket, err := tx.CreateBucketIfNotExists([]byte(p.Bucket))
				if err != nil {
					return err
				}
				if p.Delete {
					err = bucket.Delete(p.Key)
				} else {
					err = bucket.Put(p.Key, p.Value)
				}
				if err != nil {
					return err
				}
			}
			return nil
		})
		require.NoError(b, err)
		commits = append(commits, time.Since(one))
	}
	return time.Since(began), commits
}

func quantile[T cmp.Ordered](list []T, q float64) T {
	sorted := slices.Sorted(slices.Values(list))
	return sorted[min(len(sorted)-1, int(q*float64(len(sorted))))]
}

// BenchmarkDurableVerdicts measures verdicts a second and their latency over NATS, everything on (rules, Merkle leaf,
// publisher, flags), beside bare bbolt commits of the very same puts in the same batches. Both run in turns; the figure to
// hold is the median ratio, as absolute ones say little on a shared machine.
// Bars (contract page 6): at least 0.70 at 256 clients; median at one client at most 2.0 times the bare commit.
func BenchmarkDurableVerdicts(b *testing.B) {
	rounds, scale := 7, 1
	if testing.Short() {
		rounds, scale = 1, 10
	}
	for _, c := range []struct{ clients, events int }{{1, 600}, {16, 1600}, {256, 4000}} {
		b.Run(fmt.Sprintf("clients=%d", c.clients), func(b *testing.B) {
			w := newBench(b)
			w.ours(b, 16, 2000/scale) // protocols and first cases
			w.replay(b, w.tape.cut())
			b.ResetTimer()
			var rate, ratio, p50, p99, p50Ratio, p99Ratio, perBatch []float64
			for range rounds {
				n := c.events / scale
				took, latencies := w.ours(b, c.clients, n)
				batches := w.tape.cut()
				bareTook, commits := w.replay(b, batches)
				rate = append(rate, float64(n)/took.Seconds())
				ratio = append(ratio, bareTook.Seconds()/took.Seconds())
				p50 = append(p50, float64(quantile(latencies, 0.5).Microseconds())/1000)
				p99 = append(p99, float64(quantile(latencies, 0.99).Microseconds())/1000)
				p50Ratio = append(p50Ratio, float64(quantile(latencies, 0.5))/float64(quantile(commits, 0.5)))
				p99Ratio = append(p99Ratio, float64(quantile(latencies, 0.99))/float64(quantile(commits, 0.99)))
				perBatch = append(perBatch, float64(n)/float64(len(batches)))
			}
			b.StopTimer()
			w.stop()
			b.ReportMetric(quantile(rate, 0.5), "verdicts/s")
			b.ReportMetric(quantile(perBatch, 0.5), "events/commit")
			b.ReportMetric(quantile(ratio, 0.5), "ofbare")
			b.ReportMetric(slices.Min(ratio), "ofbare-min")
			b.ReportMetric(slices.Max(ratio), "ofbare-max")
			b.ReportMetric(quantile(p50, 0.5), "p50-ms")
			b.ReportMetric(quantile(p99, 0.5), "p99-ms")
			if c.clients == 1 { // only there is a verdict to be compared with one commit
				b.ReportMetric(quantile(p50Ratio, 0.5), "p50/bare")
				b.ReportMetric(slices.Min(p50Ratio), "p50/bare-min")
				b.ReportMetric(slices.Max(p50Ratio), "p50/bare-max")
				b.ReportMetric(quantile(p99Ratio, 0.5), "p99/bare")
			}
			b.ReportMetric(0, "ns/op")
		})
	}
}

package store_test

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// bare is bbolt without us: the same puts in the same batches, in the same order, into a file of its own.
type bare struct{ db *bolt.DB }

func openBare(b *testing.B) bare {
	b.Helper()
	db, err := bolt.Open(filepath.Join(b.TempDir(), "bare.db"), 0o600, &bolt.Options{FreelistType: bolt.FreelistMapType, InitialMmapSize: 1 << 30})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, db.Close()) })
	return bare{db}
}

func (r bare) commit(b *testing.B, puts []store.Put) {
	err := r.db.Update(func(tx *bolt.Tx) error {
		for _, p := range puts {
			bucket := tx.Bucket([]byte(p.Bucket))
			if bucket == nil {
				var err error
				if bucket, err = tx.CreateBucket([]byte(p.Bucket)); err != nil {
					return err
				}
			}
			switch p.Bucket {
			case "entries", "tree", "flaglog", "runs":
				bucket.FillPercent = 0.95
			}
			err := error(nil)
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
	if err != nil {
		b.Fatal(err)
	}
}

// median of ratios, with their range.
func report(b *testing.B, ratios []float64, what string) {
	slices.Sort(ratios)
	b.ReportMetric(ratios[len(ratios)/2], what)
	b.ReportMetric(ratios[0], what+"-least")
	b.ReportMetric(ratios[len(ratios)-1], what+"-most")
	b.ReportMetric(0, "ns/op")
}

const benchRounds = 7

// workload is many cases under way at once, as many clients make them: each event is the next step of one at random.
type workload struct {
	r     *rand.Rand
	steps []int // done, by case
	now   time.Time
	n     int
}

func newWorkload(cases int) *workload {
	return &workload{r: rand.New(rand.NewPCG(1, 1)), steps: make([]int, cases), now: storetest.Morning()}
}

// next is the next step of some case, a few milliseconds after the last event.
func (w *workload) next(b testing.TB) *tracker.Event {
	w.now = w.now.Add(time.Duration(1+w.r.IntN(5)) * time.Millisecond)
	w.n++
	i := w.r.IntN(len(w.steps))
	name := caseName(b, i+1)
	pot, err := name.WithPot("A")
	require.NoError(b, err)
	piece, err := pot.WithPiece(1 + w.steps[i]%2)
	require.NoError(b, err)
	step := w.steps[i]
	w.steps[i]++
	at := func(fact tracker.Fact, n tracker.Name) *tracker.Event { return eventAt(w.n, w.now, fact, n) }
	two := 2
	switch step {
	case 0:
		return at(&tracker.CaseOpened{Patient: "4d42592d32362d30303031", Priority: "routine", Room: "room-1",
			Lesions: []tracker.Lesion{{Key: "1", Organ: "breast", Side: "left", Position: "2 o'clock", Imaging: "U4"}},
			Pots:    []tracker.PlannedPot{{Pot: "A", Lesion: "1", Medium: "formalin", Studies: []string{"histology", "receptors"}, Pieces: 2}}}, name)
	case 1:
		return at(&tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}, Confirmed: []string{"side", "consent"}, Room: "room-1"}, name)
	case 2:
		return at(&tracker.LabelPrinted{Copy: '1', Printer: "room-1"}, pot)
	case 3, 4:
		return at(&tracker.LabelPrinted{Copy: '1', Printer: "room-1"}, piece)
	case 5, 6:
		return at(&tracker.PieceTaken{Lesion: "1", What: "core", Pass: 1, Gauge: 14, LengthMM: 15, Look: "firm-white"}, piece)
	case 7, 8:
		return at(&tracker.PiecePotted{}, piece)
	case 9:
		return at(&tracker.PotSealed{ReadBackWith: "doctor.lind", Pieces: &two}, pot)
	case 10:
		return at(&tracker.ProcedureEnded{Outcome: "done"}, name)
	case 11:
		return at(&tracker.RoomCleared{Room: "room-1"}, name)
	case 12, 13, 14:
		return at(&tracker.CustodyTaken{Place: []string{"hatch", "van", "lab-reception"}[step-12]}, pot)
	case 15:
		return at(&tracker.LabAccessioned{Number: "H26-000417"}, name)
	}
	return at(&tracker.NoteAdded{Text: "rang the laboratory, it is on the bench"}, name)
}

// fill brings a ledger to about half the life of its cases, and gives the workload that goes on from there.
func fill(b *testing.B, l *store.Ledger, cases int) *workload {
	w := newWorkload(cases)
	batch := make([]*tracker.Event, 500)
	for range cases * 8 / len(batch) {
		for i := range batch {
			batch[i] = w.next(b)
		}
		_, err := l.Record(w.now, storetest.Intakes(batch...))
		require.NoError(b, err)
	}
	return w
}

// crowd is how many cases are under way: far more than a small network of clinics has at once.
const crowd = 5000

// pair is a ledger, and a bare file with the same content.
type pair struct {
	l        *store.Ledger
	plain    bare
	w        *workload
	captured [][]store.Put
}

func newPair(b *testing.B) *pair {
	p := &pair{}
	var err error
	p.l, err = store.Open(storetest.Path(b), store.Options{Tap: func(puts []store.Put) { p.captured = append(p.captured, puts) }})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, p.l.Close()) })
	p.plain = openBare(b)
	p.w = fill(b, p.l, crowd)
	p.replay(b)
	return p
}

// replay commits what was captured to the bare file, and gives the time of each commit.
func (p *pair) replay(b *testing.B) (each []float64) {
	for _, puts := range p.captured {
		start := time.Now()
		p.plain.commit(b, puts)
		each = append(each, time.Since(start).Seconds())
	}
	p.captured = nil
	return each
}

// BenchmarkRecord compares durable, judged events a second with bare commits of the same puts in the same batches, turn
// by turn. One hand waits for each batch before it prepares the next; two overlap, as a daemon's do. Half the clients
// are in each hand's batch.
func BenchmarkRecord(b *testing.B) {
	p := newPair(b)
	for _, row := range []struct{ batch, hands int }{{16, 1}, {8, 2}, {256, 1}, {128, 2}} {
		b.Run(fmt.Sprintf("batch=%d/hands=%d", row.batch, row.hands), func(b *testing.B) {
			perRound := max(20*row.batch, 1500)
			for b.Loop() {
				var ratios []float64
				rate := 0.0
				for range benchRounds {
					us := p.record(b, row.batch, row.hands, perRound)
					them := 0.0
					for _, took := range p.replay(b) {
						them += took
					}
					ratios = append(ratios, them/us)
					rate = float64(perRound) / us
				}
				report(b, ratios, "of-bare")
				b.ReportMetric(rate, "events/s")
			}
		})
	}
}

func (p *pair) record(b *testing.B, batch, hands, events int) (seconds float64) {
	queue := make(chan []*tracker.Event, events/batch+1)
	for n := 0; n < events; n += batch {
		part := make([]*tracker.Event, batch)
		for i := range part {
			part[i] = p.w.next(b)
		}
		queue <- part
	}
	close(queue)
	start := time.Now()
	var workers sync.WaitGroup
	for range hands {
		workers.Go(func() {
			for part := range queue {
				if _, err := p.l.Record(part[len(part)-1].At, storetest.Intakes(part...)); err != nil {
					b.Error(err)
				}
			}
		})
	}
	workers.Wait()
	return time.Since(start).Seconds()
}

// BenchmarkOneVerdict is the time of one verdict for one client beside one bare commit of the same puts: medians, and
// 99th percentiles.
func BenchmarkOneVerdict(b *testing.B) {
	p := newPair(b)
	for b.Loop() {
		var medians, tails []float64
		for range benchRounds {
			var us, them []float64
			for range 300 {
				e := p.w.next(b)
				start := time.Now()
				_, err := p.l.Record(p.w.now, storetest.Intakes(e))
				us = append(us, time.Since(start).Seconds())
				require.NoError(b, err)
				them = append(them, p.replay(b)...)
			}
			slices.Sort(us)
			slices.Sort(them)
			medians = append(medians, us[len(us)/2]/them[len(them)/2])
			tails = append(tails, us[len(us)*99/100]/them[len(them)*99/100])
		}
		report(b, medians, "x-median")
		report(b, tails, "x-p99")
	}
}

// BenchmarkRebuild compares a rebuild's decoding, folding and checking with bare decoding of the same entries on the same
// cores, and a whole rebuild, writing included, with the same.
func BenchmarkRebuild(b *testing.B) {
	l, err := store.Open(storetest.Path(b), store.Options{})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, l.Close()) })
	w := fill(b, l, crowd)
	now := w.now
	last, _ := l.Last()
	var leaves [][]byte
	for from := uint64(1); from <= last; {
		page, err := l.EventsFrom(from, 0)
		require.NoError(b, err)
		for _, entry := range page {
			leaves = append(leaves, entry.Leaf)
		}
		from += uint64(len(page))
	}
	for b.Loop() {
		var judging, whole []float64
		var rate float64
		for range benchRounds {
			start := time.Now()
			var workers sync.WaitGroup
			for half := range slices.Chunk(leaves, len(leaves)/runtime.GOMAXPROCS(0)+1) {
				workers.Go(func() {
					for _, leaf := range half {
						if _, err := events.DecodeRecorded(leaf); err != nil {
							b.Error(err)
						}
					}
				})
			}
			workers.Wait()
			decoding := time.Since(start).Seconds()
			start = time.Now()
			require.NoError(b, l.JudgeEverything(now))
			judging = append(judging, decoding/time.Since(start).Seconds())
			start = time.Now()
			require.NoError(b, l.Rebuild(now, nil))
			took := time.Since(start).Seconds()
			whole = append(whole, decoding/took)
			rate = float64(len(leaves)) / took
		}
		report(b, judging, "of-decoding")
		report(b, whole, "of-decoding-with-writing")
		b.ReportMetric(rate, "events/s")
	}
}

package prints_test

import (
	"bytes"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/store/prints"
)

const (
	benchRounds = 7
	benchLabels = 40 // a round
)

// benchBody is a pot label of 50 × 25 mm at 8 dots/mm, one bit a dot.
var benchBody = bytes.Repeat([]byte{0x5a}, 50*8/8*25*8)

// BenchmarkQueue takes labels through the queue (prepared, queued, taken, sent: four commits) beside bare bbolt, which puts
// and deletes as many bytes under as many keys in as many commits. The ratio is of times, ours to bare.
func BenchmarkQueue(b *testing.B) {
	for b.Loop() {
		q, err := prints.Open(filepath.Join(b.TempDir(), "prints.db"), key(1))
		require.NoError(b, err)
		path := filepath.Join(b.TempDir(), "bare.db")
		require.NoError(b, boltfile.Make(path, func(tx *bolt.Tx) error {
			var err error
			for _, name := range []string{"jobs", "bodies", "open", "done", "names", "meta"} {
				_, failed := tx.CreateBucket([]byte(name))
				err = errors.Join(err, failed)
			}
			return err
		}))
		db, err := boltfile.Open(path, boltfile.Options(time.Second))
		require.NoError(b, err)
		var ratios, ours []float64
		for round := range benchRounds {
			var our, theirs time.Duration
			for i := range benchLabels { // in turn, so that what else the machine does falls on both
				start := time.Now()
				through(b, q, round*benchLabels+i+1)
				our += time.Since(start)
				start = time.Now()
				bare(b, db, uint64(round*benchLabels+i+1))
				theirs += time.Since(start)
			}
			ratios = append(ratios, float64(our)/float64(theirs))
			ours = append(ours, float64(our)/benchLabels/float64(time.Millisecond))
		}
		slices.Sort(ratios)
		slices.Sort(ours)
		b.ReportMetric(ratios[benchRounds/2], "of-bare")
		b.ReportMetric(ratios[0], "of-bare-least")
		b.ReportMetric(ratios[benchRounds-1], "of-bare-most")
		b.ReportMetric(ours[benchRounds/2], "ms/label")
		b.ReportMetric(0, "ns/op")
		require.NoError(b, q.Close())
		require.NoError(b, db.Close())
	}
}

func through(b *testing.B, q *prints.Queue, serial int) {
	now := time.Now()
	j, err := q.Prepare(now, label("room", pot(serial), '1'), benchBody)
	require.NoError(b, err)
	require.NoError(b, q.Queue(j.ID, now))
	_, _, ok, err := q.Take("room", now)
	require.NoError(b, err)
	require.True(b, ok)
	require.NoError(b, q.Sent(j.ID, now))
}

// bare puts what the queue puts, of the same lengths.
func bare(b *testing.B, db *bolt.DB, id uint64) {
	record, sealed := bytes.Repeat([]byte("r"), 420), bytes.Repeat([]byte("s"), len(benchBody)+40)
	open := fmt.Appendf(nil, "room\x00%s", be64(id))
	done := append(be64(uint64(time.Now().UnixNano())), be64(id)...)
	for _, commit := range []func(in func(string) *bolt.Bucket) error{
		func(in func(string) *bolt.Bucket) error {
			return errors.Join(in("jobs").Put(be64(id), record), in("open").Put(open, []byte("prepared")), in("bodies").Put(be64(id), sealed),
				in("names").Put(fmt.Appendf(nil, "MBY-26-%05d-A\x001%s", id, be64(id)), nil))
		},
		func(in func(string) *bolt.Bucket) error {
			return errors.Join(in("jobs").Put(be64(id), record), in("open").Put(open, []byte("queued")))
		},
		func(in func(string) *bolt.Bucket) error {
			return errors.Join(in("jobs").Put(be64(id), record), in("open").Put(open, []byte("sending")))
		},
		func(in func(string) *bolt.Bucket) error {
			return errors.Join(in("jobs").Put(be64(id), record), in("open").Delete(open), in("bodies").Delete(be64(id)), in("done").Put(done, nil),
				in("meta").Put([]byte("done"), be64(id)))
		},
	} {
		require.NoError(b, db.Update(func(tx *bolt.Tx) error {
			return commit(func(name string) *bolt.Bucket { return tx.Bucket([]byte(name)) })
		}))
	}
}

package store_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// BenchmarkCheckpoint compares reading entries back before a checkpoint is signed with bare hashing of the same leaves and of
// all that stands above them, in memory; and gives the time of a case's proof.
func BenchmarkCheckpoint(b *testing.B) {
	l, err := store.Open(storetest.Path(b), store.Options{})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, l.Close()) })
	list := storetest.Life(5, 400)
	storetest.Record(b, l, list[len(list)-1].At, list...)
	var leaves [][]byte
	for from := uint64(1); from <= uint64(len(list)); {
		page, err := l.EventsFrom(from, 0)
		require.NoError(b, err)
		for _, e := range page {
			leaves = append(leaves, e.Leaf)
		}
		from += uint64(len(page))
	}
	size := uint64(len(leaves))
	sizes := map[string]uint64{l.Origin(): size}
	name := tracker.Watched(list[0].Items[0].Name)
	for b.Loop() {
		var ratios []float64
		var rate, proof float64
		for range benchRounds {
			start := time.Now()
			require.NoError(b, l.Audit(b.Context(), l.Origin(), 0, size))
			us := time.Since(start).Seconds()
			start = time.Now()
			var hashes []tlog.Hash
			reader := tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) {
				out := make([]tlog.Hash, len(indexes))
				for i, x := range indexes {
					out[i] = hashes[x]
				}
				return out, nil
			})
			for i, leaf := range leaves {
				made, err := tlog.StoredHashes(int64(i), leaf, reader)
				require.NoError(b, err)
				hashes = append(hashes, made...)
			}
			ratios = append(ratios, us/time.Since(start).Seconds())
			rate = float64(size) / us
			start = time.Now()
			_, err := l.Proof(name, sizes, nil)
			require.NoError(b, err)
			proof = time.Since(start).Seconds()
		}
		report(b, ratios, "x-hashing")
		b.ReportMetric(rate, "entries/s")
		b.ReportMetric(proof*1e6, "µs/proof")
	}
}
